"""What becomes of a member: its starts as one, whether it sits, and what is told where there are no readings."""

from __future__ import annotations

import pytest
from studied import VERSIONS, member, outcome, outcomes, readings

from drape.study.members import key_of
from drape.study.results import result_of, results_of


def test_of_three_starts_the_readings_are_means_with_a_spread() -> None:
    one = member(1, {}, starts=3)
    (found,) = results_of([one], outcomes([one], lambda _, seed: readings(gap_front_cm=0.3 + 0.1 * seed)))
    assert found.readings["neck"]["gap_front_cm"] == pytest.approx(0.4)
    assert found.readings["neck"]["gap_front_cm_spread"] > 0.05
    assert (found.state, found.sits, found.seconds, found.versions) == ("settled", "yes", 6.0, VERSIONS)


def test_a_start_that_does_not_settle_counts_for_nothing() -> None:
    one = member(1, {}, starts=3)
    found = result_of(one, outcomes([one], lambda _, seed: None if seed == 1 else readings()))
    assert (found.state, found.readings["starts"]["not_settled"]) == ("settled", 1)


def test_a_member_without_readings_tells_why() -> None:
    one = member(1, {}, starts=2)
    first, second = (key_of(job) for job in one.jobs)
    loose = {**outcome(None, why="still to move 3 mm"), "state": "not settled"}
    found = result_of(one, {first: outcome(None, why="the mesh failed"), second: loose})
    assert (found.state, found.sits, found.verdict, found.readings) == (
        "not settled",
        "none",
        "still to move 3 mm",
        None,
    )
    found = result_of(one, {first: outcome(None, why="the mesh failed"), second: outcome(None)})
    assert (found.state, found.verdict) == ("failed", "the mesh failed")


def test_how_it_sits_is_judged_by_the_limits_of_the_members_scene() -> None:
    usual, strict = member(1, {}, 3), member(2, {}, 3, limits={"gap_cm": 0.1})
    found = results_of([usual, strict], outcomes([usual, strict], lambda *_: readings()))
    assert [one.sits for one in found] == ["yes", "no"]
    assert found[0].verdict.startswith("spare cloth 1 %") and found[1].verdict.startswith("neck gap")
