"""cutline: parallel to every finished edge at its allowance, corners filled; against formulas and shapely."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Point, Polygon
from stand_in import standing_body

from drape.draft.cloak import draft_cloak
from drape.draft.cut_line import allowances, cut_line
from drape.draft.outline import area_of, closing_line, outline_of, run_of
from drape.draft.style import CLOSURE_PLACES, Dart, Style
from drape.errors import DraftError


def test_nothing_cut_on_is_the_outline_itself() -> None:
    draft = draft_cloak(Style("tailored", 1.1, darts=(Dart(),)), standing_body())
    assert np.array_equal(cut_line(draft), outline_of(draft))


def test_a_half_ring_grows_by_strips_and_filled_corners() -> None:
    """Round half circle, radii r and R, h at the hem, n at the neck, o at both edges: a half ring from r - n to R + h
    and beneath it two strips (R + h - r + n) by o. Exact."""
    style = Style("round", 1.1, front_neck_depth=0.14, neck_allowance=0.01, opening_allowance=0.02, hem_allowance=0.04)
    got = area_of(cut_line(draft_cloak(style, standing_body())))
    outer, inner = 0.14 + 1.1 + 0.04, 0.14 - 0.01
    assert got == pytest.approx(math.pi * (outer**2 - inner**2) / 2 + 2 * (outer - inner) * 0.02, rel=1e-5)


@pytest.mark.parametrize("place", CLOSURE_PLACES)
def test_the_cut_line_keeps_its_distance_from_every_edge(place: str) -> None:
    """From the middle of each finished edge to the cut line: its allowance; the finished piece lies inside."""
    darts = tuple(Dart(side) for side in ("left shoulder", "right shoulder") if side != place)
    style = Style("tailored", 1.1, closure_place=place, darts=darts, buttons=2, overlap=0.05)
    style = replace(style, neck_allowance=0.012, opening_allowance=0.02, hem_allowance=0.04)
    draft = draft_cloak(style, standing_body())
    assert allowances(draft) == {"neck": 0.012, "opening": 0.045, "hem": 0.04}
    loop = cut_line(draft)
    ring = LineString(np.vstack([loop, loop[:1]]))
    assert Polygon(loop).is_valid
    assert area_of(loop) > draft.dimensions["area"]
    assert Polygon(loop).buffer(1e-6).contains(Polygon(outline_of(draft)))
    for name in draft.neck:
        run = run_of(draft, name)
        assert ring.distance(Point(run[len(run) // 2])) == pytest.approx(0.012, abs=2e-4), name
    assert ring.distance(Point(draft.marks["back hem"])) == pytest.approx(0.04, abs=2e-4)
    for side in (0, 1):
        line = closing_line(draft, side)
        assert ring.distance(Point((line[-1] + line[-2]) / 2)) == pytest.approx(0.045, abs=2e-4)


def test_the_mouth_of_a_dart_is_not_cut_out() -> None:
    """With a neck allowance the cut line runs across the mouth: the wedge's cloth stays, about intake x height / 2."""
    draft = draft_cloak(Style("tailored", 1.1, darts=(Dart(),), neck_allowance=0.01), standing_body())
    assert Polygon(cut_line(draft)).contains(Point(draft.marks["dart point"] * 0.9))


def test_a_full_circle_has_nothing_left_to_cut_on() -> None:
    with pytest.raises(
        DraftError, match=r"draft\.sweep_deg: got 360 with 2 cm to cut beyond each opening edge, allowed up to 345"
    ):
        draft_cloak(Style("round", 1.1, sweep=2 * math.pi, opening_allowance=0.02), standing_body())
    with pytest.raises(DraftError, match=r"allowances\.hem_cm: got -1, allowed 0 to 500"):
        draft_cloak(Style("round", 1.1, hem_allowance=-0.01), standing_body())
