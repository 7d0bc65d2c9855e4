"""Readings on a cone on a cone and on a flat disc, exact; and the same shapes turned, mirrored and scaled."""

from __future__ import annotations

import dataclasses
from types import SimpleNamespace

import numpy as np
import pytest

from drape.body.figure import REGIONS
from drape.body.signed_distance import DistanceField
from drape.cloth.mesh import Mesh
from drape.cloth.sheet import sew
from drape.draft.outline import SewnDart
from drape.reading.worn import (
    Worn,
    read_closure,
    read_crowding,
    read_darts,
    read_fall,
    read_neck,
    read_shoulder,
    read_weight,
    read_worn,
    throat_load,
)

APEX, SLOPE = 1.6, np.radians(30.0)  # of the cone that stands for neck and shoulders: height [m], below the level
STEP = 0.01
COUNT, ROWS = 90, 13


def cone_field():
    """Signed distance of a cone open downward, exact away from its apex and axis."""
    axis = np.linspace(-0.6, 0.6, 121)
    heights = np.linspace(0.9, 2.0, 111)
    x, y, z = np.meshgrid(axis, axis, heights, indexing="ij")
    return DistanceField(np.array([-0.6, -0.6, 0.9]), STEP, (z - APEX) * np.cos(SLOPE) + np.hypot(x, y) * np.sin(SLOPE))


def on_cone(azimuth, run, off=0.0):
    """Points `run` down the cone's side from its apex, `off` from it along its normal [m]."""
    out = np.stack([-np.sin(azimuth), np.cos(azimuth)], axis=-1)
    radius, drop = run * np.cos(SLOPE) + off * np.sin(SLOPE), run * np.sin(SLOPE) - off * np.cos(SLOPE)
    return np.concatenate(
        [out * np.asarray(radius)[..., None], np.broadcast_to(APEX - drop, np.shape(azimuth))[..., None]], axis=-1
    )


@pytest.fixture(scope="module")
def figure():
    base = on_cone(np.linspace(0, 2 * np.pi, 72, endpoint=False), np.full(72, 0.08))
    lines = {
        s: on_cone(np.full(31, a), np.linspace(0.08, 0.22, 31))
        for s, a in (("left", np.pi / 2), ("right", 3 * np.pi / 2))
    }
    return SimpleNamespace(
        field=cone_field(), neck_base=base, neck_centre=base.mean(axis=0),
        levels={"floor": 0.0, "knee": 0.5, "waist": 1.0}, landmarks={f"side_neck_{s}": line[0] for s,
         line in lines.items()}, vertices=base, triangles=np.empty((0, 3), dtype=np.int64),
        shoulder_line_left=lines["left"], shoulder_line_right=lines["right"],
        vertex_regions=np.full(72, REGIONS.index("neck")),
    )  # fmt: skip


