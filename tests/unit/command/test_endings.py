"""Endings: what the system refuses, and Ctrl-C, are a line and a code that say what is saved; streams may be closed."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from families import most_are_long

from drape import files, progress
from drape.command import endings
from drape.command.arguments import build_parser
from drape.command.endings import FAILED, INTERRUPTED, ending_of
from drape.command.main import main
from drape.errors import UnwrittenError

needs_full = pytest.mark.skipif(not os.path.exists("/dev/full"), reason="this system has no file that is always full")


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("DRAPE_CACHE_DIR", str(tmp_path / "cache"))
    files.written.clear()
    return tmp_path


def test_a_file_that_cannot_be_written_says_which_what_is_saved_and_what_is_kept(place: Path) -> None:
    files.write_text(place / "a.npz", "fitting")
    (place / "cache").mkdir()
    files.write_text(place / "cache" / "kept.npz", "fitting")
    (place / "a.txt").mkdir()
    with pytest.raises(UnwrittenError) as caught:
        files.write_text(place / "a.txt", "table")
    line, code = ending_of(caught.value, "sit", was_interrupted=False)
    assert code == FAILED and "\n" not in line
    assert line == (
        f"{place / 'a.txt'} (the table): cannot be written: Is a directory. Make room, or give another folder with "
        "--out. Saved: a.npz. Not saved: a.txt and what comes after it. What was settled is kept: the same command "
        "takes it from there."
    )
    assert sorted(path.name for path in place.iterdir()) == ["a.npz", "a.txt", "cache"]


def test_what_could_not_be_kept_is_not_said_to_be(place: Path) -> None:
    (place / "cache").write_text("a file, where a folder should be", encoding="utf-8")
    for error in (MemoryError(), OSError(errno.ENOSPC, "No space left on device")):
        line, code = ending_of(error, "sit", was_interrupted=False)
        assert code == FAILED and line.endswith("Nothing was saved. What was settled now could not be kept either.")
    assert "kept" not in ending_of(MemoryError(), "measure", was_interrupted=False)[0]


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EFBIG])
def test_a_full_disk_leaves_no_half_file(place: Path, code: int) -> None:
    def write(passing: Path) -> None:
        passing.write_text("half", encoding="utf-8")
        raise OSError(code, os.strerror(code))

    with pytest.raises(UnwrittenError, match=os.strerror(code)):
        files.write_whole(place / "a.npz", write)
    assert list(place.iterdir()) == []


def test_a_fault_of_ours_is_not_hidden() -> None:
    with pytest.raises(ZeroDivisionError):
        ending_of(ZeroDivisionError(), "sit", was_interrupted=False)


def test_want_of_memory_is_told_by_whatever_name_it_comes(place: Path) -> None:
    for error in (MemoryError(), RuntimeError("can't start new thread"), ImportError("x.so: Cannot allocate memory"),
                  ImportError("x.so: failed to map segment from shared object")):  # fmt: skip
        line, code = ending_of(error, "sit", was_interrupted=False)
        assert code == FAILED and line.startswith("drape sit: the memory does not suffice.")


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux holds a program to this limit")
def test_too_low_a_limit_of_memory_is_a_line_before_anything_is_loaded(tmp_path: Path) -> None:
    """With 300 MB OpenBLAS hung while it loaded."""
    import resource

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (300 * 2**20, 300 * 2**20))

    def ends(*words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "drape", *words],
            cwd=tmp_path, preexec_fn=limit, capture_output=True, text=True, timeout=30,
        )  # fmt: skip

    ended = ends("sit", "ferry-warden-round", "--edge-length-cm", "6", "--no-pictures")
    assert ended.returncode == FAILED and ended.stderr.count("\n") == 1
    assert ended.stderr.startswith("drape sit: memory: got a limit of 300 MB, allowed ")
    assert list(tmp_path.iterdir()) == [] and ends("guide").returncode == 0


def test_ctrl_c_in_a_compiled_loop_ends_as_anywhere(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """There it comes out as a SystemError: a result was returned with an exception set."""

    def run(_: object) -> int:
        try:
            signal.raise_signal(signal.SIGINT)
        except KeyboardInterrupt as error:
            raise SystemError("<built-in function> returned a result with an exception set") from error
        return 0

    before = signal.getsignal(signal.SIGINT)
    monkeypatch.setitem(build_parser.__globals__, "run_cloths", run)
    assert main(["cloths"]) == INTERRUPTED
    assert capsys.readouterr().err == "drape: stopped.\n"
    assert signal.getsignal(signal.SIGINT) is before


def in_a_shell(line: str, where: Path) -> subprocess.CompletedProcess[str]:
    """A line in which `drape` stands for the command, run by the system's shell."""
    typed = line.replace("drape", f'"{sys.executable}" -m drape')
    return subprocess.run(["sh", "-c", typed], cwd=where, capture_output=True, text=True, check=False)


@needs_full
@pytest.mark.parametrize(
    ("line", "reason"), [("drape guide >/dev/full", "No space left on device"), ("drape guide >&-", "it is closed")]
)
def test_an_answer_that_cannot_be_written_is_a_line(line: str, reason: str, tmp_path: Path) -> None:
    done = in_a_shell(line, tmp_path)
    assert done.returncode == FAILED
    assert done.stderr == (
        f"standard output: the answer cannot be written: {reason}. Send it elsewhere. Nothing was saved.\n"
    )


@needs_full
@pytest.mark.parametrize(
    "end", most_are_long(["2>/dev/full", "2>&-", "2>&- >&-", "2>/dev/full >/dev/full"], "2>&- >&-")
)
def test_words_that_cannot_be_shown_are_no_reason_to_stop(end: str, tmp_path: Path) -> None:
    done = in_a_shell(f"drape new mine.toml {end}", tmp_path)
    assert "Traceback" not in done.stderr
    assert (tmp_path / "mine.toml").is_file()
    assert done.returncode == (FAILED if ">&- >&-" in end else 0)


def test_the_answers_reader_may_leave(tmp_path: Path) -> None:
    done = in_a_shell("drape guide scene | true", tmp_path)
    assert done.stderr == ""


def test_a_run_goes_on_where_its_answer_cannot_be_written(monkeypatch: pytest.MonkeyPatch) -> None:
    class Full:
        def write(self, text: str) -> int:
            raise OSError(errno.ENOSPC, "No space left on device")

        def flush(self) -> None: ...

        def fileno(self) -> int:
            return spare

    spare = os.open(os.devnull, os.O_WRONLY)
    monkeypatch.setattr(sys, "stdout", Full())
    progress.answer("found")
    assert [error.errno for error in progress.unanswered] == [errno.ENOSPC]
    assert endings.answered(0) == FAILED and endings.answered(0) == 0
    os.close(spare)
