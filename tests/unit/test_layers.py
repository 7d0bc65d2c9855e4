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


def crumpled(make_rectangle, seed):
    """One piece of cloth crumpled so that it crosses itself: neighbours share points."""
    mesh = make_rectangle(0.15, 0.12, 0.03, seed)
    flat = np.c_[mesh.flat, np.zeros(len(mesh.flat))]
    return flat * [0.5, 0.5, 1] + np.random.default_rng(seed).normal(0, 0.015, flat.shape), mesh.triangles


def test_parallel_edges():
    """Beside each other, and one beyond the other: distances by Pythagoras."""
    x = np.array([[0, 0, 0], [1, 0, 0], [0.2, 0.3, 0.4], [0.9, 0.3, 0.4], [4, 4, 0], [7, 4, 0]], dtype=float)
    assert layers.edge_edge(x, 0, 1, 2, 3) == pytest.approx(0.5)
    assert layers.edge_edge(x, 0, 1, 3, 2) == pytest.approx(0.5)
    assert layers.edge_edge(x, 0, 1, 4, 5) == pytest.approx(5.0)
    assert layers.edge_edge(x, 4, 5, 1, 0) == pytest.approx(5.0)


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
        assert bool(layers.edge_hits(x, edges[e], triangles[t])) == expected
        hits += expected
    assert hits > 10


@pytest.mark.parametrize("connected", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_search_against_all_pairs(make_rectangle, seed, connected):
    x, triangles = crumpled(make_rectangle, seed) if connected else soup(seed)
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


@pytest.mark.parametrize("seed", range(3))
def test_pairs_of_any_posture_leave_no_net_force_or_moment(make_rectangle, seed):
    x, triangles = crumpled(make_rectangle, seed)
    pairs = find_pairs(weave(triangles), x, thickness=0.008, margin=0.004)
    assert pairs.is_edges.any() and not pairs.is_edges.all()
    for kind in (pairs.is_edges, ~pairs.is_edges):
        force = np.empty_like(x)
        pair_forces(x, pairs.corners[kind], pairs.is_edges[kind], pairs.side[kind], 0.008, force)
        size = np.abs(force).sum()
        assert size > 1.0
        assert np.abs(force.sum(axis=0)).max() < 1e-12 * size
        assert np.abs(np.cross(x, force).sum(axis=0)).max() < 1e-12 * size


def crossed_edges(gap):
    """Two triangles of which only one edge each are near: crossed at their middles, the second's higher by `gap`."""
    low = np.array([[-0.05, 0, 0], [0.05, 0, 0], [0, 0.001, -0.1]])
    high = np.array([[0, -0.05, gap], [0, 0.05, gap], [0.001, 0, gap + 0.1]])
    return np.concatenate([low, high]), np.array([[0, 1, 2], [3, 4, 5]])


def test_crossed_edges_push_apart_and_keep_their_side():
    x, triangles = crossed_edges(0.001)
    sheet = weave(triangles)
    pairs = find_pairs(sheet, x, thickness=THICKNESS, margin=0.004)
    force = np.empty_like(x)
    pair_forces(x, pairs.corners, pairs.is_edges, pairs.side, THICKNESS, force)
    each = LAYER_STIFFNESS * (0.002 - layers.SOFT / 2) / 2  # half of the one pair's push on each end
    assert force[:, 2] == pytest.approx([-each, -each, 0, each, each, 0])
    x[3:, 2] -= 0.002
    again = find_pairs(sheet, x, thickness=THICKNESS, margin=0.004, before=pairs)
    pair_forces(x, again.corners, again.is_edges, again.side, THICKNESS, force)
    assert force[3:, 2].sum() > 0


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


def test_neighbours_on_one_fold_do_not_cross(make_rectangle):
    """Flat cloth touches itself all over, along its own edges only: no crossing. Folded through itself: some."""
    mesh = make_rectangle(0.15, 0.12, 0.03, 0)
    sheet = weave(mesh.triangles)
    flat = np.c_[mesh.flat, np.zeros(len(mesh.flat))]
    assert crossing_count(sheet, flat) == 0
    x, y = mesh.flat.T
    through = np.c_[np.abs(x - 0.075), y, 0.3 * (x - 0.075) * (0.04 - np.abs(x - 0.075))]
    assert crossing_count(sheet, through) > 0
