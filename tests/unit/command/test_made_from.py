"""Files of one folder belong together; what is stale goes and is named; nothing settled gives way to an estimate."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from drape.cache import digest_of
from drape.command.made_from import (
    RECORD,
    Run,
    add_files,
    aside,
    book,
    changed_since,
    check_not_lesser,
    out_of_date,
    runs_in,
)
from drape.errors import SceneError
from drape.fitting.scene import load_scene, scene_file
from drape.fitting.settled_hem import content_of

SIT = {
    "content": "c1",
    "hem": "settled",
    "hem_edge_length_cm": 3.0,
    "hem_seed": 0,
    "edge_length_cm": 3.0,
    "settled": True,
}
CUT = {"content": "c1", "hem": "settled", "hem_edge_length_cm": 3.0, "hem_seed": 0, "width_cm": 70.0}


def wrote(folder: Path, command: str, of: dict[str, object], *names: str, scene: str = "mine") -> list[str]:
    """What is said when a run has written its files into a folder."""
    folder.mkdir(exist_ok=True)
    for name in names:
        (folder / name).write_text(command, encoding="utf-8")
    return book(folder, Run(command, {scene: of}, names))


def held(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()} - {RECORD}


def test_the_same_draft_drawn_and_cut_into_one_folder_stays_together(tmp_path: Path) -> None:
    assert wrote(tmp_path, "sit", SIT, "mine.npz", "mine.svg") == []
    assert wrote(tmp_path, "draft", {k: SIT[k] for k in list(SIT)[:4]}, "mine.svg", "mine-chalk.svg") == []
    assert wrote(tmp_path, "cut", CUT, "cut.json") == []
    assert wrote(tmp_path, "sit", SIT, "mine.npz") == []
    assert held(tmp_path) == {"mine.npz", "mine.svg", "mine-chalk.svg", "cut.json"}
    assert [run.command for run in runs_in(tmp_path)] == ["draft", "cut", "sit"]
    assert runs_in(tmp_path)[-1].files == ("mine.npz", "mine.svg")


def test_files_of_a_scene_since_changed_go_and_are_named_and_the_makers_own_stay(tmp_path: Path) -> None:
    wrote(tmp_path, "sit", SIT, "mine.npz", "mine.png")
    wrote(tmp_path, "cut", CUT, "cut.json")
    wrote(tmp_path, "sit", {**SIT, "content": "other"}, "yours.npz", scene="yours")
    (tmp_path / "notes.txt").write_text("mine", encoding="utf-8")
    (tmp_path / "mine.html").write_text("the report", encoding="utf-8")
    add_files(tmp_path, "mine.npz", ["mine.html"])
    (said,) = wrote(tmp_path, "sit", {**SIT, "content": "c2"}, "mine.npz")
    assert "made from another draft, cloth or body" in said
    assert said.endswith("cut.json, mine.html, mine.png.")
    assert held(tmp_path) == {"mine.npz", "notes.txt", "yours.npz"}


def test_another_width_and_another_scene_in_one_folder_are_said(tmp_path: Path) -> None:
    wrote(tmp_path, "cut", CUT, "cut.json", "lining-lay.svg")
    (said,) = wrote(tmp_path, "cut", {**CUT, "width_cm": 27.0}, "cut.json")
    assert "made from cloth of another width, are replaced" in said and said.endswith(": lining-lay.svg.")
    (said,) = wrote(tmp_path, "cut", CUT, "cut.json", scene="yours")
    assert "made from mine, are replaced" in said
    assert [list(run.of) for run in runs_in(tmp_path)] == [["yours"]]


def test_a_finer_fitting_takes_the_report_of_the_coarser_with_it(tmp_path: Path) -> None:
    wrote(tmp_path, "sit", SIT, "mine.npz")
    (tmp_path / "mine.html").write_text("the report", encoding="utf-8")
    add_files(tmp_path, "mine.npz", ["mine.html"])
    (said,) = wrote(tmp_path, "sit", {**SIT, "edge_length_cm": 0.75, "hem_edge_length_cm": 0.75}, "mine.npz")
    assert said.endswith(": mine.html.") and held(tmp_path) == {"mine.npz"}


def test_an_estimate_does_not_go_in_the_place_of_a_settled_hem(tmp_path: Path) -> None:
    wrote(tmp_path, "cut", CUT, "cut.json")
    estimate = {**CUT, "hem": "estimate", "hem_edge_length_cm": None, "hem_seed": None}
    with pytest.raises(SceneError, match="settled hem, and an estimate does not go in its place") as caught:
        check_not_lesser(tmp_path, Run("cut", {"mine": estimate}))
    assert "\n" not in str(caught.value)
    check_not_lesser(tmp_path, Run("cut", {"mine": {**estimate, "content": "c2"}}))
    wrote(tmp_path / "other", "cut", estimate, "cut.json")
    check_not_lesser(tmp_path / "other", Run("cut", {"mine": CUT}))


def test_a_draft_does_not_take_the_place_of_a_fitting(tmp_path: Path) -> None:
    wrote(tmp_path, "sit", SIT, "mine.npz")
    finer = Run("draft", {"mine": {**SIT, "hem_edge_length_cm": 1.5}})
    with pytest.raises(SceneError, match="settled on triangles of 3.0 cm; this hem comes from triangles of 1.5 cm"):
        check_not_lesser(tmp_path, finer)
    check_not_lesser(tmp_path, Run("cut", {"mine": CUT}))


def test_what_did_not_settle_is_saved_beside_what_did(tmp_path: Path) -> None:
    out = tmp_path / "mine-fitting"
    wrote(out, "sit", SIT, "mine.npz")
    failed = Run("sit", {"mine": {**SIT, "edge_length_cm": 0.75, "settled": False}})
    assert aside(out, failed) == tmp_path / "mine-fitting-not-settled"
    assert aside(out, Run("sit", {"mine": {**SIT, "content": "c2", "settled": False}})) == out
    assert aside(tmp_path / "new", failed) == tmp_path / "new"


def test_folders_out_of_date_are_found(tmp_path: Path) -> None:
    wrote(tmp_path / "mine-cut", "cut", CUT, "cut.json")
    wrote(tmp_path / "mine-cut-27cm", "cut", {**CUT, "content": "c0"}, "cut.json")
    wrote(tmp_path / "mine-draft-estimate", "draft", {**CUT, "hem": "estimate"}, "mine.svg")
    wrote(tmp_path / "mined-cut", "cut", {**CUT, "content": "c0"}, "cut.json", scene="mined")
    assert out_of_date(tmp_path / "mine-fitting", Run("sit", {"mine": SIT})) == ["mine-cut-27cm", "mine-draft-estimate"]


@pytest.mark.parametrize("text", ["", "{", "[]", '{"runs": [{"command": "sit"}]}', '{"runs": [{"command": "sit", "of": '
'{"a": 1}, "files": []}]}',
                                  '{"runs": [{"command": "sit", "of": {}, "files": ["../taken"]}]}'])  # fmt: skip
def test_a_record_that_cannot_be_read_removes_nothing(tmp_path: Path, text: str) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (tmp_path / "taken").write_text("not ours", encoding="utf-8")
    (out / RECORD).write_text(text, encoding="utf-8")
    assert wrote(out, "sit", {**SIT, "content": "c2"}, "a.npz", scene="a") == []
    assert (tmp_path / "taken").exists()
    assert json.loads((out / RECORD).read_text(encoding="utf-8"))["runs"][0]["files"] == ["a.npz"]


def test_a_scene_changed_since_it_settled_is_told_of_and_nothing_is_said_where_none_is_there(tmp_path: Path) -> None:
    scene, folder = tmp_path / "mine.toml", tmp_path / "mine-fitting"
    text = scene_file("ferry-warden-round").read_text(encoding="utf-8")
    scene.write_text(text, encoding="utf-8")
    wrote(folder, "sit", {**SIT, "content": digest_of(content_of(load_scene(scene)))}, "mine.npz")
    assert changed_since(folder / "mine.npz") == ""
    scene.write_text(text.replace("length_cm = 112.0", "length_cm = 110.0"), encoding="utf-8")
    assert changed_since(folder / "mine.npz").startswith("mine.toml has changed since ")
    scene.unlink()
    assert changed_since(folder / "mine.npz") == ""
