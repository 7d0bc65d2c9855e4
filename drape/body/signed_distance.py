"""Signed distance to a closed mesh, sampled smoothly.

In: vertices [m] (n, 3) and outward triangles (m, 3) of a closed surface. Out: a `DistanceField`, node values
on a regular grid [m], negative inside, and samplers that return distance and gradient at any point.
Near the surface the nodes begin as point-to-triangle distances; further off they are blended from distances on a
grid three times coarser. They are then set so that the spline through them does not smooth the surface. What the
surface is, and what touches it, is left to others.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.spatial import cKDTree

from drape.arrays import Floats, Ints
from drape.kernel import kernel

OUTSIDE_GRID = 1.0e3  # m, the distance reported for a point the grid does not cover
BAND_OUTSIDE = 0.061  # m, every node nearer than this outside holds the distance to the mesh itself
BAND_INSIDE = 0.031  # m, the same inside, where nothing but a slight overlap is ever measured
COARSE = 3  # fine spacings in one coarse spacing
SIDES = ((-1, 0, 0), (1, 0, 0), (0, -1, 0), (0, 1, 0), (0, 0, -1), (0, 0, 1))  # a node's neighbours
CLOSE = 0.05  # m, how far beyond its points `closest_on_mesh` looks for triangles
APART = 1.2  # spacings between neighbouring nodes' nearest vertices from which on both are tried


class DistanceField(NamedTuple):
    """Node values of a signed distance: node (i, j, k) lies at origin + spacing * (i, j, k)."""

    origin: Floats  # (3,) [m]
    spacing: float  # [m]
    values: Floats  # (nx, ny, nz) [m], negative inside


class _Nodes(NamedTuple):
    """The nodes of a grid: their distance and the vertex nearest to each, -1 where none was looked for."""

    origin: Floats  # (3,) [m]
    spacing: float  # [m]
    values: Floats  # (nx, ny, nz) [m]
    nearest: Ints  # (nx, ny, nz)


class _Mesh(NamedTuple):
    """A closed mesh with what is needed to walk along it and to tell inside from outside."""

    vertices: Floats  # (n, 3)
    triangles: Ints  # (m, 3)
    corners: Floats  # (m, 3, 3)
    starts: Ints  # (n + 1,) where each vertex's fan begins
    fans: Ints  # (3 m,) the triangles round each vertex
    rims: Ints  # (3 m,) the vertex that follows it in each of them
    faces: Floats  # (m, 3) unit normals
    tips: Floats  # (n, 3) normals of the vertices, weighted by angle


def distance_field(vertices: Floats, triangles: Ints, *, spacing: float = 0.009, margin: float = 0.12) -> DistanceField:
    """Return the signed distance to a closed mesh on a grid that reaches `margin` beyond it.

    The spline through nodes that are exact would smooth them: at a node it is the value and an eighth of the second
    difference along each axis. That eighth is taken off every node beforehand, but for the outermost. At a body's own
    surface, where it should be 0, it is then off by 0.3 mm at most in 99 places of 100, 1.0 without, and by up to 2 mm
    in a crease or at a fingertip (tests/bench/README.md).

    Parameters: vertices [m] (n, 3); triangles (m, 3), counter-clockwise seen from outside; spacing and margin [m].
    Raises: ValueError if an array has the wrong shape.
    """
    exact = exact_nodes(vertices, triangles, spacing=spacing, margin=margin)
    values, inner = exact.values.copy(), (slice(1, -1),) * 3
    for axis in range(3):
        bent = np.roll(exact.values, 1, axis) + np.roll(exact.values, -1, axis) - 2.0 * exact.values
        values[inner] -= bent[inner] / 8.0
    return exact._replace(values=values)


def exact_nodes(vertices: Floats, triangles: Ints, *, spacing: float, margin: float) -> DistanceField:
    """Return the signed distance to a closed mesh at the nodes of a grid that reaches `margin` beyond it.

    A node walks along the mesh to the vertex nearest to it, from the nearest vertices of nodes round it, and takes the
    nearest of the triangles there. The sign follows the pseudonormal of the nearest vertex, edge or face, which is
    right for any closed mesh with consistent outward triangles, sharp corners included.

    Parameters and errors: as of `distance_field`.
    Returns: a `DistanceField`; the distance to the mesh within 6 cm outside and 3 cm inside, blended beyond. On meshes
    of a body all nodes there but one in 2000 are exact; where two sheets are nearly as far a node may hold up to 2 mm
    too much, but for one in two million no more than 0.7.
    Source: sign by angle-weighted pseudonormals, J. A. Baerentzen and H. Aanaes, Signed distance computation
    using the angle weighted pseudonormal, IEEE TVCG 11(3), 2005.
    """
    vertices = np.ascontiguousarray(vertices, dtype=np.float64)
    triangles = np.ascontiguousarray(triangles, dtype=np.int64)
    if vertices.ndim != 2 or vertices.shape[1] != 3:
        raise ValueError(f"distance: vertices: got shape {vertices.shape}, allowed (n, 3). Give one point per row.")
    if triangles.ndim != 2 or triangles.shape[1] != 3:
        raise ValueError(f"distance: triangles: got shape {triangles.shape}, allowed (m, 3). Give one per row.")
    origin = vertices.min(axis=0) - margin
    coarse_shape = np.ceil((vertices.max(axis=0) + margin - origin) / (COARSE * spacing)).astype(np.int64) + 1
    first_shape = -(-(coarse_shape - 1) // COARSE) + 1
    mesh = _Mesh(
        vertices, triangles, vertices[triangles], *_fans(len(vertices), triangles), *_normals(vertices, triangles)
    )
    first = origin + COARSE**2 * spacing * np.stack(list(np.indices(first_shape)), axis=-1)
    nearest = cKDTree(vertices).query(first.reshape(-1, 3))[1].reshape(first_shape)
    nodes = _Nodes(origin, COARSE**2 * spacing, np.zeros(first_shape), nearest)
    coarse = _level(nodes, COARSE * spacing, coarse_shape, (np.inf, np.inf), mesh)
    fine = _level(coarse, float(spacing), (coarse_shape - 1) * COARSE + 1, (BAND_OUTSIDE, BAND_INSIDE), mesh)
    return DistanceField(origin, fine.spacing, fine.values)


def _level(coarse: _Nodes, spacing: float, shape: Ints, band: tuple[float, float], mesh: _Mesh) -> _Nodes:
    """Return a grid COARSE times finer than the one given, exact so far outside and inside the mesh as `band` says
    [m].
    """
    fine = _Nodes(coarse.origin, spacing, np.empty(tuple(shape)), np.empty(tuple(shape), dtype=np.int64))
    _walk_to_nearest(fine, coarse, band, mesh)
    values, nearest = _of_both_sheets(fine, mesh)
    return fine._replace(values=values, nearest=nearest)


def distance(field: DistanceField, points: Floats) -> Floats:
    """Return the signed distance [m] of each point, shape (k,), negative inside, 1000 m outside the grid."""
    return distance_and_normal(field, points)[0]


def distance_and_normal(field: DistanceField, points: Floats) -> tuple[Floats, Floats]:
    """Return signed distance [m] (k,) and its gradient (k, 3) at points [m] (k, 3).

    The gradient is that of the sampled distance itself, of length close to 1 near the surface; it is not
    rescaled. Outside the grid it is zero. Raises ValueError if the points are not (k, 3).
    """
    points = np.ascontiguousarray(points, dtype=np.float64)
    if points.ndim != 2 or points.shape[1] != 3:
        raise ValueError(f"distance: points: got shape {points.shape}, allowed (k, 3). Give one point per row.")
    return _sample_many(field, points)


@kernel(inline="always")
def _spline(f: float) -> tuple[float, float, float, float, float, float]:
    """Quadratic B-spline weights of the nodes -1, 0, +1 at offset f in [-0.5, 0.5], and their slopes."""
    low = 0.5 - f
    high = 0.5 + f
    return 0.5 * low * low, 0.75 - f * f, 0.5 * high * high, -low, -2.0 * f, high


@kernel
def sample_distance(field: DistanceField, x: float, y: float, z: float) -> tuple[float, float, float, float]:
    """Return (distance [m], gradient x, y, z) at one point: the triquadratic B-spline of the node values.

    Continuous with its gradient. Outside the grid: (1000, 0, 0, 0).
    """
    origin, spacing, values = field
    u = (x - origin[0]) / spacing
    v = (y - origin[1]) / spacing
    w = (z - origin[2]) / spacing
    shape_x, shape_y, shape_z = values.shape
    if not (0.5 <= u < shape_x - 1.5 and 0.5 <= v < shape_y - 1.5 and 0.5 <= w < shape_z - 1.5):
        return OUTSIDE_GRID, 0.0, 0.0, 0.0
    i = int(u + 0.5)
    j = int(v + 0.5)
    k = int(w + 0.5)
    x0, x1, x2, dx0, dx1, dx2 = _spline(u - i)
    y0, y1, y2, dy0, dy1, dy2 = _spline(v - j)
    z0, z1, z2, dz0, dz1, dz2 = _spline(w - k)
    d = 0.0
    gx = 0.0
    gy = 0.0
    gz = 0.0
    for a in range(3):
        wx = x0 if a == 0 else (x1 if a == 1 else x2)
        dwx = dx0 if a == 0 else (dx1 if a == 1 else dx2)
        for b in range(3):
            wy = y0 if b == 0 else (y1 if b == 1 else y2)
            dwy = dy0 if b == 0 else (dy1 if b == 1 else dy2)
            p = values[i + a - 1, j + b - 1, k - 1]
            q = values[i + a - 1, j + b - 1, k]
            r = values[i + a - 1, j + b - 1, k + 1]
            line = z0 * p + z1 * q + z2 * r
            d += wx * wy * line
            gx += dwx * wy * line
            gy += wx * dwy * line
            gz += wx * wy * (dz0 * p + dz1 * q + dz2 * r)
    return d, gx / spacing, gy / spacing, gz / spacing


@kernel
def sample_value(field: DistanceField, x: float, y: float, z: float) -> float:
    """Return the distance alone [m] as `sample_distance` does, at a third of its cost."""
    origin, spacing, values = field
    u = (x - origin[0]) / spacing
    v = (y - origin[1]) / spacing
    w = (z - origin[2]) / spacing
    shape_x, shape_y, shape_z = values.shape
    if not (0.5 <= u < shape_x - 1.5 and 0.5 <= v < shape_y - 1.5 and 0.5 <= w < shape_z - 1.5):
        return OUTSIDE_GRID
    i = int(u + 0.5)
    j = int(v + 0.5)
    k = int(w + 0.5)
    x0, x1, x2, _, _, _ = _spline(u - i)
    y0, y1, y2, _, _, _ = _spline(v - j)
    z0, z1, z2, _, _, _ = _spline(w - k)
    d = 0.0
    for a in range(3):
        wx = x0 if a == 0 else (x1 if a == 1 else x2)
        for b in range(3):
            wy = y0 if b == 0 else (y1 if b == 1 else y2)
            line = (
                z0 * values[i + a - 1, j + b - 1, k - 1]
                + z1 * values[i + a - 1, j + b - 1, k]
                + z2 * values[i + a - 1, j + b - 1, k + 1]
            )
            d += wx * wy * line
    return d


@kernel
def _sample_many(field: DistanceField, points: Floats) -> tuple[Floats, Floats]:
    """Sample the field at many points."""
    count = points.shape[0]
    d = np.empty(count)
    g = np.empty((count, 3))
    for i in range(count):
        d[i], g[i, 0], g[i, 1], g[i, 2] = sample_distance(field, points[i, 0], points[i, 1], points[i, 2])
    return d, g


@kernel
def closest_on_triangle(px: float, py: float, pz: float, corners: Floats, t: int) -> tuple[float, float, float, int]:
    """Return the point nearest to p of triangle t with corners a, b, c (corners[t]), and its feature.

    Features: 0 face; 1, 2, 3 vertex a, b, c; 4, 5, 6 edge ab, bc, ca. Which of the seven regions p lies in follows
    from the signs of dot products of p - corner with the two edges at that corner.
    Source: the regions as in C. Ericson, Real-Time Collision Detection, 2005, section 5.1.5.
    """
    ax, ay, az = corners[t, 0, 0], corners[t, 0, 1], corners[t, 0, 2]
    bx, by, bz = corners[t, 1, 0], corners[t, 1, 1], corners[t, 1, 2]
    cx, cy, cz = corners[t, 2, 0], corners[t, 2, 1], corners[t, 2, 2]
    ux, uy, uz = bx - ax, by - ay, bz - az
    vx, vy, vz = cx - ax, cy - ay, cz - az
    u_a = ux * (px - ax) + uy * (py - ay) + uz * (pz - az)
    v_a = vx * (px - ax) + vy * (py - ay) + vz * (pz - az)
    if u_a <= 0.0 and v_a <= 0.0:
        return ax, ay, az, 1
    u_b = ux * (px - bx) + uy * (py - by) + uz * (pz - bz)
    v_b = vx * (px - bx) + vy * (py - by) + vz * (pz - bz)
    if u_b >= 0.0 and v_b <= u_b:
        return bx, by, bz, 2
    at_c = u_a * v_b - u_b * v_a
    if at_c <= 0.0 and u_a >= 0.0 and u_b <= 0.0:
        s = u_a / (u_a - u_b)
        return ax + s * ux, ay + s * uy, az + s * uz, 4
    u_c = ux * (px - cx) + uy * (py - cy) + uz * (pz - cz)
    v_c = vx * (px - cx) + vy * (py - cy) + vz * (pz - cz)
    if v_c >= 0.0 and u_c <= v_c:
        return cx, cy, cz, 3
    at_b = u_c * v_a - u_a * v_c
    if at_b <= 0.0 and v_a >= 0.0 and v_c <= 0.0:
        s = v_a / (v_a - v_c)
        return ax + s * vx, ay + s * vy, az + s * vz, 6
    at_a = u_b * v_c - u_c * v_b
    if at_a <= 0.0 and v_b - u_b >= 0.0 and u_c - v_c >= 0.0:
        s = (v_b - u_b) / ((v_b - u_b) + (u_c - v_c))
        return bx + s * (cx - bx), by + s * (cy - by), bz + s * (cz - bz), 5
    whole = at_a + at_b + at_c
    s = at_b / whole
    r = at_c / whole
    return ax + s * ux + r * vx, ay + s * uy + r * vy, az + s * uz + r * vz, 0


def closest_on_mesh(vertices: Floats, triangles: Ints, points: Floats) -> Floats:
    """Return for each point (k, 3) [m] the nearest point of the mesh, shape (k, 3).

    For a few hundred points not far from the mesh: every triangle near their common box is tried.
    Raises: ValueError if no triangle lies within `CLOSE` of the points' box.
    """
    points = np.ascontiguousarray(points, dtype=np.float64)
    above, below = vertices > points.min(axis=0) - CLOSE, vertices < points.max(axis=0) + CLOSE
    a, b, c = triangles.T
    near = vertices[triangles[((above[a] | above[b] | above[c]) & (below[a] | below[b] | below[c])).all(axis=1)]]
    if len(near) == 0:
        raise ValueError(f"distance: points: got none within {100 * CLOSE:.0f} cm of the mesh. Check the unit.")
    reach = np.linalg.norm(near[:, 1:] - near[:, :1], axis=2).max(axis=1)
    return _closest_of_all(np.ascontiguousarray(near), reach, points)


@kernel
def _closest_of_all(corners: Floats, reach: Floats, points: Floats) -> Floats:
    """Nearest of all triangles, one after the other; those that cannot reach so near are passed over."""
    out = np.empty_like(points)
    for i in range(points.shape[0]):
        x, y, z = points[i, 0], points[i, 1], points[i, 2]
        best = np.inf
        for t in range(corners.shape[0]):
            away = (x - corners[t, 0, 0]) ** 2 + (y - corners[t, 0, 1]) ** 2 + (z - corners[t, 0, 2]) ** 2
            if away > (np.sqrt(best) + reach[t]) ** 2:
                continue
            qx, qy, qz, _ = closest_on_triangle(x, y, z, corners, t)
            squared = (x - qx) ** 2 + (y - qy) ** 2 + (z - qz) ** 2
            if squared < best:
                best = squared
                out[i, 0], out[i, 1], out[i, 2] = qx, qy, qz
    return out


@kernel
def _fans(count: int, triangles: Ints) -> tuple[Ints, Ints, Ints]:
    """Return the triangles round each of so many vertices: starts, fans and rims as in `_Mesh`."""
    starts = np.zeros(count + 1, dtype=np.int64)
    for t in range(triangles.shape[0]):
        for c in range(3):
            starts[triangles[t, c] + 1] += 1
    for v in range(count):
        starts[v + 1] += starts[v]
    place = starts[:-1].copy()
    fans = np.empty(3 * triangles.shape[0], dtype=np.int64)
    rims = np.empty(3 * triangles.shape[0], dtype=np.int64)
    for t in range(triangles.shape[0]):
        for c in range(3):
            v = triangles[t, c]
            fans[place[v]] = t
            rims[place[v]] = triangles[t, (c + 1) % 3]
            place[v] += 1
    return starts, fans, rims


@kernel
def _normals(vertices: Floats, triangles: Ints) -> tuple[Floats, Floats]:
    """Return the unit normals of the triangles (m, 3) and those of the vertices, weighted by angle, (n, 3)."""
    faces = np.zeros((triangles.shape[0], 3))
    tips = np.zeros_like(vertices)
    for t in range(triangles.shape[0]):
        a, b, c = vertices[triangles[t, 0]], vertices[triangles[t, 1]], vertices[triangles[t, 2]]
        ux, uy, uz = b[0] - a[0], b[1] - a[1], b[2] - a[2]
        vx, vy, vz = c[0] - a[0], c[1] - a[1], c[2] - a[2]
        faces[t, 0], faces[t, 1], faces[t, 2] = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        double_area = np.sqrt(faces[t, 0] ** 2 + faces[t, 1] ** 2 + faces[t, 2] ** 2)
        if double_area == 0.0:
            continue
        wx, wy, wz = vx - ux, vy - uy, vz - uz
        at_a = np.arctan2(double_area, ux * vx + uy * vy + uz * vz)
        at_b = np.arctan2(double_area, -(ux * wx + uy * wy + uz * wz))
        for axis in range(3):
            faces[t, axis] /= double_area
            tips[triangles[t, 0], axis] += at_a * faces[t, axis]
            tips[triangles[t, 1], axis] += at_b * faces[t, axis]
            tips[triangles[t, 2], axis] += (np.pi - at_a - at_b) * faces[t, axis]
    for v in range(len(vertices)):
        length = np.sqrt(tips[v, 0] ** 2 + tips[v, 1] ** 2 + tips[v, 2] ** 2)
        for axis in range(3):
            tips[v, axis] /= max(length, 1e-300)
    return faces, tips


@kernel(inline="always")
def _squared(x: float, y: float, z: float, v: int, mesh: _Mesh) -> float:
    """Squared distance from a point to a vertex."""
    return (x - mesh.vertices[v, 0]) ** 2 + (y - mesh.vertices[v, 1]) ** 2 + (z - mesh.vertices[v, 2]) ** 2


@kernel
def _walk(x: float, y: float, z: float, v: int, mesh: _Mesh) -> int:
    """Return the vertex that is nearer than its neighbours, gone to from v by the nearest neighbour each time."""
    best = _squared(x, y, z, v, mesh)
    while True:
        to = v
        for n in range(mesh.starts[v], mesh.starts[v + 1]):
            squared = _squared(x, y, z, mesh.rims[n], mesh)
            if squared < best:
                best = squared
                to = mesh.rims[n]
        if to == v:
            return v
        v = to


@kernel
def _distance_at(x: float, y: float, z: float, v: int, mesh: _Mesh) -> float:
    """Return the signed distance to the triangles round a vertex, and on round the next while that lies on their
    rim.
    """
    best = np.inf
    nearest, feature = -1, 0
    rx, ry, rz = 0.0, 0.0, 0.0
    while True:
        found = -1
        for n in range(mesh.starts[v], mesh.starts[v + 1]):
            qx, qy, qz, at = closest_on_triangle(x, y, z, mesh.corners, mesh.fans[n])
            squared = (x - qx) ** 2 + (y - qy) ** 2 + (z - qz) ** 2
            if squared < best:
                best = squared
                found, feature = mesh.fans[n], at
                rx, ry, rz = x - qx, y - qy, z - qz
        if found < 0:
            break
        nearest = found
        if feature == 0:
            break
        if feature > 3:
            one, other = mesh.triangles[nearest, feature - 4], mesh.triangles[nearest, (feature - 3) % 3]
        else:
            one = other = mesh.triangles[nearest, feature - 1]
        if v in (one, other):
            break
        v = one
    normal = mesh.faces[nearest]
    if 0 < feature < 4:
        normal = mesh.tips[mesh.triangles[nearest, feature - 1]]
    side = rx * normal[0] + ry * normal[1] + rz * normal[2]
    if feature > 3:
        for n in range(mesh.starts[other], mesh.starts[other + 1]):
            if mesh.rims[n] == one:  # the triangle beyond the edge
                normal = mesh.faces[mesh.fans[n]]
                side += rx * normal[0] + ry * normal[1] + rz * normal[2]
    return -np.sqrt(best) if side < 0.0 else np.sqrt(best)


@kernel
def _walk_to_nearest(fine: _Nodes, rough: _Nodes, band: tuple[float, float], mesh: _Mesh) -> None:
    """Distance and nearest vertex in the band, trilinear blend of the rough grid and -1 beyond it, into the fine one.

    A distance changes by no more than the way gone, so each coarse node round a node bounds it from below. A walk
    begins at the nearest of the vertices that those nodes and the predecessor found.
    """
    origin, spacing, values, found = fine
    coarse, nearest = rough.values, rough.nearest
    outside, inside = band
    shape_x, shape_y, shape_z = values.shape
    for i in range(shape_x):
        x = origin[0] + i * spacing
        ci = min(i // COARSE, coarse.shape[0] - 2)
        fx = i / COARSE - ci
        for j in range(shape_y):
            y = origin[1] + j * spacing
            cj = min(j // COARSE, coarse.shape[1] - 2)
            fy = j / COARSE - cj
            last = int(np.int64(-1))  # as wide as every vertex, or what walks from it is compiled twice
            for k in range(shape_z):
                z = origin[2] + k * spacing
                ck = min(k // COARSE, coarse.shape[2] - 2)
                fz = k / COARSE - ck
                blend = 0.0
                least = 0.0
                start = last
                start_squared = np.inf if start < 0 else _squared(x, y, z, int(start), mesh)
                for a in range(2):
                    wx = fx if a == 1 else 1.0 - fx
                    for b in range(2):
                        wy = fy if b == 1 else 1.0 - fy
                        for c in range(2):
                            wz = fz if c == 1 else 1.0 - fz
                            node = coarse[ci + a, cj + b, ck + c]
                            blend += wx * wy * wz * node
                            away = COARSE * spacing * np.sqrt((a - fx) ** 2 + (b - fy) ** 2 + (c - fz) ** 2)
                            least = max(least, abs(node) - away)
                            v = nearest[ci + a, cj + b, ck + c]
                            squared = _squared(x, y, z, v, mesh)
                            if squared < start_squared:
                                start_squared = squared
                                start = v
                last = int(np.int64(-1))
                values[i, j, k] = blend
                if least <= (outside if blend > 0.0 else inside):
                    last = _walk(x, y, z, start, mesh)
                    values[i, j, k] = _distance_at(x, y, z, last, mesh)
                found[i, j, k] = last


@kernel
def _of_both_sheets(nodes: _Nodes, mesh: _Mesh) -> tuple[Floats, Ints]:
    """Return distance and nearest vertex with those of a node's neighbours tried as well where they lie apart.

    Between two sheets a walk may end on the farther one.
    """
    origin, spacing, values, found = nodes
    shape_x, shape_y, shape_z = values.shape
    better, nearest = values.copy(), found.copy()
    far = (APART * spacing) ** 2
    for i in range(shape_x):
        for j in range(shape_y):
            for k in range(shape_z):
                v = found[i, j, k]
                if v < 0:
                    continue
                for di, dj, dk in SIDES:
                    a, b, c = np.int64(i) + di, j + dj, k + dk
                    if not (0 <= a < shape_x and 0 <= b < shape_y and 0 <= c < shape_z):
                        continue
                    w = found[a, b, c]
                    if w < 0 or w == v:
                        continue
                    if _squared(mesh.vertices[v, 0], mesh.vertices[v, 1], mesh.vertices[v, 2], w, mesh) < far:
                        continue
                    x, y, z = origin[0] + i * spacing, origin[1] + j * spacing, origin[2] + k * spacing
                    w = _walk(x, y, z, w, mesh)
                    if w != v:
                        d = _distance_at(x, y, z, w, mesh)
                        if abs(d) < abs(better[i, j, k]):
                            better[i, j, k] = d
                            nearest[i, j, k] = w
    return better, nearest
