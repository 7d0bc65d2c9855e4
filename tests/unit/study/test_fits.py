"""Whom a draft fits: counted, its share with what few bodies allow, where it stops, and which draft suits the most."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest
from studied import SCENE, member, outcomes, readings

from drape.study.fits import Share, best_for_each, drafts_of, reach_of, share_of, what_stops
from drape.study.results import Result, results_of

GOOD, OPEN, BAD = 0.4, 1.5, 9.0  # gaps behind, cm; the limit is 1.5


def results(rows: Sequence[tuple[dict[str, Any], float | None, float]]) -> tuple[Result, ...]:
    """Members from their setting, the gap they read, and their wearer's stature [m]."""
    members = [
        member(k, setting, 3, tape={**SCENE.tape, "stature": stature}) for k, (setting, _, stature) in enumerate(rows)
    ]
    gaps = [gap for _, gap, _ in rows]
    return results_of(
        members,
        outcomes(members, lambda m, _: None if gaps[m.number] is None else readings(gap_back_cm=gaps[m.number])),
    )


def bodies(gaps: Sequence[float | None], statures: Sequence[float] | None = None) -> tuple[Result, ...]:
    statures = statures or [1.756] * len(gaps)
    return results([({"body": f"b{k}"}, gap, h) for k, (gap, h) in enumerate(zip(gaps, statures, strict=True))])


def test_members_are_counted_by_how_they_sit() -> None:
    assert share_of(bodies([GOOD, GOOD, OPEN, BAD, None])) == Share(2, 1, 1, 1)


def test_the_interval_of_a_share_is_wilsons() -> None:
    """Wilson (1927), z = 1: 5 of 10 gives 0.5 -+ sqrt(0.025 + 0.0025) / 1.1; none of 4 reaches up to 1 / 5."""
    low, high = Share(5, 0, 5, 0).interval
    assert (low, high) == pytest.approx((0.5 - 0.15076, 0.5 + 0.15076), abs=1e-4)
    assert Share(0, 9, 4, 0).interval == pytest.approx((0.0, 0.2))
    assert Share(0, 3, 0, 2).interval == (0.0, 1.0)


def test_a_draft_reaches_as_far_as_it_sits() -> None:
    found = reach_of(
        bodies([BAD, GOOD, GOOD, OPEN, GOOD, BAD, BAD], [1.60, 1.65, 1.70, 1.72, 1.75, 1.80, 1.85]), "tape.stature_cm"
    )
    assert found is not None
    assert (found.low, found.high, found.least, found.most) == (165.0, 175.0, 160.0, 185.0)
    assert (found.within, found.outside) == ((3, 3), (0, 3))


def test_where_nothing_parts_those_that_sit_no_reach_is_told() -> None:
    assert reach_of(bodies([GOOD] * 5), "tape.stature_cm") is None
    assert reach_of(bodies([BAD] * 5), "tape.stature_cm") is None
    assert reach_of(bodies([GOOD, BAD, OPEN, OPEN]), "tape.stature_cm") is None


def test_drafts_come_in_order_of_the_bodies_they_suit() -> None:
    rows = [({"dart.intake_cm": d, "body": b}, gap, 1.756) for d, b, gap in (
        (6, "x", BAD), (6, "y", GOOD), (9, "x", GOOD), (9, "y", GOOD), (12, "x", OPEN), (12, "y", GOOD),
    )]  # fmt: skip
    found = drafts_of(results(rows))
    assert [one.setting for one in found] == [{"dart.intake_cm": d} for d in (9, 12, 6)]
    assert [one.share.yes for one in found] == [2, 1, 1]
    best = {body: one.member.setting["dart.intake_cm"] for body, one in best_for_each(results(rows))}
    assert best["x"] == 9


def test_where_no_body_varies_there_is_one_best() -> None:
    rows = [({"dart.intake_cm": d}, gap, 1.756) for d, gap in ((6, None), (9, BAD), (12, OPEN))]
    ((_, best),) = best_for_each(results(rows))
    assert best.member.setting == {"dart.intake_cm": 12}


def test_what_keeps_it_from_sitting_is_the_gravest_fault_of_each() -> None:
    assert what_stops(bodies([BAD, BAD, GOOD, OPEN])) == [("neck: gapes too wide behind", 2)]
