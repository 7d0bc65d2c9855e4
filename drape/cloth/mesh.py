"""The draft cut into triangles: a `Draft` in, a `Mesh` out.

Vertices are flat points [m]; every named edge of the draft keeps its vertices in order, and the two sides of a seam
carry matching ones. We place all vertices on the outline ourselves; the inside is left to netgen, and the result is
refused if it moved or added one of ours. Nothing here knows of cloth or figure.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array, csr_array, diags_array
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import splu
from scipy.spatial import cKDTree
from shapely import LineString, Point, line_locate_point
from shapely import points as as_points

from drape.arrays import Floats, Ints
from drape.cloth.mesher import fill, quality_of
from drape.draft.cloak import OPEN_SWEEP
from drape.draft.outline import Draft, Edge, area_of, length_of, loops_of, outline_of, run_along
from drape.errors import MeshError
from drape.polyline import at_length, length_along
from drape.triangle import sides_facing, sides_of, triangle_areas

FINEST, COARSEST = 0.002, 0.2  # m; edge lengths allowed
LARGEST_COUNT = 400_000  # vertices; past it a run would take hours
WORST_QUALITY = 0.5  # least shape of a triangle that is let through; ours, equilateral is 1
WORST_PIECED, WORST_BESIDE = 0.3, 0.15  # the same in a pieced draft, and beside its seams, which leave sharp tips
POINTED = math.radians(60)  # less than an equilateral triangle's
SHARP = math.radians(25)  # a corner of the outline that is sharper cannot be filled with triangles of that shape
SHARP_REACH, SHARP_SHARE = 0.04, 0.35  # m round it, within which so much of the best that can be is let through
GRADING, LOOSE_GRADING = 0.5, 0.9  # how fast netgen lets sizes grow, 0 to 1; tried where it cuts up our sides
GROWTH = 0.3  # how fast our spacing on the outline grows away from a short stretch; less than netgen's
NECK_SHARES = (1.0, 0.6, 0.36)  # lengths of the sides round the neck tried in turn, in edge lengths
LAST_SHARE = 0.22  # the same, at the end
LEAST_COUNT = 2  # sides on any stretch of the outline
MET = 1e-5  # m; a piecing seam ends on an edge that is nearer than this
BOWED = ((1.03, 1), (1.15, 2))  # times its chord: a dag's stretch longer than that takes so many more sides
COLLAR_SIDE = 1.2  # heights of a collar's lower end: no longer are sides round its neck seam
EVEN = 1.35  # times its shortest side: no side on a dagged edge is longer, or the mesher would cut it
CORNER = math.radians(4)  # an edge that turns more than this at one point has a corner there
HALVINGS_TRIED = 2  # of a mesh that is let through; it starts a cloak


@dataclass(frozen=True)
class Mesh:
    """Flat triangles with named edges.

    `flat`: vertex positions [m], shape (n, 2). `triangles`: vertex indices, anticlockwise, shape (t, 3).
    `edges`: by name, vertex indices in order: from the neck end for closure, dart legs and openings, by increasing phi
    for neck and hem; piecing seams inside the outline are named too. `seams`: vertex pairs that become one when sewn,
    shape (s, 2); a dart's point and the vertices of a piecing seam are one already.
    """

    flat: np.ndarray
    triangles: np.ndarray
    edges: Mapping[str, np.ndarray]
    seams: np.ndarray


def triangulate(draft: Draft, *, edge_length: float, seed: int = 0) -> Mesh:
    """Return the draft cut into triangles about `edge_length` [m] on a side.

    Vertices stand evenly along every edge; both sides of a seam get the same places. Another `seed` gives another,
    equally good mesh: the outline is turned before meshing and the places along each edge are shifted a little.
    The same seed gives the same bytes.

    Raises
    ------
    MeshError: the edge length is out of range, or the mesher moved our vertices or left a bad triangle.
    """
    _check_size(draft, edge_length)
    first = float(np.random.default_rng([seed, 1]).uniform(0.0, 2 * math.pi)) if seed else 0.0
    ways = [(share, GRADING, first) for share in NECK_SHARES]
    for turn in (first, first + 1.0, first + 2.0) if draft.piecing else ():
        ways += [(share, LOOSE_GRADING, turn) for share in NECK_SHARES]
    ways += [(share, GRADING, first + turn) for turn in (1.0, 2.0) for share in NECK_SHARES]
    tried = [(*way, False) for way in ways] + [(share, GRADING, first, True) for share in (*NECK_SHARES, LAST_SHARE)]
    for share, grading, turn, is_uncut in tried:
        try:
            mesh = _triangulated(draft, edge_length, (share * edge_length, grading, turn), seed, is_uncut=is_uncut)
            half = mesh
            for _halving in range(
                HALVINGS_TRIED
            ):  # or a side across a hollow neck would cut its own triangle when it is halved
                half, _ = refined(draft, half)
            return mesh
        except MeshError as error:  # a neck narrower than a few edge lengths: try with shorter sides round it
            failure = error
    raise MeshError(f"{failure}{_sharpest_said(draft)}")


def _sharpest_said(draft: Draft) -> str:
    """Return where the outline is sharpest, and how sharp: there a mesh fails first. Nothing of one without a point."""
    found = []
    for loop in loops_of(draft):
        for edge, after in zip(loop, [*loop[1:], loop[0]], strict=True):
            come, go = (run_along(one)[:: -1 if one.against else 1] for one in (edge, after))
            angle = corner_angles(np.vstack([come[-2:], go[1:2]]))[1]
            found.append((angle, f"{edge.name} meets {after.name}"))
    angle, words = min(found)
    if angle > POINTED:
        return ""
    return f" The draft is sharpest where {words}, {math.degrees(angle):.0f}°: make it wider there."


def corner_angles(outline: np.ndarray) -> np.ndarray:
    """Return the angle inside an anticlockwise outline at each of its points [rad], 0 to 2 pi, shape (n,)."""
    after, before = np.roll(outline, -1, axis=0) - outline, np.roll(outline, 1, axis=0) - outline
    turn = np.arctan2(before[:, 1], before[:, 0]) - np.arctan2(after[:, 1], after[:, 0])
    return turn % (2 * math.pi)


def _triangulated(
    draft: Draft, edge_length: float, way: tuple[float, float, float], seed: int, *, is_uncut: bool
) -> Mesh:
    """Return the mesh made in one way: with sides so long [m] along neck, dart and closure, and at the ends of piecing
    seams; netgen's grading; the outline turned by so much [rad]. is_uncut: as `mesher.fill` takes it.
    """
    neck_length, grading, turn = way
    runs = _place_vertices(draft, edge_length, neck_length, np.random.default_rng(seed) if seed else None)
    flats: list[np.ndarray] = []
    filled: list[np.ndarray] = []
    edges: dict[str, np.ndarray] = {}
    start = 0
    for loop, sweep in zip(loops_of(draft), (draft.style.sweep, OPEN_SWEEP), strict=False):  # body, then collar
        boundary, index = _join_runs(loop, runs)
        on_seams, lines = _join_seams(draft.piecing if start == 0 else (), runs, boundary)
        placed = np.vstack([boundary, on_seams])
        inside, triangles = fill(placed, len(boundary), lines, (edge_length, grading), turn, sweep, is_uncut=is_uncut)
        flat = np.vstack([placed, inside])
        _check_triangles(flat, triangles, [boundary], lines)
        edges |= {name: start + places for name, places in (index | lines).items()}
        flats.append(flat)
        filled.append(start + triangles)
        start += len(flat)
    flat, triangles = np.vstack(flats), np.vstack(filled)
    return Mesh(flat=flat, triangles=triangles, edges=edges, seams=seam_pairs(draft, edges))


def refined(draft: Draft, mesh: Mesh) -> tuple[Mesh, np.ndarray]:
    """Return the mesh with every triangle cut into four at the middles of its sides, and those sides.

    The sides' vertex pairs, shape (k, 2), stand in the order of the new vertices, which follow the old ones: put
    halfway between its pair, each leaves the worn surface exactly as it was. On the flat, a new vertex of the outline
    lies on the draft's own curve, at the same share on both sides of a seam.

    Raises
    ------
    MeshError: the outline curves so sharply that a triangle would be bad.
    """
    triangles = mesh.triangles
    sides, side_of = np.unique(np.sort(sides_of(triangles), axis=2).reshape(-1, 2), axis=0, return_inverse=True)
    middle = len(mesh.flat) + side_of.reshape(-1, 3)  # of the side after each corner
    new = mesh.flat[sides].mean(axis=1)
    edges = {}
    loops = loops_of(draft)
    for edge in (edge for loop in loops for edge in loop):
        index = mesh.edges[edge.name]
        run = run_along(edge)
        at = np.searchsorted(_side_keys(sides), _side_keys(np.sort(np.column_stack([index[:-1], index[1:]]), axis=1)))
        new[at] = _middles(run, mesh.flat[index])
        edges[edge.name] = np.empty(2 * len(index) - 1, dtype=np.int64)
        edges[edge.name][::2], edges[edge.name][1::2] = index, len(mesh.flat) + at
    for edge in draft.piecing:  # straight: the middles lie on it
        index = mesh.edges[edge.name]
        at = np.searchsorted(_side_keys(sides), _side_keys(np.sort(np.column_stack([index[:-1], index[1:]]), axis=1)))
        edges[edge.name] = np.empty(2 * len(index) - 1, dtype=np.int64)
        edges[edge.name][::2], edges[edge.name][1::2] = index, len(mesh.flat) + at
    a, b, c = triangles.T
    ab, bc, ca = middle.T
    quarters = np.stack([[a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca]]).transpose(2, 0, 1).reshape(-1, 3)
    flat = np.vstack([mesh.flat, new])
    lines = {edge.name: edges[edge.name] for edge in draft.piecing}
    _check_triangles(flat, quarters, [flat[_round(loop, edges)] for loop in loops], lines)
    return Mesh(flat=flat, triangles=quarters, edges=edges, seams=seam_pairs(draft, edges)), sides


def morphed(mesh: Mesh, before: Draft, draft: Draft) -> Mesh:
    """Return the mesh of one draft drawn over to another that has the same edges;
    vertices and triangles keep their numbers.

    Vertices of the outline keep their share of each piece of their edge, those inside move with it as an elastic
    skin would (each by the mean of its neighbours).

    Raises
    ------
    MeshError: the drafts have other edges, or differ by so much that a triangle would be bad.
    """
    loops, old_loops = loops_of(draft), loops_of(before)
    names, others = (
        [edge.name for edge in (*(edge for loop in of for edge in loop), *one.piecing)]
        for of, one in ((loops, draft), (old_loops, before))
    )
    if names != others:
        raise MeshError("mesh: the two drafts have other edges, allowed the same ones. Settle the new draft afresh.")
    shift = np.zeros_like(mesh.flat)
    old, new = _pieces_of(before), _pieces_of(draft)
    for name in names:
        index = mesh.edges[name]
        shift[index] = _drawn_over(mesh.flat[index], old[name], new[name]) - mesh.flat[index]
    rounds = [_round(loop, mesh.edges) for loop in loops]
    lines = {edge.name: mesh.edges[edge.name] for edge in draft.piecing}
    count, fixed = len(mesh.flat), np.unique(np.concatenate([*rounds, *lines.values()]))
    inside = np.setdiff1d(np.arange(count), fixed)
    sides = sides_of(mesh.triangles).reshape(-1, 2)
    links = csr_array((np.ones(len(sides)), sides.T), shape=(count, count))
    links += links.T  # sides inside twice, which an even weight would make little of
    laplacian = (diags_array(links.sum(axis=1)) - links).tocsr()[inside]
    shift[inside] = splu(laplacian[:, inside].tocsc()).solve(-(laplacian[:, fixed] @ shift[fixed]))
    flat = mesh.flat + shift
    _check_triangles(flat, mesh.triangles, [flat[index] for index in rounds], lines)
    return Mesh(flat=flat, triangles=mesh.triangles, edges=mesh.edges, seams=mesh.seams)


def _drawn_over(placed: np.ndarray, before: list[np.ndarray], after: list[np.ndarray]) -> np.ndarray:
    """Return where points along an edge of the old pieces come to on the new ones, at equal shares of each."""
    if len(before) != len(after):
        raise MeshError("mesh: an edge has got or lost a corner, allowed none. Settle the new draft afresh.")
    stops = [0, *(int(np.linalg.norm(placed - piece[-1], axis=1).argmin()) for piece in before)]
    out = np.empty_like(placed)
    for old, new, start, stop in zip(before, after, stops[:-1], stops[1:], strict=True):
        line = LineString(old)
        shares = line_locate_point(line, as_points(placed[start : stop + 1])) / line.length
        out[start : stop + 1] = _along(new, shares)
    return out


def partners(triangles: np.ndarray) -> np.ndarray:
    """Return for every triangle's edges (3t,), edge k opposite corner k, the same edge in the other triangle;
    −1 if free.
    """
    ends = sides_facing(triangles).reshape(-1, 2)
    low, high = ends.min(axis=1), ends.max(axis=1)
    order = np.lexsort((high, low))
    same = (low[order][1:] == low[order][:-1]) & (high[order][1:] == high[order][:-1])
    partner = np.full(len(ends), -1, dtype=np.int64)
    first, second = order[:-1][same], order[1:][same]
    partner[first], partner[second] = second, first
    return partner


def on_body(mesh: Mesh) -> np.ndarray:
    """Return which vertices are on the piece with the hem, (n,) bool: a collar is a piece of its own."""
    sides = np.concatenate([mesh.triangles[:, [0, 1]], mesh.triangles[:, [1, 2]]])
    links = coo_array((np.ones(len(sides)), sides.T), shape=(len(mesh.flat), len(mesh.flat)))
    _, piece = connected_components(links, directed=False)
    return piece == piece[mesh.edges["hem"][0]]


def _side_keys(sides: np.ndarray) -> np.ndarray:
    """Return one number per side (a, b) with a < b, ascending where the sides are."""
    return sides[:, 0] * (1 << 32) + sides[:, 1]


def _middles(run: np.ndarray, placed: np.ndarray) -> np.ndarray:
    """Return the points of a polyline halfway along it between each two of its points `placed` in turn."""
    line = LineString(run)
    along = line_locate_point(line, as_points(placed))
    along[0], along[-1] = 0.0, line.length
    return _along(run, (along[:-1] + along[1:]) / (2 * line.length), ends=False)


def _round(loop: Sequence[Edge], edges: Mapping[str, np.ndarray]) -> np.ndarray:
    """Return a loop's vertex indices once round."""
    return np.concatenate([edges[edge.name][:: -1 if edge.against else 1][:-1] for edge in loop])


