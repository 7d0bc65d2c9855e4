"""Spare cloth reads the same however it rests: on a post that stands on a plate each answer is a formula."""

from __future__ import annotations

import functools
from types import SimpleNamespace

import numpy as np
import pytest
from families import most_are_long
from turned import cloth_of, turned_rows, turned_shoulders

from drape.cloth.mesh import Mesh
from drape.reading.spare import UP_NECK, WITHIN, read_spare, share_within
from drape.reading.worn import Worn, spare_of

POST, REACH = 0.07, 0.12  # m
UP = REACH * UP_NECK / WITHIN
PLATE = np.pi * ((POST + REACH) ** 2 - POST**2)  # of it within reach [m2]
LIMIT = 0.3  # percent


@functools.cache
def post_on_plate(scale=1.0):
    """A post of 7 cm on a plate, rows 6 mm apart, finer up the post."""
    out, up = POST + 0.006 * np.arange(30, 0, -1), 1.5 + 0.001 * np.arange(60)
    radii, heights = np.concatenate([out, np.full(60, POST)]), np.concatenate([np.full(30, 1.5), up])
    return turned_shoulders(scale * radii, scale * heights, (scale * POST, scale * 1.5), scale * REACH)


def percent(rows, scale=1.0):
    """By how much the cloth is more than the body [%], from the share of the cloth that is spare."""
    corners, area = cloth_of(scale * rows)
    spare = read_spare(post_on_plate(scale), corners, area, 0.0)["percent"] / 100
    return 100 * (1 / (1 - spare) - 1)


def along(*corners, step=0.01):
    """Rows of circles along a line through corners (radius, height), about a step apart."""
    corners = np.array(corners)
    runs = [
        a + np.linspace(0, 1, max(2, round(np.linalg.norm(b - a) / step)), endpoint=False)[:, None] * (b - a)
        for a, b in zip(corners[:-1], corners[1:], strict=True)
    ]
    return turned_rows(*np.vstack([*runs, corners[-1:]]).T)


FLAT = 1.5001  # just above the plate [m]


def test_cloth_that_lies_smooth_has_none():
    assert percent(along((POST, FLAT), (0.3, FLAT))) == pytest.approx(0.0, abs=LIMIT)


def test_a_neck_cut_wide_leaves_less_to_cover():
    assert percent(along((POST + 0.051, FLAT), (0.3, FLAT))) == pytest.approx(0.0, abs=2 * LIMIT)


@pytest.mark.parametrize("high", most_are_long([0.05, 0.08], 0.08))
def test_a_funnel_is_spare_but_for_the_lowest_part_of_the_neck(high):
    """Round the neck and 1 mm off it, as high as that."""
    funnel = 2 * np.pi * (POST + 0.001)
    got = percent(along((POST + 0.001, FLAT + high), (POST + 0.001, FLAT), (0.3, FLAT)))
    assert got == pytest.approx(100 * ((PLATE + funnel * high) / (PLATE + 2 * np.pi * POST * UP) - 1), abs=2 * LIMIT)
    assert got > 10


def test_a_neck_edge_a_little_up_the_neck_is_no_spare_cloth():
    got = percent(along((POST + 0.001, FLAT + 0.9 * UP), (POST + 0.001, FLAT), (0.3, FLAT)))
    assert got == pytest.approx(0.0, abs=2 * LIMIT)


@pytest.mark.parametrize("high", most_are_long([0.01, 0.03], 0.03))
def test_a_tent_is_spare_by_its_longer_way(high):
    """It rises 3 cm from the neck and comes down 9 cm from it."""
    got = percent(
        along((POST, FLAT), (POST + 0.03, FLAT), (POST + 0.06, FLAT + high), (POST + 0.09, FLAT), (0.3, FLAT))
    )
    under = np.pi * ((POST + 0.09) ** 2 - (POST + 0.03) ** 2)
    assert got == pytest.approx(100 * under / PLATE * (np.hypot(1, high / 0.03) - 1), abs=LIMIT)


