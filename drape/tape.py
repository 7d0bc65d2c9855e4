"""Fills in the tape measures that were not taken, and refuses those that contradict each other.

In: some tape measures, SI ([m], slopes [rad]), keys of a body file without their unit suffix. Out: all of them,
and the names of the filled ones. Filling follows the proportions of a survey, conditioned on stature for heights
and lengths and on the nearest girth for girths. The shape of the body is left to `shape`.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import asin, cos, degrees, log, pi, sin

from drape.errors import FigureError

REQUIRED = ("stature", "chest_girth", "waist_girth", "hip_girth")
SEXES = ("man", "woman", "child")

# Means [m] of the ANSUR 1988 survey, 1,774 men and 2,208 women, report NATICK/TR-89/044.
SURVEY = {
    "man": {
        "stature": 1.7558, "back_neck_height": 1.5194, "side_neck_height": 1.5095, "shoulder_point_height": 1.4425,
        "front_neck_height": 1.4384, "shoulder_length": 0.1505, "shoulder_breadth": 0.3970,
        "upper_arm_breadth": 0.4918, "neck_base_girth": 0.4084, "neck_girth": 0.3796, "chest_girth": 0.9914,
        "waist_girth": 0.8399, "hip_girth": 0.9837, "knee_height": 0.5048, "ankle_height": 0.0671,
        "head_girth": 0.5677, "head_length": 0.1971, "head_breadth": 0.1517, "arm_length": 0.6015,
    },
    "woman": {
        "stature": 1.6294, "back_neck_height": 1.4080, "side_neck_height": 1.3965, "shoulder_point_height": 1.3336,
        "front_neck_height": 1.3303, "shoulder_length": 0.1447, "shoulder_breadth": 0.3626,
        "upper_arm_breadth": 0.4326, "neck_base_girth": 0.3462, "neck_girth": 0.3157, "chest_girth": 0.9071,
        "waist_girth": 0.7255, "hip_girth": 0.9669, "knee_height": 0.4587, "ankle_height": 0.0606,
        "head_girth": 0.5462, "head_length": 0.1872, "head_breadth": 0.1444, "arm_length": 0.5472,
    },
}  # fmt: skip
SURVEY_SLOPE = {"man": 26.4 * pi / 180.0, "woman": 25.7 * pi / 180.0}  # rad, ANSUR 1988, asin(drop/shoulder length)

# Height over stature: chest and natural waist are means of six records each of ANSUR 1988; hip is the hip-joint
# height of ANSUR II (2012), report NATICK/TR-15/007, lowered by 1 % of stature to the fullest seat (ours); wrist ANSUR II.
HEIGHT_RATIO = {
    "man": {"chest_height": 0.7232, "waist_height": 0.6367, "hip_height": 0.503, "wrist_height": 0.4826},
    "woman": {"chest_height": 0.7151, "waist_height": 0.6373, "hip_height": 0.509, "wrist_height": 0.4877},
}
# Breadth and depth over girth: waist and hip are means of six records each of ANSUR 1988. Chest breadth in that survey
# takes in the muscles beside the arms, in ANSUR II it does not; the figure stands between the two (ours).
SECTION_RATIO = {
    "man": {"chest": (0.308, 0.248), "waist": (0.361, 0.258), "hip": (0.349, 0.249)},
    "woman": {"chest": (0.297, 0.262), "waist": (0.369, 0.254), "hip": (0.355, 0.236)},
}
NECK_GROWTH = 0.37  # neck-base girth grows as chest girth to this power: least squares over twelve records of ANSUR 1988
CHILD_NECK_GROWTH = 0.5  # the same from adult mean down to a child (ours, from memory of growth charts)
CHILD_TRUNK_DROP = {"chest": 0.8, "waist": 0.5, "hip": 0.2}  # share of a child's lower neck at each level (ours)
HEAD_GROWTH = 0.35  # head measures grow as stature to this power among adults: ours
NECK_WIDTH_RANGE = (0.82, 1.14)  # half-width of the neck base over girth/2 pi; beyond this no neck stands on it (ours)

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

    Heights and lengths follow stature; neck girths follow chest girth; breadths and depths follow their girth.
    Slope, shoulder length and the drop from side neck point to shoulder point are bound by sin(slope) = drop/length:
    two given make the third. A child is the survey's man or woman mean (halfway) with a longer head for its height.

    Parameters: tape: SI, keys in `TAPE_KEYS`; sex: one of `SEXES`.
    Raises: FigureError when a measure is missing, unknown, out of range, or at odds with another.
    """
    _check_given(tape, sex)
    got = dict(tape)
    stature = got["stature"]
    mean = _survey_mean(sex, stature)
    scale = stature / mean["stature"]
    _fill_neck_heights(got, mean, scale)
    growth = CHILD_NECK_GROWTH if sex == "child" else NECK_GROWTH
    got.setdefault("neck_base_girth", mean["neck_base_girth"] * (got["chest_girth"] / mean["chest_girth"]) ** growth)
    got.setdefault("neck_girth", got["neck_base_girth"] * mean["neck_girth"] / mean["neck_base_girth"])
    _fill_shoulders(got, mean, scale, sex)
    for level in ("chest", "waist", "hip"):
        height = stature * _ratio(HEIGHT_RATIO, sex, f"{level}_height")
        if sex == "child":
            height -= CHILD_TRUNK_DROP[level] * _child_drop(stature) * scale
        got.setdefault(f"{level}_height", height)
        breadth, depth = _section_ratio(sex, level)
        got.setdefault(f"{level}_breadth", breadth * got[f"{level}_girth"])
        got.setdefault(f"{level}_depth", depth * got[f"{level}_girth"])
    for key in ("knee_height", "ankle_height"):
        got.setdefault(key, mean[key] * scale)
    head = 1.0 if sex == "child" else scale**HEAD_GROWTH
    got.setdefault("head_girth", mean["head_girth"] * head)
    for key in ("head_length", "head_breadth"):
        got.setdefault(key, mean[key] * got["head_girth"] / mean["head_girth"])
    if "wrist_height" in got:
        got.setdefault("arm_length", got["shoulder_point_height"] - got["wrist_height"])
    got.setdefault("arm_length", mean["arm_length"] * scale)
    got.setdefault("wrist_height", got["shoulder_point_height"] - got["arm_length"] * 0.99)
    broad = mean["upper_arm_breadth"] / mean["shoulder_breadth"] * (got["chest_girth"] / mean["chest_girth"] / scale) ** 0.3
    got.setdefault("upper_arm_breadth", got["shoulder_breadth"] * broad)
    _check_order(got)
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
            raise FigureError(f"figure: {key}: got nothing, allowed a length in cm. Measure it; it cannot be filled in.")
    for key, value in tape.items():
        if key in SLOPE_KEYS:
            low, high = SLOPE_RANGE
            if not low <= value <= high:
                raise FigureError(
                    f"figure: {key}: got {degrees(value):.1f} deg, allowed {degrees(low):.0f} to {degrees(high):.0f}. "
                    "Measure below the horizontal."
                )
            continue
        low, high = GIRTH_RANGE.get(key, (0.01, 2.30))
        if not low <= value <= high:
            raise FigureError(
                f"figure: {key}: got {100 * value:.1f} cm, allowed {100 * low:.0f} to {100 * high:.0f}. Check the unit."
            )


