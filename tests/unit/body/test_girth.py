"""Lengths round things, against circles, cones and boxes."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from drape.body.girth import hull_length, loops, ring_length, section, turned


def cone(half_angle: float = 0.3, around: int = 180, x: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """A closed cone, its point down at (x, 0, 0), its rim at z = 1."""
    turn = np.linspace(0.0, 2 * np.pi, around, endpoint=False)
    rim = np.stack([x + np.tan(half_angle) * np.cos(turn), np.tan(half_angle) * np.sin(turn), np.ones(around)], axis=1)
    points = np.vstack([rim, [[x, 0.0, 0.0], [x, 0.0, 1.0]]])
    i = np.arange(around)
    k = (i + 1) % around
    return points, np.vstack(
        [np.stack([np.full(around, around), k, i], 1), np.stack([np.full(around, around + 1), i, k], 1)]
    )


def by_azimuth(ring: np.ndarray) -> np.ndarray:
    middle = ring.mean(axis=0)
    return ring[np.argsort(np.arctan2(ring[:, 1] - middle[1], ring[:, 0] - middle[0]))]


def test_hull_length_is_that_of_a_taut_tape() -> None:
    """A square with a dent: the tape bridges the dent, perimeter 4."""
    points = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.5, 0.4], [0.0, 1.0], [0.5, 0.0]])
    assert hull_length(points) == pytest.approx(4.0, abs=1e-12)


@pytest.mark.parametrize("seed", range(4))
def test_hull_length_of_scattered_points_is_that_of_another_way(seed: int) -> None:
    """Quickhull (scipy) finds the same hull; in two dimensions it calls the perimeter its area."""
    points = np.random.default_rng(seed).normal(size=(60, 2))
    assert hull_length(points) == pytest.approx(ConvexHull(points).area, rel=1e-12)


def test_a_ring_of_many_points_is_a_circle_and_closes() -> None:
    """A polygon of n sides in a circle of radius r is 2 n r sin(pi/n) round."""
    turn = np.linspace(0.0, 2 * np.pi, 12, endpoint=False)
    ring = 0.2 * np.stack([np.cos(turn), np.sin(turn), 0 * turn], axis=1)
    assert ring_length(ring) == pytest.approx(2 * 12 * 0.2 * np.sin(np.pi / 12), rel=1e-12)


def test_a_turned_vector_keeps_square_to_the_way_and_to_its_length() -> None:
    """A quarter turn about z takes x to y; any turn leaves the angle from where it was."""
    way, aside = np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0])
    quarter, small = turned(aside, way, (np.pi / 2, -0.14))
    assert quarter == pytest.approx([0.0, 1.0, 0.0], abs=1e-15)
    assert small == pytest.approx([np.cos(0.14), -np.sin(0.14), 0.0])


@pytest.mark.parametrize("height", [0.25, 0.7])
def test_a_level_section_of_a_cone_is_a_circle(height: float) -> None:
    """Radius height x tan(half angle); the polygon of 180 sides is 5e-5 short of it."""
    points, triangles = cone()
    cut = section(points, triangles, np.array([0.0, 0.0, height]), np.array([0.0, 0.0, 1.0]))
    assert cut[:, 2] == pytest.approx(height)
    assert np.hypot(cut[:, 0], cut[:, 1]).max() == pytest.approx(height * np.tan(0.3), rel=1e-9)
    assert hull_length(cut[:, :2]) == pytest.approx(2 * np.pi * height * np.tan(0.3), rel=1e-4)


def test_a_slanting_section_of_a_cone_is_an_ellipse() -> None:
    """Leaning by t, the plane through (0, 0, h) meets the sides at h / (1/tan a -+ tan t) from the axis, along x."""
    points, triangles = cone(around=720)
    lean, height = 0.2, 0.5
    cut = section(points, triangles, np.array([0.0, 0.0, height]), np.array([-np.sin(lean), 0.0, np.cos(lean)]))
    steep = 1 / np.tan(0.3)
    assert cut[:, 0].max() == pytest.approx(height / (steep - np.tan(lean)), rel=1e-4)
    assert cut[:, 0].min() == pytest.approx(-height / (steep + np.tan(lean)), rel=1e-4)


def test_loops_keep_two_bodies_apart_that_a_section_throws_together() -> None:
    """Two cones 2 m apart, one twice as wide: two closed curves, each as long as its own circle."""
    first, triangles = cone(0.3)
    second, _ = cone(0.6, x=2.0)
    points, both = np.vstack([first, second]), np.vstack([triangles, triangles + len(first)])
    found = loops(points, both, np.array([0.0, 0.0, 0.5]), np.array([0.0, 0.0, 1.0]))
    lengths = sorted((one[:, 0].mean(), ring_length(by_azimuth(one))) for one in found)
    assert [x for x, _ in lengths] == pytest.approx([0.0, 2.0], abs=1e-9)
    assert [length for _, length in lengths] == pytest.approx([np.pi * np.tan(0.3), np.pi * np.tan(0.6)], rel=1e-3)
