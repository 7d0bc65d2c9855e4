"""Polyline: how far along a run of points each of them lies, what lies at a place along it, how far off others lie.

In: points (n, d), in order. Out: lengths along them (n,), and points or other values (n,
d) interpolated between theirs.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from drape.arrays import Floats


def length_along(points: Floats) -> Floats:
    """How far along the run each point lies, from 0 at the first; in the unit of the points."""
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])


def at_length(place: Any, along: Floats, values: Floats) -> Floats:
    """The values (n, d), given at lengths `along` (n,), at one place (d,) or at several (k, d)."""
    return np.stack([np.interp(place, along, column) for column in np.asarray(values).T], axis=-1)


def polyline_distance(points: Floats, line: Floats) -> Floats:
    """Distance of points from a polyline [m]."""
    a, edge = line[:-1], np.diff(line, axis=0)
    square = np.sum(edge**2, axis=1)
    middle = line.mean(axis=0)  # squares of coordinates from here lose least when their difference is taken
    from_middle, ends = points - middle, a - middle
    ahead = from_middle @ edge.T - np.sum(ends * edge, axis=1)
    along = np.clip(ahead / square, 0.0, 1.0)
    off = along * (along * square - 2.0 * ahead) - 2.0 * from_middle @ ends.T + np.sum(ends**2, axis=1)
    which = np.argmin(off, axis=1)
    foot = a[which] + along[np.arange(len(points)), which, None] * edge[which]
    nearest: Floats = np.linalg.norm(points - foot, axis=1)
    return nearest
