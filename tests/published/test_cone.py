"""A sewn half circle of cloth settles to the cone that geometry demands.

Problem: a sector of angle A, its straight edges sewn. Answer: a cone with sin(half apex angle) = A/360°: 30° for a half
circle, its sides 60° below the level. At the point, where the sector's angle is all the cloth there is, the angles of
the cloth add up to A: a dart that takes out 30° leaves a corner of defect 30°. Source: development of the cone, any
handbook; angle defect, R. Descartes, De solidorum elementis (about 1630). The cloth is limp, since what a stiff one
gains by stretching it saves in bending, and opens a little. The starts are cones a tenth too blunt.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from drape.cloth.body_contact import Touch
from drape.cloth.relaxation import Relaxation, Settling, relax
from drape.cloth.sheet import sew

RADIUS, EDGE = 0.12, 0.012
LIMIT = 0.01
LIMP = 0.01  # m, bending length
BLUNTER = 1.1  # of the half apex angle at the start


def settled_cone(make_sector, cloth, degrees, seed=0):
    """The weightless cone, held at its point: worn points, flat mesh, sheet."""
    limp = dataclasses.replace(cloth, bending_length_warp=LIMP, bending_length_weft=LIMP)
    mesh = make_sector(np.radians(degrees), RADIUS, EDGE, seed)
    sheet = sew(mesh, limp)
    r, phi = np.hypot(*mesh.flat.T), np.mod(np.arctan2(mesh.flat[:, 1], mesh.flat[:, 0]), 2 * np.pi)
    half = min(BLUNTER * np.arcsin(degrees / 360), 0.95 * np.pi / 2)
    round_ = phi * 360 / degrees
    start = np.empty((len(sheet.mass), 3))
    start[sheet.point_of_vertex] = np.stack(
        [r * np.sin(half) * np.cos(round_), r * np.sin(half) * np.sin(round_), -r * np.cos(half)], axis=1
    )
    run = Relaxation(sheet, start, Touch(0.0, layers=False), loads=np.zeros_like(start), fixed=np.array([0]))
    rest = relax(run, settling=Settling(residual=2e-2, remaining=1e-5))
    assert rest.settled
    return rest.worn, mesh, sheet, start


def half_apex(worn, mesh, sheet):
    """From the hem's mean radius over the slant."""
    hem = worn[np.unique(sheet.point_of_vertex[mesh.edges["hem"]])]
    axis = hem.mean(axis=0) / np.linalg.norm(hem.mean(axis=0))
    across = hem - (hem @ axis)[:, None] * axis
    return float(np.degrees(np.arctan2(np.linalg.norm(across, axis=1).mean(), (hem @ axis).mean())))


def angle_at_point(worn, sheet):
    """The angles of the triangles at the point, added up."""
    around = sheet.triangles[np.any(sheet.triangles == 0, axis=1)]
    total = 0.0
    for corners in around:
        a, b = (worn[c] - worn[0] for c in corners if c != 0)
        total += np.arccos(a @ b / np.linalg.norm(a) / np.linalg.norm(b))
    return float(np.degrees(total))


@pytest.mark.parametrize("degrees", [180, 240])
@pytest.mark.parametrize("seed", [0, 1])
def test_half_apex_angle(make_sector, melton, degrees, seed):
    worn, mesh, sheet, start = settled_cone(make_sector, melton, degrees, seed)
    exact = np.degrees(np.arcsin(degrees / 360))
    assert half_apex(worn, mesh, sheet) == pytest.approx(exact, rel=LIMIT)
    assert half_apex(start, mesh, sheet) != pytest.approx(exact, rel=LIMIT)


@pytest.mark.parametrize("dart", [30, 60])
def test_angle_defect_of_a_sewn_dart(make_sector, melton, dart):
    worn, mesh, sheet, start = settled_cone(make_sector, melton, 360 - dart)
    assert 360 - angle_at_point(worn, sheet) == pytest.approx(dart, rel=LIMIT)
    assert 360 - angle_at_point(start, sheet) != pytest.approx(dart, rel=LIMIT)


def test_another_sector_fails(make_sector, melton):
    """Negative control: 186° for 180°."""
    worn, mesh, sheet, _ = settled_cone(make_sector, melton, 186)
    assert half_apex(worn, mesh, sheet) != pytest.approx(30.0, rel=LIMIT)
