"""A strip pulled in any direction stretches as an orthotropic sheet does.

Problem: a strip cut at angle θ to the warp under a small line tension. Answer: strain = tension / Eθ with
1/Eθ = cos⁴θ/E₁ + sin⁴θ/E₂ + (1/G − 2ν/E₁) sin²θ cos²θ.
Source: W. F. Kilby, Planar stress-strain relationships in woven fabrics, J. Text. Inst. 54 (1963), T9
(the formula is that of any orthotropic plate; paper cited from memory).
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from drape.cloth.body_contact import Touch
from drape.cloth.relaxation import Relaxation, Settling, relax
from drape.cloth.sheet import sew

TENSION = 0.5  # [N/m]: the formula is for small strain; what is left of second order is under 0.2 % of it
LIMIT = 0.005
LENGTH, WIDTH = 0.3, 0.1


def exact_strain(cloth, angle):
    c, s = np.cos(angle), np.sin(angle)
    e1, e2 = cloth.tensile_stiffness_warp, cloth.tensile_stiffness_weft
    shear = 1 / cloth.shear_stiffness - 2 * cloth.poisson_ratio / e1
    return TENSION * (c**4 / e1 + s**4 / e2 + shear * s**2 * c**2)


def strain(make_rectangle, cloth, angle, seed):
    """Both ends pulled evenly and free to shear; the mean stretch of the middle two thirds."""
    mesh = make_rectangle(LENGTH, WIDTH, 0.02, seed)
    x, y = mesh.flat.T
    pull = np.zeros((len(x), 3))
    for side, sign in ((0.0, -1.0), (LENGTH, 1.0)):
        end = np.flatnonzero(np.abs(x - side) < 1e-9)
        end = end[np.argsort(y[end])]
        gap = np.diff(y[end])
        share = 0.5 * (np.r_[gap, 0] + np.r_[0, gap])
        pull[end, 0] = sign * TENSION * share
    middle = np.argmin(np.hypot(x - LENGTH / 2, y - WIDTH / 2))
    run = Relaxation(
        sew(mesh, cloth, grain=angle), np.c_[mesh.flat, np.zeros(len(x))], Touch(cloth.thickness, layers=False),
        fixed=np.array([middle]), loads=pull,
    )  # fmt: skip
    rest = relax(run, settling=Settling(residual=1e-2, remaining=1e-6))
    assert rest.settled
    inner = np.abs(x - LENGTH / 2) < LENGTH / 3
    design = np.c_[x[inner], y[inner], np.ones(inner.sum())]
    gradient = np.linalg.lstsq(design, rest.worn[inner, :2], rcond=None)[0][:2].T
    return float(np.linalg.norm(gradient[:, 0]) - 1)


@pytest.mark.parametrize("degrees", [0, 30, 45, 90])
@pytest.mark.parametrize("seed", [0, 1])
def test_strain_in_any_direction(make_rectangle, melton, degrees, seed):
    angle = np.radians(degrees)
    assert strain(make_rectangle, melton, angle, seed) == pytest.approx(exact_strain(melton, angle), rel=LIMIT)


def test_a_wrong_shear_stiffness_fails(make_rectangle, melton):
    """Negative control: on the bias, 2 % more shear stiffness is seen."""
    wrong = dataclasses.replace(melton, shear_stiffness=1.02 * melton.shear_stiffness)
    angle = np.radians(45)
    assert strain(make_rectangle, wrong, angle, 0) != pytest.approx(exact_strain(melton, angle), rel=LIMIT)
