"""Self-contact: cloth against cloth.

In: positions [m], triangles, the cloth's thickness. Out: near pairs (a point and a triangle, or two
edges), the repulsion that keeps their middles a thickness apart [N], and the number of triangle
pairs that cross. No step takes a point nearer to another layer by more than a share of the way between, so cloth that
starts without crossings never has any; pairs are found again before anything can have moved past the margin
they were found with.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from drape.arrays import Flags, Floats, Ints
from drape.cloth.proximity import Blocks, blocks_of, from_edge, from_triangle, near_pairs, piercing_pairs
from drape.kernel import kernel
from drape.triangle import sides_facing

LAYER_STIFFNESS = 1000.0  # [N/m] of one pair: of melton pressed together with 1 N, by a third of its thickness
LAYER_TANGENT_SHARE = 0.5  # tangential stiffness of two layers that stick over the normal one
HARD, HARD_FROM = (
    20.0,
    0.5,
)  # stiffness added, in LAYER_STIFFNESS, where layers are pressed by more than this share of the thickness
SOFT = 1 / 3  # of the thickness: approach over which the repulsion sets in, so that layers lie without chatter
WINDOW = 0.08  # share of a triangle or edge over which a pair's force fades at its ends
LEAST_GAP = 1e-4  # [m] to which layers may be pressed, far above what rounding can pass through
LEAST_STEP = 1e-9  # [m] that points pressed so may still make, to come free
SLOWEST = 0.1  # share of a step to which cloth as a whole is slowed for the sake of points held back
# of the distance to another layer: how far a point may move towards it in one step; under half, so none tunnels
ROOM = 0.45


class Pairs(NamedTuple):
    """Near pairs. corners (k, 4): point, triangle's three; or two edges' ends.

    is_edges (k,): two edges rather than point and triangle. slide (k, 3): how far the two are displaced along each
    other from where friction holds them [m]. hardness (k,): how many times stiffer than at first they push each other
    apart. apart (k,): movement that brings them in touch when found [m], ascending. key (k,): identity. nearest (p,):
    distance [m] of each point from the nearest thing it is paired with when found; of a point in no pair, the reach
    of the search.
    """

    corners: Ints
    is_edges: Flags
    slide: Floats
    hardness: Floats
    apart: Floats
    key: Ints
    nearest: Floats


NO_PAIRS = Pairs(
    np.empty((0, 4), dtype=np.int64),
    np.empty(0, dtype=np.bool_),
    np.empty((0, 3)),
    np.empty(0),
    np.empty(0),
    np.empty(0, dtype=np.int64),
    np.empty(0),
)


class Close(NamedTuple):
    """The pairs nearer than the thickness as the cloth lies now, and how far points may move. Overwritten at each step.

    which (k,): the pair's place among all. way (k, 4): the direction from its second side to the first, and how far
    each side may move along it towards the other [m]. room (p,): how far each point may move at all [m].
    """

    which: Ints
    way: Floats
    room: Floats


def close_of(pairs: Pairs) -> Close:
    """Room for as many close pairs as there are pairs."""
    count = len(pairs.key)
    return Close(np.empty(count, dtype=np.int64), np.empty((count, 4)), np.empty(len(pairs.nearest)))


@dataclass(frozen=True)
class Weave:
    """What the search needs of the mesh's topology, made once."""

    triangles: Ints
    edges: Ints
    edge_triangles: Ints  # (e, 2), −1 at a free edge
    blocks: Blocks

    @property
    def point_count(self) -> int:
        return int(self.triangles.max()) + 1


def weave(triangles: Ints) -> Weave:
    """Edges of the triangles, each once, and the one or two triangles at each; kept for the meshes last asked for."""
    return _weave(np.ascontiguousarray(triangles, dtype=np.int64).tobytes())


@functools.lru_cache(maxsize=4)
def _weave(content: bytes) -> Weave:
    triangles = np.frombuffer(content, dtype=np.int64).reshape(-1, 3)
    ends = np.sort(sides_facing(triangles), axis=2).reshape(-1, 2)
    count = int(triangles.max()) + 1
    key, index = np.unique(ends @ [count, 1], return_inverse=True)  # sorted many times faster than pairs are
    edges = np.column_stack(np.divmod(key, count))
    owner = np.repeat(np.arange(len(triangles)), 3)
    sides = np.full((len(edges), 2), -1, dtype=np.int64)
    order = np.argsort(index, kind="stable")
    first = np.searchsorted(index[order], np.arange(len(edges)))
    two = np.bincount(index, minlength=len(edges)) > 1
    sides[:, 0] = owner[order][first]
    sides[two, 1] = owner[order][first[two] + 1]
    return Weave(triangles, edges, sides, blocks_of(triangles, edges, sides[:, 0]))


