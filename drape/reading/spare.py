"""Spare cloth: how much of the cloth round the neck and over the shoulders has no body to lie on.

In: the figure, the worn triangles of the cloak's body, without a collar [m]. Out: the group of readings `spare`. Which
draft it was, and how it came to rest, is not asked.

Cloth is counted where it lies within a reach of the line round the base of the neck, folds, layers and all. Against it
stands the area of the body that it covers there, once, raised by half the cloth's thickness; what is over is spare.
Cloth hardly stretches, so however it comes to rest, what does not fit between neck and shoulders stays there:

- a smooth lie: as much cloth as body, none spare; a little under 0 where the cloth bridges a hollow;
- cloth folded in: all of the fold is counted, over the little body that it covers;
- a funnel round the neck: all of it is counted; of the neck under it only the lowest part, where a neck edge belongs;
- a tent over the shoulders: counted by as much as its way through the air is longer than the way over the body.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from drape.arrays import Floats
from drape.body.figure import REGIONS, Figure
from drape.cloth.mesh import vertex_normals
from drape.polyline import polyline_distance
from drape.ray import first_crossing
from drape.triangle import quarter

WITHIN = 0.8  # of the shoulder's length: how far from the line round the neck's base is counted, 12 cm on a man
UP_NECK = 0.13  # of it likewise: how far up the neck counts as covered, 2 cm; a neck edge belongs no higher; ours
AIR = 0.15  # [m] furthest cloth that covers the body under it
DEEP = 0.015  # [m] how far inside the body cloth is looked for: a flat triangle of 5 cm cuts so far into a shoulder
SMALL = 0.005  # [m] a triangle only partly within reach is cut in parts that reach no further from their middle


def read_spare(figure: Figure, corners: Floats, area: Floats, thickness: float) -> dict[str, object]:
    """Share of the cloth round the neck and over the shoulders beyond the body it covers; None where it covers nothing.

    corners (t, 3, 3) [m] and area (t,) [m2], as cut, of the cloth's triangles.
    """
    lines = (figure.shoulder_line_left, figure.shoulder_line_right)
    shoulder = 0.5 * sum(float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum()) for line in lines)
    base = np.vstack([figure.neck_base, figure.neck_base[:1]])
    within = WITHIN * shoulder
    cloth = float(area @ share_within(corners, base, np.full(len(corners), within)))
    body = covered_area(figure, corners, base, (within, UP_NECK * shoulder), 0.5 * thickness)
    return {"percent": 100 * (1.0 - body / cloth) if body > 0 and cloth > 0 else None, "within_cm": 100 * within}


def covered_area(figure: Figure, corners: Floats, base: Floats, reach: tuple[float, float], raised: float) -> float:
    """Area of the body, raised along its normals, that has cloth over it within a reach of the base line [m2].

    reach: below the line and, of neck and head, above it [m]; nor does cloth further off cover these.
    """
    near = figure.triangles[could_lie_within(figure.vertices[figure.triangles], base, reach[0])]
    if not len(near):
        return 0.0
    vertex, near = np.unique(near, return_inverse=True)
    near = near.reshape(-1, 3)
    above = np.isin(figure.vertex_regions[vertex], [REGIONS.index(name) for name in ("neck", "head")])
    outward = vertex_normals(figure.vertices[vertex], near)
    surface = figure.vertices[vertex] + raised * outward
    cloth = np.ascontiguousarray(corners[could_lie_within(corners, base, reach[0] + AIR)])
    air = np.where(above, reach[1], AIR)
    covered = first_crossing(surface - DEEP * outward, outward, cloth) <= DEEP + air  # nan is not
    body = surface[near]
    area = 0.5 * np.linalg.norm(np.cross(body[:, 1] - body[:, 0], body[:, 2] - body[:, 0]), axis=1)
    share = share_within(body, base, np.where(above[near[:, 0]], reach[1], reach[0]))
    return float(area @ (share * covered[near].mean(axis=1)))


def could_lie_within(corners: Floats, line: Floats, within: float) -> NDArray[np.bool_]:
    """Which triangles (t, 3, 3) are near enough to the middle of a line to lie within a distance of it [m], (t,)."""
    middle = line.mean(axis=0)
    reach = within + np.linalg.norm(line - middle, axis=1).max()
    away = corners - middle
    return np.einsum("tij,tij->ti", away, away).min(axis=1) < (reach + longest_side(corners)) ** 2


def share_within(corners: Floats, line: Floats, within: Floats) -> Floats:
    """Which share of each triangle's area (t, 3, 3) lies within its own distance (t,) of a line [m], (t,).

    A triangle that may lie partly within is cut in four until its parts are SMALL; then it is told by its middle.
    """
    share = np.zeros(len(corners))
    could = np.flatnonzero(could_lie_within(corners, line, within.max(initial=0.0)))
    centre = corners[could].mean(axis=1)
    off = polyline_distance(centre, line) - within[could]
    size = np.linalg.norm(corners[could] - centre[:, None], axis=2).max(axis=1)
    share[could] = np.clip(0.5 - off / (1.5 * size), 0.0, 1.0)  # its reach across is about one and a half times size
    partly = could[(np.abs(off) < size) & (size > SMALL)]
    if len(partly):
        parts = share_within(quarter(corners[partly]), line, np.repeat(within[partly], 4))
        share[partly] = parts.reshape(-1, 4).mean(axis=1)
    return share


def longest_side(corners: Floats) -> float:
    """The longest side of any of the triangles (t, 3, 3) [m]."""
    sides = [corners[:, k] - corners[:, k - 1] for k in range(3)]
    return math.sqrt(max(np.einsum("ti,ti->t", side, side).max(initial=0.0) for side in sides))
