"""A fitting as a notebook handles it: surfaces, blocks, its picture, its files; and that it says it did not settle."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import pyvista

import drape
from drape.errors import PictureError, SceneError
from drape.reading import blocks
from drape.reading.by_vertex import stand_off
from drape.reading.result import Fitting, load_fitting, sheet_png

UNSETTLED = {"scene": "cone", "settled": False}


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[list[str]]:
    """The jobs of the drawing process, which writes a few bytes for a picture; nothing is kept from before."""
    jobs: list[list[str]] = []

    def draw(job: dict, **_: object) -> list[str]:
        jobs.append([load_fitting(path).name for path in job["saved"]])
        Path(job["sheet"]).write_bytes(b"a sheet")
        return []

    monkeypatch.setattr("drape.drawing_process.draw_in_child", draw)
    monkeypatch.setenv("DRAPE_CACHE_DIR", str(tmp_path / "cache"))
    return jobs


def test_a_fitting_says_in_a_line_what_it_is(cone: Callable[..., Fitting]) -> None:
    found = {"scene": "cone", "settled": True, "verdicts": [{"where": "neck", "finding": "gapes.", "mend": ""}]}
    assert repr(cone(readings=found)) == "<Fitting cone: settled, 1098 vertices, 1 verdicts>"
    assert cone(readings=found).verdicts == (found["verdicts"][0],)
    assert cone().verdicts == ()


def test_cloak_and_mannequin_are_surfaces_with_the_fittings_own_vertices(cone: Callable[..., Fitting]) -> None:
    fitting = cone()
    assert np.array_equal(fitting.cloak.vertices, fitting.worn)
    assert np.array_equal(fitting.cloak.faces, fitting.triangles)
    assert fitting.mannequin.is_watertight and fitting.mannequin.volume == pytest.approx(
        np.pi * 0.07**2 * 1.75, rel=0.02
    )
    fitting.cloak.apply_translation((1.0, 0.0, 0.0))
    assert np.abs(fitting.worn[:, 0]).max() < 0.36, "a surface handed out is a copy"


def test_pyvista_gets_named_blocks_and_each_painted_reading(cone: Callable[..., Fitting]) -> None:
    fitting = cone()
    found = fitting.to_pyvista()
    assert isinstance(found, pyvista.MultiBlock)
    assert found.keys() == ["cloak", "mannequin", "neck_base", "shoulder_line_left", "shoulder_line_right"]
    cloak = found["cloak"]
    assert cloak.n_cells == len(fitting.triangles) and np.allclose(cloak.points, fitting.worn)
    assert set(cloak.point_data.keys()) == set(blocks.PAINTED)
    assert np.allclose(cloak.point_data["stand_off_cm"], 100 * stand_off(fitting))
    assert set(np.unique(cloak.point_data["layers"])) == {1.0}


@pytest.mark.long
def test_blocks_load_no_plotting_library() -> None:
    code = "import sys, drape.reading.blocks; print('pyvista' in sys.modules, 'matplotlib.pyplot' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True).stdout.split() == [
        "True",
        "False",
    ]


def test_every_reading_that_pictures_paint_is_there() -> None:
    from drape.picture.choices import PAINT_NAMES

    assert [name.partition("_cm")[0].partition("_percent")[0].replace("_", "-") for name in blocks.PAINTED] == list(
        PAINT_NAMES
    )


def test_a_window_shows_cloak_and_mannequin_and_a_reading_in_colour(
    cone: Callable[..., Fitting], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pyvista, "OFF_SCREEN", True)
    plain, painted = blocks.plotter_of(cone(), None), blocks.plotter_of(cone(), "stand_off_cm")
    assert [len(one.meshes) for one in (plain, painted)] == [2, 2]
    assert [list(one.scalar_bars.keys()) for one in (plain, painted)] == [[], ["stand_off_cm"]]
    for one in (plain, painted):
        one.close()


def test_what_cannot_be_shown_is_refused_in_a_line(
    cone: Callable[..., Fitting], monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(PictureError, match="reading: got 'gape', allowed stand_off_cm, fullness_percent, layers"):
        cone().show("gape")
    monkeypatch.setattr(blocks, "_has_screen", lambda: False)
    with pytest.raises(PictureError, match="found no screen, allowed a screen or a notebook"):
        cone().show()


def test_a_notebook_shows_the_sheet_drawn_once(cone: Callable[..., Fitting], drawn: list[list[str]]) -> None:
    fitting = cone()
    assert fitting._repr_png_() == fitting._repr_png_() == b"a sheet"
    assert drawn == [["cone"]]
    assert sheet_png([fitting, fitting]) == b"a sheet" and drawn[1:] == [["cone", "cone"]]


def test_what_did_not_settle_says_so_and_its_sheet_is_not_kept(
    cone: Callable[..., Fitting], drawn: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    fitting = cone(readings=UNSETTLED)
    assert "NOT SETTLED" in repr(fitting)
    assert fitting.cloak.metadata["settled"] is False and cone().cloak.metadata["settled"] is True
    assert not fitting.to_pyvista()["cloak"].field_data["settled"].any()
    assert fitting._repr_png_() and fitting._repr_png_() and len(drawn) == 2
    monkeypatch.setattr(pyvista, "OFF_SCREEN", True)
    said = []
    monkeypatch.setattr(pyvista.Plotter, "add_text", lambda _, words, **__: said.append(words))
    for one in (fitting, cone()):
        blocks.plotter_of(one, None).close()
    assert said == ["NOT SETTLED"]


def test_where_no_sheet_can_be_drawn_words_are_shown(
    cone: Callable[..., Fitting], drawn: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_driver(*_: object, **__: object) -> None:
        raise PictureError("picture: the drawing process stopped")

    monkeypatch.setattr("drape.drawing_process.draw_in_child", no_driver)
    assert cone()._repr_png_() is None


def test_a_saved_fitting_comes_back(cone: Callable[..., Fitting], tmp_path: Path) -> None:
    fitting = cone(is_recalled=True)
    path = fitting.save(tmp_path / "made" / "here")
    assert sorted(one.name for one in path.parent.iterdir()) == ["cone.json", "cone.npz"]
    again = drape.load_fitting(str(path))
    assert again.worn.tobytes() == fitting.worn.tobytes() and again.readings == fitting.readings
    assert again.is_recalled is False, "how it came about is not saved"
    assert json.loads((path.parent / "cone.json").read_text(encoding="utf-8")) == fitting.readings


def test_a_stored_name_is_a_name_and_never_a_path(cone: Callable[..., Fitting], tmp_path: Path) -> None:
    path = cone(name="../../escaped").save(tmp_path / "made" / "here")
    assert path == tmp_path / "made" / "here" / "escaped.npz" and path.is_file()
    words = json.dumps({**json.loads(str(np.load(path)["words"])), "name": "../../escaped"})
    with np.load(path) as stored:
        arrays = {name: stored[name] for name in stored.files}
    np.savez(path, **{**arrays, "words": np.array(words)})
    assert load_fitting(path).name == "escaped"


def test_a_folder_that_cannot_be_written_is_refused_in_a_line(cone: Callable[..., Fitting], tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    with pytest.raises(SceneError, match=r"^save: got .*taken, cannot be written: .*\. Give another folder\.$"):
        cone().save(tmp_path / "taken")