def _check_size(draft: Draft, edge_length: float) -> None:
    """Refuse edge lengths that make no sense for this draft."""
    if not FINEST <= edge_length <= COARSEST:
        raise MeshError(
            f"mesh.edge_length_cm: got {100 * edge_length:.6g}, allowed {100 * FINEST:.6g} to "
            f"{100 * COARSEST:.6g}. Try 1.5."
        )
    count = area_of(outline_of(draft)) / (math.sqrt(3) / 2 * edge_length**2)
    if count > LARGEST_COUNT:
        raise MeshError(
            f"mesh.edge_length_cm: got {100 * edge_length:.6g}, which makes about {count:.0f} vertices, allowed "
            f"{LARGEST_COUNT}. "
            f"Try {100 * edge_length * math.sqrt(count / LARGEST_COUNT) * 1.05:.2g}."
        )


def _place_vertices(
    draft: Draft, edge_length: float, neck_length: float, random: np.random.Generator | None
) -> dict[str, np.ndarray]:
    """Return each edge's vertices in workshop order, shape (k, 2); seam partners at equal shares of their length.

    Corners inside an edge (the end of a shoulder cut) and the ends of piecing seams get a vertex. Beside a stretch
    shorter than the edge length spacing grows gradually, or the mesher would cut up our neighbouring sides.
    """
    pieces = _pieces_of(draft)
    partner = {seam.second: seam.first for seam in draft.seams}
    for name, first in partner.items():
        if len(pieces[name]) != len(pieces[first]):  # the collar's smooth seam on a neck edge with corners
            pieces[name] = _split_likewise(
                np.vstack([pieces[name][0], *(p[1:] for p in pieces[name][1:])]), pieces[first]
            )
    wide = {name for name in pieces if name.endswith(("hem", "opening", "top"))} | {edge.name for edge in draft.piecing}
    target = {name: edge_length if name in wide else neck_length for name in pieces}
    dagged = {dags.edge for dags in draft.dags if dags.meshed}
    for name in dagged:
        target[name] = _even_side(pieces[name], target[name], neck_length / edge_length)
    if draft.collar:  # no longer than it is high, or its triangles would be slivers
        low = COLLAR_SIDE * min(length_of(run_along(edge)) for edge in draft.collar if edge.name.endswith(" end"))
        target |= {name: min(target[name], low) for name in (*draft.neck, *(edge.name for edge in draft.collar))}
    least = {name: 1 if name in dagged or name.endswith(" end") else LEAST_COUNT for name in pieces}
    ends = _end_sizes(draft, pieces, target | {edge.name: neck_length for edge in draft.piecing}, least)
    shares: dict[str, list[np.ndarray]] = {}
    for name in sorted(pieces, key=lambda name: (name in partner, name)):
        if name in partner:
            shares[name] = shares[partner[name]]
        else:
            sizes = zip(pieces[name], ends[name], strict=True)
            shares[name] = [
                _shares(length_of(piece), *size, target[name], random, _least_count(piece, least[name]))
                for piece, size in sizes
            ]
    runs = {}
    for name, parts in pieces.items():
        placed = [_along(part, share) for part, share in zip(parts, shares[name], strict=True)]
        runs[name] = np.vstack([placed[0], *(part[1:] for part in placed[1:])])
    return runs


