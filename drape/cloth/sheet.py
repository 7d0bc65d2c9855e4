"""Sheet: a flat mesh and a cloth's measured constants → points, masses and springs.

In: `Mesh` (flat positions [m]) and `Cloth` (SI). Out: `Sheet`, the sewn cloth as points with
lumped masses, triangular membrane springs and one constant bending matrix; and the forces both
exert. The springs equal an orthotropic continuum, so results do not depend on the mesh.
Seams are joined here: partner vertices become one point, each triangle keeps its own grain.
Leaves contact to `body_contact` and coming to rest to `relaxation`.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, NamedTuple

import numpy as np
from scipy.sparse import csr_array

from drape.arrays import Floats, Ints
from drape.cloth.bending import bending_matrix
from drape.cloth.mesh import Mesh
from drape.kernel import kernel
from drape.triangle import edge_vectors, sides_facing, triangle_areas
from drape.units import STANDARD_GRAVITY

# Twist rigidity over √(B₁B₂) where nobody measured it: a strip cut at 45° is then three quarters as stiff as one along
# the warp. From memory, as ordinary for wool; woven cloth lies between 0.16 (such a strip half as stiff) and an
# isotropic plate's 0.45 (quite as stiff). No source.
TWIST_SHARE: Final = 0.28
# A solid plate's share is never over a half; cloth of less than a hundredth would fold on the bias like paper.
LEAST_TWIST: Final = 0.01
MOST_TWIST: Final = 1.0


@dataclass(frozen=True)
class Cloth:
    """A cloth as a textile bench measures it; SI.

    areal_density [kg/m²], thickness [m], bending lengths [m], tensile and shear stiffness [N/m],
    Poisson ratio (weft contraction under warp tension) and Coulomb friction coefficients.
    twist_share: twist rigidity over the geometric mean of warp's and weft's. poisson_bent: how much the weft
    bends the other way as the warp is bent; None: as much as the Poisson ratio.
    filled: values that nobody gave, estimated.
    """

    name: str
    areal_density: float
    thickness: float
    bending_length_warp: float
    bending_length_weft: float
    tensile_stiffness_warp: float
    tensile_stiffness_weft: float
    shear_stiffness: float
    poisson_ratio: float
    friction_on_cloth: float
    friction_on_figure: float
    source: str = ""
    twist_share: float = TWIST_SHARE
    poisson_bent: float | None = None
    filled: tuple[str, ...] = ()

    @property
    def rigidity_warp(self) -> float:
        """Flexural rigidity of a warp strip [N·m], B = w g c³ (Peirce 1930)."""
        return self.areal_density * STANDARD_GRAVITY * self.bending_length_warp**3

    @property
    def rigidity_weft(self) -> float:
        """Flexural rigidity of a weft strip [N·m]."""
        return self.areal_density * STANDARD_GRAVITY * self.bending_length_weft**3

    @property
    def mean_rigidity(self) -> float:
        """Geometric mean of warp's and weft's rigidity [N·m], of the cloth as a whole (Peirce 1930)."""
        return float(np.sqrt(self.rigidity_warp * self.rigidity_weft))

    @property
    def twist_rigidity(self) -> float:
        """Twist rigidity T [N·m]: a unit length's twisting moment over twice its twist; see `bending_stiffness`."""
        return self.twist_share * self.mean_rigidity


def layered(outer: Cloth, *inner: Cloth) -> Cloth:
    """One cloth that hangs as several lying on one another do: the outside first, the inside last.

    The layers slide freely on one another, so each bends about its own middle and the bending stiffnesses D
    add; quilted or glued together they would be far stiffer. Neck, hem and edges are sewn through, so in
    their own plane all stretch alike and the plane stiffnesses C add. Warp lies on warp. Masses and
    thicknesses add. Cloth rubs with the outside's friction, the figure with the inside's.
    Source: ours, from springs side by side; tests/unit/cloth/test_sheet.py.
    """
    if not inner:
        return outer
    layers = (outer, *inner)
    density = sum(layer.areal_density for layer in layers)
    c = sum((plane_stiffness(layer) for layer in layers), np.zeros((3, 3)))
    d = sum((bending_stiffness(layer) for layer in layers), np.zeros((3, 3)))
    warp, weft = d[0, 0] - d[0, 1] ** 2 / d[1, 1], d[1, 1] - d[0, 1] ** 2 / d[0, 0]
    return Cloth(
        name=" on ".join(layer.name for layer in layers),
        areal_density=density,
        thickness=sum(layer.thickness for layer in layers),
        bending_length_warp=float(np.cbrt(warp / (density * STANDARD_GRAVITY))),
        bending_length_weft=float(np.cbrt(weft / (density * STANDARD_GRAVITY))),
        tensile_stiffness_warp=float(c[0, 0] - c[0, 1] ** 2 / c[1, 1]),
        tensile_stiffness_weft=float(c[1, 1] - c[0, 1] ** 2 / c[0, 0]),
        shear_stiffness=float(c[2, 2]),
        poisson_ratio=float(c[0, 1] / c[1, 1]),
        friction_on_cloth=outer.friction_on_cloth,
        friction_on_figure=inner[-1].friction_on_figure,
        source="; ".join(f"{layer.name}: {layer.source}" for layer in layers),
        twist_share=float(d[2, 2] / np.sqrt(warp * weft)),
        poisson_bent=float(d[0, 1] / d[1, 1]),
        filled=tuple(dict.fromkeys(name for layer in layers for name in layer.filled)),
    )


