"""How a body stands: head forward, stoop, a fuller chest or back, the set of its shoulders.

In: what a body file says under [stance], SI. Out: how far the axis of trunk and neck is bent forward at a height [m],
and tape measures that follow from the stance. The lengths are sideways shifts: girths and heights stay as taped.
Values without a source are ours.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import asin, atan, degrees, radians, sin, tan

from drape.body.tape import SLOPE_RANGE, fill_tape
from drape.errors import FigureError

SHOULDER_SETS = ("usual", "square", "sloping")
# rad, 5 % and 95 % of asin(drop/shoulder length), ANSUR 1988, 1,774 men and 2,208 women, report NATICK/TR-89/044
SET_SLOPE = {
    "square": {"man": radians(20.1), "woman": radians(19.2)},
    "sloping": {"man": radians(33.0), "woman": radians(32.0)},
}
NECK_LEAN = radians(20.0)  # forward of vertical; clothing forms are drawn at 15 to 25 degrees (from memory)
MOST_LEAN, LEAST_LEAN = radians(50.0), radians(2.0)
HEAD_FOLLOWS = 0.3  # of a stoop, by so much the head comes further forward than the neck (ours)
CHORD = 0.13  # m, from back to front neck point at a stature of 1.756 (ours): a stoop tips it forward
SLOPES = ("shoulder_slope", "shoulder_slope_left", "shoulder_slope_right")


@dataclass(frozen=True)
class Stance:
    """How a body differs from an upright one, lengths in m."""

    head_forward: float = 0.0  # the head stands so much further forward of the neck's base; negative: further back
    stoop: float = 0.0  # the neck's base stands so much further forward of the waist; negative: held back, erect
    full_chest: float = 0.0  # the chest's girth lies so much further forward
    full_back: float = 0.0  # the shoulder blades stand out so much further
    low_left: float = 0.0  # the left shoulder point lies so much lower than the right
    low_right: float = 0.0
    shoulders: str = "usual"  # one of `SHOULDER_SETS`


UPRIGHT_STANCE = Stance()


def stand(tape: Mapping[str, float], stance: Stance, sex: str) -> dict[str, float]:
    """Return the tape with what the stance says of it: slopes of the shoulders,
    and the front neck point a stoop lowers.

    It sinks by half of what the chord to the back neck point tips (ours). What the tape gives is kept. Raises:
    FigureError where the two contradict each other.
    """
    got = dict(tape)
    if stance.shoulders != "usual":
        told = [key for key in SLOPES if key in tape]
        if told:
            raise FigureError(
                f'figure: stance.shoulders: got "{stance.shoulders}" beside {told[0]} {degrees(tape[told[0]]):.1f} '
                "deg, allowed one of the two. Leave one out."
            )
        by_sex = SET_SLOPE[stance.shoulders]
        got["shoulder_slope"] = by_sex[sex] if sex in by_sex else 0.5 * (by_sex["man"] + by_sex["woman"])
    if stance.low_left or stance.low_right:
        got.update(_uneven(tape, got, stance, sex))
    if stance.stoop > 0.0 and "front_neck_height" not in tape:
        full, _ = fill_tape(got, sex=sex)
        tipped = CHORD * full["stature"] / 1.7558 * sin(atan(bend_rate(full, stance)))
        got = {**{key: full[key] for key in ("back_neck_height", "side_neck_height")}, **got}
        got["front_neck_height"] = full["front_neck_height"] - 0.5 * tipped
    return got


def _uneven(tape: Mapping[str, float], got: Mapping[str, float], stance: Stance, sex: str) -> dict[str, float]:
    """Return the two slopes of shoulders at unlike heights; their mean drop stays."""
    key, lower = ("low_left", stance.low_left) if stance.low_left else ("low_right", stance.low_right)
    if stance.low_left and stance.low_right:
        raise FigureError(
            f"figure: stance.low_left: got {100 * stance.low_left:.1f} cm beside low_right "
            f"{100 * stance.low_right:.1f}, allowed one of the two. Name the lower shoulder only."
        )
    if "shoulder_slope_left" in tape or "shoulder_slope_right" in tape:
        raise FigureError(
            f"figure: stance.{key}: got {100 * lower:.1f} cm beside a slope for each shoulder, allowed one of the two. "
            "Leave one out."
        )
    full, _ = fill_tape(got, sex=sex)
    middle, length = sin(full["shoulder_slope"]), full["shoulder_length"]
    share = 0.5 * lower / length * (1.0 if stance.low_left else -1.0)
    least, most = SLOPE_RANGE
    most_lower = 2.0 * length * min(sin(most) - middle, middle - sin(least))
    if abs(share) > 0.5 * most_lower / length:
        raise FigureError(
            f"figure: stance.{key}: got {100 * lower:.1f} cm, allowed up to {100 * most_lower:.1f} for shoulders "
            f"{100 * length:.1f} long that slope {degrees(full['shoulder_slope']):.0f} deg. Measure both shoulder "
            "points from the floor again."
        )
    return {
        "shoulder_slope": full["shoulder_slope"],
        "shoulder_slope_left": asin(middle + share), "shoulder_slope_right": asin(middle - share),
    }  # fmt: skip


def bend(tape: Mapping[str, float], stance: Stance, height: float) -> float:
    """Return how far forward of an upright body's the trunk's axis lies at a height [m].

    Nothing up to the waist, then growing as the square of the way to the shoulder points, and no more above them.
    """
    low, high = tape["waist_height"], tape["shoulder_point_height"]
    share = min(max((height - low) / (high - low), 0.0), 1.0)
    return stance.stoop * share * share


def bend_rate(tape: Mapping[str, float], stance: Stance) -> float:
    """Return the tangent of the angle by which the trunk leans forward at the shoulder points."""
    return 2.0 * stance.stoop / (tape["shoulder_point_height"] - tape["waist_height"])


def head_ahead(stance: Stance) -> float:
    """Return how far the head is further forward of the neck's base than an upright body's [m]."""
    return stance.head_forward + HEAD_FOLLOWS * stance.stoop


def neck_lean(tape: Mapping[str, float], stance: Stance) -> float:
    """Return the angle of the neck's axis forward of vertical [rad]: it follows the head."""
    rise = 0.75 * (tape["stature"] - 0.5 * (tape["front_neck_height"] + tape["back_neck_height"]))  # to the ears, about
    ahead = head_ahead(stance)
    return min(max(atan(tan(NECK_LEAN) + ahead / rise), LEAST_LEAN), MOST_LEAN) if ahead else NECK_LEAN
