"""What wetting changes, from two sets of readings."""

from __future__ import annotations

import pytest

from drape.wearing.wetting import read_wetting, wetting_words


def readings(kg, left, mean):
    weight = {"cloth_kg": kg, "shoulder_left_percent": left, "shoulder_right_percent": 20.0}
    return {"weight": weight, "fall": {"mean_cm": mean, "lowest_cm": mean - 2.0}}


def test_weights_loads_and_the_drop():
    group = read_wetting(readings(2.0, 30.0, 60.0), readings(3.0, 40.0, 58.5))
    assert (group["cloth_dry_kg"], group["cloth_wet_kg"]) == (2.0, 3.0)
    assert group["shoulder_left_dry_n"] == pytest.approx(0.3 * 2.0 * 9.80665, rel=1e-5)
    assert group["shoulder_left_wet_n"] == pytest.approx(0.4 * 3.0 * 9.80665, rel=1e-5)
    assert group["hem_drop_cm"] == 1.5 and group["lowest_drop_cm"] == 1.5
    words = wetting_words(group)
    assert "3.0 kg instead of 2.0" in words and "12 N instead of 6" in words and "1.5 cm lower" in words
    assert "Estimated" not in words
    assert wetting_words(group, ("twist_rigidity", "water")).endswith("Estimated, from memory: water.")
    assert "0.5 cm higher" in wetting_words({**group, "hem_drop_cm": -0.5})
