"""Bodies turned on a lathe, in place of a figure: what they measure is a formula of the numbers typed."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np

from drape.body.figure import REGIONS
from drape.body.stance import UPRIGHT_STANCE
from drape.body.tape import fill_tape
from drape.reading.spare import WITHIN

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


def turned_shoulders(
    radii: np.ndarray, heights: np.ndarray, base: tuple[float, float], within: float
) -> SimpleNamespace:
    """A turned body, open at foot and top, with its neck's base at a radius and height; all above is neck.

    within: how far from that circle spare cloth is counted [m].
    """
    body = turned_body(radii, heights, 120)
    turn = np.radians(np.arange(0.0, 360.0, 5.0))
    ring = np.stack([-base[0] * np.sin(turn), base[0] * np.cos(turn), np.full(72, base[1])], axis=1)
    line = np.array([[0.0, 0.0, 0.0], [within / WITHIN, 0.0, 0.0]])
    region = np.where(body.vertices[:, 2] > base[1], REGIONS.index("neck"), REGIONS.index("torso"))
    return SimpleNamespace(
        vertices=body.vertices, triangles=body.triangles[240:], vertex_regions=region, neck_base=ring,
        shoulder_line_left=line, shoulder_line_right=-line,
    )  # fmt: skip


def cloth_of(rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Corners (t, 3, 3) and areas (t,) of cloth whose points stand in rows (r, c, 3), each row closed by its last."""
    a, b, c, d = rows[:-1, :-1], rows[:-1, 1:], rows[1:, 1:], rows[1:, :-1]
    corners = np.concatenate([np.stack([a, b, c], axis=2), np.stack([a, c, d], axis=2)]).reshape(-1, 3, 3)
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return corners, 0.5 * np.linalg.norm(across, axis=1)


def turned_rows(radii: np.ndarray, heights: np.ndarray, count: int = 90) -> np.ndarray:
    """Rows (r, count + 1, 3) of circles of given radii and heights."""
    turn = 0.01 + np.linspace(0.0, 2 * np.pi, count + 1)  # no column over one of a body's, where a ray may slip through
    out = np.stack([np.cos(turn), np.sin(turn), np.zeros(count + 1)], axis=1)
    return out * np.asarray(radii)[:, None, None] + [0.0, 0.0, 1.0] * np.asarray(heights)[:, None, None]
