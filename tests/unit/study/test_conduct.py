"""A study from members to results: what is kept is not settled again, what comes is kept at once, and time is told."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from studied import member, outcome, readings

from drape.errors import SolverError
from drape.fitting.settling_process import Job
from drape.progress import Progress
from drape.study import conduct as module
from drape.study.conduct import conduct, first_words
from drape.study.engine import State
from drape.study.members import Member, key_of

CLIENT = SimpleNamespace(nthreads=lambda: {"tcp://a": 1, "tcp://b": 4})


class Cluster:
    """Stands for workers: settles in the order of the jobs, up to one that it does not live through."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, *, lasts: int = 99) -> None:
        self.asked: list[str] = []
        self.lasts = lasts
        monkeypatch.setattr(module, "settle_all", self.settle_all)

    def settle_all(self, _: Any, jobs: Mapping[str, Job], take: Callable[..., None]) -> None:
        for k, (key, job) in enumerate(jobs.items(), start=1):
            if k > self.lasts:
                raise SolverError("gone")
            self.asked.append(job.scene.name)
            found = outcome(None if job.scene.name == "m-2" else readings(), seconds=3.0, why="a reason")
            take(key, found, State(k, 2, int(k > 1), len(jobs), 2))


def run(members: list[Member], folder: Path) -> tuple[Any, list[str], list[Progress]]:
    said: list[str] = []
    told: list[Progress] = []
    found = conduct(members, folder, lambda: contextlib.nullcontext(CLIENT), told.append, said.append)
    return found, said, told


def test_every_member_is_settled_and_how_long_it_takes_is_told_by_the_first(tmp_path, monkeypatch) -> None:
    Cluster(monkeypatch)
    members = [member(k, {}) for k in (1, 2, 3)]
    found, said, told = run(members, tmp_path)
    assert [one.state for one in found] == ["settled", "failed", "settled"] and found[1].why == "a reason"
    assert said == [
        "tcp://b: a worker with several threads settles one at a time. Start it with --nthreads 1.",
        "The first of 3 settlings took 3 s; 2 at a time, about 6 s in all.",
    ]
    assert told[-1].words == "3 of 3 done, 2 running, 1 failed" and told[-1].fraction == 1.0


def test_a_study_that_was_broken_off_goes_on_where_it_was(tmp_path, monkeypatch) -> None:
    members = [member(k, {}) for k in (1, 3, 4, 5)]
    first = Cluster(monkeypatch, lasts=2)
    with pytest.raises(SolverError):
        run(members, tmp_path)
    then = Cluster(monkeypatch)
    found, said, _ = run(members, tmp_path)
    assert (first.asked, then.asked) == (["m-1", "m-3"], ["m-4", "m-5"])
    assert said[0] == "2 of 4 settlings are kept from before." and len(found) == 4
    again = Cluster(monkeypatch)
    run(members, tmp_path)
    assert again.asked == []


def test_ctrl_c_is_answered_with_where_what_has_settled_is_kept(tmp_path, monkeypatch) -> None:
    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(module, "settle_all", stopped)
    said: list[str] = []
    with pytest.raises(KeyboardInterrupt):
        conduct([member(1, {})], tmp_path, lambda: contextlib.nullcontext(CLIENT), lambda _: None, said.append)
    assert said[-1] == f"Stopping. What has settled is kept in {tmp_path}: the same command goes on from there."


def test_members_alike_are_settled_once(tmp_path, monkeypatch) -> None:
    cluster = Cluster(monkeypatch)
    one = member(1, {})
    twin = Member(2, {}, one.scene, one.edge_length, 1)
    assert key_of(one.jobs[0]) == key_of(twin.jobs[0])
    found, _, _ = run([one, twin], tmp_path)
    assert cluster.asked == ["m-1"] and found[0].readings == found[1].readings


def test_time_is_told_roughly() -> None:
    assert first_words(20.0, State(1, 2, 0, 64, 2)).endswith("took 20 s; 2 at a time, about 10 min 40 s in all.")
    assert "took less than 1 s; 1 at a time" in first_words(0.2, State(1, 1, 0, 3, 0))
