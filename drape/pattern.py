"""The flat draft on paper: a `Draft` in, one true-scale SVG sheet out, ready to chalk from.

The sheet's user unit is a millimetre. Above, the whole piece full size; below it the neck, dart and shoulder cuts
drawn larger with their own dimensions, a table of chalk points measured from the centre, and what cloth it takes.
Figures are in cm. No seam allowance is drawn. Files with the same draft and title have the same bytes.
Layout on cloth of a given width is left to `lay`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from drape.draft import Draft, outline_of, run_of
from drape.neckline import direction
from drape.svg import arrowhead, polyline, type_line, write_svg

MARGIN = 110.0  # mm of paper round the drawing
COLUMN = 1000.0  # mm of width for the words and the table
TEXT, SMALL, TITLE = 34.0, 28.0, 64.0  # mm, heights of type
LETTER_WIDTH = 0.62  # of the type height, a generous mean for a plain sans serif
ROW = 44.0  # mm between lines of the table
NECK_SCALES = (5.0, 4.0, 3.0, 2.5, 2.25, 2.0, 1.75, 1.5, 1.25, 1.0)  # how much larger the neck may be drawn
NECK_ROOM = 1560.0  # mm of width for it
CUT = 'fill="none" stroke="#000" stroke-width="5" stroke-linejoin="round"'
STITCH = 'fill="none" stroke="#000" stroke-width="4" stroke-dasharray="22 12"'
CENTRE = 'fill="none" stroke="#555" stroke-width="2.5" stroke-dasharray="60 12 10 12"'
THIN = 'fill="none" stroke="#8a8a8a" stroke-width="2"'


@dataclass(frozen=True)
class View:
    """Where flat points fall on the sheet: O at (`left`, `top`) mm, `scale` times full size, flat y upward."""

    left: float
    top: float
    scale: float = 1.0

    def at(self, points: np.ndarray) -> np.ndarray:
        """Return sheet positions [mm] of flat points [m], shape (..., 2)."""
        return np.array([self.left, self.top]) + 1000.0 * self.scale * np.asarray(points) * np.array([1.0, -1.0])


def write_draft_svg(draft: Draft, path: Path, *, title: str) -> None:
    """Write the draft as a true-scale SVG sheet.

    One user unit is 1 mm; `width` and `height` say so, and a 10 cm square stands on the sheet to check a print by.
    """
    outline = outline_of(draft)
    low, high = 1000.0 * outline.min(axis=0), 1000.0 * outline.max(axis=0)
    low, high = np.minimum(low, 0.0), np.maximum(high, 0.0)
    strip = MARGIN + float(high[1] - low[1]) + 200
    neck, neck_right, neck_bottom = _neck_view(draft, MARGIN, strip + 60)
    column = neck_right + 90
    width = max(float(high[0] - low[0]) + 2 * MARGIN + 60, column + COLUMN + MARGIN)
    whole = View(left=width / 2 - float(low[0] + high[0]) / 2, top=MARGIN + float(high[1]))
    parts = _whole_piece(draft, whole) + _neck_detail(draft, neck, strip + 30)
    words, column_bottom = _column(draft, title, column, strip)
    write_svg(parts + words, path, width, max(neck_bottom, column_bottom) + MARGIN, title)


def _whole_piece(draft: Draft, view: View) -> list[str]:
    """Return the piece full size, with centre lines, grain, notches and its large dimensions."""
    sweep, radius = draft.style.sweep, draft.dimensions["hem_radius"]
    marks = draft.marks
    parts = [polyline(view.at(edge.points), STITCH if "dart" in edge.name else CUT) for edge in draft.edges]
    for name in ("front", "back"):
        parts.append(polyline(view.at(np.array([marks[f"{name} neck"], marks[f"{name} hem"]])), CENTRE))
    top = marks["dart point" if "dart point" in marks else "left side neck"]
    parts.append(polyline(view.at(np.array([top, marks["left hem"]])), CENTRE))
    parts += _along(view, top, marks["left hem"], ("left shoulder and arm", "left"), 30)
    parts += _notches(draft, view)
    for name, label in (("front", "centre front"), ("back", "centre back")):
        start, end = marks[f"{name} neck"], marks[f"{name} hem"]
        depth = 100 * float(np.linalg.norm(end - start))
        parts += _along(view, start, end, (f"{label}, {depth:.1f} neck to hem", f"{name} {depth:.1f}"), 30)
    angle = 0.375 * sweep
    start = np.zeros(2)
    parts += _dimension(
        view.at(start), view.at(radius * direction(angle)), 0.0, f"hem radius {100 * radius:.1f}", at=0.62
    )
    tangent = 0.43 * sweep
    parts += _text_on(
        view.at((radius - 0.06) * direction(tangent)),
        _upright(math.degrees(math.pi / 2 - tangent)),
        f"hem {100 * draft.dimensions['hem_length']:.1f}",
    )
    parts += _straight_edges(draft, view)
    parts += _grain(
        view,
        0.72 * radius * direction((_angle_of(marks["back neck"]) + sweep) / 2),
        radius * min(1.0, sweep / math.pi),
        draft.grain,
    )
    parts += _cross(view.at(start), "O", -32, 42)
    return parts


def _angle_of(point: np.ndarray) -> float:
    """Return phi of a flat point [rad], 0 to 360 deg."""
    return math.atan2(point[1], point[0]) % (2 * math.pi)


def _straight_edges(draft: Draft, view: View) -> list[str]:
    """Return names along both straight edges and the distances from O along the front one."""
    parts = []
    radius, sweep = draft.dimensions["hem_radius"], draft.style.sweep
    for name, angle, inward in (("front opening edge", 0.0, 1.0), ("back opening edge", sweep, -1.0)):
        side = inward * direction(angle + math.pi / 2)
        place = 0.66 * radius * direction(angle) + 0.05 * side
        parts += _text_on(view.at(place), _upright(-math.degrees(angle)), name)
    closure_end = run_of(draft, "front closure")[-1]
    named = {"cut": draft.marks.get("front cut point"), "fastening": closure_end}
    distances = sorted(
        {round(float(np.linalg.norm(p)), 6) for p in named.values() if p is not None and abs(p[1]) < 1e-9}
    )
    for tier, stop in enumerate([*distances, radius]):
        offset = 70.0 + 62.0 * tier
        parts += _dimension(view.at(np.zeros(2)), view.at(np.array([stop, 0.0])), offset, f"{100 * stop:.1f}")
    return parts


def _notches(draft: Draft, view: View) -> list[str]:
    """Return short strokes across the edge at the centre lines, the left shoulder and the ends of the fastening."""
    parts, marks = [], draft.marks
    for name in ("front hem", "left hem", "back hem"):
        out = marks[name] / np.linalg.norm(marks[name])
        parts.append(polyline(view.at(np.array([marks[name] - 0.02 * out, marks[name] + 0.02 * out])), CUT))
    for name in ("front neck", "back neck", "left side neck"):
        if name not in marks:
            continue
        out = marks[name] / np.linalg.norm(marks[name])
        parts.append(polyline(view.at(np.array([marks[name] - 0.012 * out, marks[name] + 0.012 * out])), CUT))
    for name in ("front closure", "back closure"):
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


def _stub(draft: Draft, side: str) -> np.ndarray:
    """Return the first stretch of an opening edge: past the cut's end if there is one, and 4 cm on."""
    run = run_of(draft, f"{side} opening")
    cut = draft.marks.get(f"{side} cut point")
    last = 1 if cut is None or np.linalg.norm(run[0] - cut) < 1e-6 or len(run) < 3 else 2
    along = (run[last] - run[last - 1]) / np.linalg.norm(run[last] - run[last - 1])
    return np.vstack([run[:last], run[last - 1] + 0.04 * along])


