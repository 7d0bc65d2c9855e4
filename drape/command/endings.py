"""How a run ends: the streams it was given, and every error, Ctrl-C and refusal of the system as a line and a code.

In: what was raised, and what was written before it. Out: a line for the person at the terminal that says what is saved
and what is not, and the exit code. What is not known here is a fault of ours and is raised again.
"""

from __future__ import annotations

import contextlib
import errno
import io
import os
import signal
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType
from typing import Final

import drape
from drape.errors import DraftError, DrapeError, FigureError, NotSettledError, SceneError, UnwrittenError
from drape.files import written
from drape.progress import say, unanswered

DONE, FAILED, BAD_INPUT, NOT_SETTLED = 0, 1, 2, 3
INTERRUPTED: Final = 130  # what a shell calls a program stopped by Ctrl-C
SETTLING: Final = ("sit", "compare", "mend", "wear", "study", "draft", "cut")
KEPT_BYTES: Final = 4_000_000  # a fitting as it is kept takes about as many
NO_MEMORY: Final = (
    "cannot allocate memory", "can't start new thread", "bad_alloc", "out of memory", "failed to map segment",
)  # fmt: skip
MEGABYTE: Final = 2**20
LIBRARIES, A_THREAD = 600 * MEGABYTE, 100 * MEGABYTE  # of addresses, to load and settle 6 cm; less was too little
HOLDS: Final = {
    ".npz": "the fitting", ".json": "the numbers", ".txt": "the table", ".png": "a picture", ".svg": "a drawing",
    ".pdf": "a pattern", ".dxf": "the lay", ".html": "a page", ".parquet": "the rows", ".csv": "the rows",
    ".toml": "what the next command reads",
}  # fmt: skip


# --- before -----------------------------------------------------------------------------------


def begin() -> None:
    """Takes the streams as they are: one that was closed goes nowhere, a letter that one has not is shown as ?."""
    written.clear()
    unanswered.clear()
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        if getattr(sys, name) is None:
            _hold(number)
            setattr(sys, name, open(os.devnull, "w" if number else "r", encoding="utf-8"))  # noqa: SIM115
            if name == "stdout":
                unanswered.append(OSError(errno.EBADF, "it is closed"))
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def _hold(number: int) -> None:
    """Lets no file of ours have the number of a closed stream: what a library prints would go into it."""
    try:
        os.fstat(number)
    except OSError:
        nowhere = os.open(os.devnull, os.O_RDWR)
        os.dup2(nowhere, number)
        if nowhere != number:
            os.close(nowhere)


def check_memory(command: str) -> None:
    """Refuses a limit of memory under which numpy's and scipy's OpenBLAS hangs or ends the program while it loads.

    Raises:
        DrapeError: the system allows fewer addresses than the libraries take with their threads.
    """
    try:
        import resource
    except ModuleNotFoundError:  # Windows: no such limit
        return
    allowed, _ = resource.getrlimit(resource.RLIMIT_AS)
    named = os.environ.get("OPENBLAS_NUM_THREADS", "")
    needed = LIBRARIES + A_THREAD * (int(named) if named.isdecimal() else os.cpu_count() or 1)
    if allowed != resource.RLIM_INFINITY and allowed < needed:
        raise DrapeError(
            f"drape {command}: memory: got a limit of {allowed // MEGABYTE} MB, allowed {needed // MEGABYTE} MB or "
            "more. Lift the limit: type ulimit -v unlimited. Nothing was saved."
        )


@contextlib.contextmanager
def noting_interrupts() -> Iterator[Callable[[], bool]]:
    """Whether Ctrl-C was pressed. A compiled loop that is broken off so raises a SystemError in its place."""
    noted = threading.Event()
    is_ours = threading.current_thread() is threading.main_thread()
    if not is_ours or signal.getsignal(signal.SIGINT) is not signal.default_int_handler:
        yield noted.is_set
        return

    def note(number: int, frame: FrameType | None) -> None:
        noted.set()
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGINT, note)
    try:
        yield noted.is_set
    finally:
        signal.signal(signal.SIGINT, before)


# --- after ------------------------------------------------------------------------------------


def answered(code: int) -> int:
    """The exit code, or another where the answer could not be written, which is said unless nobody reads any more."""
    if not unanswered:
        return code
    error = unanswered.pop()
    if not isinstance(error, BrokenPipeError):
        say(f"standard output: the answer cannot be written: {_reason(error)}. Send it elsewhere.{_saved()}")
    return code or FAILED


def ending_of(error: BaseException, command: str, *, was_interrupted: bool) -> tuple[str, int]:
    """What to say of what a command raised, and its exit code. Raises it again where it is a fault of ours."""
    if was_interrupted or isinstance(error, KeyboardInterrupt):
        return "drape: stopped.", INTERRUPTED
    if isinstance(error, UnwrittenError):
        path = Path(error.filename)
        what = HOLDS.get(path.suffix, "a file")
        head = f"{path} ({what}): cannot be written: {_reason(error)}. Make room, or give another folder with --out."
        return f"{head}{_saved()} Not saved: {path.name} and what comes after it.{_kept(command)}", FAILED
    if isinstance(error, DrapeError):
        code = {NotSettledError: NOT_SETTLED, SceneError: BAD_INPUT, FigureError: BAD_INPUT, DraftError: BAD_INPUT}
        return str(error), next((code[kind] for kind in code if isinstance(error, kind)), FAILED)
    if isinstance(error, MemoryError) or any(word in str(error).lower() for word in NO_MEMORY):
        hint = "Close other programs, settle one after another (--jobs 1) or with larger triangles (--edge-length-cm)."
        return f"drape {command}: the memory does not suffice. {hint}{_saved()}{_kept(command)}", FAILED
    if isinstance(error, OSError):
        place = os.fsdecode(error.filename) if error.filename else "a file"
        hint = "Free it, or give another folder with --out."
        return f"drape {command}: {place}: {_reason(error)}. {hint}{_saved()}{_kept(command)}", FAILED
    raise error


def _reason(error: OSError) -> str:
    return error.strerror or str(error)


def _saved() -> str:
    """The results that this run wrote whole; what is kept for later runs is none of them."""
    names = dict.fromkeys(path.name for path in written if not _is_kept(path))
    return f" Saved: {', '.join(names)}." if names else " Nothing was saved."


def _is_kept(path: Path) -> bool:
    from drape.cache import cache_folder

    homes = [Path(drape.__file__).parent]
    with contextlib.suppress(RuntimeError):
        homes.append(cache_folder())
    return any(path.resolve().is_relative_to(home.resolve()) for home in homes)


def _kept(command: str) -> str:
    """Whether the same command would settle nothing again: where what is settled can be kept, it is kept at once."""
    if command not in SETTLING:
        return ""
    from drape.cache import cache_folder

    try:
        folder = cache_folder()
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder) as trying:
            trying.write(bytes(KEPT_BYTES))
    except (OSError, RuntimeError):
        return " What was settled now could not be kept either."
    return " What was settled is kept: the same command takes it from there."
