"""Ovals: against the circle, the rectangle and the ellipse's known girth; the inverse; what squareness does."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ellipe

from drape.body.superellipse import LEANEST, SQUAREST, girth_range, oval_girth, ovals, squareness_for


def test_girth_of_circle_and_ellipse() -> None:
    """Circle: pi d. Ellipse of half-axes a > b: 4 a E(1 - b^2/a^2), E the complete elliptic integral."""
    assert oval_girth(0.3, 0.3, 0.0) == pytest.approx(0.3 * np.pi, rel=1e-4)
    assert oval_girth(0.36, 0.24, 0.0) == pytest.approx(4.0 * 0.18 * ellipe(1.0 - (0.12 / 0.18) ** 2), rel=1e-4)


def test_girth_nears_the_rectangles() -> None:
    assert oval_girth(0.36, 0.24, 1.0) == pytest.approx(1.2, rel=0.005)


@pytest.mark.parametrize("girth", [0.95, 1.0, 1.1])
def test_squareness_is_the_inverse_of_girth(girth: float) -> None:
    assert oval_girth(0.36, 0.24, squareness_for(girth, 0.36, 0.24)) == pytest.approx(girth, abs=1e-5)


def test_squareness_stops_at_the_ends() -> None:
    least, most = girth_range(0.36, 0.24)
    assert squareness_for(0.5 * least, 0.36, 0.24) == LEANEST
    assert squareness_for(2.0 * most, 0.36, 0.24) == SQUAREST


def test_half_axes_are_the_reaches_of_the_section() -> None:
    """Azimuth 0 front, a quarter turn the left, half a turn the back."""
    one = [np.array([length]) for length in (0.21, 0.19, 0.12, 0.14)]
    radius = ovals(*one, 0.4, np.radians([0.0, 90.0, 180.0, 270.0]))[0]
    assert radius == pytest.approx([0.12, 0.19, 0.14, 0.21], abs=1e-12)
