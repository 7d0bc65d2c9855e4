"""Compiled loops that are kept: damaged, they are thrown away and made anew; where there is no room, made each time."""

from __future__ import annotations

import errno
import os
import pickle
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numba.core import config
from numba.core.caching import IndexDataCacheFile

from drape import kernel as kernels
from drape.kernel import kernel


def third(values: np.ndarray) -> float:
    return values[0] / 3.0


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    config.reload_config()  # else the first loop made here would do so, if a test before it changed the environment
    monkeypatch.setattr(config, "CACHE_DIR", str(tmp_path))
    kernels._say_once.cache_clear()
    return tmp_path


def compiled_anew() -> bool:
    """Whether the loop, as a new process would find it, has to be compiled; that it gives what it should."""
    loop = kernel(third)
    assert loop(np.array([1.5])) == 0.5
    return not loop.stats.cache_hits


def kept(folder: Path, ending: str) -> Path:
    (found,) = folder.rglob(f"*{ending}")
    return found


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


@pytest.mark.parametrize(
    "damage",
    [
        lambda folder: cut(kept(folder, ".nbc")), lambda folder: cut(kept(folder, ".nbi")),
        lambda folder: kept(folder, ".nbi").write_bytes(b""),
        lambda folder: kept(folder, ".nbc").write_bytes(pickle.dumps("none of ours")),
    ],
)  # fmt: skip
def test_what_is_damaged_is_thrown_away_and_made_anew_with_one_line(
    damage: Callable[[Path], None], folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert compiled_anew() and not compiled_anew()
    damage(folder)
    assert compiled_anew()
    said = capsys.readouterr().err
    assert len(said.splitlines()) == 1 and "compiled loops cannot be read or kept there" in said
    assert not compiled_anew()
    assert capsys.readouterr().err == ""


def test_where_there_is_no_room_it_is_compiled_each_time(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(IndexDataCacheFile, "_save_data", full)
    assert compiled_anew() and compiled_anew()
    assert len(capsys.readouterr().err.splitlines()) == 1
