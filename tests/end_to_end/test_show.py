"""`drape show` as a user types it, on a coarse run of a shipped scene; and the worn hem against its own reading."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pytest
import trimesh
from families import most_are_long
from PIL import Image
from typed import drape, drape_in_a_process

from drape.picture import camera
from drape.picture import stage as picture
from drape.reading.result import load_fitting

NAME = "ferry-warden-tailored"


@pytest.fixture(scope="module")
def settled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the results of one coarse run."""
    where = tmp_path_factory.mktemp("show")
    done = drape("sit", NAME, "--edge-length-cm", "6", "--no-pictures", "--out", "kept", where=where)
    assert done.returncode == 0, done.stderr
    return where


MODEL = [f"{NAME}.glb", f"{NAME}.obj", f"{NAME}.mtl"]
PICTURES = {
    "model": ([], None),
    "round": ([f"{NAME}-round.png", f"{NAME}-round.pdf"], None),
    "length": ([f"{NAME}-length.png", f"{NAME}-length.pdf"], None),
    "sheet": ([f"{NAME}.png", f"{NAME}.pdf"], 2400),
}


@pytest.mark.parametrize("make", most_are_long(PICTURES, "model"))
def test_show_draws_from_a_saved_result_without_settling(settled: Path, make: str) -> None:
    done = drape("show", "kept", "--make", make, "--make", "model", "--out", make, "--json", where=settled)
    assert done.returncode == 0, done.stderr
    files, (pictures, width) = json.loads(done.stdout)["files"], PICTURES[make]
    assert files == [*pictures, *MODEL]
    assert sorted(path.name for path in (settled / make).iterdir()) == sorted(files)
    assert "settle" not in done.stderr
    for name in pictures[:1]:
        with Image.open(settled / make / name) as picture:
            low, high = picture.convert("L").getextrema()
            assert width in (None, picture.width) and high - low > 100
    fitting = load_fitting(settled / "kept" / f"{NAME}.npz")
    model = trimesh.load_scene(settled / make / f"{NAME}.glb")
    both = np.vstack([fitting.worn, fitting.figure_vertices])
    assert model.extents == pytest.approx(np.ptp(both, axis=0)[[0, 2, 1]], abs=0.01)


def test_a_file_that_is_no_result_is_code_two_and_leaves_nothing(settled: Path) -> None:
    (settled / "not.npz").write_text("a letter", encoding="utf-8")
    done = drape("show", "not.npz", "--out", "nothing", where=settled)
    assert done.returncode == 2 and done.stdout == ""
    assert done.stderr.splitlines()[-1].startswith("not.npz: not a saved fitting")
    assert not (settled / "nothing").exists()


@pytest.mark.long
@pytest.mark.parametrize("size", [(500, 800), (900, 1600)])
def test_the_lowest_hem_is_drawn_within_two_pixels_of_its_reading(settled: Path, size: tuple[int, int]) -> None:
    """From four sides: the lowest cloth seen by any of them is `fall.lowest_cm`, and never lower."""
    fitting = load_fitting(settled / "kept" / f"{NAME}.npz")
    stage = picture.Stage(fitting)
    found = []
    for view in camera.STANDING:
        frame = camera.frame_of([fitting], view).fitted(size)
        cloth = stage._flat_pass(frame, size, stage.bodies[False], np.zeros(len(stage.drawn.points)), 1) >= 0
        rows = np.flatnonzero(cloth.any(axis=1))
        found.append(int(rows.max()) + 1)  # the lower side of that pixel
    reading = fitting.readings["fall"]["lowest_cm"] / 100
    expected = float(camera.frame_of([fitting], "front").fitted(size).pixels([[0.0, 0.0, reading]], size)[0, 1])
    assert max(found) == pytest.approx(expected, abs=2)


@pytest.mark.long
@pytest.mark.skipif(sys.platform != "linux", reason="takes the graphics libraries away as Linux finds them")
def test_without_opengl_one_line_says_what_to_install(settled: Path, tmp_path: Path) -> None:
    """The real thing: libraries that are no libraries stand before the system's own."""
    for name in (
        "libEGL.so.1",
        "libEGL.so",
        "libGL.so.1",
        "libGL.so",
        "libOpenGL.so.0",
        "libGLX.so.0",
        "libOSMesa.so.8",
        "libOSMesa.so",
    ):
        (tmp_path / name).write_text("no library", encoding="utf-8")
    typed = ("show", "kept", "--make", "length", "--out", "unseen")
    done = drape_in_a_process(*typed, where=settled, LD_LIBRARY_PATH=str(tmp_path))
    assert done.returncode == 1 and done.stdout == ""
    last = done.stderr.splitlines()[-1]
    assert last.startswith("picture: ") and "Traceback" not in done.stderr
    for system in ("Debian", "libegl1", "Fedora", "mesa-libEGL", "macOS", "Windows"):
        assert system in last
    assert not (settled / "unseen").exists()
