"""Engine: settlings handed to the workers of a Dask cluster, this machine's own or one at an address.

In: jobs by the key their outcome is kept under. Out: each one's outcome, as it comes. The same code runs on both: a
client of a scheduler, and what it sends and gets is a few kilobytes for each settling. A worker that ends takes none
but its own settling with it, which is handed out anew. What a worker does is left to `task`.
"""

from __future__ import annotations

import contextlib
import json
import logging
import signal
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from drape.drawing_process import own_environment
from drape.errors import SceneError, SolverError
from drape.fitting import settling_process
from drape.fitting.settling_process import Job, packed, unpacked
from drape.fitting.side_by_side import ONE_THREAD, Inbox, deaf_to_interrupts
from drape.study.task import FAILED, SETTLED, work, work_whole

if TYPE_CHECKING:
    from distributed import Client, Future, LocalCluster

TRIED_AGAIN: Final = 2  # times, after a worker has ended while at it
AHEAD: Final = 3  # settlings handed out for each that goes on, so that no worker waits
FEWEST_AHEAD: Final = 16
ANSWERS_WITHIN: Final = 20.0  # s, a scheduler that is there
NO_PAGES: Final[Mapping[str, list[str]]] = {
    "distributed.scheduler.http.routes": [],
    "distributed.worker.http.routes": [],
}
ANY_PORT: Final = "127.0.0.1:0"  # of this machine alone, where the engine would serve pages about itself
NEEDED: Final = "study: dask: got {}, allowed with the extra `study`. Type: pip install 'drape[study]'"


@dataclass(frozen=True)
class Address:
    """A scheduler to be asked, `tcp://…` or `tls://…`; files of its certificates in the second case."""

    scheduler: str
    ca_file: str | None = None
    cert: str | None = None
    key: str | None = None


@dataclass(frozen=True)
class State:
    """How a study stands: settlings done, at work, failed, of how many; how many go on at a time."""

    done: int
    running: int
    failed: int
    total: int
    at_a_time: int


Take = Callable[[str, Mapping[str, Any], State], None]  # told each outcome by its key


def check_installed() -> None:
    """Raises SceneError, which says what to type, where the extra's packages are missing."""
    try:
        import distributed  # noqa: F401
        import pyarrow  # noqa: F401
    except ImportError as error:
        raise SceneError(NEEDED.format(error)) from None


@contextlib.contextmanager
def own_cluster(count: int) -> Iterator[Client]:
    """Workers on this machine, so many, each a process with one thread; they end with the `with`.

    What they say to each other is encrypted with keys made for this run, and goes no further than this machine; so no
    other user of it can make them run anything.
    """
    import dask
    from distributed import Client, LocalCluster

    _quieten()
    settings = {"distributed.scheduler.allowed-failures": TRIED_AGAIN, **NO_PAGES}
    environment = {**_search_path(), **dict.fromkeys(ONE_THREAD, "1")}
    with dask.config.set(settings), contextlib.ExitStack() as until_done:
        _start_tracker()
        with deaf_to_interrupts():
            cluster = LocalCluster(
                n_workers=count, threads_per_worker=1, processes=True, security=True, silence_logs=logging.CRITICAL,
                dashboard_address=ANY_PORT, scheduler_kwargs={"dashboard": False}, env=environment,
            )  # fmt: skip
        until_done.callback(_end, cluster)
        client = Client(cluster)
        until_done.callback(_silently, client.close, timeout=3)
        yield client


def _end(cluster: LocalCluster) -> None:
    """Closes a cluster; one whose scheduler is gone cannot close in order, and would warn of that for ever after."""
    from distributed import Status

    _silently(cluster.close, timeout=10)
    cluster.status = Status.closed


def _start_tracker() -> None:
    """Starts what Python starts before its first such process, which would let interrupts through again."""
    if hasattr(signal, "pthread_sigmask"):
        from multiprocessing import resource_tracker

        resource_tracker.ensure_running()


def _search_path() -> dict[str, str]:
    own = own_environment()
    return {name: own[name] for name in ("PYTHONPATH", "PYTHONSAFEPATH")}


@contextlib.contextmanager
def cluster_at(address: Address) -> Iterator[Client]:
    """The client of a scheduler that others have started. Raises SceneError where none answers."""
    from distributed import Client
    from distributed.security import Security

    _quieten()
    security = None
    if address.ca_file or address.cert or address.key:
        security = Security(
            tls_ca_file=address.ca_file, tls_client_cert=address.cert, tls_client_key=address.key,
            require_encryption=True,
        )  # fmt: skip
    try:
        client = Client(address.scheduler, security=security, timeout=ANSWERS_WITHIN)
    except (OSError, ValueError, TypeError, RuntimeError) as error:
        why = " ".join(str(error).split()) or type(error).__name__
        raise SceneError(
            f"--cluster: got {address.scheduler}, no scheduler answers there: {why}. Start one: dask scheduler"
        ) from None
    try:
        yield client
    finally:
        _silently(client.close, timeout=3)