def _neck_points(draft: Draft) -> np.ndarray:
    """Return the flat points the neck drawing must hold."""
    names = [edge.name for edge in draft.edges if not edge.name.endswith(("hem", "opening"))]
    runs = [run_of(draft, name) for name in names]
    return np.vstack([*runs, _stub(draft, "front"), _stub(draft, "back"), np.zeros((1, 2))])


def _neck_view(draft: Draft, left: float, top: float) -> tuple[View, float, float]:
    """Return the view of the neck drawing with its top left corner there, its right end and its bottom [mm]."""
    points = 1000.0 * _neck_points(draft)
    low, high = points.min(axis=0), points.max(axis=0)
    size = high - low
    scale = next((s for s in NECK_SCALES if s * float(size.max()) <= NECK_ROOM), NECK_SCALES[-1])
    view = View(left=left + 90 - scale * float(low[0]), top=top + 110 + scale * float(high[1]), scale=scale)
    return view, left + 180 + scale * float(size[0]), top + 110 + scale * float(size[1]) + 200


def _neck_detail(draft: Draft, view: View, top: float) -> list[str]:
    """Return the neck drawn larger, with its dimensions and the letters of the chalk points."""
    marks, values = draft.marks, draft.dimensions
    names = ("front neck", "back neck", "front closure", "back closure")
    parts = [polyline(view.at(run_of(draft, name)), CUT) for name in names]
    parts += [polyline(view.at(_stub(draft, side)), CUT) for side in ("front", "back")]
    origin = view.at(np.zeros(2))
    if "dart point" in marks:
        parts += _dart_detail(draft, view)
    if "front cut point" in marks:
        parts += _cut_detail(draft, view)
    for side in ("front", "back"):
        words = f"{side} {100 * values[f'{side}_neck_depth']:.1f}"
        parts += _dimension(origin, view.at(marks[f"{side} neck"]), 0.0, words, at=0.56)
    parts += _cross(origin, "O", -32, 42)
    parts += _letters(draft, view)
    return [*parts, *type_line(MARGIN, top, f"neck, {view.scale:g} times full size", SMALL)]


