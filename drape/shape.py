"""Turns tape measures into the lofted parts of a tailor's mannequin.

In: the full tape, SI, as `tape.fill_tape` returns it, and three corrections of the trunk's sections. Out: `Parts`
for `surface.skin`, with the curves the surface must carry: neck base, mid-neck ring and shoulder lines [m].
Axes: z up, floor z = 0; the figure faces +y; its right is +x. The middle of the shoulder points lies near y = 0.
Joining, meshing and measuring are left to `surface` and `figure`. Proportions without a source are ours, judged by eye.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d
from scipy.optimize import brentq

from drape.errors import FigureError
from drape.surface import BACK, BLEND, CENTRE_X, CENTRE_Y, FRONT, LEFT, RIGHT, SQUARENESS, Parts, join
from drape.tape import NECK_WIDTH_RANGE, SURVEY, neck_half_width

FloatArray = np.ndarray

ROWS = 256  # rows of a part's table
ARMPIT_GAP = 0.012  # m between arm and trunk where the armpit is taken to open; less is filled by the joint
LEAST_ROUNDNESS = 0.82  # depth over breadth of the neck at its base, square to its axis is 0.94 of it (ours)
CHIN_BELOW_CROWN = 0.228  # m, for a head of mean length: how low the jaw reaches (ours)
CHIN_ABOVE_RING = 0.010  # m, least height of the chin above the mid-neck ring in front; a short neck lifts the jaw (ours)
NECK_LEAN = np.radians(20.0)  # forward of vertical; clothing forms are drawn at 15 to 25 degrees (from memory)
MIDDLE_Y = -0.012  # m, middle of the chord from back to front neck point
PART_NAMES = (
    "trunk", "right front", "left front", "right blade", "left blade", "right seat", "left seat", "right leg",
    "left leg", "right foot", "left foot", "neck", "head", "jaw", "right arm", "left arm",
)  # fmt: skip
ARMLESS_COUNT = PART_NAMES.index("right arm")
SECTION_SQUARENESS = {"man": (0.42, 0.25, 0.22), "woman": (0.30, 0.15, 0.18)}  # chest, waist, hip (ours)


@dataclass(frozen=True)
class Curves:
    """The curves the surface has to carry, all [m]."""

    neck_base: FloatArray  # (360, 3) by equal steps of the turn, from the front towards the wearer's left
    shoulder_line_left: FloatArray  # (31, 3) side neck point to shoulder point
    shoulder_line_right: FloatArray  # (31, 3)
    mid_neck: FloatArray  # (36, 3)


def draw_curves(tape: Mapping[str, float]) -> Curves:
    """Return neck base, shoulder lines and mid-neck ring from the tape.

    The neck base is a ring round a cylinder that leans forward: half-width w from `neck_half_width`, half-depth b
    solved so that the ring's length is the neck-base girth, heights passing through back, side and front neck points.
    Raises: FigureError if no ring through these heights has that girth.
    """
    width = neck_half_width(tape)
    neck = _neck_base(tape, width)
    right = _shoulder_line(tape, neck[270], tape["shoulder_slope_right"])
    left = _shoulder_line(tape, neck[90], tape["shoulder_slope_left"])
    return Curves(neck, left, right, _mid_neck(tape, neck))


def _neck_base(tape: Mapping[str, float], width: float) -> FloatArray:
    """Return 360 points of the neck base; its height is a cosine series through the four neck points."""
    radius = tape["neck_base_girth"] / (2.0 * np.pi)

    def roundness(half: float) -> float:
        ring = _neck_ring(tape, half)
        return -1.0 if ring is None else np.ptp(ring[:, 1] - neck_axis(tape, ring[:, 2])) / (2.0 * half)

    least = roundness(width)
    if least < LEAST_ROUNDNESS:
        narrow = NECK_WIDTH_RANGE[0] * radius
        widths = np.linspace(width, min(narrow, width), 25)
        fitting = [half for half in widths if roundness(half) >= LEAST_ROUNDNESS]
        width = fitting[0] if fitting else narrow
    ring = _neck_ring(tape, width)
    if ring is None or roundness(width) < 0.8 * LEAST_ROUNDNESS:
        heights = ", ".join(f"{100 * tape[f'{key}_neck_height']:.1f} ({key})" for key in ("back", "side", "front"))
        flat = ring_length(_ring_of(tape, width, LEAST_ROUNDNESS * width))
        raise FigureError(
            f"figure: neck_base_girth: got {100 * tape['neck_base_girth']:.1f} cm, allowed from {100 * flat:.1f} with the neck "
            f"points at {heights}. Measure the three heights again."
        )
    return ring


def _ring_of(tape: Mapping[str, float], width: float, depth: float) -> FloatArray:
    """Return the neck base of a half-width and half-depth, 360 points by equal steps of the turn."""
    turn = np.radians(np.arange(360.0))
    back, side, front = (tape[f"{key}_neck_height"] for key in ("back", "side", "front"))
    second = 0.25 * (front + back) - 0.5 * side
    odd = 0.5 * (front - back)
    third = min(0.0, (4.0 * second - odd) / 8.0) if 4.0 * second < odd else 0.0  # no hump beside the back neck point
    height = side + second + (odd - third) * np.cos(turn) + second * np.cos(2 * turn) + third * np.cos(3 * turn)
    return np.stack([-width * np.sin(turn), neck_axis(tape, height) + depth * np.cos(turn), height], axis=1)


def _neck_ring(tape: Mapping[str, float], width: float) -> FloatArray | None:
    """Return the neck base of a half-width whose length is the neck-base girth; None if none is long or short enough."""

    def excess(depth: float) -> float:
        return ring_length(_ring_of(tape, width, depth)) - tape["neck_base_girth"]

    low, high = 0.6 * width, 2.0 * width
    if excess(low) > 0.0 or excess(high) < 0.0:
        return None
    return _ring_of(tape, width, brentq(excess, low, high, xtol=1e-7))


def ring_length(points: FloatArray) -> float:
    """Return the length [m] of the closed line through the points."""
    return float(np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1).sum())


def _shoulder_line(tape: Mapping[str, float], side_neck: FloatArray, slope: float) -> FloatArray:
    """Return 31 points straight from side neck point to shoulder point, which lies 8 % of the length further back."""
    length = tape["shoulder_length"]
    back = 0.08 * length
    out = np.sqrt((length * np.cos(slope)) ** 2 - back**2)
    end = side_neck + np.array([np.sign(side_neck[0]) * out, -back, -length * np.sin(slope)])
    return side_neck + np.linspace(0.0, 1.0, 31)[:, None] * (end - side_neck)


def neck_axis(tape: Mapping[str, float], height: FloatArray | float) -> FloatArray | float:
    """Return y of the neck's axis [m] at a height."""
    middle = 0.5 * (tape["front_neck_height"] + tape["back_neck_height"])
    return MIDDLE_Y + (height - middle) * np.tan(NECK_LEAN)


