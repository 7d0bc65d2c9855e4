"""Our constructions fitted to a drawing: a `Sector` and the wearer's figure in, a `Style` and its draft out.

Tried in this order: a round neck, a tailored one, a neck drawn through points; the first whose outline lies within
3 mm of the drawing is taken, the last in any case. Sizes are found by least squares over the distance of the drawing's
outline from the draft's. SI, flat axes of `cloak`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from scipy.optimize import least_squares

from drape.arrays import Floats
from drape.draft.cloak import draft_cloak
from drape.draft.hem import hem_radii
from drape.draft.neck_kinds import cut_neck
from drape.draft.neckline import Shoulders, direction, read_shoulders
from drape.draft.outline import Draft, outline_of
from drape.draft.panels import Neck
from drape.draft.style import Style
from drape.errors import DraftError
from drape.polyline import polyline_distance
from drape.tracing.drawn_curve import edge_points, hem_points
from drape.tracing.drawn_neck import neck_points
from drape.tracing.joined import places_along, thinned
from drape.tracing.sector import CLOSE, Sector
from drape.tracing.wedges import INNER, Wedge, cut_wedge, dart_wedge, inner_path, neck_radii, placed_dart

if TYPE_CHECKING:
    from drape.body.figure import Figure

MOST_ROUNDS: Final = 30
SOFT: Final = 2e-3  # m; places further off than an unsteady hand draws count less
STEP: Final = 1e-3  # of a size, to see what it changes: about 0.1 mm; the path is thinned to a tenth of that
FEW: Final = 10  # of so many places on a straight edge one is compared


@dataclass(frozen=True)
class Fitted:
    """What a drawing was fitted with. off: by edge, how far it lies from the draft on average and at most [m]."""

    style: Style
    draft: Draft
    off: Mapping[str, tuple[float, float]]
    wedges: tuple[Wedge, ...]
    cuts: tuple[Wedge | None, Wedge | None]


def fitted(drawn: Sector, place: str, figure: Figure) -> Fitted:
    """The style and draft that describe a drawing, for a closure at `place`. Raises DraftError."""
    body = read_shoulders(figure)
    wedges = tuple(map(dart_wedge, drawn.edges.darts))
    first, last = (
        cut_wedge(run, angle, sense) if off <= CLOSE else None
        for run, angle, sense, off in zip(
            drawn.edges.openings, (0.0, drawn.sweep), (1.0, -1.0), drawn.opening_off, strict=True
        )
    )
    cuts = (first, last)
    base = _base(drawn, place, wedges, cuts)
    tried: list[tuple[float, Style]] = []
    complaint: DraftError | None = None
    for start in _starts(drawn, base, place):
        try:
            style = _refined(start, drawn, body)
            off = _inner_off(style, drawn, body)
        except DraftError as error:
            complaint = error
            continue
        tried.append((off, style))
        if off <= CLOSE:
            break
    if not tried:
        raise complaint or DraftError("trace: found no draft of this outline. Name its edges with --edge.")
    within = [one for one in tried if one[0] <= CLOSE]
    style = (within or sorted(tried, key=lambda one: one[0]))[0][1]
    style = _with_hem(replace(style, **edge_points(drawn)), drawn, body, figure)
    draft = draft_cloak(style, figure)
    return Fitted(style, draft, offs(drawn, draft), wedges, cuts)


def _base(drawn: Sector, place: str, wedges: Sequence[Wedge], cuts: tuple[Wedge | None, Wedge | None]) -> Style:
    """A style with the drawing's wedges and sweep."""
    found = [cut for cut in cuts if cut is not None]
    style = Style(neck="round", length=1.0, sweep=drawn.sweep, closure_place=place)
    if place != "centre front":
        style = replace(style, shoulder_cut_intake=0.0)
        if found:
            style = replace(
                style,
                shoulder_cut_intake=sum(cut.intake for cut in found),
                shoulder_cut_length=sum(cut.length for cut in found) / len(found),
                shoulder_cut_bow=sum(cut.bow for cut in found) / len(found),
            )
    return replace(style, darts=tuple(placed_dart(wedge, place, drawn.sweep) for wedge in wedges))


