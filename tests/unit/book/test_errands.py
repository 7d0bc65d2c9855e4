"""Errands: what the command line does for the book, and what of it lies in the folder the next day."""

from __future__ import annotations

import pytest

from drape.book.entries import Entry
from drape.book.errands import Errands
from drape.errors import SceneError


def entry_of(folder):
    return Entry(3, folder / "entry-3.toml")


def test_what_was_cut_and_worn_before_is_found_again(tmp_path):
    (tmp_path / "entry-3-cut-140cm").mkdir()
    (tmp_path / "entry-3-cut-140cm" / "cut.txt").write_text("Buy 260 cm.", encoding="utf-8")
    (tmp_path / "entry-3-cut-70cm").mkdir()  # broken off: nothing in it
    (tmp_path / "entry-3-wear-thrown-over").mkdir()
    (tmp_path / "entry-3-wear-thrown-over" / "entry-3-wear.txt").write_text("As worn.", encoding="utf-8")
    errands = Errands(tmp_path, lambda: None)
    assert [(one["kind"], one["words"], one["text"]) for one in errands.told(3)] == [
        ("wear", "worn thrown over", "As worn."), ("cut", "cut from cloth 140 cm wide", "Buy 260 cm."),
    ]  # fmt: skip
    assert errands.told(4) == []


def test_only_files_that_an_errand_wrote_are_handed_out(tmp_path):
    (tmp_path / "secret.txt").write_text("x", encoding="utf-8")
    (tmp_path / "entry-3-cut-140cm").mkdir()
    (tmp_path / "entry-3-cut-140cm" / "cut.txt").write_text("Buy 260 cm.", encoding="utf-8")
    (tmp_path / "entry-3-cut-140cm" / "away.svg").symlink_to("/etc/hostname")
    errands = Errands(tmp_path, lambda: None)
    assert errands.file("entry-3-cut-140cm", "cut.txt") is not None
    for out, name in ((".", "secret.txt"), ("entry-3-cut-140cm", "../secret.txt"), ("entry-3-cut-140cm", "away.svg")):
        assert errands.file(out, name) is None


@pytest.mark.parametrize(
    ("width", "message"), [("wide", "got 'wide', allowed a number"), ("9000", "width_cm: got 9000")]
)
def test_a_width_that_is_none_is_refused(tmp_path, width, message):
    with pytest.raises(SceneError, match=message):
        Errands(tmp_path, lambda: None).cut(entry_of(tmp_path), width)


def test_a_way_that_is_none_is_refused(tmp_path):
    errands = Errands(tmp_path, lambda: None)
    with pytest.raises(SceneError, match="allowed the ways and moves"):
        errands.wear(entry_of(tmp_path), "--out=/", "")
    with pytest.raises(SceneError, match="nothing is written in yet"):
        errands.wear(None, "closed", "")