def _pieces_of(draft: Draft) -> dict[str, list[np.ndarray]]:
    """Return every edge in workshop order, split at its corners and where piecing seams end on it; seams whole.

    An edge that is sewn to another is split where a seam ends on either.
    """
    runs = {edge.name: run_along(edge) for loop in loops_of(draft) for edge in loop}
    ends = [edge.points[k] for edge in draft.piecing for k in (0, -1)]
    shares = {name: _shares_met(run, ends) for name, run in runs.items()}
    for seam in draft.seams:
        both = _apart([*shares[seam.first], *shares[seam.second]], length_of(runs[seam.first]))
        shares[seam.first] = shares[seam.second] = both
    pieces = {}
    for name, run in runs.items():
        pieces[name] = _pieces(run)
        if shares[name]:
            line = LineString(run)
            corners = [line.project(Point(piece[0])) / line.length for piece in pieces[name][1:]]
            stops = [0.0, *_apart([*corners, *shares[name]], line.length), 1.0]
            pieces[name] = [_stretch(run, *pair) for pair in zip(stops[:-1], stops[1:], strict=True)]
    return pieces | {edge.name: [edge.points] for edge in draft.piecing}


def _shares_met(run: np.ndarray, ends: Sequence[np.ndarray]) -> list[float]:
    """Return at which shares of a polyline's length points lie on it, ascending, its own ends left out."""
    line = LineString(run)
    met = [line.project(Point(end)) / line.length for end in ends if line.distance(Point(end)) < MET]
    return _apart(met, line.length)


