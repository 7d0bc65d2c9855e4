"""The metric's solve inverts it, and it bounds the membrane's stiffness."""

from __future__ import annotations

import dataclasses

import numpy as np

from drape.cloth.preconditioner import factor, membrane_laplacian, solve
from drape.cloth.sheet import cloth_forces, sew


def test_solve_inverts(make_rectangle, melton):
    sheet = sew(make_rectangle(0.3, 0.2, 0.03, 0), melton)
    laplacian = membrane_laplacian(sheet)
    extra = np.random.default_rng(0).uniform(0.1, 1.0, len(sheet.mass))
    low = factor(laplacian, extra)
    right = np.random.default_rng(1).normal(size=(len(extra), 3))
    out, work = np.empty_like(right), np.empty((len(extra), 4), np.float32)
    solve(low, right, work, out)
    exact = np.linalg.solve(laplacian.toarray() + np.diag(extra), right)
    assert np.abs(out - exact).max() < 1e-4 * np.abs(exact).max()  # single precision, condition some thousands


def test_it_is_symmetric_and_lets_the_whole_cloth_move_freely(make_rectangle, melton):
    laplacian = membrane_laplacian(sew(make_rectangle(0.12, 0.09, 0.03, 2), melton, grain=0.5)).toarray()
    assert np.abs(laplacian - laplacian.T).max() < 1e-13 * np.abs(laplacian).max()
    assert np.abs(laplacian.sum(axis=1)).max() < 1e-12 * np.abs(laplacian).max()
    assert np.linalg.eigvalsh(laplacian)[1] > 0


def test_it_bounds_the_flat_membrane(make_rectangle, melton):
    """P − K has no negative eigenvalue; cloth nearly without bending, which the metric leaves out."""
    mesh = make_rectangle(0.12, 0.09, 0.03, 2)
    limp = dataclasses.replace(melton, bending_length_warp=1e-4, bending_length_weft=1e-4)
    sheet = sew(mesh, limp, grain=0.5)
    flat = np.c_[mesh.flat, np.zeros(len(mesh.flat))]
    count, step = flat.size, 1e-6
    hessian = np.empty((count, count))
    for k in range(count):
        up, down = flat.ravel().copy(), flat.ravel().copy()
        up[k] += step
        down[k] -= step
        difference = cloth_forces(sheet, up.reshape(-1, 3))[0] - cloth_forces(sheet, down.reshape(-1, 3))[0]
        hessian[:, k] = -difference.ravel() / (2 * step)
    bound = np.kron(membrane_laplacian(sheet).toarray(), np.eye(3))
    slack = np.linalg.eigvalsh(bound - (hessian + hessian.T) / 2)
    assert slack.min() > -1e-7 * np.abs(hessian).max()  # differences of forces are no better
    assert np.linalg.eigvalsh(0.4 * bound - hessian).min() < -0.02 * np.abs(hessian).max()  # and it is no idle bound
