"""The lines of a drawing made one outline: doubled lines taken as one, small gaps closed, pieces put together.

In: lines in metres. Out: the outline once round, anticlockwise, and what lies inside it. An open outline, two of them
or one that crosses itself is refused with the place. Which stretch of it is which edge is left to `named`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.geometry.polygon import orient

from drape.arrays import Floats
from drape.errors import DraftError
from drape.polyline import at_length, length_along, polyline_distance
from drape.tracing.lines import Line

GAP: Final = 2e-3  # m; a wider gap is open
DOUBLED: Final = 2e-3  # m; a line that stays so near to another is drawn twice
STEP: Final = 5e-3  # m between the places at which lines are compared
THIN: Final = 1e-5  # m
GRID: Final = 1e-6  # m; places nearer than this are one
LEAST_FACE: Final = 1e-4  # m2; a smaller loop comes of an unsteady hand
LEAST_SHARE: Final = 0.02  # of the outline's area; a smaller one beside it is no outline
LEAST_HOLE, MOST_HOLE = 0.003, 0.3  # of the outline's area, what a neck hole in a full circle may be
CLEAR: Final = 0.05  # m that it keeps from the hem
LEAST_ON_RIM: Final = 0.3  # of a line's length, for it to be an edge of the outline
LEAST_SINE: Final = math.sin(math.radians(20))  # between two lines that cross and do not run along each other
LEAST_INNER: Final = 0.02  # m; a shorter line inside is a mark


@dataclass(frozen=True)
class Joined:
    """An outline, anticlockwise, its first point not repeated [m], shape (k, 2); lines: every line of the drawing,
    doubled ones as well, in metres; inner: those stretches of them that lie inside."""

    outline: Floats
    lines: tuple[Line, ...]
    inner: tuple[Line, ...]


def joined(lines: Sequence[Line], label: str) -> Joined:
    """The lines put together [m]. Raises DraftError: an outline that is open, double or crosses itself."""
    kept = single(lines)
    _refuse_crossing(kept, label)
    ends = _met_ends(kept)
    whole = shapely.unary_union([LineString(line.points) for line in ends], grid_size=GRID)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(whole)))
    filled = shapely.unary_union([face for face in faces if face.area > 0], grid_size=GRID)
    parts = sorted(shapely.get_parts(filled), key=lambda part: -part.area) if len(faces) else []
    hull = shapely.convex_hull(whole).area
    if not parts or parts[0].area < 0.25 * hull and _open_gap(ends) is not None:
        _refuse_open(ends, label)
    _refuse_second(parts, label)
    loop = _around(parts[0], ends, label)
    _refuse_crossing_edges(ends, loop, label)
    inside = Polygon(loop).buffer(-GAP)
    inner = []
    for line in ends:
        for part in shapely.get_parts(LineString(line.points).intersection(inside)):
            if part.geom_type == "LineString" and part.length >= LEAST_INNER:
                inner.append(replace(line, points=shapely.get_coordinates(part)))
    return Joined(loop, tuple(lines), tuple(inner))


def single(lines: Sequence[Line]) -> list[Line]:
    """The lines without those that another, longer one runs along all the way."""
    order = sorted(range(len(lines)), key=lambda k: -_length(lines[k]))
    thin = [thinned(line.points) for line in lines]
    kept: list[int] = []
    for k in order:
        run = places_along(lines[k].points)
        if not any(polyline_distance(run, thin[other]).max() < DOUBLED for other in kept):
            kept.append(k)
    return [lines[k] for k in sorted(kept)]


def places_along(points: Floats, step: float = STEP) -> Floats:
    """Places evenly along a polyline, its ends among them, about `step` apart [m]."""
    along = length_along(points)
    return at_length(np.linspace(0.0, along[-1], max(2, math.ceil(along[-1] / step) + 1)), along, points)


def thinned(points: Floats) -> Floats:
    """A polyline without the places that lie within a hundredth of a millimetre of it all the same."""
    return shapely.get_coordinates(shapely.simplify(shapely.remove_repeated_points(LineString(points)), THIN))


def _length(line: Line) -> float:
    return float(np.linalg.norm(np.diff(line.points, axis=0), axis=1).sum())


def _is_closed(line: Line) -> bool:
    return len(line.points) > 3 and float(np.linalg.norm(line.points[0] - line.points[-1])) <= GAP


# --- ends -------------------------------------------------------------------------------------


def _met_ends(lines: Sequence[Line]) -> list[Line]:
    """The lines with ends that nearly meet put in one place, and ends that nearly reach another line put on it."""
    points = [line.points.copy() for line in lines]
    for k, line in enumerate(lines):
        if _is_closed(line):
            points[k] = np.vstack([points[k][:-1], points[k][:1]])
    ends = [(k, at) for k, line in enumerate(lines) if not _is_closed(line) for at in (0, -1)]
    places = np.array([points[k][at] for k, at in ends]).reshape(-1, 2)
    for group in _groups(places):
        middle = places[group].mean(axis=0)
        within = {ends[one][0] for one in group}
        others = [
            k for k in range(len(points)) if k not in within and polyline_distance(middle[None], points[k])[0] <= GAP
        ]
        if others:
            nearest = min(others, key=lambda k: float(polyline_distance(middle[None], points[k])[0]))
            middle = _foot(middle, points[nearest])
        for one in group:
            k, at = ends[one]
            points[k][at] = middle
    return [replace(line, points=run) for line, run in zip(lines, points, strict=True)]


def _groups(places: Floats) -> list[list[int]]:
    """Which places are within a gap of each other, by chains."""
    left, groups = set(range(len(places))), []
    while left:
        group, fresh = [], [min(left)]
        while fresh:
            one = fresh.pop()
            if one in left:
                left.discard(one)
                group.append(one)
                near = np.flatnonzero(np.linalg.norm(places - places[one], axis=1) <= GAP)
                fresh += [int(k) for k in near if int(k) in left]
        groups.append(sorted(group))
    return groups


def _foot(place: Floats, run: Floats) -> Floats:
    """The nearest point of a polyline."""
    line = LineString(run)
    return shapely.get_coordinates(line.interpolate(line.project(shapely.Point(place))))[0]


# --- what is refused --------------------------------------------------------------------------


def _refuse_crossing(lines: Sequence[Line], label: str) -> None:
    """Refuse a line that crosses itself and holds more than a slip of the hand in the loop."""
    for line in lines:
        run = LineString(line.points)
        if run.is_simple:
            continue
        noded = shapely.get_parts(shapely.unary_union(run, grid_size=GRID))
        faces = [face for face in shapely.get_parts(shapely.polygonize(noded)) if face.area > LEAST_FACE]
        for a in range(len(faces)):
            for b in range(a + 1, len(faces)):
                meet = faces[a].boundary.intersection(faces[b].boundary)
                if not meet.is_empty and meet.length < GAP:
                    _fail_crossing(meet, label, line.name)
        if faces and not _is_closed(line):
            ends = {tuple(np.round(point, 6)) for point in line.points[[0, -1]]}
            inside = [part for part in noded if not {tuple(np.round(p, 6)) for p in part.coords} & ends]
            _fail_crossing(shapely.Point((inside or list(noded))[0].coords[0]), label, line.name)


def _refuse_crossing_edges(lines: Sequence[Line], loop: Floats, label: str) -> None:
    """Refuse two edges of the outline that cross away from their ends; lines inside may run over its edge."""
    rim = thinned(np.vstack([loop, loop[:1]]))
    edges = [line for line in lines if (polyline_distance(places_along(line.points), rim) < GAP).mean() > LEAST_ON_RIM]
    for k, one in enumerate(edges):
        for other in edges[k + 1 :]:
            meet = LineString(one.points).intersection(LineString(other.points))
            for place in shapely.get_coordinates(meet):
                ends = np.vstack([one.points[[0, -1]], other.points[[0, -1]]])
                away = float(np.linalg.norm(ends - place, axis=1).min())
                if away > GAP and abs(math.sin(_heading(one, place) - _heading(other, place))) > LEAST_SINE:
                    _fail_crossing(shapely.Point(place), label, f"{one.name} and {other.name}")


def _heading(line: Line, place: Floats) -> float:
    """Which way a line runs at a place on it [rad]."""
    run = LineString(line.points)
    at = run.project(shapely.Point(place))
    a, b = shapely.get_coordinates(shapely.line_interpolate_point(run, [max(0.0, at - GAP), at + GAP]))
    return math.atan2(b[1] - a[1], b[0] - a[0])


def _fail_crossing(place: shapely.Geometry, label: str, name: str) -> None:
    x, y = shapely.get_coordinates(place)[0]
    raise DraftError(
        f"{label}, {name}: the outline crosses itself at {_at(x, y)}, allowed none that does. Untangle it there."
    )


def _at(x: float, y: float) -> str:
    return f"x {100 * x:.1f}, y {100 * y:.1f} cm"


def _open_gap(lines: Sequence[Line]) -> tuple[float, Floats] | None:
    """The smallest gap between two free ends of different lines or of one, and where it is; None without free ends."""
    ends = [line.points[at] for line in lines if not _is_closed(line) for at in (0, -1)]
    places = np.array(ends).reshape(-1, 2)
    free = []
    for k, place in enumerate(places):
        others = np.delete(places, k, axis=0)
        if len(others) and np.linalg.norm(others - place, axis=1).min() < 1e-9:
            continue
        free.append(place)
    if len(free) < 2:
        return None
    pairs = [(float(np.linalg.norm(a - b)), (a + b) / 2) for k, a in enumerate(free) for b in free[k + 1 :]]
    return min(pairs, key=lambda pair: pair[0])


def _refuse_open(lines: Sequence[Line], label: str) -> None:
    found = _open_gap(lines)
    where = "" if found is None else f", a gap of {100 * found[0]:.2g} cm at {_at(*found[1])}"
    raise DraftError(
        f"{label}: the outline is open{where}, allowed gaps up to {1000 * GAP:g} mm. Close it, or check the scale."
    )


def _refuse_second(parts: Sequence[Polygon], label: str) -> None:
    """Refuse a second outline, or the second loop of one that crosses itself."""
    for part in parts[1:]:
        if part.area < max(LEAST_SHARE * parts[0].area, LEAST_FACE):
            continue
        if part.distance(parts[0]) < GAP:
            _fail_crossing(part.boundary.intersection(parts[0].boundary.buffer(GAP)), label, "outline")
        x, y = part.representative_point().coords[0]
        raise DraftError(
            f"{label}: got two outlines, the second at {_at(x, y)}, allowed one. Give each a file of its own, or leave "
            "it out with --edge ID=nothing, ID being its name or layer."
        )


# --- the loop ---------------------------------------------------------------------------------


def _around(part: Polygon, lines: Sequence[Line], label: str) -> Floats:
    """The outline once round; a full circle is gone round along its slit, to the neck hole and back."""
    outer = np.asarray(orient(Polygon(part.exterior)).exterior.coords)[:-1]
    rim = np.vstack([outer, outer[:1]])
    for hole in lines:
        ring = Polygon(hole.points) if _is_closed(hole) else Polygon()
        if not LEAST_HOLE * part.area < ring.area < MOST_HOLE * part.area:
            continue
        if polyline_distance(places_along(hole.points), rim).min() < CLEAR:
            continue
        inner = np.asarray(orient(ring, -1.0).exterior.coords)
        slits = [slit for line in lines if (slit := _slit(line.points, rim, inner)) is not None]
        if not slits:
            x, y = inner.mean(axis=0)
            raise DraftError(
                f"{label}: got a neck hole at {_at(x, y)} that no edge leads to, allowed an opening from neck to hem. "
                "Draw the opening edge, or leave the hole out with --edge ID=nothing."
            )
        slit = min(slits, key=lambda one: float(length_along(one)[-1]))
        first, last = _turned_to(outer, slit[0]), _turned_to(inner[:-1], slit[-1])
        return np.vstack([first, slit, last[1:], slit[::-1][:-1]])
    return outer


def without(whole: Joined, wedges: Sequence[Floats], taken: Sequence[str]) -> Joined:
    """The outline with wedges cut out of it: darts that are drawn on an unbroken neck edge [m], each a polyline from
    the neck edge to its point and back. taken: the names of their lines, which lie inside no more.
    """
    shape = Polygon(whole.outline)
    for wedge in wedges:
        shape = shape.difference(Polygon(wedge).buffer(0))
    part = max(shapely.get_parts(shape), key=lambda one: one.area)
    outline = np.asarray(orient(Polygon(part.exterior)).exterior.coords)[:-1]
    return replace(whole, outline=outline, inner=tuple(line for line in whole.inner if line.name not in taken))


def _slit(points: Floats, rim: Floats, inner: Floats) -> Floats | None:
    """A line that runs from the hem to the neck hole, in that direction; None for any other."""
    for run in (points, points[::-1]):
        ends = run[[0, -1]]
        if polyline_distance(ends, rim)[0] <= GAP and polyline_distance(ends, inner)[1] <= GAP:
            return run
    return None


def _turned_to(loop: Floats, place: Floats) -> Floats:
    """A closed loop begun at its point nearest to a place, that point at its end as well."""
    start = int(np.linalg.norm(loop - place, axis=1).argmin())
    return np.vstack([loop[start:], loop[: start + 1]])
