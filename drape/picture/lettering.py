"""Lettering of pictures: type, the height staff, the scale bar, the stamp.

In: a Pillow pen, places in pixels, words. Out: marks on the image. The letters are DejaVu as matplotlib brings them,
so that a sheet looks the same on every machine. At the width sheets have on A4 turned sideways a letter 20 pixels
high is 7 points. Where things go is left to those who call.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from drape.errors import MissingExtraError

if TYPE_CHECKING:
    from PIL import Image, ImageDraw, ImageFont

PAPER = (249, 247, 241)
INK = (38, 34, 30)
GREY = (112, 105, 96)
STAMP = (166, 56, 20)
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


def write(
    pen: ImageDraw.ImageDraw, place: tuple[float, float], words: str, size: int, *,
    face: str = "sans", colour: tuple[int, int, int] = INK,
) -> None:  # fmt: skip
    """One line of type, its upper left corner at `place`."""
    pen.text(place, words, font=font_of(size, face), fill=colour)


def wrapped(words: str, size: int, width: float) -> list[str]:
    """Lines no longer than `width` pixels, broken at spaces."""
    lines = [""]
    for word in words.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and length_of(longer, size) > width:
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
