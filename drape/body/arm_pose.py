"""How arms are held: bent across, out of the cloak's opening, forward, raised.

In: an arm as it hangs (`limbs`), the body it must keep clear of, and the name of a hold. Out: the same arm, as long and
as thick, held so. Angles are ours. Axes as in `figure`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from drape.arrays import Floats
from drape.body.implicit_surface import ROWS, TURNS, Part, Parts, azimuths, evaluate
from drape.body.limbs import Arm, arm_stations, direction, thickness
from drape.body.superellipse import ovals
from drape.body.trunk import through

HOLDS = ("down", "forearm across", "out of the opening", "forward", "raised")
# Upper arm: out from and forward of straight down, degrees; out is no less than where it hangs free of the chest.
UPPER = {
    "forearm across": (0.0, 20.0),
    "out of the opening": (42.0, 14.0),
    "forward": (0.0, 26.0),
    "raised": (45.0, 3.0),
}
# Forearm: its direction by how far inward of straight ahead and how far up it points, degrees.
INWARD = {"forearm across": 78.0, "out of the opening": -72.0, "forward": 14.0}
UPWARD = {"forearm across": 4.0, "out of the opening": 0.0, "forward": 2.0}
JOINT_IN, JOINT_UP = 0.018, 0.024  # m, from the middle of the deltoid to the joint it turns about
KEEPS_OFF = 0.014  # m, between a forearm and the body


def held_arm(tape: Mapping[str, float], end: Floats, hung: Arm, hold: str, sex: str, body: Parts, room: float) -> Arm:
    """Return the arm held as `hold` (one of `HOLDS`) says; its roof passes just under the shoulder point `end` (3,)
    [m].

    hung: the same arm hanging, fitted to the tape. body: all parts but the arms. room [m]: what is worn on body and
    forearm, beyond which they keep apart.
    """
    if hold == "down":
        return hung
    sign = float(np.sign(hung.deltoid[0]))
    unit, thick = tape["stature"] / 1.7558, thickness(tape, sex)
    hang = (hung.deltoid - hung.elbow) / np.linalg.norm(hung.deltoid - hung.elbow)
    out, forward = np.radians(UPPER[hold])
    out = max(out, float(np.arcsin(abs(hang[0]))))
    joint = hung.deltoid + np.array([-sign * JOINT_IN, 0.0, JOINT_UP]) * unit
    lifted = np.clip((out - np.arcsin(abs(hang[0]))) / np.radians(40.0), 0.0, 1.0)
    upper = direction(sign * out, forward)
    radius = float(np.linalg.norm([JOINT_IN, JOINT_UP])) * unit
    middle = hung.deltoid + lifted * (joint - radius * upper - hung.deltoid)
    elbow = middle - np.linalg.norm(hung.deltoid - hung.elbow) * upper
    reach = float(np.linalg.norm(hung.elbow - hung.wrist))
    fore = (
        upper
        if hold == "raised"
        else _clear_forearm(elbow, reach + 0.19 * unit, hold, sign, body, 0.042 * thick + KEEPS_OFF + room)
    )
    wrist = elbow - reach * fore
    upper_length, radius_at_top = float(np.linalg.norm(middle - elbow)), 0.053 * thick
    stations = arm_stations(upper_length + reach, upper_length, radius_at_top, thick, unit)
    local = _thumb_up(upper) @ (end - middle) / [radius_at_top, 1.08 * radius_at_top, 1.0]
    roof = (local[2] - 0.0015) / np.sqrt(max(1.0 - local[0] ** 2 - local[1] ** 2, 0.3))
    caps = (0.038 * thick, float(max(roof, 0.02))), (0.014 * thick, 0.038 * thick)
    parts = (
        _length_of(stations[:5], middle, upper, caps[0], (0.036 * unit, 0.010 * unit)),
        _length_of(stations[4:], elbow, fore, caps[1], (0.016 * unit, 0.006 * unit)),
    )
    frame = _thumb_up(fore)
    outward = frame[0] if frame[0] @ np.array([sign, 0.5, 0.0]) > 0.0 else -frame[0]
    return Arm(parts, middle, elbow, wrist, outward, hung.wrist_radius)


def _clear_forearm(elbow: Floats, length: float, hold: str, sign: float, body: Parts, gap: float) -> Floats:
    """Return the axis of a forearm, from fingers to elbow, turned inward as far as it keeps `gap` [m] from the body."""
    along = np.linspace(0.06, length, 24)[:, None]
    for inward in np.radians(np.arange(INWARD[hold], -90.0, -2.0)):
        up = np.radians(UPWARD[hold])
        way = np.array([-sign * np.sin(inward) * np.cos(up), np.cos(inward) * np.cos(up), np.sin(up)])
        if evaluate(body, elbow + along * way).min() > gap:
            break
    return -way


def _length_of(
    stations: Sequence[tuple[float, ...]], origin: Floats, axis: Floats, caps: tuple[float, float],
    blends: tuple[float, float],
) -> Part:  # fmt: skip
    """Return upper arm or forearm with hand as a straight part that ends at `origin`;
    blends [m] there and further down.
    """
    rows = [(place - stations[0][0], half, deep) for place, half, deep in stations]
    place = np.linspace(rows[-1][0], 0.0, ROWS)
    table = through(rows, place, 0.010)
    radii = ovals(table[:, 0], table[:, 0], table[:, 1], table[:, 1], 0.1, azimuths())
    blend = np.tile(np.interp(-place, (0.0, 0.05, 0.11), (blends[0], *blends))[:, None], (1, TURNS))
    return Part((float(place[0]), 0.0), caps, np.zeros((ROWS, 2)), radii, blend, _thumb_up(axis), origin)


def _thumb_up(axis: Floats) -> Floats:
    """Return the frame of a straight arm: rows right, front, axis; its front, the thumb's side, up or ahead."""
    lead = np.array([0.0, 0.0, 1.0]) if abs(axis[2]) < 0.5 else np.array([0.0, 1.0, 0.0])
    front = lead - (lead @ axis) * axis
    front /= np.linalg.norm(front)
    return np.stack([np.cross(front, axis), front, axis])
