"""Ways: how a cloak can be worn, and what can be done in it, as moves of the wearer and of a hand.

In: a `Cloak`, closed and at rest on a wearer whose arms hang. Out: the same cloth at rest as it is worn otherwise, and
the postures that a move goes through. How a hand does it is common practice, no source; lengths are ours.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

import numpy as np

from drape.arrays import Floats, Ints
from drape.cloth.body_contact import touch_of
from drape.cloth.mesh import Mesh
from drape.cloth.relaxation import Relaxation
from drape.cloth.self_contact import crossing_count, weave
from drape.cloth.sheet import Sheet
from drape.draft.outline import Draft
from drape.errors import SceneError
from drape.fitting.scene import Scene
from drape.fitting.sit import sewn_sheet
from drape.polyline import length_along
from drape.wearing.choices import (
    ARM_FREE,
    BACK,
    CLOSED,
    LEANING,
    OPEN,
    RAISED,
    STEPPING,
    THROWN,
    TURNING,
    USUAL_LEAN_DEG,
)  # fmt: skip
from drape.wearing.moving import Wearer
from drape.wearing.posture import HANGING, SIDES, UPRIGHT, Held, Joints, Posture, held_as, stride
from drape.wearing.thrown import Hand

LEAN, TURN = float(np.radians(USUAL_LEAN_DEG)), float(np.radians(30.0))
GRIPPED: Final = 0.10  # m of cloth round the place where a hand takes hold
OVER: Final = 0.50  # m at most that is thrown over the shoulder, to hang behind it; a shorter front to its corner
LEAST_OVER: Final = 0.15  # m; less is not thrown but laid on
AT_ELBOW: Final = 0.45  # m down the opening edge, where it is taken to let an arm out
PAST: Final = np.array([0.12, -0.10, 0.0])  # m outward of a hanging elbow and behind it, where a front is put back
REACHES: Final = 0.9  # of an edge's length, furthest down it that a hand takes it to put it back
APART: Final = 1.5  # thicknesses by which the edges of an opened closure are drawn back from each other


class CannotError(SceneError):
    """A way of wearing, or a move, that this cloak or this wearer does not allow; one line says why."""


@dataclass(frozen=True)
class Cloak:
    """A cloak closed and at rest: points [m], (p, 3), on a wearer whose arms hang."""

    scene: Scene
    draft: Draft
    mesh: Mesh
    sheet: Sheet
    joints: Joints
    points: Floats

    @property
    def free_side(self) -> str:
        """The side whose arm comes out first: where it opens; of one that opens in front the right."""
        return "left" if self.draft.closure_place == "left shoulder" else "right"

    @property
    def front_edge(self) -> Ints:
        """Vertices of the front's free edge, from the closure down; of one that opens in front the free side's."""
        own = "front" if "shoulder" in self.draft.closure_place else self.free_side
        return self.mesh.edges[next(name for name in self.draft.opening if name.startswith(own))]

    def neck_points(self) -> Ints:
        """Points of the neck edge."""
        return np.unique(self.sheet.point_of_vertex[np.concatenate([self.mesh.edges[n] for n in self.draft.neck])])

    def wearer(self) -> Wearer:
        """Somebody who wears it as it hangs."""
        run = Relaxation(self.sheet, self.points, touch_of(self.scene.cloth), field=self.joints.figure.field)
        wearer = Wearer(self.joints, run, UPRIGHT)
        wearer.thicken()
        return wearer


@dataclass(frozen=True)
class Put:
    """Cloth brought to a way of wearing, not at rest yet. marked: the points by which is told whether it stays;
    they were `before` (k, 3) [m] when it was left to itself, the figure's surface where `surface` (n, 3).
    """

    cloak: Cloak
    wearer: Wearer
    marked: Ints
    before: Floats
    surface: Floats


def put(how: str, cloak: Cloak) -> Put:
    """The cloak worn so. Raises CannotError."""
    return _PUT[how](cloak)


def _left_alone(cloak: Cloak, wearer: Wearer, marked: Ints) -> Put:
    return Put(cloak, wearer, marked, wearer.run.x[marked].copy(), wearer.vertices)


def _closed(cloak: Cloak) -> Put:
    return _left_alone(cloak, cloak.wearer(), cloak.neck_points())


def _raised(cloak: Cloak) -> Put:
    wearer = cloak.wearer()
    wearer.rest()
    found = _left_alone(cloak, wearer, cloak.neck_points())
    wearer.move_to(Posture(arms=(held_as(cloak.joints, "left", "forward"), held_as(cloak.joints, "right", "forward"))))
    return found


def _arm_free(cloak: Cloak) -> Put:
    """A hand draws the front's edge aside; the arm goes out past it, forward and then where the opening is."""
    edge = _needs_edge(cloak, ARM_FREE)
    wearer = cloak.wearer()
    wearer.rest()
    found = _left_alone(cloak, wearer, cloak.neck_points())
    in_front = cloak.draft.closure_place == "centre front"
    down, way = (_past_elbow if in_front else _across)(cloak, edge, wearer)
    hand = Hand(wearer.run, _gripped(cloak, edge, down))
    hand.go(way)
    for hold in ("forward", *(() if in_front else ("out of the opening",))):
        wearer.move_to(Posture(arms=_one(cloak.free_side, held_as(cloak.joints, cloak.free_side, hold))))
    hand.let_go()
    return found


