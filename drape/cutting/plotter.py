"""The lay at full size for plotters: SVG and DXF, one layer for each kind of line.

In: drawn pieces and a lay. Out: files in millimetres, x along the cloth, y across it; the cloth itself is the layer
`cloth`. DXF is R2010. The same lay gives the same bytes.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import shapely
from shapely import Polygon

from drape.cutting.lay import Laid, Lay, on_cloth
from drape.cutting.piece import marked_darts
from drape.cutting.strokes import KINDS, Drawn, lay_paper, placed_strokes, placed_words
from drape.svg import polyline, title_line, type_line, write_svg

MARGIN = 20.0  # mm round the cloth on the SVG sheet
PENS = {
    "cut": 'fill="none" stroke="#000" stroke-width="0.6"',
    "seam": 'fill="none" stroke="#000" stroke-width="0.35" stroke-dasharray="4 2"',
    "dart": 'fill="none" stroke="#000" stroke-width="0.35" stroke-dasharray="4 2"',
    "fold": 'fill="none" stroke="#000" stroke-width="0.25" stroke-dasharray="1.5 1.5"',
    "notch": 'fill="none" stroke="#000" stroke-width="0.5"',
    "grain": 'fill="none" stroke="#000" stroke-width="0.4"',
    "centre": 'fill="none" stroke="#555" stroke-width="0.25" stroke-dasharray="8 2 1 2"',
    "button": 'fill="none" stroke="#000" stroke-width="0.3"',
    "cloth": 'fill="none" stroke="#666" stroke-width="0.25"',
}
DXF_COLOURS = {
    "cut": 7,
    "seam": 5,
    "dart": 3,
    "fold": 4,
    "notch": 1,
    "grain": 2,
    "centre": 8,
    "button": 6,
    "name": 7,
    "cloth": 9,
}


def cloth_corners(lay: Lay) -> np.ndarray:
    """Return the cloth's outline [mm], closed, shape (5, 2)."""
    length, width = 1000 * lay.length, 1000 * lay.bolt.width
    return np.array([[0, 0], [length, 0], [length, width], [0, width], [0, 0]], dtype=float)


def write_lay_svg(drawn: Mapping[int, Drawn], lay: Lay, path: Path, *, title: str, mark: str = "") -> None:
    """Write the lay full size as SVG; each kind of line is a group with its name as id; mark: a warning above it."""
    width = 1000 * lay.bolt.width
    groups: dict[str, list[str]] = {kind: [] for kind in ("cloth", *KINDS)}

    def flip(points: np.ndarray) -> np.ndarray:
        return np.array([MARGIN, MARGIN + width]) + points * np.array([1.0, -1.0])

    groups["cloth"].append(polyline(flip(cloth_corners(lay)), PENS["cloth"]))
    for one in lay.laid:
        sheet, on = drawn[one.pieces[0].number], lay_paper(one)
        for stroke in placed_strokes(sheet, on):
            groups[stroke.kind].append(polyline(flip(1000 * stroke.points), PENS[stroke.kind]))
        for words, place, size in placed_words(sheet, on):
            x, y = flip(1000 * place)
            groups["name"] += type_line(x, y, words, 1000 * size, anchor="middle")
    if mark:
        groups["name"] += type_line(MARGIN, MARGIN - 4, mark, 14.0, bold=True)
    parts = []
    for kind, lines in groups.items():
        parts += [f'<g id="{kind}">', *lines, "</g>"]
    write_svg(parts, path, 1000 * lay.length + 2 * MARGIN, width + 2 * MARGIN, title)


def write_lay_dxf(drawn: Mapping[int, Drawn], lay: Lay, path: Path) -> None:
    """Write the lay full size as DXF R2010 in millimetres; each kind of line is a layer."""
    import ezdxf
    from ezdxf.enums import TextEntityAlignment

    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True  # no date and no random name in the file
    try:
        document = ezdxf.new("R2010", units=ezdxf.units.MM)
        for kind in ("cloth", *KINDS):
            document.layers.add(kind, color=DXF_COLOURS[kind])
        space = document.modelspace()
        space.add_lwpolyline(cloth_corners(lay)[:-1], close=True, dxfattribs={"layer": "cloth"})
        for one in lay.laid:
            sheet, on = drawn[one.pieces[0].number], lay_paper(one)
            for stroke in placed_strokes(sheet, on):
                points = 1000 * stroke.points
                closed = len(points) > 2 and bool(np.allclose(points[0], points[-1], atol=1e-6))
                line = points[:-1] if closed else points
                space.add_lwpolyline(line, close=closed, dxfattribs={"layer": stroke.kind})
            for words, place, size in placed_words(sheet, on):
                text = space.add_text(words, height=1000 * size, dxfattribs={"layer": "name"})
                text.set_placement(tuple(1000 * place), align=TextEntityAlignment.MIDDLE_CENTER)
        for name in sorted(document.entitydb.dxf_types_in_use()):  # a set, which ezdxf would write in any order
            document.classes.add_class(name)
        document.saveas(path)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before


CARD = 270.0  # mm of width for the small drawing of the lay
CARD_CLEAR = 1.5  # mm that a piece's name keeps from a dart
NUMBER_TYPE, NAME_TYPE = 5.0, 3.0  # mm, heights of type on it
CARD_LINE = 'fill="none" stroke="#000" stroke-width="0.4"'
CARD_DART = 'fill="none" stroke="#000" stroke-width="0.3" stroke-dasharray="1.6 0.8"'
CARD_FOLD = 'fill="none" stroke="#000" stroke-width="0.2" stroke-dasharray="0.5 0.7"'
CARD_FILL = 'fill="#efe7d6" stroke="#000" stroke-width="0.4"'


