"""How a piece falls on pages: every point on one, neighbours overlapping, no blank page, names as in a ledger."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import pypdfium2
import pypdfium2.raw as raw
import pytest
import shapely
from hostile import HOSTILE, STEERING, UNWIELDY
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, box

from drape.cutting.lay import Bolt, lay_pieces
from drape.cutting.pdf import MARGIN, OVERLAP, PAD, PAPERS, paper_words, row_letters, tile, write_roll, write_tiles
from drape.cutting.piece import Piece
from drape.cutting.strokes import draw_piece
from drape.draft.outline import Edge
from drape.plain import plain_line

A4 = PAPERS["a4"]


def windows(outline: Polygon) -> list[Polygon]:
    tiling = tile(outline, A4)
    return [box(one.left, one.low, one.left + tiling.window[0], one.low + tiling.window[1]) for one in tiling.tiles]


@given(width=st.floats(20, 1500), height=st.floats(20, 1500), turn=st.floats(0, 3), corner=st.floats(-500, 500))
@settings(max_examples=40, deadline=None)
def test_windows_cover_a_piece_and_its_border(width: float, height: float, turn: float, corner: float) -> None:
    outline = shapely.affinity.rotate(box(corner, corner, corner + width, corner + height), turn, use_radians=True)
    assert shapely.union_all(windows(outline)).buffer(1e-6).covers(outline.buffer(1.0))


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_as_many_pages_as_the_steps_between_them_take(paper: str) -> None:
    """n pages reach n (window - overlap) + overlap: a strip of that less its border takes n, a mm more n + 1."""
    step = PAPERS[paper][1] - 2 * MARGIN - OVERLAP
    for count in (1, 3):
        fits = count * step + OVERLAP - 2 * PAD
        strips = [box(0, 0, 30, length) for length in (fits, fits + 1)]
        assert [len(tile(strip, PAPERS[paper]).tiles) for strip in strips] == [count, count + 1]


def test_neighbours_overlap_by_the_strip_that_is_glued() -> None:
    tiling = tile(box(0, 0, 700, 900), A4)
    by_place = {(one.row, one.column): one for one in tiling.tiles}
    for (row, column), one in by_place.items():
        if (row, column + 1) in by_place:
            assert one.left + tiling.window[0] - by_place[row, column + 1].left == pytest.approx(OVERLAP)
        if (row + 1, column) in by_place:
            below = by_place[row + 1, column]
            assert below.low + tiling.window[1] - one.low == pytest.approx(OVERLAP)  # row A is at the top
    assert len(by_place) == tiling.rows * tiling.columns > 9


def test_a_page_that_no_line_or_cloth_touches_is_left_out() -> None:
    """A long bent piece leaves the middle of its box empty; a tile is kept just where the piece is."""
    bent = box(0, 0, 1000, 60).union(box(0, 0, 60, 1000))
    tiling = tile(bent, A4)
    assert len(tiling.tiles) < 0.6 * tiling.rows * tiling.columns
    assert all(window.intersects(bent.buffer(1.0)) for window in windows(bent))
    assert len({one.name for one in tiling.tiles}) == len(tiling.tiles)


def test_the_paper_is_turned_where_that_saves_pages() -> None:
    for outline in (box(0, 0, 260, 150), box(0, 0, 150, 260)):
        assert len(tile(outline, A4).tiles) == 1


def test_rows_are_lettered_as_columns_of_a_ledger() -> None:
    """A to Z, then AA: numbers in base 26 without a nought, worked out here from the number's value."""
    assert [row_letters(row) for row in (0, 25, 26, 51, 52, 701, 702)] == ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]
    for row in range(0, 2000, 7):
        value = 0
        for letter in row_letters(row):
            value = 26 * value + ord(letter) - ord("A") + 1
        assert value == row + 1


def test_papers_are_those_of_the_standards() -> None:
    """ISO 216: A4 a sixteenth of a square metre, sides 1 to root 2, in whole mm; A3 two of it. Letter 8.5 by 11 in."""
    assert A4 == (round(1000 * 2 ** (-2.25)), round(1000 * 2 ** (-1.75)))
    assert PAPERS["a3"] == (A4[1], 2 * A4[0])
    assert PAPERS["letter"] == pytest.approx((8.5 * 25.4, 11 * 25.4))
    assert np.prod(A4) == pytest.approx(1e6 / 16, rel=0.003) and math.isclose(A4[1] / A4[0], 2**0.5, rel_tol=2e-3)
    assert [paper_words(paper) for paper in ("a4", "letter")] == ["A4", "Letter"]


def sheets(folder: Path, title: str) -> dict[str, pypdfium2.PdfDocument]:
    """A strip's tiles and its lay, written under a title and opened by a reader other than their writer."""
    strip = Edge("strip", np.array([[0.0, 0.0], [0.5, 0.0], [0.5, 0.07], [0.0, 0.07]]))
    ends = np.vstack([strip.points, strip.points[:1]])
    edges = tuple(Edge(f"edge {k}", ends[k : k + 2]) for k in range(4))
    piece = Piece("strip", 1, edges)
    drawn, lay = draw_piece(piece, title=title), lay_pieces((piece,), Bolt(0.5), tries=1)
    counts = {
        "tiles.pdf": write_tiles([drawn], folder / "tiles.pdf", paper="a4", title=title),
        "roll.pdf": write_roll({1: drawn}, lay, folder / "roll.pdf", title=title),
    }
    found = {name: pypdfium2.PdfDocument(folder / name) for name in counts}
    assert {name: len(document) for name, document in found.items()} == counts
    return found


def furthest_off(page: pypdfium2.PdfPage) -> float:
    """How far the ink of a letter lies outside its page [points]."""
    (width, height), words = page.get_size(), page.get_textpage()
    boxes = [words.get_charbox(k) for k in range(words.count_chars())]
    return max(max(-left, -low, right - width, high - height) for left, low, right, high in boxes if right > left)


@pytest.mark.long
@pytest.mark.parametrize("title", [*UNWIELDY, HOSTILE[0], HOSTILE[5], HOSTILE[-1], *STEERING[::4]])
def test_whatever_a_title_holds_it_is_words_on_the_page_and_nothing_else(title: str, tmp_path: Path) -> None:
    usual = sheets(tmp_path, "ferry warden")
    shapes = {name: [len(list(page.get_objects([raw.FPDF_PAGEOBJ_PATH]))) for page in usual[name]] for name in usual}
    for name, document in sheets(tmp_path, title).items():
        assert document.get_metadata_dict()["Title"] == plain_line(title)
        written = (tmp_path / name).read_bytes()
        assert not [one for one in (b"/Annot", b"/JavaScript", b"/URI", b"/OpenAction", b"/Launch") if one in written]
        for page, paths in zip(document, shapes[name], strict=True):
            kinds = [each.type for each in page.get_objects()]
            assert set(kinds) == {raw.FPDF_PAGEOBJ_PATH, raw.FPDF_PAGEOBJ_TEXT}
            assert kinds.count(raw.FPDF_PAGEOBJ_PATH) == paths and furthest_off(page) <= 0.0
            words = page.get_textpage().get_text_bounded()
            start = re.match(r"[!-~ ]*", plain_line(title))[0][:8].strip()
            assert start in words and re.search("Full.size", words)
