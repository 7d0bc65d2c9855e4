"""Moving: cloth carried along while the wearer moves, from rest to rest.

In: cloth at rest on a figure, and the posture to come to. Out: the cloth at rest there. The figure moves in short
stretches, not in time: no speed is claimed. In each the cloth, and the places where friction holds it, first go with
the surface nearest to them; then the cloth is relaxed. So what friction held it holds still, and what slides, slides on
the way and not all at once.
"""

from __future__ import annotations

from collections.abc import Callable
from copy import copy
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np

from drape.arrays import Floats
from drape.body.figure import Figure
from drape.body.signed_distance import DistanceField, distance, distance_field
from drape.cloth.mesh import vertex_normals
from drape.cloth.relaxation import Relaxation, Rest, Settling, relax
from drape.cloth.self_contact import crossing_count, weave
from drape.errors import DrapeError
from drape.wearing.posture import Joints, Posture, bent, between, carried_by, posed
from drape.wearing.rise import rise

STRETCH: Final = 0.04  # m, that no place of the figure moves further than in a stretch
PASSING: Final = 0.014  # m, between the nodes of its distance on the way
STEPS: Final = 200  # of the solver in each stretch
PARTS: Final = 6  # of a way, between which the figure's movement is reckoned
RESTING: Final = Settling()
DEEP: Final = 5e-4  # m under what it rests on, that no point and no middle of an edge rests deeper
SPLITS: Final = 3  # of a stretch in two, and so on, where the cloth cannot be brought along whole
HOLLOW: Final = 1.1  # times its own distance that a place of the thicker figure is laid off
ROUNDS: Final = 2  # in which it is brought there
HALVINGS: Final = 2  # of what the cloth is carried by, where it would cross itself


class FellError(DrapeError):
    """A cloak has slid off its wearer."""


Told = Callable[[float], None]  # called with the share of a move that is made


class Wearer:
    """A figure that moves, and the cloth on it. Mutable, as `Relaxation` is.

    What the cloth rests on is thicker than the figure by `more` (n,) [m], how much its flat triangles would cut into it
    (`rise`). A joint that bends makes it thicker there.
    """

    def __init__(self, joints: Joints, run: Relaxation, posture: Posture) -> None:
        self.joints, self.run, self.posture = joints, run, posture
        self.vertices = bent(joints, posture)
        self.more = self.laid_on(self.vertices)
        self._figure = joints.figure
        run.deep = DEEP, DEEP

    @property
    def figure(self) -> Figure:
        """The figure as it stands now, worked out once until it moves."""
        if self._figure.vertices is not self.vertices:
            field = distance_field(self.vertices, self.joints.figure.triangles)
            self._figure = posed(self.joints, self.vertices, field)
        return self._figure

    def laid_on(self, vertices: Floats) -> Floats:
        """How much thicker a figure bent so is [m], (n,); the cloth already lies off it by half its own thickness.

        In a hollow, as of a bent elbow, no thicker than leaves its two sides apart: crossed, they would have no inside.
        """
        triangles, side = self.joints.figure.triangles, float(np.sqrt(np.mean(self.run.sheet.rest_squared)))
        more = np.maximum(rise(vertices, triangles, side) - 0.5 * self.run.touch.thickness, 0.0)
        out, field = vertex_normals(vertices, triangles), distance_field(vertices, triangles)
        for _ in range(ROUNDS):
            more = np.clip(HOLLOW * distance(field, vertices + more[:, None] * out), 0.0, more)
        return np.asarray(more)

    def thicken(self) -> None:
        """The cloth lifted with the figure as it becomes so thick."""
        thick, thinned = self.thick(self.vertices), self.joints.thinned
        field = distance_field(thick, self.joints.figure.triangles)
        carry(self.run, along_with(self.run, partial(carried_by, self.vertices, thick, thinned)), field)

    def thick(self, vertices: Floats) -> Floats:
        """What the cloth rests on, of a figure bent so."""
        return vertices + self.more[:, None] * vertex_normals(vertices, self.joints.figure.triangles)

    def move_to(self, goal: Posture, *, told: Told = lambda _: None) -> None:
        """Brings the figure to a posture, the cloth with it; no rest at its end."""
        start, before = self.posture, self.more
        shares = stretches(self.joints, start, goal)
        after = self.laid_on(bent(self.joints, goal)) if len(shares) else before
        for share in shares:
            self.more = (1.0 - share) * before + share * after
            self.stretch(between(start, goal, share), is_last=share == 1.0)
            told(share)

    def stretch(self, goal: Posture, *, is_last: bool, splits: int = SPLITS) -> None:
        """One short stretch of a move; on the way the figure's distance is known on a coarser grid.

        Where the cloth cannot be brought along whole it is made in two, or a hand would go through what stays behind.
        """
        after, thinned = bent(self.joints, goal), self.joints.thinned
        triangles = self.joints.figure.triangles
        along = along_with(self.run, partial(carried_by, self.vertices, after, thinned))
        if splits and along.crosses:
            self.stretch(between(self.posture, goal, 0.5), is_last=False, splits=splits - 1)
            self.stretch(goal, is_last=is_last, splits=splits - 1)
            return
        thick = self.thick(after)
        field = distance_field(thick, triangles) if is_last else distance_field(thick, triangles, spacing=PASSING)
        carry(self.run, along, field)
        self.vertices, self.posture = after, goal

    def again(self, rest: Rest) -> Wearer:
        """The same at that rest, apart from what becomes of this one."""
        run = self.run
        own = copy(self)
        own.run = Relaxation(run.sheet, rest.worn, run.touch, field=run.field, grip=rest.grip)
        own.run.deep = run.deep
        return own

    def rest(self, settling: Settling = RESTING) -> Rest:
        """The cloth settled as the figure stands now. Raises FellError."""

        def look(*_: float) -> None:
            if self.run.x[:, 2].max() < 0.0:  # nothing holds cloth up below the floor
                raise FellError("the cloak slides off and falls to the floor")

        return relax(self.run, settling=settling, progress=look)


