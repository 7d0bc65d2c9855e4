"""A strip clamped at its foot stands upright until its own weight makes it buckle.

Problem: an upright strip, free at the top; at which w g L³ / B does it lean over?
Answer: 7.837347 = (9/4) j², j = 1.866351 the first zero of the Bessel function J₋₁⸝₃.
Source: A. G. Greenhill, Determination of the greatest height consistent with stability, Proc. Cambridge Phil.
Soc. 4 (1881).

Sideways deflections z cost ½ zᵀ Q z and lower the weight by ½ Σ A N |∂z/∂x|² with the load N carried at x.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from scipy.linalg import eigh
from scipy.optimize import brentq
from scipy.sparse import csr_array
from scipy.special import jv

from drape.cloth.sheet import bending_stiffness, sew
from drape.triangle import edge_vectors, triangle_areas

LIMIT = 0.01


def greenhill():
    return 9 / 4 * brentq(lambda x: jv(-1 / 3, x), 1.5, 2.2) ** 2


def test_the_reference_is_the_published_one():
    assert greenhill() == pytest.approx(7.837347, abs=1e-6)


def buckling_load(make_rectangle, cloth, seed, *, edges=20, grain=0.0, known=True):
    """w g L³ / B at which a strip of unit length stands no more; known: whether the bending is told of the clamp."""
    edge = 1 / edges
    mesh = make_rectangle(1 + 2 * edge, 0.2, edge, seed)
    flat = mesh.flat - [2 * edge, 0]
    flat[np.abs(flat[:, 0]) < 0.3 * edge, 0] = 0.0
    free = flat[:, 0] > 0
    mesh = dataclasses.replace(mesh, flat=flat)
    sheet = sew(mesh, cloth, grain=grain, held=np.flatnonzero(~free) if known else None)
    corners = flat[mesh.triangles]
    across = -edge_vectors(corners)[..., 1] / (2 * triangle_areas(corners)[:, None])  # ∂/∂x of the corners' hats
    load = (1 - corners[..., 0].mean(axis=1)) * triangle_areas(corners)
    sinking = np.zeros((len(flat), len(flat)))
    local = load[:, None, None] * across[:, :, None] * across[:, None]
    np.add.at(sinking, (mesh.triangles[:, :, None], mesh.triangles[:, None]), local)
    bend = csr_array((sheet.bending_value, sheet.bending_column, sheet.bending_start), shape=sinking.shape).toarray()
    inside = np.ix_(free, free)
    top = free.sum() - 1
    largest = eigh(sinking[inside], bend[inside], eigvals_only=True, subset_by_index=[top, top])[0]
    c, s = np.cos(grain), np.sin(grain)
    moment = np.array([c * c, s * s, -c * s])
    return moment @ np.linalg.solve(bending_stiffness(cloth), moment) / largest


@pytest.fixture
def plain(melton):
    """Cloth that hardly curls across as it bends, so that no strip is too wide for the formula."""
    return dataclasses.replace(melton, poisson_ratio=0.0, twist_share=0.5)


@pytest.mark.parametrize("degrees", [0, 30, 90])
@pytest.mark.parametrize("seed", [0, 1])
def test_buckling_load(make_rectangle, plain, degrees, seed):
    got = buckling_load(make_rectangle, plain, seed, grain=np.radians(degrees))
    assert got == pytest.approx(greenhill(), rel=LIMIT)


def test_the_error_falls_with_the_square_of_the_edge(make_rectangle, plain):
    errors = [buckling_load(make_rectangle, plain, 0, edges=n) / greenhill() - 1 for n in (10, 20, 40)]
    orders = -np.diff(np.log2(np.abs(errors)))
    assert np.all((orders > 1.7) & (orders < 2.3))


def test_a_clamp_the_bending_does_not_know_of_fails(make_rectangle, melton):
    """Negative control: the strip is then longer by half an edge, and buckles 7 % sooner."""
    assert buckling_load(make_rectangle, melton, 0, known=False) != pytest.approx(greenhill(), rel=LIMIT)
