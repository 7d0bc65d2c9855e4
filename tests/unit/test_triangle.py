"""Sides stand in the order that is promised, areas have their sign, and a line is found where it was sent through."""

from __future__ import annotations

import numpy as np
import pytest

from drape.ray import crossing, crossings, first_crossing
from drape.triangle import edge_vectors, quarter, sides_facing, sides_of, triangle_areas

TRIANGLES = np.array([[0, 1, 2], [2, 1, 3]])


def test_sides_follow_their_corner_or_face_it() -> None:
    assert sides_of(TRIANGLES).tolist() == [[[0, 1], [1, 2], [2, 0]], [[2, 1], [1, 3], [3, 2]]]
    assert sides_facing(TRIANGLES).tolist() == [[[1, 2], [2, 0], [0, 1]], [[1, 3], [3, 2], [2, 1]]]


def test_edge_vectors_run_along_the_sides_that_face() -> None:
    places = np.random.default_rng(0).normal(size=(4, 3))
    start, end = places[sides_facing(TRIANGLES)[..., 0]], places[sides_facing(TRIANGLES)[..., 1]]
    assert np.array_equal(edge_vectors(places[TRIANGLES]), end - start)


def test_areas_are_signed() -> None:
    corners = np.array([[[0.0, 0.0], [3.0, 0.0], [0.0, 2.0]]])
    assert triangle_areas(corners) == pytest.approx([3.0])
    assert triangle_areas(corners[:, ::-1]) == pytest.approx([-3.0])


def test_a_triangle_is_cut_in_four_alike() -> None:
    corners = np.array([[[0.0, 0.0], [3.0, 0.0], [0.0, 2.0]], [[1.0, 1.0], [2.0, 1.0], [1.0, 2.0]]])
    parts = quarter(corners)
    assert triangle_areas(parts) == pytest.approx([0.75] * 4 + [0.125] * 4)
    assert parts.reshape(2, 4, 3, 2).mean(axis=(1, 2)) == pytest.approx(corners.mean(axis=1))


@pytest.mark.parametrize("seed", range(3))
def test_a_line_through_a_known_place_is_found_there_and_one_beside_it_is_not(seed: int) -> None:
    """Places by barycentric shares, positive inside; the distance along the line is chosen, of either sign."""
    random = np.random.default_rng(seed)
    corners, direction = random.normal(size=(200, 3, 3)), random.normal(size=(200, 3))
    shares = random.dirichlet([1.0, 1.0, 1.0], 200)
    along = random.uniform(-2.0, 2.0, 200)
    through = np.einsum("kc,kcd->kd", shares, corners)
    found = crossings(through - along[:, None] * direction, direction, corners)
    assert found == pytest.approx(along, abs=1e-6)
    outside = np.stack([shares[:, 0], 1.2 - shares[:, 0], np.full(200, -0.2)], axis=1)
    beside = np.einsum("kc,kcd->kd", outside, corners)
    assert np.isnan(crossings(beside - along[:, None] * direction, direction, corners)).all()


def test_a_line_in_the_plane_of_a_triangle_passes_through_nothing() -> None:
    a, b, c = np.eye(3)
    assert np.isnan(crossing(a, b - c, a, b, c))


def test_the_first_of_several_is_the_nearest_ahead() -> None:
    """Level triangles at heights −1, 2, 1 round the axis: a ray from the origin meets the one at 1;
    one far off none.
    """
    flat = np.array([[-1.0, -1.0], [2.0, -1.0], [-1.0, 2.0]])
    corners = np.stack([np.c_[flat, np.full(3, height)] for height in (-1.0, 2.0, 1.0)])
    up = np.array([[0.0, 0.0, 1.0]] * 2)
    found = first_crossing(np.array([[0.0, 0.0, 0.0], [9.0, 0.0, 0.0]]), up, corners)
    assert found[0] == pytest.approx(1.0) and np.isnan(found[1])
