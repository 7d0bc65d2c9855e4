"""Drawings of our own drafts, written by other libraries, come back as the drafts they were."""

from __future__ import annotations

import math

import numpy as np
import pytest
from drawings import Hand, draft_runs, write_dxf, write_svg
from stand_in import standing_body

from drape.draft.cloak import draft_cloak
from drape.draft.neckline import direction
from drape.draft.outline import outline_of
from drape.draft.style import Dart, Style
from drape.errors import DraftError
from drape.polyline import polyline_distance
from drape.tracing.fitted import signed_distance
from drape.tracing.sector import CLOSE
from drape.tracing.trace import Told, find_edges, trace

BODY = standing_body()
ROUND = Style(neck="round", length=1.0)
DARTED = Style(neck="round", length=1.0, sweep=math.radians(200), darts=(Dart(),), shoulder_cut_intake=0.05)
TAILORED = Style(neck="tailored", length=1.1, darts=(Dart(),))
LEFT = Style(neck="tailored", length=0.9, darts=(Dart(),), closure_place="left shoulder")
TURNED = Hand(turn=2.3, units=1000.0)
MIRRORED = Hand(turn=-0.7, mirrored=True)


def off(traced, draft):
    """How far the traced draft lies from the one that was drawn, both in flat axes, either way [m]."""
    loops = [outline_of(one) for one in (traced.fitted.draft, draft)]
    loops = [np.vstack([loop, loop[:1]]) for loop in loops]
    return max(polyline_distance(loops[0], loops[1]).max(), polyline_distance(loops[1], loops[0]).max())


def worst(traced, draft):
    """By how much a dimension of the traced draft differs from the drawn one's at most [m]; its name."""
    got, want = traced.fitted.draft.dimensions, draft.dimensions
    assert set(got) == set(want)
    return max((abs(got[name] - want[name]), name) for name in want if name not in ("area", "hem_length"))


def again(style, path, hand, *, told=None, body=BODY, write=write_dxf, **how):
    draft = draft_cloak(style, body)
    traced = trace(find_edges(write(draft_runs(draft), path, hand, **how), told or Told()), body)
    assert traced.fitted.style.neck == style.neck and traced.fitted.style.closure_place == style.closure_place
    return traced, off(traced, draft), worst(traced, draft)[0]


def test_a_round_cloak_in_dxf_turned(tmp_path):
    _, outline, sizes = again(ROUND, tmp_path / "x.dxf", TURNED)
    assert outline < 1e-3 and sizes < 2e-3


@pytest.mark.long
def test_a_tailored_cloak_in_svg_mirrored_is_told_by_where_it_closes(tmp_path):
    told = Told(closure="right shoulder")
    traced, outline, sizes = again(TAILORED, tmp_path / "x.svg", MIRRORED, told=told, write=write_svg)
    assert outline < 1e-3 and sizes < 2e-3 and traced.mirrored
    assert find_edges(tmp_path / "x.svg", Told()).place == "left shoulder"


@pytest.mark.long
def test_darts_and_cuts_at_a_round_neck_with_an_unsteady_hand(tmp_path):
    _, outline, sizes = again(DARTED, tmp_path / "x.dxf", Hand(turn=1.0, noise=1e-3))
    assert outline < 2e-3 and sizes < 2e-3


def test_a_drawing_without_a_scale_is_refused(tmp_path):
    path = write_dxf(draft_runs(draft_cloak(ROUND, BODY)), tmp_path / "x.dxf", Hand(units=87.0), units=0)
    with pytest.raises(DraftError, match="nothing says how large it is"):
        find_edges(path, Told())


@pytest.mark.long
def test_a_known_length_sets_the_scale_of_a_drawing_without_one(tmp_path):
    hand = Hand(turn=0.3, units=87.0)
    runs = draft_runs(draft_cloak(ROUND, BODY))
    path = write_dxf(runs, tmp_path / "x.dxf", hand, units=0)
    _, outline, sizes = again(ROUND, path, hand, units=0, told=Told(known=1.0, between=("hem", "neck")))
    assert outline < 1e-3 and sizes < 2e-3
    width = 2 * float(np.linalg.norm(runs["hem"][0]))
    found = find_edges(path, Told(known=math.pi * width / 2, between=("hem", "hem")))
    assert found.drawing.drawn.radius == pytest.approx(width / 2, rel=1e-4)


@pytest.mark.long
def test_edges_are_named_by_their_layers(tmp_path):
    layers = {"hem": "Bottom", "front neck": "NECK", "back neck": "NECK", "front opening": "opening edge"}
    traced, outline, _ = again(ROUND, tmp_path / "x.dxf", TURNED, layers=layers)
    assert outline < 1e-3
    assert traced.edges.how["hem"] == 'its name "Bottom"' and "NECK" in traced.edges.how["neck"]