def _apart(shares: Sequence[float], length: float) -> list[float]:
    """Return shares of a length [m] ascending, those nearer than MET to another or to an end left out."""
    kept = [0.0]
    for share in sorted(shares):
        if (share - kept[-1]) * length > MET and (1.0 - share) * length > MET:
            kept.append(share)
    return kept[1:]


def _stretch(run: np.ndarray, start: float, stop: float) -> np.ndarray:
    """Return a polyline between two shares of its length."""
    steps = length_along(run)
    inner = run[(steps > start * steps[-1] + MET / 2) & (steps < stop * steps[-1] - MET / 2)]
    first, last = _along(run, np.array([start, stop]), ends=False)
    first, last = (run[0] if start == 0.0 else first), (run[-1] if stop == 1.0 else last)
    return np.vstack([first, inner, last])


def _pieces(points: np.ndarray) -> list[np.ndarray]:
    """Split a polyline where it turns by more than CORNER."""
    step = np.diff(points, axis=0)
    heading = np.unwrap(np.arctan2(step[:, 1], step[:, 0]))
    corners = np.flatnonzero(np.abs(np.diff(heading)) > CORNER) + 1
    stops = [0, *corners.tolist(), len(points) - 1]
    return [points[start : stop + 1] for start, stop in zip(stops[:-1], stops[1:], strict=True)]


