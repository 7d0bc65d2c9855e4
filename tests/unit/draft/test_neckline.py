"""How a neck edge is laid out on the flat: angles, circles, wedges and the search for a length, by their formulas."""

from __future__ import annotations

import math

import numpy as np
import pytest
from stand_in import standing_body

from drape.draft.cloak import draft_cloak
from drape.draft.neckline import (
    Wedge,
    direction,
    fit_length,
    mirrored,
    read_shoulders,
    round_neck,
    tailored_neck,
    turn_to_take_out,
)
from drape.draft.style import Style
from drape.errors import DraftError

BODY = read_shoulders(standing_body())
NONE = Wedge("none.", None, 0.0, 0.0)


def turn_between(a: np.ndarray, b: np.ndarray) -> float:
    return math.acos(float(a @ b) / float(np.linalg.norm(a) * np.linalg.norm(b)))


def test_shoulders_are_read_in_true_size() -> None:
    """Slope 26.4 degrees, 15.05 cm long; neck points a straight line from the side ones, as the stand-in has them."""
    marks = standing_body().landmarks
    for side in ("left", "right"):
        one = getattr(BODY, side)
        assert (math.degrees(one.slope), one.length) == pytest.approx((26.4, 0.1505))
        line = marks[f"shoulder_point_{side}"] - marks[f"side_neck_{side}"]
        for where in ("front", "back"):
            way = marks[f"{where}_neck"] - marks[f"side_neck_{side}"]
            assert getattr(one, where) == pytest.approx((np.linalg.norm(way), turn_between(way, line)))
        assert one.crossing == pytest.approx(turn_between(marks["front_neck"] - marks["back_neck"], line))
    assert BODY.neck_base_girth == 0.4084


def test_a_body_without_shoulders_is_refused() -> None:
    """A shoulder that rises outward is a fault of the tape."""
    with pytest.raises(DraftError, match=r"left shoulder does not slope like one, got -5 deg, allowed 0 to 60"):
        draft_cloak(Style("tailored", 1.1), standing_body(slope_left=-5))


@pytest.mark.parametrize(
    ("slope", "sweep", "turn"), [(26, 180, 38), (20, 180, 50), (30, 240, 0), (40, 180, 10), (45, 180, 0)]
)
def test_a_wedge_takes_out_what_slope_and_sweep_leave_over(slope: float, sweep: float, turn: float) -> None:
    """180 - 2 slope - sweep/2 degrees, never less than nothing."""
    assert math.degrees(turn_to_take_out(math.radians(slope), math.radians(sweep))) == pytest.approx(turn, abs=1e-9)


def test_mirroring_swaps_the_edges_and_keeps_the_line_between() -> None:
    sweep = 2.2
    points = np.stack([0.3 * direction(0.0), 0.3 * direction(sweep / 2), 0.3 * direction(0.4)])
    there = mirrored(points, sweep)
    assert there == pytest.approx(
        np.stack([0.3 * direction(sweep), 0.3 * direction(sweep / 2), 0.3 * direction(sweep - 0.4)])
    )
    assert mirrored(there, sweep) == pytest.approx(points)


def test_a_wedge_drawn_has_the_intake_between_its_legs() -> None:
    """Two legs of length L with angle a between them end 2 L sin(a/2) apart; 6 cm apart over 15: 23.07 degrees."""
    length, turn = Wedge("dart.", 0.15, 0.06, 1.0).drawn(0.2)
    assert (length, 2 * length * math.sin(turn / 2)) == pytest.approx((0.15, 0.06))
    assert Wedge("dart.", None, None, 0.3).drawn(0.2) == (0.2, 0.3)
    with pytest.raises(DraftError, match=r"dart\.intake_cm: .* 15 long, got 30, allowed at most 25\.98"):
        Wedge("dart.", 0.15, 0.30, 0.0).drawn(0.2)
    for length, intake in ((0.15, -0.4), (-0.1, 0.05), (0.0, 0.0)):  # as a drawing that is fitted may try
        with pytest.raises(DraftError, match="the intake cannot fit a wedge"):
            Wedge("dart.", length, intake, 0.0).drawn(0.2)


def test_a_round_neck_lies_on_its_circle_and_its_legs_are_as_long_as_asked() -> None:
    wedge = Wedge("dart.", 0.15, 0.06, 0.0)
    neck = round_neck(math.pi, 0.13, BODY, wedge, wedge)
    for run in (neck.front, neck.back):
        assert np.hypot(*run.T) == pytest.approx(0.13)
    assert np.linalg.norm(neck.dart_point - neck.front[-1]) == pytest.approx(0.15)
    assert np.linalg.norm(neck.dart_point - neck.back[0]) == pytest.approx(0.15)
    assert np.linalg.norm(neck.front[-1] - neck.back[0]) == pytest.approx(0.06)
    assert np.linalg.norm(neck.cut_point - neck.front[0]) == pytest.approx(0.15)
    plain = round_neck(math.pi, 0.13, BODY, NONE, NONE)
    assert plain.dart_point is None and plain.width == pytest.approx(2 * 0.13 * (math.pi / 2) / math.pi)


def test_an_intake_that_leaves_no_neck_edge_is_refused_with_how_much_would_do() -> None:
    wide = Wedge("dart.", 0.15, 0.21, 0.0)
    with pytest.raises(
        DraftError, match=r"dart\.intake_cm: the intake takes the whole neck edge as far as the centre line, got 21"
    ):
        round_neck(math.pi, 0.13, BODY, wide, NONE)


def test_given_depths_and_width_are_those_of_the_tailored_neck() -> None:
    left, right = (
        Wedge("dart.", one.length, None, turn_to_take_out(one.slope, math.pi)) for one in (BODY.left, BODY.right)
    )
    neck = tailored_neck(math.pi, 1.0, BODY, left, right, depths=(0.21, 0.17), width=0.15)
    assert np.linalg.norm(neck.front_point) == pytest.approx(0.21)
    assert np.linalg.norm(neck.back_point) == pytest.approx(0.17)
    assert neck.width == pytest.approx(0.15)
    assert neck.front_heading == pytest.approx(direction(math.pi / 4))
    assert neck.front_point == pytest.approx(0.21 * direction(math.pi / 4))
    larger = tailored_neck(math.pi, 1.1, BODY, left, right)
    assert larger.width == pytest.approx(1.1 * tailored_neck(math.pi, 1.0, BODY, left, right).width)


def test_a_sweep_too_wide_for_the_wedges_leaves_no_neck() -> None:
    flat = Wedge("dart.", 0.15, None, math.radians(100))
    with pytest.raises(
        DraftError, match=r"neck does not come out wide enough for this sweep, got .* allowed more than 3"
    ):
        tailored_neck(1.7 * math.pi, 1.0, BODY, flat, flat)


def test_the_search_for_a_length_finds_a_root_or_says_that_there_is_none() -> None:
    """Length as the square of the factor: 2 at root 2. A length that never gets there is refused with how near it
    came.
    """
    neck, factor = fit_length(lambda by: by, lambda by: by**2, 1.0, 2.0)
    assert neck == factor == pytest.approx(math.sqrt(2.0), rel=1e-10)
    with pytest.raises(DraftError, match=r"found no neck edge of the length you asked, got .* allowed 200"):
        fit_length(lambda by: by, lambda by: 1.0 - 0.5 / (1.0 + by), 1.0, 2.0)
