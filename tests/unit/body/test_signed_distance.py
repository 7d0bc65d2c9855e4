"""The signed distance of a mesh: against formulas, against the plain search over all triangles, and its gradient."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from mannequin import mannequin

from drape.body.figure import Figure
from drape.body.signed_distance import (
    OUTSIDE_GRID,
    DistanceField,
    distance,
    distance_and_normal,
    distance_field,
    exact_nodes,
    sample_distance,
)

FloatArray = np.ndarray
IntArray = np.ndarray


def box_mesh(half: float = 0.1) -> tuple[FloatArray, IntArray]:
    """A cube of side 2 half, two triangles a side, outward."""
    corner = np.array([[x, y, z] for x in (-half, half) for y in (-half, half) for z in (-half, half)])
    sides = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    return corner, np.array([t for a, b, c, d in sides for t in ((a, b, c), (a, c, d))])


def sphere_mesh(radius: float, rings: int = 96) -> tuple[FloatArray, IntArray]:
    """A sphere by latitude and longitude, outward."""
    latitude = np.linspace(0.0, np.pi, rings + 1)[1:-1]
    longitude = np.linspace(0.0, 2.0 * np.pi, 2 * rings, endpoint=False)
    around = np.stack(np.broadcast_arrays(
        np.sin(latitude)[:, None] * np.cos(longitude), np.sin(latitude)[:, None] * np.sin(longitude),
        np.cos(latitude)[:, None],
    ), axis=-1).reshape(-1, 3)  # fmt: skip
    vertices = radius * np.vstack([around, [[0, 0, 1]], [[0, 0, -1]]])
    count = 2 * rings
    triangles = []
    for i in range(rings - 2):
        for j in range(count):
            a, b = i * count + j, i * count + (j + 1) % count
            triangles += [(a, a + count, b), (b, a + count, b + count)]
    last = (rings - 2) * count
    for j in range(count):
        triangles += [(len(around), j, (j + 1) % count), (len(around) + 1, last + (j + 1) % count, last + j)]
    return vertices, np.array(triangles)


def plain_distance(point: FloatArray, vertices: FloatArray, triangles: IntArray) -> float:
    """Unsigned distance by trying every triangle: least over faces (where the foot falls inside) and over edges."""
    a, b, c = (vertices[triangles[:, i]] for i in range(3))
    normal = np.cross(b - a, c - a)
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    height = np.einsum("ij,ij->i", point - a, normal)
    foot = point - height[:, None] * normal
    inside = np.ones(len(a), dtype=bool)
    best = np.inf
    for p, q in ((a, b), (b, c), (c, a)):
        inside &= np.einsum("ij,ij->i", np.cross(q - p, foot - p), normal) >= 0.0
        t = np.clip(np.einsum("ij,ij->i", point - p, q - p) / np.einsum("ij,ij->i", q - p, q - p), 0.0, 1.0)
        best = min(best, np.linalg.norm(point - p - t[:, None] * (q - p), axis=1).min())
    return min(best, np.abs(height[inside]).min(initial=np.inf))


def figure() -> Figure:
    return mannequin()


@cache
def nodes() -> DistanceField:
    """The figure's own grid before the spline's smoothing is taken off it."""
    body = figure()
    return exact_nodes(body.vertices, body.triangles, spacing=body.field.spacing, margin=0.12)


def test_box_distance_is_the_formula_with_its_sign() -> None:
    """A cube's distance outside is that of the clipped offset, inside that to the nearest side;
    corners keep the sign.
    """
    half = 0.1
    vertices, triangles = box_mesh(half)
    field = exact_nodes(vertices, triangles, spacing=0.01, margin=0.06)
    index = np.stack(np.meshgrid(*(np.arange(n) for n in field.values.shape), indexing="ij"), axis=-1)
    over = np.abs(field.origin + field.spacing * index) - half
    exact = np.linalg.norm(np.maximum(over, 0.0), axis=-1) + np.minimum(over.max(axis=-1), 0.0)
    near = (exact < 0.06) & (exact > -0.03)
    assert near.sum() > 10000
    assert np.abs(field.values - exact)[near].max() < 1e-12
    assert np.array_equal(np.sign(field.values[np.abs(exact) > 1e-9]), np.sign(exact[np.abs(exact) > 1e-9]))


def test_sphere_distance_and_normal_follow_the_radius() -> None:
    """The mesh of a 12 cm sphere lies within 0.1 mm of it, and so does the field."""
    radius = 0.12
    field = distance_field(*sphere_mesh(radius), spacing=0.008, margin=0.1)
    rng = np.random.default_rng(1)
    direction = rng.normal(size=(500, 3))
    direction /= np.linalg.norm(direction, axis=1)[:, None]
    reach = rng.uniform(0.105, 0.165, size=500)
    got, normal = distance_and_normal(field, reach[:, None] * direction)
    assert np.abs(got - (reach - radius)).max() < 1e-4
    assert np.abs(normal - direction).max() < 0.02


def test_the_spline_smooths_by_the_size_stated_and_that_is_taken_off() -> None:
    """Through exact nodes it raises a sphere's distance by spacing^2/8 * 2/r; what is left then is a tenth at most,
    and falls faster than spacing squared.
    """
    smoothed, left = [], []
    for spacing in (0.016, 0.008):
        mesh = sphere_mesh(0.12, rings=220)
        turn = np.linspace(0.1, 6.0, 40)
        points = 0.15 * np.stack([np.cos(turn), np.sin(turn) * 0.8, np.sin(turn) * 0.6], axis=1)
        exact = np.linalg.norm(points, axis=1) - 0.12
        smoothed.append(np.mean(distance(exact_nodes(*mesh, spacing=spacing, margin=0.1), points) - exact))
        left.append(np.abs(np.mean(distance(distance_field(*mesh, spacing=spacing, margin=0.1), points) - exact)))
    assert smoothed[0] == pytest.approx(0.016**2 / 8.0 * 2.0 / 0.15, rel=0.15)
    assert np.log2(smoothed[0] / smoothed[1]) == pytest.approx(2.0, abs=0.25)
    assert left[0] < 0.1 * smoothed[0] and left[1] < 0.1 * smoothed[1]


def test_a_body_s_surface_is_where_the_cloth_feels_it() -> None:
    """Vertices and middles of triangles: 0 is right. The cloth rests there, so it may be off by so much, no more."""
    body = figure()
    off = distance(body.field, np.vstack([body.vertices, body.vertices[body.triangles].mean(axis=1)]))
    assert abs(off.mean()) < 2e-5
    assert np.quantile(np.abs(off), 0.99) < 5e-4
    assert off.max() < 0.002


def near(body: Figure, point: FloatArray) -> IntArray:
    """The triangles that may be nearest to a point: the others have every corner further than the nearest corner and
    the longest side together, so no place of theirs is as near as that corner.
    """
    corners = body.vertices[body.triangles]
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max()
    away = np.linalg.norm(body.vertices - point, axis=1)
    return body.triangles[(away[body.triangles] <= away.min() + sides).any(axis=1)]


def errors_at(index: IntArray) -> FloatArray:
    """How much more the figure's nodes (k, 3) hold than the search over all triangles finds [m]."""
    body = figure()
    places = body.field.origin + body.field.spacing * index
    plain = np.array([plain_distance(node, body.vertices, near(body, node)) for node in places])
    return np.abs(nodes().values[tuple(index.T)]) - plain


