"""A flat draft as it is handed on: named edges, seams, darts, marks; and how its lines are read.

In: nothing but itself. Out: a `Draft` and its runs, loops, lengths, areas. SI throughout, angles in radians; flat axes
as in `cloak`, which works one out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from drape.draft.dags import DagRun
from drape.draft.fastening import Fastening
from drape.draft.neckline import direction
from drape.draft.style import CollarStyle, Dags, Dart, Style
from drape.errors import DraftError
from drape.polyline import at_length, length_along


@dataclass(frozen=True)
class Edge:
    """One named stretch of the outline; `points`: flat positions [m], shape (k, 2), in the order of the loop.

    against: its workshop order, from the neck down or by increasing phi, is the other way round.
    """

    name: str
    points: np.ndarray
    against: bool = False


@dataclass(frozen=True)
class Seam:
    """Two edges of equal length sewn together, neck end to neck end."""

    first: str
    second: str


@dataclass(frozen=True)
class SewnDart:
    """A dart of the draft: the names of its legs and of its point's mark; azimuth [rad], lengths [m]."""

    place: str  # the shoulder it lies on, or ""
    azimuth: float
    legs: tuple[str, str]  # at smaller and larger phi
    point: str
    length: float
    intake: float


def place_said(dart: SewnDart) -> str:
    """Return where a dart lies: the shoulder, or else the azimuth."""
    return dart.place or f"azimuth {math.degrees(dart.azimuth):.0f}\u00b0"


@dataclass(frozen=True)
class Draft:
    """A flat outline. `edges` run round it anticlockwise, each ending where the next starts.

    `grain` is the warp's direction from flat x [rad]; `dimensions` are lengths [m] and one area [m2];
    `collar`: a second outline beside the first, empty without one: its neck seam, end, top, end. `dags`: of the edges
    that are dagged, which `edges` and `collar` hold as they were before. `marks` are single flat points [m], shape
    (2,). `neck`: the neck edge's pieces by increasing phi; `closure` and `opening`: the edges at phi 0 and at the
    sweep. `word`: "cloak", or "mantle" where it ends above the waist. `piecing`: seams inside the outline, straight,
    each from the outline or another seam to the next; see `lay.jointed`. `remarks`: what was asked and is not on it or
    is changed, and why; see `remarks`.
    """

    style: Style
    edges: tuple[Edge, ...]
    seams: tuple[Seam, ...]
    grain: float
    dimensions: Mapping[str, float]
    marks: Mapping[str, np.ndarray]
    neck: tuple[str, ...]
    closure: tuple[str, str]
    opening: tuple[str, str]
    closure_place: str
    closure_azimuth: float  # round the body [rad], -pi to pi
    darts: tuple[SewnDart, ...]
    fastening: Fastening
    word: str
    piecing: tuple[Edge, ...] = ()
    collar: tuple[Edge, ...] = ()
    dags: tuple[DagRun, ...] = ()
    remarks: tuple[str, ...] = ()
    is_estimate: bool = False  # of a hem that depends on settling and has not settled
    is_trimmed: bool = False  # its hem, on the settled cloth


ESTIMATE_WORDS = "ESTIMATE: the hem is not settled"  # in large type on whatever is made of such a draft


def hem_mark(draft: Draft) -> str:
    """Return what a sheet made of the draft says in large type; nothing where its hem is final."""
    return ESTIMATE_WORDS if draft.is_estimate else ""


def hem_said(draft: Draft) -> str:
    """Return in a line how the hem was found, and where it was asked to hang."""
    style = draft.style
    asked = {"": style.length_to, "in front ": style.front_length_to, "at the sides ": style.side_length_to}
    said = [f"{where}to the {place}" for where, place in asked.items() if place is not None]
    if style.off_floor is not None:
        said.insert(0, f"{100 * style.off_floor:g} cm off the floor")
    if style.level:
        said.append("level")
    if draft.is_estimate:
        how = "an estimate, not settled"
    else:
        how = "settled on the figure" if draft.is_trimmed else "length as given"
    return ", ".join([f"hem: {how}", *said])


def hem_radius_said(draft: Draft) -> str:
    """Return the hem's distance from O in cm: one figure only where it is the same all round."""
    values = draft.dimensions
    back = f"{100 * values['hem_radius']:.1f}"
    if "hem_radius_min" not in values:
        return f"{back} cm"
    return f"{100 * values['hem_radius_min']:.1f} to {100 * values['hem_radius_max']:.1f} cm, {back} at centre back"


