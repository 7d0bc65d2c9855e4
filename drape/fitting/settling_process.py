"""Settling in a process of its own: jobs in, progress and fittings out, until nobody sends jobs any more.

In, on standard input: jobs, each with a number, and numbers of jobs to be left. Out, on standard output: what becomes
of each. Both are pickled, which is safe between a process and the one that started it, and takes a `Fitting` whole.
Which process settles what is left to `side_by_side`.
"""

from __future__ import annotations

import copyreg
import io
import os
import pickle
import queue
import signal
import sys
import threading
import traceback
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import IO, Any, Final

from drape.fitting.scene import Scene
from drape.fitting.sit import Early, sit
from drape.progress import Progress, Tell
from drape.reading.result import Fitting

PROGRESS, EARLY, SETTLED, FAILED, LEFT = "progress", "early", "settled", "failed", "left"  # what becomes of a job
GONE: Final = (EOFError, OSError, pickle.UnpicklingError)  # the other end of a pipe has ended, perhaps amid a word


@dataclass(frozen=True, eq=False)
class Job:
    """One draft to be settled once. The fields are those of `sit`; words: its part of the bar."""

    words: str
    scene: Scene
    edge_length: float
    seed: int = 0
    cached: bool = True
    before: Fitting | None = None
    most_steps: int | None = None


def settled(job: Job, progress: Tell | None, early: Early | None) -> Fitting:
    """The job done in this process. Raises what `sit` raises."""
    return sit(
        job.scene, edge_length=job.edge_length, seed=job.seed, cached=job.cached, before=job.before,
        progress=progress, early=early, most_steps=job.most_steps,
    )  # fmt: skip


# --- what is sent -----------------------------------------------------------------------------


def _unchanging(items: dict[Any, Any]) -> MappingProxyType[Any, Any]:
    return MappingProxyType(items)


class _Pickler(pickle.Pickler):
    """Also takes mappings that cannot be changed."""

    dispatch_table: Mapping[type, Callable[[Any], Any]] = {
        **copyreg.dispatch_table,
        MappingProxyType: lambda mapping: (_unchanging, (dict(mapping),)),
    }


def packed(said: Any) -> bytes:
    """What is said, as `unpacked` takes it; for processes that trust each other."""
    held = io.BytesIO()
    _Pickler(held, pickle.HIGHEST_PROTOCOL).dump(said)
    return held.getvalue()


def unpacked(said: bytes) -> Any:
    """What was packed."""
    return pickle.loads(said)


def send(stream: IO[bytes], said: Any) -> None:
    """Sent whole or not at all. Raises OSError when nobody reads any more."""
    stream.write(packed(said))
    stream.flush()


def receive(stream: IO[bytes]) -> Any:
    """What was sent next. Raises one of GONE when nobody sends any more."""
    return pickle.load(stream)


# --- the process ------------------------------------------------------------------------------


class _LeftError(Exception):
    """Nobody wants the job any more."""


def take_in(sent: IO[bytes], waiting: queue.SimpleQueue[tuple[int, Any]], left: set[int]) -> None:
    """Takes in numbered work as it is sent, and the numbers of what is not wanted any more.

    When nobody sends any more, the process ends at once, whatever it is doing.
    """
    try:
        while True:
            number, work = receive(sent)
            if work is None:
                left.add(number)
            else:
                waiting.put((number, work))
    except GONE:
        os.kill(os.getpid(), signal.SIGTERM)


class _Serving:
    """Jobs one after another, while a thread listens."""

    def __init__(self, jobs: IO[bytes], answers: IO[bytes]) -> None:
        self.jobs, self.answers = jobs, answers
        self.waiting: queue.SimpleQueue[tuple[int, Job]] = queue.SimpleQueue()
        self.left: set[int] = set()

    def listen(self) -> None:
        """Takes in jobs."""
        take_in(self.jobs, self.waiting, self.left)

    def work(self) -> None:
        """Settles whatever comes."""
        while True:
            number, job = self.waiting.get()
            send(self.answers, (number, *self.outcome(number, job)))

    def outcome(self, number: int, job: Job) -> tuple[str, Fitting | Exception | None]:
        """What becomes of a job, and the fitting or the error."""
        try:
            return SETTLED, settled(job, self.teller(number), self.early(number))
        except _LeftError:
            return LEFT, None
        except Exception as error:
            error.add_note(traceback.format_exc())
            return FAILED, error

    def teller(self, number: int) -> Tell:
        def tell(progress: Progress) -> None:
            if number in self.left:
                raise _LeftError
            send(self.answers, (number, PROGRESS, replace(progress, shape=None)))

        return tell

    def early(self, number: int) -> Early:
        return lambda readings: send(self.answers, (number, EARLY, readings))


def serve() -> None:
    """Settles what standard input asks for; what a library prints goes to the error stream, not among the answers."""
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    serving = _Serving(sys.stdin.buffer, answers)
    threading.Thread(target=serving.listen, daemon=True).start()
    serving.work()


if __name__ == "__main__":
    serve()