@pytest.mark.long
def test_nodes_agree_with_the_search_over_all_triangles() -> None:
    field = nodes()
    rng = np.random.default_rng(2)
    index = np.argwhere((field.values < 0.06) & (field.values > -0.03))
    off = errors_at(index[rng.integers(0, len(index), 60)])
    assert off.min() > -1e-12  # never nearer than the mesh
    assert (off < 1e-12).sum() >= 59
    assert off.max() < 0.001


@pytest.mark.long
def test_nodes_between_two_sheets_are_within_a_millimetre() -> None:
    """Where a node lies between arm and chest, in a hand or between the legs,
    a walk along the mesh may take the wrong way.
    """
    body = figure()
    field = nodes()
    index = np.argwhere((field.values < 0.06) & (field.values > -0.03))
    x, _, z = (field.origin + field.spacing * index).T
    tape = body.tape
    between = (np.abs(x) > 0.13) & (np.abs(x) < 0.22) & (z > tape["chest_height"]) & (z < tape["shoulder_point_height"])
    hands = (z < tape["wrist_height"]) & (z > tape["wrist_height"] - 0.15) & (np.abs(x) > 0.22)
    legs = (np.abs(x) < 0.02) & (z < 0.9 * tape["hip_height"])
    rng = np.random.default_rng(3)
    for there in (between, hands, legs):
        found = index[there]
        assert len(found) > 1000
        off = errors_at(found[rng.integers(0, len(found), 25)])
        assert off.min() > -1e-12
        assert off.max() < 0.001
        assert np.median(off) < 1e-12


