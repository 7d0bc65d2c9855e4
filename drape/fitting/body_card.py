"""The card of tape measures: a figure from the front, the left side and behind, and where each tape runs on it.

In: nothing. Out: one SVG on an A4 sheet, its user unit 1 mm, with the numbers of the form (`body_form`) and a line to
write each measure on. The outlines are those of our own mannequin of a woman of middle build, 1 mm of paper to 1 cm.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Final

import numpy as np

from drape.fitting.body_form import FIRST, MEASURES, NUMBER
from drape.svg import arrowhead, polyline, span, type_line, write_svg

WIDTH, HEIGHT, MARGIN = 210.0, 297.0, 13.0  # A4
FLOOR = 207.0  # where z = 0 stands on the sheet
SCALE = 0.1  # mm of paper for 1 mm of body
FRONT, SIDE, BACK = 52.0, 113.0, 165.0  # where the middles stand
TITLE, TEXT, SMALL, DOT = 6.0, 2.7, 2.3, 2.1

OUTLINE = 'fill="#f0ede6" stroke="#999" stroke-width="0.3" stroke-linejoin="round"'
TAPE = 'fill="none" stroke="#000" stroke-width="0.55" stroke-linecap="round"'
HIDDEN = 'fill="none" stroke="#000" stroke-width="0.3" stroke-dasharray="0.9 0.9"'
FINE = 'fill="none" stroke="#444" stroke-width="0.25"'
LEVEL = 'fill="none" stroke="#888" stroke-width="0.18" stroke-dasharray="0.5 0.9"'
GROUND = 'fill="none" stroke="#000" stroke-width="0.35"'

# Silhouettes, mm: from the front (x, z) of one half, crown to crotch; from the left side (forward, z), closed.
HALF: Final = (
    (0, 1628), (22, 1624), (44, 1610), (59, 1590), (69, 1565), (71, 1522), (54, 1464), (49, 1413), (52, 1403),
    (74, 1386), (183, 1334), (194, 1324), (206, 1302), (250, 1112), (266, 1020), (282, 639), (278, 626), (271, 624),
    (262, 632), (254, 666), (186, 1072), (150, 1181), (145, 1189), (140, 1188), (133, 1154), (132, 1039), (137, 1008),
    (162, 926), (171, 838), (164, 622), (150, 449), (154, 298), (142, 176), (137, 70), (139, 46), (159, 15), (158, 8),
    (148, 2), (88, 1), (74, 8), (68, 26), (70, 72), (64, 160), (44, 306), (41, 472), (10, 679), (5, 693), (0, 694),
)  # fmt: skip
PROFILE: Final = (
    (-129, 844), (-101, 940), (-88, 1028), (-90, 1081), (-113, 1202), (-114, 1236), (-110, 1271), (-92, 1331),
    (-38, 1414), (-27, 1461), (-29, 1475), (-50, 1499), (-60, 1517), (-64, 1537), (-63, 1558), (-50, 1588),
    (-25, 1613), (7, 1626), (47, 1626), (67, 1619), (86, 1608), (113, 1577), (123, 1544), (121, 1498), (116, 1464),
    (112, 1455), (100, 1440), (65, 1421), (33, 1367), (22, 1343), (19, 1328), (25, 1313), (51, 1284), (116, 1196),
    (127, 1174), (129, 1159), (124, 1143), (104, 1102), (96, 1050), (103, 914), (98, 826), (85, 774), (85, 744),
    (98, 687), (95, 639), (89, 630), (72, 623), (29, 344), (13, 199), (10, 80), (13, 69), (22, 61), (143, 24),
    (152, 13), (153, 7), (147, 2), (-56, 0), (-68, 4), (-74, 15), (-70, 66), (-70, 164), (-85, 285), (-86, 319),
    (-65, 428), (-64, 497), (-73, 562), (-103, 704), (-111, 773), (-128, 817),
)  # fmt: skip
# Heights, mm, on the same mannequin.
CROWN, BACK_NECK, SIDE_NECK, FRONT_NECK, SHOULDER = 1628, 1407, 1395, 1329, 1332
CHEST, WAIST, HIP, WRIST, KNEE, ANKLE, BROW, MID_NECK, DELTOID = 1164, 1038, 829, 800, 458, 61, 1540, 1432, 1267

Parts = list[str]
Place = tuple[float, float]


def figure_drawing() -> tuple[str, str]:
    """The three figures with their numbered tapes and no list: the SVG's elements, and its box in mm, x y wide high."""
    parts = _figures()
    return "\n".join(parts), f"{MARGIN - 4:g} {FLOOR - 0.1 * 1700:g} {WIDTH - 2 * MARGIN + 8:g} {0.1 * 1700 + 8:g}"