def _split_likewise(run: np.ndarray, pieces: Sequence[np.ndarray]) -> list[np.ndarray]:
    """Return a polyline split at the same shares of its length as the pieces are of theirs."""
    stops = np.cumsum([length_of(piece) for piece in pieces])
    along = length_along(run)
    parts, start = [], run[:1]
    for before, stop in zip(np.concatenate([[0.0], stops[:-1]]), stops, strict=True):
        low, high = (value / stops[-1] * along[-1] for value in (before, stop))
        end = run[-1:] if stop == stops[-1] else _along(run, np.array([high / along[-1]]), ends=False)
        parts.append(np.vstack([start, run[(along > low + 1e-9) & (along < high - 1e-9)], end]))
        start = end
    return parts


def _least_count(piece: np.ndarray, least: int) -> int:
    """Return the fewest sides a stretch is cut into: of a dag one, or as many as show its bow."""
    bow = length_of(piece) / float(np.linalg.norm(piece[-1] - piece[0]))
    return least + sum(more for limit, more in BOWED if least == 1 and bow > limit)


def _even_side(pieces: Sequence[np.ndarray], longest: float, share: float) -> float:
    """Return the longest side [m], up to `longest`, that divides all stretches of a dagged edge about evenly.

    share: of NECK_SHARES; a later one makes the sides shorter.
    """
    lengths = np.array([length_of(piece) for piece in pieces])
    shortest = min(length_of(piece) / _least_count(piece, 1) for piece in pieces)
    for count in range(round(1 / share), 12):
        side = min(longest, shortest) / count
        sides = lengths / np.maximum(np.rint(lengths / side), 1)
        if sides.max() <= EVEN * sides.min():
            break
    return side


