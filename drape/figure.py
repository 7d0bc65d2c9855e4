"""A tailor's mannequin from tape measures.

In: tape measures, SI (m, rad), keys of a body file without their unit suffix. Out: a `Figure`: closed mesh [m], named
landmarks and levels, neck-base curve, shoulder lines, signed distance.
Axes, for the whole program: z up, floor z = 0; the figure faces +y; its right is +x; left and right are the wearer's.
Azimuth a points along (-sin a, cos a): 0 front, 90 degrees the wearer's left, 180 back, 270 right.
Reading files, changing units and dressing the figure are left to others.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from drape.distance import DistanceField, distance_field
from drape.errors import FigureError
from drape.shape import (
    ARMLESS_COUNT, PART_NAMES, Curves, build_parts, crotch_height, draw_curves, mid_neck_place, ring_length,
)  # fmt: skip
from drape.surface import Parts, cast, evaluate_each, onto_surface, pull_through, skin
from drape.tape import fill_tape

FloatArray = np.ndarray
IntArray = np.ndarray

REGIONS = ("neck", "shoulder_left", "shoulder_right", "arm_left", "arm_right", "torso", "head", "leg")
GIRTH_LEVELS = ("chest", "waist", "hip")
FITTING_ROUNDS = 5
PULL_REACH = 0.085  # m, how far a landmark bends the surface round it
SHOULDER_DEPTH = 0.06  # m, how far below the shoulder line the shoulder region reaches


@dataclass(frozen=True)
class Figure:
    """A closed mannequin with its landmarks; lengths in m, angles in rad."""

    name: str
    sex: str  # "man", "woman" or "child"
    tape: Mapping[str, float]  # every measure, given or filled
    filled: tuple[str, ...]  # names of those filled from the survey
    vertices: FloatArray  # (n, 3)
    triangles: IntArray  # (m, 3) outward counter-clockwise, closed
    landmarks: Mapping[str, FloatArray]  # (3,) each, on the surface
    levels: Mapping[str, float]  # heights of chest, waist, hip, mid_thigh, knee, mid_calf, ankle, floor
    neck_base: FloatArray  # (72, 3) on the surface at azimuths 0, 5, ... 355 degrees about neck_centre
    neck_centre: FloatArray  # (3,)
    shoulder_line_left: FloatArray  # (31, 3) on the surface, side neck point to shoulder point
    shoulder_line_right: FloatArray  # (31, 3)
    vertex_regions: IntArray  # (n,) index into REGIONS
    field: DistanceField


def build_figure(tape: Mapping[str, float], *, name: str = "figure", sex: str = "man") -> Figure:
    """Return the mannequin that carries the tape measures.

    Measures not given are filled (`tape.fill_tape`); sections are lofted and joined (`shape`), the trunk's sections
    stretched until chest, waist and hip girths are met, and the surface drawn through neck base and shoulder lines.

    Parameters: tape: SI, needs stature, chest_girth, waist_girth, hip_girth; sex: "man", "woman" or "child".
    Raises: FigureError in one line when the measures do not make a body.
    Source: proportions in `tape`; shape ours, tested in tests/unit/test_figure.py and tests/published.
    """
    full, filled = fill_tape(tape, sex=sex)
    curves = draw_curves(full)
    parts = _fit_girths(full, curves, sex)
    parts = pull_through(parts, _pull_points(curves), reach=PULL_REACH)
    vertices, triangles = skin(parts)
    neck_centre, neck_base = _by_azimuth(curves.neck_base)
    neck_base = _settle(parts, neck_base)
    left, right = _settle(parts, curves.shoulder_line_left), _settle(parts, curves.shoulder_line_right)
    four = _settle(parts, curves.neck_base[[0, 180, 90, 270]])
    landmarks = {
        "front_neck": four[0], "back_neck": four[1], "side_neck_left": four[2], "side_neck_right": four[3],
        "shoulder_point_left": left[-1], "shoulder_point_right": right[-1], "crown": vertices[vertices[:, 2].argmax()],
    }  # fmt: skip
    return Figure(
        name=name, sex=sex, tape=full, filled=filled, vertices=vertices, triangles=triangles, landmarks=landmarks,
        levels=_levels(full), neck_base=neck_base, neck_centre=neck_centre, shoulder_line_left=left,
        shoulder_line_right=right, vertex_regions=_vertex_regions(parts, vertices, full, neck_base, neck_centre, left, right),
        field=distance_field(vertices, triangles),
    )  # fmt: skip


def region_of(figure: Figure, points: FloatArray) -> IntArray:
    """Return for each point (k, 3) [m] the index in `REGIONS` of the figure's nearest surface, shape (k,).

    Neck: above the neck base and below the head. Shoulder: within 6 cm below a shoulder line, inside the armhole.
    Arm: beyond the armhole. Leg: below the crotch. Torso: the rest. Raises ValueError unless points are (k, 3).
    """
    points = np.asarray(points, dtype=np.float64)
    if points.ndim != 2 or points.shape[1] != 3:
        raise ValueError(f"figure: points: got shape {points.shape}, allowed (k, 3). Give one point per row.")
    _, nearest = cKDTree(figure.vertices).query(points)
    return figure.vertex_regions[nearest]


def measure_figure(figure: Figure) -> dict[str, float]:
    """Return what the mesh itself measures, SI: heights, girths, shoulder lengths and slopes, keys as in the tape.

    Chest, waist and hip girths are the hull of the level section without arms (a tape bridges hollows); the mid-neck
    girth is the hull of the section square to the neck's axis; the neck-base girth is the length of `neck_base`.
    """
    marks = figure.landmarks
    up = np.array([0.0, 0.0, 1.0])
    got = {"stature": float(np.ptp(figure.vertices[:, 2]))}
    for key in ("back_neck", "front_neck"):
        got[f"{key}_height"] = float(marks[key][2])
    got["side_neck_height"] = float(0.5 * (marks["side_neck_left"][2] + marks["side_neck_right"][2]))
    got["shoulder_point_height"] = float(0.5 * (marks["shoulder_point_left"][2] + marks["shoulder_point_right"][2]))
    got["shoulder_breadth"] = float(marks["shoulder_point_right"][0] - marks["shoulder_point_left"][0])
    got["neck_base_girth"] = ring_length(figure.neck_base)
    arms = np.isin(figure.vertex_regions, (REGIONS.index("arm_left"), REGIONS.index("arm_right")))
    for level in GIRTH_LEVELS:
        got[f"{level}_girth"] = _section_girth(figure, np.array([0.0, 0.0, figure.levels[level]]), up, ~arms)
    centre, axis = mid_neck_place(figure.tape)
    near = np.linalg.norm(figure.vertices - centre, axis=1) < 0.13
    got["neck_girth"] = _section_girth(figure, centre, axis, near)
    for side in ("left", "right"):
        line = getattr(figure, f"shoulder_line_{side}")
        got[f"shoulder_slope_{side}"] = float(np.arcsin((line[0, 2] - line[-1, 2]) / np.linalg.norm(line[-1] - line[0])))
        got[f"shoulder_length_{side}"] = float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())
    got["shoulder_length"] = 0.5 * (got["shoulder_length_left"] + got["shoulder_length_right"])
    got["shoulder_slope"] = 0.5 * (got["shoulder_slope_left"] + got["shoulder_slope_right"])
    return got


def _fit_girths(tape: Mapping[str, float], curves: Curves, sex: str) -> Parts:
    """Stretch the trunk's sections until their hulls have the girths asked."""
    scales = np.ones(3)
    asked = np.array([tape[f"{level}_girth"] for level in GIRTH_LEVELS])
    for _ in range(FITTING_ROUNDS):
        parts = build_parts(tape, curves, sex, scales)
        got = np.array([_ray_girth(parts, tape[f"{level}_height"]) for level in GIRTH_LEVELS])
        if (np.abs(got / asked - 1.0) < 5e-4).all():
            break
        scales = scales * (asked / got)
    return build_parts(tape, curves, sex, scales)


