"""Rise: curvatures known in closed form, and flat triangles that are tangent to what they would cut through."""

from __future__ import annotations

import numpy as np
import pytest

from drape.arrays import Floats, Ints
from drape.wearing.cover import set_down
from drape.wearing.rise import curvature, rise


def ring_of(radius: float, *, bend: float = np.inf, apart: float = 0.006) -> tuple[Floats, Ints]:
    """A bar of that radius about x, or bent about y at a radius of `bend`: a torus, whose inside is a saddle."""
    around = int(2 * np.pi * radius / apart)
    along = 40
    turn = np.linspace(0.0, 2 * np.pi, around, endpoint=False)
    x, angle = np.meshgrid(apart * (np.arange(along) - along / 2), turn, indexing="ij")
    y, z = radius * np.cos(angle), radius * np.sin(angle)
    if np.isfinite(bend):
        x, z = (bend + z) * np.sin(x / bend), (bend + z) * np.cos(x / bend) - bend
    i, j = np.meshgrid(np.arange(along - 1), np.arange(around), indexing="ij")
    a, b = i * around + j, i * around + (j + 1) % around
    corners = np.stack([a, b, b + around, a, b + around, a + around], axis=2).reshape(-1, 3)
    return np.stack([x, y, z], axis=2).reshape(-1, 3), corners


def middle_of(points: Floats) -> Floats:
    return np.abs(points[:, 0]) < 0.03


@pytest.mark.parametrize("radius", [0.027, 0.045])
def test_a_bar_is_as_round_as_its_radius(radius):
    points, triangles = ring_of(radius)
    found = curvature(points, triangles)[middle_of(points)]
    assert found == pytest.approx(1.0 / radius, rel=0.10)  # a paraboloid is not quite round


def test_of_a_saddle_the_way_it_bulges_counts():
    radius, bend = 0.045, 0.20
    points, triangles = ring_of(radius, bend=bend)
    found = curvature(points, triangles)
    inside = middle_of(points) & (np.hypot(points[:, 0], points[:, 2] + bend) < bend - 0.9 * radius)
    assert inside.any() and found[inside] == pytest.approx(1.0 / radius, rel=0.08)


def test_a_hollow_does_not_rise():
    points, triangles = ring_of(0.045)
    hollow = rise(points, triangles[:, ::-1], 0.06)[middle_of(points)]
    assert (hollow < 1e-4).all()


@pytest.mark.parametrize(("radius", "side"), [(0.027, 0.06), (0.045, 0.06), (0.027, 0.03)])
def test_triangles_whose_corners_and_middles_touch_the_thicker_limb_stay_out_of_it(radius, side):
    """Corners and middles of sides are pushed out onto the thicker bar; of what lies between nothing comes nearer to
    its middle line than the bar is thick, however the triangle lies. On the bar itself it would, by millimetres.
    """
    points, triangles = ring_of(radius)
    more = float(np.median(rise(points, triangles, side)[middle_of(points)]))
    equal = side / np.sqrt(3.0) * np.array([[np.cos(t), np.sin(t)] for t in np.radians([0.0, 120.0, 240.0])])
    rng = np.random.default_rng(0)
    deepest = {0.0: 0.0, more: 0.0}
    for thicker in deepest:
        for _ in range(60):
            turn, shift = rng.uniform(0.0, 2 * np.pi), rng.uniform(-0.5, 0.5) * side
            c, s = np.cos(turn), np.sin(turn)
            flat = equal @ [[c, s], [-s, c]] + [0.0, shift]
            felt = np.vstack([flat, 0.5 * (flat + np.roll(flat, 1, axis=0))])[:, 1]
            inside = np.abs(felt) < radius + thicker
            height = np.sqrt((radius + thicker) ** 2 - felt[inside] ** 2).max(initial=-np.inf)
            places, _ = set_down(np.c_[flat, np.full(3, height)][None], 0.002)
            deepest[thicker] = max(deepest[thicker], radius - np.hypot(places[:, 1], places[:, 2]).min())
    assert deepest[0.0] > 0.2 * more
    assert deepest[more] < 2e-4