def _starts(drawn: Sector, base: Style, place: str) -> list[Style]:
    """The styles to refine: round if the neck is an arc, tailored, and drawn."""
    phi, radius = neck_radii(drawn)
    tried = []
    if float(np.ptp(radius)) < 3 * CLOSE:
        tried.append(replace(base, front_neck_depth=float(radius.mean())))
    front, back = {"right shoulder": (0.25, 0.75), "left shoulder": (0.75, 0.25), "centre front": (0.0, 0.5)}[place]
    depths = [float(np.interp(share * drawn.sweep, phi, radius)) for share in (front, back)]
    if len(drawn.edges.neck) > 1:
        width = float(np.linalg.norm(drawn.edges.neck[0][0] - drawn.edges.neck[0][-1]))
    else:
        width = 2 * min(depths) * math.sin(drawn.sweep / 8)
    tried.append(
        replace(base, neck="tailored", front_neck_depth=depths[0], back_neck_depth=depths[1], neck_width=width)
    )
    along, up = neck_points(drawn, bool(base.shoulder_cut_intake))
    tried.append(replace(base, neck="drawn", neck_along=along, neck_up=up))
    return tried


# --- least squares ----------------------------------------------------------------------------


def _sizes(style: Style) -> list[tuple[int | None, str]]:
    """What of a style may be refined: a name of its own (None), or one of the dart of that place."""
    names = ["front_neck_depth", "back_neck_depth", "neck_width"]
    if style.shoulder_cut_intake:
        names += ["shoulder_cut_intake", "shoulder_cut_length"]
    found: list[tuple[int | None, str]] = [(None, name) for name in names if getattr(style, name) is not None]
    if style.shoulder_cut_bow:
        found.append((None, "shoulder_cut_bow"))
    for k, dart in enumerate(style.darts):
        found += [(k, "length"), (k, "intake")]
        found += [(k, name) for name in ("azimuth", "leg_bow") if getattr(dart, name)]
    return found


def _size(style: Style, place: int | None, name: str) -> float:
    return float(getattr(style if place is None else style.darts[place], name))


def _with_size(style: Style, place: int | None, name: str, value: float) -> Style:
    changed: dict[str, Any] = {name: value}
    if place is None:
        return replace(style, **changed)
    darts = list(style.darts)
    darts[place] = replace(darts[place], **changed)
    return replace(style, darts=tuple(darts))


def _refined(style: Style, drawn: Sector, body: Shoulders) -> Style:
    """The style with its sizes as they fit the drawing best. Raises DraftError where the start cannot be drawn."""
    sizes = _sizes(style)
    places = _compared(drawn)

    def with_values(values: Floats) -> Style:
        made = style
        for (place, name), value in zip(sizes, values, strict=True):
            made = _with_size(made, place, name, float(value))
        return made

    first = np.array([_size(style, place, name) for place, name in sizes])
    start = signed_distance(places, model_path(cut_neck(style, body), drawn))
    if not len(first):
        return style

    def residuals(values: Floats) -> Floats:
        try:
            path = model_path(cut_neck(with_values(values), body), drawn)
        except DraftError:
            return 10 * np.abs(start) + 0.01
        return signed_distance(places, path)

    found = least_squares(
        residuals, first, loss="soft_l1", f_scale=SOFT, x_scale=0.1, diff_step=STEP, max_nfev=MOST_ROUNDS
    )
    return with_values(found.x)


def _compared(drawn: Sector, share: float = 1.0) -> Floats:
    """The places of the drawing that say something of the neck and its wedges, and a few of the straight edges.

    share: of a dart's leg, from the neck edge on.
    """
    edges = drawn.edges
    near = 1.6 * float(np.linalg.norm(np.vstack([*edges.neck, *(dart.first for dart in edges.darts)]), axis=1).max())
    found = [places_along(run) for run in edges.neck]
    found += [_to_share(leg, share) for dart in edges.darts for leg in (dart.first, dart.second)]
    for run, off in zip(edges.openings, drawn.opening_off, strict=True):
        if off <= CLOSE:
            places = places_along(run)
            keep = np.linalg.norm(places, axis=1) < near
            keep[::FEW] = True
            found.append(places[keep])
    return np.vstack(found)


def model_path(neck: Neck, drawn: Sector) -> Floats:
    """A draft's outline but for its hem, from the first hem corner round the neck to the last [m]."""
    parts = [drawn.radius * direction(0.0)[None]]
    if neck.cuts is not None:
        parts.append(neck.cuts[0][::-1])
    for k, (_, points) in enumerate(neck.pieces):
        parts.append(points)
        gap = neck.gaps[k] if k < len(neck.gaps) else None
        if gap is not None:
            parts += [gap.first, gap.second[::-1]]
    if neck.cuts is not None:
        parts.append(neck.cuts[1])
    return thinned(np.vstack([*parts, drawn.radius * direction(drawn.sweep)[None]]))


