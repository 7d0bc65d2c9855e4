"""Posture: the wearer at one moment of a move: a figure bent at hips, waist, shoulders and elbows.

In: a `Figure` that stands with its arms down, and a `Posture`, angles [rad]. Out: the same figure bent so, with the
same triangles: vertices, landmarks, signed distance. Where its surface is bent the angle grows evenly over a few
centimetres, so that nothing tears. How far a joint may be bent is ours. Axes as in `figure`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

import numpy as np
from scipy.sparse import coo_array, csr_array
from scipy.spatial import cKDTree

from drape.arrays import Flags, Floats, Ints
from drape.body.arm_pose import INWARD, UPPER, UPWARD
from drape.body.figure import REGIONS, Figure
from drape.body.signed_distance import DistanceField
from drape.triangle import sides_facing

SIDES: Final = ("left", "right")
SOFT_ROUNDS: Final = MappingProxyType({"upper": 30, "fore": 14, "leg": 60})  # of evening a joint's bend over the mesh
UPPER_SHARE, DROP = 0.42, 0.070  # of the arm's length, and m from the shoulder point, to the deltoid; as in `limbs`
JOINT_IN, JOINT_DOWN = 0.022, 0.046  # m, from the shoulder point to the joint the arm turns about (ours)
STEP_SHARE: Final = 0.41  # of stature: a walking step, from heel to heel; from memory
THINNED: Final = 0.02  # m, between the vertices by whose movement what lies near them is carried
NEAREST: Final = 24  # of them

Turn = tuple[float, float, float]  # a rotation: its axis times its angle [rad]
STILL: Final[Turn] = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Held:
    """How an arm is held beside how it hangs: turned about the shoulder, then the forearm about the elbow."""

    upper: Turn = STILL
    fore: Turn = STILL


HANGING: Final = Held()


@dataclass(frozen=True)
class Posture:
    """How the wearer is bent [rad].

    lean: forward about the hips. turn: of the trunk about the upright, to the wearer's left. step: each leg from
    straight down, the right one ahead; negative, the left. arms: left and right.
    """

    lean: float = 0.0
    turn: float = 0.0
    step: float = 0.0
    arms: tuple[Held, Held] = (HANGING, HANGING)


UPRIGHT: Final = Posture()


def between(a: Posture, b: Posture, share: float) -> Posture:
    """The posture a share of the way from one to another."""

    def mixed(p: Turn, q: Turn) -> Turn:
        return tuple((1 - share) * x + share * y for x, y in zip(p, q, strict=True))  # type: ignore[return-value]

    arms = tuple(Held(mixed(p.upper, q.upper), mixed(p.fore, q.fore)) for p, q in zip(a.arms, b.arms, strict=True))
    lean, turn, step = mixed((a.lean, a.turn, a.step), (b.lean, b.turn, b.step))
    return Posture(lean, turn, step, (arms[0], arms[1]))


@dataclass(frozen=True)
class Joints:
    """A figure with its arms down and where it bends.

    By side: the places of shoulder, elbow and hip joint [m], (3,), and how much of a joint's turn each vertex makes
    for upper arm, forearm and leg, (n,) from 0 to 1. trunk: how much of a lean, waist: of a turn, (n,). along: way of
    each vertex from the shoulder joint towards the wrist [m], (n,), by side. is_left: which lie left of the middle.
    """

    figure: Figure
    places: Mapping[str, Floats]
    shares: Mapping[str, Floats]
    trunk: Floats
    waist: Floats
    along: Mapping[str, Floats]
    is_left: Flags
    thinned: Ints


def joints_of(figure: Figure) -> Joints:
    """Where a figure bends. It must have been built with its arms down."""
    vertices, marks = figure.vertices, figure.landmarks
    unit = figure.tape["stature"] / 1.7558
    region = np.array(REGIONS)[figure.vertex_regions]
    evened = _averaging(figure.triangles, len(vertices))
    hip = figure.levels["hip"]
    crotch = 2.0 * figure.levels["mid_thigh"] - figure.levels["knee"]
    places, shares, along = {}, {}, {}
    for side, sign in (("left", -1.0), ("right", 1.0)):
        point, wrist = marks[f"shoulder_point_{side}"], marks[f"wrist_{side}"]
        shoulder = point + np.array([-sign * JOINT_IN, 0.0, -JOINT_DOWN]) * unit
        is_arm = region == f"arm_{side}"
        down = (wrist - shoulder) / np.linalg.norm(wrist - shoulder)
        along[side] = (vertices - shoulder) @ down
        drop = DROP * unit
        elbow_at = drop + UPPER_SHARE * (figure.tape["arm_length"] - drop) - JOINT_DOWN * unit
        ring = is_arm & (np.abs(along[side] - elbow_at) < 0.015)
        places[f"shoulder {side}"], places[f"elbow {side}"] = shoulder, vertices[ring].mean(axis=0)
        shares[f"upper {side}"] = _soft(evened, is_arm, "upper")
        shares[f"fore {side}"] = _soft(evened, is_arm & (along[side] > elbow_at), "fore")
        is_leg = (region == "leg") & (sign * vertices[:, 0] > 0.0)
        places[f"hip {side}"] = np.array([sign * 0.09 * unit, 0.0, hip + 0.02 * unit])
        shares[f"leg {side}"] = _soft(evened, is_leg, "leg")
    arm = np.maximum(shares["upper left"], shares["upper right"])
    trunk = _grown(vertices[:, 2], crotch, 0.5 * (hip + figure.levels["waist"]))
    waist = _grown(vertices[:, 2], hip, figure.levels["chest"])
    return Joints(
        figure, places, shares, np.maximum(trunk, arm), np.maximum(waist, arm), along, vertices[:, 0] < 0.0,
        _thinned(vertices),
    )  # fmt: skip


def _averaging(triangles: Ints, count: int) -> csr_array:
    """What makes each vertex the mean of itself and its neighbours, (n, n)."""
    ends = np.sort(sides_facing(triangles), axis=2).reshape(-1, 2)
    ends = np.unique(ends, axis=0)
    rows = np.concatenate([ends[:, 0], ends[:, 1], np.arange(count)])
    columns = np.concatenate([ends[:, 1], ends[:, 0], np.arange(count)])
    matrix = csr_array(coo_array((np.ones(len(rows)), (rows, columns)), shape=(count, count)))
    share = 1.0 / np.asarray(matrix.sum(axis=1)).ravel()
    return csr_array(matrix.multiply(share[:, None]))


def _soft(evened: csr_array, belongs: Flags, joint: str) -> Floats:
    share = belongs.astype(np.float64)
    for _ in range(SOFT_ROUNDS[joint]):
        share = evened @ share
    return share


def _grown(height: Floats, low: float, high: float) -> Floats:
    """0 below low, 1 above high, evenly between."""
    share = np.clip((height - low) / (high - low), 0.0, 1.0)
    return share * share * (3.0 - 2.0 * share)


def _thinned(vertices: Floats) -> Ints:
    """Some of the vertices, one in each cube of THINNED."""
    _, first = np.unique(np.floor(vertices / THINNED).astype(np.int64), axis=0, return_index=True)
    return np.sort(first)


# --- how an arm comes to be held --------------------------------------------------------------


def held_as(joints: Joints, side: str, hold: str) -> Held:
    """The turns that bring an arm from hanging to a hold of `arm_pose`, or to `reach`: straight ahead, level."""
    sign = 1.0 if side == "right" else -1.0
    shoulder, elbow = joints.places[f"shoulder {side}"], joints.places[f"elbow {side}"]
    wrist = joints.figure.landmarks[f"wrist_{side}"]
    upper, fore = _unit(elbow - shoulder), _unit(wrist - elbow)
    if hold == "reach":
        ahead = _unit(np.array([0.25 * upper[0], 1.0, 0.0]))
        turn = _turn_to(upper, ahead)
        return Held(_told(turn), _told(_turn_to(fore, _turned(ahead, -turn))))
    out, forward = np.radians(UPPER[hold])
    out = max(float(out), float(np.arcsin(abs(upper[0]))))
    wanted = np.array([sign * np.sin(out), np.cos(out) * np.sin(forward), -np.cos(out) * np.cos(forward)])
    inward, up = np.radians((INWARD[hold], UPWARD[hold]))
    way = np.array([-sign * np.sin(inward) * np.cos(up), np.cos(inward) * np.cos(up), np.sin(up)])
    turn = _turn_to(upper, wanted)
    return Held(_told(turn), _told(_turn_to(fore, _turned(way, -turn))))


def _unit(vector: Floats) -> Floats:
    return vector / np.linalg.norm(vector)


def _told(turn: Floats) -> Turn:
    return float(turn[0]), float(turn[1]), float(turn[2])


def _turn_to(a: Floats, b: Floats) -> Floats:
    """The shortest rotation from one direction to another, its axis times its angle, (3,)."""
    axis = np.cross(a, b)
    size = float(np.linalg.norm(axis))
    return np.zeros(3) if size < 1e-12 else axis / size * float(np.arctan2(size, a @ b))


def _turned(points: Floats, turn: Floats, share: Floats | float = 1.0) -> Floats:
    """Points (..., 3) rotated by so much (share) of a rotation (3,), about the origin (Rodrigues)."""
    angle = float(np.linalg.norm(turn))
    if angle < 1e-12:
        return points
    axis = turn / angle
    cos, sin = (np.asarray(f(np.multiply(share, angle)))[..., None] for f in (np.cos, np.sin))
    along = (points @ axis)[..., None] * axis
    return along + cos * (points - along) + sin * np.cross(axis, points)


# --- the figure bent --------------------------------------------------------------------------


def bent(joints: Joints, posture: Posture) -> Floats:
    """The figure's vertices so bent [m], (n, 3); it stands on the floor whatever its legs do."""
    figure, places, shares = joints.figure, joints.places, joints.shares
    x = figure.vertices.copy()
    lowest = x[:, 2].min()
    for side, held in zip(SIDES, posture.arms, strict=True):
        for joint, limb, turn in (("elbow", "fore", held.fore), ("shoulder", "upper", held.upper)):
            at = places[f"{joint} {side}"]
            x = at + _turned(x - at, np.array(turn), shares[f"{limb} {side}"])
        swing = np.array([posture.step if side == "right" else -posture.step, 0.0, 0.0])
        hip = places[f"hip {side}"]
        x = hip + _turned(x - hip, swing, shares[f"leg {side}"])
    middle = np.array([0.0, figure.neck_centre[1], 0.0])
    x = middle + _turned(x - middle, np.array([0.0, 0.0, posture.turn]), joints.waist)
    hips = places["hip left"] * [0.0, 1.0, 1.0]
    x = hips + _turned(x - hips, np.array([-posture.lean, 0.0, 0.0]), joints.trunk)
    x[:, 2] += lowest - x[:, 2].min()
    return x


