"""The flat draft on paper: a `Draft` in, one true-scale SVG sheet out, ready to chalk from.

The sheet is at true scale. Above, the whole piece full size; below it the neck, dart and shoulder cuts
drawn larger with their own dimensions, a table of chalk points measured from the centre, and what cloth it takes.
Figures are in cm. No seam allowance is drawn. Files with the same draft and title have the same bytes.
Layout on cloth of a given width is left to `lay`.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from drape.cutting.chalk_points import chalk_points, cm, collar_facts, hem_at, hem_points, is_arc, moved_said
from drape.cutting.facings import collar_piece
from drape.cutting.piece import cut_outline
from drape.cutting.piecing import Allowances
from drape.draft.cut_line import allowances, allowances_said, cut_line, edges_said
from drape.draft.neckline import direction
from drape.draft.outline import (
    Draft,
    SewnDart,
    area_of,
    closing_line,
    fold_of,
    hem_mark,
    hem_radius_said,
    hem_said,
    length_of,
    loops_of,
    mouth_of,
    place_along,
    place_said,
    run_of,
)  # fmt: skip
from drape.polyline import length_along
from drape.svg import arrowhead, polyline, title_line, type_line, write_svg

MARGIN = 110.0  # units of paper round the drawing
COLUMN = 1020.0  # units of width for the words and the table
TEXT, SMALL, TITLE = 36.0, 30.0, 64.0  # heights of type
LETTER_WIDTH = 0.62  # of the type height, a generous mean for a plain sans serif
ROW = 45.0  # between lines of the table
NECK_SCALES = (
    5.0,
    4.0,
    3.0,
    2.5,
    2.25,
    2.0,
    1.9,
    1.8,
    1.7,
    1.6,
    1.5,
    1.4,
    1.3,
    1.2,
    1.1,
    1.0,
    0.75,
    0.5,
)  # how much larger the neck may be drawn
NECK_ROOM = 1180.0  # of width for it
CUT = 'fill="none" stroke="#000" stroke-width="5" stroke-linejoin="round"'
STITCH = 'fill="none" stroke="#000" stroke-width="4" stroke-dasharray="22 12"'
FOLD = 'fill="none" stroke="#000" stroke-width="2.5" stroke-dasharray="5 9"'
CENTRE = 'fill="none" stroke="#555" stroke-width="2.5" stroke-dasharray="60 12 10 12"'
RING = 'fill="none" stroke="#000" stroke-width="2.5"'
CLOSING = 'fill="none" stroke="#000" stroke-width="3" stroke-dasharray="40 14"'
PAGE = 2450.0  # units across; on an A4 page, 19 cm of it printed on, the small type is then 2.3 mm high
NEAR_NECK = 1.2  # times as far from O as neck, darts and cuts; a fastening that ends beyond is not drawn with the neck
THIN = 'fill="none" stroke="#8a8a8a" stroke-width="2"'


@dataclass(frozen=True)
class View:
    """Where flat points fall on the sheet: O at (`left`, `top`), `scale` times full size, flat y upward.

    unit: mm on the paper that one unit of the sheet stands for.
    """

    left: float
    top: float
    scale: float = 1.0
    unit: float = 1.0

    def at(self, points: np.ndarray) -> np.ndarray:
        """Return sheet positions of flat points [m], shape (..., 2)."""
        size = 1000.0 * self.scale / self.unit
        return np.array([self.left, self.top]) + size * np.asarray(points) * np.array([1.0, -1.0])


def write_draft_svg(draft: Draft, path: Path, *, title: str) -> None:
    """Write the draft as a true-scale SVG sheet.

    `width` and `height` are in mm and say how large it is; a 10 cm square stands on the sheet to check a print by.
    Type is so large that the whole sheet can be read when it is printed on one A4 page.
    """
    outline = cut_line(draft)
    wide, high = 1000.0 * np.ptp(np.vstack([outline, np.zeros((1, 2))]), axis=0)
    unit = max(1.0, float(wide) / (PAGE - 2 * MARGIN - 60), float(high) / (1.45 * PAGE - NECK_ROOM - 350))
    parts, width, height = _sheet(draft, title, unit)
    write_svg(parts, path, width, height, title, unit=unit)


def _sheet(draft: Draft, title: str, unit: float) -> tuple[list[str], float, float]:
    """Return the parts of the sheet and its size, in units of so many mm."""
    outline = cut_line(draft)
    low, high = 1000.0 / unit * outline.min(axis=0), 1000.0 / unit * outline.max(axis=0)
    low, high = np.minimum(low, 0.0), np.maximum(high, 0.0)
    strip = MARGIN + float(high[1] - low[1]) + 240
    collar, strip = _collar(draft, MARGIN, strip, unit)
    neck, neck_right, neck_bottom = _neck_view(draft, MARGIN, strip + 60, unit)
    column = neck_right + 90
    width = max(float(high[0] - low[0]) + 2 * MARGIN + 60, column + COLUMN + MARGIN)
    whole = View(left=width / 2 - float(low[0] + high[0]) / 2, top=MARGIN + float(high[1]), unit=unit)
    parts = _whole_piece(draft, whole) + _neck_detail(draft, neck, strip + 30)
    words, column_bottom = _column(draft, title, column, strip, unit)
    if draft.is_estimate:
        words += type_line(width / 2, MARGIN - 40, hem_mark(draft), TITLE, anchor="middle", bold=True)
    return parts + collar + words, width, max(neck_bottom, column_bottom) + MARGIN


def _whole_piece(draft: Draft, view: View) -> list[str]:
    """Return the piece full size, with centre lines, grain, notches and its large dimensions."""
    sweep, radius = draft.style.sweep, draft.dimensions["hem_radius"]
    marks = draft.marks
    beyond = allowances(draft)
    parts = []
    if any(beyond.values()):
        loop = cut_line(draft)
        parts.append(polyline(view.at(np.vstack([loop, loop[:1]])), CUT))
    for edge in loops_of(draft, all_dags=True)[0]:
        style = STITCH if edge.name.endswith(" leg") else CUT
        if beyond["opening"] and edge.name in (*draft.closure, *draft.opening):
            style = CLOSING
        elif beyond["neck"] and edge.name in draft.neck or beyond["hem"] and edge.name == "hem":
            style = CLOSING
        parts.append(polyline(view.at(edge.points), style))
    parts += [polyline(view.at(edge.points), STITCH) for edge in draft.piecing]
    for dart in draft.darts:  # its fold, its mouth, and a drill mark
        parts.append(polyline(view.at(fold_of(draft, dart)), FOLD))
        parts.append(polyline(view.at(mouth_of(draft, dart)), CLOSING if beyond["neck"] else CUT))
        x, y = view.at(marks[dart.point])
        parts.append(f'<circle cx="{x:.2f}" cy="{y:.2f}" r="9" {RING}/>')
    for start, end, choices in _spokes(draft):
        parts.append(polyline(view.at(np.array([start, end])), CENTRE))
        parts += _along(view, start, end, choices, 30)
    parts += _notches(draft, view) + _buttons(draft, view)
    angle = 0.375 * sweep
    start = np.zeros(2)
    reach = hem_at(draft, angle)
    words = f"hem radius {100 * reach:.1f}" if is_arc(draft) else f"hem here {100 * reach:.1f}"
    parts += _dimension(view.at(start), view.at(reach * direction(angle)), 0.0, words, at=0.62)
    tangent = 0.43 * sweep
    notch = max((dags.depth for dags in draft.dags if dags.edge == "hem"), default=0.0)
    parts += _text_on(
        view.at((hem_at(draft, tangent) - notch - 0.06 * view.unit) * direction(tangent)),
        _upright(math.degrees(math.pi / 2 - tangent)),
        f"hem {100 * draft.dimensions['hem_length']:.1f}",
    )
    parts += _lines_from_centre(draft, view, radius) + _straight_edges(draft, view)
    parts += _grain(view, 0.72 * radius * direction(0.875 * sweep), radius * min(1.0, sweep / math.pi), draft.grain)
    parts += _cross(view.at(start), "O", -32, 42)
    return parts


def _collar(draft: Draft, left: float, top: float, unit: float) -> tuple[list[str], float]:
    """Return the collar at the scale of the whole piece, and where what comes below it starts; nothing without one."""
    if not draft.collar:
        return [], top
    piece = collar_piece(draft, Allowances())
    rim = np.asarray(cut_outline(piece).exterior.coords)
    low, high = rim.min(axis=0), rim.max(axis=0)
    size = 1000.0 / unit
    view = View(left + 90 - size * float(low[0]), top + 40 + size * float(high[1]), 1.0, unit)
    parts = [polyline(view.at(rim), CUT)]
    for edge in piece.edges:
        parts.append(polyline(view.at(edge.points), CLOSING if piece.allowance.get(edge.name) else CUT))
    for notch in piece.notches:
        along = np.array([-notch.outward[1], notch.outward[0]])
        for k in range(notch.count):
            place = notch.place + 0.006 * k * along
            parts.append(
                polyline(view.at(np.array([place - 0.008 * notch.outward, place + 0.008 * notch.outward])), CUT)
            )
    for x, y in view.at(piece.buttons) if len(piece.buttons) else ():
        parts.append(f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{500 * draft.fastening.diameter / unit or 8:.2f}" {RING}/>')
    runs = [
        np.vstack([run_of(draft, edge.name) for edge in piece.edges if edge.name.startswith(name)])
        for name in ("collar seam", "collar top")
    ]
    middle = sum(place_along(run, 0.3 * length_of(run)) for run in runs) / 2
    ends = view.at(np.array([middle - 0.05 * direction(draft.grain), middle + 0.05 * direction(draft.grain)]))
    parts += [polyline(ends, THIN), arrowhead(ends[0], ends[1], 20), arrowhead(ends[1], ends[0], 20)]
    x, y = view.at(np.array([high[0], high[1]]))[0] + 60, top + 70
    for line in collar_facts(draft):
        parts += type_line(x, y, line, SMALL)
        y += ROW
    return parts, max(y, top + 40 + size * float(high[1] - low[1])) + 60


def _spokes(draft: Draft) -> list[tuple[np.ndarray, np.ndarray, tuple[str, ...]]]:
    """Return the lines of centre front, centre back and the shoulders: start, end and words, longest first."""
    marks = draft.marks
    found: list[tuple[np.ndarray, np.ndarray, tuple[str, ...]]] = []
    points = {dart.azimuth: marks[dart.point] for dart in draft.darts}
    for name, azimuth in (("front", 0.0), ("back", math.pi)):
        if draft.closure_place == f"centre {name}":
            continue
        start, end = marks[f"{name} neck"], marks[f"{name} hem"]
        length = 100 * float(np.linalg.norm(end - start))
        top = next((p for at, p in points.items() if abs(math.remainder(at - azimuth, 2 * math.pi)) < 1e-6), start)
        found.append((top, end, (f"centre {name}, {length:.1f} neck to hem", f"{name} {length:.1f}")))
    for side in ("left", "right"):
        if f"{side} hem" in marks:
            dart = next((d for d in draft.darts if d.place == f"{side} shoulder"), None)
            top = marks[dart.point] if dart else marks[f"{side} side neck"]
            found.append((top, marks[f"{side} hem"], (f"{side} shoulder and arm", side)))
    return found


def _buttons(draft: Draft, view: View) -> list[str]:
    """Return buttons on the under edge, buttonholes on the upper one; or where clasp or ties are sewn on."""
    made, parts = draft.fastening, []
    upper = 0 if draft.closure[0].startswith(("front", "left")) else 1
    for place in made.places:
        for side in (0, 1):
            line = closing_line(draft, side)
            middle, ahead = place_along(line, place), place_along(line, place + 0.001)
            along = (ahead - middle) / np.linalg.norm(ahead - middle)
            out = np.array([along[1], -along[0]]) * (-1.0 if side else 1.0)
            if made.kind != "buttons":
                ends = np.array([middle - 0.012 * out, middle + 0.012 * out])
                parts.append(polyline(view.at(ends), CUT))
            elif side == upper:
                start = middle + 0.003 * out
                parts.append(polyline(view.at(np.array([start, start - made.buttonhole * out])), CUT))
            else:
                x, y = view.at(middle)
                size = 500 * made.diameter * view.scale / view.unit
                parts.append(f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{size:.2f}" {RING}/>')
    return parts


def _lines_from_centre(draft: Draft, view: View, reach: float) -> list[str]:
    """Return the straight lines from O that opening edges moved off them are measured from; nothing where none is."""
    if not moved_said(draft):
        return []
    ends = (np.array([np.zeros(2), reach * direction(angle)]) for angle in (0.0, draft.style.sweep))
    return [polyline(view.at(line), THIN) for line in ends]


def _straight_edges(draft: Draft, view: View) -> list[str]:
    """Return names along both straight edges and the distances from O along the first one."""
    parts = []
    sweep, moved = draft.style.sweep, draft.dimensions.get("closure_moved", 0.0)
    lap = 1000.0 * (allowances(draft)["opening"] + max(-moved, 0.0)) * view.scale / view.unit
    for name, angle, inward in ((draft.opening[0], 0.0, 1.0), (draft.opening[1], sweep, -1.0)):
        side = inward * direction(angle + math.pi / 2)
        inner = float(np.linalg.norm(run_of(draft, name)[0]))
        room = 1000 / view.unit * (hem_at(draft, angle) - inner)
        words = next((w for w in (f"{name} edge", name.split()[0]) if LETTER_WIDTH * TEXT * len(w) + 90 < room), "")
        place = (0.45 * inner + 0.55 * hem_at(draft, angle)) * direction(angle) + 0.05 * view.unit * side
        place += moved * direction(angle + math.pi / 2)
        parts += _text_on(view.at(place), _upright(-math.degrees(angle)), words) if words else []
    cut = _cut_point(draft, 0)
    ends = [run_of(draft, draft.closure[0])[-1], *([] if cut is None else [cut])]
    distances = sorted({round(float(p[0]), 6) for p in ends if abs(p[1] - moved) < 1e-9})
    for tier, stop in enumerate([*distances, hem_at(draft, 0.0)]):
        offset = 70.0 + 62.0 * tier + lap
        parts += _dimension(view.at(np.zeros(2)), view.at(np.array([stop, 0.0])), offset, f"{100 * stop:.1f}")
    return parts


def _notches(draft: Draft, view: View) -> list[str]:
    """Return short strokes across the edge at the centre lines, the shoulders and the ends of the fastening."""
    parts, marks = [], draft.marks
    for name in [mark for mark in marks if mark.endswith(" hem")]:
        out = marks[name] / np.linalg.norm(marks[name])
        parts.append(polyline(view.at(np.array([marks[name] - 0.02 * out, marks[name] + 0.02 * out])), CUT))
    for name in ("front neck", "back neck", "left side neck", "right side neck"):
        if name not in marks:
            continue
        out = marks[name] / np.linalg.norm(marks[name])
        parts.append(polyline(view.at(np.array([marks[name] - 0.012 * out, marks[name] + 0.012 * out])), CUT))
    for name in draft.closure:
        run = run_of(draft, name)
        along = (run[-1] - run[-2]) / np.linalg.norm(run[-1] - run[-2])
        across = np.array([-along[1], along[0]])
        parts.append(polyline(view.at(np.array([run[-1] - 0.015 * across, run[-1] + 0.015 * across])), CUT))
    return parts


def _grain(view: View, middle: np.ndarray, size: float, grain: float) -> list[str]:
    """Return the grain arrow, two heads, along the warp."""
    half = 0.15 * size * direction(grain)
    ends = view.at(np.array([middle - half, middle + half]))
    parts = [
        polyline(ends, 'fill="none" stroke="#000" stroke-width="4"'),
        arrowhead(ends[0], ends[1], 30),
        arrowhead(ends[1], ends[0], 30),
    ]
    place = view.at(middle) + 34 * np.array([math.sin(-grain), -math.cos(grain)])
    return parts + _text_on(place, _upright(-math.degrees(grain)), "grain, warp", halo=False)


def neck_drawing(draft: Draft) -> tuple[list[str], float, float]:
    """Return the neck drawn by itself, and its width and height; type is SMALL."""
    view, right, bottom = _neck_view(draft, 0.0, 60.0, 1.0)
    return _neck_detail(draft, view, 30.0, named=False), right, bottom


def _edge_to(draft: Draft, side: int) -> np.ndarray:
    """Return a straight edge from the neck down, past the cut's end and a near end of the fastening, and 4 cm on."""
    line, cut = closing_line(draft, side), _cut_point(draft, side)
    reach = draft.dimensions["fastened_length"] if _near(draft) else 0.0
    along = length_along(line)
    if cut is not None:
        reach = max(reach, float(along[np.linalg.norm(line - cut, axis=1).argmin()]))
    reach += 0.04
    return np.vstack([line[along < reach], place_along(line, reach)])