def find_pairs(sheet: Weave, x: Floats, *, thickness: float, margin: float, before: Pairs = NO_PAIRS) -> Pairs:
    """All pairs nearer than thickness + margin [m] that share no point; slides and hardness kept from `before`."""
    reach = thickness + margin
    faces, face_distance, sides, side_distance = near_pairs(x, sheet.blocks, reach)
    t_count, e_count = len(sheet.triangles), len(sheet.edges)
    face_key = faces[:, 0] * t_count + faces[:, 1]
    edge_key = sheet.point_count * t_count + sides[:, 0] * e_count + sides[:, 1]
    key = np.concatenate([face_key, edge_key])
    corners = np.empty((len(key), 4), dtype=np.int64)
    corners[: len(faces), 0], corners[: len(faces), 1:] = faces[:, 0], sheet.triangles[faces[:, 1]]
    corners[len(faces) :] = sheet.edges[sides].reshape(-1, 4)
    is_edges = np.arange(len(key)) >= len(faces)
    apart, nearest = pair_distances(x, corners, is_edges, np.concatenate([face_distance, side_distance]), reach)
    order = np.lexsort((key, apart))
    corners, is_edges, apart, key = corners[order], is_edges[order], apart[order], key[order]
    slide, hardness = np.zeros((len(key), 3)), np.ones(len(key))
    known, at = found_before(key, before.key, np.flatnonzero(before.slide.any(axis=1)))
    slide[known] = before.slide[at]
    known, at = found_before(key, before.key, np.flatnonzero(before.hardness > 1.0))
    hardness[known] = before.hardness[at]
    return Pairs(corners, is_edges, slide, hardness, apart, key, nearest)


def found_before(key: Ints, before: Ints, few: Ints) -> tuple[Flags, Ints]:
    """Which of the pairs (k,) are among a `few` of those before, and the places of these there."""
    if not len(few):
        return np.zeros(len(key), dtype=np.bool_), few
    few = few[np.argsort(before[few])]
    at = few[np.minimum(np.searchsorted(before[few], key), len(few) - 1)]
    known = before[at] == key
    return known, at[known]


def crossing_pairs(sheet: Weave, x: Floats) -> Ints:
    """Pairs of triangles (k, 2) that cross each other: an edge of one passes through the other, which it does not
    touch.
    """
    pairs = set()
    for edge, triangle in piercing_pairs(x, sheet.blocks):
        for owner in sheet.edge_triangles[edge]:
            if owner >= 0:
                pairs.add((min(owner, triangle), max(owner, triangle)))
    return np.array(sorted(pairs), dtype=np.int64).reshape(-1, 2)


def crossing_count(sheet: Weave, x: Floats) -> int:
    """Number of pairs of triangles that cross each other."""
    return len(crossing_pairs(sheet, x))


@kernel
def pair_distances(x, corners, is_edges, distance, reach):  # pragma: no cover - compiled
    """Least movement [m] that brings each pair in touch, thickness aside, (k,): its distance, less how far
    its force reaches past the ends of triangle or edges; and each point's least distance, `reach` at most, (p,)."""
    out, nearest = np.empty(len(corners)), np.full(len(x), reach)
    for k in range(len(corners)):
        c = corners[k]
        if is_edges[k]:
            size = max(length(x, c[0], c[1]), length(x, c[2], c[3]))
        else:
            size = max(length(x, c[1], c[2]), length(x, c[1], c[3]), length(x, c[2], c[3]))
        out[k] = distance[k] - 2.0 * WINDOW * size
        for m in range(4):
            nearest[c[m]] = min(nearest[c[m]], distance[k])
    return out, nearest


@kernel
def pair_way(x, corners, is_edges, k):  # pragma: no cover - compiled
    """The way from the second side of pair k to the first, where they are nearest [m]."""
    if is_edges[k]:
        return from_edge(x, corners[k, 0], corners[k, 1], corners[k, 2], corners[k, 3])
    return from_triangle(x, corners[k, 0], corners[k, 1], corners[k, 2], corners[k, 3])


@kernel
def length(x, i, j):  # pragma: no cover - compiled
    return np.sqrt((x[i, 0] - x[j, 0]) ** 2 + (x[i, 1] - x[j, 1]) ** 2 + (x[i, 2] - x[j, 2]) ** 2)


