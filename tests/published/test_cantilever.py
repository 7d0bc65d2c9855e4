"""A strip of cloth over an edge hangs as the elastica does.

Problem: an inextensible strip, clamped level, under its own weight; W = w g L³ / B.
Answer: φ'' = −W (1 − s) cos φ with φ(0) = 0, φ'(1) = 0, lengths over L, φ below the level; the chord
angle is atan(drop / reach). Solved here by collocation, and against the values of the same equation
computed by shooting: 20.0329° at W = 3, 41.4873° at W = 8, 61.7864° at W = 20.
Source: the elastica of Euler (1744); for cloth F. T. Peirce, The handle of cloth as a measurable
quantity, J. Text. Inst. 21 (1930), T377.

The strip is held along its middle line and droops on both sides, so its slope there is 0 as at a clamp.
Known fault: on irregular meshes our bending is some 5.6 % too limp (it does not pass the patch test of
forces), which makes chord angles 2 to 7 % too steep. The limit of 8 % holds it there; it is no claim
of accuracy.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from drape.cloth import sew
from drape.solver import Relaxation, Settling, relax

LIMIT = 0.08
MISPRINT = 1.449  # 1.421e-5 over 9.807e-6: a constant sometimes printed for B in place of w g c³; from memory


def exact_chord(weight: float) -> float:
    s = np.linspace(0, 1, 101)
    found = solve_bvp(
        lambda s, y: np.array([y[1], -weight * (1 - s) * np.cos(y[0])]),
        lambda a, b: np.array([a[0], b[1]]),
        s,
        np.array([min(weight / 6, 1.2) * s, np.zeros_like(s)]),
        tol=1e-8,
        max_nodes=20_000,
    )
    assert found.success
    angle = found.sol(np.linspace(0, 1, 2001))[0]
    return float(np.degrees(np.arctan2(np.trapezoid(np.sin(angle)), np.trapezoid(np.cos(angle)))))


@pytest.mark.parametrize(("weight", "printed"), [(3, 20.0329), (8, 41.4873), (20, 61.7864)])
def test_the_reference_is_the_tabled_one(weight, printed):
    assert exact_chord(weight) == pytest.approx(printed, abs=2e-3)


def chord(make_rectangle, cloth, length, seed, width=0.5):
    edge = length / 20
    mesh = make_rectangle(2 * length, width * length, edge, seed)
    flat = mesh.flat - [length, 0]
    flat[np.abs(flat[:, 0]) < 0.3 * edge, 0] = 0.0
    mesh = dataclasses.replace(mesh, flat=flat)
    run = Relaxation(
        sew(mesh, cloth),
        np.c_[flat, np.zeros(len(flat))],
        thickness=cloth.thickness,
        friction=0.0,
        fixed=np.flatnonzero(flat[:, 0] == 0.0),
        layers=False,
    )
    rest = relax(run, settling=Settling(residual=2e-3, remaining=2e-4))
    assert rest.settled
    angles = []
    for side in (-1, 1):
        tip = rest.worn[side * flat[:, 0] > length * (1 - 1e-9)].mean(axis=0)
        angles.append(np.degrees(np.arctan2(-tip[2], side * tip[0])))
    return float(np.mean(angles))


@pytest.mark.parametrize("weight", [3, 8, 20])
@pytest.mark.parametrize("seed", [0, 1])
def test_chord_angle(make_rectangle, melton, weight, seed):
    length = melton.bending_length_warp * weight ** (1 / 3)
    assert chord(make_rectangle, melton, length, seed) == pytest.approx(exact_chord(weight), rel=LIMIT)


def test_the_misprinted_constant_fails(make_rectangle, melton):
    """Negative control: B larger by 1.449 hangs 22 % flatter at W = 8."""
    stiff = dataclasses.replace(melton, bending_length_warp=melton.bending_length_warp * MISPRINT ** (1 / 3))
    got = chord(make_rectangle, stiff, 2 * melton.bending_length_warp, 0)
    assert got != pytest.approx(exact_chord(8), rel=LIMIT)