def _cut_point(draft: Draft, side: int) -> np.ndarray | None:
    """Return where the shoulder cut ends on a straight edge, if there is one."""
    return draft.marks.get(draft.closure[side].replace("closure", "cut point"))


def _neck_points(draft: Draft) -> np.ndarray:
    """Return the flat points the neck drawing must hold."""
    names = [*draft.neck, *(leg for dart in draft.darts for leg in dart.legs)]
    return np.vstack(
        [*(run_of(draft, name) for name in names), *(_edge_to(draft, side) for side in (0, 1)), np.zeros((1, 2))]
    )


def _near(draft: Draft) -> bool:
    """Return whether the fastening ends near enough to the neck to be drawn with it."""
    inner = np.vstack(
        [*(run_of(draft, name) for name in draft.neck), *(p[None] for m, p in draft.marks.items() if "point" in m)]
    )
    return float(np.linalg.norm(run_of(draft, draft.closure[0])[-1])) < NEAR_NECK * float(
        np.linalg.norm(inner, axis=1).max()
    )


def _neck_view(draft: Draft, left: float, top: float, unit: float) -> tuple[View, float, float]:
    """Return the view of the neck drawing with its top left corner there, its right end and its bottom."""
    points = 1000.0 / unit * _neck_points(draft)
    low, high = points.min(axis=0), points.max(axis=0)
    size = high - low
    scale = next((s for s in NECK_SCALES if s * float(size.max()) <= NECK_ROOM), NECK_SCALES[-1])
    view = View(left + 90 - scale * float(low[0]), top + 110 + scale * float(high[1]), scale, unit)
    return view, left + 180 + scale * float(size[0]), top + 110 + scale * float(size[1]) + 200