class Sheet(NamedTuple):
    """The sewn cloth: p points, t triangles. Compiled loops take it whole.

    point_of_vertex: point of each mesh vertex, shape (n,). triangles: point indices (t, 3).
    rest_squared: rest length² of the edge opposite each corner [m²], (t, 3).
    membrane: spring matrix K of each triangle [N/m³], (t, 3, 3), energy ½ Δᵀ K Δ.
    mass [kg], area [m²]: lumped, (p,). pressed_area: the same, that of points at the edge no less than the
    mean, so that they press as hard as the middle [m²]. triangle_area [m²], (t,).
    bending_*: constant symmetric matrix Q [N/m] in CSR form; energy ½ Σ xᵀ Q x over x, y, z.
    metric: a Laplacian of each triangle that bounds its membrane's stiffness [N/m], (t, 3, 3).
    edges: each edge once, its two points (e, 2). edge_area: a third of its triangles' areas [m²], (e,).
    """

    point_of_vertex: Ints
    triangles: Ints
    rest_squared: Floats
    membrane: Floats
    mass: Floats
    area: Floats
    pressed_area: Floats
    triangle_area: Floats
    bending_start: Ints
    bending_column: Ints
    bending_value: Floats
    metric: Floats
    edges: Ints
    edge_area: Floats


@dataclass(frozen=True)
class SeamAllowance:
    """What is left inside a piecing seam, pressed open: its width either side [m], and the cloth it is of."""

    width: float
    cloth: Cloth


def sew(
    mesh: Mesh, cloth: Cloth, *, grain: float = 0.0, held: Ints | None = None, inside: SeamAllowance | None = None
) -> Sheet:
    """The sewn sheet of a mesh: seam partners joined, masses lumped, springs made.

    grain: direction of the warp from the flat x axis [rad]. held: vertices that a clamp holds for good,
    flat; the clamp's jaw is the edge of the triangles that have all three corners held, so it
    takes one row of triangles behind the jaw. The solver must hold the same points fixed.
    inside: the allowances of the mesh's edges called "seam ...", which add mass and stiffness along them.
    """
    point_of_vertex, point_count = join_seams(len(mesh.flat), mesh.seams)
    triangles = point_of_vertex[mesh.triangles]
    turn = np.array([[np.cos(grain), np.sin(grain)], [-np.sin(grain), np.cos(grain)]])
    corners = (mesh.flat @ turn.T)[mesh.triangles]
    areas = triangle_areas(corners)
    rest_squared = np.sum(edge_vectors(corners) ** 2, axis=2)
    membrane = membrane_springs(corners, areas, cloth)
    area = np.asarray(np.bincount(triangles.ravel(), np.repeat(areas / 3, 3), minlength=point_count), np.float64)
    clamped = np.zeros(point_count, dtype=bool)
    if held is not None:
        clamped[point_of_vertex[held]] = True
    bending = bending_matrix(triangles, corners, point_count, bending_stiffness(cloth), clamped)
    mass = area * cloth.areal_density
    for name, run in mesh.edges.items():
        if inside is not None and name.startswith("seam "):
            places, line = mesh.flat[run], point_of_vertex[run]
            mass += seam_mass(places, line, inside, point_count)
            bending = bending + seam_bending(places, line, grain, inside, point_count)
    ends = np.sort(sides_facing(triangles), axis=2).reshape(-1, 2)
    edges, owner = np.unique(ends, axis=0, return_inverse=True)
    return Sheet(
        point_of_vertex=point_of_vertex,
        triangles=triangles,
        rest_squared=rest_squared,
        membrane=membrane,
        mass=mass,
        area=area,
        pressed_area=np.maximum(area, area.mean()),
        triangle_area=areas,
        bending_start=bending.indptr.astype(np.uint32),
        bending_column=bending.indices.astype(np.uint32),
        bending_value=bending.data.astype(np.float64),
        metric=membrane_metric(corners, areas, cloth),
        edges=edges,
        edge_area=np.asarray(np.bincount(owner.ravel(), np.repeat(areas / 3, 3)), np.float64),
    )


