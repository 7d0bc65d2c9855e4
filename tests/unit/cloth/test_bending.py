"""Bending: exact for constant curvature in energy and in force, no modes without energy, no stiff ones."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from scipy.linalg import eigh
from scipy.sparse import csr_array

from drape.cloth import bending
from drape.cloth.mesh import Mesh
from drape.cloth.sheet import bending_product, bending_stiffness, sew
from drape.triangle import triangle_areas

QUADRATICS = {"xx": lambda x, y: x * x, "yy": lambda x, y: y * y, "xy": lambda x, y: x * y}


def matrix(sheet):
    count = len(sheet.mass)
    return csr_array((sheet.bending_value, sheet.bending_column, sheet.bending_start), shape=(count, count))


def bent(mesh, cloth, height):
    """Bending energy [J] of the mesh with heights height(x, y)."""
    sheet = sew(mesh, cloth)
    worn = np.c_[np.zeros((len(mesh.flat), 2)), height(*mesh.flat.T)]
    return 0.5 * np.sum(worn * bending_product(sheet, worn))


def mirrored(mesh, along, at):
    """The mesh and its mirror image at flat coordinate `along` = `at` [m], one piece."""
    count = len(mesh.flat)
    image = mesh.flat.copy()
    image[:, along] = 2 * at - image[:, along]
    on = np.abs(mesh.flat[:, along] - at) < 1e-9
    number = np.where(on, np.arange(count), count + np.cumsum(~on) - 1)
    triangles = np.concatenate([mesh.triangles, number[mesh.triangles][:, [0, 2, 1]]])
    return Mesh(np.concatenate([mesh.flat, image[~on]]), triangles, {}, mesh.seams)


@pytest.mark.parametrize(("along", "rigidity"), [(0, "rigidity_warp"), (1, "rigidity_weft")])
@pytest.mark.parametrize("seed", [0, 1])
def test_constant_curvature_costs_half_b_kappa_squared(make_rectangle, melton, along, rigidity, seed):
    """z = κ (x² − ν y²)/2, curled across as a free strip is, costs B κ²/2 per area, but for the triangles at the ends.

    An end carries no moment, which a constant curvature does not obey. Mirrored
    at its far end a sheet has its near end twice, and the other way about; so both mirrored sheets less
    twice the sheet have no ends, and are worth two sheets' area of interior. (Short of exact by 1e-6: at the
    sides a fit may be damped.)
    """
    curvature = 2.0
    size = (0.3, 0.2) if along == 0 else (0.2, 0.3)
    mesh = make_rectangle(*size, 0.025, seed)

    nu = melton.poisson_ratio * (1.0, melton.rigidity_weft / melton.rigidity_warp)[along]

    def height(x, y):
        return 0.5 * curvature * ((x, y)[along] ** 2 - nu * (x, y)[1 - along] ** 2)

    plain, near, far = (bent(m, melton, height) for m in (mesh, mirrored(mesh, along, 0.3), mirrored(mesh, along, 0.0)))
    exact = 0.5 * getattr(melton, rigidity) * curvature**2 * 0.3 * 0.2
    assert near + far - 2 * plain == pytest.approx(2 * exact, rel=1e-5)
    assert plain == pytest.approx(exact, rel=0.2) and plain < exact  # two rows of ends in twelve, without moment


def test_a_twist_costs_its_rigidity(make_rectangle, melton):
    """z = κ x y: energy A/2 · T (2κ)². No side of the rectangle has a normal moment, so free edges too."""
    exact = 0.5 * 0.3 * 0.2 * melton.twist_rigidity * (2 * 1.5) ** 2
    assert bent(make_rectangle(0.3, 0.2, 0.03, 4), melton, lambda x, y: 1.5 * x * y) == pytest.approx(exact, rel=1e-5)


def worst_force(mesh, cloth, grain, height):
    """Largest |Q z| three rows from the sides, over the largest diagonal times the largest |z|."""
    q = matrix(sew(mesh, cloth, grain=grain))
    x, y = mesh.flat.T
    inner = (x > 0.06) & (x < 0.24) & (y > 0.06) & (y < 0.14)
    z = height(x, y)
    return np.abs(q @ z)[inner].max() / (q.diagonal().max() * np.abs(z).max())


@pytest.mark.parametrize("name", QUADRATICS)
@pytest.mark.parametrize("seed", [0, 1, 2])
def test_constant_moments_are_in_equilibrium(make_rectangle, melton, seed, name):
    """The patch test of forces: a quadratic bends the cloth everywhere alike, so nothing pulls inside."""
    assert worst_force(make_rectangle(0.3, 0.2, 0.02, seed), melton, 0.3, QUADRATICS[name]) < 1e-13


def test_without_the_fitted_curvature_the_patch_test_fails(make_rectangle, melton, monkeypatch):
    """Negative control: slopes averaged without their correction are exact on regular meshes only."""
    monkeypatch.setattr(bending, "damped_solve", lambda square, right: 0 * right)
    assert worst_force(make_rectangle(0.3, 0.2, 0.02, 0), melton, 0.3, QUADRATICS["xx"]) > 1e-5


def test_only_plane_shapes_cost_nothing(make_rectangle, melton):
    """Three zero eigenvalues, and the fourth, the gentlest free vibration, is the same on a mesh half as wide.

    A mode without energy of its own would lie far below, or sink with the mesh.
    """
    fourth = []
    for edge in (0.02, 0.01):
        sheet = sew(make_rectangle(0.2, 0.15, edge, 5), melton)
        q = matrix(sheet).toarray()
        assert np.abs(q - q.T).max() == 0.0
        low = eigh(q, np.diag(sheet.mass), eigvals_only=True, subset_by_index=[0, 3])
        assert np.abs(low[:3]).max() < 1e-8 * low[3]
        fourth.append(low[3])
    assert fourth[0] == pytest.approx(fourth[1], rel=0.03)


@pytest.mark.parametrize("seed", range(6))
def test_the_stiffest_mode_is_no_stiffer_than_a_square_grid_s(make_rectangle, melton, seed):
    """At most 64 B/h², the largest of the five-point Laplacian squared; else the relaxation's step is too long."""
    edge = 0.02
    stiffest = np.linalg.eigvalsh(matrix(sew(make_rectangle(0.4, 0.1, edge, seed), melton)).toarray())[-1]
    assert stiffest < 64 * melton.rigidity_warp / edge**2