def write_body_card(path: Path) -> None:
    """Write the card."""
    title = "Tape measures of a body"
    parts = type_line(MARGIN, MARGIN + TITLE, title, TITLE, bold=True)
    parts += type_line(
        MARGIN, MARGIN + TITLE + 6.5, "name " + "_" * 48 + "\u00a0\u00a0\u00a0date " + "_" * 22, TEXT + 0.4
    )
    write_svg([*parts, *_figures(), *_list()], path, WIDTH, HEIGHT, title)


def _figures() -> Parts:
    """The body from three sides, and where each tape runs on it."""
    parts: Parts = []
    for middle, outline, words in (
        (FRONT, _both_halves(), "front"),
        (SIDE, PROFILE, "left side"),
        (BACK, _both_halves(), "back"),
    ):
        forward = -1.0 if middle == SIDE else 1.0
        parts.append(_smooth(np.array([_at(middle, forward * x, z) for x, z in outline])))
        parts += type_line(middle, FLOOR + 4.5, words, TEXT, anchor="middle")
    parts.append(polyline(np.array([[MARGIN, FLOOR], [WIDTH - MARGIN, FLOOR]]), GROUND))
    return [*parts, *_front_tapes(), *_side_tapes(), *_back_tapes()]


# --- marks ------------------------------------------------------------------------------------


def _at(middle: float, x: float, z: float) -> Place:
    """Where a place of the body [mm] falls on the sheet, x to the right."""
    return middle + SCALE * x, FLOOR - SCALE * z


def _both_halves() -> tuple[Place, ...]:
    return HALF + tuple((-x, z) for x, z in HALF[-2:0:-1])


def _smooth(points: np.ndarray) -> str:
    """A closed curve through the points: Bézier arcs whose tangents run along the neighbours' chords."""
    before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
    tangent = (after - before) / np.linalg.norm(after - before, axis=1)[:, None]
    reach = np.linalg.norm(after - points, axis=1)[:, None] / 3
    first, second = points + reach * tangent, after - reach * np.roll(tangent, -1, axis=0)
    curves = " ".join(
        f"C{a[0]:.2f},{a[1]:.2f} {b[0]:.2f},{b[1]:.2f} {end[0]:.2f},{end[1]:.2f}"
        for a, b, end in zip(first, second, after, strict=True)
    )
    return f'<path d="M{points[0][0]:.2f},{points[0][1]:.2f} {curves} Z" {OUTLINE}/>'


def _number(name: str, place: Place) -> Parts:
    """A measure's number in a disc, black where the measure is due."""
    x, y = place
    due = name in {measure.name for measure in FIRST}
    disc = (
        f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{DOT:.2f}" fill="{"#000" if due else "#fff"}" stroke="#000" '
        'stroke-width="0.25"/>'
    )
    size = 2.6 if NUMBER[name] < 10 else 2.3
    words = (
        f'<text x="{x:.2f}" y="{y + 0.36 * size:.2f}" font-size="{size:.1f}" text-anchor="middle" font-weight="bold" '
        f'fill="{"#fff" if due else "#000"}">{NUMBER[name]}</text>'
    )
    return [disc, words]


