"""A stiff disc sags at its edge as a clamped annular plate does.

Problem: an isotropic plate clamped along the circle r = a, its edge r = b free, under its own weight q = w g.
Answer: edge sag = k q (b − a)⁴/D, k = 0.141479 (b = 12 cm) and 0.149747 (b = 15 cm) at a = 9 cm, Poisson ratio 0.
Source: the plate equation D ∇⁴w = q with those edges (S. Timoshenko and S. Woinowsky-Krieger, Theory of plates and
shells (1959), chapter 3), solved in closed form. A strip of the same length has k = 1/8.
"""

from __future__ import annotations

import dataclasses

import pytest

from drape.disc import disc
from drape.units import STANDARD_GRAVITY

LIMIT = 0.02
EDGE_SAG = {0.12: 0.141479, 0.15: 0.149747}
BOARD = 0.12  # m, bending length: sag 0.3 % of the overhang or less


def sag_share(cloth, outer, edge_length, seed=0):
    stiff = dataclasses.replace(cloth, bending_length_warp=BOARD, bending_length_weft=BOARD)
    made = disc(
        stiff, specimen=outer, support=0.09, starts=1, edge_length=edge_length, seed=seed, max_steps=50_000, wave_share=0.0
    )
    assert made.evidence.settled
    return made.sag * stiff.rigidity_warp / (stiff.areal_density * STANDARD_GRAVITY * (outer - 0.09) ** 4)


@pytest.mark.parametrize("outer", EDGE_SAG)
def test_edge_sag(melton, outer):
    assert sag_share(melton, outer, (outer - 0.09) / 8) == pytest.approx(EDGE_SAG[outer], rel=LIMIT)


def test_a_strip_does_not_pass_for_a_disc(melton):
    """Negative control: k = 1/8."""
    assert sag_share(melton, 0.15, 0.0075) != pytest.approx(0.125, rel=LIMIT)
