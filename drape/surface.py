"""Turns lofted parts into one smooth closed triangle mesh.

In: parts, each a column of section measures along an axis [m], and pull points that the surface must pass through.
Out: vertices (n, 3) [m] and outward triangles (m, 3) of the closed surface where the joined parts' function is zero,
and the same function at any point. What the parts mean, and their sizes, is left to `shape`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numba import njit, prange

from drape.errors import FigureError

FloatArray = np.ndarray
IntArray = np.ndarray

BLOCK = 4  # grid cells along one side of a block that is looked at or passed over as a whole
CELL = 0.008  # m
FAR = 1.0e3
SMOOTHING_ROUNDS = 3
GRID_SHIFTS = (0.37, 0.61, 0.13, 0.83)  # cells; the next is tried when a thin gap joins two sheets in one cell
ROWS = 192  # rows of a part's table, evenly along its axis
TURNS = 180  # places round a row, evenly by azimuth: 0 at the part's own front, then to its left


class Parts(NamedTuple):
    """Sections lofted along an axis, each in its own frame, and joined smoothly in order.

    A part's section is the closed curve at distance `radii` from its centre, by azimuth. Beyond either end it closes
    with about a half ellipsoid of height `caps`, without a kink.
    """

    frames: FloatArray  # (parts, 3, 3) rows: the part's own right, front and axis in the world
    origins: FloatArray  # (parts, 3) [m]
    spans: FloatArray  # (parts, 2) first and last place along the axis [m]
    caps: FloatArray  # (parts, 2) heights of the end caps [m]
    centres: FloatArray  # (parts, ROWS, 2) of the sections, to the right and to the front [m]
    radii: FloatArray  # (parts, ROWS, TURNS) [m]
    blends: FloatArray  # (parts, ROWS, TURNS) how widely it joins those before it [m]
    boxes: FloatArray  # (parts, 6) lower and upper corner in the world [m]
    pull_points: FloatArray  # (c, 3)
    pull_weights: FloatArray  # (c,) [m]
    pull_reach: float  # [m]


@dataclass(frozen=True)
class Part:
    """One part before joining; the fields are those of `Parts`."""

    span: tuple[float, float]
    caps: tuple[float, float]
    centre: FloatArray  # (ROWS, 2)
    radius: FloatArray  # (ROWS, TURNS)
    blend: FloatArray  # (ROWS, TURNS)
    frame: FloatArray  # (3, 3)
    origin: FloatArray  # (3,)


@dataclass(frozen=True)
class Softening:
    """Corners narrower than a grid cell to round off: where, how far round, how many times over."""

    places: FloatArray  # (k, 3) [m]
    reach: float  # [m]
    rounds: int


def azimuths() -> FloatArray:
    """Return the azimuths [rad] of a row's places, (TURNS,); the direction of a is (-sin a, cos a)."""
    return np.arange(TURNS) * (2.0 * np.pi / TURNS)


def join(parts: Sequence[Part]) -> Parts:
    """Return parts ready to evaluate, without pulls."""
    boxes = np.array([_box(part) for part in parts])

    def stack(name: str) -> FloatArray:
        return np.array([getattr(part, name) for part in parts], dtype=np.float64)

    return Parts(
        stack("frame"), stack("origin"), stack("span"), stack("caps"), stack("centre"), stack("radius"), stack("blend"),
        boxes, np.zeros((0, 3)), np.zeros(0), 0.1,
    )  # fmt: skip


def _box(part: Part) -> FloatArray:
    """Return the lower and upper corner of a part in the world."""
    along = np.linspace(*part.span, ROWS)
    turn = azimuths()[::6]
    out = part.radius[:, ::6]
    local = np.stack([
        part.centre[:, :1] - out * np.sin(turn), part.centre[:, 1:] + out * np.cos(turn), np.repeat(along[:, None], len(turn), axis=1)
    ], axis=2)  # fmt: skip
    low, high = local[0].copy(), local[-1].copy()
    low[:, 2] -= part.caps[0]
    high[:, 2] += part.caps[1]
    points = np.concatenate([local.reshape(-1, 3), low, high]) @ part.frame + part.origin
    return np.concatenate([points.min(axis=0) - 0.002, points.max(axis=0) + 0.002])


