"""Readings: a worn shape → how neck, shoulders, dart, closure and hem sit.

In: `Worn`, the settled cloth on its figure, SI. Out: the groups of readings of the JSON contract, with
units in their names. The same definitions serve every draft: nothing here asks which draft it is.
Azimuths go round the neck's centre: 0 front, 90° wearer's left, 180° back, 270° right.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drape.arrays import Floats, Ints
from drape.body.figure import REGIONS, Figure, region_of
from drape.body.signed_distance import distance, distance_and_normal
from drape.cloth.mesh import Mesh, on_body
from drape.cloth.sheet import Sheet, pull_membrane
from drape.draft.outline import Draft, run_of
from drape.polyline import at_length, length_along, polyline_distance
from drape.ray import first_crossing
from drape.reading.level_section import folds, level_section
from drape.reading.spare import read_spare
from drape.triangle import quarter
from drape.units import STANDARD_GRAVITY

Group = dict[str, object]

SIDES = {"front": 0.0, "left": 0.5 * np.pi, "back": np.pi, "right": 1.5 * np.pi}
EIGHTHS = ("front", "front left", "left", "back left", "back", "back right", "right", "front right")  # of a turn
WINDOW = np.radians(20.0)  # a reading "at the front" is the mean within this of it
TOUCH = 0.003  # [m] cloth nearer than this lies
ZONE = 0.12  # [m] shoulder zone: within this of the shoulder line
LEVELS = (0.01, 0.02, 0.04, 0.06, 0.08, 0.10)  # [m] below the side neck points
ON_LINE = 1e-4  # [m] a vertex of a dagged hem nearer to the hem as drafted is a tip
GAPE_BELOW = 0.10  # [m] below the fastening, where the opening's gape is read
ON_BIAS, ON_GRAIN = np.radians(30.0), np.radians(15.0)  # from warp or weft: at least, at most
ANGLES = 3600  # directions over which a sector's share on the bias is counted
REACH = 0.40  # [m] furthest cloth looked for above a shoulder line


@dataclass(frozen=True)
class Worn:
    """A shape to be read: cloth points (p, 3) [m] and the figure's force on each [N], (p, 3)."""

    figure: Figure
    draft: Draft
    mesh: Mesh
    sheet: Sheet
    points: Floats
    contact_force: Floats
    thickness: float

    def edge(self, name: str) -> Ints:
        """Points along a named edge, in its order; empty if the draft has none of that name."""
        vertices = self.mesh.edges.get(name)
        if vertices is None:
            return np.empty(0, dtype=np.int64)
        return self.sheet.point_of_vertex[vertices]

    @property
    def neck_edge(self) -> Ints:
        """Points of the sewn neck edge, from the closure round to the closure."""
        both = np.concatenate([self.edge(name) for name in self.draft.neck])
        return both[np.concatenate([[True], both[1:] != both[:-1]])]

    @property
    def hem_line(self) -> Ints:
        """Points of the hem as drafted, in its order."""
        return self.sheet.point_of_vertex[hem_vertices(self.draft, self.mesh)]


def hem_vertices(draft: Draft, mesh: Mesh) -> Ints:
    """Vertices of the hem edge that lie on the hem as drafted: of a dagged one the tips, else all."""
    index = mesh.edges["hem"]
    if any(dags.edge == "hem" and dags.meshed for dags in draft.dags):
        index = index[polyline_distance(mesh.flat[index], run_of(draft, "hem")) < ON_LINE]
    return index


def azimuth_of(points: Floats, centre: Floats) -> Floats:
    """Azimuth of points about a vertical through `centre`, 0 to 2π [rad]."""
    return np.arctan2(-(points[:, 0] - centre[0]), points[:, 1] - centre[1]) % (2 * np.pi)


def turn_between(a: Floats, b: float) -> Floats:
    """Signed difference a − b of azimuths, −π to π [rad]."""
    return (np.asarray(a) - b + np.pi) % (2 * np.pi) - np.pi


def edge_share(points: Floats) -> Floats:
    """Length of a polyline that belongs to each of its points: half of each neighbour [m]."""
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    return 0.5 * (np.concatenate([[0.0], steps]) + np.concatenate([steps, [0.0]]))


