"""From cloth to cloak in words: chalk card, cutting order, sewing order, notions.

In: a draft, its pieces and their lay. Out: sections of plain lines, and chalk points for each piece, measured
on the cloth with string and rule. Amounts are common practice, no source, unless a line says otherwise. Lengths in cm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Point

from drape.cutting.chalk_points import collar_steps, letter
from drape.cutting.lay import Laid, Lay, on_cloth
from drape.cutting.piece import Piece, dart_name, is_leg, marked_darts, net_outline
from drape.draft.outline import Draft, Edge, length_of, run_of
from drape.polyline import at_length, length_along

THREAD = 3.0  # m of thread to a metre of seam, sewn by hand or machine; common practice, no source
FACING = 0.06  # m, width of interfacing along the closure; common practice, no source
HEM_STEP = 0.3  # m; a hem bent as it settled is drawn through points no further apart
SAME = 0.004  # m; chalk points nearer to each other are one


@dataclass(frozen=True)
class ChalkPoint:
    """A point to chalk on the cloth: `along` from its cut end and `across` from the selvedge [m].

    inside: it is marked and not cut.
    """

    sign: str
    what: str
    along: float
    across: float
    inside: bool = False


def chalk_card(laid: Laid, draft: Draft) -> tuple[list[ChalkPoint], list[str]]:
    """Return the points of one laid piece to chalk, and how to join them.

    First the corners of its seam lines, in the order of the outline; then the points inside it, which are not cut.
    """
    piece = laid.pieces[0]
    rows: list[ChalkPoint] = []

    def add(place: np.ndarray, what: str, *, inside: bool = False) -> str:
        """Chalk a point unless it is one with another; returns its sign."""
        along, across = (float(value) for value in on_cloth(laid, place[None])[0])
        near = next((row for row in rows if math.hypot(along - row.along, across - row.across) <= SAME), None)
        if near is None:
            near = ChalkPoint(letter(len(rows)), what, along, across, inside)
            rows.append(near)
        return near.sign

    for before, edge in zip((piece.edges[-1], *piece.edges[:-1]), piece.edges, strict=True):
        if not (is_leg(before.name) and is_leg(edge.name)):
            for place, what in _corners(before, edge, piece.number, draft):
                add(place, what)
    darts = []
    for dart in marked_darts(piece):
        ends = [add(leg[0], f"{dart.name} at the neck") for leg in dart.legs]
        point = add(dart.point, f"{dart.name} point", inside=True)
        bowed = [leg for leg in dart.legs if len(leg) > 2]
        through = [add(leg[len(leg) // 2], f"on a leg of the {dart.name}", inside=True) for leg in bowed]
        darts.append(_dart_said(dart.name, ends, point, through, layer=piece.layer))
    return rows, [*_joining(laid, draft), *darts]


def _dart_said(name: str, ends: list[str], point: str, through: list[str], *, layer: str) -> str:
    """Return how a dart is marked, by the signs of its points."""
    how = f", in smooth curves through {' and '.join(through)}" if through else ""
    lines = f"{name.capitalize()}: join {ends[0]} and {ends[1]} to its point {point} inside the piece{how}."
    if layer == "interlining":
        return f"{lines} Cut it out along these lines, so that its edges meet and no fold is under the cloth."
    return (
        f"{lines} These are its legs: mark them, do not cut them. It is folded on the line from {point} to midway "
        f"between {ends[0]} and {ends[1]}, and sewn leg on leg. The outline runs straight from {ends[0]} to {ends[1]}."
    )


def _corners(before: Edge, edge: Edge, number: int, draft: Draft) -> list[tuple[np.ndarray, str]]:
    """Return the corner of two edges, and on a neck edge or a bent hem the points its curve is drawn through."""
    first, second = (_edge_words(one.name, number) for one in (before, edge))
    out = [(edge.points[0], f"{first} meets {second}")]
    style = draft.style
    drawn = {draft.opening[k] for k, of in enumerate((style.first_edge_along, style.last_edge_along)) if of}
    curved = edge.name.startswith(("collar seam", "collar top")) or edge.name in drawn
    if edge.name in draft.neck or curved or (edge.name == "hem" and not _is_round(draft)):
        steps = length_along(edge.points)
        parts = max(4, math.ceil(steps[-1] / HEM_STEP))
        for share in np.arange(1, parts) / parts:
            place = at_length(share * steps[-1], steps, edge.points)
            out.append((place, f"on the {edge.name} edge"))
    return out


def _edge_words(name: str, number: int) -> str:
    """Return an edge's name as a maker says it: a piecing seam by the piece beyond it, a leg by its dart."""
    if is_leg(name):
        return dart_name(name)
    if not name.startswith("seam "):
        return name
    return "seam with " + next(n for n in name.removeprefix("seam ").split("-") if int(n) != number)