def pull_through(parts: Parts, points: FloatArray, *, reach: float, softness: float = 0.005) -> Parts:
    """Return parts whose surface also passes (closely) through the points.

    Adds the sum of w_i (1 - r/reach)^4 (4 r/reach + 1) over the points, r the distance to point i, the weights
    solved so that the joined function vanishes at each. Use it for corrections of a few mm: the further the
    surface has to move against `reach`, the more its slope changes.
    Source: positive definite compactly supported functions, H. Wendland, Adv. Comput. Math. 4, 1995.
    """
    wanted = -evaluate(parts, points)
    distance = np.linalg.norm(points[:, None] - points[None], axis=2) / reach
    matrix = np.where(distance < 1.0, (1.0 - np.minimum(distance, 1.0)) ** 4 * (4.0 * distance + 1.0), 0.0)
    matrix[np.diag_indices_from(matrix)] += softness
    weights = np.linalg.solve(matrix, wanted)
    return parts._replace(pull_points=np.ascontiguousarray(points), pull_weights=weights, pull_reach=float(reach))


def evaluate(parts: Parts, points: FloatArray, *, count: int | None = None) -> FloatArray:
    """Return the joined function [m] at points (k, 3): about the distance near the surface, negative inside.

    `count` takes only the first so many parts.
    """
    points = np.ascontiguousarray(points, dtype=np.float64)
    return _evaluate_many(points, count or len(parts.spans), parts)


def evaluate_each(parts: Parts, points: FloatArray) -> FloatArray:
    """Return every part's own function at points (k, 3), shape (k, parts)."""
    return _each_many(np.ascontiguousarray(points), parts)


def onto_surface(parts: Parts, points: FloatArray, *, rounds: int) -> FloatArray:
    """Return points (k, 3) [m] moved onto the surface along its normal, by Newton steps of at most half a cell."""
    return _onto_many(np.ascontiguousarray(points, dtype=np.float64), rounds, parts)


def cast(
    parts: Parts, origins: FloatArray, directions: FloatArray, *, reach: float = 0.6, count: int | None = None
) -> FloatArray:
    """Return where rays from inside first leave the surface: distances [m] (k,), `reach` if they never do."""
    origins, directions = np.broadcast_arrays(origins, directions)
    return _cast_many(
        np.ascontiguousarray(origins, dtype=np.float64), np.ascontiguousarray(directions, dtype=np.float64), reach,
        count or len(parts.spans), parts,
    )  # fmt: skip


