"""Side by side: jobs settled in several processes at a time, taken one after another as if there were only one.

In: jobs, those that are wanted next among them. Out: each one's fitting, or its error, in the order in which it is
asked for, whatever was settled meanwhile; so what comes out does not hang on how many processes there are. Each process
works on one thread. All end with the crew, and with the process that started them. What a process does is left to
`settling_process`.
"""

from __future__ import annotations

import contextlib
import functools
import os
import queue
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Protocol, cast

from drape.cloth.rehearsal import compile_kernels
from drape.drawing_process import own_environment
from drape.errors import SolverError
from drape.fitting.clock import cost
from drape.fitting.settling_process import EARLY, FAILED, PROGRESS, SETTLED, Job, receive, send, settled
from drape.fitting.sit import halvings, sit_kept
from drape.progress import Progress, Tell, Together
from drape.reading.result import Fitting

LOOK: Final = 0.5  # [s] between looks at whether Ctrl-C was pressed, where waiting cannot be broken off
ONE_THREAD: Final = (
    "NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS",
)  # fmt: skip


def cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class Hand(Protocol):
    """What settles one job at a time and says in the crew's inbox how far it is, as `settling_process` does."""

    job: Job | None  # None: nothing that is wanted
    number: int  # of the last job
    is_free: bool

    def take(self, job: Job) -> None:
        """Begins with a job."""

    def leave(self) -> None:
        """Breaks off its job; free once it says so."""

    def ended(self) -> SolverError:
        """The error that says how it came to its end."""

    def end(self) -> None:
        """Ends it, whatever it is doing."""


Inbox = queue.SimpleQueue[tuple[Hand, Any]]


@dataclass(frozen=True)
class Door:
    """Where jobs are settled: so many at a time, by hands that are far, or else by processes of this machine."""

    count: int = 1
    far: Callable[[Inbox], Hand] | None = None


ALONE: Final = Door()  # one after another, in this process


class Crew:
    """Up to `count` hands that settle jobs. To be used in a `with`: at its end all of them end.

    None is started for one job alone, or for a `count` of 1: it is settled here.
    """

    def __init__(
        self, count: int, costs: Mapping[str, float], *, possible: Iterable[Job] = (), tell: Tell | None = None,
        early: Callable[[Job, Mapping[str, Any]], None] = lambda *_: None,
        far: Callable[[Inbox], Hand] | None = None,
    ) -> None:  # fmt: skip
        """costs: what each part of the whole run costs, a job's under its words, in the order of their being asked for.
        possible: jobs that may not be asked for. early: given a job, as for `sit`. far: as of a `Door`.
        """
        self.count, self.early, self.far = count, early, far
        self.together = Together(tell, costs, {job.words for job in possible})
        self.hands: list[Hand] = []
        self.inbox: Inbox = queue.SimpleQueue()
        self.outcome: dict[Job, Fitting | Exception] = {}  # of jobs that are done but not asked for yet
        self.looked_up: set[Job] = set()

    def __enter__(self) -> Crew:
        return self

    def __exit__(self, *_: object) -> None:
        for hand in self.hands:
            hand.end()

    def prepare(self, wanted: Sequence[Job]) -> None:
        """Starts the processes that these jobs need, so that they load while something else is done here."""
        self._look_up(wanted)
        missing = [job for job in wanted if job not in self.outcome]
        most = min(self.count, len(missing))
        while 1 < most > len(self.hands):
            self._new_hand(missing[0])

    def settle(self, job: Job, ahead: Sequence[Job] = ()) -> Fitting:
        """The job's fitting. ahead: jobs that will be asked for next, or may be; others at work are broken off.

        Raises what `sit` raises; SolverError if a process was ended from outside.
        """
        self.together.wanted(job.words)
        wanted = [job, *ahead]
        self._leave_all_but(wanted)
        self._look_up(wanted)
        if job not in self.outcome and not self._is_shared(wanted):
            return settled(job, self.together.part(job.words), functools.partial(self.early, job))
        while job not in self.outcome:
            self._hand_out(wanted)
            self._take_in()
        found = self.outcome.pop(job)
        if isinstance(found, Exception):
            raise found
        return found

    def _is_shared(self, wanted: Sequence[Job]) -> bool:
        return bool(self.hands) or (self.count > 1 and sum(job not in self.outcome for job in wanted) > 1)

    def _look_up(self, wanted: Sequence[Job]) -> None:
        """Takes what earlier runs have kept, so that no process is started for it."""
        for job in wanted if self.count > 1 else ():
            if job in self.looked_up or not job.cached or job.before is not None:
                continue
            self.looked_up.add(job)
            found = sit_kept(job.scene, edge_length=job.edge_length, seed=job.seed)
            if found is not None:
                self._done(job, found)

    def _done(self, job: Job, found: Fitting | Exception) -> None:
        self.outcome[job] = found
        self.together.ended(job.words)

    def _leave_all_but(self, wanted: Sequence[Job]) -> None:
        """Breaks off what is not wanted any more, and forgets what was done in vain."""
        for job in [job for job in self.outcome if job not in wanted]:
            del self.outcome[job]
            self.together.dropped(job.words)
        for hand in self.hands:
            if hand.job is not None and hand.job not in wanted:
                self.together.dropped(hand.job.words)
                hand.leave()

    def _hand_out(self, wanted: Sequence[Job]) -> None:
        """Gives each free process a job."""
        for job in wanted:
            if job in self.outcome or any(hand.job is job for hand in self.hands):
                continue
            free = next((hand for hand in self.hands if hand.is_free), None)
            if free is None:
                if len(self.hands) >= self.count:
                    return
                free = self._new_hand(job)
            free.take(job)

    def _new_hand(self, job: Job) -> Hand:
        if self.far is not None:
            self.hands.append(self.far(self.inbox))
            return self.hands[-1]
        if not self.hands:
            self.together.part(job.words)(Progress("kernels", 0.0, "getting ready to settle side by side"))
            compile_kernels()
        with deaf_to_interrupts():
            self.hands.append(_Hand(self.inbox))
        return self.hands[-1]

    def _take_in(self) -> None:
        """Waits until a process says something, and takes it in."""
        try:
            hand, said = self.inbox.get(timeout=LOOK)
        except queue.Empty:
            return
        if said is None:
            raise hand.ended()
        number, kind, value = said
        job = hand.job if number == hand.number else None  # None: of a job that is not wanted any more
        if kind == PROGRESS:
            if job is not None:
                self.together.part(job.words)(value)
        elif kind == EARLY:
            if job is not None:
                self.early(job, value)
        else:
            hand.is_free, hand.job = True, None
            if job is not None and kind in (SETTLED, FAILED):
                self._done(job, value)