def _neck_detail(draft: Draft, view: View, top: float, *, named: bool = True) -> list[str]:
    """Return the neck drawn larger, with its dimensions and the letters of the chalk points."""
    marks, values = draft.marks, draft.dimensions
    parts = [polyline(view.at(run_of(draft, name)), CUT) for name in draft.neck]
    parts += [polyline(view.at(_edge_to(draft, side)), CUT) for side in (0, 1)]
    origin = view.at(np.zeros(2))
    for dart in draft.darts:
        parts += _dart_detail(draft, dart, view)
    cut = _cut_point(draft, 0)
    if cut is not None:
        parts += _cut_detail(draft, cut, view)
    if draft.style.neck == "round":
        angle = 0.3 * draft.style.sweep
        radius = values["front_neck_depth"]
        parts += _dimension(origin, view.at(radius * direction(angle)), 0.0, f"radius {100 * radius:.1f}", at=0.56)
    else:
        for side in ("front", "back"):
            if draft.closure_place != f"centre {side}":
                words = f"{side} {100 * values[f'{side}_neck_depth']:.1f}"
                parts += _dimension(origin, view.at(marks[f"{side} neck"]), 0.0, words, at=0.56)
    parts += _lines_from_centre(draft, view, values["front_neck_depth"] + 0.04)
    parts += _cross(origin, "O", -32, 42)
    parts += _letters(draft, view)
    return [*parts, *(type_line(MARGIN, top, f"neck, {view.scale:g} times full size", SMALL) if named else [])]


