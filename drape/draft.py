"""The flat draft of a cloak: figure and style in, an outline with named edges out.

In: a `Figure` (landmarks and neck-base girth) and a `Style`. Out: a `Draft`, one closed outline
whose edges carry names, its seams, grain, marks and dimensions. SI throughout, angles in radians.

Flat axes: O at (0, 0) in the middle of the straight edge; a flat point is r (cos phi, sin phi) with phi
from 0 (front opening edge) to the sweep (back opening edge); the face side looks at the reader.
Closed over the right shoulder, sweep/4 is centre front, sweep/2 the left shoulder, 3/4 sweep centre back.
Triangles are left to `mesh`, drawing to `pattern`, cloth widths to `lay`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from shapely import Polygon
from shapely.validation import explain_validity

from drape import neckline
from drape.errors import DraftError
from drape.neckline import Neckline, direction, mirrored

if TYPE_CHECKING:
    from drape.figure import Figure

CLOSURE_PLACES = ("right shoulder",)
DART_PLACES = ("left shoulder",)
NECKS = ("round", "tailored")
DEFAULT_NECK_EASE = 0.01  # m; common practice, no source
LEAST_NECK_SHORTFALL = 0.01  # m; a neck edge this much under the girth cannot be closed; common practice, no source
LEAST_INTAKE = 0.002  # m; a narrower wedge cannot be sewn; common practice, no source
OPEN_SWEEP = math.radians(345)  # a wider sector is checked and meshed squeezed to this, so that its edges do not touch
HEM_STEP = math.radians(0.1)  # spacing of outline points on the hem arc; chord error 1.3e-7 of the length


@dataclass(frozen=True)
class Dart:
    """A wedge sewn out of the cloth; `None` means computed from the figure. Lengths [m]."""

    place: str = "left shoulder"
    length: float | None = None  # along either leg, neck edge to dart point
    intake: float | None = None  # between the legs at the neck edge


@dataclass(frozen=True)
class Style:
    """What the maker asks for; `None` means computed from the figure. Lengths [m], sweep [rad].

    Depths are measured from O along the centre-front and centre-back lines; for a round neck both are its radius.
    """

    neck: str  # "round" or "tailored"
    length: float  # neck edge to hem along centre back
    sweep: float = math.pi
    front_neck_depth: float | None = None
    back_neck_depth: float | None = None
    neck_width: float | None = None  # between the two side neck points, across the front with its wedges sewn
    neck_ease: float | None = None  # neck edge beyond the neck-base girth
    closure_place: str = "right shoulder"
    shoulder_cut_intake: float | None = None  # taken out at the neck edge, half from front, half from back
    shoulder_cut_length: float | None = None
    fastened_length: float | None = None  # from the neck edge; None: the cut's, or else the shoulder's length
    darts: tuple[Dart, ...] = ()


@dataclass(frozen=True)
class Edge:
    """One named stretch of the outline; `points`: flat positions [m], shape (k, 2), in the order of the loop."""

    name: str
    points: np.ndarray


@dataclass(frozen=True)
class Seam:
    """Two edges of equal length sewn together, neck end to neck end."""

    first: str
    second: str


@dataclass(frozen=True)
class Draft:
    """A flat outline. `edges` run round it anticlockwise, each ending where the next starts.

    `grain` is the warp's direction from flat x [rad]; `dimensions` are lengths [m] and one area [m2];
    `marks` are single flat points [m], shape (2,).
    """

    style: Style
    edges: tuple[Edge, ...]
    seams: tuple[Seam, ...]
    grain: float
    dimensions: Mapping[str, float]
    marks: Mapping[str, np.ndarray]


def draft_cloak(style: Style, figure: Figure) -> Draft:
    """Return the cloak's draft for one figure.

    *Round*: one circular neck hole about O of radius (neck-base girth + ease) / sweep, straight closure edges.

    *Tailored*: the neck edge, dart and shoulder cuts come from the figure; the formulas stand in `neckline`.
    The wedge sewn out at a shoulder of slope s from a draft of sweep S turns through

        delta = 180 deg - 2 s - S/2     (never negative),     intake = 2 length sin(delta / 2)

    because the front panel must turn through 180 deg - s_left - s_right between the two shoulder lines and the
    draft gives S/2 to each of front and back; half of each wedge comes off the front and half off the back.
    Its point is the shoulder point, so its length is the shoulder length.

    Either neck may carry a dart and shoulder cuts. By default the round neck has straight closure edges and the
    tailored one has cuts; darts are only those in `style.darts`. The hem is an arc about O, `length`
    from the back neck point down centre back (radius back neck depth + length where the shoulders are alike). A
    given depth or width replaces the fitted one and the others stay as fitted, so that
    the neck edge is then longer or shorter than girth + ease; `dimensions["neck_edge_length"]` says how long.

    Raises
    ------
    DraftError: a dimension is out of range, or the pieces of the outline do not fit each other.

    Source: ours; tests/unit/test_draft.py and tests/published/test_sector_geometry.py.
    """
    _check_style(style)
    body = neckline.read_shoulders(figure)
    neck = _round_neck(style, body) if style.neck == "round" else _tailored_neck(style, body)
    points = (figure.landmarks[f"shoulder_point_{side}"] for side in ("left", "right"))
    _check_neck(neck, body, float(np.linalg.norm(np.subtract(*points))))
    hem_radius = float(np.linalg.norm(neck.back_point + style.length * neck.back_heading))
    _check_reach(neck, hem_radius)
    edges = _outline(style, neck, hem_radius, body.right.length)
    _check_simple(edges, style.sweep)
    seams = [Seam("front closure", "back closure")]
    if neck.dart_point is not None:
        seams.append(Seam("dart front leg", "dart back leg"))
    return Draft(
        style=style,
        edges=edges,
        seams=tuple(seams),
        grain=0.0,
        dimensions=_dimensions(style, neck, edges, hem_radius),
        marks=_marks(style, neck, hem_radius),
    )


def run_of(draft: Draft, name: str) -> np.ndarray:
    """Return an edge's points [m], shape (k, 2), in workshop order: from the neck down, or by increasing phi.

    The loop runs anticlockwise, so about half the edges are stored the other way round.
    Raises DraftError if the draft has no edge of that name.
    """
    for edge in draft.edges:
        if edge.name == name:
            return edge.points[::-1].copy() if name in _AGAINST_THE_LOOP else edge.points.copy()
    raise DraftError(
        f"draft: no edge is called {name!r}, allowed {', '.join(e.name for e in draft.edges)}. Use one of them."
    )


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


_AGAINST_THE_LOOP = ("back opening", "back closure", "back neck", "dart front leg", "front neck")


def _check_style(style: Style) -> None:
    """Refuse what is wrong whatever the figure."""
    if style.neck not in NECKS:
        raise DraftError(f'draft.neck: got {style.neck!r}, allowed {" or ".join(NECKS)}. Write neck = "round".')
    if style.closure_place not in CLOSURE_PLACES:
        raise DraftError(
            f"closure.place: got {style.closure_place!r}, allowed {', '.join(CLOSURE_PLACES)}. Close the cloak there."
        )
    if not math.radians(90) - 1e-9 <= style.sweep <= math.radians(360) + 1e-9:
        raise DraftError(
            f"draft.sweep_deg: got {math.degrees(style.sweep):.6g}, allowed 90 to 360. A half circle is 180."
        )
    lengths = {
        "draft.length_cm": (style.length, 1e-3),
        "draft.front_neck_depth_cm": (style.front_neck_depth, 1e-3),
        "draft.back_neck_depth_cm": (style.back_neck_depth, 1e-3),
        "draft.neck_width_cm": (style.neck_width, 1e-3),
        "draft.neck_ease_cm": (style.neck_ease, -LEAST_NECK_SHORTFALL),
        "closure.shoulder_cut_intake_cm": (style.shoulder_cut_intake, 0.0),
        "closure.shoulder_cut_length_cm": (style.shoulder_cut_length, 1e-3),
        "closure.fastened_length_cm": (style.fastened_length, 1e-3),
    }
    if len(style.darts) > 1:
        raise DraftError(
            f"dart: got {len(style.darts)} darts, allowed one, at the {DART_PLACES[0]}. Take the others out."
        )
    for dart in style.darts:
        if dart.place not in DART_PLACES:
            raise DraftError(f"dart.place: got {dart.place!r}, allowed {', '.join(DART_PLACES)}. Place it there.")
        lengths |= {"dart.length_cm": (dart.length, 1e-3), "dart.intake_cm": (dart.intake, 0.0)}
    for where, (value, least) in lengths.items():
        if value is not None and not least <= value <= 5.0:
            raise DraftError(
                f"{where}: got {100 * value:.6g}, allowed {100 * least:.6g} to 500. Give the length in centimetres."
            )
    for where in ("closure.shoulder_cut_intake_cm", "dart.intake_cm"):
        value = lengths.get(where, (None, 0.0))[0]
        if value is not None and 0.0 < value < LEAST_INTAKE:
            raise DraftError(
                f"{where}: got {100 * value:.6g}, allowed 0 or at least {100 * LEAST_INTAKE:.6g}. Write 0 for none."
            )


def _wedges(style: Style, body: neckline.Shoulders) -> tuple[neckline.Wedge, neckline.Wedge]:
    """Return what is asked of the left wedge (dart) and the right one (shoulder cuts)."""
    dart = style.darts[0] if style.darts else Dart(intake=0.0)
    cut_intake = style.shoulder_cut_intake
    if cut_intake is None and style.neck == "round":
        cut_intake = 0.0
    left = neckline.Wedge("dart.", dart.length, dart.intake, neckline.turn_to_take_out(body.left.slope, style.sweep))
    right = neckline.Wedge(
        "closure.shoulder_cut_",
        style.shoulder_cut_length,
        cut_intake,
        neckline.turn_to_take_out(body.right.slope, style.sweep),
    )
    return left, right


def _target_length(style: Style, body: neckline.Shoulders) -> float:
    """Return the neck edge's length once sewn [m]: girth and ease."""
    return body.neck_base_girth + (DEFAULT_NECK_EASE if style.neck_ease is None else style.neck_ease)


