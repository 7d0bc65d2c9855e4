"""One outline of many lines: doubled, broken, over each other; and what is no outline."""

from __future__ import annotations

import math

import numpy as np
import pytest
from drawings import FIRST, HEM, LAST, NECK, lines_of
from shapely import Polygon

from drape.draft.neckline import direction
from drape.errors import DraftError
from drape.tracing.joined import joined

AREA = math.pi / 2 * (1 - 0.04)


def area(whole):
    return Polygon(whole.outline).area


def test_pieces_in_any_order_and_direction_make_one_outline_anticlockwise():
    whole = joined(lines_of(HEM[::-1], LAST, NECK, FIRST[::-1]), "x")
    assert Polygon(whole.outline).exterior.is_ccw and area(whole) == pytest.approx(AREA, rel=1e-4)


def test_gaps_and_overlaps_under_two_millimetres_are_closed_and_wider_ones_are_told():
    step = np.array([1.0, 0.0])
    near = lines_of(HEM, LAST + 0.0012, NECK, np.array([FIRST[0], FIRST[1] - 0.0015 * step]))
    assert area(joined(near, "x")) == pytest.approx(AREA, rel=2e-3)
    over = lines_of(HEM, LAST, NECK, np.array([FIRST[0], FIRST[1] + 0.0015 * step]))
    assert area(joined(over, "x")) == pytest.approx(AREA, rel=2e-3)
    with pytest.raises(DraftError, match="open, a gap of 0.5 cm at x 99"):
        joined(lines_of(HEM, LAST, NECK, np.array([FIRST[0], FIRST[1] - 0.005 * step])), "x")


def test_a_line_drawn_twice_counts_once():
    rng = np.random.default_rng(0)
    again = HEM[::7] + rng.uniform(-4e-4, 4e-4, HEM[::7].shape)
    whole = joined(lines_of(HEM, LAST, NECK, FIRST, again, FIRST[::-1]), "x")
    assert area(whole) == pytest.approx(AREA, rel=1e-3) and whole.inner == ()


def test_lines_inside_are_kept_and_those_that_stick_out_are_cut_off():
    seam = np.array([[-0.9, 0.5], [0.9, 0.5]])
    whole = joined(lines_of(HEM, LAST, NECK, FIRST, seam), "x")
    (line,) = whole.inner
    assert area(whole) == pytest.approx(AREA, rel=1e-4)
    assert np.abs(line.points[:, 0]).max() == pytest.approx(math.sqrt(0.75), abs=0.004)


def test_a_full_circle_is_gone_round_along_its_slit():
    turn = np.linspace(0.0, 2 * math.pi, 500)
    whole = joined(lines_of(direction(turn), 0.2 * direction(turn), np.array([[0.2, 0.0], [1.0, 0.0]])), "x")
    step = np.linalg.norm(np.diff(np.vstack([whole.outline, whole.outline[:1]]), axis=0), axis=1).sum()
    assert step == pytest.approx(2 * math.pi * 1.2 + 1.6, rel=1e-3)


SHIFTED = [run + np.array([3.0, 0.0]) for run in (HEM, LAST, NECK, FIRST)]
CURL = np.vstack([HEM[:200], HEM[200] + 0.1 * direction(np.linspace(math.pi, -math.pi, 40)) + [0.1, 0], HEM[201:]])


@pytest.mark.parametrize(
    ("runs", "said"),
    [
        ((HEM, LAST, NECK), "the outline is open"),
        ((HEM,), "the outline is open"),
        ((HEM, LAST, NECK, FIRST, *SHIFTED), "got two outlines, the second at x "),
        ((CURL, LAST, NECK, FIRST), "the outline crosses itself at x "),
        ((np.array([[0, 0], [1, 1], [1, 0], [0, 1], [0, 0]]),), "the outline crosses itself at x 50.0, y 50.0 cm"),
        ((HEM, np.array([HEM[-1], [0.3, -0.2], NECK[-1]]), NECK, np.array([NECK[0], [-0.3, -0.2], HEM[0]])), "cross"),
    ],
)
def test_what_is_no_outline_is_refused_with_the_place(runs, said):
    with pytest.raises(DraftError, match=said) as caught:
        joined(lines_of(*runs), "x")
    assert "\n" not in str(caught.value)
