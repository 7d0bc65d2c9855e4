"""Readings of a cloak with no fault, and for each limit a reading to push beyond it with the words that then come."""

from __future__ import annotations

import copy

from drape.reading.verdict import THRESHOLDS

QUIET = {
    "neck": {**{f"{kind}_{side}_cm": 0.0 for kind in ("gap", "ride") for side in ("front", "left", "back", "right")},
             "gap_max_cm": 0.0, "gap_max_at": "front left", "throat_load_n": 0.0, "throat_line_load_n_m": 0.0},
    "shoulder_left": {"stand_off_mean_cm": 0.1, "stand_off_max_cm": 0.2},
    "shoulder_right": {"stand_off_mean_cm": 0.1, "stand_off_max_cm": 0.2},
    "spare": {"percent": 0.0, "within_cm": 12.0},
    "crowding": {"at_cm": [1.0, 2.0], "fullness_percent": [0.0, 0.0], "folds": [0, 2], "max_percent": 0.0},
    "dart": [
        {"place": "left shoulder", "angle_to_shoulder_deg": 0.0, "point_short_cm": 0.0, "point_gap_cm": 9.0},
        {"place": "azimuth 180", "point_gap_cm": 0.0},
    ],
    "closure": {"place": "right shoulder", "shift_cm": 0.0, "pull_n": 0.0, "gape_cm": 0.0},
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
    ("spare_percent", ("spare", "percent"), "has no body to lie on"),
    ("crowding_percent", ("crowding", "max_percent"), "more cloth than it goes round"),
    ("dart_deg", ("dart", 0, "angle_to_shoulder_deg"), "off the shoulder line"),
    ("closure_cm", ("closure", "shift_cm"), "of the shoulder line"),
    ("dart_point_cm", ("dart", 0, "point_short_cm"), "short of the shoulder point"),
    ("dart_gap_cm", ("dart", 1, "point_gap_cm"), "off at its point"),
    ("pull_n", ("closure", "pull_n"), "on its fastening"),
    ("opening_cm", ("closure", "gape_cm"), "cm open, 10 cm below the end of the fastening"),
    ("level_cm", ("fall", "level_cm"), "not level"),
    ("turn_deg", ("balance", "turn_deg"), "has turned"),
    ("shift_cm", ("balance", "forward_cm"), "has gone"),
    ("shift_cm", ("balance", "left_cm"), "to the left"),
]


def limit(name):
    return THRESHOLDS[name].value


def with_reading(place, value, spread=None):
    """The quiet readings with one changed; crowding speaks for itself only where spare cloth was not told."""
    readings = copy.deepcopy(QUIET)
    if place[0] == "crowding":
        readings["spare"]["percent"] = None
    inner = readings
    for key in place[:-1]:
        inner = inner[key]
    inner[place[-1]] = value
    if spread is not None:
        inner[f"{place[-1]}_spread"] = spread
    return readings
