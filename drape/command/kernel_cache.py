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
    run alone; numba would fail where it finds none. NUMBA_CACHE_DIR, when set, is left as it is.
    """
    with contextlib.ExitStack() as until_done:
        if "NUMBA_CACHE_DIR" not in os.environ and not _can_write(_beside_source()):
            folder = _user_cache()
            if folder is None or not _can_write(folder):
                folder = Path(until_done.enter_context(tempfile.TemporaryDirectory(prefix="drape-")))
            os.environ["NUMBA_CACHE_DIR"] = str(folder)
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
        return cache_folder()
    except RuntimeError:  # a user without a home
        return None


def _can_write(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False
