"""A lined strip over an edge hangs as its weights and rigidities added say.

Problem: two layers that slide on one another hang from a level edge. Each bends about its own middle, so weights
w and rigidities B add: the strip is an elastica with W = Σw g L³ / ΣB, its bending length (ΣB / (Σw g))^(1/3).
Answer: φ'' = −W (1 − s) cos φ, φ(0) = 0, φ'(1) = 0; solved here by collocation.
Compared is the change of the chord angle that the lining makes, on one mesh: what the mesh's own bending is out
by (tests/published/test_cantilever.py) then nearly cancels.
Source: the elastica of Euler (1744); F. T. Peirce, J. Text. Inst. 21 (1930), T377, for B = w g c³.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from drape.cloth.body_contact import Touch
from drape.cloth.relaxation import Relaxation, Settling, relax
from drape.cloth.sheet import Cloth, layered, sew
from drape.units import STANDARD_GRAVITY

LENGTH = 0.056  # m; chord of melton alone near 41.5°
SILK = Cloth("limp lining", 0.25, 0.0002, 0.012, 0.012, 4000.0, 4000.0, 20.0, 0.1, 0.3, 0.2)
CANVAS = Cloth("stiff interlining", 0.2, 0.0005, 0.055, 0.055, 8000.0, 8000.0, 150.0, 0.1, 0.4, 0.3)
LIMIT = 0.05  # of the change


def exact_chord(weight: float, rigidity: float) -> float:
    """Chord angle [deg] of a strip of LENGTH, weight w [kg/m²], rigidity B [N·m]."""
    load = weight * STANDARD_GRAVITY * LENGTH**3 / rigidity
    s = np.linspace(0, 1, 101)
    found = solve_bvp(
        lambda s, y: np.array([y[1], -load * (1 - s) * np.cos(y[0])]),
        lambda a, b: np.array([a[0], b[1]]),
        s,
        np.array([min(load / 6, 1.2) * s, np.zeros_like(s)]),
        tol=1e-8,
        max_nodes=20_000,
    )
    assert found.success
    angle = found.sol(np.linspace(0, 1, 2001))[0]
    return float(np.degrees(np.arctan2(np.trapezoid(np.sin(angle)), np.trapezoid(np.cos(angle)))))


def chord(make_rectangle, cloth: Cloth) -> float:
    """Chord angle [deg] of drape's strip, held along its middle line, mean of both sides."""
    edge = LENGTH / 14
    mesh = make_rectangle(2 * LENGTH, 0.5 * LENGTH, edge, 0)
    flat = mesh.flat - [LENGTH, 0]
    flat[np.abs(flat[:, 0]) < 0.3 * edge, 0] = 0.0
    mesh = dataclasses.replace(mesh, flat=flat)
    run = Relaxation(
        sew(mesh, cloth), np.c_[flat, np.zeros(len(flat))], Touch(cloth.thickness, layers=False),
        fixed=np.flatnonzero(flat[:, 0] == 0.0),
    )  # fmt: skip
    rest = relax(run, settling=Settling(residual=2e-3, remaining=2e-4))
    assert rest.settled
    tips = [rest.worn[side * flat[:, 0] > LENGTH * (1 - 1e-9)].mean(axis=0) * [side, 1, 1] for side in (-1, 1)]
    return float(np.mean([np.degrees(np.arctan2(-tip[2], tip[0])) for tip in tips]))


def sums(*layers: Cloth) -> tuple[float, float]:
    """Σw and ΣB, by hand."""
    weight = sum(layer.areal_density for layer in layers)
    return weight, sum(layer.areal_density * STANDARD_GRAVITY * layer.bending_length_warp**3 for layer in layers)


@pytest.mark.parametrize(
    "inner", [(SILK,), (CANVAS,), (CANVAS, SILK)], ids=lambda inner: " ".join(c.name for c in inner)
)
def test_the_lining_changes_the_chord_as_the_sums_say(make_rectangle, melton, inner):
    change = chord(make_rectangle, layered(melton, *inner)) - chord(make_rectangle, melton)
    wanted = exact_chord(*sums(melton, *inner)) - exact_chord(*sums(melton))
    assert abs(wanted) > 3.0
    assert change == pytest.approx(wanted, rel=LIMIT)


def test_a_lining_that_only_weighs_fails(make_rectangle, melton):
    """Negative control: forgetting the interlining's rigidity turns the change round."""
    forgotten = dataclasses.replace(CANVAS, bending_length_warp=1e-3, bending_length_weft=1e-3)
    change = chord(make_rectangle, layered(melton, forgotten)) - chord(make_rectangle, melton)
    assert change != pytest.approx(exact_chord(*sums(melton, CANVAS)) - exact_chord(*sums(melton)), rel=LIMIT)
