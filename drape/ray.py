"""Ray: where a line passes through a triangle, compiled.

In: origins and directions (k, 3), corners of triangles. Out: distances along the lines, in lengths of their directions.
"""

from __future__ import annotations

import numpy as np

from drape.kernel import kernel


@kernel
def crossing(origin, direction, a, b, c):  # pragma: no cover - compiled
    """How many times `direction` it is from `origin` to where the line passes through triangle abc; nan if it does not.

    Source: Möller and Trumbore, Fast, minimum storage ray-triangle intersection, J. Graphics Tools 2 (1997).
    """
    dx, dy, dz = direction[0], direction[1], direction[2]
    ux, uy, uz = b[0] - a[0], b[1] - a[1], b[2] - a[2]
    vx, vy, vz = c[0] - a[0], c[1] - a[1], c[2] - a[2]
    wx, wy, wz = origin[0] - a[0], origin[1] - a[1], origin[2] - a[2]
    hx, hy, hz = dy * vz - dz * vy, dz * vx - dx * vz, dx * vy - dy * vx
    determinant = ux * hx + uy * hy + uz * hz
    if abs(determinant) < 1e-18:
        return np.nan
    first = (wx * hx + wy * hy + wz * hz) / determinant
    qx, qy, qz = wy * uz - wz * uy, wz * ux - wx * uz, wx * uy - wy * ux
    second = (dx * qx + dy * qy + dz * qz) / determinant
    if not (first >= 0.0 and second >= 0.0 and first + second <= 1.0):
        return np.nan
    return (vx * qx + vy * qy + vz * qz) / determinant


@kernel
def crossings(origin, direction, corners):  # pragma: no cover - compiled
    """`crossing` of line k with triangle k: origin, direction (k, 3), corners (k, 3, 3)."""
    out = np.empty(len(origin))
    for k in range(len(origin)):
        out[k] = crossing(origin[k], direction[k], corners[k, 0], corners[k, 1], corners[k, 2])
    return out


@kernel
def first_crossing(origin, direction, corners):  # pragma: no cover - compiled
    """Least `crossing`, not behind the origin, of each ray (k, 3) with any of the triangles (t, 3, 3); nan if none."""
    out = np.full(len(origin), np.nan)
    middle, square = np.empty((len(corners), 3)), np.zeros(len(corners))  # of each triangle, and its reach from there²
    for t in range(len(corners)):
        for c in range(3):
            middle[t, c] = (corners[t, 0, c] + corners[t, 1, c] + corners[t, 2, c]) / 3.0
        for j in range(3):
            x, y, z = corners[t, j, 0] - middle[t, 0], corners[t, j, 1] - middle[t, 1], corners[t, j, 2] - middle[t, 2]
            square[t] = max(square[t], x * x + y * y + z * z)
    for k in range(len(origin)):
        dx, dy, dz = direction[k, 0], direction[k, 1], direction[k, 2]
        length = dx * dx + dy * dy + dz * dz
        for t in range(len(corners)):
            x, y, z = middle[t, 0] - origin[k, 0], middle[t, 1] - origin[k, 1], middle[t, 2] - origin[k, 2]
            along = x * dx + y * dy + z * dz
            if (x * x + y * y + z * z - 1.001 * square[t]) * length > along * along:
                continue  # the ray passes the triangle by
            s = crossing(origin[k], direction[k], corners[t, 0], corners[t, 1], corners[t, 2])
            if s >= 0.0 and not s >= out[k]:
                out[k] = s
    return out
