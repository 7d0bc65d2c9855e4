"""Readings on shapes whose answers are known: rings, planes and tilted hems about a round post."""

from __future__ import annotations

import dataclasses
from types import SimpleNamespace

import numpy as np
import pytest
from shapely import Point, Polygon

from drape.body.figure import REGIONS
from drape.body.signed_distance import DistanceField
from drape.cloth.mesh import Mesh
from drape.cloth.sheet import sew
from drape.draft.outline import SewnDart
from drape.reading.worn import (
    SIDES,
    Worn,
    at_run,
    azimuth_of,
    bias_drop,
    closure_pull,
    edge_share,
    first_hit,
    lie_share,
    mean_at,
    reaches,
    read_balance,
    read_closure,
    read_crowding,
    read_darts,
    read_fall,
    read_neck,
    read_shoulder,
    read_weight,
    throat_load,
    turn_between,
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
        shoulder_line_left=line, shoulder_line_right=line * [-1, 1, 1],
        levels={"floor": 0.0, "knee": 0.5, "hip": 0.9, "waist": 1.1}, vertices=base,
        vertex_regions=np.zeros(COUNT, dtype=np.int64),
    )  # fmt: skip


NAMES = {
    "neck": ("front neck", "back neck"), "closure": ("front closure", "back closure"),
    "opening": ("front opening", "back opening"), "darts": (),
    "closure_place": "right shoulder", "closure_azimuth": -np.pi / 2,
    "fastening": SimpleNamespace(overlap=0.0),
}  # fmt: skip


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
    draft = SimpleNamespace(marks=marks, dimensions={}, collar=(), dags=(), grain=0.0, **NAMES)
    return Worn(figure, draft, mesh, sew(mesh, melton), worn, np.zeros_like(worn), melton.thickness)


def quarter_disc(*, shear, turn=0.0, grain=0.0):
    """A quarter circle, 0.1 to 1.1 m from its centre, its plane sheared along the axes and turned about the
    vertical.
    """
    radius, phi = np.meshgrid(np.linspace(0.1, 1.1, 41), np.linspace(0, np.pi / 2, 91), indexing="ij")
    flat = np.c_[(radius * np.cos(phi)).ravel(), (radius * np.sin(phi)).ravel()]
    low = (np.arange(40)[:, None] * 91 + np.arange(90)).ravel()
    triangles = np.concatenate([np.c_[low, low + 91, low + 92], np.c_[low, low + 92, low + 1]])
    sheared = flat @ np.array([[1, shear / 2], [shear / 2, 1]])
    c, s = np.cos(turn), np.sin(turn)
    worn = np.c_[sheared @ np.array([[c, s], [-s, c]]), np.zeros(len(flat))]
    mesh = SimpleNamespace(flat=flat, triangles=triangles, edges={"hem": np.arange(40 * 91, 41 * 91)})
    draft = SimpleNamespace(grain=grain)
    return SimpleNamespace(
        mesh=mesh, draft=draft, points=worn, sheet=SimpleNamespace(point_of_vertex=np.arange(len(flat)))
    )


@pytest.mark.parametrize("turn", [0.0, 0.7])
def test_sheared_cloth_has_dropped_on_the_bias_by_the_exact_integral(turn):
    """Stretch 1 + g/2 sin 2 phi to first order; its means over 30 to 60 and over 0 to 15 degrees in closed form."""
    shear, degree = 0.02, np.pi / 180
    on_bias = (np.cos(60 * degree) - np.cos(120 * degree)) / (2 * 30 * degree)
    on_grain = (1 - np.cos(30 * degree)) / (2 * 15 * degree)
    exact = 1.0 * shear / 2 * (on_bias - on_grain)
    assert bias_drop(quarter_disc(shear=shear, turn=turn)) == pytest.approx(exact, rel=0.02)
    assert bias_drop(quarter_disc(shear=0.0, turn=turn)) == pytest.approx(0.0, abs=1e-9)


def test_the_same_cloth_cut_on_the_bias_reads_the_other_way():
    straight, across = (bias_drop(quarter_disc(shear=0.02, grain=grain)) for grain in (0.0, np.pi / 4))
    assert across == pytest.approx(-straight, rel=0.02)