def mean_at(values: Floats, azimuth: Floats, share: Floats, place: float) -> float:
    """Mean of values, weighted by length, within WINDOW of a place; the nearest where none is."""
    off = np.abs(turn_between(azimuth, place))
    near = off <= WINDOW
    if not near.any():
        return float(values[np.argmin(off)])
    return float(np.average(values[near], weights=share[near]))


def read_neck(worn: Worn) -> Group:
    """Neck gap, ride and throat load. With a collar the neck edge is the seam it is sewn to.

    gap: from the cloth's inner face at the neck edge to the figure; of the largest also where, by eighths. ride: height
    of the neck edge above the neck-base line at the same azimuth. throat load: the figure's neck, above its base
    line, pressing on the cloth: sum of the forces [N], and the largest over 20° of the front
    two thirds per length of neck-base line [N/m].
    """
    figure, index = worn.figure, worn.neck_edge
    edge = worn.points[index]
    share = edge_share(edge)
    azimuth = azimuth_of(edge, figure.neck_centre)
    gap = np.maximum(distance(figure.field, edge) - 0.5 * worn.thickness, 0.0)
    ride = edge[:, 2] - neck_base_height(figure, azimuth)
    group: Group = {}
    for name, place in SIDES.items():
        group[f"gap_{name}_cm"] = 100 * mean_at(gap, azimuth, share, place)
    widest = int(np.argmax(gap))
    group["gap_max_cm"] = 100 * float(gap[widest])
    group["gap_max_at"] = EIGHTHS[round(4 * azimuth[widest] / np.pi) % 8]
    for name, place in SIDES.items():
        group[f"ride_{name}_cm"] = 100 * mean_at(ride, azimuth, share, place)
    group["throat_load_n"], group["throat_line_load_n_m"] = throat_load(worn)
    return group


def read_collar(worn: Worn) -> Group:
    """How a collar stands: its top edge off the neck, and how high it stands over its seam.

    top gap: from the inner face at the top edge to the figure, neck or head. stands: height of the top edge above the
    seam at the same azimuth, over the collar's own height there; 100 % upright, under 0 turned down.
    """
    figure, draft = worn.figure, worn.draft
    top, seam = worn.points[worn.edge("collar top")], worn.points[worn.neck_edge]
    share, azimuth = edge_share(top), azimuth_of(top, figure.neck_centre)
    gap = np.maximum(distance(figure.field, top) - 0.5 * worn.thickness, 0.0)
    own = azimuth_of(seam, figure.neck_centre)
    order = np.argsort(own)
    above = top[:, 2] - np.interp(azimuth, own[order], seam[order, 2], period=2 * np.pi)
    front, back = draft.dimensions["collar_front_height"], draft.dimensions["collar_height"]
    stands = above / (front + (back - front) * (1 - np.cos(azimuth)) / 2)
    group: Group = {f"top_gap_{name}_cm": 100 * mean_at(gap, azimuth, share, place) for name, place in SIDES.items()}
    group["top_gap_max_cm"] = 100 * float(gap.max())
    return group | {
        f"stands_{name}_percent": 100 * mean_at(stands, azimuth, share, place) for name, place in SIDES.items()
    }


def read_dags(draft: Draft) -> list[Group]:
    """The dags as fitted, and whether they were settled or only drawn and cut."""
    return [
        {
            "edge": dags.edge, "kind": dags.kind, "count": dags.count, "width_cm": 100 * dags.width,
            "depth_cm": 100 * dags.depth, "settled": dags.meshed,
        }
        for dags in draft.dags
    ]  # fmt: skip


def neck_base_height(figure: Figure, azimuth: Floats) -> Floats:
    """Height of the figure's neck-base line at azimuths [m]."""
    own = azimuth_of(figure.neck_base, figure.neck_centre)
    return np.interp(azimuth, own, figure.neck_base[:, 2], period=2 * np.pi)


