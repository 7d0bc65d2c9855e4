"""Springs equal the continuum, forces are derivatives of their energy, seams join."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from drape.cloth.sheet import (
    Cloth,
    SeamAllowance,
    bending_product,
    bending_stiffness,
    cloth_forces,
    join_seams,
    layered,
    plane_stiffness,
    sew,
)


def test_force_is_minus_the_gradient_of_the_energy(make_rectangle, melton):
    mesh = make_rectangle(0.12, 0.1, 0.03, 1)
    sheet = sew(mesh, melton, grain=0.4)
    rng = np.random.default_rng(2)
    worn = np.c_[mesh.flat, np.zeros(len(mesh.flat))] + rng.normal(0, 0.004, (len(mesh.flat), 3))
    force, _ = cloth_forces(sheet, worn)
    assert np.linalg.norm(force) > 1.0
    step = 1e-6
    for i, c in rng.integers(0, [len(worn), 3], (30, 2)):
        up, down = worn.copy(), worn.copy()
        up[i, c] += step
        down[i, c] -= step
        slope = (cloth_forces(sheet, up)[1] - cloth_forces(sheet, down)[1]) / (2 * step)
        assert force[i, c] == pytest.approx(-slope, rel=1e-5, abs=1e-5)


def test_a_rigid_move_changes_nothing(make_rectangle, melton):
    mesh = make_rectangle(0.2, 0.15, 0.03, 0)
    sheet = sew(mesh, melton)
    turn = np.linalg.qr(np.random.default_rng(0).normal(size=(3, 3)))[0]
    worn = np.c_[mesh.flat, np.zeros(len(mesh.flat))] @ turn.T + [1.0, 2.0, 3.0]
    force, energy = cloth_forces(sheet, worn)
    assert np.abs(force).max() < 1e-9
    assert abs(energy) < 1e-12


@pytest.mark.parametrize("grain", [0.0, 0.3, 1.2])
def test_homogeneous_strain_costs_half_a_e_c_e(make_rectangle, melton, grain):
    """Any affine stretch F: energy = A/2 E:C:E with E = (FᵀF − 1)/2 in the grain's frame, exactly."""
    mesh = make_rectangle(0.2, 0.15, 0.03, 3)
    stretch = np.array([[1.03, 0.04], [-0.02, 0.98]])
    worn = np.c_[mesh.flat @ stretch.T, np.zeros(len(mesh.flat))]
    flat_only = dataclasses.replace(melton, bending_length_warp=1e-4, bending_length_weft=1e-4)
    _, energy = cloth_forces(sew(mesh, flat_only, grain=grain), worn)
    c, s = np.cos(grain), np.sin(grain)
    frame = np.array([[c, -s], [s, c]])
    strain = frame.T @ (stretch.T @ stretch - np.eye(2)) @ frame / 2
    voigt = np.array([strain[0, 0], strain[1, 1], 2 * strain[0, 1]])
    exact = 0.5 * 0.2 * 0.15 * voigt @ plane_stiffness(melton) @ voigt
    assert energy == pytest.approx(exact, rel=1e-6)


def test_mass_is_area_times_areal_density(make_rectangle, melton):
    assert sew(make_rectangle(0.3, 0.2, 0.03, 0), melton).mass.sum() == pytest.approx(0.6 * 0.06)


def test_chains_of_seams_become_one_point():
    point, count = join_seams(6, np.array([[0, 3], [3, 5]]))
    assert count == 4
    assert point[0] == point[3] == point[5]
    assert len(set(point)) == 4


# --- layers as one cloth ----------------------------------------------------------------------

TWILL = Cloth("twill", 0.09, 0.0002, 0.015, 0.012, 5000.0, 3000.0, 20.0, 0.3, 0.25, 0.2, "invented")


def test_layers_add(melton):
    """Masses, thicknesses, bending stiffnesses D and plane stiffnesses C add; friction is of the side that rubs."""
    both = layered(melton, TWILL)
    assert both.areal_density == pytest.approx(0.69, rel=1e-15)
    assert both.thickness == pytest.approx(0.0032, rel=1e-15)
    assert bending_stiffness(both) == pytest.approx(bending_stiffness(melton) + bending_stiffness(TWILL), rel=1e-13)
    assert plane_stiffness(both) == pytest.approx(plane_stiffness(melton) + plane_stiffness(TWILL), rel=1e-13)
    assert (both.friction_on_cloth, both.friction_on_figure) == (0.5, 0.2)
    assert layered(melton, TWILL, melton).friction_on_figure == melton.friction_on_figure
    assert (both.name, both.source) == ("heavy melton on twill", "heavy melton: ; twill: invented")


