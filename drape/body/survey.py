"""What surveys say of bodies: means, spreads, and what one measure says of another.

In: some tape measures [m] of a man or woman. Out: what to expect of the others, by linear regression. Heights follow
each other by the survey's own spreads of their differences; the other correlations are ours.
Children are left to `tape`.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import pi

import numpy as np

# Mean and standard deviation [m], ANSUR 1988, 1,774 men and 2,208 women, report NATICK/TR-89/044.
SURVEY = {
    "man": {
        "stature": (1.7558, 0.0668), "back_neck_height": (1.5194, 0.0628), "side_neck_height": (1.5095, 0.0616),
        "shoulder_point_height": (1.4425, 0.0620), "front_neck_height": (1.4384, 0.0593),
        "shoulder_length": (0.1505, 0.0110), "shoulder_breadth": (0.3970, 0.0180),
        "upper_arm_breadth": (0.4918, 0.0259), "neck_base_girth": (0.4084, 0.0205), "neck_girth": (0.3796, 0.0197),
        "chest_girth": (0.9914, 0.0691), "waist_girth": (0.8399, 0.0740), "hip_girth": (0.9837, 0.0622),
        "knee_height": (0.5048, 0.0276), "ankle_height": (0.0671, 0.0055), "head_girth": (0.5677, 0.0154),
        "head_length": (0.1971, 0.0071), "head_breadth": (0.1517, 0.0054), "arm_length": (0.6015, 0.0307),
    },
    "woman": {
        "stature": (1.6294, 0.0636), "back_neck_height": (1.4080, 0.0592), "side_neck_height": (1.3965, 0.0584),
        "shoulder_point_height": (1.3336, 0.0579), "front_neck_height": (1.3303, 0.0560),
        "shoulder_length": (0.1447, 0.0108), "shoulder_breadth": (0.3626, 0.0174),
        "upper_arm_breadth": (0.4326, 0.0226), "neck_base_girth": (0.3462, 0.0163), "neck_girth": (0.3157, 0.0153),
        "chest_girth": (0.9071, 0.0635), "waist_girth": (0.7255, 0.0630), "hip_girth": (0.9669, 0.0602),
        "knee_height": (0.4587, 0.0261), "ankle_height": (0.0606, 0.0053), "head_girth": (0.5462, 0.0147),
        "head_length": (0.1872, 0.0064), "head_breadth": (0.1444, 0.0049), "arm_length": (0.5472, 0.0303),
    },
}  # fmt: skip
MEAN = {sex: {key: mean for key, (mean, _) in table.items()} for sex, table in SURVEY.items()}
SLOPE = {"man": 26.4 * pi / 180.0, "woman": 25.7 * pi / 180.0}  # rad, the same survey, asin(drop/shoulder length)

# Standard deviations of drops [m], the same survey: back to side neck point, side to front neck point, side neck point
# to shoulder point. Taken as independent they give 12.4 and 13.7 mm (men) for back to front neck and back neck to
# shoulder point; the survey says 12.5 and 14.0.
DROP_SPREAD = {"man": (0.0071, 0.0102, 0.0117), "woman": (0.0077, 0.0091, 0.0111)}
# Of stature less back neck height [m]: ANSUR II (2012), 4,082 men and 1,986 women, report NATICK/TR-15/007.
HEAD_SPREAD = {"man": 0.0129, "woman": 0.0119}

# Height over stature: chest and natural waist are means of six records each of ANSUR 1988; hip is the hip-joint height
# of ANSUR II, lowered by 1 % of stature to the fullest seat (ours); wrist ANSUR II.
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

# Correlation of each measure with stature, with fullness at equal stature, with the neck's own size and the head's.
# Ours, none of it published: set from the twelve records of ANSUR 1988 in tests/published and from memory.
LOADINGS = {
    "shoulder_length": (0.40, 0.00, 0.0, 0.0), "shoulder_breadth": (0.50, 0.30, 0.0, 0.0),
    "upper_arm_breadth": (0.35, 0.75, 0.0, 0.0), "neck_base_girth": (0.25, 0.62, 0.5, 0.0),
    "neck_girth": (0.20, 0.66, 0.5, 0.0), "chest_girth": (0.25, 0.88, 0.0, 0.0), "waist_girth": (0.20, 0.90, 0.0, 0.0),
    "hip_girth": (0.35, 0.80, 0.0, 0.0), "knee_height": (0.87, 0.00, 0.0, 0.0), "ankle_height": (0.45, 0.00, 0.0, 0.0),
    "head_girth": (0.30, 0.25, 0.0, 0.75), "head_length": (0.35, 0.10, 0.0, 0.75),
    "head_breadth": (0.15, 0.25, 0.0, 0.45), "arm_length": (0.80, 0.00, 0.0, 0.0),
}  # fmt: skip
HEIGHTS = ("stature", "back_neck_height", "side_neck_height", "front_neck_height", "shoulder_point_height")
KEYS = (*HEIGHTS, *LOADINGS)


def covariance(sex: str) -> np.ndarray:
    """Return the covariance [m^2] of the measures in `KEYS` for "man" or "woman"."""
    spread = {key: spread for key, (_, spread) in SURVEY[sex].items()}
    side, front, shoulder = DROP_SPREAD[sex]
    stature, back = spread["stature"], spread["back_neck_height"]
    share = (stature**2 + back**2 - HEAD_SPREAD[sex] ** 2) / (2.0 * stature * back)  # correlation of the two
    own = back * np.sqrt(1.0 - share**2)
    # columns: stature, fullness, neck, head, then what each height adds of its own
    height = np.array([
        [stature, 0, 0, 0, 0, 0, 0, 0],
        [share * back, 0, 0, 0, own, 0, 0, 0],
        [share * back, 0, 0, 0, own, side, 0, 0],
        [share * back, 0, 0, 0, own, side, front, 0],
        [share * back, 0, 0, 0, own, side, 0, shoulder],
    ])  # fmt: skip
    rest = np.array([[*loading, 0, 0, 0, 0] for loading in LOADINGS.values()]) * np.array(
        [[spread[key]] for key in LOADINGS]
    )
    causes = np.vstack([height, rest])
    alone = [0.0] * len(HEIGHTS)
    alone += [spread[key] ** 2 * (1.0 - sum(part**2 for part in LOADINGS[key])) for key in LOADINGS]
    return causes @ causes.T + np.diag(alone)


def expected(given: Mapping[str, float], sex: str) -> dict[str, float]:
    """Return what to expect [m] of every measure in `KEYS`, those given as given.

    The mean of a normal distribution with `covariance`, conditioned on the measures given: linear regression on all of
    them at once. sex: "man" or "woman".
    """
    mean = np.array([MEAN[sex][key] for key in KEYS])
    known = [i for i, key in enumerate(KEYS) if key in given]
    spread = covariance(sex)
    off = np.array([given[KEYS[i]] for i in known]) - mean[known]
    found = mean + spread[:, known] @ np.linalg.solve(spread[np.ix_(known, known)] + 1e-10 * np.eye(len(known)), off)
    return {key: float(given.get(key, value)) for key, value in zip(KEYS, found, strict=True)}
