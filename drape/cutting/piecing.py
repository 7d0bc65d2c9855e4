"""The draft cut into pieces for cloth narrower than it: a `Draft` and a width in, `Piece`s out.

Lengths of cloth lie side by side, selvedge to selvedge, their warp along the draft's straight edge or along another
grain; a length may be cut again square to the grain, so that its short ends become fill pieces that go into off-cuts.
Every seam's two sides carry the same name, the same points and matching notches. SI, flat axes as the draft's.
Which cuts are thriftiest is left to `lay`, which can lay the pieces out and look.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely import LineString, Polygon, box
from shapely.affinity import rotate

from drape.cutting.piece import LEAST_PART, Notch, Piece, cut_outline, net_outline, outward_at
from drape.draft.cloak import OPEN_SWEEP
from drape.draft.cut_line import allowances as draft_allowances
from drape.draft.neckline import direction
from drape.draft.outline import Draft, Edge, closing_line, loops_of, place_along, run_of
from drape.errors import DraftError
from drape.polyline import at_length, length_along

SEAM_ALLOWANCE = 0.015  # m; 1 to 1.5 cm, 2 and more in heavy coating; common practice, no source
LEAST_PANEL = 0.08  # m; a length of cloth gives no panel narrower than this; ours
CLEAR = 0.01  # m; a piecing seam keeps this far from the ends of a dart or shoulder cut; ours
EDGE_CLEAR = 0.03  # m; and so far from the outermost point of the neck edge, and from an opening edge beside it; ours
APART = 2e-6  # m; two corners nearer to each other are one
ON_LINE = 1e-7  # m; a point nearer to a line lies on it


@dataclass(frozen=True)
class Allowances:
    """Seam allowances [m]. `seam`: piecing. Of the others, None: what the draft says.

    A raw edge of well-fulled cloth needs none, nor does a selvedge. Common practice, no source.
    """

    seam: float = SEAM_ALLOWANCE
    neck: float | None = None
    opening: float | None = None
    hem: float | None = None


@dataclass(frozen=True)
class Cuts:
    """Where a draft is cut into pieces [m] from O. levels: the long seams, across the grain. ends: for a length of
    cloth, counted from 0, where it is cut again square to the grain."""

    levels: tuple[float, ...] = ()
    ends: tuple[tuple[int, tuple[float, ...]], ...] = ()


def edge_allowances(draft: Draft, allowances: Allowances) -> dict[str, float]:
    """Return the allowance of each of the draft's edges but darts' legs [m]."""
    own = draft_allowances(draft)
    given = {"neck": allowances.neck, "opening": allowances.opening, "hem": allowances.hem}
    own |= {name: width for name, width in given.items() if width is not None}
    found = {name: own["neck"] for name in draft.neck} | {"hem": own["hem"]}
    return found | dict.fromkeys((*draft.closure, *draft.opening), own["opening"])


def whole_piece(draft: Draft, allowances: Allowances, grain: float | None = None) -> Piece:
    """Return the draft as one piece, with its notches, lines and buttons.

    grain: direction of the warp from the straight edge [rad]; None: the draft's own.
    """
    return Piece(
        name="body",
        number=1,
        edges=loops_of(draft, all_dags=True)[0],
        grain=draft.grain if grain is None else grain,
        allowance=edge_allowances(draft, allowances),
        notches=tuple(_draft_notches(draft)),
        lines=tuple(_draft_lines(draft)),
        buttons=button_places(draft),
        button_diameter=draft.fastening.diameter,
    )


def seam_levels(draft: Draft, width: float, allowances: Allowances, grain: float | None = None) -> tuple[float, ...]:
    """Return where the piecing seams lie: distances [m] from O, across the grain; none if the cloth is wide enough.

    The first length starts at the draft's lowest edge and uses the cloth's whole width, one seam allowance of it in
    the seam; later ones lose two. A seam that would run through a dart or a shoulder cut, or graze the neck edge or an
    opening edge, comes lower.

    Raises
    ------
    DraftError: the cloth is too narrow for any such place.
    """
    whole = whole_piece(draft, allowances, grain)
    low, high = _across(cut_outline(whole), whole.grain)
    if high - low <= width + ON_LINE:
        return ()
    a = allowances.seam
    if width - 2 * a < LEAST_PANEL:
        raise DraftError(
            f"piecing.width_cm: got {100 * width:.4g}, allowed at least {100 * (LEAST_PANEL + 2 * a):.4g} "
            f"(a panel of {100 * LEAST_PANEL:g} and two seam allowances of {100 * a:g}). Take wider cloth."
        )
    barred = _barred(draft, whole.grain)
    levels: list[float] = []
    reach = low + width - a  # as far as the cloth of this length goes, its seam allowance left
    while not levels or high - levels[-1] > width - a + ON_LINE:
        level = _clear(reach, barred)
        if level - (levels[-1] if levels else low) < LEAST_PANEL - ON_LINE:
            widest = max(end - start for start, end in barred)
            raise DraftError(
                f"piecing.width_cm: got {100 * width:.4g}, too narrow to pass neck, dart and cuts, allowed about "
                f"{100 * (widest + LEAST_PANEL + 2 * a):.3g} or more with this grain. "
                f"Take wider cloth, or a shorter dart."
            )
        levels.append(level)
        reach = level + width - 2 * a
    if high - levels[-1] < LEAST_PANEL:
        below = levels[-2] if len(levels) > 1 else low
        levels[-1] = _clear(max(high - LEAST_PANEL, below + LEAST_PANEL), barred)
    return tuple(levels)


def _clear(level: float, barred: Sequence[tuple[float, float]]) -> float:
    """Return the level, or the next lower one that lies in no barred stretch [m]."""
    for start, end in sorted(barred, reverse=True):
        if start < level < end:
            level = start
    return level


def _barred(draft: Draft, grain: float) -> list[tuple[float, float]]:
    """Return the stretches across the grain [m] in which a seam would run through a dart or a shoulder cut, or graze
    the neck edge or an opening edge.
    """
    across = direction(grain + math.pi / 2)
    stretches = []
    runs = [np.vstack([run_of(draft, leg) for leg in dart.legs]) for dart in draft.darts]
    if draft.dimensions.get("shoulder_cut_intake", 0.0) > 0.0:
        runs += [run_of(draft, name) for name in draft.closure]
    for run in runs:
        reach = run @ across
        if np.ptp(reach) > ON_LINE:
            stretches.append((float(reach.min()) - CLEAR, float(reach.max()) + CLEAR))
    neck = np.vstack([run_of(draft, name) for name in draft.neck]) @ across
    grazed = [(float(end), float(end)) for end in (neck.min(), neck.max())]
    reaches = [run_of(draft, name) @ across for name in draft.opening]
    grazed += [(float(reach.min()), float(reach.max())) for reach in reaches if np.ptp(reach) < EDGE_CLEAR]
    return stretches + [(start - EDGE_CLEAR, end + EDGE_CLEAR) for start, end in grazed]


def _across(outline: Polygon, grain: float) -> tuple[float, float]:
    """Return the least and greatest reach of an outline across the grain [m]."""
    reach = shapely.get_coordinates(outline) @ direction(grain + math.pi / 2)
    return float(reach.min()), float(reach.max())


def pieced(
    draft: Draft,
    levels: Sequence[float],
    allowances: Allowances,
    grain: float | None = None,
    cuts: Mapping[int, Sequence[float]] | None = None,
) -> tuple[Piece, ...]:
    """Return the draft's pieces, numbered from the body down and from the front to the back.

    levels: the seams of `seam_levels`. cuts: for a length of cloth, counted from 0, where it is cut square to the
    grain: distances [m] from O along the grain.

    Raises
    ------
    DraftError: a sector so wide that its straight edges touch cannot be pieced.
    """
    whole = whole_piece(draft, allowances, grain)
    if not levels:
        return (whole,)
    if draft.style.sweep > OPEN_SWEEP:
        raise DraftError(
            f"piecing.width_cm: got a sweep of {math.degrees(draft.style.sweep):.4g} degrees to piece, allowed "
            f"{math.degrees(OPEN_SWEEP):g}. Take cloth as wide as the draft, or less sweep."
        )
    outline = net_outline(whole)
    parts = _named(draft, _parts(outline, levels, whole.grain, cuts or {}))
    outlines = _noded([part for _, part in parts])
    pieces = []
    for number, ((name, _), loop) in enumerate(zip(parts, outlines, strict=True), start=1):
        edges = _edges(whole.edges, loop, number, outlines)
        seams = {edge.name: allowances.seam for edge in edges if edge.name.startswith("seam ")}
        one = replace(whole, name=name, number=number, edges=edges, allowance={**whole.allowance, **seams})
        pieces.append(_marked(one, whole))
    return tuple(pieces)


def seam_lines(pieces: Sequence[Piece]) -> tuple[Edge, ...]:
    """Return the seams between pieces, each once and straight from end to end, named as in the pieces.

    Two pieces that meet along two lines have two seams; the second's name ends in "again".
    """
    lines: dict[str, Edge] = {}
    for piece in pieces:
        for edge in piece.edges:
            if edge.name.startswith(f"seam {piece.number}-"):
                name = edge.name
                while name in lines:
                    name += " again"
                lines[name] = Edge(name, edge.points[[0, -1]].copy())
    return tuple(lines.values())


def _parts(
    outline: Polygon, levels: Sequence[float], grain: float, cuts: Mapping[int, Sequence[float]]
) -> list[tuple[int, int, int, Polygon]]:
    """Return the parts of the outline: length of cloth, place along it, how many places, and the part itself."""
    flat = rotate(outline, -grain, origin=(0, 0), use_radians=True)
    left, low, right, high = flat.bounds
    stops = [low - 1.0, *levels, high + 1.0]
    found = []
    for strip, (start, end) in enumerate(zip(stops[:-1], stops[1:], strict=True)):
        across = [left - 1.0, *sorted(cuts.get(strip, ())), right + 1.0]
        for place, (near, far) in enumerate(zip(across[:-1], across[1:], strict=True)):
            cut = flat.intersection(box(near, start, far, end))
            for part in getattr(cut, "geoms", [cut]):
                if isinstance(part, Polygon) and part.area > LEAST_PART:
                    turned = rotate(part, grain, origin=(0, 0), use_radians=True)
                    found.append((strip, place, len(across) - 1, turned))
    return found


def _named(draft: Draft, parts: Sequence[tuple[int, int, int, Polygon]]) -> list[tuple[str, Polygon]]:
    """Return the parts with names, the body first, then from one length to the next and from front to back."""
    neck = LineString(np.vstack([run_of(draft, name) for name in draft.neck]))
    body = max(range(len(parts)), key=lambda i: neck.intersection(parts[i][3].buffer(ON_LINE)).length)
    middle = draft.style.sweep / 2

    def angle(part: Polygon) -> float:
        return math.atan2(part.centroid.y, part.centroid.x) % (2 * math.pi)

    rest = sorted((i for i in range(len(parts)) if i != body), key=lambda i: (parts[i][0], angle(parts[i][3])))
    names = {body: "body"}
    for i in rest:
        _, place, places, part = parts[i]
        side = "front" if angle(part) < middle - 1e-6 else "back" if angle(part) > middle + 1e-6 else ""
        kind = "fill piece" if places > 2 and place in (0, places - 1) else "panel"
        names[i] = f"{side} {kind}".strip() if places > 1 or angle(part) != middle else kind
    for i in rest:  # a panel that reaches from front to back takes no side
        low, high = _angles(parts[i][3])
        if low < middle - 0.05 and high > middle + 0.05:
            names[i] = "panel"
    return [(names[i], parts[i][3]) for i in (body, *rest)]


def _angles(part: Polygon) -> tuple[float, float]:
    points = shapely.get_coordinates(part.exterior)
    angle = np.arctan2(points[:, 1], points[:, 0]) % (2 * math.pi)
    return float(angle.min()), float(angle.max())


def _noded(parts: Sequence[Polygon]) -> list[np.ndarray]:
    """Return each part's outline anticlockwise, shape (k, 2), with a point wherever a neighbour has a corner."""
    loops = _merged([shapely.get_coordinates(shapely.orient_polygons(part).exterior)[:-1] for part in parts])
    noded = []
    for i, loop in enumerate(loops):
        others = np.unique(np.vstack([other for j, other in enumerate(loops) if j != i]), axis=0)
        near = others[shapely.dwithin(_ring(loop), shapely.points(others), APART)]
        near = near[cKDTree(loop).query(near)[0] > APART] if len(near) else near
        steps = np.roll(loop, -1, axis=0) - loop
        long = np.linalg.norm(steps, axis=1)
        additions: list[tuple[int, float, np.ndarray]] = []
        for point in near:
            share = np.clip(np.sum((point - loop) * steps, axis=1) / long**2, 0.0, 1.0)
            at = int(np.argmin(np.linalg.norm(loop + share[:, None] * steps - point, axis=1)))
            additions.append((at, float(share[at]), point))
        additions.sort(key=lambda one: one[:2])
        places = [at + 1 for at, _, _ in additions]
        noded.append(np.insert(loop, places, [point for _, _, point in additions], axis=0) if additions else loop)
    return noded