@kernel
def fade(w):  # pragma: no cover - compiled
    """Smooth 0 → 1 as w goes from −WINDOW to WINDOW."""
    if w <= -WINDOW:
        return 0.0
    if w >= WINDOW:
        return 1.0
    s = 0.5 * (w / WINDOW + 1.0)
    return s * s * (3.0 - 2.0 * s)


@kernel
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


@kernel
def pair_springs(x, pairs, count, reach, hard_reach):  # pragma: no cover - compiled
    """Bound on the stiffness of each of the first `count` pairs: its shares of the pair's relative motion, (k, 4),
    K [N/m], (k,), is it hard.

    Along its normal a pair of shares s is a spring K s sᵀ, and no stiffer in any other direction; K is zero
    where the pair is further apart than `reach` [m] or its window is shut,
    and that of hard contact within `hard_reach` [m].
    """
    corners, is_edges = pairs.corners, pairs.is_edges
    shares, stiffness = np.empty((count, 4)), np.empty(count)
    hard = np.empty(count, dtype=np.bool_)
    for k in range(count):
        gap, weight, _, _, _, s0, s1, s2, s3 = pair_geometry(x, corners[k], is_edges[k])
        shares[k, 0] = s0
        shares[k, 1] = s1
        shares[k, 2] = s2
        shares[k, 3] = s3
        hard[k] = abs(gap) < hard_reach
        most = LAYER_STIFFNESS * pairs.hardness[k] * (1.0 + HARD if hard[k] else 1.0)
        stiffness[k] = weight * most if abs(gap) < reach else 0.0
    return shares, stiffness, hard


@kernel
def pair_forces(x, moved, pairs, touch, reach, close, out):  # pragma: no cover - compiled
    """Repulsion and friction of all pairs into out (p, 3) [N], overwritten; it sets in softly at the thickness.

    moved (p, 3): displacement of the last step [m]. Only pairs found no further `apart` than `reach` [m]
    can press; apart ascends, and reach is the thickness and twice what any point has moved since. Into `close`:
    how far each point may move so that nothing a thickness away or more can be passed through, whatever else moves
    as far as it may; and the pairs nearer than that; returns how many. The slide of each pair is updated; the
    spring this stretches is a contact's tangential stiffness, and slips when it would exceed the friction
    of cloth on cloth times the repulsion (Coulomb).
    """
    corners, is_edges, slide, hardness, apart, _, nearest = pairs
    thickness, friction = touch.thickness, touch.layer_friction
    which, way, room = close
    out[:] = 0.0
    for i in range(len(room)):
        room[i] = ROOM * max(thickness, nearest[i] - (reach - thickness))
    ramp = SOFT * thickness
    count = 0
    for k in range(len(corners)):
        if apart[k] > reach:
            break
        gap, weight, nx, ny, nz, s0, s1, s2, s3 = pair_geometry(x, corners[k], is_edges[k])
        if abs(gap) < thickness:  # the distance is never less than the gap
            dx, dy, dz = pair_way(x, corners, is_edges, k)
            distance = np.sqrt(dx * dx + dy * dy + dz * dz)
            if distance < thickness:
                which[count] = k
                way[count, 0] = dx / distance
                way[count, 1] = dy / distance
                way[count, 2] = dz / distance
                way[count, 3] = max(ROOM * (distance - LEAST_GAP), LEAST_STEP)
                count += 1
        depth = thickness - abs(gap)  # nothing is passed through, so each is still on its own side
        if depth <= 0.0 or weight <= 0.0:
            slide[k, 0] = 0.0
            slide[k, 1] = 0.0
            slide[k, 2] = 0.0
            continue
        soft = depth * depth / (2.0 * ramp) if depth < ramp else depth - 0.5 * ramp
        soft += HARD * max(0.0, depth - HARD_FROM * thickness)
        normal = weight * LAYER_STIFFNESS * hardness[k] * soft
        push = normal if gap > 0.0 else -normal
        shares = (s0, s1, s2, s3)
        ux = slide[k, 0]
        uy = slide[k, 1]
        uz = slide[k, 2]
        for m in range(4):
            i = corners[k, m]
            ux += shares[m] * moved[i, 0]
            uy += shares[m] * moved[i, 1]
            uz += shares[m] * moved[i, 2]
        along = ux * nx + uy * ny + uz * nz
        ux -= along * nx
        uy -= along * ny
        uz -= along * nz
        tangent = LAYER_TANGENT_SHARE * weight * LAYER_STIFFNESS
        length = np.sqrt(ux * ux + uy * uy + uz * uz)
        limit = friction * normal / tangent
        if length > limit:
            scale = limit / length
            ux *= scale
            uy *= scale
            uz *= scale
        slide[k, 0] = ux
        slide[k, 1] = uy
        slide[k, 2] = uz
        for m in range(4):
            i = corners[k, m]
            out[i, 0] += shares[m] * (push * nx - tangent * ux)
            out[i, 1] += shares[m] * (push * ny - tangent * uy)
            out[i, 2] += shares[m] * (push * nz - tangent * uz)
    return count


