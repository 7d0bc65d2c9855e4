"""Readings by place: what one number of a reading is made of, at each vertex of the cloth or round the body.

In: a saved fitting. Out: stand-off, fullness and layers at each vertex (n,), neck gap and hem height by azimuth; the
neck edge, found by the names of the edges that make it.
The definitions are those of `worn`: averaged as there, they give the readings back. SI, azimuths in radians.
Colours and pictures are left to `paint` and those above.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import ConvexHull, cKDTree

from drape.arrays import Floats, Ints
from drape.cache import kept
from drape.cloth.mesh import vertex_normals, welded
from drape.reading.level_section import Section, gap_lines, level_section

if TYPE_CHECKING:
    from drape.body.signed_distance import DistanceField
    from drape.reading.result import Fitting


LEVEL_STEP = 0.01  # [m] between the level sections that fullness is taken from
WINDOW = 0.12  # [m] of the hull over which fullness is averaged: a fold and what lies beside it
PART = 0.005  # [m] longest part of a section that is put on the hull as one
BITS = 8  # in which its length is spread along the hull
LEVEL_CLOTH = np.cos(np.radians(12.0))  # cloth flatter than this is hardly cut by a level plane
LAYER_REACH = 0.025  # [m] each way, square to the cloth, within which other cloth counts as lying on it


@dataclass(frozen=True)
class Around:
    """A reading round the body: values [m] (k,) at azimuths [rad] (k,), from the closure round the front."""

    azimuth: Floats
    value: Floats


def figure_field(fitting: Fitting) -> DistanceField:
    """The signed distance to the mannequin that readings are taken with, made once for the same mannequin."""
    from drape.body.signed_distance import DistanceField, distance_field

    given = {"vertices": fitting.figure_vertices, "triangles": np.asarray(fitting.figure_triangles)}
    return kept(distance_field, (DistanceField,), given)


def neck_centre(neck_base: Floats) -> Floats:
    """The vertical about which azimuths run, (3,): the neck-base line has a point each 5 degrees about it."""
    quarter = len(neck_base) // 4
    return np.array([neck_base[0, 0], neck_base[quarter, 1], neck_base[:, 2].mean()])


def stand_off(fitting: Fitting) -> Floats:
    """Air between the mannequin and the cloth's inner face at each vertex [m]."""
    return np.maximum(_off_figure(fitting, fitting.worn), 0.0)


def neck_edge(fitting: Fitting) -> Floats:
    """Positions (k, 3) [m] along the neck edge, from the closure round to the closure."""
    return np.vstack([fitting.worn[fitting.edges[name]] for name in neck_names(fitting.edges)])


def neck_names(edges: Iterable[str]) -> list[str]:
    """The names of the edges that make the neck edge, from the closure round to the closure."""
    return [name for name in edges if name.endswith(" neck") or " neck " in name][::-1]


def neck_gap(fitting: Fitting) -> Around:
    """How far the neck edge stands off the neck, by azimuth."""
    index = _without_twins(fitting, neck_names(fitting.edges))
    gap = _off_figure(fitting, fitting.worn[index])
    return _around(fitting, fitting.worn[index], np.maximum(gap, 0.0))


def hem_fall(fitting: Fitting) -> Around:
    """Height of the hem above the floor, by azimuth; of a dagged one that of its tips."""
    hem = fitting.worn[np.asarray(fitting.about.get("hem_tips", fitting.edges["hem"]), np.int64)]
    return _around(fitting, hem, hem[:, 2].copy())


def _off_figure(fitting: Fitting, points: Floats) -> Floats:
    """Air between the mannequin and the inner face of cloth whose middle lies at points (k, 3) [m]."""
    from drape.body.signed_distance import distance

    return distance(figure_field(fitting), points) - 0.5 * float(fitting.thickness)


def _around(fitting: Fitting, points: Floats, values: Floats) -> Around:
    from drape.reading.worn import azimuth_of

    return Around(azimuth_of(points, neck_centre(fitting.neck_base)), values)


def _without_twins(fitting: Fitting, names: Sequence[str]) -> Ints:
    """Vertices along the named edges one after the other, sewn partners once."""
    both = np.concatenate([np.asarray(fitting.edges[name], np.int64) for name in names])
    places = fitting.worn[both]
    return both[np.concatenate([[True], (places[1:] != places[:-1]).any(axis=1)])]


