"""What a mannequin measures, read off its own mesh.

In: a `Figure`. Out: its tape measures [m], slopes [rad], keys as in the tape; its volume. Girths are taut lines
round sections of the mesh, lengths taut lines in a plane, heights those of landmarks. How the figure was built is left
to `figure`. A figure is measured as it stands, over what is worn under the cloak; its `bare` is the body's own.
"""

from __future__ import annotations

import numpy as np

from drape.arrays import Floats
from drape.body.figure import REGIONS, Figure
from drape.body.girth import TAPE_TURNS, hull_length, loops, ring_length, section, turned
from drape.body.surface_nets import unshared_edge_count
from drape.body.tape import TAPE_KEYS
from drape.body.trunk import head_level, mid_neck_place

LEVELS = ("chest", "waist", "hip")
UP = np.array([0.0, 0.0, 1.0])


def measure_figure(figure: Figure) -> dict[str, float | None]:
    """Return what the mesh measures of every tape measure, SI, keys as in the tape.

    Arm length and wrist height are those of the arms that hang down, the breadth over the upper arms asks for both;
    else None.

    Chest, waist, hip and head: hull, breadth and depth of the level section without arms (a tape bridges hollows). The
    mid-neck girth: hull of the section square to the neck's axis. The neck-base girth: length of `neck_base`. Heights
    of chest, waist and hip are those of the levels their girths are taken at.
    """
    marks = figure.landmarks
    got: dict[str, float | None] = {
        "stature": float(np.ptp(figure.vertices[:, 2])),
        "neck_base_girth": ring_length(figure.neck_base),
    }
    for key in ("back_neck", "front_neck"):
        got[f"{key}_height"] = float(marks[key][2])
    for key in ("side_neck", "shoulder_point", "knee", "ankle"):
        got[f"{key}_height"] = float(0.5 * (marks[f"{key}_left"][2] + marks[f"{key}_right"][2]))
    got["shoulder_breadth"] = float(np.linalg.norm(marks["shoulder_point_right"] - marks["shoulder_point_left"]))
    hanging = [
        (side, sign)
        for side, sign, hold in zip(("left", "right"), (-1.0, 1.0), figure.arms, strict=True)
        if hold == "down"
    ]
    broad = float(marks["deltoid_right"][0] - marks["deltoid_left"][0])
    got["upper_arm_breadth"] = broad if len(hanging) == 2 else None
    got["wrist_height"] = float(np.mean([marks[f"wrist_{side}"][2] for side, _ in hanging])) if hanging else None
    for level in LEVELS:
        got[f"{level}_height"] = float(figure.levels[level])
        got[f"{level}_girth"], got[f"{level}_breadth"], got[f"{level}_depth"] = _level(figure, figure.levels[level])
    got["head_girth"], got["head_breadth"], got["head_length"] = _level(figure, head_level(figure.tape))
    got["neck_girth"] = _neck_girth(figure)
    left, right = (
        float(np.arcsin((line[0, 2] - line[-1, 2]) / np.linalg.norm(line[-1] - line[0])))
        for line in (figure.shoulder_line_left, figure.shoulder_line_right)
    )
    got["shoulder_slope_left"], got["shoulder_slope_right"], got["shoulder_slope"] = left, right, 0.5 * (left + right)
    lines = (figure.shoulder_line_left, figure.shoulder_line_right)
    got["shoulder_length"] = float(np.mean([np.linalg.norm(np.diff(line, axis=0), axis=1).sum() for line in lines]))
    lengths = [
        taut_length(figure, marks[f"shoulder_point_{side}"], marks[f"wrist_{side}"], outward=np.array([sign, 0.0, 0.0]))
        for side, sign in hanging
    ]  # fmt: skip
    got["arm_length"] = float(np.mean(lengths)) if lengths else None
    return {key: got[key] for key in TAPE_KEYS}


def volume(figure: Figure) -> float:
    """Return the volume of the figure [m^3]."""
    a, b, c = (figure.vertices[figure.triangles[:, i]] for i in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0)


def is_watertight(figure: Figure) -> bool:
    """Whether every edge is shared by two triangles that run along it in opposite directions."""
    return unshared_edge_count(figure.vertices, figure.triangles) == 0


def taut_length(figure: Figure, start: Floats, end: Floats, *, outward: Floats) -> float:
    """Return the length [m] of a tape laid from start to end over the side of the mesh that faces `outward`.

    The tape bridges hollows and lies in a plane through the chord, that of `outward` or one turned by 8 degrees,
    whichever makes it shortest. start, end: on the surface, (3,).
    """
    way = end - start
    chord = float(np.linalg.norm(way))
    way = way / chord
    aside = outward - (outward @ way) * way
    aside /= np.linalg.norm(aside)
    lengths = []
    for side in turned(aside, way, TAPE_TURNS):
        cut = section(figure.vertices, figure.triangles, 0.5 * (start + end), np.cross(way, side)) - start
        along, off = cut @ way, cut @ side
        near = (along > 0.0) & (along < chord) & (off > 0.0) & (off < 0.5 * chord)
        lengths.append(
            hull_length(np.vstack([[[0.0, 0.0], [chord, 0.0]], np.stack([along, off], axis=1)[near]])) - chord
        )
    return min(lengths)


def _level(figure: Figure, height: float) -> tuple[float, float, float]:
    """Return hull, breadth and depth [m] of the level section's curve round the body's middle, arms left out."""
    place = np.array([0.0, 0.0, height])
    if figure.bare:  # a sleeve may touch the body's cloth
        arm = np.isin(figure.vertex_regions, [REGIONS.index("arm_left"), REGIONS.index("arm_right")])
        cut = section(figure.vertices, figure.triangles[~arm[figure.triangles].any(axis=1)], place, UP)
        return hull_length(cut[:, :2]), float(np.ptp(cut[:, 0])), float(np.ptp(cut[:, 1]))
    found = loops(figure.vertices, figure.triangles, place, UP)
    round_middle = [one[:, :2] for one in found if one[:, 0].min() < 0.0 < one[:, 0].max()]
    cut = max(round_middle, key=lambda one: np.ptp(one[:, 0]))
    return hull_length(cut), float(np.ptp(cut[:, 0])), float(np.ptp(cut[:, 1]))


def _neck_girth(figure: Figure) -> float:
    """Return the hull of the section square to the neck's axis at the larynx [m]."""
    centre, axis = mid_neck_place(figure.tape, figure.stance)
    near = np.linalg.norm(figure.vertices - centre, axis=1) < 1.6 * figure.tape["neck_girth"] / (2.0 * np.pi)
    triangles = figure.triangles[near[figure.triangles].all(axis=1)]
    cut = section(figure.vertices, triangles, centre, axis)
    return hull_length(np.stack([cut[:, 0], cut @ np.cross(axis, [1.0, 0.0, 0.0])], axis=1))
