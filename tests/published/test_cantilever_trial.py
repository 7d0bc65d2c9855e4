"""`drape trial cantilever`: any weight, any grain, level or sloping clamp.

Problem and answer: the elastica (tests/published/test_elastica.py), with the rigidity of a narrow free-edged strip
cut at an angle to the warp, 1/B = sᵀ D⁻¹ s. Source: F. T. Peirce, J. Text. Inst. 21 (1930), T377; the compliance of a
strip of any orthotropic plate, S. G. Lekhnitskii, Anisotropic plates (1968), from memory.
"""

from __future__ import annotations

import dataclasses
import math

import pytest

from drape.bench.specimen import Strip
from drape.bench.strips import cantilever, direction_length

LIMIT = 0.02
MISPRINT = 1.449  # from memory, see test_elastica.py


def tried(cloth, weight, *, grain=0.0, clamp=0.0, seed=0, edges=20):
    length = direction_length(cloth, grain) * weight ** (1 / 3)
    made = cantilever(cloth, Strip(length, length / 4, length / edges, grain, seed), clamp=clamp)
    assert made.evidence.settled
    assert made.weight_ratio == pytest.approx(weight)
    return made


@pytest.mark.parametrize("weight", [1, 3, 8, 20, 60])
@pytest.mark.parametrize("seed", [0, 1])
def test_level(melton, weight, seed):
    made = tried(melton, weight, seed=seed)
    assert made.chord == pytest.approx(made.exact_chord, rel=LIMIT)
    assert made.drop_over_length == pytest.approx(made.exact_drop_over_length, rel=LIMIT)


@pytest.mark.parametrize("clamp", [10, 20, 30])
@pytest.mark.parametrize("weight", [0.5, 8, 50])
def test_sloping(melton, clamp, weight):
    made = tried(melton, weight, clamp=math.radians(clamp))
    assert made.chord == pytest.approx(made.exact_chord, rel=LIMIT)


@pytest.mark.parametrize("degrees", [30, 45, 90])
def test_off_the_grain(melton, degrees):
    made = tried(melton, 8, grain=math.radians(degrees))
    assert made.chord == pytest.approx(made.exact_chord, rel=LIMIT)


def test_twice_as_stiff_one_way(melton):
    """B₁ = 2 B₂, at 45°."""
    cloth = dataclasses.replace(melton, bending_length_weft=melton.bending_length_warp / 2 ** (1 / 3))
    made = tried(cloth, 8, grain=math.pi / 4)
    assert made.chord == pytest.approx(made.exact_chord, rel=LIMIT)


def test_halving_the_edges_brings_it_nearer(melton):
    """The error falls with the edge length, at least in proportion."""
    errors = [abs(made.chord / made.exact_chord - 1) for made in (tried(melton, 3, edges=n) for n in (8, 16, 32))]
    assert errors[1] < 0.7 * errors[0] and errors[2] < 0.7 * errors[1]


def test_the_misprinted_constant_fails(melton):
    """Negative control: B larger by 1.449 hangs flatter than the exact curve of the cloth as it is."""
    exact = tried(melton, 8).exact_chord
    stiff = dataclasses.replace(melton, bending_length_warp=melton.bending_length_warp * MISPRINT ** (1 / 3))
    length = 2 * melton.bending_length_warp
    made = cantilever(stiff, Strip(length, length / 4, length / 20))
    assert made.chord != pytest.approx(exact, rel=LIMIT)