@pytest.mark.parametrize("degrees", [20, 75])
def test_mesh_and_grain_turned_together_change_nothing(make_rectangle, melton, degrees):
    mesh = make_rectangle(0.2, 0.15, 0.03, 6)
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    turned = dataclasses.replace(mesh, flat=mesh.flat @ np.array([[c, s], [-s, c]]))
    plain = matrix(sew(mesh, melton, grain=0.4)).toarray()
    scale = np.abs(plain).max()
    assert np.abs(matrix(sew(turned, melton, grain=0.4 + np.radians(degrees))).toarray() - plain).max() < 1e-11 * scale
    assert np.abs(matrix(sew(turned, melton, grain=0.4)).toarray() - plain).max() > 1e-3 * scale


def cut(mesh, at, turn=0.0):
    """The mesh cut along a line of edges near x = `at` [m] and seamed; the right piece laid elsewhere, turned."""
    right = mesh.flat[mesh.triangles].mean(axis=1)[:, 0] > at
    shared = np.intersect1d(mesh.triangles[right], mesh.triangles[~right])
    twin = {int(v): len(mesh.flat) + k for k, v in enumerate(shared)}
    triangles = mesh.triangles.copy()
    triangles[right] = np.vectorize(lambda v: twin.get(v, v))(triangles[right])
    flat = np.concatenate([mesh.flat, mesh.flat[shared]])
    moved = np.unique(triangles[right])
    c, s = np.cos(turn), np.sin(turn)
    flat[moved] = flat[moved] @ np.array([[c, s], [-s, c]]) + [0.5 * turn, 0.0]
    return Mesh(flat, triangles, {}, np.array(list(twin.items()), dtype=np.int64))


def test_a_seam_bends_like_plain_cloth(make_rectangle, melton):
    mesh = make_rectangle(0.2, 0.15, 0.03, 7)
    plain, sewn = sew(mesh, melton), sew(cut(mesh, 0.1), melton)
    assert np.abs((matrix(plain) - matrix(sewn)).toarray()).max() < 1e-12 * np.abs(matrix(plain).toarray()).max()
    assert sewn.mass == pytest.approx(plain.mass)


def test_a_seam_between_pieces_that_lie_turned_bends_like_plain_cloth(make_rectangle, melton):
    """In cloth as stiff along the warp as along the weft, only where the pieces lie differs."""
    mesh = make_rectangle(0.2, 0.15, 0.03, 7)
    even = dataclasses.replace(
        melton, bending_length_weft=melton.bending_length_warp, twist_share=0.5 / (1 + melton.poisson_ratio)
    )
    plain = matrix(sew(mesh, even)).toarray()
    assert np.abs(matrix(sew(cut(mesh, 0.1, turn=0.7), even)).toarray() - plain).max() < 1e-11 * np.abs(plain).max()


