"""The full-size pattern as PDF: tiled on office paper to glue together, and on one sheet for a roll.

In: drawn pieces and a lay. Out: PDF files at true scale; 1 m of cloth is 1 m of paper. A tile's window overlaps the
next one's, and only what lies in it is on the page. Bytes repeat: no date, no random name. Millimetres here, y up.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import box

from drape.cutting.lay import Lay
from drape.cutting.piece import cut_outline
from drape.cutting.strokes import Drawn, Paper, Stroke, clipped, lay_paper, piece_paper, placed_strokes, placed_words
from drape.plain import fitted, plain_line

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

PAPERS = {"a4": (210.0, 297.0), "a3": (297.0, 420.0), "letter": (215.9, 279.4)}  # mm; ISO 216, ANSI Y14.1
MARGIN = 12.0  # mm that a printer may leave white
OVERLAP = 15.0  # mm of each tile that the next one is glued on
PAD = 4.0  # mm round a piece
POINT = 72.0 / 25.4  # points to a millimetre
LONGEST = 5000.0  # mm; a PDF page may be 14,400 points, 5.08 m
LEAST_TITLE = 3.5  # mm, to which the type of a long title shrinks; a longer one is cut
FONT, BOLD = "DejaVu", "DejaVuBold"
PENS: dict[str, tuple[float, tuple[float, ...], float]] = {  # width mm, dashes mm, grey
    "cut": (0.6, (), 0.0),
    "seam": (0.35, (4.0, 2.0), 0.0),
    "dart": (0.35, (4.0, 2.0), 0.0),
    "fold": (0.25, (1.5, 1.5), 0.0),
    "notch": (0.5, (), 0.0),
    "grain": (0.4, (), 0.0),
    "centre": (0.25, (8.0, 2.0, 1.0, 2.0), 0.35),
    "button": (0.3, (), 0.0),
    "tile": (0.15, (), 0.45),
    "glue": (0.15, (1.5, 1.5), 0.45),
    "cloth": (0.25, (), 0.4),
}


@dataclass(frozen=True)
class Tile:
    """One page of a piece: row from the top (A is 0), column from the left, its window [mm] in the piece's axes."""

    row: int
    column: int
    left: float
    low: float

    @property
    def name(self) -> str:
        return f"{row_letters(self.row)}{self.column + 1}"


@dataclass(frozen=True)
class Tiling:
    """How a piece falls on pages of `page` [mm]: windows of `window` [mm], a step apart."""

    page: tuple[float, float]
    window: tuple[float, float]
    rows: int
    columns: int
    tiles: tuple[Tile, ...]


