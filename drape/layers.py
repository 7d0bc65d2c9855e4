"""Layers: cloth against cloth.

In: positions [m], triangles, the cloth's thickness. Out: near pairs (a point and a triangle, or two
edges), the repulsion that keeps their middles a thickness apart [N], and the number of triangle
pairs that cross. A pair remembers on which side it began, so cloth pushed through is pushed back;
pairs are found again before anything can have moved past the margin they were found with.
"""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LAYER_STIFFNESS = 200.0  # [N/m] of one pair; a cloak's layers press with well under 0.1 N a point
MARGIN = 6e-3  # [m] beyond the thickness within which pairs are kept
WINDOW = 0.08  # share of a triangle or edge over which a pair's force fades at its ends


@dataclass(frozen=True)
class Pairs:
    """Near pairs. corners (k, 4): point, triangle's three; or two edges' ends.

    is_edges (k,): two edges rather than point and triangle. side (k,): ±1, which side of the
    triangle (or of the edges' common normal) the first lies. key (k,): identity, sorted.
    """

    corners: Ints
    is_edges: NDArray[np.bool_]
    side: Floats
    key: Ints


NO_PAIRS = Pairs(
    np.empty((0, 4), dtype=np.int64),
    np.empty(0, dtype=np.bool_),
    np.empty(0),
    np.empty(0, dtype=np.int64),
)


@dataclass(frozen=True)
class Weave:
    """What the search needs of the mesh's topology, made once."""

    triangles: Ints
    edges: Ints
    edge_triangles: Ints  # (e, 2), −1 at a free edge

    @property
    def point_count(self) -> int:
        return int(self.triangles.max()) + 1


def weave(triangles: Ints) -> Weave:
    """Edges of the triangles, each once, and the one or two triangles at each."""
    start = np.roll(triangles, -1, axis=1).ravel()
    end = np.roll(triangles, -2, axis=1).ravel()
    ends = np.stack([np.minimum(start, end), np.maximum(start, end)], axis=1)
    edges, index = np.unique(ends, axis=0, return_inverse=True)
    index = index.ravel()
    owner = np.repeat(np.arange(len(triangles)), 3)
    sides = np.full((len(edges), 2), -1, dtype=np.int64)
    order = np.argsort(index, kind="stable")
    first = np.searchsorted(index[order], np.arange(len(edges)))
    count = np.bincount(index, minlength=len(edges))
    sides[:, 0] = owner[order][first]
    two = count > 1
    sides[two, 1] = owner[order][first[two] + 1]
    return Weave(np.ascontiguousarray(triangles), edges.astype(np.int64), sides)


def find_pairs(sheet: Weave, x: Floats, *, reach: float, before: Pairs | None = None) -> Pairs:
    """All pairs nearer than `reach` [m] that share no point; sides kept from `before`."""
    cell = cell_size(sheet, x, reach)
    faces = search(x, sheet.triangles, sheet.edges, reach, cell, False)
    sides = search(x, sheet.triangles, sheet.edges, reach, cell, True)
    t_count, e_count = len(sheet.triangles), len(sheet.edges)
    face_key = faces[:, 0] * t_count + faces[:, 1]
    edge_key = sheet.point_count * t_count + sides[:, 0] * e_count + sides[:, 1]
    key = np.concatenate([face_key, edge_key])
    corners = np.concatenate(
        [
            np.concatenate([faces[:, :1], sheet.triangles[faces[:, 1]]], axis=1),
            np.concatenate([sheet.edges[sides[:, 0]], sheet.edges[sides[:, 1]]], axis=1),
        ]
    )
    is_edges = np.arange(len(key)) >= len(faces)
    order = np.argsort(key)
    key, corners, is_edges = key[order], np.ascontiguousarray(corners[order]), is_edges[order]
    side = np.empty(len(key))
    remembered = np.zeros(len(key))
    if before is not None and len(before.key):
        at = np.minimum(np.searchsorted(before.key, key), len(before.key) - 1)
        remembered = np.where(before.key[at] == key, before.side[at], 0.0)
    set_sides(x, corners, is_edges, remembered, reach - MARGIN, side)
    return Pairs(corners, is_edges, side, key)


def cell_size(sheet: Weave, x: Floats, reach: float) -> float:
    """Cell of the search grid [m]: a typical edge and the reach."""
    lengths = np.linalg.norm(x[sheet.edges[:, 0]] - x[sheet.edges[:, 1]], axis=1)
    return float(np.mean(lengths) * 1.5 + reach)


