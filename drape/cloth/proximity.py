"""Proximity: which points, edges and triangles of the cloth are near each other.

In: positions [m], items (a point, an edge or a triangle, by point indices), a reach [m]. Out: index
pairs. Items are sorted along a space-filling curve and boxed in blocks, blocks in groups; only items of
blocks whose boxes are within reach are measured.
"""

from __future__ import annotations

import numba
import numpy as np

from drape.arrays import Floats, Ints
from drape.ray import crossing

POINT_TRIANGLE, EDGE_EDGE, EDGE_THROUGH_TRIANGLE = 0, 1, 2  # what `search` looks for
CHUNKS = 8  # parts a search is cut into, whatever the number of threads
BLOCK, GROUP = 12, 24  # items in a block, blocks in a group
CURVE_BITS = 10  # of each coordinate's place along the curve


def search(x: Floats, triangles: Ints, edges: Ints, reach: float, kind: int) -> Ints:
    """Pairs that share no point, by kind; (k, 2), each once.

    POINT_TRIANGLE: (point, triangle) nearer than `reach` [m]. EDGE_EDGE: (edge, edge) nearer than
    that, the lower first. EDGE_THROUGH_TRIANGLE: (edge, triangle) where the edge passes through.
    """
    points = np.arange(len(x)).reshape(-1, 1)
    first = points if kind == POINT_TRIANGLE else edges
    second = edges if kind == EDGE_EDGE else triangles
    order = along_curve(x, first)
    other = order if kind == EDGE_EDGE else along_curve(x, second)
    room = max(64, len(first) // 2)
    while True:
        out, count = search_chunks(x, first[order], second[other], reach, kind, room)
        if count.max() <= room:
            found = np.concatenate([out[c, : count[c]] for c in range(len(out))])
            pairs = np.stack([order[found[:, 0]], other[found[:, 1]]], axis=1)
            return np.sort(pairs, axis=1) if kind == EDGE_EDGE else pairs
        room = 2 * int(count.max())


def along_curve(x: Floats, items: Ints) -> Ints:
    """Order of items (k, m) along a Z-order curve through their first points (Morton, 1966)."""
    low = x.min(axis=0)
    cells = 2**CURVE_BITS - 1
    place = ((x - low) * (cells / max(float(np.ptp(x, axis=0).max()), 1e-12))).astype(np.int64)
    key = np.zeros(len(x), dtype=np.int64)
    for bit in range(CURVE_BITS):
        for c in range(3):
            key |= ((place[:, c] >> bit) & 1) << (3 * bit + c)
    return np.argsort(key[items[:, 0]], kind="stable")


@numba.njit(cache=True, error_model="numpy")
def boxes(x, items):  # pragma: no cover - compiled
    """Least and greatest coordinates (k, 6) of items (k, m) [m]."""
    box = np.empty((len(items), 6))
    for e in range(len(items)):
        for c in range(3):
            low = x[items[e, 0], c]
            high = low
            for m in range(1, items.shape[1]):
                v = x[items[e, m], c]
                low = min(low, v)
                high = max(high, v)
            box[e, c] = low
            box[e, 3 + c] = high
    return box


@numba.njit(cache=True, error_model="numpy")
def joined(box, size):  # pragma: no cover - compiled
    """Boxes round each `size` boxes in turn."""
    count = (len(box) + size - 1) // size
    out = np.empty((count, 6))
    for b in range(count):
        out[b] = box[b * size]
        for e in range(b * size + 1, min((b + 1) * size, len(box))):
            for c in range(3):
                out[b, c] = min(out[b, c], box[e, c])
                out[b, 3 + c] = max(out[b, 3 + c], box[e, 3 + c])
    return out


@numba.njit(cache=True, error_model="numpy", inline="always")
def apart(a, i, b, j, reach):  # pragma: no cover - compiled
    """Whether box i of a and box j of b are more than `reach` apart along an axis."""
    return (  # all six compared: to branch on each costs more
        (a[i, 0] > b[j, 3] + reach)
        | (b[j, 0] > a[i, 3] + reach)
        | (a[i, 1] > b[j, 4] + reach)
        | (b[j, 1] > a[i, 4] + reach)
        | (a[i, 2] > b[j, 5] + reach)
        | (b[j, 2] > a[i, 5] + reach)
    )


@numba.njit(cache=True, error_model="numpy")
def search_chunks(x, first, second, reach, kind, room):  # pragma: no cover - compiled
    """What `search` finds, in CHUNKS parts: (chunks, room, 2) and how many each part wanted."""
    own, box = boxes(x, first), boxes(x, second)
    own_block, block = joined(own, BLOCK), joined(box, BLOCK)
    group = joined(block, GROUP)
    blocks = len(own_block)
    out = np.empty((CHUNKS, room, 2), dtype=np.int64)
    count = np.zeros(CHUNKS, dtype=np.int64)
    for c in range(CHUNKS):
        near = np.empty(BLOCK, dtype=np.int64)
        for a in range(c, blocks, CHUNKS):
            for g in range(len(group)):
                if apart(own_block, a, group, g, reach):
                    continue
                for b in range(g * GROUP, min((g + 1) * GROUP, len(block))):
                    if (kind == EDGE_EDGE and b < a) or apart(own_block, a, block, b, reach):
                        continue
                    nears = 0
                    for s in range(b * BLOCK, min((b + 1) * BLOCK, len(box))):
                        if not apart(own_block, a, box, s, reach):
                            near[nears] = s
                            nears += 1
                    for e in range(a * BLOCK, min((a + 1) * BLOCK, len(own))):
                        if apart(own, e, block, b, reach):
                            continue
                        for n in range(nears):
                            s = near[n]
                            if (kind == EDGE_EDGE and s <= e) or apart(own, e, box, s, reach):
                                continue
                            if shares(first, e, second, s):
                                continue
                            if kind == POINT_TRIANGLE:
                                found = point_triangle(x, first[e, 0], second, s) <= reach
                            elif kind == EDGE_EDGE:
                                found = edge_edge(x, first[e, 0], first[e, 1], second[s, 0], second[s, 1]) <= reach
                            else:
                                found = edge_hits(x, first[e], second[s])
                            if not found:
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
    """Distance of point p from triangle t [m]."""
    dx, dy, dz = from_triangle(x, p, triangles, t)
    return np.sqrt(dx * dx + dy * dy + dz * dz)


@numba.njit(cache=True, error_model="numpy")
def from_triangle(x, p, triangles, t):  # pragma: no cover - compiled
    """The way to point p from the nearest place of triangle t [m].

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
    return apx - v * abx - w * acx, apy - v * aby - w * acy, apz - v * abz - w * acz


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
def edge_edge(x, a, b, c, d):  # pragma: no cover - compiled
    """Distance of edges ab and cd [m]."""
    wx, wy, wz = from_edge(x, a, b, c, d)
    return np.sqrt(wx * wx + wy * wy + wz * wz)


@numba.njit(cache=True, error_model="numpy")
def from_edge(x, a, b, c, d):  # pragma: no cover - compiled
    """The way to edge ab from edge cd, where they are nearest [m].

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
    return rx + s * ux - t * vx, ry + s * uy - t * vy, rz + s * uz - t * vz


@numba.njit(cache=True, error_model="numpy")
def edge_hits(x, edge, triangle):  # pragma: no cover - compiled
    """Whether a segment passes through a triangle, each given by its points."""
    start = x[edge[0]]
    s = crossing(start, x[edge[1]] - start, x[triangle[0]], x[triangle[1]], x[triangle[2]])
    return 0.0 <= s <= 1.0