def mid_neck_place(tape: Mapping[str, float]) -> tuple[FloatArray, FloatArray]:
    """Return a point on the neck's axis at the larynx and the axis direction: the plane of the mid-neck girth.

    It lies an eighth of the way from the side neck point to the crown (ours).
    """
    height = tape["side_neck_height"] + 0.12 * (tape["stature"] - tape["side_neck_height"])
    centre = np.array([0.0, neck_axis(tape, height), height])
    return centre, np.array([0.0, np.sin(NECK_LEAN), np.cos(NECK_LEAN)])


def head_size(tape: Mapping[str, float]) -> float:
    """Return the head's length over the survey's mean for men."""
    return tape["head_length"] / SURVEY["man"]["head_length"]


def _mid_neck(tape: Mapping[str, float], neck_base: FloatArray) -> FloatArray:
    """Return 36 points round the neck at the larynx, square to its axis: an ellipse of the mid-neck girth."""
    centre, axis = mid_neck_place(tape)
    across = np.cross(axis, [1.0, 0.0, 0.0])
    turn = np.linspace(0.0, 2.0 * np.pi, 36, endpoint=False)
    radius = tape["neck_girth"] / (2.0 * np.pi)
    ring = np.cos(turn)[:, None] * np.array([0.97 * radius, 0.0, 0.0]) + np.sin(turn)[:, None] * 1.03 * radius * across
    return centre + ring * tape["neck_girth"] / ring_length(ring)


