"""A strip standing on its foot buckles under its own weight at w g L³/B = 7.837.

Problem: an upright strip clamped at the foot, its top free. Answer: the critical weight ratio is (9/4) j² = 7.837347,
j the first zero of the Bessel function J of order −1/3. Source: A. G. Greenhill, Determination of the greatest height
consistent with stability, Proc. Cambridge Phil. Soc. 4 (1881), 65. Checked from both sides, 4 % away.
"""

from __future__ import annotations

import math

import pytest
from scipy.optimize import brentq
from scipy.special import jv

from drape.trial import cantilever

GREENHILL = 2.25 * brentq(lambda x: jv(-1 / 3, x), 1.5, 2.2) ** 2
STRIP = 16 / 9 * GREENHILL  # what the wrong constant 4 j² would say
LEAN = 1e-3  # rad from the upright, to see which way it goes


def test_the_constant():
    assert pytest.approx(7.837347, abs=1e-6) == GREENHILL


def lean(cloth, weight):
    """How far the top of the strip leans, over its length, for a foot that leans by LEAN."""
    length = cloth.bending_length_warp * weight ** (1 / 3)
    made = cantilever(cloth, length=length, width=length / 4, clamp=LEAN - math.pi / 2, edge_length=length / 20)
    assert made.evidence.settled
    return math.sin(math.pi / 2 + made.chord) if made.chord < 0 else 1.0


def test_lighter_it_stands_heavier_it_falls(melton):
    assert lean(melton, 0.96 * GREENHILL) < 0.1
    assert lean(melton, 1.04 * GREENHILL) > 0.3


def test_a_wrong_constant_fails(melton):
    """Negative control: 4 j² for (9/4) j²."""
    assert not lean(melton, 0.96 * STRIP) < 0.1
