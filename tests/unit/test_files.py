"""Files are written whole or not at all, and nowhere else by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

import drape
from drape.errors import SceneError
from drape.files import unused, write_new, write_text, write_whole


def half_written(passing: Path) -> None:
    passing.write_text("half", encoding="utf-8")
    raise OSError("the disk is full")


def test_a_write_that_fails_leaves_what_was_there_and_nothing_beside_it(tmp_path: Path) -> None:
    write_text(tmp_path / "a.txt", "before")
    with pytest.raises(OSError, match="full"):
        write_whole(tmp_path / "a.txt", half_written)
    assert [(path.name, path.read_text(encoding="utf-8")) for path in tmp_path.iterdir()] == [("a.txt", "before")]


def test_a_new_file_is_never_written_over_and_a_failed_one_is_not_left(tmp_path: Path) -> None:
    write_new(tmp_path / "a.txt", lambda path: path.write_text("mine", encoding="utf-8"))
    with pytest.raises(SceneError, match="a.txt, which exists, allowed a new file"):
        write_new(tmp_path / "a.txt", lambda path: path.write_text("other", encoding="utf-8"))
    assert (tmp_path / "a.txt").read_text(encoding="utf-8") == "mine"
    with pytest.raises(SceneError, match="b.txt, cannot be written: the disk is full"):
        write_new(tmp_path / "b.txt", half_written)
    assert [path.name for path in tmp_path.iterdir()] == ["a.txt"]


def test_the_first_name_that_is_free(tmp_path: Path) -> None:
    names = []
    for _ in range(3):
        names.append(unused(tmp_path / "mine.toml").name)
        (tmp_path / names[-1]).touch()
    assert names == ["mine.toml", "mine-2.toml", "mine-3.toml"]


def test_no_other_module_puts_a_file_in_place_by_hand() -> None:
    source = Path(drape.__file__).parent
    by_hand = [path for path in sorted(source.rglob("*.py")) if "os.replace(" in path.read_text(encoding="utf-8")]
    assert [path.relative_to(source).as_posix() for path in by_hand] == ["files.py"]
