"""Where the hem comes when the wearer sits, on a hem whose answer is known."""

from __future__ import annotations

import pytest

from drape.errors import SceneError
from drape.reading.seated import SITTING_SHARE, SITTING_SPREAD_CM, read_seated, seat_height_from

LEVEL = {f"{side}_cm": 45.0 for side in ("front", "left", "back", "right")}


def test_a_level_hem_comes_down_by_what_sitting_takes_off() -> None:
    group = read_seated(LEVEL, stature=1.7558, sex="man", seat_height=0.434)
    assert group["lowered_cm"] == pytest.approx(175.58 - 91.39 - 43.4, abs=0.02)
    assert [group[f"{side}_cm"] for side in ("left", "back", "right")] == pytest.approx([45.0 - 40.79] * 3, abs=0.02)
    assert group["on_floor_cm"] == 0.0 and "back_cm_spread" not in group


def test_what_hangs_lower_than_the_seat_gives_lies_on_the_floor() -> None:
    group = read_seated(
        LEVEL | {"back_cm": 30.0, "back_cm_spread": 1.0}, stature=1.6294, sex="woman", seat_height=0.389
    )
    assert group["on_floor_cm"] == pytest.approx(-group["back_cm"])
    assert group["on_floor_cm"] > 5
    assert group["back_cm_spread"] == pytest.approx((1.0 + SITTING_SPREAD_CM**2) ** 0.5)


def test_nobody_rises_by_sitting_high() -> None:
    assert read_seated(LEVEL, stature=1.22, sex="child", seat_height=0.8)["lowered_cm"] == 0.0


@pytest.mark.parametrize(("sex", "crotch", "stature"), [("man", 837.2, 1755.8), ("woman", 771.6, 1629.4)])
def test_a_sitting_body_is_as_tall_as_a_standing_one_above_the_crotch(sex: str, crotch: float, stature: float) -> None:
    """Published apart from it: crotch heights of the 1988 survey (Gordon et al., NATICK/TR-89/044, from memory),
    within 1 cm.
    """
    assert SITTING_SHARE[sex] * stature == pytest.approx(stature - crotch, abs=10.0)


@pytest.mark.parametrize("height", [19.9, 80.1, float("nan")])
def test_a_seat_that_is_none_is_refused_in_one_line(height: float) -> None:
    with pytest.raises(SceneError, match=r"--seat-height-cm: got .*, allowed 20 to 80\. Measure"):
        seat_height_from(height)