def _is_round(draft: Draft) -> bool:
    """Say whether the hem is an arc about O, which a string strikes."""
    return float(np.ptp(np.linalg.norm(run_of(draft, "hem"), axis=1))) < 1e-6


def _joining(laid: Laid, draft: Draft) -> list[str]:
    piece = laid.pieces[0]
    centre = on_cloth(laid, np.zeros((1, 2)))[0]
    radius = 100 * draft.dimensions["hem_radius"]
    lines = []
    if any(edge.name == "hem" for edge in piece.edges) and not _is_round(draft):
        lines.append("Hem: not an arc; draw a smooth curve through its points.")
    elif any(edge.name == "hem" for edge in piece.edges):
        off = (
            ""
            if net_outline(piece).buffer(0.02).covers(Point(0, 0)) or laid.outline.buffer(0.3).covers(Point(centre))
            else ", off the piece"
        )
        lines.append(
            f"Hem: string of {radius:.1f} cm, pinned at O, {100 * centre[0]:.1f} along and "
            f"{100 * centre[1]:.1f} across{off}."
        )
        if off:
            lines.append(
                "If there is no room to pin O there, sew the piecing first and strike the hem on the whole cloak."
            )
    if piece.name == "collar":
        lines += [f"{line[0].upper()}{line[1:]}" for line in collar_steps(draft)]
    if any(edge.name in draft.neck for edge in piece.edges):
        lines.append("Neck: a smooth curve through its points.")
    lines.append(
        "Join the other points of the outline with a rule. These are seam lines: add the allowances outside them, then "
        "cut."
    )
    return lines


def cutting_order(lay: Lay) -> list[str]:
    """Return what to cut, from the cloth's end on."""
    bolt = lay.bolt
    lines = ["Damp and press the cloth and let it dry before marking out; check the width between the selvedges."]
    if bolt.shrinkage:
        lines.append(f"{100 * bolt.shrinkage:g} % of its length is reckoned lost in this; measure what is left.")
    lines.append(
        "Lay it face up, the nap running one way." if bolt.nap else "Lay it face up; pieces may lie end for end."
    )
    if lay.folded:
        lines.append(
            f"Fold it {bolt.fold}, face inside, over {100 * lay.folded:.0f} cm; pieces marked double "
            "go through both layers."
        )
    for one in sorted(lay.laid, key=lambda one: (one.zone == "single", -one.outline.area)):
        names = " with ".join(dict.fromkeys(f"{piece.number}, {piece.name}" for piece in one.pieces))
        start, end = 100 * one.outline.bounds[0], 100 * one.outline.bounds[2]
        turned = ", end for end" if one.turned else ""
        lines.append(f"Cut {names}{turned}: from {start:.0f} to {end:.0f} cm along.")
    if any(marked_darts(piece) for one in lay.laid for piece in one.pieces):
        lines.append(
            "Mark each dart on the piece, with chalk or tacks: both legs, the point, the fold between. Do not cut it "
            "out; its mouth is cut straight across."
        )
    lines.append(
        "Keep the off-cuts until the cloak is finished; a facing, buttons' covers or dags may come out of them."
    )
    return lines


