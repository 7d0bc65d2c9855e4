"""Specimens: areas, straight rows, seams, clamps' tails, and the distances of board and roller."""

from __future__ import annotations

import math

import numpy as np
import pytest

from drape.bench.specimen import Strip, board, ring_mesh, roller, strip_mesh
from drape.body.signed_distance import distance
from drape.cloth.mesh import quality_of
from drape.cloth.sheet import join_seams


def area(mesh):
    a, b, c = (mesh.flat[mesh.triangles[:, k]] for k in range(3))
    return 0.5 * ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_a_strip_fills_its_rectangle_and_its_tails(seed):
    mesh = strip_mesh(Strip(0.2, 0.03, 0.01, seed=seed), tails=(2, 1))
    assert area(mesh).min() > 0
    assert area(mesh).sum() == pytest.approx(0.03 * 0.23)
    assert quality_of(mesh.flat, mesh.triangles).min() > 0.3
    for name, x in (("start", 0.0), ("middle", 0.1), ("end", 0.2)):
        assert np.array_equal(mesh.flat[mesh.edges[name], 0], np.full(len(mesh.edges[name]), x))
    held = np.zeros(len(mesh.flat), dtype=bool)
    held[mesh.edges["held"]] = True
    x = mesh.flat[:, 0]
    assert np.array_equal(held, (x <= 0) | (x >= 0.2))


def test_joined_ends_match_vertex_by_vertex():
    mesh = strip_mesh(Strip(0.2, 0.03, 0.01, seed=1), joined=True)
    a, b = mesh.flat[mesh.seams.T]
    assert np.abs(b - a - [0.2, 0.0]).max() < 1e-15
    assert join_seams(len(mesh.flat), mesh.seams)[1] == len(mesh.flat) - len(mesh.seams)


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_a_ring_fills_its_annulus(seed):
    mesh = ring_mesh(0.09, 0.15, 0.01, seed=seed)
    inner = np.hypot(*mesh.flat.T).min()
    assert area(mesh).min() > 0
    assert area(mesh).sum() == pytest.approx(math.pi * (0.15**2 - inner**2), rel=3e-3)
    assert np.hypot(*mesh.flat[mesh.edges["held"]].T).max() == pytest.approx(0.09)
    assert np.hypot(*mesh.flat[mesh.edges["hem"]].T) == pytest.approx(0.15)
    assert np.all(np.diff(np.arctan2(*mesh.flat[mesh.edges["hem"]].T[::-1])) > 0)


def test_same_seed_same_bytes():
    for make in (lambda s: strip_mesh(Strip(0.2, 0.03, 0.01, seed=s)), lambda s: ring_mesh(0.09, 0.15, 0.01, seed=s)):
        assert make(3).flat.tobytes() == make(3).flat.tobytes() != make(4).flat.tobytes()


def test_board_and_roller_are_as_far_as_they_are():
    points = np.array([[0.02, 0.01, 0.03], [0.07, -0.01, -0.002]])
    assert distance(board([0.0, -0.03], [0.1, 0.03]), points) == pytest.approx(points[:, 2], abs=1e-12)
    around = np.array([[0.0, 0.0, 0.051], [0.06, 0.01, 0.0], [-0.035, 0.0, 0.035]])
    field = roller(0.05, [-0.07, -0.02, -0.07], [0.07, 0.02, 0.07])
    assert distance(field, around) == pytest.approx(np.hypot(around[:, 0], around[:, 2]) - 0.05, abs=1e-4)
