"""Bending: a flat triangulation and flexural rigidities → one constant bending matrix.

In: triangles, their corners in each triangle's own grain frame [m], a plate's stiffness [N·m]. Out: a sparse
symmetric Q [N/m] with energy ½ Σ over x, y, z of xᵀ Q x. The rest is flat, so Q never changes.

Each triangle's mean curvature is the sum over its edges of length × sym(normal ⊗ gradient at the
edge's middle) over its area, as in the element of Morley (The constant-moment plate-bending element,
J. Strain Analysis 6, 1971). His slope across an edge is an unknown; here it is a number that both
triangles share, estimated from the heights around and exact for every quadratic. Because it is shared,
curvatures times areas telescope, and constant moments are in equilibrium on any mesh (the patch test
of forces; compare Bergan and Nygård, Finite elements with increased freedom in choosing shape
functions, Int. J. Numer. Meth. Eng. 20, 1984). Because every state is one of Morley's, whose energy
is nought for planes only, there are no modes without energy.
Slopes at edges instead of unknown rotations: Oñate and Zárate, Rotation-free triangular plate and
shell elements, Int. J. Numer. Meth. Eng. 47 (2000); theirs is exact on regular meshes only.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drape.arrays import Flags, Floats, Ints
from drape.cloth.mesh import partners
from drape.triangle import edge_vectors, triangle_areas

STENCIL = 12  # corners, far corners of the neighbours, far corners of theirs
WEAK = 0.02  # of a fit's stiffness: along axes below that it is damped; away from free edges none is below 0.05


def bending_matrix(triangles: Ints, corners: Floats, point_count: int, stiffness: Floats, held: Flags | None = None):
    """Constant bending matrix Q (scipy CSR, p × p) [N/m]; energy ½ Σ A κᵀ D κ for each of x, y, z.

    corners (t, 3, 2) [m] in each triangle's grain frame; stiffness (3, 3): D [N·m] for
    (κ11, κ22, 2κ12), positive definite. held (p,): points that a clamp holds for good. Where a triangle with all three
    points held meets another, the edge they share has the held one's slope: the clamp is at that edge.
    """
    from scipy.sparse import csr_array

    points, weights = curvature_weights(triangles, corners, stiffness, held)
    root = np.sqrt(triangle_areas(corners))[:, None, None] * (np.linalg.cholesky(stiffness).T @ weights)
    rows = 3 * len(triangles)
    half = csr_array(
        (root.ravel(), np.repeat(points, 3, axis=0).ravel(), STENCIL * np.arange(rows + 1)),
        shape=(rows, point_count),
    )
    half.sum_duplicates()
    matrix = (half.T @ half).tocsr()
    matrix.data[np.abs(matrix.data) < 1e-14 * np.abs(matrix.data).max()] = 0
    matrix.eliminate_zeros()
    matrix.sort_indices()
    return matrix


def curvature_weights(triangles: Ints, corners: Floats, stiffness: Floats, held: Flags | None) -> tuple[Ints, Floats]:
    """Points of each triangle (t, 12), and their weights in its (κ11, κ22, 2κ12), (t, 3, 12) [1/m²]."""
    t = len(triangles)
    fold = unfold(triangles, corners, held)
    points, slope = slope_weights(triangles, fold)
    edges = edge_vectors(corners)
    length = np.linalg.norm(edges, axis=2)
    tx, ty = edges[..., 0] / length, edges[..., 1] / length  # the outward normal is (ty, −tx)
    share = (length / triangle_areas(corners)[:, None])[..., None]
    across = share * np.stack([ty * ty, tx * tx, -2 * tx * ty], axis=2)
    along = share * np.stack([tx * ty, -tx * ty, ty * ty - tx * tx], axis=2)
    rise = np.zeros((3, STENCIL))
    rise[[0, 1, 2], [1, 2, 0]], rise[[0, 1, 2], [2, 0, 1]] = -1, 1
    weights = np.einsum("tki,kj->tij", along / length[..., None], rise)
    weights -= np.einsum("tki,tkj->tij", across, slope)
    free = (fold.partner < 0).reshape(t, 3)
    return points, without_normal_moment(weights, across, free, stiffness)


def without_normal_moment(weights: Floats, across: Floats, free: Flags, stiffness: Floats) -> Floats:
    """Weights once each free edge has the slope of least energy, at which it carries no normal moment."""
    touched = np.flatnonzero(free.any(axis=1))
    unit = across[touched] * free[touched, :, None]
    stiffened = unit @ stiffness
    stiff = stiffened @ np.swapaxes(unit, 1, 2)
    scale = np.trace(stiff, axis1=1, axis2=2)[:, None, None]
    stiff += scale * np.eye(3) * ~free[touched, :, None]
    moment = stiffened @ weights[touched]
    weights[touched] -= np.einsum("tki,tkj->tij", unit, np.linalg.solve(stiff, moment))
    return weights


@dataclass(frozen=True)
class Fold:
    """Every triangle's three edges (n = 3t, edge k opposite corner k) and what lies over them.

    partner: the same edge in the other triangle, −1 at a free edge. turned: −1 where both run the same
    way along it, else 1. clamp: edges between a held triangle and a free one; held: those of the held one.
    length [m]; foot and height of the opposite corner, from the edge's middle and into the triangle [m].
    """

    partner: Ints
    turned: Ints
    clamp: Flags
    held: Flags
    length: Floats
    foot: Floats
    height: Floats


def unfold(triangles: Ints, corners: Floats, held: Flags | None) -> Fold:
    """The edges of the triangles, paired."""
    start = np.roll(triangles, -1, axis=1).ravel()
    partner = partners(triangles)
    a, b = (np.roll(corners, -k, axis=1).reshape(-1, 2) for k in (1, 2))
    length = np.linalg.norm(b - a, axis=1)
    unit, offset = (b - a) / length[:, None], corners.reshape(-1, 2) - (a + b) / 2
    still = np.zeros(len(start), dtype=bool)
    if held is not None:
        still = np.repeat(held[triangles].all(axis=1), 3)
    return Fold(
        partner=partner,
        turned=np.where(start[partner] == start, -1, 1),
        clamp=(partner >= 0) & (still != still[partner]),
        held=still,
        length=length,
        foot=np.sum(offset * unit, axis=1),
        height=unit[:, 0] * offset[:, 1] - unit[:, 1] * offset[:, 0],
    )


def slope_weights(triangles: Ints, fold: Fold) -> tuple[Ints, Floats]:
    """Points of each triangle (t, 12) and weights of the slope into it at each edge's middle, (t, 3, 12) [1/m].

    Zero at free edges. The slope is that of the two triangles, each weighted by the other's height,
    less the error which the fitted curvature of both and their neighbours explains.
    """
    t, own = len(triangles), own_side(fold)
    there = fold.partner >= 0
    other = np.where(there[:, None], own[fold.partner], 0.0)
    flap = np.where(there, triangles.ravel()[fold.partner], 0).reshape(t, 3)
    wings = np.stack([np.roll(flap, -1, axis=1), np.roll(flap, -2, axis=1)], axis=2).reshape(-1, 2)
    points = np.concatenate([triangles, flap, wings[fold.partner].reshape(t, 6)], axis=1)
    k = np.tile([0, 1, 2], t)
    edge, a, b = np.arange(3 * t), (k + 1) % 3, (k + 2) % 3
    weights = np.zeros((3 * t, STENCIL))
    for column, place in enumerate((a, b, k, 3 + a, 3 + b)):
        weights[edge, place] += own[:, column]
    their_a = np.where(fold.turned > 0, b, a)
    for column, place in enumerate((their_a, a + b - their_a, 3 + k, 6 + 2 * k, 7 + 2 * k)):
        weights[edge, place] -= other[:, column]
    return points, weights.reshape(t, 3, STENCIL)


def own_side(fold: Fold) -> Floats:
    """A triangle's part in the slope at its edges, (n, 5) over the edge's ends, the corner, two far corners.

    The slope is this less the partner's part. Heights z = ½ (Kₜₜ u² + Kₙₙ v² + 2Kₜₙ u v), u along the edge
    from its middle, have no slope there; the triangles' slopes read `gradient_form`, linear in K, instead.
    K is fitted to the kinks at the edge and at the other two edges of both triangles.
    """
    there = (fold.partner >= 0) & ~fold.clamp
    gradient, gradient_form = own_gradient(fold)
    kink, kink_form = wing_kinks(fold, there)
    flip = np.stack([np.ones_like(fold.turned), np.ones_like(fold.turned), fold.turned], axis=1)
    their_height = fold.height[fold.partner]
    share = np.where(there, their_height / (fold.height + their_height), fold.clamp & fold.held)
    error = share[:, None] * gradient_form - (1 - share)[:, None] * flip * gradient_form[fold.partner]
    middle = gradient_form + flip * gradient_form[fold.partner]
    square = np.einsum("nwi,nwj->nij", kink_form, kink_form)
    square += flip[:, :, None] * square[fold.partner] * flip[:, None]
    square += middle[:, :, None] * middle[:, None]
    fit = damped_solve(square, error) * there[:, None]
    own = np.zeros((len(fit), 5))
    own[:, :3] = (share - np.sum(middle * fit, axis=1))[:, None] * gradient
    return own - np.einsum("nwi,ni,nwj->nj", kink_form, fit, kink)


def damped_solve(square: Floats, right: Floats) -> Floats:
    """Solutions (n, 3) of symmetric systems (n, 3, 3), parts along weak axes damped.

    At the cloth's free edges a fit may have three kinks only, which leave some curvature all but undetermined.
    """
    value, axis = np.linalg.eigh(square)
    inverse = value / np.maximum(value, WEAK * value.sum(axis=1, keepdims=True)) ** 2
    return np.einsum("nij,nj,nkj,nk->ni", axis, inverse, axis, right)


def own_gradient(fold: Fold) -> tuple[Floats, Floats]:
    """Slope of the plane through a triangle's corners into it: weights (n, 3) over ends and corner; form (n, 3)."""
    u, v, half = fold.foot, fold.height, fold.length / 2
    weights = np.stack([0.5 * (u / half - 1), -0.5 * (u / half + 1), np.ones_like(u)], axis=1) / v[:, None]
    form = 0.5 * np.stack([(u * u - half * half) / v, v, u], axis=1)
    return weights, form