def _dart_detail(draft: Draft, dart: SewnDart, view: View) -> list[str]:
    """Return a dart's dimensions: distance of its point from O, a leg, the intake."""
    point = draft.marks[dart.point]
    first, second = (run_of(draft, leg) for leg in dart.legs)
    parts = [polyline(view.at(leg), STITCH) for leg in (first, second)]
    parts += [polyline(view.at(fold_of(draft, dart)), FOLD), polyline(view.at(mouth_of(draft, dart)), CUT)]
    reach = 100 * float(np.linalg.norm(point))
    if len(draft.darts) > 1:  # too many for figures on each; `_facts` says them
        return parts
    parts += _dimension(view.at(np.zeros(2)), view.at(point), 0.0, f"{reach:.1f}", at=0.22)
    parts += _dimension(view.at(first[0]), view.at(point), 60.0, f"dart {100 * dart.length:.1f}")
    return parts + _dimension(view.at(second[0]), view.at(first[0]), 75.0, f"{100 * dart.intake:.1f}")


def _cut_detail(draft: Draft, point: np.ndarray, view: View) -> list[str]:
    """Return the shoulder cut's dimensions: length, half intake square to the straight edge, its ends from O."""
    values = draft.dimensions
    side = run_of(draft, draft.closure[0])[0]
    foot = np.array([side[0], 0.0])
    parts = [polyline(view.at(np.array([[0.0, 0.0], point])), THIN)]
    parts += _dimension(view.at(side), view.at(point), -60.0, f"cut {100 * values['shoulder_cut_length']:.1f}")
    if 1000 * view.scale / view.unit * side[1] > 120:  # else only the table says it
        parts += _dimension(view.at(foot), view.at(side), 0.0, f"{50 * values['shoulder_cut_intake']:.1f}")
    parts += _dimension(view.at(np.zeros(2)), view.at(foot), 60.0, f"{100 * foot[0]:.1f}")
    return parts + _dimension(view.at(np.zeros(2)), view.at(point), 120.0, f"{100 * point[0]:.1f}")