def crossing_count(sheet: Weave, x: Floats) -> int:
    """Number of pairs of triangles, sharing no point, that cross each other."""
    cell = cell_size(sheet, x, 0.0)
    hits = crossing_edges(x, sheet.triangles, sheet.edges, cell)
    pairs = set()
    for edge, triangle in hits:
        for owner in sheet.edge_triangles[edge]:
            if owner >= 0 and not np.intersect1d(
                sheet.triangles[owner], sheet.triangles[triangle]
            ).size:
                pairs.add((min(owner, triangle), max(owner, triangle)))
    return len(pairs)


@numba.njit(cache=True, error_model="numpy")
def hash_cell(i, j, k, size):  # pragma: no cover - compiled
    """Bucket of a grid cell."""
    return ((i * 73856093) ^ (j * 19349663) ^ (k * 83492791)) % size


@numba.njit(cache=True, error_model="numpy")
def boxes(x, items, grow):  # pragma: no cover - compiled
    """Axis-aligned boxes of items (k, m), grown; (k, 6)."""
    out = np.empty((len(items), 6))
    for e in range(len(items)):
        for c in range(3):
            low = x[items[e, 0], c]
            high = low
            for m in range(1, items.shape[1]):
                v = x[items[e, m], c]
                low = min(low, v)
                high = max(high, v)
            out[e, c] = low - grow
            out[e, 3 + c] = high + grow
    return out


@numba.njit(cache=True, error_model="numpy")
def fill_buckets(box, cell, size):  # pragma: no cover - compiled
    """Buckets of the grid cells each box touches, as CSR (start, item)."""
    start = np.zeros(size + 1, dtype=np.int64)
    for sweep in range(2):
        if sweep == 1:
            for b in range(size):
                start[b + 1] += start[b]
            item = np.empty(start[size], dtype=np.int64)
            cursor = start[:-1].copy()
        for e in range(len(box)):
            for i in range(int(np.floor(box[e, 0] / cell)), int(np.floor(box[e, 3] / cell)) + 1):
                for j in range(
                    int(np.floor(box[e, 1] / cell)), int(np.floor(box[e, 4] / cell)) + 1
                ):
                    for k in range(
                        int(np.floor(box[e, 2] / cell)), int(np.floor(box[e, 5] / cell)) + 1
                    ):
                        b = hash_cell(i, j, k, size)
                        if sweep == 0:
                            start[b + 1] += 1
                        else:
                            item[cursor[b]] = e
                            cursor[b] += 1
    return start, item


@numba.njit(cache=True, error_model="numpy")
def apart(a, b):  # pragma: no cover - compiled
    """Whether two boxes are apart."""
    for c in range(3):
        if a[c] > b[3 + c] or b[c] > a[3 + c]:
            return True
    return False


@numba.njit(cache=True, error_model="numpy")
def search(x, triangles, edges, reach, cell, want_edges):  # pragma: no cover - compiled
    """Pairs (point, triangle) or (edge, edge) nearer than `reach`, sharing no point; (k, 2)."""
    points = np.arange(len(x)).reshape(-1, 1)
    first = edges if want_edges else points
    second = edges if want_edges else triangles
    box = boxes(x, second, reach)
    own = boxes(x, first, 0.0)
    size = 2 * len(second) + 1
    start, item = fill_buckets(box, cell, size)
    seen = np.full(len(second), -1, dtype=np.int64)
    out = np.empty((max(64, 4 * len(x)), 2), dtype=np.int64)
    count = 0
    for e in range(len(first)):
        for i in range(int(np.floor(own[e, 0] / cell)), int(np.floor(own[e, 3] / cell)) + 1):
            for j in range(int(np.floor(own[e, 1] / cell)), int(np.floor(own[e, 4] / cell)) + 1):
                for k in range(
                    int(np.floor(own[e, 2] / cell)), int(np.floor(own[e, 5] / cell)) + 1
                ):
                    b = hash_cell(i, j, k, size)
                    for m in range(start[b], start[b + 1]):
                        s = item[m]
                        if seen[s] == e or (want_edges and s <= e):
                            continue
                        seen[s] = e
                        if apart(own[e], box[s]) or shares(first[e], second[s]):
                            continue
                        if want_edges:
                            _, _, d = edge_edge(
                                x, edges[e, 0], edges[e, 1], edges[s, 0], edges[s, 1]
                            )
                        else:
                            d = point_triangle(x, e, triangles[s])
                        if d > reach:
                            continue
                        if count == len(out):
                            grown = np.empty((2 * count, 2), dtype=np.int64)
                            grown[:count] = out
                            out = grown
                        out[count, 0] = e
                        out[count, 1] = s
                        count += 1
    return out[:count].copy()


@numba.njit(cache=True, error_model="numpy")
def shares(a, b):  # pragma: no cover - compiled
    """Whether two lists of points have one in common."""
    for i in a:
        for j in b:
            if i == j:
                return True
    return False


