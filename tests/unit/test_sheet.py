"""The sheet: readings found by their key, printed as people write them."""

from __future__ import annotations

from drape import sheet


def test_readings_are_found_by_key_and_missing_ones_are_none() -> None:
    readings = {
        "crowding": {"folds": [2, 3], "folds_spread": [1, 0]},
        "neck": {"gap_left_cm": 1.25},
    }
    assert sheet._value(readings, "crowding.folds.1") == 3
    assert sheet._value(readings, sheet._spread_key("crowding.folds.0")) == 1
    assert sheet._value(readings, "neck.gap_left_cm") == 1.25
    for missing in ("crowding.folds.2", "neck.gap_back_cm", "fall.left_cm", "neck"):
        assert sheet._value(readings, missing) is None
    assert sheet._number(None, 1) == "–"
    assert sheet._number(-0.25, 2) == "−0.25"
