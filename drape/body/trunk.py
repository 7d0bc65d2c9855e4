"""Turns tape measures into the lofted parts of a tailor's mannequin.

In: the full tape, SI, as `tape.fill_tape` returns it, and the trunk's sections. Out: `Part`s for
`implicit_surface.join`, and the curves the surface must carry: neck base, mid-neck ring and shoulder lines [m]. Arms
and legs are in `limbs`. Axes: z up, floor z = 0; the figure faces +y; its right is +x. The middle of the shoulder
points lies near y = 0. Joining, meshing and measuring are left to `implicit_surface` and `figure`. Proportions without
a source are ours, judged by eye.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d
from scipy.optimize import brentq

from drape.arrays import Floats
from drape.body.girth import ring_length
from drape.body.implicit_surface import ROWS, TURNS, Part, azimuths
from drape.body.stance import NECK_LEAN, UPRIGHT_STANCE, Stance, bend, head_ahead, neck_lean
from drape.body.superellipse import oval_girth, ovals, squareness_for
from drape.body.survey import MEAN
from drape.body.tape import NECK_WIDTH_RANGE, neck_half_width, shoulder_sweep
from drape.errors import FigureError

LEAST_ROUNDNESS, MOST_ROUNDNESS = 0.78, 1.8  # depth over breadth of the neck at its base, square to its axis (ours)
MOST_GIVEN_WAY = (
    0.036  # m, by which the breadth between the shoulder points may fall short to make room for that (ours)
)
CHIN_BELOW_CROWN = 0.218  # m, for a head of mean length: how low the jaw reaches (ours)
CHIN_ABOVE_RING = (
    0.014  # m, least height of the chin above the mid-neck ring in front; a short neck lifts the jaw (ours)
)
JAW = 0.040  # m, height of the rounding from jaw to chin
LEAST_JAW = 0.03  # [m] the head's least way from its widest level to where the jaw begins to close
NAPE_SHARE = 0.7  # of what the mid-neck is deeper than the neck base, so much stands out in front (ours)
MIDDLE_Y = -0.012  # m, middle of the chord from back to front neck point
LEVELS = ("chest", "waist", "hip")
UPRIGHT = np.eye(3)


@dataclass(frozen=True)
class Curves:
    """The curves the surface has to carry, all [m]."""

    neck_base: Floats  # (360, 3) by equal steps of the turn, from the front towards the wearer's left
    shoulder_line_left: Floats  # (31, 3) side neck point to shoulder point
    shoulder_line_right: Floats  # (31, 3)
    mid_neck: Floats  # (72, 3)


def draw_curves(tape: Mapping[str, float], stance: Stance = UPRIGHT_STANCE) -> Curves:
    """Return neck base, shoulder lines and mid-neck ring from the tape.

    The neck base is a ring round a cylinder that leans forward: half-width w from `neck_half_width`, half-depth b
    solved so that the ring's length is the neck-base girth, heights passing through back, side and front neck points.
    Where the heights take so much of the girth that b would be under LEAST_ROUNDNESS w, w is narrowed, and with it the
    breadth between the shoulder points: length, slope and girth are kept, breadth gives way.
    Raises: FigureError if no ring through these heights has that girth.
    """
    width = neck_half_width(tape)
    neck = _neck_base(tape, width) + [0.0, stance.stoop, 0.0]
    right = _shoulder_line(tape, neck[270], tape["shoulder_slope_right"])
    left = _shoulder_line(tape, neck[90], tape["shoulder_slope_left"])
    return Curves(neck, left, right, _mid_neck(tape, stance, neck))


def _neck_base(tape: Mapping[str, float], width: float) -> Floats:
    """Return 360 points of the neck base; its height is a cosine series through the four neck points."""
    radius = tape["neck_base_girth"] / (2.0 * np.pi)
    least = NECK_WIDTH_RANGE[0] * radius
    for half in np.linspace(width, min(width - MOST_GIVEN_WAY / 2.0, least), 40):
        ring = _neck_ring(tape, half)
        if ring is not None and half >= least - 1e-9 and width - half <= MOST_GIVEN_WAY / 2.0 + 1e-9:
            return ring
    narrow = max(least, width - MOST_GIVEN_WAY / 2.0)
    heights = ", ".join(f"{100 * tape[f'{key}_neck_height']:.1f} ({key})" for key in ("back", "side", "front"))
    flat, round_ = (ring_length(_ring_of(tape, narrow, share * narrow)) for share in (LEAST_ROUNDNESS, MOST_ROUNDNESS))
    raise FigureError(
        f"figure: neck_base_girth: got {100 * tape['neck_base_girth']:.1f} cm, allowed {100 * flat:.1f} to "
        f"{100 * round_:.1f} round a neck {200 * narrow:.1f} wide, as shoulder_breadth "
        f"{100 * tape['shoulder_breadth']:.1f} leaves it, with the neck points at {heights}. Measure the three heights "
        "and the shoulders again."
    )


def _ring_of(tape: Mapping[str, float], width: float, depth: float) -> Floats:
    """Return the neck base of a half-width and half-depth, 360 points by equal steps of the turn."""
    turn = np.radians(np.arange(360.0))
    back, side, front = (tape[f"{key}_neck_height"] for key in ("back", "side", "front"))
    second = 0.25 * (front + back) - 0.5 * side
    odd = 0.5 * (front - back)
    third = min(0.0, (4.0 * second - odd) / 8.0) if 4.0 * second < odd else 0.0  # no hump beside the back neck point
    height = side + second + (odd - third) * np.cos(turn) + second * np.cos(2 * turn) + third * np.cos(3 * turn)
    return np.stack([-width * np.sin(turn), neck_axis(tape, height) + depth * np.cos(turn), height], axis=1)


def _neck_ring(tape: Mapping[str, float], width: float) -> Floats | None:
    """Return the neck base of a half-width whose length is the neck-base girth;
    None if none is long or short enough.
    """

    def excess(depth: float) -> float:
        return ring_length(_ring_of(tape, width, depth)) - tape["neck_base_girth"]

    low, high = LEAST_ROUNDNESS * width, MOST_ROUNDNESS * width
    if excess(low) > 0.0 or excess(high) < 0.0:
        return None
    return _ring_of(tape, width, brentq(excess, low, high, xtol=1e-7))


def _shoulder_line(tape: Mapping[str, float], side_neck: Floats, slope: float) -> Floats:
    """Return 31 points straight from side neck point to shoulder point, which lies further back."""
    length = tape["shoulder_length"]
    back = shoulder_sweep(tape) * length
    out = np.sqrt((length * np.cos(slope)) ** 2 - back**2)
    end = side_neck + np.array([np.sign(side_neck[0]) * out, -back, -length * np.sin(slope)])
    return side_neck + np.linspace(0.0, 1.0, 31)[:, None] * (end - side_neck)


def neck_axis(tape: Mapping[str, float], height: Floats | float, lean: float = NECK_LEAN) -> Floats | float:
    """Return y of an upright body's neck axis [m] at a height."""
    middle = 0.5 * (tape["front_neck_height"] + tape["back_neck_height"])
    return MIDDLE_Y + (height - middle) * np.tan(lean)


