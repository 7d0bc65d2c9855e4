"""Proximity: which points, edges and triangles of the cloth are near each other.

In: positions [m], triangles and edges by point indices, a reach [m]. Out: index pairs. The mesh is cut once into
blocks of neighbouring triangles, halved and halved again by how many edges one walks to get there, so that
they serve however the cloth lies. A search boxes the blocks as a binary tree, and measures items of near blocks only.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from drape.arrays import Floats, Ints
from drape.kernel import kernel
from drape.ray import crossing

FULL = 16  # triangles in a block at most, and more than half as many
MARKS = 3  # points from which the way along edges is counted
SLACK = 1e-9  # share by which rounding may misjudge how far apart two items are


class Items(NamedTuple):
    """Points, edges or triangles, block after block: the points of each (k, m), its place in the mesh's own list (k,),
    and where each block begins (b + 1,).
    """

    ends: Ints
    place: Ints
    start: Ints


class Blocks(NamedTuple):
    """A mesh cut into blocks, a power of two. An edge or a point is of the block of one of its triangles."""

    points: Items
    edges: Items
    triangles: Items


def blocks_of(triangles: Ints, edges: Ints, triangle_of_edge: Ints) -> Blocks:
    """The blocks of a mesh: triangles (t, 3), edges (e, 2), a triangle of each edge (e,)."""
    count = 2 ** max(0, int(np.ceil(np.log2(len(triangles) / FULL))))
    order = halved(steps_from_marks(edges, int(triangles.max()) + 1)[triangles].mean(axis=1), count)
    block = np.empty(len(triangles), dtype=np.int64)
    block[order] = np.arange(len(triangles)) * count // len(triangles)
    points, first = np.unique(triangles, return_index=True)
    return Blocks(
        in_blocks(points.reshape(-1, 1), block[first // 3], count),
        in_blocks(edges, block[triangle_of_edge], count),
        in_blocks(triangles, block, count),
    )


def in_blocks(ends: Ints, block: Ints, count: int) -> Items:
    """Items (k, m) sorted by their block (k,), of `count`."""
    place = np.argsort(block, kind="stable")
    start = np.searchsorted(block[place], np.arange(count + 1))
    return Items(np.ascontiguousarray(ends[place], dtype=np.int64), place, start)


def steps_from_marks(edges: Ints, point_count: int) -> Floats:
    """How many edges one walks to each point from marks far from each other, (p, marks)."""
    links = csr_array((np.ones(len(edges)), (edges[:, 0], edges[:, 1])), shape=(point_count, point_count))
    steps = np.full((point_count, MARKS), 2.0 * point_count)  # where no way leads
    mark = 0
    for k in range(MARKS):
        way = dijkstra(links, directed=False, indices=mark)
        steps[:, k] = np.where(np.isfinite(way), way, 2.0 * point_count)
        mark = int(np.argmax(steps[:, : k + 1].min(axis=1)))
    return steps


def halved(place: Floats, count: int) -> Ints:
    """Order of items at `place` (k, d) in which each of `count` runs, a power of two, as long as the next or one
    longer, lies together: cut in two where they spread widest, and again.
    """
    order, runs = np.arange(len(place)), 1
    while runs < count:
        run = np.arange(len(place)) * runs // len(place)
        first = np.searchsorted(run, np.arange(runs))
        here = place[order]
        widest = np.argmax(np.maximum.reduceat(here, first) - np.minimum.reduceat(here, first), axis=1)
        order = order[np.lexsort((here[np.arange(len(place)), widest[run]], run))]
        runs *= 2
    return order


class Boxed(NamedTuple):
    """Boxes round items, block after block: least and greatest coordinates (k, 6) [m]; where each block begins."""

    box: Floats
    start: Ints


class Near(NamedTuple):
    """Boxes of the blocks as a binary tree (2 b, 6): node n halves into 2 n and 2 n + 1, and block k is node b + k.

    pairs (k, 2): the blocks no further apart than was asked, each with itself, the lower second.
    """

    tree: Floats
    pairs: Ints


def near_pairs(x: Floats, blocks: Blocks, reach: float) -> tuple[Ints, Floats, Ints, Floats]:
    """Pairs that share no point and are no further apart than `reach` [m], each once.

    (point, triangle) pairs (k, 2) and their distances [m] (k,); (edge, edge) pairs, the lower first, and theirs.
    """
    near = near_blocks(x, blocks.triangles, reach)
    points = all_of(near_points, x, blocks.points, blocks.triangles, near, reach)
    return *points, *all_of(near_edges, x, blocks.edges, blocks.edges, near, reach)


def piercing_pairs(x: Floats, blocks: Blocks) -> Ints:
    """(edge, triangle) pairs (k, 2) that share no point, where the edge passes through the triangle."""
    near = near_blocks(x, blocks.triangles, 0.0)
    return all_of(piercing_edges, x, blocks.edges, blocks.triangles, near, 0.0)[0]


def near_blocks(x: Floats, triangles: Items, reach: float) -> Near:
    """Which blocks are no further apart than `reach` [m]."""
    tree = tree_of(x, triangles)
    room = 8 * len(tree)
    while True:
        pairs = np.empty((room, 2), dtype=np.int64)
        count = walk(tree, reach, pairs)
        if count <= room:
            return Near(tree, pairs[:count])
        room = count


def all_of(
    find: Callable[..., int], x: Floats, own: Items, other: Items, near: Near, reach: float
) -> tuple[Ints, Floats]:
    """The pairs that a compiled loop finds (k, 2) and their distances [m] (k,), in arrays as long as it takes."""
    room = max(64, len(own.ends) // 2)
    while True:
        pairs, distance = np.empty((room, 2), dtype=np.int64), np.empty(room)
        count = find(x, own, other, near, reach, pairs, distance)
        if count <= room:
            return pairs[:count], distance[:count]
        room = count


@kernel
def boxed(x, items):  # pragma: no cover - compiled
    """Boxes round the items."""
    ends, _, start = items
    box = np.empty((len(ends), 6))
    for e in range(len(ends)):
        for c in range(3):
            low = x[ends[e, 0], c]
            high = low
            for m in range(1, ends.shape[1]):
                v = x[ends[e, m], c]
                low = min(low, v)
                high = max(high, v)
            box[e, c] = low
            box[e, 3 + c] = high
    return Boxed(box, start)


@kernel
def tree_of(x, triangles):  # pragma: no cover - compiled
    """The tree of boxes in `Near` round the blocks' triangles."""
    box, start = boxed(x, triangles)
    blocks = len(start) - 1
    tree = np.empty((2 * blocks, 6))
    for n in range(2 * blocks - 1, 0, -1):
        inside, first, last = (
            (box, start[n - blocks], start[n - blocks + 1]) if n >= blocks else (tree, 2 * n, 2 * n + 2)
        )
        for c in range(3):
            low = inside[first, c]
            high = inside[first, 3 + c]
            for e in range(first + 1, last):
                low = min(low, inside[e, c])
                high = max(high, inside[e, 3 + c])
            tree[n, c] = low
            tree[n, 3 + c] = high
    return tree


