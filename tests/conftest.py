"""Shared by the tests: rectangles of cloth on irregular meshes, and a plane to rest on."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.spatial import Delaunay

from drape.cloth import Cloth
from drape.distance import DistanceField
from drape.mesh import Mesh

MELTON = Cloth("heavy melton", 0.6, 0.003, 0.028, 0.025, 2000.0, 1500.0, 120.0, 0.1, 0.5, 0.4)


def rectangle(length: float, width: float, edge: float, seed: int) -> Mesh:
    """A rectangle from (0, 0) meshed irregularly; corners and sides kept."""
    columns, rows = round(length / edge), max(2, round(width / edge))
    x, y = np.meshgrid(np.linspace(0, length, columns + 1), np.linspace(0, width, rows + 1))
    flat = np.stack([x.ravel(), y.ravel()], axis=1)
    shift = np.random.default_rng(seed).uniform(-0.22, 0.22, flat.shape)
    inside = (flat > 1e-9) & (flat < np.array([length, width]) - 1e-9)
    flat = flat + shift * inside * [length / columns, width / rows]
    triangles = Delaunay(flat).simplices.astype(np.int64)
    a, b = flat[triangles[:, 1]] - flat[triangles[:, 0]], flat[triangles[:, 2]] - flat[triangles[:, 0]]
    area = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    triangles[area < 0] = triangles[area < 0][:, [0, 2, 1]]
    triangles = triangles[np.abs(area) > 1e-3 * edge**2]
    return Mesh(flat=flat, triangles=triangles, edges={}, seams=np.empty((0, 2), dtype=np.int64))


def plane_field(slope: float) -> DistanceField:
    """Signed distance above a plane through the origin that falls `slope` [rad] along +x."""
    spacing = 0.02
    axis = [np.arange(-0.4, 0.8 + 1e-9, spacing), np.arange(-0.2, 0.4, spacing), np.arange(-0.6, 0.3, spacing)]
    x, _, z = np.meshgrid(*axis, indexing="ij")
    values = x * np.sin(slope) + z * np.cos(slope)
    return DistanceField(np.array([a[0] for a in axis]), spacing, np.ascontiguousarray(values))


@pytest.fixture
def melton() -> Cloth:
    return MELTON


@pytest.fixture
def make_rectangle() -> Callable[[float, float, float, int], Mesh]:
    return rectangle


@pytest.fixture
def make_plane() -> Callable[[float], DistanceField]:
    return plane_field


def sector(sweep: float, radius: float, edge: float, seed: int) -> Mesh:
    """A sector of a disc about its point at the origin, its straight sides a seam; `point`, `hem` in its edges.

    Triangles are made in a sector squeezed to 100°, which is convex enough, and opened again.
    """
    random = np.random.default_rng(seed)
    rows = round(radius / edge)
    points, share = [np.zeros((1, 2))], np.radians(100) / sweep
    for row in range(1, rows + 1):
        r = radius * row / rows
        count = max(3, round(sweep * r / edge))
        inner = np.r_[0.0, np.ones(count - 1), 0.0]
        angle = sweep * (np.arange(count + 1) + inner * random.uniform(-0.15, 0.15, count + 1)) / count
        away = r + inner * (row < rows) * random.uniform(-0.15, 0.15, count + 1) * radius / rows
        points.append(np.stack([away * np.cos(share * angle), away * np.sin(share * angle)], axis=1))
    squeezed = np.concatenate(points)
    triangles = Delaunay(squeezed).simplices.astype(np.int64)
    phi, r = np.arctan2(squeezed[:, 1], squeezed[:, 0]) / share, np.hypot(*squeezed.T)
    flat = r[:, None] * np.stack([np.cos(phi), np.sin(phi)], axis=1)
    a, b = flat[triangles[:, 1]] - flat[triangles[:, 0]], flat[triangles[:, 2]] - flat[triangles[:, 0]]
    triangles = triangles[a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] > 1e-3 * edge**2]
    ends = np.cumsum([len(row) for row in points])
    first, last = ends[:-1], ends[1:] - 1
    edges = {"point": np.array([0]), "hem": np.arange(first[-1], last[-1] + 1)}
    return Mesh(flat=flat, triangles=triangles, edges=edges, seams=np.stack([first, last], axis=1))


@pytest.fixture
def make_sector() -> Callable[[float, float, float, int], Mesh]:
    return sector