def mid_neck_place(tape: Mapping[str, float], stance: Stance = UPRIGHT_STANCE) -> tuple[Floats, Floats]:
    """Return a point on the neck's axis at the larynx and the axis direction: the plane of the mid-neck girth.

    It lies a sixth of the way from the side neck point to the crown (ours).
    """
    height = tape["side_neck_height"] + 0.16 * (tape["stature"] - tape["side_neck_height"])
    lean = neck_lean(tape, stance)
    centre = np.array([0.0, neck_axis(tape, height, lean) + stance.stoop, height])
    return centre, np.array([0.0, np.sin(lean), np.cos(lean)])


def head_size(tape: Mapping[str, float]) -> float:
    """Return the head's length over the survey's mean for men."""
    return tape["head_length"] / MEAN["man"]["head_length"]


def _mid_neck(tape: Mapping[str, float], stance: Stance, neck_base: Floats) -> Floats:
    """Return 72 points round the neck at the larynx, square to its axis: an ellipse of the mid-neck girth.

    It is no broader than the neck base below it. Where it is deeper, it stands forward of it: the nape runs on, the
    throat rises from a hollow.
    """
    centre, axis = mid_neck_place(tape, stance)
    across = np.cross(axis, [1.0, 0.0, 0.0])
    turn = np.linspace(0.0, 2.0 * np.pi, 72, endpoint=False)
    radius = tape["neck_girth"] / (2.0 * np.pi)
    half = min(1.05 * radius, max(0.965 * abs(neck_base[90, 0]), 0.86 * radius))

    def ring(deep: float) -> Floats:
        return np.cos(turn)[:, None] * np.array([half, 0.0, 0.0]) + np.sin(turn)[:, None] * deep * across

    deep = brentq(lambda deep: ring_length(ring(deep)) - tape["neck_girth"], 0.5 * radius, 2.0 * radius)
    ahead = NAPE_SHARE * (deep - 0.5 * np.ptp((neck_base - centre) @ across))
    return centre + ring(deep) + ahead * across * np.sign(across[1])


