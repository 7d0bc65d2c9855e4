"""The form for a body of one's own: every tape measure, how it is taken, its usual range, and which to take first.

In: nothing but what surveys say of grown people. Out: the text that `drape new --kind body` writes, a body file once
the numbers stand in it, and the measures in the order of their numbers. Where each tape runs is drawn by `body_card`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from drape.body.survey import HEIGHT_RATIO, SECTION_RATIO, SLOPE, SURVEY
from drape.body.tape import REQUIRED
from drape.fitting.scene_keys import BODY_TABLES, TAPE_KEYS
from drape.schema import Number, plain_number
from drape.units import bare_name


@dataclass(frozen=True)
class Measure:
    """One measure: its key without unit, and how it is taken."""

    name: str
    how: str

    @property
    def words(self) -> str:
        return self.name.replace("_", " ")


FIRST: Final = (
    Measure("stature", "body height: from the floor to the crown of the head, without shoes"),
    Measure("chest_girth", "bust; level round the fullest part of the chest, under the arms"),
    Measure("waist_girth", "level round the natural waist"),
    Measure("hip_girth", "seat; level round the fullest part"),
)
NEXT: Final = (
    Measure(
        "neck_base_girth",
        "round the base of the neck, where a chain lies; over the places of 8 behind, 13 at the sides, 9 in front",
    ),
    Measure("shoulder_length", "from the side of the neck base, 13, to the shoulder point, 14"),
    Measure(
        "shoulder_slope",
        "how far that line falls below the level; lay a ruler along it and a level on the ruler; left and right where "
        "they differ",
    ),
    Measure("back_neck_height", "from the floor to the bone that stands out at the nape when the head bows"),
    Measure("front_neck_height", "from the floor to the pit of the neck, between the collarbones"),
    Measure(
        "shoulder_breadth", "straight across from shoulder point to shoulder point, not over the curve of the back"
    ),
    Measure("upper_arm_breadth", "straight across both upper arms where they are widest, arms hanging"),
)
REST: Final = (
    Measure("neck_girth", "round the neck at half its height, square to it"),
    Measure("side_neck_height", "from the floor to the side of the neck base, where the shoulder begins"),
    Measure("shoulder_point_height", "from the floor to the bone at the shoulder's end"),
    Measure("chest_height", "from the floor to the level of the chest girth"),
    Measure("waist_height", "from the floor to the level of the waist girth"),
    Measure("hip_height", "from the floor to the level of the hip girth"),
    Measure("knee_height", "from the floor to the middle of the kneecap"),
    Measure("ankle_height", "from the floor to the outer ankle bone"),
    Measure("arm_length", "from the shoulder point down the hanging arm to the wrist bone"),
    Measure("wrist_height", "from the floor to the wrist bone, the arm hanging"),
    Measure("head_girth", "round the head over the brow, where a hat sits"),
    Measure("head_length", "straight from brow to back of the head; with a book before and behind it"),
    Measure("head_breadth", "straight across the head above the ears"),
    Measure("chest_breadth", "straight across the chest without the arms, at the level of its girth"),
    Measure("chest_depth", "straight from front to back there"),
    Measure("waist_breadth", "straight across the waist"),
    Measure("waist_depth", "straight from front to back there"),
    Measure("hip_breadth", "straight across the hips, at the level of their girth"),
    Measure("hip_depth", "straight from front to back there"),
)
MEASURES: Final = (*FIRST, *NEXT, *REST)
NUMBER: Final = {measure.name: number for number, measure in enumerate(MEASURES, start=1)}
SIDES: Final = ("shoulder_slope_left", "shoulder_slope_right")  # stand beside shoulder_slope

SPREAD: Final = 2.0  # standard deviations: 19 of 20
SLOPE_SPREAD: Final = math.radians(
    4.0
)  # of the shoulder's slope; the survey's least and greatest are 10 and 42 degrees (ours)


def usual_range(name: str, sex: str) -> tuple[float, float]:
    """The range [m, rad] that holds 19 of 20 grown people: mean and spread of the survey.

    Where it gives a share of another measure only, that share of the other's range. name: a tape key without unit; sex:
    "woman" or "man". Source: see `survey`.
    """
    if name in SURVEY[sex]:
        mean, spread = SURVEY[sex][name]
        return mean - SPREAD * spread, mean + SPREAD * spread
    if name.startswith("shoulder_slope"):
        return SLOPE[sex] - SPREAD * SLOPE_SPREAD, SLOPE[sex] + SPREAD * SLOPE_SPREAD
    if name in HEIGHT_RATIO[sex]:
        share, whole = HEIGHT_RATIO[sex][name], "stature"
    else:
        level, _, side = name.partition("_")
        share, whole = SECTION_RATIO[sex][level][("breadth", "depth").index(side)], f"{level}_girth"
    low, high = usual_range(whole, sex)
    return share * low, share * high


def body_form(file: str, card: str) -> str:
    """The form's text. file: what it will be called; card: what the drawing beside it is called."""
    few = [
        "# Usual: 19 of 20 grown women, and men, by survey; a child's are smaller. "
        "Accepted: what drape takes without a complaint.",
        "",
        "# These four are due.",
        *_lines(FIRST),
    ]
    then = ["# Take these next: the neck and the shoulders decide how a cloak sits.", *_lines(NEXT)]
    rest = ["# The rest, as many as you like.", *_lines(REST)]
    head = HEAD.replace("FILE", file).replace("CARD", card)
    return "\n".join([head, *few, *then, *rest]) + FOOT