def _across(cloak: Cloak, edge: Ints, _: Wearer) -> tuple[float, Floats]:
    """Where a hand takes the edge of a front closed over a shoulder [m down it], and its way to before the chest [m].

    So the front no longer hangs over the arm on the side of the closure.
    """
    unit = cloak.joints.figure.tape["stature"] / 1.7558
    way = np.array([[0.30, 0.30, 1.10], [-0.05, 0.40, 1.15]]) * [_outward(cloak.free_side), 1.0, 1.0]
    return min(AT_ELBOW, 0.5 * _long(cloak, edge)), way * unit


def _past_elbow(cloak: Cloak, edge: Ints, wearer: Wearer) -> tuple[float, Floats]:
    """Where a hand takes the edge of a front that opens in the middle [m down it], and its way past the elbow [m].

    Taken where it just reaches so far, the front is turned back over the arm, which comes out before it.
    """
    joints, side = cloak.joints, cloak.free_side
    mirrored = np.array([_outward(side), 1.0, 1.0])
    top = wearer.run.x[cloak.sheet.point_of_vertex[edge[0]]]
    far = joints.places[f"elbow {side}"] + PAST * mirrored - top
    down = min(float(np.linalg.norm(far)), REACHES * _long(cloak, edge))
    ahead = np.array([0.4, 0.6, -0.6]) * mirrored
    return down, top + down * np.array([ahead, far / np.linalg.norm(far)])


def _outward(side: str) -> float:
    """1 where away from the middle is +x, to the wearer's right; else -1."""
    return 1.0 if side == "right" else -1.0


def _thrown(cloak: Cloak) -> Put:
    """A hand takes the front near its corner, brings it before the chest, over the other shoulder, and lets it go."""
    edge = _needs_edge(cloak, THROWN)
    wearer = cloak.wearer()
    wearer.rest()
    marks, x = cloak.joints.figure.landmarks, wearer.run.x
    near, far = cloak.free_side, "left" if cloak.free_side == "right" else "right"
    here, there = (0.5 * (marks[f"shoulder_point_{side}"] + marks[f"side_neck_{side}"]) for side in (near, far))
    chest = 0.5 * (here + there) + [0.0, 0.12, -0.12]
    start = x[cloak.sheet.point_of_vertex[edge[0]]]
    path = float(np.linalg.norm(start - chest) + np.linalg.norm(there - chest))
    over = min(OVER, _long(cloak, edge) - path)
    if over < LEAST_OVER:
        long, most = 100 * _long(cloak, edge), 100 * (path + LEAST_OVER)
        raise CannotError(
            f"{THROWN}: got a front edge free over {long:.0f} cm, allowed {most:.0f} and more: what is shorter does "
            "not reach over the other shoulder. Cut it longer, or fasten less of it."
        )
    hand = Hand(wearer.run, _gripped(cloak, edge, path + over))
    sign = _outward(near)
    far_out = 0.85 * (path + over)  # the edge stays taut on its way, and no slack cloth falls before it
    hand.go(
        np.array([
            hand.place + [0.30 * sign, 0.0, 0.10],  # clear of the arm, or it catches on the hand that hangs there
            here + far_out * np.array([0.3 * sign, 0.85, -0.43]), here + far_out * np.array([-0.2 * sign, 0.97, 0.1]),
            there + [0.0, 0.40, 0.28], there + [0.0, 0.10, 0.30], there + [0.0, -0.16, 0.22],
            there + [0.0, -0.16, 0.10 - over],
        ])
    )  # fmt: skip
    found = _left_alone(cloak, wearer, hand.grip)
    hand.let_go()
    return found