def sewing_order(draft: Draft, pieces: Sequence[Piece], *, lined: bool = False, interlined: bool = False) -> list[str]:
    """Return what to sew, in order; the hem last, after hanging."""
    lines = [f"Sew {words}, notch to notch." for words in _piecing_seams(pieces)]
    if lines:
        lines.append("Press the piecing open. Selvedges need no neatening; clip them every 10 cm if they pull.")
    for dart in draft.darts:
        where = dart.place or f"{math.degrees(dart.azimuth):.0f} degrees"
        lines.append(
            f"Fold the dart at {where}, face inside, leg on leg; sew it from the neck to nothing at its point, "
            f"{100 * dart.length:.1f} cm."
        )
    if draft.darts:
        lines.append(
            "Press each dart over a rolled cloth. Its fold stays inside; in thick cloth slit it after the fitting, to "
            "2 cm from the point, and press it open."
        )
    if interlined:
        cut_out = ", its darts cut out" if draft.darts else ""
        lines.append(f"Tack the interlining to the inside of the cloth, its lengths edge to edge{cut_out}.")
    lines.append("Stay the neck edge with a tape before it stretches.")
    faced = any(piece.name.endswith(" facing") for piece in pieces)
    lines.append(
        f"Interface both closure edges ({draft.closure_place}), and "
        + ("sew on their facings, face to face; turn them in." if faced else "face them with a tape or an off-cut.")
    )
    collar = next((piece for piece in pieces if piece.name == "collar"), None)
    if collar is not None and collar.quantity > 1:
        lines.append("Sew the two collars face to face along ends and top, and turn them out.")
    lines.append("Set the collar, notch to notch." if collar is not None else "Bind or turn in the neck edge.")
    if lined:
        lines.append("Sew the lining's own seams; join it at neck and closure, leave the hem open.")
    if draft.fastening.kind == "buttons":
        lines.append("Work the buttonholes; sew the buttons on opposite, with shanks as long as the cloth is thick.")
    else:
        lines.append(f"Fasten the closure{': ' + draft.fastening.kind if draft.fastening.kind else ''}.")
    lines.append("Hang the cloak on the wearer or a stand, over night at least: the bias parts drop.")
    lines.append("Level the hem from the floor, and trim. Fulled cloth may stay raw.")
    if lined:
        lines.append("Turn up the lining 2 cm shorter.")
    for dags in draft.dags:
        where = "on the levelled hem" if dags.edge == "hem" else f"on the {dags.edge.removeprefix('collar ')} edge"
        lines.append(f"Cut the {dags.count} {dags.kind} dags last, {where}, round a card of one dag.")
    return lines


def _piecing_seams(pieces: Sequence[Piece]) -> list[str]:
    """Return each piecing seam with its length: those square to the grain first, then from the hem up."""
    seams: dict[str, tuple[bool, float, Piece]] = {}
    for piece in pieces:
        for edge in piece.edges:
            if edge.name.startswith("seam "):
                step = edge.points[-1] - edge.points[0]
                along = abs(math.cos(math.atan2(step[1], step[0]) - piece.grain)) > 0.7
                seams[edge.name] = (along, length_of(edge.points), piece)
    names = {piece.number: piece.name for piece in pieces}
    order = sorted(seams, key=lambda name: (seams[name][0], [-int(n) for n in name.removeprefix("seam ").split("-")]))
    out = []
    for name in order:
        first, second = (int(n) for n in name.removeprefix("seam ").split("-"))
        out.append(f"{second}, {names[second]}, to {first}, {names[first]} ({100 * seams[name][1]:.1f} cm)")
    return out


def seam_total(draft: Draft, pieces: Sequence[Piece]) -> float:
    """Return the length of all seams [m]: piecing, dart, neck, and both closure edges."""
    seams = {e.name: length_of(e.points) for piece in pieces for e in piece.edges if e.name.startswith("seam ")}
    own = [length_of(e.points) for e in draft.edges if e.name in (*draft.neck, *draft.closure)]
    return sum(seams.values()) + sum(own) + sum(dart.length for dart in draft.darts)


def notions(draft: Draft, pieces: Sequence[Piece]) -> list[str]:
    """Return what to buy beside the cloth."""
    closure = draft.dimensions["fastened_length"]
    thread = THREAD * seam_total(draft, pieces)
    lines = [
        f"Thread: {thread:.0f} m, {THREAD:g} m to a metre of seam; more for a hem sewn by hand.",
        f"Interfacing: two strips of {100 * FACING:g} by {100 * closure + 4:.0f} cm for the closure.",
        f"Stay tape: {100 * draft.dimensions['neck_edge_length'] + 4:.0f} cm for the neck edge.",
    ]
    fastening = draft.fastening
    if fastening.kind == "buttons":
        size = f"{1000 * fastening.diameter:.0f} mm, buttonholes of {1000 * fastening.buttonhole:.0f} mm"
        lines.insert(0, f"{len(fastening.places)} buttons of {size}; one spare.")
    return lines