def weight(sheet: Sheet) -> Floats:
    """The weight of every point [N], (p, 3)."""
    return sheet.mass[:, None] * STANDARD_GRAVITY * np.array([0.0, 0.0, -1.0])


def seam_mass(places: Floats, line: Ints, inside: SeamAllowance, point_count: int) -> Floats:
    """Mass of both allowances along a seam [kg], lumped (p,). places: its flat vertices (k, 2); line:
    their points (k,).
    """
    half = np.linalg.norm(np.diff(places, axis=0), axis=1) / 2
    share = np.concatenate([half, [0.0]]) + np.concatenate([[0.0], half])
    mass = 2 * inside.width * inside.cloth.areal_density * share
    return np.asarray(np.bincount(line, mass, minlength=point_count), np.float64)


def seam_bending(places: Floats, line: Ints, grain: float, inside: SeamAllowance, point_count: int) -> csr_array:
    """What both allowances add to the bending matrix along a straight seam [N/m], (p, p).

    Each is sewn down at the seam line alone and slides on the cloth beside it. It follows where the line bends, with
    the rigidity of a strip as wide as it is; across the line its outer edge is free and it adds nothing.
    Energy ½ Σ 2 a B |change of direction|² / length, a beam's. Source: ours; tests/unit/cloth/test_sheet.py.
    """
    step = np.diff(places, axis=0)
    long = np.linalg.norm(step, axis=1)
    along = (places[-1] - places[0]) / np.linalg.norm(places[-1] - places[0])
    cos, sin = along @ [np.cos(grain), np.sin(grain)], along @ [-np.sin(grain), np.cos(grain)]
    rigidity = 2 * inside.width * stiffness_along(bending_stiffness(inside.cloth), float(np.arctan2(sin, cos)))
    turn = np.stack([1 / long[:-1], -1 / long[:-1] - 1 / long[1:], 1 / long[1:]], axis=1)
    value = rigidity * 2 / (long[:-1] + long[1:])
    points = np.stack([line[:-2], line[1:-1], line[2:]], axis=1)
    entries = value[:, None, None] * turn[:, :, None] * turn[:, None, :]
    rows, columns = np.repeat(points, 3, axis=1).ravel(), np.tile(points, (1, 3)).ravel()
    return csr_array((entries.ravel(), (rows, columns)), shape=(point_count, point_count))


