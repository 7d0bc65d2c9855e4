"""What is drawn of a fitting: cloth as thick as it is, finer than it was settled, and the mannequin.

In: a fitting. Out: named surfaces, positions [m], triangles, unit normals, colours 0 to 255. A settled triangle is
flat, wool is not: each is halved until its sides are about a centimetre, the new points laid on the arc through the
settled ones, which stay where they are. Where arcs of two layers would cross, they are drawn flatter: settled triangles
do not cross. Flat triangles over a round shoulder cut through it; points of the cloth that would be drawn inside the
mannequin are lifted onto it, and by how much is kept. Draws nothing, reads nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from drape.arrays import Floats, Ints
from drape.cloth.mesh import sewn_edges, vertex_normals, welded
from drape.triangle import sides_of

if TYPE_CHECKING:
    from drape.reading.result import Fitting


DRAWN_EDGE = 0.012  # [m] triangles are halved until their mean side is no longer
BEND = 0.5  # share of the way to the tangent planes that lays a middle on the circle through both ends
FLATTENED, FLAT_FROM = 0.5, 0.2  # of its arc is left of a triangle that crosses; from where on none of it
APART_TRIES = 12  # of drawing layers flatter; more than it takes from arcs to flat triangles three times over
CLEAR = 0.6  # of the thickness: how far the cloth's middle is drawn off the mannequin at least
NEAR = 0.02  # [m] beyond a side of its mesh: cloth further from the mannequin's vertices is not asked if it lies inside
RIM_SHADE = 0.72  # of the outside's colour on the cut edge: raw wool, seen end on


@dataclass(frozen=True)
class Surface:
    """A named part of the picture. vertex: for cloth, the drawn vertex each point comes from; else empty."""

    name: str
    points: Floats  # (n, 3) [m]
    triangles: Ints  # (t, 3)
    normals: Floats  # (n, 3)
    colour: Floats  # (3,) or (n, 3)
    vertex: Ints


@dataclass(frozen=True)
class Drawn:
    """The cloth as drawn: its middle surface, halved `sides` times over.

    weld: for each vertex the point it shares with its seam partner. lift: how far the furthest vertex was
    moved out of the mannequin [m].
    """

    points: Floats  # (n, 3) [m]
    triangles: Ints
    normals: Floats
    weld: Ints
    edges: Mapping[str, Ints]
    sides: tuple[Ints, ...]
    lift: float

    @property
    def cut(self) -> list[Ints]:
        """Runs of vertices along the edges that are cut, not sewn: neck, openings, hem."""
        return [run for name, run in self.edges.items() if name not in sewn_edges(self.edges, self.weld)]

    @property
    def seams(self) -> list[Ints]:
        """Runs of vertices along the seams, each seam once."""
        taken: set[int] = set()
        runs = []
        for name in sorted(sewn_edges(self.edges, self.weld)):
            points = self.weld[self.edges[name]]
            if int(points[len(points) // 2]) not in taken:
                runs.append(self.edges[name])
                taken |= set(points.tolist())
        return runs

    def carried(self, values: Floats) -> Floats:
        """Values of the settled vertices (m, ...) at the drawn ones (n, ...), halfway between on each halving."""
        return _carried(values, self.sides)


def _carried(values: Floats, halvings: Sequence[Ints]) -> Floats:
    for sides in halvings:
        values = np.concatenate([values, values[sides].mean(axis=1)])
    return values


def unique_pairs(pairs: Ints) -> tuple[Ints, Ints]:
    """The different pairs (m, 2) of numbers among pairs (k, 2), in order, and which of them each is, (k,)."""
    key, place = np.unique(_pair_key(pairs), return_inverse=True)
    return np.column_stack([key >> 32, key & 0xFFFFFFFF]), place


def _pair_key(pairs: Ints) -> Ints:
    """One number for each pair, in the order of the pairs: sorted many times faster than they are."""
    return (pairs[:, 0].astype(np.int64) << 32) + pairs[:, 1]


def pieces_of(triangles: Ints, edges: Mapping[str, Ints]) -> Ints:
    """Number of the piece each triangle belongs to, (t,): triangles that share a side are one piece,
    unless it is a seam.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    count = len(triangles)
    ends = np.sort(sides_of(triangles), axis=2).reshape(-1, 2)
    runs = [np.column_stack([run[:-1], run[1:]]) for name, run in edges.items() if name.startswith("seam ")]
    _, side = unique_pairs(np.concatenate([ends, *(np.sort(run, axis=1) for run in runs)]))
    side, sewn = side[: len(ends)], side[len(ends) :]
    order = np.argsort(side, kind="stable")
    pair = (side[order][1:] == side[order][:-1]) & ~np.isin(side[order][1:], sewn)
    first, second = order[:-1][pair] // 3, order[1:][pair] // 3
    links = coo_array((np.ones(len(first)), (first, second)), shape=(count, count))
    return np.asarray(connected_components(links, directed=False)[1], np.int64)