def through(stations: Sequence[tuple[float, ...]], place: Floats, smooth: float) -> Floats:
    """Return columns at places along an axis, through stations (place, value, ...), evened out over `smooth` [m]."""
    rows = np.array(sorted(stations))
    table = PchipInterpolator(rows[:, 0], rows[:, 1:], axis=0)(np.clip(place, rows[0, 0], rows[-1, 0]))
    return gaussian_filter1d(table, smooth / (place[1] - place[0]), axis=0, mode="nearest")


@dataclass(frozen=True)
class Swelling:
    """A soft rise of the trunk's front (face 1) or back (face -1) [m]."""

    x: float
    z: float
    wide: float
    above: float
    below: float
    rise: float
    face: int


def trunk(
    tape: Mapping[str, float], curves: Curves, sex: str, sections: Floats, stance: Stance = UPRIGHT_STANCE
) -> Part:
    """Return the trunk from crotch to inside the neck: level sections whose side ends run along the shoulder lines.

    sections: half-breadth, half-depth [m] and squareness at chest, waist and hip, (3, 3).
    """
    place, table = _trunk_rows(tape, curves, sections, sex, stance)
    right, left, front, back, squareness = table[:, 1:6].T
    radius = ovals(right, left, front, back, squareness, azimuths())
    radius = _swollen(place, radius, _swellings(tape, sections, sex))
    centre = np.stack([np.zeros(ROWS), table[:, 0]], axis=1)
    blend = np.full((ROWS, TURNS), 0.02)
    return Part(
        (float(place[0]), float(place[-1])),
        (0.065 * tape["stature"] / 1.7558, 0.010),
        centre,
        radius,
        blend,
        UPRIGHT,
        np.zeros(3),
    )


def crotch_height(tape: Mapping[str, float]) -> float:
    """Return the height of the crotch [m]: a share of the hip height (ours)."""
    return 0.925 * tape["hip_height"]