@pytest.mark.long
@pytest.mark.parametrize(("write", "noise"), [(write_dxf, 1e-3), (write_svg, 0.0)])
@pytest.mark.parametrize(
    "style",
    [
        DARTED, LEFT,
        Style(neck="round", length=0.7, sweep=math.radians(95)),
        Style(neck="tailored", length=0.8, sweep=math.radians(270)),
        Style(neck="tailored", length=1.0, darts=(Dart(),), closure_place="centre front"),
        Style(neck="tailored", length=1.0, darts=(Dart(leg_bow=0.006),), shoulder_cut_bow=0.004),
        Style(neck="round", length=0.9, darts=(Dart(azimuth=math.pi, length=0.12, intake=0.04), Dart())),
    ],
    ids=["darted", "left", "quarter", "wide", "front", "bowed", "behind"],
)  # fmt: skip
def test_our_drafts_come_back_turned_mirrored_and_unsteady(tmp_path, style, noise, write):
    mirrored = style.darts[:1] == (Dart(),)
    hand = Hand(2.0, mirrored, 1000.0, noise, seed=1)
    told = Told(closure=style.closure_place, mirrored=mirrored)
    path = tmp_path / f"x.{'dxf' if write is write_dxf else 'svg'}"
    _, outline, sizes = again(style, path, hand, told=told, write=write)
    # A cut that leaves the straight edge at 10 degrees is 6 mm longer or shorter for a millimetre across.
    assert outline < 1e-3 + noise and sizes < 2e-3 + noise


@pytest.mark.long
@pytest.mark.parametrize(
    ("style", "seeds"),
    [
        (Style(neck="tailored", length=0.8, sweep=math.radians(270)), (3, 5, 6, 9)),
        (Style(neck="round", length=0.9, darts=(Dart(azimuth=math.pi, length=0.12, intake=0.04), Dart())), (4, 10)),
    ],
    ids=["wide", "behind"],
)
def test_an_unsteady_hand_does_not_change_what_kind_of_neck_it_is(tmp_path, style, seeds):
    for seed in seeds:
        hand = Hand(2.0, False, 1000.0, 1e-3, seed=seed)
        _, outline, _ = again(style, tmp_path / "x.dxf", hand, told=Told(closure=style.closure_place))
        assert outline < CLOSE


def test_the_side_of_a_place_by_a_corner_is_not_left_to_rounding():
    path = np.vstack([direction(math.radians(20)), np.zeros(2), direction(math.radians(-20))])  # it turns to the left
    by_corner = 0.1 * direction(np.radians(np.linspace(115, 245, 41)))
    past_ends = 1.2 * direction(np.radians([18, 22, -18, -22]))
    aside = 1.2 * math.sin(math.radians(2)) * np.array([1, -1, 1, -1])
    for turn in np.linspace(0.0, 6.0, 13):
        c, s = math.cos(turn), math.sin(turn)
        matrix = np.array([[c, s], [-s, c]])
        np.testing.assert_allclose(signed_distance(by_corner @ matrix, path @ matrix), -0.1, atol=1e-12)
        np.testing.assert_allclose(signed_distance(past_ends @ matrix, path @ matrix), aside, atol=1e-12)


@pytest.mark.parametrize(
    ("told", "said"),
    [
        (Told(known=1.0), "got --known-cm without --between"),
        (Told(between=("hem", "neck")), "got --between without --known-cm"),
        (Told(known=20.0, between=("hem", "neck")), "--known-cm: got 2000, allowed 0.1 to 1000"),
        (Told(known=1.0, between=("hem", "collar")), "--between: got 'collar'"),
        (Told(known=1.0, between=("hem", "opening")), "which touch"),
        (Told(closure="behind"), "--closure: got 'behind'"),
        (Told(edges=("0=nothing",)), "got no line that is an edge"),
    ],
)
def test_what_is_told_wrong_is_refused_in_a_line(tmp_path, told, said):
    path = write_dxf(draft_runs(draft_cloak(ROUND, BODY)), tmp_path / "x.dxf", TURNED)
    with pytest.raises(DraftError, match=said) as caught:
        find_edges(path, told)
    assert "\n" not in str(caught.value)


def test_a_drawing_as_small_as_a_hand_is_refused(tmp_path):
    path = write_dxf(draft_runs(draft_cloak(ROUND, BODY)), tmp_path / "x.dxf", Hand(units=10.0))
    with pytest.raises(DraftError, match="cm across, by the file, in millimetres, allowed 20 to 2000"):
        find_edges(path, Told())
