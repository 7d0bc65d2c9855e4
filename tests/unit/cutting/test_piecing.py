"""piecing: the pieces put together again are the draft, seams match, no seam runs through a dart."""

from __future__ import annotations

import functools
import math

import numpy as np
import pytest
import shapely
from shapely import LineString, Polygon
from stand_in import standing_body

from drape.cutting.piece import cut_outline, net_outline
from drape.cutting.piecing import Allowances, button_places, pieced, seam_levels, whole_piece
from drape.draft.cloak import draft_cloak
from drape.draft.outline import Draft, length_of, outline_of, run_of
from drape.draft.style import Dart, Style
from drape.errors import DraftError

BARE = Allowances(0.0, 0.0, 0.0, 0.0)


DRAFTS = {
    "round": Style("round", 1.1),
    "tailored": Style("tailored", 1.1, darts=(Dart(),), buttons=2, neck_allowance=0.01),
    "270": Style("tailored", 1.1, sweep=math.radians(270), darts=(Dart(),)),
    "quarter": Style("tailored", 1.1, sweep=math.radians(90), darts=(Dart(),)),
}
CASES = [
    ("round", 0.7, 0.0), ("tailored", 0.4, 0.0), ("tailored", 0.7, 35.0), ("tailored", 0.4, 90.0),
    ("270", 0.7, 0.0), ("270", 0.7, 35.0), ("quarter", 0.5, 0.0),
]  # fmt: skip


AS_USUAL = Allowances()


@functools.cache
def made(name: str, width: float, grain: float, allowances: Allowances = AS_USUAL) -> tuple[Draft, tuple]:
    draft = draft_cloak(DRAFTS[name], standing_body())
    turn = math.radians(grain)
    levels = seam_levels(draft, width, allowances, turn)
    return draft, pieced(draft, levels, allowances, turn, {len(levels): (0.0,)})


@pytest.mark.parametrize(("name", "width", "grain"), CASES)
def test_pieces_put_together_are_the_draft(name: str, width: float, grain: float) -> None:
    draft, pieces = made(name, width, grain)
    nets = [net_outline(piece) for piece in pieces]
    whole = Polygon(outline_of(draft))
    assert sum(net.area for net in nets) == pytest.approx(whole.area, rel=1e-6)
    assert shapely.union_all(nets, grid_size=1e-8).symmetric_difference(whole).area < 5e-6
    assert [piece.number for piece in pieces] == list(range(1, len(pieces) + 1))


@pytest.mark.parametrize(("name", "width", "grain"), CASES)
def test_no_piece_is_wider_than_the_cloth_and_inner_lengths_use_it_all(name: str, width: float, grain: float) -> None:
    _, pieces = made(name, width, grain)
    turn = math.radians(grain) + math.pi / 2
    widths = [float(np.ptp(shapely.get_coordinates(cut_outline(p)) @ [math.cos(turn), math.sin(turn)])) for p in pieces]
    assert max(widths) <= width + 1e-6
    if grain == 0.0:
        assert max(widths) == pytest.approx(width, abs=0.011)  # shifted by a few mm where a dart is in the way


@pytest.mark.parametrize(("name", "width", "grain"), CASES)
def test_both_sides_of_a_seam_carry_the_same_points_and_notches(name: str, width: float, grain: float) -> None:
    _, pieces = made(name, width, grain)
    seams: dict[str, list] = {}
    for piece in pieces:
        for edge in piece.edges:
            if edge.name.startswith("seam "):
                seams.setdefault(edge.name, []).append((piece, edge))
    assert seams
    for name_, sides in seams.items():
        for (first, one), (second, other) in [sides[:2]] if len(sides) == 2 else []:
            assert np.abs(one.points - other.points[::-1]).max() < 1e-6, name_
            for piece, twin in ((first, second), (second, first)):
                here = [n for n in piece.notches if LineString(one.points).distance(shapely.Point(n.place)) < 1e-6]
                there = [n.place for n in twin.notches]
                assert all(min(np.linalg.norm(n.place - t) for t in there) < 1e-6 for n in here)