def _ring(loop: np.ndarray) -> shapely.LinearRing:
    """Return a closed line through the points, ready to be asked often."""
    ring = shapely.LinearRing(loop)
    shapely.prepare(ring)
    return ring


def _merged(loops: Sequence[np.ndarray]) -> list[np.ndarray]:
    """Return the loops with points nearer to each other than APART, crumbs of the cuts, made one."""
    points = np.vstack(loops)
    keeper = np.arange(len(points))
    for first, second in sorted(cKDTree(points).query_pairs(APART)):
        keeper[second] = keeper[first]
    out, start = [], 0
    for loop in loops:
        index = keeper[start : start + len(loop)]
        out.append(points[index[index != np.roll(index, 1)]])
        start += len(loop)
    return out


def _edges(own: Sequence[Edge], loop: np.ndarray, number: int, loops: Sequence[np.ndarray]) -> tuple[Edge, ...]:
    """Return the named edges of one part: the body's own, and its seams with other parts."""
    ends = np.roll(loop, -1, axis=0)
    middles = shapely.points((loop + ends) / 2)
    names = np.full(len(loop), "", dtype=object)
    for other, there in enumerate(loops, start=1):
        if other != number:
            shared = shapely.dwithin(_ring(there), middles, APART)
            names[shared] = f"seam {min(number, other)}-{max(number, other)}"
    for edge in own:
        line = LineString(edge.points)
        shapely.prepare(line)
        names[(names == "") & shapely.dwithin(line, middles, APART)] = edge.name
    starts = np.flatnonzero(names != np.roll(names, 1))
    if len(starts) == 0:
        starts = np.array([0])
    edges = []
    for start, stop in zip(starts, np.roll(starts, -1), strict=True):
        count = (stop - start - 1) % len(loop) + 1
        run = loop[(start + np.arange(count + 1)) % len(loop)]
        edges.append(Edge(str(names[start]), run))
    return tuple(edges)


