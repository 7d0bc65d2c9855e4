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


def crumpled(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """One piece of cloth crumpled so that it crosses itself: positions and triangles."""
    mesh = rectangle(0.15, 0.12, 0.03, seed)
    flat = np.c_[mesh.flat, np.zeros(len(mesh.flat))]
    return flat * [0.5, 0.5, 1] + np.random.default_rng(seed).normal(0, 0.015, flat.shape), mesh.triangles


@pytest.fixture
def make_crumpled() -> Callable[[int], tuple[np.ndarray, np.ndarray]]:
    return crumpled


@pytest.fixture
def melton() -> Cloth:
    return MELTON


@pytest.fixture
def make_rectangle() -> Callable[[float, float, float, int], Mesh]:
    return rectangle


@pytest.fixture
def make_plane() -> Callable[[float], DistanceField]:
    return plane_field
