"""Cloth on a tilted board begins to slide at atan μ.

Problem: cloth lying on a board with friction coefficient μ; at what slope does it slide? Answer: tan θ = μ, whatever
its weight and size. Source: C. A. Coulomb, Théorie des machines simples (1785), any handbook of mechanics.
"""

from __future__ import annotations

import dataclasses
import math

import pytest
from families import most_are_long

from drape.bench.sliding import tilt

LIMIT = 0.02


def slip(cloth, friction, seed=0):
    return tilt(cloth, friction=friction, length=0.1, width=0.06, edge_length=0.02, seed=seed).slip


@pytest.mark.parametrize(("friction", "seed"), most_are_long([(0.2, 0), (0.4, 1), (0.8, 2)], 0.4))
def test_slip_angle(melton, friction, seed):
    assert slip(melton, friction, seed) == pytest.approx(math.atan(friction), rel=LIMIT)


def test_weight_does_not_matter(melton):
    heavy = dataclasses.replace(melton, areal_density=2 * melton.areal_density)
    assert slip(heavy, 0.4) == pytest.approx(math.atan(0.4), rel=LIMIT)


def test_another_friction_fails(melton):
    """Negative control: μ 5 % larger."""
    assert slip(melton, 1.05 * 0.4) != pytest.approx(math.atan(0.4), rel=LIMIT)
