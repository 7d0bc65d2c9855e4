"""A strip of cloth over an edge hangs as the elastica does.

Problem: an inextensible strip, clamped at β below the level, under its own weight; W = w g L³ / B.
Answer: φ'' = −W (1 − s) cos φ with φ(0) = β, φ'(1) = 0, lengths over L, φ below the level; the chord
angle is atan(drop / reach). Solved here by collocation, and against the values of the same equation
computed by shooting: level, 20.0329° at W = 3, 41.4873° at W = 8, 61.7864° at W = 20; from β = 20°, 53.1903° at W = 8.
A narrow strip cut at an angle to the warp has the B of beam theory, 1/B = mᵀ D⁻¹ m.
Source: the elastica of Euler (1744); for cloth F. T. Peirce, The handle of cloth as a measurable
quantity, J. Text. Inst. 21 (1930), T377.

The level strip is held along its middle line and droops on both sides, so its slope there is 0 as at a
clamp. The sloping one is held with two rows of cloth behind the clamp.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from families import most_are_long
from scipy.integrate import solve_bvp

from drape.cloth.body_contact import Touch
from drape.cloth.relaxation import Relaxation, Settling, relax
from drape.cloth.sheet import bending_stiffness, sew
from drape.units import STANDARD_GRAVITY

LIMIT, COARSE_LIMIT = 0.0075, 0.03  # edges of L/20 and L/10; the error is of second order


def exact_chord(weight: float, slope: float = 0.0) -> float:
    s = np.linspace(0, 1, 101)
    found = solve_bvp(
        lambda s, y: np.array([y[1], -weight * (1 - s) * np.cos(y[0])]),
        lambda a, b: np.array([a[0] - slope, b[1]]),
        s,
        np.array([slope + min(weight / 6, 1.2) * s, np.zeros_like(s)]),
        tol=1e-8,
        max_nodes=20_000,
    )
    assert found.success and found.y[0].min() > -1e-6
    angle = found.sol(np.linspace(0, 1, 2001))[0]
    return float(np.degrees(np.arctan2(np.trapezoid(np.sin(angle)), np.trapezoid(np.cos(angle)))))


@pytest.mark.parametrize(
    ("weight", "degrees", "printed"),
    [(1, 0, 7.1003), (3, 0, 20.0329), (8, 0, 41.4873), (20, 0, 61.7864), (50, 0, 74.8977), (8, 20, 53.1903)],
)
def test_the_reference_is_the_tabled_one(weight, degrees, printed):
    assert exact_chord(weight, np.radians(degrees)) == pytest.approx(printed, abs=2e-3)


def chord_of(run, flat, length, sides):
    """Mean chord angle [deg] of the settled strip's ends."""
    rest = relax(run, settling=Settling(residual=2e-3, remaining=2e-4))
    assert rest.settled
    angles = []
    for side in sides:
        tip = rest.worn[side * flat[:, 0] > length * (1 - 1e-9)].mean(axis=0)
        angles.append(np.degrees(np.arctan2(-tip[2], side * tip[0])))
    return float(np.mean(angles))


def length_at(cloth, weight, grain=0.0):
    """Length [m] at which a strip cut at `grain` has that W."""
    c, s = np.cos(grain), np.sin(grain)
    moment = np.array([c * c, s * s, -c * s])
    rigidity = 1 / (moment @ np.linalg.solve(bending_stiffness(cloth), moment))
    return (weight * rigidity / (cloth.areal_density * STANDARD_GRAVITY)) ** (1 / 3)


def chord(make_rectangle, cloth, length, seed, *, grain=0.0, edges=20):
    """A strip held along its middle; width a fifth of its length or four edges."""
    edge = length / edges
    mesh = make_rectangle(2 * length, max(length / 5, 4 * edge), edge, seed)
    flat = mesh.flat - [length, 0]
    flat[np.abs(flat[:, 0]) < 0.3 * edge, 0] = 0.0
    mesh = dataclasses.replace(mesh, flat=flat)
    run = Relaxation(
        sew(mesh, cloth, grain=grain),
        np.c_[flat, np.zeros(len(flat))],
        Touch(cloth.thickness, layers=False),
        fixed=np.flatnonzero(flat[:, 0] == 0.0),
    )
    return chord_of(run, flat, length, (-1, 1))