def end_deflection(make_rectangle, cloth, grain, *, edges, seed, clamp=True, width=0.2):
    """Deflection at the end of a strip of unit overhang under unit load per area, small, times 8 [1/(N·m)].

    Two rows of cloth behind the clamp are held; clamp: whether the bending knows of it.
    """
    edge = 1 / edges
    mesh = make_rectangle(1 + 2 * edge, width, edge, seed)
    flat = mesh.flat - [2 * edge, 0]
    flat[np.abs(flat[:, 0]) < 0.3 * edge, 0] = 0.0
    still = flat[:, 0] <= 0
    mesh = dataclasses.replace(mesh, flat=flat)
    sheet = sew(mesh, cloth, grain=grain, held=np.flatnonzero(still) if clamp else None)
    z = np.zeros(len(flat))
    z[~still] = np.linalg.solve(matrix(sheet).toarray()[np.ix_(~still, ~still)], sheet.area[~still])
    return 8 * z[flat[:, 0] > 1 - 1e-9].mean()


def compliance(cloth, grain):
    """1/B of a narrow strip cut at an angle to the warp [1/(N·m)]: mᵀ D⁻¹ m with the moment m of the strip."""
    c, s = np.cos(grain), np.sin(grain)
    moment = np.array([c * c, s * s, -c * s])
    return moment @ np.linalg.solve(bending_stiffness(cloth), moment)


@pytest.fixture
def uneven(melton):
    """Twice as stiff along the warp as along the weft; it hardly curls across as it bends, so no strip is too wide."""
    weft = melton.bending_length_warp * 0.5 ** (1 / 3)
    return dataclasses.replace(melton, bending_length_weft=weft, poisson_ratio=0.0, twist_share=0.5)


@pytest.mark.parametrize("degrees", [0, 30, 60, 90])
@pytest.mark.parametrize("seed", [0, 1, 2])
def test_a_strip_bends_by_its_direction(make_rectangle, uneven, degrees, seed):
    """End deflection w L⁴/(8 B) of beam theory, B twice as large along the warp as along the weft."""
    grain = np.radians(degrees)
    got = end_deflection(make_rectangle, uneven, grain, edges=20, seed=seed, width=0.1)
    assert got == pytest.approx(compliance(uneven, grain), rel=0.01)


@pytest.mark.parametrize("degrees", [30, 45])
def test_a_strip_that_twists_easily_bends_by_its_direction_if_it_is_narrow(make_rectangle, melton, degrees):
    """The clamp holds it flat across, which the formula does not know: with width over length the error goes to 0."""
    grain = np.radians(degrees)
    errors = [
        end_deflection(make_rectangle, melton, grain, edges=edges, seed=0, width=width) / compliance(melton, grain) - 1
        for edges, width in ((20, 0.2), (40, 0.05))
    ]
    assert -0.04 < errors[0] < errors[1] < 0 and abs(errors[1]) < 0.01


def test_warp_and_weft_exchanged_are_seen(make_rectangle, uneven):
    """Negative control of the direction."""
    got = end_deflection(make_rectangle, uneven, np.radians(60), edges=20, seed=0, width=0.1)
    assert abs(got / compliance(uneven, np.radians(30)) - 1) > 0.2


def test_a_clamp_the_bending_does_not_know_of_is_too_limp(make_rectangle, melton):
    """Negative control: the slope at the clamp is then shared with the held cloth, and the strip longer by h/2."""
    exact = 1 / melton.rigidity_warp
    assert end_deflection(make_rectangle, melton, 0.0, edges=20, seed=0) == pytest.approx(exact, rel=0.01)
    assert end_deflection(make_rectangle, melton, 0.0, edges=20, seed=0, clamp=False) > 1.04 * exact


def test_the_error_falls_with_the_square_of_the_edge(make_rectangle, uneven):
    """Order of convergence, between 1.8 and 2.2 for each mesh; no bias is left."""
    exact = 1 / uneven.rigidity_warp
    for seed in (0, 1):
        errors = [end_deflection(make_rectangle, uneven, 0.0, edges=n, seed=seed) / exact - 1 for n in (10, 20, 40)]
        orders = -np.diff(np.log2(np.abs(errors)))
        assert np.all((orders > 1.8) & (orders < 2.2))
        assert abs(errors[-1]) < 1e-3


def test_the_slope_at_an_edge_is_one_number(make_rectangle):
    """Into one triangle it is minus into the other, whatever the heights: what makes moments balance."""
    mesh = make_rectangle(0.2, 0.15, 0.03, 8)
    corners = mesh.flat[mesh.triangles]
    assert np.all(triangle_areas(corners) > 0)
    fold = bending.unfold(mesh.triangles, corners, None)
    points, weights = bending.slope_weights(mesh.triangles, fold)
    z = np.random.default_rng(0).normal(size=len(mesh.flat))
    slope = np.einsum("tkj,tj->tk", weights, z[points]).ravel()
    pair = fold.partner >= 0
    assert np.abs(slope[pair]).max() > 1
    assert slope[pair] + slope[fold.partner[pair]] == pytest.approx(np.zeros(pair.sum()), abs=1e-9)
