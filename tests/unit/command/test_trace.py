"""`drape trace` as it is typed: what it writes, what it does not write over, and what it refuses."""

from __future__ import annotations

import json

import pytest
from drawings import Hand, draft_runs, write_dxf
from stand_in import standing_body

from drape.command.main import main
from drape.draft.cloak import draft_cloak
from drape.draft.style import Style
from drape.fitting.scene import load_scene


@pytest.fixture
def drawing(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    draft = draft_cloak(Style(neck="round", length=1.0), standing_body())
    return write_dxf(draft_runs(draft), tmp_path / "old.dxf", Hand(turn=1.0))


@pytest.mark.long
def test_trace_writes_a_scene_and_keeps_one_that_was_worked_on(drawing, tmp_path, capsys):
    assert main(["trace", "old.dxf"]) == 0
    assert "one arc" in capsys.readouterr().out
    scene = tmp_path / "old-trace" / "old.toml"
    assert load_scene(scene).style.neck == "round"
    assert {path.name for path in scene.parent.iterdir()} == {"old.toml", "old-traced.svg", "old.json"}
    scene.write_text(scene.read_text(encoding="utf-8") + "# mine\n", encoding="utf-8")
    assert main(["trace", "old.dxf", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["scene"].endswith("old-2.toml")
    assert scene.read_text(encoding="utf-8").endswith("# mine\n")


@pytest.mark.long
def test_new_writes_the_scene_of_a_drawing_and_for_carries_it_over(drawing, tmp_path, capsys):
    assert main(["new", "mine.toml", "--from", "old.dxf", "--body", "ferry-warden"]) == 0
    assert load_scene(tmp_path / "mine.toml").style.neck == "round"
    assert main(["trace", "old.dxf", "--body", "ferry-warden", "--for", "lamp-bearer", "--json"]) == 0
    capsys.readouterr()
    scene = tmp_path / "old-trace" / "old.toml"
    assert load_scene(scene).body == load_scene("lamp-bearer-collar").body
    assert "#   draft.length: " in scene.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["none.svg"], "No such file"),
        (["old.dxf", "--edge", "0=collar"], "allowed ID=NAME"),
        (["old.dxf", "--known-cm", "112"], "without --between"),
        (["old.dxf", "--body", "nobody"], "nobody"),
        (["old.dxf", "--for", "lamp-bearer"], "got --for without --body"),
    ],
)
def test_what_cannot_be_traced_is_told_in_a_line_and_nothing_is_written(drawing, tmp_path, arguments, said, capsys):
    assert main(["trace", *arguments]) == 2
    err = capsys.readouterr().err
    assert said in err and "Traceback" not in err
    assert [path.name for path in tmp_path.iterdir()] == ["old.dxf"]
