"""Settling for the book: what is wanted now in, what its process says out; the newest task ends the one before.

In: tasks. Out: calls, on the server's own loop, with what the one worker process says of the newest task. What it does
stands in `worker`.
"""

from __future__ import annotations

import asyncio
import contextlib
import subprocess
import sys
import threading
from collections.abc import Callable
from typing import Any, cast

from drape.book.task import DONE, FAILED, FRAME, LEFT, PICTURED, Task
from drape.drawing_process import own_environment
from drape.fitting.settling_process import receive, send
from drape.fitting.side_by_side import ONE_THREAD

Heard = Callable[[str, Any], None]  # what is said of the newest task, and its value


class Bench:
    """The worker process and the task it is at. To be used on one loop."""

    def __init__(self, heard: Heard) -> None:
        self.heard = heard
        self.number = 0
        self.wanted: set[int] = set()  # numbers of the tasks that are under way
        self.process: subprocess.Popen[bytes] | None = None

    def want(self, task: Task) -> None:
        """From now on this task is wanted, and no other."""
        self.leave()
        self.also(task)

    def also(self, task: Task) -> None:
        """This task is wanted once those before it are done."""
        if self.process is None or self.process.poll() is not None:
            self.process = self._started()
        self.number += 1
        self.wanted.add(self.number)
        self._send(self.number, task)

    def leave(self) -> None:
        """What is being done is not wanted any more."""
        for number in self.wanted:
            self._send(number, None)
        self.wanted = set()

    @property
    def is_busy(self) -> bool:
        return bool(self.wanted)

    def end(self) -> None:
        """Ends the process, whatever it is doing."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            self.process = None

    def _started(self) -> subprocess.Popen[bytes]:
        process = subprocess.Popen(
            [sys.executable, "-m", "drape.book.worker"], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            env={**own_environment(), **dict.fromkeys(ONE_THREAD, "1")},
        )  # fmt: skip
        loop = asyncio.get_running_loop()
        threading.Thread(target=self._listen, args=(process, loop), daemon=True).start()
        return process

    def _listen(self, process: subprocess.Popen[bytes], loop: asyncio.AbstractEventLoop) -> None:
        with contextlib.suppress(RuntimeError):  # the loop is closed: the book is shut
            try:
                while True:
                    loop.call_soon_threadsafe(self._hear, *receive(cast(Any, process.stdout)))
            except Exception:  # it has ended, or says what cannot be understood
                loop.call_soon_threadsafe(self._ended, process)

    def _hear(self, number: int, kind: str, value: Any) -> None:
        if kind == PICTURED or number in self.wanted or (kind == FRAME and number == self.number):
            if kind in (DONE, FAILED, LEFT):
                self.wanted.discard(number)
            self.heard(kind, value)

    def _ended(self, process: subprocess.Popen[bytes]) -> None:
        """The process ended by itself: the next task gets a new one."""
        code = process.wait()
        if process is self.process:
            self.process = None
            if self.is_busy:
                self.wanted = set()
                self.heard(
                    FAILED, f"book: the settling process was ended (exit code {code}). Change anything to go on."
                )

    def _send(self, number: int, task: Task | None) -> None:
        with contextlib.suppress(OSError):  # it has ended, which `_listen` tells
            send(cast(Any, cast(Any, self.process).stdin), (number, task))
