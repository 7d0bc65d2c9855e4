"""Cloth whose threads do not stretch narrows on the bias as a trellis does.

Problem: a strip at 45° to threads that shear easily and hardly stretch, pulled along its length. Answer: with shear
angle γ, 1 + ε = √2 cos(π/4 − γ/2) along and 1 + ε' = √2 sin(π/4 − γ/2) across: γ = 5°: 0.04267, −0.04457; 10°: 0.08335,
−0.09096; 15°: 0.12197, −0.13908. Source: the geometry of a rhombus of fixed sides (the trellis of C. Mack and H. M.
Taylor, The fitting of woven cloth to surfaces, J. Text. Inst. 47 (1956), T477, from memory).
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from drape.bench.specimen import Strip
from drape.bench.strips import bias

LIMIT = 0.01
TABLE = {5: (0.04267, -0.04457), 10: (0.08335, -0.09096), 15: (0.12197, -0.13908)}  # deg: along, across


@pytest.mark.parametrize("degrees", TABLE)
def test_the_table_is_the_formula(degrees):
    half = math.radians(45 - degrees / 2)
    along, across = TABLE[degrees]
    assert math.sqrt(2) * math.cos(half) - 1 == pytest.approx(along, abs=6e-6)
    assert math.sqrt(2) * math.sin(half) - 1 == pytest.approx(across, abs=6e-6)


def pulled(cloth, stiffness, load):
    threads = dataclasses.replace(
        cloth,
        tensile_stiffness_warp=stiffness,
        tensile_stiffness_weft=stiffness,
        shear_stiffness=20.0,
        poisson_ratio=0.0,
    )
    made = bias(threads, Strip(0.2, 0.05, 0.01, math.pi / 4), load=load)
    assert made.evidence.settled
    return made


@pytest.mark.parametrize("load", [3.7, 7.6])
def test_cloth_narrows_as_the_trellis(melton, load):
    """Loads at which the strip is some 4 and 8 % longer."""
    made = pulled(melton, 50_000.0, load)
    assert 0.03 < made.extension < 0.1
    half = math.acos((1 + made.extension) / math.sqrt(2))
    assert made.narrowing == pytest.approx(1 - math.sqrt(2) * math.sin(half), rel=LIMIT)
    along, across = np.array(list(TABLE.values())).T
    between = np.interp(made.extension, np.r_[0.0, along], np.r_[0.0, -across])
    assert made.narrowing == pytest.approx(between, rel=0.02)  # the table is coarse


def test_threads_that_stretch_fail(melton):
    """Negative control: threads only ten times as stiff as the shear."""
    made = pulled(melton, 200.0, 3.7)
    half = math.acos((1 + made.extension) / math.sqrt(2))
    assert made.narrowing != pytest.approx(1 - math.sqrt(2) * math.sin(half), rel=LIMIT)