def test_a_ring_two_cm_off_the_post_reads_two_cm_all_round(figure, melton):
    neck = read_neck(cone(figure, melton, neck=POST + 0.02, ride=0.03))
    for side in SIDES:
        assert neck[f"gap_{side}_cm"] == pytest.approx(2.0 - 0.15, abs=0.03)
        assert neck[f"ride_{side}_cm"] == pytest.approx(3.0, abs=1e-6)
    assert neck["throat_load_n"] == 0.0


def test_a_ring_pushed_forward_gapes_in_front_only(figure, melton):
    neck = read_neck(cone(figure, melton, neck=POST + 0.02, shift=(0.0, 0.015)))
    assert neck["gap_max_at"] == "front"
    assert neck["gap_front_cm"] == pytest.approx(3.5 - 0.15, abs=0.1)
    assert neck["gap_back_cm"] == pytest.approx(0.5 - 0.15, abs=0.1)
    assert neck["gap_left_cm"] == pytest.approx(neck["gap_right_cm"], abs=0.02)


def test_gap_scales_and_turns_with_the_shape(figure, melton):
    """Pushed to the wearer's left instead of forward, the same figures move by a quarter turn."""
    forward = read_neck(cone(figure, melton, neck=POST + 0.02, shift=(0.0, 0.015)))
    left = read_neck(cone(figure, melton, neck=POST + 0.02, shift=(-0.015, 0.0)))
    for a, b in (("front", "left"), ("left", "back"), ("back", "right"), ("right", "front")):
        assert left[f"gap_{b}_cm"] == pytest.approx(forward[f"gap_{a}_cm"], abs=0.03)
    assert left["gap_max_at"] == "left"
    assert read_neck(cone(figure, melton, neck=POST + 0.02, shift=(0.01, -0.01)))["gap_max_at"] == "back right"
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
    x, y, z = np.meshgrid(
        np.arange(-0.6, 0.6, 0.01), np.arange(-0.6, 0.6, 0.01), np.arange(1.3, 1.9, 0.01), indexing="ij"
    )
    field = DistanceField(np.array([-0.6, -0.6, 1.3]), 0.01, z - BASE)
    line = np.c_[np.linspace(-0.06, -0.2, 31), np.zeros(31), np.full(31, BASE)]
    grid = np.stack(np.meshgrid(np.linspace(-0.4, 0.2, 25), np.linspace(-0.3, 0.3, 25), indexing="ij"), 2).reshape(
        -1, 2
    )
    i = (np.arange(24)[:, None] * 25 + np.arange(24)).ravel()
    triangles = np.concatenate([np.c_[i, i + 25, i + 26], np.c_[i, i + 26, i + 1]])
    mesh = Mesh(grid, triangles, {}, np.empty((0, 2), dtype=np.int64))
    points = np.c_[grid, np.full(len(grid), BASE + height)]
    figure = SimpleNamespace(field=field, shoulder_line_left=line)
    return Worn(
        figure, SimpleNamespace(**NAMES), mesh, sew(mesh, melton), points, np.zeros_like(points), melton.thickness
    )


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
    up = np.array([[0.2, 0.2, -0.1], [2, 2, 0]], dtype=float)
    hit = first_hit(up, np.array([[0, 0, 1], [0, 0, 1]], dtype=float), corners)
    assert hit[0] == pytest.approx(0.1) and np.isnan(hit[1])


def test_a_ray_finds_the_first_layer_pressed_cloth_and_nothing_out_of_reach():
    layer = np.array([[[-1, -1, 0], [3, -1, 0], [-1, 3, 0]]], dtype=float)
    up = np.array([[0.0, 0.0, 1.0]])
    at_floor = np.zeros((1, 3))
    assert first_hit(at_floor, up, np.concatenate([layer + [0, 0, 0.2], layer + [0, 0, 0.05]])) == pytest.approx([0.05])
    assert first_hit(at_floor, up, layer - [0, 0, 0.001]) == pytest.approx([-0.001])
    assert np.isnan(first_hit(at_floor, up, layer - [0, 0, 0.02])).all()
    assert np.isnan(first_hit(at_floor, up, layer + [0, 0, 0.5])).all()


