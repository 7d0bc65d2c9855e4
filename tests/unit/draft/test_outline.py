"""How a draft's lines are read: lengths, areas and places of known polygons, and the same draft by two ways."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely import Polygon
from stand_in import standing_body

from drape.draft.cloak import draft_cloak
from drape.draft.outline import (
    ESTIMATE_WORDS,
    Edge,
    area_of,
    closing_line,
    hem_mark,
    length_of,
    loops_of,
    outline_of,
    place_along,
    run_along,
    run_of,
    squeezed,
)
from drape.draft.style import Dags, Dart, Style
from drape.errors import DraftError

DRAFT = draft_cloak(Style("tailored", 1.0, darts=(Dart(),)), standing_body())
SQUARE = np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 4.0], [0.0, 4.0]])


def test_area_and_length_of_a_rectangle() -> None:
    """3 by 4: area 12, negative the other way round; three sides of it 10."""
    assert area_of(SQUARE) == 12.0 and area_of(SQUARE[::-1]) == -12.0
    assert length_of(SQUARE) == 10.0


def test_a_place_along_a_line_with_a_corner() -> None:
    assert place_along(SQUARE, 5.0) == pytest.approx([3.0, 2.0])
    assert place_along(SQUARE, 99.0) == pytest.approx([0.0, 4.0])


def test_a_run_goes_against_the_loop_where_the_edge_says_so_and_is_a_copy() -> None:
    edge = Edge("hem", SQUARE, against=True)
    run = run_along(edge)
    assert (run == SQUARE[::-1]).all() and (run_along(Edge("hem", SQUARE)) == SQUARE).all()
    run[0] = 9.0
    assert SQUARE.max() == 4.0


def test_a_run_begins_at_the_neck_or_at_the_smaller_angle() -> None:
    for name in (*DRAFT.closure, *DRAFT.opening):
        run = run_of(DRAFT, name)
        assert np.linalg.norm(run[0]) < np.linalg.norm(run[-1]), name
    hem = np.unwrap(np.arctan2(*run_of(DRAFT, "hem").T[::-1]))
    assert hem[0] == pytest.approx(0.0, abs=1e-9) and hem[-1] == pytest.approx(DRAFT.style.sweep)


def test_unknown_edge_is_named() -> None:
    """Asking for an edge that is not there lists those that are."""
    with pytest.raises(DraftError, match=r"no edge is called 'collar', allowed .*hem"):
        run_of(draft_cloak(Style("round", 1.1), standing_body()), "collar")


def test_the_outline_is_the_edges_end_to_end() -> None:
    """Shoelace formula and shapely agree on its area; its length is that of all edges, no point comes twice."""
    whole = outline_of(DRAFT)
    assert area_of(whole) == pytest.approx(Polygon(whole).area, rel=1e-12)
    assert length_of(np.vstack([whole, whole[:1]])) == pytest.approx(
        sum(length_of(edge.points) for edge in DRAFT.edges)
    )
    assert np.linalg.norm(whole - np.roll(whole, 1, axis=0), axis=1).min() > 1e-9


def test_the_closing_line_is_closure_and_opening_in_one() -> None:
    for side in (0, 1):
        line = closing_line(DRAFT, side)
        parts = [length_of(run_of(DRAFT, edges[side])) for edges in (DRAFT.closure, DRAFT.opening)]
        assert length_of(line) == pytest.approx(sum(parts), rel=1e-12)
        assert np.linalg.norm(line[-1]) == pytest.approx(DRAFT.dimensions["hem_radius"])


def test_squeezing_keeps_radii_and_shares_out_angles() -> None:
    angle = np.radians([0.0, 100.0, 200.0, 350.0])
    loop = np.array([1.0, 2.0, 3.0, 4.0])[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    found = squeezed(loop, 0.9)
    assert np.hypot(*found.T) == pytest.approx([1, 2, 3, 4])
    assert np.degrees(np.unwrap(np.arctan2(found[:, 1], found[:, 0]))) == pytest.approx([0, 90, 180, 315])
    assert squeezed(loop, 1.0) is loop


def test_dags_are_cut_into_the_loop_which_stays_closed() -> None:
    draft = draft_cloak(Style("round", 1.0, dags=(Dags("hem", "square", 0.3, 0.06),)), standing_body())
    (plain,), (dagged,) = (draft.edges,), loops_of(draft, all_dags=True)
    assert [edge.name for edge in dagged] == [edge.name for edge in plain]
    for edge, following in zip(dagged, (*dagged[1:], dagged[0]), strict=True):
        assert edge.points[-1] == pytest.approx(following.points[0], abs=1e-12)
    areas = [area_of(np.concatenate([edge.points[:-1] for edge in edges])) for edges in (plain, dagged)]
    assert 0.0 < areas[0] - areas[1] < 0.06 * math.pi * draft.dimensions["hem_radius"]


def test_an_estimate_says_so_and_a_settled_hem_says_nothing() -> None:
    assert (hem_mark(DRAFT), hem_mark(replace(DRAFT, is_estimate=True))) == ("", ESTIMATE_WORDS)