def _round_neck(style: Style, body: neckline.Shoulders) -> Neckline:
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
            f"draft: a round neck is settled by one dimension, got {both[0]} and {both[1]}, allowed one. Leave one out."
        )
    if radii:
        return neckline.round_neck(style.sweep, next(iter(radii.values())), body, left, right)
    target = math.pi * style.neck_width if style.neck_width is not None else _target_length(style, body)
    neck, _ = neckline.fit_length(
        lambda radius: neckline.round_neck(style.sweep, radius, body, left, right),
        target / style.sweep,
        target,
    )
    return neck


def _tailored_neck(style: Style, body: neckline.Shoulders) -> Neckline:
    """Return the tailored neck, fitted to girth and ease; given dimensions then replace the fitted ones."""
    left, right = _wedges(style, body)
    neck, scale = neckline.fit_length(
        lambda factor: neckline.tailored_neck(style.sweep, factor, body, left, right),
        1.0,
        _target_length(style, body),
    )
    depths = (style.front_neck_depth, style.back_neck_depth)
    if style.neck_width is None and depths == (None, None):
        return neck
    return neckline.tailored_neck(style.sweep, scale, body, left, right, depths=depths, width=style.neck_width)


def _check_neck(neck: Neckline, body: neckline.Shoulders, breadth: float) -> None:
    """Refuse a neck edge that cannot be closed round the neck, or is so long that the shoulders pass through it.

    `breadth` [m]: between the shoulder points. Worn as a circle, the edge must be narrower than that.
    """
    length = length_of(neck.front) + length_of(neck.back)
    least = body.neck_base_girth - LEAST_NECK_SHORTFALL
    if length < least - 1e-9:
        raise DraftError(
            f"draft: the neck edge is too short to close, got {100 * length:.4g} cm sewn, allowed at least "
            f"{100 * least:.4g} "
            f"(neck-base girth {100 * body.neck_base_girth:.4g} less 1). Deepen or widen the neck, or take less intake."
        )
    if length / math.pi >= breadth:
        raise DraftError(
            f"draft: the neck hole lets the shoulders through, got {100 * length:.4g} cm sewn, allowed under "
            f"{100 * math.pi * breadth:.4g} (shoulder points {100 * breadth:.4g} apart). Make the neck shallower."
        )