def test_azimuths_go_front_left_back_right():
    compass = np.array([[0, 1, 9], [-1, 0, 9], [0, -1, 9], [1, 0, 9]], dtype=float) + [5, 7, 0]
    assert azimuth_of(compass, np.array([5.0, 7.0, 0.0])) == pytest.approx(list(SIDES.values()))


def test_turns_are_the_short_way_round():
    a, b = np.radians(10.0), np.radians(350.0)
    assert turn_between(np.array([a]), b) == pytest.approx(np.radians([20.0]))
    assert turn_between(np.array([b]), a) == pytest.approx(np.radians([-20.0]))
    assert turn_between(np.array([np.radians(100.0)]), np.radians(10.0)) == pytest.approx(np.radians([90.0]))


def test_means_are_weighted_by_length_within_the_window():
    azimuth, values = np.radians([0.0, 10.0, 350.0, 90.0]), np.array([1.0, 2.0, 3.0, 100.0])
    share = np.array([2.0, 1.0, 1.0, 5.0])
    assert mean_at(values, azimuth, share, 0.0) == pytest.approx((2 * 1 + 2 + 3) / 4)
    assert mean_at(values, azimuth, share, np.radians(200.0)) == 100.0  # none near: the nearest


def test_lengths_along_a_polyline():
    corner = np.array([[0, 0, 0], [1, 0, 0], [1, 2, 0]], dtype=float)
    assert edge_share(corner) == pytest.approx([0.5, 1.5, 1.0])
    assert at_run(corner, 2.0) == pytest.approx([1, 1, 0])


def crooked(figure, melton):
    """A cone pushed aside, tilted at neck and hem, no point of it on the edge of a reading's window."""
    worn = cone(figure, melton, neck=POST + 0.03, turn=np.radians(2.0), shift=(0.004, 0.007))
    points = worn.points.copy()
    points[:, 2] += 0.15 * points[:, 1] + 0.1 * points[:, 0]
    return dataclasses.replace(worn, points=points)


@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_turned_cloth_reads_the_same_on_the_next_sides(figure, melton, quarters):
    worn, angle = crooked(figure, melton), quarters * np.pi / 2
    spin = np.array([[np.cos(angle), np.sin(angle), 0], [-np.sin(angle), np.cos(angle), 0], [0, 0, 1]])
    turned = dataclasses.replace(worn, points=worn.points @ spin)
    names = list(SIDES)
    for k, name in enumerate(names):
        onto = names[(k + quarters) % 4]
        for kind in ("gap", "ride"):
            before, after = read_neck(worn)[f"{kind}_{name}_cm"], read_neck(turned)[f"{kind}_{onto}_cm"]
            assert after == pytest.approx(before, abs=1e-6)
        assert read_fall(turned)[f"{onto}_cm"] == pytest.approx(read_fall(worn)[f"{name}_cm"], abs=1e-6)
    gained = read_balance(turned)["turn_deg"] - read_balance(worn)["turn_deg"]
    assert (gained - 90 * quarters) % 360 == pytest.approx(0.0, abs=1e-6) or gained % 360 == pytest.approx(
        90 * quarters
    )


def test_mirrored_cloth_swaps_left_and_right(figure, melton):
    worn = crooked(figure, melton)
    mirrored = dataclasses.replace(worn, points=worn.points * [-1, 1, 1])
    for name, other in (("front", "front"), ("left", "right"), ("back", "back"), ("right", "left")):
        for kind in ("gap", "ride"):
            before, after = read_neck(worn)[f"{kind}_{name}_cm"], read_neck(mirrored)[f"{kind}_{other}_cm"]
            assert after == pytest.approx(before, abs=1e-6)
        assert read_fall(mirrored)[f"{other}_cm"] == pytest.approx(read_fall(worn)[f"{name}_cm"], abs=1e-6)
    a, b = read_balance(worn), read_balance(mirrored)
    assert [b["forward_cm"], b["left_cm"], b["turn_deg"]] == pytest.approx(
        [a["forward_cm"], -a["left_cm"], -a["turn_deg"]]
    )
    assert abs(a["left_cm"]) > 0.1 and abs(a["turn_deg"]) > 1