def build_parts(tape: Mapping[str, float], curves: Curves, sex: str, scales: Sequence[float]) -> Parts:
    """Return the mannequin's parts; `scales` stretch the trunk's chest, waist and hip sections."""
    parts = [_trunk(tape, curves, sex, scales)]
    parts += _fullness(tape, curves, sex, scales)
    parts += _legs(tape, scales)
    parts.append(_neck(tape, curves))
    parts += _head(tape)
    parts += _arms(tape, curves, sex, scales)
    tables, spans, caps, upright = (list(column) for column in zip(*parts, strict=True))
    return join(np.array(tables), np.array(spans), np.array(caps), np.array(upright, dtype=np.int64))


Part = tuple[FloatArray, tuple[float, float], tuple[float, float], int]


def _loft(
    stations: Sequence[Sequence[float]], caps: tuple[float, float], *, upright: int = 1, smooth: float = 0.012
) -> Part:
    """Return a part through stations (place, centre x, centre y, right, left, front, back, squareness, blend)."""
    rows = np.array(sorted(stations))
    place = np.linspace(rows[0, 0], rows[-1, 0], ROWS)
    table = PchipInterpolator(rows[:, 0], rows[:, 1:], axis=0)(place)
    step = place[1] - place[0]
    if smooth > 0.0:
        table = gaussian_filter1d(table, smooth / step, axis=0, mode="nearest")
    return table, (float(place[0]), float(place[-1])), caps, upright


def _ball(
    centre: Sequence[float], half: Sequence[float], blend: float, *, caps: tuple[float, float] | None = None
) -> Part:
    """Return an ellipsoid: centre x, y, z; half-axes x, y (or front, back), z."""
    front, back = (half[1], half[1]) if len(half) == 3 else (half[1], half[2])
    row = [centre[0], centre[1], half[0], half[0], front, back, 0.0, blend]
    return np.tile(row, (ROWS, 1)), (centre[2], centre[2]), caps or (half[-1], half[-1]), 1


def _trunk(tape: Mapping[str, float], curves: Curves, sex: str, scales: Sequence[float]) -> Part:
    """Return the trunk from crotch to inside the neck: level sections whose side ends run along the shoulder lines."""
    chest_scale, waist_scale, hip_scale = scales
    square = SECTION_SQUARENESS.get(sex, SECTION_SQUARENESS["man"])
    stature = tape["stature"]
    unit = stature / 1.7558
    levels = {key: tape[f"{key}_height"] for key in ("chest", "waist", "hip")}
    half = {
        key: (0.5 * scale * tape[f"{key}_breadth"], 0.5 * scale * tape[f"{key}_depth"])
        for key, scale in zip(levels, (chest_scale, waist_scale, hip_scale), strict=True)
    }
    crotch = crotch_height(tape)
    chest_depth = half["chest"][1] * (0.87 if sex == "woman" else 0.95)
    rows = [
        # place, centre y, half-breadth, front, back, squareness
        (crotch + 0.030 * unit, -0.012 * unit, 0.92 * half["hip"][0], 0.86 * half["hip"][1], 0.88 * half["hip"][1], 0.15),
        (crotch + 0.042 * unit, -0.012 * unit, 0.92 * half["hip"][0], 0.86 * half["hip"][1], 0.88 * half["hip"][1], 0.15),
        (levels["hip"], -0.012 * unit, 0.98 * half["hip"][0], 0.92 * half["hip"][1], 1.0 * half["hip"][1], square[2]),
        (0.5 * (levels["hip"] + levels["waist"]), -0.006 * unit, 0.5 * (half["hip"][0] + half["waist"][0]) * 1.015,
         0.5 * (0.95 * half["hip"][1] + half["waist"][1]), 0.5 * (0.97 * half["hip"][1] + 0.92 * half["waist"][1]), square[1]),
        (levels["waist"], 0.004 * unit, half["waist"][0], half["waist"][1], half["waist"][1], square[1]),
        (0.5 * (levels["chest"] + levels["waist"]), 0.006 * unit, 0.5 * (half["chest"][0] + half["waist"][0]),
         0.5 * (chest_depth + half["waist"][1]), 0.5 * (1.0 * chest_depth + half["waist"][1]), 0.5 * (square[0] + square[1])),
        (levels["chest"], 0.005 * unit, half["chest"][0], chest_depth, chest_depth, square[0]),
    ]  # fmt: skip
    place, table = _trunk_table(tape, curves, rows, half["chest"][0], chest_depth, square[0])
    return table, (float(place[0]), float(place[-1])), (0.060 * unit, 0.02), 1