def _trunk_rows(
    tape: Mapping[str, float], curves: Curves, sections: Floats, sex: str, stance: Stance
) -> tuple[Floats, Floats]:
    """Return places along z and columns centre y, right, left, front, back, squareness."""
    unit = tape["stature"] / 1.7558
    chest, waist, hip = (tape[f"{level}_height"] for level in LEVELS)
    (chest_wide, chest_deep, chest_square), (waist_wide, waist_deep, waist_square), (hip_wide, hip_deep, hip_square) = (
        sections
    )
    crotch = crotch_height(tape)
    woman = sex == "woman"
    breast = 0.90 if woman else 0.92
    ahead = stance.full_chest - 0.5 * stance.full_back
    rows: list[tuple[float, ...]] = [
        # place, centre y, half-breadth, front, back, squareness
        (crotch + 0.002 * unit, -0.010 * unit, 0.935 * hip_wide, 0.74 * hip_deep, 0.78 * hip_deep, 0.40),
        (crotch + 0.50 * (hip - crotch), -0.011 * unit, 0.985 * hip_wide, 0.89 * hip_deep, 0.885 * hip_deep,
         0.15 + 0.6 * hip_square),
        (hip, -0.012 * unit, hip_wide, 0.93 * hip_deep, 0.93 * hip_deep, hip_square),
        (hip + 0.50 * (waist - hip), -0.005 * unit, 0.47 * hip_wide + 0.55 * max(waist_wide, 0.85 * hip_wide),
         0.54 * (0.95 * hip_deep + waist_deep), 0.46 * (0.97 * hip_deep + 1.0 * waist_deep),
         0.5 * (hip_square + waist_square)),
        (waist, 0.004 * unit, waist_wide, waist_deep, waist_deep, waist_square),
        (0.55 * waist + 0.45 * chest, 0.007 * unit + 0.45 * ahead, 0.52 * chest_wide + 0.48 * waist_wide,
         0.42 * breast * chest_deep + 0.58 * waist_deep, 0.5 * (0.97 * chest_deep + waist_deep),
         0.5 * (chest_square + waist_square)),
        (chest, 0.005 * unit + ahead, chest_wide, breast * chest_deep, 0.97 * chest_deep, chest_square),
    ]  # fmt: skip
    return _with_shoulders(tape, curves, rows, sections[0], stance)


def _with_shoulders(
    tape: Mapping[str, float],
    curves: Curves,
    rows: list[tuple[float, ...]],
    chest_section: Floats,
    stance: Stance,
) -> tuple[Floats, Floats]:
    """Return places and columns of the trunk: the rows given up to the chest, the shoulder girdle above."""
    side = curves.neck_base[270] - [0.0, stance.stoop, 0.0]  # as of an upright body, which is bent at the end
    ends = {1: curves.shoulder_line_right[-1], 2: curves.shoulder_line_left[-1]}  # column: shoulder point
    lowest = min(end[2] for end in ends.values())
    top = side[2] - 0.004
    place = np.linspace(rows[0][0], top, ROWS)
    chest_height = rows[-1][0]
    chest_half, chest_deep, square = chest_section
    drop, scale = side[2] - lowest, tape["stature"] / 1.7558
    slope = np.tan(0.5 * (tape["shoulder_slope_left"] + tape["shoulder_slope_right"]))
    mid_half = 0.5 * (abs(side[0]) + abs(ends[1][0]))
    pit = curves.neck_base[0, 1] - curves.neck_base[270, 1]
    nape = curves.neck_base[270, 1] - curves.neck_base[180, 1]
    front, back = rows[-1][3] + rows[-1][1], rows[-1][4] - rows[-1][1]
    rise, full = lowest - chest_height, stance.full_back
    upper = [
        (chest_height + 0.45 * rise, side[1] - 0.008, pit + 0.66 * (front - side[1] - pit) + 0.008,
         1.04 * back + side[1] - 0.008 + 0.5 * full, 0.75 * square),
        (chest_height + 0.76 * rise, side[1] - 0.011, pit + 0.32 * (front - side[1] - pit) + 0.011,
         0.90 * back + side[1] + 0.4 * full, 0.5 * square),
        (lowest, side[1] - 0.012, pit + 0.004, 0.68 * back + side[1] + 0.010, 0.22),
        (lowest + 0.5 * drop, side[1] - 0.006, np.sqrt(0.75 * 0.037 * scale * mid_half * slope), 0.45 * back + 0.014,
         0.15),
        (side[2], side[1], np.sqrt(0.7 * 0.024 * scale * abs(side[0]) * slope), 0.78 * nape, 0.15),
        (side[2] + 0.020, side[1], 0.02, 0.03, 0.0),
    ]  # fmt: skip
    table = np.zeros((ROWS, 6))
    every = np.array([[row[0], row[1], row[3], row[4], row[5]] for row in rows] + upper)
    table[:, [0, 3, 4, 5]] = PchipInterpolator(every[:, 0], every[:, 1:], axis=0)(place)
    below = np.array([(row[0], row[2]) for row in rows])
    for column, end in ends.items():
        reach, height = abs(end[0]), end[2]
        rise = height - chest_height
        girdle = np.array([
            (chest_height + 0.45 * rise, chest_half + 0.35 * (reach - chest_half)),
            (chest_height + 0.82 * rise, reach - 0.008), (height, reach),
        ])  # fmt: skip
        if reach < chest_half + 0.010:
            girdle[:, 1] = np.linspace(chest_half, reach, 4)[1:]
        straight = abs(side[0]) + (side[2] - place) * (reach - abs(side[0])) / (side[2] - height)
        smooth = PchipInterpolator(*np.vstack([below, girdle]).T, extrapolate=True)(place)
        table[:, column] = np.where(place > height, np.maximum(straight, 0.02), smooth)
    if stance.stoop:
        table[:, 0] += [bend(tape, stance, float(height)) for height in place]
    step = place[1] - place[0]
    sharp = gaussian_filter1d(table, 0.010 / step, axis=0, mode="nearest")
    soft = gaussian_filter1d(table, 0.026 * scale / step, axis=0, mode="nearest")
    share = np.clip((place - chest_height) / (0.6 * (lowest - chest_height)), 0.0, 1.0)[:, None]
    return place, soft + share * share * (3.0 - 2.0 * share) * (sharp - soft)