def join_seams(vertex_count: int, seams: Ints) -> tuple[Ints, int]:
    """Point of each vertex once seam partners are one, and how many points there are."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    seams = np.asarray(seams, dtype=np.int64).reshape(-1, 2)
    links = coo_array((np.ones(len(seams)), (seams[:, 0], seams[:, 1])), shape=(vertex_count, vertex_count))
    _, label = connected_components(links, directed=False)
    first = np.full(label.max() + 1, vertex_count, dtype=np.int64)
    np.minimum.at(first, label, np.arange(vertex_count))
    rank = np.argsort(np.argsort(first))
    return rank[label].astype(np.int64), len(first)


def orthotropic(warp: float, weft: float, poisson: float, across: float) -> Floats:
    """Stiffness (3, 3) of an orthotropic sheet, warp first.

    warp, weft: of a strip whose sides are free. poisson: what the weft gives way when the warp is strained.
    across: of shear or twist. Source: S. G. Lekhnitskii, Anisotropic Plates, 1968, ch. 2 and 9 (from memory).
    """
    denominator = 1 - poisson * poisson * weft / warp
    coupled = poisson * weft / denominator
    return np.array([[warp / denominator, coupled, 0], [coupled, weft / denominator, 0], [0, 0, across]])


def plane_stiffness(cloth: Cloth) -> Floats:
    """Orthotropic plane stiffness C (3, 3) [N/m] for (E11, E22, 2E12), warp first."""
    return orthotropic(
        cloth.tensile_stiffness_warp, cloth.tensile_stiffness_weft, cloth.poisson_ratio, cloth.shear_stiffness
    )


def bending_stiffness(cloth: Cloth) -> Floats:
    """Bending stiffness D (3, 3) [N·m] for (κ11, κ22, 2κ12), warp first: a thin orthotropic plate's.

    D = [[B₁, ν B₂, 0], [ν B₂, B₂, 0], [0, 0, T]], the first two rows over 1 − ν² B₂/B₁. B₁ and B₂ are what strips along
    warp and weft have, their sides free, and T is the twisting moment over 2κ12: D_xy = G h³/12 of a solid plate,
    B/(2 (1 + ν)) of an isotropic one. Source: S. P. Timoshenko and S. Woinowsky-Krieger, Theory of Plates and
    Shells, 1959, ch. 11 (from memory). That cloth needs one measurement besides warp and weft: D. N. E. Cooper, The
    stiffness of woven textiles, J. Text. Inst. 51 (1960), T317 (its abstract). A single cloth is taken to have
    the Poisson ratio of its plane when bent too, since no test on a table tells them apart.
    """
    poisson = cloth.poisson_ratio if cloth.poisson_bent is None else cloth.poisson_bent
    return orthotropic(cloth.rigidity_warp, cloth.rigidity_weft, poisson, cloth.twist_rigidity)


def stiffness_along(stiffness: Floats, grain: float) -> float:
    """Stiffness of a narrow strip cut at `grain` [rad] to the warp, its sides free, from that of its sheet (3, 3).

    Pulled or bent by N it has N (cos², sin², sin cos) in the warp's frame, and gives way as that needs: 1/S = cos⁴/S₁ +
    sin⁴/S₂ + (1/S₃ − 2ν/S₁) sin² cos². A wide sheet that may not curl or twist besides is stiffer. Source: Lekhnitskii
    (see `orthotropic`); for a cloth's plane W. F. Kilby, J. Text. Inst. 54 (1963), T9; both from memory.
    """
    cos, sin = np.cos(grain), np.sin(grain)
    load = np.array([cos * cos, sin * sin, cos * sin])
    return float(1 / (load @ np.linalg.solve(stiffness, load)))


def membrane_springs(corners: Floats, areas: Floats, cloth: Cloth) -> Floats:
    """Spring matrices K (t, 3, 3) [N/m³] with energy ½ Δᵀ K Δ, Δᵢ = lᵢ² − Lᵢ², equal to ½ A E:C:E.

    Green strain is linear in Δ: with rows [ex², ey², ex·ey] of M for the three edges,
    (E11, E22, 2E12) = ½ M⁻¹ Δ and K = A/4 · M⁻ᵀ C M⁻¹.
    Source: Delingette, Triangular springs for modeling nonlinear membranes, IEEE TVCG 14 (2008),
    isotropic; the orthotropic form is ours (tests/unit/cloth/test_sheet.py).
    """
    edges = edge_vectors(corners)
    m = np.stack([edges[..., 0] ** 2, edges[..., 1] ** 2, edges[..., 0] * edges[..., 1]], axis=2)
    inverse = np.linalg.inv(m)
    c = plane_stiffness(cloth)
    return areas[:, None, None] / 4 * np.swapaxes(inverse, 1, 2) @ c @ inverse


def membrane_metric(corners: Floats, areas: Floats, cloth: Cloth) -> Floats:
    """Per triangle, A Bᵀ diag(a, b) B (t, 3, 3) [N/m], with B the gradients of its hat functions.

    For any displacement u, E:C:E ≤ a |∂₁u|² + b |∂₂u|² to second order, with a = max(C11 + C12, 2G)
    and b = max(C22 + C12, 2G): one matrix for x, y and z that bounds the membrane's stiffness.
    """
    c = plane_stiffness(cloth)
    along = np.maximum(np.array([c[0, 0], c[1, 1]]) + c[0, 1], 2 * c[2, 2])
    edges = edge_vectors(corners)
    gradient = np.stack([-edges[..., 1], edges[..., 0]], axis=2) / (2 * areas[:, None, None])
    return areas[:, None, None] * (gradient * along) @ np.swapaxes(gradient, 1, 2)


@kernel
def tensions(x, triangles, rest_squared, membrane, t):  # pragma: no cover - compiled
    """Membrane of triangle t: 2 τₖ eₖ of each edge, three triples [N], and its energy [J].

    Δₖ = |x_{k+1} − x_{k+2}|² − Lₖ², τ = K Δ; the ends of edge k are drawn together with 2 τₖ eₖ.
    """
    a = triangles[t, 0]
    b = triangles[t, 1]
    c = triangles[t, 2]
    e0x = x[c, 0] - x[b, 0]
    e0y = x[c, 1] - x[b, 1]
    e0z = x[c, 2] - x[b, 2]
    e1x = x[a, 0] - x[c, 0]
    e1y = x[a, 1] - x[c, 1]
    e1z = x[a, 2] - x[c, 2]
    e2x = x[b, 0] - x[a, 0]
    e2y = x[b, 1] - x[a, 1]
    e2z = x[b, 2] - x[a, 2]
    d0 = e0x * e0x + e0y * e0y + e0z * e0z - rest_squared[t, 0]
    d1 = e1x * e1x + e1y * e1y + e1z * e1z - rest_squared[t, 1]
    d2 = e2x * e2x + e2y * e2y + e2z * e2z - rest_squared[t, 2]
    k = membrane[t]
    t0 = 2.0 * (k[0, 0] * d0 + k[0, 1] * d1 + k[0, 2] * d2)
    t1 = 2.0 * (k[1, 0] * d0 + k[1, 1] * d1 + k[1, 2] * d2)
    t2 = 2.0 * (k[2, 0] * d0 + k[2, 1] * d1 + k[2, 2] * d2)
    first, second = (t0 * e0x, t0 * e0y, t0 * e0z), (t1 * e1x, t1 * e1y, t1 * e1z)
    return first, second, (t2 * e2x, t2 * e2y, t2 * e2z), 0.25 * (t0 * d0 + t1 * d1 + t2 * d2)


@kernel
def add_membrane(x, triangles, rest_squared, membrane, force):  # pragma: no cover - compiled
    """Adds the membrane's forces on the points to force (p, 3) [N]; returns its energy [J]."""
    energy = 0.0
    for t in range(len(triangles)):
        a = triangles[t, 0]
        b = triangles[t, 1]
        c = triangles[t, 2]
        f0, f1, f2, stored = tensions(x, triangles, rest_squared, membrane, t)
        energy += stored
        force[a, 0] += f2[0] - f1[0]
        force[a, 1] += f2[1] - f1[1]
        force[a, 2] += f2[2] - f1[2]
        force[b, 0] += f0[0] - f2[0]
        force[b, 1] += f0[1] - f2[1]
        force[b, 2] += f0[2] - f2[2]
        force[c, 0] += f1[0] - f0[0]
        force[c, 1] += f1[1] - f0[1]
        force[c, 2] += f1[2] - f0[2]
    return energy