def _curve(a: Place, b: Place, sag: float, style: str) -> str:
    """A line from a to b that sags by so much at its middle, as a tape round a body is seen."""
    t = np.linspace(0.0, 1.0, 33)[:, None]
    line = np.array(a) * (1 - t) + np.array(b) * t + np.array([0.0, 4.0 * sag]) * t * (1 - t)
    return polyline(line, style)


def _ring(middle: float, half: float, z: float, sag: float) -> Parts:
    """A tape round the body at a level: the near side drawn, the far side dashed."""
    a, b = _at(middle, -half, z), _at(middle, half, z)
    return [_curve(a, b, -0.6 * sag, HIDDEN), _curve(a, b, sag, TAPE)]


def _straight(name: str, a: Place, b: Place, *, along: float = 0.5) -> Parts:
    """A straight measure from a to b, its number on the line at that share of it."""
    place = (a[0] + along * (b[0] - a[0]), a[1] + along * (b[1] - a[1]))
    return [*span(np.array(a), np.array(b), FINE, 1.7, "#444"), *_number(name, place)]


def _height(name: str, x: float, z: float, start: float, *, below: float = 5.0) -> Parts:
    """A height above the floor at x on the sheet, with a dotted level from the body's `start`, also on the sheet."""
    y = FLOOR - SCALE * z
    parts = [polyline(np.array([[start, y], [x, y]]), LEVEL)]
    parts += span(np.array([x, FLOOR]), np.array([x, y]), FINE, 1.7, "#444")
    return parts + _number(name, (x, y + below))


# --- the three figures ------------------------------------------------------------------------


def _front_tapes() -> Parts:
    parts: Parts = []
    for name, half, z, sag in (
        ("chest_girth", 133, CHEST, 2.2),
        ("waist_girth", 132, WAIST, 2.0),
        ("hip_girth", 171, HIP, 2.4),
    ):
        parts += _ring(FRONT, half, z, sag)
        parts += _number(name, (FRONT, FLOOR - SCALE * z + sag))
    neck = [
        (-55, SIDE_NECK),
        (-43, 1364),
        (-24, 1339),
        (-10, 1331),
        (0, FRONT_NECK),
        (10, 1331),
        (24, 1339),
        (43, 1364),
        (55, SIDE_NECK),
    ]
    parts.append(polyline(np.array([_at(FRONT, x, z) for x, z in neck]), TAPE))
    parts += _number("neck_base_girth", _at(FRONT, 0, FRONT_NECK))
    parts += [_curve(_at(FRONT, -50, MID_NECK), _at(FRONT, 50, MID_NECK), 1.2, TAPE)]
    parts += _number("neck_girth", _at(FRONT, 0, MID_NECK - 10))
    parts.append(_curve(_at(FRONT, 55, SIDE_NECK), _at(FRONT, 185, SHOULDER), 0.0, TAPE))
    parts += _number("shoulder_length", _at(FRONT, 128, 1396))
    parts += _straight("upper_arm_breadth", _at(FRONT, -215, DELTOID), _at(FRONT, 215, DELTOID))
    parts += _straight("head_breadth", _at(FRONT, -72, 1665), _at(FRONT, 72, 1665))
    parts += [polyline(np.array([_at(FRONT, s * 72, 1665), _at(FRONT, s * 71, BROW)]), LEVEL) for s in (-1, 1)]
    parts += _height("stature", MARGIN + 3, CROWN, FRONT, below=30.0)
    parts += _height("wrist_height", MARGIN + 9, WRIST, _at(FRONT, -274, 0)[0], below=30.0)
    parts += _height("knee_height", MARGIN + 15, KNEE, _at(FRONT, -95, 0)[0])
    parts += _height("ankle_height", MARGIN + 21, ANKLE + 4, _at(FRONT, -137, 0)[0], below=-3.0)
    right = _at(FRONT, 0, 0)[0]
    parts += _height("front_neck_height", 95.5, FRONT_NECK, right, below=18.0)
    parts += _height("chest_height", 91.5, CHEST, right + 13.3, below=11.0)
    parts += _height("waist_height", 87.5, WAIST, right + 13.2, below=8.0)
    return parts + _height("hip_height", 83.0, HIP, right + 17.1, below=30.0)


