"""A traced draft carried over to another body: its character kept, its sizes taken from the new figure.

In: the style a drawing was fitted with, the figure it was cut for, the figure that is to wear it. Out: the new style,
and each dimension that changed, with its reason. Angles and shares are kept: the sweep, the neck's proportions, what
share of the shoulder a dart or cut runs down, what share of the height the cloak hangs. Neck base, shoulder length,
slope and height are the new figure's.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from drape.draft.neck_kinds import cut_neck
from drape.draft.neckline import Shoulder, Shoulders, fit_length, read_shoulders
from drape.draft.panels import Neck, sewn_length
from drape.draft.style import LEAST_INTAKE, Dart, Style

if TYPE_CHECKING:
    from drape.body.figure import Figure

LEAST_CHANGE: Final = 5e-4  # m; a smaller one is none


@dataclass(frozen=True)
class Change:
    """A dimension of the draft that is another on the new body [m]; key: as a scene has it, without unit."""

    key: str
    before: float
    after: float
    reason: str


def carried(style: Style, old: Figure, new: Figure) -> tuple[Style, tuple[Change, ...]]:
    """The style for the new figure, and what changed. Raises DraftError where it cannot be drawn there."""
    was, is_now = read_shoulders(old), read_shoulders(new)
    made = _with_wedges(style, was, is_now)
    made = _with_neck(made, style, was, is_now)
    made = _with_length(made, style, old, new)
    return made, tuple(_changes(style, made, (was, is_now), (_height(old), _height(new))))


def _height(figure: Figure) -> float:
    """The back neck point's height above the floor [m]."""
    return float(figure.landmarks["back_neck"][2])


# --- shoulders --------------------------------------------------------------------------------


def _wedge(length: float, intake: float, was: Shoulder, is_now: Shoulder) -> tuple[float, float]:
    """Length and intake of a wedge over a shoulder [m]: its share of the shoulder's length, and its angle less twice
    what the new shoulder slopes more.
    """
    turn = 2 * math.asin(min(1.0, intake / (2 * length)))
    turn = max(0.0, turn + 2 * (was.slope - is_now.slope))
    own = length * is_now.length / was.length
    taken = 2 * own * math.sin(turn / 2)
    return own, taken if taken >= LEAST_INTAKE else 0.0


def _with_wedges(style: Style, was: Shoulders, is_now: Shoulders) -> Style:
    girths = is_now.neck_base_girth / was.neck_base_girth
    darts: list[Dart] = []
    for dart in style.darts:
        length, intake = dart.length or 0.0, dart.intake or 0.0
        if dart.place is None:
            darts.append(replace(dart, length=girths * length, intake=girths * intake, leg_bow=girths * dart.leg_bow))
            continue
        side = dart.place.split()[0]
        own, taken = _wedge(length, intake, getattr(was, side), getattr(is_now, side))
        if taken:
            darts.append(replace(dart, length=own, intake=taken, leg_bow=dart.leg_bow * own / length))
    made = replace(style, darts=tuple(darts))
    if style.shoulder_cut_intake and style.shoulder_cut_length:
        side = style.closure_place.split()[0]
        both = getattr(was, side), getattr(is_now, side)
        own, taken = _wedge(style.shoulder_cut_length, style.shoulder_cut_intake, *both)
        bow = style.shoulder_cut_bow * own / style.shoulder_cut_length
        made = replace(made, shoulder_cut_intake=taken, shoulder_cut_length=own, shoulder_cut_bow=bow)
        if not taken:
            made = replace(made, shoulder_cut_length=None, shoulder_cut_bow=0.0)
    return made


# --- neck -------------------------------------------------------------------------------------


def _with_neck(made: Style, style: Style, was: Shoulders, is_now: Shoulders) -> Style:
    """The style with its neck in proportion, as much longer than the neck base as it was on the old body."""
    share = sewn_length(cut_neck(style, was)) / was.neck_base_girth

    def scaled(factor: float) -> Style:
        return _scaled_neck(made, factor)

    def drawn(factor: float) -> Neck:
        return cut_neck(scaled(factor), is_now)

    first = is_now.neck_base_girth / was.neck_base_girth
    _, factor = fit_length(drawn, sewn_length, first, share * is_now.neck_base_girth)
    return scaled(factor)


def _scaled_neck(style: Style, factor: float) -> Style:
    depths = ("front_neck_depth", "back_neck_depth", "neck_width")
    return replace(style, **_scaled(style, depths, ("neck_along", "neck_up"), factor))


def _scaled(style: Style, lengths: Sequence[str], points: Sequence[str], factor: float) -> dict[str, Any]:
    """The lengths that a style gives, and its rows of points, times a factor, by their names."""
    given = {name: factor * getattr(style, name) for name in lengths if getattr(style, name) is not None}
    return given | {name: tuple(factor * value for value in getattr(style, name)) for name in points}


