"""Fills in the tape measures that were not taken, and refuses those that contradict each other.

In: some tape measures, SI ([m], slopes [rad]), keys of a body file without their unit suffix. Out: all of them,
and the names of the filled ones: adults by regression (`survey`), children by stated proportions. The shape of the
body is left to `trunk`.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import asin, cos, degrees, pi, sin

from scipy.optimize import brentq

from drape.body.superellipse import oval_girth, squareness_for
from drape.body.survey import HEIGHT_RATIO, MEAN, SECTION_RATIO, SLOPE, expected
from drape.errors import FigureError

REQUIRED = ("stature", "chest_girth", "waist_girth", "hip_girth")
SEXES = ("man", "woman", "child")

CHILD_NECK_GROWTH = 0.5  # a child's neck grows as its chest girth to this power (ours, from memory of growth charts)
CHILD_TRUNK_DROP = {"chest": 0.8, "waist": 0.5, "hip": 0.2}  # share of a child's lower neck at each level (ours)
NECK_WIDTH_RANGE = (0.78, 1.28)  # half-width of the neck base over girth/2 pi; beyond this no neck stands on it (ours)
NATURAL_NECK_WIDTH = 0.95  # where the shoulders are swept back to come nearer to it (ours)
SWEEP_RANGE = (0.08, 0.22)  # how far the shoulder point lies behind the side neck point, over shoulder length (ours)

LEAST_DELTOIDS = 0.016  # m, of the breadth over the upper arms over that between the shoulder points (ours)
LEAST_SQUARENESS, MOST_SQUARENESS = -1.0, 0.93  # of a section given by girth, breadth and depth (ours)

GIRTH_RANGE = {  # m; outside these the unit is wrong or it is no body (ours)
    "stature": (0.85, 2.30), "chest_girth": (0.45, 1.80), "waist_girth": (0.40, 1.80), "hip_girth": (0.45, 1.90),
    "neck_base_girth": (0.24, 0.60), "neck_girth": (0.20, 0.56), "head_girth": (0.44, 0.68),
    "shoulder_length": (0.06, 0.22), "shoulder_breadth": (0.20, 0.52), "upper_arm_breadth": (0.24, 0.72),
}  # fmt: skip
SLOPE_RANGE = (5.0 * pi / 180.0, 42.0 * pi / 180.0)  # rad; the survey's least and greatest are 10 and 42 degrees
SLOPE_KEYS = ("shoulder_slope", "shoulder_slope_left", "shoulder_slope_right")
PLAIN_KEYS = (
    "stature", "back_neck_height", "side_neck_height", "front_neck_height", "shoulder_point_height", "neck_base_girth",
    "neck_girth", "shoulder_length", "shoulder_breadth", "upper_arm_breadth", "chest_girth", "waist_girth",
    "hip_girth", "chest_height", "waist_height", "hip_height", "arm_length", "wrist_height", "knee_height",
    "ankle_height", "head_girth", "head_length", "head_breadth", "chest_breadth", "chest_depth", "waist_breadth",
    "waist_depth", "hip_breadth", "hip_depth",
)  # fmt: skip
TAPE_KEYS = PLAIN_KEYS + SLOPE_KEYS


def fill_tape(tape: Mapping[str, float], *, sex: str) -> tuple[dict[str, float], tuple[str, ...]]:
    """Return every tape measure, those given kept as given, and the names of those filled from the survey.

    Men's and women's come from regression on all that is given (`survey.expected`); breadths and depths of sections
    follow their girth.
    Slope, shoulder length and the drop from side neck point to shoulder point are bound by sin(slope) = drop/length:
    two given make the third. A child is the survey's man or woman mean (halfway) with a longer head for its height.

    Parameters: tape: SI, keys in `TAPE_KEYS`; sex: one of `SEXES`.
    Raises: FigureError when a measure is missing, unknown, out of range, or at odds with another.
    """
    _check_given(tape, sex)
    got = dict(tape)
    stature = got["stature"]
    mean = _child_mean(stature) if sex == "child" else expected(tape, sex)
    scale = stature / mean["stature"]
    _fill_neck_heights(got, mean, scale)
    if sex == "child":
        growth = (got["chest_girth"] / mean["chest_girth"]) ** CHILD_NECK_GROWTH
        got.setdefault("neck_base_girth", mean["neck_base_girth"] * growth)
        got.setdefault("neck_girth", got["neck_base_girth"] * mean["neck_girth"] / mean["neck_base_girth"])
    got.setdefault("neck_base_girth", mean["neck_base_girth"])
    got.setdefault("neck_girth", min(mean["neck_girth"], got["neck_base_girth"]))
    _fill_shoulders(got, mean, scale, sex)
    for level in ("chest", "waist", "hip"):
        height = stature * _ratio(HEIGHT_RATIO, sex, f"{level}_height")
        if sex == "child":
            height -= CHILD_TRUNK_DROP[level] * _child_drop(stature) * scale
        got.setdefault(f"{level}_height", height)
        _fill_section(got, level, sex)
    for key in ("knee_height", "ankle_height"):
        got.setdefault(key, mean[key] * scale)
    _fill_head(got, mean)
    if "wrist_height" in got:
        got.setdefault("arm_length", got["shoulder_point_height"] - got["wrist_height"])
    got.setdefault("arm_length", mean["arm_length"] * scale)
    got.setdefault("wrist_height", got["shoulder_point_height"] - got["arm_length"] * 0.99)
    if sex == "child":
        broad = (
            mean["upper_arm_breadth"]
            / mean["shoulder_breadth"]
            * (got["chest_girth"] / mean["chest_girth"] / scale) ** 0.3
        )
        got.setdefault("upper_arm_breadth", got["shoulder_breadth"] * broad)
    got.setdefault("upper_arm_breadth", max(mean["upper_arm_breadth"], got["shoulder_breadth"] + LEAST_DELTOIDS))
    _check_order(got)
    _check_sections(got)
    _check_shoulders(got)
    filled = tuple(key for key in TAPE_KEYS if key not in tape)
    return {key: float(got[key]) for key in TAPE_KEYS}, filled


def _check_given(tape: Mapping[str, float], sex: str) -> None:
    """Refuse an unknown sex or key, a missing measure, or one out of range."""
    if sex not in SEXES:
        raise FigureError(f"figure: sex: got {sex!r}, allowed {', '.join(SEXES)}. Say which proportions to fill from.")
    for key in tape:
        if key not in TAPE_KEYS:
            raise FigureError(f"figure: tape: got {key!r}, allowed {', '.join(TAPE_KEYS)}. Check the spelling.")
    for key in REQUIRED:
        if key not in tape:
            raise FigureError(
                f"figure: {key}: got nothing, allowed a length in cm. Measure it; it cannot be filled in."
            )
    for key, value in tape.items():
        if key in SLOPE_KEYS:
            low, high = SLOPE_RANGE
            if not low <= value <= high:
                raise FigureError(
                    f"figure: {key}: got {degrees(value):.1f} deg, allowed {degrees(low):.0f} to {degrees(high):.0f}. "
                    "Measure it from the level down."
                )
            continue
        low, high = GIRTH_RANGE.get(key, (0.01, 2.30))
        if not low <= value <= high:
            raise FigureError(
                f"figure: {key}: got {100 * value:.1f} cm, allowed {100 * low:.0f} to {100 * high:.0f}. Check the unit."
            )


def _child_mean(stature: float) -> Mapping[str, float]:
    """Return the stated proportions of a child of a stature, at adult size.

    Ours, from memory of growth charts, no gate: midway between man and woman in all but the head, which is nearly
    full-grown: girth 50 cm at 0.9 m to 55 cm at 1.6 m, and the neck points sit lower by the longer head.
    """
    middle = {key: 0.5 * (MEAN["man"][key] + MEAN["woman"][key]) for key in MEAN["man"]}
    young = min(1.0, max(0.0, (1.60 - stature) / 0.70))
    head_girth = 0.55 - 0.05 * young
    for key in ("head_length", "head_breadth"):
        middle[key] *= head_girth / middle["head_girth"]
    middle["head_girth"] = head_girth
    lower = _child_drop(stature)
    for key in ("back_neck_height", "side_neck_height", "front_neck_height", "shoulder_point_height"):
        middle[key] -= lower
    for key in ("knee_height", "arm_length"):
        middle[key] *= 1.0 - 0.05 * young
    return middle


def _child_drop(stature: float) -> float:
    """Return how much lower a child's neck points sit, scaled up to adult stature [m]: 5.5 % of it at 0.9 m (ours)."""
    young = min(1.0, max(0.0, (1.60 - stature) / 0.70))
    return young * 0.055 * 0.5 * (MEAN["man"]["stature"] + MEAN["woman"]["stature"])


