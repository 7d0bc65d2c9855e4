"""Triangles: their sides, their areas, and each cut in four.

In: point indices (t, 3), or the places of their corners. Out: pairs of indices, vectors, areas.
"""

from __future__ import annotations

import numpy as np

from drape.arrays import Floats, Ints


def sides_of(triangles: Ints) -> Ints:
    """The ends of the side after each corner, (t, 3, 2): corner k, corner k+1."""
    return np.stack([triangles, np.roll(triangles, -1, axis=1)], axis=2)


def sides_facing(triangles: Ints) -> Ints:
    """The ends of the side opposite each corner, (t, 3, 2): corner k+1, corner k+2."""
    return np.stack([np.roll(triangles, -1, axis=1), np.roll(triangles, -2, axis=1)], axis=2)


def edge_vectors(corners: Floats) -> Floats:
    """Edge opposite each corner, (t, 3, d): corner k+1 → corner k+2."""
    return np.roll(corners, -2, axis=1) - np.roll(corners, -1, axis=1)


def triangle_areas(corners: Floats) -> Floats:
    """Signed areas of flat triangles, corners (t, 3, 2) → (t,)."""
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    return 0.5 * (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


def quarter(corners: Floats) -> Floats:
    """Each triangle (t, 3, d) cut in four at its edges' middles, in order, (4t, 3, d)."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    ab, bc, ca = (a + b) / 2, (b + c) / 2, (c + a) / 2
    parts = [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
    return np.stack([np.stack(p, axis=1) for p in parts], axis=1).reshape(-1, 3, corners.shape[2])
