"""Drawing in a process of its own: a job in, files out, or one line that says what is wanting.

A job is plain JSON: which saved fittings, what to make of them, where. A fault in the graphics driver ends the
child, not the run whose results are already saved; it comes back as a PictureError of one line, and what graphics
libraries write to the error stream is dropped. The child ends when that run does. What a job makes is left to `make`.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import IO, Any, Final, cast

import drape
from drape.errors import DrapeError, MissingExtraError, PictureError, SceneError

ALLOWED_SECONDS: Final = 600.0
NO_GL: Final = (
    "picture: the drawing process stopped ({why}); the results are saved, only the picture is "
    "missing. Install the system's OpenGL: Debian, Ubuntu: apt install libgl1 libegl1 "
    "libgl1-mesa-dri; Fedora: dnf install mesa-libGL mesa-libEGL mesa-dri-drivers; macOS, Windows: nothing to "
    "install, update the system's graphics driver. Then: drape show RESULT."
)

NO_MEMORY: Final = (
    "picture: the drawing process stopped ({why}): the memory did not suffice; the results are saved, only the picture "
    "is missing. Close other programs, then: drape show RESULT."
)
KILLED: Final = 9  # the signal with which a system ends what takes too much memory


def no_gl(why: str) -> PictureError:
    """The error that says which of the system's libraries to install."""
    return PictureError(NO_GL.format(why=" ".join(why.split())))


def no_memory(why: str) -> PictureError:
    """The error that says how to draw with less memory."""
    return PictureError(NO_MEMORY.format(why=" ".join(why.split())))


def is_of_memory(stderr: str) -> bool:
    """Whether what a process wrote last tells that the memory did not suffice."""
    told = stderr.lower()
    return any(word in told for word in ("memoryerror", "bad_alloc", "cannot allocate memory", "out of memory"))


def own_environment() -> dict[str, str]:
    """For a process of our own: it finds the very drape that starts it, whatever lies in the folder it starts in."""
    package_folder = str(Path(drape.__file__).resolve().parent.parent)
    search = os.pathsep.join(p for p in (package_folder, os.environ.get("PYTHONPATH")) if p)
    return {**os.environ, "PYTHONPATH": search, "PYTHONSAFEPATH": "1"}


def draw_in_child(job: Mapping[str, Any], *, allowed_seconds: float = ALLOWED_SECONDS) -> list[str]:
    """Do a drawing job in a process of its own; the names of the files it wrote.

    Raises PictureError, MissingExtraError, and SceneError for a file that is no fitting, each one line.
    """
    try:
        done = _run([sys.executable, "-m", "drape.picture.make"], json.dumps(job), allowed_seconds)
    except subprocess.TimeoutExpired:
        raise no_gl(f"nothing after {allowed_seconds:.0f} s") from None
    except OSError as error:
        raise no_gl(str(error)) from None
    if done.returncode < 0 or done.returncode > 2:
        why = f"signal {-done.returncode}" if done.returncode < 0 else f"exit code {done.returncode}"
        raise no_memory(why) if -done.returncode == KILLED or is_of_memory(done.stderr) else no_gl(why)
    if done.returncode != 0:
        raise _fault(done.stderr, done.returncode)
    try:
        return list(json.loads(done.stdout.splitlines()[-1]))
    except (IndexError, ValueError):
        raise no_gl("it ended without an answer") from None


def _run(command: Sequence[str], said: str, allowed_seconds: float) -> subprocess.CompletedProcess[str]:
    """A process that is told one line and ends when we do, as it sees its input end. Raises OSError, TimeoutExpired."""
    with (
        tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as errors,
        subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=out, stderr=errors,
            env={**own_environment(), "PYTHONIOENCODING": "utf-8"},
        ) as process,
    ):  # fmt: skip
        stdin = cast(IO[bytes], process.stdin)
        try:
            with contextlib.suppress(BrokenPipeError):  # it has ended already, which its exit code tells
                stdin.write(f"{said}\n".encode())
                stdin.flush()
            code = process.wait(allowed_seconds)
        finally:
            process.kill()  # nothing, where it has ended already
        told = []
        for stream in (out, errors):
            stream.seek(0)
            told.append(stream.read().decode(errors="replace"))
        return subprocess.CompletedProcess(command, code, *told)


def end_with_parent(stream: IO[Any]) -> None:
    """From now on this process ends when the one at the other end of a stream does, whatever it is doing."""

    def watch() -> None:
        while stream.read(1):
            pass
        os.kill(os.getpid(), signal.SIGTERM)

    threading.Thread(target=watch, daemon=True).start()


def _fault(stderr: str, code: int) -> DrapeError:
    """The child's own one-line error if it had one; otherwise what is wanting."""
    last = next((line for line in reversed(stderr.splitlines()) if line.strip()), "").strip()
    name, _, message = last.partition(": ")
    for kind in (MissingExtraError, SceneError):
        if name == f"{kind.__module__}.{kind.__name__}":
            return kind(message)
    if name.startswith(f"{PictureError.__module__}."):
        return PictureError(message)
    if is_of_memory(stderr):
        return no_memory(last)
    if re.fullmatch(r"[\w.]*(Error|Exception)", name):
        return PictureError(
            f"picture: the drawing process ended with {last}; the results are saved, only the "
            "picture is missing. Draw it again with drape show, or go on with --no-pictures."
        )
    return no_gl(f"exit code {code}")
