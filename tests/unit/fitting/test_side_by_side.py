"""What comes out is the same however many processes there are; none is left behind, and one that dies is told."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
import pytest

from drape.draft.outline import Draft
from drape.errors import DraftError, SolverError
from drape.fitting import side_by_side as module
from drape.fitting.scene import load_scene
from drape.fitting.settling_process import FAILED, LEFT, PROGRESS, SETTLED, Job, settled
from drape.fitting.side_by_side import Crew, cores
from drape.progress import Progress
from drape.reading.result import Fitting

ROUND, TAILORED = load_scene("ferry-warden-round"), load_scene("ferry-warden-tailored")


# --- two real processes -----------------------------------------------------------------------


def coarse(words: str, scene: Any, **more: Any) -> Job:
    """A job of very large triangles, to be quick."""
    return Job(words, scene, 0.12, cached=False, **more)


@pytest.fixture(scope="module")
def two() -> Iterator[tuple[Crew, list[Progress]]]:
    told: list[Progress] = []
    with Crew(2, dict.fromkeys("abcd", 1.0), tell=told.append) as crew:
        yield crew, told
    assert len(crew.hands) == 2 and all(hand.process.poll() is not None for hand in crew.hands)


def same(one: Any, other: Any) -> bool:
    """Equal to the byte, through dataclasses, tuples and mappings; seconds aside."""
    if isinstance(one, np.ndarray):
        return one.dtype == other.dtype and one.shape == other.shape and one.tobytes() == other.tobytes()
    if isinstance(one, dict) or hasattr(one, "keys"):
        return one.keys() == other.keys() and all(same(one[k], other[k]) for k in one if k != "seconds")
    if isinstance(one, (list, tuple)):
        return len(one) == len(other) and all(map(same, one, other))
    if hasattr(one, "__dataclass_fields__"):
        return all(same(getattr(one, f.name), getattr(other, f.name)) for f in fields(one))
    return bool(one == other)


@pytest.mark.long
def test_the_very_fitting_comes_back_from_a_process_whole(two: tuple[Crew, list[Progress]]) -> None:
    crew, told = two
    jobs = [coarse("a", ROUND), coarse("b", TAILORED)]
    found = [crew.settle(jobs[0], jobs[1:]), crew.settle(jobs[1])]
    assert [one.name for one in found] == ["ferry-warden-round", "ferry-warden-tailored"]
    assert [len(one.each) for one in told if one.each] and max(len(one.each) for one in told) == 2
    here = settled(jobs[1], None, None)
    assert isinstance(here.draft, Draft) and here.grip is not None and here.readings["settled"]
    assert same(found[1], here) and not same(found[0], here)


@pytest.mark.long
def test_a_process_that_is_killed_gives_one_line(two: tuple[Crew, list[Progress]]) -> None:
    crew, _ = two
    jobs = [coarse("c", ROUND), coarse("d", TAILORED)]
    crew.prepare(jobs)
    os.kill(crew.hands[0].process.pid, signal.SIGKILL)
    with pytest.raises(SolverError) as caught:
        crew.settle(jobs[0], jobs[1:])
    assert "was ended (signal 9" in str(caught.value) and "\n" not in str(caught.value)


# --- any number of processes that answer at once ------------------------------------------------


class Hand:
    """Answers by the words of a job: `no` is refused, `slow` not before it is left, others are settled."""

    made: list[Hand] = []  # noqa: RUF012

    def __init__(self, inbox: Any) -> None:
        self.inbox, self.job, self.number, self.is_free, self.left = inbox, None, 0, True, 0
        Hand.made.append(self)

    def take(self, job: Job) -> None:
        self.number, self.job, self.is_free = self.number + 1, job, False
        if "slow" in job.words:
            self.inbox.put((self, (self.number, PROGRESS, Progress("settle", 0.5, "settling"))))
        elif "no" in job.words:
            self.inbox.put((self, (self.number, FAILED, DraftError(f"{job.words}: cannot be drawn."))))
        else:
            self.inbox.put((self, (self.number, SETTLED, job.words)))

    def leave(self) -> None:
        self.job, self.left = None, self.left + 1
        self.inbox.put((self, (self.number, PROGRESS, Progress("settle", 0.6, "said too late"))))
        self.inbox.put((self, (self.number, LEFT, None)))

    def end(self) -> None:
        self.job = "ended"


@pytest.fixture
def hands(monkeypatch: pytest.MonkeyPatch) -> list[Hand]:
    Hand.made = []
    monkeypatch.setattr(module, "_Hand", Hand)
    monkeypatch.setattr(module, "compile_kernels", lambda: None)
    return Hand.made


def job(words: str) -> Job:
    return Job(words, ROUND, 0.06, cached=False)


@pytest.mark.parametrize("count", [2, 3, 7])
def test_jobs_come_in_the_order_of_asking_and_so_do_errors(hands: list[Hand], count: int) -> None:
    jobs = [job(words) for words in ("a", "b", "no, c", "d", "no, e")]
    with Crew(count, {one.words: 1.0 for one in jobs}) as crew:
        crew.prepare(jobs)
        assert len(hands) == min(count, 5)
        found = []
        for k, one in enumerate(jobs):
            try:
                found.append(crew.settle(one, jobs[k + 1 :]))
            except DraftError as error:
                found.append(str(error))
    assert found == ["a", "b", "no, c: cannot be drawn.", "d", "no, e: cannot be drawn."]
    assert len(hands) == min(count, 5) and all(hand.job == "ended" for hand in hands)


def test_what_is_not_wanted_any_more_is_broken_off_and_its_words_are_not_heard(hands: list[Hand]) -> None:
    told: list[Progress] = []
    costs = dict.fromkeys(("a", "slow", "b", "c"), 1.0)
    with Crew(2, costs, tell=told.append) as crew:
        assert crew.settle(job("a"), [job("slow")]) == "a"
        crew._take_in()  # the slow one says how far it has come
        assert told[-1].fraction == pytest.approx((1 + 0.5) / 4)
        assert [crew.settle(job(words), []) for words in ("b", "c")] == ["b", "c"]
    assert [hand.left for hand in hands] == [0, 1]
    assert not any("too late" in one.words for one in told)


@dataclass
class Here:
    """What a job came to that was settled in this process."""

    words: str
    is_recalled: bool = True


def test_for_one_thing_nothing_is_started(hands: list[Hand], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "settled", lambda job, *_: Here(job.words))
    with Crew(4, {"a": 1.0}) as crew:
        assert crew.settle(job("a")) == Here("a")
    with Crew(1, {"a": 1.0, "b": 1.0}) as crew:
        crew.prepare([job("a"), job("b")])
        assert crew.settle(job("a"), [job("b")]) == Here("a")
    assert hands == []


def test_what_is_kept_from_earlier_starts_no_process(hands: list[Hand], monkeypatch: pytest.MonkeyPatch) -> None:
    empty = {field.name: None for field in fields(Fitting)}
    monkeypatch.setattr(module, "sit_kept", lambda scene, **_: Fitting(**{**empty, "name": scene.name}))
    jobs = [Job("a", ROUND, 0.06), Job("b", replace(ROUND, name="other"), 0.06)]
    with Crew(2, {"a": 1.0, "b": 1.0}) as crew:
        assert [crew.settle(jobs[0], jobs[1:]).name, crew.settle(jobs[1]).name] == [ROUND.name, "other"]
    assert hands == []


def test_cores_are_those_that_may_be_used(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 5, 7}, raising=False)
    assert cores() == 3
    monkeypatch.delattr(os, "sched_getaffinity")
    monkeypatch.setattr(os, "cpu_count", lambda: None)
    assert cores() == 1
