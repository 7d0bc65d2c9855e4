"""The fast search against the stupid one; pairs push apart, keep their side, and crossings are counted."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from drape import layers
from drape.layers import LAYER_STIFFNESS, crossing_count, find_pairs, pair_forces, search, weave

THICKNESS = 0.003


def soup(seed, count=40):
    """Random triangles that share no point, near each other."""
    rng = np.random.default_rng(seed)
    centre = rng.uniform(0, 0.15, (count, 1, 3))
    return (centre + rng.normal(0, 0.015, (count, 3, 3))).reshape(-1, 3), np.arange(3 * count).reshape(-1, 3)


def nearest(points_a, points_b):
    """Distance of two simplices, by minimisation over barycentric coordinates."""
    a, b = len(points_a), len(points_b)

    def square(w):
        d = w[:a] @ points_a - w[a:] @ points_b
        return 1e4 * d @ d

    start = np.concatenate([np.full(a, 1 / a), np.full(b, 1 / b)])
    sums = [{"type": "eq", "fun": lambda w: w[:a].sum() - 1}, {"type": "eq", "fun": lambda w: w[a:].sum() - 1}]
    best = minimize(square, start, bounds=[(0, 1)] * (a + b), constraints=sums, options={"ftol": 1e-14, "maxiter": 300})
    return np.sqrt(best.fun / 1e4)


@pytest.mark.parametrize("seed", range(3))
def test_distances_against_minimisation(seed):
    x, triangles = soup(seed, 20)
    for p, t in np.random.default_rng(seed).integers(0, [len(x), len(triangles)], (25, 2)):
        exact = nearest(x[[p]], x[triangles[t]])
        assert layers.point_triangle(x, p, triangles, t) == pytest.approx(exact, abs=2e-5)
    for a, b, c, d in np.random.default_rng(seed).integers(0, len(x), (25, 4)):
        if len({a, b, c, d}) == 4:
            assert layers.edge_edge(x, a, b, c, d) == pytest.approx(nearest(x[[a, b]], x[[c, d]]), abs=2e-5)


@pytest.mark.parametrize("seed", range(4))
def test_search_against_all_pairs(seed):
    x, triangles = soup(seed)
    edges, reach = weave(triangles).edges, 0.012
    brute = {
        layers.POINT_TRIANGLE: {
            (p, t)
            for p in range(len(x))
            for t in range(len(triangles))
            if p not in triangles[t] and layers.point_triangle(x, p, triangles, t) <= reach
        },
        layers.EDGE_EDGE: {
            (e, s)
            for e in range(len(edges))
            for s in range(e + 1, len(edges))
            if not set(edges[e]) & set(edges[s]) and layers.edge_edge(x, *edges[e], *edges[s]) <= reach
        },
        layers.EDGE_THROUGH_TRIANGLE: {
            (e, t)
            for e in range(len(edges))
            for t in range(len(triangles))
            if not set(edges[e]) & set(triangles[t]) and layers.edge_hits(x, edges[e], triangles[t])
        },
    }
    for kind, expected in brute.items():
        limit = 0.0 if kind == layers.EDGE_THROUGH_TRIANGLE else reach
        assert {tuple(map(int, pair)) for pair in search(x, triangles, edges, limit, kind)} == expected
        assert expected


def two_sheets(gap):
    """A triangle and a smaller one above it by `gap`, level."""
    low = np.array([[0, 0, 0], [0.1, 0, 0], [0, 0.1, 0]], dtype=float)
    high = np.array([[0.02, 0.02, gap], [0.05, 0.02, gap], [0.02, 0.05, gap]])
    return np.concatenate([low, high]), np.array([[0, 1, 2], [3, 4, 5]])


def test_layers_push_apart_without_net_force_or_moment():
    x, triangles = two_sheets(0.001)
    pairs = find_pairs(weave(triangles), x, thickness=THICKNESS, margin=0.004)
    force = np.empty_like(x)
    pair_forces(x, pairs.corners, pairs.is_edges, pairs.side, THICKNESS, force)
    assert force[3:, 2].sum() == pytest.approx(3 * LAYER_STIFFNESS * (0.002 - layers.SOFT / 2))
    assert force.sum(axis=0) == pytest.approx([0, 0, 0], abs=1e-12)
    assert np.cross(x, force).sum(axis=0) == pytest.approx([0, 0, 0], abs=1e-12)
    x[3:, 2] = THICKNESS
    pair_forces(x, pairs.corners, pairs.is_edges, pairs.side, THICKNESS, force)
    assert not force.any()


def test_cloth_pushed_through_is_pushed_back():
    x, triangles = two_sheets(0.001)
    sheet = weave(triangles)
    pairs = find_pairs(sheet, x, thickness=THICKNESS, margin=0.004)
    x[3:, 2] = -0.001
    again = find_pairs(sheet, x, thickness=THICKNESS, margin=0.004, before=pairs)
    force = np.empty_like(x)
    pair_forces(x, again.corners, again.is_edges, again.side, THICKNESS, force)
    assert force[3:, 2].sum() > 0
    afresh = find_pairs(sheet, x, thickness=THICKNESS, margin=0.004)
    pair_forces(x, afresh.corners, afresh.is_edges, afresh.side, THICKNESS, force)
    assert force[3:, 2].sum() < 0


def test_crossings_are_counted():
    x, triangles = two_sheets(0.01)
    assert crossing_count(weave(triangles), x) == 0
    x[3, 2] = -0.01
    assert crossing_count(weave(triangles), x) == 1
