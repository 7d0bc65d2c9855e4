"""Every threshold is used, has a reason, and its sentence comes above it and not below."""

from __future__ import annotations

import copy
from pathlib import Path

import pytest

import drape
from drape.verdict import CHECKS, FAULTS, THRESHOLDS, checks_of, held, judge

QUIET = {
    "neck": {**{f"{kind}_{side}_cm": 0.0 for kind in ("gap", "ride") for side in ("front", "left", "back", "right")},
             "gap_max_cm": 0.0, "gap_max_at": "front left", "throat_load_n": 0.0, "throat_line_load_n_m": 0.0},
    "shoulder_left": {"stand_off_mean_cm": 0.1, "stand_off_max_cm": 0.2},
    "shoulder_right": {"stand_off_mean_cm": 0.1, "stand_off_max_cm": 0.2},
    "crowding": {"at_cm": [1.0, 2.0], "fullness_percent": [0.0, 0.0], "folds": [0, 2], "max_percent": 0.0},
    "dart": [
        {"place": "left shoulder", "angle_to_shoulder_deg": 0.0, "point_short_cm": 0.0, "point_gap_cm": 9.0},
        {"place": "azimuth 180", "point_gap_cm": 0.0},
    ],
    "closure": {"place": "right shoulder", "shift_cm": 0.0, "pull_n": 0.0},
    "fall": {"word": "cloak", "reaches": "the knee", "clearance_cm": 45.0, "level_cm": 1.0},
    "balance": {"forward_cm": 0.0, "left_cm": 0.0, "turn_deg": 0.0},
}  # fmt: skip

CASES = [
    ("gap_cm", ("neck", "gap_back_cm"), "gapes by"),
    ("gap_cm", ("neck", "gap_max_cm"), "cm at the front left."),
    ("ride_cm", ("neck", "ride_front_cm"), "rides"),
    ("fallen_cm", ("neck", "ride_back_cm"), "has fallen"),
    ("throat_line_load_n_m", ("neck", "throat_line_load_n_m"), "presses the throat"),
    ("stand_off_cm", ("shoulder_left", "stand_off_mean_cm"), "stands off by"),
    ("crowding_percent", ("crowding", "max_percent"), "more cloth than it goes round"),
    ("dart_deg", ("dart", 0, "angle_to_shoulder_deg"), "off the shoulder line"),
    ("closure_cm", ("closure", "shift_cm"), "of the shoulder line"),
    ("dart_point_cm", ("dart", 0, "point_short_cm"), "short of the shoulder point"),
    ("dart_gap_cm", ("dart", 1, "point_gap_cm"), "off at its point"),
    ("pull_n", ("closure", "pull_n"), "on its fastening"),
    ("level_cm", ("fall", "level_cm"), "not level"),
    ("turn_deg", ("balance", "turn_deg"), "has turned"),
    ("shift_cm", ("balance", "forward_cm"), "has gone"),
    ("shift_cm", ("balance", "left_cm"), "to the left"),
]


def limit(name):
    return THRESHOLDS[name].value


def with_reading(place, value, spread=None):
    readings = copy.deepcopy(QUIET)
    inner = readings
    for key in place[:-1]:
        inner = inner[key]
    inner[place[-1]] = value
    if spread is not None:
        inner[f"{place[-1]}_spread"] = spread
    return readings


def said(place, value):
    return " ".join(verdict["finding"] for verdict in judge(with_reading(place, value)))


@pytest.mark.parametrize(("name", "place", "words"), CASES)
def test_a_fault_is_named_beyond_its_threshold_only(name, place, words):
    assert words in said(place, limit(name) * 1.01)
    assert words not in said(place, limit(name) * 0.99)


@pytest.mark.parametrize("side", ["front", "left", "back", "right"])
@pytest.mark.parametrize(("name", "kind"), [("gap_cm", "gap"), ("ride_cm", "ride"), ("fallen_cm", "ride")])
def test_each_side_of_the_neck_is_judged(side, name, kind):
    where = {"front": "in front.", "back": "behind."}.get(side, f"on the {side}.")
    assert where in said(("neck", f"{kind}_{side}_cm"), limit(name) * 1.01)


def test_a_gape_on_one_side_is_not_said_twice():
    readings = with_reading(("neck", "gap_left_cm"), limit("gap_cm") + 0.5)
    readings["neck"]["gap_max_cm"] = limit("gap_cm") + 1.0
    (gapes,) = [verdict["finding"] for verdict in judge(readings) if "gapes" in verdict["finding"]]
    assert "on the left" in gapes


@pytest.mark.parametrize(
    ("name", "place", "above", "below"),
    [
        ("closure_cm", ("closure", "shift_cm"), "forward of the shoulder line", "back of the shoulder line"),
        ("dart_point_cm", ("dart", 0, "point_short_cm"), "short of the shoulder point", "beyond the shoulder point"),
        ("shift_cm", ("balance", "forward_cm"), "cm forward", "cm back"),
        ("turn_deg", ("balance", "turn_deg"), "to the left", "to the right"),
    ],
)
def test_a_fault_names_its_direction(name, place, above, below):
    assert above in said(place, limit(name) * 1.01) and below not in said(place, limit(name) * 1.01)
    assert below in said(place, -limit(name) * 1.01) and above not in said(place, -limit(name) * 1.01)


