"""What is worn under the cloak: a thickness for each region, added to the mannequin.

In: the bare mannequin's mesh [m] with a thickness at each vertex [m], and its signed distance. Out: the closed mesh
round both. Thicknesses of the kinds are ours, common practice, no source. Which vertex belongs to which region is left
to `figure`.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from scipy.spatial import cKDTree

from drape.arrays import Flags, Floats, Ints
from drape.body.signed_distance import DistanceField, distance_and_normal
from drape.body.surface_nets import along_surface, open_place, surface_nets, unshared_edge_count, without_checkers
from drape.errors import FigureError

PLACES = ("neck", "shoulders", "chest", "back", "waist", "hips", "arms")
KINDS: Mapping[str, Mapping[str, float]] = MappingProxyType({  # m
    "jacket": dict(zip(PLACES, (0.004, 0.012, 0.010, 0.008, 0.008, 0.008, 0.008), strict=True)),
    "padded coat": dict(zip(PLACES, (0.010, 0.025, 0.025, 0.025, 0.020, 0.020, 0.018), strict=True)),
})  # fmt: skip
THICKEST = 0.05  # m; the band in which the signed distance is not blended reaches 6 cm
EVENED = 40  # rounds over which thickness is evened out between regions, about 4 cm
ROUNDS = 4


def evened(thickness: Floats, triangles: Ints, bare: Flags) -> Floats:
    """Return the thickness [m] at each vertex (n,) evened out over its neighbours;
    what is `bare` (n,) bool stays so.
    """
    count = np.bincount(triangles.ravel(), minlength=len(thickness)) * 2.0
    for _ in range(EVENED):
        total = np.zeros_like(thickness)
        for i in range(3):
            others = thickness[triangles[:, (i + 1) % 3]] + thickness[triangles[:, (i + 2) % 3]]
            total += np.bincount(triangles[:, i], others, minlength=len(thickness))
        thickness = np.where(bare, 0.0, 0.4 * thickness + 0.6 * total / count)
    return thickness


def padded(vertices: Floats, field: DistanceField, thickness: Floats) -> tuple[Floats, Ints]:
    """Return the mesh that lies `thickness` (n,) [m] off the bare mesh, as vertices [m] and outward triangles.

    Each place of the distance grid takes the thickness of the nearest bare vertex. The new surface lies where distance
    equals thickness.
    Raises: FigureError when no closed surface comes of it.
    """
    near = np.abs(field.values) < THICKEST + 3.0 * field.spacing
    nodes = np.argwhere(near)
    _, nearest = cKDTree(vertices).query(field.origin + field.spacing * nodes)
    laid = np.zeros_like(field.values)
    laid[near] = thickness[nearest]
    values = field.values - laid
    found, corners = surface_nets(without_checkers(values), field.origin, field.spacing)
    if unshared_edge_count(found, corners):
        raise FigureError(
            f"figure: worn_under.arms_cm: got sleeves that just touch the body {open_place(found, corners)}, allowed "
            "apart from it or joined. Make arms_cm a few millimetres more or less."
        )
    worn = DistanceField(field.origin, field.spacing, np.ascontiguousarray(values))
    for _ in range(ROUNDS):
        found = _onto(worn, found) + 0.6 * along_surface(found, corners)[0]
    return _onto(worn, _onto(worn, found)), corners


def _onto(field: DistanceField, points: Floats) -> Floats:
    """Return points moved onto the zero of a sampled function by a Newton step of at most half a cell."""
    value, slope = distance_and_normal(field, points)
    squared = np.maximum(np.einsum("ij,ij->i", slope, slope), 0.04)
    step = np.clip(-value / squared, -0.5 * field.spacing, 0.5 * field.spacing)
    return points + step[:, None] * slope
