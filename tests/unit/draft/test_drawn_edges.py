"""A hem and opening edges drawn through points: exact where a formula tells the curve, refused if they do not fit."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from stand_in import standing_body

from drape.draft.cloak import draft_cloak
from drape.draft.neckline import direction
from drape.draft.outline import closing_line, outline_of, run_of
from drape.draft.style import Dags, Style
from drape.errors import DraftError

BODY = standing_body()
PLAIN = Style(neck="round", length=1.0)
RADIUS = draft_cloak(PLAIN, BODY).dimensions["hem_radius"]


def points(radius, angles):
    at = np.asarray(radius)[:, None] * direction(np.asarray(angles))
    return {"hem_along": tuple(at[:, 0]), "hem_up": tuple(at[:, 1])}


def test_a_hem_drawn_through_points_of_an_arc_is_the_arc():
    angles = np.linspace(0.0, math.pi, 7)
    drawn = draft_cloak(replace(PLAIN, length=None, **points(np.full(7, RADIUS), angles)), BODY)
    assert np.abs(outline_of(drawn) - outline_of(draft_cloak(PLAIN, BODY))).max() < 1e-12
    assert drawn.dimensions["hem_length"] == pytest.approx(math.pi * RADIUS)


def test_a_drawn_hem_follows_a_cubic_of_the_angle():
    def radius(angle):
        return 1.2 + 0.05 * angle - 0.02 * angle**3 / 9

    angles = np.linspace(0.0, math.pi, 6)
    drawn = draft_cloak(replace(PLAIN, length=None, **points(radius(angles), angles)), BODY)
    hem = run_of(drawn, "hem")
    at = np.arctan2(hem[:, 1], hem[:, 0])
    np.testing.assert_allclose(np.linalg.norm(hem, axis=1), radius(at), atol=1e-9)


def test_an_edge_drawn_as_a_parabola_bows_out_by_as_much():
    start = draft_cloak(PLAIN, BODY).dimensions["front_neck_depth"]
    along = np.linspace(start, RADIUS, 6)[1:]
    share = (along - start) / (RADIUS - start)
    aside = 4 * 0.06 * share * (1 - share)
    style = replace(PLAIN, first_edge_along=tuple(along), first_edge_aside=tuple(aside))
    drawn = draft_cloak(style, BODY)
    line = closing_line(drawn, 0)
    assert -line[:, 1].min() == pytest.approx(0.06, abs=1e-4)  # outward of the first edge is down
    plain = draft_cloak(PLAIN, BODY)
    more = drawn.dimensions["area"] - plain.dimensions["area"]
    assert more == pytest.approx(2 / 3 * 0.06 * (RADIUS - start), rel=1e-3)  # under a parabola (Archimedes)
    other = replace(PLAIN, last_edge_along=tuple(along), last_edge_aside=tuple(-aside))
    assert draft_cloak(other, BODY).dimensions["area"] - plain.dimensions["area"] == pytest.approx(-more, rel=1e-3)


def test_a_hem_may_end_beside_the_straight_edges():
    off = math.atan2(0.05, 1.2)
    angles = np.linspace(-off, math.pi + off, 7)
    reach = math.hypot(1.2, 0.05)
    ends = {
        f"{which}_edge_{name}": (value,)
        for which in ("first", "last")
        for name, value in (("along", 1.2), ("aside", 0.05))
    }
    drawn = draft_cloak(replace(PLAIN, length=None, **points(np.full(7, reach), angles), **ends), BODY)
    np.testing.assert_allclose(run_of(drawn, "hem")[0], [1.2, -0.05], atol=1e-9)
    np.testing.assert_allclose(run_of(drawn, "hem")[-1], [-1.2, -0.05], atol=1e-9)


ARC = points(np.full(5, 1.2), np.linspace(0.0, math.pi, 5))


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"hem_along": (1.2, 0.0), "hem_up": (0.0, 1.2), "length": None}, "hem_along_cm: got 2 along and 2 up"),
        ({**ARC}, "got length as well"),
        ({**ARC, "length": None, "level": True}, "got level as well"),
        (
            {**points(np.full(5, 1.2), np.linspace(0.1, math.pi, 5)), "length": None},
            "the first point is off its opening",
        ),
        ({**points(np.full(4, 1.2), [0.0, 2.0, 1.0, math.pi]), "length": None}, "points that turn back"),
        ({"first_edge_along": (0.6,)}, "got 1 along and 0 aside"),
        ({"first_edge_along": (0.6, 1.0), "first_edge_aside": (0.02, 0.0)}, "the edge ends off the hem"),
        ({"last_edge_along": (0.9, 0.6), "last_edge_aside": (0.02, 0.0)}, "points that do not run outward"),
        ({"first_edge_along": (1.0,), "first_edge_aside": (0.0,), "sweep": math.radians(350)}, "sweep of 350"),
        (
            {"first_edge_along": (1.0,), "first_edge_aside": (0.0,), "dags": (Dags("opening", "round", 0.1, 0.05),)},
            "dags.edge: got 'opening' with a drawn opening edge",
        ),
    ],
)
def test_points_that_do_not_fit_are_refused_in_a_line(changed, said):
    with pytest.raises(DraftError, match=said) as caught:
        draft_cloak(replace(PLAIN, **changed), BODY)
    assert "\n" not in str(caught.value)