def _letters(draft: Draft, view: View) -> list[str]:
    """Return each chalk point's dot and its letter."""
    parts = []
    for sign, label, point in chalk_points(draft):
        if label.startswith("fastening") and not _near(draft) or label.endswith("opening edge"):
            continue  # it lies beyond what is drawn of the edge
        x, y = view.at(point)
        across, up = 44 * _letter_side(draft, label, point)
        parts.append(f'<circle cx="{x:.2f}" cy="{y:.2f}" r="7" fill="#000"/>')
        parts += type_line(x + across, y - up + 0.36 * SMALL, sign, SMALL, anchor="middle", bold=True)
    return parts


def _letter_side(draft: Draft, label: str, point: np.ndarray) -> np.ndarray:
    """Return on which side of a chalk point its letter stands: a flat unit vector, clear of edges and dimensions."""
    sweep = draft.style.sweep
    sense = 1.0 if (math.atan2(point[1], point[0]) + 1e-6) % (2 * math.pi) < sweep / 2 else -1.0
    first, last = (name.removesuffix(" closure") for name in draft.closure)
    if label.startswith((draft.closure_place.split()[0], "cut", "fastening")):  # at the closure, by its own edge
        sense = 1.0 if label.endswith(first) else -1.0 if label.endswith(last) else sense
    edge = sweep if sense < 0 else 0.0
    outward = point / np.linalg.norm(point)
    if np.linalg.norm(outward - direction(edge)) < 1e-6 or label.startswith(
        "front neck point, "
    ):  # on a straight edge: into the piece
        return direction(edge + sense * math.pi / 4)
    if "side neck" in label and "," in label or label.endswith(" edge") and "on the" not in label:
        # at a wedge: into the neck hole, away from the wedge
        axes = [d / np.linalg.norm(d) for d in (draft.marks[dart.point] for dart in draft.darts)]
        axis = min([*axes, direction(edge)], key=lambda d: float(np.linalg.norm(outward - d)))
        aside = outward - (outward @ axis) * axis
        in_share, side_share = (0.75, 0.66) if axis is not direction(edge) else (0.87, 0.5)
        inward = side_share * aside / np.linalg.norm(aside) - in_share * outward
        return inward / np.linalg.norm(inward)
    return outward