@kernel
def walk(tree, reach, out):  # pragma: no cover - compiled
    """Pairs of blocks in `Near` into out (k, 2), as many as it holds; returns how many there are."""
    blocks = len(tree) // 2
    halves = np.empty((256, 2), dtype=np.int64)  # yet to look at: three more for every doubling of the blocks
    halves[0] = 1
    left, count = 1, 0
    while left:
        left -= 1
        i, j = halves[left, 0], halves[left, 1]
        if i != j and apart(tree, i, tree, j, reach):
            continue
        if i >= blocks:
            if count < len(out):
                out[count, 0] = i - blocks
                out[count, 1] = j - blocks
            count += 1
            continue
        for a in range(2):
            for b in range(2):
                if i != j or b <= a:
                    halves[left, 0] = 2 * i + a
                    halves[left, 1] = 2 * j + b
                    left += 1
    return count


@kernel
def apart(a, i, b, j, reach):  # pragma: no cover - compiled
    """Whether box i of a and box j of b are more than `reach` apart along an axis."""
    return (  # all six compared: to branch on each costs more
        (a[i, 0] - reach > b[j, 3])
        | (a[i, 1] - reach > b[j, 4])
        | (a[i, 2] - reach > b[j, 5])
        | (a[i, 3] + reach < b[j, 0])
        | (a[i, 4] + reach < b[j, 1])
        | (a[i, 5] + reach < b[j, 2])
    )