def _marked(piece: Piece, whole: Piece) -> Piece:
    """Return the piece with those of the whole's notches, lines and buttons that fall on it, and its seams' notches."""
    net = net_outline(piece)
    border = net.exterior
    notches = [n for n in whole.notches if border.distance(shapely.Point(n.place)) < 1e-6]
    for edge in piece.edges:
        if edge.name.startswith("seam "):
            notches += _seam_notches(edge)
    lines = []
    for line in whole.lines:
        kept = LineString(line.points).intersection(net)
        lines += [
            Edge(line.name, shapely.get_coordinates(part))
            for part in getattr(kept, "geoms", [kept])
            if isinstance(part, LineString) and part.length > 0.01
        ]
    inside = [bool(net.buffer(APART).covers(shapely.Point(b))) for b in whole.buttons]
    return replace(
        piece, notches=tuple(notches), lines=tuple(lines), buttons=whole.buttons[np.array(inside, dtype=bool)]
    )


def _seam_notches(edge: Edge) -> list[Notch]:
    """Return one notch at a third of a seam and a double one at two thirds, from the end nearer the front.

    Both sides of the seam are measured from the same end, so that the notches meet.
    """
    run = edge.points if tuple(edge.points[0]) > tuple(edge.points[-1]) else edge.points[::-1]
    steps = length_along(run)
    places = [at_length(s * steps[-1], steps, run) for s in (1 / 3, 2 / 3)]
    return [Notch(place, outward_at(edge, place), count) for count, place in enumerate(places, start=1)]


