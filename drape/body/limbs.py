"""Arms and legs of the mannequin as lofted parts.

In: the full tape, SI, the shoulder lines, the trunk's sections, and how the arms are held. Out: `Part`s for
`implicit_surface.join`, and where the arms' landmarks lie [m]. Proportions without a source are ours, judged by eye.
Axes as in `figure`. An arm's own axis runs from fingers to shoulder, so that a hanging arm's frame is nearly upright.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from drape.arrays import Floats
from drape.body.implicit_surface import ROWS, TURNS, Part, azimuths
from drape.body.superellipse import ovals
from drape.body.survey import MEAN
from drape.body.trunk import UPRIGHT, crotch_height, through

CLEARANCES = (("chest", 0.022), ("waist", 0.025), ("hip", 0.028))  # m, least between hanging arm and trunk
DELTOID = 0.053  # m, radius of the deltoid on a mean man's arm (ours)
HAND = 0.1896  # m, wrist to finger tips at a stature of 1.756 (ours)
UPPER_ARM_FORWARD, FOREARM_FORWARD, MOST_FORWARD = np.radians(-3.0), np.radians(13.0), np.radians(50.0)
LEAST_SPLAY_DEG, MOST_SPLAY_DEG = 6.0, 32.0


@dataclass(frozen=True)
class Arm:
    """One arm: its parts and the places [m] on it."""

    parts: tuple[Part, ...]
    deltoid: Floats  # (3,) middle of the section where the breadth over the upper arms is taken
    elbow: Floats  # (3,) middle of the joint
    wrist: Floats  # (3,) middle of the wrist
    outward: Floats  # (3,) unit, from the wrist's middle to its outer side
    wrist_radius: float  # [m] that way


def legs(tape: Mapping[str, float], sections: Floats) -> list[Part]:
    """Return right leg, left leg, right foot, left foot; girths follow the hip's (ours)."""
    stature, hip, knee, ankle = tape["stature"], tape["hip_height"], tape["knee_height"], tape["ankle_height"]
    unit = stature / 1.7558
    crotch = crotch_height(tape)
    breadth, depth = sections[2, :2]
    full = breadth / 0.1716
    slim = full**0.6 * unit**0.4
    thigh = crotch - knee
    lean = (unit / full) ** 0.25  # full thighs taper sooner
    found, feet = [], []
    for sign in (1.0, -1.0):
        rows = [
            # place, middle x, middle y, half-breadth, front, back
            (hip, 0.470 * breadth, -0.010 * unit, 0.455 * breadth, 0.72 * depth, 0.76 * depth),
            (crotch + 0.5 * (hip - crotch), 0.487 * breadth, -0.010 * unit, 0.473 * breadth, 0.78 * depth,
             0.84 * depth),
            (crotch, 0.490 * breadth, -0.010 * unit, 0.475 * breadth, 0.80 * depth, 0.85 * depth),
            (crotch - 0.12 * thigh, 0.503 * breadth, -0.009 * unit, 0.458 * breadth, 0.79 * depth, 0.84 * depth),
            (crotch - 0.42 * thigh, 0.530 * breadth * lean, -0.006 * unit, 0.445 * breadth * lean, 0.079 * full,
             0.083 * full),
            (knee + 0.06 * unit, 0.0995 * (0.4 * full + 0.6 * unit), -0.006 * unit, 0.061 * slim, 0.064 * slim,
             0.061 * slim),
            (knee - 0.03 * unit, 0.101 * (0.4 * full + 0.6 * unit), -0.011 * unit, 0.054 * slim, 0.055 * slim,
             0.055 * slim),
            (ankle + 0.66 * (knee - ankle), 0.103 * (0.4 * full + 0.6 * unit), -0.025 * unit, 0.058 * slim,
             0.050 * slim, 0.066 * slim),
            (ankle + 0.25 * (knee - ankle), 0.107 * (0.4 * full + 0.6 * unit), -0.030 * unit, 0.039 * slim,
             0.040 * slim, 0.043 * slim),
            (ankle + 0.01 * unit, 0.108 * (0.4 * full + 0.6 * unit), -0.032 * unit, 0.034 * slim, 0.040 * slim,
             0.042 * slim),
            (0.55 * ankle, 0.108 * (0.4 * full + 0.6 * unit), -0.030 * unit, 0.031 * slim, 0.042 * slim, 0.041 * slim),
        ]  # fmt: skip
        place = np.linspace(0.55 * ankle, rows[0][0], ROWS)
        table = through(rows, place, 0.022)
        centre = np.stack([sign * table[:, 0], table[:, 1]], axis=1)
        inner = np.clip(sign * np.sin(azimuths()), 0.0, 1.0) ** 2  # towards the other leg
        blend = unit * np.tile(0.009 + 0.036 * inner + 0.010 * np.cos(azimuths()) ** 2, (ROWS, 1))
        found.append(Part(
            (float(place[0]), float(place[-1])), (0.3 * ankle, 0.05 * unit), centre,
            ovals(table[:, 2], table[:, 2], table[:, 3], table[:, 4], 0.0, azimuths()), blend, UPRIGHT, np.zeros(3),
        ))  # fmt: skip
        feet.append(_foot(sign, float(table[0, 0]), ankle, unit))
    return found + feet