@njit(cache=True)
def _part(
    x: float, y: float, z: float, part: int, parts: Parts
) -> tuple[float, float]:  # fmt: skip
    """One part's function at a point, (q - 1)/|grad q| with q(surface) = 1, and its blend there [m]."""
    frame = parts.frames[part]
    dx = x - parts.origins[part, 0]
    dy = y - parts.origins[part, 1]
    dz = z - parts.origins[part, 2]
    along = frame[2, 0] * dx + frame[2, 1] * dy + frame[2, 2] * dz
    rows, turns = parts.radii.shape[1], parts.radii.shape[2]
    low, high = parts.spans[part, 0], parts.spans[part, 1]
    step = (high - low) / (rows - 1)
    place = (along - low) / step
    row = min(max(int(place), 0), rows - 2)
    t = place - row  # below 0 or above 1 in the caps, which go on with the last rows' slope
    x_rate = parts.centres[part, row + 1, 0] - parts.centres[part, row, 0]
    y_rate = parts.centres[part, row + 1, 1] - parts.centres[part, row, 1]
    u = frame[0, 0] * dx + frame[0, 1] * dy + frame[0, 2] * dz - parts.centres[part, row, 0] - t * x_rate
    v = frame[1, 0] * dx + frame[1, 1] * dy + frame[1, 2] * dz - parts.centres[part, row, 1] - t * y_rate
    out = np.sqrt(max(u * u + v * v, 1e-14))
    turn = np.arctan2(-u, v) * (turns / (2.0 * np.pi))
    if turn < 0.0:
        turn += turns
    k = int(turn)
    s = turn - k
    k = k % turns
    n = (k + 1) % turns
    a, b = parts.radii[part, row, k], parts.radii[part, row, n]
    c, d = parts.radii[part, row + 1, k], parts.radii[part, row + 1, n]
    here = a + s * (b - a)
    there = c + s * (d - c)
    inside = min(max(t, 0.0), 1.0)
    r = here + inside * (there - here)
    rate = 1.0 / step
    if t != inside:  # in a cap the slope goes on and dies out
        fade = 0.35 * parts.caps[part, 1 if t > inside else 0] / step
        gone = np.exp(-abs(t - inside) / fade)
        r = max(r + (t - inside) / abs(t - inside) * (there - here) * fade * (1.0 - gone), 0.3 * r)
        rate *= gone
    round_rate = ((b - a) + inside * ((d - c) - (b - a))) * (turns / (2.0 * np.pi)) / (r * r)
    blend = (1.0 - inside) * ((1.0 - s) * parts.blends[part, row, k] + s * parts.blends[part, row, n]) + inside * (
        (1.0 - s) * parts.blends[part, row + 1, k] + s * parts.blends[part, row + 1, n]
    )
    q = out / r
    by_u = (u / r + round_rate * v) / out
    by_v = (v / r - round_rate * u) / out
    by_w = -rate * (q / r * (there - here) + by_u * x_rate + by_v * y_rate)
    beyond = 0.0
    if along > high:
        beyond = (along - high) / parts.caps[part, 1]
        by_w = q * by_w + beyond / parts.caps[part, 1]
    elif along < low:
        beyond = (along - low) / parts.caps[part, 0]
        by_w = q * by_w + beyond / parts.caps[part, 0]
    if beyond != 0.0:
        whole = np.sqrt(q * q + beyond * beyond)
        by_u *= q / whole
        by_v *= q / whole
        by_w /= whole
        q = whole
    slope = np.sqrt(by_u * by_u + by_v * by_v + by_w * by_w)
    return (q - 1.0) / max(slope, 0.25 / r), blend


@njit(cache=True)
def _joined(
    x: float, y: float, z: float, count: int, parts: Parts
) -> float:  # fmt: skip
    """All parts joined: a smooth least value, cubic within each part's blend, plus the pulls."""
    best = 0.5
    for part in range(count):
        gap_x = max(parts.boxes[part, 0] - x, x - parts.boxes[part, 3], 0.0)
        gap_y = max(parts.boxes[part, 1] - y, y - parts.boxes[part, 4], 0.0)
        gap_z = max(parts.boxes[part, 2] - z, z - parts.boxes[part, 5], 0.0)
        gap = gap_x * gap_x + gap_y * gap_y + gap_z * gap_z
        if gap > 0.01 and gap > (best + 0.1) * (best + 0.1):
            continue
        d, blend = _part(x, y, z, part, parts)
        h = blend - abs(best - d)
        if h > 0.0:
            h /= blend
            best = min(best, d) - h * h * h * blend / 6.0
        else:
            best = min(best, d)
    for i in range(parts.pull_points.shape[0]):
        rx = x - parts.pull_points[i, 0]
        ry = y - parts.pull_points[i, 1]
        rz = z - parts.pull_points[i, 2]
        squared = rx * rx + ry * ry + rz * rz
        if squared < parts.pull_reach * parts.pull_reach:
            r = np.sqrt(squared) / parts.pull_reach
            s = (1.0 - r) * (1.0 - r)
            best += parts.pull_weights[i] * s * s * (4.0 * r + 1.0)
    return best