def _check_reach(neck: Neckline, hem_radius: float) -> None:
    """Refuse a neck hole, dart or cut that reaches the hem."""
    hole = float(np.linalg.norm(np.vstack([neck.front, neck.back]), axis=1).max())
    if hole >= hem_radius - 0.01:
        raise DraftError(
            f"draft: the neck hole is wider than the draft, got {100 * hole:.4g} cm from the centre, allowed less than "
            f"{100 * (hem_radius - 0.01):.4g} (hem radius {100 * hem_radius:.4g} less 1). Lengthen the cloak or "
            f"raise the neck."
        )
    for what, where, point in (
        ("dart reaches the hem", "dart.length_cm", neck.dart_point),
        (
            "shoulder cut is longer than the straight edge",
            "closure.shoulder_cut_length_cm",
            neck.cut_point,
        ),
    ):
        if point is not None and np.linalg.norm(point) >= hem_radius - 0.01:
            length = neck.dart_length if point is neck.dart_point else neck.cut_length
            allowed = length - (float(np.linalg.norm(point)) - hem_radius + 0.01)
            raise DraftError(
                f"{where}: the {what}, got {100 * length:.4g}, allowed less than {100 * allowed:.4g}. Shorten it."
            )


def _outline(style: Style, neck: Neckline, hem_radius: float, shoulder_length: float) -> tuple[Edge, ...]:
    """Return the edges of the whole outline, anticlockwise from the hem's front corner."""
    count = math.ceil(style.sweep / HEM_STEP) + 1
    hem = hem_radius * direction(np.linspace(0.0, style.sweep, count))
    path = [neck.front[0], hem[0]] if neck.cut_point is None else [neck.front[0], neck.cut_point, hem[0]]
    fastened = style.fastened_length
    if fastened is None:
        fastened = shoulder_length if neck.cut_point is None else neck.cut_length
    closure, opening = _split_path(np.array(path), fastened)
    back_closure, back_opening = mirrored(closure, style.sweep), mirrored(opening, style.sweep)
    back_opening[-1], back_closure[0] = hem[-1], neck.back[-1]
    edges = [
        Edge("hem", hem),
        Edge("back opening", back_opening[::-1].copy()),
        Edge("back closure", back_closure[::-1].copy()),
        Edge("back neck", neck.back[::-1].copy()),
    ]
    if neck.dart_point is not None:
        edges.append(Edge("dart back leg", np.array([neck.back[0], neck.dart_point])))
        edges.append(Edge("dart front leg", np.array([neck.dart_point, neck.front[-1]])))
    edges += [
        Edge("front neck", neck.front[::-1].copy()),
        Edge("front closure", closure),
        Edge("front opening", opening),
    ]
    return tuple(edges)