@kernel
def bending_force(x, start, column, value, i):  # pragma: no cover - compiled
    """Bending force −(Q x)ᵢ on point i, a triple [N]."""
    fx = 0.0
    fy = 0.0
    fz = 0.0
    for k in range(start[i], start[i + 1]):
        j = column[k]
        q = value[k]
        fx -= q * x[j, 0]
        fy -= q * x[j, 1]
        fz -= q * x[j, 2]
    return fx, fy, fz


def cloth_forces(sheet: Sheet, worn: Floats) -> tuple[Floats, float]:
    """Membrane and bending forces on the points [N], shape (p, 3), and their energy [J].

    The plain form of what the solver's kernels do point by point; tests and readings use it.
    """
    forces = -bending_product(sheet, worn)
    energy = -0.5 * float(np.sum(worn * forces))
    energy += pull_membrane(sheet, worn, forces)
    return forces, energy


def pull_membrane(sheet: Sheet, worn: Floats, forces: Floats, where: Ints | slice = slice(None)) -> float:
    """Adds to forces (p, 3) [N] those of the membrane, or of its triangles `where`; returns their energy [J]."""
    triangles = sheet.triangles[where].astype(np.uint32)  # as the solver has them, or the loop is compiled once more
    return float(add_membrane(worn, triangles, sheet.rest_squared[where], sheet.membrane[where], forces))


def bending_product(sheet: Sheet, worn: Floats) -> Floats:
    """Q x, shape (p, 3) [N]."""
    count = len(sheet.mass)
    matrix = csr_array((sheet.bending_value, sheet.bending_column, sheet.bending_start), shape=(count, count))
    return matrix @ worn


# Standard uncertainty of a value that is filled: as wide as such a value spreads within a class of wool;
# from memory. Of the value itself, but for the last three, which are absolute. Of twist: between the bounds of
# `TWIST_SHARE` lie 0.57 and 1.6 of it.
FILLED_SHARE: Final = MappingProxyType(
    {"thickness": 0.35, "bending_length": 0.2, "tensile_stiffness": 0.5, "shear_stiffness": 0.5, "twist_share": 0.4}
)


FILLED_PLAIN: Final = MappingProxyType({"poisson_ratio": 0.1, "friction_on_cloth": 0.15, "friction_on_figure": 0.15})