def row_letters(row: int) -> str:
    """Return A, B ... Z, AA, AB ... for a row counted from 0."""
    return (row_letters(row // 26 - 1) if row >= 26 else "") + chr(ord("A") + row % 26)


def paper_words(paper: str) -> str:
    """Return a paper's name as it is written."""
    return paper.title() if paper == "letter" else paper.upper()


def tile(outline: shapely.Polygon, paper: tuple[float, float]) -> Tiling:
    """Return the tiling of an outline [mm] that takes fewest pages, upright or on the side; blank ones left out."""
    return min((_tiled(outline, page) for page in (paper, paper[::-1])), key=lambda one: len(one.tiles))


def _tiled(outline: shapely.Polygon, page: tuple[float, float]) -> Tiling:
    window = (page[0] - 2 * MARGIN, page[1] - 2 * MARGIN)
    step = (window[0] - OVERLAP, window[1] - OVERLAP)
    left, low, right, high = outline.bounds
    left, low = left - PAD, low - PAD
    columns = max(1, math.ceil((right + PAD - left - OVERLAP) / step[0]))
    rows = max(1, math.ceil((high + PAD - low - OVERLAP) / step[1]))
    near = outline.buffer(1.0)
    tiles = [
        Tile(row, column, left + column * step[0], low + (rows - 1 - row) * step[1])
        for row in range(rows)
        for column in range(columns)
    ]
    kept = [t for t in tiles if near.intersects(box(t.left, t.low, t.left + window[0], t.low + window[1]))]
    return Tiling(page, window, rows, columns, tuple(kept))


def write_tiles(drawn: Sequence[Drawn], path: Path, *, paper: str, title: str, hem: str = "", mark: str = "") -> int:
    """Write all pieces tiled on one kind of paper, with a first page that maps them; return the number of pages.

    hem: how it was found, a line on the first page. mark: a warning instead of it, in large type on every page.
    """
    papers = [piece_paper(one.piece) for one in drawn]
    outlines = [_outline(one, on) for one, on in zip(drawn, papers, strict=True)]
    tilings = [tile(outline, PAPERS[paper]) for outline in outlines]
    canvas = _canvas(path, title)
    pages = _write_cover(canvas, drawn, outlines, tilings, paper, (title, hem, mark))
    for one, on, tiling in zip(drawn, papers, tilings, strict=True):
        strokes = [Stroke(s.kind, 1000 * s.points, s.filled) for s in placed_strokes(one, on)]
        for each in tiling.tiles:
            _write_tile(canvas, one, on, strokes, tiling, each, (title, mark))
            pages += 1
    canvas.save()
    return pages


def _outline(drawn: Drawn, on: Paper) -> shapely.Polygon:
    return shapely.transform(cut_outline(drawn.piece), lambda points: 1000 * on.move(points))


def _canvas(path: Path, title: str) -> Canvas:
    from reportlab.pdfgen.canvas import Canvas

    _register_type()
    canvas = Canvas(str(path), invariant=1, pageCompression=1)
    canvas.setTitle(plain_line(title))
    canvas.setCreator("drape")
    canvas.setAuthor("")
    return canvas


def _register_type() -> None:
    """Make the sheet's typeface known to the writer; it comes with matplotlib."""
    import matplotlib
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    for name, file in ((FONT, "DejaVuSans.ttf"), (BOLD, "DejaVuSans-Bold.ttf")):
        pdfmetrics.registerFont(TTFont(name, str(folder / file)))


def _pen(canvas: Canvas, kind: str) -> None:
    width, dashes, grey = PENS[kind]
    canvas.setLineWidth(width * POINT)
    canvas.setDash([POINT * d for d in dashes])
    canvas.setStrokeGray(grey)
    canvas.setFillGray(grey)
    canvas.setLineJoin(1)


def _stroke(canvas: Canvas, points: np.ndarray, *, filled: bool = False) -> None:
    """Draw a polyline of page positions [mm]."""
    path = canvas.beginPath()
    path.moveTo(*(POINT * points[0]))
    for point in points[1:]:
        path.lineTo(*(POINT * point))
    canvas.drawPath(path, stroke=1, fill=int(filled))


def _type(
    canvas: Canvas, words: str, x: float, y: float, size: float, *, anchor: str = "start", bold: bool = False
) -> None:
    """Set a line of type, its foot at (x, y) [mm], `size` mm high."""
    words = plain_line(words)
    canvas.setFillGray(0.0)
    canvas.setFont(BOLD if bold else FONT, size * POINT)
    draw = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}[anchor]
    draw(x * POINT, y * POINT, words)


def _wide(canvas: Canvas, words: str, size: float, *, bold: bool = False) -> float:
    """Return the width of a line of type `size` mm high [mm]."""
    return float(canvas.stringWidth(words, BOLD if bold else FONT, size))


def _fitting(canvas: Canvas, title: str, size: float, room: float, *, bold: bool = False) -> str:
    """Return a title that is no longer than the room [mm] in type `size` mm high: cut, with dots, if it must be."""
    return fitted(plain_line(title), room / size, lambda words: _wide(canvas, words, 1.0, bold=bold))


def _sentence(words: str) -> str:
    """Return a title as a sentence of its own, before others."""
    return f"{words}{'' if words[-1:] in '.!?…' else '.'}  "


def _write_tile(
    canvas: Canvas,
    drawn: Drawn,
    on: Paper,
    strokes: Sequence[Stroke],
    tiling: Tiling,
    here: Tile,
    said: tuple[str, str],
) -> None:
    """Write one tile's page; said: the title, and a warning or nothing."""
    title, mark = said
    width, height = tiling.window
    canvas.setPageSize((tiling.page[0] * POINT, tiling.page[1] * POINT))
    shift = np.array([MARGIN - here.left, MARGIN - here.low])
    window = box(here.left, here.low, here.left + width, here.low + height)
    there = {(t.row, t.column): t.name for t in tiling.tiles}
    _glue_marks(canvas, tiling, here, there)
    for stroke in clipped(strokes, window):
        _pen(canvas, stroke.kind)
        _stroke(canvas, stroke.points + shift, filled=stroke.filled)
    canvas.saveState()
    clip = canvas.beginPath()
    clip.rect(MARGIN * POINT, MARGIN * POINT, width * POINT, height * POINT)
    canvas.clipPath(clip, stroke=0, fill=0)
    for words, place, size in placed_words(drawn, on):
        (x, y), high = 1000 * place, 1000 * size
        half = _wide(canvas, words, high) / 2
        if window.intersects(box(x - half, y - high, x + half, y + high)):
            _type(canvas, words, x + shift[0], y + shift[1], high, anchor="middle")
    canvas.restoreState()
    piece = drawn.piece
    _type(canvas, here.name, MARGIN + 3, MARGIN + height - OVERLAP - 12, 9.0, bold=True)
    _type(canvas, f"{piece.number} {piece.name}", MARGIN + 3, MARGIN + height - OVERLAP - 17, 3.2)
    if mark:
        _type(canvas, mark, MARGIN + 3, MARGIN + height - OVERLAP - 25, 6.0, bold=True)
    foot = f"Piece {piece.number}, {piece.name}.  "
    foot += f"Page {here.name} of {tiling.rows} rows by {tiling.columns}.  Full size."
    title = _fitting(canvas, title, 2.8, width - _wide(canvas, f".  {foot}", 2.8))
    _type(canvas, _sentence(title) + foot, MARGIN, 5.0, 2.8)
    canvas.showPage()


def _glue_marks(canvas: Canvas, tiling: Tiling, here: Tile, there: dict[tuple[int, int], str]) -> None:
    """Draw a tile's frame, where its neighbours' edges come, and diamonds that must meet."""
    width, height = tiling.window
    x0, y0, x1, y1 = MARGIN, MARGIN, MARGIN + width, MARGIN + height
    right, top = x1 - OVERLAP, y1 - OVERLAP
    _pen(canvas, "tile")
    _stroke(canvas, np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1], [x0, y0]]))
    row, column = here.row, here.column
    joins = [
        ((row, column + 1), [[right, y0], [right, y1]], "lay the edge of {} here", "right"),
        ((row - 1, column), [[x0, top], [x1, top]], "lay the edge of {} here", "top"),
    ]
    for other, line, words, side in joins:
        if other not in there:
            continue
        _pen(canvas, "glue")
        _stroke(canvas, np.array(line))
        text = words.format(there[other])
        if side == "top":
            _type(canvas, text, x0 + width * 0.5, top + 1.5, 2.6, anchor="middle")
        else:
            canvas.saveState()
            canvas.translate((right + 3.6) * POINT, (y0 + height * 0.5) * POINT)
            canvas.rotate(90)
            _type(canvas, text, 0.0, 0.0, 2.6, anchor="middle")
            canvas.restoreState()
    for other, at, upright in (
        ((row, column + 1), right, True),
        ((row, column - 1), x0, True),
        ((row - 1, column), top, False),
        ((row + 1, column), y0, False),
    ):
        if other not in there:
            continue
        # Counted from the corner both pages share, so that the diamonds meet.
        for share in (0.25, 0.75):
            along = (y0 + share * (height - OVERLAP)) if upright else (x0 + share * (width - OVERLAP))
            centre = np.array([at, along] if upright else [along, at])
            _pen(canvas, "tile")
            _stroke(canvas, centre + 3.0 * np.array([[1, 0], [0, 1], [-1, 0], [0, -1], [1, 0]]))


