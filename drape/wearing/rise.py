"""Rise: how much a round body stands up over the flat triangles that rest on it.

In: the figure's vertices [m] and triangles, and how wide the cloth's triangles are [m]. Out: a thickness at each vertex
[m]. A triangle that touches a round limb at its corners and the middles of its sides cuts through it in between. Laid
on the limb made thicker by this rise it is tangent to the limb instead. Draws nothing: the figure stays as it is.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from drape.arrays import Flags, Floats, Ints
from drape.cloth.mesh import vertex_normals

FURTHEST: Final = 1.0 / 3.0  # of a side, from a place in a triangle to where contact is felt; 0.29 of equal sides
ROUND: Final = 0.018  # m, round a vertex, over which its curvature is taken
LOOKED_AT: Final = 40  # vertices there, at most


def rise(vertices: Floats, triangles: Ints, side: float) -> Floats:
    """How far triangles with sides so long [m] cut into the body at each vertex of it [m], (n,).

    Of a circle of radius r, and places on it within a of the middle of a chord: √(r² + a²) − r. A chord over a ridge
    ends on its flanks: the most that lies within a of a vertex counts there.
    """
    radius = 1.0 / np.maximum(curvature(vertices, triangles), 1e-3)
    reach = FURTHEST * side
    own = np.hypot(radius, reach) - radius
    near, there = _round(vertices, vertex_normals(vertices, triangles), reach)
    return np.maximum(own, np.where(there, own[near], 0.0).max(axis=1))


def curvature(vertices: Floats, triangles: Ints) -> Floats:
    """The greatest curvature of a surface at each of its vertices [1/m], (n,), positive where it bulges.

    Of the paraboloid through what lies round it, by least squares.
    """
    normals = vertex_normals(vertices, triangles)
    near, there = _round(vertices, normals, ROUND)
    off = vertices[near] - vertices[:, None]
    first = np.cross(normals, np.eye(3)[np.argmin(np.abs(normals), axis=1)])
    first /= np.linalg.norm(first, axis=1, keepdims=True)
    second = np.cross(normals, first)
    u, v = (np.einsum("nkc,nc->nk", off, way) for way in (first, second))
    down = -np.einsum("nkc,nc->nk", off, normals)
    terms = np.stack([0.5 * u * u, u * v, 0.5 * v * v], axis=2) * there[:, :, None]
    matrix = np.einsum("nki,nkj->nij", terms, terms) + 1e-14 * np.eye(3)
    a, b, c = np.linalg.solve(matrix, np.einsum("nki,nk->ni", terms, down)[:, :, None])[:, :, 0].T
    return np.asarray(0.5 * (a + c) + np.hypot(0.5 * (a - c), b))


def _round(vertices: Floats, normals: Floats, reach: float) -> tuple[Ints, Flags]:
    """Vertices that lie within reach [m] of each and face its way, (n, LOOKED_AT), and which of them are some."""
    far, near = cKDTree(vertices).query(vertices, k=LOOKED_AT, distance_upper_bound=reach)
    there = np.isfinite(far) & (far > 0.0)
    near = np.where(there, near, 0)
    return near, there & (np.einsum("nkc,nc->nk", normals[near], normals) > 0.0)
