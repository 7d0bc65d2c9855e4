"""Lofted parts joined into one surface: balls, cylinders and cones, whose distance is a formula."""

from __future__ import annotations

import numpy as np
import pytest

from drape.body.implicit_surface import (
    FAR,
    ROWS,
    TURNS,
    Part,
    azimuths,
    cast,
    evaluate,
    evaluate_each,
    join,
    onto_surface,
    pull_through,
)


def tube(
    x: float = 0.0,
    radius: float = 0.1,
    *,
    top: float | None = None,
    blend: float = 0.001,
    frame: np.ndarray | None = None,
) -> Part:
    """A round part from 0 to 0.4 m along its axis, `radius` at its foot and `top` above, its middle at (x, 0, 0)."""
    sizes = np.linspace(radius, radius if top is None else top, ROWS)
    return Part(
        (0.0, 0.4), (radius, radius), np.zeros((ROWS, 2)), np.repeat(sizes[:, None], TURNS, axis=1),
        np.full((ROWS, TURNS), blend), np.eye(3) if frame is None else frame, np.array([x, 0.0, 0.0]),
    )  # fmt: skip


def round_about(radius: float, heights: tuple[float, ...] = (0.1, 0.2, 0.3), x: float = 0.0) -> np.ndarray:
    turn = np.linspace(0.0, 2 * np.pi, 40, endpoint=False) + 0.01
    return np.array([[x + radius * np.cos(a), radius * np.sin(a), z] for a in turn for z in heights])


def test_a_cylinders_function_is_the_distance_from_it() -> None:
    """Out from the axis the function is r - radius, exactly at its own radius and near it."""
    parts = join([tube()])
    for radius in (0.09, 0.1, 0.12):
        assert evaluate(parts, round_about(radius)) == pytest.approx(radius - 0.1, abs=1e-6)


def test_a_cap_closes_as_half_a_ball() -> None:
    """A cap as high as the part is wide is half a ball: on it nought, and a millimetre out a millimetre."""
    parts = join([tube()])
    turn, rise = np.meshgrid(np.linspace(0.0, 6.0, 13), np.linspace(0.1, 1.4, 6))
    out = np.stack([np.cos(turn) * np.cos(rise), np.sin(turn) * np.cos(rise), np.sin(rise)], axis=-1).reshape(-1, 3)
    assert evaluate(parts, [0.0, 0.0, 0.4] + 0.1 * out) == pytest.approx(0.0, abs=1e-6)
    assert evaluate(parts, [0.0, 0.0, 0.4] + 0.101 * out) == pytest.approx(0.001, abs=1e-5)
    assert evaluate(parts, [0.0, 0.0, 0.0] + 0.1 * out * [1, 1, -1]) == pytest.approx(0.0, abs=1e-6)


def test_a_cones_function_takes_the_slant_into_account() -> None:
    """Growing from 10 to 14 cm over 40 the side leans by atan 0.1; a step out counts cos of that."""
    parts = join([tube(top=0.14)])
    heights = (0.1, 0.2, 0.3)
    for height in heights:
        here = round_about(0.1 + 0.1 * height + 0.002, (height,))
        assert evaluate(parts, here) == pytest.approx(0.002 / np.hypot(1.0, 0.1), rel=2e-2)


def test_a_part_in_a_frame_is_where_the_frame_puts_it() -> None:
    """Rows of the frame are right, front, axis: with the axis along x the tube lies along x."""
    frame = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]])
    parts = join([tube(frame=frame)])
    lying = round_about(0.1)[:, [2, 0, 1]]
    assert evaluate(parts, lying) == pytest.approx(0.0, abs=1e-6)
    assert (tube(frame=frame).box[3:] - tube(frame=frame).box[:3] > [0.59, 0.19, 0.19]).all()


def test_azimuths_run_from_the_front_to_the_left() -> None:
    """The front is +y and the left -x: a part wider to its left than to its right is wider at -x."""
    one = tube()
    radius = one.radius * np.where(np.sin(azimuths()) > 0.5, 1.2, 1.0)
    wide = Part(one.span, one.caps, one.centre, radius, one.blend, one.frame, one.origin)
    left, right = evaluate(join([wide]), np.array([[-0.11, 0.0, 0.2], [0.11, 0.0, 0.2]]))
    assert left < 0 < right


def test_far_apart_parts_are_the_nearer_ones_and_each_keeps_its_own() -> None:
    parts = join([tube(), tube(0.5, 0.05)])
    points = np.vstack([round_about(0.11), round_about(0.06, x=0.5)])
    each = evaluate_each(parts, points)
    assert evaluate(parts, points) == pytest.approx(each.min(axis=1), abs=1e-12)
    assert (each[:120, 1] == FAR).sum() > 60 and (each[120:, 0] == FAR).sum() > 60
    assert evaluate(parts, points[120:], count=1).min() > 0.2  # the first part alone knows nothing of the second


def test_where_parts_meet_the_joint_is_filled_by_a_sixth_of_the_blend() -> None:
    """Where two functions are equal the joined one lies blend / 6 below them,
    and nothing where they differ by the blend.
    """
    blend = 0.03
    parts = join([tube(0.0), tube(0.22, blend=blend)])
    middle = np.array([[0.11, 0.0, 0.2]])
    each = evaluate_each(parts, middle)
    assert each[0] == pytest.approx([0.01, 0.01], abs=1e-6)
    assert evaluate(parts, middle) == pytest.approx(0.01 - blend / 6, abs=1e-6)
    apart = np.array([[0.11 - 0.016, 0.0, 0.2]])
    assert evaluate(parts, apart) == pytest.approx(-0.006 + 0.001, abs=1.1e-3)
    assert evaluate(parts, apart) == pytest.approx(evaluate_each(parts, apart).min(), abs=1e-9)


def test_points_go_to_the_nearest_place_of_the_surface() -> None:
    parts = join([tube()])
    start = round_about(0.108)
    moved = onto_surface(parts, start, rounds=12)
    assert np.hypot(moved[:, 0], moved[:, 1]) == pytest.approx(0.1, abs=2e-5)
    assert moved[:, 2] == pytest.approx(start[:, 2], abs=1e-4)


def test_rays_leave_where_the_surface_is_or_not_at_all() -> None:
    """From the axis: a level ray after the radius, one slanting by t after radius / cos t,
    one that begins too short never.
    """
    parts = join([tube()])
    lean = 0.3
    ways = np.array([[1.0, 0.0, 0.0], [np.cos(lean), 0.0, np.sin(lean)], [0.0, 0.0, 1.0]])
    assert cast(parts, np.array([0.0, 0.0, 0.2]), ways) == pytest.approx([0.1, 0.1 / np.cos(lean), 0.3], abs=1e-6)
    assert cast(parts, np.array([0.0, 0.0, 0.2]), ways[:1], reach=0.05) == pytest.approx([0.05])


def test_a_pulled_surface_runs_through_the_points_and_is_left_alone_beyond_reach() -> None:
    parts = join([tube()])
    points = np.array([[0.104, 0.0, 0.2], [0.0, -0.097, 0.2]])
    pulled = pull_through(parts, points, reach=0.06, softness=0.0)
    assert evaluate(pulled, points) == pytest.approx(0.0, abs=1e-12)
    assert np.abs(evaluate(parts, points)).min() > 0.002
    far = np.array([[-0.12, 0.0, 0.2], [0.104, 0.0, 0.35]])
    assert evaluate(pulled, far) == pytest.approx(evaluate(parts, far), abs=1e-15)
