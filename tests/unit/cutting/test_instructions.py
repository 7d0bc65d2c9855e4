"""From cloth to cloak in words: chalk points that lie where they say, an order of work, amounts by hand."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from stand_in import standing_body

from drape.cutting.chalk_points import letter
from drape.cutting.instructions import THREAD, chalk_card, cutting_order, notions, seam_total, sewing_order
from drape.cutting.lay import Bolt, Lay, lay_pieces, on_cloth
from drape.cutting.piece import Piece, net_outline
from drape.cutting.piecing import Allowances, pieced, seam_levels
from drape.draft.cloak import draft_cloak
from drape.draft.outline import Edge, length_of, run_of
from drape.draft.style import Dags, Dart, Style

DRAFT = draft_cloak(Style("tailored", 0.8, darts=(Dart(),), buttons=2), standing_body())
CORNERS = ((0.0, 0.0), (0.42, 0.0), (0.42, 0.06), (0.0, 0.06), (0.0, 0.0))
COLLAR = Piece(
    "collar",
    0,
    tuple(Edge(name, np.array(CORNERS[k : k + 2])) for k, name in enumerate(("foot", "right", "top", "left"))),
    allowance=dict.fromkeys(("foot", "right", "top", "left"), 0.01),
    quantity=2,
)


@pytest.fixture(scope="module")
def pieces() -> tuple[Piece, ...]:
    """The draft cut from cloth 70 cm wide: a body and what is pieced to it."""
    return pieced(DRAFT, seam_levels(DRAFT, 0.7, Allowances()), Allowances())


@pytest.fixture(scope="module")
def lay(pieces: tuple[Piece, ...]) -> Lay:
    return lay_pieces((*pieces, COLLAR), Bolt(0.7), tries=1)


def test_sewing_goes_from_piecing_to_hem(pieces: tuple[Piece, ...]) -> None:
    lines = sewing_order(DRAFT, (*pieces, COLLAR), lined=True)
    words = [
        "to 1, body",
        "dart",
        "Set the collar",
        "lining's own seams",
        "buttonholes",
        "Hang the cloak",
        "Level the hem",
    ]
    places = [next(i for i, line in enumerate(lines) if word in line) for word in words]
    assert places == sorted(places)
    seams = {e.name for piece in (*pieces, COLLAR) for e in piece.edges if e.name.startswith("seam ")}
    assert sum(line.startswith("Sew ") and "notch to notch" in line for line in lines) == len(seams)


def test_chalk_points_lie_on_the_pieces_seam_lines_on_the_cloth(lay: Lay) -> None:
    radius = DRAFT.dimensions["hem_radius"]
    for laid in lay.laid:
        piece = laid.pieces[0]
        points, lines = chalk_card(laid, DRAFT)
        net = on_cloth(laid, np.asarray(net_outline(piece).exterior.coords))
        for point in points:
            assert np.linalg.norm(net - [point.along, point.across], axis=1).min() < 0.01
        pinned = [re.findall(r"-?\d+\.\d", line) for line in lines if line.startswith("Hem: string")]
        for string, along, across in pinned:
            ends = [p for p in points if "hem" in p.what]
            assert float(string) == pytest.approx(100 * radius, abs=0.05)
            for end in ends:
                reach = math.hypot(end.along - float(along) / 100, end.across - float(across) / 100)
                assert reach == pytest.approx(radius, abs=0.002)


def test_notions_follow_the_draft(pieces: tuple[Piece, ...]) -> None:
    lines = notions(DRAFT, pieces)
    assert lines[0].startswith("2 buttons")
    assert f"Thread: {3 * seam_total(DRAFT, pieces):.0f} m" in lines[1]


def test_cutting_order_names_every_piece(lay: Lay, pieces: tuple[Piece, ...]) -> None:
    text = "\n".join(cutting_order(lay))
    assert all(f"{piece.number}, {piece.name}" in text for piece in (*pieces, COLLAR))


def test_seams_are_added_up_from_the_drafts_own_lines(pieces: tuple[Piece, ...]) -> None:
    """Neck edge, both closure edges, the dart's length, and each piecing seam once though two pieces have it."""
    whole = sum(length_of(run_of(DRAFT, name)) for name in (*DRAFT.neck, *DRAFT.closure)) + DRAFT.darts[0].length
    seams = {
        edge.name: length_of(edge.points) for piece in pieces for edge in piece.edges if edge.name.startswith("seam ")
    }
    assert seams
    assert seam_total(DRAFT, pieces) == pytest.approx(whole + sum(seams.values()))
    assert f"Thread: {THREAD * seam_total(DRAFT, pieces):.0f} m" in " ".join(notions(DRAFT, pieces))


def test_a_cloak_has_only_the_work_it_asks_for(pieces: tuple[Piece, ...]) -> None:
    plain = " ".join(sewing_order(DRAFT, pieces))
    assert not any(word in plain for word in ("lining", "Tack the", "collar", "dags"))
    dagged = draft_cloak(replace(DRAFT.style, dags=(Dags("hem", "leaf", 0.09, 0.06),)), standing_body())
    lines = sewing_order(dagged, pieces, lined=True, interlined=True)
    assert "Tack the interlining" in " ".join(lines) and lines[-1].startswith(
        f"Cut the {dagged.dags[0].count} leaf dags last"
    )
    tied = draft_cloak(replace(DRAFT.style, buttons=None, fastening="ties"), standing_body())
    assert "Fasten the closure: ties." in sewing_order(tied, pieces)
    assert not any("buttons" in line for line in notions(tied, pieces))


def test_no_two_chalk_points_are_one_and_signs_are_letters(lay: Lay) -> None:
    for laid in lay.laid:
        points, _ = chalk_card(laid, DRAFT)
        places = np.array([(point.along, point.across) for point in points])
        apart = np.linalg.norm(places[:, None] - places[None], axis=2) + np.eye(len(points))
        assert apart.min() > 0.004
        assert [point.sign for point in points] == [letter(k) for k in range(len(points))]
