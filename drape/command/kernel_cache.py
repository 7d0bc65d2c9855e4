"""Where numba keeps the inner loops it compiles, settled before numba is first imported.

Comes in: the environment and which folders can be written. Goes out: NUMBA_CACHE_DIR, where it is not
set already, and a word while it compiles: the first run is the long one.
"""

from __future__ import annotations

import contextlib
import functools
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

import drape
from drape.progress import say, tell_compiling


@contextlib.contextmanager
def kept_kernels() -> Iterator[None]:
    """A folder in which numba can keep what it compiles, named before numba is first imported.

    Beside the source when that can be written, else in the user's cache folder, else one for this
    run alone; numba would fail where it finds none. NUMBA_CACHE_DIR, when set, is left as it is. What lies there is
    run, so a folder in which another user may write is not used.
    """
    with contextlib.ExitStack() as until_done:
        named = os.environ.get("NUMBA_CACHE_DIR")
        if named is None and not _can_write(_beside_source()):
            users = _user_cache()
            named = "" if users is None or not _can_write(users) else str(users)
        if named is not None and not (named and _is_ours_alone(Path(named))):
            named = until_done.enter_context(tempfile.TemporaryDirectory(prefix="drape-"))
        if named is not None:
            os.environ["NUMBA_CACHE_DIR"] = named
        yield


@functools.cache
def watch_compiling() -> None:
    """From now on the bar says so whenever numba compiles an inner loop, which holds the main thread for seconds."""
    from numba.core import event

    class Watch(event.Listener):
        depth = 0  # one loop compiles others that it calls

        def on_start(self, event: object) -> None:
            if self.depth == 0:
                say_once()
                tell_compiling(True)
            self.depth += 1

        def on_end(self, event: object) -> None:
            self.depth -= 1
            if self.depth == 0:
                tell_compiling(False)

    event.register("numba:compile", Watch())


@functools.cache
def say_once() -> None:
    say("Compiling the inner loops. This takes up to a minute, and only the first time.")


def _beside_source() -> Path:
    return Path(drape.__file__).parent


def _user_cache() -> Path | None:
    from drape.cache import cache_folder

    try:
        return cache_folder() / "compiled"
    except RuntimeError:  # a user without a home
        return None


def _is_ours_alone(folder: Path) -> bool:
    """Whether no other user may write into a folder, which is said where one may; there is none yet, or it is made so.

    Where a system has no owners of this kind, a user's folders are closed to others as they are.
    """
    if not hasattr(os, "geteuid") or not folder.exists():
        return True
    state = folder.stat()
    if state.st_uid == os.geteuid():
        with contextlib.suppress(OSError):
            folder.chmod(0o700)
        state = folder.stat()
    if state.st_uid == os.geteuid() and not state.st_mode & 0o022:
        return True
    say(f"{folder}: others may write there, so no compiled loops are taken from it. Name another in DRAPE_CACHE_DIR.")
    return False


def _can_write(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False
