"""Full-size sheets measured by readers other than the program that wrote them.

*PDF.* One point is 1/72 inch and an inch is 25.4 mm (ISO 32000-1:2008, 8.3.2.3; ISO 31), so 10 cm are 283.465 points.
Pages are A4 and A3 (ISO 216: 210 x 297 and 297 x 420 mm) and Letter (8.5 x 11 inches). Paths are read back with PDFium.

*DXF.* R2010 is AC1024, and $INSUNITS 4 is millimetres (the format's public reference). Read back with ezdxf's recover
mode, areas by the shoelace formula.

Each check also runs once with a wrong constant and must fail.
"""

from __future__ import annotations

import ctypes
import math
from pathlib import Path

import ezdxf
import ezdxf.recover
import numpy as np
import pypdfium2
import pypdfium2.raw as raw
import pytest
import shapely
from families import most_are_long
from shapely import LineString, MultiPoint, Polygon, box
from stand_in import standing_body

from drape.cutting.lay import Bolt, Lay, lay_pieces
from drape.cutting.pdf import MARGIN, OVERLAP, PAPERS, tile, write_tiles
from drape.cutting.piece import Piece, cut_outline
from drape.cutting.piecing import Allowances, pieced, seam_levels
from drape.cutting.plotter import write_lay_dxf
from drape.cutting.strokes import draw_piece, piece_paper
from drape.draft.cloak import draft_cloak
from drape.draft.style import Dart, Style

MM = 25.4 / 72


@pytest.fixture(scope="module")
def pieces() -> tuple[Piece, ...]:
    draft = draft_cloak(Style("tailored", 0.8, darts=(Dart(),), buttons=2), standing_body())
    return pieced(draft, seam_levels(draft, 0.7, Allowances()), Allowances())


@pytest.fixture(scope="module")
def lay(pieces: tuple[Piece, ...]) -> Lay:
    return lay_pieces(pieces, Bolt(0.7), tries=20)


def lines_of(page: pypdfium2.PdfPage) -> list[tuple[float, np.ndarray]]:
    """Every path of a page: its pen's width and its points, both in mm."""
    found = []
    for thing in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH]):
        width = ctypes.c_float()
        raw.FPDFPageObj_GetStrokeWidth(thing, width)
        points = []
        for k in range(raw.FPDFPath_CountSegments(thing)):
            x, y = ctypes.c_float(), ctypes.c_float()
            raw.FPDFPathSegment_GetPoint(raw.FPDFPath_GetPathSegment(thing, k), x, y)
            points.append((x.value * MM, y.value * MM))
        found.append((width.value * MM, np.array(points)))
    return found


@pytest.mark.parametrize("paper", most_are_long(PAPERS, "a4"))
def test_the_test_square_measures_ten_centimetres(paper: str, pieces: tuple[Piece, ...], tmp_path: Path) -> None:
    write_tiles([draw_piece(piece) for piece in pieces], tmp_path / "p.pdf", paper=paper, title="A")
    pdf = pypdfium2.PdfDocument(tmp_path / "p.pdf")
    assert [side * MM for side in pdf[0].get_size()] == pytest.approx(PAPERS[paper], abs=0.01)
    sizes = [np.ptp(points, axis=0) for _, points in lines_of(pdf[0]) if len(points) in (4, 5)]
    squares = [size for size in sizes if abs(size[0] - size[1]) < 0.05 and 90 < size[0] < 110]
    assert len(squares) == 1
    assert squares[0].tolist() == pytest.approx([100.0, 100.0], abs=0.1)
    assert squares[0].tolist() != pytest.approx([99.0, 99.0], abs=0.1)  # what "fit to page" does
    assert "measure both ways with a ruler" in pdf[0].get_textpage().get_text_range()