@numba.njit(cache=True, error_model="numpy")
def point_triangle(x, p, triangle):  # pragma: no cover - compiled
    """Distance of point p from a triangle [m].

    Source: region tests after Ericson, Real-Time Collision Detection (2005), §5.1.5.
    """
    a, b, c = x[triangle[0]], x[triangle[1]], x[triangle[2]]
    ab, ac, ap = b - a, c - a, x[p] - a
    d1, d2 = dot(ab, ap), dot(ac, ap)
    if d1 <= 0 and d2 <= 0:
        return np.sqrt(dot(ap, ap))
    bp = x[p] - b
    d3, d4 = dot(ab, bp), dot(ac, bp)
    if d3 >= 0 and d4 <= d3:
        return np.sqrt(dot(bp, bp))
    cp = x[p] - c
    d5, d6 = dot(ab, cp), dot(ac, cp)
    if d6 >= 0 and d5 <= d6:
        return np.sqrt(dot(cp, cp))
    vc = d1 * d4 - d3 * d2
    if vc <= 0 and d1 >= 0 and d3 <= 0:
        away = ap - ab * (d1 / (d1 - d3))
        return np.sqrt(dot(away, away))
    vb = d5 * d2 - d1 * d6
    if vb <= 0 and d2 >= 0 and d6 <= 0:
        away = ap - ac * (d2 / (d2 - d6))
        return np.sqrt(dot(away, away))
    va = d3 * d6 - d5 * d4
    if va <= 0 and d4 - d3 >= 0 and d5 - d6 >= 0:
        away = bp - (c - b) * ((d4 - d3) / ((d4 - d3) + (d5 - d6)))
        return np.sqrt(dot(away, away))
    total = va + vb + vc
    away = ap - ab * (vb / total) - ac * (vc / total)
    return np.sqrt(dot(away, away))


@numba.njit(cache=True, error_model="numpy")
def dot(a, b):  # pragma: no cover - compiled
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@numba.njit(cache=True, error_model="numpy")
def edge_edge(x, a, b, c, d):  # pragma: no cover - compiled
    """Nearest places s, t in [0, 1] on edges ab and cd, and their distance [m].

    Source: clamped normal equations after Ericson (2005), §5.1.9.
    """
    u, v, r = x[b] - x[a], x[d] - x[c], x[a] - x[c]
    uu, vv, uv = dot(u, u), dot(v, v), dot(u, v)
    ur, vr = dot(u, r), dot(v, r)
    determinant = uu * vv - uv * uv
    s = 0.5
    if determinant > 1e-12 * uu * vv:
        s = min(1.0, max(0.0, (uv * vr - ur * vv) / determinant))
    t = (uv * s + vr) / vv
    if t < 0.0:
        t = 0.0
        s = min(1.0, max(0.0, -ur / uu))
    elif t > 1.0:
        t = 1.0
        s = min(1.0, max(0.0, (uv - ur) / uu))
    away = r + s * u - t * v
    return s, t, np.sqrt(dot(away, away))


@numba.njit(cache=True, error_model="numpy")
def set_sides(x, corners, is_edges, remembered, thickness, side):  # pragma: no cover - compiled
    """Side of every pair: the remembered one while it presses, else where it is now."""
    for k in range(len(corners)):
        now, window, clear = pair_state(x, corners[k], is_edges[k], thickness)
        keep = remembered[k] != 0.0 and (window > 0.0 and not clear)
        side[k] = remembered[k] if keep else (1.0 if now >= 0.0 else -1.0)


@numba.njit(cache=True, error_model="numpy")
def pair_state(x, corner, two_edges, thickness):  # pragma: no cover - compiled
    """Signed distance along the pair's normal, its window weight, and whether it is well clear.

    For two edges nearly parallel, or well apart, the common normal may turn over: no memory.
    """
    gap, weight, _, _, _, _, _, _, _ = pair_geometry(x, corner, two_edges)
    return gap, weight, two_edges and abs(gap) > thickness


@numba.njit(cache=True, error_model="numpy")
def fade(w):  # pragma: no cover - compiled
    """Smooth 0 → 1 as w goes from −WINDOW to WINDOW."""
    if w <= -WINDOW:
        return 0.0
    if w >= WINDOW:
        return 1.0
    s = 0.5 * (w / WINDOW + 1.0)
    return s * s * (3.0 - 2.0 * s)