@kernel
def room_for(own, other):  # pragma: no cover - compiled
    """Room for all pairs of items of any two blocks, (k, 2)."""
    most, others = 0, 0
    for b in range(len(own.start) - 1):
        most = max(most, own.start[b + 1] - own.start[b])
        others = max(others, other.start[b + 1] - other.start[b])
    return np.empty((max(most, 1) * others, 3), dtype=np.int64)


@kernel
def near_items(own, other, a, b, tree, reach, out):  # pragma: no cover - compiled
    """Items of `own` in block a and of `other` in block b whose boxes are within reach, into out (k, 2); how many.

    Nothing branches on what is compared: half the boxes are near, which no processor could guess.
    """
    box, start = own
    their_box, their_start = other
    block = len(tree) // 2 + a
    nears, count = 0, 0
    for s in range(their_start[b], their_start[b + 1]):
        out[nears, 2] = s
        nears += not apart(tree, block, their_box, s, reach)
    for e in range(start[a], start[a + 1]):
        x0, y0, z0 = box[e, 0] - reach, box[e, 1] - reach, box[e, 2] - reach
        x1, y1, z1 = box[e, 3] + reach, box[e, 4] + reach, box[e, 5] + reach
        for n in range(nears):
            s = out[n, 2]
            out[count, 0] = e
            out[count, 1] = s
            count += (
                (x0 <= their_box[s, 3])
                & (y0 <= their_box[s, 4])
                & (z0 <= their_box[s, 5])
                & (x1 >= their_box[s, 0])
                & (y1 >= their_box[s, 1])
                & (z1 >= their_box[s, 2])
            )
    return count