# every class a draft is built of
DRAFT_PARTS = (Draft, Style, Dart, CollarStyle, Dags, Edge, Seam, SewnDart, Fastening, DagRun)


def run_of(draft: Draft, name: str) -> np.ndarray:
    """Return an edge's points [m], shape (k, 2), in workshop order: from the neck down, or by increasing phi.

    The loop runs anticlockwise, so about half the edges are stored the other way round.
    Raises DraftError if the draft has no edge of that name.
    """
    every = (*draft.edges, *draft.collar)
    for edge in every:
        if edge.name == name:
            return run_along(edge)
    raise DraftError(f"draft: no edge is called {name!r}, allowed {', '.join(e.name for e in every)}. Use one of them.")


def run_along(edge: Edge) -> np.ndarray:
    """Return an edge's points [m], shape (k, 2), in workshop order."""
    return edge.points[::-1].copy() if edge.against else edge.points.copy()


def loops_of(draft: Draft, *, all_dags: bool = False) -> tuple[tuple[Edge, ...], ...]:
    """Return the outlines of the body and, if there is one, of the collar, with the dags that are meshed, or all,
    cut in.
    """
    runs = {dags.edge: dags.points for dags in draft.dags if dags.meshed or all_dags}
    loops = [draft.edges, draft.collar] if draft.collar else [draft.edges]
    return tuple(_cut_in(loop, runs) for loop in loops)


def _cut_in(loop: tuple[Edge, ...], runs: Mapping[str, np.ndarray]) -> tuple[Edge, ...]:
    """Return a loop with some edges' points replaced, the edges beside them ending where those now start."""
    if not any(edge.name in runs for edge in loop):
        return loop
    points = [runs.get(edge.name, edge.points).copy() for edge in loop]
    for k, edge in enumerate(loop):
        if edge.name in runs:
            for near, end, own in ((k - 1, -1, 0), ((k + 1) % len(loop), 0, -1)):
                if loop[near].name not in runs or edge.name == "hem":  # a hem's dags cut the corners off the openings
                    points[near][end] = points[k][own]
    return tuple(replace(edge, points=of) for edge, of in zip(loop, points, strict=True))


def length_of(points: np.ndarray) -> float:
    """Return the length [m] of a polyline of `points`, shape (k, d)."""
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def area_of(points: np.ndarray) -> float:
    """Return the signed area [m2] inside a closed polygon, shape (k, 2); positive if anticlockwise."""
    x, y = points[:, 0], points[:, 1]
    return float(0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def outline_of(draft: Draft) -> np.ndarray:
    """Return the whole outline once round, anticlockwise [m], shape (k, 2), without repeating its first point."""
    return np.concatenate([edge.points[:-1] for edge in draft.edges])


def mouth_of(draft: Draft, dart: SewnDart) -> np.ndarray:
    """Return the straight line across a dart's mouth, from leg to leg [m], shape (2, 2)."""
    return np.array([run_of(draft, leg)[0] for leg in dart.legs])


def fold_of(draft: Draft, dart: SewnDart) -> np.ndarray:
    """Return the line a dart is folded on, from its point to the middle of its mouth [m], shape (2, 2)."""
    return np.array([draft.marks[dart.point], mouth_of(draft, dart).mean(axis=0)])


def place_along(points: np.ndarray, distance: float) -> np.ndarray:
    """Return the point [m], shape (2,), a distance [m] along a polyline from its start."""
    along = length_along(points)
    return at_length(distance, along, points)


def closing_line(draft: Draft, side: int) -> np.ndarray:
    """Return the whole edge from neck to hem at phi 0 (side 0) or at the sweep (side 1) [m], shape (k, 2)."""
    return np.vstack([run_of(draft, draft.closure[side]), run_of(draft, draft.opening[side])[1:]])


def squeezed(loop: np.ndarray, factor: float) -> np.ndarray:
    """Return a loop's points, shape (k, 2), with their angle about O multiplied by `factor`.

    The loop starts on the first opening edge. A full circle squeezed a little has straight edges that do not touch.
    """
    if factor == 1.0:
        return loop
    angle = np.unwrap(np.arctan2(loop[:, 1], loop[:, 0]))
    return np.linalg.norm(loop, axis=1)[:, None] * direction(angle * factor)