@njit(cache=True, parallel=True)
def _evaluate_many(
    points: FloatArray, count: int, parts: Parts
) -> FloatArray:  # fmt: skip
    out = np.empty(points.shape[0])
    for i in prange(points.shape[0]):
        out[i] = _joined(
            points[i, 0], points[i, 1], points[i, 2], count, parts
        )  # fmt: skip
    return out


@njit(cache=True, parallel=True)
def _each_many(
    points: FloatArray, parts: Parts
) -> FloatArray:
    out = np.empty((points.shape[0], parts.spans.shape[0]))
    for i in prange(points.shape[0]):
        for part in range(parts.spans.shape[0]):
            d, _ = _part(points[i, 0], points[i, 1], points[i, 2], part, parts)
            out[i, part] = d
    return out


@njit(cache=True, parallel=True)
def _onto_many(
    points: FloatArray, rounds: int, parts: Parts
) -> FloatArray:  # fmt: skip
    """Newton steps with differences over 1 mm, which also evens out the rows of the tables."""
    out = points.copy()
    count = parts.spans.shape[0]
    h = 1.0e-3
    for i in prange(points.shape[0]):
        x, y, z = points[i, 0], points[i, 1], points[i, 2]
        for _ in range(rounds):
            f = _joined(
                x, y, z, count, parts
            )
            gx = _joined(
                x + h, y, z, count, parts
            ) - f
            gy = _joined(
                x, y + h, z, count, parts
            ) - f
            gz = _joined(
                x, y, z + h, count, parts
            ) - f
            squared = max((gx * gx + gy * gy + gz * gz) / (h * h), 0.04)
            step = -f / squared / h
            step *= min(1.0, 0.5 * CELL / max(abs(f) / np.sqrt(squared), 1e-12))
            x += step * gx
            y += step * gy
            z += step * gz
        out[i, 0], out[i, 1], out[i, 2] = x, y, z
    return out


@njit(cache=True, parallel=True)
def _cast_many(
    origins: FloatArray, directions: FloatArray, reach: float, count: int, parts: Parts
) -> FloatArray:  # fmt: skip
    """March by the function's own value, then halve."""
    out = np.empty(origins.shape[0])
    for i in prange(origins.shape[0]):
        low = 0.0
        high = -1.0
        t = 0.0
        while t < reach:
            f = _joined(
                origins[i, 0] + t * directions[i, 0], origins[i, 1] + t * directions[i, 1],
                origins[i, 2] + t * directions[i, 2], count, parts
            )  # fmt: skip
            if f >= 0.0:
                high = t
                break
            low = t
            t += max(-0.5 * f, 0.0005)
        if high < 0.0:
            out[i] = reach
            continue
        for _ in range(30):
            middle = 0.5 * (low + high)
            f = _joined(
                origins[i, 0] + middle * directions[i, 0], origins[i, 1] + middle * directions[i, 1],
                origins[i, 2] + middle * directions[i, 2], count, parts
            )  # fmt: skip
            if f >= 0.0:
                high = middle
            else:
                low = middle
        out[i] = 0.5 * (low + high)
    return out


def skin(parts: Parts, *, soften: Sequence[Softening] = (), cell: float = CELL) -> tuple[FloatArray, IntArray]:
    """Return the closed mesh of the joined parts: vertices [m] (n, 3), triangles (m, 3) outward.

    One vertex per grid cell the surface crosses, one quadrilateral per crossed grid edge (surface nets); vertices are
    then moved onto the surface and evened out along it. Same parts, same mesh.
    Raises: FigureError when the parts do not make one closed surface.
    Source: surface nets, S. F. F. Gibson, Constrained elastic surface nets, MICCAI 1998; projection ours.
    """
    low = np.floor((parts.boxes[:, :3].min(axis=0) - 4.0 * cell) / cell) * cell
    high = parts.boxes[:, 3:].max(axis=0) + 3.0 * cell
    blocks = np.ceil((high - low) / (BLOCK * cell)).astype(np.int64)
    faults = 0
    for shift in GRID_SHIFTS:
        values = _grid_values(low + shift * cell, cell, blocks, parts)
        vertices, triangles = surface_nets(values, low + shift * cell, cell)
        faults = unshared_edge_count(vertices, triangles)
        if faults == 0:
            break
    else:
        raise FigureError(
            f"figure: surface: got {faults} edges not shared by two triangles, allowed 0. Arms or legs may touch the body: "
            "check the girths and breadths given."
        )
    for _ in range(SMOOTHING_ROUNDS):
        vertices = onto_surface(parts, vertices, rounds=1)
        vertices += 0.6 * along_surface(vertices, triangles)
    vertices = onto_surface(parts, vertices, rounds=2)
    for softening in soften:
        vertices = _soften(vertices, triangles, softening)
    return vertices, triangles