def crotch_height(tape: Mapping[str, float]) -> float:
    """Return the height of the crotch [m]: a share of the hip height (ours)."""
    return 0.925 * tape["hip_height"]


def _trunk_table(
    tape: Mapping[str, float], curves: Curves, rows: list[tuple[float, ...]], chest_half: float, chest_depth: float,
    square: float,
) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    """Return places and table of the trunk: the rows given up to the chest, then the shoulder girdle above."""
    side = curves.neck_base[270]
    line_right, line_left = curves.shoulder_line_right, curves.shoulder_line_left
    ends = {RIGHT: line_right[-1], LEFT: line_left[-1]}
    lowest_end = min(line_right[-1, 2], line_left[-1, 2])
    top = side[2] + 0.010
    place = np.linspace(rows[0][0], top, ROWS)
    table = np.zeros((ROWS, 8))
    chest_height = rows[-1][0]
    drop = side[2] - lowest_end
    mid_half = 0.5 * (abs(side[0]) + abs(ends[RIGHT][0]))
    slope = np.tan(0.5 * (tape["shoulder_slope_left"] + tape["shoulder_slope_right"]))
    scale = tape["stature"] / 1.7558
    back_at_neck = side[1] - curves.neck_base[180, 1]
    front_at_pit = curves.neck_base[0, 1] - side[1]
    upper = [
        (lowest_end - 0.55 * (lowest_end - chest_height), side[1] - 0.010, 0.0, 0.93 * chest_depth + 0.004, 1.02 * chest_depth - 0.006, 0.8 * square),
        (lowest_end, side[1] - 0.012, 0.0, front_at_pit + 0.006, 0.68 * chest_depth + 0.009, 0.25),
        (lowest_end + 0.5 * drop, side[1] - 0.006, 0.0, np.sqrt(0.75 * 0.037 * scale * mid_half * slope),
         0.45 * chest_depth + 0.012, 0.25),
        (side[2], side[1], 0.0, np.sqrt(0.7 * 0.024 * scale * abs(side[0]) * slope), 0.78 * back_at_neck, 0.3),
        (top + 0.01, side[1], 0.0, 0.02, 0.03, 0.0),
    ]  # fmt: skip
    every = np.array(rows + upper)
    fitted = PchipInterpolator(every[:, 0], every[:, [1, 3, 4, 5]], axis=0)(place)
    table[:, CENTRE_Y], table[:, FRONT], table[:, BACK], table[:, SQUARENESS] = fitted.T
    for column, end in ends.items():
        reach, height = abs(end[0]), end[2]
        below = np.array([(row[0], row[2]) for row in rows])
        shoulder = np.array([
            (height - 0.50 * (height - chest_height), 0.5 * (chest_half + reach) - 0.004),
            (height - 0.16 * (height - chest_height), reach - 0.006),
            (height, reach),
        ])  # fmt: skip
        if reach < chest_half:
            shoulder[:, 1] = np.linspace(chest_half, reach, 4)[1:]
        stations = np.vstack([below, shoulder])
        straight = abs(side[0]) + (side[2] - place) * (reach - abs(side[0])) / (side[2] - height)
        table[:, column] = np.where(
            place > height, np.maximum(straight, 0.02), PchipInterpolator(*stations.T, extrapolate=True)(place)
        )
    step = place[1] - place[0]
    sharp = gaussian_filter1d(table, 0.010 / step, axis=0, mode="nearest")
    soft = gaussian_filter1d(table, 0.030 * scale / step, axis=0, mode="nearest")
    share = np.clip((place - chest_height) / (0.5 * (lowest_end - chest_height)), 0.0, 1.0)[:, None]
    table = soft + share * share * (3.0 - 2.0 * share) * (sharp - soft)
    table[:, BLEND] = 0.02
    return place, table


