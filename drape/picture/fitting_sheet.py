"""The sheet of a fitting: views, captions, height rule, readings and verdicts on one page.

Comes in: for each fitting its title, its readings as `sit` prints them, and its views as pixels
with their scale. Goes out: a Pillow image, 2400 pixels wide, made to be printed on A4 turned
sideways. Lengths here are pixels, readings carry their unit in their key. It draws with Pillow and
the DejaVu letters matplotlib brings; the views themselves are drawn by `stage`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
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
    Mark,
    draw_disc,
    draw_marks,
    draw_scale,
    draw_staff,
    draw_stamp,
    fitted_title,
    length_of,
    wrapped,
    write,
)
from drape.reading.starts import shown_words
from drape.reading.table import spread_at, value_at, with_sign
from drape.wearing.sentences import said_by_way

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
_MARK = 30  # radius of a circled number on a view: 4 mm on a telephone
_SAID, _MEND, _INDENT = 34, 27, 64  # letters of what is wrong, of what to change; from the number to the words
_REMARK_LINES = 5  # at most, above the views
_AFTER = 14  # pixels below a verdict's last line
_TABLE_LINES = 6  # heading, columns, four rows

_TWO = ("left", "right")
_LEVELS = ("1 cm", "2 cm", "4 cm", "6 cm", "8 cm", "10 cm")
_Reading = tuple[str, tuple[str, ...], int]  # words, keys of the readings, decimals


@dataclass(frozen=True)
class _Table:
    """A heading, its columns, and lines of readings; one with a single key stands in column one."""

    heading: str
    columns: tuple[str, ...]
    lines: tuple[_Reading, ...]
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
    """One fitting as the sheet needs it; `views` maps each of `VIEWS` to pixels (h, w, 3), `marks` to its marks.

    neck_base_seen: whether the view of the neck shows the neck-base line.
    """

    title: str
    expect: str
    readings: Mapping[str, Any]
    views: Mapping[str, NDArray[np.uint8]]
    neck_base_seen: bool = False
    marks: Mapping[str, Sequence[Mark]] = field(default_factory=dict)

    @property
    def settled(self) -> bool:
        return bool(self.readings.get("settled", False))


def view_sizes(standing: float, close: float, *, alone: bool) -> dict[str, tuple[int, int]]:
    """Pixels (width, height) of each view, given width over height of a standing and the neck view.

    Five abreast; lower where several fittings share the sheet.
    """
    tallest = 740 if alone else 620
    room = _WIDTH - 2 * _MARGIN - _STAFF - 4 * _GAP
    close = min(max(close, 0.7), 1.5)
    height = min(tallest, int(room / (4 * standing + close)))
    standing_size = (max(1, int(standing * height)), height)
    close_width = room - 4 * standing_size[0]
    return {v: standing_size for v in STANDING} | {"neck": (close_width, height)}


def compose_sheet(
    rows: Sequence[SheetRow], *, conclusion: Mapping[str, Any], floor_row: float, standing_pixels_per_metre: float,
    close_pixels_per_metre: float,
) -> Image.Image:  # fmt: skip
    """The sheet as a Pillow image: the conclusion in large type, then each fitting: views, what is wrong, readings.

    `floor_row` is the pixel row of the floor in a standing view. From the second fitting on, the small
    figure behind a reading is its difference from the first, grey if within their spreads; on
    the first it is the reading's own spread, where one is given. Readings that are missing
    print as a dash.
    """
    from PIL import Image, ImageDraw

    said, size = _concluded(conclusion["text"])
    top = _MARGIN + round(1.3 * size) * len(said) + 24
    heights = [_height_of(row) for row in rows]
    sheet = Image.new("RGB", (_WIDTH, top + sum(heights) + 90), PAPER)
    pen = ImageDraw.Draw(sheet)
    for k, line in enumerate(said):
        colour = INK if all(row.settled for row in rows) else STAMP
        write(pen, (_MARGIN, _MARGIN - 22 + round(1.3 * size) * k), line, size, face="bold", colour=colour)
    for place, (row, height) in enumerate(zip(rows, heights, strict=True)):
        _draw_heading(pen, row, top)
        below = top + 64 + 29 * len(_remarked(row))
        left = _MARGIN + _STAFF
        draw_staff(pen, (floor_row, standing_pixels_per_metre), (left, below))
        _draw_views(sheet, pen, row, (left, below), close_pixels_per_metre)
        below += row.views["front"].shape[0] + 50
        below += _draw_found(pen, row, below, conclusion["sits"].get(_name(row), ""))
        _draw_tables(pen, row, rows[0] if place else None, below)
        below += _TABLE_LINES * _LINE + 14
        write(pen, (_MARGIN, below), _evidence(row), 22, colour=GREY)
        for k, line in enumerate(_expected(row), start=1):
            write(pen, (_MARGIN, below + 29 * k), line, 22, face="italic", colour=GREY)
        top += height
    for k, line in enumerate(wrapped(_foot(len(rows)), 20, _WIDTH - 2 * _MARGIN)):
        write(pen, (_MARGIN, sheet.height - 72 + 28 * k), line, 20, colour=GREY)
    return sheet


def _concluded(conclusion: str) -> tuple[list[str], int]:
    """The conclusion in lines, as large as it can be read from afar, and the size of its letters."""
    for size in (64, 58, 52):
        lines = wrapped(conclusion, size, _WIDTH - 2 * _MARGIN, face="bold")
        if len(lines) <= 4:
            break
    return lines, size


def _height_of(row: SheetRow) -> int:
    """Pixels that a fitting takes on the sheet."""
    views = 64 + 29 * len(_remarked(row)) + row.views["front"].shape[0] + 50
    return views + _found_height(row) + _TABLE_LINES * _LINE + 14 + 29 * (1 + len(_expected(row))) + 46


def _foot(count: int) -> str:
    words = (
        "Left and right are the wearer's. Standing views to one scale; heights in cm above the "
        "floor, a line each 10 cm. Filled number: wrong; open: may be; a leader that ends in a ring: hidden here."
    )
    if count == 1:
        words += " ±: spread of a reading."
    else:
        words += " Small figures: difference from the first draft, grey where the spread covers it."
    return words


def _expected(row: SheetRow) -> list[str]:
    """What the scene's author expects, in two lines at most."""
    if not row.expect:
        return []
    lines = wrapped(f"Expected: {row.expect}", 22, _WIDTH - 2 * _MARGIN - 40)
    if len(lines) > 2:
        lines = [lines[0], lines[1] + " …"]
    return lines


