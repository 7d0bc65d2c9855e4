"""The worn cloak and the mannequin as solid models, named, in their colours.

In: a fitting, or a mannequin alone. Out: named surfaces for `mesh_file`. They are called `cloak outside`, `cloak
inside`, `cloak cut edge` and `mannequin`; a cloak of several pieces has an outside for each. `cloak lap` and `cloak
buttons`, `clasp` or `ties` come with a closure that has them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from drape.cloth.mesh import vertex_normals
from drape.picture.closure import findings_surfaces, lap_surface
from drape.picture.colour import given_colours, piece_colours
from drape.picture.surfaces import Surface, cloth_surfaces, drawn_cloth, figure_surface, pieces_of

if TYPE_CHECKING:
    from drape.reading.result import Fitting

MODEL_EDGE = 0.02  # [m] of the cloth's triangles: half the size of a file drawn as finely as a picture


def solid_parts(fitting: Fitting) -> dict[str, Surface]:
    """The named parts of cloak and mannequin, in drape's axes [m]."""
    colours = given_colours(fitting.colours)
    drawn = drawn_cloth(fitting, edge=MODEL_EDGE)
    outside, *rest = cloth_surfaces(drawn, float(fitting.thickness), colours["outside"], colours["inside"])
    parts = {}
    pieces = pieces_of(drawn.triangles, drawn.edges)
    own = piece_colours(int(pieces.max()) + 1, colours["outside"])
    for k, colour in enumerate(own):
        name = "cloak outside" if len(own) == 1 else f"cloak outside, piece {k + 1}"
        parts[name] = _part_of(outside, pieces == k, colour)
    for surface in rest:
        parts[f"cloak {surface.name}"] = surface
    lap = lap_surface(fitting, drawn, colours["outside"])
    if lap is not None:
        parts["cloak lap"] = lap[0]
    for surface in findings_surfaces(fitting, drawn):
        parts[f"cloak {surface.name}"] = surface
    parts["mannequin"] = figure_surface(fitting, colours["figure"])
    return parts


def _part_of(surface: Surface, mine: np.ndarray, colour: np.ndarray) -> Surface:
    """The triangles of a surface that are `mine`, with only their vertices."""
    kept, index = np.unique(surface.triangles[mine], return_inverse=True)
    return Surface(
        surface.name, surface.points[kept], index.reshape(-1, 3), surface.normals[kept], colour, surface.vertex[kept]
    )


def mannequin_parts(vertices: np.ndarray, triangles: np.ndarray) -> dict[str, Surface]:
    """The mannequin alone, of vertices [m] (n, 3) and triangles (t, 3), in plain linen."""
    normals = vertex_normals(vertices, triangles)
    return {
        "mannequin": Surface("figure", vertices, triangles, normals, given_colours({})["figure"], np.empty(0, np.int64))
    }
