"""Loops of cloth hang as the elastica does: ring, pear, heart.

Problem: an inextensible strip of length L bent into a loop under its own weight, its ends held together: in
line (ring), both upward (pear), both downward (heart); W = w g L³ / B. How far does it hang below the ends?
Answer: θ'' = h sin θ − W s cos θ from the lowest point, θ(0) = 0, x(0) = x(½) = 0, θ(½) = π, π/2 or 3π/2; lengths
over L, θ from the level, h the unknown pull. Solved here by collocation, and against heights of the same
equation computed by shooting: ring 1/π and pear 0.424308 without weight, 0.343954 and 0.431306 at W = 100.
Source: the loops of F. T. Peirce, The handle of cloth as a measurable quantity, J. Text. Inst. 21 (1930), T377;
the equation is the elastica of Euler (1744).
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from families import most_are_long
from scipy.integrate import solve_bvp

from drape.cloth.body_contact import Touch
from drape.cloth.relaxation import Relaxation, Settling, relax
from drape.cloth.sheet import sew
from drape.units import STANDARD_GRAVITY

LIMIT = 0.007
END = {"ring": np.pi, "pear": np.pi / 2, "heart": 1.5 * np.pi}
EDGES, WIDTH = 80, 4  # along the loop and across it


def exact_loop(kind, weight):
    """Distance s from the lowest point, and x, z there, z from 0 at the lowest; over L."""
    s = np.linspace(0, 0.5, 201)
    y, h = np.stack([2 * END[kind] * s, np.full_like(s, 2 * END[kind]), 0.1 * np.sin(2 * np.pi * s)]), np.zeros(1)
    for w in np.linspace(0, weight, 3 + int(weight / 20)):
        found = solve_bvp(
            lambda s, y, h, w=w: np.array([y[1], h[0] * np.sin(y[0]) - w * s * np.cos(y[0]), np.cos(y[0])]),
            lambda a, b, h: np.array([a[0], a[2], b[0] - END[kind], b[2]]),
            s,
            y,
            p=h,
            tol=1e-7,
            max_nodes=20_000,
        )
        assert found.success
        s, y, h = found.x, found.y, found.p
    even = np.linspace(0, 0.5, 4001)
    theta, _, x = found.sol(even)
    rise = np.sin(theta)
    return even, x, np.r_[0, np.cumsum(rise[1:] + rise[:-1]) * 0.5 * (even[1] - even[0])]


@pytest.mark.parametrize(
    ("kind", "weight", "printed"),
    [("ring", 0, 1 / np.pi), ("pear", 0, 0.424308), ("ring", 100, 0.343954), ("pear", 100, 0.431306)],
)
def test_the_reference_is_the_tabled_one(kind, weight, printed):
    assert exact_loop(kind, weight)[2][-1] == pytest.approx(printed, abs=2e-6)


def loop_mesh(make_rectangle, kind, seed):
    """A strip with s along x, lengths over L: the ring's ends seamed, the others' two edges longer at each."""
    edge, more = 1 / EDGES, 0 if kind == "ring" else 2
    mesh = make_rectangle(1 + 2 * more * edge, WIDTH * edge, edge, seed)
    flat = mesh.flat - [0.5 + more * edge, 0]
    for at in (-0.5, 0.5):
        flat[np.abs(flat[:, 0] - at) < 0.3 * edge, 0] = at
    if kind == "ring":
        ends = (np.flatnonzero(flat[:, 0] == side) for side in (-0.5, 0.5))
        seams = np.stack([end[np.argsort(flat[end, 1])] for end in ends], axis=1)
        return dataclasses.replace(mesh, flat=flat, seams=seams)
    return dataclasses.replace(mesh, flat=flat)


def height(make_rectangle, cloth, length, kind, weight, seed=0):
    """Height over L of the settled loop, begun 5 % too wide in the shape the elastica has at `weight`."""
    mesh = loop_mesh(make_rectangle, kind, seed)
    s = mesh.flat[:, 0]
    along, across, up = exact_loop(kind, weight)
    x = 1.05 * np.sign(s) * np.interp(np.abs(s), along, across)
    z = np.interp(np.abs(s), along, up) - up[-1]
    past = np.abs(s) > 0.5
    x[past], z[past] = 0.0, (np.abs(s[past]) - 0.5) * (-1 if kind == "heart" else 1)
    held = np.flatnonzero(np.abs(s) >= 0.5)
    sheet = sew(dataclasses.replace(mesh, flat=mesh.flat * length), cloth, held=None if kind == "ring" else held)
    point = sheet.point_of_vertex
    start = np.zeros((len(sheet.mass), 3))
    start[point] = length * np.c_[x, mesh.flat[:, 1], z]
    run = Relaxation(sheet, start, Touch(cloth.thickness, layers=False), fixed=np.unique(point[held]))
    rest = relax(run, settling=Settling(residual=5e-3, remaining=2e-4 * length))
    assert rest.settled
    return -rest.worn[point][np.abs(s) < 0.25, 2].min() / length


def length_at(cloth, weight):
    return (weight * cloth.rigidity_warp / (cloth.areal_density * STANDARD_GRAVITY)) ** (1 / 3)


@pytest.mark.parametrize(
    ("kind", "weight"), most_are_long([(kind, weight) for kind in END for weight in (20, 400)], ("heart", 400))
)
def test_height_of_a_loop(make_rectangle, melton, kind, weight):
    """Of cloth as hard to twist as a plate, or the heart, begun too wide, turns over."""
    plate = dataclasses.replace(melton, twist_share=0.5, poisson_ratio=0.0)
    got = height(make_rectangle, plate, length_at(melton, weight), kind, weight)
    assert got == pytest.approx(exact_loop(kind, weight)[2][-1], rel=LIMIT)


@pytest.mark.long
@pytest.mark.parametrize("kind", ["ring", "heart"])
def test_a_wrong_rigidity_fails(make_rectangle, melton, kind):
    """Negative control: B a fifth larger. (The pear's height says too little of B.)"""
    stiff = dataclasses.replace(melton, bending_length_warp=melton.bending_length_warp * 1.2 ** (1 / 3))
    got = height(make_rectangle, stiff, length_at(melton, 400), kind, 400)
    assert got != pytest.approx(exact_loop(kind, 400)[2][-1], rel=LIMIT)
