"""hem: radii between the lengths asked for, and what a trim changes; against formulas."""

from __future__ import annotations

import math

import numpy as np
import pytest
from families import most_are_long
from hypothesis import given, settings
from hypothesis import strategies as st
from stand_in import standing_body

from drape.cloth.mesh import morphed, triangulate
from drape.draft.cloak import draft_cloak
from drape.draft.hem import FALL_SHARE, hem_wave, targets
from drape.draft.outline import area_of, length_of, outline_of, run_of
from drape.draft.style import CLOSURE_PLACES, Dart, Style
from drape.fitting.hem_trim import NODES, is_trimmed


@pytest.mark.parametrize("place", CLOSURE_PLACES)
def test_lengths_are_measured_where_they_are_asked_for(place: str) -> None:
    """Front, side and back lengths come out on the flat: from the neck point down its centre line; over the shoulder
    along the dart's leg and on from its point."""
    darts = tuple(Dart(side) for side in ("left shoulder", "right shoulder") if side != place)
    style = Style("tailored", 1.1, front_length=1.0, side_length=1.05, closure_place=place, darts=darts)
    draft = draft_cloak(style, standing_body())
    marks = draft.marks
    assert np.linalg.norm(marks["back hem"] - marks["back neck"]) == pytest.approx(1.1, abs=1e-6)
    assert np.linalg.norm(marks["front hem"] - marks["front neck"]) == pytest.approx(1.0, abs=1e-6)
    for dart in draft.darts:
        hem = marks[f"{dart.place.split()[0]} hem"]
        assert dart.length + np.linalg.norm(hem - marks[dart.point]) == pytest.approx(1.05, abs=1e-6)
    if place != "centre front":
        edge = length_of(run_of(draft, draft.closure[0])) + length_of(run_of(draft, draft.opening[0]))
        assert edge == pytest.approx(1.05, abs=1e-6)


@given(front=st.floats(-0.2, 0.2), side=st.floats(-0.2, 0.2), sweep=st.floats(1.6, 6.28))
@settings(max_examples=40, deadline=None)
def test_between_two_lengths_the_hem_follows_half_a_cosine(front: float, side: float, sweep: float) -> None:
    """Halfway between two nodes the value is their mean, and at a node the curve is level: no corner."""
    style = Style("round", 1.0, sweep=sweep)
    nodes = {0.0: front, math.pi / 2: side, math.pi: 0.0, 1.5 * math.pi: side}
    share = np.array([0.25, 0.375, 0.5, 0.625, 0.75])  # front, between, left, between, back; closed on the right
    got = hem_wave(style, nodes, sweep * share)
    assert got == pytest.approx([front, (front + side) / 2, side, side / 2, 0.0], abs=1e-12)
    near = hem_wave(style, nodes, sweep * (0.5 + np.array([-1e-6, 1e-6])))
    assert near == pytest.approx(side, abs=1e-9)


def test_a_place_of_the_figure_sets_the_length_it_takes_to_fall_there() -> None:
    """Estimate before settling: (back neck height - place) / share of its length that cloth falls."""
    draft = draft_cloak(Style("tailored", length_to="knee", darts=(Dart(),)), standing_body())
    length = np.linalg.norm(draft.marks["back hem"] - draft.marks["back neck"])
    assert length == pytest.approx((1.5194 - 0.505) / FALL_SHARE, abs=1e-9)
    assert targets(Style("round", length_to="knee", front_length=0.9), standing_body()) == {
        "back": 0.505,
        "side": 0.505,
    }
    assert targets(Style("round", off_floor=0.05, side_length_to="mid-calf"), standing_body())["side"] == 0.3
    assert not is_trimmed(Style("round", 1.0), standing_body())
    assert is_trimmed(Style("round", 1.0, level=True), standing_body())


@pytest.mark.parametrize(("length", "word"), [(0.35, "mantle"), (0.6, "cloak"), (1.1, "cloak")])
def test_a_mantle_ends_above_the_waist(length: float, word: str) -> None:
    """Back neck 151.9 cm, waist 107 cm: 46 cm of cloth reach it."""
    assert draft_cloak(Style("round", length), standing_body()).word == word


STYLES = {
    "tailored": Style("tailored", 1.1, darts=(Dart(),)),
    "centre front": Style("round", 0.9, closure_place="centre front", fastened_to="waist"),
    "three quarters": Style("tailored", 1.0, sweep=1.5 * math.pi, closure_place="left shoulder"),
}


@pytest.mark.parametrize("name", most_are_long(STYLES, "tailored"))
def test_a_trim_is_added_to_the_radius_and_nothing_else_moves(name: str) -> None:
    """At the trim's own places the hem's radius grows by it; neck, darts and closure stay."""
    trim = 0.02 * np.sin(np.linspace(0.0, 9.0, NODES)) + 0.01
    plain, cut = (draft_cloak(STYLES[name], standing_body(), trim=t) for t in (None, trim))
    hems = [np.linalg.norm(run_of(draft, "hem"), axis=1) for draft in (plain, cut)]
    share = np.linspace(0.0, 1.0, len(hems[0]))
    grown = np.interp(np.linspace(0.0, 1.0, NODES), share, hems[1] - hems[0])
    assert grown == pytest.approx(trim, abs=2e-5)
    for edge in (*plain.neck, *plain.closure, *(leg for dart in plain.darts for leg in dart.legs)):
        assert run_of(cut, edge) == pytest.approx(run_of(plain, edge), abs=1e-14)
    moved = morphed(triangulate(plain, edge_length=0.04), plain, cut)
    u, v = (moved.flat[moved.triangles[:, k]] - moved.flat[moved.triangles[:, 0]] for k in (1, 2))
    areas = (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2
    assert areas.sum() == pytest.approx(area_of(outline_of(cut)), rel=3e-4)
