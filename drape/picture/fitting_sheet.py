"""The sheet of a fitting: views, captions, height rule, readings and verdicts on one page.

Comes in: for each fitting its title, its readings as `sit` prints them, and its views as pixels
with their scale. Goes out: a Pillow image, 2400 pixels wide, made to be printed on A4 turned
sideways. Lengths here are pixels, readings carry their unit in their key. It draws with Pillow and
the DejaVu letters matplotlib brings; the views themselves are drawn by `stage`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from drape.picture.camera import STANDING, VIEWS
from drape.picture.lettering import (
    GREY,
    INK,
    PAPER,
    SHEET_WIDTH,
    STAMP,
    draw_scale,
    draw_staff,
    draw_stamp,
    length_of,
    wrapped,
    write,
)
from drape.reading.table import spread_at, value_at

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

CAPTIONS = {
    "front": "front",
    "left": "wearer's left",
    "back": "back",
    "right": "wearer's right",
    "neck": "neck from above, head left off",
    "left shoulder": "left shoulder, head left off",
    "right shoulder": "right shoulder, head left off",
    "three-quarter": "from the wearer's left front",
    "above": "from above, front at the foot, head left off",
}

NECK_BASE_SEEN = "; red line: neck base"  # after the caption of a view that shows it

_WIDTH, _MARGIN, _GAP = SHEET_WIDTH, 56, 18
_LINE = 31  # from one line of readings to the next
_STAFF = 74  # beside the first view, for the height rule and its numbers
_VERDICTS = 390  # beside the neck view, where several fittings share a sheet
_REMARK_LINES = 5  # at most, above the views
_STEP, _AFTER = 27, 8  # from one line of a verdict to the next, and after its last one
_TABLE_LINES = 6  # heading, columns, four rows

_TWO = ("left", "right")
_LEVELS = ("1 cm", "2 cm", "4 cm", "6 cm", "8 cm", "10 cm")
_Line = tuple[str, tuple[str, ...], int]  # words, keys of the readings, decimals


@dataclass(frozen=True)
class _Table:
    """A heading, its columns, and lines of readings; one with a single key stands in column one."""

    heading: str
    columns: tuple[str, ...]
    lines: tuple[_Line, ...]
    label_width: int
    cell_width: int = 98

    @property
    def width(self) -> int:
        return self.label_width + self.cell_width * len(self.columns)


def _each(pattern: str, names: Sequence[object]) -> tuple[str, ...]:
    return tuple(pattern.format(name) for name in names)


_TABLES = (
    _Table("Neck edge", STANDING, (
        ("off the neck, cm", _each("neck.gap_{}_cm", STANDING), 1),
        ("ride, cm", _each("neck.ride_{}_cm", STANDING), 1),
        ("throat load, N", ("neck.throat_load_n",), 1),
        ("at front, N/m", ("neck.throat_line_load_n_m",), 0),
    ), 174, 113),
    _Table("Shoulders, stand-off", _TWO, (
        ("mean, cm", _each("shoulder_{}.stand_off_mean_cm", _TWO), 1),
        ("largest, cm", _each("shoulder_{}.stand_off_max_cm", _TWO), 1),
        ("cloth lying, %", _each("shoulder_{}.lie_percent", _TWO), 0),
    ), 146, 100),
    _Table("Crowding, so far below the side neck points", _LEVELS, (
        ("fullness, %", _each("crowding.fullness_percent.{}", range(6)), 1),
        ("folds", _each("crowding.folds.{}", range(6)), 0),
        ("largest, %", ("crowding.max_percent",), 1),
        ("spare, %", ("spare.percent",), 1),
    ), 118, 86),
    _Table("Hem above the floor, weight", STANDING, (
        ("fall, cm", _each("fall.{}_cm", STANDING), 1),
        ("out of level, cm", ("fall.level_cm",), 1),
        ("cloth, kg", ("weight.cloth_kg",), 2),
    ), 168, 110),
)  # fmt: skip


@dataclass(frozen=True)
class SheetRow:
    """One fitting as the sheet needs it; `views` maps each of `VIEWS` to pixels (h, w, 3).

    neck_base_seen: whether the view of the neck shows the neck-base line.
    """

    title: str
    expect: str
    readings: Mapping[str, Any]
    views: Mapping[str, NDArray[np.uint8]]
    neck_base_seen: bool = False

    @property
    def settled(self) -> bool:
        return bool(self.readings.get("settled", False))


@dataclass(frozen=True)
class _Layout:
    """Heights within a row, the same for every row of the sheet."""

    views_top: int
    tables_top: int
    height: int
    verdicts_beside: bool


def view_sizes(standing: float, close: float, *, alone: bool) -> dict[str, tuple[int, int]]:
    """Pixels (width, height) of each view, given width over height of a standing and the neck view.

    Five abreast; where several fittings share the sheet, room stays beside them for verdicts.
    """
    tallest = 740 if alone else 486
    room = _WIDTH - 2 * _MARGIN - _STAFF - 4 * _GAP - (0 if alone else _VERDICTS)
    close = min(max(close, 0.7), 1.5)
    height = min(tallest, int(room / (4 * standing + close)))
    standing_size = (max(1, int(standing * height)), height)
    close_width = room - 4 * standing_size[0]
    return {v: standing_size for v in STANDING} | {"neck": (close_width, height)}


def compose_sheet(
    rows: Sequence[SheetRow], *, floor_row: float, standing_pixels_per_metre: float,
    close_pixels_per_metre: float, told_in: str = "",
) -> Image.Image:  # fmt: skip
    """The sheet as a Pillow image, one row for each fitting.

    `floor_row` is the pixel row of the floor in a standing view. From the second row on, the small
    figure behind a reading is its difference from the first row, grey if within their spreads; on
    the first row it is the reading's own spread, where one is given. Readings that are missing
    print as a dash. told_in: name of the text beside the sheet that tells every verdict, where there is one.
    """
    from PIL import Image, ImageDraw

    layout = _layout(rows)
    sheet = Image.new("RGB", (_WIDTH, _MARGIN + len(rows) * layout.height + 30), PAPER)
    pen = ImageDraw.Draw(sheet)
    for place, row in enumerate(rows):
        top = _MARGIN - 20 + place * layout.height
        _draw_heading(pen, row, top)
        left = _MARGIN + _STAFF
        staff = (floor_row, standing_pixels_per_metre)
        draw_staff(pen, staff, (left, top + layout.views_top))
        left = _draw_views(sheet, pen, row, (left, top + layout.views_top), close_pixels_per_metre)
        below = top + layout.tables_top
        _draw_tables(pen, row, rows[0] if place else None, below)
        if layout.verdicts_beside:
            box = (left, top + layout.views_top, _WIDTH - _MARGIN, below - 24)
        else:
            verdicts_top = below + _TABLE_LINES * _LINE + 16
            box = (_MARGIN, verdicts_top, _WIDTH - _MARGIN, top + layout.height)
        _draw_verdicts(pen, row, box, told_in if layout.verdicts_beside else None)
    write(pen, (_MARGIN, sheet.height - 40), _foot(len(rows)), 20, colour=GREY)
    return sheet


def _layout(rows: Sequence[SheetRow]) -> _Layout:
    heading_lines = max(len(_expected(row)) + len(_remarked(row)) for row in rows)
    views_top = 64 + 29 * heading_lines
    tables_top = views_top + rows[0].views["front"].shape[0] + 42
    height = tables_top + _TABLE_LINES * _LINE + 22
    alone = len(rows) == 1
    if alone:
        said = _verdict_lines(rows[0], (_WIDTH - 2 * _MARGIN) / 2 - _GAP)
        height += _LINE + 16 + 30 + max(_tall(said[: _turn(said)]), _tall(said[_turn(said) :]))
    return _Layout(views_top, tables_top, height, not alone)


def _foot(count: int) -> str:
    words = (
        "Left and right are the wearer's. Standing views to one scale; heights in cm above the "
        "floor, a line each 10 cm."
    )
    if count == 1:
        words += " ±: spread of a reading."
    else:
        words += " Small figures: difference from the first row, grey where the spread covers it."
    return words


def _expected(row: SheetRow) -> list[str]:
    """What the scene's author expects, in two lines at most."""
    if not row.expect:
        return []
    lines = wrapped(f"Expected: {row.expect}", 22, _WIDTH - 2 * _MARGIN - 40)
    if len(lines) > 2:
        lines = [lines[0], lines[1] + " …"]
    return lines