@njit(cache=True, parallel=True)
def _grid_values(
    low: FloatArray, cell: float, blocks: IntArray, parts: Parts
) -> FloatArray:  # fmt: skip
    """The function at grid nodes; blocks far from the surface hold only its sign."""
    values = np.empty((blocks[0] * BLOCK, blocks[1] * BLOCK, blocks[2] * BLOCK))
    count = parts.spans.shape[0]
    half = 0.5 * BLOCK * cell
    total = blocks[0] * blocks[1] * blocks[2]
    for block in prange(total):
        bi = block // (blocks[1] * blocks[2])
        bj = block // blocks[2] % blocks[1]
        bk = block % blocks[2]
        middle = _joined(
            low[0] + bi * BLOCK * cell + half, low[1] + bj * BLOCK * cell + half, low[2] + bk * BLOCK * cell + half,
            count, parts
        )  # fmt: skip
        far = abs(middle) > 3.2 * half
        for i in range(bi * BLOCK, (bi + 1) * BLOCK):
            for j in range(bj * BLOCK, (bj + 1) * BLOCK):
                for k in range(bk * BLOCK, (bk + 1) * BLOCK):
                    if far:
                        values[i, j, k] = FAR if middle > 0.0 else -FAR
                    else:
                        values[i, j, k] = _joined(
                            low[0] + i * cell, low[1] + j * cell, low[2] + k * cell, count, parts
                        )  # fmt: skip
    return values


@njit(cache=True)
def surface_nets(values: FloatArray, low: FloatArray, cell: float) -> tuple[FloatArray, IntArray]:
    """Vertices at the mean of each cell's edge crossings; two triangles round each crossed grid edge."""
    nx, ny, nz = values.shape
    index = np.full((nx, ny, nz), -1, dtype=np.int32)
    found = 0
    for i in range(nx - 1):
        for j in range(ny - 1):
            for k in range(nz - 1):
                below = 0
                for corner in range(8):
                    if values[i + (corner & 1), j + (corner >> 1 & 1), k + (corner >> 2 & 1)] < 0.0:
                        below += 1
                if 0 < below < 8:
                    index[i, j, k] = found
                    found += 1
    vertices = np.zeros((found, 3))
    quads = np.empty((3 * found, 4), dtype=np.int64)
    made = 0
    sums = np.zeros(found)
    for i in range(nx - 1):
        for j in range(ny - 1):
            for k in range(nz - 1):
                here = values[i, j, k]
                for axis in range(3):
                    di = 1 if axis == 0 else 0
                    dj = 1 if axis == 1 else 0
                    dk = 1 if axis == 2 else 0
                    there = values[i + di, j + dj, k + dk]
                    if (here < 0.0) == (there < 0.0):
                        continue
                    t = here / (here - there)
                    ring = quads[made]
                    for corner in range(4):
                        p = 1 if corner == 1 or corner == 2 else 0
                        q = 1 if corner >= 2 else 0
                        ci = i - (p if axis == 2 else (q if axis == 1 else 0))
                        cj = j - (p if axis == 0 else (q if axis == 2 else 0))
                        ck = k - (p if axis == 1 else (q if axis == 0 else 0))
                        v = index[ci, cj, ck]
                        slot = corner if here < 0.0 else 3 - corner
                        ring[slot] = v
                        vertices[v, 0] += i + t * di
                        vertices[v, 1] += j + t * dj
                        vertices[v, 2] += k + t * dk
                        sums[v] += 1.0
                    made += 1
    for v in range(found):
        for axis in range(3):
            vertices[v, axis] = low[axis] + cell * vertices[v, axis] / sums[v]
    triangles = np.empty((2 * made, 3), dtype=np.int64)
    for n in range(made):
        a, b, c, d = quads[n, 0], quads[n, 1], quads[n, 2], quads[n, 3]
        one = 0.0
        two = 0.0
        for axis in range(3):
            one += (vertices[a, axis] - vertices[c, axis]) ** 2
            two += (vertices[b, axis] - vertices[d, axis]) ** 2
        if one <= two:
            triangles[2 * n, 0], triangles[2 * n, 1], triangles[2 * n, 2] = a, b, c
            triangles[2 * n + 1, 0], triangles[2 * n + 1, 1], triangles[2 * n + 1, 2] = a, c, d
        else:
            triangles[2 * n, 0], triangles[2 * n, 1], triangles[2 * n, 2] = a, b, d
            triangles[2 * n + 1, 0], triangles[2 * n + 1, 1], triangles[2 * n + 1, 2] = b, c, d
    return vertices, triangles