def test_layers_of_one_cloth_are_it_twice_as_strong_and_hang_alike(melton):
    """Two free layers of one cloth weigh twice and resist twice: the bending length stays."""
    twice = layered(melton, melton)
    for key in ("areal_density", "thickness", "tensile_stiffness_warp", "tensile_stiffness_weft", "shear_stiffness"):
        assert getattr(twice, key) == pytest.approx(2 * getattr(melton, key), rel=1e-14)
    for key in ("bending_length_warp", "bending_length_weft", "poisson_ratio", "twist_share"):
        assert getattr(twice, key) == pytest.approx(getattr(melton, key), rel=1e-14)
    assert layered(melton) is melton


def test_a_lined_sheet_is_the_sum_of_its_sheets(make_rectangle, melton):
    """Masses, membrane and bending energy of any shape: the lined sheet's are both sheets' added."""
    mesh = make_rectangle(0.3, 0.2, 0.02, 3)
    shape = np.c_[mesh.flat, np.zeros(len(mesh.flat))]
    shape = shape + np.random.default_rng(5).normal(0, 1e-3, shape.shape)
    uniform = dataclasses.replace(  # stiff in melton's proportions, as free edges make of each what its own ask
        TWILL,
        bending_length_weft=TWILL.bending_length_warp * melton.bending_length_weft / melton.bending_length_warp,
        tensile_stiffness_weft=TWILL.tensile_stiffness_warp * 0.75,
        poisson_ratio=melton.poisson_ratio,
    )
    sheets = [sew(mesh, cloth, grain=0.4) for cloth in (layered(melton, uniform), melton, uniform)]
    assert sheets[0].mass == pytest.approx(sheets[1].mass + sheets[2].mass, rel=1e-13)
    forces, energies = zip(*(cloth_forces(sheet, shape) for sheet in sheets), strict=True)
    assert energies[0] == pytest.approx(energies[1] + energies[2], rel=1e-9)
    assert forces[0] == pytest.approx(forces[1] + forces[2], rel=1e-9, abs=1e-9 * np.abs(forces[0]).max())


def seamed(mesh, cloth, width: float, *, grain: float = 0.0):
    """The sheet of a rectangle with a seam along the vertices of its lower side, and that side's vertices."""
    low = np.flatnonzero(mesh.flat[:, 1] < mesh.flat[:, 1].min() + 1e-9)
    run = low[np.argsort(mesh.flat[low, 0])]
    pieced = dataclasses.replace(mesh, edges={**mesh.edges, "seam 1-2": run})
    return sew(pieced, cloth, grain=grain, inside=SeamAllowance(width, cloth)), run


def test_seam_allowances_weigh_what_their_cloth_weighs(make_rectangle, melton):
    """Two of 1.5 cm along 20 cm: their area times the areal density."""
    mesh = make_rectangle(0.2, 0.1, 0.02, 0)
    sheet, _ = seamed(mesh, melton, 0.015)
    assert sheet.mass.sum() - sew(mesh, melton).mass.sum() == pytest.approx(2 * 0.015 * 0.2 * melton.areal_density)


@pytest.mark.parametrize("grain", [0.0, 0.5 * np.pi, 0.6])
def test_a_seam_bends_as_a_beam_of_both_allowances(make_rectangle, melton, grain):
    """z = k x²/2: the energy of two strips, width a, length L, is ½ 2a B k² L, but for half an edge at either end.

    B of a strip at an angle to the warp: 1/B = c⁴/B₁ + s⁴/B₂ + (1/T − 2ν/B₁) c² s² (Lekhnitskii, Anisotropic Plates,
    1968; from memory). Bent across the seam it adds nothing.
    """
    mesh = make_rectangle(0.2, 0.1, 0.005, 0)
    sheet, run = seamed(mesh, melton, 0.015, grain=grain)
    plain = sew(mesh, melton, grain=grain)
    x, y = mesh.flat.T
    bent = {}
    for name, height in (("along", 0.5 * 4.0 * x**2), ("across", 0.5 * 4.0 * y**2)):
        worn = np.c_[mesh.flat, height]
        bent[name] = 0.5 * float(
            np.sum(worn[:, 2] * (bending_product(sheet, worn) - bending_product(plain, worn))[:, 2])
        )
    c, s = np.cos(grain), np.sin(grain)
    mixed = 1 / melton.twist_rigidity - 2 * melton.poisson_ratio / melton.rigidity_warp
    rigidity = 1 / (c**4 / melton.rigidity_warp + s**4 / melton.rigidity_weft + mixed * c**2 * s**2)
    steps = np.diff(x[run])
    length = 0.2 - (steps[0] + steps[-1]) / 2
    assert bent["along"] == pytest.approx(0.5 * 2 * 0.015 * rigidity * 16.0 * length, rel=1e-3)
    assert abs(bent["across"]) < 1e-12