def write_lay_card(lay: Lay, path: Path, *, title: str, hem: str = "", mark: str = "") -> None:
    """Write the lay small, to hang beside the table: every piece with its number, and a rule along the selvedge.

    hem: how it was found, a line below the title. mark: a warning instead of it.
    """
    scale = CARD / (1000 * lay.length)
    width = 1000 * lay.bolt.width * scale
    corner = np.array([12.0, 30.0 + width + (10.0 if mark else 0.0)])

    def at(points: np.ndarray) -> np.ndarray:
        return corner + 1000 * scale * points * np.array([1.0, -1.0])

    parts = title_line(12, 10, title, 5.0, CARD)
    words = f"cloth {100 * lay.bolt.width:g} cm wide, {100 * lay.length:.0f} cm long, "
    words += f"{100 * lay.utilisation:.0f} % of it used"
    if hem and not mark:
        words += f"; {hem}"
    parts += type_line(12, 17, words, 3.6)
    layers = {one.pieces[0].layer for one in lay.laid if marked_darts(one.pieces[0])}
    if layers:
        how = "cut it out, its edges meet" if layers == {"interlining"} else "mark it, do not cut it"
        parts += type_line(12, 22, f"dashed inside a piece: a dart, dotted its fold; {how}", 3.0)
    if mark:
        parts += type_line(12, 32, mark, 7.0, bold=True)
    parts.append(polyline(at(cloth_corners(lay) / 1000), CARD_LINE))
    for flaw in lay.bolt.flaws:
        x, y = at(np.array([flaw.along, flaw.across]))
        parts.append(f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{1000 * scale * flaw.radius:.2f}" fill="#999"/>')
    beside: list[str] = []
    for one in lay.laid:
        pairs = " ".join(f"{x:.2f},{y:.2f}" for x, y in at(np.asarray(one.outline.exterior.coords)))
        parts.append(f'<polygon points="{pairs}" {CARD_FILL}/>')
        room = one.outline.buffer(0)
        for dart in marked_darts(one.pieces[0]):
            wedge = Polygon(on_cloth(one, np.vstack([dart.legs[0], dart.legs[1][::-1]])))
            room = room.difference(wedge.buffer(CARD_CLEAR / (1000 * scale)))
            parts += [polyline(at(on_cloth(one, leg)), CARD_DART) for leg in dart.legs]
            parts.append(polyline(at(on_cloth(one, dart.fold)), CARD_FOLD))
            x, y = at(on_cloth(one, dart.point[None]))[0]
            parts.append(f'<circle cx="{x:.2f}" cy="{y:.2f}" r="0.7" fill="#000"/>')
        number, name = _card_words(one)
        x, y, inside = card_place(shapely.transform(room, at), number, name)
        parts += type_line(x, y, number, NUMBER_TYPE, anchor="middle", bold=True)
        if inside:
            parts += type_line(x, y + 4.5, name, NAME_TYPE, anchor="middle")
        else:
            beside.append(f"{number}: {name}")
    if lay.folded:
        x, y = at(np.array([lay.folded, 0.0]))
        parts.append(polyline(np.array([[x, y], [x, y - width]]), PENS["seam"]))
        parts += type_line(x, y - width - 1.5, f"folded {lay.bolt.fold} up to here; fold below", 3.0, anchor="middle")
    for tick in range(0, int(100 * lay.length) + 1, 50):
        x, y = at(np.array([tick / 100, 0.0]))
        parts.append(polyline(np.array([[x, y], [x, y + 2.5]]), CARD_LINE))
        parts += type_line(x, y + 6.5, f"{tick}", 3.0, anchor="middle")
    parts += type_line(corner[0] + CARD / 2, corner[1] + 12, "cm along the selvedge", 3.0, anchor="middle")
    foot = corner[1] + 18
    for line in textwrap.wrap("; ".join(beside), int(CARD / (0.58 * NAME_TYPE))):
        parts += type_line(corner[0], foot + 1, line, NAME_TYPE)
        foot += 5.0
    write_svg(parts, path, CARD + 24, foot, title)


def _card_words(one: Laid) -> tuple[str, str]:
    """Return the number and the name of what is cut at one place."""
    number = " and ".join(str(number) for number in dict.fromkeys(piece.number for piece in one.pieces))
    turned, double = ", turned" if one.turned else "", ", cut double" if one.zone == "folded" else ""
    return number, f"{one.pieces[0].name}{turned}{double}"


def card_place(outline: shapely.Polygon, number: str, name: str) -> tuple[float, float, bool]:
    """Return where the foot of a piece's number stands, and whether its name fits below; all on the card [mm].

    Of places all over the piece, the one nearest its middle at which no letter comes near the outline.
    """
    low_x, low_y, high_x, high_y = outline.bounds
    x, y = (part.ravel() for part in np.meshgrid(np.linspace(low_x, high_x, 41), np.linspace(low_y, high_y, 21)))
    middle = outline.representative_point()
    order = np.argsort(np.hypot(x - middle.x, y - middle.y), kind="stable")
    x, y = np.concatenate([[middle.x], x[order]]), np.concatenate([[middle.y], y[order]])
    number_half, name_half = (0.36 * NUMBER_TYPE * len(number), 0.33 * NAME_TYPE * len(name))
    shapely.prepare(outline)
    for half, below in ((max(number_half, name_half), 5.8), (number_half, 1.0)):
        fits = shapely.covers(outline, shapely.box(x - half, y - 4.5, x + half, y + below))
        if fits.any():
            at = int(np.argmax(fits))
            return float(x[at]), float(y[at]), below > 1.0
    return middle.x, middle.y, False
