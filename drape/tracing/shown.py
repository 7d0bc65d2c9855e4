"""The drawing with what was taken for what, and the draft laid over it, as one SVG sheet.

In: a `Traced`. Out: the file. Each kind of edge has a line of its own and its name beside it; the draft is a thin dark
line over them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import numpy as np
from shapely import Point, Polygon

from drape.arrays import Floats
from drape.draft.outline import outline_of, run_of
from drape.polyline import at_length, length_along
from drape.svg import polyline, type_line, write_svg
from drape.tracing.trace import Traced
from drape.tracing.traced_scene import edge_rows, remarks

WIDE, HIGH = 400.0, 320.0  # mm, the room for the drawing on the sheet
MARGIN: Final = 16.0
TYPE: Final = 5.0
SMALL: Final = 4.0
LETTER: Final = 0.55  # of the height of type
KINDS: Final = {
    "hem": 'fill="none" stroke="#2f4b7c" stroke-width="1.8" stroke-opacity="0.55"',
    "opening": 'fill="none" stroke="#8a6d1f" stroke-width="1.8" stroke-opacity="0.6"',
    "neck": 'fill="none" stroke="#7a1f3d" stroke-width="1.8" stroke-opacity="0.6"',
    "dart": 'fill="none" stroke="#2d6a4f" stroke-width="1.8" stroke-opacity="0.6"',
    "piecing": 'fill="none" stroke="#555" stroke-width="1.4" stroke-dasharray="6 3"',
    "left out": 'fill="none" stroke="#bbb" stroke-width="0.6"',
    "draft": 'fill="none" stroke="#000" stroke-width="0.35"',
}
COLOURS: Final = {kind: style.split('stroke="')[1].split('"')[0] for kind, style in KINDS.items()}


def write_shown(traced: Traced, path: Path) -> None:
    """Write the sheet."""
    every = np.vstack([line.points for line in traced.lines])
    low, high = every.min(axis=0), every.max(axis=0)
    size = 1000 * (high - low)
    scale = min(WIDE / size[0], HIGH / size[1])
    top = MARGIN + 22
    wide = max(scale * float(size[0]), LETTER * 7.5 * len(Path(traced.label).name + ": what was taken for what"))

    def at(points: Floats) -> Floats:
        return np.array([MARGIN, top]) + 1000 * scale * (points - np.array([low[0], high[1]])) * np.array([1.0, -1.0])

    parts = type_line(MARGIN, MARGIN + 6, f"{Path(traced.label).name}: what was taken for what", 7.0, bold=True)
    words = f"Scaled {traced.scale_said}; shown 1 to {1 / scale:.1f}. Thin black line: the draft."
    parts += type_line(MARGIN, MARGIN + 14, words, TYPE)
    parts += [polyline(at(line.points), KINDS["left out"]) for line in traced.lines]
    for kind, points in _runs(traced):
        parts.append(polyline(at(points), KINDS[kind]))
    for edge in traced.fitted.draft.edges:
        parts.append(polyline(at(traced.drawn.in_drawing(run_of(traced.fitted.draft, edge.name))), KINDS["draft"]))
    rim = at(traced.drawn.in_drawing(outline_of(traced.fitted.draft)))
    for kind, points in _runs(traced):
        parts += _name(kind, at(points), Polygon(rim).buffer(0))
    parts += _neck_points(traced, at)
    foot = top + size[1] * scale + 12
    foot = max(foot, float(rim[:, 1].max()) + 12)
    for kind, how, mean, most in edge_rows(traced):
        words = f"{kind}: {how}; the draft lies {mean:.1f} mm off on average, {most:.1f} at most"
        wide = max(wide, 16 + LETTER * TYPE * len(words))
        parts.append(polyline(np.array([[MARGIN, foot - 1.6], [MARGIN + 12, foot - 1.6]]), KINDS[kind]))
        parts += type_line(MARGIN + 16, foot, words, TYPE)
        foot += 7.5
    for words in remarks(traced):
        wide = max(wide, LETTER * TYPE * len(words))
        parts += type_line(MARGIN, foot, words, TYPE)
        foot += 7.5
    write_svg(parts, path, wide + 2 * MARGIN, foot + MARGIN - 7.5, f"{Path(traced.label).name}: traced")


def _runs(traced: Traced) -> Iterator[tuple[str, Floats]]:
    """Each kind of edge with its lines where the drawing has them [m]."""
    edges = traced.edges
    yield "hem", edges.hem
    yield from (("opening", run) for run in edges.openings)
    yield from (("neck", run) for run in edges.neck)
    yield from (("dart", np.vstack([dart.first, dart.second[::-1]])) for dart in edges.darts)
    yield from (("piecing", line.points) for role, line in edges.inner if role == "piecing")


def _name(kind: str, points: Floats, inside: Polygon) -> list[str]:
    """The name of a line beside its middle, inside the cloak."""
    along = length_along(points)
    share = 0.62 if kind in ("opening", "piecing") else 0.5
    here = at_length(share * along[-1], along, points)
    ahead = at_length(min(share + 0.01, 1.0) * along[-1], along, points) - here
    across = np.array([-ahead[1], ahead[0]]) / max(float(np.linalg.norm(ahead)), 1e-9)
    if kind == "dart":  # beyond its point
        here = points[int(np.linalg.norm(points - points[0], axis=1).argmax())]
        across = here - (points[0] + points[-1]) / 2
        across /= max(float(np.linalg.norm(across)), 1e-9)
    elif not inside.covers(Point(here + 3 * across)):
        across = -across
    reach = 4.0 + LETTER * TYPE * len(kind) / 2 * abs(float(across[0]))
    x, y = here + reach * across
    letters = type_line(x, y + 1.8, kind, TYPE, anchor="middle")
    return [part.replace("<text ", f'<text fill="{COLOURS[kind]}" ') for part in letters]


def _neck_points(traced: Traced, at: Callable[[Floats], Floats]) -> list[str]:
    """The front and back neck points, marked and named on the neck's side, so that front and back can be told."""
    parts: list[str] = []
    middle = at(traced.drawn.in_drawing(np.zeros((1, 2))))[0]
    for side in ("front", "back"):
        here = at(traced.drawn.in_drawing(traced.fitted.draft.marks[f"{side} neck"][None]))[0]
        room, wide = float(np.linalg.norm(middle - here)), LETTER * SMALL * len(side)
        inward = (middle - here) / max(room, 1e-9)
        if room < wide + 4.0:  # in a small neck the two would run into each other
            inward = -inward
        tx, ty = here + (2.5 + wide / 2 * abs(float(inward[0]))) * inward
        x, y = here
        parts.append(f'<circle cx="{x:.2f}" cy="{y:.2f}" r="1.1" fill="#000"/>')
        parts += type_line(tx, ty + 1.2, side, SMALL, anchor="middle")
    return parts