def _column(draft: Draft, title: str, left: float, top: float, unit: float) -> tuple[list[str], float]:
    """Return title, facts, key of lines, chalk table and test square, and where they end [mm]."""
    parts = title_line(left, top + TITLE, title, TITLE, COLUMN)
    y = top + TITLE + 70
    if draft.is_estimate:
        parts += type_line(left, y, hem_mark(draft), 1.3 * TEXT, bold=True)
        y += ROW + 24
    for line in _facts(draft):
        parts += type_line(left, y, line, TEXT)
        y += ROW + 6
    y += 20
    kinds = [(CUT, "cut line"), (CENTRE, "centre lines and shoulders")]
    if draft.darts:
        kinds[1:1] = [(STITCH, "leg of a dart: mark and sew, do not cut"), (FOLD, "fold of a dart")]
    if any(allowances(draft).values()):
        kinds.insert(1, (CLOSING, "finished edge; closed, one lies on the other"))
    square = y
    for style, label in kinds:
        parts.append(polyline(np.array([[left, y - 11], [left + 150, y - 11]]), style))
        parts += type_line(left + 180, y, label, SMALL)
        y += ROW
    side = 100 / unit
    parts.append(
        f'<rect x="{left + COLUMN - side:.2f}" y="{square - 40:.2f}" width="{side:.4f}" height="{side:.4f}" {THIN}/>'
    )
    parts += type_line(
        left + COLUMN - side / 2, square - 40 + side / 2 + 9, "10 cm", min(26, 0.24 * side), anchor="middle"
    )
    y += 40
    remarks, y = _remarks(draft, left, y)
    return _table(draft, left, y, parts + remarks)