def parted(surface: Surface, piece: Ints) -> tuple[Surface, Ints, Ints]:
    """The surface with vertices of its own for each piece of cloth, `piece` of each triangle (t,).

    Also which old vertex each new one was, and its piece.
    """
    count = int(piece.max()) + 1
    key, index = np.unique(surface.triangles * count + piece[:, None], return_inverse=True)
    was = key // count
    colour = surface.colour if surface.colour.ndim == 1 else surface.colour[was]
    vertex = surface.vertex[was] if len(surface.vertex) else surface.vertex
    own = Surface(surface.name, surface.points[was], index.reshape(-1, 3), surface.normals[was], colour, vertex)
    return own, was, key % count


def drawn_cloth(fitting: Fitting, *, edge: float = DRAWN_EDGE) -> Drawn:
    """The worn cloth halved until its mean side is at most `edge` [m], and kept out of the mannequin."""
    points, triangles = np.asarray(fitting.worn, float), np.asarray(fitting.triangles, np.int64)
    edges = {name: np.asarray(index, np.int64) for name, index in fitting.edges.items()}
    weld, halvings = welded(points, edges), []
    while _mean_side(points, triangles) > edge:
        points, triangles, weld, edges, sides = _halved(points, triangles, weld, edges)
        halvings.append(sides)
    points, lift = _lifted(_kept_apart(points, triangles, weld, halvings, fitting), fitting)
    return Drawn(points, triangles, vertex_normals(points, triangles, weld), weld, edges, tuple(halvings), lift)


def _mean_side(points: Floats, triangles: Ints) -> float:
    return float(np.linalg.norm(points[triangles] - points[np.roll(triangles, 1, axis=1)], axis=2).mean())


def _halved(
    points: Floats, triangles: Ints, weld: Ints, edges: Mapping[str, Ints]
) -> tuple[Floats, Ints, Ints, dict[str, Ints], Ints]:
    """Every triangle cut in four, new points on the arc between two old ones; the sides' vertex pairs (k, 2)."""
    normals = vertex_normals(points, triangles, weld)
    sides, side_of = unique_pairs(np.sort(sides_of(triangles), axis=2).reshape(-1, 2))
    middle = len(points) + side_of.reshape(-1, 3)
    new = _arc_middles(points[sides], normals[sides])
    sewn = sewn_edges(edges, weld)
    finer = {}
    for name, index in edges.items():
        at = _place_of(sides, np.sort(np.column_stack([index[:-1], index[1:]]), axis=1))
        if name not in sewn and len(index) > 2:
            new[at] = _curve_middles(points[index])
        finer[name] = np.empty(2 * len(index) - 1, np.int64)
        finer[name][::2], finer[name][1::2] = index, len(points) + at
    twins = unique_pairs(np.sort(weld[sides], axis=1))[1]
    a, b, c = triangles.T
    ab, bc, ca = middle.T
    quarters = np.stack([[a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca]]).transpose(2, 0, 1).reshape(-1, 3)
    return np.vstack([points, new]), quarters, np.concatenate([weld, weld.max() + 1 + twins]), finer, sides


def _arc_middles(ends: Floats, normals: Floats) -> Floats:
    """Middles of sides (k, 2, 3), moved half way to the tangent planes at both ends: on a circle, onto it."""
    middle = ends.mean(axis=1)
    off = np.einsum("kec,kec->ke", middle[:, None] - ends, normals)
    return middle - BEND * np.einsum("ke,kec->kc", off, normals) / 2


def _curve_middles(run: Floats) -> Floats:
    """Middles along a run of points (k, 3), k > 2, on the cubic through the two on either side,
    a quadratic at its ends.

    Source: Dyn, Levin and Gregory (1987).
    """
    before, after = 3 * run[0] - 3 * run[1] + run[2], 3 * run[-1] - 3 * run[-2] + run[-3]
    padded = np.vstack([before, run, after])
    return (9 * (padded[1:-2] + padded[2:-1]) - padded[:-3] - padded[3:]) / 16


def _place_of(sides: Ints, wanted: Ints) -> Ints:
    """Rows of the sorted pairs `sides` at which the pairs `wanted` stand."""
    return np.searchsorted(_pair_key(sides), _pair_key(wanted))


