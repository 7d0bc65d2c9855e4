"""Files put into the book are taken by what they are, and only files of the folder are read."""

from __future__ import annotations

import asyncio

import pytest

from drape.book import keeper as keeping
from drape.book.dropped import read_of, take_file
from drape.book.entries import Folder
from drape.book.keeper import Keeper
from drape.errors import SceneError

SCENE = """title = "Lamp"
[figure]
body = "lamp-bearer"
[cloth]
cloth = "flannel"
[draft]
neck = "round"
length_cm = 90.0
"""


class Bench:
    """Takes in tasks, and does none."""

    def __init__(self, heard):
        self.is_busy = False

    def want(self, task):
        """Nothing settles here."""


@pytest.fixture
def keeper(tmp_path, monkeypatch):
    monkeypatch.setattr(keeping, "Bench", Bench)
    keeper = Keeper(Folder(tmp_path), lambda parts: None, lambda picture: None)
    asyncio.run(keeper.begin())
    return keeper


def test_a_scene_is_taken_in_pencil_without_its_number(keeper):
    take_file(keeper, "lamp.toml", f"# Entry 7 of the job book. The first.\n{SCENE}")
    assert keeper.text == SCENE and keeper.scene.style.length == pytest.approx(0.9)


def test_a_drawing_is_put_into_the_folder_and_traced(keeper, tmp_path, monkeypatch):
    asked = []
    monkeypatch.setattr(keeper.errands, "trace", lambda path, body: asked.append((path.name, body)))
    take_file(keeper, "../hem.svg", "<svg/>")
    assert asked == [("hem.svg", "ferry-warden")] and (tmp_path / "hem.svg").read_text() == "<svg/>"


def test_what_is_nothing_and_what_lies_elsewhere_is_refused(keeper):
    with pytest.raises(SceneError, match="no file that drape knows"):
        take_file(keeper, "odd.toml", "x = 1\n")
    with pytest.raises(SceneError, match="allowed a scene file of the folder"):
        read_of(keeper, "../secret.toml")
