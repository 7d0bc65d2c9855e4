"""Readings of a cloak as it is worn: what it covers, where its weight lies, where its hem comes, which arm is free.

In: a `Cloak`, a `Wearer` and the cloth's `Rest` on them. Out: numbers with units in their names. What neck, closure and
balance read is defined in `reading.worn`; of a wearer who has moved, the cloth is first carried back with them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np
from scipy.spatial import cKDTree

from drape.arrays import Flags, Floats, Ints
from drape.body.figure import REGIONS
from drape.body.signed_distance import DistanceField, distance
from drape.cloth.mesh import vertex_normals
from drape.cloth.relaxation import Rest
from drape.cloth.self_contact import crossing_count, weave
from drape.cloth.sheet import weight
from drape.ray import first_crossing
from drape.reading.worn import Worn, closure_pull, read_balance, throat_load
from drape.wearing.choices import OPEN
from drape.wearing.cover import WAYS, cover, set_down
from drape.wearing.moving import Wearer
from drape.wearing.posture import SIDES, carried_by
from drape.wearing.ways import Cloak

COVERED: Final = ("torso", "shoulder_left", "shoulder_right", "arm_left", "arm_right", "leg")
BAND: Final = 0.02  # m of arm, which counts as bare where less than half of it lies under cloth
UNDER: Final = 0.30  # m, furthest from the skin that cloth still lies over it
FACING: Final = 0.7  # part of a normal that faces a way; or sum of its parts ahead and up
SOME: Final = 4  # one vertex in so many is looked at
DENSE: Final = 0.004  # m, between places of a triangle where it is looked at how deep it lies
HAND: Final = 0.19  # of an arm's own unit, from the wrist to the finger tips; as in `limbs`
SOLE: Final = 0.03  # m above the floor: what hangs lower, ahead of a foot, is trodden on
AHEAD: Final = 0.10  # m that a foot comes further in a step, about a third of its own length

Reading = dict[str, Any]


def worn_now(cloak: Cloak, wearer: Wearer, rest: Rest) -> Worn:
    """The cloth at rest on the wearer as they stand, to be read."""
    return Worn(
        wearer.figure, cloak.draft, cloak.mesh, cloak.sheet, rest.worn, rest.contact_force, cloak.scene.cloth.thickness
    )


def read_rest(how: str, cloak: Cloak, wearer: Wearer, rest: Rest) -> Reading:
    """Every reading of one rest. pull_n: None of a closure that is undone."""
    worn = worn_now(cloak, wearer, rest)
    hem = worn.points[worn.hem_line]
    back = read_balance(_carried_back(cloak, wearer, worn))
    return {
        "settled": rest.settled,
        "cover": read_cover(worn),
        "pull_n": None if how == OPEN else closure_pull(worn),
        "throat_n": throat_load(worn)[0],
        **read_shoulders(cloak, worn),
        "hem_lowest_cm": 100 * float(hem[:, 2].min()),
        "trodden_on": is_trodden(worn, hem),
        "arms": {side: read_arm(cloak, worn, side) for side in SIDES},
        "turned_deg": back["turn_deg"],
        "ridden_back_cm": -float(back["forward_cm"]),  # type: ignore[arg-type]
        "crossings": crossing_count(weave(worn.sheet.triangles), worn.points),
        "deepest_mm": 1000 * deepest(worn.figure.field, worn.points[worn.sheet.triangles]),
    }


def deepest(field: DistanceField, triangles: Floats) -> float:
    """How deep triangles (n, 3, 3) [m] reach into the figure anywhere on them [m], in places DENSE apart."""
    sides = np.linalg.norm(triangles - np.roll(triangles, 1, axis=1), axis=2).max(axis=1)
    gap = distance(field, triangles.reshape(-1, 3)).reshape(-1, 3).min(axis=1)
    near = triangles[gap < sides]
    return max(0.0, -float(distance(field, set_down(near, DENSE)[0]).min())) if len(near) else 0.0


def read_cover(worn: Worn) -> Reading:
    """Share of trunk, arms and legs under cloth, from in front, from behind, and along rain that falls in the face."""
    figure = worn.figure
    region = figure.vertex_regions[figure.triangles[:, 0]]
    counts = np.isin(region, [REGIONS.index(name) for name in COVERED])
    body, cloth = figure.vertices[figure.triangles], worn.points[worn.sheet.triangles]
    return {f"{name}_percent": 100 * cover(body, counts, cloth, way) for name, way in WAYS.items()}


def read_shoulders(cloak: Cloak, worn: Worn) -> Reading:
    """Which share of the cloak's weight each half of the figure carries, left and right of its middle.

    Each place of the cloth bears on the half whose surface is nearest to it. The two add up to the whole weight, but
    for what is not quite at rest.
    """
    pressed = np.flatnonzero(np.any(worn.contact_force != 0.0, axis=1))
    whole = -float(weight(worn.sheet)[:, 2].sum())
    if not len(pressed):
        return dict.fromkeys(("shoulder_left_percent", "shoulder_right_percent"), 0.0)
    is_left = cloak.joints.is_left[cKDTree(worn.figure.vertices).query(worn.points[pressed])[1]]
    up = worn.contact_force[pressed, 2]
    return {
        "shoulder_left_percent": 100 * float(up[is_left].sum()) / whole,
        "shoulder_right_percent": 100 * float(up[~is_left].sum()) / whole,
    }


def is_trodden(worn: Worn, hem: Floats) -> bool:
    """Whether some of the hem (k, 3) hangs lower than a sole is lifted, under or just ahead of a foot."""
    low = hem[hem[:, 2] < SOLE]
    feet = worn.figure.vertices[worn.figure.vertices[:, 2] < SOLE]
    return bool(len(low)) and bool((cKDTree(feet[:, :2]).query(low[:, :2])[0] < AHEAD).any())


def read_arm(cloak: Cloak, worn: Worn, side: str) -> Reading:
    """How much of an arm is bare, from the finger tips up, whether its hand is free, and where else it is bare.

    A band of the arm is bare where less than half of what faces ahead or up lies under cloth: cloth within 30 cm
    outward of the skin. So is its outer side, or what faces back, where less than half of that does.
    """
    figure, along = worn.figure, cloak.joints.along[side]
    normals = vertex_normals(figure.vertices, figure.triangles)
    is_mine = (figure.vertex_regions == REGIONS.index(f"arm_{side}")) & (along > 0.0)
    outward = normals[:, 0] if side == "right" else -normals[:, 0]

    def seen(facing: Floats) -> tuple[Ints, Flags]:
        """Some places of the arm that face so, and whether each is bare."""
        mine = np.flatnonzero(is_mine & (facing > FACING))[::SOME]
        hit = first_crossing(figure.vertices[mine], normals[mine], worn.points[worn.sheet.triangles])
        return mine, ~(hit < UNDER)

    mine, is_bare = seen(normals[:, 1] + normals[:, 2])
    bare = bare_bands(along[mine], is_bare)
    unit = figure.tape["stature"] / 1.7558
    bare_at = [where for where, facing in (("at the side", outward), ("behind", -normals[:, 1]))
               if np.mean(seen(facing)[1]) > 0.5]  # fmt: skip
    return {"bare_cm": 100 * bare, "free": bool(bare >= HAND * unit), "bare_at": bare_at}


def bare_bands(along: Floats, is_bare: Flags) -> float:
    """How far up an arm it is bare [m], from its far end. along (k,) [m]: of places on it, from its shoulder."""
    band = np.floor((along.max() - along) / BAND).astype(np.int64)
    count = np.bincount(band)
    share = np.bincount(band, is_bare) / np.maximum(count, 1)
    covered = np.flatnonzero((share < 0.5) & (count > 0))
    return BAND * float(covered[0]) if len(covered) else float(np.ptp(along))


def _carried_back(cloak: Cloak, wearer: Wearer, worn: Worn) -> Worn:
    """The neck edge as it lies on the wearer, brought back with them to where they stand upright."""
    joints, index = cloak.joints, worn.neck_edge
    points = worn.points.copy()
    points[index] += carried_by(wearer.vertices, joints.figure.vertices, joints.thinned, points[index])
    return replace(worn, figure=joints.figure, points=points)


def slid(before: Floats, after: Floats, carried: Floats) -> float:
    """How far marked points (k, 3) lie from where they would, had they gone with the wearer [m], on average."""
    return float(np.linalg.norm(after - before - carried, axis=1).mean())


def worst_of(rests: Sequence[Mapping[str, Any]]) -> Reading:
    """One set of readings for all rests of a move: of cover and hem the least, of pull and load the most.

    Where the weight lies, which arm is free, how it has turned: at the first, the furthest of the move.
    """
    first = dict(rests[0])
    covers = [one["cover"] for one in rests]
    return first | {
        "settled": all(one["settled"] for one in rests),
        "cover": {name: min(one[name] for one in covers) for name in covers[0]},
        "pull_n": None if first["pull_n"] is None else max(one["pull_n"] for one in rests),
        **{name: max(one[name] for one in rests) for name in ("throat_n", "crossings", "deepest_mm")},
        "hem_lowest_cm": min(one["hem_lowest_cm"] for one in rests),
        "trodden_on": any(one["trodden_on"] for one in rests),
    }
