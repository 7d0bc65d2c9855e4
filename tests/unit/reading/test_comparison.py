"""Which draft is better: only where one is at fault, only beyond the ±, whichever way a fault lies."""

from __future__ import annotations

import copy

from drape.reading.comparison import comparison_text, points

QUIET = {
    "neck": {"gap_back_cm": 0.0, "gap_back_cm_spread": 0.2, "ride_front_cm": 1.0, "ride_front_cm_spread": 1.0},
    "shoulder_left": {"stand_off_mean_cm": 0.1, "stand_off_mean_cm_spread": 0.1}, "dart": [],
    "closure": {"place": "right shoulder", "shift_cm": 0.5, "shift_cm_spread": 0.5},
    "fall": {"clearance_cm": 40.0, "clearance_cm_spread": 0.4},
}  # fmt: skip


def draft(**changed):
    """The quiet readings with some changed: neck__gap_back_cm=3.0."""
    readings = copy.deepcopy(QUIET)
    for name, value in changed.items():
        group, key = name.split("__")
        readings[group][key] = value
    return readings


def better(first, second):
    return {point["reading"]: point["better"] for point in points([first, second])}


def test_nothing_is_said_of_drafts_without_fault():
    assert points([draft(), draft(neck__gap_back_cm=0.9)]) == []
    assert comparison_text([], ["a", "b"]) == ""


def test_the_better_is_named_whichever_way_the_fault_lies():
    assert better(draft(), draft(neck__gap_back_cm=3.0)) == {"neck.gap_back_cm": [0]}
    assert better(draft(fall__clearance_cm=2.0), draft()) == {"fall.clearance_cm": [1]}
    assert better(draft(closure__shift_cm=-4.0), draft(closure__shift_cm=1.0)) == {"closure.shift_cm": [1]}
    assert better(draft(neck__ride_front_cm=-5.0), draft()) == {"neck.ride_front_cm": [1]}


def test_a_difference_within_both_spreads_is_none():
    """Spreads of 1 and 1 make 1.41 between them: 3.0 against 4.3 is nothing, against 4.5 it is."""
    assert better(draft(neck__ride_front_cm=3.0), draft(neck__ride_front_cm=4.3)) == {"neck.ride_front_cm": []}
    assert better(draft(neck__ride_front_cm=3.0), draft(neck__ride_front_cm=4.5)) == {"neck.ride_front_cm": [0]}


def test_of_three_all_that_are_better_than_the_worst_are_named_and_a_missing_reading_is_not_compared():
    three = [draft(), draft(shoulder_left__stand_off_mean_cm=3.0), draft(shoulder_left__stand_off_mean_cm=1.2)]
    assert [point["better"] for point in points(three)] == [[0, 2]]
    three[0]["shoulder_left"]["stand_off_mean_cm"] = None
    assert points(three) == []


def test_the_text_names_drafts_figures_and_what_does_not_differ():
    found = points([draft(neck__ride_front_cm=3.0), draft(neck__gap_back_cm=3.0, neck__ride_front_cm=4.3)])
    text = comparison_text(found, ["round", "tailored"])
    assert "- round, in neck gap, back: round 0.0, tailored 3.0 cm" in text
    assert "no difference beyond the ±: ride, front" in text
    assert max(map(len, text.splitlines())) <= 80


def test_a_limit_of_ones_own_is_what_both_are_held_against():
    assert points([draft(), draft(neck__gap_back_cm=0.9)], {"gap_cm": 0.5})[0]["better"] == [0]
