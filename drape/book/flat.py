"""The flat draft as the page draws it: lines in centimetres, and handles on the points that may be moved.

In: a scene, its figure, its draft. Out: lines and handles; and, for a handle dragged to a place, the value its
dimension comes to. A point moves along the line it is seen to take when its dimension changes a little, whatever
the dimension; so a place on the sheet becomes a value without a rule for each.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from drape.arrays import Floats
from drape.body.figure import Figure
from drape.draft.cloak import draft_cloak
from drape.draft.cut_line import allowances, cut_line
from drape.draft.dimensions import DIMENSIONS, Dimension, value_of, whole_millimetres, with_value
from drape.draft.outline import Draft, fold_of, loops_of, mouth_of, run_of
from drape.draft.style import Style
from drape.errors import DraftError
from drape.fitting.scene import Scene
from drape.fitting.scene_keys import SCENE_TABLES
from drape.schema import Number
from drape.units import from_si, to_si

NUDGE: Final = 0.002  # [m] by which a dimension is moved to see where its point goes
STEP, LEAP = 0.001, 0.01  # [m] of an arrow key, and with shift or page keys
MARGIN: Final = 6.0  # [cm] of paper round the drawing


@dataclass(frozen=True)
class Handle:
    """A point of the draft that may be moved. name: of its field in the order; at, along: [cm] on the sheet, y down.

    value, low, high [cm].
    """

    name: str
    words: str
    at: tuple[float, float]
    along: tuple[float, float]
    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Line:
    """One stroke of the drawing [cm]: kind cut, seam, fold, centre, allowance or grain."""

    kind: str
    points: str


@dataclass(frozen=True)
class Sheet:
    """What is drawn. box, near: left, top, width, height [cm] of the whole sheet and of the neck."""

    box: tuple[float, float, float, float]
    near: tuple[float, float, float, float]
    lines: tuple[Line, ...]
    labels: tuple[tuple[float, float, float, str], ...]  # where, turned by so many degrees, what
    handles: tuple[Handle, ...]


WORDS: Final = {
    "front_neck_depth": "front neck depth", "back_neck_depth": "back neck depth", "neck_width": "neck width",
    "dart_intake": "dart intake", "shoulder_cut_intake": "shoulder cut intake", "dart_length": "dart length",
    "shoulder_cut_length": "shoulder cut length", "length": "length behind",
}  # fmt: skip


def sheet_of(draft: Draft, handles: tuple[Handle, ...]) -> Sheet:
    """The draft drawn, with its handles."""
    outline = 100 * np.vstack([cut_line(draft), np.zeros((1, 2))])
    low, high = outline.min(axis=0) - MARGIN, outline.max(axis=0) + MARGIN
    beyond = any(allowances(draft).values())
    lines = [_line("allowance", cut_line(draft), is_closed=True)] if beyond else []
    for dart in draft.darts:
        lines += [_line("fold", fold_of(draft, dart)), _line("seam" if beyond else "cut", mouth_of(draft, dart))]
    for loop in loops_of(draft, all_dags=True):
        for edge in loop:
            lines.append(_line("leg" if edge.name.endswith(" leg") else "seam" if beyond else "cut", edge.points))
    lines += [_line("seam", edge.points) for edge in draft.piecing]
    labels = []
    for place in ("front", "back"):
        if f"{place} neck" in draft.marks and draft.closure_place != f"centre {place}":
            start, end = draft.marks[f"{place} neck"], draft.marks[f"{place} hem"]
            lines.append(_line("centre", np.array([start, end])))
            labels.append((*_at(0.5 * (start + end)), _upright(end - start), f"centre {place}"))
    half = 0.11 * np.array([np.cos(draft.grain), np.sin(draft.grain)])
    middle = 0.62 * (0.55 * draft.marks["front hem"] + 0.45 * draft.marks["back hem"])
    lines.append(_line("grain", np.array([middle - half, middle + half])))
    for tip in (middle + half, middle - half):
        back, aside = 0.14 * (middle - tip), 0.05 * np.array([-half[1], half[0]])
        lines.append(_line("grain", np.array([tip + back + aside, tip, tip + back - aside])))
    labels.append((*_at(middle), _upright(half), "grain, warp"))
    box = (float(low[0]), float(-high[1]), float(high[0] - low[0]), float(high[1] - low[1]))
    return Sheet(_rounded(box), _rounded(_near(draft)), tuple(lines), tuple(labels), handles)


def _near(draft: Draft) -> tuple[float, float, float, float]:
    """The box round neck, darts and cuts."""
    runs = [run_of(draft, name) for name in (*draft.neck, *draft.closure)]
    places = 100 * np.vstack([*runs, *(draft.marks[dart.point][None] for dart in draft.darts)])
    low, high = places.min(axis=0) - MARGIN, places.max(axis=0) + MARGIN
    return float(low[0]), float(-high[1]), float(high[0] - low[0]), float(high[1] - low[1])


def _rounded(box: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
    left, top, width, height = (round(c, 2) for c in box)
    return left, top, width, height


def _line(kind: str, points: Floats, *, is_closed: bool = False) -> Line:
    every = np.vstack([points, points[:1]]) if is_closed else points
    return Line(kind, " ".join(f"{100 * x:.2f},{-100 * y:.2f}" for x, y in every + 0.0))


def _upright(way: Floats) -> float:
    """By how much a line of words along a way is turned on the sheet [deg], so that it is never upside down."""
    turn = -float(np.degrees(np.arctan2(way[1], way[0])))
    return round((turn + 90.0) % 180.0 - 90.0, 1)


def _at(point: Floats) -> tuple[float, float]:
    return round(100 * float(point[0]), 2), round(-100 * float(point[1]), 2)


# --- handles -----------------------------------------------------------------------------------


def _mark(*names: str) -> Callable[[Draft], Floats | None]:
    return lambda draft: next((draft.marks[name] for name in names if name in draft.marks), None)


def _first_dart(draft: Draft) -> Any:
    return next((dart for dart in draft.darts if dart.place), None)


def _dart_point(draft: Draft) -> Floats | None:
    dart = _first_dart(draft)
    return None if dart is None else draft.marks[dart.point]


def _dart_mouth(draft: Draft) -> Floats | None:
    dart = _first_dart(draft)
    return None if dart is None else run_of(draft, dart.legs[1])[0]


def _neck_side(draft: Draft) -> Floats | None:
    """The side neck point of the front that no wedge handle sits on."""
    dart = _first_dart(draft)
    if dart is not None:
        return run_of(draft, dart.legs[0])[0]
    return _mark("left side neck", "right side neck")(draft)


def _cut_mouth(draft: Draft) -> Floats | None:
    return run_of(draft, draft.closure[1])[0] if draft.dimensions.get("shoulder_cut_length") else None


def _cut_point(draft: Draft) -> Floats | None:
    return next((draft.marks[name] for name in draft.marks if name.endswith("cut point")), None)


PLACES: Final[dict[str, Callable[[Draft], Floats | None]]] = {
    "front_neck_depth": _mark("front neck"), "back_neck_depth": _mark("back neck"), "neck_width": _neck_side,
    "dart_intake": _dart_mouth, "shoulder_cut_intake": _cut_mouth, "dart_length": _dart_point,
    "shoulder_cut_length": _cut_point, "length": _mark("back hem"),
}  # fmt: skip
BY_NAME: Final = {d.name: d for d in DIMENSIONS}


def field_of(d: Dimension) -> str:
    """The order's field of a dimension; of darts the first's."""
    return f"dart.0.{d.key}" if d.table == "dart" else f"{d.table}.{d.key}"


def dimension_of(name: str) -> Dimension | None:
    """The dimension of a field."""
    return next((d for d in DIMENSIONS if field_of(d) == name), None)


def handles_of(
    scene: Scene, figure: Figure, draft: Draft, known: Mapping[str, tuple[float, float]]
) -> tuple[Handle, ...]:
    """Every point of the draft that may be moved. known: the ways that hardly change while one is dragged, by name."""
    found = [_handle(scene.style, figure, draft, d, known.get(field_of(d))) for d in DIMENSIONS]
    return tuple(handle for handle in found if handle is not None)


def _handle(
    style: Style, figure: Figure, draft: Draft, d: Dimension, known: tuple[float, float] | None
) -> Handle | None:
    value, at = value_of(style, draft, d), PLACES[d.name](draft)
    if value is None or at is None or (d.name == "length" and (draft.is_trimmed or style.length is None)):
        return None
    along = known or _unit_way(style, figure, draft, d)
    if along is None:
        return None
    rule = SCENE_TABLES[d.table].keys[d.key]
    low, high = (rule.low, rule.high) if isinstance(rule, Number) else (0.0, 200.0)
    return Handle(field_of(d), WORDS[d.name], _at(at), along, round(from_si(d.key, value), 1), low, high)


def _unit_way(style: Style, figure: Figure, draft: Draft, d: Dimension) -> tuple[float, float] | None:
    """The direction on the sheet in which a dimension's point goes; None where it stays."""
    way = _way(style, figure, draft, d)
    size = 0.0 if way is None else float(np.linalg.norm(way))
    if way is None or size < 1e-3:
        return None
    return round(float(way[0]) / size, 4), round(-float(way[1]) / size, 4)


