"""Polyline: lengths along a run of points, and values between them."""

from __future__ import annotations

import numpy as np
import pytest

from drape.polyline import at_length, length_along, polyline_distance


def test_lengths_along_right_angles_add_up() -> None:
    points = np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 4.0], [3.0, 4.0], [0.0, 0.0]])
    assert length_along(points).tolist() == [0.0, 3.0, 7.0, 7.0, 12.0]


def test_values_lie_between_their_neighbours_and_end_at_the_ends() -> None:
    """One place gives one point, several give a row each; past the ends the ends stay."""
    points = np.array([[0.0, 0.0, 1.0], [2.0, 0.0, 1.0], [2.0, 2.0, 5.0]])
    along = np.array([0.0, 2.0, 4.0])
    assert at_length(3.0, along, points).tolist() == [2.0, 1.0, 3.0]
    found = at_length(np.array([-1.0, 1.0, 9.0]), along, points)
    assert found.tolist() == [[0.0, 0.0, 1.0], [1.0, 0.0, 1.0], [2.0, 2.0, 5.0]]


def test_half_way_along_a_circle_is_the_other_side() -> None:
    angle = np.linspace(0.0, 2 * np.pi, 721)
    circle = np.column_stack([np.cos(angle), np.sin(angle)])
    along = length_along(circle)
    assert abs(along[-1] - 2 * np.pi) < 1e-4  # chords of half a degree
    assert np.allclose(at_length(0.5 * along[-1], along, circle), [-1.0, 0.0], atol=1e-9)


def test_how_far_off_a_place_lies_is_told_by_the_nearest_stretch_or_end() -> None:
    line = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [1.0, 1.0, 0.0]])
    places = np.array([[0.5, 2.0, 0.0], [-1.0, 0.0, 0.0], [0.5, -0.3, 0.4]])
    assert polyline_distance(places, line) == pytest.approx([np.hypot(0.5, 1.0), 1.0, 0.5])
