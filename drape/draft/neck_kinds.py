"""The neck edge a style asks for: round, tailored or drawn, with its darts and shoulder cuts.

In: a `Style` and a body's shoulders. Out: a `Neck`, its sewn edge as long as girth and ease where that is asked, or
as long as the dimensions given make it. How a neck is laid out is left to `neckline`, how it is turned to the closure
to `panels`. SI, flat axes of `cloak`.
"""

from __future__ import annotations

import math

import numpy as np

from drape.draft import neckline
from drape.draft.neckline import direction
from drape.draft.panels import Neck, arranged, bare, cut_darts, cut_ends, cut_in, sewn_length
from drape.draft.style import AZIMUTHS, LEAST_NECK_SHORTFALL, Dart, Style, dart_place, named_darts
from drape.errors import DraftError

FRONT_LOWERED = 0.037  # of the neck-base girth, 1.5 cm of 41: how far the front is hollowed; see step 5 of `neckline`
DEFAULT_NECK_EASE = 0.01  # m; common practice, no source
DRAWN_COUNT = 641  # points on a drawn neck's curve
ON_EDGE = 1e-3  # m; how near its ends must lie to the straight edges


def cut_neck(style: Style, body: neckline.Shoulders) -> Neck:
    """Return the neck edge a style asks for, with its darts and cuts. Raises DraftError."""
    return {"round": _round_neck, "tailored": _tailored_neck, "drawn": _drawn_neck}[style.neck](style, body)


def _shoulder_darts(style: Style) -> dict[str, tuple[str, Dart]]:
    """Return the darts on shoulder lines by their side, with what their keys begin with."""
    found = {}
    for name, dart in named_darts(style):
        place = dart_place(style, dart)
        if place is not None:
            found[place.split()[0]] = (name, dart)
    return found


def _wedges(style: Style, body: neckline.Shoulders) -> tuple[neckline.Wedge, neckline.Wedge]:
    """Return what is asked of the wedges over the left shoulder and the right one."""
    darts, found = _shoulder_darts(style), []
    for side in ("left", "right"):
        shoulder = getattr(body, side)
        turn = neckline.turn_to_take_out(shoulder.slope, style.sweep)
        if style.closure_place.startswith(side):
            intake = style.shoulder_cut_intake
            if intake is None and style.neck != "tailored":
                intake = 0.0
            found.append(neckline.Wedge("closure.shoulder_cut_", style.shoulder_cut_length, intake, turn))
        else:
            name, dart = darts.get(side, ("dart.", Dart(intake=0.0)))
            length = dart.length if dart.point_short is None else shoulder.length - dart.point_short
            if length is not None and length < 0.01:
                raise DraftError(
                    f"{name}point_short_cm: got {100 * (dart.point_short or 0.0):.4g}, allowed less than "
                    f"{100 * shoulder.length - 1:.4g} (the shoulder's length less 1). Bring the point nearer to it."
                )
            found.append(neckline.Wedge(name, length, dart.intake, turn))
    return found[0], found[1]


def _target_length(style: Style, body: neckline.Shoulders) -> float:
    """Return the neck edge's length once sewn [m]: girth and ease."""
    return body.neck_base_girth + (DEFAULT_NECK_EASE if style.neck_ease is None else style.neck_ease)


def _round_neck(style: Style, body: neckline.Shoulders) -> Neck:
    """Return the round neck; any one of its three dimensions may be given."""
    left, right = _wedges(style, body)
    given = {"front_neck_depth_cm": style.front_neck_depth, "back_neck_depth_cm": style.back_neck_depth}
    radii = {name: value for name, value in given.items() if value is not None}
    if len(radii) == 2 and max(radii.values()) - min(radii.values()) > 1e-6:
        raise DraftError(
            f"draft: a round neck has one radius, got front_neck_depth_cm {100 * radii['front_neck_depth_cm']:.6g} and "
            f"back_neck_depth_cm {100 * radii['back_neck_depth_cm']:.6g}, allowed equal. "
            f'Give one of them, or write neck = "tailored".'
        )
    others = {"neck_width_cm": style.neck_width, "neck_ease_cm": style.neck_ease}
    both = [*radii][:1] + [name for name, value in others.items() if value is not None]
    if len(both) > 1:
        raise DraftError(
            f"draft: a round neck takes one dimension, got {both[0]} and {both[1]}, allowed one. Leave one out."
        )

    def drawn(radius: float) -> Neck:
        return cut_darts(arranged(neckline.round_neck(style.sweep, radius, body, left, right), style), style)

    if radii:
        return drawn(next(iter(radii.values())))
    target = math.pi * style.neck_width if style.neck_width is not None else _target_length(style, body)
    neck, _ = neckline.fit_length(drawn, sewn_length, target / style.sweep, target)
    return neck