def _ray_girth(parts: Parts, height: float) -> float:
    """Return the hull girth of the level section without arms, from 120 rays."""
    turn = np.radians(np.arange(0.0, 360.0, 3.0))
    ray = np.stack([-np.sin(turn), np.cos(turn), np.zeros_like(turn)], axis=1)
    reach = cast(parts, np.array([0.0, -0.01, height]), ray, count=ARMLESS_COUNT)
    return hull_length((reach[:, None] * ray)[:, :2])


def hull_length(points: FloatArray) -> float:
    """Return the length [m] of the convex hull of points (k, 2): what a taut tape reads."""
    points = points[np.lexsort((points[:, 1], points[:, 0]))]
    hull: list[FloatArray] = []
    for chain in (points, points[::-1]):
        start = len(hull)
        for p in chain:
            while len(hull) - start >= 2 and _turn(hull[-2], hull[-1], p) <= 0.0:
                hull.pop()
            hull.append(p)
        hull.pop()
    return ring_length(np.array(hull))


def _turn(a: FloatArray, b: FloatArray, c: FloatArray) -> float:
    """Twice the signed area of triangle abc."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _section_girth(figure: Figure, point: FloatArray, normal: FloatArray, wanted: FloatArray) -> float:
    """Return the hull girth of the mesh's section by a plane, over triangles whose vertices are all wanted."""
    triangles = figure.triangles[wanted[figure.triangles].all(axis=1)]
    side = (figure.vertices - point) @ normal
    across = np.cross(normal, [1.0, 0.0, 0.0])
    cuts = []
    for i in range(3):
        a, b = triangles[:, i], triangles[:, (i + 1) % 3]
        crossed = (side[a] < 0.0) & (side[b] >= 0.0)
        t = side[a[crossed]] / (side[a[crossed]] - side[b[crossed]])
        cuts.append(figure.vertices[a[crossed]] * (1.0 - t[:, None]) + figure.vertices[b[crossed]] * t[:, None])
    cut = np.vstack(cuts)
    return hull_length(np.stack([cut[:, 0], cut @ across], axis=1))


