"""What is read off a mesh: a ball's volume and arcs, a tilted section of a tube, by their formulas."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.special import ellipe

from drape.body.measure import is_watertight, measure_figure, taut_length, volume
from drape.body.stance import NECK_LEAN, UPRIGHT_STANCE
from drape.body.tape import TAPE_KEYS, fill_tape
from drape.body.trunk import mid_neck_place

RADIUS, HEIGHT = 0.07, 1.70


def turned_body(radii: np.ndarray, heights: np.ndarray, around: int) -> SimpleNamespace:
    """A closed body of circles of given radii and heights, foot and top closed by a point on the axis."""
    turn = np.linspace(0.0, 2 * np.pi, around, endpoint=False)
    rings = [
        np.stack([r * np.cos(turn), r * np.sin(turn), np.full(around, z)], 1)
        for r, z in zip(radii, heights, strict=True)
    ]
    points = np.vstack([*rings, [[0.0, 0.0, heights[0]], [0.0, 0.0, heights[-1]]]])
    foot, top, last = len(points) - 2, len(points) - 1, (len(radii) - 1) * around
    i = np.arange(around)
    k = (i + 1) % around
    found = [np.stack([np.full(around, foot), k, i], 1), np.stack([np.full(around, top), last + i, last + k], 1)]
    for row in range(len(radii) - 1):
        a, b = row * around, (row + 1) * around
        found += [np.stack([a + i, a + k, b + k], 1), np.stack([a + i, b + k, b + i], 1)]
    return SimpleNamespace(vertices=points, triangles=np.vstack(found))


@pytest.fixture(scope="module")
def ball() -> SimpleNamespace:
    """Radius 10 cm, its middle 1 m up."""
    rise = np.linspace(-np.pi / 2, np.pi / 2, 161)[1:-1]
    return turned_body(0.1 * np.cos(rise), 1.0 + 0.1 * np.sin(rise), 240)


@pytest.fixture(scope="module")
def tube() -> SimpleNamespace:
    """A tube from the floor to 1.7 m with all that measuring asks of a figure; its landmarks are where we put them."""
    heights = np.arange(0.0, HEIGHT + 0.001, 0.01)
    body = turned_body(np.full(len(heights), RADIUS), heights, 180)
    tape, _ = fill_tape({"stature": HEIGHT, "chest_girth": 0.95, "waist_girth": 0.8, "hip_girth": 0.95}, sex="man")
    marks = {"back_neck": [0, -RADIUS, 1.45], "front_neck": [0, RADIUS, 1.38], "knee_left": [0, RADIUS, 0.47], "knee_right": [0, RADIUS, 0.49],
             "ankle_left": [0, RADIUS, 0.07], "ankle_right": [0, RADIUS, 0.07]}  # fmt: skip
    for side, sign in (("left", -1.0), ("right", 1.0)):
        marks |= {f"side_neck_{side}": [sign * 0.05, 0, 1.44], f"shoulder_point_{side}": [sign * RADIUS, 0, 1.40],
                  f"deltoid_{side}": [sign * 0.2, 0, 1.3], f"wrist_{side}": [sign * RADIUS, 0, 0.80]}  # fmt: skip
    turn = np.radians(np.arange(0, 360, 5))
    lines = {
        side: np.linspace(marks[f"side_neck_{side}"], marks[f"shoulder_point_{side}"], 31) for side in ("left", "right")
    }
    return SimpleNamespace(
        **vars(body), landmarks={key: np.array(point, float) for key, point in marks.items()}, tape=tape, stance=UPRIGHT_STANCE,
        levels={"chest": 1.235, "waist": 1.085, "hip": 0.855}, arms=("down", "down"), bare=None,
        neck_base=np.stack([-0.06 * np.sin(turn), 0.06 * np.cos(turn), 1.42 + 0 * turn], 1),
        shoulder_line_left=lines["left"], shoulder_line_right=lines["right"],
    )  # fmt: skip


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