def _ratio(table: Mapping[str, Mapping[str, float]], sex: str, key: str) -> float:
    """Return a survey ratio, midway for a child."""
    return table[sex][key] if sex in table else 0.5 * (table["man"][key] + table["woman"][key])


def _fill_section(got: dict[str, float], level: str, sex: str) -> None:
    """Fill breadth and depth at a level from its girth; one of them given, the other keeps an ordinary oval.

    A child has a man's sections.
    """
    girth, breadth_key, depth_key = got[f"{level}_girth"], f"{level}_breadth", f"{level}_depth"
    breadth, depth = SECTION_RATIO["woman" if sex == "woman" else "man"][level]
    usual = squareness_for(1.0, breadth, depth)
    if breadth_key in got and depth_key not in got:
        got[depth_key] = _other_side(girth, got[breadth_key], usual, depth)
    elif depth_key in got and breadth_key not in got:
        got[breadth_key] = _other_side(girth, got[depth_key], usual, breadth)
    got.setdefault(breadth_key, breadth * girth)
    got.setdefault(depth_key, depth * girth)


def _other_side(girth: float, one: float, squareness: float, share: float) -> float:
    """Return the depth of an oval [m] of a girth and breadth, or the breadth by the depth;
    `share` of girth if none fits.
    """
    low, high = 0.10 * girth, 0.42 * girth
    if not oval_girth(one, low, squareness) < girth < oval_girth(one, high, squareness):
        return share * girth
    return float(brentq(lambda other: oval_girth(one, other, squareness) - girth, low, high, xtol=1e-6))


