"""A strip round a roller slides when its tensions are as exp(μθ).

Problem: a strip touches a fixed roller over the angle θ; how much harder must one end be pulled than the other?
Answer: T₁/T₂ = exp(μθ), whatever the roller's radius. Source: L. Euler, Remarques sur l'effet du frottement dans
l'équilibre (1769); J. A. Eytelwein, Handbuch der Statik fester Körper (1808); any handbook of machine elements.
"""

from __future__ import annotations

import math

import pytest
from families import most_are_long

from drape.bench.sliding import belt

LIMIT = 0.02


def ratio(cloth, friction, degrees):
    return belt(cloth, friction=friction, wrap=math.radians(degrees), width=0.015, edge_length=0.005).tension_ratio


@pytest.mark.parametrize(("friction", "degrees"), most_are_long([(0.4, 90), (0.2, 180)], 0.4))
def test_tensions_at_slip(melton, friction, degrees):
    assert ratio(melton, friction, degrees) == pytest.approx(math.exp(friction * math.radians(degrees)), rel=LIMIT)


@pytest.mark.long
def test_another_wrap_fails(melton):
    """Negative control: 100° of roller for 90°."""
    assert ratio(melton, 0.4, 100) != pytest.approx(math.exp(0.4 * math.pi / 2), rel=LIMIT)