@numba.njit(cache=True, error_model="numpy")
def pair_geometry(x, corner, two_edges):  # pragma: no cover - compiled
    """Signed distance, window, normal (3) and the four shares of the pair's force.

    Point p and triangle abc: normal of abc, shares (1, −β). Edges ab and cd: common normal,
    shares (1−s, s, −(1−t), −t) at the nearest places of their lines.
    """
    p, q, r, o = corner[0], corner[1], corner[2], corner[3]
    first, second, base = (p, q, r) if two_edges else (q, r, q)
    ux = x[second, 0] - x[first, 0]
    uy = x[second, 1] - x[first, 1]
    uz = x[second, 2] - x[first, 2]
    vx = x[o, 0] - x[base, 0]
    vy = x[o, 1] - x[base, 1]
    vz = x[o, 2] - x[base, 2]
    wx = x[p, 0] - x[base, 0]
    wy = x[p, 1] - x[base, 1]
    wz = x[p, 2] - x[base, 2]
    nx = uy * vz - uz * vy
    ny = uz * vx - ux * vz
    nz = ux * vy - uy * vx
    square = nx * nx + ny * ny + nz * nz
    uu = ux * ux + uy * uy + uz * uz
    vv = vx * vx + vy * vy + vz * vz
    uv = ux * vx + uy * vy + uz * vz
    sine = square / (uu * vv)
    if sine < 1e-6:
        return 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    size = np.sqrt(square)
    nx /= size
    ny /= size
    nz /= size
    gap = nx * wx + ny * wy + nz * wz
    uw = ux * wx + uy * wy + uz * wz
    vw = vx * wx + vy * wy + vz * wz
    if two_edges:
        s = (uv * vw - uw * vv) / square
        t = (uu * vw - uv * uw) / square
        weight = fade(s) * fade(1.0 - s) * fade(t) * fade(1.0 - t) * min(1.0, sine / 0.02)
        return gap, weight, nx, ny, nz, 1.0 - s, s, t - 1.0, -t
    b = (vv * uw - uv * vw) / square
    c = (uu * vw - uv * uw) / square
    a = 1.0 - b - c
    weight = fade(a) * fade(b) * fade(c)
    return gap, weight, nx, ny, nz, 1.0, -a, -b, -c


@numba.njit(cache=True, error_model="numpy")
def pair_forces(x, corners, is_edges, side, thickness, out):  # pragma: no cover - compiled
    """Repulsion of all pairs into out (p, 3) [N], overwritten; linear below the thickness."""
    out[:] = 0.0
    for k in range(len(corners)):
        gap, weight, nx, ny, nz, s0, s1, s2, s3 = pair_geometry(x, corners[k], is_edges[k])
        depth = thickness - side[k] * gap
        if depth <= 0.0 or weight <= 0.0:
            continue
        push = side[k] * weight * LAYER_STIFFNESS * depth
        shares = (s0, s1, s2, s3)
        for m in range(4):
            i = corners[k, m]
            out[i, 0] += push * shares[m] * nx
            out[i, 1] += push * shares[m] * ny
            out[i, 2] += push * shares[m] * nz


@numba.njit(cache=True, error_model="numpy")
def crossing_edges(x, triangles, edges, cell):  # pragma: no cover - compiled
    """(edge, triangle) pairs, sharing no point, where the edge passes through the triangle."""
    box = boxes(x, triangles, 0.0)
    own = boxes(x, edges, 0.0)
    size = 2 * len(triangles) + 1
    start, item = fill_buckets(box, cell, size)
    seen = np.full(len(triangles), -1, dtype=np.int64)
    out = []
    for e in range(len(edges)):
        for i in range(int(np.floor(own[e, 0] / cell)), int(np.floor(own[e, 3] / cell)) + 1):
            for j in range(int(np.floor(own[e, 1] / cell)), int(np.floor(own[e, 4] / cell)) + 1):
                for k in range(
                    int(np.floor(own[e, 2] / cell)), int(np.floor(own[e, 5] / cell)) + 1
                ):
                    b = hash_cell(i, j, k, size)
                    for m in range(start[b], start[b + 1]):
                        s = item[m]
                        if seen[s] == e:
                            continue
                        seen[s] = e
                        if apart(own[e], box[s]) or shares(edges[e], triangles[s]):
                            continue
                        if edge_hits(x, edges[e], triangles[s]):
                            out.append((e, s))
    return out


@numba.njit(cache=True, error_model="numpy")
def edge_hits(x, edge, triangle):  # pragma: no cover - compiled
    """Whether a segment passes through a triangle (Möller and Trumbore, 1997)."""
    p, direction = x[edge[0]], x[edge[1]] - x[edge[0]]
    a = x[triangle[0]]
    u, v, w = x[triangle[1]] - a, x[triangle[2]] - a, p - a
    h = np.cross(direction, v)
    determinant = dot(u, h)
    if abs(determinant) < 1e-18:
        return False
    b = dot(w, h) / determinant
    g = np.cross(w, u)
    c = dot(direction, g) / determinant
    s = dot(v, g) / determinant
    return b >= 0.0 and c >= 0.0 and b + c <= 1.0 and 0.0 <= s <= 1.0
