"""The fast search against the stupid one; distances of points, edges and triangles."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from drape.cloth import proximity
from drape.cloth.proximity import near_pairs, piercing_pairs
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
    sheet, reach = weave(triangles), 0.012
    edges = sheet.edges
    points_near = {
        (p, t): proximity.point_triangle(x, p, triangles, t)
        for p in range(len(x))
        for t in range(len(triangles))
        if p not in triangles[t]
    }
    edges_near = {
        (e, s): proximity.edge_edge(x, *edges[e], *edges[s])
        for e in range(len(edges))
        for s in range(e + 1, len(edges))
        if not set(edges[e]) & set(edges[s])
    }
    pierced = {
        (e, t)
        for e in range(len(edges))
        for t in range(len(triangles))
        if not set(edges[e]) & set(triangles[t]) and proximity.edge_hits(x, edges[e], triangles[t])
    }
    faces, face_distance, sides, side_distance = near_pairs(x, sheet.blocks, reach)
    for pairs, distance, brute in ((faces, face_distance, points_near), (sides, side_distance, edges_near)):
        found = dict(zip(map(tuple, pairs.tolist()), distance, strict=True))
        assert len(found) == len(pairs) > 0
        assert found == {pair: apart for pair, apart in brute.items() if apart <= reach}
    found = [tuple(pair) for pair in piercing_pairs(x, sheet.blocks).tolist()]
    assert len(set(found)) == len(found) > 0 and set(found) == pierced


@pytest.mark.parametrize("seed", range(3))
def test_what_lies_beyond_a_plane_is_further_than_its_distance(seed):
    """No pair passed over is within reach, and of those further than twice the reach most are passed over."""
    x, triangles = soup(seed)
    rng, reach = np.random.default_rng(seed), 0.02
    for corners, beyond, exact in (
        (rng.integers(0, len(triangles), (2000, 2)), proximity.beyond_triangle, proximity.point_triangle),
        (rng.integers(0, len(x), (2000, 4)), proximity.beyond_edge, proximity.edge_edge),
    ):
        over, far = 0, 0
        for at in corners:
            if exact is proximity.point_triangle:
                ends, distance = (at[0], *triangles[at[1]]), exact(x, at[0], triangles, at[1])
            else:
                ends, distance = tuple(at), exact(x, *at)
            if len(set(ends)) < 4:
                continue
            passed = beyond(x, *ends, reach)
            assert not (passed and distance <= reach)
            far += distance > 2 * reach
            over += bool(passed)
        assert over > 0.8 * far > 100


def test_blocks_hold_everything_once_and_lie_together(make_rectangle):
    """Blocks of a square metre are pieces about as wide as long."""
    mesh = make_rectangle(1.0, 1.0, 0.05, 0)
    sheet = weave(mesh.triangles)
    counts = (len(mesh.flat), len(sheet.edges), len(mesh.triangles))
    for items, count, width in zip(sheet.blocks, counts, (1, 2, 3), strict=True):
        assert np.array_equal(np.sort(items.place), np.arange(count))
        assert items.start[0] == 0 and items.start[-1] == count and items.ends.shape == (count, width)
    ends, _, start = sheet.blocks.triangles
    assert proximity.FULL / 2 <= np.diff(start).min() and np.diff(start).max() <= proximity.FULL
    wide = [np.ptp(mesh.flat[ends[a:b].ravel()], axis=0).max() for a, b in zip(start[:-1], start[1:], strict=True)]
    assert np.mean(wide) < 2.0 / np.sqrt(len(wide)) and max(wide) < 4.0 / np.sqrt(len(wide))


def test_a_mesh_in_two_parts_has_no_block_of_both(make_rectangle):
    mesh = make_rectangle(1.0, 1.0, 0.1, 0)
    blocks = weave(np.concatenate([mesh.triangles, mesh.triangles + len(mesh.flat)])).blocks
    of_second = blocks.triangles.place >= len(mesh.triangles)
    for a, b in zip(blocks.triangles.start[:-1], blocks.triangles.start[1:], strict=True):
        assert of_second[a:b].all() or not of_second[a:b].any()