@kernel
def near_points(x, points, triangles, near, reach, pairs, distance):  # pragma: no cover - compiled
    """What `near_pairs` finds of points and triangles, into pairs and distance, as many as these hold; how many."""
    own, other = boxed(x, points), boxed(x, triangles)
    corners = triangles.ends
    some = room_for(points, triangles)
    found = 0
    for n in range(2 * len(near.pairs)):
        a, b = near.pairs[n // 2, n % 2], near.pairs[n // 2, 1 - n % 2]
        if a == b and n % 2:
            continue
        count, kept = near_items(own, other, a, b, near.tree, reach, some), 0
        for k in range(count):
            p, t = points.ends[some[k, 0], 0], some[k, 1]
            some[kept, 0] = p
            some[kept, 1] = t
            i, j, m = corners[t, 0], corners[t, 1], corners[t, 2]
            kept += (p != i) & (p != j) & (p != m) & (not beyond_triangle(x, p, i, j, m, reach))
        for k in range(kept):
            p, t = some[k, 0], some[k, 1]
            apart = point_triangle(x, p, corners, t)
            if apart <= reach:
                if found < len(pairs):
                    pairs[found, 0] = p
                    pairs[found, 1] = triangles.place[t]
                    distance[found] = apart
                found += 1
    return found


@kernel
def near_edges(x, edges, _, near, reach, pairs, distance):  # pragma: no cover - compiled
    """What `near_pairs` finds of edges, into pairs and distance, as many as these hold; how many."""
    own, ends = boxed(x, edges), edges.ends
    some = room_for(edges, edges)
    found = 0
    for n in range(len(near.pairs)):
        a, b = near.pairs[n, 0], near.pairs[n, 1]
        count, kept = near_items(own, own, a, b, near.tree, reach, some), 0
        for k in range(count):
            e, s = some[k, 0], some[k, 1]
            some[kept, 0] = e
            some[kept, 1] = s
            i, j, m, o = ends[e, 0], ends[e, 1], ends[s, 0], ends[s, 1]
            alone = (i != m) & (i != o) & (j != m) & (j != o) & ((a != b) | (s < e))
            kept += alone & (not beyond_edge(x, i, j, m, o, reach))
        for k in range(kept):
            e, s = some[k, 0], some[k, 1]
            if edges.place[e] > edges.place[s]:
                e, s = s, e
            apart = edge_edge(x, ends[e, 0], ends[e, 1], ends[s, 0], ends[s, 1])
            if apart <= reach:
                if found < len(pairs):
                    pairs[found, 0] = edges.place[e]
                    pairs[found, 1] = edges.place[s]
                    distance[found] = apart
                found += 1
    return found


@kernel
def piercing_edges(x, edges, triangles, near, reach, pairs, distance):  # pragma: no cover - compiled
    """What `piercing_pairs` finds, into pairs and distance, as many as these hold; how many."""
    own, other = boxed(x, edges), boxed(x, triangles)
    some = room_for(edges, triangles)
    found = 0
    for n in range(2 * len(near.pairs)):
        a, b = near.pairs[n // 2, n % 2], near.pairs[n // 2, 1 - n % 2]
        if a == b and n % 2:
            continue
        for k in range(near_items(own, other, a, b, near.tree, reach, some)):
            edge, corners = edges.ends[some[k, 0]], triangles.ends[some[k, 1]]
            i, j = edge[0], edge[1]
            shared = False
            for c in range(3):
                shared |= (i == corners[c]) | (j == corners[c])
            if not shared and edge_hits(x, edge, corners):
                if found < len(pairs):
                    pairs[found, 0] = edges.place[some[k, 0]]
                    pairs[found, 1] = triangles.place[some[k, 1]]
                    distance[found] = 0.0
                found += 1
    return found


@kernel
def beyond_triangle(x, p, i, j, k, reach):  # pragma: no cover - compiled
    """Whether triangle ijk lies beyond a plane `reach` from point p, square to the way to its middle: then it is
    further; if not, it may be.
    """
    ax, ay, az = x[i, 0] - x[p, 0], x[i, 1] - x[p, 1], x[i, 2] - x[p, 2]
    bx, by, bz = x[j, 0] - x[p, 0], x[j, 1] - x[p, 1], x[j, 2] - x[p, 2]
    cx, cy, cz = x[k, 0] - x[p, 0], x[k, 1] - x[p, 1], x[k, 2] - x[p, 2]
    wx, wy, wz = ax + bx + cx, ay + by + cy, az + bz + cz
    least = min(wx * ax + wy * ay + wz * az, wx * bx + wy * by + wz * bz, wx * cx + wy * cy + wz * cz)
    return (least > 0.0) & (least * least > (1.0 + SLACK) * reach * reach * (wx * wx + wy * wy + wz * wz))


@kernel
def beyond_edge(x, a, b, c, d, reach):  # pragma: no cover - compiled
    """Whether two planes `reach` apart, square to the way between their middles, part edges ab and cd: then they are
    further apart; if not, they may be.
    """
    ux, uy, uz = x[b, 0] - x[a, 0], x[b, 1] - x[a, 1], x[b, 2] - x[a, 2]
    vx, vy, vz = x[d, 0] - x[c, 0], x[d, 1] - x[c, 1], x[d, 2] - x[c, 2]
    wx, wy, wz = x[c, 0] - x[a, 0], x[c, 1] - x[a, 1], x[c, 2] - x[a, 2]
    wx, wy, wz = 2.0 * wx + vx - ux, 2.0 * wy + vy - uy, 2.0 * wz + vz - uz  # twice the way between the middles
    square = wx * wx + wy * wy + wz * wz
    least = square - abs(wx * ux + wy * uy + wz * uz) - abs(wx * vx + wy * vy + wz * vz)
    return (least > 0.0) & (least * least > 4.0 * (1.0 + SLACK) * reach * reach * square)


@kernel
def point_triangle(x, p, triangles, t):  # pragma: no cover - compiled
    """Distance of point p from triangle t [m]."""
    dx, dy, dz = from_triangle(x, p, triangles[t, 0], triangles[t, 1], triangles[t, 2])
    return np.sqrt(dx * dx + dy * dy + dz * dz)


@kernel
def from_triangle(x, p, i, j, k):  # pragma: no cover - compiled
    """The way to point p from the nearest place of triangle ijk [m].

    Source: the nearest point is inside, or on an edge; tests after Ericson, Real-Time Collision
    Detection (2005), §5.1.5.
    """
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


@kernel
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


@kernel
def edge_edge(x, a, b, c, d):  # pragma: no cover - compiled
    """Distance of edges ab and cd [m]."""
    wx, wy, wz = from_edge(x, a, b, c, d)
    return np.sqrt(wx * wx + wy * wy + wz * wz)


@kernel
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


@kernel
def edge_hits(x, edge, triangle):  # pragma: no cover - compiled
    """Whether a segment passes through a triangle, each given by its points."""
    start = x[edge[0]]
    s = crossing(start, x[edge[1]] - start, x[triangle[0]], x[triangle[1]], x[triangle[2]])
    return 0.0 <= s <= 1.0