def _swellings(tape: Mapping[str, float], sections: Floats, sex: str) -> list[Swelling]:
    """Return bust or breast muscles, shoulder blades and their furrow, and the seat."""
    unit = tape["stature"] / 1.7558
    chest_wide, chest_deep = sections[0, :2]
    hip_wide, hip_deep = sections[2, :2]
    chest, hip, waist = tape["chest_height"], tape["hip_height"], tape["waist_height"]
    rise = tape["shoulder_point_height"] - chest
    found = [
        Swelling(0.0, chest + 0.05 * rise, 0.020 * unit, 0.6 * rise, 0.7 * (chest - waist), -0.005 * unit, -1),
    ]
    for sign in (1.0, -1.0):
        if sex == "woman":
            found.append(Swelling(
                sign * 0.58 * chest_wide, chest, 0.50 * chest_wide, 0.075 * unit, 0.054 * unit, 0.26 * chest_deep, 1
            ))  # fmt: skip
        elif sex == "man":
            found.append(
                Swelling(
                    sign * 0.46 * chest_wide,
                    chest + 0.10 * rise,
                    0.36 * chest_wide,
                    0.40 * rise,
                    0.050 * unit,
                    0.10 * chest_deep,
                    1,
                )
            )
        found.append(
            Swelling(
                sign * 0.50 * chest_wide,
                chest + 0.36 * rise,
                0.40 * chest_wide,
                0.46 * rise,
                0.60 * rise,
                0.09 * chest_deep,
                -1,
            )
        )
        found.append(Swelling(
            sign * 0.45 * hip_wide, hip + 0.004 * unit, 0.42 * hip_wide, 0.105 * unit, 0.070 * unit, 0.12 * hip_deep, -1
        ))  # fmt: skip
    return found


def _swollen(place: Floats, radius: Floats, swellings: Sequence[Swelling]) -> Floats:
    """Return radii (ROWS, TURNS) with each point moved to the front or back by the swellings there."""
    turn = azimuths()
    x, y = -radius * np.sin(turn), radius * np.cos(turn)
    facing = y / np.maximum(radius, 1e-9)
    moved = y.copy()
    for one in swellings:
        reach = np.where(place > one.z, one.above, one.below)[:, None]
        share = np.exp(-(((x - one.x) / one.wide) ** 2) - ((place[:, None] - one.z) / reach) ** 2)
        ahead = np.clip(one.face * facing * 2.0, 0.0, 1.0)
        moved += one.face * one.rise * share * ahead * ahead * (3.0 - 2.0 * ahead)
    out = np.empty_like(radius)
    new_turn, new_radius = np.arctan2(-x, moved), np.hypot(x, moved)
    wanted = np.where(turn > np.pi, turn - 2.0 * np.pi, turn)
    for row in range(len(radius)):
        order = np.argsort(new_turn[row])
        out[row] = np.interp(wanted, new_turn[row][order], new_radius[row][order], period=2.0 * np.pi)
    return out


