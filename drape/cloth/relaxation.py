"""Relaxation: all forces → the settled shape, or `NotSettledError` with the evidence.

In: a `Sheet`, a start [m], the figure's signed distance, friction. Out: `Rest`, positions at which
every net force vanishes. Method: dynamic relaxation with kinetic damping (Cundall 1976; Barnes, Form
finding and analysis of tension structures by dynamic relaxation, 1999): the cloth moves without
friction of its own and is stopped at every peak of kinetic energy. Its fictitious mass is not lumped but
the factored matrix of `preconditioner`, so that a fold as wide as the cloak settles in as few steps as a small one.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array, csr_array

from drape.arrays import Flags, Floats, Ints
from drape.body.signed_distance import DistanceField, distance
from drape.cloth.body_contact import FIGURE_STIFFNESS, TANGENT_SHARE, Touch
from drape.cloth.preconditioner import Factor, factor, membrane_laplacian, solve
from drape.cloth.self_contact import (
    LAYER_STIFFNESS,
    LEAST_GAP,
    NO_PAIRS,
    Pairs,
    close_of,
    find_pairs,
    pair_springs,
    weave,
)
from drape.cloth.sheet import Sheet, weight
from drape.cloth.stepping import Found, Limits, Problem, greatest_stretch, relax_steps, scratch_for, state_at
from drape.errors import BlewUpError
from drape.units import STANDARD_GRAVITY

STEP = 2.0  # of 4, at which the stiffest mode of the metric’s bound would grow; from a standstill it does from 2.17
REACH_SHARE, LEAST_SHARE = (
    0.6,
    0.25,
)  # of an edge: reach of the pairs' search, short of most neighbours; its least margin
MOVE_SHARE = 0.4  # of that margin two points may each move before pairs are found again
STRANGERS = 0.005  # share of the points that may touch figure or cloth before the metric knows of it
NEAR = 6e-3  # [m] points this near to touching are in the metric as if they touched
LAYERS_NEAR = 1e-3  # [m] likewise layers this near to touching
HARD_NEAR = 0.7  # of the thickness: layers this near are hard in the metric; the force hardens at half
PRESSED = 1.1  # times the least gap: pairs this near can be pressed no nearer
STUCK = 0.02  # change of the worst residual between two looks, under which its point only bounces
JAM = 2 * LAYER_STIFFNESS  # [N/m] of layers on one point that the metric has to know of
GONE = 20  # pairs that the metric may couple though they have parted; or half of all
SLACK = 1e-3  # [m] by which the grid's distance may change faster than one moves
DRESSING_FALL = 1e-4  # [m] fall of free cloth in the first step while dressing: gentle landings
SETTLING_FALL = 1e-3  # [m] the same while settling
BENDING_ROUNDS = 30  # of power iteration, from below within a few per cent
LEAST_RATIO = 0.6  # of the movement in a stretch of steps to that in the one before: no faster an end is believed
DEEP, EDGE_DEEP = 5e-4, 3e-3  # [m] under the figure's skin: no point rests deeper, nor the middle of an edge
MORE = 3.0  # times as much stiffer as the same load needs, since it grows as its neighbours are relieved
CALM = 5e-3  # [m] still to come: from then on it is looked at how deep cloth lies; and in CHUNK steps, how pressed
HARDEST = 1e3  # times its stiffness the figure is made where cloth would rest deeper, at most
# likewise a pair of layers: a very hard one that slides a little is soon another than the spring the metric knows
LAYERS_HARDEST = 9.0
STALE, CREEP = 0.2, 0.05  # of that way: pairs of cloth that has come so far are found again once it hardly moves on
CHUNK = 100  # steps between looks at the residual, the clock and the caller


@dataclass(frozen=True)
class Settling:
    """What the solver is asked: when to call the cloth settled and when to give up."""

    residual: float = 0.02  # largest net force over a point's weight
    remaining: float = 5e-4  # estimated movement still to come, anywhere [m]
    max_steps: int = 60_000
    look_back: int = 4  # intervals of CHUNK steps in a stretch whose movement is compared with the one before


@dataclass(frozen=True)
class Grip:
    """What a cloak at rest is held by: where points and edges stick to the figure, how far near layers have slid,
    and how many times stiffer the figure was made under each point.

    anchor (p + e, 3) [m]; stuck (p + e,); pairs of layers; hardness (p,).
    """

    anchor: Floats
    stuck: Flags
    pairs: Pairs
    hardness: Floats


@dataclass(frozen=True)
class Rest:
    """A shape and the evidence of how near it is to rest.

    worn: positions [m], (p, 3). residual: largest net force over the point's weight.
    remaining: estimated movement still to come [m]. contact_force: force of the figure on each
    point [N], (p, 3). worst: the point with the largest residual. grip: what friction holds.
    """

    worn: Floats
    settled: bool
    residual: float
    remaining: float
    steps: int
    seconds: float
    contact_force: Floats
    worst: int
    grip: Grip


class Relaxation:
    """A sheet being relaxed: positions, velocities, stick anchors, near pairs.

    Mutable, since a run is one long loop over the same arrays; `relax` is the door for callers.
    """

    def __init__(
        self,
        sheet: Sheet,
        start: Floats,
        touch: Touch,
        *,
        field: DistanceField | None = None,
        fixed: Ints | None = None,
        loads: Floats | None = None,
        grip: Grip | None = None,
    ) -> None:
        """At rest at start (p, 3) [m]. No figure where there is no field. loads (p, 3) [N]: the cloth's weight,
        if left out.
        """
        points = len(sheet.mass)
        self.sheet, self.touch = sheet, touch
        self.field = field if field is not None else nowhere()
        self.loads = weight(sheet) if loads is None else loads
        self.rest_squared = sheet.rest_squared
        self.ordered = sheet._replace(
            triangles=sheet.triangles.astype(np.uint32),
            edges=sheet.edges.astype(np.uint32),
        )
        self.laplacian = membrane_laplacian(sheet)
        self.free = np.ones(points, dtype=np.bool_)
        if fixed is not None:
            self.free[fixed] = False
        self.state, self.scratch = state_at(start, len(sheet.edges)), scratch_for(points)
        self.touching = np.zeros(points, dtype=np.bool_)
        self.hardness = np.ones(points)  # of the figure under each point, in its own
        self.deep = DEEP, EDGE_DEEP
        self.layer_springs = csr_array((points, points))
        self.sprung = self.pressed = NO_PAIRS.key  # pairs that the metric knows of, and knows as hard
        self.at_least = NO_PAIRS.key  # pairs that were pressed to the least gap when last looked at
        self.strangers_allowed = int(STRANGERS * points)
        self.fall = SETTLING_FALL
        self.factor = self.new_factor()
        self.bending_share = self.stiffest_bending()
        self.far_before = 0.0
        self.weave = weave(sheet.triangles) if touch.layers else None
        typical_edge = float(np.sqrt(np.mean(sheet.rest_squared)))
        self.margin = max(REACH_SHARE * typical_edge - touch.thickness, LEAST_SHARE * typical_edge)
        self.steps = 0
        pairs = NO_PAIRS._replace(nearest=np.full(points, np.inf))
        if grip is not None:
            self.state = self.state._replace(anchor=grip.anchor.copy(), stuck=grip.stuck.copy())
            pairs = grip.pairs
            if (grip.hardness > 1.0).any():
                self.stiffen(grip.hardness)
        self.found = Found(pairs, close_of(pairs), np.empty(points + len(sheet.edges)), self.x.copy())

    @property
    def x(self) -> Floats:
        """Where the points are [m], (p, 3); changed in place by every step."""
        return self.state.x

    @property
    def pairs(self) -> Pairs:
        """The near pairs last found, their slides as they are now."""
        return self.found.pairs

    def new_factor(self) -> Factor:
        """The metric with the stiffness of the contacts there are; fixed points held.

        Its Laplacian gives the cloth as a whole no mass; `fall` does, so that it sinks gently.
        """
        stiff = FIGURE_STIFFNESS * (1 + TANGENT_SHARE) * self.ordered.pressed_area
        diagonal = self.laplacian.diagonal()
        pressed = self.touching | (self.hardness > 1.0)  # one hard point left out would be thrown off and fall again
        extra = self.sheet.mass * STANDARD_GRAVITY / self.fall + np.where(pressed, stiff, 0.0)
        return factor(self.laplacian + self.layer_springs, np.where(self.free, extra, 1e3 * diagonal))

    def stable_step(self) -> float:
        """The step that the cloth as stretched now allows: its stiffness grows with its edges².

        With s = l²/L² of the most stretched edge, elasticity grows by s and tension adds (s − 1)/2.
        """
        stretch = greatest_stretch(self.x, self.ordered.triangles, self.ordered.rest_squared)
        return STEP / (1.5 * stretch - 0.5 + self.bending_share)

    def stiffest_bending(self) -> float:
        """Stiffness of the stiffest mode of bending alone over the metric's; under 0.001 but where edges are short.

        Power iteration of P⁻¹ Q, from the same start each time.
        """
        sheet = self.sheet
        matrix = csr_array((sheet.bending_value, sheet.bending_column, sheet.bending_start), shape=self.laplacian.shape)
        mode = np.random.default_rng(0).normal(size=self.x.shape)
        share, out = 0.0, np.empty_like(mode)
        for _ in range(BENDING_ROUNDS):
            mode /= np.linalg.norm(mode)
            solve(self.factor, matrix @ mode, self.scratch.work, out)
            share = float(np.linalg.norm(out))
            mode = out.copy()
        return share

    def take_in_contacts(self, *, every: bool = False) -> None:
        """Brings points that touch figure or cloth, or soon may, into the metric.

        A patch of them left out would be stiffer than the metric allows for; a few are not, unless `every` is asked.
        """
        touch = np.any(self.state.contact_force != 0.0, axis=1)
        shares, stiffness, hard = self.springs(HARD_NEAR * self.touch.thickness)
        count = len(stiffness)
        corners, key = self.pairs.corners[:count], self.pairs.key[:count]
        pressing = stiffness > 0.0
        corners, key, shares, stiffness = corners[pressing], key[pressing], shares[pressing], stiffness[pressing]
        hard = hard[pressing]
        known = np.isin(key, self.sprung, assume_unique=True) & (~hard | np.isin(key, self.pressed, assume_unique=True))
        news = np.zeros(len(self.x))  # stiffness at most of what the metric does not know: Σ|s| of a pair is 2
        np.add.at(news, corners[~known], 2.0 * np.abs(shares[~known]) * stiffness[~known, None])
        few = max(np.sum(touch & ~self.touching), np.sum(news > LAYER_STIFFNESS)) <= self.strangers_allowed
        gone = len(self.sprung) - int(known.sum())
        if not every and few and not np.any(news > JAM) and gone <= max(GONE, len(self.sprung) // 2):
            return
        near = distance(self.field, self.x) < 0.5 * self.touch.thickness + NEAR
        self.touching, self.sprung, self.pressed = near | touch, key, key[hard]
        self.layer_springs = springs_between(corners, shares, stiffness, len(self.x))
        self.factor = self.new_factor()
        self.state.memory[0] = 0.0

    def springs(self, hard_reach: float) -> tuple[Floats, Floats, Flags]:
        """Shares, stiffness [N/m] and whether they lie within hard_reach [m], of the pairs that press or soon may."""
        reach = self.touch.thickness + LAYERS_NEAR
        count = int(np.searchsorted(self.pairs.apart, reach + 2.0 * self.state.memory[2], side="right"))
        return pair_springs(self.x, self.pairs, count, reach, hard_reach)

    def take_in_point(self, point: int) -> None:
        """Brings one point into the metric where it or an edge of it is at the figure: alone it may bounce for ever."""
        edges = np.flatnonzero((self.sheet.edges == point).any(axis=1))
        near = 0.5 * self.touch.thickness + NEAR
        if not self.touching[point] and self.gap()[[point, *(len(self.x) + edges)]].min() < near:
            self.touching[point] = True
            self.factor = self.new_factor()
            self.state.memory[0] = 0.0

    def take_in_layers(self, point: int) -> None:
        """Brings all contacts into the metric where a pair of this point presses that it does not know."""
        _, stiffness, _ = self.springs(0.0)
        count = len(stiffness)
        own = (self.pairs.corners[:count] == point).any(axis=1) & (stiffness > 0.0)
        if not np.isin(self.pairs.key[:count][own], self.sprung).all():
            self.take_in_contacts(every=True)

    def find_pairs(self) -> None:
        """Near pairs afresh, slides remembered; and how far each sample is from touching the figure."""
        pairs, close, thickness = self.pairs, self.found.close, self.touch.thickness
        if self.weave is not None:
            pairs = find_pairs(self.weave, self.x, thickness=thickness, margin=self.margin, before=pairs)
            close = close_of(pairs)
        self.state.memory[2] = 0.0
        self.found = Found(pairs, close, self.gap() - 0.5 * thickness - SLACK, self.x.copy())

    def gap(self) -> Floats:
        """Way of the cloth's middle to the figure's skin [m], at each point and at each edge's middle, (p + e,)."""
        a, b = self.x[self.sheet.edges[:, 0]], self.x[self.sheet.edges[:, 1]]
        return distance(self.field, np.concatenate([self.x, 0.5 * (a + b)]))

    def harden(self) -> bool:
        """Makes the figure stiffer where cloth lies too deep in it, as where much of a cloak hangs from one hand.

        Stiff everywhere, cloth would take many more steps. Returns whether it lies too deep anywhere.
        """
        points, edges, half = len(self.x), self.sheet.edges, 0.5 * self.touch.thickness
        gap = self.gap()
        allowed = np.repeat(self.deep, [points, len(edges)])
        times = np.where(gap < -allowed, MORE * (half - gap) / (half + allowed), 1.0)
        harder = times[:points].copy()
        np.maximum.at(harder, edges.ravel(), np.repeat(times[points:], 2))
        harder = np.minimum(harder * self.hardness, HARDEST)
        if not (harder > self.hardness).any():
            return False
        self.stiffen(harder)
        return True

    def stiffen(self, hardness: Floats) -> None:
        """Makes the figure under each point as many times stiffer than it is made (p,)."""
        self.hardness = hardness
        of_edge = np.minimum(*hardness[self.sheet.edges].T)  # so the metric's share of each point still bounds it
        self.ordered = self.ordered._replace(
            pressed_area=hardness * self.sheet.pressed_area, edge_area=of_edge * self.sheet.edge_area
        )
        self.touching |= hardness > 1.0
        self.factor = self.new_factor()
        self.state.memory[0] = 0.0

    def harden_layers(self, point: int) -> None:
        """Makes pairs of a point stiffer that stay pressed to the least gap, as where a fold has caught on another.

        Such a pair is held back, and what holds it is in no force: the cloth could never be called at rest.
        """
        pairs = self.pairs
        _, stiffness, is_near = self.springs(PRESSED * LEAST_GAP)
        near = np.flatnonzero(is_near & (stiffness > 0.0))
        stays = near[np.isin(pairs.key[near], self.at_least)]
        self.at_least = pairs.key[near]
        stays = stays[(pairs.corners[stays] == point).any(axis=1)]
        if len(stays):
            pairs.hardness[stays] = np.minimum(MORE * pairs.hardness[stays], LAYERS_HARDEST)
            self.take_in_contacts(every=True)

    def problem(self) -> Problem:
        """What the compiled loop needs of the cloth, the figure and their touch."""
        sheet = self.ordered._replace(rest_squared=self.rest_squared)
        # one type each, or the loop is compiled once more
        thickness, on_figure, on_cloth = (float(value) for value in self.touch[:3])
        touch = Touch(thickness, on_figure, on_cloth, layers=self.touch.layers)
        return Problem(sheet, self.field, touch, self.loads, self.free)

    def advance(self, steps: int) -> None:
        """Makes `steps` steps. Raises BlewUpError with step and place."""
        done = 0
        reach = MOVE_SHARE * self.margin
        problem, memory = self.problem(), self.state.memory
        self.check(done)
        while done < steps:
            far = memory[2]
            if far > 0.7 * reach or (far > STALE * reach and far < self.far_before + CREEP * reach):
                self.find_pairs()
            self.far_before = memory[2]
            self.take_in_contacts()
            limits = Limits(steps - done, self.stable_step(), reach, self.strangers_allowed)
            done += relax_steps(problem, self.found, self.factor, self.touching, self.state, self.scratch, limits)
            self.check(done)
        self.steps += done

    def check(self, done: int) -> None:
        """Raises BlewUpError with the fastest point if the last of `done` steps left no sensible positions."""
        lost = ~np.isfinite(self.x).all(axis=1)
        if self.state.memory[1] or lost.any():
            speed = np.where(lost, np.inf, np.nan_to_num(np.linalg.norm(self.state.velocity, axis=1), nan=np.inf))
            raise BlewUpError(
                f"solver: positions ceased to be numbers after {self.steps + done} steps, "
                f"first at point {int(np.argmax(speed))}. Check the cloth's constants, or use a coarser mesh."
            )

    def residual(self) -> tuple[float, int]:
        """Largest net force over a point's weight among the free points, and where."""
        size = np.linalg.norm(self.state.force, axis=1) / (self.sheet.mass * STANDARD_GRAVITY)
        size[~self.free] = 0.0
        worst = int(np.argmax(size))
        return float(size[worst]), worst

    def tighten(self, rest_from: Floats, *, steps: int, slices: int = 60) -> None:
        """Brings the rest lengths² from `rest_from` to the cloth's own in equal slices."""
        self.fall = DRESSING_FALL
        self.factor = self.new_factor()
        for k in range(slices):
            share = (k + 1) / slices
            self.rest_squared = (1 - share) * rest_from + share * self.sheet.rest_squared
            self.advance(steps // slices)
        self.rest_squared, self.fall = self.sheet.rest_squared, SETTLING_FALL
        self.factor = self.new_factor()


def relax(
    run: Relaxation,
    *,
    settling: Settling,
    progress: Callable[[float, float, int], None] | None = None,
) -> Rest:
    """The settled shape of a run, or its last state with `settled` false.

    Settled means: residual and the estimate of movement still to come are both below what
    `settling` asks. The estimate compares the movement of the last stretch of steps with that
    of the stretch before and sums the geometric series they begin; while the movement does not
    shrink there is no estimate and the run goes on.
    progress(residual, remaining, steps) is called every `CHUNK` steps.
    """
    began = time.perf_counter()
    track = deque([run.x.copy()], maxlen=2 * settling.look_back + 1)
    first = run.steps
    settled, residual, remaining, worst = False, np.inf, np.inf, -1
    while run.steps - first < settling.max_steps and not settled:
        run.advance(CHUNK)
        track.append(run.x.copy())
        before, residual_before = worst, residual
        residual, worst = run.residual()
        if residual > settling.residual and worst == before:
            run.take_in_point(worst)
            if abs(residual - residual_before) < STUCK * residual:
                run.take_in_layers(worst)
        if residual > settling.residual and longest_way(track[-1], track[-2]) <= CALM:
            run.harden_layers(worst)
        remaining = movement_to_come(track, settling.look_back)
        settled = residual <= settling.residual and remaining <= settling.remaining
        if remaining <= CALM and run.harden():
            settled = False
            track.clear()
            track.append(run.x.copy())
        if progress is not None:
            progress(residual, remaining, run.steps)
    return Rest(
        worn=run.x.copy(),
        settled=settled,
        residual=residual,
        remaining=remaining,
        steps=run.steps,
        seconds=time.perf_counter() - began,
        contact_force=run.state.contact_force.copy(),
        worst=worst,
        grip=Grip(
            run.state.anchor.copy(),
            run.state.stuck.copy(),
            run.pairs._replace(slide=run.pairs.slide.copy(), hardness=run.pairs.hardness.copy()),
            run.hardness.copy(),
        ),
    )


def springs_between(corners: Ints, shares: Floats, stiffness: Floats, count: int) -> csr_array:
    """Σ K s sᵀ [N/m] over pairs of shares s at their corners, (count, count)."""
    rows, columns = np.repeat(corners, 4, axis=1).ravel(), np.tile(corners, (1, 4)).ravel()
    values = stiffness[:, None, None] * shares[:, :, None] * shares[:, None, :]
    return csr_array(coo_array((values.ravel(), (rows, columns)), shape=(count, count)))


def movement_to_come(track: Sequence[Floats], look_back: int) -> float:
    """Estimate of the movement still to come anywhere [m] from positions CHUNK steps apart.

    With m₁ the largest movement in the last `look_back` intervals but as many, m₂ in the last, and
    ratio q = m₂/m₁ < 1, the stretches to come add up to m₂ q/(1 − q); q is never taken for less than LEAST_RATIO.
    Infinite while the movement grows, or before 2 `look_back` intervals.
    Source: ours; held against runs ten times longer (`tests/bench/longer.py`).
    """
    if len(track) <= 2 * look_back:
        return np.inf
    now, before, earlier = track[-1], track[-1 - look_back], track[-1 - 2 * look_back]
    last, previous = longest_way(now, before), longest_way(before, earlier)
    if last == 0.0:
        return 0.0
    if last >= previous:
        return np.inf
    ratio = max(last / previous, LEAST_RATIO)
    return last * ratio / (1 - ratio)


def longest_way(now: Floats, before: Floats) -> float:
    """How far the point that moved furthest has moved [m]; positions (p, 3) [m]."""
    return float(np.sqrt(np.max(np.sum((now - before) ** 2, axis=1))))


def nowhere() -> DistanceField:
    """A field with no figure in it: every place is far outside."""
    return DistanceField(origin=np.full(3, 1e6), spacing=1.0, values=np.full((4, 4, 4), 1e3))
