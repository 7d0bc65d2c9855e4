"""Arms and legs before they are joined: mirrored, of the lengths asked, clear of the trunk, on the floor."""

from __future__ import annotations

import numpy as np
import pytest

from drape.body.implicit_surface import azimuths, evaluate, join
from drape.body.limbs import HAND, Hang, both, direction, hanging_arm, legs, next_hang, thickness
from drape.body.survey import MEAN
from drape.body.tape import fill_tape
from drape.body.trunk import crotch_height, draw_curves, first_sections

TAPE, _ = fill_tape({"stature": 1.7558, "chest_girth": 0.9914, "waist_girth": 0.8399, "hip_girth": 0.9837}, sex="man")
STOUT, _ = fill_tape({"stature": 1.72, "chest_girth": 1.25, "waist_girth": 1.25, "hip_girth": 1.22}, sex="man")


def arms(tape: dict[str, float], hang: Hang = Hang(), room: float = 0.0) -> list:  # noqa: B008
    curves = draw_curves(tape)
    ends = (curves.shoulder_line_right[-1], curves.shoulder_line_left[-1])
    return [hanging_arm(tape, end, "man", first_sections(tape), hang, room) for end in ends]


@pytest.mark.parametrize(("out", "forward", "down"), [
    (0.0, 0.0, (0.0, 0.0, -1.0)), (np.pi / 2, 0.0, (1.0, 0.0, 0.0)), (0.0, np.pi / 2, (0.0, 1.0, 0.0)),
    (-np.pi / 6, 0.0, (-0.5, 0.0, -0.75**0.5)),
])  # fmt: skip
def test_a_limb_points_down_right_or_forward_and_its_axis_up_it(
    out: float, forward: float, down: tuple[float, ...]
) -> None:
    assert -direction(out, forward) == pytest.approx(np.array(down), abs=1e-15)


def test_left_arm_and_leg_are_the_right_ones_mirrored() -> None:
    right, left = arms(TAPE)
    for place in ("deltoid", "elbow", "wrist", "outward"):
        assert getattr(left, place) == pytest.approx(getattr(right, place) * [-1, 1, 1], abs=1e-12), place
    points = np.random.default_rng(3).uniform([0.05, -0.2, 0.0], [0.45, 0.2, 1.5], (400, 3))
    for parts in (both(arms(TAPE)), legs(TAPE, first_sections(TAPE))):
        whole = join(parts)
        here, there = evaluate(whole, points), evaluate(whole, points * [-1, 1, 1])
        near = here < 0.04  # further off a part out of reach is passed over, in the order they stand
        assert (here < 0).any() and there[near] == pytest.approx(here[near], abs=1e-9)


def test_an_arm_is_as_long_as_the_tape_less_the_rounding_of_the_shoulder() -> None:
    """Upper arm and forearm together: arm length less the drop to the deltoid's middle, 7 cm at the mean stature."""
    arm = arms(TAPE)[0]
    upper, fore = np.linalg.norm(arm.elbow - arm.deltoid), np.linalg.norm(arm.wrist - arm.elbow)
    assert upper + fore == pytest.approx(TAPE["arm_length"] - 0.070, abs=1e-9)
    longer = arms(TAPE, Hang(longer=0.03))[0]
    assert np.linalg.norm(longer.elbow - longer.deltoid) + np.linalg.norm(longer.wrist - longer.elbow) == pytest.approx(
        upper + fore + 0.03
    )
    assert np.linalg.norm(arm.wrist - arm.elbow) > upper > HAND


def test_the_outer_side_of_the_upper_arms_is_half_their_breadth_out() -> None:
    """At the height of the deltoid's middle; what the surface measures there is then fitted to 0 by `next_hang`."""
    for hang in (Hang(), Hang(out=0.02)):
        arm = arms(TAPE, hang)[0]
        reach = np.array(
            [[x, y, arm.deltoid[2]] for y in np.linspace(-0.1, 0.1, 41) for x in np.linspace(0.15, 0.35, 401)]
        )
        inside = reach[evaluate(join(arm.parts), reach) < 0]
        assert inside[:, 0].max() == pytest.approx(0.5 * TAPE["upper_arm_breadth"] + hang.out, abs=0.008)


@pytest.mark.parametrize("tape", [TAPE, STOUT], ids=["mean", "stout"])
@pytest.mark.parametrize("room", [0.0, 0.03])
def test_a_hanging_arm_stays_clear_of_chest_and_hip(tape: dict[str, float], room: float) -> None:
    """At waist and hip, where arms touch a body first, no point within the trunk's breadth and the room lies in an
    arm.
    """
    parts = join(both(arms(tape, room=room)))
    for level, half in zip(("waist", "hip"), first_sections(tape)[1:, 0], strict=True):
        y, x = np.meshgrid(np.linspace(-0.2, 0.3, 60), np.linspace(0.0, half + room, 30))
        points = np.stack([x.ravel(), y.ravel(), np.full(x.size, tape[f"{level}_height"])], axis=1)
        assert evaluate(parts, points).min() > 0.0, level


def test_a_hang_that_measures_as_asked_is_left_and_another_goes_the_way_it_is_off() -> None:
    arm, hang = arms(TAPE)[0], Hang()
    asked = np.array([0.5 * TAPE["upper_arm_breadth"], TAPE["arm_length"], TAPE["wrist_height"]])
    assert next_hang(TAPE, arm, hang, asked, wrist_asked=False) == hang
    short = next_hang(TAPE, arm, hang, asked - [0.01, 0.02, 0.0], wrist_asked=False)
    assert (short.out, short.longer) == pytest.approx((0.01, 0.02))
    low = next_hang(TAPE, arm, hang, asked - [0.0, 0.0, 0.01], wrist_asked=True)  # the wrist hangs a centimetre too low
    fore = arm.elbow[2] - arm.wrist[2]
    assert fore / np.cos(hang.forward) * np.cos(low.forward) == pytest.approx(fore - 0.01, abs=1e-9)


def test_a_mean_mans_arm_is_one_thick_and_a_fuller_chest_makes_it_thicker() -> None:
    mean = {key: MEAN["man"][key] for key in ("stature", "chest_girth")}
    assert thickness(mean, "man") == pytest.approx(1.0)
    assert thickness({**mean, "chest_girth": 2**0.5 * mean["chest_girth"]}, "man") == pytest.approx(2**0.3)
    assert thickness({key: 0.5 * value for key, value in mean.items()}, "man") == pytest.approx(
        0.5
    )  # a body half as large


def test_legs_reach_from_the_hip_to_feet_that_stand_on_the_floor() -> None:
    found = legs(TAPE, first_sections(TAPE))
    parts = join(found)
    assert parts.boxes[2:, 2] == pytest.approx(0.0, abs=0.004)  # a box is drawn 2 mm round its part
    assert found[0].span[1] == pytest.approx(TAPE["hip_height"])
    turn = azimuths()
    row = np.argmin(np.abs(np.linspace(*found[0].span, len(found[0].radius)) - TAPE["knee_height"]))
    knee = np.ptp(found[0].radius[row] * np.sin(turn))
    calf = np.argmin(np.abs(np.linspace(*found[0].span, len(found[0].radius)) - 0.75 * crotch_height(TAPE)))
    assert 0.09 < knee < np.ptp(found[0].radius[calf] * np.sin(turn))
    assert found[2].frame[2] @ [0.0, 1.0, 0.0] == 1.0  # a foot's axis points forward