def _remarks(draft: Draft, left: float, y: float) -> tuple[list[str], float]:
    """Return what of the draft is not as asked, and where what comes below it starts [mm]; nothing where all is."""
    if not draft.remarks:
        return [], y
    parts = type_line(left, y, "not as asked, or to think over", SMALL, bold=True)
    for remark in draft.remarks:
        for line in textwrap.wrap(f"- {remark}", int(COLUMN / (LETTER_WIDTH * SMALL)), subsequent_indent="  "):
            y += ROW
            parts += type_line(left, y, line, SMALL)
    return parts, y + 2 * ROW


def _table(draft: Draft, left: float, y: float, parts: list[str]) -> tuple[list[str], float]:
    """Return the parts with the chalk table added, and where it ends [mm]."""
    columns = (left, left + 70, left + 720, left + 900)
    for x, label, anchor in zip(
        columns[1:], ("chalk points, from O", "along", "up"), ("start", "end", "end"), strict=True
    ):
        parts += type_line(x, y, label, SMALL, anchor=anchor, bold=True)
    y += ROW
    first = f"{draft.opening[0].removesuffix(' opening')} {'line from O' if moved_said(draft) else 'edge'}"
    parts += type_line(columns[1], y, f"along the {first}, up square to it", SMALL)
    parts.append(polyline(np.array([[left, y + 14], [columns[3], y + 14]]), THIN))
    for sign, label, point in chalk_points(draft):
        y += ROW
        values = [cm(value) for value in point]
        for x, word, anchor in zip(columns, (sign, label, *values), ("start", "start", "end", "end"), strict=True):
            parts += type_line(x, y, word, SMALL, anchor=anchor)
    hem = hem_points(draft)
    if hem:
        y += 1.6 * ROW
        parts += type_line(columns[1], y, "hem, string from O at", SMALL, bold=True)
        third = math.ceil(len(hem) / 3)
        for k, (phi, radius, _) in enumerate(hem):
            x = left + 70 + 300 * (k // third)
            parts += type_line(x, y + ROW * (1 + k % third), f"{math.degrees(phi):.0f}\u00b0  {cm(radius)}", SMALL)
        y += ROW * third
    return parts, y


def _facts(draft: Draft) -> list[str]:
    """Return the sentences a maker needs beside the drawing."""
    values = draft.dimensions
    outline = 100 * cut_line(draft)
    along = outline @ direction(draft.grain)
    across = outline @ direction(draft.grain + math.pi / 2)
    made = draft.fastening
    length = 100 * float(np.linalg.norm(draft.marks["back hem"] - draft.marks["back neck"]))
    kind = f"{draft.word}, {draft.style.neck} neck"
    lines = [
        f"{kind}, sweep {math.degrees(draft.style.sweep):g} degrees, cut one",
        f"length {length:.1f} cm at centre back, hem {100 * values['hem_length']:.1f} cm",
        f"neck edge {100 * values['neck_edge_length']:.1f} cm sewn, {100 * values['neck_ease']:.1f} of it ease",
        f"closed {'at' if draft.closure_place == 'centre front' else 'over the'} {draft.closure_place}, fastened "
        f"{100 * values['fastened_length']:.1f} cm",
        f"cloth in one width: {float(np.ptp(across)):.1f} cm wide, {float(np.ptp(along)):.1f} cm long",
        f"area {area_of(cut_line(draft)):.2f} m\u00b2, face side up",
        allowances_said(draft),
        *(line for line in edges_said(draft) if "dags" in line),
        "all figures in cm",
    ]
    off = moved_said(draft)
    if off is not None:
        lines[4:4] = [
            f"{side} edge {off[2]} {how} its line from O"
            for side, how in zip(off[:2], ("inside", "outside"), strict=True)
        ]
    if len(draft.darts) > 1:
        for dart in draft.darts:
            lines.insert(
                -4,
                f"{dart.point.removesuffix(' point')}, {place_said(dart)}: {100 * dart.length:.1f} long, "
                f"{100 * dart.intake:.1f} wide",
            )
    if made.kind == "buttons":
        count = len(made.places)
        apart = f", {100 * values['button_spacing']:.1f} apart" if count > 1 else ""
        words = (
            f"{count} button{'s' if count > 1 else ''} of {100 * made.diameter:.1f}{apart}, holes "
            f"{100 * made.buttonhole:.1f}"
        )
        lines.insert(4, f"{words}, overlap {100 * made.overlap:.1f}")
    elif made.kind:
        lines.insert(
            4, f"{made.kind} at the neck edge" + (f", overlap {100 * made.overlap:.1f}" if made.overlap else "")
        )
    return [*lines[:2], *_hem_facts(draft), *lines[2:]]


def _hem_facts(draft: Draft) -> list[str]:
    """Return how the hem was found, and how far from O it lies where one string does not strike it."""
    found = [] if draft.is_estimate else [hem_said(draft)]
    if not is_arc(draft):
        found += [f"hem radius {hem_radius_said(draft)}", "not an arc: chalk the hem from its points"]
    return found


def _text_on(place: np.ndarray, turn: float, words: str, *, size: float = TEXT, halo: bool = True) -> list[str]:
    """Return a line of type centred on `place`, on a white ground."""
    half, rise = LETTER_WIDTH * size * len(words) / 2, 0.36 * size
    parts = []
    if halo:
        parts.append(
            f'<rect x="{place[0] - half:.2f}" y="{place[1] - 0.6 * size:.2f}" width="{2 * half:.2f}" '
            f'height="{1.2 * size:.2f}" '
            f'fill="#fff" transform="rotate({turn:.2f} {place[0]:.2f} {place[1]:.2f})"/>'
        )
    angle = math.radians(turn)
    foot = place + rise * np.array([-math.sin(angle), math.cos(angle)])
    return parts + type_line(foot[0], foot[1], words, size, anchor="middle", turn=turn)


def _upright(turn: float) -> float:
    """Return the same direction of type [deg], turned so that it reads from below or from the right."""
    turn = (turn + 90.0) % 180.0 - 90.0
    return -90.0 if abs(turn - 90.0) < 1e-9 else turn


def _along(view: View, start: np.ndarray, end: np.ndarray, choices: Sequence[str], aside: float) -> list[str]:
    """Return the first of the choices that fits along a line, `aside` mm off its middle."""
    a, b = view.at(start), view.at(end)
    room = float(np.linalg.norm(b - a)) - 40
    words = next((w for w in choices if LETTER_WIDTH * TEXT * len(w) <= room), choices[-1])
    turn = _upright(math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])))
    normal = np.array([math.sin(math.radians(turn)), -math.cos(math.radians(turn))])
    return _text_on((a + b) / 2 + aside * normal, turn, words, halo=False)