def twice(worn):
    """Figure, cloth and its thickness, all twice as large."""
    f = worn.figure
    field = DistanceField(2 * f.field.origin, 2 * f.field.spacing, 2 * f.field.values)
    lengths = {
        name: 2 * value for name, value in vars(f).items() if isinstance(value, np.ndarray) and value.dtype == float
    }
    figure = SimpleNamespace(**{**vars(f), **lengths, "field": field})
    return dataclasses.replace(worn, figure=figure, points=2 * worn.points, thickness=2 * worn.thickness)


def test_twice_as_large_reads_twice_as_far(figure, melton):
    once, large = crooked(figure, melton), twice(crooked(figure, melton))
    for side in SIDES:
        for kind in ("gap", "ride"):
            assert read_neck(large)[f"{kind}_{side}_cm"] == pytest.approx(2 * read_neck(once)[f"{kind}_{side}_cm"])
        assert read_fall(large)[f"{side}_cm"] == pytest.approx(2 * read_fall(once)[f"{side}_cm"])
    a, b = read_balance(once), read_balance(large)
    assert [b["forward_cm"], b["left_cm"], b["turn_deg"]] == pytest.approx(
        [2 * a["forward_cm"], 2 * a["left_cm"], a["turn_deg"]]
    )
    sheet = flat_over_line(melton, 0.02)
    assert read_shoulder(twice(sheet), "left")["stand_off_mean_cm"] == pytest.approx(
        2 * read_shoulder(sheet, "left")["stand_off_mean_cm"]
    )


def test_ride_is_above_the_neck_base_of_the_same_azimuth(figure, melton):
    """A neck base that dips in front, and an edge 2 cm above it everywhere."""
    worn = cone(figure, melton, neck=POST)
    dip = -0.4 * worn.points[: COUNT + 1, 1]
    points = worn.points.copy()
    points[: COUNT + 1, 2] += dip + 0.02
    base = figure.neck_base - np.outer(0.4 * figure.neck_base[:, 1], [0, 0, 1])
    sloping = SimpleNamespace(**{**vars(figure), "neck_base": base})
    neck = read_neck(dataclasses.replace(worn, figure=sloping, points=points))
    assert [neck[f"ride_{side}_cm"] for side in SIDES] == pytest.approx([2.0] * 4, abs=1e-9)


def test_shoulder_stand_off_says_how_much_at_most_and_where(melton):
    """A sheet rising evenly outward, 1 cm off at the side neck point and 2.4 at the shoulder point."""
    worn = flat_over_line(melton, 0.0)
    points = worn.points.copy()
    points[:, 2] += 0.01 + 0.1 * (-0.06 - points[:, 0])
    shoulder = read_shoulder(dataclasses.replace(worn, points=points), "left")
    assert shoulder["stand_off_mean_cm"] == pytest.approx(1.7 - 0.15, abs=1e-6)
    assert shoulder["stand_off_max_cm"] == pytest.approx(2.4 - 0.15, abs=1e-6)
    assert shoulder["stand_off_at_cm"] == pytest.approx(14.0, abs=1e-6)


def test_throat_load_counts_the_neck_only_and_its_line_load_the_front_only(figure, melton):
    worn = cone(figure, melton, neck=POST)
    force = np.zeros_like(worn.points)
    azimuth = azimuth_of(worn.points[: COUNT + 1], figure.neck_centre)
    force[np.argmin(np.abs(azimuth - np.pi))] = [0.0, -4.0, 3.0]
    assert throat_load(dataclasses.replace(worn, contact_force=force)) == (pytest.approx(5.0), 0.0)
    shoulders = SimpleNamespace(**{**vars(figure), "vertex_regions": np.full(COUNT, REGIONS.index("shoulder_left"))})
    assert throat_load(dataclasses.replace(worn, figure=shoulders, contact_force=force)) == (0.0, 0.0)


def test_the_hem_near_the_opening_does_not_count_as_out_of_level(figure, melton):
    worn = cone(figure, melton)
    points = worn.points.copy()
    points[[COUNT + 1, 2 * COUNT + 1], 2] -= 0.1
    fall = read_fall(dataclasses.replace(worn, points=points))
    assert fall["level_cm"] == pytest.approx(0.0, abs=1e-9)
    assert fall["lowest_cm"] == pytest.approx(40.0) and fall["highest_cm"] == pytest.approx(50.0)