def _fill_head(got: dict[str, float], mean: Mapping[str, float]) -> None:
    """Fill head length, breadth and girth: as expected, then length and breadth stretched to fit the girth."""
    if "head_girth" not in got:
        got["head_girth"] = mean["head_girth"]
    given = [key for key in ("head_length", "head_breadth") if key in got]
    fit = got["head_girth"] / mean["head_girth"]
    for key in ("head_length", "head_breadth"):
        got.setdefault(key, mean[key] * (1.0 if given else fit))


def _fill_neck_heights(got: dict[str, float], mean: Mapping[str, float], scale: float) -> None:
    """Fill the three neck-point heights, each from the nearest one given, else from stature."""
    keys = ("back_neck_height", "side_neck_height", "front_neck_height")
    given = [key for key in keys if key in got]
    if not given:
        if "shoulder_point_height" in got:
            drop = (mean["side_neck_height"] - mean["shoulder_point_height"]) * scale
            got["side_neck_height"] = got["shoulder_point_height"] + drop
            given = ["side_neck_height"]
        else:
            got["back_neck_height"] = mean["back_neck_height"] * scale
            given = ["back_neck_height"]
    for key in keys:
        if key not in got:
            near = min(given, key=lambda other: abs(mean[key] - mean[other]))
            got[key] = got[near] + (mean[key] - mean[near]) * scale