def _dart_detail(draft: Draft, view: View) -> list[str]:
    """Return the dart's dimensions: distance of its point from O, a leg, the intake."""
    marks, values = draft.marks, draft.dimensions
    point, front, back = marks["dart point"], marks["left side neck front"], marks["left side neck back"]
    parts = [polyline(view.at(np.array([start, point])), STITCH) for start in (front, back)]
    reach = 100 * float(np.linalg.norm(point))
    parts += _dimension(view.at(np.zeros(2)), view.at(point), 0.0, f"{reach:.1f}", at=0.22)
    parts += _dimension(view.at(front), view.at(point), 60.0, f"dart {100 * values['dart_length']:.1f}")
    return parts + _dimension(view.at(back), view.at(front), 75.0, f"{100 * values['dart_intake']:.1f}")


def _cut_detail(draft: Draft, view: View) -> list[str]:
    """Return the shoulder cut's dimensions: length, half intake square to the straight edge, its ends from O."""
    marks, values = draft.marks, draft.dimensions
    side, point = marks["right side neck front"], marks["front cut point"]
    foot = np.array([side[0], 0.0])
    parts = [polyline(view.at(np.array([[0.0, 0.0], point])), THIN)]
    parts += _dimension(view.at(side), view.at(point), -60.0, f"cut {100 * values['shoulder_cut_length']:.1f}")
    if 1000 * view.scale * side[1] > 80:  # else only the table says it
        parts += _dimension(view.at(foot), view.at(side), 0.0, f"{50 * values['shoulder_cut_intake']:.1f}")
    parts += _dimension(view.at(np.zeros(2)), view.at(foot), 60.0, f"{100 * foot[0]:.1f}")
    return parts + _dimension(view.at(np.zeros(2)), view.at(point), 120.0, f"{100 * point[0]:.1f}")


def chalk_points(draft: Draft) -> list[tuple[str, str, np.ndarray]]:
    """Return the points to chalk: letter or number, what it is, flat position [m].

    Letters are corners; numbers lie on the neck edge at thirds of each quarter, to draw its curve through.
    """
    marks = draft.marks
    names = {
        "front neck": "front neck point",
        "back neck": "back neck point",
        "right side neck front": "right side neck, front",
        "right side neck back": "right side neck, back",
        "left side neck": "left side neck",
        "left side neck front": "left side neck, front",
        "left side neck back": "left side neck, back",
        "dart point": "dart point",
        "front cut point": "cut ends, front",
        "back cut point": "cut ends, back",
    }
    rows = [(label, marks[name]) for name, label in names.items() if name in marks]
    for side in ("front", "back"):
        end = run_of(draft, f"{side} closure")[-1]
        cut = marks.get(f"{side} cut point")
        if cut is None or np.linalg.norm(end - cut) > 1e-6:
            rows.append((f"fastening ends, {side}", end))
    lettered = [("ABCDEFGHJKLMNP"[i], label, point) for i, (label, point) in enumerate(rows)]
    if draft.style.neck == "round":
        return lettered
    numbered: list[tuple[str, str, np.ndarray]] = []
    for side in ("front", "back"):
        run = run_of(draft, f"{side} neck")
        middle = int(np.argmin(np.linalg.norm(run - marks[f"{side} neck"], axis=1)))
        for quarter in (run[: middle + 1], run[middle:]):
            steps = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(quarter, axis=0), axis=1))])
            for share in (1 / 3, 2 / 3):
                point = np.array([np.interp(share * steps[-1], steps, quarter[:, axis]) for axis in (0, 1)])
                numbered.append((str(len(numbered) + 1), f"on the {side} neck edge", point))
    return lettered + numbered


