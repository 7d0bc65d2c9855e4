"""Paths of SVG against svgpathtools, which reads them by code of its own."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest

from drape.polyline import polyline_distance
from drape.tracing.svg_path import PathError, arc, bezier, path_lines

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import svgpathtools

TOLERANCE = 0.01
PATHS = (
    "M10 20 L 30,40 50 10z",
    "m10 20 30,40-20-10 h5 v-7.5 H0 V 3",
    "M0 0C10 0 20 10 20 20S30 40 40 40s5 5 10 0",
    "M0,0Q10,20,20,0T40,0t20 5",
    "M.5.5l1e1-2.5E0,3.5.25",
    "M0 0 A 10 20 30 0 1 15 15",
    "M0 0a10 20 30 1120 15a5 5 0 00-3-4",
    "M0 0A1 1 0 0 0 30 0",  # too small to reach
    "M0 0A30 5 0 0 0 30 0L3 3",
    "M0 0L10 0L10 10zM20 20l5 5",
)


@pytest.mark.parametrize("text", PATHS)
def test_a_path_runs_where_another_library_has_it(text):
    ours = path_lines(text, TOLERANCE)
    theirs = svgpathtools.parse_path(text)
    places = [segment.point(t) for segment in theirs for t in np.linspace(0, 1, 40)]
    places = np.array([[place.real, place.imag] for place in places])
    off = np.min([polyline_distance(places, line) for line in ours], axis=0)
    assert off.max() < 2 * TOLERANCE
    assert len(ours) == len(theirs.continuous_subpaths())
    assert sum(length(line) for line in ours) == pytest.approx(theirs.length(), rel=2e-3)


def length(points):
    return np.linalg.norm(np.diff(points, axis=0), axis=1).sum()


@pytest.mark.parametrize("text", ["10 20", "M 10", "M0 0 L 5", "M0 0 A 1 1 0 2 0 5 5", "M0 0 X 5 5", "M0 0 L five 5"])
def test_what_is_no_path_is_refused(text):
    with pytest.raises(PathError, match="got '"):
        path_lines(text, TOLERANCE)


def test_an_arc_and_a_curve_stay_within_the_tolerance_with_few_points():
    points = arc(np.array([1.0, 0.0]), np.array([-1.0, 0.0]), (1.0, 1.0), 0.0, (False, True), 1e-3)
    middles = (points[1:] + points[:-1]) / 2
    assert 1 - np.linalg.norm(middles, axis=1).min() < 1e-3
    assert len(points) <= math.pi / (2 * math.acos(1 - 1e-3)) + 1
    k = 4 / 3 * math.tan(math.pi / 8)  # the cubic that is nearest to a quarter of a circle
    curve = bezier(np.array([[1, 0], [1, k], [k, 1], [0, 1]]), 1e-4)
    assert np.abs(np.linalg.norm((curve[1:] + curve[:-1]) / 2, axis=1) - 1).max() < 4e-4
