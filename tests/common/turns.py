"""One process at a time: what a test run does once for all its workers, the others wait for and then find done."""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

try:
    import fcntl
except ImportError:  # Windows: workers may do the same thing twice
    fcntl = None

COMPILING = "compiling.lock"  # in the folder that a run's workers share

_one_thread = threading.RLock()
_depth = 0


@contextlib.contextmanager
def alone(lock: Path) -> Iterator[None]:
    """Holds the lock of a file; a process that holds it may take it again. It goes when the process does."""
    global _depth
    with _one_thread, contextlib.ExitStack() as until_done:
        if fcntl is not None and _depth == 0:
            file = until_done.enter_context(open(lock, "w"))
            fcntl.flock(file, fcntl.LOCK_EX)
        _depth += 1
        try:
            yield
        finally:
            _depth -= 1


def compile_in_turns(lock: Path) -> Callable[[], None]:
    """From now on an inner loop is compiled by one process; another waits and loads what that one kept.

    Gives back how to end it.
    """
    from numba.core.dispatcher import Dispatcher

    compile = Dispatcher.compile

    def in_turn(self: Any, signature: Any) -> Any:
        with alone(lock):
            return compile(self, signature)

    Dispatcher.compile = in_turn
    return lambda: setattr(Dispatcher, "compile", compile)


def all_compiled() -> bool:
    """Whether every loop that settling calls is known to be compiled, by the note that drape writes beside them."""
    from drape.cache import content_key
    from drape.cloth.stepping import relax_steps

    with contextlib.suppress(OSError):
        note = Path(relax_steps.stats.cache_path or os.devnull) / "compiled-for.txt"
        return note.read_text(encoding="utf-8") == content_key("kernels")
    return False
