"""The chalk card: what to chalk on one A4 page, to take to the cutting table.

In: a `Draft`. Out: an SVG page with the steps in order, the chalk points, the hem's points where it is no arc, and the
neck drawn with its letters. With a string, a rule and chalk the draft can be scribed on cloth from it. Figures in cm.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from drape.cutting.chalk_points import Chalked, chalk_points, cm, collar_steps, hem_points, moved_said
from drape.cutting.draft_drawing import SMALL as DRAWN_TYPE
from drape.cutting.draft_drawing import neck_drawing
from drape.draft.cut_line import allowances, allowances_said
from drape.draft.outline import Draft, hem_mark, hem_radius_said, hem_said
from drape.svg import polyline, title_line, type_line, write_svg

PAGE = (210.0, 297.0)  # mm, A4
LEFT, TOP, ROW = 16.0, 20.0, 5.4  # mm
FINE_ROW = 4.6  # mm, between lines of small type
LARGE, PLAIN, FINE = 6.0, 3.6, 3.1  # mm, heights of type
LEAST_TYPE = 2.0  # mm; smaller letters cannot be read at the table
RULE = 'fill="none" stroke="#8a8a8a" stroke-width="0.3"'


def write_chalk_card(draft: Draft, path: Path, *, title: str) -> None:
    """Write the card, an A4 page in SVG; one user unit is 1 mm."""
    y = TOP
    parts = type_line(LEFT, y - 9, hem_mark(draft), LARGE, bold=True) if draft.is_estimate else []
    parts += title_line(LEFT, y, title, LARGE, 178, after=": chalk card")
    if not draft.is_estimate:
        y += ROW
        parts += type_line(LEFT, y, hem_said(draft), PLAIN)
    y += 8
    for k, line in enumerate(steps(draft), start=1):
        for n, words in enumerate(_wrapped(f"{k}. {line}", 84)):
            parts += type_line(LEFT + (4 if n else 0), y, words, PLAIN)
            y += ROW
    y += 2 if draft.remarks else 0
    for k, line in enumerate(("Not as asked, or to think over:", *draft.remarks) if draft.remarks else ()):
        for n, words in enumerate(_wrapped(f"- {line}" if k else line, 98)):
            parts += type_line(LEFT + (2 if n else 0), y, words, FINE, bold=not k)
            y += FINE_ROW
    y += 3
    points = chalk_points(draft)
    parts += _point_table(points, "line from O" if moved_said(draft) else "edge", LEFT, y)
    hem = hem_points(draft)
    if hem:
        parts += _hem_table(hem, LEFT + 102, y)
    parts += _drawing(draft, y + ROW * (max(len(points), len(hem)) + 3))
    write_svg(parts, path, *PAGE, f"{title}: chalk card")


def _drawing(draft: Draft, top: float) -> list[str]:
    """Return the neck with its lettered points, as large as the rest of the page allows;
    nothing where that is little.
    """
    parts, width, height = neck_drawing(draft)
    scale = min((PAGE[0] - 2 * LEFT) / width, (PAGE[1] - top - 10) / height)
    if scale * DRAWN_TYPE < LEAST_TYPE:
        return []
    return [f'<g transform="translate({LEFT:.2f} {top:.2f}) scale({scale:.4f})">', *parts, "</g>"]


def steps(draft: Draft) -> list[str]:
    """Return what to do in order, a sentence or two each."""
    values, sweep = draft.dimensions, math.degrees(draft.style.sweep)
    hem = hem_points(draft)
    first, last = (name.removesuffix(" opening") for name in draft.opening)
    edge = (
        f"Chalk a straight line for both opening edges and mark its middle, O; the {first} edge runs from O to the "
        f"right, the {last} one to the left, the face side up."
        if abs(sweep - 180) < 1e-6
        else f"Mark O, chalk the {first} opening edge from it along the warp to the right, and the {last} one "
        f"{sweep:g} degrees round to the left of it, the face side up."
    )
    found = [edge]
    moved = moved_said(draft)
    if moved is not None:
        found.append(
            "Then chalk both edges anew beside what you chalked, parallel from neck to hem, so that they meet at the "
            f"wearer's centre front: the {moved[0]} one {moved[2]} cm inside, the {moved[1]} one {moved[2]} cm outside."
        )
    if hem:
        found.append(
            f"The hem is not an arc ({hem_radius_said(draft)}): mark the points of the right-hand table from O and "
            "draw it smoothly through them."
        )
    else:
        found.append(f"Hem: a string of {100 * values['hem_radius']:.1f} cm from O, all round.")
    if draft.style.neck == "round":
        found.append(f"Neck: a string of {100 * values['front_neck_depth']:.1f} cm from O.")
    else:
        found.append(
            "Neck: mark the lettered points, then the numbered ones, and draw the curve smoothly through them."
        )
    if values["shoulder_cut_intake"]:
        found.append("Shoulder cuts: join their lettered points, straight unless numbered points bow them.")
    if draft.darts:
        found.append(
            "Darts: join each side of the neck edge to the point inside, straight unless numbered points bow them. "
            "Mark these legs, do not cut them: the dart is folded between them and sewn. Its mouth is cut straight "
            "across."
        )
    found += [f"Collar: {line}" for line in collar_steps(draft)]
    for dags in draft.dags:
        edge = dags.edge.replace("collar top", "collar's top")
        found.append(
            f"Dags on the {edge}: make a card of one {dags.kind} dag, {100 * dags.width:.1f} wide and "
            f"{100 * dags.depth:.1f} deep, and chalk round it {dags.count} times; the tips lie on the line."
        )
    if any(allowances(draft).values()):
        lap = (
            f", and half the overlap of {100 * draft.fastening.overlap:.1f} beyond each opening edge"
            if draft.fastening.overlap
            else ""
        )
        found.append(f"All these are finished edges. Cut on beyond them: {allowances_said(draft)}{lap}.")
    found.append(
        f"Measure the neck edge with the tape on its edge: {100 * values['neck_edge_length']:.1f} cm once darts and "
        "closure are sewn. Mend the curve before cutting if it is not."
    )
    return found


def _wrapped(text: str, width: int) -> list[str]:
    """Return a text in lines of at most `width` letters."""
    lines = [""]
    for word in text.split():
        if len(lines[-1]) + len(word) + 1 > width:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return lines


def _point_table(points: list[Chalked], start: str, left: float, y: float) -> list[str]:
    """Return the table of chalk points, measured along the first `start`; rows are set closer where there are many."""
    row = min(ROW, (PAGE[1] - y - 22) / (len(points) + 1))
    columns = (left, left + 9, left + 78, left + 98)
    parts = []
    for x, words, anchor in zip(columns[1:], ("from O, in cm", "along", "up"), ("start", "end", "end"), strict=True):
        parts += type_line(x, y, words, FINE, anchor=anchor, bold=True)
    parts.append(polyline(np.array([[left, y + 1.6], [columns[3], y + 1.6]]), RULE))
    for sign, label, point in points:
        y += row
        values = [cm(value) for value in point]
        for x, words, anchor in zip(columns, (sign, label, *values), ("start", "start", "end", "end"), strict=True):
            parts += type_line(x, y, words, FINE, anchor=anchor, bold=x == left)
    return [*parts, *type_line(left, y + 7, f"along: on the first {start}; up: square to it", FINE)]


def _hem_table(rows: list[tuple[float, float, np.ndarray]], left: float, y: float) -> list[str]:
    """Return the table of the hem's points."""
    columns = (left + 16, left + 38, left + 60, left + 80)
    parts = []
    for x, words in zip(columns, ("hem at", "string", "along", "up"), strict=True):
        parts += type_line(x, y, words, FINE, anchor="end", bold=True)
    parts.append(polyline(np.array([[left, y + 1.6], [columns[3], y + 1.6]]), RULE))
    row = min(ROW, (PAGE[1] - y - 14) / (len(rows) + 1))
    for phi, radius, point in rows:
        y += row
        for x, words in zip(columns, (f"{math.degrees(phi):.0f}°", cm(radius), *map(cm, point)), strict=True):
            parts += type_line(x, y, words, FINE, anchor="end")
    return parts