class _Hand:
    """One process, and what it is doing."""

    def __init__(self, inbox: Inbox) -> None:
        self.inbox = inbox
        self.job: Job | None = None  # None: nothing that is wanted
        self.last: Job | None = None
        self.number = 0  # of the last job
        self.is_free = True
        self.errors = tempfile.TemporaryFile()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "drape.fitting.settling_process"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=self.errors,
            env={**own_environment(), **dict.fromkeys(ONE_THREAD, "1")},
            creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
        )  # fmt: skip
        self.listener = threading.Thread(target=self._listen, daemon=True)
        self.listener.start()

    def _listen(self) -> None:
        try:
            while True:
                self.inbox.put((self, receive(cast(Any, self.process.stdout))))
        except Exception:  # it has ended, or says what cannot be understood
            self.inbox.put((self, None))

    def take(self, job: Job) -> None:
        self.number += 1
        self.job, self.last, self.is_free = job, job, False
        self._send(job)

    def leave(self) -> None:
        """Breaks off its job; free once it says so."""
        self.job = None
        self._send(None)

    def _send(self, job: Job | None) -> None:
        with contextlib.suppress(OSError):  # it has ended, which `_listen` tells
            send(cast(Any, self.process.stdin), (self.number, job))

    def ended(self) -> SolverError:
        """The error that says how the process came to its end."""
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.process.wait(LOOK)
        self.process.kill()  # nothing, where it has ended already
        code = self.process.wait()
        if code < 0:
            why = f"signal {-code}; the memory may have run out" if code == -9 else f"signal {-code}"
        else:
            self.errors.seek(0)
            words = self.errors.read().decode(errors="replace").split("\n")
            why = f"exit code {code}: {next((line for line in reversed(words) if line.strip()), 'no word')}"
        return SolverError(
            f"{self.last.words if self.last else 'settling'}: the process that settled it was ended ({why}). What has "
            "settled is kept. Settle one after another (jobs 1), or with larger triangles."
        )

    def end(self) -> None:
        """Ends the process, whatever it is doing."""
        self.process.kill()
        self.process.wait()
        self.listener.join()
        with contextlib.suppress(OSError):  # a word that was never read
            cast(Any, self.process.stdin).close()
        cast(Any, self.process.stdout).close()
        self.errors.close()


@contextlib.contextmanager
def deaf_to_interrupts() -> Iterator[None]:
    """A process started meanwhile is never told of Ctrl-C, which the terminal sends to all: we end it ourselves."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def costs_of(jobs: Iterable[Job]) -> dict[str, float]:
    """What each job is expected to cost [s], by its words."""
    return {job.words: cost(halvings(job.edge_length) + 1) for job in jobs}