def _open(cloak: Cloak) -> Put:
    """The closure undone: its seam is none any more, and its edges lie beside each other."""
    draft, mesh = cloak.draft, cloak.mesh
    sides = [set(mesh.edges[name].tolist()) for name in draft.closure]
    collar = {int(vertex) for name, run in mesh.edges.items() if name.startswith("collar") for vertex in run}
    undone = np.array([
        (a in sides[0] and b in sides[1]) or (a in sides[1] and b in sides[0]) or (a in collar and b in collar)
        for a, b in mesh.seams.tolist()
    ], dtype=bool)  # fmt: skip
    parted = replace(mesh, seams=mesh.seams[~undone])
    sheet = sewn_sheet(cloak.scene, draft, parted)
    x = np.zeros((len(sheet.mass), 3))
    x[sheet.point_of_vertex] = cloak.points[cloak.sheet.point_of_vertex]
    x = _drawn_back(sheet, x, np.unique(sheet.point_of_vertex[mesh.seams[undone]]), cloak.scene.cloth.thickness)
    opened = replace(cloak, mesh=parted, sheet=sheet, points=x)
    return _left_alone(opened, opened.wearer(), opened.neck_points())


def _drawn_back(sheet: Sheet, x: Floats, points: Ints, thickness: float) -> Floats:
    """Points drawn a little into their own cloth, so that edges which were one lie apart."""
    middle = x[sheet.triangles].mean(axis=1)
    back = x.copy()
    for point in points:
        way = middle[(sheet.triangles == point).any(axis=1)].mean(axis=0) - x[point]
        back[point] += APART * thickness * way / np.linalg.norm(way)
    if crossing_count(weave(sheet.triangles), back):
        raise CannotError(
            f"{OPEN}: the edges of this closure cannot be drawn apart without the cloth crossing itself. Use smaller "
            "triangles."
        )
    return back


_PUT: Final[Mapping[str, Callable[[Cloak], Put]]] = MappingProxyType(
    {CLOSED: _closed, ARM_FREE: _arm_free, RAISED: _raised, THROWN: _thrown, OPEN: _open}
)


def _needs_edge(cloak: Cloak, how: str) -> Ints:
    edge = cloak.front_edge
    if len(edge) < 3 or _long(cloak, edge) < 2 * GRIPPED:
        raise CannotError(
            f"{how}: got a front fastened down to {100 * _long(cloak, edge):.0f} cm above its hem, allowed a free edge "
            f"of {200 * GRIPPED:.0f} cm and more for a hand to take. Fasten less of it."
        )
    return edge


def _long(cloak: Cloak, edge: Ints) -> float:
    return float(length_along(cloak.mesh.flat[edge])[-1])


def _gripped(cloak: Cloak, edge: Ints, down: float) -> Ints:
    """Points within a hand's grip of the edge, so far down it [m]."""
    flat = cloak.mesh.flat
    place = flat[edge[np.argmin(np.abs(length_along(flat[edge]) - down))]]
    return np.unique(cloak.sheet.point_of_vertex[np.linalg.norm(flat - place, axis=1) < GRIPPED])


def _one(side: str, held: Held) -> tuple[Held, Held]:
    return (held, HANGING) if side == "left" else (HANGING, held)


# --- what is done -----------------------------------------------------------------------------


def moves(doing: str, cloak: Cloak, at: Posture, lean: float = LEAN) -> list[tuple[str, Posture]]:
    """The postures that a move goes through, each a rest, in words; the last is where it began."""
    if doing == LEANING:
        leant = replace(at, lean=lean, arms=(_dangling(at.arms[0], lean), _dangling(at.arms[1], lean)))
        return [(f"leaning {np.degrees(lean):.0f}°", leant), (f"{BACK}leaning", at)]
    if doing == TURNING:
        turned = [("turned left", replace(at, turn=TURN)), ("turned right", replace(at, turn=-TURN))]
        return [*turned, (f"{BACK}turning", at)]
    if doing == STEPPING:
        angle = stride(cloak.joints.figure)
        stepped = [("right leg ahead", replace(at, step=angle)), ("left leg ahead", replace(at, step=-angle))]
        return [*stepped, (f"{BACK}stepping", at)]
    side = cloak.free_side
    arms = list(at.arms)
    arms[SIDES.index(side)] = held_as(cloak.joints, side, "reach")
    return [("reaching", replace(at, arms=(arms[0], arms[1]))), (f"{BACK}reaching", at)]


def _dangling(held: Held, lean: float) -> Held:
    """An arm that hangs goes on hanging while the trunk leans."""
    return Held((lean, 0.0, 0.0)) if held == HANGING else held
