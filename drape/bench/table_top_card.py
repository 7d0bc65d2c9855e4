"""The card of table-top tests: how each is done, drawn and in three lines, on one A4 sheet to print.

In: nothing, and the card has room to write on; or a `MeasuredCloth`, and what was read and worked out
stands there instead. Out: one SVG, its user unit 1 mm. The strip over the table edge is the elastica's own
shape and its line has the true angle; the rest is not to scale. The same cloth gives the same bytes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

import numpy as np

from drape.bench.table_top import FACES, GRAINS, LINE, SLANTS, MeasuredCloth
from drape.bench.table_top_words import MEANING, written
from drape.svg import arrowhead, polyline, span, type_line, write_svg
from drape.units import bare_name, ending_of, from_si, unit_of

WIDTH, HEIGHT = 210.0, 297.0  # A4
MARGIN, GAP = 13.0, 8.0
PANEL_WIDTH = (WIDTH - 2 * MARGIN - GAP) / 2
PANEL_HEIGHT = 81.0
TOP = 30.0  # of the first row of panels
DRAWING_TOP, DRAWING_HEIGHT = 9.0, 43.0  # within a panel
TITLE, HEADING, TEXT, SMALL = 6.0, 3.8, 2.7, 2.4  # heights of type
LEADING = 4.1
KEPT_SPACE: Final = "\u00a0"  # runs of plain spaces are drawn as one
ROOT_CURVATURE: Final = 3.202789  # at the edge, of a strip of length 1 whose chord falls 41.5°; elastica
WEIGHT: Final = 8.004197  # w g L³/B of that strip; the same

INK = 'fill="none" stroke="#000" stroke-width="0.45" stroke-linejoin="round" stroke-linecap="round"'
CLOTH = 'fill="none" stroke="#000" stroke-width="1.1" stroke-linejoin="round"'
FINE = 'fill="none" stroke="#555" stroke-width="0.22"'
DASHED = 'fill="none" stroke="#000" stroke-width="0.3" stroke-dasharray="1.6 1.0"'
THREAD = 'fill="none" stroke="#aaa" stroke-width="0.2"'
SOLID = 'fill="#dcdcdc" stroke="#000" stroke-width="0.45" stroke-linejoin="round"'
PAPER = 'fill="#fff" stroke="#000" stroke-width="0.35" stroke-linejoin="round"'

Parts = list[str]


def write_card_svg(path: Path, measured: MeasuredCloth | None = None) -> None:
    """Write the card, blank or with a cloth's readings and values."""
    title = "Table-top tests of a cloth"
    parts = type_line(MARGIN, MARGIN + TITLE, title, TITLE, bold=True)
    parts += _heading(measured)
    for place, panel in enumerate(PANELS):
        x = MARGIN + (place % 2) * (PANEL_WIDTH + GAP)
        y = TOP + (place // 2) * PANEL_HEIGHT
        parts += _panel(place + 1, x, y, *panel, measured)
    foot = TOP + 3 * PANEL_HEIGHT + 4
    parts.append(polyline(np.array([[MARGIN, foot], [WIDTH - MARGIN, foot]]), FINE))
    lines = BLANK_FOOT if measured is None else (MEANING, _filled_words(measured))
    for row, words in enumerate(lines):
        parts += type_line(MARGIN, foot + (row + 1) * LEADING, words, TEXT)
    write_svg(parts, path, WIDTH, HEIGHT, title)


BLANK_FOOT = (
    "Let the cloth lie flat overnight. Test each grain at two or three places, and write down every reading.",
    "Damp wool is heavier and limper: test it as it will be worn. Cut no strip within a hand of the selvedge.",
)


def _heading(measured: MeasuredCloth | None) -> Parts:
    y = MARGIN + TITLE + 6.5
    if measured is None:
        return type_line(MARGIN, y, "cloth " + "_" * 48 + 3 * KEPT_SPACE + "date " + "_" * 22, TEXT + 0.4)
    return type_line(MARGIN, y, _fitting(measured.cloth.name, TEXT + 0.9, WIDTH - 2 * MARGIN), TEXT + 0.9)


def _filled_words(measured: MeasuredCloth) -> str:
    if set(measured.filled) <= {"poisson_ratio"}:  # for which there is no test
        return "Every value was measured."
    return f"In brackets: not measured, filled from {measured.filled_from}."


def _fitting(words: str, size: float, room: float) -> str:
    """The words, cut short where they would run over."""
    most = int(room / (0.6 * size))
    return words if len(words) <= most else words[: most - 1] + "…"


def _panel(
    number: int, x: float, y: float, heading: str, lines: Sequence[str], draw: Callable[[], Parts],
    entries: Callable[[MeasuredCloth | None], Sequence[str]], measured: MeasuredCloth | None,
) -> Parts:  # fmt: skip
    """One test: a rule, its name, its drawing, three lines, and what is read."""
    parts = [polyline(np.array([[x, y], [x + PANEL_WIDTH, y]]), INK)]
    parts += type_line(x, y + 5.6, f"{number}{2 * KEPT_SPACE}{heading}", HEADING, bold=True)
    parts += [f'<g transform="translate({x:.2f} {y + DRAWING_TOP:.2f})">', *draw(), "</g>"]
    foot = y + DRAWING_TOP + DRAWING_HEIGHT + 4.0
    for words in lines:
        parts += type_line(x, foot, words, TEXT)
        foot += LEADING
    foot += 2.0
    written_lines = entries(measured)
    for words in written_lines:
        parts += type_line(x, foot, words.replace("  ", 2 * KEPT_SPACE), TEXT, bold=measured is not None)
        foot += LEADING + (0.6 if len(written_lines) < 3 else 0.0)
    return parts


# --- what is read -----------------------------------------------------------------------------


def _value(measured: MeasuredCloth, name: str) -> str:
    """`606 ± 19 g/m²`; in brackets when it was filled."""
    (line,) = [line for line in written(measured) if bare_name(line.key) == name]
    unit = f" {unit_of(line.key).symbol}" if ending_of(line.key) else ""
    return f"({line.words}{unit})" if line.filled else f"{line.words}{unit}"


def _read(measured: MeasuredCloth, key: str, decimals: int) -> str:
    """The mean of what was read, `table.name_unit` → `20.0 cm`; empty when it was not."""
    table, _, name = key.partition(".")
    reading = measured.readings.get(f"{table}.{bare_name(name)}")
    if reading is None:
        return ""
    return f"{from_si(name, reading.value):.{decimals}f} {unit_of(name).symbol}".replace(" °", "°")


def _entry(start: str, read: str, value: str) -> str:
    """One line: what was read and what follows from it, or that it was not read."""
    return f"{start} {read}: {value}" if read else f"{start}: not measured {value}"


def _square_entries(measured: MeasuredCloth | None) -> Sequence[str]:
    if measured is None:
        return ("side ____________ cm  mass ____________ g",)
    side, mass = _read(measured, "square.side_cm", 1), _read(measured, "square.mass_g", 1)
    return (f"side {side}, mass {mass}", f"areal density {_value(measured, 'areal_density')}")


def _overhang_entries(measured: MeasuredCloth | None) -> Sequence[str]:
    if measured is None:
        blanks = [f"{grain}:  face up ____________  face down ____________ cm" for grain in GRAINS]
        return (*blanks, "bias:  left, up _____ down _____  right, up _____ down _____")
    lines = []
    for grain in GRAINS:
        faces = [_read(measured, f"overhang.{grain}_{face}_cm", 2) for face in FACES]
        read = [words for words in faces if words]
        on_both = f"{read[0].removesuffix(' cm')} and {read[1]}" if len(read) == 2 else "".join(read)
        lines.append(
            _entry(grain, on_both, "bending length " * bool(read) + _value(measured, f"bending_length_{grain}"))
        )
    read = [_read(measured, f"overhang.{slant}_{face}_cm", 2) for slant in SLANTS for face in FACES]
    on_all = ", ".join(words.removesuffix(" cm") for words in read if words)
    return [*lines, _entry("bias", on_all, "twist " * bool(on_all) + _value(measured, "twist_rigidity"))]


def _bias_entries(measured: MeasuredCloth | None) -> Sequence[str]:
    if measured is None:
        return (
            "length ________ cm  width ________ cm  weight ________ g",
            "stretch ________________ mm",
        )
    value = _value(measured, "shear_stiffness")
    if "bias_strip.stretch" not in measured.readings:
        return (_entry("shear stiffness", "", value),)
    asked = (("length_cm", 1), ("width_cm", 1), ("weight_g", 0), ("stretch_mm", 1))
    length, width, weight, stretch = (_read(measured, f"bias_strip.{key}", places) for key, places in asked)
    return (f"{length} by {width}, {weight}: stretch {stretch}", f"shear stiffness {value}")


def _straight_entries(measured: MeasuredCloth | None) -> Sequence[str]:
    if measured is None:
        return (
            "length ________ cm  width ________ cm  weight ________ g",
            "stretch of warp ____________ mm  of weft ____________ mm",
        )
    return tuple(
        _entry(grain, _read(measured, f"{grain}_strip.stretch_mm", 1), _value(measured, f"tensile_stiffness_{grain}"))
        for grain in GRAINS
    )


def _board_entries(measured: MeasuredCloth | None) -> Sequence[str]:
    if measured is None:
        return ("cloth on cloth ____________°", "cloth on what is worn beneath ____________°")
    return tuple(
        _entry(f"on {words}", _read(measured, f"board.{key}_deg", 1), _value(measured, f"friction_{key}"))
        for key, words in (("on_cloth", "cloth"), ("on_figure", "what is worn beneath"))
    )


def _stack_entries(measured: MeasuredCloth | None) -> Sequence[str]:
    if measured is None:
        return ("layers ____________   height ____________ mm",)
    value, layers = _value(measured, "thickness"), measured.readings.get("stack.layers")
    if layers is None:
        return (_entry("thickness", "", value),)
    return (f"{layers.value:.0f} layers, {_read(measured, 'stack.height_mm', 1)}", f"thickness {value}")


# --- marks ------------------------------------------------------------------------------------


def _line(style: str, *points: tuple[float, float]) -> str:
    return polyline(np.array(points), style)


def _area(style: str, *points: tuple[float, float]) -> str:
    return f'<polygon points="{" ".join(f"{x:.2f},{y:.2f}" for x, y in points)}" {style}/>'


def _box(style: str, x: float, y: float, width: float, height: float, *, round_: float = 0.0) -> str:
    return f'<rect x="{x:.2f}" y="{y:.2f}" width="{width:.2f}" height="{height:.2f}" rx="{round_:.2f}" {style}/>'


def _label(x: float, y: float, words: str, *, anchor: str = "middle", turn: float = 0.0) -> Parts:
    return type_line(x, y, words, SMALL, anchor=anchor, turn=turn)


def _arc(x: float, y: float, radius: float, start: float, end: float) -> str:
    """An arc about (x, y); angles [rad] downward from the right."""
    angles = np.linspace(start, end, 25)
    return polyline(np.stack([x + radius * np.cos(angles), y + radius * np.sin(angles)], axis=1), FINE)


def _span(a: tuple[float, float], b: tuple[float, float]) -> Parts:
    """A dimension line with a head at each end."""
    return span(np.array(a), np.array(b), FINE, 1.9, "#555")


def _arrow(tail: tuple[float, float], tip: tuple[float, float]) -> Parts:
    """An arrow with its line short of the point of its head."""
    first, last = np.array(tail, dtype=float), np.array(tip, dtype=float)
    end = last - 1.5 * (last - first) / np.linalg.norm(last - first)
    return [_line(INK, tail, (float(end[0]), float(end[1]))), arrowhead(last, first, 2.3)]


def _ruler(x: float, y: float, length: float, *, upright: bool = False) -> Parts:
    """A ruler with a tick every 2 mm, longer every 10, along x or (upright) up from (x, y)."""
    parts = [_box(PAPER, x, y - length, 6, length) if upright else _box(PAPER, x, y, length, 3.4)]
    for tick in range(1, int(length / 2)):
        size = 2.4 if tick % 5 == 0 else 1.2
        at = 2.0 * tick
        ends = ((x, y - at), (x + size, y - at)) if upright else ((x + at, y + 3.4), (x + at, y + 3.4 - size))
        parts.append(_line(FINE, *ends))
    return parts


# --- the six drawings, each in 88 × 43 mm -----------------------------------------------------


def _draw_square() -> Parts:
    """The square in plan with its side, and folded on the scales."""
    left, top, side = 10.0, 3.0, 29.0
    parts = [_box(SOLID, left, top, side, side)]
    parts += _span((left, top + side + 3.5), (left + side, top + side + 3.5))
    parts += _label(left + side / 2, top + side + 7.4, "side")
    parts += _span((left - 3.5, top), (left - 3.5, top + side))
    parts += _label(left - 5.2, top + side / 2, "side", turn=-90)
    middle = left + side / 2
    parts += [*_arrow((middle, top + 15), (middle, top + 7)), *_arrow((middle, top + 15), (middle, top + 22))]
    parts += _label(middle + 6.5, top + 15.4, "warp")
    pan, foot = 18.5, 36.0
    parts += [_area(SOLID, (53, foot), (55.5, pan + 5), (80.5, pan + 5), (83, foot)), _box(PAPER, 61, 27.2, 14, 5.6)]
    parts += _label(68, 31.2, "24 g")
    parts += [_box(PAPER, 66, pan + 1.6, 4, 3.4), _box(PAPER, 51.5, pan, 33, 1.8, round_=0.9)]
    for layer in range(4):
        parts.append(_box(SOLID, 59, pan - 1.5 * (layer + 1), 18, 1.5, round_=0.7))
    parts += _arrow((43, 10.5), (56, 10.5))
    return [*parts, *_label(49.5, 8.6, "folded")]


def hanging_strip(steps: int = 200) -> np.ndarray:
    """Points of a strip of length 1 from the table edge on, (steps + 1, 2), x out and y down.

    φ'' = −W (1 − s) cos φ from φ = 0 at the edge, by the classical Runge–Kutta rule; W and φ' there are
    those at which the chord falls 41.5°. Source: the elastica; tests/unit/bench/test_table_top_card.py.
    """
    h = 1 / steps

    def slope(s: float, y: np.ndarray) -> np.ndarray:
        return np.array([y[1], -WEIGHT * (1 - s) * math.cos(y[0]), math.cos(y[0]), math.sin(y[0])])

    y = np.array([0.0, ROOT_CURVATURE, 0.0, 0.0])
    points = [y[2:]]
    for step in range(steps):
        s = step * h
        a = slope(s, y)
        b = slope(s + h / 2, y + h / 2 * a)
        c = slope(s + h / 2, y + h / 2 * b)
        d = slope(s + h, y + h * c)
        y = y + h / 6 * (a + 2 * b + 2 * c + d)
        points.append(y[2:])
    return np.array(points)


def _draw_overhang() -> Parts:
    """The strip over the edge, its end on the sloping line."""
    edge, top, length = 42.0, 12.0, 30.0
    parts = [_area(SOLID, (0, top), (edge, top), (edge, top + 4), (0, top + 4))]
    parts += [_area(SOLID, (edge - 8, top + 4), (edge - 3, top + 4), (edge - 3, 43), (edge - 8, 43))]
    reach = 30.0
    down = reach * math.tan(LINE)
    parts.append(_line(DASHED, (edge, top), (edge + 39, top)))
    parts.append(_line(INK, (edge, top), (edge + reach, top + down)))
    parts.append(_arc(edge, top, 36.0, 0.0, LINE))
    parts += _label(edge + 34.5, top + 9.5, "41.5°", anchor="end")
    strip = np.array([edge, top - 0.6]) + length * hanging_strip()
    parts.append(polyline(np.vstack([[[4.0, top - 0.6]], strip]), CLOTH))
    parts += _ruler(edge - 38, top - 4.6, 38)
    shifted = strip + _outward(strip) * 4.2
    parts += [polyline(shifted, FINE), arrowhead(shifted[0], shifted[1], 1.9, "#555")]
    parts.append(arrowhead(shifted[-1], shifted[-2], 1.9, "#555"))
    parts += _label(edge + 21, top - 4.2, "overhang, along the strip", anchor="middle")
    parts += [*_arrow((20, top - 7.4), (31.5, top - 7.4)), *_label(18.6, top - 6.6, "slide", anchor="end")]
    return [*parts, *_label(28, top + 8.4, "table", anchor="end"), *_biases(2.0, 25.5, 17.0)]


def _biases(left: float, top: float, side: float) -> Parts:
    """Where the strips of either bias are cut, as the left one's far end leans left."""
    parts = _weave(left, top, side)
    for sign, words in ((-1, "left"), (1, "right")):
        middle = np.array([left + side / 2 + sign * 4.3, top + side / 2 - 1.2])
        along, across = np.array([sign, -1.0]) * 4.9 / math.sqrt(2), np.array([1.0, sign]) * 0.9 / math.sqrt(2)
        corners = [middle + a * along + b * across for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
        parts.append(_area(PAPER, *[(float(x), float(y)) for x, y in corners]))
        parts += _label(float(middle[0]) - sign * 0.2, top + side - 1.2, words)
    return parts


def _outward(strip: np.ndarray) -> np.ndarray:
    """Unit normals of a hanging strip on its outer, upper side."""
    along = np.gradient(strip, axis=0)
    along /= np.linalg.norm(along, axis=1)[:, None]
    return np.stack([along[:, 1], -along[:, 0]], axis=1)


def _hung(x: float, length: float, weight: float) -> Parts:
    """A strip hung by a clip, two marks on it `length` apart, with a weight of that size or none."""
    parts = [_area(SOLID, (x - 4, 1), (x + 4, 1), (x + 3, 4.5), (x - 3, 4.5)), _box(PAPER, x - 3, 4.5, 6, length + 8)]
    parts += [_line(INK, (x - 3, y), (x + 3, y)) for y in (8.5, 8.5 + length)]
    foot = 4.5 + length + 8
    parts.append(_area(SOLID, (x - 3, foot), (x + 3, foot), (x + 4, foot + 2.4), (x - 4, foot + 2.4)))
    if weight:
        parts.append(_line(INK, (x, foot + 2.4), (x, foot + 4)))
        parts.append(_box(SOLID, x - weight, foot + 4, 2 * weight, 5.5, round_=1))
    return parts


def _two_hung(weight: float) -> Parts:
    """The strip before and after, with what it stretched."""
    low, lower = 23.5, 27.0  # of the lower mark
    parts = [_line(INK, (40, 1), (82, 1)), *_hung(50, low - 8.5, 0), *_hung(67, lower - 8.5, weight)]
    for start, end, y in ((53.5, 63.5, 8.5), (53.5, 77, low), (70.5, 77, lower)):
        parts.append(_line(FINE, (start, y), (end, y)))
    parts += [*_span((59, 8.5), (59, low)), *_label(57.6, (8.5 + low) / 2, "length", turn=-90)]
    for tip, tail in ((low, low - 4), (lower, lower + 4)):
        parts.append(_line(FINE, (75.5, tip), (75.5, tail)))
        parts.append(arrowhead(np.array([75.5, tip]), np.array([75.5, tail]), 1.9, "#555"))
    parts += _label(77, low - 1.1, "stretch", anchor="start")
    return [*parts, *_label(68.4 + weight, lower + 14.2, "weight", anchor="start")]


def _weave(left: float, top: float, side: float) -> Parts:
    """A piece of cloth in plan, its warp drawn."""
    parts = [_box(SOLID, left, top, side, side)]
    for x in left + side * np.linspace(0.1, 0.9, 9):
        parts.append(_line(THREAD, (x, top), (x, top + side)))
    middle = left + side + 3
    parts += _arrow((middle, top + side - 4), (middle, top + 4))
    return [*parts, *_label(middle + 3, top + side / 2, "warp", turn=-90)]


def _draw_bias() -> Parts:
    """Where the strip is cut, and the strip before and after."""
    left, top, side, half = 3.0, 6.0, 26.0, 2.2
    centre = np.array([left + side / 2, top + side / 2])
    along, across = np.array([1.0, -1.0]) / math.sqrt(2), np.array([1.0, 1.0]) / math.sqrt(2)
    corners = [centre + a * 14 * along + b * half * across for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    parts = [*_weave(left, top, side), _area(PAPER, *[(float(x), float(y)) for x, y in corners])]
    parts += _label(float(centre[0]) - 3.8, float(centre[1]) - 5.0, "45°")
    return parts + _two_hung(3.6)


def _draw_straight() -> Parts:
    """Where the two strips are cut, and one of them before and after."""
    left, top, side = 3.0, 6.0, 26.0
    parts = _weave(left, top, side)
    parts += [_box(PAPER, left + 4, top + 2, 4.4, 22), _box(PAPER, left + 10.5, top + 17, 14, 4.4)]
    parts += _label(left + 6.95, top + 13, "warp strip", turn=-90)
    parts += _label(left + 17.5, top + 20, "weft strip")
    return parts + _two_hung(6.2)


def _draw_board() -> Parts:
    """The board tilted on a pile of books, one piece of cloth pinned to it, another slipping."""
    tilt = math.radians(26.0)
    hinge = np.array([12.0, 38.0])
    along, up = np.array([math.cos(tilt), -math.sin(tilt)]), np.array([-math.sin(tilt), -math.cos(tilt)])

    def at(s: float, h: float) -> tuple[float, float]:
        x, y = hinge + s * along + h * up
        return float(x), float(y)

    length = 66.0
    parts = [_line(INK, (2, 38), (86, 38))]
    book = (60 - float(hinge[0])) * math.tan(tilt) / 4  # the fourth one's corner carries the board
    for layer, (x, width) in enumerate(((61, 16), (59, 17), (61.5, 15), (60, 16))):
        parts.append(_box(PAPER, x, 38 - book * (layer + 1), width, book))
    parts.append(_area(SOLID, at(0, 0), at(length, 0), at(length, 1.8), at(0, 1.8)))
    parts.append(_line(CLOTH, at(4, 2.4), at(62, 2.4)))
    parts += [_line(INK, at(s, 5.2), at(s, 1.0)) for s in (60, 6)]
    parts += [f'<circle cx="{at(s, 5.4)[0]:.2f}" cy="{at(s, 5.4)[1]:.2f}" r="0.8" fill="#000"/>' for s in (60, 6)]
    parts.append(_line(CLOTH, at(30, 3.8), at(50, 3.8)))
    parts += _arrow(at(46, 7.6), at(33, 7.6))
    x, y = at(39.5, 9.6)
    parts += _label(x, y, "slips", turn=-math.degrees(tilt))
    parts += [_arc(float(hinge[0]), 38, 22, -tilt, 0.0), *_label(float(hinge[0]) + 23.5, 33.2, "tilt", anchor="start")]
    parts.append(_line(FINE, (14, 18.5), at(14, 3.2)))
    return [*parts, *_label(2, 17, "cloth pinned to the board", anchor="start")]


def _draw_stack() -> Parts:
    """Eight layers under a cover, an upright ruler beside them."""
    left, foot, thick = 24.0, 37.0, 2.9
    parts = [_line(INK, (6, foot), (82, foot))]
    for layer in range(8):
        shift = 0.5 * math.sin(2.3 * layer)
        parts.append(_box(SOLID, left + shift, foot - thick * (layer + 1), 36, thick, round_=1.2))
    top = foot - 8 * thick
    parts.append(_box(PAPER, left - 3, top - 1.8, 42, 1.8, round_=0.4))
    parts += _ruler(left + 41.5, foot, 32, upright=True)
    parts += [_line(FINE, (left - 10, top), (left - 4, top)), *_span((left - 8, top), (left - 8, foot))]
    parts += _label(left - 9.6, (top + foot) / 2, "height", turn=-90)
    return [*parts, *_label(left + 18, top - 3.6, "light book cover")]


PANELS: Final = (
    (
        "A square on the scales",
        (
            "Cut a square along the grain, 20 cm a side or more.",
            "Measure its side; fold it and weigh it.",
            "Two squares from different places tell more than one.",
        ),
        _draw_square,
        _square_entries,
    ),
    (
        "Overhang to the sloping line",
        (
            "Rule the line on a board: 100 mm along, 88.5 mm down.",
            "Slide a 3 cm strip out under a ruler until its end is on it;",
            "turn it over. Warp, weft; then 1 cm strips at 45°, both ways.",
        ),
        _draw_overhang,
        _overhang_entries,
    ),
    (
        "A bias strip under a weight",
        (
            "Cut it at 45°, 5 cm wide. Hang it by a clip, a clip below.",
            "Chalk two marks a hand's breadth from the clips; measure.",
            "Hang a known weight, wait a minute, measure again.",
        ),
        _draw_bias,
        _bias_entries,
    ),
    (
        "Straight strips under a weight",
        (
            "The same with a strip along the warp and one along the",
            "weft. They stretch little: hang some five times the weight.",
            "If you leave this out, an ordinary value is filled in.",
        ),
        _draw_straight,
        _straight_entries,
    ),
    (
        "The board on which cloth slips",
        (
            "Pin the cloth to a board, lay a piece of it on top, and raise",
            "one end slowly until it slips. Read the tilt; do it thrice.",
            "Then pin on what is worn beneath, linen say, instead.",
        ),
        _draw_board,
        _board_entries,
    ),
    (
        "A stack and a ruler",
        (
            "Lay eight pieces or more on one another, a light book",
            "cover on top. Do not press.",
            "Measure from the table to the underside of the cover.",
        ),
        _draw_stack,
        _stack_entries,
    ),
)
