"""Spreads: root mean squares by hand, nothing lost, and the documented ones for what the draft does."""

from __future__ import annotations

import math

import pytest

from drape.reading.spread import (
    CROWDED_PERCENT,
    DOCUMENTED,
    SPARE_PERCENT,
    documented,
    measured,
    spread_between,
    spread_keys,
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


def test_a_spread_is_the_root_mean_square_of_how_far_the_others_are():
    spreads = spread_between(readings(1.0), [readings(1.3), readings(0.6)])
    assert spreads["neck.gap_front_cm"] == pytest.approx(math.sqrt((0.3**2 + 0.4**2) / 2))
    assert spreads["dart.0.point_short_cm"] == pytest.approx(spreads["neck.gap_front_cm"] / 2)
    assert spreads["fall.level_cm"] == 0.0


def test_an_outlier_that_is_shown_is_given_away_by_the_others():
    spreads = spread_between(readings(3.0), [readings(1.0), readings(1.0), readings(1.0)])
    assert spreads["neck.gap_front_cm"] == pytest.approx(2.0)


def test_spreads_stand_beside_their_readings_and_come_back_out_of_the_way():
    marked = measured(readings(1.0, folds=(0, 2)), [readings(1.5, folds=(1, 2))])
    assert marked["neck"] == {
        "gap_front_cm": 1.0,
        "gap_front_cm_spread": 0.5,
        "throat_load_n": 2.0,
        "throat_load_n_spread": 0.0,
    }
    assert marked["crowding"]["folds_spread"] == [1.0, 0.0]
    assert "at_cm_spread" not in marked["crowding"] and "intake_cm_spread" not in marked["dart"][0]
    assert marked["spread"]["members"] == 2 and "2 runs" in marked["spread"]["words"]
    again = measured(marked, [readings(1.0)])
    assert set(again["neck"]) == set(marked["neck"]) and again["neck"]["gap_front_cm_spread"] == 0.0
    assert with_spread(readings(), {}, {})["neck"] == readings()["neck"]


def test_what_the_shown_run_has_not_gets_no_spread():
    marked = measured({**readings(), "dart": []}, [readings()])
    assert marked["dart"] == [] and marked["shoulder_left"]["stand_off_mean_cm"] is None
    assert "stand_off_mean_cm_spread" not in marked["shoulder_left"]


def test_the_documented_spread_is_that_of_what_the_draft_does():
    smooth, crowded = (
        documented(readings(crowding=CROWDED_PERCENT)),
        documented(readings(crowding=CROWDED_PERCENT + 0.1)),
    )
    known = DOCUMENTED["neck.gap_front_cm"]
    assert (smooth["neck"]["gap_front_cm_spread"], crowded["neck"]["gap_front_cm_spread"]) == known
    low, share = DOCUMENTED["crowding.max_percent"]
    assert smooth["crowding"]["max_percent_spread"] == low
    assert crowded["crowding"]["max_percent_spread"] == pytest.approx(share * (CROWDED_PERCENT + 0.1))
    assert smooth["spread"]["from"] == "documented" and "lie smooth" in smooth["spread"]["words"]
    assert "crowd," in crowded["spread"]["words"]
    stands_up = documented(readings(crowding=0.0, spare=SPARE_PERCENT + 0.1))  # a funnel has no fold in it
    assert stands_up["neck"]["gap_front_cm_spread"] == known[1]
    assert stands_up["spare"]["percent_spread"] == pytest.approx(DOCUMENTED["spare.percent"][1] * (SPARE_PERCENT + 0.1))
    assert smooth["spare"]["percent_spread"] == DOCUMENTED["spare.percent"][0]
    assert "within_cm_spread" not in smooth["spare"]
    assert documented(readings(spare=None))["spread"] == smooth["spread"]


def test_every_reading_that_is_judged_has_a_documented_spread():
    assert [check.key for check in CHECKS if check.key not in DOCUMENTED] == []
    assert all(low >= 0 and high >= 0 for low, high in DOCUMENTED.values())


def test_a_draft_is_called_crowded_where_the_verdict_calls_it_so():
    assert CROWDED_PERCENT == THRESHOLDS["crowding_percent"].value
    assert SPARE_PERCENT == THRESHOLDS["spare_percent"].value
