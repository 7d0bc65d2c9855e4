"""The closed triangle mesh of a surface given by a function: it is zero on the surface.

In: joined parts (`implicit_surface`), or values at the nodes of a grid. Out: vertices (n,
3) [m] and outward triangles (m, 3).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from drape.arrays import Floats, Ints
from drape.body.implicit_surface import CELL, FAR, Parts, evaluate, joined, onto_surface
from drape.errors import FigureError
from drape.kernel import kernel
from drape.triangle import sides_of

BLOCK = 4  # grid cells along one side of a block that is looked at or passed over as a whole
EIGHTH = BLOCK // 2  # the same for its eight parts
SURELY = 3.2  # half sides: with the function so far from zero in the middle, a block holds no surface
SMOOTHING_ROUNDS = 3
MIDDLE = 0.03  # m from the middle, within which a place lies on neither side
GRID_SHIFTS = (0.37, 0.61, 0.13, 0.83)  # cells; the next is tried when a thin gap joins two sheets in one cell


@dataclass(frozen=True)
class Softening:
    """Corners narrower than a grid cell to round off: where, how far round, how many times over."""

    places: Floats  # (k, 3) [m]
    reach: float  # [m]
    rounds: int


def skin(parts: Parts, *, soften: Sequence[Softening] = (), cell: float = CELL) -> tuple[Floats, Ints]:
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
        vertices, triangles = surface_nets(without_checkers(values), low + shift * cell, cell)
        faults = unshared_edge_count(vertices, triangles)
    if faults:
        raise FigureError(
            f"figure: surface: got an open place {open_place(vertices, triangles)}, allowed none. An arm or a leg may "
            "just touch the body there: check the girths and breadths at that height, or how the arm is held."
        )
    for _ in range(SMOOTHING_ROUNDS):
        step, normal = along_surface(vertices, triangles)
        off = np.clip(evaluate(parts, vertices), -0.5 * cell, 0.5 * cell)
        vertices = vertices + 0.6 * step - off[:, None] * normal
    vertices = onto_surface(parts, vertices, rounds=2)
    for softening in soften:
        vertices = _soften(vertices, triangles, softening)
    return vertices, triangles


@kernel
def _grid_values(
    low: Floats, cell: float, blocks: Ints, parts: Parts
) -> Floats:  # fmt: skip
    """The function at grid nodes; blocks far from the surface hold only its sign."""
    values = np.empty((blocks[0] * BLOCK, blocks[1] * BLOCK, blocks[2] * BLOCK))
    count = parts.spans.shape[0]
    half, quarter = 0.5 * BLOCK * cell, 0.5 * EIGHTH * cell
    total = blocks[0] * blocks[1] * blocks[2]
    for block in range(total):
        bi = block // (blocks[1] * blocks[2])
        bj = block // blocks[2] % blocks[1]
        bk = block % blocks[2]
        middle = joined(
            low[0] + bi * BLOCK * cell + half, low[1] + bj * BLOCK * cell + half, low[2] + bk * BLOCK * cell + half,
            count, parts
        )  # fmt: skip
        for i in range(bi * BLOCK, (bi + 1) * BLOCK):
            for j in range(bj * BLOCK, (bj + 1) * BLOCK):
                for k in range(bk * BLOCK, (bk + 1) * BLOCK):
                    values[i, j, k] = FAR if middle > 0.0 else -FAR
        if abs(middle) > SURELY * half:
            continue
        for corner in range(8):
            ci = bi * BLOCK + (corner & 1) * EIGHTH
            cj = bj * BLOCK + (corner >> 1 & 1) * EIGHTH
            ck = bk * BLOCK + (corner >> 2) * EIGHTH
            value = joined(
                low[0] + ci * cell + quarter, low[1] + cj * cell + quarter, low[2] + ck * cell + quarter, count, parts
            )
            for i in range(ci, ci + EIGHTH):
                for j in range(cj, cj + EIGHTH):
                    for k in range(ck, ck + EIGHTH):
                        if abs(value) > SURELY * quarter:
                            values[i, j, k] = FAR if value > 0.0 else -FAR
                        else:
                            values[i, j, k] = joined(
                                low[0] + i * cell, low[1] + j * cell, low[2] + k * cell, count, parts
                            )
    return values


def without_checkers(values: Floats) -> Floats:
    """Return node values of which no square has its two diagonals on different sides of zero.

    Such a square, where a ridge just grazes the grid, would join two sheets along one edge. Of its two outer nodes the
    one nearer to nothing goes inside, which only ever adds to the inside and so comes to an end; vertices are moved
    onto the surface later.
    """
    values = values.copy()
    found = True
    while found:
        found = False
        for one, other in ((0, 1), (0, 2), (1, 2)):
            faces = np.moveaxis(values, (one, other), (0, 1))  # a view
            low = faces < 0.0
            crossed = (low[:-1, :-1] == low[1:, 1:]) & (low[1:, :-1] == low[:-1, 1:]) & (low[:-1, :-1] != low[1:, :-1])
            for i, j, k in np.argwhere(crossed):
                square = faces[i : i + 2, j : j + 2, k]
                if (square < 0.0).sum() == 2:  # not mended by the one before
                    square[np.unravel_index(np.where(square < 0.0, np.inf, square).argmin(), (2, 2))] = -1e-9
                    found = True
    return values


@kernel
def surface_nets(values: Floats, low: Floats, cell: float) -> tuple[Floats, Ints]:
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


@kernel
def along_surface(vertices: Floats, triangles: Ints) -> tuple[Floats, Floats]:
    """Return steps towards the mean of each vertex's neighbours, the part across the surface taken out,
    and unit normals.
    """
    total, normal = np.zeros_like(vertices), np.zeros_like(vertices)
    count = np.zeros(len(vertices))
    for t in range(len(triangles)):
        a, b, c = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        for v in (a, b, c):
            count[v] += 2.0
        for axis in range(3):
            one, two = (axis + 1) % 3, (axis + 2) % 3
            face = (vertices[b, one] - vertices[a, one]) * (vertices[c, two] - vertices[a, two])
            face -= (vertices[b, two] - vertices[a, two]) * (vertices[c, one] - vertices[a, one])
            every = vertices[a, axis] + vertices[b, axis] + vertices[c, axis]
            for v in (a, b, c):
                total[v, axis] += every - vertices[v, axis]
                normal[v, axis] += face
    for v in range(len(vertices)):
        length = max(np.sqrt(normal[v, 0] ** 2 + normal[v, 1] ** 2 + normal[v, 2] ** 2), 1e-300)
        across = 0.0
        for axis in range(3):
            normal[v, axis] /= length
            total[v, axis] = total[v, axis] / count[v] - vertices[v, axis]
            across += total[v, axis] * normal[v, axis]
        for axis in range(3):
            total[v, axis] -= across * normal[v, axis]
    return total, normal


def _soften(vertices: Floats, triangles: Ints, softening: Softening) -> Floats:
    """Move vertices round the places towards the mean of their neighbours, so many times."""
    low, high = softening.places.min(axis=0) - softening.reach, softening.places.max(axis=0) + softening.reach
    close = np.flatnonzero(((vertices >= low) & (vertices <= high)).all(axis=1))
    away = np.linalg.norm(vertices[close, None] - softening.places[None], axis=2).min(axis=1)
    there = np.clip(1.6 * (1.0 - away / softening.reach), 0.0, 1.0)
    share = np.zeros(len(vertices))
    share[close] = there * there * (3.0 - 2.0 * there)
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


def unshared_edge_count(vertices: Floats, triangles: Ints) -> int:
    """Count the directed edges without exactly one partner running the other way: 0 for a closed surface."""
    ends = sides_of(triangles).reshape(-1, 2)
    forward = np.sort(ends[:, 0] * len(vertices) + ends[:, 1])
    backward = np.sort(ends[:, 1] * len(vertices) + ends[:, 0])
    if np.array_equal(forward, backward) and (np.diff(forward) > 0).all():
        return 0
    return int((np.diff(forward) == 0).sum() + np.setdiff1d(forward, backward).size)


def open_place(vertices: Floats, triangles: Ints) -> str:
    """Say where a surface that is not closed has its first open edge, by the height and the wearer's side."""
    ends = sides_of(triangles).reshape(-1, 2)
    forward, backward = (ends[:, i] * len(vertices) + ends[:, 1 - i] for i in (0, 1))
    _, alike, count = np.unique(forward, return_inverse=True, return_counts=True)
    first = int(np.argmax((count[alike] > 1) | ~np.isin(forward, backward)))
    x, _, z = vertices[ends[first]].mean(axis=0)
    side = "" if abs(x) < MIDDLE else f" on the {'right' if x > 0.0 else 'left'}"
    return f"{100 * z:.0f} cm above the floor{side}"