def _draft_notches(draft: Draft) -> list[Notch]:
    """Return the draft's own notches: centre front and back, shoulders, ends of the fastening; double at the back."""
    edges = {edge.name: edge for edge in loops_of(draft, all_dags=True)[0]}
    neck = [edges[name] for name in draft.neck]
    places = []
    for name, place in draft.marks.items():
        if name.endswith(" hem"):
            places.append((name, place, edges["hem"]))
        elif name in ("front neck", "back neck") or name.endswith("side neck"):
            near = min(neck, key=lambda edge: shapely.distance(LineString(edge.points), shapely.Point(place)))
            places.append((name, place, near))
    places += [(name, run_of(draft, name)[-1], edges[name]) for name in draft.closure]
    return [
        Notch(np.asarray(place, dtype=float), outward_at(edge, place), 2 if name.startswith("back") else 1)
        for name, place, edge in places
        if shapely.distance(LineString(edge.points), shapely.Point(place)) < 1e-6
    ]


def _draft_lines(draft: Draft) -> list[Edge]:
    """Return the lines chalked inside the draft: centre front and back, and shoulders away from the closure."""
    marks, found = draft.marks, []
    for side in ("front", "back"):
        found.append((f"centre {side}", f"{side} neck", f"{side} hem"))
    for side in ("left", "right"):
        dart = next((dart.point for dart in draft.darts if dart.place == f"{side} shoulder"), None)
        found.append((f"{side} shoulder and arm", dart or f"{side} side neck", f"{side} hem"))
    return [Edge(name, np.array([marks[a], marks[b]])) for name, a, b in found if a in marks and b in marks]


def button_places(draft: Draft) -> np.ndarray:
    """Return the centres of buttons and buttonholes on both closing lines [m], shape (k, 2); none without buttons."""
    if draft.fastening.kind != "buttons":
        return np.empty((0, 2))
    lines = [closing_line(draft, side) for side in (0, 1)]
    return np.array([place_along(line, place) for line in lines for place in draft.fastening.places])