def leaning_frame(lean: float) -> Floats:
    """Return the frame of an axis that leans forward: rows right, front, axis."""
    return np.array([[1.0, 0.0, 0.0], [0.0, np.cos(lean), -np.sin(lean)], [0.0, np.sin(lean), np.cos(lean)]])


def neck(tape: Mapping[str, float], curves: Curves, ring_scale: float, stance: Stance = UPRIGHT_STANCE) -> Part:
    """Return the neck, leaning forward: its surface runs through neck base and mid-neck ring and flares below.

    At each azimuth round the leaning axis the profile is a cubic from the base, where it slopes outward as a
    shoulder or a chest does, to the mid-neck ring, where it runs along the axis. ring_scale stretches that ring.
    """
    frame = leaning_frame(neck_lean(tape, stance))
    origin, _ = mid_neck_place(tape, stance)
    turn = azimuths()
    base_high, base_out = _round_axis((curves.neck_base - origin) @ frame.T, turn)
    _, ring_out = _round_axis((curves.mid_neck - origin) @ frame.T, turn)
    ring_out = ring_out * ring_scale
    flare = 0.28 + 0.62 * np.sin(turn) ** 2
    top = 0.38 * (tape["stature"] - tape["side_neck_height"])
    place = np.linspace(base_high.min() - 0.030, top, ROWS)[:, None]
    t = np.clip((place - base_high) / -base_high, 0.0, 1.0)
    profile = (
        base_out * (1.0 + 2.0 * t) * (1.0 - t) ** 2
        + base_high * flare * t * (1.0 - t) ** 2
        + ring_out * t * t * (3.0 - 2.0 * t)
    )
    below = np.minimum(base_high - place, 0.030)
    radius = np.where(place < base_high, base_out + flare * below, profile)
    above = np.clip(place / top, 0.0, 1.0)
    radius = radius * (1.0 - 0.22 * above * above * (3.0 - 2.0 * above))  # towards the inside of the head
    radius = gaussian_filter1d(radius, 0.009 / float(place[1, 0] - place[0, 0]), axis=0, mode="nearest")
    blend = np.full((ROWS, TURNS), 0.020 * tape["stature"] / 1.7558)
    return Part((float(place[0, 0]), float(top)), (0.02, 0.03), np.zeros((ROWS, 2)), radius, blend, frame, origin)


def _round_axis(points: Floats, turn: Floats) -> tuple[Floats, Floats]:
    """Return height along and distance from the axis of a ring (k, 3), in its own frame, at azimuths."""
    own = np.arctan2(-points[:, 0], points[:, 1]) % (2.0 * np.pi)
    order = np.argsort(own)
    values = (points[:, 2], np.hypot(points[:, 0], points[:, 1]))
    height, away = (np.interp(turn, own[order], value[order], period=2.0 * np.pi) for value in values)
    return height, away


def head_level(tape: Mapping[str, float]) -> float:
    """Return the height of the head girth, above the ears [m]."""
    return tape["stature"] - 0.098 * head_size(tape)


def head_place(tape: Mapping[str, float], stance: Stance = UPRIGHT_STANCE) -> float:
    """Return y of the head's middle [m]: the ear canal lies 49 degrees above the back neck point.

    Carriage: Raine and Twomey, Arch. Phys. Med. Rehabil. 78(11), 1215-1223, 1997.
    """
    ear = tape["stature"] - 0.131 * head_size(tape)
    back = MIDDLE_Y - 0.053 * tape["neck_base_girth"] / 0.408 + stance.stoop + head_ahead(stance)
    return back + (ear - tape["back_neck_height"]) / np.tan(np.radians(48.9)) + 0.002


