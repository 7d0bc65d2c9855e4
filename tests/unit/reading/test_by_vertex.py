"""Readings by place: exact on shapes with a formula, and what `reading` says when averaged as it averages."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from drape.reading import by_vertex
from drape.reading.level_section import level_section
from drape.reading.result import Fitting

Cone = Callable[..., Fitting]


def test_fullness_may_be_asked_for_from_a_height_up(cone) -> None:  # noqa: ANN001
    fitting = cone()
    whole, upper = by_vertex.fullness(fitting), by_vertex.fullness(fitting, lowest=1.0)
    high = fitting.worn[:, 2] >= 1.01
    np.testing.assert_array_equal(upper[high], whole[high])
    assert np.isfinite(whole[~high]).any() and np.isnan(upper[fitting.worn[:, 2] < 0.98]).all()


def test_stand_off_of_a_cone_over_a_cylinder(cone: Cone) -> None:
    """Radius less 7 cm, less half the cloth; the grid's smoothing and the mannequin's 24 sides allow 1.5 mm."""
    fitting = cone()
    exact = np.linalg.norm(fitting.worn[:, :2], axis=1) - 0.07 - 0.0015
    near = exact < 0.08  # the field reaches 12 cm
    assert near.sum() > 100
    assert by_vertex.stand_off(fitting)[near] == pytest.approx(exact[near], abs=0.0015)


def test_the_neck_centre_is_found_from_the_line_round_it(cone: Cone) -> None:
    turn = np.radians(np.arange(0, 360, 5))
    radius = 0.06 + 0.01 * np.cos(3 * turn)
    base = np.column_stack([0.02 - radius * np.sin(turn), 0.03 + radius * np.cos(turn), 1.4 + 0 * turn])
    assert by_vertex.neck_centre(base)[:2] == pytest.approx([0.02, 0.03])


def test_neck_gap_and_fall_round_the_body(cone: Cone) -> None:
    fitting = cone()
    gap, fall = by_vertex.neck_gap(fitting), by_vertex.hem_fall(fitting)
    assert gap.value == pytest.approx(0.09 - 0.07 - 0.0015, abs=0.001)
    assert fall.value == pytest.approx(0.6)
    steps = np.diff(np.degrees(np.unwrap(gap.azimuth)))
    assert steps == pytest.approx(348 / 60, abs=0.01)
    assert len(gap.azimuth) == 61  # front and back neck share a vertex: told once


def test_a_dagged_hem_falls_to_its_tips(cone: Cone) -> None:
    """Notches 6 cm above the hem are no height of it: the numbers beside the plot are those of the tips."""
    fitting = cone()
    worn, hem = fitting.worn.copy(), fitting.edges["hem"]
    worn[hem[1::2], 2] += 0.06
    tips = hem[::2].tolist()
    assert by_vertex.hem_fall(replace(fitting, worn=worn, about={"hem_tips": tips})).value == pytest.approx(0.6)


def wavy(folds: int, depth: float, cone: Cone) -> Fitting:
    """A wall whose radius waves round a circle of 30 cm."""
    turn = np.linspace(0, 2 * np.pi, 721)
    rows = np.linspace(0.9, 1.1, 5)
    radius = 0.3 - depth * (1 - np.cos(folds * turn)) / 2
    worn = np.array([(-r * np.sin(a), r * np.cos(a), z) for a, r in zip(turn, radius, strict=True) for z in rows])
    index = np.arange(len(worn)).reshape(len(turn), len(rows))
    worn[index[-1]] = worn[index[0]]
    a, b, c, d = (k.ravel() for k in (index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]))
    triangles = np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    edges = {
        "hem": index[:, 0],
        "front neck": index[:361, -1],
        "back neck": index[360:, -1],
        "front closure": index[0],
        "back closure": index[-1],
    }
    return cone(worn=worn, flat=worn[:, :2], triangles=triangles, edges=edges)


def test_fullness_averaged_along_the_hull_is_that_of_the_section(cone: Cone) -> None:
    fitting = wavy(9, 0.06, cone)
    points = fitting.worn.copy()
    section = level_section(points, np.asarray(fitting.triangles), 1.0)
    assert section is not None and section.fullness > 0.1
    _, along, share = by_vertex.section_fullness(section)
    assert np.ptp(np.diff(along)) < 1e-12
    assert share.mean() == pytest.approx(section.fullness, abs=1e-9)


def test_a_round_wall_has_no_fullness_and_folds_have_theirs_where_they_are(cone: Cone) -> None:
    assert np.nanmax(np.abs(by_vertex.fullness(wavy(1, 0.0, cone)))) < 0.005
    fitting = wavy(9, 0.06, cone)
    one_fold = fitting.worn.copy()
    behind = one_fold[:, 1] < -0.1
    smooth = wavy(1, 0.0, cone).worn
    one_fold[~behind] = smooth[~behind]
    found = by_vertex.fullness(replace(fitting, worn=one_fold))
    front = one_fold[:, 1] > 0.1
    assert np.nanmax(np.abs(found[front])) < 0.01
    section = level_section(fitting.worn, np.asarray(fitting.triangles), 1.0)
    assert section is not None
    assert np.nanmean(found[one_fold[:, 1] < -0.2]) == pytest.approx(section.fullness, rel=0.2)


def test_flat_lying_cloth_has_no_level_section(cone: Cone) -> None:
    fitting = cone()
    level = fitting.worn * (1, 1, 0) + (0, 0, 1.0)
    level[:, 2] += 0.01 * fitting.worn[:, 2]
    assert np.isnan(by_vertex.fullness(replace(fitting, worn=level))).all()


@pytest.mark.parametrize(("gap", "count"), [(0.01, 2.0), (0.02, 2.0), (0.03, 1.0)])
def test_layers_are_counted_within_reach(cone: Cone, gap: float, count: float) -> None:
    """A sheet above another, `gap` apart; past 2.5 cm they are apart. At the rim a line may miss."""
    step = np.linspace(-0.2, 0.2, 15)
    x, y = np.meshgrid(step, step, indexing="ij")
    low = np.column_stack([x.ravel(), y.ravel(), np.full(225, 1.0)])
    k = np.arange(225).reshape(15, 15)
    a, b, c, d = (p.ravel() for p in (k[:-1, :-1], k[1:, :-1], k[1:, 1:], k[:-1, 1:]))
    triangles = np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    worn = np.vstack([low, 0.97 * low * (1, 1, 0) + (0.003, 0.004, 1.0 + gap)])
    fitting = cone(
        worn=worn, flat=worn[:, :2], triangles=np.vstack([triangles, triangles + 225]), edges={"hem": np.array([0])}
    )
    inner = np.abs(worn[:, :2]).max(axis=1) < 0.15
    assert (by_vertex.layers(fitting)[inner] == count).all()


def test_levels_that_go_round_nothing_have_no_fullness(cone: Cone) -> None:
    """Two humps apart: together shorter than a cord round both, which would read as less than none."""
    fitting = cone()
    apart = fitting.worn.copy()
    apart[:, 0] = np.where(apart[:, 0] > 0, 0.05, -0.05) + 0.1 * apart[:, 0] + np.where(apart[:, 0] > 0, 0.4, -0.4)
    keep = np.ptp(np.sign(apart[fitting.triangles][:, :, 0]), axis=1) == 0
    found = by_vertex.fullness(replace(fitting, worn=apart, triangles=np.asarray(fitting.triangles)[keep]))
    assert not (found < -0.01).any()