def throat_load(worn: Worn) -> tuple[float, float]:
    """Total force on the neck above its base line [N], and the largest line load in front [N/m]."""
    figure = worn.figure
    pressed = np.flatnonzero(np.linalg.norm(worn.contact_force, axis=1) > 0)
    on_neck = pressed[at_regions(figure, worn.points[pressed], ("neck", "head"))]
    force = np.linalg.norm(worn.contact_force[on_neck], axis=1)
    if not len(on_neck):
        return 0.0, 0.0
    azimuth = azimuth_of(worn.points[on_neck], figure.neck_centre)
    bins = np.radians(np.arange(-60.0, 60.0, 20.0))
    largest = 0.0
    for low in bins:
        inside = np.abs(turn_between(azimuth, low + np.radians(10))) <= np.radians(10)
        base = neck_base_at(figure, low + np.radians(np.linspace(0, 20, 9)))
        length = np.linalg.norm(np.diff(base, axis=0), axis=1).sum()
        largest = max(largest, float(force[inside].sum()) / length)
    return float(force.sum()), largest


def neck_base_at(figure: Figure, azimuth: Floats) -> Floats:
    """Points of the neck-base line at azimuths [m], (k, 3)."""
    own = azimuth_of(figure.neck_base, figure.neck_centre)
    columns = [np.interp(azimuth, own, figure.neck_base[:, c], period=2 * np.pi) for c in range(3)]
    return np.stack(columns, axis=1)


def at_regions(figure: Figure, points: Floats, names: tuple[str, ...]) -> NDArray[np.bool_]:
    """Which points' nearest figure surface is in one of the named regions."""
    if not len(points):
        return np.zeros(0, dtype=bool)
    return np.isin(region_of(figure, points), [REGIONS.index(name) for name in names])


def read_shoulder(worn: Worn, side: str) -> Group:
    """Stand-off along one shoulder line and the share of its zone where the cloth lies.

    stand-off: from the figure, along its normal, to the cloth's inner face; mean and largest over
    the shoulder line where there is cloth above it. lie: share of the area of the cloth within 12 cm of the line
    that is within 3 mm of touching.
    """
    line = getattr(worn.figure, f"shoulder_line_{side}")
    _, normal = distance_and_normal(worn.figure.field, line)
    hit = first_hit(line, normal, worn.points[worn.sheet.triangles])
    found = np.isfinite(hit)
    stand_off = np.maximum(hit[found] - 0.5 * worn.thickness, 0.0)
    along = np.linalg.norm(line - line[0], axis=1)
    group: Group = {"stand_off_mean_cm": None, "stand_off_max_cm": None, "stand_off_at_cm": None}
    if found.any():
        group["stand_off_mean_cm"] = 100 * float(stand_off.mean())
        group["stand_off_max_cm"] = 100 * float(stand_off.max())
        group["stand_off_at_cm"] = 100 * float(along[found][np.argmax(stand_off)])
    group["lie_percent"] = 100 * lie_share(worn, line)
    return group


def first_hit(origin: Floats, direction: Floats, corners: Floats) -> Floats:
    """Distance along each ray to the first triangle within REACH [m]; nan where there is none.

    A ray starts TOUCH inside, so that cloth pressed into the surface is found (distance below 0).
    origin, direction (k, 3); corners (t, 3, 3).
    """
    hit = first_crossing(origin - TOUCH * direction, direction, corners)
    return np.where(hit <= REACH, hit - TOUCH, np.nan)


def lie_share(worn: Worn, line: Floats) -> float:
    """Share of the cloth's area within ZONE of a line that is within TOUCH of touching."""
    corners = worn.points[worn.sheet.triangles]
    centre = corners.mean(axis=1)
    reach = ZONE + np.linalg.norm(corners - centre[:, None], axis=2).max(axis=1)
    close = polyline_distance(centre, line) < reach
    parts = quarter(quarter(corners[close]))
    places = parts.mean(axis=1)
    area = np.repeat(worn.sheet.triangle_area[close] / 16, 16)
    inside = polyline_distance(places, line) <= ZONE
    gap = distance(worn.figure.field, places) - 0.5 * worn.thickness
    total = area[inside].sum()
    return float(area[inside & (gap <= TOUCH)].sum() / total) if total > 0 else 0.0


