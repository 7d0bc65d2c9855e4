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

LAYER_STIFFNESS = 1000.0  # [N/m] of one pair: folds jammed at the neck press with 1 N, a third of the thickness
SOFT = 1e-3  # [m] of approach over which the repulsion sets in, so that layers lie without chatter
POINT_TRIANGLE, EDGE_EDGE, EDGE_THROUGH_TRIANGLE = 0, 1, 2  # what `search` looks for
CHUNKS = 8  # parts a search is cut into, whatever the number of threads
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


def find_pairs(
    sheet: Weave, x: Floats, *, thickness: float, margin: float, before: Pairs = NO_PAIRS
) -> Pairs:
    """All pairs nearer than thickness + margin [m] that share no point; sides kept from `before`."""
    reach = thickness + margin
    faces = search(x, sheet.triangles, sheet.edges, reach, POINT_TRIANGLE)
    sides = search(x, sheet.triangles, sheet.edges, reach, EDGE_EDGE)
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
    key, order = np.unique(key, return_index=True)
    corners, is_edges = np.ascontiguousarray(corners[order]), is_edges[order]
    side = np.empty(len(key))
    remembered = np.zeros(len(key))
    if len(before.key):
        at = np.minimum(np.searchsorted(before.key, key), len(before.key) - 1)
        remembered = np.where(before.key[at] == key, before.side[at], 0.0)
    set_sides(x, corners, is_edges, remembered, thickness, side)
    return Pairs(corners, is_edges, side, key)


def crossing_count(sheet: Weave, x: Floats) -> int:
    """Number of pairs of triangles, sharing no point, that cross each other."""
    hits = search(x, sheet.triangles, sheet.edges, 0.0, EDGE_THROUGH_TRIANGLE)
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
    """Bucket of a grid cell; size a power of two."""
    return ((i * 73856093) ^ (j * 19349663) ^ (k * 83492791)) & (size - 1)


@numba.njit(cache=True, error_model="numpy")
def boxes(x, items):  # pragma: no cover - compiled
    """Centres (k, 3) and half extents (k, 3) of the axis-aligned boxes of items (k, m) [m]."""
    centre = np.empty((len(items), 3))
    half = np.empty((len(items), 3))
    for e in range(len(items)):
        for c in range(3):
            low = x[items[e, 0], c]
            high = low
            for m in range(1, items.shape[1]):
                v = x[items[e, m], c]
                low = min(low, v)
                high = max(high, v)
            centre[e, c] = 0.5 * (low + high)
            half[e, c] = 0.5 * (high - low)
    return centre, half


@numba.njit(cache=True, error_model="numpy")
def fill_buckets(centre, cell, size):  # pragma: no cover - compiled
    """Items in the bucket of the grid cell their centre lies in, as CSR (start, item)."""
    start = np.zeros(size + 1, dtype=np.int64)
    bucket = np.empty(len(centre), dtype=np.int64)
    for e in range(len(centre)):
        bucket[e] = hash_cell(
            int(np.floor(centre[e, 0] / cell)),
            int(np.floor(centre[e, 1] / cell)),
            int(np.floor(centre[e, 2] / cell)),
            size,
        )
        start[bucket[e] + 1] += 1
    for b in range(size):
        start[b + 1] += start[b]
    item = np.empty(len(centre), dtype=np.int64)
    cursor = start[:-1].copy()
    for e in range(len(centre)):
        item[cursor[bucket[e]]] = e
        cursor[bucket[e]] += 1
    return start, item


