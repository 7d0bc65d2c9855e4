"""Several runs of one cloak: means and their ± by hand, which way each rests, and which is the most typical."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from drape.reading.spread import LEAST, USUAL, of_another_among
from drape.reading.starts import gathered, note_of, shown_words, typical, way_of, ways_words
from drape.reading.verdict import THRESHOLDS, held


def readings(gap: float = 0.2, *, ride: float = 1.0, crowding: float = 0.5, folds: int = 2) -> dict[str, Any]:
    return {
        "settled": True,
        "vertices": 900 + folds,
        "neck": {"gap_back_cm": gap, "ride_front_cm": ride, "gap_max_at": "back"},
        "shoulder_left": {"stand_off_mean_cm": None},
        "shoulder_right": {"stand_off_mean_cm": 0.2},
        "spare": {"percent": 2.0, "within_cm": 12.0},
        "crowding": {"at_cm": [1.0], "fullness_percent": [crowding], "folds": [folds], "max_percent": crowding},
        "dart": [],
        "spread": {"members": 1},
    }


def test_readings_are_means_and_counts_and_words_are_those_of_the_run_that_is_shown():
    runs = [readings(gap, folds=folds) for gap, folds in ((2.0, 3), (1.0, 1), (1.4, 2), (1.2, 5))]
    found, place = gathered(runs, [5, 6, 7, 8])
    assert found["neck"]["gap_back_cm"] == pytest.approx(1.4) and place == 2
    assert found["crowding"]["folds"] == [2] and found["vertices"] == 902
    assert found["starts"] == {
        "count": 4, "rested": {"lie smooth": 3, "stand off": 1}, "words": "3 of 4 lie smooth, 1 stands off",
        "not_settled": 0, "seeds": [5, 6, 7, 8], "shown_seed": 7,
    }  # fmt: skip
    squares = 0.4**2 + 0.6**2 + 0.2**2 + 3 * USUAL["neck.gap_back_cm"][0] ** 2  # 3 degrees of freedom with 3 of its own
    factor = 1.056  # Student's for 6 degrees of freedom and two in three
    assert found["neck"]["gap_back_cm_spread"] == pytest.approx(factor * math.sqrt(squares / 6 * 1.25), rel=1e-2)
    assert found["spread"]["from"] == "starts" and found["spread"]["members"] == 4


def test_too_few_runs_have_no_spread_of_their_own():
    found, _ = gathered([readings(gap) for gap in np.linspace(1.0, 2.0, LEAST - 1)], range(LEAST - 1))
    assert found["neck"]["gap_back_cm"] == pytest.approx(1.5)
    assert "gap_back_cm_spread" not in found["neck"] and found["spread"]["from"] == "few runs"


def test_a_reading_that_one_run_lacks_is_left_as_the_shown_run_has_it():
    runs = [readings() for _ in range(4)]
    runs[1]["shoulder_left"]["stand_off_mean_cm"] = 0.3
    found, _ = gathered(runs, range(4))
    assert found["shoulder_left"] == {"stand_off_mean_cm": None}


@pytest.mark.parametrize("count", [3, 8])
def test_another_run_falls_within_as_often_as_it_says(count):
    """Runs of drafts that differ in how much they vary: two in three within the ±, 19 in 20 within twice, by 5 points.

    Each draft's variance is drawn as the pooling supposes: the usual one over chi squared of 3 degrees of freedom.
    """
    random = np.random.default_rng(1)
    draws = random.normal(size=(3000, count + 1)) / np.sqrt(random.chisquare(3, size=(3000, 1)) / 3)
    off = np.array([abs(draw[-1] - draw[:-1].mean()) / of_another_among(draw[:-1], 1.0) for draw in draws])
    assert np.mean(off < 1.0) == pytest.approx(0.667, abs=0.02)
    assert 0.90 < np.mean(off < 2.0) < 0.96


def test_a_verdict_allows_a_mean_twice_its_own_uncertainty():
    runs = [readings(1.4 + 0.05 * (k % 4)) for k in range(8)]
    found, _ = gathered(runs, range(8))
    one = next(one for one in held(found) if one.check.key == "neck.gap_back_cm")
    assert one.allowed == pytest.approx(one.spread * 2 / 3, rel=1e-3)
    assert note_of(8, is_of_cloth=True)["verdict_share"] == 1.0


def test_the_way_is_that_of_the_reading_furthest_beyond_its_limit():
    ride, crowding = THRESHOLDS["ride_cm"].value, THRESHOLDS["crowding_percent"].value
    assert way_of(readings()) == "lie smooth"
    assert way_of(readings(ride=1.5 * ride, crowding=2 * crowding)) == "fold in"
    assert way_of(readings(ride=2.5 * ride, crowding=2 * crowding)) == "stand up"
    assert way_of(readings(gap=5.0)) == "stand off"
    assert way_of(readings(gap=5.0), {"gap_cm": 6.0}) == "lie smooth"


def test_ways_in_words():
    assert ways_words({"fold in": 5, "stand up": 3}) == "5 of 8 fold in, 3 stand up"
    assert ways_words({"fold in": 1, "stand up": 1}) == "1 of 2 folds in, 1 stands up"
    assert (
        ways_words({"lie smooth": 4}) == "all 4 lie smooth"
        and ways_words({"lie smooth": 1}) == "one start, which lies smooth"
    )


def test_what_a_picture_shows_in_words():
    found, _ = gathered([readings() for _ in range(3)], range(3))
    assert shown_words(found) == "shown: the most typical of 3 starts"
    found, _ = gathered([readings() for _ in range(3)], range(3), is_of_cloth=True)
    assert shown_words(found) == "shown: the first of 3 runs" and shown_words(readings()) == ""


def test_of_two_runs_the_first_is_the_most_typical():
    assert typical({"a": [1.0, 2.0], "b": [3.0, 3.0]}) == 0
    assert typical({"a": [1.0, 9.0, 2.0], "b": [3.0, 5.0, 4.0]}) == 2