def _kept_apart(points: Floats, triangles: Ints, weld: Ints, halvings: Sequence[Ints], fitting: Fitting) -> Floats:
    """Points on arcs, (n, 3), drawn nearer to the flat triangles that were settled where layers would cross on arcs.

    Flat ones do not cross, so this ends; of cloth that crosses itself as it settled, that much is left.
    """
    if not halvings:
        return points
    from drape.cloth.self_contact import crossing_pairs, weave

    flat, settled = _carried(np.asarray(fitting.worn, float), halvings), np.asarray(fitting.triangles, np.int64)
    corners, mesh, first = weld[settled], weave(weld[triangles]), np.unique(weld, return_index=True)[1]
    share, drawn = np.ones(int(corners.max()) + 1), points
    for _ in range(APART_TRIES):
        crossing = np.unique(corners[crossing_pairs(mesh, drawn[first]) * len(settled) // len(triangles)])
        if not share[crossing].any():
            break
        share[crossing] *= FLATTENED
        share[share < FLAT_FROM] = 0.0
        of_vertex = np.empty(len(fitting.worn))
        of_vertex[settled] = share[corners]
        drawn = flat + _carried(of_vertex, halvings)[:, None] * (points - flat)
    return drawn


def _lifted(points: Floats, fitting: Fitting) -> tuple[Floats, float]:
    """Points moved out to CLEAR of the thickness off the mannequin, and the longest way one was moved [m]."""
    body = fitting.figure_vertices
    outward = vertex_normals(body, np.asarray(fitting.figure_triangles, np.int64))
    reach = NEAR + _mean_side(body, np.asarray(fitting.figure_triangles, np.int64))
    away, nearest = cKDTree(body).query(points, distance_upper_bound=reach)
    near = np.flatnonzero(np.isfinite(away))
    plane = outward[nearest[near]]
    off = np.einsum("kc,kc->k", points[near] - body[nearest[near]], plane)
    short = np.clip(CLEAR * float(fitting.thickness) - off, 0.0, None)
    moved = points.copy()
    moved[near] += short[:, None] * plane
    return moved, float(short.max(initial=0.0))


def cloth_surfaces(drawn: Drawn, thickness: float, outside: Floats, inside: Floats) -> list[Surface]:
    """Outer face, inner face and the cut edge between them. outside: one colour (3,), or one per vertex (n, 3)."""
    half = 0.5 * thickness * drawn.normals
    outer, inner = drawn.points + half, drawn.points - half
    index = np.arange(len(outer))
    runs = drawn.cut
    faces = [
        Surface("outside", outer, drawn.triangles, drawn.normals, outside, index),
        Surface("inside", inner, drawn.triangles[:, ::-1], -drawn.normals, inside, index),
    ]
    return [*faces, _cut_edge(outer, inner, runs, outside)] if runs else faces


def _cut_edge(outer: Floats, inner: Floats, runs: Sequence[Ints], outside: Floats) -> Surface:
    """The strip between the two faces along the cut edges, with corners and normals of its own."""
    points, triangles, vertex, first = [], [], [], 0
    for run in runs:
        k = np.arange(len(run) - 1) + first
        quads = np.column_stack([k, k + 1, k + 1 + len(run), k + len(run)])
        triangles += [quads[:, (0, 1, 2)], quads[:, (0, 2, 3)]]
        points += [outer[run], inner[run]]
        vertex += [run, run]
        first += 2 * len(run)
    place, source = np.vstack(points), np.concatenate(vertex)
    strip = np.vstack(triangles)
    shade = outside if outside.ndim == 1 else outside[source]
    return Surface("cut edge", place, strip, vertex_normals(place, strip), RIM_SHADE * shade, source)


def figure_surface(fitting: Fitting, colour: Floats) -> Surface:
    """The mannequin, whole."""
    triangles = np.asarray(fitting.figure_triangles, np.int64)
    normals = vertex_normals(fitting.figure_vertices, triangles)
    return Surface("figure", fitting.figure_vertices, triangles, normals, colour, np.empty(0, np.int64))


def level_curves(fitting: Fitting, height: float) -> list[Floats]:
    """The mannequin's outline at a height [m], as closed curves (k, 3)."""
    from drape.reading.level_section import chain, plane_cuts

    curves = chain(*plane_cuts(fitting.figure_vertices, np.asarray(fitting.figure_triangles, np.int64), height))
    return [np.column_stack([c, np.full(len(c), height)]) for c in curves if len(c) > 8]