def _fill_shoulders(got: dict[str, float], mean: Mapping[str, float], scale: float, sex: str) -> None:
    """Fill slope, shoulder length, shoulder-point height and breadth so that they agree."""
    left, right = got.get("shoulder_slope_left"), got.get("shoulder_slope_right")
    if "shoulder_slope" not in got:
        one = left if right is None else right
        if left is not None and right is not None:
            got["shoulder_slope"] = 0.5 * (left + right)
        elif one:
            got["shoulder_slope"] = one
    neck_width = 0.985 * got["neck_base_girth"] / (2.0 * pi)
    drop = got["side_neck_height"] - got["shoulder_point_height"] if "shoulder_point_height" in got else None
    if drop is not None and drop <= 0.0:
        raise FigureError(
            f"figure: shoulder_point_height: got {100 * got['shoulder_point_height']:.1f} cm, allowed below the side "
            f"neck point at {100 * got['side_neck_height']:.1f}. Measure both heights again."
        )
    if "shoulder_length" not in got:
        slope = got.get("shoulder_slope", _ratio({s: {"slope": v} for s, v in SLOPE.items()}, sex, "slope"))
        if "shoulder_slope" in got and drop is not None:
            got["shoulder_length"] = drop / sin(slope)
        elif "shoulder_breadth" in got:
            got["shoulder_length"] = (0.5 * got["shoulder_breadth"] - neck_width) / cos(slope)
        else:
            got["shoulder_length"] = mean["shoulder_length"] * scale
    length = got["shoulder_length"]
    if "shoulder_slope" not in got:
        if drop is None:
            got["shoulder_slope"] = _ratio({s: {"slope": v} for s, v in SLOPE.items()}, sex, "slope")
        elif drop < 0.8 * length:
            got["shoulder_slope"] = asin(drop / length)
        else:
            raise FigureError(
                f"figure: shoulder_length: got {100 * length:.1f} cm, allowed above {100 * drop / 0.8:.1f} for a "
                f"shoulder point {100 * drop:.1f} cm below the side neck point. Measure the shoulder heights again."
            )
    for key in ("shoulder_slope_left", "shoulder_slope_right"):
        got.setdefault(key, got["shoulder_slope"])
    by_slope = 0.5 * length * (sin(got["shoulder_slope_left"]) + sin(got["shoulder_slope_right"]))
    if drop is None:
        got["shoulder_point_height"] = got["side_neck_height"] - by_slope
    elif abs(drop - by_slope) > 0.012:
        raise FigureError(
            f"figure: shoulder_slope: got {degrees(got['shoulder_slope']):.1f} deg, a drop of {100 * by_slope:.1f} cm "
            f"over {100 * length:.1f}, allowed within 1.2 of the {100 * drop:.1f} cm between the heights of side neck "
            "point and shoulder point. Leave out one of the three."
        )
    reach = 0.5 * length * (cos(got["shoulder_slope_left"]) + cos(got["shoulder_slope_right"]))
    got.setdefault("shoulder_breadth", 2.0 * (neck_width + reach))


def shoulder_sweep(tape: Mapping[str, float]) -> float:
    """Return how far the shoulder points lie behind the side neck points, over the shoulder length.

    Breadth, length and slope are taken in different postures; where they leave the neck base narrow the shoulders are
    swept back as far as a body's may be, which shortens their way to the side.
    """
    length = tape["shoulder_length"]
    cosine = 0.5 * (cos(tape["shoulder_slope_left"]) + cos(tape["shoulder_slope_right"]))
    natural = 0.5 * tape["shoulder_breadth"] - NATURAL_NECK_WIDTH * tape["neck_base_girth"] / (2.0 * pi)
    least, most = SWEEP_RANGE
    return min(max(cosine**2 - (max(natural, 0.0) / length) ** 2, least**2), most**2) ** 0.5


def neck_half_width(tape: Mapping[str, float]) -> float:
    """Return the half-width of the neck base [m] that shoulder breadth, length, slope and sweep leave.

    In twelve records of ANSUR 1988 it is 0.81 to 1.23 of the neck-base girth over 2 pi.
    """
    length, sweep = tape["shoulder_length"], shoulder_sweep(tape)
    reach = sum((cos(tape[f"shoulder_slope_{side}"]) ** 2 - sweep**2) ** 0.5 for side in ("left", "right"))
    return 0.5 * (tape["shoulder_breadth"] - length * reach)


