"""The scene to start from: it loads as it is, and every note in it is a key within its range."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from drape.fitting.scene import load_scene
from drape.fitting.scene_keys import SCENE_KEYS, SCENE_TABLES
from drape.fitting.starter_scene import STARTER_SCENE
from drape.schema import checked_keys


def test_the_starter_expects_nothing_in_the_makers_name(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(STARTER_SCENE, encoding="utf-8")
    assert load_scene(path).expect == ""


def noted() -> list[tuple[str, str, str]]:
    """Table, key and line of every key in the scene, those behind # as well."""
    table, found = "", []
    for line in STARTER_SCENE.splitlines():
        text = line.removeprefix("# ")
        if heading := re.match(r"\[+([a-z_]+)\]+", text):
            table = heading[1]
        elif key := re.match(r"([a-z][a-z0-9_]*) = ", text):
            found.append((table, key[1], text))
    return found


@pytest.mark.parametrize(("table", "key", "line"), noted(), ids=[f"{table}.{key}" for table, key, _ in noted()])
def test_every_note_is_a_key_of_its_table_with_a_value_that_is_taken(table: str, key: str, line: str) -> None:
    known = SCENE_TABLES[table].keys if table else SCENE_KEYS
    assert checked_keys(tomllib.loads(line), known, "starter", table, require=False)


def test_every_table_a_scene_has_but_those_for_cutting_narrow_cloth_and_for_wearing_has_its_place() -> None:
    assert set(SCENE_TABLES) - {table for table, _, _ in noted()} == {"piecing", "cross_seam", "lay", "flaw", "wear"}
    assert len(noted()) > 60


def test_the_file_is_named_once_and_typed_with_plain_letters() -> None:
    assert STARTER_SCENE.count("FILE") == 1 and STARTER_SCENE.isascii()