def chord_from_clamp(make_rectangle, cloth, length, seed, slope, *, known=True):
    """A strip whose two first rows lie in a clamp that slopes down; known: whether the bending is told of it."""
    edge = length / 20
    mesh = make_rectangle(length + 2 * edge, length / 5, edge, seed)
    flat = mesh.flat - [2 * edge, 0]
    flat[np.abs(flat[:, 0]) < 0.3 * edge, 0] = 0.0
    mesh = dataclasses.replace(mesh, flat=flat)
    held = np.flatnonzero(flat[:, 0] <= 0)
    start = np.c_[flat[:, 0] * np.cos(slope), flat[:, 1], -flat[:, 0] * np.sin(slope)]
    sheet = sew(mesh, cloth, held=held if known else None)
    run = Relaxation(sheet, start, Touch(cloth.thickness, layers=False), fixed=held)
    return chord_of(run, flat, length, (1,))


@pytest.fixture
def uneven(melton):
    """Twice as stiff along the warp as along the weft; it hardly curls across as it bends, so no strip is too wide."""
    weft = melton.bending_length_warp * 0.5 ** (1 / 3)
    return dataclasses.replace(melton, bending_length_weft=weft, poisson_ratio=0.0, twist_share=0.5)


@pytest.mark.parametrize("weight", most_are_long([1, 3, 8, 20, 60], 3, 20))
@pytest.mark.parametrize("seed", most_are_long([0, 1, 2], 0))
def test_chord_angle(make_rectangle, uneven, weight, seed):
    got = chord(make_rectangle, uneven, length_at(uneven, weight), seed)
    assert got == pytest.approx(exact_chord(weight), rel=LIMIT)


@pytest.mark.parametrize("weight", most_are_long([3, 20], 20))
@pytest.mark.parametrize("degrees", [30, 90])
def test_chord_angle_across_the_grain(make_rectangle, uneven, weight, degrees):
    grain = np.radians(degrees)
    got = chord(make_rectangle, uneven, length_at(uneven, weight, grain), 0, grain=grain)
    assert got == pytest.approx(exact_chord(weight), rel=LIMIT)


@pytest.mark.parametrize("weight", most_are_long([3, 20, 50], 20))
def test_chord_angle_on_a_coarse_mesh(make_rectangle, uneven, weight):
    got = chord(make_rectangle, uneven, length_at(uneven, weight), 1, edges=10)
    assert got == pytest.approx(exact_chord(weight), rel=COARSE_LIMIT)


@pytest.mark.parametrize("weight", most_are_long([1, 8, 30], 8))
@pytest.mark.parametrize("degrees", [0, 20])
def test_chord_angle_from_a_sloping_clamp(make_rectangle, uneven, weight, degrees):
    slope = np.radians(degrees)
    got = chord_from_clamp(make_rectangle, uneven, length_at(uneven, weight), 0, slope)
    assert got == pytest.approx(exact_chord(weight, slope), rel=LIMIT)


def test_stiffer_threads_do_not_stiffen_the_bend(make_rectangle, uneven):
    """Flat triangles do not lock: ten times the tensile and shear stiffness, edges of L/10, on the bias too."""
    firm = dataclasses.replace(uneven, tensile_stiffness_warp=2e4, tensile_stiffness_weft=1.5e4, shear_stiffness=1.2e3)
    for grain in (0.0, np.radians(45)):
        length = length_at(uneven, 8, grain)
        soft, hard = (chord(make_rectangle, c, length, 0, grain=grain, edges=10) for c in (uneven, firm))
        assert hard == pytest.approx(soft, rel=0.005)


def test_a_wrong_rigidity_fails(make_rectangle, uneven):
    """Negative control: 5 % more B."""
    stiff = dataclasses.replace(uneven, bending_length_warp=uneven.bending_length_warp * 1.05 ** (1 / 3))
    assert chord(make_rectangle, stiff, length_at(uneven, 3), 0) != pytest.approx(exact_chord(3), rel=LIMIT)
    assert chord(make_rectangle, stiff, length_at(uneven, 8), 0) != pytest.approx(exact_chord(8), rel=LIMIT)


def test_a_clamp_the_bending_does_not_know_of_fails(make_rectangle, uneven):
    """Negative control: the strip is then too long by half an edge."""
    got = chord_from_clamp(make_rectangle, uneven, length_at(uneven, 8), 0, 0.0, known=False)
    assert got != pytest.approx(exact_chord(8), rel=LIMIT)
