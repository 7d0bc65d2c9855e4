"""The drawing process: its failures come back as one line that says what to do."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

import drape
from drape import drawing_process
from drape.errors import MissingExtraError, PictureError, SceneError


def job(folder: Path) -> dict[str, object]:
    return {"saved": [str(folder / "absent.npz")], "sheet": str(folder / "sheet.png")}


def a_child_that(ends: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """From now on the process that draws is a shell that reads its job and ends so."""
    crash = tmp_path / "crash"
    crash.write_text(f"#!/bin/sh\nread line\n{ends}\n")
    crash.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(crash))


@pytest.mark.skipif(os.name == "nt", reason="needs a shell that can end itself by a signal")
@pytest.mark.parametrize(
    ("ends", "says"), [("kill -SEGV $$", "signal 11"), ("exit 7", "exit code 7"), ("exit 0", "without an answer")]
)
def test_a_crash_of_the_child_becomes_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ends: str, says: str
) -> None:
    a_child_that(ends, tmp_path, monkeypatch)
    with pytest.raises(PictureError) as caught:
        drawing_process.draw_in_child(job(tmp_path))
    message = str(caught.value)
    assert "\n" not in message
    assert says in message and "results are saved" in message
    for system in ("Debian", "libegl1", "Fedora", "mesa-libEGL", "macOS", "Windows", "drape show"):
        assert system in message
    assert not (tmp_path / "sheet.png").exists()


def test_the_childs_own_error_comes_back_as_it_was() -> None:
    noise = "bad X server connection. DISPLAY=\nTraceback (most recent call last):\n"
    error = drawing_process._fault(noise + "drape.errors.PictureError: picture: view: got x\n", 1)
    assert isinstance(error, PictureError) and str(error) == "picture: view: got x"
    error = drawing_process._fault(noise + "drape.errors.MissingExtraError: picture: pyvista\n", 1)
    assert isinstance(error, MissingExtraError)
    error = drawing_process._fault(noise + "FileNotFoundError: no such file: 'a.npz'\n", 1)
    assert "no such file: 'a.npz'" in str(error) and "libegl1" not in str(error)
    assert "libegl1" in str(drawing_process._fault(noise, 3221225477))


def test_a_child_without_its_file_fails_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(SceneError, match="not a saved fitting") as caught:
        drawing_process.draw_in_child(job(tmp_path))
    assert "\n" not in str(caught.value)
    assert not (tmp_path / "sheet.png").exists()


@pytest.mark.parametrize(("ends", "says"), [("kill -KILL $$", "signal 9"), ("echo MemoryError >&2; exit 1", "Memory")])
@pytest.mark.skipif(os.name == "nt", reason="needs a shell that can end itself by a signal")
def test_want_of_memory_is_not_blamed_on_graphics(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ends: str, says: str
) -> None:
    a_child_that(ends, tmp_path, monkeypatch)
    with pytest.raises(PictureError, match="the memory did not suffice") as caught:
        drawing_process.draw_in_child(job(tmp_path))
    assert says in str(caught.value) and "OpenGL" not in str(caught.value)


TELLING = """
import subprocess
from drape import drawing_process

class Telling(subprocess.Popen):
    def __init__(self, *given, **more):
        super().__init__(*given, **more)
        print(self.pid, flush=True)

drawing_process.subprocess.Popen = Telling
drawing_process.draw_in_child({"saved": [PIPE], "sheet": ""})
"""


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs a file that a reader waits for")
def test_the_child_ends_with_a_parent_that_is_killed(tmp_path: Path) -> None:
    """It waits for a fitting from a pipe that nobody writes into, and would wait for ever."""
    os.mkfifo(tmp_path / "a.npz")
    code = TELLING.replace("PIPE", repr(str(tmp_path / "a.npz")))
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as parent:
        child = int(parent.stdout.readline())
        os.kill(child, 0)
        parent.kill()
    for _ in range(200):
        try:
            os.kill(child, 0)
        except ProcessLookupError:
            break
        time.sleep(0.1)
    with pytest.raises(ProcessLookupError):
        os.kill(child, 0)


def test_a_process_that_cannot_start_or_end_is_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", str(tmp_path / "nowhere"))
    with pytest.raises(PictureError, match="results are saved"):
        drawing_process.draw_in_child(job(tmp_path))


def test_a_process_of_ours_finds_our_package_though_another_lies_in_the_folder(tmp_path: Path) -> None:
    (tmp_path / "drape").mkdir()
    (tmp_path / "drape" / "__init__.py").write_text("raise RuntimeError('another')\n", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-c", "import drape; print(drape.__file__)"],
        cwd=tmp_path, env=drawing_process.own_environment(), capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert Path(done.stdout.strip()).resolve() == Path(drape.__file__).resolve()