@kernel
def hold_back(step, momentum, pairs, close, count, few, share):  # pragma: no cover - compiled
    """Shortens step (p, 3) [m] so that nothing is passed through, and momentum (p, 3); `count` pairs are close.

    Neither side of a close pair passes its limit towards the other. Both sides are convex, so the plane square to
    the way between them still parts them, whatever other points do. What goes too far towards the other side is
    taken off, and cloth pressed against cloth still slides along it; where that leads too near to a third, the point
    makes a share (p,) of its step. A point held back is an anchor that the metric does not know of: a `few` are
    harmless, more are spared by a shorter step for all.
    """
    room = close.room
    for i in range(len(step)):
        square = step[i, 0] ** 2 + step[i, 1] ** 2 + step[i, 2] ** 2
        share[i] = 1.0 if square <= room[i] * room[i] else room[i] / np.sqrt(square)
    share_held(step, pairs, close, count, share)
    held = 0
    for i in range(len(share)):
        held += share[i] < 1.0
    if held == 0:
        return
    whole = max(nth_least(share, few), SLOWEST) if held > few else 1.0
    for i in range(len(share)):
        square = step[i, 0] ** 2 + step[i, 1] ** 2 + step[i, 2] ** 2
        share[i] = whole if whole * whole * square <= room[i] * room[i] else room[i] / np.sqrt(square)
    scale(step, momentum, share)
    slide_along(step, momentum, pairs, close, count)
    share[:] = 1.0
    share_held(step, pairs, close, count, share)
    scale(step, momentum, share)


@kernel
def towards_other(step, corner, is_edges, way, m):  # pragma: no cover - compiled
    """How far point m of a pair steps towards the pair's other side [m], and the sign of that way."""
    sign = -1.0 if m == 0 or (m == 1 and is_edges) else 1.0
    i = corner[m]
    return sign * (step[i, 0] * way[0] + step[i, 1] * way[1] + step[i, 2] * way[2]), sign


@kernel
def share_held(step, pairs, close, count, share):  # pragma: no cover - compiled
    """Lessens share (p,) to the part of its step (p, 3) that takes no point past the limit of a close pair."""
    for n in range(count):
        k = close.which[n]
        for m in range(4):
            i = pairs.corners[k, m]
            towards, _ = towards_other(step, pairs.corners[k], pairs.is_edges[k], close.way[n], m)
            if towards * share[i] > close.way[n, 3]:
                share[i] = close.way[n, 3] / towards


@kernel
def slide_along(step, momentum, pairs, close, count):  # pragma: no cover - compiled
    """Takes off step (p, 3) [m] what goes past the limit of a close pair, and that part of momentum (p, 3)."""
    for n in range(count):
        k = close.which[n]
        way = close.way[n]
        for m in range(4):
            i = pairs.corners[k, m]
            towards, sign = towards_other(step, pairs.corners[k], pairs.is_edges[k], way, m)
            if towards <= way[3]:
                continue
            pushed = momentum[i, 0] * way[0] + momentum[i, 1] * way[1] + momentum[i, 2] * way[2]
            lost = max(sign * pushed, 0.0) * (1.0 - way[3] / towards)
            for c in range(3):
                step[i, c] -= sign * (towards - way[3]) * way[c]
                momentum[i, c] -= sign * lost * way[c]


@kernel
def scale(step, momentum, share):  # pragma: no cover - compiled
    """Lessens step and momentum (p, 3) to the share (p,) of each point."""
    for i in range(len(share)):
        if share[i] < 1.0:
            for c in range(3):
                step[i, c] *= share[i]
                momentum[i, c] *= share[i]


@kernel
def nth_least(values, n):  # pragma: no cover - compiled
    """The value that n others of the values come before; numpy's own takes longer to compile than all this module."""
    least = np.full(n + 1, np.inf)
    for value in values:
        if value < least[n]:
            k = n
            while k > 0 and least[k - 1] > value:
                least[k] = least[k - 1]
                k -= 1
            least[k] = value
    return least[n]