def _fullness(tape: Mapping[str, float], curves: Curves, sex: str, scales: Sequence[float]) -> list[Part]:
    """Return chest, shoulder blades and seat: ellipsoids that barely leave the trunk."""
    half_breadth = 0.5 * scales[0] * tape["chest_breadth"]
    half_depth = 0.5 * scales[0] * tape["chest_depth"]
    hip_breadth, hip_depth = 0.5 * scales[2] * tape["hip_breadth"], 0.5 * scales[2] * tape["hip_depth"]
    unit = tape["stature"] / 1.7558
    chest, shoulder = tape["chest_height"], tape["shoulder_point_height"]
    rise = shoulder - chest
    parts = []
    for sign in (1.0, -1.0):
        if sex == "woman":
            size = 0.55 * half_breadth
            deep = 0.55 * half_depth
            centre = (sign * 0.49 * half_breadth, 1.10 * half_depth - deep, chest - 0.006)
            parts.append(_ball(centre, (size, deep, 0.0), 0.07 * unit, caps=(0.95 * size, 1.35 * size)))
        else:
            centre = (sign * 0.44 * half_breadth, 0.42 * half_depth, chest + 0.16 * rise)
            parts.append(_ball(centre, (0.52 * half_breadth, 0.52 * half_depth, 0.55 * rise), 0.07 * unit))
    for sign in (1.0, -1.0):
        centre = (sign * 0.50 * half_breadth, -0.46 * half_depth, chest + 0.36 * rise)
        parts.append(_ball(centre, (0.42 * half_breadth, 0.50 * half_depth, 0.62 * rise), 0.07 * unit))
    for sign in (1.0, -1.0):
        centre = (sign * 0.44 * hip_breadth, -0.42 * hip_depth, tape["hip_height"] - 0.01 * unit)
        parts.append(_ball(centre, (0.48 * hip_breadth, 0.70 * hip_depth, 0.085 * unit), 0.08 * unit))
    return parts


def _legs(tape: Mapping[str, float], scales: Sequence[float]) -> list[Part]:
    """Return right leg, left leg, right foot, left foot; girths follow the hip's (ours)."""
    stature, hip, knee, ankle = tape["stature"], tape["hip_height"], tape["knee_height"], tape["ankle_height"]
    unit = stature / 1.7558
    crotch = crotch_height(tape)
    breadth = 0.5 * tape["hip_breadth"] * scales[2]
    depth = 0.5 * tape["hip_depth"] * scales[2]
    full = breadth / 0.1716
    slim = full**0.6 * unit**0.4
    legs, feet = [], []
    for sign in (1.0, -1.0):
        rows = [
            # place, centre x, centre y, half-breadth, front, back
            (hip, 0.47, -0.010 * unit, 0.45 * breadth, 0.80 * depth, 0.82 * depth),
            (crotch, 0.515, -0.010 * unit, 0.465 * breadth, 0.78 * depth, 0.80 * depth),
            (crotch - 0.40 * (crotch - knee), 0.55, -0.006 * unit, 0.43 * breadth, 0.070 * full, 0.074 * full),
            (knee + 0.04 * unit, 0.58, -0.006 * unit, 0.058 * slim, 0.060 * slim, 0.058 * slim),
            (knee - 0.04 * unit, 0.59, -0.012 * unit, 0.054 * slim, 0.054 * slim, 0.056 * slim),
            (ankle + 0.66 * (knee - ankle), 0.60, -0.026 * unit, 0.056 * slim, 0.050 * slim, 0.064 * slim),
            (ankle + 0.25 * (knee - ankle), 0.62, -0.030 * unit, 0.040 * slim, 0.041 * slim, 0.044 * slim),
            (ankle + 0.01 * unit, 0.63, -0.032 * unit, 0.034 * slim, 0.040 * slim, 0.042 * slim),
            (0.62 * ankle, 0.63, -0.030 * unit, 0.030 * slim, 0.042 * slim, 0.040 * slim),
        ]  # fmt: skip
        stations = [
            (z, sign * (share * 0.1716 * (0.4 * full + 0.6 * unit) if z < crotch - 0.01 else share * breadth), y, a, a, f, b, 0.0,
             0.05 if z > crotch - 0.01 else 0.03)
            for z, share, y, a, f, b in rows
        ]  # fmt: skip
        legs.append(_loft(stations, (0.3 * ankle, 0.07 * unit), smooth=0.02))
        x = stations[-1][1]
        heel, toe = -0.078 * unit, 0.165 * unit
        top = ankle + 0.005 * unit
        profile = [
            # along y, half-breadth, height of top
            (heel + 0.02 * unit, 0.030, 0.75 * top),
            (-0.03 * unit, 0.034, 0.95 * top),
            (0.03 * unit, 0.038, 0.90 * top),
            (0.09 * unit, 0.046, 0.62 * top),
            (0.13 * unit, 0.045, 0.46 * top),
            (toe - 0.02 * unit, 0.036, 0.38 * top),
        ]  # fmt: skip
        foot = [
            (y, x + sign * 0.10 * max(0.0, y + 0.03), 0.30 * t, a * unit, a * unit, 0.70 * t, 0.30 * t, 0.55, 0.03)
            for y, a, t in profile
        ]
        feet.append(_loft(foot, (0.02 * unit, 0.02 * unit), upright=0))
    return legs + feet


