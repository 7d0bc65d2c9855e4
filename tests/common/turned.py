"""Bodies turned on a lathe, in place of a figure: what they measure is a formula of the numbers typed."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np

from drape.body.stance import UPRIGHT_STANCE
from drape.body.tape import fill_tape

RADIUS, HEIGHT = 0.07, 1.70  # of the tube [m]


def turned_body(radii: np.ndarray, heights: np.ndarray, around: int) -> SimpleNamespace:
    """A closed body of circles of given radii and heights, foot and top closed by a point on the axis."""
    turn = np.linspace(0.0, 2 * np.pi, around, endpoint=False)
    rings = [
        np.stack([r * np.cos(turn), r * np.sin(turn), np.full(around, z)], 1)
        for r, z in zip(radii, heights, strict=True)
    ]
    points = np.vstack([*rings, [[0.0, 0.0, heights[0]], [0.0, 0.0, heights[-1]]]])
    foot, top, last = len(points) - 2, len(points) - 1, (len(radii) - 1) * around
    i = np.arange(around)
    k = (i + 1) % around
    found = [np.stack([np.full(around, foot), k, i], 1), np.stack([np.full(around, top), last + i, last + k], 1)]
    for row in range(len(radii) - 1):
        a, b = row * around, (row + 1) * around
        found += [np.stack([a + i, a + k, b + k], 1), np.stack([a + i, b + k, b + i], 1)]
    return SimpleNamespace(vertices=points, triangles=np.vstack(found))


def tube_figure() -> SimpleNamespace:
    """A tube from the floor to 1.7 m with all that measuring asks of a figure; its landmarks are where we put them."""
    heights = np.arange(0.0, HEIGHT + 0.001, 0.01)
    body = turned_body(np.full(len(heights), RADIUS), heights, 180)
    tape, _ = fill_tape({"stature": HEIGHT, "chest_girth": 0.95, "waist_girth": 0.8, "hip_girth": 0.95}, sex="man")
    marks = {
        "back_neck": [0, -RADIUS, 1.45],
        "front_neck": [0, RADIUS, 1.38],
        "knee_left": [0, RADIUS, 0.47],
        "knee_right": [0, RADIUS, 0.49],
        "ankle_left": [0, RADIUS, 0.07],
        "ankle_right": [0, RADIUS, 0.07],
    }
    for side, sign in (("left", -1.0), ("right", 1.0)):
        marks |= {
            f"side_neck_{side}": [sign * 0.05, 0, 1.44],
            f"shoulder_point_{side}": [sign * RADIUS, 0, 1.40],
            f"deltoid_{side}": [sign * 0.2, 0, 1.3],
            f"wrist_{side}": [sign * RADIUS, 0, 0.80],
        }
    turn = np.radians(np.arange(0, 360, 5))
    lines = {
        side: np.linspace(marks[f"side_neck_{side}"], marks[f"shoulder_point_{side}"], 31) for side in ("left", "right")
    }
    return SimpleNamespace(
        **vars(body),
        landmarks={key: np.array(point, float) for key, point in marks.items()},
        tape=tape,
        stance=UPRIGHT_STANCE,
        levels={"chest": 1.235, "waist": 1.085, "hip": 0.855},
        arms=("down", "down"),
        bare=None,
        neck_centre=np.array([0.0, 0.0, 1.42]),
        neck_base=np.stack([-0.06 * np.sin(turn), 0.06 * np.cos(turn), 1.42 + 0 * turn], 1),
        shoulder_line_left=lines["left"],
        shoulder_line_right=lines["right"],
    )
