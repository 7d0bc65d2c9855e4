"""Readings on shapes whose answers are known: rings, planes and tilted hems about a round post."""

from __future__ import annotations

import dataclasses
from types import SimpleNamespace

import numpy as np
import pytest

from drape.cloth import sew
from drape.distance import DistanceField
from drape.mesh import Mesh
from drape.reading import (
    SIDES,
    Worn,
    azimuth_of,
    first_hit,
    lie_share,
    polyline_distance,
    quarter,
    reaches,
    read_balance,
    read_closure,
    read_fall,
    read_neck,
    read_shoulder,
    read_weight,
    throat_load,
)

POST = 0.06  # radius of the post that stands for the neck [m]
BASE = 1.5  # height of its neck-base line [m]
COUNT = 72


def post_field():
    """Signed distance outside a vertical post, sampled every 8 mm."""
    axis = np.arange(-0.4, 0.4, 0.008)
    x, y, _ = np.meshgrid(axis, axis, np.arange(1.2, 1.9, 0.008), indexing="ij")
    return DistanceField(np.array([-0.4, -0.4, 1.2]), 0.008, np.hypot(x, y) - POST)


def circle(radius, height, *, count=COUNT, turn=0.0):
    a = turn + np.linspace(0, 2 * np.pi, count, endpoint=False)
    return np.c_[-radius * np.sin(a), radius * np.cos(a), np.full(count, height)]


@pytest.fixture(scope="module")
def figure():
    line = np.c_[np.linspace(-POST, -0.2, 31), np.zeros(31), np.full(31, BASE)]
    base = circle(POST, BASE)
    return SimpleNamespace(
        field=post_field(), neck_base=base, neck_centre=base.mean(axis=0), landmarks={},
        shoulder_line_left=line, shoulder_line_right=line * [-1, 1, 1], levels={"floor": 0.0, "knee": 0.5, "hip": 0.9},
        vertices=base, vertex_regions=np.zeros(COUNT, dtype=np.int64),
    )  # fmt: skip