def search(x: Floats, triangles: Ints, edges: Ints, reach: float, kind: int) -> Ints:
    """Pairs that share no point, by kind; (k, 2), a pair now and then twice.

    POINT_TRIANGLE: (point, triangle) nearer than `reach` [m]. EDGE_EDGE: (edge, edge) nearer than
    that, the lower first. EDGE_THROUGH_TRIANGLE: (edge, triangle) where the edge passes through.
    """
    points = np.arange(len(x)).reshape(-1, 1)
    first = points if kind == POINT_TRIANGLE else edges
    second = edges if kind == EDGE_EDGE else triangles
    room = max(64, len(first) // 2)
    while True:
        out, count = search_chunks(x, first, second, reach, kind, room)
        if count.max() <= room:
            return np.concatenate([out[c, : count[c]] for c in range(len(out))])
        room = 2 * int(count.max())


@numba.njit(cache=True, parallel=True, error_model="numpy")
def search_chunks(x, first, second, reach, kind, room):  # pragma: no cover - compiled
    """What `search` finds, in CHUNKS parts: (chunks, room, 2) and how many each part wanted.

    Items lie in cells by their boxes' centres, cells so wide that only neighbours can be near.
    """
    own, own_half = boxes(x, first)
    centre, half = boxes(x, second)
    cell = own_half.max() + half.max() + reach + 1e-9
    size = 1
    while size < 2 * len(second):
        size *= 2
    start, item = fill_buckets(centre, cell, size)
    centre = centre[item]
    half = half[item]
    out = np.empty((CHUNKS, room, 2), dtype=np.int64)
    count = np.zeros(CHUNKS, dtype=np.int64)
    for c in numba.prange(CHUNKS):
        for e in range(c * len(first) // CHUNKS, (c + 1) * len(first) // CHUNKS):
            ox, oy, oz = own[e, 0], own[e, 1], own[e, 2]
            hx, hy, hz = own_half[e, 0] + reach, own_half[e, 1] + reach, own_half[e, 2] + reach
            i0 = int(np.floor(ox / cell))
            j0 = int(np.floor(oy / cell))
            k0 = int(np.floor(oz / cell))
            for n in range(27):
                b = hash_cell(i0 + n // 9 - 1, j0 + (n // 3) % 3 - 1, k0 + n % 3 - 1, size)
                for m in range(start[b], start[b + 1]):
                    if abs(ox - centre[m, 0]) > hx + half[m, 0]:
                        continue
                    if abs(oy - centre[m, 1]) > hy + half[m, 1]:
                        continue
                    if abs(oz - centre[m, 2]) > hz + half[m, 2]:
                        continue
                    s = item[m]
                    if (kind == EDGE_EDGE and s <= e) or shares(first, e, second, s):
                        continue
                    if kind == POINT_TRIANGLE:
                        near = point_triangle(x, e, second, s) <= reach
                    elif kind == EDGE_EDGE:
                        near = edge_edge(x, first[e, 0], first[e, 1], second[s, 0], second[s, 1]) <= reach
                    else:
                        near = edge_hits(x, first[e], second[s])
                    if not near:
                        continue
                    if count[c] < room:
                        out[c, count[c], 0] = e
                        out[c, count[c], 1] = s
                    count[c] += 1
    return out, count


@numba.njit(cache=True, error_model="numpy")
def shares(a, e, b, s):  # pragma: no cover - compiled
    """Whether item e of a and item s of b have a point in common."""
    for i in range(a.shape[1]):
        for j in range(b.shape[1]):
            if a[e, i] == b[s, j]:
                return True
    return False


@numba.njit(cache=True, error_model="numpy")
def point_triangle(x, p, triangles, t):  # pragma: no cover - compiled
    """Distance of point p from triangle t [m].

    Source: the nearest point is inside, or on an edge; tests after Ericson, Real-Time Collision
    Detection (2005), §5.1.5.
    """
    i, j, k = triangles[t, 0], triangles[t, 1], triangles[t, 2]
    abx, aby, abz = x[j, 0] - x[i, 0], x[j, 1] - x[i, 1], x[j, 2] - x[i, 2]
    acx, acy, acz = x[k, 0] - x[i, 0], x[k, 1] - x[i, 1], x[k, 2] - x[i, 2]
    apx, apy, apz = x[p, 0] - x[i, 0], x[p, 1] - x[i, 1], x[p, 2] - x[i, 2]
    bb = abx * abx + aby * aby + abz * abz
    cc = acx * acx + acy * acy + acz * acz
    bc = abx * acx + aby * acy + abz * acz
    d1 = abx * apx + aby * apy + abz * apz
    d2 = acx * apx + acy * apy + acz * apz
    determinant = bb * cc - bc * bc
    v = (cc * d1 - bc * d2) / determinant
    w = (bb * d2 - bc * d1) / determinant
    if v < 0.0 or w < 0.0 or v + w > 1.0:
        v, w = nearest_on_rim(bb, cc, bc, d1, d2)
    dx = apx - v * abx - w * acx
    dy = apy - v * aby - w * acy
    dz = apz - v * abz - w * acz
    return np.sqrt(dx * dx + dy * dy + dz * dz)


@numba.njit(cache=True, error_model="numpy")
def nearest_on_rim(bb, cc, bc, d1, d2):  # pragma: no cover - compiled
    """Coordinates (v, w) of the nearest point on a triangle's rim, from its inner products.

    Compares |v ab + w ac|² − 2 (v d1 + w d2) on the three edges.
    """
    v = min(1.0, max(0.0, d1 / bb))
    best_v, best_w, best = v, 0.0, v * (v * bb - 2.0 * d1)
    w = min(1.0, max(0.0, d2 / cc))
    value = w * (w * cc - 2.0 * d2)
    if value < best:
        best_v, best_w, best = 0.0, w, value
    side = bb + cc - 2.0 * bc  # from b (v = 1) to c (w = 1)
    w = min(1.0, max(0.0, (bb - bc + d2 - d1) / side))
    v = 1.0 - w
    value = v * (v * bb - 2.0 * d1) + w * (w * cc - 2.0 * d2) + 2.0 * v * w * bc
    if value < best:
        best_v, best_w = v, w
    return best_v, best_w


@numba.njit(cache=True, error_model="numpy")
def dot(a, b):  # pragma: no cover - compiled
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@numba.njit(cache=True, error_model="numpy")
def edge_edge(x, a, b, c, d):  # pragma: no cover - compiled
    """Distance of edges ab and cd [m].

    Source: clamped normal equations after Ericson (2005), §5.1.9.
    """
    ux, uy, uz = x[b, 0] - x[a, 0], x[b, 1] - x[a, 1], x[b, 2] - x[a, 2]
    vx, vy, vz = x[d, 0] - x[c, 0], x[d, 1] - x[c, 1], x[d, 2] - x[c, 2]
    rx, ry, rz = x[a, 0] - x[c, 0], x[a, 1] - x[c, 1], x[a, 2] - x[c, 2]
    uu = ux * ux + uy * uy + uz * uz
    vv = vx * vx + vy * vy + vz * vz
    uv = ux * vx + uy * vy + uz * vz
    ur = ux * rx + uy * ry + uz * rz
    vr = vx * rx + vy * ry + vz * rz
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
    wx = rx + s * ux - t * vx
    wy = ry + s * uy - t * vy
    wz = rz + s * uz - t * vz
    return np.sqrt(wx * wx + wy * wy + wz * wz)


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
    return gap, weight, two_edges and abs(gap) > 2.0 * thickness


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
    """Repulsion of all pairs into out (p, 3) [N], overwritten; it sets in softly at the thickness."""
    out[:] = 0.0
    for k in range(len(corners)):
        gap, weight, nx, ny, nz, s0, s1, s2, s3 = pair_geometry(x, corners[k], is_edges[k])
        depth = thickness - side[k] * gap
        if depth <= 0.0 or weight <= 0.0:
            continue
        soft = depth * depth / (2.0 * SOFT) if depth < SOFT else depth - 0.5 * SOFT
        push = side[k] * weight * LAYER_STIFFNESS * soft
        shares = (s0, s1, s2, s3)
        for m in range(4):
            i = corners[k, m]
            out[i, 0] += push * shares[m] * nx
            out[i, 1] += push * shares[m] * ny
            out[i, 2] += push * shares[m] * nz


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
