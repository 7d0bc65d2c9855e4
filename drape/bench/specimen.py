"""Specimens of the textile bench: strips and discs cut into triangles, and what they are laid over.

In: sizes [m]. Out: a `Mesh` with named edges, or the signed distance of a board or a roller as a `DistanceField`.
Irregular on purpose, as a cloak's mesh is; the same seed gives the same bytes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drape.arrays import Floats
from drape.body.signed_distance import DistanceField
from drape.cloth.mesh import Mesh
from drape.triangle import triangle_areas

JITTER = 0.22  # of the spacing: how far an inner vertex may stand from its place on the grid
LEAST_ROWS = 3  # triangles across a strip
SLIVER = 1e-3  # of edge²: triangles below it are the mesher's flat ones on a straight side
FIELD_MARGIN = 0.05  # [m] of field round a specimen


@dataclass(frozen=True)
class Strip:
    """A strip as it is cut and meshed: its sizes and the mesh's edges [m], its grain to the warp [rad],
    the mesh's seed.
    """

    length: float
    width: float
    edge_length: float
    grain: float = 0.0
    seed: int = 0


def strip_mesh(strip: Strip, *, tails: tuple[int, int] = (0, 0), joined: bool = False) -> Mesh:
    """The mesh of a strip from (0, −width/2) to (length, width/2), its vertices moved at random but on its sides and
    ends.

    tails: rows of triangles added before 0 and after `length`, for a clamp to hold. joined: the ends are a seam,
    vertex by vertex. edges: the straight rows of vertices `start` at 0, `middle`, `end` at `length`; and `held`, the
    vertices of the tails with the rows they begin at.
    """
    from scipy.spatial import Delaunay

    length, width, edge_length = strip.length, strip.width, strip.edge_length
    count = 2 * max(2, round(length / (2 * edge_length)))
    columns = np.arange(-tails[0], count + tails[1] + 1)
    rows = max(LEAST_ROWS, round(width / edge_length))
    x, y = np.meshgrid(length * columns / count, width * (np.arange(rows + 1) / rows - 0.5))
    move = np.random.default_rng(strip.seed).uniform(-JITTER, JITTER, (*x.shape, 2))
    straight = np.isin(columns, (columns[0], 0, count // 2, count, columns[-1]))
    move[:, straight, 0] = move[[0, -1], :, 1] = 0.0
    move[:, -1] = move[:, 0]
    flat = np.stack([(x + move[..., 0] * length / count).ravel(), (y + move[..., 1] * width / rows).ravel()], axis=1)
    triangles = anticlockwise(flat, Delaunay(flat).simplices, SLIVER * edge_length**2)
    vertex = np.arange(x.size).reshape(x.shape)
    edges = {name: vertex[:, tails[0] + at] for name, at in (("start", 0), ("middle", count // 2), ("end", count))}
    tail = ((columns <= 0) & (tails[0] > 0)) | ((columns >= count) & (tails[1] > 0))
    edges["held"] = vertex[:, tail].ravel()
    seams = np.stack([edges["start"], edges["end"]], axis=1) if joined else np.empty((0, 2), dtype=np.int64)
    return Mesh(flat=flat, triangles=triangles, edges=edges, seams=seams)


def ring_mesh(inner: float, outer: float, edge_length: float, *, seed: int = 0, tail: int = 2) -> Mesh:
    """A ring about the origin from radius `inner` to `outer`, with `tail` rows of triangles inside `inner`.

    Vertices stand on both circles exactly. edges: `held`, all vertices not outside `inner`; `hem`, by angle.
    """
    from scipy.spatial import Delaunay

    rows = max(2, round((outer - inner) / (0.87 * edge_length)))
    depth = (outer - inner) / rows
    random = np.random.default_rng(seed)
    points = []
    for row in range(-tail, rows + 1):
        radius = inner + depth * row
        count = max(8, round(2 * math.pi * radius / edge_length))
        angle = 2 * math.pi * (np.arange(count) + random.uniform() + random.uniform(-JITTER, JITTER, count)) / count
        away = depth * random.uniform(-JITTER, JITTER, count) * (row not in (-tail, 0, rows))
        points.append((radius + away)[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1))
    flat = np.concatenate(points)
    triangles = anticlockwise(flat, Delaunay(flat).simplices, SLIVER * edge_length**2)
    sizes = np.cumsum([len(row) for row in points])
    hole = np.all(triangles < sizes[0], axis=1)
    hem = np.arange(sizes[-2], sizes[-1])
    edges = {"held": np.arange(sizes[tail]), "hem": hem[np.argsort(np.arctan2(flat[hem, 1], flat[hem, 0]))]}
    return Mesh(flat=flat, triangles=triangles[~hole], edges=edges, seams=np.empty((0, 2), dtype=np.int64))


def anticlockwise(flat: Floats, triangles: NDArray[np.integer], least_area: float) -> NDArray[np.int64]:
    """The triangles of at least that area, all turned the same way."""
    triangles = triangles.astype(np.int64)
    area = triangle_areas(flat[triangles])
    triangles = np.where((area < 0)[:, None], triangles[:, [0, 2, 1]], triangles)
    return np.ascontiguousarray(triangles[np.abs(area) >= least_area])


def board(low: Sequence[float], high: Sequence[float], *, spacing: float = 0.01) -> DistanceField:
    """Signed distance [m] above the level plane z = 0, on a grid round the box from `low` to `high`."""
    origin, axes = _grid([*low, -FIELD_MARGIN], [*high, FIELD_MARGIN], spacing)
    values = np.broadcast_to(axes[2], tuple(len(axis) for axis in axes))
    return DistanceField(origin, spacing, np.ascontiguousarray(values))


def roller(radius: float, low: Sequence[float], high: Sequence[float], *, spacing: float = 0.004) -> DistanceField:
    """Signed distance [m] to a cylinder about the y axis, on a grid round the box from `low` to `high` (x, y, z)."""
    origin, axes = _grid(low, high, spacing)
    x, _, z = np.meshgrid(*axes, indexing="ij")
    return DistanceField(origin, spacing, np.ascontiguousarray(np.hypot(x, z) - radius))


def _grid(low: Sequence[float], high: Sequence[float], spacing: float) -> tuple[Floats, list[Floats]]:
    origin = np.asarray(low, dtype=np.float64) - FIELD_MARGIN
    counts = np.ceil((np.asarray(high) + FIELD_MARGIN - origin) / spacing).astype(int) + 2
    return origin, [start + spacing * np.arange(count) for start, count in zip(origin, counts, strict=True)]