def _remarked(row: SheetRow) -> list[str]:
    """What of the draft is not as asked, in so many lines that the views keep their room."""
    width = _WIDTH - 2 * _MARGIN - 40
    lines = [
        line
        for remark in row.readings.get("remarks") or []
        for line in wrapped(f"Not as asked, or to think over: {remark}", 22, width)
    ]
    return (
        lines if len(lines) <= _REMARK_LINES else [*lines[: _REMARK_LINES - 1], "More in the text beside this picture."]
    )


def _draw_heading(pen: ImageDraw.ImageDraw, row: SheetRow, top: int) -> None:
    pen.line([(_MARGIN, top), (_WIDTH - _MARGIN, top)], fill=INK, width=3)
    state = "settled" if row.settled else "not settled"
    residual, vertices, edge = (
        _number(_value(row.readings, key), decimals)
        for key, decimals in (("residual", 4), ("vertices", 0), ("edge_length_cm", 1))
    )
    words = f"{state}: residual {residual} of a vertex's weight, {vertices} vertices, edge length {edge} cm"
    place = (_WIDTH - _MARGIN - length_of(words, 21), top + 22)
    write(pen, place, words, 21, colour=GREY if row.settled else STAMP)
    title, size = _fitted_title(row.title, place[0] - _MARGIN - 40)
    write(pen, (_MARGIN, top + 44 - size), title, size, face="serif bold")
    for k, line in enumerate(_expected(row)):
        write(pen, (_MARGIN, top + 58 + 29 * k), line, 22, face="italic", colour=GREY)
    for k, line in enumerate(_remarked(row), start=len(_expected(row))):
        write(pen, (_MARGIN, top + 58 + 29 * k), line, 22)


