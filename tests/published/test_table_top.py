"""What a ruler reads over a table edge is the elastica's, and what a bias strip reads is the shear stiffness.

Problem 1: the overhang at which the chord of an inextensible strip falls 41.5° below the edge, over the
bending length c. Answer: 2.000350, from φ'' = −W (1 − s) cos φ, φ(0) = 0, φ'(1) = 0, with W = (overhang/c)³ =
8.004197; solved here by shooting. Peirce's own formula, (cos(θ/2) / (8 tan θ))^(1/3), gives c/L = 0.509321 there
and overstates B by 5.75 %.
Source: the elastica of Euler (1744); F. T. Peirce, J. Text. Inst. 21 (1930), T377.

Problem 2: shear stiffness from the stretch of a bias strip. Answer: for a wool of 168 g/m² that stretches
4.7 % at 45° under 4.903 N/m, 26.17 N/m by the rule G = 123 / stretch in percent, which takes the straight
grains as unstretchable and the stretch as small; a straight strip of it stretches 0.67 % (warp), 0.40 % (weft).
Source: A. De Boos and D. Tester, SiroFAST (CSIRO, 1994), rule and load; the wool is a student laboratory's row.

Problem 3: B of the same wool from its bending lengths 15.0 and 14.5 mm. Answer: 5.56 and 5.02 µN·m.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from drape.bench.table_top import LINE, OVERHANG_RATIO, OVERHANG_SLOPE, constants, strip_stiffness
from drape.units import STANDARD_GRAVITY


def tip(weight: float, curvature: float) -> np.ndarray:
    """φ, φ', reach and drop at the end of a strip that leaves the edge level with that curvature."""
    done = solve_ivp(
        lambda s, y: [y[1], -weight * (1 - s) * math.cos(y[0]), math.cos(y[0]), math.sin(y[0])],
        (0.0, 1.0), [0.0, curvature, 0.0, 0.0], method="DOP853", rtol=1e-12, atol=1e-13,
    )  # fmt: skip
    return done.y[:, -1]


def chord(weight: float) -> float:
    """Angle of the chord below the level [rad]."""
    curvature = brentq(lambda k: tip(weight, k)[1], 0.0, weight, xtol=1e-13)
    end = tip(weight, curvature)
    return math.atan2(end[3], end[2])


def ratio(angle: float) -> float:
    """Overhang over bending length when the chord lies at that angle [rad]."""
    return brentq(lambda weight: chord(weight) - angle, 1.0, 30.0, xtol=1e-11) ** (1 / 3)


def test_the_reference_is_the_tabled_one() -> None:
    assert ratio(math.radians(41.5)) == pytest.approx(2.000350, abs=1e-6)
    assert ratio(math.radians(43.0)) == pytest.approx(2.042131, abs=1e-6)


def test_the_overhang_at_the_line() -> None:
    assert LINE == math.radians(41.5)
    assert OVERHANG_RATIO == pytest.approx(ratio(LINE), abs=1e-6)
    step = 1e-3
    assert OVERHANG_SLOPE == pytest.approx((ratio(LINE + step) - ratio(LINE - step)) / (2 * step), abs=1e-4)


def test_peirces_formula_fails() -> None:
    """Negative control: the textbook formula misses by 1.9 % in c, 5.75 % in B."""
    peirce = (math.cos(LINE / 2) / (8 * math.tan(LINE))) ** (1 / 3)
    assert peirce == pytest.approx(0.509321, abs=1e-6)
    assert (peirce * OVERHANG_RATIO) ** 3 == pytest.approx(1.0575, abs=1e-4)


FAST_WOOL = {
    "line": LINE, "square.side": 0.1, "square.mass": 0.00168, "filled.thickness": 4e-4, "filled.poisson_ratio": 0.2,
    "filled.friction_on_cloth": 0.4, "filled.friction_on_figure": 0.4,
    **{f"overhang.{grain}_{face}": OVERHANG_RATIO * c for grain, c in (("warp", 0.015), ("weft", 0.0145))
       for face in ("face_up", "face_down")},
    **{f"{strip}.{key}": value for strip, stretch in (("bias_strip", 4.7), ("warp_strip", 0.67), ("weft_strip", 0.40))
       for key, value in (("length", 0.1), ("width", 0.05), ("weight", 0.025), ("stretch", 1e-3 * stretch))},
}  # fmt: skip


def test_a_wool_of_known_rigidity() -> None:
    found = constants(FAST_WOOL)
    assert 1e6 * found["rigidity_warp"] == pytest.approx(5.56, abs=0.005)
    assert 1e6 * found["rigidity_weft"] == pytest.approx(5.02, abs=0.005)


def test_a_wool_of_known_shear_stiffness() -> None:
    """The rule to 5 %: straight grains that give make G larger, stretch that is not small makes it smaller."""
    assert constants(FAST_WOOL)["shear_stiffness"] == pytest.approx(26.17, rel=0.05)


@pytest.mark.parametrize("percent", [1.0, 0.1, 0.01])
def test_for_small_stretch_and_stiff_grains_it_is_the_rule(percent: float) -> None:
    """G = T / (4 strain): the difference falls with the stretch, as 3/2 of it."""
    reading = {
        **FAST_WOOL,
        "bias_strip.stretch": 1e-3 * percent,
        "warp_strip.stretch": 1e-12,
        "weft_strip.stretch": 1e-12,
    }
    rule = 0.025 * STANDARD_GRAVITY / 0.05 / (4 * percent / 100)
    assert constants(reading)["shear_stiffness"] / rule - 1 == pytest.approx(-1.5 * percent / 100, rel=0.02)


def test_a_wrong_load_fails() -> None:
    """Negative control: 10 % more weight is seen."""
    assert constants({**FAST_WOOL, "bias_strip.weight": 0.0275})["shear_stiffness"] != pytest.approx(26.17, rel=0.05)


def test_a_strips_stiffness_is_that_of_green_strain() -> None:
    """Tension is the slope of ½ E e² in the length ratio λ, e = (λ² − 1)/2; by central differences."""
    stiffness = strip_stiffness(FAST_WOOL, "bias_strip")

    def energy(longer: float) -> float:
        return 0.5 * stiffness * ((longer**2 - 1) / 2) ** 2

    step = 1e-6
    slope = (energy(1.047 + step) - energy(1.047 - step)) / (2 * step)
    assert slope == pytest.approx(0.025 * STANDARD_GRAVITY / 0.05, rel=1e-8)