def wing_kinks(fold: Fold, there: Flags) -> tuple[Floats, Floats]:
    """Change of slope over a triangle's other two edges: weights (n, 2, 5) and forms (n, 2, 3); 0 at free edges.

    A far corner's height over the triangle's plane, by its distance from the edge. In the frame of one
    edge the next begins at (L/2, 0), the one after at the corner.
    """
    u, v, half = fold.foot, fold.height, fold.length / 2
    n = len(u)
    kink, form = np.zeros((n, 2, 5)), np.empty((n, 2, 3))
    start = np.array([[half, 0 * u], [u, v]])
    finish = np.array([[u, v], [-half, 0 * u]])
    far_foot, far_height = fold.turned * -fold.foot[fold.partner], fold.height[fold.partner]
    base = np.arange(n) // 3 * 3
    for w in range(2):
        edge = base + (np.arange(n) + 1 + w) % 3
        unit = (finish[w] - start[w]) / fold.length[edge]
        x, y = (start[w] + finish[w]) / 2 + far_foot[edge] * unit + far_height[edge] * np.stack([unit[1], -unit[0]])
        corner = y / v  # barycentric: of the corner, then of the two ends
        lean = (x - corner * u) / (2 * half)
        first, last = (1 - corner) / 2 - lean, (1 - corner) / 2 + lean
        ends = (1 - corner) * half * half
        kink[:, w, :3] = -np.stack([first, last, corner], axis=1)
        kink[:, w, 3 + w] = 1
        form[:, w] = 0.5 * np.stack(
            [x * x - ends - corner * u * u, y * y - corner * v * v, x * y - corner * u * v], axis=1
        )
        scale = np.where(there[edge], 1 / far_height[edge], 0.0)[:, None]
        kink[:, w] *= scale
        form[:, w] *= scale
    return kink, form