@dataclass(frozen=True)
class Along:
    """How far cloth goes with what it lies on: its points (p, 3), and the places where friction holds some of them,
    in the order of their points (k, 3) [m]. crosses: whether the cloth, brought along whole, would cross itself.
    """

    cloth: Floats
    anchors: Floats
    crosses: bool


def along_with(run: Relaxation, shift_of: Callable[[Floats], Floats]) -> Along:
    """shift_of: how far places (k, 3) go with what the cloth lies on [m], (k, 3)."""
    shift = shift_of(run.x)
    return Along(shift, shift_of(run.state.anchor[np.flatnonzero(run.state.stuck)]), _crosses(run, shift))


def _crosses(run: Relaxation, shift: Floats) -> bool:
    return crossing_count(weave(run.sheet.triangles), run.x + shift) > 0


def carry(run: Relaxation, along: Along, field: DistanceField) -> None:
    """The cloth brought along with what it lies on, whose signed distance is `field` from now on, and relaxed a little.

    What friction holds goes with it whole; the cloth less far, or not at all, where it would otherwise cross itself.
    """
    run.state.anchor[np.flatnonzero(run.state.stuck)] += along.anchors
    shift, crosses, halved = along.cloth, along.crosses, 0
    while crosses and halved < HALVINGS:
        shift, halved = 0.5 * shift, halved + 1
        crosses = _crosses(run, shift)
    if not crosses:
        run.x[:] += shift
    run.state.momentum[:] = 0.0
    run.state.moved[:] = 0.0
    run.state.memory[[0, 3]] = 0.0  # it stands still
    run.state.memory[2] = np.inf  # and who is near to whom is to be found afresh
    run.field = field
    run.advance(STEPS)


def stretches(joints: Joints, a: Posture, b: Posture) -> Floats:
    """The shares of the way between two postures at the ends of its stretches; none where they are the same."""
    if a == b:
        return np.empty(0)
    shares = np.linspace(0.0, 1.0, PARTS + 1)
    shapes = [bent(joints, between(a, b, share))[joints.thinned] for share in shares]
    far = [float(np.linalg.norm(q - p, axis=1).max()) for p, q in zip(shapes[:-1], shapes[1:], strict=True)]
    count = max(1, int(np.ceil(PARTS * max(far) / STRETCH)))
    return np.linspace(0.0, 1.0, count + 1)[1:]