def spare_of(worn: Worn) -> Group:
    """Spare cloth of the cloak's body: a collar is meant to stand up round the neck."""
    is_body = on_body(worn.mesh)[worn.mesh.triangles[:, 0]]
    corners, area = worn.points[worn.sheet.triangles[is_body]], worn.sheet.triangle_area[is_body]
    return read_spare(worn.figure, corners, area, worn.thickness)


def read_crowding(worn: Worn) -> Group:
    """Fullness and folds of level sections below the side neck points."""
    marks = worn.figure.landmarks
    top = 0.5 * (marks["side_neck_left"][2] + marks["side_neck_right"][2])
    fullness, counts, depths = [], [], []
    for below in LEVELS:
        section = level_section(worn.points, worn.sheet.triangles, top - below)
        found = folds(section) if section else []
        fullness.append(100 * section.fullness if section else 0.0)
        counts.append(len(found))
        depths.append(100 * max(found, default=0.0))
    return {
        "at_cm": [round(100 * level, 6) for level in LEVELS],
        "fullness_percent": fullness,
        "folds": counts,
        "fold_depth_cm": depths,
        "max_percent": max(fullness),
        "mean_percent": float(np.mean(fullness)),
    }


def read_darts(worn: Worn) -> list[Group]:
    """Each sewn dart: intake, place of its point, what stands there;
    on a shoulder also its angle to the shoulder line.
    """
    found = []
    for dart in worn.draft.darts:
        seam = worn.points[worn.edge(dart.legs[0])]
        gap = distance(worn.figure.field, seam[-1:])[0] - 0.5 * worn.thickness
        group: Group = {
            "place": dart.place or f"azimuth {np.degrees(dart.azimuth):.0f}",
            "intake_cm": 100 * dart.intake,
        }
        if dart.place:
            line = getattr(worn.figure, f"shoulder_line_{dart.place.split()[0]}")
            chord, shoulder = seam[-1] - seam[0], line[-1] - line[0]
            cosine = chord @ shoulder / (np.linalg.norm(chord) * np.linalg.norm(shoulder))
            along = shoulder / np.linalg.norm(shoulder)
            group["angle_to_shoulder_deg"] = float(np.degrees(np.arccos(np.clip(cosine, -1, 1))))
            group["point_short_cm"] = 100 * float((line[-1] - seam[-1]) @ along)
        found.append(group | {"point_gap_cm": 100 * float(max(gap, 0.0))})
    return found


def read_closure(worn: Worn) -> Group:
    """Shift of the closure from where it belongs, the opening's gape, the pull on the fastening.

    shift: mean distance of the closure seam from the vertical plane of its shoulder line, forward positive; at centre
    front from the body's middle plane, to the wearer's left positive. gape: width of the opening 10 cm below the
    fastening, less what is cut on to overlap. pull: force with which one half draws on the closure, across the seam.
    """
    draft, seam = worn.draft, worn.points[worn.edge(worn.draft.closure[0])]
    place = draft.closure_place
    if place == "centre front":
        shift = worn.figure.landmarks["front_neck"][0] - seam[:, 0]
    else:
        line = getattr(worn.figure, f"shoulder_line_{place.split()[0]}")
        level = (line[-1] - line[0])[:2]
        forward = np.array([-level[1], level[0]]) / np.linalg.norm(level)
        forward *= np.sign(forward[1])
        shift = (seam[:, :2] - line[0, :2]) @ forward
    first, last = (worn.points[worn.edge(name)] for name in draft.opening)
    gape = np.linalg.norm(at_run(first, GAPE_BELOW) - at_run(last, GAPE_BELOW))
    return {
        "place": place,
        "shift_cm": 100 * float(np.average(shift, weights=edge_share(seam))),
        "gape_cm": 100 * max(float(gape) - draft.fastening.overlap, 0.0),
        "pull_n": closure_pull(worn),
    }


def at_run(curve: Floats, run: float) -> Floats:
    """Point of a polyline at a distance along it [m]."""
    along = length_along(curve)
    return at_length(run, along, curve)