def signed_distance(places: Floats, path: Floats) -> Floats:
    """How far places lie from a polyline that runs on straight at both ends, positive to its left [m].

    Nearest to a corner, two edges are as near as each other, and one of them may have the place on its other side. So
    the side is told there by the sum of both edges' normals, which changes it only where the place crosses the line
    (Baerentzen and Aanaes 2005, in the plane). By the first of the edges alone, rounding would choose.
    """
    a, edge = path[:-1], np.diff(path, axis=0)
    length = np.linalg.norm(edge, axis=1)
    heading = edge / length[:, None]
    least, most = np.zeros(len(edge)), length.copy()
    least[0], most[-1] = -np.inf, np.inf
    away = places[:, None, :] - a[None]
    along = np.clip(np.sum(away * heading, axis=2), least, most)
    distance = np.linalg.norm(away - along[..., None] * heading, axis=2)
    which = distance.argmin(axis=1)
    rows = np.arange(len(places))
    at = along[rows, which]
    beside = which + (at >= most[which]).astype(int) - (at <= least[which]).astype(int)
    turned = heading[which] + heading[beside]
    rest = away[rows, which] - at[:, None] * heading[which]
    cross = turned[:, 0] * rest[:, 1] - turned[:, 1] * rest[:, 0]
    return np.where(cross < 0, -1.0, 1.0) * distance[rows, which]


def _to_share(leg: Floats, share: float) -> Floats:
    """Places along a dart's leg, from the neck edge on, to a share of it."""
    places = places_along(leg)
    return places[: math.ceil(share * len(places))]


def _inner_off(style: Style, drawn: Sector, body: Shoulders) -> float:
    """How far drawing and draft lie apart at most, the hem left out; either way [m].

    The points of darts are left out too: legs a millimetre aside meet several further on, whatever the neck is.
    """
    neck, share = cut_neck(style, body), 1.0 - INNER
    there = polyline_distance(_compared(drawn, share), model_path(neck, drawn)).max()
    mine = [places_along(points) for _, points in neck.pieces]
    mine += [_to_share(leg, share) for gap in neck.gaps if gap for leg in (gap.first, gap.second)]
    back = polyline_distance(np.vstack(mine), thinned(inner_path(drawn))).max()
    return float(max(there, back))


# --- the hem ----------------------------------------------------------------------------------


def _with_hem(style: Style, drawn: Sector, body: Shoulders, figure: Figure) -> Style:
    """The style with the drawing's length: one behind, or others in front and at the sides, or a hem of points."""
    neck = cut_neck(style, body)
    if drawn.hem_off <= CLOSE:
        return replace(style, length=_down(neck.back, drawn.radius))
    hem = places_along(drawn.edges.hem)
    phi = np.clip(np.unwrap(np.arctan2(hem[:, 1], hem[:, 0])), 0.0, drawn.sweep)
    radius = np.linalg.norm(hem, axis=1)

    def bent(values: Floats) -> Style:
        back, front, side = map(float, values)
        return replace(style, length=back, front_length=front, side_length=side)

    def off(values: Floats) -> Floats:
        return np.asarray(hem_radii(bent(values), figure, neck, phi) - radius)

    start = _down(neck.back, drawn.radius)
    found = least_squares(off, np.full(3, start), bounds=(0.1, 5.0)).x
    if np.abs(off(found)).max() <= CLOSE:
        return bent(found)
    return replace(style, length=None, **hem_points(drawn))


def _down(line: tuple[Floats, Floats], radius: float) -> float:
    """How far it is from a neck point down a centre line to a distance from O [m]."""
    start, heading = line
    along = float(start @ heading)
    return math.sqrt(max(0.0, along**2 + radius**2 - float(start @ start))) - along


# --- what is left over ------------------------------------------------------------------------


def offs(drawn: Sector, draft: Draft) -> dict[str, tuple[float, float]]:
    """By edge, how far the drawing lies from the draft's outline on average and at most [m]."""
    outline = outline_of(draft)
    outline = thinned(np.vstack([outline, outline[:1]]))
    edges = drawn.edges
    runs = {"hem": [edges.hem], "opening": list(edges.openings), "neck": list(edges.neck)}
    if edges.darts:
        runs["dart"] = [leg for dart in edges.darts for leg in (dart.first, dart.second)]
    found = {}
    for name, of in runs.items():
        off = polyline_distance(np.vstack(list(map(places_along, of))), outline)
        found[name] = (float(np.sqrt((off**2).mean())), float(off.max()))
    return found
