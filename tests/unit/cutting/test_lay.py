"""lay: any pieces lie on the cloth without overlap, as nap and fold allow, and the thriftiest piecing is kept."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from families import most_are_long
from shapely import Point, Polygon, box
from stand_in import standing_body

from drape.cutting import lay, nesting
from drape.cutting.lay import Bolt, Flaw, Lay, lay_pieces, naive_length, on_cloth, thrifty_pieces
from drape.cutting.piece import Piece, cut_outline, net_outline
from drape.cutting.piecing import Allowances, pieced, seam_levels
from drape.draft.cloak import draft_cloak
from drape.draft.outline import Edge
from drape.draft.style import Dart, Style
from drape.errors import DraftError

ROUND = draft_cloak(Style("round", 0.6, front_neck_depth=0.13), standing_body())
TAILORED = draft_cloak(Style("tailored", 0.6, darts=(Dart(),)), standing_body())


def polygon(name: str, corners: list, number: int = 1, **more: object) -> Piece:
    points = np.array([*corners, corners[0]], dtype=float)
    edges = tuple(Edge(str(i), points[i : i + 2]) for i in range(len(corners)))
    return Piece(name, number, edges, **more)


def check(lay: Lay) -> None:
    for zone in ("single", "folded"):
        outlines = [one.outline for one in lay.laid if one.zone == zone]
        assert max((a.intersection(b).area for i, a in enumerate(outlines) for b in outlines[:i]), default=0.0) < 1e-6
        width = lay.bolt.width / 2 if zone == "folded" and lay.bolt.fold == "lengthwise" else lay.bolt.width
        for outline in outlines:
            assert box(0, 0, lay.length, width).buffer(1e-6).covers(outline)
    assert lay.length >= lay.bound - 1e-9
    assert lay.utilisation == pytest.approx(lay.area / (lay.length * lay.bolt.width))


@pytest.mark.parametrize("times", most_are_long([1, 2], 1))
def test_pieced_cloak_lies_inside_and_apart_and_repeats(times: int) -> None:
    bolt = Bolt(0.7)
    made = [thrifty_pieces(TAILORED, Allowances(), bolt) for _ in range(times)]
    pieces, (lay, *others) = made[0], [lay_pieces(one, bolt) for one in made]
    assert [[a.outline.wkb for a in one.laid] for one in others] == [[a.outline.wkb for a in lay.laid]] * (times - 1)
    check(lay)
    assert lay.area == pytest.approx(sum(cut_outline(piece).area for piece in pieces))
    for one in lay.laid:
        moved = on_cloth(one, np.asarray(net_outline(one.pieces[0]).exterior.coords))
        assert one.outline.buffer(1e-6).covers(Point(moved[0]))


@pytest.mark.long
def test_thrifty_piecing_is_no_longer_than_plain_strips_and_shorter_than_the_naive_sum() -> None:
    bolt, bare = Bolt(0.7), Allowances(0.0, 0.0, 0.0, 0.0)
    levels = seam_levels(ROUND, 0.7, bare)
    plain = lay_pieces(pieced(ROUND, levels, bare), bolt)
    thrifty = lay_pieces(thrifty_pieces(ROUND, bare, bolt), bolt)
    naive = naive_length(ROUND, levels)
    assert thrifty.length <= plain.length <= naive + 1e-6
    assert thrifty.length < 0.95 * naive


def test_with_a_nap_nothing_is_turned() -> None:
    bolt = Bolt(0.7, nap=True)
    pieces = pieced(ROUND, seam_levels(ROUND, 0.7, Allowances()), Allowances(), cuts={1: (0.0,)})
    lay = lay_pieces(pieces, bolt)
    check(lay)
    assert not any(one.turned for one in lay.laid)
    assert all(np.linalg.det(one.matrix) == pytest.approx(1.0) for one in lay.laid)  # nor turned over
    free = lay_pieces(pieces, Bolt(0.7))
    assert free.length <= lay.length + 1e-6


def test_the_warp_of_every_piece_runs_along_the_cloth() -> None:
    grain = math.radians(30)
    bolt = Bolt(0.9)
    for one in lay_pieces(
        pieced(TAILORED, seam_levels(TAILORED, 0.9, Allowances(), grain), Allowances(), grain), bolt, tries=20
    ).laid:
        warp = one.matrix @ np.array([math.cos(grain), math.sin(grain)])
        assert abs(warp[0]) == pytest.approx(1.0)


def test_many_flaws_cost_no_more_than_few(monkeypatch: pytest.MonkeyPatch) -> None:
    """Counted, not timed: where a piece may lie for all flaws together is worked out once for each of its turns."""
    grown: list[int] = []
    monkeypatch.setattr(nesting, "_over", lambda blocked, moving: grown.append(len(blocked)) or Polygon())
    place = np.random.default_rng(1).uniform((0.0, 0.0), (5.0, 0.7), (300, 2))
    flaws = tuple(Flaw(float(x), float(y), 0.006) for x, y in place)
    pieces = [polygon("a", [(0, 0), (x, 0), (x, 0.2), (0, 0.2)]) for x in (0.2, 0.3, 0.4)]
    lay_pieces(pieces, Bolt(0.7, flaws=flaws), tries=50)
    assert 0 < len(grown) <= 6 and set(grown) == {300}


def test_flaws_lie_in_no_piece() -> None:
    flaws = (Flaw(0.5, 0.3, 0.05), Flaw(1.9, 0.6, 0.04))
    bolt = Bolt(0.7, flaws=flaws)
    pieces = pieced(ROUND, seam_levels(ROUND, 0.7, Allowances()), Allowances())
    lay = lay_pieces(pieces, bolt)
    check(lay)
    for flaw in flaws:
        hole = Point(flaw.along, flaw.across).buffer(0.99 * flaw.radius)
        assert max(one.outline.intersection(hole).area for one in lay.laid) < 1e-5


@pytest.mark.long
def test_lengthwise_fold_cuts_pairs_and_pieces_on_the_fold_double() -> None:
    stand = polygon("collar", [(0, 0), (0.3, 0), (0.3, 0.1), (0, 0.1)], 1, fold="0")
    left = polygon("facing", [(0, 0), (0.5, 0), (0, 0.2)], 2, quantity=2, paired=True)
    lone = polygon("patch", [(0, 0), (0.2, 0), (0, 0.3)], 3)
    lay = lay_pieces([stand, left, lone], Bolt(0.8, fold="lengthwise"))
    check(lay)
    zones = {one.pieces[0].name: (one.zone, len(one.pieces), one.on_fold) for one in lay.laid}
    assert zones == {"collar": ("folded", 1, True), "facing": ("folded", 2, False), "patch": ("single", 1, False)}
    on_fold = next(one for one in lay.laid if one.on_fold)
    assert on_fold.outline.bounds[1] == pytest.approx(0.0, abs=1e-9)
    assert lay.area == pytest.approx(2 * 0.03 + 2 * 0.05 + 0.03)
    flat = lay_pieces([stand, left, lone], Bolt(0.8))
    check(flat)
    assert len(flat.laid) == 4
    turned = [np.linalg.det(one.matrix) for one in flat.laid if one.pieces[0].name == "facing"]
    assert sorted(turned) == pytest.approx([-1.0, 1.0])


def test_mirrored_pieces_are_found_without_being_told() -> None:
    pieces = [polygon("a", [(0, 0), (0.5, 0), (0, 0.2)], 1), polygon("b", [(0, 0), (0.5, 0), (0.5, 0.2)], 2)]
    assert len(lay_pieces(pieces, Bolt(0.8, fold="lengthwise")).laid) == 1
    napped = lay_pieces(pieces, Bolt(0.8, fold="lengthwise", nap=True))  # one would lie against the nap
    assert [one.zone for one in napped.laid] == ["single", "single"]


def test_shrinkage_and_price() -> None:
    lay = lay_pieces([polygon("a", [(0, 0), (2, 0), (2, 0.5), (0, 0.5)])], Bolt(0.5, shrinkage=0.2, price=30.0))
    assert (lay.length, lay.to_buy, lay.cost) == pytest.approx((2.0, 2.5, 75.0))
    assert lay_pieces([polygon("a", [(0, 0), (1, 0), (1, 0.5), (0, 0.5)])], Bolt(0.5)).cost is None


def test_what_cannot_be_is_refused_in_a_line() -> None:
    wide = polygon("yoke", [(0, 0), (1, 0), (1, 0.9), (0, 0.9)], 4)
    with pytest.raises(DraftError, match="piece 4, yoke, is 90 cm across the grain, allowed 70"):
        lay_pieces([wide], Bolt(0.7))
    with pytest.raises(DraftError, match="got across for cloth with a nap"):
        lay_pieces([wide], Bolt(1.4, nap=True, fold="across"))
    with pytest.raises(DraftError, match="across for cloth with flaws"):
        lay_pieces([wide], Bolt(1.4, fold="across", flaws=(Flaw(1, 1, 0.1),)))
    with pytest.raises(DraftError, match="got 0, allowed more than 0"):
        lay_pieces([wide], Bolt(0.0))
    with pytest.raises(DraftError, match="got 'twice', allowed single"):
        lay_pieces([wide], Bolt(1.4, fold="twice"))


def test_a_cut_whose_tip_passes_the_selvedge_is_not_made(monkeypatch: pytest.MonkeyPatch) -> None:
    """The fill piece of this cut has a slanting end: its allowance runs on beyond the width that the length fills."""
    draft = draft_cloak(Style("round", 0.6, sweep=math.radians(222), front_neck_depth=0.13), standing_body())
    bolt, cut = Bolt(0.45), (-0.554, -0.27)
    levels = seam_levels(draft, bolt.width, Allowances())
    plain = pieced(draft, levels, Allowances())
    assert max(_across(pieced(draft, levels, Allowances(), cuts={0: cut}))) > bolt.width + 0.001
    assert max(_across(plain)) < bolt.width + 1e-5
    monkeypatch.setattr(lay, "_ways", lambda *_: [(0, cut)])
    monkeypatch.setattr(lay, "TRIES", 5)
    assert lay.thrifty_cuts(draft, Allowances(), bolt) == lay.Cuts(levels, ())


def _across(pieces: Sequence[Piece]) -> list[float]:
    """How far each piece reaches across the cloth, its warp along x [m]."""
    return [float(np.ptp(np.asarray(cut_outline(piece).exterior.coords)[:, 1])) for piece in pieces]
