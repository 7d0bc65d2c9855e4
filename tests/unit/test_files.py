"""Files are written whole or not at all, and nowhere else by hand."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

import drape
from drape.errors import SceneError
from drape.files import LONGEST_NAME, distinct_names, file_name, unused, write_new, write_text, write_whole


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


@pytest.mark.parametrize(
    ("name", "called"),
    [
        ("ferry-warden", "ferry-warden"), ("Mother's Sunday cloak, été", "Mother's Sunday cloak, été"),
        ("../../escaped", "escaped"), ("/etc/passwd", "etc-passwd"), ("..", "unnamed"), (".hidden", "hidden"),
        ("C:\\a\\b", "C-a-b"), ("a\n\x00\u2028b", "a---b"), ("dot. ", "dot"), ("\udcff", "unnamed"),
        ("CON", "CON-1"), ("com1.old", "com1-1.old"), ("console", "console"), ("compare", "compare-1"),
        ("Mend", "Mend-1"), ("lining-lay", "lining-lay-1"), ("", "unnamed"), ("-rf", "rf"),
    ],
)  # fmt: skip
def test_a_name_is_a_name_and_never_a_path(name: str, called: str) -> None:
    assert file_name(name) == called and file_name(called) == called


def test_long_names_are_cut_and_stay_apart() -> None:
    long = [letter * 244 + end for letter in "aé長" for end in ("1", "2")]
    names = [file_name(name) for name in long]
    assert len(set(names)) == 6 and max(len(name.encode()) for name in names) <= LONGEST_NAME
    assert [file_name(name) for name in names] == names


def test_names_are_made_distinct_whatever_stands_among_them() -> None:
    assert distinct_names(["a", "a", "a-2", "b"]) == ["a", "a-3", "a-2", "b"]
    assert distinct_names(["Cloak", "cloak", "e\u0301", "\u00e9"]) == ["Cloak", "cloak-2", "e\u0301", "\u00e9-2"]


def test_a_file_with_the_longest_name_is_written_whole(tmp_path: Path) -> None:
    path = tmp_path / ("a" * 251 + ".txt")
    write_text(path, "whole")
    assert path.read_text(encoding="utf-8") == "whole"


def test_the_first_name_that_is_free_or_holds_the_same_text(tmp_path: Path) -> None:
    names = []
    for text in ("one", "two", "three", "two", "one"):
        names.append(unused(tmp_path / "mine.toml", text).name)
        write_text(tmp_path / names[-1], text)
    assert names == ["mine.toml", "mine-2.toml", "mine-3.toml", "mine-2.toml", "mine.toml"]


@pytest.mark.skipif(os.name == "nt", reason="Windows cannot say whether a process runs")
def test_what_a_killed_run_left_of_a_file_goes_when_it_is_written_again(tmp_path: Path) -> None:
    """A process of the same name for its half file, which is over, one that runs, and a file that only looks alike."""
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    half, other, alike = (
        tmp_path / f".mine.{number}.{word}.toml"
        for number, word in ((ended.pid, "unfinished"), (os.getppid(), "unfinished"), (ended.pid, "old"))
    )
    for path in (half, other, alike):
        path.write_text("half", encoding="utf-8")
    write_text(tmp_path / "mine.toml", "whole")
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([other.name, alike.name, "mine.toml"])


def test_no_other_module_puts_a_file_in_place_by_hand() -> None:
    source = Path(drape.__file__).parent
    by_hand = [path for path in sorted(source.rglob("*.py")) if "os.replace(" in path.read_text(encoding="utf-8")]
    assert [path.relative_to(source).as_posix() for path in by_hand] == ["files.py"]
