"""The folder that a draft or a cut goes into: its name, its record, and that it is gone where nothing settled."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from drape.command.cut import _Folder, _hemmed
from drape.errors import NotSettledError
from drape.fitting.hem_to_cut import hem_at_hand
from drape.fitting.scene import Scene, load_scene
from drape.fitting.settled_hem import ESTIMATE, GIVEN, Hem
from drape.fitting.starter_scene import STARTER_SCENE


@pytest.fixture
def scene(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Scene:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "mine.toml").write_text(STARTER_SCENE, encoding="utf-8")
    return load_scene("mine.toml")


def with_hem(monkeypatch: pytest.MonkeyPatch, hem: Hem | None) -> None:
    """The hem at hand is that; where there is none, settling fails."""

    def unsettled(*_: object, **__: object) -> None:
        raise NotSettledError("mine: not settled.")

    module = sys.modules[hem_at_hand.__module__]
    monkeypatch.setattr(module, "hem_at_hand", lambda *_, **__: hem)
    monkeypatch.setattr(module, "settled_hem", unsettled)


def made(scene: Scene, *, asked: Path | None = None, ending: str = "", estimate: bool = False) -> list[str]:
    """The folders there are after a file was written into the one for the hem at hand."""
    with _hemmed(scene, _Folder("draft", asked, ending), {}, estimate=estimate) as (out, hem, wrote):
        if hem is not None:
            (out / "mine.svg").write_text("<svg/>", encoding="utf-8")
            wrote.append("mine.svg")
    return sorted(path.name for path in Path().iterdir() if path.is_dir())


def test_a_folder_is_named_for_the_scene_and_the_command_and_lists_its_files(
    scene: Scene, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with_hem(monkeypatch, GIVEN)
    assert made(scene) == ["mine-draft"]
    record = json.loads((Path("mine-draft") / "made-from.json").read_text(encoding="utf-8"))
    assert "mine.svg" in json.dumps(record)
    assert made(scene, ending="-70cm") == ["mine-draft", "mine-draft-70cm"]
    assert "estimate" not in capsys.readouterr().err


def test_an_estimate_goes_into_a_folder_that_says_so_unless_one_is_given(
    scene: Scene, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with_hem(monkeypatch, ESTIMATE)
    assert made(scene, estimate=True) == ["mine-draft-estimate"]
    assert "The hem is an estimate, and every file says so" in capsys.readouterr().err
    assert made(scene, estimate=True, asked=Path("there")) == ["mine-draft-estimate", "there"]


def test_where_the_hem_does_not_settle_nothing_is_left_and_what_to_type_is_said(
    scene: Scene, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with_hem(monkeypatch, None)
    assert made(scene) == []
    assert (
        "mine: not settled. Nothing was written. With --estimate the draft is made without settling."
        in capsys.readouterr().err
    )