def _write_cover(
    canvas: Canvas,
    drawn: Sequence[Drawn],
    outlines: Sequence[shapely.Polygon],
    tilings: Sequence[Tiling],
    paper: str,
    said: tuple[str, str, str],
) -> int:
    """Write the first pages: how to print and glue, the test square, and a map of every piece; return how many."""
    page = PAPERS[paper]
    title, hem, mark = said
    canvas.setPageSize((page[0] * POINT, page[1] * POINT))
    y = page[1] - MARGIN - 8
    room = page[0] - 2 * MARGIN
    title = _fitting(canvas, title, LEAST_TITLE, room, bold=True)
    _type(canvas, title, MARGIN, y, min(7.0, room / _wide(canvas, title, 1.0, bold=True)), bold=True)
    total = sum(len(one.tiles) for one in tilings)
    lines = [
        f"Full-size pattern on {paper_words(paper)}: {len(drawn)} {'piece' if len(drawn) == 1 else 'pieces'} on "
        f"{total} pages.",
        *([f"{hem.capitalize()}."] if hem and not mark else []),
        "Print at 100 %, never fitted to the page. Then measure the square: each side must be 10 cm.",
        "Trim each page on the left and lower line of its frame. Lay it over its left and lower neighbour:",
        "the trimmed edge on the grey dashed line that names it, diamond on diamond. Glue on the 15 mm strip.",
        "Glue row by row, A at the top. Pages without a line keep the distances: glue them in as well.",
        "The arrow is the grain; it lies along the cloth. Cut on the full line, sew on the black dashed line.",
        "Short strokes across an edge are notches; a double one meets a double one.",
        "Dash and dot: centre and shoulder lines, to chalk, not to cut. Rings: buttons, and opposite their "
        "buttonholes.",
    ]
    y -= 9
    if mark:
        _type(canvas, mark, MARGIN, y - 1, 7.0, bold=True)
        y -= 10
    for line in lines:
        _type(canvas, line, MARGIN, y, 3.25)
        y -= 6
    side = 100.0
    y -= side + 2
    _pen(canvas, "notch")
    canvas.setLineWidth(0.3 * POINT)
    canvas.rect(MARGIN * POINT, y * POINT, side * POINT, side * POINT)
    _type(canvas, "10 cm", MARGIN + side / 2, y + 3, 5.0, anchor="middle")
    _type(canvas, "test square", MARGIN + side / 2, y + side / 2 + 3, 4.0, anchor="middle")
    _type(canvas, "measure both ways with a ruler", MARGIN + side / 2, y + side / 2 - 4, 4.0, anchor="middle")
    x = MARGIN + side + 8
    row = y + side - 5
    for one, tiling in zip(drawn, tilings, strict=True):
        _type(canvas, f"{one.piece.number}  {one.piece.name}", x, row, 3.6, bold=True)
        _type(canvas, f"{len(tiling.tiles)} pages", page[0] - MARGIN, row, 3.6, anchor="end")
        row -= 6
    y -= 8
    pages = 1
    for one, outline, tiling in zip(drawn, outlines, tilings, strict=True):
        need = min(70.0, (page[0] - 2 * MARGIN) * _span(tiling)[1] / _span(tiling)[0]) + 9
        if y - need < MARGIN:
            canvas.showPage()
            canvas.setPageSize((page[0] * POINT, page[1] * POINT))
            y = page[1] - MARGIN
            if mark:
                y -= 10
                _type(canvas, mark, MARGIN, y, 7.0, bold=True)
            pages += 1
        y -= need
        _map(canvas, one, outline, tiling, MARGIN, y, page[0] - 2 * MARGIN, need - 9)
    canvas.showPage()
    return pages