def fullness(fitting: Fitting, *, lowest: float = -np.inf) -> Floats:
    """Cloth in excess at each vertex, share of what it covers; nan where no level section that goes round meets it.

    lowest [m]: below it nothing is worked out, and all is nan.

    At each level, how much longer the section is than the hull it goes round, over the WINDOW of the hull beside the
    vertex. Averaged along the hull this is the fullness of a section that hangs in one part.
    """
    weld = welded(fitting.worn, fitting.edges)
    points = np.zeros((int(weld.max()) + 1, 3))
    points[weld] = fitting.worn
    triangles = weld[np.asarray(fitting.triangles, np.int64)]
    height = fitting.worn[:, 2]
    values = np.full(len(height), np.nan)
    low = height.min()
    level = np.rint((height - low) / LEVEL_STEP).astype(int)
    for k in np.unique(level[height >= lowest]):
        section = level_section(points, triangles, low + k * LEVEL_STEP + 1e-9)
        if section is None or section.hull < WINDOW or section.length + section.gap < section.hull - 1e-9:  # in parts
            continue
        here = np.flatnonzero(level == k)
        corners, along, share = section_fullness(section)
        values[here] = np.interp(place_on(corners, fitting.worn[here, :2]), along, share, period=section.hull)
    flat_lying = np.abs(vertex_normals(points, triangles)[weld][:, 2]) > LEVEL_CLOTH
    values[flat_lying] = np.nan
    return values


def section_fullness(section: Section) -> tuple[Floats, Floats, Floats]:
    """Hull corners (h, 2) [m], places along the hull [m] (b,), and fullness there (b,), evenly spaced."""
    points = np.concatenate(section.curves)
    corners = points[ConvexHull(points).vertices]
    lines = np.concatenate(
        [np.stack([c[:-1], c[1:]], axis=1) for c in section.curves] + [gap_lines(list(section.curves))]
    )
    length = np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1)
    parts = np.maximum(1, np.ceil(length / PART).astype(int))
    of = np.repeat(np.arange(len(lines)), parts)
    part = np.arange(len(of)) - np.repeat(np.cumsum(parts) - parts, parts)
    ends = [lines[of, 0] + ((part + k) / parts[of])[:, None] * (lines[of, 1] - lines[of, 0]) for k in (0, 1)]
    begin, end = (place_on(corners, at) for at in ends)
    turn = (end - begin + 0.5 * section.hull) % section.hull - 0.5 * section.hull
    bits = (begin[:, None] + turn[:, None] * ((np.arange(BITS) + 0.5) / BITS)) % section.hull
    count = max(4, round(section.hull / PART))
    width = section.hull / count
    bins = np.minimum((bits / width).astype(int), count - 1).ravel()
    per_bin = np.bincount(bins, weights=np.repeat(length[of] / parts[of], BITS) / BITS, minlength=count) / width
    reach = min(count // 2, round(0.5 * WINDOW / width))
    run = np.concatenate([per_bin[-reach:], per_bin, per_bin[:reach]])
    total = np.concatenate([[0.0], np.cumsum(run)])
    mean = (total[2 * reach + 1 :] - total[: -2 * reach - 1]) / (2 * reach + 1)
    return corners, (np.arange(count, dtype=np.float64) + 0.5) * width, mean - 1.0


def place_on(corners: Floats, points: Floats) -> Floats:
    """How far along a closed polygon (h, 2) the place nearest each point (k, 2) lies [m]."""
    side = np.roll(corners, -1, axis=0) - corners
    squared = np.maximum(np.sum(side**2, axis=1), 1e-30)
    start = np.concatenate([[0.0], np.cumsum(np.sqrt(squared))[:-1]])
    share = np.clip(np.einsum("khc,hc->kh", points[:, None] - corners[None], side) / squared, 0.0, 1.0)
    off = np.linalg.norm(points[:, None] - corners[None] - share[..., None] * side[None], axis=2)
    nearest = np.argmin(off, axis=1)
    return start[nearest] + share[np.arange(len(points)), nearest] * np.sqrt(squared[nearest])


def layers(fitting: Fitting) -> Floats:
    """Layers of cloth at each vertex: itself, and every other met within LAYER_REACH square to it, either way."""
    weld = welded(fitting.worn, fitting.edges)
    triangles = np.asarray(fitting.triangles, np.int64)
    normals = vertex_normals(fitting.worn, triangles, weld)
    corners = fitting.worn[triangles]
    centre = corners.mean(axis=1)
    size = float(np.linalg.norm(corners - centre[:, None], axis=2).max())
    near = cKDTree(centre).query_ball_point(fitting.worn, LAYER_REACH + size)
    vertex = np.repeat(np.arange(len(near)), [len(n) for n in near])
    triangle = np.concatenate([np.asarray(n, np.int64) for n in near])
    own = (weld[triangles[triangle]] == weld[vertex][:, None]).any(axis=1)
    vertex, triangle = vertex[~own], triangle[~own]
    from drape.ray import crossings

    hit = crossings(fitting.worn[vertex], normals[vertex], corners[triangle])
    met = np.abs(hit) <= LAYER_REACH  # nan is not
    once = np.unique(np.column_stack([vertex[met], np.rint(hit[met] / 1e-5).astype(np.int64)]), axis=0)
    return 1.0 + np.bincount(once[:, 0], minlength=len(near)).astype(np.float64)