def _split_path(path: np.ndarray, fastened: float) -> tuple[np.ndarray, np.ndarray]:
    """Split the closure edge at the end of the fastening; returns the fastened part and the open part."""
    steps = np.linalg.norm(np.diff(path, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    if fastened > along[-1] - 0.01:
        raise DraftError(
            f"closure.fastened_length_cm: got {100 * fastened:.4g}, allowed less than {100 * (along[-1] - 0.01):.4g} "
            f"(the whole closure edge less 1). Fasten less of it."
        )
    near = np.flatnonzero(np.abs(along - fastened) < 1e-9)
    if len(near):
        return path[: near[0] + 1].copy(), path[near[0] :].copy()
    after = int(np.searchsorted(along, fastened))
    end = path[after - 1] + (path[after] - path[after - 1]) * (fastened - along[after - 1]) / steps[after - 1]
    return np.vstack([path[:after], end]), np.vstack([end, path[after:]])


def _check_simple(edges: tuple[Edge, ...], sweep: float) -> None:
    """Refuse an outline that crosses itself; the last guard behind the plainer checks."""
    outline = np.concatenate([edge.points[:-1] for edge in edges])
    loop = Polygon(squeezed(outline, min(1.0, OPEN_SWEEP / sweep)))
    if not loop.is_valid:
        where = re.findall(r"-?[\d.]+(?:e-?\d+)?", explain_validity(loop))[:2]
        raise DraftError(
            f"draft: the outline crosses itself, got a crossing {100 * math.hypot(*map(float, where)):.4g} cm from "
            f"the centre, allowed none. Take less intake, or shorten the dart or cut."
        )


def squeezed(loop: np.ndarray, factor: float) -> np.ndarray:
    """Return a loop's points, shape (k, 2), with their angle about O multiplied by `factor`.

    The loop starts on the front opening edge. A full circle squeezed a little has straight edges that do not touch.
    """
    if factor == 1.0:
        return loop
    angle = np.unwrap(np.arctan2(loop[:, 1], loop[:, 0]))
    return np.linalg.norm(loop, axis=1)[:, None] * direction(angle * factor)


def _dimensions(style: Style, neck: Neckline, edges: tuple[Edge, ...], hem_radius: float) -> dict[str, float]:
    """Return the draft's measures, SI."""
    by_name = {edge.name: edge.points for edge in edges}
    values = {
        "front_neck_depth": float(np.linalg.norm(neck.front_point)),
        "back_neck_depth": float(np.linalg.norm(neck.back_point)),
        "neck_width": neck.width,
        "neck_edge_length": length_of(neck.front) + length_of(neck.back),
        "hem_radius": hem_radius,
        "hem_length": style.sweep * hem_radius,
        "area": area_of(np.concatenate([edge.points[:-1] for edge in edges])),
        "shoulder_cut_intake": 0.0,
        "fastened_length": length_of(by_name["front closure"]),
    }
    if neck.cut_point is not None:
        values |= {"shoulder_cut_intake": neck.cut_intake, "shoulder_cut_length": neck.cut_length}
    if neck.dart_point is not None:
        values |= {"dart_intake": neck.dart_intake, "dart_length": neck.dart_length}
    elif style.darts:
        values["dart_intake"] = 0.0
    return values


def _marks(style: Style, neck: Neckline, hem_radius: float) -> dict[str, np.ndarray]:
    """Return the draft's named points."""
    marks = {
        "centre": np.zeros(2),
        "front neck": neck.front_point.copy(),
        "back neck": neck.back_point.copy(),
        "front hem": _on_hem(neck.front_point, neck.front_heading, hem_radius),
        "left hem": hem_radius * direction(style.sweep / 2),
        "back hem": _on_hem(neck.back_point, neck.back_heading, hem_radius),
        "right side neck front": neck.front[0].copy(),
        "right side neck back": neck.back[-1].copy(),
    }
    if neck.dart_point is None:
        marks["left side neck"] = neck.front[-1].copy()
    else:
        marks |= {
            "left side neck front": neck.front[-1].copy(),
            "left side neck back": neck.back[0].copy(),
            "dart point": neck.dart_point.copy(),
        }
    if neck.cut_point is not None:
        marks |= {
            "front cut point": neck.cut_point.copy(),
            "back cut point": mirrored(neck.cut_point, style.sweep),
        }
    return marks


def _on_hem(start: np.ndarray, heading: np.ndarray, hem_radius: float) -> np.ndarray:
    """Return where a line from inside the hem meets it."""
    along = float(start @ heading)
    reach = math.sqrt(along**2 + hem_radius**2 - float(start @ start)) - along
    return np.asarray(start + reach * heading)