def _foot(sign: float, x: float, ankle: float, unit: float) -> Part:
    """Return a plain foot, lofted from heel to toes; its own front is up."""
    heel, toe = -0.078 * unit, 0.165 * unit
    top = ankle + 0.005 * unit
    stations = [
        # along, half-breadth, height of top
        (heel + 0.02 * unit, 0.030, 0.75 * top),
        (-0.03 * unit, 0.034, 0.97 * top),
        (0.03 * unit, 0.038, 0.90 * top),
        (0.09 * unit, 0.046, 0.62 * top),
        (0.13 * unit, 0.045, 0.46 * top),
        (toe - 0.02 * unit, 0.036, 0.38 * top),
    ]
    place = np.linspace(stations[0][0], stations[-1][0], ROWS)
    table = through(stations, place, 0.012)
    wide = table[:, 0] * unit
    middle = 0.34 * table[:, 1]
    out = x * sign + sign * 0.10 * np.maximum(0.0, place + 0.03)
    # the part's own right is the figure's left, its front is up, its axis forward
    frame = np.array([[-1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, 1.0, 0.0]])
    radius = ovals(wide, wide, table[:, 1] - middle, middle, 0.45, azimuths())
    centre = np.stack([-out, middle], axis=1)
    return Part(
        (float(place[0]), float(place[-1])), (0.02 * unit, 0.02 * unit), centre, radius, np.full((ROWS, TURNS), 0.03),
        frame, np.zeros(3),
    )  # fmt: skip


@dataclass(frozen=True)
class Hang:
    """What is left to fit of a hanging arm: how far out and how long it is beyond the tape, its forearm forward."""

    out: float = 0.0  # [m]
    longer: float = 0.0  # [m]
    forward: float = FOREARM_FORWARD  # [rad]


def thickness(tape: Mapping[str, float], sex: str) -> float:
    """Return how thick the arms are, over a mean man's: they follow the chest girth (ours)."""
    unit = tape["stature"] / 1.7558
    reference = MEAN["woman" if sex == "woman" else "man"]
    thick = (tape["chest_girth"] / reference["chest_girth"] / unit) ** 0.6 * unit
    return thick * (0.90 if sex == "woman" else 1.0)


