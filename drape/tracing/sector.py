"""The sector a drawing's edges lie on: its centre, where its first edge points, how wide it is, how long.

In: the named edges of a drawing. Out: the same edges in the flat axes of `cloak`, and the sector. The centre is found
by least squares: the opening edges run towards it and the hem is a circle about it, as nearly as they can be.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy.optimize import least_squares

from drape.arrays import Floats
from drape.draft.neckline import direction
from drape.polyline import length_along
from drape.tracing.joined import places_along
from drape.tracing.named import Named, NamedDart, circle

CLOSE: Final = 3e-3  # m; where a construction of ours comes within this of the drawing, it describes it
ON_LINE: Final = 1.8e-3  # m; an unsteady hand stays within it, a shoulder cut leaves it
SOFT: Final = 1e-3  # m; places further off count less and less
STRAIGHT_SHARE: Final = 0.5  # of an opening edge, from the hem in, that is surely no shoulder cut
EDGE_WEIGHT: Final = 30.0  # of the opening edges against the hem, where the hem is no circle
NECK_COUNT: Final = 100  # places that the two ends of the neck edge count for
WHOLE_TURN: Final = 2 * math.pi


@dataclass(frozen=True)
class Sector:
    """A drawing's edges in the flat axes of `cloak` [m], and its sweep [rad] and hem radius [m].

    hem_off, opening_off: how far the hem lies from its circle and the opening edges, outside any shoulder cut, from
    their straight lines, at most [m]. centre, start: where O lies in the drawing [m], and the direction of the first
    edge there [rad].
    """

    edges: Named
    sweep: float
    radius: float
    hem_off: float
    opening_off: tuple[float, float]
    centre: Floats
    start: float

    def in_drawing(self, points: Floats) -> Floats:
        """Flat points [m] where the drawing has them."""
        return _turned(points, np.zeros(2), -self.start) + self.centre


def sector(edges: Named) -> Sector:
    """The edges turned and moved to the flat axes."""
    hem, sides = places_along(edges.hem), [_outer(run) for run in edges.openings]
    middle, radius = circle(edges.hem)
    first, last = (side[-1] - side[0] for side in sides)
    start = math.atan2(first[1], first[0])
    swept = _swept(edges.hem, middle)
    sweep = (math.atan2(last[1], last[0]) - start) % WHOLE_TURN
    sweep += WHOLE_TURN * round((swept - sweep) / WHOLE_TURN)
    guess = np.array([*middle, start, sweep, radius])
    found = _fit(guess, hem, sides)
    sides = [_straight(run, side, *found[:2]) for run, side in zip(edges.openings, sides, strict=True)]
    found = _fit(found, hem, sides)
    if max(_hem_off(found, hem), *_asides(found, sides)) > CLOSE:
        ends = np.array([run[0] for run in edges.openings])
        found = _fit(found, hem, sides, EDGE_WEIGHT, ends)
    off = _hem_off(found, hem)
    asides = _asides(found, sides)
    if max(asides) > CLOSE:  # they are no straight lines: each then starts at the neck
        is_arc = float(np.abs(np.linalg.norm(hem - middle, axis=1) - radius).max()) <= CLOSE
        found = _by_neck(edges, middle if is_arc else found[:2], radius if is_arc else found[4], found[3])
        off = _hem_off(found, hem)
        asides = _asides(found, [places_along(run) for run in edges.openings])
    moved = _moved(edges, found[:2], found[2])
    return Sector(moved, min(float(found[3]), WHOLE_TURN), float(found[4]), off, asides, found[:2], float(found[2]))


def _hem_off(found: Floats, hem: Floats) -> float:
    return float(np.abs(np.linalg.norm(hem - found[:2], axis=1) - found[4]).max())


def _asides(found: Floats, sides: Sequence[Floats]) -> tuple[float, float]:
    """How far each opening edge stands off its straight line at most [m]."""
    first, last = (
        float(np.abs((side - found[:2]) @ direction(angle + math.pi / 2)).max())
        for side, angle in zip(sides, (found[2], found[2] + found[3]), strict=True)
    )
    return first, last


def _by_neck(edges: Named, middle: Floats, radius: float, sweep: float) -> Floats:
    """The sector about a centre whose straight lines run through the ends of the neck edge."""
    first, last = (run[0] - middle for run in edges.openings)
    start, end = (math.atan2(place[1], place[0]) for place in (first, last))
    found = (end - start) % WHOLE_TURN
    return np.array([*middle, start, found + WHOLE_TURN * round((sweep - found) / WHOLE_TURN), radius])


def _outer(run: Floats) -> Floats:
    """The places of an opening edge that are surely no cut, from the neck's side to the hem."""
    places = places_along(run)
    along = length_along(places)
    return places[along >= (1 - STRAIGHT_SHARE) * along[-1]]


def _straight(run: Floats, side: Floats, x: float, y: float) -> Floats:
    """The places of an opening edge from the hem in, as far as they lie on one line with its outer part."""
    places = places_along(run)
    step = (side[-1] - side[0]) / np.linalg.norm(side[-1] - side[0])
    off = np.abs((places - side.mean(axis=0)) @ np.array([-step[1], step[0]]))
    leaves = np.flatnonzero(off > ON_LINE)
    start = min(int(leaves[-1]) + 1 if len(leaves) else 0, len(places) - len(side))
    return places[start:]


def _swept(hem: Floats, middle: Floats) -> float:
    """The angle from the hem's first end to its last, about the middle [rad]."""
    off = hem - middle
    return float(np.diff(np.unwrap(np.arctan2(off[:, 1], off[:, 0]))).sum())


def _fit(guess: Floats, hem: Floats, sides: list[Floats], weight: float = 1.0, ends: Floats | None = None) -> Floats:
    """Centre, first direction, sweep and radius that fit best; weight: of the opening edges against the hem.

    ends: of the neck edge [m], (2, 2), which are to lie equally far from the centre where the hem is no circle about
    one.
    """

    def residuals(values: Floats) -> Floats:
        centre, start, sweep, radius = values[:2], values[2], values[3], values[4]
        off = [np.linalg.norm(hem - centre, axis=1) - radius]
        for side, angle in zip(sides, (start, start + sweep), strict=True):
            off.append(weight * ((side - centre) @ direction(angle + math.pi / 2)))
        if ends is not None:
            reach = np.linalg.norm(ends - centre, axis=1)
            off.append(np.full(NECK_COUNT, weight * (reach[0] - reach[1])))
        return np.concatenate(off)

    return least_squares(residuals, guess, loss="soft_l1", f_scale=SOFT, xtol=1e-12, ftol=1e-12).x


def _turned(points: Floats, centre: Floats, start: float) -> Floats:
    c, s = math.cos(start), math.sin(start)
    return (points - centre) @ np.array([[c, -s], [s, c]])


def _moved(edges: Named, centre: Floats, start: float) -> Named:
    """The edges in axes with the centre at (0, 0) and the first edge along x."""

    def at(points: Floats) -> Floats:
        return _turned(points, centre, start)

    return replace(
        edges,
        hem=at(edges.hem),
        openings=(at(edges.openings[0]), at(edges.openings[1])),
        neck=tuple(map(at, edges.neck)),
        darts=tuple(NamedDart(at(dart.first), at(dart.second)) for dart in edges.darts),
        inner=tuple((role, replace(line, points=at(line.points))) for role, line in edges.inner),
    )