def test_cut_outlines_are_the_net_ones_and_allowances() -> None:
    for piece in made("tailored", 0.7, 0.0)[1]:
        net, cut = net_outline(piece), cut_outline(piece)
        assert cut.buffer(1e-6).covers(net)
        for edge in piece.edges:
            middle = (edge.points[len(edge.points) // 2 - 1] + edge.points[len(edge.points) // 2]) / 2
            wanted = piece.allowance.get(edge.name, 0.0)
            if length_of(edge.points) > 0.1 and not edge.name.endswith("leg"):
                assert cut.exterior.distance(shapely.Point(middle)) == pytest.approx(wanted, abs=1e-5), edge.name


def test_wide_cloth_needs_no_seam() -> None:
    draft = draft_cloak(DRAFTS["round"], standing_body())
    assert seam_levels(draft, 1.4, Allowances()) == ()
    (one,) = pieced(draft, (), Allowances())
    assert net_outline(one).area == pytest.approx(draft.dimensions["area"])


def test_seams_keep_clear_of_the_dart() -> None:
    """At 28 cm the seams would lie at 26.5 and 51.5, the first in the dart: they move."""
    draft = draft_cloak(DRAFTS["tailored"], standing_body())
    legs = [draft.marks[f"left side neck {side}"][1] for side in ("front", "back")]
    low, high = min(legs), draft.marks["dart point"][1]
    assert low < 0.265 < high
    levels = seam_levels(draft, 0.28, Allowances())
    assert not any(low < level < high for level in levels)
    assert len(made("tailored", 0.28, 0.0)[1]) > 4


@pytest.mark.parametrize(("width", "words"), [(0.17, "dart"), (0.1, "panel"), (0.0, "panel")])
def test_too_narrow_is_refused_in_a_line(width: float, words: str) -> None:
    draft = draft_cloak(DRAFTS["tailored"], standing_body())
    with pytest.raises(DraftError, match=f"piecing.width_cm: got {100 * width:.4g}.*{words}.*Take wider cloth"):
        seam_levels(draft, width, Allowances())


@pytest.mark.parametrize("beyond", [-0.02, 0.005, 0.025])
def test_no_seam_grazes_the_neck_edge(beyond: float) -> None:
    """Cloth so wide that its first length ends just beside the neck's outermost point; triangles there are needles."""
    draft = draft_cloak(DRAFTS["270"], standing_body())
    low = cut_outline(whole_piece(draft, BARE)).bounds[1]
    outermost = max(float(run_of(draft, name)[:, 1].max()) for name in draft.neck)
    first = seam_levels(draft, outermost + beyond - low, BARE)[0]
    assert first == pytest.approx(outermost - 0.03)
    clear = seam_levels(draft, outermost + 0.031 - low, BARE)[0]
    assert clear == pytest.approx(outermost + 0.031)


@pytest.mark.parametrize("beside", [-0.02, 0.0, 0.003])
def test_no_seam_runs_close_beside_an_opening_edge(beside: float) -> None:
    """Of a draft wider than half a circle the first straight edge lies along the grain, between seams."""
    draft = draft_cloak(DRAFTS["270"], standing_body())
    low = cut_outline(whole_piece(draft, BARE)).bounds[1]
    assert seam_levels(draft, beside - low, BARE)[0] == pytest.approx(-0.03)
    assert seam_levels(draft, -0.031 - low, BARE)[0] == pytest.approx(-0.031)


def test_the_last_panel_is_no_sliver() -> None:
    draft = draft_cloak(DRAFTS["round"], standing_body())
    radius = draft.dimensions["hem_radius"]
    (level,) = seam_levels(draft, radius - 0.01, BARE)
    assert radius - level == pytest.approx(0.08)


def test_buttons_stand_along_the_closure_inside_the_cut_line() -> None:
    draft = draft_cloak(DRAFTS["tailored"], standing_body())
    places = button_places(draft)
    gaps = np.linalg.norm(np.diff(places, axis=0), axis=1)
    assert len(places) == 4  # two buttons, two buttonholes
    assert gaps.min() >= 0.06
    assert all(Polygon(outline_of(draft)).buffer(1e-9).covers(shapely.Point(place)) for place in places)
    assert all(
        Polygon(cut_outline(whole_piece(draft, Allowances()))).contains(shapely.Point(place)) for place in places
    )
    assert len(whole_piece(draft, BARE).buttons) == len(places)


def test_a_full_circle_is_refused() -> None:
    draft = draft_cloak(Style("round", 1.0, sweep=2 * math.pi), standing_body())
    with pytest.raises(DraftError, match="sweep of 360 degrees"):
        pieced(draft, seam_levels(draft, 0.9, BARE), BARE)
