"""What stands on a full-size pattern: strokes of every kind where they belong, at true size on any sheet."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import Point
from stand_in import standing_body

from drape.cutting.piece import Notch, Piece, cut_outline, net_outline
from drape.cutting.piecing import Allowances, pieced, seam_levels
from drape.cutting.strokes import (
    KINDS,
    NOTCH,
    NOTCH_GAP,
    Paper,
    Stroke,
    clipped,
    cut_words,
    draw_piece,
    piece_paper,
    placed_strokes,
    placed_words,
)
from drape.draft.cloak import draft_cloak
from drape.draft.outline import Edge
from drape.draft.style import Dart, Style

DRAFT = draft_cloak(Style("tailored", 0.8, darts=(Dart(),), buttons=2), standing_body())


@pytest.fixture(scope="module")
def pieces() -> tuple[Piece, ...]:
    """The draft cut from cloth 70 cm wide: a body and what is pieced to it."""
    return pieced(DRAFT, seam_levels(DRAFT, 0.7, Allowances()), Allowances())


def band(**changed: object) -> Piece:
    """A band of 40 by 10 cm, its warp turned 30 degrees from its length, 1 cm allowed at its foot alone."""
    corners = np.array([[0.0, 0.0], [0.4, 0.0], [0.4, 0.1], [0.0, 0.1]])
    edges = tuple(
        Edge(name, np.array([corners[k], corners[(k + 1) % 4]]))
        for k, name in enumerate(("foot", "right", "top", "left"))
    )
    return replace(Piece("band", 3, edges, grain=math.radians(30), allowance={"foot": 0.01}), **changed)  # type: ignore[arg-type]


def kinds(piece: Piece, kind: str) -> list[Stroke]:
    return [stroke for stroke in draw_piece(piece).strokes if stroke.kind == kind]


def test_a_drawn_piece_has_its_lines_and_a_nap_has_one_arrowhead(pieces: tuple[Piece, ...]) -> None:
    body_piece = pieces[0]
    drawn = draw_piece(body_piece)
    kinds = {stroke.kind for stroke in drawn.strokes}
    assert kinds == set(KINDS) - {"name"}
    heads = [sum(s.filled for s in draw_piece(body_piece, nap=nap).strokes) for nap in (False, True)]
    assert heads == [2, 1]
    assert [words.text for words in drawn.words][0] == "1  body"
    net = net_outline(body_piece)
    assert net.covers(Point(drawn.words[0].place))


def test_only_an_edge_with_an_allowance_has_a_seam_line_inside_its_cut_line() -> None:
    (seam,) = kinds(band(), "seam")
    assert seam.points.tolist() == [[0.0, 0.0], [0.4, 0.0]]
    (cut,) = kinds(band(), "cut")
    assert shapely.Polygon(cut.points).area == pytest.approx(0.4 * 0.11)
    assert kinds(band(allowance={}), "seam") == []


def test_a_double_notch_is_two_strokes_across_the_edge() -> None:
    found = kinds(band(notches=(Notch(np.array([0.1, 0.0]), np.array([0.0, -1.0]), 2),)), "notch")
    assert sorted(stroke.points[0, 0] for stroke in found) == pytest.approx([0.1 - NOTCH_GAP / 2, 0.1 + NOTCH_GAP / 2])
    for stroke in found:
        assert stroke.points[:, 1] == pytest.approx([NOTCH, -NOTCH])


def test_a_button_is_a_ring_of_its_diameter_about_its_place() -> None:
    (ring, *_) = kinds(band(buttons=np.array([[0.2, 0.05]]), button_diameter=0.02), "button")
    assert np.hypot(*(ring.points - [0.2, 0.05]).T) == pytest.approx(0.01)


def test_the_grain_arrow_lies_along_the_warp() -> None:
    line = next(stroke for stroke in kinds(band(), "grain") if not stroke.filled)
    run = line.points[1] - line.points[0]
    assert math.degrees(math.atan2(run[1], run[0])) == pytest.approx(30)
    assert net_outline(band()).covers(shapely.LineString(line.points))


def test_on_a_sheet_of_its_own_a_piece_keeps_its_size_its_warp_level_and_its_corner_at_nought() -> None:
    piece = band()
    move = piece_paper(piece).move
    outline = move(shapely.get_coordinates(cut_outline(piece)))
    assert outline.min(axis=0) == pytest.approx([0.0, 0.0], abs=1e-12)
    assert shapely.Polygon(outline).area == pytest.approx(cut_outline(piece).area)
    warp = move(np.array([[math.cos(piece.grain), math.sin(piece.grain)], [0.0, 0.0]]))
    assert warp[0] - warp[1] == pytest.approx([1.0, 0.0])


def test_lines_of_a_block_stand_below_each_other_on_the_sheet() -> None:
    drawn = draw_piece(band(), title="Lamp bearer", mark="ESTIMATE")
    block = [(text, place, size) for text, place, size in placed_words(drawn, piece_paper(band()))][:6]
    assert [text for text, *_ in block][:2] == ["3  band", "ESTIMATE"] and block[-1][0] == "Lamp bearer"
    for (_, upper, size), (_, lower, _) in zip(block, block[1:], strict=False):
        assert upper[0] == pytest.approx(lower[0]) and upper[1] - lower[1] >= 1.7 * size - 1e-9


@pytest.mark.parametrize(("quantity", "words"), [(1, "cut one"), (2, "cut two"), (4, "cut four"), (7, "cut 7")])
def test_how_many_are_cut_is_said(quantity: int, words: str) -> None:
    assert cut_words(band(quantity=quantity)) == words
    said = " ".join(words.text for words in draw_piece(band(quantity=quantity, paired=True), nap=True).words)
    assert words + ", every second one turned over, nap as the arrow" in said


def test_clipping_to_four_windows_loses_no_line(pieces: tuple[Piece, ...]) -> None:
    """Lengths in the four quarters of a sheet add up to the whole; what is filled keeps its area."""
    strokes = placed_strokes(draw_piece(pieces[0]), piece_paper(pieces[0]))
    high = np.vstack([stroke.points for stroke in strokes]).max(axis=0) + 0.1
    x, y = 0.371 * high
    windows = [shapely.box(*low, *up) for low, up in
               (((-1, -1), (x, y)), ((x, -1), (high[0], y)), ((-1, y), (x, high[1])),
                ((x, y), tuple(high)))]  # fmt: skip

    def length(many: list[Stroke]) -> float:
        return sum(shapely.LineString(one.points).length for one in many if not one.filled)

    parts = [clipped(strokes, window) for window in windows]
    assert sum(map(length, parts)) == pytest.approx(length(strokes), rel=1e-9)
    assert all(len(part) > 3 for part in parts)
    assert sum(shapely.Polygon(one.points).area for part in parts for one in part if one.filled) == pytest.approx(
        sum(shapely.Polygon(one.points).area for one in strokes if one.filled), rel=1e-6
    )


@pytest.mark.parametrize("turned", [False, True])
def test_words_on_a_small_piece_keep_off_its_seam_lines_and_each_other(turned: bool) -> None:
    """On a fill piece with seams below and beside it, whichever way up it lies; its block is clear of the arrow."""
    corners = np.array([[0.0, 0.0], [0.34, 0.0], [0.0, 0.3]])
    names = ("seam 1-2", "hem", "seam 2-3")
    edges = tuple(Edge(name, np.array([corners[k], corners[(k + 1) % 3]])) for k, name in enumerate(names))
    piece = Piece("front fill piece", 2, edges, grain=0.0, allowance={"seam 1-2": 0.015, "seam 2-3": 0.015})
    drawn = draw_piece(piece, title="Toll-house clerk's cloak, two darts")
    paper = Paper(lambda points: (-1.0 if turned else 1.0) * points)
    room = shapely.Polygon(paper.move(corners))
    boxes = []
    for text, (x, y), size in placed_words(drawn, paper):
        half = 0.55 * size * len(text) / 2
        boxes.append(shapely.box(x - half, y - size / 2, x + half, y + size / 2))
        assert room.covers(boxes[-1]), text
    boxes += [shapely.LineString(s.points) for s in placed_strokes(drawn, paper) if s.kind == "grain" and not s.filled]
    assert not any(a.intersects(b) for k, a in enumerate(boxes) for b in boxes[k + 1 :])
