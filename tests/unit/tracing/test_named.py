"""Which edge is which: by what a line is called, by --edge, else by its shape."""

from __future__ import annotations

import math

import numpy as np
import pytest
from drawings import FIRST, HEM, LAST, NECK, lines_of

from drape.draft.neckline import direction
from drape.errors import DraftError
from drape.tracing.joined import joined
from drape.tracing.lines import Line
from drape.tracing.named import given_edges, named, role_of

POINT = np.array([0.0, 0.4])
MOUTH = 0.2 * direction(math.pi / 2 + np.array([-0.2, 0.2]))
RIGHT = np.vstack([NECK[NECK[:, 0] > MOUTH[0, 0]], MOUTH[0]])
LEFT = np.vstack([MOUTH[1], NECK[NECK[:, 0] < MOUTH[1, 0]]])
DARTED = (HEM, LAST, LEFT, np.array([MOUTH[1], POINT]), np.array([POINT, MOUTH[0]]), RIGHT, FIRST)


def test_edges_are_found_by_their_shape_whatever_way_they_are_turned():
    for turn in (0.0, 1.0, 4.0):
        c, s = math.cos(turn), math.sin(turn)
        matrix = np.array([[c, s], [-s, c]])
        edges = named(joined(lines_of(*(run @ matrix for run in DARTED)), "x"), {}, "x")
        np.testing.assert_allclose(edges.hem[[0, -1]], HEM[[0, -1]] @ matrix, atol=1e-6)
        np.testing.assert_allclose(edges.openings[0], FIRST @ matrix, atol=1e-6)
        np.testing.assert_allclose(edges.openings[1], LAST[::-1] @ matrix, atol=1e-6)
        (dart,) = edges.darts
        np.testing.assert_allclose(dart.point, POINT @ matrix, atol=1e-6)
        np.testing.assert_allclose(dart.first[0], MOUTH[0] @ matrix, atol=1e-6)
        np.testing.assert_allclose(edges.neck[0][[0, -1]], np.array([NECK[0], MOUTH[0]]) @ matrix, atol=1e-6)
        assert len(edges.neck) == 2 and edges.how["hem"] == "found: the longest arc"


@pytest.mark.parametrize("intake", [0.04, 0.12, 0.14])
def test_a_wide_dart_is_one_though_its_mouth_is_hardly_a_corner(intake):
    half = math.asin(intake / 0.4)
    mouth = 0.2 * direction(math.pi / 2 + np.array([-half, half]))
    point = np.array([0.0, 0.2 * math.cos(half) + math.sqrt(0.14**2 - intake**2 / 4)])
    right = np.vstack([NECK[NECK[:, 0] > mouth[0, 0]], mouth[0]])
    left = np.vstack([mouth[1], NECK[NECK[:, 0] < mouth[1, 0]]])
    runs = (HEM, LAST, left, np.array([mouth[1], point]), np.array([point, mouth[0]]), right, FIRST)
    edges = named(joined(lines_of(*runs), "x"), {}, "x")
    (dart,) = edges.darts
    np.testing.assert_allclose(dart.first, [mouth[0], point], atol=1e-6)
    np.testing.assert_allclose(dart.second, [mouth[1], point], atol=1e-6)


@pytest.mark.parametrize(
    ("words", "role"),
    [
        (("Hem line",), "hem"), (("neck_edge",), "neck"), (("Layer 3", "front-opening"), "opening"), (("path12",), ""),
        (("DARTS",), "dart"), (("grain arrow",), "nothing"), (("hemp",), ""), (("piecing seam",), "piecing"),
    ],
)  # fmt: skip
def test_plain_words_name_an_edge(words, role):
    assert role_of(Line(FIRST, words[0], words), {})[0] == role


def test_what_is_given_goes_before_what_a_line_is_called():
    line = Line(FIRST, "p1", ("hem",))
    assert role_of(line, {"p1": "opening"})[0] == "opening" and role_of(line, {"hem": "neck"})[0] == "neck"


def test_names_go_before_shapes():
    corners = np.array([[-0.8, 0.6], [-2.4, 0.0], [2.4, 0.0], [0.8, 0.6]])
    runs = (0.8 * HEM + [0, 0.6], corners[:2], corners[1:3], corners[2:])
    whole = joined(lines_of(*runs, names=("hem", "opening", "neck", "opening")), "x")
    edges = named(whole, {}, "x")
    assert np.linalg.norm(edges.hem[0] - edges.hem[-1]) == pytest.approx(1.6) and edges.how["hem"] == 'its name "hem"'
    assert np.ptp(edges.neck[0][:, 0]) == pytest.approx(4.8)


def test_edge_names_that_are_not_there_are_refused():
    lines = lines_of(FIRST, names=("straight",))
    assert given_edges(["straight=hem"], lines) == {"straight": "hem"}
    with pytest.raises(DraftError, match='got "curve", allowed a name or layer in the drawing: l?.*straight'):
        given_edges(["curve=hem"], lines)
    for text in ("straight", "straight=collar", "=hem"):
        with pytest.raises(DraftError, match="allowed ID=NAME"):
            given_edges([text], lines)


@pytest.mark.parametrize(
    ("runs", "said"),
    [
        ((np.array([[0, 0], [2, 0], [2, 1], [0, 1], [0, 0]]),), "found no hem, the longest edge"),
        ((direction(np.linspace(0, 2 * math.pi, 300)),), "0 corners"),
        ((HEM, np.array([HEM[-1], HEM[0]])), "2 corners"),
    ],
)
def test_an_outline_without_the_edges_of_a_cloak_is_refused(runs, said):
    with pytest.raises(DraftError, match=said):
        named(joined(lines_of(*runs), "x"), {}, "x")


def test_lines_inside_are_piecing_where_they_run_from_edge_to_edge():
    seam, arrow = np.array([[-0.9, 0.5], [0.9, 0.5]]), np.array([[0.3, 0.6], [0.3, 0.7]])
    middle = np.array([0.2 * direction(1.0), direction(1.0)])
    whole = joined(lines_of(HEM, LAST, NECK, FIRST, seam, arrow, middle), "x")
    roles = {line.name: role for role, line in named(whole, {}, "x").inner}
    assert roles == {"l4": "piecing", "l5": "nothing", "l6": "nothing"}