def _survey_mean(sex: str, stature: float) -> Mapping[str, float]:
    """Return the survey's means for a sex, or the stated proportions of a child of that stature.

    Child (ours, from memory of growth charts, no gate): midway between man and woman in all but the head, which is
    nearly full-grown: girth 50 cm at 0.9 m to 55 cm at 1.6 m, and the neck points sit lower by the longer head.
    """
    if sex != "child":
        return SURVEY[sex]
    middle = {key: 0.5 * (SURVEY["man"][key] + SURVEY["woman"][key]) for key in SURVEY["man"]}
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
    return young * 0.055 * 0.5 * (SURVEY["man"]["stature"] + SURVEY["woman"]["stature"])


def _ratio(table: Mapping[str, Mapping[str, float]], sex: str, key: str) -> float:
    """Return a survey ratio, midway for a child."""
    return table[sex][key] if sex in table else 0.5 * (table["man"][key] + table["woman"][key])


def _section_ratio(sex: str, level: str) -> tuple[float, float]:
    """Return breadth and depth over girth at a level; a child has a man's sections."""
    return SECTION_RATIO["woman" if sex == "woman" else "man"][level]


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
    slopes = [got.get("shoulder_slope_left"), got.get("shoulder_slope_right")]
    if "shoulder_slope" not in got and None not in slopes:
        got["shoulder_slope"] = 0.5 * (slopes[0] + slopes[1])
    elif "shoulder_slope" not in got and any(slopes):
        got["shoulder_slope"] = slopes[0] if slopes[1] is None else slopes[1]
    neck_width = 0.985 * got["neck_base_girth"] / (2.0 * pi)
    drop = got["side_neck_height"] - got["shoulder_point_height"] if "shoulder_point_height" in got else None
    if drop is not None and drop <= 0.0:
        raise FigureError(
            f"figure: shoulder_point_height: got {100 * got['shoulder_point_height']:.1f} cm, allowed below the side neck "
            f"point at {100 * got['side_neck_height']:.1f}. Measure both heights again."
        )
    if "shoulder_length" not in got:
        slope = got.get("shoulder_slope", _ratio({s: {"slope": v} for s, v in SURVEY_SLOPE.items()}, sex, "slope"))
        if "shoulder_slope" in got and drop is not None:
            got["shoulder_length"] = drop / sin(slope)
        elif "shoulder_breadth" in got:
            got["shoulder_length"] = (0.5 * got["shoulder_breadth"] - neck_width) / cos(slope)
        else:
            got["shoulder_length"] = mean["shoulder_length"] * scale
    length = got["shoulder_length"]
    if "shoulder_slope" not in got:
        if drop is None:
            got["shoulder_slope"] = _ratio({s: {"slope": v} for s, v in SURVEY_SLOPE.items()}, sex, "slope")
        elif drop < 0.8 * length:
            got["shoulder_slope"] = asin(drop / length)
        else:
            raise FigureError(
                f"figure: shoulder_length: got {100 * length:.1f} cm, allowed above {100 * drop / 0.8:.1f} for a shoulder "
                f"point {100 * drop:.1f} cm below the side neck point. Measure the shoulder heights again."
            )
    for key, slope in zip(("shoulder_slope_left", "shoulder_slope_right"), slopes, strict=True):
        if slope is None:
            got[key] = got["shoulder_slope"]
    by_slope = 0.5 * length * (sin(got["shoulder_slope_left"]) + sin(got["shoulder_slope_right"]))
    if drop is None:
        got["shoulder_point_height"] = got["side_neck_height"] - by_slope
    elif abs(drop - by_slope) > 0.012:
        raise FigureError(
            f"figure: shoulder_slope: got {degrees(got['shoulder_slope']):.1f} deg, a drop of {100 * by_slope:.1f} cm over "
            f"{100 * length:.1f}, allowed within 1.2 of the {100 * drop:.1f} cm between the heights of side neck point and "
            "shoulder point. Leave out one of the three."
        )
    reach = 0.5 * length * (cos(got["shoulder_slope_left"]) + cos(got["shoulder_slope_right"]))
    got.setdefault("shoulder_breadth", 2.0 * (neck_width + reach))