def tube(figure, melton, radius_at):
    """An upright tube of cloth, its radius given by azimuth, from 2 cm above the neck base down."""
    worn = cone(figure, melton, neck=1.0, hem=1.0, ride=0.02)
    radius = radius_at(azimuth_of(worn.points, figure.neck_centre))
    marked = SimpleNamespace(
        **{**vars(figure), "landmarks": {f"side_neck_{s}": np.array([0, 0, BASE]) for s in ("left", "right")}}
    )
    return dataclasses.replace(worn, figure=marked, points=worn.points * np.c_[radius, radius, np.ones_like(radius)])


def test_a_smooth_tube_is_not_crowded(figure, melton):
    crowding = read_crowding(tube(figure, melton, lambda a: np.full_like(a, 0.2)))
    assert crowding["at_cm"] == [1.0, 2.0, 4.0, 6.0, 8.0, 10.0]
    assert crowding["fullness_percent"] == pytest.approx([0.0] * 6, abs=1e-9)
    assert crowding["folds"] == [0] * 6 and crowding["max_percent"] == pytest.approx(0.0, abs=1e-9)


def test_a_fluted_tube_reads_its_flutes(figure, melton):
    """Six flutes of 3 cm on a radius of 20: lengths of the same polygon and its hull, from shapely."""

    def radius_at(azimuth):
        return 0.2 + 0.03 * np.cos(6 * (azimuth - SIDES["right"]))

    crowding = read_crowding(tube(figure, melton, radius_at))
    a = np.linspace(0, 2 * np.pi, COUNT, endpoint=False)
    outline = Polygon(np.c_[-np.sin(a), np.cos(a)] * radius_at(a)[:, None])
    hull = outline.convex_hull
    trough = a[np.argmin(radius_at(a))]
    depth = hull.exterior.distance(Point(0.17 * -np.sin(trough), 0.17 * np.cos(trough)))
    assert crowding["fullness_percent"] == pytest.approx([100 * (outline.length / hull.length - 1)] * 6, abs=0.01)
    assert crowding["mean_percent"] == pytest.approx(crowding["max_percent"], abs=0.01)
    assert crowding["folds"] == [6] * 6
    assert crowding["fold_depth_cm"] == pytest.approx([100 * depth] * 6, abs=0.05)


def test_a_dart_at_a_known_angle(melton):
    """10 cm of seam, 20° off a shoulder line of 14 cm, its point 1 cm off the figure."""
    worn = flat_over_line(melton, 0.0)
    assert read_darts(worn) == []
    line, angle = worn.figure.shoulder_line_left, np.radians(20.0)
    seam = line[0] + np.array([0, 0, 0.01]) + np.outer([0.0, 0.05, 0.1], [-np.cos(angle), np.sin(angle), 0])
    mesh = dataclasses.replace(worn.mesh, edges={"dart front leg": np.arange(3)})
    points = worn.points.copy()
    points[worn.sheet.point_of_vertex[:3]] = seam
    legs = ("dart front leg", "dart back leg")
    draft = SimpleNamespace(darts=(SewnDart("left shoulder", np.pi / 2, legs, "dart point", 0.1, 0.08),))
    (dart,) = read_darts(dataclasses.replace(worn, draft=draft, mesh=mesh, points=points))
    assert dart["intake_cm"] == pytest.approx(8.0)
    assert dart["angle_to_shoulder_deg"] == pytest.approx(20.0)
    assert dart["point_short_cm"] == pytest.approx(14.0 - 10.0 * np.cos(angle))
    assert dart["point_gap_cm"] == pytest.approx(1.0 - 0.15, abs=1e-6)