def _pull_points(curves: Curves) -> FloatArray:
    """The points the surface is drawn through: neck base each 15 degrees, mid-neck ring, shoulder lines."""
    inner = slice(3, 31, 3)
    return np.vstack([
        curves.neck_base[::15], curves.mid_neck[::2], curves.shoulder_line_left[inner], curves.shoulder_line_right[inner],
    ])  # fmt: skip


def _settle(parts: Parts, points: FloatArray) -> FloatArray:
    """Move points the last fraction of a mm onto the surface, along its normal."""
    return onto_surface(parts, points, rounds=3)


def _by_azimuth(ring: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the centroid of the ring's 72 points at equal azimuths about that same centroid, and the points."""
    centre = ring.mean(axis=0)
    wanted = np.radians(np.arange(0.0, 360.0, 5.0))
    for _ in range(20):
        azimuth = np.unwrap(np.arctan2(-(ring[:, 0] - centre[0]), ring[:, 1] - centre[1]))
        azimuth = np.concatenate([azimuth - 2 * np.pi, azimuth, azimuth + 2 * np.pi])
        points = np.stack([np.interp(wanted, azimuth, np.tile(ring[:, axis], 3)) for axis in range(3)], axis=1)
        centre = points.mean(axis=0)
    return centre, points


def _levels(tape: Mapping[str, float]) -> dict[str, float]:
    """Heights of the body levels a hem is judged by; mid_thigh and mid_calf lie halfway between their neighbours."""
    crotch, knee, ankle = crotch_height(tape), tape["knee_height"], tape["ankle_height"]
    return {
        "chest": tape["chest_height"], "waist": tape["waist_height"], "hip": tape["hip_height"],
        "mid_thigh": 0.5 * (crotch + knee), "knee": knee, "mid_calf": 0.5 * (knee + ankle), "ankle": ankle, "floor": 0.0,
    }  # fmt: skip


def _vertex_regions(
    parts: Parts, vertices: FloatArray, tape: Mapping[str, float], neck_base: FloatArray, neck_centre: FloatArray,
    left: FloatArray, right: FloatArray,
) -> IntArray:  # fmt: skip
    """Name the region of every vertex."""
    each = evaluate_each(parts, vertices)
    part = {name: i for i, name in enumerate(PART_NAMES)}
    regions = np.full(len(vertices), REGIONS.index("torso"))
    regions[vertices[:, 2] < crotch_height(tape)] = REGIONS.index("leg")
    body = np.delete(each[:, :ARMLESS_COUNT], [part["neck"], part["head"], part["jaw"]], axis=1).min(axis=1)
    for side, sign, line in (("left", -1.0, left), ("right", 1.0, right)):
        x, z = sign * vertices[:, 0], vertices[:, 2]
        end_x, end_z = sign * line[-1, 0], line[-1, 2]
        arm = (each[:, part[f"{side} arm"]] < body + 0.002) & (x > end_x - 0.25 * np.maximum(end_z - z, 0.0))
        arm |= x > end_x + 0.002 + 0.9 * np.maximum(z - end_z, 0.0)
        arm &= z < end_z + 0.02
        ridge = np.interp(x, sign * line[:, 0], line[:, 2])
        shoulder = (x > 0.02) & (z > ridge - SHOULDER_DEPTH) & ~arm & (x > 0.6 * sign * line[0, 0])
        shoulder &= vertices[:, 2] > tape["waist_height"]
        regions[shoulder] = REGIONS.index(f"shoulder_{side}")
        regions[arm] = REGIONS.index(f"arm_{side}")
    away = vertices - neck_centre
    azimuth = np.degrees(np.arctan2(-away[:, 0], away[:, 1])) % 360.0
    steps = np.append(np.arange(0.0, 360.0, 5.0), 360.0)
    base = np.interp(azimuth, steps, np.append(neck_base[:, 2], neck_base[0, 2]))
    reach = np.hypot(*(neck_base - neck_centre)[:, :2].T)
    within = np.hypot(away[:, 0], away[:, 1]) < np.interp(azimuth, steps, np.append(reach, reach[0])) + 0.08
    above = (vertices[:, 2] > base) & within & (vertices[:, 2] > tape["front_neck_height"] - 0.001)
    regions[above] = REGIONS.index("neck")
    head = np.minimum(each[:, part["head"]], each[:, part["jaw"]]) < each[:, part["neck"]]
    regions[head & (vertices[:, 2] > tape["side_neck_height"])] = REGIONS.index("head")
    return regions
