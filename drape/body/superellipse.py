"""Ovals between ellipse and rectangle: the level sections of a body.

In: half-axes or breadth and depth [m], squareness (no unit). Out: radii by azimuth [m], girths [m].
An oval is the curve s(u, v) = 1 with u = x / right or left, v = y / front or back and, for U = u^2, V = v^2,
s^2 = (U + V + sqrt((U + V)^2 - 4 m U V)) / 2: an ellipse for squareness m = 0, a rectangle for m = 1, smooth between;
below 0 it is leaner than an ellipse. The formula is ours.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq

from drape.arrays import Floats

SQUAREST, LEANEST = 0.995, -1.5  # what still looks like a body (ours)
STEPS = 720


def ovals(
    right: Floats, left: Floats, front: Floats, back: Floats, squareness: Floats | float,
    azimuth: Floats,
) -> Floats:  # fmt: skip
    """Return radii [m] (rows, k) at azimuths (k,) [rad] of sections given by their half-axes (rows,) [m].

    The direction of azimuth a is (-sin a, cos a): 0 front, a quarter turn the left.
    """
    x, y = -np.sin(azimuth)[None], np.cos(azimuth)[None]
    one, two, three, four = (np.asarray(side, dtype=np.float64)[:, None] for side in (right, left, front, back))
    big_u = (x / np.where(x > 0.0, one, two)) ** 2
    big_v = (y / np.where(y > 0.0, three, four)) ** 2
    total = big_u + big_v
    m = np.broadcast_to(np.asarray(squareness, dtype=np.float64), len(right))[:, None]
    return 1.0 / np.sqrt(0.5 * (total + np.sqrt(np.maximum(total * total - 4.0 * m * big_u * big_v, 0.0))))


def oval_girth(breadth: float, depth: float, squareness: float) -> float:
    """Return the girth [m] of an oval of a breadth and depth [m]; it grows with the squareness."""
    turn = np.linspace(0.0, 0.5 * np.pi, STEPS // 4 + 1)
    half, deep = np.array([0.5 * breadth]), np.array([0.5 * depth])
    radius = ovals(half, half, deep, deep, squareness, turn)[0]
    points = radius[:, None] * np.stack([np.sin(turn), np.cos(turn)], axis=1)
    return 4.0 * float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def girth_range(breadth: float, depth: float) -> tuple[float, float]:
    """Return the least and greatest girth [m] an oval of that breadth and depth can have."""
    return oval_girth(breadth, depth, LEANEST), oval_girth(breadth, depth, SQUAREST)


def squareness_for(girth: float, breadth: float, depth: float) -> float:
    """Return the squareness of the oval of that girth, breadth and depth [m], the nearest possible if none has it."""
    least, most = girth_range(breadth, depth)
    if girth <= least:
        return LEANEST
    if girth >= most:
        return SQUAREST
    return float(brentq(lambda m: oval_girth(breadth, depth, m) - girth, LEANEST, SQUAREST, xtol=1e-5))