def neck_half_width(tape: Mapping[str, float]) -> float:
    """Return the half-width of the neck base [m] that shoulder breadth, length and slope leave, kept near girth/2 pi.

    Breadth and length are taken in different postures and do not always agree (ANSUR 1988: they leave 50 to 82 mm);
    the neck must still close round its girth, so the breadth gives way.
    """
    reach = 0.5 * tape["shoulder_length"] * (cos(tape["shoulder_slope_left"]) + cos(tape["shoulder_slope_right"]))
    radius = tape["neck_base_girth"] / (2.0 * pi)
    return min(max(0.5 * tape["shoulder_breadth"] - reach, NECK_WIDTH_RANGE[0] * radius), NECK_WIDTH_RANGE[1] * radius)


def _check_order(got: Mapping[str, float]) -> None:
    """Refuse heights out of order, or girths no one body has."""
    ladder = (
        "ankle_height", "knee_height", "hip_height", "waist_height", "chest_height", "front_neck_height",
        "side_neck_height", "stature",
    )  # fmt: skip
    for lower, upper in zip(ladder, ladder[1:], strict=False):
        if got[upper] - got[lower] < 0.02:
            raise FigureError(
                f"figure: {lower}: got {100 * got[lower]:.1f} cm, allowed at least 2 below {upper} at {100 * got[upper]:.1f}. "
                "Measure both from the floor."
            )
    pairs = (("back_neck_height", "front_neck_height", 0.02, 0.16), ("back_neck_height", "side_neck_height", -0.03, 0.06))
    for upper, lower, least, most in pairs:
        drop = got[upper] - got[lower]
        if not least <= drop <= most:
            raise FigureError(
                f"figure: {lower}: got {100 * got[lower]:.1f} cm, {100 * drop:.1f} below {upper}, allowed {100 * least:.0f} to "
                f"{100 * most:.0f} below. Measure both from the floor."
            )
    for small, large, ratio in (("neck_girth", "neck_base_girth", 1.05), ("neck_base_girth", "chest_girth", 0.62)):
        if got[small] > ratio * got[large]:
            raise FigureError(
                f"figure: {small}: got {100 * got[small]:.1f} cm, allowed up to {100 * ratio * got[large]:.1f} for "
                f"{large} {100 * got[large]:.1f}. Measure both again."
            )
    for level in ("chest", "waist", "hip"):
        girth, breadth, depth = (got[f"{level}_{what}"] for what in ("girth", "breadth", "depth"))
        if not 1.9 * max(breadth, depth) < girth < 2.0 * (breadth + depth) or abs(log(breadth / depth)) > log(2.6):
            raise FigureError(
                f"figure: {level}_breadth: got {100 * breadth:.1f} cm with depth {100 * depth:.1f} and girth {100 * girth:.1f}, "
                f"allowed a girth between twice the breadth and twice breadth plus depth. Leave out breadth and depth."
            )