def test_sampled_distance_at_neck_and_shoulder_is_within_two_mm() -> None:
    """What the cloth will feel there: 0 on the surface, within half a mm; off it the true distance, up to 3 cm out."""
    body = figure()
    lines = np.vstack([body.neck_base, body.shoulder_line_left, body.shoulder_line_right])
    assert np.abs(distance(body.field, lines)).max() < 0.0005
    _, normal = distance_and_normal(body.field, lines)
    rng = np.random.default_rng(3)
    for row in rng.integers(0, len(lines), 30):
        point = lines[row] + rng.uniform(0.002, 0.03) * normal[row]
        got = distance(body.field, point[None])[0]
        assert got == pytest.approx(plain_distance(point, body.vertices, near(body, point)), abs=0.002)


def test_gradient_is_the_derivative_of_the_distance() -> None:
    body = figure()
    rng = np.random.default_rng(4)
    points = body.vertices[rng.integers(0, len(body.vertices), 200)] + rng.normal(scale=0.01, size=(200, 3))
    _, gradient = distance_and_normal(body.field, points)
    step = 1e-6
    for axis in range(3):
        move = np.eye(3)[axis] * step
        slope = (distance(body.field, points + move) - distance(body.field, points - move)) / (2.0 * step)
        assert np.abs(gradient[:, axis] - slope).max() < 1e-6
    assert np.linalg.norm(gradient, axis=1).min() > 0.3


def test_gradient_does_not_jump_between_cells() -> None:
    """The spline's pieces meet halfway between nodes: value and gradient must agree from both sides."""
    field = figure().field
    rng = np.random.default_rng(5)
    for _ in range(50):
        cell = rng.integers(3, np.array(field.values.shape) - 3) + 0.5
        point = field.origin + field.spacing * cell
        here = np.array(sample_distance(field, *(point - 1e-10)))
        there = np.array(sample_distance(field, *(point + 1e-10)))
        assert np.abs(here - there).max() < 1e-6


def test_outside_the_grid_is_far_with_no_gradient() -> None:
    field = figure().field
    assert sample_distance(field, 5.0, 0.0, 1.0) == (OUTSIDE_GRID, 0.0, 0.0, 0.0)
    assert sample_distance(field, np.nan, 0.0, 1.0)[0] == OUTSIDE_GRID


def test_distance_grows_steadily_away_from_the_body() -> None:
    """Beyond the exact band the blend must not have hollows: along rays that leave the body it only grows."""
    body = figure()
    reach = np.linspace(0.0, 0.10, 60)
    for direction in ([0.0, 1.0, 0.0], [0.0, -1.0, 0.0]):
        for height in (0.9, 1.1, 1.3, 1.45):
            start = np.array([0.0, 0.0, height])
            ray = start + np.linspace(0.0, 0.3, 400)[:, None] * direction
            leaves = ray[np.argmax(distance(body.field, ray) > 0.0)]
            along = distance(body.field, leaves + reach[:, None] * direction)
            assert (np.diff(along) > 0.0).all()


@pytest.mark.parametrize("shape", [(3,), (4, 2)])
def test_wrong_shape_is_refused_with_the_shape(shape: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="got shape"):
        distance(figure().field, np.zeros(shape))
    with pytest.raises(ValueError, match="got shape"):
        distance_field(np.zeros(shape), np.zeros((1, 3), dtype=int))
