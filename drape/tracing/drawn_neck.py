"""A neck edge that is no construction of ours, as points for a drawn neck.

In: a `Sector`. Out: points on a smooth curve that runs as the drawing's neck edge does, over the mouths of darts as if
they were shut, and on to the straight edges. What a spline through them gives is left to `neck_kinds`.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from scipy.interpolate import CubicSpline, make_lsq_spline

from drape.arrays import Floats
from drape.draft.neckline import direction
from drape.polyline import at_length, length_along, polyline_distance
from drape.tracing.joined import places_along
from drape.tracing.sector import Sector

NEAR: Final = 1e-3  # m; how near the curve is to lie to the drawing
KNOTS: Final = (4, 6, 8, 11, 15, 20, 27)  # pieces of the curve, as many as it takes
SPACING: Final = 3e-3  # m between places compared


def neck_points(drawn: Sector, is_cut: bool) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Positions along the first edge and square to it [m] of points from the first straight edge round to the last."""
    edges = drawn.edges
    runs = [places_along(run, SPACING) for run in edges.neck]
    whole = np.vstack([runs[0], *(run[1:] if not bridged else run for run, bridged in _bridges(runs))])
    first, last = (_reach(whole, angle, sense, is_cut) for angle, sense in ((0.0, 1.0), (drawn.sweep, -1.0)))
    path = np.vstack([first * direction(0.0), whole, last * direction(drawn.sweep)])
    keep = np.concatenate([[True], np.linalg.norm(np.diff(path, axis=0), axis=1) > 1e-4])
    path = path[keep]
    path[-1] = last * direction(drawn.sweep)
    even = places_along(path, SPACING)
    found = even
    for pieces in KNOTS:
        found = _points_of(even, pieces, drawn.sweep)
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(found, axis=0), axis=1))])
        curve = CubicSpline(along, found)(np.linspace(0.0, along[-1], 641))
        drawn_places = np.vstack(runs)
        if polyline_distance(drawn_places, curve).max() < NEAR:
            break
    return tuple(map(float, found[:, 0])), tuple(map(float, found[:, 1]))


def _bridges(runs: list[Floats]) -> list[tuple[Floats, bool]]:
    """Each stretch after the first, and whether the mouth of a dart lies before it."""
    return [
        (run, float(np.linalg.norm(run[0] - before[-1])) > 1e-6)
        for before, run in zip(runs[:-1], runs[1:], strict=True)
    ]


def _reach(edge: Floats, angle: float, sense: float, is_cut: bool) -> float:
    """How far from O a neck edge, carried on as it runs, comes to a straight edge [m]."""
    run = edge if sense > 0 else edge[::-1]
    end = run[0]
    off = abs(float(end @ direction(angle + math.pi / 2)))
    at = float(end @ direction(angle))
    if not is_cut or off < 1e-4:
        return float(np.linalg.norm(end))
    ahead = at_length(min(0.03, 0.2 * length_along(run)[-1]), length_along(run), run)
    step = end - ahead
    fall = abs(float(step @ direction(angle + math.pi / 2)))
    slope = float(step @ direction(angle)) / max(fall, 1e-6)
    return at + off * min(0.6, max(-0.6, slope))


def _points_of(path: Floats, pieces: int, sweep: float) -> Floats:
    """Points on the smooth curve of so many pieces that runs nearest to a path, two to each piece."""
    along = length_along(path)
    inner = np.linspace(0.0, along[-1], pieces + 1)
    knots = np.concatenate([[0.0] * 3, inner, [along[-1]] * 3])
    weight = np.ones(len(along))
    weight[[0, -1]] = 100.0
    curve = make_lsq_spline(along, path, knots, k=3, w=weight)
    points = curve(np.linspace(0.0, along[-1], 2 * pieces + 1))
    points[0] = [float(np.linalg.norm(path[0])), 0.0]
    points[-1] = float(np.linalg.norm(path[-1])) * direction(sweep)
    return np.asarray(points)
