"""The mesh of values on a grid is closed, also where a ridge grazes the grid along a diagonal."""

from __future__ import annotations

import numpy as np
import pytest

from drape.body.implicit_surface import ROWS, TURNS, Part, join
from drape.body.surface_nets import open_place, skin, surface_nets, unshared_edge_count, without_checkers
from drape.errors import FigureError


def block_values(*inside: tuple[int, int, int]) -> np.ndarray:
    values = np.full((6, 6, 6), 0.5)
    for place in inside:
        values[place] = -0.3
    return values


def test_two_nodes_beside_each_other_make_a_closed_box() -> None:
    """V - E + F = 2: a sphere's topology; outward, so its volume is positive."""
    vertices, triangles = surface_nets(block_values((2, 2, 2), (3, 2, 2)), np.zeros(3), 0.01)
    assert unshared_edge_count(vertices, triangles) == 0
    assert len(vertices) - 3 * len(triangles) // 2 + len(triangles) == 2
    a, b, c = (vertices[triangles[:, i]] for i in range(3))
    assert np.einsum("ij,ij->i", a, np.cross(b, c)).sum() > 0.0


@pytest.mark.parametrize("other", [(3, 3, 2), (3, 2, 3), (2, 3, 3)])
def test_two_nodes_across_a_square_are_parted_or_joined(other: tuple[int, int, int]) -> None:
    """As they stand two sheets share one edge (negative control); without the checker every edge has two triangles."""
    values = block_values((2, 2, 2), other)
    assert unshared_edge_count(*surface_nets(values, np.zeros(3), 0.01)) > 0
    mended = without_checkers(values)
    assert unshared_edge_count(*surface_nets(mended, np.zeros(3), 0.01)) == 0
    assert (np.sign(mended) != np.sign(values)).sum() == 1


def test_values_without_checkers_stay_as_they_are() -> None:
    values = block_values((2, 2, 2), (3, 2, 2), (3, 3, 2))
    assert np.array_equal(without_checkers(values), values)


def test_an_open_place_is_told_by_its_height_and_side() -> None:
    vertices, triangles = surface_nets(block_values((2, 2, 2), (3, 2, 2)), np.array([-0.5, 0.0, 0.84]), 0.01)
    assert open_place(vertices, triangles[1:]) == "86 cm above the floor on the left"
    assert open_place(vertices + [0.475, 0.0, 0.0], triangles[1:]) == "86 cm above the floor"
    twice = np.concatenate([triangles, triangles[:1]])
    assert open_place(vertices + [1.0, 0.0, 0.0], twice) == "86 cm above the floor on the right"


def test_a_skin_that_does_not_close_is_refused_by_its_place(monkeypatch: pytest.MonkeyPatch) -> None:
    def torn(values: np.ndarray, low: np.ndarray, cell: float) -> tuple[np.ndarray, np.ndarray]:
        vertices, triangles = surface_nets(values, low, cell)
        return vertices, triangles[1:]

    monkeypatch.setattr("drape.body.surface_nets.surface_nets", torn)
    ball = Part(
        (0.96, 1.04), (0.03, 0.03), np.zeros((ROWS, 2)), np.full((ROWS, TURNS), 0.04), np.zeros((ROWS, TURNS)),
        np.eye(3), np.zeros(3),
    )  # fmt: skip
    with pytest.raises(FigureError, match=r"got an open place \d+ cm above the floor on the left, allowed none\."):
        skin(join([ball]))
