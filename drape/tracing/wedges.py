"""Darts and shoulder cuts of a drawing, measured, and where the cloak closes.

In: a `Sector`. Out: each wedge's length, intake and bow, and the place of closure that the neck's depths and the darts
speak for. Lengths in metres, angles in radians, flat axes of `cloak`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import least_squares

from drape.arrays import Floats
from drape.draft.neckline import direction
from drape.draft.panels import share_of
from drape.draft.style import AZIMUTHS, SHOULDERS, Dart, Style
from drape.polyline import length_along, polyline_distance
from drape.tracing.joined import places_along
from drape.tracing.named import NamedDart
from drape.tracing.sector import CLOSE, Sector

LEAST_BOW: Final = 1.5e-3  # m; a leg that bows less is straight
INNER: Final = 0.1  # of a leg at either end, where the pen rounds the corner
LEG_COUNT: Final = 21  # points on a cut that bows
UNLIKE: Final = 5e-3  # m by which front and back necks differ, if they do


@dataclass(frozen=True)
class Wedge:
    """A dart or one shoulder cut, measured. point: its end in the cloth [m]; legs' lengths apart: unlike [m]."""

    point: Floats
    length: float
    intake: float
    bow: float
    unlike: float


def dart_wedge(dart: NamedDart) -> Wedge:
    """A dart's sizes: its legs' chords, the mouth between them, how far the legs bow."""
    first, second = _leg(dart.first), _leg(dart.second)
    point = dart.point
    bows = (_bow(dart.first), -_bow(dart.second))
    bow = sum(bows) / 2
    if abs(bow) < LEAST_BOW:
        bow = 0.0
        point = _crossing(first, second, point)
    ends = [_on_line(run[0], line) if not bow else run[0] for run, line in ((dart.first, first), (dart.second, second))]
    lengths = [float(np.linalg.norm(end - point)) for end in ends]
    intake = float(np.linalg.norm(ends[0] - ends[1]))
    return Wedge(point, sum(lengths) / 2, intake, bow, abs(lengths[0] - lengths[1]))


def cut_wedge(opening: Floats, angle: float, sense: float) -> Wedge | None:
    """The shoulder cut at an opening edge that runs from the neck to the hem at `angle`, half its intake; None without.

    sense: +1 where the cloth lies at larger phi, -1 where it lies at smaller. Its end and its bow are those that fit
    best.
    """
    heading, normal = direction(angle), sense * direction(angle + math.pi / 2)
    start = opening[0]
    half = float(start @ normal)
    if half < CLOSE:
        return None
    places = places_along(opening)
    off = places @ normal
    leaves = np.flatnonzero(off < 0.1 * half)
    near = float(places[leaves[0] if len(leaves) else -1] @ heading)
    places = places[places @ heading < 1.6 * near - 0.6 * float(start @ heading)]

    def leg(reach: float, bow: float) -> Floats:
        share = np.linspace(0.0, 1.0, LEG_COUNT if bow else 2)[:, None]
        chord = reach * heading - start
        out = sense * np.array([-chord[1], chord[0]]) / np.linalg.norm(chord)
        return start + share * chord + 4 * share * (1 - share) * bow * out

    def residuals(values: Floats) -> Floats:
        path = np.vstack([leg(values[0], values[1] if len(values) > 1 else 0.0), (values[0] + 1.0) * heading])
        return polyline_distance(places, path)

    reach, bow = least_squares(residuals, [near, 2 * LEAST_BOW], loss="soft_l1", f_scale=1e-3).x
    if abs(bow) < LEAST_BOW:
        bow, reach = 0.0, least_squares(residuals, [near], loss="soft_l1", f_scale=1e-3).x[0]
    point = float(reach) * heading
    return Wedge(point, float(np.linalg.norm(start - point)), half, float(bow), 0.0)


def _leg(run: Floats) -> Floats:
    """The straight line that fits a leg best, as two places on it, from its start on."""
    places = places_along(run)
    cut = int(INNER * len(places))
    middle = places[cut : len(places) - cut] if len(places) - 2 * cut >= 3 else places
    centre = middle.mean(axis=0)
    heading = np.linalg.svd(middle - centre)[2][0]
    if heading @ (run[-1] - run[0]) < 0:
        heading = -heading
    return np.array([centre, centre + heading])


def _bow(run: Floats) -> float:
    """How far a leg stands off its chord at its middle, to its right positive, by the parabola nearest to it [m]."""
    chord = run[-1] - run[0]
    length = float(np.linalg.norm(chord))
    places = places_along(run) - run[0]
    share = places @ chord / length**2
    off = places @ np.array([chord[1], -chord[0]]) / length
    shape = 4 * share * (1 - share)
    return float(shape @ off / max(float(shape @ shape), 1e-12))


