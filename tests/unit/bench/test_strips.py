"""The bench's formulas: rigidity and stretch in any direction, ends that share out a load;
by algebra and brute force.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from drape.bench.strips import (
    direction_length,
    end_shares,
    finite_extension,
    outlines,
    strip_compliance,
    strip_rigidity,
    weight_ratio,
)
from drape.cloth.sheet import bending_stiffness
from drape.units import STANDARD_GRAVITY


def test_rigidity_and_compliance_in_any_direction(melton) -> None:
    assert strip_rigidity(melton, 0.0) == pytest.approx(melton.rigidity_warp)
    assert strip_rigidity(melton, math.pi / 2) == pytest.approx(melton.rigidity_weft)
    b1, b2 = melton.rigidity_warp, melton.rigidity_weft
    bias = 0.25 * (1 / b1 + 1 / b2 - 2 * melton.poisson_ratio / b1 + 1 / melton.twist_rigidity)
    assert strip_rigidity(melton, math.pi / 4) == pytest.approx(1 / bias)
    e1, e2 = melton.tensile_stiffness_warp, melton.tensile_stiffness_weft
    bias = 0.25 * (1 / e1 + 1 / e2 - 2 * melton.poisson_ratio / e1 + 1 / melton.shear_stiffness)
    assert strip_compliance(melton, math.pi / 4) == pytest.approx(bias)
    assert finite_extension(1e-4) == pytest.approx(1e-4 - 1.5e-8, abs=1e-10)


@pytest.mark.parametrize("grain", [0.0, 0.3, math.pi / 4, 1.2])
def test_a_strip_bends_at_the_least_energy_with_its_own_curvature_given(melton, grain) -> None:
    """Bend it by one along itself and leave twist and cross bend free: what energy is least is half its rigidity.

    Energy kT D k / 2 with k = (k1, k2, 2 k12), curvature along the strip k1 c^2 + k2 s^2 + 2 k12 s c = 1.
    """
    stiffness = bending_stiffness(melton)
    along = np.array([math.cos(grain) ** 2, math.sin(grain) ** 2, math.sin(grain) * math.cos(grain)])
    system = np.block([[stiffness, along[:, None]], [along[None], np.zeros((1, 1))]])
    curvature = np.linalg.solve(system, [0.0, 0.0, 0.0, 1.0])[:3]
    assert strip_rigidity(melton, grain) == pytest.approx(curvature @ stiffness @ curvature)


def test_the_weight_ratio_is_one_where_a_strip_is_as_long_as_it_bends(melton) -> None:
    """c^3 = B / w g, so that w g L^3 / B = (L/c)^3; along the warp c is the cloth's own bending length."""
    assert direction_length(melton, 0.0) == pytest.approx(melton.bending_length_warp)
    assert weight_ratio(melton, 2 * melton.bending_length_weft, math.pi / 2) == pytest.approx(8.0)
    by_hand = melton.areal_density * STANDARD_GRAVITY * 0.1**3 / melton.rigidity_warp
    assert weight_ratio(melton, 0.1, 0.0) == pytest.approx(by_hand)


@pytest.mark.parametrize("strain", [1e-3, 0.05, 0.3])
def test_a_finite_extension_carries_its_load(strain: float) -> None:
    """N/E = (1 + e) ((1 + e)^2 - 1) / 2."""
    longer = 1.0 + finite_extension(strain)
    assert 0.5 * longer * (longer**2 - 1) == pytest.approx(strain)
    assert longer - 1.0 < strain  # cloth stiffens as it is drawn out


def test_a_cloth_alike_in_warp_and_weft_bends_alike_and_shears_on_the_bias(melton) -> None:
    even = dataclasses.replace(
        melton,
        bending_length_weft=melton.bending_length_warp,
        tensile_stiffness_weft=melton.tensile_stiffness_warp,
        twist_share=0.5 / (1 + melton.poisson_ratio),
    )
    assert strip_rigidity(even, 0.4) == pytest.approx(strip_rigidity(even, 0.0))
    assert strip_compliance(even, math.pi / 4) > 3 * strip_compliance(even, 0.0)


def test_ends_share_out_the_width_whatever_their_order() -> None:
    y = np.array([0.03, 0.0, 0.01, 0.06])
    assert end_shares(y) == pytest.approx([0.025, 0.005, 0.015, 0.015])
    assert end_shares(y).sum() == pytest.approx(0.06)


def test_a_triangle_is_drawn_as_a_closed_line() -> None:
    (line,) = outlines(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]), np.array([[2, 0, 1]]))
    assert line.tolist() == [[0.0, 1.0], [0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]