def hanging_arm(
    tape: Mapping[str, float], end: Floats, sex: str, sections: Floats, hang: Hang, room: float = 0.0
) -> Arm:
    """Return an arm that hangs from a shoulder point `end` [m], out of the way of chest and hip and of `room` more."""
    sign = float(np.sign(end[0]))
    unit, thick = tape["stature"] / 1.7558, thickness(tape, sex)
    outer = 0.5 * tape["upper_arm_breadth"] + hang.out
    beyond = max(outer - abs(end[0]), 0.010)
    slack = min(beyond / 0.56, 0.095 * thick)  # radius of the deltoid's roof outward
    drop = 0.070 * unit
    level = end[2] - drop
    radius = DELTOID * thick
    middle = np.array([sign * (outer - 0.97 * radius), end[1] - 0.006, level])
    length = tape["arm_length"] + hang.longer - drop
    upper_length = 0.42 * length
    above = [(sections[row, 0] + gap + room, tape[f"{name}_height"]) for row, (name, gap) in enumerate(CLEARANCES)]
    out = _splay(
        [place for place in above if place[1] > level - upper_length - 0.08], abs(middle[0]), level, 0.048 * thick
    )
    elbow = middle - upper_length * direction(sign * out, UPPER_ARM_FORWARD)
    fore_out = _splay([place for place in above if place[1] < elbow[2]], abs(elbow[0]), elbow[2], 0.036 * thick)
    fore_axis = direction(sign * fore_out, hang.forward)
    wrist = elbow - (length - upper_length) * fore_axis
    clear = level - tape["chest_height"]
    part = _whole_arm(_Line(middle, elbow, wrist, fore_axis), end, thick, slack, unit, clear)
    outward = sign * _frame(fore_axis)[0]
    return Arm((part,), middle, elbow, wrist, outward, 0.0240 * thick)


def next_hang(tape: Mapping[str, float], arm: Arm, hang: Hang, got: Floats, wrist_asked: bool) -> Hang:
    """Return the hang corrected for what the surface measures: breadth over the upper arm, arm length,
    wrist height [m].

    With the wrist's height asked and the length not, the length follows it; with both, the forearm is bent forward.
    """
    out = hang.out + 0.5 * tape["upper_arm_breadth"] - got[0]
    longer = hang.longer + tape["arm_length"] - got[1]
    forward = hang.forward
    if wrist_asked:
        fore = np.linalg.norm(arm.elbow - arm.wrist)
        straight = (arm.elbow[2] - arm.wrist[2]) / np.cos(hang.forward)
        wanted = (arm.elbow[2] - arm.wrist[2] + got[2] - tape["wrist_height"]) / straight
        forward = float(np.arccos(np.clip(wanted, np.cos(MOST_FORWARD), 1.0))) if fore > 0.0 else forward
    return Hang(out, longer, forward)


def _splay(obstacles: Sequence[tuple[float, float]], start: float, level: float, radius: float) -> float:
    """Return the angle out from vertical [rad] at which a limb from (start, level) clears each (reach, height) [m]."""
    tangent = np.tan(np.radians(LEAST_SPLAY_DEG))
    for reach, height in obstacles:
        tangent = max(tangent, (reach + 1.05 * radius - start) / max(level - height, 0.05))
    return float(np.arctan(min(tangent, np.tan(np.radians(MOST_SPLAY_DEG)))))


def direction(out: float, forward: float) -> Floats:
    """Return the unit vector up along an arm that points `out` [rad] to the right and `forward` of straight down."""
    down = np.array([np.sin(out), np.cos(out) * np.sin(forward), -np.cos(out) * np.cos(forward)])
    return -down


def _frame(axis: Floats) -> Floats:
    """Return the frame of an arm: rows right, front, axis; as near to upright as the axis lets it."""
    right = np.array([1.0, 0.0, 0.0]) - axis[0] * axis
    if np.linalg.norm(right) < 0.3:
        right = np.array([0.0, 0.0, -np.sign(axis[0])]) + np.sign(axis[0]) * axis[2] * axis
    right /= np.linalg.norm(right)
    return np.stack([right, np.cross(axis, right), axis])