# --- length -----------------------------------------------------------------------------------


def _with_length(made: Style, style: Style, old: Figure, new: Figure) -> Style:
    """The style with the same share of the height from the back neck to the floor; drawn edges are scaled with it."""
    share = _height(new) / _height(old)
    lengths = ("length", "front_length", "side_length")
    made = replace(made, **_scaled(style, lengths, ("hem_along", "hem_up"), share))
    if not (style.first_edge_along or style.last_edge_along):
        return made
    return _with_edges(made, style, old, new)


def _with_edges(made: Style, style: Style, old: Figure, new: Figure) -> Style:
    """The style with its drawn opening edges stretched between the new neck and the new hem."""
    from drape.draft.hem import hem_radii

    changed: dict[str, Any] = {}
    for which, end in (("first", 0), ("last", -1)):
        along, aside = (np.array(getattr(style, f"{which}_edge_{name}")) for name in ("along", "aside"))
        if not len(along):
            continue
        angle = math.atan2(aside[-1], along[-1])
        starts, ends = [], []
        for one, figure in ((style, old), (made, new)):
            neck = cut_neck(one, read_shoulders(figure))
            tip = neck.pieces[end][1][end] if neck.cuts is None else neck.cuts[end][-1]
            starts.append(float(np.linalg.norm(tip)))
            phi = np.array([-angle, one.sweep / 2] if which == "first" else [one.sweep / 2, one.sweep + angle])
            ends.append(float(hem_radii(one, figure, neck, phi)[end]) * math.cos(angle))
        scale = (ends[1] - starts[1]) / (along[-1] - starts[0])
        changed[f"{which}_edge_along"] = tuple(map(float, starts[1] + scale * (along - starts[0])))
        tall = ends[1] * math.tan(angle) / aside[-1] if abs(aside[-1]) > 1e-6 else scale
        changed[f"{which}_edge_aside"] = tuple(map(float, tall * aside))
    return replace(made, **changed)


# --- what changed -----------------------------------------------------------------------------


def _changes(
    style: Style, made: Style, bodies: tuple[Shoulders, Shoulders], heights: tuple[float, float]
) -> list[Change]:
    was, is_now = bodies
    girth = f"neck base {_cm(is_now.neck_base_girth)} cm, {_cm(was.neck_base_girth)} before: in proportion"
    tall = f"back neck {_cm(heights[1])} cm above the floor, {_cm(heights[0])} before: the same share of it"
    found = [
        Change(f"draft.{name}", getattr(style, name), getattr(made, name), reason)
        for names, reason in (
            (("front_neck_depth", "back_neck_depth", "neck_width"), girth),
            (("length", "front_length", "side_length"), tall),
        )
        for name in names
        if getattr(style, name) is not None
    ]
    for name, reason in (("neck", girth), ("hem", tall), ("first_edge", tall), ("last_edge", tall)):
        before, after = getattr(style, f"{name}_along"), getattr(made, f"{name}_along")
        if before:
            found.append(Change(f"draft.{name}_along, its first point", before[0], after[0], f"{reason}; all points"))
    drawn = {dart.place or dart.azimuth: dart for dart in made.darts}
    for dart in style.darts:
        now = drawn.get(dart.place or dart.azimuth)
        reason = _shoulder_said(dart.place, was, is_now) if dart.place else girth
        name = f"dart, {dart.place or f'{math.degrees(dart.azimuth or 0.0):.0f} degrees'}"
        found.append(Change(f"{name}: intake", dart.intake or 0.0, now.intake or 0.0 if now else 0.0, reason))
        if now:
            found.append(Change(f"{name}: length", dart.length or 0.0, now.length or 0.0, reason))
    if style.shoulder_cut_intake and style.shoulder_cut_length:
        reason = _shoulder_said(style.closure_place, was, is_now)
        after = made.shoulder_cut_intake or 0.0
        found.append(Change("closure.shoulder_cut_intake", style.shoulder_cut_intake, after, reason))
        if made.shoulder_cut_length:
            found.append(
                Change("closure.shoulder_cut_length", style.shoulder_cut_length, made.shoulder_cut_length, reason)
            )
    return [one for one in found if abs(one.after - one.before) > LEAST_CHANGE]


def _shoulder_said(place: str, was: Shoulders, is_now: Shoulders) -> str:
    side = place.split()[0]
    before, after = getattr(was, side), getattr(is_now, side)
    return (
        f"{side} shoulder {_cm(after.length)} cm long, {_cm(before.length)} before; it slopes "
        f"{math.degrees(after.slope):.0f} degrees, {math.degrees(before.slope):.0f} before"
    )


def _cm(value: float) -> str:
    return f"{100 * value:.1f}"