def _neck(tape: Mapping[str, float], curves: Curves) -> Part:
    """Return the neck from inside the trunk to inside the head, leaning forward."""
    ring = curves.mid_neck
    half_breadth = np.ptp(ring[:, 0]) / 2.0
    half_depth = np.linalg.norm(ring[9] - ring[27]) / 2.0 / np.cos(NECK_LEAN)
    base = curves.neck_base
    base_half = 0.85 * abs(base[90, 0])
    base_depth = 0.5 * (base[0, 1] - base[180, 1]) + np.tan(NECK_LEAN) * 0.5 * (base[180, 2] - base[0, 2])
    middle = ring[:, 2].mean()
    low, high = tape["front_neck_height"] - 0.03, tape["side_neck_height"] + 0.45 * (tape["stature"] - tape["side_neck_height"])
    stations = []
    for z, a, b in (
        (low, base_half, base_depth * 0.95),
        (tape["front_neck_height"] + 0.02, base_half, base_depth * 0.955),
        (tape["side_neck_height"], 0.5 * (base_half + half_breadth), 0.5 * (base_depth + half_depth)),
        (middle, half_breadth, half_depth),
        (high, half_breadth, half_depth * 0.98),
    ):
        stations.append((z, 0.0, neck_axis(tape, z), a, a, b, b, 0.0, 0.036 * tape["stature"] / 1.7558))
    return _loft(stations, (0.03, 0.03))


def _head(tape: Mapping[str, float]) -> list[Part]:
    """Return an egg and a jaw with a slight chin; the ear canal lies 49 degrees above the back neck point.

    Carriage: Raine and Twomey, Arch. Phys. Med. Rehabil. 78(11), 1215-1223, 1997.
    """
    breadth, length = 0.5 * tape["head_breadth"], 0.5 * tape["head_length"]
    size = head_size(tape)
    crown = tape["stature"]
    ear = crown - 0.131 * size
    back = MIDDLE_Y - 0.053 * tape["neck_base_girth"] / 0.408
    y = back + (ear - tape["back_neck_height"]) / np.tan(np.radians(48.9)) + 0.002
    egg_height = crown - 0.098 * size
    egg = _ball((0.0, y, egg_height), (breadth, length, length, 0.098 * size), 0.032, caps=(0.103 * size, 0.098 * size))
    centre, _ = mid_neck_place(tape)
    throat = centre[2] - 1.03 * tape["neck_girth"] / (2.0 * np.pi) * np.sin(NECK_LEAN)
    chin = max(crown - CHIN_BELOW_CROWN * size, throat + CHIN_ABOVE_RING)
    jaw_height = chin + 0.076 * size
    jaw = _ball(
        (0.0, y + 0.036 * size, jaw_height), (0.84 * breadth, 0.0575 * size, 0.07 * size, 0.07 * size), 0.05 * size,
        caps=(0.073 * size, 0.08 * size),
    )  # fmt: skip
    return [egg, jaw]