def _span(tiling: Tiling) -> tuple[float, float]:
    """Return width and height of a whole tiling [mm]."""
    width, height = tiling.window
    return (
        tiling.columns * (width - OVERLAP) + OVERLAP,
        tiling.rows * (height - OVERLAP) + OVERLAP,
    )


def _map(
    canvas: Canvas,
    drawn: Drawn,
    outline: shapely.Polygon,
    tiling: Tiling,
    x: float,
    y: float,
    width: float,
    height: float,
) -> None:
    """Draw a piece with its tiles, small, in a box [mm]."""
    span = _span(tiling)
    scale = min(width / span[0], height / span[1])
    origin = np.array([outline.bounds[0] - PAD, outline.bounds[1] - PAD])
    _type(canvas, f"{drawn.piece.number}  {drawn.piece.name}", x, y + scale * span[1] + 2.5, 3.6, bold=True)
    step = (tiling.window[0] - OVERLAP, tiling.window[1] - OVERLAP)
    _pen(canvas, "centre")
    canvas.setLineWidth(0.5 * POINT)
    canvas.setDash([])
    _stroke(canvas, np.array([x, y]) + scale * (shapely.get_coordinates(outline.exterior) - origin))
    for each in tiling.tiles:
        corner = np.array([x, y]) + scale * (np.array([each.left, each.low]) - origin)
        _pen(canvas, "tile")
        canvas.rect(corner[0] * POINT, corner[1] * POINT, scale * step[0] * POINT, scale * step[1] * POINT)
        size = min(4.0, 0.35 * scale * min(step))
        _type(
            canvas,
            each.name,
            corner[0] + scale * step[0] / 2,
            corner[1] + scale * step[1] / 2 - size / 3,
            size,
            anchor="middle",
        )