def along_surface(vertices: FloatArray, triangles: IntArray) -> FloatArray:
    """Steps towards the mean of each vertex's neighbours, the part across the surface taken out."""
    total = np.zeros_like(vertices)
    count = np.bincount(triangles.ravel(), minlength=len(vertices)) * 2.0
    for i in range(3):
        others = vertices[triangles[:, (i + 1) % 3]] + vertices[triangles[:, (i + 2) % 3]]
        for axis in range(3):
            total[:, axis] += np.bincount(triangles[:, i], others[:, axis], minlength=len(vertices))
    step = total / count[:, None] - vertices
    corner = vertices[triangles]
    face = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    normal = np.zeros_like(vertices)
    for i in range(3):
        for axis in range(3):
            normal[:, axis] += np.bincount(triangles[:, i], face[:, axis], minlength=len(vertices))
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-300)[:, None]
    return step - np.einsum("ij,ij->i", step, normal)[:, None] * normal


def _soften(vertices: FloatArray, triangles: IntArray, softening: Softening) -> FloatArray:
    """Move vertices round the places towards the mean of their neighbours, so many times."""
    away = np.linalg.norm(vertices[:, None] - softening.places[None], axis=2).min(axis=1)
    share = np.clip(1.6 * (1.0 - away / softening.reach), 0.0, 1.0)
    share = share * share * (3.0 - 2.0 * share)
    near = triangles[(share[triangles] > 0.0).any(axis=1)]
    index, local = np.unique(near, return_inverse=True)
    local = local.reshape(-1, 3)
    piece, weight = vertices[index], share[index]
    count = np.bincount(local.ravel(), minlength=len(index)) * 2.0
    for _ in range(softening.rounds):
        total = np.zeros_like(piece)
        for i in range(3):
            others = piece[local[:, (i + 1) % 3]] + piece[local[:, (i + 2) % 3]]
            for axis in range(3):
                total[:, axis] += np.bincount(local[:, i], others[:, axis], minlength=len(index))
        piece = piece + 0.6 * weight[:, None] * (total / count[:, None] - piece)
    vertices = vertices.copy()
    vertices[index] = piece
    return vertices


def unshared_edge_count(vertices: FloatArray, triangles: IntArray) -> int:
    """Count the directed edges without exactly one partner running the other way: 0 for a closed surface."""
    ends = np.stack([triangles, np.roll(triangles, -1, axis=1)], axis=2).reshape(-1, 2)
    forward = np.sort(ends[:, 0] * len(vertices) + ends[:, 1])
    backward = np.sort(ends[:, 1] * len(vertices) + ends[:, 0])
    if np.array_equal(forward, backward) and (np.diff(forward) > 0).all():
        return 0
    return int((np.diff(forward) == 0).sum() + np.setdiff1d(forward, backward).size)
