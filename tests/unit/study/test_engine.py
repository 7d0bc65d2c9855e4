"""Workers of a cluster: what they settle is what is settled here; one that ends costs its own settling, no other."""

from __future__ import annotations

import functools
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from drape.errors import DraftError, SceneError, SolverError
from drape.fitting.scene import load_scene
from drape.fitting.settling_process import Job, packed, settled
from drape.fitting.side_by_side import Crew
from drape.study import engine
from drape.study.engine import Address, FarHand, State, cluster_at, own_cluster, settle_all, slim, threads_of
from drape.study.task import outcome_of

pytestmark = [
    pytest.mark.long,
    pytest.mark.filterwarnings("default"),  # the engine's own
]
ROUND = load_scene("ferry-warden-round")
DYING = "lambda packed: __import__('os')._exit(1)"


@pytest.fixture(scope="module")
def client() -> Iterator[Any]:
    pytest.importorskip("distributed", reason="the extra `study` is not installed")
    with own_cluster(2) as one:
        yield one


def settle(client: Any, jobs: Mapping[str, Job]) -> tuple[dict[str, Any], list[State]]:
    found: dict[str, Any] = {}
    states: list[State] = []

    def take(key: str, outcome: Mapping[str, Any], state: State) -> None:
        found[key] = outcome
        states.append(state)

    settle_all(client, jobs, take)
    return found, states


def test_workers_come_to_what_is_settled_here(client: Any) -> None:
    refused = replace(ROUND, style=replace(ROUND.style, neck_ease=-0.2))
    jobs = {"a": Job("a", ROUND, 0.12), "b": Job("b", ROUND, 0.12, seed=1), "c": Job("c", refused, 0.12)}
    found, states = settle(client, jobs)
    assert set(found) == {"a", "b", "c"} and found["a"]["readings"] != found["b"]["readings"]
    assert (found["c"]["state"], found["c"]["readings"]) == ("failed", None) and found["c"]["why"].startswith("draft")
    here = outcome_of(replace(jobs["b"], cached=False))
    for one in (here, found["b"]):
        one["readings"].pop("seconds")
        one.pop("seconds")
    assert found["b"] == here
    assert [one.done for one in states] == [1, 2, 3] and states[-1] == State(3, 0, 1, 3, 2)


def test_a_worker_that_ends_is_tried_twice_more_and_then_told(client: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "work", eval(DYING, {"__name__": "__main__"}))
    found, _ = settle(client, {"dies": Job("dies", ROUND, 0.12)})
    assert found["dies"]["state"] == "failed" and not found["dies"]["versions"]
    assert found["dies"]["why"] == "3 workers ended while they settled it; the memory may have run out"


def test_a_fault_of_ours_in_a_worker_is_told_and_stops_no_other(client: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "work", eval("lambda packed: 1 // 0", {"__name__": "__main__"}))
    found, _ = settle(client, {"one": Job("one", ROUND, 0.12), "two": Job("two", ROUND, 0.12)})
    assert [one["why"] for one in found.values()] == ["ZeroDivisionError: integer division or modulo by zero"] * 2


def test_each_worker_has_one_thread_and_others_can_ask_it_nothing(client: Any) -> None:
    client.wait_for_workers(2, timeout=60)
    assert threads_of(client) == [] and len(client.nthreads()) == 2
    assert all(address.startswith("tls://127.0.0.1") for address in client.nthreads())


def test_an_address_where_nobody_answers_is_refused_in_a_line(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed", reason="the extra `study` is not installed")
    monkeypatch.setattr(engine, "ANSWERS_WITHIN", 1.0)
    for address in ("tcp://127.0.0.1:1", "nonsense://here"):
        with pytest.raises(SceneError, match="no scheduler answers there") as refused, cluster_at(Address(address)):
            pass
        assert "\n" not in str(refused.value) and address in str(refused.value)


def test_a_scheduler_that_goes_ends_the_study_with_what_to_do() -> None:
    pytest.importorskip("distributed", reason="the extra `study` is not installed")
    with own_cluster(1) as client:
        client.cluster.scheduler.loop.add_callback(client.cluster.scheduler.close)
        with pytest.raises(SolverError, match="the scheduler is gone"):
            settle(client, {f"{k}": Job(f"{k}", ROUND, 0.12, seed=k, cached=False) for k in range(4)})


def test_a_crew_with_far_hands_settles_on_the_workers_and_gives_the_very_fittings(client: Any) -> None:
    client.wait_for_workers(2, timeout=60)
    with Crew(2, dict.fromkeys("abc", 1.0), far=functools.partial(FarHand, client)) as crew:
        jobs = [Job(words, ROUND, 0.12, seed=k) for k, words in enumerate("ab")]
        first, second = crew.settle(jobs[0], jobs[1:]), crew.settle(jobs[1])
        here = settled(jobs[1], None, None)
        assert np.array_equal(second.worn, here.worn) and not np.array_equal(first.worn, second.worn)
        longer = replace(ROUND, style=replace(ROUND.style, length=ROUND.style.length + 0.01))
        on = Job("c", longer, 0.12, cached=False, before=first)
        refused = Job("d", replace(ROUND, style=replace(ROUND.style, neck_ease=-0.2)), 0.12)
        crew.together.costs["d"] = 1.0
        assert np.array_equal(crew.settle(on, [refused]).worn, settled(on, None, None).worn)
        with pytest.raises(DraftError):
            crew.settle(refused)
    assert len(packed(slim(on))) < 1_000_000 < len(packed(on))
