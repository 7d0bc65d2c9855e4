"""Where compiled loops are kept, and what is said while they are made."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from drape.command.kernel_cache import kept_kernels, say_once


@pytest.fixture
def source(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder in place of the one beside the source, whose own is left alone,
    and no folder named in the environment.
    """
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    monkeypatch.setitem(kept_kernels.__wrapped__.__globals__, "_beside_source", lambda: tmp_path / "source")
    return tmp_path / "source"


def test_beside_a_source_that_can_be_written_nothing_is_named(source: Path) -> None:
    with kept_kernels():
        assert "NUMBA_CACHE_DIR" not in os.environ
    assert source.is_dir()


def test_beside_one_that_cannot_the_users_cache_is_named(
    source: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    source.write_text("a file where the folder would be", encoding="utf-8")
    monkeypatch.setenv("DRAPE_CACHE_DIR", str(tmp_path / "cache"))
    with kept_kernels():
        assert os.environ["NUMBA_CACHE_DIR"] == str(tmp_path / "cache" / "compiled")
        if hasattr(os, "geteuid"):
            assert stat.S_IMODE((tmp_path / "cache" / "compiled").stat().st_mode) == 0o700
    monkeypatch.delenv("NUMBA_CACHE_DIR")


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="this system's folders have no owner of this kind")
@pytest.mark.parametrize("is_named", [True, False])
def test_a_folder_of_another_user_is_not_used(
    is_named: bool, source: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What lies there is run. Seen from another user, a folder of ours is another's."""
    source.write_text("", encoding="utf-8")
    folder = tmp_path / "cache" / "compiled"
    folder.mkdir(parents=True)
    monkeypatch.setenv("DRAPE_CACHE_DIR", str(tmp_path / "cache"))
    if is_named:
        monkeypatch.setenv("NUMBA_CACHE_DIR", str(folder))
    monkeypatch.setattr(os, "geteuid", lambda: folder.stat().st_uid + 1)
    with kept_kernels():
        passing = Path(os.environ["NUMBA_CACHE_DIR"])
        assert passing.is_dir() and passing != folder
    said = capsys.readouterr().err
    assert said.startswith(f"{folder}: others may write there") and len(said.splitlines()) == 1
    monkeypatch.delenv("NUMBA_CACHE_DIR")


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="this system's folders have no owner of this kind")
def test_a_folder_of_ours_is_closed_to_others(source: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "open"
    folder.mkdir()
    folder.chmod(0o777)
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(folder))
    with kept_kernels():
        assert os.environ["NUMBA_CACHE_DIR"] == str(folder) and stat.S_IMODE(folder.stat().st_mode) == 0o700


@pytest.mark.parametrize("has_home", [True, False])
def test_with_neither_a_passing_folder_serves_this_run_and_goes(
    has_home: bool, source: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The user's cache cannot be written, or the user has no home to keep one in."""
    source.write_text("", encoding="utf-8")
    users = source / "cache" if has_home else None
    monkeypatch.setitem(kept_kernels.__wrapped__.__globals__, "_user_cache", lambda: users)
    with kept_kernels():
        passing = Path(os.environ["NUMBA_CACHE_DIR"])
        assert passing.is_dir() and passing != source
    assert not passing.exists()
    monkeypatch.delenv("NUMBA_CACHE_DIR")


def test_a_folder_named_already_is_left_as_it_is(source: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source.write_text("", encoding="utf-8")
    monkeypatch.setenv("NUMBA_CACHE_DIR", "elsewhere")
    with kept_kernels():
        assert os.environ["NUMBA_CACHE_DIR"] == "elsewhere"


def test_the_wait_is_said_once(capsys: pytest.CaptureFixture[str]) -> None:
    say_once.cache_clear()
    for _ in range(3):
        say_once()
    assert capsys.readouterr().err == "Compiling the inner loops. This takes up to a minute, and only the first time.\n"