def closure_pull(worn: Worn) -> float:
    """Force of one half's membrane on the closure seam, across the seam [N]."""
    vertices = worn.mesh.edges[worn.draft.closure[0]]
    sheet = worn.sheet
    beside = np.flatnonzero(np.isin(worn.mesh.triangles, vertices).any(axis=1))
    force = np.zeros_like(worn.points)
    pull_membrane(sheet, worn.points, force, beside)
    total = force[sheet.point_of_vertex[vertices]].sum(axis=0)
    seam = worn.points[sheet.point_of_vertex[vertices]]
    along = (seam[-1] - seam[0]) / np.linalg.norm(seam[-1] - seam[0])
    return float(np.linalg.norm(total - (total @ along) * along))


def read_fall(worn: Worn) -> Group:
    """Hem height by azimuth, how level, the landmark reached, the clearance.

    level: highest less lowest of the hem further than 20° from the opening's azimuth. A dagged hem is read at its tips.
    bias drop: see `bias_drop`.
    word: "cloak", or "mantle" where the hem hangs above the waist on average.
    """
    hem = worn.points[worn.hem_line]
    share = edge_share(hem)
    azimuth = azimuth_of(hem, worn.figure.neck_centre)
    group: Group = {}
    for name, place in SIDES.items():
        group[f"{name}_cm"] = 100 * mean_at(hem[:, 2], azimuth, share, place)
    closed = np.abs(turn_between(azimuth, worn.draft.closure_azimuth)) > WINDOW
    rim = hem[closed, 2] if closed.any() else hem[:, 2]
    mean = float(np.average(hem[:, 2], weights=share))
    lowest = 100 * float(hem[:, 2].min())  # under two names: of the four that say how it hangs, and of the limit
    return group | {
        "mean_cm": 100 * mean,
        "lowest_cm": lowest,
        "highest_cm": 100 * float(hem[:, 2].max()),
        "level_cm": 100 * float(rim.max() - rim.min()),
        "reaches": reaches(worn.figure.levels, mean),
        "word": "cloak" if mean < worn.figure.levels["waist"] else "mantle",
        "clearance_cm": lowest,
        "bias_drop_cm": 100 * bias_drop(worn),
    }


def bias_drop(worn: Worn) -> float:
    """How much further the body of the cloak has stretched from the neck to the hem on the bias than on the grain [m].

    The lines run from the draft's centre. One has stretched by the integral of its stretch less one; the mean of those
    within 15° of the bias, less the mean of those within 15° of warp or weft.
    """
    flat, triangles, hem = worn.mesh.flat, worn.mesh.triangles, worn.mesh.flat[worn.mesh.edges["hem"]]
    triangles = triangles[on_body(worn.mesh)[triangles[:, 0]]]
    corners, shape = flat[triangles], worn.points[worn.sheet.point_of_vertex[triangles]]
    middle = corners.mean(axis=1)
    radius = np.linalg.norm(middle, axis=1)
    laid = np.swapaxes(corners[:, 1:] - corners[:, :1], 1, 2)
    outward = np.linalg.solve(laid, (middle / radius[:, None])[:, :, None])  # in the triangle's sides
    hung = np.swapaxes(shape[:, 1:] - shape[:, :1], 1, 2)
    stretch = np.linalg.norm((hung @ outward)[:, :, 0], axis=1)
    wide = 0.5 * np.abs(np.linalg.det(laid)) / radius  # radial length times angle that a triangle covers
    off = off_grain(np.arctan2(middle[:, 1], middle[:, 0]), worn.draft.grain)
    ends = np.unwrap(np.arctan2(hem[:, 1], hem[:, 0]))[[0, -1]]
    there = off_grain(np.linspace(ends[0], ends[1], ANGLES), worn.draft.grain)
    means = []
    for is_triangle, is_angle in ((off >= ON_BIAS, there >= ON_BIAS), (off <= ON_GRAIN, there <= ON_GRAIN)):
        if not is_angle.any():
            return 0.0  # cut too narrow to have both
        width = np.mean(is_angle) * abs(ends[1] - ends[0])
        means.append(float(((stretch - 1.0) * wide)[is_triangle].sum() / width))
    return means[0] - means[1]


def off_grain(angle: Floats, grain: float) -> Floats:
    """How far directions lie from warp or weft, whichever is nearer, 0 to π/4 [rad]."""
    return np.abs((angle - grain + 0.25 * np.pi) % (0.5 * np.pi) - 0.25 * np.pi)


