"""The cloth is cut by the hem that was settled: one coarse cloak to the knee, sat, drawn, cut and estimated."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from numpy.testing import assert_array_equal

from drape.command import main as cli
from drape.draft.outline import ESTIMATE_WORDS, outline_of
from drape.errors import NotSettledError
from drape.fitting.hem_to_cut import draft_by, hem_at_hand, settled_hem
from drape.fitting.scene import Scene, load_scene
from drape.fitting.settled_hem import Hem, keep_hem, recall_hem
from drape.fitting.sit import sit
from drape.reading.result import Fitting

SCENE = """title = "The toll-house clerk's cloak"
[figure]
body = "ferry-warden"
[cloth]
cloth = "heavy melton"
[draft]
neck = "tailored"
length_to = "knee"
[closure]
place = "right shoulder"
[[dart]]
place = "left shoulder"
[settle]
edge_length_cm = 6.0
"""


@pytest.fixture(scope="module")
def settled(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Scene, Fitting]:
    """A folder with the scene, settled and kept."""
    where = tmp_path_factory.mktemp("hem")
    (where / "mine.toml").write_text(SCENE, encoding="utf-8")
    scene = load_scene(str(where / "mine.toml"))
    return where, scene, sit(scene, edge_length=0.06)


@pytest.fixture
def mine(
    settled: tuple[Path, Scene, Fitting], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> tuple[Scene, Fitting]:
    """In an empty folder with the scene; nothing may be settled any more."""

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("settled again")

    (tmp_path / "mine.toml").write_text(SCENE, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("drape.fitting.sit.sit_afresh", refuse)
    return settled[1], settled[2]


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = cli.main(list(arguments))
    shown = capsys.readouterr()
    return code, shown.out, shown.err


def content(folder: str) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in Path(folder).iterdir()}


def test_draft_and_cut_have_the_outline_that_settled(
    mine: tuple[Scene, Fitting], capsys: pytest.CaptureFixture[str]
) -> None:
    scene, fitting = mine
    assert_array_equal(outline_of(draft_by(scene, settled_hem(scene))), outline_of(fitting.draft))
    assert run(capsys, "sit", "mine.toml", "--edge-length-cm", "6", "--no-pictures")[0] == 0
    before = content("mine-fitting")
    code, out, err = run(capsys, "draft", "mine.toml", "--json")
    found = json.loads(out)
    assert code == 0 and found["hem"] == "settled"
    assert found["area_m2"] == pytest.approx(fitting.draft.dimensions["area"], abs=1e-4)
    assert found["hem_length_cm"] == pytest.approx(100 * fitting.draft.dimensions["hem_length"], abs=1e-3)
    assert content("mine-draft")["mine.svg"] == before["mine.svg"]
    assert run(capsys, "draft", "mine.toml", "--estimate")[0] == 0
    assert content("mine-fitting") == before, "a draft changes nothing of the fitting"
    cuts = [
        json.loads(run(capsys, "cut", "mine.toml", "--no-table", "--json", *flags)[1])
        for flags in ((), ("--estimate",))
    ]
    assert [cut["hem"] for cut in cuts] == ["settled", "estimate"]
    radii = [np.linalg.norm(outline_of(draft), axis=1).max() for draft in (fitting.draft, draft_by(scene, Hem()))]
    across = [max(piece["across_to_cm"] for piece in cut["pieces"]) for cut in cuts]
    assert across[0] - across[1] > 1.0 and 100 * (radii[0] - radii[1]) > 1.0
    assert cuts[0]["cloth"]["to_buy_cm"] > cuts[1]["cloth"]["to_buy_cm"] + 1.0


@pytest.mark.long
def test_everything_made_from_an_estimate_says_so_and_nothing_else_does(
    mine: tuple[Scene, Fitting], capsys: pytest.CaptureFixture[str]
) -> None:
    for flags, is_estimate in ((("--estimate",), True), ((), False)):
        ending = "-estimate" if is_estimate else ""
        texts = [
            run(capsys, *typed, *flags)[1] for typed in (("draft", "mine.toml"), ("cut", "mine.toml", "--no-table"))
        ]
        pages = [*Path(f"mine-draft{ending}").iterdir(), *Path(f"mine-cut{ending}").iterdir()]
        assert len(pages) == 2 + 10 + 2
        for path in pages:
            if path.suffix == ".pdf":
                texts += [page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(path)]
            elif path.suffix != ".json":
                texts.append(path.read_text(encoding="utf-8"))
            else:
                words = re.findall(r'"hem": "(\w+)"', path.read_text(encoding="utf-8"))
                assert words == ["estimate" if is_estimate else "settled"], path
        assert [text[:80] for text in texts if (ESTIMATE_WORDS in text) != is_estimate] == []


@pytest.mark.long
def test_two_widths_fill_two_folders_and_one_folder_holds_one(
    mine: tuple[Scene, Fitting], capsys: pytest.CaptureFixture[str]
) -> None:
    for width, folder in (("132", "mine-cut-132cm"), ("150.5", "mine-cut-150.5cm"), ("140", "mine-cut")):
        assert run(capsys, "cut", "mine.toml", "--no-table", "--width-cm", width)[0] == 0
        assert json.loads(Path(folder, "cut.json").read_text(encoding="utf-8"))["cloth"]["width_cm"] == float(width)
    code, _, err = run(capsys, "cut", "mine.toml", "--no-table", "--out", "mine-cut-132cm")
    assert code == 0 and "mine-cut-132cm: earlier results, made from cloth of another width, are replaced." in err
    code, out, err = run(capsys, "cut", "mine.toml", "--no-table", "--estimate", "--out", "mine-cut")
    assert (code, out) == (2, "") and len(err.splitlines()) == 1 and "leave out --estimate" in err


def test_a_length_in_centimetres_is_final_and_alarms_nobody(
    mine: tuple[Scene, Fitting], capsys: pytest.CaptureFixture[str]
) -> None:
    Path("given.toml").write_text(SCENE.replace('length_to = "knee"', "length_cm = 90.0"), encoding="utf-8")
    code, out, err = run(capsys, "draft", "given.toml", "--estimate", "--json")
    assert code == 0 and json.loads(out)["hem"] == "settled" and "stimate" not in err
    assert ESTIMATE_WORDS not in Path("given-draft/given.svg").read_text(encoding="utf-8")


def test_where_no_hem_is_kept_it_is_settled_first_or_nothing_is_written(
    mine: tuple[Scene, Fitting], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("DRAPE_CACHE_DIR", "cache")
    asked = []
    monkeypatch.setattr(
        "drape.fitting.sit.sit_afresh", lambda scene, **given: asked.append(given["edge_length"]) or mine[1]
    )
    assert run(capsys, "draft", "mine.toml")[0] == 0
    assert run(capsys, "cut", "mine.toml", "--no-table")[0] == 0
    assert asked == [pytest.approx(0.06)], "settled once, at the scene's own edge length"

    def fail(*_: object, **__: object) -> None:
        raise NotSettledError("mine: not settled after 5 steps.")

    monkeypatch.setattr("drape.fitting.sit.sit_afresh", fail)
    monkeypatch.setenv("DRAPE_CACHE_DIR", "empty")
    code, out, err = run(capsys, "cut", "mine.toml", "--out", "none")
    assert (code, out) == (3, "") and "Nothing was written" in err.splitlines()[-1] and not Path("none").exists()


def test_the_finest_hem_kept_is_the_one(
    mine: tuple[Scene, Fitting], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("DRAPE_CACHE_DIR", str(tmp_path / "cache"))
    scene = mine[0]
    assert hem_at_hand(scene) is None
    for edge_length, seed in ((0.03, 1), (0.06, 0), (0.03, 2)):
        keep_hem(scene, Hem(np.full(49, edge_length), edge_length, seed))
    found = recall_hem(scene)
    assert found is not None and (found.edge_length, found.seed, found.trim[0]) == (0.03, 1, 0.03)
