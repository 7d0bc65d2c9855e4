"""mesher: a side that netgen has cut is made whole, and nothing else is changed."""

from __future__ import annotations

import numpy as np

from drape.cloth.mesher import uncut
from drape.triangle import triangle_areas

SQUARE = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])


def test_a_cut_side_is_made_whole() -> None:
    """A square with a point on one side and one inside: the point goes, the square stays filled."""
    points = np.vstack([SQUARE, [[0.4, 0.0], [0.5, 0.5]]])
    triangles = np.array([[0, 4, 5], [4, 1, 5], [1, 2, 5], [2, 3, 5], [3, 0, 5]])
    left, own = uncut(points, triangles, 4)
    assert np.array_equal(left, points[[0, 1, 2, 3, 5]]) and len(own) == 4
    assert np.sort(triangle_areas(left[own])).tolist() == [0.25] * 4


def test_a_mesh_with_a_hole_in_it_stays_as_it_is() -> None:
    points = np.vstack([SQUARE, [[0.5, 0.5]]])
    triangles = np.array([[0, 1, 4], [1, 2, 4], [2, 3, 4]])
    left, own = uncut(points, triangles, 4)
    assert np.array_equal(left, points) and np.array_equal(own, triangles)