def _end_sizes(
    draft: Draft, pieces: Mapping[str, list[np.ndarray]], target: Mapping[str, float], fewest: Mapping[str, int]
) -> dict[str, list[tuple[float, float]]]:
    """Return the spacing [m] at both ends of every piece: no more than any piece that meets there allows, in `target`
    or by its least count of sides."""
    least = {
        (name, i): min(target[name], length_of(piece) / _least_count(piece, fewest[name]))
        for name, parts in pieces.items()
        for i, piece in enumerate(parts)
    }
    ends = {key: pieces[key[0]][key[1]][[0, -1]] for key in least}
    tree = cKDTree(np.vstack(list(ends.values())))
    sizes = np.repeat(list(least.values()), 2)
    there = {key: [float(sizes[tree.query_ball_point(end, MET)].min()) for end in both] for key, both in ends.items()}
    for seam in draft.seams:
        for i in range(len(pieces[seam.first])):
            first, second = there[seam.first, i], there[seam.second, i]
            there[seam.first, i] = there[seam.second, i] = [min(pair) for pair in zip(first, second, strict=True)]
    return {name: [(there[name, i][0], there[name, i][1]) for i in range(len(parts))] for name, parts in pieces.items()}


def _shares(
    length: float,
    start: float,
    end: float,
    edge_length: float,
    random: np.random.Generator | None,
    least: int = LEAST_COUNT,
) -> np.ndarray:
    """Return where vertices divide a piece, 0 to 1: `edge_length` apart, or less towards an end where less is asked.

    With `random`, the places are shifted by one gentle wave that changes spacing by at most 15 %.
    """
    along = np.linspace(0.0, 1.0, 801)
    size = np.minimum(edge_length, np.minimum(start + GROWTH * length * along, end + GROWTH * length * (1 - along)))
    passed = np.concatenate([[0.0], np.cumsum((1 / size[1:] + 1 / size[:-1]) / 2)]) * length / (len(along) - 1)
    count = max(least, round(float(passed[-1])))
    even = np.linspace(0.0, 1.0, count + 1)
    if random is not None:
        waves = int(random.integers(1, 4))
        reach = min(0.3 / count, 0.15 / (2 * math.pi * waves)) * float(random.uniform(-1.0, 1.0))
        even = even + reach * np.sin(2 * math.pi * waves * even)
    shares = np.interp(even * passed[-1], passed, along) if size.min() < edge_length else even
    shares[0], shares[-1] = 0.0, 1.0
    return shares


