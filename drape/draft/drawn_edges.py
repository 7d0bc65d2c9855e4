"""A hem and opening edges drawn through points: their curves on the flat.

In: a `Style` with points. Out: the angles the hem runs over, its radius at each, and each opening edge's curve. A drawn
hem is a smooth radius over the angle; a drawn opening edge stands off its straight line, outward where its points are
positive, by a smooth amount over the distance from O. SI, flat axes of `cloak`.
"""

from __future__ import annotations

import math

import numpy as np

from drape.draft.neckline import direction
from drape.draft.style import Style
from drape.errors import DraftError

EDGE_COUNT = 81  # points on a drawn opening edge
ON_HEM = 5e-3  # m; how near its last point must lie to the hem
ON_EDGE = 2e-3  # m; how near a drawn hem must begin and end to the opening edges
ON_RAY = 1e-9  # rad; a hem that ends nearer to a straight edge ends on it
LEAST_STEP = 1e-3  # m between two points
MOST_ASIDE = 0.3  # m; further out it is another piece; ours


def hem_span(style: Style) -> tuple[float, float]:
    """Return the angles from the hem's first corner to its last [rad]: 0 and the sweep unless an edge is drawn."""
    first, last = 0.0, style.sweep
    if style.first_edge_along:
        first -= math.atan2(style.first_edge_aside[-1], style.first_edge_along[-1])
    if style.last_edge_along:
        last += math.atan2(style.last_edge_aside[-1], style.last_edge_along[-1])
    return first, last


def ends_of(hem: np.ndarray, sweep: float) -> tuple[float, float]:
    """Return the angles of a hem's first and last point [rad]: 0 and the sweep where they lie on the straight edges."""
    first, last = (math.atan2(y, x) for x, y in hem[[0, -1], :2])
    last = sweep + math.remainder(last - sweep, 2 * math.pi)
    return 0.0 if abs(first) < ON_RAY else first, sweep if abs(last - sweep) < ON_RAY else last


def drawn_hem(style: Style, phi: np.ndarray) -> np.ndarray:
    """Return the drawn hem's radius [m] at each phi [rad], a cubic spline through its points. Raises DraftError."""
    from scipy.interpolate import CubicSpline

    points = np.column_stack([style.hem_along, style.hem_up])
    angle = np.unwrap(np.arctan2(points[:, 1], points[:, 0]))
    if np.diff(angle).min() <= 1e-6:
        raise DraftError(
            "draft.hem_along_cm: the drawn hem does not run round the centre, got points that turn back, allowed "
            "points in order from the first opening edge to the last. Check their order."
        )
    radius = np.linalg.norm(points, axis=1)
    for where, k, end in (("first", 0, phi[0]), ("last", -1, phi[-1])):
        off = abs(angle[k] - end) * radius[k]
        if off > ON_EDGE:
            raise DraftError(
                f"draft.hem_up_cm: the {where} point is off its opening edge, got {100 * off:.4g} cm off, allowed "
                f"{100 * ON_EDGE:g}. Begin the hem on the first opening edge and end it on the last."
            )
    return np.asarray(CubicSpline(angle, radius)(np.clip(phi, angle[0], angle[-1])))


def edge_path(style: Style, which: str, start: np.ndarray, corner: np.ndarray) -> np.ndarray:
    """Return an opening edge from where its straight line begins to the hem's corner [m], shape (k, 2).

    which: "first" or "last"; start: on the straight line, the neck edge's end or a shoulder cut's. Raises DraftError.
    """
    from scipy.interpolate import CubicSpline

    along, aside = (getattr(style, f"{which}_edge_{name}") for name in ("along", "aside"))
    if not along:
        return np.vstack([start, corner])
    sense, angle = (-1.0, 0.0) if which == "first" else (1.0, style.sweep)
    heading, out = direction(angle), sense * direction(angle + math.pi / 2)
    begin = float(start @ heading)
    places = np.array([begin, *along])
    if np.diff(places).min() < LEAST_STEP:
        raise DraftError(
            f"draft.{which}_edge_along_cm: got points that do not run outward, allowed each at least "
            f"{100 * LEAST_STEP:g} further from the centre than the one before, the first beyond {100 * begin:.4g} "
            "(the neck or the shoulder cut). Check their order."
        )
    off = float(np.linalg.norm(places[-1] * heading + aside[-1] * out - corner))
    if off > ON_HEM:
        raise DraftError(
            f"draft.{which}_edge_along_cm: the edge ends off the hem, got {100 * off:.4g} cm off, allowed "
            f"{100 * ON_HEM:g}. Move its last point to the hem, or change the length."
        )
    curve = CubicSpline(places, [0.0, *aside]) if len(places) > 2 else (lambda t: np.interp(t, places, [0.0, *aside]))
    at = np.linspace(begin, places[-1], EDGE_COUNT)
    path = at[:, None] * heading + np.asarray(curve(at))[:, None] * out
    path[0], path[-1] = start, corner
    return path