def _lines(measures: tuple[Measure, ...]) -> list[str]:
    """For each measure how it is taken, its ranges, and the line to write it on; a blank line after each."""
    lines = []
    for measure in measures:
        keys = [key for key in TAPE_KEYS if bare_name(key) == measure.name]
        keys += [key for key in TAPE_KEYS if bare_name(key) in SIDES] if measure.name == "shoulder_slope" else []
        lines += [f"# {NUMBER[measure.name]}. {measure.words[0].upper()}{measure.words[1:]}: {measure.how}."]
        lines += [f"#    {_ranges(keys[0])}"]
        lines += [f"{key} =" if measure.name in REQUIRED else f"# {key} =" for key in keys]
        lines += [""]
    return lines


def _ranges(key: str) -> str:
    """`Usual: women 150 to 176, men 162 to 189. Accepted: 80 to 230 cm.`"""
    usual = []
    for words, sex in (("women", "woman"), ("men", "man")):
        low, high = usual_range(bare_name(key), sex)
        size = 180.0 / math.pi if key.endswith("_deg") else 100.0
        usual.append(f"{words} {size * low:.0f} to {size * high:.0f}")
    rule = BODY_TABLES["tape"].keys[key]
    low, high = (rule.low, rule.high) if isinstance(rule, Number) else (0.0, 0.0)
    unit = "°" if key.endswith("_deg") else " cm"
    return f"Usual: {', '.join(usual)}. Accepted: {plain_number(low)} to {plain_number(high)}{unit}."


HEAD: Final = """\
# A body for drape: the tape measures of one person. CARD shows where each tape runs, by the numbers here.
# Write the number after the = and take the # away before it: in cm, with a point, as in  shoulder_length_cm = 12.5
# Measure over what is worn under the cloak only if you leave [worn_under] out. Stand upright, weight on both feet.
# What you leave out is filled from surveys, and marked as filled. Look at what came of it:  drape measure FILE
# Then make a scene for this body:  drape new mine.toml --body FILE

[figure]
sex = "woman"                     # or "man", or "child": whose proportions fill in what was not measured
# name = "Our lamp bearer"
# source = "taped by whom, and when"

[tape]"""

FOOT: Final = """\

# [stance]                        # how the body differs from an upright one
# stoop_cm = 4.0                  # the neck stands so much further forward of the waist
# head_forward_cm = 2.0
# full_back_cm = 1.5              # or full_chest_cm
# low_right_cm = 1.0              # the right shoulder point lies so much lower; or low_left_cm

# [worn_under]                    # what lies between body and cloak
# kind = "jacket"                 # or "padded coat"
"""
