"""Spare cloth on three bodies for which it is known: a cone, a sphere's cap, a cylinder with one sine fold.

Problems: by how much is there more cloth than body, within a straight distance D of the circle where the neck begins?
Answers:
- A cone of cloth on a cone, parallel to it: none, since one unrolls onto the other (development of the cone, any
  handbook).
- A flat ring laid on a sphere's cap, its radii kept: the ring's π(s₁² − s₀²) against the zone's 2πR²(cos θ₀ − cos θ₁),
  with s = Rθ and D = 2R sin((θ₁ − θ₀)/2). Source: area of a spherical zone, Archimedes, On the sphere and cylinder I.
- A cylinder of cloth on a cylinder, with one fold y = a sin²(πx/w): the fold's length over its width, on a flat body
  (2/π) E(−(πa/w)²), E the complete elliptic integral of the second kind. Source: rectification of the sine curve, e.g.
  NIST Digital Library of Mathematical Functions, 19.30.
"""

from __future__ import annotations

import numpy as np
import pytest
from families import most_are_long
from scipy.integrate import quad
from scipy.special import ellipe
from turned import cloth_of, turned_rows, turned_shoulders

from drape.reading.spare import read_spare

REACH = 0.12  # m
LIMIT = 0.15  # percent


def over(percent):
    """By how much cloth is more than the body, in percent of the body, from the share of the cloth that is spare."""
    return 100 * (1 / (1 - percent / 100) - 1)


def even(low, high, step):
    """Places from low to high, about a step apart."""
    return np.linspace(low, high, round((high - low) / step) + 1)


def spare_on_a_cone(half_apex, *, opened=1.0, thickness=0.004):
    """Cloth from the neck's base down a cone; `opened`: its radii so many times as large as they should be."""
    base, run = 0.07, 0.004 * (np.arange(60, -10, -1) - 0.5)
    slant = np.array([np.sin(half_apex), -np.cos(half_apex)])
    outward = 0.5 * thickness * np.array([np.cos(half_apex), np.sin(half_apex)])
    place = np.array([base, 1.5]) + run[:, None] * slant
    body = turned_shoulders(*place.T, (base, 1.5), REACH)
    laid = np.array([base, 1.5]) + outward + even(0.0, 0.4, 0.02)[:, None] * slant
    corners, area = cloth_of(turned_rows(*laid.T))
    return over(read_spare(body, corners, opened * area, thickness)["percent"])


@pytest.mark.parametrize("degrees", most_are_long([30, 60, 75], 60))
def test_a_cone_of_cloth_on_a_cone_has_none(degrees):
    assert spare_on_a_cone(np.radians(degrees)) == pytest.approx(0.0, abs=LIMIT)


def test_a_wider_sector_on_the_cone_has_its_excess():
    """A sector of 190 degrees on the cone of a half circle, its excess eased in."""
    got = spare_on_a_cone(np.arcsin(0.5), opened=190 / 180)
    assert got == pytest.approx(100 * (190 / 180 - 1), abs=LIMIT)
    assert got != pytest.approx(0.0, abs=LIMIT)


def spare_on_a_cap(radius, first, *, flat=True):
    """A ring from the angle `first` on, laid on a sphere; flat, or cut as the sphere is."""
    turn = first + 0.02 * (np.arange(60, -10, -1) - 0.5)  # the cloth begins halfway between two rows
    body = turned_shoulders(
        radius * np.sin(turn), 1.5 + radius * np.cos(turn), (radius * np.sin(first), 1.5 + radius * np.cos(first)),
        REACH,
    )  # fmt: skip
    laid = even(first, first + 1.0, 0.02)
    corners, area = cloth_of(turned_rows(radius * np.sin(laid), 1.5 + radius * np.cos(laid)))
    if flat:  # each row of triangles as large as in the flat ring
        ring, zone = np.diff(0.5 * laid**2), -np.diff(np.cos(laid))
        area = area * np.tile(np.repeat(ring / zone, len(area) // 2 // len(ring)), 2)
    return over(read_spare(body, corners, area, 0.0)["percent"])


def excess_of_a_ring(radius, first):
    last = first + 2 * np.arcsin(REACH / (2 * radius))
    return 100 * (0.5 * (last**2 - first**2) / (np.cos(first) - np.cos(last)) - 1)


@pytest.mark.parametrize(("radius", "first"), most_are_long([(0.2, 0.35), (0.15, 0.5)], 0.2))
def test_a_flat_ring_on_a_cap(radius, first):
    exact = excess_of_a_ring(radius, first)
    assert spare_on_a_cap(radius, first) == pytest.approx(exact, abs=LIMIT)
    assert spare_on_a_cap(radius, first, flat=False) == pytest.approx(0.0, abs=LIMIT)


def fold_length(depth, width, radius=np.inf):
    """Arc length of the fold over its width, standing on a cylinder or on a flat body."""

    def per_width(x):
        rise = depth * np.pi / width * np.sin(2 * np.pi * x / width)
        return np.hypot(1 + depth * np.sin(np.pi * x / width) ** 2 / radius, rise)

    return quad(per_width, 0.0, width, epsabs=1e-10)[0] / width


def test_the_reference_is_the_published_one():
    assert fold_length(0.02, 0.06) == pytest.approx(2 / np.pi * ellipe(-((np.pi * 0.02 / 0.06) ** 2)), rel=1e-8)


def spare_in_a_fold(depth, width, radius):
    heights = 1.5 + 0.005 * (np.arange(-35, 10) + 0.5)
    body = turned_shoulders(np.full(len(heights), radius), heights, (radius, 1.5), REACH)
    along = np.concatenate([even(0.0, width, 0.001), even(width, 2 * np.pi * radius, 0.003)[1:]])
    off = np.where(along < width, depth * np.sin(np.pi * along / width) ** 2, 0.0)
    turn = along / radius
    ring = np.stack([(radius + off) * np.cos(turn), (radius + off) * np.sin(turn), np.zeros_like(turn)], axis=1)
    corners, area = cloth_of(ring + [0.0, 0.0, 1.0] * even(1.1, 1.5, 0.02)[:, None, None])
    return over(read_spare(body, corners, area, 0.0)["percent"])


@pytest.mark.parametrize(("depth", "width"), most_are_long([(0.01, 0.05), (0.02, 0.06)], 0.02))
def test_a_cylinder_with_one_sine_fold(depth, width):
    """Where a fold stands off by y, only √(D² − y²) of it lies within D: at these depths at most 0.2 % of the fold."""
    radius = 0.08
    exact = 100 * width * (fold_length(depth, width, radius) - 1) / (2 * np.pi * radius)
    assert exact > 1.0
    assert spare_in_a_fold(depth, width, radius) == pytest.approx(exact, abs=LIMIT)
    assert spare_in_a_fold(depth, width, radius) != pytest.approx(0.0, abs=LIMIT)