def posed(joints: Joints, vertices: Floats, field: DistanceField) -> Figure:
    """The figure of vertices so bent and their signed distance, with landmarks and lines of its own."""
    figure = joints.figure
    lines = (figure.neck_base, figure.shoulder_line_left, figure.shoulder_line_right, *figure.landmarks.values())
    points = np.vstack([*lines, figure.neck_centre])
    moved = points + carried_by(figure.vertices, vertices, joints.thinned, points)
    ends = np.cumsum([len(np.atleast_2d(line)) for line in lines])
    base, left, right, *marks, centre = np.split(moved, ends)
    return replace(
        figure, vertices=vertices, landmarks={k: m[0] for k, m in zip(figure.landmarks, marks, strict=True)},
        neck_base=base, neck_centre=centre[0], shoulder_line_left=left, shoulder_line_right=right,
        field=field, bare=None,
    )  # fmt: skip


def carried_by(before: Floats, after: Floats, thinned: Ints, points: Floats) -> Floats:
    """How far points (k, 3) go with a surface that moves from one shape (n, 3) to another [m], (k, 3).

    The mean of what its nearest vertices do, of those in `thinned`, the nearer the more; the furthest of them counts
    for nothing, so that it changes evenly from place to place (Franke and Little's weights; from memory).
    """
    if not len(points):
        return np.zeros((0, 3))
    far, near = cKDTree(before[thinned]).query(points, k=NEAREST)
    reach = far[:, -1:]
    weight = (np.maximum(reach - far, 0.0) / (reach * np.maximum(far, 1e-6))) ** 2
    weight /= weight.sum(axis=1, keepdims=True)
    moved = (after - before)[thinned]
    return np.asarray(np.einsum("kn,knc->kc", weight, moved[near]))


def stride(figure: Figure) -> float:
    """How far each leg swings from straight down in a walking step [rad]."""
    leg = figure.levels["hip"]
    return float(np.arcsin(min(0.5 * STEP_SHARE * figure.tape["stature"] / leg, 0.7)))