@pytest.mark.parametrize("paper", most_are_long(PAPERS, "a4"))
def test_tiles_glued_together_are_the_piece(paper: str, pieces: tuple[Piece, ...], tmp_path: Path) -> None:
    """Each page's cut lines, moved to the page's place, lie on the piece's outline and together cover it all; in the
    strip where two pages overlap both show the same line."""
    piece = pieces[0]
    write_tiles([draw_piece(piece)], tmp_path / "p.pdf", paper=paper, title="A")
    pdf = pypdfium2.PdfDocument(tmp_path / "p.pdf")
    outline = shapely.transform(cut_outline(piece), lambda points: 1000 * piece_paper(piece).move(points))
    tiling = tile(outline, PAPERS[paper])
    first = len(pdf) - len(tiling.tiles)
    shown = {}
    for number, each in enumerate(tiling.tiles):
        cuts = [points for width, points in lines_of(pdf[first + number]) if abs(width - 0.6) < 0.01]
        moved = [LineString(points + [each.left - MARGIN, each.low - MARGIN]) for points in cuts]
        shown[each.row, each.column] = shapely.union_all(moved)
        assert all(outline.exterior.buffer(0.02).covers(line) for line in moved)
    whole = shapely.union_all(list(shown.values()))
    assert whole.buffer(0.02).covers(outline.exterior)
    count = 0
    windows = {
        (t.row, t.column): box(t.left, t.low, t.left + tiling.window[0], t.low + tiling.window[1]) for t in tiling.tiles
    }
    for (row, column), lines in shown.items():
        for other in ((row, column + 1), (row - 1, column)):
            if other in shown:
                strip = windows[row, column].intersection(windows[other])
                assert min(strip.bounds[2] - strip.bounds[0], strip.bounds[3] - strip.bounds[1]) == pytest.approx(
                    OVERLAP
                )
                here, there = lines.intersection(strip), shown[other].intersection(strip)
                assert here.length == pytest.approx(there.length, abs=0.2)
                assert there.is_empty or here.buffer(0.05).covers(there)
                count += here.length > 1
    assert count > 2
    assert not outline.exterior.buffer(0.02).covers(
        shapely.transform(whole, lambda points: points * 0.97)
    )  # a wrong scale


def test_dxf_outlines_and_areas(pieces: tuple[Piece, ...], lay: Lay, tmp_path: Path) -> None:
    write_lay_dxf({piece.number: draw_piece(piece) for piece in pieces}, lay, tmp_path / "a.dxf")
    document, auditor = ezdxf.recover.readfile(tmp_path / "a.dxf")
    assert not auditor.has_errors
    assert (document.dxfversion, document.header["$INSUNITS"]) == ("AC1024", 4)
    layers = {entity.dxf.layer for entity in document.modelspace()}
    assert layers >= {"cloth", "cut", "seam", "dart", "notch", "grain", "centre", "button", "name"}
    loops = [np.array(line.get_points("xy")) for line in document.modelspace().query('LWPOLYLINE[layer=="cut"]')]
    assert len(loops) == len(pieces)
    for one in lay.laid:
        wanted = shapely.transform(one.outline, lambda points: 1000 * points)
        loop = min((Polygon(points) for points in loops), key=lambda found: found.symmetric_difference(wanted).area)
        assert loop.area == pytest.approx(wanted.area, rel=1e-3)
        assert (
            MultiPoint(shapely.get_coordinates(loop)).hausdorff_distance(MultiPoint(shapely.get_coordinates(wanted)))
            < 0.1
        )
        assert loop.area != pytest.approx(wanted.area * (25.4 / 25) ** 2, rel=1e-3)  # a wrong unit
    assert sum(Polygon(points).area for points in loops) / 1e6 == pytest.approx(lay.area, rel=1e-3)


def test_half_annulus_area_on_paper(tmp_path: Path) -> None:
    """pi (R^2 - r^2) / 2 = 3.049 m2 for R = 1.40 and r = 0.138 m, without allowances, read back from the DXF."""
    draft = draft_cloak(Style("round", 1.40 - 0.138, front_neck_depth=0.138), standing_body())
    bare = Allowances(0.0, 0.0, 0.0, 0.0)
    parts = pieced(draft, seam_levels(draft, 0.9, bare), bare)
    laid = lay_pieces(parts, Bolt(0.9), tries=5)
    write_lay_dxf({piece.number: draw_piece(piece) for piece in parts}, laid, tmp_path / "a.dxf")
    lines = ezdxf.readfile(tmp_path / "a.dxf").modelspace().query('LWPOLYLINE[layer=="cut"]')
    area = sum(Polygon(line.get_points("xy")).area for line in lines) / 1e6
    assert area == pytest.approx(math.pi * (1.4**2 - 0.138**2) / 2, rel=1e-3)
    assert area == pytest.approx(3.049, abs=2e-3)
    assert area != pytest.approx(math.pi * (1.4**2 - 0.138**2), rel=1e-3)
