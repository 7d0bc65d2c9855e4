"""Lengths round things, as a tape reads them.

In: points and meshes [m]. Out: lengths of closed lines and of taut lines round them, sections of meshes by planes [m].
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from drape.arrays import Floats, Ints
from drape.triangle import sides_of

TAPE_TURNS = (-0.14, 0.0, 0.14)  # rad, about the chord: the planes a tape over a limb is tried in


def turned(aside: Floats, way: Floats, turns: Sequence[float]) -> list[Floats]:
    """Return the unit vector `aside` turned by each angle [rad] about the unit vector `way`, square to it,
    (3,) each.
    """
    return [np.cos(turn) * aside + np.sin(turn) * np.cross(way, aside) for turn in turns]


def ring_length(points: Floats) -> float:
    """Return the length [m] of the closed line through the points."""
    return float(np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1).sum())


def hull_length(points: Floats) -> float:
    """Return the length [m] of the convex hull of points (k, 2): what a taut tape reads."""
    points = points[np.lexsort((points[:, 1], points[:, 0]))].tolist()  # plain numbers are faster one by one
    hull: list[Sequence[float]] = []
    for chain in (points, points[::-1]):
        start = len(hull)
        for p in chain:
            while len(hull) - start >= 2 and _turn(hull[-2], hull[-1], p) <= 0.0:
                hull.pop()
            hull.append(p)
        hull.pop()
    return ring_length(np.array(hull))


def _turn(a: Sequence[float], b: Sequence[float], c: Sequence[float]) -> float:
    """Twice the signed area of triangle abc."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def section(vertices: Floats, triangles: Ints, point: Floats, normal: Floats) -> Floats:
    """Return where the mesh's edges cross a plane, (k, 3) [m], in no order."""
    side = (vertices - point) @ normal
    cuts = []
    for i in range(3):
        a, b = triangles[:, i], triangles[:, (i + 1) % 3]
        crossed = (side[a] < 0.0) & (side[b] >= 0.0)
        t = side[a[crossed]] / (side[a[crossed]] - side[b[crossed]])
        cuts.append(vertices[a[crossed]] * (1.0 - t[:, None]) + vertices[b[crossed]] * t[:, None])
    return np.vstack(cuts)


def loops(vertices: Floats, triangles: Ints, point: Floats, normal: Floats) -> list[Floats]:
    """Return the closed curves in which a plane cuts a closed mesh, (k, 3) [m] each, their points in no order."""
    side = (vertices - point) @ normal >= 0.0
    cut = triangles[side[triangles].any(axis=1) & ~side[triangles].all(axis=1)]
    ends = np.sort(sides_of(cut), axis=2)  # (t, 3, 2)
    crossed = side[ends[..., 0]] != side[ends[..., 1]]  # two edges of each triangle
    edges, which = np.unique(ends[crossed], axis=0, return_inverse=True)
    pair = which.reshape(-1, 2)
    joined = coo_matrix((np.ones(len(pair)), (pair[:, 0], pair[:, 1])), shape=(len(edges), len(edges)))
    _, piece = connected_components(joined, directed=False)
    height = (vertices[edges] - point) @ normal
    t = (height[:, 0] / (height[:, 0] - height[:, 1]))[:, None]
    places = vertices[edges[:, 0]] * (1.0 - t) + vertices[edges[:, 1]] * t
    return [places[piece == i] for i in range(piece.max() + 1)]
