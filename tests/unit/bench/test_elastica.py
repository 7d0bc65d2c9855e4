"""The heavy strip: by its balance of moments, against beams that bend little, and loops without weight."""

from __future__ import annotations

import math

import numpy as np
import pytest

from drape.bench.elastica import Curve, cantilever, loop


def length_of(curve: Curve) -> float:
    return float(np.linalg.norm(np.diff(curve.points, axis=0), axis=1).sum())


@pytest.mark.parametrize("weight", [0.01, 0.03])
def test_a_light_strip_hangs_as_a_beam(weight: float) -> None:
    """A cantilever of even load drops w L^4 / 8 B, over its length W/8; its end slopes W/6. (Any handbook of beams.)"""
    curve = cantilever(weight)
    assert curve.drop == pytest.approx(weight / 8, rel=1e-3)
    assert curve.angle[-1] == pytest.approx(weight / 6, rel=1e-3)


def test_a_heavy_strip_hangs_straight_down_but_for_its_bend() -> None:
    """The bend at the clamp is about (B / w g L)^(1/2) = L W^-1/2 long: past it the strip is a plumb line."""
    curve = cantilever(2000.0)
    assert curve.drop == pytest.approx(1.0, abs=2 * 2000.0**-0.5)
    assert curve.angle[-1] == pytest.approx(math.pi / 2, abs=1e-3)


@pytest.mark.parametrize(("weight", "clamp"), [(5.0, 0.0), (40.0, 0.4), (8.0, -0.5)])
def test_the_strip_keeps_its_length_and_obeys_the_balance_of_moments(weight: float, clamp: float) -> None:
    """At s the curvature is that of the weight beyond it: phi' = W (integral from s to 1 of x(t) dt - (1 - s) x(s))."""
    curve = cantilever(weight, clamp=clamp)
    assert length_of(curve) == pytest.approx(1.0, abs=1e-4)
    assert curve.angle[0] == pytest.approx(clamp, abs=1e-9)
    s, x = np.linspace(0.0, 1.0, len(curve.angle)), curve.points[:, 0]
    beyond = np.array([np.trapezoid(x[k:], s[k:]) - (1 - s[k]) * x[k] for k in range(len(s))])
    assert np.gradient(curve.angle, s)[5:-5] == pytest.approx(weight * beyond[5:-5], abs=2e-3 * weight)
    assert curve.chord == pytest.approx(math.atan2(-curve.points[-1, 1], x[-1]))


def test_a_ring_of_no_weight_is_a_circle() -> None:
    ring = loop("ring", 0.0)
    assert (ring.height, ring.width) == pytest.approx((1 / math.pi, 1 / math.pi), abs=1e-6)


@pytest.mark.parametrize(("kind", "end"), [("pear", math.pi / 2), ("heart", 1.5 * math.pi)])
def test_a_loop_of_no_weight_is_eulers_curve_and_closes(kind: str, end: float) -> None:
    """Without weight theta'' = h sin theta, so that theta'^2 / 2 + h cos theta is the same all along."""
    half = loop(kind, 0.0)
    assert length_of(half) == pytest.approx(0.5, abs=1e-4)
    assert half.points[-1, 0] == pytest.approx(0.0, abs=1e-9)
    assert (half.angle[0], half.angle[-1]) == pytest.approx((0.0, end), abs=1e-9)
    s = np.linspace(0.0, 0.5, len(half.angle))
    squared, cosine = np.gradient(half.angle, s)[2:-2] ** 2 / 2, np.cos(half.angle)[2:-2]
    steepness, level = np.polyfit(cosine, squared, 1)
    assert np.ptp(squared) > 10.0
    assert squared == pytest.approx(level + steepness * cosine, abs=2e-3 * np.ptp(squared))


def test_weight_draws_a_ring_out_and_narrows_it() -> None:
    """Much weight hangs it as two plumb lines, L/2 long."""
    light, heavy = loop("ring", 1.0), loop("ring", 3000.0)
    assert light.height < heavy.height < 0.5
    assert light.width > heavy.width
    assert heavy.height == pytest.approx(0.5, abs=5 * 3000.0 ** (-1 / 2))