def _evidence(row: SheetRow) -> str:
    """How near to rest it came, on what mesh, and which of several starts is shown."""
    residual, vertices, edge = (
        _number(_value(row.readings, key), decimals)
        for key, decimals in (("residual", 4), ("vertices", 0), ("edge_length_cm", 1))
    )
    state = "settled" if row.settled else "not settled"
    words = f"{state}: residual {residual} of a vertex's weight, {vertices} vertices, edge length {edge} cm"
    shown = shown_words(row.readings)
    words = f"{shown}; {words}." if shown else f"{words}."
    return words[0].upper() + words[1:]


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
    words = f"{_name(row)}{'' if row.settled else ', not settled'}"
    place = (_WIDTH - _MARGIN - length_of(words, 25), top + 18)
    write(pen, place, words, 25, colour=GREY if row.settled else STAMP)
    title, size = fitted_title(row.title, place[0] - _MARGIN - 40)
    write(pen, (_MARGIN, top + 44 - size), title, size, face="serif bold")
    for k, line in enumerate(_remarked(row)):
        write(pen, (_MARGIN, top + 58 + 29 * k), line, 22)


def _draw_views(
    sheet: Image.Image, pen: ImageDraw.ImageDraw, row: SheetRow, corner: tuple[int, int],
    close_pixels_per_metre: float,
) -> None:  # fmt: skip
    """Five views with captions and marks, stamped if not settled."""
    from PIL import Image

    left, top = corner
    for view in VIEWS:
        pixels = row.views[view]
        height, width = pixels.shape[:2]
        sheet.paste(Image.fromarray(pixels), (left, top))
        if view == "neck":
            draw_scale(pen, close_pixels_per_metre, (left + 18, top + height - 18))
        box = (left, top, width, height)
        draw_marks(pen, row.marks.get(view, ()), box, radius=_MARK, foot=60 if view == "neck" else 0)
        caption = CAPTIONS[view] + (NECK_BASE_SEEN if view == "neck" and row.neck_base_seen else "")
        write(pen, (left + 4, top + height + 4), caption, 21, face="italic")
        left += width + _GAP
    if not row.settled:
        draw_stamp(sheet, ((corner[0] + left) // 2, top + row.views["front"].shape[0] // 2))


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
        small = f"±{_short(spread or 0.0, decimals)}" if with_sign(spread, decimals) else ""
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


# --- what was found ---------------------------------------------------------------------------

_Line = tuple[str, str, int]  # face, words, size of the letters
_Item = tuple[tuple[int, bool] | None, list[_Line]]  # the number and whether it is certain, or none; the lines


def _items(row: SheetRow, width: float) -> list[_Item]:
    """What is wrong or may be, numbered as on the views; a mend that was told before is told by its number."""
    items: list[_Item] = []
    told: dict[str, int] = {}
    listed = [
        v for v in row.readings.get("verdicts") or [] if v.get("harm") or "harm" not in v
    ]  # older files have none
    for number, verdict in enumerate(listed, start=1):
        words = f"{verdict.get('where', '')}: {verdict.get('finding', '')}"
        lines = [("sans", line, _SAID) for line in wrapped(words, _SAID, width)]
        mend, key = verdict.get("mend", ""), str((verdict.get("changes") or [None])[0])
        if mend and key in told:
            mend = f"Mend as {told[key]}."
        elif verdict.get("changes"):
            told[key] = number
        lines += [("italic", line, _MEND) for line in wrapped(mend, _MEND, width, face="italic") if mend]
        items.append(((number, not verdict.get("undecided")) if "harm" in verdict else None, lines))
    return items


def _in_order(row: SheetRow) -> list[str]:
    """The parts with nothing wrong, where the hem hangs, and how the cloak is worn otherwise."""
    fine = [v for v in row.readings.get("verdicts") or [] if "harm" in v and not v["harm"]]
    parts = ", ".join(v["where"] for v in fine if v["where"] != "hem")
    hem = " ".join(v["finding"][0].upper() + v["finding"][1:] for v in fine if v["where"] == "hem")
    words = f"{f'In order: {parts}. ' if parts else ''}{hem}"
    worn = " ".join(said_by_way(row.readings.get("ways") or []))
    paragraphs = [words, f"As worn. {worn}" if worn else ""]
    return [line for one in paragraphs if one for line in wrapped(one, _MEND, _WIDTH - 2 * _MARGIN)]


def _columns(row: SheetRow) -> tuple[list[_Item], list[_Item]]:
    """What was found in two columns, so that the taller one is as low as can be."""
    items = _items(row, (_WIDTH - 2 * _MARGIN) / 2 - _GAP - _INDENT)
    turn = min(range(len(items) + 1), key=lambda k: (max(_tall(items[:k]), _tall(items[k:])), -k))
    return items[:turn], items[turn:]


def _tall(items: Sequence[_Item]) -> int:
    """Pixels that items below each other take."""
    return sum(_step(size) for _, lines in items for _, _, size in lines) + _AFTER * len(items)


def _step(size: int) -> int:
    return round(1.32 * size)


def _found_height(row: SheetRow) -> int:
    """Pixels that what was found takes: a heading, the columns, what is in order."""
    return 56 + max(map(_tall, _columns(row))) + _step(_MEND) * len(_in_order(row)) + 26


def _draw_found(pen: ImageDraw.ImageDraw, row: SheetRow, top: int, sits: str) -> int:
    """Whether it sits, what is wrong and what to change, then what is in order; returns its height."""
    sentence = {"yes": "It sits. ", "no": "It does not sit. ", "undecided": "Whether it sits is undecided. "}
    heading = f"{sentence.get(sits, '') if row.settled else ''}{_found_heading(row)}"
    write(pen, (_MARGIN, top), heading, _SAID, face="bold")
    below = top + 56
    for column, items in enumerate(_columns(row)):
        left, y = _MARGIN + column * (_WIDTH - 2 * _MARGIN) / 2, below
        for mark, lines in items:
            if mark is not None:
                draw_disc(pen, (left + 26, y + 0.6 * _SAID), mark, 24)
            for face, line, size in lines:
                write(pen, (left + _INDENT, y), line, size, face=face)
                y += _step(size)
            y += _AFTER
    below += max(map(_tall, _columns(row)))
    for k, line in enumerate(_in_order(row)):
        write(pen, (_MARGIN, below + _step(_MEND) * k), line, _MEND)
    return _found_height(row)


def _name(row: SheetRow) -> str:
    """The scene's name, which the conclusion calls it by."""
    return str(row.readings.get("scene", ""))


def _found_heading(row: SheetRow) -> str:
    verdicts = row.readings.get("verdicts")
    if verdicts is None:
        return "Found: \N{EN DASH}"
    if not row.settled:
        return "Found, though not settled"
    wrong = any(verdict.get("harm") or "harm" not in verdict for verdict in verdicts)
    return "What is wrong, or may be, in order of harm" if wrong else "Nothing is wrong"


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
