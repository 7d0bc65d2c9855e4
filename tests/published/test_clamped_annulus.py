"""A stiff disc of cloth round a clamp sags as an annular plate.

Problem: a thin isotropic plate of rigidity D, Poisson's ratio ν, clamped at radius a and free at b, under a uniform
load q. A strip of it has B = D (1 − ν²), and the twist rigidity D (1 − ν)/2.
Answer: deflection w of the plate equation D ∇⁴w = q in r: w = q r⁴/(64 D) + c₁ + c₂ ln r + c₃ r² + c₄ r² ln r with
w = w' = 0 at a, w'' + ν w'/r = 0 and (∇²w)' = 0 at b. For a = 0.09 m, b = 0.15 m: w(b) = 0.149747 q (b − a)⁴/D where
ν is 0, 0.137013 where it is 0.3.
Source: S. P. Timoshenko and S. Woinowsky-Krieger, Theory of plates and shells, 2nd ed. (1959), ch. 3 (from memory;
the coefficients are solved for here).
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from scipy.sparse import csr_array
from scipy.sparse.linalg import spsolve
from scipy.spatial import Delaunay

from drape.cloth.mesh import Mesh
from drape.cloth.sheet import sew
from drape.triangle import triangle_areas

INNER, OUTER = 0.09, 0.15
LIMIT = 0.025  # eight edges over the overhang; sixteen come within 0.6 %


def exact_sag(a, b, nu=0.0):
    """w(b) D/(q (b − a)⁴)."""
    slope = lambda r: [0, 1 / r, 2 * r, 2 * r * np.log(r) + r]  # noqa: E731
    bend = lambda r: [0, -1 / r**2, 2, 2 * np.log(r) + 3]  # noqa: E731
    height = lambda r: [1, np.log(r), r * r, r * r * np.log(r)]  # noqa: E731
    rows = [height(a), slope(a), np.add(bend(b), nu / b * np.array(slope(b))), [0, 0, 0, 4 / b]]
    load = [a**4 / 64, a**3 / 16, (3 + nu) * b * b / 16, b / 2]
    c = np.linalg.solve(np.array(rows, dtype=float), -np.array(load))
    return (b**4 / 64 + c @ height(b)) / (b - a) ** 4


@pytest.mark.parametrize(
    ("outer", "nu", "printed"),
    [
        (0.12, 0, 0.141479),
        (0.15, 0, 0.149747),
        (0.18, 0, 0.153458),
        (0.12, 0.3, 0.133981),
        (0.15, 0.3, 0.137013),
        (0.18, 0.3, 0.137418),
    ],
)
def test_the_reference_is_the_tabled_one(outer, nu, printed):
    assert exact_sag(INNER, outer, nu) == pytest.approx(printed, abs=2e-6)


def ring_mesh(edges, seed):
    """Rings of points, irregular but for those at a and b; two rings within the clamp."""
    edge = (OUTER - INNER) / edges
    rng = np.random.default_rng(seed)
    points = []
    for k in range(-2, edges + 1):
        radius = INNER + k * edge
        count = round(2 * np.pi * radius / edge)
        turn = 2 * np.pi * (np.arange(count) + rng.uniform()) / count
        if k not in (-2, 0, edges):
            turn += rng.uniform(-0.22, 0.22, count) * edge / radius
            radius = radius + rng.uniform(-0.22, 0.22, count) * edge
        points.append(np.c_[radius * np.cos(turn), radius * np.sin(turn)])
    flat = np.concatenate(points)
    triangles = Delaunay(flat).simplices.astype(np.int64)
    area = triangle_areas(flat[triangles])
    triangles[area < 0] = triangles[area < 0][:, [0, 2, 1]]
    hole = np.all(triangles < len(points[0]), axis=1)
    triangles = triangles[~hole & (np.abs(area) > 1e-3 * edge**2)]
    return Mesh(flat, triangles, {}, np.empty((0, 2), dtype=np.int64))


def sag(cloth, edges, seed, *, known=True):
    """Edge's deflection times D/(q (b − a)⁴); known: whether the bending is told of the clamp."""
    mesh = ring_mesh(edges, seed)
    radius = np.linalg.norm(mesh.flat, axis=1)
    free = radius > INNER * (1 + 1e-9)
    sheet = sew(mesh, cloth, grain=0.3, held=np.flatnonzero(~free) if known else None)
    count = len(radius)
    q = csr_array((sheet.bending_value, sheet.bending_column, sheet.bending_start), shape=(count, count))
    z = np.zeros(count)
    z[free] = spsolve(q[free][:, free].tocsc(), sheet.area[free])
    plate = cloth.rigidity_warp / (1 - cloth.poisson_ratio**2)
    return z[radius > OUTER * (1 - 1e-9)].mean() * plate / (OUTER - INNER) ** 4


def isotropic(cloth, nu):
    return dataclasses.replace(
        cloth, bending_length_weft=cloth.bending_length_warp, poisson_ratio=nu, twist_share=0.5 / (1 + nu)
    )


@pytest.fixture
def even(melton):
    return isotropic(melton, 0.0)


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_sag(even, seed):
    assert sag(even, 8, seed) == pytest.approx(exact_sag(INNER, OUTER), rel=LIMIT)


def test_sag_of_a_plate_that_curls_as_it_is_bent(melton):
    assert sag(isotropic(melton, 0.3), 8, 0) == pytest.approx(exact_sag(INNER, OUTER, 0.3), rel=LIMIT)


def test_cloth_that_twists_more_easily_than_a_plate_sags_more(even):
    """Negative control: half an isotropic plate's twist rigidity."""
    limp = dataclasses.replace(even, twist_share=0.25)
    assert sag(limp, 8, 0) > 1.1 * exact_sag(INNER, OUTER)


def test_the_error_falls_with_the_square_of_the_edge(even):
    errors = [sag(even, n, 0) / exact_sag(INNER, OUTER) - 1 for n in (4, 8, 16)]
    orders = -np.diff(np.log2(np.abs(errors)))
    assert np.all((orders > 1.8) & (orders < 2.2))


def test_a_straight_strip_s_sag_is_not_it_and_the_clamp_must_be_known(even):
    """Negative controls: 1/8, the strip's; and a clamp the bending does not know of."""
    assert sag(even, 8, 0) != pytest.approx(1 / 8, rel=LIMIT)
    assert sag(even, 8, 0, known=False) != pytest.approx(exact_sag(INNER, OUTER), rel=LIMIT)