def cone(figure, melton, *, neck=0.08, ride=0.0, hem=0.4, fall=0.5, turn=0.0, shift=(0.0, 0.0), tilt=0.0):
    """A ruled cone of cloth, closed on the wearer's right, its neck edge a circle, its hem another."""
    start = SIDES["right"] + turn
    a = start + np.linspace(0, 2 * np.pi, COUNT + 1)
    rows = []
    for radius, height in ((neck, BASE + ride), (hem, fall)):
        ring = np.c_[-radius * np.sin(a), radius * np.cos(a), np.full(COUNT + 1, height)]
        rows.append(ring + [*shift, 0.0])
    worn = np.concatenate(rows)
    worn[COUNT + 1 :, 2] += tilt * worn[COUNT + 1 :, 1]
    i = np.arange(COUNT)
    low, high = i, i + COUNT + 1
    triangles = np.concatenate([np.c_[low, high, high + 1], np.c_[low, high + 1, low + 1]])
    phi = np.linspace(0, np.pi, COUNT + 1)
    flat = np.concatenate([r * np.c_[np.cos(phi), np.sin(phi)] for r in (0.13, 1.2)])
    half = COUNT // 2
    edges = {
        "front neck": np.arange(half + 1), "back neck": np.arange(half, COUNT + 1),
        "hem": np.arange(COUNT + 1, 2 * COUNT + 2),
        "front closure": np.array([0, COUNT + 1]), "back closure": np.array([COUNT, 2 * COUNT + 1]),
        "front opening": np.array([0, COUNT + 1]), "back opening": np.array([COUNT, 2 * COUNT + 1]),
    }  # fmt: skip
    mesh = Mesh(flat, triangles, edges, np.empty((0, 2), dtype=np.int64))
    marks = {"front neck": flat[COUNT // 4], "back neck": flat[3 * COUNT // 4]}
    draft = SimpleNamespace(marks=marks, dimensions={})
    return Worn(figure, draft, mesh, sew(mesh, melton), worn, np.zeros_like(worn), melton.thickness)


def test_a_ring_two_cm_off_the_post_reads_two_cm_all_round(figure, melton):
    neck = read_neck(cone(figure, melton, neck=POST + 0.02, ride=0.03))
    for side in SIDES:
        assert neck[f"gap_{side}_cm"] == pytest.approx(2.0 - 0.15, abs=0.03)
        assert neck[f"ride_{side}_cm"] == pytest.approx(3.0, abs=1e-6)
    assert neck["throat_load_n"] == 0.0


def test_a_ring_pushed_forward_gapes_in_front_only(figure, melton):
    neck = read_neck(cone(figure, melton, neck=POST + 0.02, shift=(0.0, 0.015)))
    assert neck["gap_front_cm"] == pytest.approx(3.5 - 0.15, abs=0.1)
    assert neck["gap_back_cm"] == pytest.approx(0.5 - 0.15, abs=0.1)
    assert neck["gap_left_cm"] == pytest.approx(neck["gap_right_cm"], abs=0.02)


def test_gap_scales_and_turns_with_the_shape(figure, melton):
    """Pushed to the wearer's left instead of forward, the same figures move by a quarter turn."""
    forward = read_neck(cone(figure, melton, neck=POST + 0.02, shift=(0.0, 0.015)))
    left = read_neck(cone(figure, melton, neck=POST + 0.02, shift=(-0.015, 0.0)))
    for a, b in (("front", "left"), ("left", "back"), ("back", "right"), ("right", "front")):
        assert left[f"gap_{b}_cm"] == pytest.approx(forward[f"gap_{a}_cm"], abs=0.03)
    twice = read_neck(cone(figure, melton, neck=POST + 0.04))
    once = read_neck(cone(figure, melton, neck=POST + 0.02))
    assert twice["gap_front_cm"] + 0.15 == pytest.approx(2 * (once["gap_front_cm"] + 0.15), abs=0.03)


def test_throat_load_is_the_force_on_the_neck(figure, melton):
    worn = cone(figure, melton, neck=POST)
    force = np.zeros_like(worn.points)
    front = np.argmin(np.abs(azimuth_of(worn.points[: COUNT + 1], figure.neck_centre) - np.radians(10.0)))
    force[front] = [0.0, 3.0, 0.0]
    total, line = throat_load(dataclasses.replace(worn, contact_force=force))
    assert total == pytest.approx(3.0)
    assert line == pytest.approx(3.0 / (2 * np.pi * POST * 20 / 360), rel=0.01)


def test_balance_and_turn(figure, melton):
    balance = read_balance(cone(figure, melton, shift=(-0.02, 0.03), turn=np.radians(7.0)))
    assert balance["forward_cm"] == pytest.approx(3.0, abs=0.05)
    assert balance["left_cm"] == pytest.approx(2.0, abs=0.05)
    assert balance["turn_deg"] == pytest.approx(7.0, abs=1e-6)


def test_a_tilted_hem(figure, melton):
    """Hem circle of 40 cm tilted by 0.1 about the left-right axis: ±4 cm front and back, 8 cm out of level."""
    fall = read_fall(cone(figure, melton, tilt=0.1))
    mean_cosine = np.sin(np.radians(20)) / np.radians(20)
    assert fall["front_cm"] == pytest.approx(50 + 4 * mean_cosine, abs=0.03)
    assert fall["back_cm"] == pytest.approx(50 - 4 * mean_cosine, abs=0.03)
    assert fall["left_cm"] == pytest.approx(50, abs=0.05)
    assert fall["level_cm"] == pytest.approx(8.0, abs=0.01)
    assert fall["clearance_cm"] == pytest.approx(46.0, abs=0.01)
    assert fall["reaches"] == "the knee"


def test_reaches_names_the_nearest_level():
    levels = {"knee": 0.5, "mid_calf": 0.3}
    assert reaches(levels, 0.47) == "3 cm below the knee"
    assert reaches(levels, 0.33) == "3 cm above the mid calf"


def test_closure_on_its_line_and_off_it(figure, melton):
    assert read_closure(cone(figure, melton))["shift_cm"] == pytest.approx(0.0, abs=1e-9)
    assert read_closure(cone(figure, melton, shift=(0.0, 0.02)))["shift_cm"] == pytest.approx(2.0, abs=1e-9)


def flat_over_line(melton, height):
    """A level field at z = BASE, a shoulder line on it, and a sheet of cloth above by `height`."""
    x, y, z = np.meshgrid(np.arange(-0.6, 0.6, 0.01), np.arange(-0.6, 0.6, 0.01), np.arange(1.3, 1.9, 0.01), indexing="ij")
    field = DistanceField(np.array([-0.6, -0.6, 1.3]), 0.01, z - BASE)
    line = np.c_[np.linspace(-0.06, -0.2, 31), np.zeros(31), np.full(31, BASE)]
    grid = np.stack(np.meshgrid(np.linspace(-0.4, 0.2, 25), np.linspace(-0.3, 0.3, 25), indexing="ij"), 2).reshape(-1, 2)
    i = (np.arange(24)[:, None] * 25 + np.arange(24)).ravel()
    triangles = np.concatenate([np.c_[i, i + 25, i + 26], np.c_[i, i + 26, i + 1]])
    mesh = Mesh(grid, triangles, {}, np.empty((0, 2), dtype=np.int64))
    points = np.c_[grid, np.full(len(grid), BASE + height)]
    figure = SimpleNamespace(field=field, shoulder_line_left=line)
    return Worn(figure, SimpleNamespace(), mesh, sew(mesh, melton), points, np.zeros_like(points), melton.thickness)


def test_shoulder_stand_off_of_a_level_sheet(melton):
    shoulder = read_shoulder(flat_over_line(melton, 0.02), "left")
    assert shoulder["stand_off_mean_cm"] == pytest.approx(2.0 - 0.15, abs=1e-6)
    assert shoulder["stand_off_max_cm"] == pytest.approx(2.0 - 0.15, abs=1e-6)
    assert shoulder["lie_percent"] == 0.0
    assert read_shoulder(flat_over_line(melton, 0.002), "left")["lie_percent"] == 100.0


def test_half_a_sheet_lies(melton):
    worn = flat_over_line(melton, 0.002)
    points = worn.points.copy()
    points[points[:, 1] > 0.013, 2] += 0.05
    share = lie_share(dataclasses.replace(worn, points=points), worn.figure.shoulder_line_left)
    assert share == pytest.approx(0.5, abs=0.05)


def test_bare_shoulder_has_no_stand_off(melton):
    worn = flat_over_line(melton, 0.02)
    shoulder = read_shoulder(dataclasses.replace(worn, points=worn.points + [1.0, 0, 0]), "left")
    assert shoulder["stand_off_mean_cm"] is None


def test_shares_of_weight_add_up(figure, melton):
    worn = cone(figure, melton)
    force = np.zeros_like(worn.points)
    force[:10, 2] = worn.sheet.mass.sum() * 9.80665 / 10
    weight = read_weight(dataclasses.replace(worn, contact_force=force))
    assert weight["neck_percent"] == pytest.approx(100.0)
    assert weight["balance_error_percent"] == pytest.approx(0.0, abs=1e-9)
    assert weight["cloth_kg"] == pytest.approx(0.6 * np.sum(worn.sheet.triangle_area))


def test_small_geometry():
    corners = np.array([[[0, 0, 0], [1, 0, 0], [0, 1, 0]]], dtype=float)
    parts = quarter(corners)
    areas = 0.5 * np.linalg.norm(np.cross(parts[:, 1] - parts[:, 0], parts[:, 2] - parts[:, 0]), axis=1)
    assert areas == pytest.approx([0.125] * 4)
    line = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0]], dtype=float)
    assert polyline_distance(np.array([[0.5, 2, 0], [-1, 0, 0], [0.5, -0.3, 0.4]]), line) == pytest.approx([np.hypot(0.5, 1), 1, 0.5])
    up = np.array([[0.2, 0.2, -0.1], [2, 2, 0]], dtype=float)
    hit = first_hit(up, np.array([[0, 0, 1], [0, 0, 1]], dtype=float), corners)
    assert hit[0] == pytest.approx(0.1) and np.isnan(hit[1])