def folded(is_standing):
    """A ring of cloth, 4 cm from the neck, with 8 cm too much in its way outward: standing on edge, or laid flat."""
    at, edge = POST + 0.04, 0.04
    top = (at, FLAT + edge) if is_standing else (at + edge, FLAT + 0.002)
    down = (at + 1e-4, FLAT) if is_standing else (at, FLAT + 0.001)
    return along((POST, FLAT), (at, FLAT), top, down, (0.3, FLAT), step=0.005)


def test_a_fold_is_spare_whether_it_stands_or_lies():
    """Two layers of a ring that stands; of one that lies flat they are the larger, the further out."""
    at, edge = POST + 0.04, 0.04
    stands, lies = (percent(folded(is_standing)) for is_standing in (True, False))
    assert stands == pytest.approx(100 * 2 * 2 * np.pi * at * edge / PLATE, abs=3 * LIMIT)
    assert lies == pytest.approx(100 * 2 * np.pi * ((at + edge) ** 2 - at**2) / PLATE, abs=3 * LIMIT)
    assert stands > 30 and lies > 30


@pytest.mark.long
def test_what_is_told_is_the_share_of_the_cloth():
    """Two layers over all the plate: half of the cloth is spare."""
    corners, area = (np.concatenate([each, each]) for each in cloth_of(along((POST, FLAT), (0.3, FLAT))))
    assert read_spare(post_on_plate(), corners, area, 0.0)["percent"] == pytest.approx(50.0, abs=LIMIT)


@pytest.mark.long
def test_twice_as_large_it_is_the_same():
    rows = along((POST, FLAT), (POST + 0.5 * REACH, FLAT + 0.02), (POST + REACH, FLAT), (0.3, FLAT))
    assert percent(rows, 2.0) == pytest.approx(percent(rows), abs=LIMIT)


@pytest.mark.parametrize("height", [1.0, 1.9])
def test_of_cloth_that_is_not_there_nothing_is_told(height):
    corners, area = cloth_of(along((POST, height), (0.3, height)))
    assert read_spare(post_on_plate(), corners, area, 0.0) == {"percent": None, "within_cm": pytest.approx(12.0)}


@pytest.mark.long
def test_a_collar_is_not_counted():
    """A second piece that stands up the neck changes nothing."""
    pieces = [cloth_of(along((POST, FLAT), (0.3, FLAT)))]
    pieces += [cloth_of(along((POST + 0.001, FLAT + 0.06), (POST + 0.001, FLAT)))]
    corners, area = (np.concatenate(each) for each in zip(*pieces, strict=True))
    triangles = np.arange(3 * len(corners)).reshape(-1, 3)
    links = np.concatenate([np.zeros(len(pieces[0][0]), int), np.ones(len(pieces[1][0]), int)])
    triangles[:, 0] = np.where(links == 0, 0, len(corners) * 3 - 1)  # each piece hangs together at one of its vertices
    mesh = Mesh(np.empty((3 * len(corners), 2)), triangles, {"hem": np.array([0])}, np.empty((0, 2), int))
    sheet = SimpleNamespace(triangles=np.arange(3 * len(corners)).reshape(-1, 3), triangle_area=area)
    points = corners.reshape(-1, 3)
    worn = Worn(post_on_plate(), SimpleNamespace(), mesh, sheet, points, np.zeros_like(points), 0.0)
    bare = read_spare(post_on_plate(), *pieces[0], 0.0)["percent"]
    assert spare_of(worn)["percent"] == pytest.approx(bare, abs=1e-9) and bare < LIMIT


def test_the_share_within_a_line_of_a_triangle_that_it_cuts():
    """A right triangle with sides of 1 m, its right angle on the line: within 0.3 m lie 1 - 0.7² of it."""
    corners = np.array([[[0.0, 0, 0], [1, 0, 0], [0, 1, 0]], [[0.0, 5, 0], [1, 5, 0], [0, 6, 0]]])
    line = np.array([[-1.0, 0, 0], [2, 0, 0]])
    assert share_within(corners, line, np.array([0.3, 0.3])) == pytest.approx([1 - 0.7**2, 0.0], abs=1e-3)