def _quieten() -> None:
    """The engine says nothing of its own: what a maker needs to know we say."""
    for name in list(logging.root.manager.loggerDict):
        if name.partition(".")[0] == "distributed":
            logging.getLogger(name).setLevel(logging.CRITICAL)


def _silently(close: Callable[..., Any], *, timeout: float) -> None:
    """Closes what may be gone already."""
    with contextlib.suppress(Exception):
        close(timeout=timeout)


# --- settling ---------------------------------------------------------------------------------


def at_a_time(client: Client) -> int:
    """How many settlings go on at a time: one to each worker."""
    return len(client.nthreads())


def settle_all(client: Client, jobs: Mapping[str, Job], take: Take) -> None:
    """Settles every job, and gives each outcome to `take` as it comes.

    Only so many are handed out ahead that no worker waits. Raises SolverError if the scheduler goes.
    """
    from distributed import as_completed

    waiting = iter(jobs.items())
    key_of: dict[Future[Any], str] = {}
    done = failed = 0
    coming = as_completed()

    def hand_out() -> None:
        count = at_a_time(client)
        while len(key_of) < max(FEWEST_AHEAD, AHEAD * count):
            key, job = next(waiting, ("", None))
            if job is None:
                return
            future = client.submit(work, packed(job), key=f"drape-{key}", pure=False)
            key_of[future] = key
            coming.add(future)

    try:
        hand_out()
        for future in coming:
            outcome = _outcome(future)
            key = key_of.pop(future)
            done, failed = done + 1, failed + (outcome["state"] != SETTLED)
            count = at_a_time(client)
            running = min(count, len(key_of))
            take(key, outcome, State(done, running, failed, len(jobs), count))
            hand_out()
    finally:
        with contextlib.suppress(Exception):
            client.cancel(list(key_of), force=True)


class FarHand:
    """A hand of a `Crew` that settles on a worker of the cluster: a `Job` in, its `Fitting` out."""

    def __init__(self, client: Client, inbox: Inbox) -> None:
        self.client, self.inbox = client, inbox
        self.job: Job | None = None
        self.number = 0
        self.is_free = True
        self.future: Future[Any] | None = None

    def take(self, job: Job) -> None:
        self.number += 1
        self.job, self.is_free, number = job, False, self.number
        self.future = self.client.submit(work_whole, packed(slim(job)), pure=False)
        self.future.add_done_callback(lambda future: self.inbox.put((self, (number, *_came_back(future)))))

    def leave(self) -> None:
        self.job = None
        self.end()

    def ended(self) -> SolverError:
        return _gone("ended")

    def end(self) -> None:
        if self.future is not None:
            with contextlib.suppress(Exception):
                self.future.cancel()


def slim(job: Job) -> Job:
    """The job without what no run that starts from an earlier shape looks at: the mannequin's surface, megabytes."""
    if job.before is None:
        return job
    before = replace(
        job.before, readings={}, figure_vertices=np.empty((0, 3)), figure_triangles=np.empty((0, 3), dtype=np.int64)
    )
    return replace(job, before=before)


def _came_back(future: Future[Any]) -> tuple[str, Any]:
    """What became of a job, and its fitting or error, as a process of ours says it."""
    if future.status == "finished":
        kind, value = unpacked(future.result())
        return kind, value
    if future.status == "error":
        return settling_process.FAILED, SolverError(f"cluster: {_why(future)}")
    return settling_process.FAILED, _gone(future.status)  # of a job that was left, nobody asks


def _gone(state: str | None) -> SolverError:
    return SolverError(
        f"cluster: the scheduler is gone ({state}). What has settled is kept: start the scheduler and its workers "
        "again, then type the same command."
    )


def _why(future: Future[Any]) -> str:
    """Why a worker sent nothing."""
    from distributed import KilledWorker

    error = future.exception()
    if isinstance(error, KilledWorker):
        return f"{error.allowed_failures + 1} workers ended while they settled it; the memory may have run out"
    return " ".join(f"{type(error).__name__}: {error}".split())


def _outcome(future: Future[Any]) -> dict[str, Any]:
    """What a worker sent; or why there is nothing."""
    if future.status == "finished":
        found: dict[str, Any] = json.loads(future.result())
        return found
    if future.status != "error":
        raise _gone(future.status)
    return {
        "state": FAILED, "why": _why(future), "readings": None, "dimensions": {}, "seconds": 0.0, "versions": {},
    }  # fmt: skip


def threads_of(client: Client) -> list[str]:
    """Workers that would settle two at a time in one process, which goes no faster; by their addresses."""
    return sorted(address for address, threads in client.nthreads().items() if threads > 1)