@pytest.mark.parametrize("side", ["left", "right"])
def test_each_shoulder_is_judged_by_its_own_name(side):
    readings = copy.deepcopy(QUIET)
    readings[f"shoulder_{side}"]["stand_off_mean_cm"] = limit("stand_off_cm") * 1.01
    standing = [verdict["where"] for verdict in judge(readings) if "stands off" in verdict["finding"]]
    assert standing == [f"{side} shoulder"]


def test_every_threshold_has_a_reason_and_a_case():
    assert {name for name, _, _ in CASES} | {"clearance_cm"} == set(THRESHOLDS) == set(FAULTS)
    assert all(threshold.low <= threshold.value <= threshold.high for threshold in THRESHOLDS.values())
    assert all(len(threshold.reason) > 15 for threshold in THRESHOLDS.values())


def test_a_cloak_without_fault_is_told_so():
    found = judge(QUIET)
    assert {"where": "neck", "finding": "sits.", "mend": "", "undecided": False} in found
    assert not any(verdict["mend"] or verdict["undecided"] for verdict in found)


def test_a_bare_shoulder_is_said():
    readings = copy.deepcopy(QUIET)
    readings["shoulder_right"] = {"stand_off_mean_cm": None, "stand_off_max_cm": None}
    assert "is bare" in " ".join(verdict["finding"] for verdict in judge(readings))


@pytest.mark.parametrize("module", ["reading", "section", "verdict"])
def test_nothing_that_reads_knows_which_draft_it_looks_at(module):
    text = (Path(drape.__file__).parent / f"{module}.py").read_text(encoding="utf-8")
    assert "tailored" not in text and ".style" not in text and '"round"' not in text


def test_a_hem_near_the_floor_trails():
    assert "only 4.9 cm off the floor" in said(("fall", "clearance_cm"), 4.9)
    assert "only" not in said(("fall", "clearance_cm"), 5.1)


@pytest.mark.parametrize(("name", "place", "words"), CASES)
def test_a_verdict_that_flips_within_its_spread_is_undecided(name, place, words):
    """Beyond or within by less than the spread, nothing is claimed and nothing mended; by more, it is decided."""
    size = abs(limit(name))
    for factor in (1.1, 0.9):
        found = judge(with_reading(place, factor * limit(name), 0.11 * size))
        (doubt,) = [verdict for verdict in found if verdict["undecided"]]
        assert "undecided whether" in doubt["finding"] and not doubt["mend"]
        assert not any(verdict["mend"] for verdict in found)
    (told,) = [v for v in judge(with_reading(place, 1.1 * limit(name), 0.09 * size)) if words in v["finding"]]
    assert not told["undecided"]
    assert not any(v["undecided"] or v["mend"] for v in judge(with_reading(place, 0.9 * limit(name), 0.09 * size)))


def test_limits_of_ones_own_take_the_place_of_the_usual():
    readings = with_reading(("neck", "gap_back_cm"), 1.0)
    assert not any(v["mend"] for v in judge(readings))
    assert any("gapes by 1.0 cm behind" in v["finding"] for v in judge(readings, {"gap_cm": 0.8}))


def test_every_check_finds_its_reading_and_its_limit():
    """Against a misspelt key, which would silently never be judged."""
    assert {check.limit for check in checks_of(QUIET)} == set(THRESHOLDS)
    assert len(held(QUIET)) == len(CHECKS)  # one dart on a shoulder has all checks but its point's, one elsewhere that
    assert {check.limit for check in CHECKS} == set(THRESHOLDS)


def test_sentences_read_aloud():
    """Each ends in a full stop, without symbols for which one has no word."""
    for name, place, _ in CASES:
        for spread in (None, 0.5 * abs(limit(name))):
            for verdict in judge(with_reading(place, 1.2 * limit(name), spread)):
                assert verdict["finding"].endswith(".") and not set("±<>=_") & set(verdict["finding"])


def test_a_closure_at_centre_front_is_judged_by_its_own_line():
    readings = with_reading(("closure", "shift_cm"), limit("closure_cm") * 1.01)
    readings["closure"]["place"] = "centre front"
    assert any("to the left of centre front" in v["finding"] for v in judge(readings))
    readings["closure"]["shift_cm"] = 0.0
    assert any(v["finding"] == "lies on centre front." for v in judge(readings))


@pytest.mark.parametrize(("place", "wedge"), [("right shoulder", "cuts at the closure"), ("left shoulder", "a dart")])
def test_the_mend_of_a_shoulder_names_the_wedge_that_is_there(place, wedge):
    readings = with_reading(("shoulder_right", "stand_off_mean_cm"), 2.0)
    readings["closure"]["place"] = place
    assert any(wedge in v["mend"] for v in judge(readings) if v["where"] == "right shoulder")


def test_of_several_darts_each_is_named():
    assert "at the left shoulder lies 10 degrees" in said(("dart", 0, "angle_to_shoulder_deg"), 10.0)