def _way(style: Style, figure: Figure, draft: Draft, d: Dimension) -> Floats | None:
    """How far the dimension's point moves for each metre that it is changed, (2,); None where it cannot be."""
    value = value_of(style, draft, d)
    if value is None:
        return None
    for step in (NUDGE, -NUDGE):
        try:
            moved = draft_cloak(with_value(style, draft, d, value + step), figure)
        except DraftError:
            continue
        here, there = PLACES[d.name](draft), PLACES[d.name](moved)
        if here is not None and there is not None:
            return (there - here) / step
    return None


def dragged(scene: Scene, figure: Figure, draft: Draft, name: str, place: tuple[float, float]) -> float | None:
    """The value [cm] of a handle's dimension, to the millimetre, that brings its point nearest to a place [cm]."""
    d = dimension_of(name)
    if d is None:
        return None
    value, at, way = value_of(scene.style, draft, d), PLACES[d.name](draft), _way(scene.style, figure, draft, d)
    if value is None or at is None or way is None or way @ way < 1e-6:
        return None
    goal = 0.01 * np.array([place[0], -place[1]])
    return _held(d, value + float((goal - at) @ way) / float(way @ way))


def stepped(scene: Scene, draft: Draft, name: str, steps: int) -> float | None:
    """The value [cm] of a handle's dimension after so many steps of a millimetre."""
    d = dimension_of(name)
    value = None if d is None else value_of(scene.style, draft, d)
    return None if d is None or value is None else _held(d, value + STEP * steps)


def _held(d: Dimension, value: float) -> float:
    """A value [m] to the millimetre and within what a scene may say [cm]."""
    rule = SCENE_TABLES[d.table].keys[d.key]
    low, high = (rule.low, rule.high) if isinstance(rule, Number) else (0.0, 200.0)
    held = min(max(value, to_si(d.key, low)), to_si(d.key, high))
    return round(from_si(d.key, whole_millimetres(d.key, held)), 1)