def head(tape: Mapping[str, float], stance: Stance = UPRIGHT_STANCE, *, measures: Floats | None = None) -> Part:
    """Return a plain head: an egg whose fullest section has the head's girth, breadth and length, with a slight chin.

    measures: those three [m], where they are not the tape's: a thick neck that swells the joint leaves less to the
    head.
    """
    girth, breadth, length = (
        (tape["head_girth"], tape["head_breadth"], tape["head_length"]) if measures is None else measures
    )
    wide, long = 0.5 * breadth, 0.5 * length
    size = head_size(tape)
    level = head_level(tape)
    square = squareness_for(girth, breadth, length)
    middle, axis = mid_neck_place(tape, stance)
    ring_front = middle[2] - 1.03 * tape["neck_girth"] / (2.0 * np.pi) * axis[1]
    chin = max(tape["stature"] - CHIN_BELOW_CROWN * size, ring_front + CHIN_ABOVE_RING)
    deep = level - chin - JAW * size
    if deep < LEAST_JAW:
        raise FigureError(
            f"figure: head: got {100 * (level - chin):.1f} cm from its widest level down to the chin, allowed "
            f"{100 * (JAW * size + LEAST_JAW):.1f} or more. The neck reaches too high for the stature: check the "
            "stature, the heights of neck and nape, and how far the figure stoops."
        )
    stations = [
        # place, half-breadth, front, back, squareness
        (level, wide, long, long, square),
        (level - 0.22 * deep, 0.985 * wide, 0.995 * long, 0.97 * long, 0.8 * square),
        (level - 0.45 * deep, 0.94 * wide, 0.985 * long, 0.89 * long, 0.5 * square),
        (level - 0.70 * deep, 0.85 * wide, 0.965 * long, 0.74 * long, 0.0),
        (level - deep, 0.70 * wide, 0.93 * long, 0.50 * long, 0.0),
    ]  # fmt: skip
    place = np.linspace(stations[-1][0], level, ROWS)
    table = through(stations, place, 0.008)
    table[:, 0] += wide - table[-1, 0]
    table[:, 1:3] += long - table[-1, 1:3]
    deep = 0.5 * (table[:, 1] + table[:, 2])
    radius = ovals(table[:, 0], table[:, 0], deep, deep, table[:, 3], azimuths())
    centre = np.stack([np.zeros(ROWS), head_place(tape, stance) + 0.5 * (table[:, 1] - table[:, 2])], axis=1)
    blend = np.full((ROWS, TURNS), 0.030 * size)
    return Part((float(place[0]), level), (JAW * size, 0.098 * size), centre, radius, blend, UPRIGHT, np.zeros(3))


def first_sections(tape: Mapping[str, float]) -> Floats:
    """Return half-breadth, half-depth and squareness at chest, waist and hip, (3, 3), for a trunk of plain ovals."""
    return np.array([
        (0.5 * tape[f"{level}_breadth"], 0.5 * tape[f"{level}_depth"],
         squareness_for(tape[f"{level}_girth"], tape[f"{level}_breadth"], tape[f"{level}_depth"]))
        for level in LEVELS
    ])  # fmt: skip


def next_sections(sections: Floats, asked: Floats, got: Floats) -> Floats:
    """Return the sections corrected for what the joined surface measures: girth, breadth, depth, (3, 3) each.

    Breadth and depth are scaled first; then the squareness is moved by what a plain oval of that size would need.
    Iterating the three together runs off.
    """
    found = sections.copy()
    for i in range(3):
        breadth, depth = sections[i, :2] * asked[i, 1:] / got[i, 1:]
        before = oval_girth(2.0 * sections[i, 0], 2.0 * sections[i, 1], sections[i, 2])
        scaled = oval_girth(2.0 * breadth, 2.0 * depth, sections[i, 2])
        wanted = scaled * asked[i, 0] / (got[i, 0] * scaled / before)
        found[i] = breadth, depth, squareness_for(wanted, 2.0 * breadth, 2.0 * depth)
    return found