def arm_stations(length: float, upper: float, radius: float, thick: float, unit: float) -> list[tuple[float, ...]]:
    """Return half-breadth and half-depth along an arm, deltoid 0 to finger tips; `length` to the wrist [m]."""
    fore = length - upper
    return [
        (0.0, radius, 1.08 * radius),
        (-0.22 * upper, 0.95 * radius, 1.03 * radius),
        (-0.45 * upper, 0.047 * thick, 0.051 * thick),
        (-0.75 * upper, 0.043 * thick, 0.046 * thick),
        (-upper, 0.0405 * thick, 0.0425 * thick),
        (-upper - 0.20 * fore, 0.0415 * thick, 0.0450 * thick),
        (-upper - 0.50 * fore, 0.0360 * thick, 0.0395 * thick),
        (-upper - 0.85 * fore, 0.0265 * thick, 0.0320 * thick),
        (-length, 0.0240 * thick, 0.0305 * thick),
        (-length - 0.035 * unit, 0.0215 * unit, 0.0360 * unit),
        (-length - 0.090 * unit, 0.0175 * unit, 0.0420 * unit),
        (-length - 0.145 * unit, 0.0145 * unit, 0.0370 * unit),
        (-length - HAND * unit + 0.012 * unit, 0.0110 * unit, 0.0240 * unit),
    ]


@dataclass(frozen=True)
class _Line:
    """Where an arm goes: the middle of its deltoid, elbow and wrist [m], (3,),
    and where the forearm points from, (3,).
    """

    middle: Floats
    elbow: Floats
    wrist: Floats
    fore_axis: Floats


def _whole_arm(line: _Line, end: Floats, thick: float, slack: float, unit: float, clear: float) -> Part:
    """Return an arm bent a little at the elbow as one part along the line from wrist to deltoid.

    Its roof passes just under the shoulder point `end`; `slack` is the roof's half-width outward; from `clear` below
    the deltoid on the arm stands free of the trunk.
    """
    middle, wrist, sign = line.middle, line.wrist, float(np.sign(end[0]))
    axis = (middle - wrist) / np.linalg.norm(middle - wrist)
    frame = _frame(axis)
    bends = (np.array([middle, line.elbow, wrist, wrist - HAND * unit * line.fore_axis]) - middle) @ frame.T
    length, upper = -bends[2, 2], -bends[1, 2]
    stations = arm_stations(length, upper, DELTOID * thick, thick, unit)
    place = np.linspace(stations[-1][0], 0.0, ROWS)
    table = through(stations, place, 0.013)
    bend = np.stack([np.interp(place, bends[::-1, 2], bends[::-1, i]) for i in (0, 1)], axis=1)
    bend = gaussian_filter1d(bend, 0.030 * unit / (place[1] - place[0]), axis=0, mode="nearest")
    bend -= bend[-1]
    share = np.clip(1.0 + place / min(0.40 * upper, 0.75 * clear), 0.0, 1.0)
    share = share * share * (3.0 - 2.0 * share)
    shift = (slack - table[:, 0]) * share
    outer, inner = table[:, 0] + shift, np.maximum(table[:, 0] - 0.3 * shift, 0.6 * table[:, 0])
    sides = (outer, inner) if sign > 0 else (inner, outer)
    bend[:, 0] -= sign * shift
    local = frame @ (end - middle)
    across, along = abs(sign * local[0] + shift[-1]) / outer[-1], local[1] / table[-1, 1]
    cap = (local[2] - 0.0015) / np.sqrt(max(1.0 - across * across - along * along, 0.3))
    radii = ovals(sides[0], sides[1], table[:, 1], table[:, 1], 0.1, azimuths())
    blend = np.interp(-place, (0.0, 0.50 * clear, 0.80 * clear), (0.036 * unit, 0.020 * unit, 0.006 * unit))
    return Part(
        (float(place[0]), 0.0),
        (0.014 * unit, float(max(cap, 0.02))),
        bend,
        radii,
        np.tile(blend[:, None], (1, TURNS)),
        frame,
        middle,
    )


def both(arms: Sequence[Arm]) -> list[Part]:
    """Return the parts of right and left arm, in order."""
    return [part for arm in arms for part in arm.parts]