def _side_tapes() -> Parts:
    """The side faces left: forward is to the left."""
    parts = [_curve(_at(SIDE, -123, BROW + 10), _at(SIDE, 64, BROW - 5), 1.0, TAPE)]
    parts += _number("head_girth", _at(SIDE, -30, BROW - 4))
    parts += _straight("head_length", _at(SIDE, -123, 1665), _at(SIDE, 64, 1665))
    parts += [polyline(np.array([_at(SIDE, x, 1665), _at(SIDE, x, BROW)]), LEVEL) for x in (-123, 64)]
    for level, z, front, back in (("chest", CHEST, 128, 105), ("waist", WAIST, 96, 87), ("hip", HIP, 98, 129)):
        parts += _straight(f"{level}_depth", _at(SIDE, -front, z), _at(SIDE, back, z))
    base = np.array(
        [_at(SIDE, -19, FRONT_NECK), _at(SIDE, -14, 1362), _at(SIDE, 3, SIDE_NECK), _at(SIDE, 42, BACK_NECK)]
    )
    return [*parts, polyline(base, TAPE), *_number("neck_base_girth", _at(SIDE, 3, SIDE_NECK - 4))]


def _back_tapes() -> Parts:
    parts = _straight("shoulder_breadth", _at(BACK, -185, SHOULDER), _at(BACK, 185, SHOULDER))
    for level, z, half in (("chest", CHEST, 133), ("waist", WAIST, 132), ("hip", HIP, 171)):
        parts += _straight(f"{level}_breadth", _at(BACK, -half, z), _at(BACK, half, z))
    neck = _at(BACK, 55, SIDE_NECK)
    aside = (neck[0] + 19.0, neck[1])
    parts += [polyline(np.array([neck, aside]), LEVEL), polyline(np.array([neck, _at(BACK, 185, SHOULDER)]), TAPE)]
    turns = np.linspace(0.0, math.radians(25.7), 12)
    arc = np.stack([neck[0] + 15.5 * np.cos(turns), neck[1] + 15.5 * np.sin(turns)], axis=1)
    parts += [
        polyline(arc, FINE),
        arrowhead(arc[-1], arc[-3], 1.5, "#444"),
        *_number("shoulder_slope", (neck[0] + 18.5, neck[1] + 3.0)),
    ]
    arm = np.array([_at(BACK, 185, SHOULDER), _at(BACK, 226, 1112), _at(BACK, 262, WRIST)])
    parts += [polyline(arm, TAPE), *_number("arm_length", tuple(arm[1]))]
    parts += _height("back_neck_height", 134.0, BACK_NECK, BACK, below=30.0)
    parts += _height("side_neck_height", 129.0, SIDE_NECK, BACK - 5.5, below=34.0)
    return parts + _height("shoulder_point_height", WIDTH - MARGIN, SHOULDER, BACK + 18.5, below=30.0)


def _list() -> Parts:
    """The measures by number, three columns, each with room to write; those that are due in bold."""
    top, rows, column = FLOOR + 13.0, math.ceil(len(MEASURES) / 3), (WIDTH - 2 * MARGIN) / 3
    parts: Parts = []
    for place, measure in enumerate(MEASURES):
        x, y = MARGIN + (place // rows) * column, top + (place % rows) * 6.0
        unit = "°" if measure.name == "shoulder_slope" else "cm"
        parts += _number(measure.name, (x + DOT, y - 0.9))
        parts += type_line(x + 6.0, y, measure.words, TEXT, bold=measure in FIRST)
        parts += [
            polyline(np.array([[x + 41.0, y + 0.5], [x + 53.0, y + 0.5]]), FINE),
            *type_line(x + 54.0, y, unit, SMALL),
        ]
    words = (
        "Black numbers are due; take 5 to 11 next; the rest as you like. How each is taken stands in the form, "
        "under its number."
    )
    return [*parts, *type_line(MARGIN, HEIGHT - MARGIN, words, TEXT)]
