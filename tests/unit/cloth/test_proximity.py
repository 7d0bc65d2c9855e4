"""The fast search against the stupid one; distances of points, edges and triangles."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from drape.cloth import proximity
from drape.cloth.proximity import search
from drape.cloth.self_contact import weave


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
        assert proximity.point_triangle(x, p, triangles, t) == pytest.approx(exact, abs=2e-5)
    for a, b, c, d in np.random.default_rng(seed).integers(0, len(x), (25, 4)):
        if len({a, b, c, d}) == 4:
            assert proximity.edge_edge(x, a, b, c, d) == pytest.approx(nearest(x[[a, b]], x[[c, d]]), abs=2e-5)


def test_parallel_edges():
    """Beside each other, and one beyond the other: distances by Pythagoras."""
    x = np.array([[0, 0, 0], [1, 0, 0], [0.2, 0.3, 0.4], [0.9, 0.3, 0.4], [4, 4, 0], [7, 4, 0]], dtype=float)
    assert proximity.edge_edge(x, 0, 1, 2, 3) == pytest.approx(0.5)
    assert proximity.edge_edge(x, 0, 1, 3, 2) == pytest.approx(0.5)
    assert proximity.edge_edge(x, 0, 1, 4, 5) == pytest.approx(5.0)
    assert proximity.edge_edge(x, 4, 5, 1, 0) == pytest.approx(5.0)


@pytest.mark.parametrize("seed", range(3))
def test_an_edge_through_a_triangle_by_volumes(seed):
    """It passes through where its ends lie on two sides of the plane and the line keeps to one side of all three
    edges: signs of five tetrahedra's volumes."""
    rng = np.random.default_rng(seed)
    x, triangles = rng.uniform(0, 1, (60, 3)), np.arange(60).reshape(-1, 3)
    edges = weave(triangles).edges

    def volume(*corners):
        return np.linalg.det(x[list(corners[1:])] - x[corners[0]])

    hits = 0
    for e, t in rng.integers(0, [len(edges), len(triangles)], (600, 2)):
        (p, q), (a, b, c) = edges[e], triangles[t]
        if {p, q} & {a, b, c}:
            continue
        apart = volume(p, a, b, c) * volume(q, a, b, c) < 0
        round_line = np.sign([volume(p, q, a, b), volume(p, q, b, c), volume(p, q, c, a)])
        expected = bool(apart and abs(round_line.sum()) == 3)
        assert bool(proximity.edge_hits(x, edges[e], triangles[t])) == expected
        hits += expected
    assert hits > 10


@pytest.mark.parametrize("connected", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_search_against_all_pairs(make_crumpled, seed, connected):
    x, triangles = make_crumpled(seed) if connected else soup(seed)
    edges, reach = weave(triangles).edges, 0.012
    brute = {
        proximity.POINT_TRIANGLE: {
            (p, t)
            for p in range(len(x))
            for t in range(len(triangles))
            if p not in triangles[t] and proximity.point_triangle(x, p, triangles, t) <= reach
        },
        proximity.EDGE_EDGE: {
            (e, s)
            for e in range(len(edges))
            for s in range(e + 1, len(edges))
            if not set(edges[e]) & set(edges[s]) and proximity.edge_edge(x, *edges[e], *edges[s]) <= reach
        },
        proximity.EDGE_THROUGH_TRIANGLE: {
            (e, t)
            for e in range(len(edges))
            for t in range(len(triangles))
            if not set(edges[e]) & set(triangles[t]) and proximity.edge_hits(x, edges[e], triangles[t])
        },
    }
    for kind, expected in brute.items():
        limit = 0.0 if kind == proximity.EDGE_THROUGH_TRIANGLE else reach
        assert {tuple(map(int, pair)) for pair in search(x, triangles, edges, limit, kind)} == expected
        assert expected
