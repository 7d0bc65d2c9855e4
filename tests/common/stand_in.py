"""What a draft asks of a figure, without one: so that each expected value is a formula of the numbers typed."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np

LEVELS = {"chest": 1.28, "waist": 1.07, "hip": 0.86, "mid_thigh": 0.66, "knee": 0.505, "mid_calf": 0.3, "ankle": 0.09}


def standing_body(
    *,
    slope: float = 26.4,
    slope_left: float | None = None,
    slope_right: float | None = None,
    shoulder: float = 0.1505,
    half_neck: float = 0.0637,
    girth: float = 0.4084,
    front: tuple[float, float] = (0.035, -0.0711),
    back: tuple[float, float] = (-0.055, 0.0099),
) -> SimpleNamespace:
    """Landmarks, levels and tape: slopes [deg], lengths [m]; `front` and `back` neck points as (forward,
    up) of the side ones.

    Default lengths are the men's means of the 1988 US Army survey (NATICK/TR-89/044);
    forward distances and levels are ours.
    """
    height = 1.5095
    marks: dict[str, np.ndarray] = {
        "front_neck": np.array([0.0, front[0], height + front[1]]),
        "back_neck": np.array([0.0, back[0], height + back[1]]),
    }
    for side, sign, own in (("left", -1.0, slope_left), ("right", 1.0, slope_right)):
        fall = math.radians(slope if own is None else own)
        marks[f"side_neck_{side}"] = np.array([sign * half_neck, 0.0, height])
        marks[f"shoulder_point_{side}"] = marks[f"side_neck_{side}"] + shoulder * np.array(
            [sign * math.cos(fall), 0.0, -math.sin(fall)]
        )
    tape = {"neck_base_girth": girth, "neck_girth": 0.379, "arm_length": 0.6, "stature": 1.756}
    return SimpleNamespace(landmarks=marks, levels=LEVELS, tape=tape, neck_centre=np.array([0.0, -0.01, 1.49]))
