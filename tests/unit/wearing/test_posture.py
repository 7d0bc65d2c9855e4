"""A figure bent at its joints: it keeps its limbs' lengths, stands on the floor, and goes back as it came."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from drape.wearing.posture import (
    HANGING,
    SIDES,
    UPRIGHT,
    Held,
    Posture,
    bent,
    between,
    carried_by,
    held_as,
    posed,
    stride,
)


@pytest.fixture(scope="module")
def joints(cloak):
    return cloak.joints


def marks(joints, posture):
    return posed(joints, bent(joints, posture), joints.figure.field).landmarks


def test_upright_it_is_the_figure_itself(joints):
    assert np.abs(bent(joints, UPRIGHT) - joints.figure.vertices).max() < 1e-12


def test_a_lean_brings_the_shoulders_forward_by_its_sine(joints):
    lean = np.radians(30.0)
    before, after = joints.figure.landmarks, marks(joints, Posture(lean=lean))
    hips = joints.places["hip left"]
    for side in SIDES:
        place = before[f"shoulder_point_{side}"]
        high, ahead = place[2] - hips[2], place[1] - hips[1]
        exact = hips[1] + ahead * np.cos(lean) + high * np.sin(lean)
        assert after[f"shoulder_point_{side}"][1] == pytest.approx(exact, abs=0.003)
        for low in (f"knee_{side}", f"ankle_{side}"):
            assert np.linalg.norm(after[low] - before[low]) < 0.003


def test_a_turn_turns_the_shoulder_line_to_the_left(joints):
    turn = np.radians(30.0)
    after = marks(joints, Posture(turn=turn))
    line = after["shoulder_point_left"] - after["shoulder_point_right"]
    assert np.arctan2(-line[1], -line[0]) == pytest.approx(turn, abs=0.01)


@pytest.mark.parametrize("hold", ["forward", "out of the opening", "reach"])
def test_a_held_arm_keeps_its_length_and_the_other_stays(joints, hold):
    before, after = joints.figure.landmarks, marks(joints, Posture(arms=(HANGING, held_as(joints, "right", hold))))
    elbow = joints.places["elbow right"]
    whole = bent(joints, Posture(arms=(HANGING, held_as(joints, "right", hold))))
    moved = elbow + carried_by(joints.figure.vertices, whole, joints.thinned, elbow[None])[0]
    fore = np.linalg.norm(before["wrist_right"] - elbow)
    assert np.linalg.norm(after["wrist_right"] - moved) == pytest.approx(fore, rel=0.06)
    assert np.linalg.norm(after["wrist_left"] - before["wrist_left"]) < 1e-9
    if hold == "reach":
        assert after["wrist_right"][2] == pytest.approx(joints.places["shoulder right"][2], abs=0.05)
    assert after["wrist_right"][2] > before["wrist_right"][2] + 0.2


def test_a_step_parts_the_feet_by_a_stride_and_keeps_to_the_floor(joints):
    figure = joints.figure
    x = bent(joints, Posture(step=stride(figure)))
    after = posed(joints, x, figure.field).landmarks
    apart = after["ankle_right"][1] - after["ankle_left"][1]
    assert apart == pytest.approx(0.41 * figure.tape["stature"], rel=0.06)
    assert x[:, 2].min() == pytest.approx(figure.vertices[:, 2].min(), abs=1e-9)
    assert after["crown"][2] < figure.landmarks["crown"][2]


def test_halfway_lies_between(joints):
    goal = Posture(lean=0.4, turn=-0.2, step=0.1, arms=(Held((0.5, 0.0, 0.0)), HANGING))
    assert between(UPRIGHT, goal, 0.0) == UPRIGHT and between(UPRIGHT, goal, 1.0) == goal
    half = between(UPRIGHT, goal, 0.5)
    assert (half.lean, half.turn, half.step, half.arms[0].upper[0]) == (0.2, -0.1, 0.05, 0.25)
    assert half != replace(half, lean=0.0)


def test_what_lies_on_a_surface_goes_with_it(joints):
    """All of it moved alike moves what is near alike, whatever the weights; nothing near nothing."""
    figure, way = joints.figure, np.array([0.02, -0.01, 0.03])
    points = figure.vertices[::500] + 0.004
    moved = carried_by(figure.vertices, figure.vertices + way, joints.thinned, points)
    assert np.abs(moved - way).max() < 1e-12
    assert carried_by(figure.vertices, figure.vertices, joints.thinned, np.empty((0, 3))).shape == (0, 3)
