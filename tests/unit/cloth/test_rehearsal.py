"""The loops are compiled before they are called, each for one type, in two processes; what settles nothing needs none
of the cloth's."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from numba.core import event

from drape.cloth import rehearsal
from drape.cloth.stepping import relax_steps

SIGNATURES = """
import json, sys
from drape.cloth.rehearsal import kernels
def signatures():
    return {f"{name}.{one.py_func.__name__}": len(one.signatures) for name, all in kernels().items() for one in all}
"""
A_SIT = """
from dataclasses import replace
from drape import cache
from drape.cloth.rehearsal import BODY, build_figure, rehearse_cloth
from drape.errors import NotSettledError
from drape.fitting.scene import load_scene
from drape.fitting.sit import sit_afresh
rehearse_cloth()
build_figure(BODY)
rehearsed = signatures()
scene = replace(load_scene("ferry-warden-tailored"), max_steps=100)
for _ in range(2):  # once with the figure just built, once with the one read from its file
    try:
        sit_afresh(scene, edge_length=0.12)
    except NotSettledError:
        pass
    cache._at_hand.clear()
print(json.dumps([rehearsed, signatures()]))
"""
NO_SIT = """
from drape.command.main import main
for words in ("bodies", "cloths", "scenes", "guide", "new x.toml", "draft ferry-warden-round --estimate"):
    assert main(words.split()) == 0, words
print(json.dumps(signatures()))
"""


def run(code: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """What a process of its own, in which no test has called a loop, prints in its last line."""
    monkeypatch.setenv("DRAPE_CACHE_DIR", str(folder))
    done = subprocess.run(
        [sys.executable, "-c", SIGNATURES + code], capture_output=True, text=True, check=True, cwd=folder
    )
    return json.loads(done.stdout.splitlines()[-1])


@pytest.mark.long
def test_a_sit_needs_no_loop_and_no_type_that_was_not_rehearsed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rehearsed, after = run(A_SIT, tmp_path, monkeypatch)
    assert rehearsed["drape.cloth.stepping.relax_steps"] == rehearsed["drape.cloth.proximity.near_edges"] == 1
    assert {name: count for name, count in after.items() if count > 1} == {}
    assert after == rehearsed


@pytest.mark.long
def test_what_settles_nothing_loads_no_loop_of_the_cloth(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    loaded = run(NO_SIT, tmp_path, monkeypatch)
    assert loaded["drape.body.surface_nets.surface_nets"] == 1
    assert {name for name, count in loaded.items() if count and name.startswith("drape.cloth.")} == set()


@pytest.fixture
def told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[tuple[int, int] | None]:
    """What the bar is told, by a rehearsal in which one loop is compiled here and two, one of them the same, there."""
    words: list[tuple[int, int] | None] = []
    popen = subprocess.Popen

    def other(command: list[str], **more: Any) -> Any:
        assert command[1:] == ["-m", "drape.cloth.rehearsal"]
        names = ["drape.cloth.stepping.relax_steps", "drape.body.figure.first"]
        return popen([sys.executable, "-c", f"for name in {names}: print(name)"], **more)

    def compiles_one() -> None:
        with event.trigger_event("numba:compile", data={"dispatcher": relax_steps}):
            pass

    stats = SimpleNamespace(cache_path=str(tmp_path))
    monkeypatch.setattr(rehearsal, "relax_steps", SimpleNamespace(stats=stats))
    monkeypatch.setattr(rehearsal, "tell_compiled", words.append)
    monkeypatch.setattr(rehearsal.subprocess, "Popen", other)
    monkeypatch.setattr(rehearsal, "rehearse_cloth", compiles_one)
    rehearsal.compile_kernels.__wrapped__()
    return words


def test_the_bar_is_told_how_many_are_compiled_in_both_processes(told: list[tuple[int, int] | None]) -> None:
    total = sum(map(len, rehearsal.kernels().values()))
    assert told[-1] is None and set(told[:-1]) == {(1, total), (2, total)} and total > 40


def test_it_is_done_once_for_a_program_and_again_for_another(
    told: object, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    again: list[str] = []
    for program, times in (("old", 1), ("old", 1), ("new", 2), ("new", 2)):
        monkeypatch.setattr(rehearsal, "content_key", lambda *_, said=program: said)
        monkeypatch.setattr(rehearsal, "rehearse_cloth", lambda said=program: again.append(said))
        rehearsal.compile_kernels.__wrapped__()
        assert len(again) == times
    monkeypatch.setattr(rehearsal.relax_steps.stats, "cache_path", None)
    for _ in range(2):  # nothing is kept: each process compiles for itself
        rehearsal.compile_kernels.__wrapped__()
    assert len(again) == 4
