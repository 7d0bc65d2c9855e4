"""Conduct: a study from its members to its results, whatever was settled before taken as it is.

In: members, a folder, and a cluster when something is left to settle. Out: what became of each member. Every outcome is
on the shelf before it is counted, so a study that is broken off, or whose cluster goes, is taken up where it was.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drape.fitting.settling_process import Job
from drape.progress import Progress, Tell, seconds_text
from drape.study import shelf
from drape.study.engine import State, at_a_time, settle_all, threads_of
from drape.study.members import Member, key_of
from drape.study.results import Result, results_of
from drape.study.task import SETTLED

if TYPE_CHECKING:
    from distributed import Client

Say = Callable[[str], None]


def conduct(
    members: Sequence[Member], folder: Path, cluster: Callable[[], AbstractContextManager[Client]], tell: Tell, say: Say
) -> tuple[Result, ...]:
    """Settles what has not been settled before. Raises SolverError if the cluster goes; what is done stays done."""
    jobs = {key_of(job): job for member in members for job in member.jobs}
    outcomes = {key: found for key in jobs if (found := shelf.find(folder, key)) is not None}
    left = {key: job for key, job in jobs.items() if key not in outcomes}
    if outcomes:
        say(f"{len(outcomes)} of {len(jobs)} settlings are kept from before.")
    if left:
        tell(Progress("workers", 0.0, "starting the workers", has_share=False))
        with cluster() as client:
            try:
                _settle(client, left, outcomes, folder, tell, say)
            except KeyboardInterrupt:
                say(f"Stopping. What has settled is kept in {folder}: the same command goes on from there.")
                raise
    return results_of(members, outcomes)


def _settle(
    client: Client, left: Mapping[str, Job], outcomes: dict[str, Any], folder: Path, tell: Tell, say: Say
) -> None:
    """Settles the jobs that are left, each outcome put on the shelf as it comes."""
    count = at_a_time(client)
    for address in threads_of(client):
        say(f"{address}: a worker with several threads settles one at a time. Start it with --nthreads 1.")
    waiting = "waiting for a worker" if count == 0 else "settling the first"
    tell(Progress("study", 0.0, f"{waiting}, {len(left)} to settle", has_share=False))
    programs: set[str] = set()
    timed: list[str] = []  # the first that settled

    def take(key: str, outcome: Mapping[str, Any], state: State) -> None:
        shelf.keep(folder, key, outcome)
        outcomes[key] = outcome
        if not timed and outcome["state"] == SETTLED:
            timed.append(key)
            say(first_words(outcome["seconds"], state))
        program = outcome["versions"].get("program", "")
        if programs and program and program not in programs:
            say("Workers differ in program, libraries or machine: results may differ in the last figures.")
        programs.update([program] if program else [])
        tell(Progress("study", state.done / state.total, state_words(state)))

    settle_all(client, left, take)


def first_words(seconds: float, state: State) -> str:
    """How long it all takes, by the first that was settled."""
    at_once = max(state.at_a_time, 1)
    whole = seconds * -(-state.total // at_once)
    each = f"{seconds:.0f} s" if seconds >= 1.0 else "less than 1 s"
    return f"The first of {state.total} settlings took {each}; {at_once} at a time, about {seconds_text(whole)} in all."


def state_words(state: State) -> str:
    """How far a study has come."""
    failed = f", {state.failed} failed" if state.failed else ""
    return f"{state.done} of {state.total} done, {state.running} running{failed}"