def reaches(levels: Mapping[str, float], height: float) -> str:
    """The figure's level nearest a height, and how far off: `3 cm below the knee`."""
    name = min(levels, key=lambda level: abs(levels[level] - height))
    off = round(100 * (height - levels[name]))
    plain = name.replace("_", " ")
    return f"the {plain}" if off == 0 else f"{abs(off)} cm {'above' if off > 0 else 'below'} the {plain}"


def read_balance(worn: Worn) -> Group:
    """Shift of the neck edge's centre from the neck base's, and the cloak's turn about the vertical.

    turn: azimuth of the line from the neck edge's back mark to its front one, to the left positive.
    """
    figure, index = worn.figure, worn.neck_edge
    edge = worn.points[index]
    centre = np.average(edge, axis=0, weights=edge_share(edge))
    base = np.average(figure.neck_base, axis=0)
    across = mark_point(worn, "front neck") - mark_point(worn, "back neck")
    return {
        "forward_cm": 100 * float(centre[1] - base[1]),
        "left_cm": 100 * float(base[0] - centre[0]),
        "turn_deg": float(np.degrees(np.arctan2(-across[0], across[1]))),
    }


def mark_point(worn: Worn, mark: str) -> Floats:
    """Where the place of the neck edge nearest a mark of the draft is worn [m], (3,)."""
    place = worn.draft.marks[mark]
    nearest, found = np.inf, np.zeros(3)
    for name in worn.draft.neck:
        vertices = worn.mesh.edges[name]
        flat, points = worn.mesh.flat[vertices], worn.points[worn.sheet.point_of_vertex[vertices]]
        step = np.diff(flat, axis=0)
        share = np.clip(np.sum((place - flat[:-1]) * step, axis=1) / np.sum(step**2, axis=1), 0, 1)
        off = np.linalg.norm(flat[:-1] + share[:, None] * step - place, axis=1)
        k = int(np.argmin(off))
        if off[k] < nearest:
            nearest, found = off[k], points[k] + share[k] * (points[k + 1] - points[k])
    return found


def read_weight(worn: Worn) -> Group:
    """Cloth mass, and of all that holds the cloak up, which share each part of the figure gives.

    A part that presses the cloth down on balance, as a chin on a collar does, holds nothing up: its share is zero, and
    how hard it presses stands in `pressed_down_percent`, of the cloak's weight.
    """
    mass = float(worn.sheet.mass.sum())
    up = worn.contact_force[:, 2]
    pressed = np.flatnonzero(up != 0)
    region = region_of(worn.figure, worn.points[pressed]) if len(pressed) else np.empty(0)
    carried = {
        name: float(up[pressed][region == k].sum()) / (mass * STANDARD_GRAVITY) for k, name in enumerate(REGIONS)
    }
    parts = {
        "neck": carried["neck"] + carried["head"], "shoulder_left": carried["shoulder_left"],
        "shoulder_right": carried["shoulder_right"], "arms": carried["arm_left"] + carried["arm_right"],
        "torso": carried["torso"] + carried["leg"],
    }  # fmt: skip
    held_up = sum(max(force, 0.0) for force in parts.values()) or 1.0
    return {
        "cloth_kg": mass,
        **{f"{part}_percent": 100 * max(force, 0.0) / held_up for part, force in parts.items()},
        "pressed_down_percent": 100 * sum(max(-force, 0.0) for force in parts.values()),
        "balance_error_percent": 100 * abs(sum(carried.values()) - 1.0),
    }


def read_worn(worn: Worn) -> Group:
    """Every reading of a worn shape, by group, as the JSON contract names them."""
    own: Group = {"collar": read_collar(worn)} if worn.draft.collar else {}
    if worn.draft.dags:
        own["dags"] = read_dags(worn.draft)
    return own | {
        "neck": read_neck(worn),
        "shoulder_left": read_shoulder(worn, "left"),
        "shoulder_right": read_shoulder(worn, "right"),
        "spare": spare_of(worn),
        "crowding": read_crowding(worn),
        "dart": read_darts(worn),
        "closure": read_closure(worn),
        "fall": read_fall(worn),
        "balance": read_balance(worn),
        "weight": read_weight(worn),
    }
