"""The standing collar on the flat: its own piece, as long as the sewn neck edge.

In: the neck, the figure's measures, what is asked. Out: a `CollarShape`, flat points [m], s along the neck seam from
the closure round to the closure, t up from it. The piece is part of a cone that narrows upward, which unrolls to

    rho = R - t,   alpha = (s - L/2) / R,   R = L / theta,   theta = (taken in) / height

about a centre above the seam, L the seam's length: both ends rise and the top edge is shorter by theta t. A straight
collar has theta 0. As much is taken in as the neck narrows from its base to where it is measured. The height goes from
front to back as half a cosine wave does. The piece is turned so that its warp lies along the draft's own,
as on the cloth.
Source: the development of a cone; tests/unit/draft/test_collar.py. Lengths in m, angles in rad.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from drape.draft.panels import Neck, sewn_length, turned
from drape.draft.style import CollarStyle
from drape.errors import DraftError

if TYPE_CHECKING:
    from drape.body.figure import Figure

LEAST_HEIGHT = 0.01  # m; a lower collar cannot be sewn and turned; common practice, no source
CHIN_SHARE = 0.132  # of stature, from the crown down to the chin; from memory
MID_NECK_SHARE = (
    0.16  # of the way from side neck point to crown at which the neck's girth is taken, as on the mannequin
)
CHIN_ROOM = 0.01  # m a collar may stand above the chin before it cannot be worn closed; ours
WIDEST = math.radians(300)  # of the ring that a collar unrolls to; wider, its ends come near each other
STEP = 2e-3  # m between outline points; on a collar's arcs their chords are under 2 micrometres off


@dataclass(frozen=True)
class CollarShape:
    """A collar's outline on the flat, points [m], shape (k, 2).

    seam: one run for each piece of the neck edge, by increasing phi. top: likewise, whole. first, last: the ends at the
    closure, from the seam up. inward: unit vectors from the top edge towards the seam, shape (k, 2). front_height,
    back_height, top_length [m]; taken_in [m] at the back's height.
    """

    seam: tuple[np.ndarray, ...]
    top: np.ndarray
    first: np.ndarray
    last: np.ndarray
    inward: np.ndarray
    front_height: float
    back_height: float
    top_length: float
    taken_in: float


def lay_collar(asked: CollarStyle, neck: Neck, figure: Figure) -> CollarShape:
    """Return the collar for a neck edge. Raises DraftError where the neck does not allow it."""
    front = asked.height if asked.front_height is None else asked.front_height
    _check_heights(asked, front, figure)
    length = sewn_length(neck)
    taken = _taken_in(asked, figure)
    theta = taken / asked.height
    reach = max(front, asked.height)
    most, why = min(
        (0.5 * length * asked.height / reach, "half the neck edge"),
        (WIDEST * asked.height, "or its ends would overlap on the cloth"),
    )
    if taken > most:
        hint = "Take less in, or cut it straight" + (", or make it higher." if most < 0.5 * length else ".")
        raise DraftError(f"collar.taken_in_cm: got {100 * taken:.4g}, allowed at most {100 * most:.4g}, {why}. {hint}")
    stops = np.concatenate([[0.0], np.cumsum([_length(points) for _, points in neck.pieces])])
    stops *= length / stops[-1]
    places = (_place_on(neck, neck.front[0]), _place_on(neck, neck.back[0]))

    def at(s: np.ndarray, t: np.ndarray) -> np.ndarray:
        middle = s - length / 2
        if theta < 1e-9:
            flat = np.column_stack([middle, t])
        else:
            radius = length / theta
            flat = np.column_stack(
                [(radius - t) * np.sin(middle / radius), radius - (radius - t) * np.cos(middle / radius)]
            )
        return turned(flat, -asked.grain)

    def evenly(start: float, end: float) -> np.ndarray:
        return np.linspace(start, end, max(3, math.ceil((end - start) / STEP) + 1))

    along = evenly(0.0, length)
    height = _heights(along, length, places, front, asked.height)
    top, foot = at(along, height), at(along, np.zeros(len(along)))
    seam = tuple(at(s, np.zeros(len(s))) for s in (evenly(*pair) for pair in zip(stops[:-1], stops[1:], strict=True)))
    ends = [at(np.full(2, s), np.array([0.0, float(h)])) for s, h in ((0.0, height[0]), (length, height[-1]))]
    ends[0][0], ends[0][1], ends[1][0], ends[1][1] = seam[0][0], top[0], seam[-1][-1], top[-1]
    inward = (foot - top) / np.linalg.norm(foot - top, axis=1)[:, None]
    return CollarShape(seam, top, ends[0], ends[1], inward, front, asked.height, _length(top), taken)


def _check_heights(asked: CollarStyle, front: float, figure: Figure) -> None:
    """Refuse a collar too low to sew, or higher than the neck allows: in front up to the chin,
    behind half a head more.
    """
    stature = float(figure.tape["stature"])
    front_name = "height" if asked.front_height is None else "front_height"
    for name, height, start, share, what in (
        (front_name, front, "front_neck", CHIN_SHARE, "the chin"),
        ("height", asked.height, "back_neck", CHIN_SHARE / 2, "the middle of the head"),
    ):
        if height < LEAST_HEIGHT:
            raise DraftError(
                f"collar.{name}_cm: got {100 * height:.4g}, allowed at least {100 * LEAST_HEIGHT:.4g}: a lower one "
                "cannot be sewn. Make it higher."
            )
        most = stature * (1.0 - share) - float(figure.landmarks[start][2]) + CHIN_ROOM
        if height > most:
            raise DraftError(
                f"collar.{name}_cm: the collar is higher than the neck allows, got {100 * height:.4g}, allowed up to "
                f"{100 * most:.3g}, a little above {what}. Make it lower, or give front_height_cm."
            )


def _taken_in(asked: CollarStyle, figure: Figure) -> float:
    """Return how much shorter the top edge is than the seam [m], at the back's height."""
    if asked.taken_in is not None:
        return asked.taken_in
    if asked.cut == "straight":
        return 0.0
    base, neck = float(figure.tape["neck_base_girth"]), float(figure.tape["neck_girth"])
    side = float(figure.landmarks["side_neck_left"][2])
    measured = MID_NECK_SHARE * (float(figure.tape["stature"]) - side)
    return max(0.0, base - neck) * min(1.0, asked.height / measured)


def _heights(along: np.ndarray, length: float, places: tuple[float, float], front: float, back: float) -> np.ndarray:
    """Return the height [m] at each place along the seam, from the front neck point to the back one and round again."""
    start, middle = places
    way = (middle - start) % length
    behind = (along - start) % length
    share = np.where(behind <= way, behind / way, (length - behind) / (length - way))
    return front + (back - front) * (1.0 - np.cos(math.pi * share)) / 2


def _place_on(neck: Neck, point: np.ndarray) -> float:
    """Return how far along the sewn neck edge the place nearest a point lies [m]."""
    passed, best, found = 0.0, math.inf, 0.0
    for _, points in neck.pieces:
        away = np.linalg.norm(points - point, axis=1)
        k = int(away.argmin())
        if away[k] < best:
            best, found = float(away[k]), passed + _length(points[: k + 1])
        passed += _length(points)
    return found


def _length(points: np.ndarray) -> float:
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
