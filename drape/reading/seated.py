"""Where the hem comes when the wearer sits, worked out from where it hangs when they stand.

In: the fall of a worn cloak, the wearer's stature and sex, the height of the seat [m]. Out: a group of readings.

Nothing is settled anew. Sitting upright brings the trunk down by stature - sitting height - seat height, and the cloak,
hung from the shoulders, comes down with it where it falls clear of the seat: behind and at the sides. In front it lies
over the knees and is not read.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final

from drape.errors import SceneError

SEAT_RANGE: Final = (0.2, 0.8)  # m, from a child's stool to a bar stool
SIDES: Final = ("left", "back", "right")
# Sitting height as a share of stature: of means of the 1988 survey, men 913.9 of 1755.8 mm, women 852.0 of
# 1629.4 (sitting heights from memory); a child of about seven, from memory.
SITTING_SHARE: Final[Mapping[str, float]] = MappingProxyType({"man": 0.5205, "woman": 0.5229, "child": 0.54})
SITTING_SPREAD_CM: Final = 2.2  # how far one body's sitting height is from its share; from memory


def seat_height_from(seat_height_cm: float) -> float:
    """A seat's height in m, as a command gives it in cm. Raises SceneError when no wearer sits so high or low."""
    low, high = SEAT_RANGE
    if not low <= seat_height_cm / 100 <= high:
        raise SceneError(
            f"--seat-height-cm: got {seat_height_cm:.4g}, allowed {100 * low:.0f} to {100 * high:.0f}. Measure the "
            "seat from the floor."
        )
    return seat_height_cm / 100


def read_seated(fall: Mapping[str, Any], *, stature: float, sex: str, seat_height: float) -> dict[str, float]:
    """The readings of `seated`: how far the hem comes down, where it then hangs, how much of it lies on the floor.

    fall: the group of that name, with its spreads if it has any [cm]; without them the hem seated has none either. On a
    seat as high as the legs are long nothing comes down.
    """
    lowered = max(0.0, 100 * (stature * (1 - SITTING_SHARE[sex]) - seat_height))
    group = {"seat_height_cm": 100 * seat_height, "lowered_cm": lowered, "lowered_cm_spread": SITTING_SPREAD_CM}
    for side in SIDES:
        group[f"{side}_cm"] = fall[f"{side}_cm"] - lowered
        if f"{side}_cm_spread" in fall:
            group[f"{side}_cm_spread"] = math.hypot(SITTING_SPREAD_CM, fall[f"{side}_cm_spread"])
    group["on_floor_cm"] = max(0.0, *(-group[f"{side}_cm"] for side in SIDES))
    return group
