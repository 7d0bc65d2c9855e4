"""A settled shape carried over to a changed draft, so that a run from it starts near its rest.

In: a mesh, its worn shape and where its vertices are to be on the cloth. Out: where those places lie on the worn
surface. Cloth cut away is then simply gone and cloth let out goes on straight; nothing is stretched.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from drape.arrays import Floats
from drape.cloth.mesh import Mesh, on_body, partners

CROSSED = 200  # sides crossed at most on the way from a vertex to its new place
BEYOND = 2.0  # heights of the last triangle by which a place may lie outside the cloth


def carried(mesh: Mesh, worn: Floats, flat: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Return where the places `flat` (n, 2) [m], each near its vertex, lie on the worn surface, and which were found.

    worn: the shape of the mesh [m], (n, 3). Only places on the piece with the hem are looked for, since others may lie
    elsewhere on the table; what is not found stays where its vertex was.
    """
    triangles = mesh.triangles
    corner = mesh.flat[triangles]
    across = partners(triangles).reshape(-1, 3) // 3  # -1 at an edge of the cloth
    at = np.empty(len(mesh.flat), dtype=np.int64)
    at[triangles.ravel()] = np.repeat(np.arange(len(triangles)), 3)
    for _ in range(CROSSED):
        share = shares_in(corner[at], flat)
        inward = np.where(across[at] >= 0, share, 0.0)
        side = inward.argmin(axis=1)
        leaving = inward.min(axis=1) < -1e-9
        if not leaving.any():
            break
        at = np.where(leaving, across[at, side], at)
    share = shares_in(corner[at], flat)
    found = on_body(mesh) & (share.min(axis=1) > -BEYOND)
    there = np.einsum("nk,nkc->nc", share, worn[triangles[at]])
    return np.where(found[:, None], there, worn), found


def shares_in(corner: Floats, place: Floats) -> Floats:
    """Return the barycentric coordinates (n, 3) of places (n, 2) in triangles (n, 3, 2)."""
    a, b, c = corner[:, 0], corner[:, 1], corner[:, 2]
    area = _cross(b - a, c - a)
    second, third = _cross(place - a, c - a) / area, _cross(b - a, place - a) / area
    return np.stack([1.0 - second - third, second, third], axis=1)


def _cross(a: Floats, b: Floats) -> Floats:
    return a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