def _dimension(a: np.ndarray, b: np.ndarray, offset: float, words: str, *, at: float = 0.5) -> list[str]:
    """Return a dimension line from a to b [mm], moved `offset` to its right (as seen from a), figure in a gap."""
    run = (b - a) / np.linalg.norm(b - a)
    aside = np.array([-run[1], run[0]])
    first, last = a + offset * aside, b + offset * aside
    parts = [
        polyline(np.array([first, last]), THIN),
        arrowhead(first, last, 20, "#8a8a8a"),
        arrowhead(last, first, 20, "#8a8a8a"),
    ]
    if offset:
        over = math.copysign(14, offset) * aside
        near = math.copysign(10, offset) * aside
        parts += [polyline(np.array([end + near, moved + over]), THIN) for end, moved in ((a, first), (b, last))]
    turn = _upright(math.degrees(math.atan2(run[1], run[0])))
    half = LETTER_WIDTH * SMALL * len(words) / 2
    room = float(np.linalg.norm(last - first))
    place = first + at * (last - first) if room > 2 * half + 40 else last + (half + 20) * run
    return parts + _text_on(place, turn, words, size=SMALL)


def _cross(place: np.ndarray, words: str, right: float, down: float) -> list[str]:
    """Return a small cross with its name beside it."""
    x, y = place
    parts = [polyline(np.array([[x - 16, y], [x + 16, y]]), THIN), polyline(np.array([[x, y - 16], [x, y + 16]]), THIN)]
    return parts + type_line(x + right, y + down, words, SMALL, anchor="middle")
