"""What commands decide before and after the work: names, sizes, forms and exit codes."""

from __future__ import annotations

import os
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from drape.command.arguments import build_parser
from drape.command.run import (
    DONE,
    FAILED,
    NOT_SETTLED,
    _finish,
    _first_tables,
    _told_apart,
    run_new,
)
from drape.errors import NotSettledError, PictureError, SceneError
from drape.fitting.scene import load_body, load_scene, refuse_other_kind, scene_file, worn_by
from drape.fitting.settling_process import Job
from drape.progress import waiting
from drape.reading.first_table import MARK


@dataclass(frozen=True)
class Named:
    name: str
    edge_length: float = 0.015


def chosen(*typed: str):  # noqa: ANN201
    return build_parser().parse_args([*typed])


def test_of_two_faults_the_graver_code_counts_and_both_are_said(capsys: pytest.CaptureFixture[str]) -> None:
    unsettled, undrawn = NotSettledError("a: not settled."), PictureError("picture: no.")
    codes = [
        _finish(*ended)
        for ended in (([None, None], None), ([None], undrawn), ([None, unsettled], None), ([unsettled], undrawn))
    ]
    assert codes == [DONE, FAILED, NOT_SETTLED, NOT_SETTLED]
    assert capsys.readouterr().err.splitlines() == [
        "picture: no.",
        "a: not settled.",
        "a: not settled.",
        "picture: no.",
    ]


def test_a_new_scene_names_its_file_and_its_body(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert run_new(chosen("new", "mine.toml", "--body", "lamp-bearer")) == DONE
    assert "drape sit mine.toml" in (tmp_path / "mine.toml").read_text(encoding="utf-8")
    assert load_scene(tmp_path / "mine.toml").body == load_body("lamp-bearer").name


@pytest.mark.skipif(os.name == "nt", reason="this shell's quotes")
@pytest.mark.parametrize(("kind", "after"), [("scene", "sit"), ("body", "measure"), ("cloth", "cloth")])
def test_a_new_file_quotes_its_name_where_it_is_to_be_typed(
    kind: str, after: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run_new(chosen("new", "a $(b);c.toml", "--kind", kind)) == DONE
    written = (tmp_path / "a $(b);c.toml").read_text(encoding="utf-8")
    assert f"drape {after} 'a $(b);c.toml'\n" in written
    marks = {"scene": "draft", "body": "tape", "cloth": "square"}
    with pytest.raises(SceneError) as caught:
        refuse_other_kind({marks[kind]: {}}, "study", "a $(b);c.toml")
    assert f"`drape {after} 'a $(b);c.toml'`" in str(caught.value)


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("a\nb.toml", "allowed printable text"), ("a\udcffb.toml", "which is not UTF-8"),
        ("ferry-warden-round", "the name of a shipped scene"),
    ],
)  # fmt: skip
def test_a_name_that_no_command_would_take_is_refused(
    name: str, says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(SceneError, match=says):
        run_new(chosen("new", name))
    assert list(tmp_path.iterdir()) == []


def test_scenes_of_one_name_are_told_apart_and_it_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    paths = [tmp_path / name for name in ("a.toml", "sub/a.toml", "a-2.toml", "compare.toml")]
    (tmp_path / "sub").mkdir()
    for path in paths:
        path.write_text(scene_file("ferry-warden-round").read_text(encoding="utf-8"), encoding="utf-8")
    scenes = _told_apart([load_scene(path) for path in paths], paths)
    assert [scene.name for scene in scenes] == ["a", "a-3", "a-2", "compare-1"]
    said = capsys.readouterr().err
    assert said.splitlines() == [f"{paths[1]}: its results are called a-3, since another's are called a."]


def test_a_body_called_by_a_path_names_no_folder(tmp_path: Path) -> None:
    body = replace(load_body("ferry-warden"), name="../../a")
    assert worn_by(load_scene("ferry-warden-round"), body, "../../b").name == "ferry-warden-round-on-..-..-b"


def test_a_body_of_a_file_is_named_by_its_way_from_the_scene(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "scenes").mkdir()
    body = (
        '[figure]\nsex = "woman"\n[tape]\nstature_cm = 163\nchest_girth_cm = 91\nwaist_girth_cm = 73\n'
        "hip_girth_cm = 97\n"
    )
    (tmp_path / "clerk.toml").write_text(body, encoding="utf-8")
    assert run_new(chosen("new", "scenes/mine.toml", "--body", "clerk.toml")) == DONE
    assert (
        tomllib.loads((tmp_path / "scenes" / "mine.toml").read_text(encoding="utf-8"))["figure"]["body"]
        == "../clerk.toml"
    )
    assert load_scene(tmp_path / "scenes" / "mine.toml").tape["stature"] == 1.63


@pytest.mark.parametrize("kind", ["body", "cloth"])
def test_a_form_comes_with_its_card_or_not_at_all(kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert run_new(chosen("new", "mine.toml", "--kind", kind)) == DONE
    assert {path.name for path in tmp_path.iterdir()} == {"mine.toml", "mine.svg"}
    assert "mine.svg" in (tmp_path / "mine.toml").read_text(encoding="utf-8")
    (tmp_path / "mine.svg").unlink()
    with pytest.raises(SceneError, match="mine.toml, which exists"):
        run_new(chosen("new", "mine.toml", "--kind", kind))
    assert [path.name for path in tmp_path.iterdir()] == ["mine.toml"]
    with pytest.raises(SceneError, match="mine.svg, which is the card's own name. Give one ending in .toml."):
        run_new(chosen("new", "mine.svg", "--kind", kind))


def test_a_first_table_goes_to_the_error_stream_alone_and_is_of_first_runs_alone(
    capsys: pytest.CaptureFixture[str],
) -> None:
    firsts = [Job(name, load_scene(name), 0.06) for name in ("ferry-warden-round", "ferry-warden-tailored")]
    with waiting():
        early = _first_tables(firsts)
        early(firsts[1], {"scene": firsts[1].words, "neck": {"gap_max_cm": 1.25}})
        early(Job("run 2 of 3", firsts[1].scene, 0.06), {"scene": firsts[1].words, "neck": {"gap_max_cm": 7.75}})
    said = capsys.readouterr()
    assert said.out == "" and MARK in said.err.splitlines()
    assert "1.2" in said.err and "7.8" not in said.err