def _letters(draft: Draft, view: View) -> list[str]:
    """Return each chalk point's dot and its letter."""
    parts = []
    for sign, label, point in chalk_points(draft):
        x, y = view.at(point)
        across, up = 44 * _letter_side(draft, label, point)
        parts.append(f'<circle cx="{x:.2f}" cy="{y:.2f}" r="7" fill="#000"/>')
        parts += type_line(x + across, y - up + 0.36 * SMALL, sign, SMALL, anchor="middle", bold=True)
    return parts


def _letter_side(draft: Draft, label: str, point: np.ndarray) -> np.ndarray:
    """Return on which side of a chalk point its letter stands: a flat unit vector, clear of edges and dimensions."""
    sense = -1.0 if "back" in label else 1.0
    edge = draft.style.sweep if sense < 0 else 0.0
    outward = point / np.linalg.norm(point)
    if np.linalg.norm(outward - direction(edge)) < 1e-6:  # on a straight edge: into the piece
        return direction(edge + sense * math.pi / 4)
    if "side neck" in label and "," in label:  # at a wedge: into the neck hole, away from the wedge
        axis = direction(draft.style.sweep / 2) if "left" in label else direction(edge)
        aside = outward - (outward @ axis) * axis
        in_share, side_share = (0.75, 0.66) if "left" in label else (0.87, 0.5)
        inward = side_share * aside / np.linalg.norm(aside) - in_share * outward
        return inward / np.linalg.norm(inward)
    return outward


def _column(draft: Draft, title: str, left: float, top: float) -> tuple[list[str], float]:
    """Return title, facts, key of lines, chalk table and test square, and where they end [mm]."""
    size = min(TITLE, COLUMN / (1.1 * LETTER_WIDTH * max(len(title), 1)))
    parts = type_line(left, top + TITLE, title, size, bold=True)
    y = top + TITLE + 70
    for line in _facts(draft):
        parts += type_line(left, y, line, TEXT)
        y += ROW + 6
    y += 20
    kinds = [(CUT, "cut line"), (CENTRE, "centre front, centre back, left shoulder")]
    if "dart point" in draft.marks:
        kinds.insert(1, (STITCH, "stitching line of the dart"))
    square = y
    for style, label in kinds:
        parts.append(polyline(np.array([[left, y - 11], [left + 150, y - 11]]), style))
        parts += type_line(left + 180, y, label, SMALL)
        y += ROW
    parts.append(f'<rect x="{left + COLUMN - 100:.2f}" y="{square - 40:.2f}" width="100" height="100" {THIN}/>')
    parts += type_line(left + COLUMN - 50, square + 19, "10 cm", 26, anchor="middle")
    y += 40
    return _table(draft, left, y, parts)


def _table(draft: Draft, left: float, y: float, parts: list[str]) -> tuple[list[str], float]:
    """Return the parts with the chalk table added, and where it ends [mm]."""
    columns = (left, left + 70, left + 640, left + 860)
    for x, label, anchor in zip(
        columns[1:], ("chalk points, from O", "along", "up"), ("start", "end", "end"), strict=True
    ):
        parts += type_line(x, y, label, SMALL, anchor=anchor, bold=True)
    y += ROW
    parts += type_line(columns[1], y, "along the front edge, up square to it", SMALL)
    parts.append(polyline(np.array([[left, y + 14], [columns[3], y + 14]]), THIN))
    for sign, label, point in chalk_points(draft):
        y += ROW
        values = [f"{100 * value:.1f}".replace("-0.0", "0.0") for value in point]
        for x, word, anchor in zip(columns, (sign, label, *values), ("start", "start", "end", "end"), strict=True):
            parts += type_line(x, y, word, SMALL, anchor=anchor)
    return parts, y


def _facts(draft: Draft) -> list[str]:
    """Return the sentences a maker needs beside the drawing."""
    values = draft.dimensions
    outline = 100 * outline_of(draft)
    along = outline @ direction(draft.grain)
    across = outline @ direction(draft.grain + math.pi / 2)
    neck = "round" if draft.style.neck == "round" else "tailored"
    return [
        f"{neck} neck, sweep {math.degrees(draft.style.sweep):g} degrees, length {100 * draft.style.length:.1f} cm",
        f"neck edge {100 * values['neck_edge_length']:.1f} cm sewn, fastened {100 * values['fastened_length']:.1f} cm",
        f"cloth in one width: {float(np.ptp(across)):.1f} cm wide, {float(np.ptp(along)):.1f} cm long",
        f"area {values['area']:.2f} m\u00b2, face side up, no seam allowance",
        "all figures in cm",
    ]


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
