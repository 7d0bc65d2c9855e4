"""Springs equal the continuum, forces are derivatives of their energy, seams join."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from drape.cloth import cloth_forces, join_seams, plane_stiffness, sew


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
