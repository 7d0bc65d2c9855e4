"""piece: allowances have their width on every side, corners are square, the fold opens flat."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Point, Polygon, box

from drape.cutting.piece import Notch, Piece, cut_outline, net_outline, outward_at, unfolded
from drape.draft.outline import Edge


def square(**allowance: float) -> Piece:
    corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]], dtype=float)
    names = ("foot", "right", "top", "left")
    return Piece("square", 1, tuple(Edge(n, corners[i : i + 2]) for i, n in enumerate(names)), allowance=allowance)


def test_different_allowances_meet_square() -> None:
    cut = cut_outline(square(foot=0.01, right=0.02, top=0.03))
    assert cut.symmetric_difference(box(0, -0.01, 1.02, 1.03)).area < 1e-9


def test_no_allowance_cuts_on_the_seam_line() -> None:
    assert cut_outline(square()).symmetric_difference(box(0, 0, 1, 1)).area < 1e-12


def test_an_allowance_ends_on_the_neighbours_cut_line() -> None:
    """A slanting edge beside a selvedge: nothing is cut beyond the selvedge."""
    points = np.array([[0, 0.2], [0.5, 0], [1, 0], [1, 1], [0, 1], [0, 0.2]], dtype=float)
    names = ("slant", "selvedge", "right", "top", "left")
    cut = cut_outline(
        Piece("a", 1, tuple(Edge(n, points[i : i + 2]) for i, n in enumerate(names)), allowance={"slant": 0.05})
    )
    assert cut.bounds[1] == pytest.approx(0.0, abs=1e-9)
    middle = Point(0.25, 0.1)
    assert cut.exterior.distance(middle) == pytest.approx(0.05, abs=1e-6)


def test_a_sharp_tip_is_blunt() -> None:
    tip = np.array([[0, 0], [1, 0], [0, 0.2], [0, 0]], dtype=float)
    piece = Piece(
        "tip", 1, tuple(Edge(n, tip[i : i + 2]) for i, n in enumerate("abc")), allowance=dict.fromkeys("abc", 0.02)
    )
    assert cut_outline(piece).bounds[2] < 1.0 + 3.2 * 0.02


@pytest.mark.parametrize("first", range(7))
def test_a_darts_wedge_is_not_cut_out(first: int) -> None:
    """Its mouth is cut straight across, a neck's allowance beyond it; the net outline keeps the wedge. Whichever edge
    the outline begins with.
    """
    corners = np.array([[0, 0], [1, 0], [1, 1], [0.6, 1], [0.5, 0.5], [0.4, 1], [0, 1], [0, 0]], dtype=float)
    names = ("foot", "right", "back neck", "dart back leg", "dart front leg", "front neck", "left")
    edges = tuple(Edge(n, corners[i : i + 2]) for i, n in enumerate(names))
    edges = (*edges[first:], *edges[:first])
    piece = Piece("dart", 1, edges, allowance={"back neck": 0.02, "front neck": 0.02})
    assert cut_outline(piece).symmetric_difference(box(0, 0, 1, 1.02)).area < 1e-8
    assert net_outline(piece).area == pytest.approx(0.95)


@pytest.mark.parametrize("width", [0.01, 0.03])
def test_everywhere_outside_is_as_wide_as_was_asked(width: float) -> None:
    angle = np.linspace(0, np.pi, 200)
    arc = np.column_stack([np.cos(angle), np.sin(angle)])
    piece = Piece("half", 1, (Edge("arc", arc), Edge("foot", np.array([arc[-1], arc[0]]))), allowance={"arc": width})
    assert cut_outline(piece).area == pytest.approx(np.pi * (1 + width) ** 2 / 2, rel=2e-3)
    assert net_outline(piece).area == pytest.approx(np.pi / 2, rel=1e-3)


def test_a_piece_on_the_fold_opens_to_twice_itself() -> None:
    half = square(foot=0.01, right=0.02)
    folded = Piece(
        "f",
        1,
        half.edges,
        allowance=half.allowance,
        fold="left",
        notches=(Notch(np.array([1.0, 0.5]), np.array([1.0, 0.0])),),
        buttons=np.array([[0.2, 0.3]]),
    )
    whole = unfolded(folded)
    assert cut_outline(whole).symmetric_difference(box(-1.02, -0.01, 1.02, 1.0)).area < 1e-9
    assert whole.buttons[:, 0].tolist() == pytest.approx([0.2, -0.2])
    assert whole.notches[1].outward.tolist() == pytest.approx([-1.0, 0.0])
    assert unfolded(half) is half


def test_outward_is_out_of_the_piece() -> None:
    for edge in square().edges:
        middle = edge.points.mean(axis=0)
        assert not Polygon(box(0, 0, 1, 1)).covers(Point(middle + 0.01 * outward_at(edge, middle)))