def _arms(tape: Mapping[str, float], curves: Curves, sex: str, scales: Sequence[float]) -> list[Part]:
    """Return right arm and left arm, deltoid to mitten hand, hanging clear of the body."""
    unit = tape["stature"] / 1.7558
    reference = SURVEY["woman" if sex == "woman" else "man"]
    thick = (tape["chest_girth"] / reference["chest_girth"] / unit) ** 0.6 * unit
    if sex == "woman":
        thick *= 0.90
    length = tape["arm_length"]
    outer = 0.5 * tape["upper_arm_breadth"]
    arms = []
    for sign, line in ((1.0, curves.shoulder_line_right), (-1.0, curves.shoulder_line_left)):
        end = line[-1]
        radius = min(max(outer - abs(end[0]) + 0.004, 0.042 * thick), 0.060 * thick)
        full = end[2] - 0.075 * unit
        head = outer - radius
        wrist = end[2] - 0.985 * length
        elbow = end[2] - 0.555 * length
        out = _arm_reach(tape, scales, head, full, wrist, 0.046 * thick)
        finger = wrist - 0.0945 * tape["stature"]
        y = end[1] - 0.004

        rows = [
            # place, y, half-breadth, half-depth, squareness, blend
            (end[2] - 0.055 * unit, y, 0.92 * radius, 1.02 * radius, 0.0, 0.065),
            (full, y - 0.002, radius, 1.10 * radius, 0.0, 0.055),
            (end[2] - 0.12 * unit, y - 0.004, 0.5 * radius + 0.0235 * thick, 0.54 * radius + 0.027 * thick, 0.0, 0.055),
            (end[2] - 0.17 * unit, y - 0.007, 0.0455 * thick, 0.053 * thick, 0.0, 0.042),
            (elbow + 0.06 * unit, y - 0.014 * unit, 0.043 * thick, 0.047 * thick, 0.0, 0.02),
            (elbow - 0.01 * unit, y - 0.016 * unit, 0.040 * thick, 0.043 * thick, 0.0, 0.01),
            (elbow - 0.06 * unit, y - 0.008 * unit, 0.041 * thick, 0.044 * thick, 0.0, 0.01),
            (wrist + 0.03 * unit, y + 0.020 * unit, 0.026 * thick, 0.032 * thick, 0.0, 0.01),
            (wrist - 0.01 * unit, y + 0.026 * unit, 0.024 * thick, 0.032 * thick, 0.05, 0.01),
            (wrist - 0.07 * unit, y + 0.034 * unit, 0.022 * unit, 0.044 * unit, 0.1, 0.01),
            (finger + 0.03 * unit, y + 0.040 * unit, 0.016 * unit, 0.038 * unit, 0.1, 0.01),
        ]  # fmt: skip
        stations = [
            (z, sign * (head + out * _arm_share((full - z) / (full - wrist))), cy, a, a, b, b, m, k) for z, cy, a, b, m, k in rows
        ]
        arms.append(_loft(stations, (0.03 * unit, 0.052 * unit), smooth=0.012))
    return arms


def armpits(parts: Parts) -> FloatArray:
    """Return the two places [m] (2, 3), right then left, where an arm's inner side leaves the trunk."""
    found = []
    trunk = PART_NAMES.index("trunk")
    for name, inner, outer, sign in (("right arm", LEFT, RIGHT, 1.0), ("left arm", RIGHT, LEFT, -1.0)):
        arm = PART_NAMES.index(name)
        place = np.linspace(*parts.spans[arm], ROWS)
        side = np.interp(place, np.linspace(*parts.spans[trunk], ROWS), parts.tables[trunk, :, outer])
        gap = sign * parts.tables[arm, :, CENTRE_X] - parts.tables[arm, :, inner] - side
        row = np.nonzero(gap > ARMPIT_GAP)[0].max()
        found.append([sign * side[row], parts.tables[arm, row, CENTRE_Y], place[row] + 0.012])
    return np.array(found)


def _arm_share(share: float) -> float:
    """Return how far out of its whole reach the arm is, a share of the way down from deltoid to wrist."""
    return 1.12 * share - 0.12 * share * share if share < 1.2 else 1.1713


def _arm_reach(
    tape: Mapping[str, float], scales: Sequence[float], head: float, full: float, wrist: float, radius: float
) -> float:
    """Return how far out the wrist hangs from the deltoid: at 12 degrees, or wider where the body is in the way."""
    reach = np.tan(np.radians(12.0)) * (full - wrist)
    half = {key: 0.5 * scale * tape[f"{key}_breadth"] for key, scale in zip(("chest", "waist", "hip"), scales, strict=True)}
    rib = 0.5 * (half["chest"] + half["waist"])
    heights = (0.5 * (tape["chest_height"] + tape["waist_height"]), tape["waist_height"], tape["hip_height"])
    for height, breadth, gap in zip(heights, (rib, half["waist"], half["hip"]), (0.018, 0.03, 0.035), strict=True):
        share = _arm_share(max(0.2, (full - height) / (full - wrist)))
        reach = max(reach, (breadth + radius + gap - head) / share)
    return min(reach, np.tan(np.radians(30.0)) * (full - wrist))
