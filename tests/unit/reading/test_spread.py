"""Spreads: nothing lost, none after one run, and what is usual for what the draft does."""

from __future__ import annotations

import math

import pytest

from drape.reading.spread import (
    CROWDED_PERCENT,
    SPARE_PERCENT,
    USUAL,
    allowed_of_few,
    of_another,
    of_another_among,
    of_few,
    spread_keys,
    usual_deviation,
    with_spread,
)
from drape.reading.verdict import CHECKS, THRESHOLDS


def readings(gap=1.0, crowding=0.5, folds=(0, 2), depth=0.0, spare=0.5):
    return {
        "scene": "clerk",
        "vertices": 900,
        "neck": {"gap_front_cm": gap, "throat_load_n": 2.0},
        "shoulder_left": {"stand_off_mean_cm": None, "lie_percent": 40.0},
        "spare": {"percent": spare, "within_cm": 12.0},
        "crowding": {
            "at_cm": [1.0, 2.0],
            "fullness_percent": [crowding, depth],
            "folds": list(folds),
            "max_percent": crowding,
        },
        "dart": [{"place": "left shoulder", "intake_cm": 9.0, "point_short_cm": gap / 2}],
        "fall": {"reaches": "the knee", "level_cm": 5.0},
    }


def test_every_number_that_may_vary_is_found_once():
    keys = [key for key, _ in spread_keys(readings())]
    assert keys == [
        "neck.gap_front_cm", "neck.throat_load_n", "shoulder_left.lie_percent", "spare.percent",
        "crowding.fullness_percent.0", "crowding.fullness_percent.1", "crowding.folds.0", "crowding.folds.1",
        "crowding.max_percent",
        "dart.0.point_short_cm", "fall.level_cm",
    ]  # fmt: skip


def test_spreads_stand_beside_their_readings_and_come_back_out_of_the_way():
    spreads = {"neck.gap_front_cm": 0.5, "crowding.folds.0": 1.0, "crowding.folds.1": 0.0, "dart.0.point_short_cm": 0.2}
    marked = with_spread(readings(), spreads, {"members": 4})
    assert marked["neck"] == {"gap_front_cm": 1.0, "gap_front_cm_spread": 0.5, "throat_load_n": 2.0}
    assert marked["crowding"]["folds_spread"] == [1.0, 0.0]
    assert "at_cm_spread" not in marked["crowding"] and "intake_cm_spread" not in marked["dart"][0]
    assert with_spread(marked, {}, {})["neck"] == readings()["neck"]


def test_the_usual_deviation_is_that_of_what_the_draft_does():
    smooth, crowded = (usual_deviation(readings(crowding=CROWDED_PERCENT + more)) for more in (0.0, 0.1))
    assert (smooth["neck.gap_front_cm"], crowded["neck.gap_front_cm"]) == USUAL["neck.gap_front_cm"]
    low, share = USUAL["crowding.max_percent"]
    assert smooth["crowding.max_percent"] == low
    assert crowded["crowding.max_percent"] == pytest.approx(share * (CROWDED_PERCENT + 0.1))
    stands_up = usual_deviation(readings(crowding=0.0, spare=SPARE_PERCENT + 0.1))  # a funnel has no fold in it
    assert stands_up["neck.gap_front_cm"] == USUAL["neck.gap_front_cm"][1]
    assert stands_up["spare.percent"] == pytest.approx(USUAL["spare.percent"][1] * (SPARE_PERCENT + 0.1))
    assert smooth["spare.percent"] == USUAL["spare.percent"][0] and smooth["crowding.folds.0"] == 0.0
    assert usual_deviation(readings(spare=None))["neck.gap_front_cm"] == USUAL["neck.gap_front_cm"][0]


def test_one_run_has_no_spread_and_says_so():
    marked = of_few({**readings(), "neck": {"gap_front_cm": 1.0, "gap_front_cm_spread": 0.4}})
    assert marked["neck"] == {"gap_front_cm": 1.0}
    assert marked["spread"]["members"] == 1 and marked["spread"]["words"].startswith("one run: no ±")
    assert of_few(readings(), 2)["spread"]["words"].startswith("means of 2 runs: no ±")


def test_what_a_verdict_allows_one_run_is_twice_the_usual_uncertainty():
    """Student's factor of 3 degrees of freedom for two in three: F(t) = 1/2 + (t/(√3 (1 + t²/3)) + atan(t/√3))/π."""
    few = allowed_of_few(of_few(readings()))
    usual = USUAL["neck.gap_front_cm"][0]
    t = few["neck.gap_front_cm"] / (2 * usual)
    u = t / math.sqrt(3)
    assert 0.5 + (u / (1 + u * u) + math.atan(u)) / math.pi == pytest.approx(0.5 + 1 / 3, abs=1e-6)
    assert allowed_of_few(readings()) == {}
    assert allowed_of_few({**readings(), "spread": {"members": 0}}) == {}  # files that have borrowed ±


def test_few_runs_that_lie_together_by_chance_are_not_believed():
    """Three alike readings still have the ± that three degrees of freedom of five of the usual give."""
    alike, usual = of_another_among([1.0, 1.0, 1.0], 0.3), 0.3
    assert alike == pytest.approx(of_another(usual * math.sqrt(3 / 5), 5, 3))
    assert of_another_among([0.0, 1.0, 2.0], 0.0) == pytest.approx(of_another(math.sqrt(2 / 5), 5, 3))


def test_every_reading_that_is_judged_has_a_usual_deviation():
    assert [check.key for check in CHECKS if check.key not in USUAL] == []
    assert all(low >= 0 and high >= 0 for low, high in USUAL.values())


def test_a_draft_is_called_crowded_where_the_verdict_calls_it_so():
    assert CROWDED_PERCENT == THRESHOLDS["crowding_percent"].value
    assert SPARE_PERCENT == THRESHOLDS["spare_percent"].value