def _check_shoulders(got: Mapping[str, float]) -> None:
    """Refuse shoulder length, breadth and slope that leave no room for the neck's girth, or too much."""
    radius = got["neck_base_girth"] / (2.0 * pi)
    width = neck_half_width(got)
    least, most = (share * radius for share in NECK_WIDTH_RANGE)
    if not least <= width <= most:
        off = 2.0 * (least - width) if width < least else 2.0 * (width - most)
        raise FigureError(
            f"figure: shoulder_breadth: got {100 * got['shoulder_breadth']:.1f} cm, {100 * off:.1f} too "
            f"{'narrow' if width < least else 'broad'}: with shoulder_length {100 * got['shoulder_length']:.1f} at a "
            f"slope of {degrees(got['shoulder_slope']):.1f} deg it leaves a neck {200 * width:.1f} wide, allowed "
            f"{200 * least:.1f} to {200 * most:.1f} for neck_base_girth {100 * got['neck_base_girth']:.1f}. Measure "
            "the four again, or leave one out."
        )
    if got["upper_arm_breadth"] < got["shoulder_breadth"] + LEAST_DELTOIDS - 1e-9:
        raise FigureError(
            f"figure: upper_arm_breadth: got {100 * got['upper_arm_breadth']:.1f} cm, allowed from "
            f"{100 * (got['shoulder_breadth'] + LEAST_DELTOIDS):.1f} for shoulder_breadth "
            f"{100 * got['shoulder_breadth']:.1f}. Measure it across the widest part of the upper arms."
        )


def _check_sections(got: Mapping[str, float]) -> None:
    """Refuse a girth that no section of that breadth and depth has, of chest, waist, hip or head."""
    for name, depth_key in (("chest", "depth"), ("waist", "depth"), ("hip", "depth"), ("head", "length")):
        girth, breadth, depth = got[f"{name}_girth"], got[f"{name}_breadth"], got[f"{name}_{depth_key}"]
        least, most = oval_girth(breadth, depth, LEAST_SQUARENESS), oval_girth(breadth, depth, MOST_SQUARENESS)
        if not least <= girth <= most or not 0.4 < breadth / depth < 2.6:
            raise FigureError(
                f"figure: {name}_girth: got {100 * girth:.1f} cm, allowed {100 * least:.1f} to {100 * most:.1f} round "
                f"a breadth of {100 * breadth:.1f} and a {depth_key} of {100 * depth:.1f}. Leave out {name}_breadth or "
                f"{name}_{depth_key}."
            )


def _check_order(got: Mapping[str, float]) -> None:
    """Refuse heights out of order, or girths no one body has."""
    ladder = (
        "ankle_height", "knee_height", "hip_height", "waist_height", "chest_height", "front_neck_height",
        "side_neck_height", "stature",
    )  # fmt: skip
    for lower, upper in zip(ladder, ladder[1:], strict=False):
        if got[upper] - got[lower] < 0.02:
            raise FigureError(
                f"figure: {lower}: got {100 * got[lower]:.1f} cm, allowed at least 2 below {upper} at "
                f"{100 * got[upper]:.1f}. Measure both from the floor."
            )
    pairs = (
        ("back_neck_height", "front_neck_height", 0.02, 0.16),
        ("back_neck_height", "side_neck_height", -0.03, 0.06),
    )
    for upper, lower, least, most in pairs:
        drop = got[upper] - got[lower]
        if not least <= drop <= most:
            raise FigureError(
                f"figure: {lower}: got {100 * got[lower]:.1f} cm, {100 * drop:.1f} below {upper}, allowed "
                f"{100 * least:.0f} to {100 * most:.0f} below. Measure both from the floor."
            )
    for small, large, ratio in (("neck_girth", "neck_base_girth", 1.05), ("neck_base_girth", "chest_girth", 0.62)):
        if got[small] > ratio * got[large]:
            raise FigureError(
                f"figure: {small}: got {100 * got[small]:.1f} cm, allowed up to {100 * ratio * got[large]:.1f} for "
                f"{large} {100 * got[large]:.1f}. Measure both again."
            )