def _on_line(place: Floats, line: Floats) -> Floats:
    heading = line[1] - line[0]
    return np.asarray(line[0] + heading * float((place - line[0]) @ heading))


def _crossing(first: Floats, second: Floats, otherwise: Floats) -> Floats:
    """Where two lines meet; what was drawn where that lies more than a centimetre off."""
    matrix = np.column_stack([first[1] - first[0], -(second[1] - second[0])])
    if abs(np.linalg.det(matrix)) < 1e-6:
        return otherwise
    found = first[0] + np.linalg.solve(matrix, second[0] - first[0])[0] * (first[1] - first[0])
    return np.asarray(found) if float(np.linalg.norm(found - otherwise)) < 0.01 else otherwise


# --- the closure ------------------------------------------------------------------------------


def neck_radii(drawn: Sector) -> tuple[Floats, Floats]:
    """Directions round the neck [rad], and how far from the centre its edge lies there [m]; across a dart, straight."""
    edge = np.vstack([places_along(run) for run in drawn.edges.neck])
    phi = np.unwrap(np.arctan2(edge[:, 1], edge[:, 0]))
    phi = phi - 2 * math.pi * round((phi.mean() - drawn.sweep / 2) / (2 * math.pi))
    order = np.argsort(phi, kind="stable")
    return phi[order], np.linalg.norm(edge, axis=1)[order]


def closure_of(drawn: Sector, points: Sequence[Floats]) -> tuple[str, str, bool]:
    """Where the cloak closes, what speaks for it, and whether its wrong side might as well be drawn.

    points: its darts'. The front of a neck is deeper than its back; darts lie over shoulders.
    """
    phi, radius = neck_radii(drawn)
    sweep = drawn.sweep
    span = sweep / 12

    def depth(share: float) -> float:
        near = np.abs(phi - share * sweep) < span
        return float(radius[near].mean()) if near.any() else float(np.interp(share * sweep, phi, radius))

    quarters, crosses = (depth(0.25), depth(0.75)), (depth(0.0), depth(0.5), depth(1.0))
    shares = [math.atan2(point[1], point[0]) % (2 * math.pi) / sweep for point in points]
    over = [min((0.25, 0.5, 0.75), key=lambda place: abs(place - share)) for share in shares]
    if over and set(over) <= {0.25, 0.75} and len(over) == 2:
        return "centre front", "the darts lie a quarter from either edge", False
    if not over and max(sum(quarters) / 2 - sum(crosses) / 3, 0.0) == 0.0 and float(np.ptp(radius)) > 2 * CLOSE:
        return "centre front", "the neck is deepest at the opening edges", False
    if abs(quarters[0] - quarters[1]) < UNLIKE:
        return "right shoulder", "the neck is as deep in front as behind: taken as usual", False
    if quarters[0] > quarters[1]:
        return "right shoulder", "the neck is deeper on the first half", True
    return "left shoulder", "the neck is deeper on the last half", True


def placed_dart(wedge: Wedge, place: str, sweep: float) -> Dart:
    """A dart for a style: on a shoulder if its point lies on that line within what is close, else at its azimuth."""
    phi = math.atan2(wedge.point[1], wedge.point[0]) % (2 * math.pi)
    reach = float(np.linalg.norm(wedge.point))
    style = Style(neck="round", closure_place=place)
    for shoulder in SHOULDERS:
        share = share_of(AZIMUTHS[shoulder], style)
        if shoulder != place and abs(phi - share * sweep) * reach < CLOSE:
            return Dart(place=shoulder, length=wedge.length, intake=wedge.intake, leg_bow=wedge.bow)
    azimuth = (AZIMUTHS[place] + 2 * math.pi * phi / sweep) % (2 * math.pi)
    return Dart(azimuth=azimuth, length=wedge.length, intake=wedge.intake, leg_bow=wedge.bow)


def inner_path(drawn: Sector) -> Floats:
    """The outline of the drawing but for its hem, from the first hem corner round the neck to the last [m]."""
    edges = drawn.edges
    parts = [edges.openings[0][::-1]]
    for k, run in enumerate(edges.neck):
        parts.append(run)
        if k < len(edges.darts):
            parts += [edges.darts[k].first, edges.darts[k].second[::-1]]
    parts.append(edges.openings[1])
    return np.vstack(parts)


def span_of(points: Floats) -> float:
    """The length of a polyline [m]."""
    return float(length_along(points)[-1])
