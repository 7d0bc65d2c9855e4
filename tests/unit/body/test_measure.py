"""What is read off a mesh: a ball's volume and arcs, a tilted section of a tube, by their formulas."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.special import ellipe
from turned import HEIGHT, RADIUS, tube_figure, turned_body

from drape.body.measure import is_watertight, measure_figure, taut_length, volume
from drape.body.stance import NECK_LEAN
from drape.body.tape import TAPE_KEYS
from drape.body.trunk import mid_neck_place


@pytest.fixture(scope="module")
def ball() -> SimpleNamespace:
    """Radius 10 cm, its middle 1 m up."""
    rise = np.linspace(-np.pi / 2, np.pi / 2, 161)[1:-1]
    return turned_body(0.1 * np.cos(rise), 1.0 + 0.1 * np.sin(rise), 240)


@pytest.fixture(scope="module")
def tube() -> SimpleNamespace:
    return tube_figure()


def test_a_balls_volume_is_that_of_its_radius_and_turned_inside_out_negative(ball: SimpleNamespace) -> None:
    assert volume(ball) == pytest.approx(4 / 3 * np.pi * 0.1**3, rel=1e-3)
    inside_out = SimpleNamespace(vertices=ball.vertices, triangles=ball.triangles[:, ::-1])
    assert volume(inside_out) == pytest.approx(-volume(ball), rel=1e-12)


def test_a_hole_or_a_triangle_turned_over_is_not_watertight(ball: SimpleNamespace) -> None:
    assert is_watertight(ball)
    holed = SimpleNamespace(vertices=ball.vertices, triangles=ball.triangles[1:])
    over = ball.triangles.copy()
    over[7] = over[7][::-1]
    assert not is_watertight(holed)
    assert not is_watertight(SimpleNamespace(vertices=ball.vertices, triangles=over))


@pytest.mark.parametrize("angle", [0.6, 1.5, 2.8])
def test_a_tape_over_a_ball_is_an_arc(ball: SimpleNamespace, angle: float) -> None:
    """Between two places an angle apart seen from the middle: radius times it, never less than the chord."""
    ends = [np.array([0.1 * np.cos(a), 0.0, 1.0 + 0.1 * np.sin(a)]) for a in (angle / 2, -angle / 2)]
    found = taut_length(ball, *ends, outward=np.array([1.0, 0.0, 0.0]))
    assert found == pytest.approx(0.1 * angle, rel=2e-3)
    assert found > np.linalg.norm(ends[0] - ends[1])


def test_a_tube_measures_as_a_tube(tube: SimpleNamespace) -> None:
    got = measure_figure(tube)
    assert set(got) == set(TAPE_KEYS)
    for level in ("chest", "waist", "hip"):
        assert got[f"{level}_girth"] == pytest.approx(2 * np.pi * RADIUS, rel=1e-3)
        assert (got[f"{level}_breadth"], got[f"{level}_depth"]) == pytest.approx((2 * RADIUS, 2 * RADIUS), rel=1e-3)
        assert got[f"{level}_height"] == tube.levels[level]
    assert got["stature"] == pytest.approx(HEIGHT)
    assert (got["back_neck_height"], got["front_neck_height"], got["knee_height"]) == pytest.approx((1.45, 1.38, 0.48))
    assert (got["shoulder_breadth"], got["upper_arm_breadth"]) == pytest.approx((2 * RADIUS, 0.4))
    assert got["shoulder_length"] == pytest.approx(np.hypot(RADIUS - 0.05, 0.04))
    assert got["shoulder_slope"] == pytest.approx(np.arctan2(0.04, RADIUS - 0.05))
    assert got["arm_length"] == pytest.approx(0.60, abs=1e-4)  # straight down the side of the tube
    assert got["neck_base_girth"] == pytest.approx(2 * 72 * 0.06 * np.sin(np.pi / 72))


def test_the_mid_neck_is_measured_square_to_the_leaning_axis(tube: SimpleNamespace) -> None:
    """A tube cut by a plane that leans by t is an ellipse of half-axes r and r / cos t, round 4 a E(e)."""
    assert mid_neck_place(tube.tape)[1][2] == pytest.approx(np.cos(NECK_LEAN))
    long = RADIUS / np.cos(NECK_LEAN)
    assert 1.6 * tube.tape["neck_girth"] / (2 * np.pi) > np.hypot(
        long, 0.01
    )  # all of the section is near enough to count
    assert measure_figure(tube)["neck_girth"] == pytest.approx(4 * long * ellipe(np.sin(NECK_LEAN) ** 2), rel=2e-3)


def test_an_arm_that_does_not_hang_gives_no_length_and_no_breadth(tube: SimpleNamespace) -> None:
    one = measure_figure(SimpleNamespace(**{**vars(tube), "arms": ("down", "raised")}))
    assert one["upper_arm_breadth"] is None and one["arm_length"] == pytest.approx(0.60, abs=1e-4)
    none = measure_figure(SimpleNamespace(**{**vars(tube), "arms": ("forward", "raised")}))
    assert none["arm_length"] is None and none["wrist_height"] is None