def _tailored_neck(style: Style, body: neckline.Shoulders) -> Neck:
    """Return the tailored neck, fitted to girth and ease; given dimensions then replace the fitted ones."""
    left, right = _wedges(style, body)

    def drawn(
        scale: float, depths: tuple[float | None, float | None] = (None, None), width: float | None = None
    ) -> Neck:
        front, back = depths
        if front is None:
            flat = neckline.tailored_neck(style.sweep, scale, body, left, right, depths=depths, width=width)
            front = float(np.linalg.norm(flat.front_point)) + FRONT_LOWERED * body.neck_base_girth
        laid = neckline.tailored_neck(style.sweep, scale, body, left, right, depths=(front, back), width=width)
        return cut_darts(arranged(laid, style), style)

    depths = (style.front_neck_depth, style.back_neck_depth)
    if style.neck_width is not None and None not in depths:
        return drawn(1.0, depths, style.neck_width)  # nothing is left to fit
    neck, scale = neckline.fit_length(drawn, sewn_length, 1.0, _target_length(style, body))
    if style.neck_width is None and depths == (None, None):
        return neck
    return drawn(scale, depths, style.neck_width)


def _drawn_neck(style: Style, body: neckline.Shoulders) -> Neck:
    """Return the neck through given points, its wedges cut into it."""
    curve = _drawn_curve(style)
    names = {
        "centre front": ("left front neck", "back neck", "right front neck"),
        "left shoulder": ("back neck", "front neck"),
        "right shoulder": ("front neck", "back neck"),
    }[style.closure_place]
    neck = bare(curve, style, names)
    wedges = dict(zip(("left", "right"), _wedges(style, body), strict=True))
    for side, (name, dart) in _shoulder_darts(style).items():
        length, turn = wedges[side].drawn(getattr(body, side).length)
        if turn:
            asked = Dart(length=length, intake=2 * length * math.sin(turn / 2), leg_bow=dart.leg_bow)
            place = f"{side} shoulder"
            sides = ("front", "back") if side == "left" else ("back", "front")
            neck = cut_in(neck, style, asked, name, place, AZIMUTHS[place], sides)
    if style.shoulder_cut_intake:
        side = style.closure_place.split()[0]
        length, turn = wedges[side].drawn(getattr(body, side).length)
        neck = cut_ends(neck, style, length, 2 * length * math.sin(turn / 2))
    return cut_darts(neck, style)


def check_neck(neck: Neck, body: neckline.Shoulders, breadth: float) -> None:
    """Refuse a neck edge that cannot be closed round the neck, or is so long that the shoulders pass through it.

    `breadth` [m]: between the shoulder points. Worn as a circle, the edge must be narrower than that.
    """
    length = sewn_length(neck)
    least = body.neck_base_girth - LEAST_NECK_SHORTFALL
    if length < least - 1e-9:
        raise DraftError(
            f"draft: the neck edge is too short to close, got {100 * length:.4g} cm sewn, allowed at least "
            f"{100 * least:.4g} "
            f"(neck-base girth {100 * body.neck_base_girth:.4g} less 1). Deepen or widen the neck, or take less intake."
        )
    if length / math.pi >= breadth:
        raise DraftError(
            f"draft: the neck hole is so wide that the shoulders slip through, got {100 * length:.4g} cm sewn, allowed "
            f"under {100 * math.pi * breadth:.4g} (shoulder points {100 * breadth:.4g} apart). Make the neck shallower."
        )


def _drawn_curve(style: Style) -> np.ndarray:
    """Return the smooth curve through a drawn neck's points [m], shape (DRAWN_COUNT, 2), by increasing phi.

    A cubic spline over the chords' summed length.
    """
    from scipy.interpolate import CubicSpline

    points = np.column_stack([style.neck_along, style.neck_up])
    last = float(points[-1] @ direction(style.sweep + math.pi / 2))
    for where, off in (("first", float(points[0, 1])), ("last", last)):
        if abs(off) > ON_EDGE:
            raise DraftError(
                f"draft.neck_up_cm: the {where} point is off its straight edge, got {100 * abs(off):.4g} cm off, "
                f"allowed {100 * ON_EDGE:.4g}. Begin on the front edge and end on the last one."
            )
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    if steps.min() < ON_EDGE:
        raise DraftError(
            f"draft.neck_along_cm: got two points {100 * float(steps.min()):.4g} cm apart, allowed at least "
            f"{100 * ON_EDGE:.4g}. Take one out."
        )
    along = np.concatenate([[0.0], np.cumsum(steps)])
    curve = CubicSpline(along, points)(np.linspace(0.0, along[-1], DRAWN_COUNT))
    curve[0] = np.linalg.norm(points[0]) * direction(0.0)
    curve[-1] = np.linalg.norm(points[-1]) * direction(style.sweep)
    turning = np.diff(np.unwrap(np.arctan2(curve[:, 1], curve[:, 0])))
    if turning.min() <= 0 or turning.sum() > style.sweep + 1e-6:
        raise DraftError(
            "draft.neck_along_cm: the drawn neck does not run round the centre, got points that turn back, allowed "
            "points in order from the first straight edge to the last. Check their order."
        )
    return curve