def _fitted_title(title: str, width: float) -> tuple[str, int]:
    """The title and its size: smaller if it is long, and cut if it is longer still."""
    for size in (36, 32, 28, 25):
        if length_of(title, size, "serif bold") <= width:
            return title, size
    while title and length_of(title + " …", 25, "serif bold") > width:
        title = title[:-1].rstrip()
    return title + " …", 25


def _draw_views(
    sheet: Image.Image, pen: ImageDraw.ImageDraw, row: SheetRow, corner: tuple[int, int],
    close_pixels_per_metre: float,
) -> int:  # fmt: skip
    """Five views with captions, stamped if not settled; returns where the room beside begins."""
    from PIL import Image

    left, top = corner
    for view in VIEWS:
        pixels = row.views[view]
        height, width = pixels.shape[:2]
        sheet.paste(Image.fromarray(pixels), (left, top))
        if view == "neck":
            draw_scale(pen, close_pixels_per_metre, (left + 18, top + height - 18))
        caption = CAPTIONS[view] + (NECK_BASE_SEEN if view == "neck" and row.neck_base_seen else "")
        write(pen, (left + 4, top + height + 4), caption, 21, face="italic")
        left += width + _GAP
    if not row.settled:
        draw_stamp(sheet, ((corner[0] + left) // 2, top + row.views["front"].shape[0] // 2))
    return left + 10


def _draw_tables(pen: ImageDraw.ImageDraw, row: SheetRow, first: SheetRow | None, top: int) -> None:
    """The readings in small tables abreast."""
    gap = (_WIDTH - 2 * _MARGIN - sum(t.width for t in _TABLES)) / (len(_TABLES) - 1)
    left = float(_MARGIN)
    for table in _TABLES:
        write(pen, (left, top), table.heading, 23, face="bold")
        rule = top + _LINE + 1
        pen.line([(left, rule), (left + table.width - 14, rule)], fill=GREY, width=1)
        ends = [left + table.label_width + (k + 1) * table.cell_width - 44 for k in range(len(table.columns))]
        for end, column in zip(ends, table.columns, strict=True):
            write(pen, (end - length_of(column, 19), rule + 3), column, 19, colour=GREY)
        for line, (words, keys, decimals) in enumerate(table.lines):
            y = top + (line + 2) * _LINE - 1
            write(pen, (left, y), words, 21)
            for end, key in zip(ends, keys, strict=False):
                _draw_reading(pen, row, first, (key, decimals), (end, y))
        left += table.width + gap


def _draw_reading(
    pen: ImageDraw.ImageDraw, row: SheetRow, first: SheetRow | None, reading: tuple[str, int],
    place: tuple[float, float],
) -> None:  # fmt: skip
    """One number, its end at `place`, and small behind it its spread, or change from `first`."""
    key, decimals = reading
    value, spread = _value(row.readings, key), _finite(spread_at(row.readings, key))
    if "percent" in key and max(value or 0.0, spread or 0.0) >= 10.0:
        decimals = 0  # tenths of a percent say nothing there, and the columns are narrow
    words = _number(value, decimals)
    write(pen, (place[0] - length_of(words, 21), place[1]), words, 21)
    small, colour = "", GREY
    if first is None:
        small = "" if spread is None else f"±{_short(spread, decimals)}"
    elif value is not None and (before := _value(first.readings, key)) is not None:
        change = round(value, decimals) - round(before, decimals)
        if abs(change) > 0.5 * 10.0**-decimals:
            small = ("+" if change > 0 else "\N{MINUS SIGN}") + _short(abs(change), decimals)
            covered = (spread or 0.0) + (_finite(spread_at(first.readings, key)) or 0.0)
            colour = STAMP if abs(change) > covered else GREY
    write(pen, (place[0] + 3, place[1] + 5), small, 17, colour=colour)


def _short(size: float, decimals: int) -> str:
    """A spread or change, without decimals from ten up: it has to stand between two numbers."""
    return f"{size:.{0 if round(size, decimals) >= 10 else decimals}f}"


def _verdict_lines(row: SheetRow, width: float) -> list[list[tuple[str, str]]]:
    """For each verdict its lines as (face, words): what was found, then what to change."""
    said = []
    for verdict in row.readings.get("verdicts") or []:
        where, finding = verdict.get("where", ""), verdict.get("finding", "")
        lines = [("sans", line) for line in wrapped(f"{where}: {finding}", 20, width)]
        if verdict.get("mend"):
            lines += [("italic", line) for line in wrapped(verdict["mend"], 20, width)]
        said.append(lines)
    return said


def _draw_verdicts(
    pen: ImageDraw.ImageDraw, row: SheetRow, box: tuple[int, int, int, int], told_in: str | None
) -> None:
    """What was found and what to change: in two columns all, in one as many verdicts as the box has room for.

    told_in: None for two columns; else the name of the text that tells the rest, or "".
    """
    left, top, right, bottom = box
    columns = 2 if told_in is None else 1
    width = (right - left) / columns
    said = _verdict_lines(row, width - _GAP)
    write(pen, (left, top), _verdict_heading(row), 23, face="bold")
    top += _LINE + 3
    if columns == 2:
        turn = _turn(said)
        _write_verdicts(pen, said[:turn], (left, top))
        _write_verdicts(pen, said[turn:], (left + width, top))
        return
    count = len(said)
    while count and top + _tall(said[:count]) + (_STEP if count < len(said) else 0) > bottom:
        count -= 1
    _write_verdicts(pen, said[:count], (left, top))
    if count < len(said):
        words = f"{len(said) - count} more: see {told_in or 'drape sit'}"
        write(pen, (left, top + _tall(said[:count])), words, 20, colour=GREY)


def _write_verdicts(
    pen: ImageDraw.ImageDraw, said: Sequence[list[tuple[str, str]]], corner: tuple[float, float]
) -> None:
    """Verdicts below each other from a corner on."""
    left, y = corner
    for lines in said:
        for face, line in lines:
            write(pen, (left, y), line, 20, face=face)
            y += _STEP
        y += _AFTER


def _tall(said: Sequence[list[tuple[str, str]]]) -> int:
    """Pixels that verdicts below each other take."""
    return sum(_STEP * len(lines) + _AFTER for lines in said)


def _turn(said: Sequence[list[tuple[str, str]]]) -> int:
    """Number of verdicts in the first of two columns, so that the taller one is as low as can be."""
    return min(range(len(said) + 1), key=lambda k: (max(_tall(said[:k]), _tall(said[k:])), -k))


def _verdict_heading(row: SheetRow) -> str:
    verdicts = row.readings.get("verdicts")
    if verdicts is None:
        return "Found: \N{EN DASH}"
    if not row.settled:
        return "Found, though not settled"
    return "Found" if verdicts else "Found: nothing to mend"


# --------------------------------------------------------------------------------- words


def _value(readings: Mapping[str, Any], key: str) -> float | None:
    """The number under a dotted key; None where it is missing, so that readings can grow."""
    found = _finite(value_at(readings, key))
    if key.startswith("crowding.fullness_percent.") and found is not None and found < 0.0:
        return None  # in files of older versions: the level goes round nothing
    return found


def _finite(found: Any) -> float | None:
    return float(found) if isinstance(found, int | float) and np.isfinite(found) else None


def _number(value: float | None, decimals: int) -> str:
    if value is None:
        return "\N{EN DASH}"
    return f"{value:,.{decimals}f}".replace("-", "\N{MINUS SIGN}")
