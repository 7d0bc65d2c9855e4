"""Bias strips over an edge: the twist rigidity that comes back, limits of wide and narrow, cloth too limp to be."""

from __future__ import annotations

import math

import numpy as np
import pytest

from drape.bench.bias_overhang import held_share, seen_rigidity, twist_rigidity
from drape.bench.strips import strip_rigidity
from drape.cloth.sheet import bending_stiffness


@pytest.fixture
def ends(melton) -> dict[str, float]:
    return {"warp": melton.rigidity_warp, "weft": melton.rigidity_weft, "poisson": melton.poisson_ratio}


@pytest.mark.parametrize("slender", [0.0, 0.2, 0.8])
@pytest.mark.parametrize("share", [0.05, 0.28, 0.5, 0.9])
def test_what_is_seen_gives_the_twist_back(melton, ends, share: float, slender: float) -> None:
    twist = share * melton.mean_rigidity
    seen = seen_rigidity(twist=twist, slender=slender, **ends)
    assert twist_rigidity(seen, slender=slender, **ends) == pytest.approx(twist, rel=1e-9)


def test_a_narrow_strip_bends_by_the_direction_formula_and_a_wide_one_as_a_plate(melton, ends) -> None:
    """No curl across: moment over curvature is then D11 in the strip's own frame less what its twist gives way."""
    assert held_share(0.0) == 0.0
    assert held_share(50.0) == pytest.approx(1.0)
    narrow, wide = (seen_rigidity(twist=melton.twist_rigidity, slender=slender, **ends) for slender in (0.0, 50.0))
    assert narrow == pytest.approx(strip_rigidity(melton, math.pi / 4))
    even = {**ends, "weft": ends["warp"]}  # no bend-twist coupling at 45 degrees, so curl alone is held
    wide = seen_rigidity(twist=melton.twist_rigidity, slender=50.0, **even)
    stiffness = bending_stiffness(melton)
    b, nu = ends["warp"], ends["poisson"]
    stiffness[:2, :2] = b / (1 - nu * nu) * np.array([[1, nu], [nu, 1]])
    curvature = np.array([0.5, 0.5, 1.0])  # one along the strip, none across
    assert wide == pytest.approx(curvature @ stiffness @ curvature, rel=1e-6)


def test_no_cloth_is_limper_on_the_bias_than_what_the_edge_holds(ends) -> None:
    assert twist_rigidity(0.1 * ends["weft"], slender=0.5, **ends) == 0.0
