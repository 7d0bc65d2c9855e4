"""Collar and facings as pieces to cut: their areas, allowances and notches against the draft's own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import LineString, Polygon
from stand_in import standing_body

from drape.cutting.facings import collar_piece, facing_pieces, smaller_pieces
from drape.cutting.lay import Bolt, lay_pieces
from drape.cutting.piece import cut_outline, net_outline
from drape.cutting.piecing import Allowances
from drape.cutting.strokes import cut_words
from drape.draft.cloak import draft_cloak
from drape.draft.outline import Draft, closing_line, length_of, run_of
from drape.draft.style import CollarStyle, Dart, Style
from drape.errors import DraftError

STYLE = Style(
    "tailored", length=0.9, darts=(Dart("left shoulder"),), collar=CollarStyle(0.05, 0.04, buttons=1),
    fastening="buttons", neck_allowance=0.01, opening_allowance=0.02, collar_allowance=0.012,
)  # fmt: skip


@pytest.fixture(scope="module")
def draft() -> Draft:
    return draft_cloak(STYLE, standing_body())


def test_the_collar_carries_the_necks_allowance_the_overlap_and_its_own(draft: Draft) -> None:
    piece = collar_piece(draft, Allowances())
    widths = {edge.name: piece.allowance[edge.name] for edge in piece.edges}
    assert widths.pop("collar top") == 0.012
    ends = [widths.pop(name) for name in list(widths) if name.endswith("end")]
    assert ends == pytest.approx([0.02 + draft.fastening.overlap / 2] * 2)
    assert set(widths.values()) == {0.01} and len(widths) == len(draft.neck)
    net = net_outline(piece)
    lengths = {edge.name: length_of(edge.points) for edge in piece.edges}
    strips = sum(lengths[name] * width for name, width in piece.allowance.items())
    corners = 2 * ends[0] * (0.012 + 0.01)
    assert cut_outline(piece).area == pytest.approx(net.area + strips + corners, rel=0.01)
    assert piece.buttons.shape == (2, 2) and all(net.buffer(1e-9).covers(shapely.Point(b)) for b in piece.buttons)


def test_the_collars_notches_meet_the_necks(draft: Draft) -> None:
    """Distance along the sewn neck edge from the closure to centre front, the shoulder and centre back."""
    piece = collar_piece(draft, Allowances())
    seam = np.vstack([run_of(draft, f"collar seam {k}") for k in (1, 2)])
    at = sorted(LineString(seam).project(shapely.Point(n.place)) for n in piece.notches)
    front, back = (run_of(draft, name) for name in draft.neck)
    wanted = [
        LineString(front).project(shapely.Point(draft.marks["front neck"])),
        length_of(front),
        length_of(front) + LineString(back).project(shapely.Point(draft.marks["back neck"])),
    ]
    assert at == pytest.approx(wanted, abs=2e-4)
    assert sorted(n.count for n in piece.notches) == [1, 1, 2]


def test_two_collars_are_cut_one_turned_over(draft: Draft) -> None:
    (piece,) = smaller_pieces(draft, Allowances(), inner_collar=True)
    assert (piece.quantity, piece.paired, cut_words(piece)) == (2, True, "cut two")
    lay = lay_pieces((piece,), Bolt(1.4), tries=2)
    assert sorted(np.linalg.det(one.matrix) for one in lay.laid) == pytest.approx([-1.0, 1.0])


def test_facings_lie_along_the_opening_from_neck_to_hem(draft: Draft) -> None:
    width = 0.08
    pieces = facing_pieces(draft, Allowances(), width)
    whole = Polygon(np.concatenate([edge.points[:-1] for edge in draft.edges]))
    for side, piece in enumerate(pieces):
        net, line = net_outline(piece), closing_line(draft, side)
        assert whole.buffer(1e-6).covers(net)
        assert net.area == pytest.approx(width * length_of(line), rel=0.06)
        assert shapely.hausdorff_distance(net, LineString(line)) < 1.5 * width
        assert piece.allowance["inner edge"] == 0.005 and piece.allowance[draft.opening[side]] > 0.02
        assert piece.name == f"{('front', 'back')[side]} facing"
    with pytest.raises(DraftError, match="facing.opening_cm: got 90"):
        facing_pieces(draft, Allowances(), 0.9)


def test_an_inner_collar_without_a_collar_is_refused() -> None:
    with pytest.raises(DraftError, match="without a collar"):
        smaller_pieces(
            draft_cloak(replace(STYLE, collar=None, collar_allowance=0.0), standing_body()),
            Allowances(),
            inner_collar=True,
        )