def _along(points: np.ndarray, shares: np.ndarray, *, ends: bool = True) -> np.ndarray:
    """Return the points at the given shares of a polyline's length; with `ends`, its own first and last exactly."""
    steps = length_along(points)
    placed = at_length(shares * steps[-1], steps, points)
    if ends:
        placed[0], placed[-1] = points[0], points[-1]
    return placed


def _join_runs(loop: Sequence[Edge], runs: Mapping[str, np.ndarray]) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Join the runs of one loop: its vertices, shape (b, 2), and each edge's indices into it."""
    total = sum(len(runs[edge.name]) - 1 for edge in loop)
    vertices, edges, start = [], {}, 0
    for edge in loop:
        run = runs[edge.name]
        index = (start + np.arange(len(run))) % total
        vertices.append((run[::-1] if edge.against else run)[:-1])
        edges[edge.name] = index[::-1].copy() if edge.against else index
        start += len(run) - 1
    return np.vstack(vertices), edges


def _join_seams(
    piecing: Sequence[Edge], runs: Mapping[str, np.ndarray], boundary: np.ndarray
) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Return the vertices of piecing seams that are not on the outline, shape (k, 2), and each seam's indices.

    They are numbered after the boundary's; where a seam ends on the outline or on another, both have the same vertex.
    """
    placed, lines = list(boundary), {}
    for edge in piecing:
        index = []
        for point in runs[edge.name]:
            near = np.linalg.norm(np.array(placed) - point, axis=1)
            at = int(near.argmin())
            if near[at] > 2 * MET:
                at = len(placed)
                placed.append(point)
            index.append(at)
        lines[edge.name] = np.array(index, dtype=np.int64)
    return np.array(placed[len(boundary) :]).reshape(-1, 2), lines


def _check_triangles(
    flat: np.ndarray, triangles: np.ndarray, boundaries: Sequence[np.ndarray], lines: Mapping[str, np.ndarray]
) -> None:
    """Refuse a mesh that is turned over, badly shaped, does not fill its outlines or lies across a line inside one."""
    corners = flat[triangles]
    areas = triangle_areas(corners)
    if areas.min() <= 0:
        raise MeshError(
            f"mesh: {int((areas <= 0).sum())} triangles are turned over, allowed none. Try another edge length."
        )
    wanted = sum(area_of(boundary) for boundary in boundaries)
    around = sum(len(boundary) for boundary in boundaries)
    if abs(areas.sum() - wanted) > 1e-9 * wanted:
        raise MeshError(f"mesh: the triangles fill {areas.sum():.6g} m2, wanted {wanted:.6g}. Try another edge length.")
    sides = np.sort(sides_of(triangles).reshape(-1, 2), axis=1)
    _, times = np.unique(sides, axis=0, return_counts=True)
    if times.max() > 2 or int((times == 1).sum()) != around:
        raise MeshError(
            f"mesh: the outline has {int((times == 1).sum())} sides, wanted our {around}. Try another edge length."
        )
    every = np.unique(_side_keys(sides))
    for name, line in lines.items():
        if not np.isin(_side_keys(np.sort(np.column_stack([line[:-1], line[1:]]), axis=1)), every).all():
            raise MeshError(f"mesh: triangles lie across {name}, allowed none. Try another edge length.")
    beside = np.isin(triangles, np.concatenate(list(lines.values()) or [np.empty(0)])).any(axis=1)
    quality = quality_of(flat, triangles)
    least = np.where(beside, WORST_BESIDE, WORST_PIECED if lines else WORST_QUALITY)
    for boundary in boundaries:
        angles = corner_angles(boundary)
        for point, angle in zip(boundary[angles < SHARP], angles[angles < SHARP], strict=True):
            best = 8 * math.sin(angle / 2) * math.sin((math.pi - angle) / 4) ** 2  # of two sides alike; elementary
            near = (np.linalg.norm(flat - point, axis=1) < SHARP_REACH)[triangles].all(axis=1)
            least[near] = np.minimum(least[near], SHARP_SHARE * best)
    worst = int(np.argmin(quality - least))
    if quality[worst] < least[worst]:
        raise MeshError(
            f"mesh: the worst triangle's shape is {quality[worst]:.3g}, allowed at least {least[worst]:.3g}. "
            "Try a shorter edge length."
        )


def seam_pairs(draft: Draft, edges: Mapping[str, np.ndarray]) -> np.ndarray:
    """Return vertex pairs that are sewn to one, shape (s, 2), neck end first."""
    pairs = [np.column_stack([edges[seam.first], edges[seam.second]]) for seam in draft.seams]
    joined = np.vstack(pairs) if pairs else np.empty((0, 2), dtype=np.int64)
    return joined[joined[:, 0] != joined[:, 1]]


def welded(worn: Floats, edges: Mapping[str, Ints]) -> Ints:
    """For each vertex the number of its point: vertices of named edges at the very same place are sewn together."""
    rim = np.unique(np.concatenate([np.asarray(e, np.int64) for e in edges.values()]))
    _, first, place = np.unique(worn[rim], axis=0, return_index=True, return_inverse=True)
    stands_for = np.arange(len(worn))
    stands_for[rim] = rim[first][place.reshape(-1)]
    return np.unique(stands_for, return_inverse=True)[1].reshape(-1)


def sewn_edges(edges: Mapping[str, Ints], weld: Ints) -> set[str]:
    """The names of edges that are sewn: closures, dart legs, whose vertices are welded to others, and piecing seams."""
    shared = np.bincount(weld)[weld] > 1
    return {name for name, run in edges.items() if name.startswith("seam ") or shared[run].mean() > 0.5}


def vertex_normals(points: Floats, triangles: Ints, weld: Ints | None = None) -> Floats:
    """Unit normals (n, 3), faces weighted by their angle at the vertex; vertices welded together share theirs."""
    weld = np.arange(len(points)) if weld is None else weld
    corner = points[triangles]
    face = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    doubled = np.linalg.norm(face, axis=1)
    face /= np.maximum(doubled, 1e-30)[:, None]
    total = np.zeros((int(weld.max()) + 1, 3))
    for k in range(3):
        along = np.einsum("tc,tc->t", corner[:, k - 2] - corner[:, k], corner[:, k - 1] - corner[:, k])
        part = np.arctan2(doubled, along)[:, None] * face
        place = weld[triangles[:, k]]
        total += np.column_stack([np.bincount(place, weights=part[:, c], minlength=len(total)) for c in range(3)])
    total /= np.maximum(np.linalg.norm(total, axis=1, keepdims=True), 1e-30)
    return total[weld]
