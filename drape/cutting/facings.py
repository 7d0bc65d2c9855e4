"""The smaller pieces: the collar, its inner side, and facings along the opening.

In: a `Draft` and what is to be faced. Out: `Piece`s with their own allowances, notches and grain, to be cut beside the
body. SI, flat axes as the draft's. Facings lie on the body's grain; the collar carries its own.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString, Polygon

from drape.cutting.piece import Notch, Piece, outward_at
from drape.cutting.piecing import Allowances, edge_allowances
from drape.draft.outline import Draft, Edge, closing_line, length_of, loops_of, outline_of, place_along, run_of
from drape.errors import DraftError

FACING_OVER = 0.005  # m that a facing's inner edge is cut beyond, to neaten it; common practice, no source
ON_EDGE = 2e-6  # m; a point nearer to an edge lies on it


def smaller_pieces(
    draft: Draft, allowances: Allowances, *, facing_width: float | None = None, inner_collar: bool = False
) -> tuple[Piece, ...]:
    """Return the collar, once or twice, and the facings. Raises DraftError where a facing does not fit."""
    found: list[Piece] = []
    if draft.collar:
        found.append(collar_piece(draft, allowances, quantity=2 if inner_collar else 1))
    elif inner_collar:
        raise DraftError("facing.collar: got true without a collar, allowed false. Add [collar], or take it out.")
    if facing_width is not None:
        found += facing_pieces(draft, allowances, facing_width)
    return tuple(found)


def collar_piece(draft: Draft, allowances: Allowances, *, quantity: int = 1) -> Piece:
    """Return the collar as a piece, notched where the neck edge is; half the overlap is cut on at either end.

    Of two, the second is turned over, so that it faces the first.
    """
    edges = loops_of(draft, all_dags=True)[1]
    beyond = edge_allowances(draft, allowances)
    allowance = {edge.name: draft.style.collar_allowance for edge in edges if edge.name == "collar top"}
    for edge in edges:
        if edge.name.startswith("collar seam"):
            allowance[edge.name] = beyond[draft.neck[0]]
        elif edge.name.endswith("collar end"):
            lap = draft.fastening.overlap / 2 if draft.style.collar and draft.style.collar.closed else 0.0
            allowance[edge.name] = draft.style.opening_allowance + lap
    return Piece(
        name="collar",
        number=1,
        edges=edges,
        grain=draft.grain,
        allowance=allowance,
        quantity=quantity,
        paired=quantity > 1,
        notches=tuple(_seam_notches(draft, {edge.name: edge for edge in edges})),
        buttons=collar_buttons(draft),
    )


def _seam_notches(draft: Draft, edges: dict[str, Edge]) -> list[Notch]:
    """Return the collar's notches: where centre front, centre back, shoulders and darts of the neck edge come."""
    found: list[Notch] = []
    for k, name in enumerate(draft.neck, start=1):
        neck, seam = run_of(draft, name), edges[f"collar seam {k}"]
        if k > 1:
            found.append(Notch(seam.points[0], outward_at(seam, seam.points[0])))
        for mark in ("front neck", "back neck"):
            at = LineString(neck).project(shapely.Point(draft.marks[mark]))
            off = shapely.distance(LineString(neck), shapely.Point(draft.marks[mark]))
            if off < 1e-6 and 1e-3 < at < length_of(neck) - 1e-3:
                place = place_along(seam.points, at)
                found.append(Notch(place, outward_at(seam, place), 2 if mark.startswith("back") else 1))
    return found


def collar_buttons(draft: Draft) -> np.ndarray:
    """Return the centres of buttons and buttonholes on both ends of the collar [m], shape (k, 2), evenly apart."""
    collar = draft.style.collar
    if collar is None or not collar.buttons:
        return np.empty((0, 2))
    ends = [run_of(draft, edge.name) for edge in draft.collar if edge.name.endswith("collar end")]
    shares = (np.arange(collar.buttons) + 0.5) / collar.buttons
    return np.array([place_along(end, share * length_of(end)) for end in ends for share in shares])


def facing_pieces(draft: Draft, allowances: Allowances, width: float) -> list[Piece]:
    """Return a facing of `width` [m] for each opening edge, from neck to hem. Raises DraftError."""
    body = Polygon(outline_of(draft))
    loop = loops_of(draft, all_dags=True)[0]
    beyond = edge_allowances(draft, allowances)
    found = []
    for side, name in enumerate(draft.opening):
        band = LineString(closing_line(draft, side)).buffer(width, cap_style="square", join_style="mitre")
        part = Polygon(np.concatenate([edge.points[:-1] for edge in loop])).intersection(band)
        part = max(getattr(part, "geoms", [part]), key=lambda one: one.area)
        if part.is_empty or width > 0.4 * float(np.sqrt(body.area)):
            raise DraftError(
                f"facing.opening_cm: got {100 * width:.4g}, allowed less than {40 * float(np.sqrt(body.area)):.3g}, or "
                "it is no facing. Make it narrower."
            )
        outline = shapely.get_coordinates(shapely.orient_polygons(part).exterior)[:-1]
        edges = named_edges(outline, loop, "inner edge")
        allowance = {edge.name: beyond.get(edge.name, 0.0) for edge in edges} | {"inner edge": FACING_OVER}
        found.append(
            Piece(
                name=f"{name.removesuffix(' opening')} facing",
                number=1,
                edges=edges,
                grain=draft.grain,
                allowance=allowance,
            )
        )
    return found


def named_edges(outline: np.ndarray, loop: tuple[Edge, ...], other: str) -> tuple[Edge, ...]:
    """Return an outline's edges, named as those of the loop they lie on; `other` where they lie on none."""
    ends = np.roll(outline, -1, axis=0)
    middles = shapely.points((outline + ends) / 2)
    names = np.full(len(outline), other, dtype=object)
    for edge in loop:
        line = LineString(edge.points)
        shapely.prepare(line)
        names[(names == other) & shapely.dwithin(line, middles, ON_EDGE)] = edge.name
    starts = np.flatnonzero(names != np.roll(names, 1))
    edges = []
    for start, stop in zip(starts, np.roll(starts, -1), strict=True):
        count = (stop - start - 1) % len(outline) + 1
        edges.append(Edge(str(names[start]), outline[(start + np.arange(count + 1)) % len(outline)]))
    return tuple(edges)
