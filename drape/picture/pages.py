"""Plates: pages of pictures with their numbers, 2400 pixels wide, to be printed on A4 turned sideways.

In: a lit fitting, cameras, paints. Out: Pillow images: the length plate (where the hem falls against the body's
landmarks), the painted plate (one reading on the worn cloak and on the flat draft), the pieces plate (both in the
same colours), and single views with their height staff or scale bar. Numbers are readings, none is worked out here.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from drape.picture.camera import CLOSE, HEADLESS, STANDING, Frame, frame_at, frame_of, toward
from drape.picture.colour import hexed
from drape.picture.fitting_sheet import CAPTIONS
from drape.picture.lettering import (
    GREY,
    INK,
    PAPER,
    SHEET_WIDTH,
    STAMP,
    draw_scale,
    draw_staff,
    draw_stamp,
    fitted_title,
    length_of,
    wrapped,
    write,
)
from drape.picture.plots import pixels_of, plot_flat
from drape.picture.stage import PLAIN, Look, Stage, row_of_height
from drape.reading.table import with_sign
from drape.wearing.choices import BACK

if TYPE_CHECKING:
    from PIL import Image

    from drape.picture.paint import Paint
    from drape.reading.result import Fitting

MARGIN, GAP, STAFF, HEAD = 56, 18, 74, 118
STANDING_WIDEST = 400  # pixels of each standing view of a painted plate, so that the close one keeps its room
LEGEND = 330  # pixels beside a view for the numbers of its colours
FLAT_DPI = 160  # at which the letters of a flat draft come out as high as the page's
FLAT_ROOM = {False: (1150, 720), True: (690, 720)}  # pixels for the flat draft and for its neck
STRIP_WIDEST, STRIP_LEAST = 520, 1100  # pixels: of a frame at most, of a strip at least
STRIP_SAID, STRIP_LINE = 28, 36  # pixels: its letters, and from a line of them to the next
FRAMES = "frames"  # what a strip's file calls its pictures: what stands below each, and its box [pixels]
MOST_MOVED = 4  # rests of moves in a strip, from which on it keeps to the furthest ones
EIGHTH = 0.25 * np.pi
MIDDLE, FRONT_FIRST = 0.02, 1.1  # m to the left, from where on an edge lies there; a front's worth over a side's
FREE_EDGE = ("front opening", "right opening")  # the edge that a hand takes: of a closure over a shoulder, in front
SEEN = (
    "from in front", "from the left front", "from the left", "from the left back", "from behind", "from the right back",
    "from the right", "from the right front",
)  # fmt: skip
NAMES = {"mid_thigh": "mid-thigh", "mid_calf": "mid-calf"}


def _page(height: int) -> tuple[Image.Image, Any]:
    from PIL import Image, ImageDraw

    page = Image.new("RGB", (SHEET_WIDTH, height), PAPER)
    return page, ImageDraw.Draw(page)


def _heading(pen: Any, stage: Stage, words: str) -> None:
    fitting = stage.fitting
    pen.line([(MARGIN, 36), (SHEET_WIDTH - MARGIN, 36)], fill=INK, width=3)
    title, size = fitted_title(fitting.title or fitting.name, SHEET_WIDTH - 2 * MARGIN)
    write(pen, (MARGIN, 48), title, size, face="serif bold")
    write(pen, (MARGIN, 94), words, 22, face="italic", colour=GREY)


def _paste(page: Image.Image, pixels: Any, place: tuple[int, int]) -> None:
    from PIL import Image

    page.paste(pixels if isinstance(pixels, Image.Image) else Image.fromarray(pixels), place)


def size_for(frame: Frame, height: int, *, widest: int = SHEET_WIDTH) -> tuple[int, int]:
    """Pixels (width, height) of a view, as wide as what it takes in; less high if that is too wide."""
    width = round(height * frame.half_width / frame.half_height)
    return (width, height) if width <= widest else (widest, round(height * widest / width))


def single_view(stage: Stage, frame: Frame, view: str, *, height: int, look: Look = PLAIN) -> Image.Image:
    """One view by itself: with a height staff where it is on the level, else with a scale bar."""
    from PIL import Image, ImageDraw

    size = size_for(frame, height, widest=2 * height)
    pixels = stage.picture(frame, size, headless=view in HEADLESS, look=look)
    per_metre = frame.pixels_per_metre(size)
    level = abs(frame.toward_camera[2]) < 1e-9
    left = 96 if level else 0
    beside = 0 if look.paint is None else LEGEND
    image = Image.new("RGB", (left + size[0] + beside, size[1]), PAPER)
    _paste(image, pixels, (left, 0))
    pen = ImageDraw.Draw(image)
    if level:
        floor = float(frame.pixels([[0.0, 0.0, 0.0]], size)[0, 1])
        draw_staff(pen, (floor, per_metre), (left, 0))
        write(pen, (6, 6), "cm", 20, colour=GREY)
    else:
        draw_scale(pen, per_metre, (24, size[1] - 24))
    if look.paint is not None:
        _legend(pen, look.paint, (left + size[0] + GAP, 20), narrow=True)
    if not stage.fitting.readings.get("settled", False):
        draw_stamp(image, (image.width // 2, image.height // 2))
    return image


def strip_plate(stages: Sequence[Stage], words: str) -> Image.Image:
    """Rests of one way of wearing beside each other: as one stands, from in front and from behind; then each move from
    the side that shows most of it. words: below the title, what is to be said of them.
    """
    first, *moved = stages
    if len(moved) > MOST_MOVED:  # frames would be too small: what one comes back to is left out
        moved = [stage for stage in moved if not _words_of(stage).startswith(BACK)]
    fittings = [stage.fitting for stage in stages]
    shown, side = [(first, 0.0, "from in front"), (first, np.pi, "from behind")], 0.0
    for stage in moved:
        if not _words_of(stage).startswith(BACK):  # what one comes back to is seen as the move was
            side = side_showing_most(first.fitting, stage.fitting)
        shown.append((stage, side, f"{_words_of(stage)}, {SEEN[round(side / EIGHTH) % len(SEEN)]}"))
    frame = frame_at(fittings, 0.0, 0.0)
    width = min((SHEET_WIDTH - 2 * MARGIN - (len(shown) - 1) * GAP) // len(shown), STRIP_WIDEST)
    height = round(width * frame.half_height / frame.half_width)
    across = max(len(shown) * (width + GAP) - GAP, STRIP_LEAST)
    said = wrapped(words, STRIP_SAID, across)
    top = HEAD + STRIP_LINE * len(said)
    captions = [wrapped(one, STRIP_SAID, width, face="italic") for *_, one in shown]
    page, pen = _page(top + height + 24 + STRIP_LINE * max(map(len, captions)))
    _heading(pen, first, "")
    pen.rectangle([(MARGIN + across, 0), (SHEET_WIDTH, HEAD)], fill=PAPER)  # no rule beyond what the strip takes
    for k, line in enumerate(said):
        write(pen, (MARGIN, 96 + STRIP_LINE * k), line, STRIP_SAID)
    boxes = []
    for k, (stage, side, caption) in enumerate(shown):
        left = MARGIN + k * (width + GAP)
        boxes.append((caption, (left, top, left + width, top + height)))
        _paste(page, stage.picture(frame_at(fittings, side, 0.0), (width, height)), (left, top))
        for row, line in enumerate(captions[k]):
            write(pen, (left + 4, top + height + 6 + STRIP_LINE * row), line, STRIP_SAID, face="italic")
        if not stage.fitting.readings.get("settled", False):
            draw_stamp(page, (left + width // 2, top + height // 2))
    strip = page.crop((0, 0, across + 2 * MARGIN, page.height))
    strip.info[FRAMES] = json.dumps(boxes)
    return strip


def frames_of(strip: Image.Image) -> list[tuple[str, Image.Image]]:
    """The pictures of a strip, each with what stands below it; the whole strip where its file does not hold them, as
    one that another program has changed.
    """
    try:
        return [(str(caption), strip.crop(tuple(box))) for caption, box in json.loads(strip.info[FRAMES])]
    except (KeyError, TypeError, ValueError):
        return [("as it was drawn", strip)]


def _words_of(stage: Stage) -> str:
    """Where in a move a rest is."""
    return str(stage.fitting.about.get("worn", {}).get("words", stage.fitting.name))


def side_showing_most(before: Fitting, after: Fitting) -> float:
    """The azimuth, of eight, from which most of the way between two rests of one cloak on one figure is seen [rad].

    Of two that face each other, which show as much: from in front rather than from behind, from the side where the
    front's free edge lies (the right front's, of two) rather than from the other; where that lies in the middle, from
    the right.
    """
    steps = np.vstack([after.worn - before.worn, after.figure_vertices - before.figure_vertices])
    edge = before.worn[next((before.edges[name] for name in FREE_EDGE if name in before.edges), [])]
    is_left = bool(len(edge)) and float(edge[:, 0].mean()) < -MIDDLE
    wanted = np.array([-1.0 if is_left else 1.0, FRONT_FIRST, 0.0])
    ways = [toward(k * EIGHTH, 0.0) for k in range(len(SEEN))]
    seen = [float(np.linalg.norm(steps - (steps @ way)[:, None] * way, axis=1).mean()) for way in ways]
    best = int(np.argmax(np.round(seen, 4)))
    facing = (best, (best + len(SEEN) // 2) % len(SEEN))
    return float(max(facing, key=lambda k: float(ways[k] @ wanted)) * EIGHTH)


def length_plate(stage: Stage, frames: Mapping[str, Frame] | None = None) -> Image.Image:
    """Four standing views, the body's landmarks ruled across them, and the hem's height on each side."""
    frames = frames or {view: frame_of([stage.fitting], view) for view in STANDING}
    room = SHEET_WIDTH - 2 * MARGIN - 250 - STAFF - 3 * GAP
    frame = frames["front"]
    width = room // 4
    height = min(1180, round(width * frame.half_height / frame.half_width))
    size = (width, height)
    page, pen = _page(HEAD + 40 + height + 190)
    _heading(pen, stage, "Length: the lines are where the body is measured; the hem's height stands below each side.")
    top, left = HEAD + 30, MARGIN + 250 + STAFF
    draw_staff(pen, (float(frame.pixels([[0.0, 0.0, 0.0]], size)[0, 1]), frame.pixels_per_metre(size)), (left, top))
    fall = stage.fitting.readings.get("fall", {})
    for k, view in enumerate(STANDING):
        place = left + k * (width + GAP)
        _paste(page, stage.picture(frames[view], size, look=Look(lines=True)), (place, top))
        write(pen, (place + 4, top + height + 6), CAPTIONS[view], 22, face="italic")
        value, spread = fall.get(f"{view}_cm"), fall.get(f"{view}_cm_spread")
        if isinstance(value, (int, float)):
            row = top + row_of_height(frames[view].fitted(size), size, value / 100)
            _dashed(pen, (place, place + width), row, STAMP)
            words = f"hem {value:.1f} cm{with_sign(spread, 1)}"
            write(pen, (place + 4, top + height + 38), words, 24, face="bold", colour=STAMP)
    _rule_levels(pen, stage, frames["front"], size, (left, top))
    _foot_of_length(pen, stage, top + height + 84)
    if not stage.fitting.readings.get("settled", False):
        draw_stamp(page, (SHEET_WIDTH // 2, top + height // 2))
    return page


def _rule_levels(pen: Any, stage: Stage, frame: Frame, size: tuple[int, int], corner: tuple[int, int]) -> None:
    left, top = corner
    for name, height in sorted(stage.fitting.levels.items(), key=lambda item: -item[1]):
        row = top + row_of_height(frame.fitted(size), size, height)
        _dashed(pen, (left, SHEET_WIDTH - MARGIN), row, GREY)
        words = f"{NAMES.get(name, name)} {100 * height:.0f} cm"
        write(pen, (left - STAFF - 14 - length_of(words, 22), row - 14), words, 22)


def _dashed(pen: Any, ends: tuple[float, float], row: float, colour: tuple[int, int, int]) -> None:
    x = ends[0]
    while x < ends[1]:
        pen.line([(x, row), (min(x + 12, ends[1]), row)], fill=colour, width=2)
        x += 20


def _foot_of_length(pen: Any, stage: Stage, top: int) -> None:
    fall = stage.fitting.readings.get("fall", {})
    parts = []
    if "reaches" in fall:
        parts.append(f"On average the hem reaches {fall['reaches']}.")
    for words, key in (("Lowest", "lowest_cm"), ("highest", "highest_cm"), ("out of level by", "level_cm")):
        if isinstance(fall.get(key), (int, float)):
            parts.append(f"{words} {fall[key]:.1f} cm")
    sentence = parts[0] + " " + ", ".join(parts[1:]) + "." if len(parts) > 1 else " ".join(parts)
    for k, line in enumerate(wrapped(sentence, 24, SHEET_WIDTH - 2 * MARGIN)):
        write(pen, (MARGIN, top + 32 * k), line, 24)


def painted_plate(stage: Stage, paint: Paint) -> Image.Image:
    """A reading on the worn cloak, from four sides and close, and on the flat draft, with its scale."""
    look = Look(paint=paint)
    return _worn_and_flat(stage, look, f"{paint.words}: {paint.meaning}.")


def pieces_plate(stage: Stage) -> Image.Image:
    """The worn cloak and its flat draft, each piece in the same colour on both."""
    count = len(stage.piece_colours)
    words = (
        "One piece, in the cloth's own colour." if count == 1 else f"{count} pieces, each in one colour worn and flat."
    )
    return _worn_and_flat(stage, Look(pieces=True), words)


def _worn_and_flat(stage: Stage, look: Look, words: str) -> Image.Image:
    paint = look.paint
    frames = {view: frame_of([stage.fitting], view) for view in (*STANDING, "neck")}
    standing = size_for(frames["front"], 720, widest=STANDING_WIDEST)
    height = standing[1]
    close = (SHEET_WIDTH - 2 * MARGIN - 4 * (standing[0] + GAP), height)
    draft, neck = (_flat_of(stage, look, neck=neck) for neck in (False, True))
    row = max(draft.height, neck.height, 0 if paint is None else 560)
    page, pen = _page(HEAD + 30 + height + 50 + row + 60)
    _heading(pen, stage, words)
    left, top = MARGIN, HEAD + 24
    for view, frame in frames.items():
        size = close if view == "neck" else standing
        _paste(page, stage.picture(frame, size, headless=view in HEADLESS, look=look), (left, top))
        write(pen, (left + 4, top + height + 4), CAPTIONS[view].split(",")[0], 22, face="italic")
        if view in CLOSE:
            draw_scale(pen, frame.pixels_per_metre(size), (left + 18, top + height - 18))
        left += size[0] + GAP
    below = top + height + 48
    for flat, across, words in (
        (draft, MARGIN, "flat draft, face side up"),
        (neck, MARGIN + draft.width + GAP, "its neck and shoulders, larger"),
    ):
        _paste(page, flat, (across, below + row - flat.height))
        write(pen, (across + 4, below + row + 4), words, 22, face="italic")
    if paint is not None:
        _legend(pen, paint, (SHEET_WIDTH - MARGIN - 380, below + 20))
    if not stage.fitting.readings.get("settled", False):
        draw_stamp(page, (SHEET_WIDTH // 2, top + height // 2))
    return page


def _flat_of(stage: Stage, look: Look, *, neck: bool) -> Image.Image:
    """The flat draft, or its neck, as large as its place on the page."""
    wide, high = FLAT_ROOM[neck]
    figure = plot_flat(stage.fitting, look.paint, pieces=look.pieces, neck=neck, width=wide / FLAT_DPI)
    width, height = figure.get_size_inches()
    return pixels_of(figure, round(min(wide, high * width / height)))


def painted_strip(stage: Stage, paint: Paint) -> Image.Image:
    """A reading on the worn cloak, front, back and close, on the neck of the draft, with its scale: for a page."""
    from PIL import Image, ImageDraw

    height, look = 560, Look(paint=paint)
    frames = {view: frame_of([stage.fitting], view) for view in ("front", "back", "neck")}
    sizes = {view: size_for(frame, height, widest=620) for view, frame in frames.items()}
    neck = pixels_of(plot_flat(stage.fitting, paint, neck=True, width=560 / FLAT_DPI), 560)
    width = sum(size[0] for size in sizes.values()) + neck.width + 3 * GAP + LEGEND
    strip = Image.new("RGB", (width, max(height, neck.height) + 10), PAPER)
    pen, left = ImageDraw.Draw(strip), 0
    for view, frame in frames.items():
        pixels = stage.picture(frame, sizes[view], headless=view in HEADLESS, look=look)
        _paste(strip, pixels, (left, height - sizes[view][1]))
        left += sizes[view][0] + GAP
    _paste(strip, neck, (left, height - neck.height))
    _legend(pen, paint, (left + neck.width + 30, 10), narrow=True)
    return strip


def _legend(pen: Any, paint: Paint, corner: tuple[int, int], *, narrow: bool = False) -> None:
    """The bands of a paint, highest first, their numbers beside them, and what the hatching means."""
    left, top = corner
    write(pen, (left, top), f"{paint.words}, {paint.unit}" if paint.unit else paint.words, 24, face="bold")
    y = top + 34
    if not narrow:
        for line in wrapped(paint.meaning, 20, 380):
            write(pen, (left, y), line, 20, colour=GREY)
            y += 26
        y += 6
    for colour, label in reversed(list(zip(paint.colours, paint.labels, strict=True))):
        pen.rectangle([(left, y), (left + 58, y + 34)], fill=hexed(colour), outline=GREY)
        write(pen, (left + 72, y + 4), label, 22)
        y += 38
    if paint.undecided.any() or not narrow:
        y += 10
        pen.rectangle([(left, y), (left + 58, y + 34)], fill=(214, 211, 204), outline=GREY)
        for x in range(-34, 58, 11):
            ends = [(left + max(x, 0), y + 34 + min(x, 0)), (left + min(x + 34, 58), y + max(0, x + 34 - 58))]
            pen.line([(ends[0][0], ends[0][1]), (ends[1][0], ends[1][1])], fill=INK, width=2)
        write(pen, (left + 72, y + 4), "undecided", 22)
        y += 42
    if not narrow:
        words = (
            f"mean of {paint.starts} starts; undecided: they differ by more than a step"
            if paint.starts > 1
            else "one start; hatched where there is nothing to read"
        )
        for line in wrapped(words, 20, 380):
            write(pen, (left, y), line, 20, colour=GREY)
            y += 26


def as_pages(images: Sequence[Image.Image]) -> list[Image.Image]:
    """Each image on an A4 page turned sideways or upright, whichever holds it larger, none cropped."""
    from PIL import Image

    pages = []
    for image in images:
        long, short = SHEET_WIDTH + 150, round((SHEET_WIDTH + 150) / 2**0.5)
        wide = image.width / image.height > 1.0
        size = (long, short) if wide else (short, long)
        scale = min((size[0] - 100) / image.width, (size[1] - 100) / image.height, 1.0)
        if scale < 1.0:
            image = image.resize((round(image.width * scale), round(image.height * scale)), Image.Resampling.LANCZOS)
        page = Image.new("RGB", size, PAPER)
        page.paste(image, ((size[0] - image.width) // 2, 50))
        pages.append(page)
    return pages
