"""The neck edge a style asks for: as long as girth and ease, through the points drawn, or refused."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from stand_in import standing_body

from drape.draft.neck_kinds import check_neck, cut_neck
from drape.draft.neckline import read_shoulders
from drape.draft.panels import sewn_length
from drape.draft.style import CLOSURE_PLACES, Dart, Style
from drape.errors import DraftError

BODY = read_shoulders(standing_body())
GIRTH = BODY.neck_base_girth
DRAWN = Style("drawn", 1.0, neck_along=(0.14, 0.10, 0.0, -0.10, -0.14), neck_up=(0.0, 0.10, 0.14, 0.10, 0.0))


@pytest.mark.parametrize("place", CLOSURE_PLACES)
@pytest.mark.parametrize("neck", ["round", "tailored"])
def test_a_neck_is_as_long_sewn_as_girth_and_ease(neck: str, place: str) -> None:
    """With a dart or without; the usual ease is 1 cm."""
    for darts in ((), (Dart(),)):
        style = Style(neck, 1.0, closure_place=place, darts=darts)
        assert sewn_length(cut_neck(style, BODY)) == pytest.approx(GIRTH + 0.01, abs=1e-9)
        assert sewn_length(cut_neck(replace(style, neck_ease=0.03), BODY)) == pytest.approx(GIRTH + 0.03, abs=1e-9)


def test_a_round_neck_by_its_depth_is_that_circle_and_by_its_width_its_half_length() -> None:
    assert sewn_length(cut_neck(Style("round", 1.0, front_neck_depth=0.14), BODY)) == pytest.approx(
        math.pi * 0.14, rel=1e-5
    )
    assert sewn_length(cut_neck(Style("round", 1.0, neck_width=0.15), BODY)) == pytest.approx(math.pi * 0.15, abs=1e-9)


def test_a_drawn_neck_runs_through_its_points() -> None:
    """Points of a circle of 14 cm: the spline keeps within 1.5 mm of it and is as long within 1 %."""
    neck = cut_neck(DRAWN, BODY)
    curve = np.vstack([points for _, points in neck.pieces])
    for point in zip(DRAWN.neck_along, DRAWN.neck_up, strict=True):
        assert np.linalg.norm(curve - point, axis=1).min() < 5e-4
    assert curve[0] == pytest.approx([0.14, 0.0]) and curve[-1] == pytest.approx([-0.14, 0.0])
    assert sewn_length(neck) == pytest.approx(math.pi * 0.14, rel=0.01)


def test_a_point_short_of_the_shoulder_point_is_a_length() -> None:
    """2 cm short on a shoulder of 15.05: a dart of 13.05."""
    neck = cut_neck(Style("tailored", 1.0, darts=(Dart(point_short=0.02),)), BODY)
    assert neck.gaps[0].length == pytest.approx(BODY.left.length - 0.02)


@pytest.mark.parametrize(
    ("style", "says"),
    [
        (
            replace(DRAWN, neck_up=(0.003, 0.10, 0.14, 0.10, 0.0)),
            r"the first point is off its straight edge, got 0\.3 cm off, allowed 0\.1",
        ),
        (
            replace(DRAWN, neck_up=(0.0, 0.10, 0.14, 0.10, -0.004)),
            r"the last point is off its straight edge, got 0\.4 cm",
        ),
        (
            replace(DRAWN, neck_along=(0.14, 0.10, 0.0999, -0.10, -0.14), neck_up=(0.0, 0.10, 0.10, 0.10, 0.0)),
            r"got two points 0\.01 cm apart",
        ),
        (
            replace(DRAWN, neck_along=(0.14, -0.10, 0.0, 0.10, -0.14)),
            r"does not run round the centre, got points that turn back",
        ),
        (
            Style("round", 1.0, front_neck_depth=0.14, back_neck_depth=0.12),
            r"one radius, got front_neck_depth_cm 14 and .* 12",
        ),
        (
            Style("round", 1.0, neck_width=0.14, neck_ease=0.02),
            r"takes one dimension, got neck_width_cm and neck_ease_cm",
        ),
        (
            Style("tailored", 1.0, darts=(Dart(point_short=0.145),)),
            r"dart\.point_short_cm: got 14\.5, allowed less than 14\.05",
        ),
    ],
    ids=range(7),
)
def test_a_neck_that_cannot_be_drawn_is_refused(style: Style, says: str) -> None:
    with pytest.raises(DraftError, match=says):
        cut_neck(style, BODY)


def test_a_neck_must_close_and_must_not_slip_over_the_shoulders() -> None:
    """At least the girth less 1 cm; worn as a circle narrower than the shoulder points are apart."""
    breadth = 0.397
    just, short = (
        cut_neck(Style("round", 1.0, front_neck_depth=(GIRTH - by) / math.pi), BODY) for by in (0.0099, 0.0102)
    )
    assert check_neck(just, BODY, breadth) is None
    with pytest.raises(DraftError, match="too short to close, got 39.82 cm sewn, allowed at least 39.84"):
        check_neck(short, BODY, breadth)
    fits, wide = (cut_neck(Style("round", 1.0, front_neck_depth=breadth + by), BODY) for by in (-0.001, 0.001))
    assert check_neck(fits, BODY, breadth) is None
    with pytest.raises(DraftError, match="so wide that the shoulders slip through"):
        check_neck(wide, BODY, breadth)