def test_gape_is_the_chord_between_opening_edges(figure, melton):
    """Opening edges parting at 30° from one point: 10 cm down each, 2 · 10 sin 15° apart."""
    worn = cone(figure, melton)
    points = worn.points.copy()
    tip = points[0]
    points[COUNT] = tip
    for half, index in ((-1, COUNT + 1), (1, 2 * COUNT + 1)):
        swing = half * np.radians(15.0)
        points[index] = tip + 0.6 * np.array([0.0, np.sin(swing), -np.cos(swing)])
    closure = read_closure(dataclasses.replace(worn, points=points))
    assert closure["gape_cm"] == pytest.approx(20 * np.sin(np.radians(15.0)))
    for overlap, left in ((0.02, 20 * np.sin(np.radians(15.0)) - 2.0), (0.08, 0.0)):
        lapped = SimpleNamespace(**{**vars(worn.draft), "fastening": SimpleNamespace(overlap=overlap)})
        assert read_closure(dataclasses.replace(worn, points=points, draft=lapped))["gape_cm"] == pytest.approx(left)


@pytest.mark.parametrize("strain", [0.0, 0.01])
def test_pull_on_the_closure_is_the_tension_across_it(make_rectangle, melton, strain):
    """A rectangle stretched along the warp with no sideways strain and ν = 0.

    Hand sum: Green strain E = ε + ε²/2, pull per width of the unstretched cloth = stiffness · E · (1 + ε).
    """
    cloth = dataclasses.replace(melton, poisson_ratio=0.0)
    mesh = make_rectangle(0.3, 0.2, 0.03, 3)
    left = np.flatnonzero(mesh.flat[:, 0] < 1e-9)
    left = left[np.argsort(mesh.flat[left, 1])]
    mesh = dataclasses.replace(mesh, edges={"front closure": left})
    points = np.c_[mesh.flat * [1 + strain, 1.0], np.zeros(len(mesh.flat))]
    worn = Worn(None, SimpleNamespace(**NAMES), mesh, sew(mesh, cloth), points, np.zeros_like(points), cloth.thickness)
    pull = cloth.tensile_stiffness_warp * (strain + strain**2 / 2) * (1 + strain) * 0.2
    assert closure_pull(worn) == pytest.approx(pull, rel=1e-9, abs=1e-9)


def test_each_part_carries_what_rests_on_it(figure, melton):
    """Eighths of the weight, 1 to 8 of 36, on the eight regions in turn; then a tenth of it missing."""
    worn = cone(figure, melton)
    spots = worn.points[COUNT + 1 : COUNT + 9]
    parted = SimpleNamespace(**{**vars(figure), "vertices": spots, "vertex_regions": np.arange(8)})
    parts = dict(zip(REGIONS, np.arange(1, 9) / 36, strict=True))
    force = np.zeros_like(worn.points)
    force[COUNT + 1 : COUNT + 9, 2] = np.array(list(parts.values())) * worn.sheet.mass.sum() * 9.80665
    weight = read_weight(dataclasses.replace(worn, figure=parted, contact_force=force))
    assert weight["neck_percent"] == pytest.approx(100 * (parts["neck"] + parts["head"]))
    assert weight["shoulder_left_percent"] == pytest.approx(100 * parts["shoulder_left"])
    assert weight["shoulder_right_percent"] == pytest.approx(100 * parts["shoulder_right"])
    assert weight["arms_percent"] == pytest.approx(100 * (parts["arm_left"] + parts["arm_right"]))
    assert weight["torso_percent"] == pytest.approx(100 * (parts["torso"] + parts["leg"]))
    assert weight["pressed_down_percent"] == 0.0
    pressing = force.copy()
    pressing[COUNT + 1 : COUNT + 9][[REGIONS.index("neck"), REGIONS.index("head")], 2] *= -1  # on what the chin lies on
    down = parts["neck"] + parts["head"]
    pressed = read_weight(dataclasses.replace(worn, figure=parted, contact_force=pressing))
    assert pressed["neck_percent"] == 0.0 and pressed["pressed_down_percent"] == pytest.approx(100 * down)
    assert pressed["arms_percent"] == pytest.approx(100 * (parts["arm_left"] + parts["arm_right"]) / (1 - down))
    assert sum(
        pressed[f"{part}_percent"] for part in ("neck", "shoulder_left", "shoulder_right", "arms", "torso")
    ) == pytest.approx(100)
    lighter = read_weight(dataclasses.replace(worn, figure=parted, contact_force=0.9 * force))
    assert lighter["balance_error_percent"] == pytest.approx(10.0)
