"""Lettering of pictures: type, the height staff, the scale bar, the stamp, numbered marks.

In: a Pillow pen, places in pixels, words. Out: marks on the image. The letters are DejaVu as matplotlib brings them,
so that a sheet looks the same on every machine. At the width sheets have on A4 turned sideways a letter 20 pixels
high is 7 points. Where things go is left to those who call.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from drape.errors import MissingExtraError
from drape.plain import fitted, plain_line

if TYPE_CHECKING:
    from PIL import Image, ImageDraw, ImageFont

PAPER = (249, 247, 241)
INK = (38, 34, 30)
GREY = (112, 105, 96)
STAMP = (166, 56, 20)
TITLE_SIZES = (36, 32, 28, 25)
SHEET_WIDTH = 2400  # pixels across A4 turned sideways, less its margins: 8.5 a millimetre


@lru_cache(maxsize=64)
def font_of(size: int, face: str) -> ImageFont.FreeTypeFont:
    """DejaVu as matplotlib ships it, so that a sheet looks the same on every machine."""
    try:
        import matplotlib
        from PIL import ImageFont
    except ImportError as error:
        raise MissingExtraError(f"sheet: matplotlib — got {error}. Type: pip install matplotlib pillow.") from None
    files = {
        "sans": "DejaVuSans.ttf",
        "bold": "DejaVuSans-Bold.ttf",
        "italic": "DejaVuSans-Oblique.ttf",
        "serif bold": "DejaVuSerif-Bold.ttf",
    }
    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    return ImageFont.truetype(str(folder / files[face]), size, layout_engine=ImageFont.Layout.BASIC)


def length_of(words: str, size: int, face: str = "sans") -> float:
    """Width of a line of type in pixels."""
    return float(font_of(size, face).getlength(words))


def fitted_title(
    title: str, width: float, *, face: str = "serif bold", sizes: Sequence[int] = TITLE_SIZES
) -> tuple[str, int]:
    """A title as one line, and its size: smaller if it is long, and cut if it is longer still."""
    title = plain_line(title)
    for size in sizes:
        if length_of(title, size, face) <= width:
            return title, size
    return fitted(title, width / size, lambda words: length_of(words, size, face) / size), size


def write(
    pen: ImageDraw.ImageDraw, place: tuple[float, float], words: str, size: int, *,
    face: str = "sans", colour: tuple[int, int, int] = INK,
) -> None:  # fmt: skip
    """One line of type, its upper left corner at `place`."""
    pen.text(place, words, font=font_of(size, face), fill=colour)


def wrapped(words: str, size: int, width: float, *, face: str = "sans") -> list[str]:
    """Lines no longer than `width` pixels, broken at spaces."""
    lines = [""]
    for word in words.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and length_of(longer, size, face) > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def draw_staff(pen: ImageDraw.ImageDraw, scale: tuple[float, float], corner: tuple[int, int]) -> None:
    """A staff left of a level view: bands of 10 cm, a number each 50. scale: row of the floor, pixels per metre."""
    (floor_row, per_metre), (right, top) = scale, corner
    low, high = right - 22, right - 8
    tallest = int(floor_row / per_metre * 10) * 10
    for height in range(0, tallest + 1, 10):
        row, upper = (round(top + floor_row - h / 100 * per_metre) for h in (height, height + 10))
        if height < tallest:
            fill = GREY if height % 20 == 0 else PAPER
            pen.rectangle([(low, upper), (high, row)], fill=fill, outline=GREY)
        if height % 50 == 0:
            words = str(height)
            write(pen, (low - 8 - length_of(words, 20), row - 13), words, 20)


def draw_scale(pen: ImageDraw.ImageDraw, pixels_per_metre: float, corner: tuple[int, int]) -> None:
    """A bar of 10 cm whose left end is at `corner`."""
    (left, row), length = corner, 0.10 * pixels_per_metre
    pen.rectangle([(left - 8, row - 36), (left + length + 8, row + 10)], fill=PAPER)
    pen.line([(left, row), (left + length, row)], fill=INK, width=4)
    for end in (left, left + length):
        pen.line([(end, row - 7), (end, row + 7)], fill=INK, width=3)
    write(pen, (left + length / 2 - length_of("10 cm", 20) / 2, row - 32), "10 cm", 20)


def draw_stamp(sheet: Image.Image, centre: tuple[int, int]) -> None:
    """NOT SETTLED in a frame, aslant across the views, as with a rubber stamp."""
    from PIL import Image, ImageDraw

    font = font_of(104, "bold")
    width, height = int(font.getlength("NOT SETTLED")) + 80, 168
    mark = Image.new("RGBA", (width, height), (*STAMP, 0))
    pen = ImageDraw.Draw(mark)
    frame = (4, 4, width - 5, height - 5)
    pen.rounded_rectangle(frame, 18, outline=(*STAMP, 255), width=10, fill=(*PAPER, 120))
    pen.text((40, 22), "NOT SETTLED", font=font, fill=(*STAMP, 255))
    mark = mark.rotate(9, expand=True, resample=Image.Resampling.BICUBIC)
    sheet.paste(mark, (centre[0] - mark.width // 2, centre[1] - mark.height // 2), mark)


# --- numbered marks ---------------------------------------------------------------------------


@dataclass(frozen=True)
class Mark:
    """A number on a picture. at: pixels from the view's upper left corner. is_certain: a fault, not only perhaps one.

    shows: whether the place itself can be seen; its leader then ends in a dot, else in a ring.
    """

    number: int
    at: tuple[float, float]
    is_certain: bool = True
    shows: bool = True


def draw_disc(pen: ImageDraw.ImageDraw, centre: tuple[float, float], mark: tuple[int, bool], radius: int) -> None:
    """A circled number: filled where it is certain, open where it may be. mark: number, is_certain."""
    (x, y), (number, is_certain) = centre, mark
    paper, ink = (INK, PAPER) if is_certain else (PAPER, INK)
    pen.ellipse([(x - radius - 3, y - radius - 3), (x + radius + 3, y + radius + 3)], fill=PAPER)
    pen.ellipse(
        [(x - radius, y - radius), (x + radius, y + radius)], fill=paper, outline=INK, width=max(3, radius // 8)
    )
    size = round(radius * (1.25 if number < 10 else 1.05))
    pen.text((x, y), str(number), font=font_of(size, "bold"), fill=ink, anchor="mm")


def draw_marks(
    pen: ImageDraw.ImageDraw, marks: Sequence[Mark], box: tuple[int, int, int, int], *, radius: int, foot: int = 0
) -> None:
    """Marks on a view: circled numbers along its sides, where they hide least, with a plain leader to each place.

    box: left, top, width, height of the view. foot: pixels at its lower end to be kept free.
    """
    left, top, width, height = box
    groups: list[tuple[list[Mark], list[tuple[float, float]]]] = []
    for side in (0, 1):
        own = [group for group in together(marks, radius) if (group[0].at[0] >= width / 2) == bool(side)]
        flat = [mark for group in own for mark in group]
        rows = spaced([mark.at[1] for mark in flat], 2 * radius + 14, (radius + 6.0, height - foot - radius - 6.0))
        column = left + (width - radius - 6 if side else radius + 6)
        for group in own:
            groups.append((group, [(column, top + rows.pop(0)) for _ in group]))
    for colour, wide in ((PAPER, 8), (INK, 3)):
        for group, discs in groups:
            near = min(discs, key=lambda disc: abs(disc[1] - top - group[0].at[1]))
            pen.line([discs[0], discs[-1]], fill=colour, width=3 * wide)  # a bar holds together what has one leader
            pen.line([near, (left + group[0].at[0], top + group[0].at[1])], fill=colour, width=wide)
    for group, discs in groups:
        x, y, end = left + group[0].at[0], top + group[0].at[1], max(6, radius // 4)
        pen.ellipse([(x - end - 3, y - end - 3), (x + end + 3, y + end + 3)], fill=PAPER)
        is_seen = any(mark.shows for mark in group)
        pen.ellipse([(x - end, y - end), (x + end, y + end)], fill=INK if is_seen else PAPER, outline=INK, width=3)
        for mark, disc in zip(group, discs, strict=True):
            draw_disc(pen, disc, (mark.number, mark.is_certain), radius)


def together(marks: Sequence[Mark], near: float) -> list[list[Mark]]:
    """The marks from top to bottom, those nearer to each other than so many pixels as one group with one leader."""
    groups: list[list[Mark]] = []
    for mark in sorted(marks, key=lambda one: one.number):
        own = (group for group in groups if math.dist(group[0].at, mark.at) < near)
        group = next(own, None)
        if group is None:
            groups.append([mark])
        else:
            group.append(mark)
    return sorted(groups, key=lambda group: group[0].at[1])


def spaced(wanted: Sequence[float], step: float, ends: tuple[float, float]) -> list[float]:
    """Places in order, each at least a step below the one before, near where they are wanted and within the ends.

    Where too many are wanted for that, they stand evenly.
    """
    if not wanted:
        return []
    low, high = ends
    if (len(wanted) - 1) * step > high - low:
        return [low + k * (high - low) / (len(wanted) - 1) for k in range(len(wanted))]
    rows: list[float] = []
    for row in wanted:
        rows.append(max(row, low, *(rows[-1] + step for _ in rows[-1:])))
    for k in range(len(rows) - 1, -1, -1):
        rows[k] = min(rows[k], high - (len(rows) - 1 - k) * step)
    return rows
