"""Every threshold is used, has a reason, and its sentence comes above it and not below."""

from __future__ import annotations

import copy
from pathlib import Path

import pytest

import drape
from drape.verdict import THRESHOLDS, judge, limit

QUIET = {
    "neck": {**{f"{kind}_{side}_cm": 0.0 for kind in ("gap", "ride") for side in ("front", "left", "back", "right")},
             "throat_load_n": 0.0, "throat_line_load_n_m": 0.0},
    "shoulder_left": {"stand_off_mean_cm": 0.1, "stand_off_max_cm": 0.2},
    "shoulder_right": {"stand_off_mean_cm": 0.1, "stand_off_max_cm": 0.2},
    "crowding": {"at_cm": [1.0, 2.0], "fullness_percent": [0.0, 0.0], "folds": [0, 2]},
    "dart": [{"angle_to_shoulder_deg": 0.0, "point_short_cm": 0.0}],
    "closure": {"place": "right shoulder", "shift_cm": 0.0},
    "fall": {"word": "cloak", "reaches": "the knee", "clearance_cm": 45.0, "level_cm": 1.0},
    "balance": {"forward_cm": 0.0, "turn_deg": 0.0},
}  # fmt: skip

CASES = [
    ("gap_cm", ("neck", "gap_back_cm"), "gapes by"),
    ("ride_cm", ("neck", "ride_front_cm"), "rides"),
    ("fallen_cm", ("neck", "ride_back_cm"), "has fallen"),
    ("throat_line_load_n_m", ("neck", "throat_line_load_n_m"), "presses the throat"),
    ("stand_off_cm", ("shoulder_left", "stand_off_mean_cm"), "stands off by"),
    ("crowding_percent", ("crowding", "fullness_percent", 1), "more cloth than it goes round"),
    ("dart_deg", ("dart", 0, "angle_to_shoulder_deg"), "off the shoulder line"),
    ("closure_cm", ("closure", "shift_cm"), "of the shoulder line"),
    ("closure_cm", ("dart", 0, "point_short_cm"), "short of the shoulder point"),
    ("level_cm", ("fall", "level_cm"), "Not level"),
    ("turn_deg", ("balance", "turn_deg"), "has turned"),
    ("shift_cm", ("balance", "forward_cm"), "has gone"),
]


def said(place, value):
    readings = copy.deepcopy(QUIET)
    inner = readings
    for key in place[:-1]:
        inner = inner[key]
    inner[place[-1]] = value
    return " ".join(verdict["finding"] for verdict in judge(readings))


@pytest.mark.parametrize(("name", "place", "words"), CASES)
def test_a_fault_is_named_beyond_its_threshold_only(name, place, words):
    assert words in said(place, limit(name) * 1.01)
    assert words not in said(place, limit(name) * 0.99)


@pytest.mark.parametrize("side", ["front", "left", "back", "right"])
@pytest.mark.parametrize(("name", "kind"), [("gap_cm", "gap"), ("ride_cm", "ride"), ("fallen_cm", "ride")])
def test_each_side_of_the_neck_is_judged(side, name, kind):
    where = {"front": "in front.", "back": "behind."}.get(side, f"on the {side}.")
    assert where in said(("neck", f"{kind}_{side}_cm"), limit(name) * 1.01)


@pytest.mark.parametrize(
    ("name", "place", "above", "below"),
    [
        ("closure_cm", ("closure", "shift_cm"), "forward of the shoulder line", "back of the shoulder line"),
        ("closure_cm", ("dart", 0, "point_short_cm"), "short of the shoulder point", "beyond the shoulder point"),
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
    assert {name for name, _, _ in CASES} == set(THRESHOLDS)
    assert all(len(threshold.reason) > 15 for threshold in THRESHOLDS.values())


def test_a_cloak_without_fault_is_told_so():
    found = judge(QUIET)
    assert {"where": "neck", "finding": "sits.", "mend": ""} in found
    assert not any(verdict["mend"] for verdict in found)


def test_a_bare_shoulder_is_said():
    readings = copy.deepcopy(QUIET)
    readings["shoulder_right"] = {"stand_off_mean_cm": None, "stand_off_max_cm": None}
    assert "is bare" in " ".join(verdict["finding"] for verdict in judge(readings))


@pytest.mark.parametrize("module", ["reading", "section", "verdict"])
def test_nothing_that_reads_knows_which_draft_it_looks_at(module):
    text = (Path(drape.__file__).parent / f"{module}.py").read_text(encoding="utf-8")
    assert "tailored" not in text and ".style" not in text and '"round"' not in text