def worn_by(figure, melton, off):
    """A half circle of cloth closed round the cone on the wearer's right, `off(azimuth, run)` from it."""
    azimuth = 1.5 * np.pi + np.linspace(0, 2 * np.pi, COUNT + 1)
    run = np.linspace(0.10, 0.50, ROWS)
    a, r = np.meshgrid(azimuth, run)
    points = on_cone(a.ravel(), r.ravel(), off(a.ravel(), r.ravel()))
    i = (np.arange(ROWS - 1)[:, None] * (COUNT + 1) + np.arange(COUNT)).ravel()
    low, high = i, i + COUNT + 1
    triangles = np.concatenate([np.c_[low, high, high + 1], np.c_[low, high + 1, low + 1]])
    phi = (a.ravel() - 1.5 * np.pi) / 2
    flat = r.ravel()[:, None] * np.c_[np.cos(phi), np.sin(phi)]
    down, half = np.arange(ROWS) * (COUNT + 1), COUNT // 2
    edges = {
        "front neck": np.arange(half + 1), "back neck": np.arange(half, COUNT + 1),
        "hem": down[-1] + np.arange(COUNT + 1),
        "front closure": down[:4], "back closure": down[:4] + COUNT,
        "front opening": down[3:], "back opening": down[3:] + COUNT, "dart front leg": down[:4] + half + 2,
    }  # fmt: skip
    mesh = Mesh(flat, triangles, edges, np.empty((0, 2), dtype=np.int64))
    marks = {"front neck": flat[COUNT // 4], "back neck": flat[3 * COUNT // 4]}
    draft = SimpleNamespace(
        fastening=SimpleNamespace(overlap=0.0),
        collar=(), dags=(), grain=0.0,
        marks=marks, neck=("front neck", "back neck"), closure=("front closure", "back closure"),
        opening=("front opening", "back opening"), closure_place="right shoulder", closure_azimuth=-np.pi / 2,
        darts=(SewnDart("left shoulder", np.pi / 2, ("dart front leg", "dart back leg"), "dart point", 0.1, 0.05),),
    )  # fmt: skip
    return Worn(figure, draft, mesh, sew(mesh, melton), points, np.zeros_like(points), melton.thickness)


def crooked(figure, melton):
    """Cloth that stands off unevenly and presses unevenly, alike on neither side,
    with nothing on the edge of a zone.
    """
    worn = worn_by(
        figure, melton, lambda a, r: 0.003 + 0.05 * r * (1 + np.sin(a + 0.3)) + 0.06 * r * np.cos(5 * a + 0.7)
    )
    force = np.zeros_like(worn.points)
    force[: 3 * COUNT, 2] = np.linspace(0.1, 0.3, 3 * COUNT)
    return dataclasses.replace(worn, contact_force=force)


@pytest.mark.parametrize("off", [0.004, 0.02])
def test_a_cone_on_a_cone_stands_off_evenly(figure, melton, off):
    """A parallel cone: gap, stand-off and lie follow from the one distance between the two.
    Facets sag by r (1 - cos 2°).
    """
    worn = worn_by(figure, melton, lambda a, r: np.full_like(r, off))
    sag = 0.22 * (1 - np.cos(np.pi / COUNT))
    gap = 100 * (off - 0.5 * melton.thickness)
    for side in ("left", "right"):
        shoulder = read_shoulder(worn, side)
        assert shoulder["stand_off_mean_cm"] == pytest.approx(gap, abs=100 * sag + 0.01)
        assert shoulder["stand_off_max_cm"] == pytest.approx(gap, abs=100 * sag + 0.01)
        assert shoulder["lie_percent"] == pytest.approx(100.0 if off < 0.0045 else 0.0)
        assert read_neck(worn)[f"gap_{side}_cm"] == pytest.approx(gap, abs=0.01)
    drop = 0.02 * np.sin(SLOPE) - off * np.cos(
        SLOPE
    )  # the neck edge lies 2 cm further down the side than the base line
    assert read_neck(worn)["ride_front_cm"] == pytest.approx(-100 * drop, abs=0.01)
    fall = read_fall(worn)
    height = 100 * (APEX - 0.5 * np.sin(SLOPE) + off * np.cos(SLOPE))
    assert [fall[k] for k in ("lowest_cm", "highest_cm", "mean_cm", "front_cm")] == pytest.approx([height] * 4)
    assert fall["level_cm"] == pytest.approx(0.0, abs=1e-9)
    assert read_crowding(worn)["max_percent"] == pytest.approx(0.0, abs=1e-9)
    (dart,) = read_darts(worn)
    assert dart["point_gap_cm"] == pytest.approx(gap, abs=0.01)
    assert dart["angle_to_shoulder_deg"] == pytest.approx(
        np.degrees(np.arccos(np.cos(SLOPE) ** 2 * np.cos(2 * np.pi * 2 / COUNT) + np.sin(SLOPE) ** 2))
    )


def test_a_flat_disc_is_level_and_has_no_section_to_crowd(figure, melton):
    worn = worn_by(figure, melton, lambda a, r: np.zeros_like(r))
    disc = dataclasses.replace(worn, points=np.c_[worn.points[:, :2], np.full(len(worn.points), APEX + 0.01)])
    fall, crowding = read_fall(disc), read_crowding(disc)
    assert [fall[k] for k in ("lowest_cm", "highest_cm", "clearance_cm")] == pytest.approx([161.0] * 3)
    assert fall["level_cm"] == pytest.approx(0.0, abs=1e-9)
    assert crowding["fullness_percent"] == [0.0] * 6 and crowding["folds"] == [0] * 6


def quarter_turned(worn):
    """Figure and cloth together, a quarter turn to the wearer's left."""
    f, spin = worn.figure, np.array([[0.0, 1, 0], [-1, 0, 0], [0, 0, 1]])
    moved = {k: v @ spin for k, v in vars(f).items() if isinstance(v, np.ndarray) and v.dtype == float}
    field = DistanceField(
        f.field.origin, f.field.spacing, np.ascontiguousarray(np.rot90(f.field.values, 1, axes=(0, 1)))
    )
    figure = SimpleNamespace(**{**vars(f), **moved, "field": field})
    return dataclasses.replace(worn, figure=figure, points=worn.points @ spin, contact_force=worn.contact_force @ spin)


def test_what_has_no_azimuth_does_not_change_when_body_and_cloak_turn_together(figure, melton):
    worn = crooked(figure, melton)
    turned = quarter_turned(worn)
    for side in ("left", "right"):
        before, after = read_shoulder(worn, side), read_shoulder(turned, side)
        assert after == pytest.approx(before, abs=1e-6) and before["stand_off_max_cm"] > 0.1
    assert 5 < read_shoulder(worn, "right")["lie_percent"] < 95
    assert read_crowding(worn)["max_percent"] > 0.1
    for key in ("fullness_percent", "fold_depth_cm", "folds"):
        assert read_crowding(turned)[key] == pytest.approx(read_crowding(worn)[key], abs=1e-6)
    assert read_darts(turned)[0]["angle_to_shoulder_deg"] == pytest.approx(read_darts(worn)[0]["angle_to_shoulder_deg"])
    assert read_darts(turned)[0]["point_short_cm"] == pytest.approx(read_darts(worn)[0]["point_short_cm"])
    assert read_closure(turned) == pytest.approx(read_closure(worn), abs=1e-6)
    assert read_closure(worn)["pull_n"] > 0
    assert read_weight(turned) == pytest.approx(read_weight(worn))
    assert throat_load(turned)[0] == pytest.approx(throat_load(worn)[0]) and throat_load(worn)[0] > 1
    assert read_neck(turned)["gap_max_cm"] == pytest.approx(read_neck(worn)["gap_max_cm"], abs=1e-6)


def test_mirrored_left_to_right_the_shoulders_change_places(figure, melton):
    worn = crooked(figure, melton)
    mirrored = dataclasses.replace(worn, points=worn.points * [-1, 1, 1], contact_force=worn.contact_force * [-1, 1, 1])
    for side, other in (("left", "right"), ("right", "left")):
        assert read_shoulder(mirrored, other) == pytest.approx(read_shoulder(worn, side), abs=1e-6)
    assert read_shoulder(worn, "left")["lie_percent"] != pytest.approx(
        read_shoulder(worn, "right")["lie_percent"], abs=1
    )
    for key in ("fullness_percent", "fold_depth_cm", "folds"):
        assert read_crowding(mirrored)[key] == pytest.approx(read_crowding(worn)[key], abs=1e-6)
    assert throat_load(mirrored)[0] == pytest.approx(throat_load(worn)[0])
    assert read_fall(mirrored)["lowest_cm"] == pytest.approx(read_fall(worn)["lowest_cm"])
    assert read_weight(mirrored) == pytest.approx(read_weight(worn))


def scaled(worn, k):
    """Figure, cloth and its thickness k times as large, about the floor below the neck."""
    f = worn.figure
    lengths = {n: k * v for n, v in vars(f).items() if isinstance(v, np.ndarray) and v.dtype == float}
    field = DistanceField(k * f.field.origin, k * f.field.spacing, k * f.field.values)
    marks = {n: k * v for n, v in f.landmarks.items()}
    figure = SimpleNamespace(**{**vars(f), **lengths, "field": field, "landmarks": marks})
    return dataclasses.replace(worn, figure=figure, points=k * worn.points, thickness=k * worn.thickness)


def test_scaled_lengths_scale_and_angles_and_shares_stay(figure, melton):
    """Twice as large: crowding is then read at twice the depth, so it is compared on folds as deep all the way down."""
    worn = crooked(figure, melton)
    large = scaled(worn, 2.0)
    for side in ("left", "right"):
        once, twice = read_shoulder(worn, side), read_shoulder(large, side)
        for key in ("stand_off_mean_cm", "stand_off_max_cm", "stand_off_at_cm"):
            assert twice[key] == pytest.approx(2 * once[key], abs=0.02)
    (once,), (twice,) = read_darts(worn), read_darts(large)
    assert twice["angle_to_shoulder_deg"] == pytest.approx(once["angle_to_shoulder_deg"])
    assert [twice[k] for k in ("point_short_cm", "point_gap_cm")] == pytest.approx(
        [2 * once[k] for k in ("point_short_cm", "point_gap_cm")]
    )
    assert read_closure(large)["shift_cm"] == pytest.approx(2 * read_closure(worn)["shift_cm"], abs=1e-9)
    assert read_fall(large)["level_cm"] == pytest.approx(2 * read_fall(worn)["level_cm"])
    weight = read_weight(large)
    assert weight["neck_percent"] == pytest.approx(read_weight(worn)["neck_percent"])
    total, line = throat_load(worn)
    assert throat_load(large) == (pytest.approx(total), pytest.approx(line / 2)) and line > 0


def test_scaled_flutes_keep_their_fullness_and_deepen(figure, melton):
    """A wall of six flutes, upright, so that every level shows the same outline."""

    def fluted(worn, k):
        a = np.arctan2(-worn.points[:, 0], worn.points[:, 1])
        radius = k * (0.2 + 0.03 * np.cos(6 * (a + np.pi / 2)))
        return dataclasses.replace(worn, points=np.c_[-np.sin(a) * radius, np.cos(a) * radius, worn.points[:, 2]])

    worn = worn_by(figure, melton, lambda a, r: np.zeros_like(r))
    once, twice = read_crowding(fluted(worn, 1.0)), read_crowding(fluted(worn, 2.0))
    assert once["max_percent"] > 5 and once["folds"][-1] == 6
    assert twice["fullness_percent"] == pytest.approx(once["fullness_percent"])
    assert twice["folds"] == once["folds"]
    assert twice["fold_depth_cm"] == pytest.approx([2 * d for d in once["fold_depth_cm"]], abs=0.1)


def test_every_group_of_readings_is_read_here(figure, melton):
    groups = read_worn(crooked(figure, melton))
    assert list(groups) == [
        "neck",
        "shoulder_left",
        "shoulder_right",
        "spare",
        "crowding",
        "dart",
        "closure",
        "fall",
        "balance",
        "weight",
    ]
