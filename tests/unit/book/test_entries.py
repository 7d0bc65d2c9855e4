"""Entries are scene files that the command line reads; nothing once written is written over."""

from __future__ import annotations

import json

import pytest

from drape.book.entries import Folder, without_header
from drape.errors import SceneError
from drape.fitting.scene import load_scene, shipped_folder


def test_on_the_first_visit_the_ferry_warden_lies_ready(tmp_path):
    folder = Folder(tmp_path / "new")
    text = folder.pencil()
    assert text == (shipped_folder("scene") / "ferry-warden-tailored.toml").read_text(encoding="utf-8")
    assert folder.pencil_path.is_file() and folder.entries() == []


def test_an_entry_is_a_scene_file_and_says_where_it_came_from(tmp_path):
    folder = Folder(tmp_path)
    text = folder.pencil()
    folder.ink(2, text, "From entry 1: length cm: 112, now 100.")
    (entry,) = folder.entries()
    assert (entry.number, entry.before, entry.told) == (2, 1, "From entry 1: length cm: 112, now 100.")
    assert load_scene(entry.path).title == "Ferry warden's cloak, tailored neck"
    assert without_header(entry.path.read_text(encoding="utf-8")) == text


def test_an_entry_is_never_written_over(tmp_path):
    folder = Folder(tmp_path)
    path = folder.ink(1, folder.pencil(), "The first.")
    before = path.read_bytes()
    with pytest.raises(SceneError, match="exists"):
        folder.ink(1, "title = 'another'", "")
    assert path.read_bytes() == before


def test_the_page_in_pencil_goes_on_from_the_last_entry(tmp_path):
    folder = Folder(tmp_path)
    folder.ink(1, folder.pencil().replace("112.0", "101.0"), "The first.")
    folder.pencil_path.unlink()
    assert "length_cm = 101.0" in folder.pencil()


@pytest.mark.parametrize("body", ["../secret.toml", "/etc/passwd", "..\\secret.toml", "sub/../../secret.toml"])
def test_a_scene_may_name_no_file_outside_the_folder(tmp_path, body):
    folder = Folder(tmp_path / "book")
    text = folder.pencil().replace('body = "ferry-warden"', f"body = '{body}'")
    with pytest.raises(SceneError, match="^figure.body: .*(allowed files of this folder|no such file)"):
        folder.scene(text, "pencil")


def test_a_message_names_no_path(tmp_path):
    folder = Folder(tmp_path)
    with pytest.raises(SceneError, match=r"^draft\.length_cm: got 1120, allowed 15 to 200 cm") as caught:
        folder.scene(folder.pencil().replace("112.0", "1120.0"), "pencil")
    assert str(tmp_path) not in str(caught.value)
    assert [path.name for path in tmp_path.iterdir()] == ["pencil.toml"]  # nothing is left of the try


def test_other_scenes_and_bodies_of_the_folder_are_found(tmp_path):
    folder = Folder(tmp_path)
    folder.ink(1, folder.pencil(), "The first.")
    (tmp_path / "mine.toml").write_text(folder.pencil(), encoding="utf-8")
    body = (shipped_folder("body") / "lamp-bearer.toml").read_text(encoding="utf-8")
    (tmp_path / "ada.toml").write_text(body, encoding="utf-8")
    (tmp_path / "bad.toml").write_text("not = = toml", encoding="utf-8")
    assert folder.other_scenes() == ["mine.toml"]
    assert folder.bodies() == ["ada.toml"]


VERDICT = {"where": "neck", "finding": "gapes", "mend": "", "reading": "neck.gap_front_cm"}
FOUND = {"settled": True, "verdicts": [VERDICT], "conclusion": {"text": "It sits."}}


@pytest.mark.parametrize(
    "damaged",
    ["[1]", "[" * 100_000, json.dumps({**FOUND, "verdicts": [{"harm": 1}]}), json.dumps({**FOUND, "conclusion": 5}),
     json.dumps({**FOUND, "verdicts": "x"}), json.dumps({**FOUND, "settled": "yes"})],
)  # fmt: skip
def test_damaged_readings_are_as_good_as_none(tmp_path, damaged):
    folder = Folder(tmp_path)
    folder.shapes.mkdir()
    (folder.shapes / "entry-1.json").write_text(json.dumps(FOUND), encoding="utf-8")
    assert folder.readings_of("entry-1") == (FOUND, {})
    (folder.shapes / "entry-1.json").write_text(damaged, encoding="utf-8")
    assert folder.readings_of("entry-1") == ({}, {})


@pytest.mark.parametrize("typed", [[1, 2], "abc", None, {"title": 5}, {"title": ["x"]}])
def test_damaged_notes_of_what_was_typed_are_left_out(tmp_path, typed):
    folder = Folder(tmp_path)
    folder.write_state({"open": 3, "typed": typed})
    assert folder.state() == {"open": 3}
    folder.write_state({"open": 3, "typed": {"title": ["a", "b"]}})
    assert folder.state() == {"open": 3, "typed": {"title": ["a", "b"]}}


def test_a_page_in_pencil_that_cannot_be_read_is_told_in_a_line(tmp_path):
    folder = Folder(tmp_path)
    folder.pencil_path.write_bytes(b'title = "\xe9"')
    with pytest.raises(SceneError, match="pencil.toml, allowed text in UTF-8. Move it"):
        folder.pencil()
    folder.pencil_path.unlink()
    folder.pencil_path.mkdir()
    (tmp_path / "entry-1.toml").mkdir()
    with pytest.raises(SceneError, match="pencil.toml, cannot be read: Is a directory. Move it"):
        folder.pencil()
    assert folder.entries() == []


def test_damaged_notes_are_as_good_as_none(tmp_path):
    folder = Folder(tmp_path)
    (tmp_path / "book.json").write_text("[1, 2", encoding="utf-8")
    assert folder.state() == {}
    (tmp_path / "book.json").write_text("[" * 100_000, encoding="utf-8")
    assert folder.state() == {}
    folder.write_state({"open": 3})
    assert folder.state() == {"open": 3}