def write_roll(drawn: Mapping[int, Drawn], lay: Lay, path: Path, *, title: str, mark: str = "") -> int:
    """Write the lay at full size on one sheet, a page for each 5 m of it; return the number of pages.

    drawn: by the piece's number. mark: a warning, in large type on every sheet.
    """
    canvas = _canvas(path, title)
    width, length = 1000 * lay.bolt.width, 1000 * lay.length
    high = 1000 * (lay.bolt.width / 2 if _all_folded(lay) else lay.bolt.width)
    pages = max(1, math.ceil(length / LONGEST))
    strokes, words = [], []
    for one in lay.laid:
        for piece in one.pieces[:1]:
            on = lay_paper(one)
            strokes += [Stroke(s.kind, 1000 * s.points, s.filled) for s in placed_strokes(drawn[piece.number], on)]
            words += [(text, 1000 * place, 1000 * size) for text, place, size in placed_words(drawn[piece.number], on)]
    for number in range(pages):
        start, end = number * LONGEST, min(length, (number + 1) * LONGEST)
        canvas.setPageSize(((end - start + 2 * MARGIN) * POINT, (max(high, width) + 2 * MARGIN + 12) * POINT))
        shift = np.array([MARGIN - start, MARGIN])
        _pen(canvas, "cloth")
        canvas.rect(MARGIN * POINT, MARGIN * POINT, (end - start) * POINT, width * POINT)
        canvas.rect(MARGIN * POINT, (MARGIN + width + 1) * POINT, 100 * POINT, 10 * POINT)
        _type(canvas, "this bar is 10 cm long: measure it", MARGIN + 50, MARGIN + width + 4.5, 3.6, anchor="middle")
        head = f"Cloth {width / 10:g} cm wide, {length / 10:.0f} cm long.  "
        head += f"Sheet {number + 1} of {pages}.  Full size."
        from_left = MARGIN + 106
        if mark:
            _type(canvas, mark, from_left, MARGIN + width + 3, 9.0, bold=True)
            from_left += canvas.stringWidth(f"{mark}  ", BOLD, 9.0 * POINT) / POINT
        room = end - start + MARGIN - from_left - _wide(canvas, f".  {head}", 5.0)
        said = _sentence(_fitting(canvas, title, 5.0, room)) + head
        _type(canvas, said, from_left, MARGIN + width + 4, 5.0)
        for stroke in clipped(strokes, box(start, -1.0, end, width + 1.0)):
            _pen(canvas, stroke.kind)
            _stroke(canvas, stroke.points + shift, filled=stroke.filled)
        for text, place, size in words:
            if start - 50 < place[0] < end + 50:
                across, up = place + shift
                _type(canvas, text, across, up, size, anchor="middle")
        canvas.showPage()
    canvas.save()
    return pages


def _all_folded(lay: Lay) -> bool:
    return bool(lay.laid) and lay.bolt.fold == "lengthwise" and all(one.zone == "folded" for one in lay.laid)
