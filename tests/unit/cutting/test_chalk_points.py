"""chalk: the points are on the outline, the curve can be drawn through them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from chalked import STYLES
from scipy.interpolate import CubicSpline
from stand_in import standing_body

from drape.cutting.chalk_points import LETTERS, chalk_points, cm, hem_points, is_arc, letter
from drape.draft.cloak import draft_cloak
from drape.draft.outline import Draft, outline_of, run_of


@pytest.fixture(params=STYLES)
def draft(request: pytest.FixtureRequest) -> Draft:
    return draft_cloak(STYLES[request.param], standing_body())


def test_points_lie_on_the_outline_and_no_sign_comes_twice(draft: Draft) -> None:
    """Letters are corners, numbers lie on curves; the outline's own spacing is 2 mm at most."""
    rows = chalk_points(draft)
    assert len({sign for sign, _, _ in rows}) == len(rows)
    outline = np.vstack([edge.points for edge in draft.edges])
    middles = (outline[1:] + outline[:-1]) / 2
    for _, label, point in rows:
        assert np.linalg.norm(np.vstack([outline, middles]) - point, axis=1).min() < 2e-3, label
    for seam in draft.seams:  # every corner a seam begins at is there
        for name in (seam.first, seam.second):
            assert min(np.linalg.norm(point - run_of(draft, name)[0]) for _, _, point in rows) < 1e-9 or (
                draft.closure_place == "centre front" and "closure_moved" not in draft.dimensions
            )


def test_a_smooth_curve_through_the_points_is_the_neck_edge_within_a_millimetre(draft: Draft) -> None:
    """What a maker draws: a spline through the corners and numbers of each stretch, held against the outline."""
    if draft.style.neck == "round":
        assert not any("neck edge" in label and "on the" in label for _, label, _ in chalk_points(draft))
        return
    rows = chalk_points(draft)
    for name in draft.neck:
        run = run_of(draft, name)
        near = [point for _, _, point in rows if np.linalg.norm(run - point, axis=1).min() < 1e-3]
        placed = {int(np.linalg.norm(run - point, axis=1).argmin()): point for point in (*near, run[0], run[-1])}
        knots = np.array([placed[k] for k in sorted(placed)])
        if len(knots) < 4:
            assert np.linalg.norm(run[-1] - run[0]) < 0.05
            continue
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(knots, axis=0), axis=1))])
        drawn = CubicSpline(along, knots)(np.linspace(0.0, along[-1], 2000))
        off = [np.linalg.norm(drawn - point, axis=1).min() for point in run]
        assert max(off) < 1.5e-3, name


def test_a_bent_hem_is_given_by_strings() -> None:
    """An arc needs one string and no points; a bent hem's points lie at their angle and their string from O."""
    assert hem_points(draft_cloak(STYLES["tailored"], standing_body())) == []
    bent = draft_cloak(STYLES["bent hem"], standing_body())
    assert not is_arc(bent)
    rows = hem_points(bent)
    assert rows[0][0] == 0.0 and rows[-1][0] == pytest.approx(math.pi)
    outline = outline_of(bent)
    for phi, string, point in rows:
        assert point == pytest.approx([string * math.cos(phi), string * math.sin(phi)])
        assert np.linalg.norm(outline - point, axis=1).min() < 2e-3


def test_no_letter_can_be_taken_for_a_number_or_for_the_centre() -> None:
    assert not {"I", "O"} & set(LETTERS)
    assert len({letter(k) for k in range(300)}) == 300  # however many points, none has another's name
    assert (cm(-0.0001), cm(0.1234), cm(-0.05)) == ("0.0", "12.3", "-5.0")
