"""Solver: all forces → the settled shape, or `NotSettledError` with the evidence.

In: a `Sheet`, a start [m], the figure's signed distance, friction. Out: `Rest`, positions at which
every net force vanishes. Method: dynamic relaxation with kinetic damping (Cundall 1976; Barnes, Form
finding and analysis of tension structures by dynamic relaxation, 1999): the cloth moves without
friction of its own and is stopped at every peak of kinetic energy. Its fictitious mass is not lumped but
the factored matrix of `metric`, so that a fold as wide as the cloak settles in as few steps as a small one.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numba
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array

from drape.cloth import Sheet, bending_force, edge_vectors, triangle_force
from drape.contact import FIGURE_STIFFNESS, TANGENT_SHARE, figure_force
from drape.distance import DistanceField, distance
from drape.errors import BlewUpError
from drape.layers import LAYER_STIFFNESS, NO_PAIRS, Pairs, find_pairs, hold_back, pair_forces, pair_springs, weave
from drape.metric import Factor, factor, membrane_laplacian, solve
from drape.units import STANDARD_GRAVITY

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FLUNG = 1e7  # kinetic measure no cloth reaches unless the step has become unstable
STEP = 2.0  # of 4, at which the stiffest mode of the metric’s bound would grow; from 2.8 contacts chatter for ever
REACH_SHARE, LEAST_SHARE = 0.6, 0.25  # of an edge: reach of the pairs' search, short of most neighbours; its least margin
MOVE_SHARE = 0.4  # of that margin two points may each move before pairs are found again
SINK = 0.97  # of its peak: energy below that stops the cloth; smaller dips are the chatter of contacts
STRANGERS = 0.005  # share of the points that may touch figure or cloth before the metric knows of it
NEAR = 6e-3  # [m] points this near to touching are in the metric as if they touched
LAYERS_NEAR = 1e-3  # [m] likewise layers this near to touching
HARD_NEAR = 0.7  # of the thickness: layers this near are hard in the metric; the force hardens at half
JAM = 2 * LAYER_STIFFNESS  # [N/m] of layers on one point that the metric has to know of
GONE = 20  # pairs that the metric may couple though they have parted; or half of all
SLACK = 1e-3  # [m] by which the grid's distance may change faster than one moves
DRESSING_FALL = 1e-4  # [m] fall of free cloth in the first step while dressing: gentle landings
SETTLING_FALL = 1e-3  # [m] the same while settling
ALONE = 5000  # points up to which one thread is faster than waking another twice a step
BENDING_ROUNDS = 30  # of power iteration, from below within a few per cent
LEAST_RATIO = 0.6  # of the movement in a stretch of steps to that in the one before: no faster an end is believed
STALE, CREEP = 0.2, 0.05  # of that way: pairs of cloth that has come so far are found again once it hardly moves on
RECKONED = 10  # steps between looks at how far points have come since their pairs were found
CHUNK = 100  # steps between looks at the residual, the clock and the caller


@dataclass(frozen=True)
class Settling:
    """What the solver is asked: when to call the cloth settled and when to give up."""

    residual: float = 0.02  # largest net force over a point's weight
    remaining: float = 5e-4  # estimated movement still to come, anywhere [m]
    max_steps: int = 60_000
    look_back: int = 8  # intervals of CHUNK steps in a stretch whose movement is compared with the one before


@dataclass(frozen=True)
class Grip:
    """What friction holds: where points and edges stick to the figure, and how far near layers have slid.

    anchor (p + e, 3) [m]; stuck (p + e,); pairs of layers.
    """

    anchor: Floats
    stuck: NDArray[np.bool_]
    pairs: Pairs


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


@numba.njit(cache=True, parallel=True, error_model="numpy")
def net_forces(
    x, triangles, rest_squared, membrane, edges, edge_area, contact_area, mass,
    bend_start, bend_column, bend_value, incident_start, incident_corner, spoke_start, spoke_edge,
    values, origin, spacing, rest_gap, contact_stiffness, friction, gravity,
    anchor, stuck, clear, moved, extra, corner_force, edge_force, contact_force, force,
):  # pragma: no cover - compiled  # fmt: skip
    """Net force on every point [N] into `force`, and the figure's part into `contact_force`.

    The figure is felt at every point and middle of an edge, each for half the area; those that were
    `clear` of touching it [m] by more than they can have `moved` since are passed over.
    """
    point_count = len(x)
    for t in numba.prange(len(triangles)):
        triangle_force(x, triangles, rest_squared, membrane, t, corner_force)
    for e in numba.prange(len(edges)):
        if clear[point_count + e] > moved:
            stuck[point_count + e] = False
            continue
        i = edges[e, 0]
        j = edges[e, 1]
        fx, fy, fz, _ = figure_force(
            values, origin, spacing, 0.5 * (x[i, 0] + x[j, 0]), 0.5 * (x[i, 1] + x[j, 1]),
            0.5 * (x[i, 2] + x[j, 2]), rest_gap, 0.5 * contact_stiffness * edge_area[e],
            friction, anchor, stuck, point_count + e,
        )  # fmt: skip
        edge_force[e, 0] = 0.5 * fx
        edge_force[e, 1] = 0.5 * fy
        edge_force[e, 2] = 0.5 * fz
    for i in numba.prange(point_count):
        fx, fy, fz = bending_force(x, bend_start, bend_column, bend_value, i)
        cx = 0.0
        cy = 0.0
        cz = 0.0
        if clear[i] > moved:
            stuck[i] = False
        else:
            cx, cy, cz, _ = figure_force(
                values, origin, spacing, x[i, 0], x[i, 1], x[i, 2], rest_gap,
                0.5 * contact_stiffness * contact_area[i], friction, anchor, stuck, i,
            )  # fmt: skip
        for k in range(incident_start[i], incident_start[i + 1]):
            t = incident_corner[k] // 3
            corner = incident_corner[k] % 3
            fx += corner_force[t, corner, 0]
            fy += corner_force[t, corner, 1]
            fz += corner_force[t, corner, 2]
        for k in range(spoke_start[i], spoke_start[i + 1]):
            e = spoke_edge[k]
            if clear[point_count + e] > moved:
                continue
            cx += edge_force[e, 0]
            cy += edge_force[e, 1]
            cz += edge_force[e, 2]
        contact_force[i, 0] = cx
        contact_force[i, 1] = cy
        contact_force[i, 2] = cz
        force[i, 0] = fx + cx + extra[i, 0]
        force[i, 1] = fy + cy + extra[i, 1]
        force[i, 2] = fz + cz + extra[i, 2] - mass[i] * gravity


@numba.njit(cache=True, error_model="numpy")
def relax_steps(
    steps, reach_left, memory, x, momentum, velocity, free, touching, strangers_allowed, pull, step_size,
    low_start, low_row, low_value, low_inverse, order, work,
    triangles, rest_squared, membrane, edges, edge_area, contact_area, mass,
    bend_start, bend_column, bend_value, incident_start, incident_corner, spoke_start, spoke_edge,
    values, origin, spacing, rest_gap, contact_stiffness, friction, gravity,
    anchor, stuck, clear, corners, is_edges, slide, apart, nearest, thickness, layer_friction, found_at,
    moved_by, room, close, way, share, extra, corner_force, edge_force, contact_force, force,
):  # pragma: no cover - compiled  # fmt: skip
    """Up to `steps` steps; returns how many were made.

    Stops early when a point has moved `reach_left` [m] since its pairs were found, or when more points
    than allowed touch the figure that are not in the metric as `touching`. memory (3,): kinetic energy at the
    last step, a flag that positions ceased to be numbers, and a bound on what any point has moved [m].
    """
    moved = memory[2]
    for step in range(steps):
        close_count = pair_forces(
            x, moved_by, corners, is_edges, apart, nearest, thickness + 2.0 * moved, thickness,
            layer_friction, slide, room, close, way, extra,
        )  # fmt: skip
        extra += pull
        net_forces(
            x, triangles, rest_squared, membrane, edges, edge_area, contact_area, mass,
            bend_start, bend_column, bend_value, incident_start, incident_corner, spoke_start,
            spoke_edge, values, origin, spacing, rest_gap, contact_stiffness, friction, gravity,
            anchor, stuck, clear, moved, extra, corner_force, edge_force, contact_force, force,
        )  # fmt: skip
        strangers = 0
        for i in range(len(x)):
            if not touching[i] and (contact_force[i, 0] != 0.0 or contact_force[i, 2] != 0.0):
                strangers += 1
            for c in range(3):
                momentum[i, c] += step_size * force[i, c] if free[i] else 0.0
        solve(low_start, low_row, low_value, low_inverse, order, momentum, work, velocity)
        energy = 0.0
        for i in range(len(x)):
            for c in range(3):
                energy += momentum[i, c] * velocity[i, c]
        if not energy < FLUNG:
            memory[1] = 1.0
            return step + 1
        if energy < SINK * memory[0]:
            # Past the peak: stop without moving. Moving on first would let the stiffest modes,
            # whose period is two or three steps, grow from one stop to the next.
            momentum[:] = 0.0
            moved_by[:] = 0.0
            memory[0] = 0.0
            continue
        memory[0] = max(energy, memory[0])
        hold_back(velocity, corners, is_edges, room, close, way, close_count, share, strangers_allowed)
        fastest = 0.0
        for i in range(len(x)):
            if free[i]:
                square = 0.0
                for c in range(3):
                    moved_by[i, c] = share[i] * velocity[i, c]
                    x[i, c] += moved_by[i, c]
                    momentum[i, c] *= share[i]
                    square += moved_by[i, c] ** 2
                fastest = max(fastest, square)
        moved += np.sqrt(fastest)
        if strangers > strangers_allowed:
            memory[2] = moved
            return step + 1
        is_far = moved > reach_left
        if is_far or step % RECKONED == 0:  # what has gone to and fro has not gone so far
            furthest = 0.0
            for i in range(len(x)):
                far = 0.0
                for c in range(3):
                    d = x[i, c] - found_at[i, c]
                    far += d * d
                furthest = max(furthest, far)
            moved = np.sqrt(furthest)
        memory[2] = moved
        if is_far and moved > 0.7 * reach_left:
            return step + 1
    return steps


class Relaxation:
    """A sheet being relaxed: positions, velocities, stick anchors, near pairs.

    Mutable, since a run is one long loop over the same arrays; `relax` is the door for callers.
    """

    def __init__(
        self,
        sheet: Sheet,
        start: Floats,
        *,
        thickness: float,
        friction: float,
        layer_friction: float = 0.0,
        field: DistanceField | None = None,
        fixed: Ints | None = None,
        pull: Floats | None = None,
        gravity: float = STANDARD_GRAVITY,
        layers: bool = True,
        grip: Grip | None = None,
    ) -> None:
        points = len(sheet.mass)
        self.sheet = sheet
        self.x = np.array(start, dtype=np.float64)
        self.thickness = thickness
        self.friction = float(friction)
        self.layer_friction = float(layer_friction)
        self.gravity = float(gravity)
        self.field = field if field is not None else nowhere()
        self.rest_squared = sheet.rest_squared
        self.corners = sheet.triangles.astype(np.uint32)  # compiled loops index faster without a sign
        self.ends = sheet.edges.astype(np.uint32)
        self.pull = np.zeros((points, 3)) if pull is None else pull
        self.contact_area = np.maximum(sheet.area, sheet.area.mean())  # edges press as hard as the middle
        self.momentum = np.zeros((points, 3))
        self.velocity = np.zeros((points, 3))
        self.work = np.zeros((points, 3))
        self.moved = np.zeros((points, 3))  # in the last step
        self.laplacian = membrane_laplacian(sheet)
        self.free = np.ones(points, dtype=np.bool_)
        if fixed is not None:
            self.free[fixed] = False
        self.touching = np.zeros(points, dtype=bool)
        self.layer_springs = csr_array((points, points))
        self.sprung = self.pressed = NO_PAIRS.key  # pairs that the metric knows of, and knows as hard
        self.strangers_allowed = int(STRANGERS * points)
        self.fall = SETTLING_FALL
        self.factor = self.new_factor()
        self.bending_share = self.stiffest_bending()
        self.memory = np.array([0.0, 0.0, np.inf])  # no pairs found yet
        self.far_before = 0.0
        self.anchor = np.zeros((points + len(sheet.edges), 3))
        self.stuck = np.zeros(points + len(sheet.edges), dtype=np.bool_)
        self.extra = np.zeros((points, 3))
        self.corner_force = np.zeros((len(sheet.triangles), 3, 3))
        self.edge_force = np.zeros((len(sheet.edges), 3))
        self.contact_force = np.zeros((points, 3))
        self.force = np.zeros((points, 3))
        self.weave = weave(sheet.triangles) if layers else None
        typical_edge = float(np.sqrt(np.mean(sheet.rest_squared)))
        self.margin = max(REACH_SHARE * typical_edge - thickness, LEAST_SHARE * typical_edge)
        self.pairs = replace(NO_PAIRS, nearest=np.full(points, np.inf))
        self.room, self.share = np.zeros(points), np.zeros(points)
        self.close, self.way = np.empty(0, dtype=np.int64), np.empty((0, 4))
        self.found_at = self.x.copy()
        self.steps = 0
        if grip is not None:
            self.anchor, self.stuck, self.pairs = grip.anchor.copy(), grip.stuck.copy(), grip.pairs

    def new_factor(self) -> Factor:
        """The metric with the stiffness of the contacts there are; fixed points held.

        Its Laplacian gives the cloth as a whole no mass; `fall` does, so that it sinks gently.
        """
        stiff = FIGURE_STIFFNESS * (1 + TANGENT_SHARE) * self.contact_area
        diagonal = self.laplacian.diagonal()
        extra = self.sheet.mass * STANDARD_GRAVITY / self.fall + np.where(self.touching, stiff, 0.0)
        return factor(self.laplacian + self.layer_springs, np.where(self.free, extra, 1e3 * diagonal))

    def stable_step(self) -> float:
        """The step that the cloth as stretched now allows: its stiffness grows with its edges².

        With s = l²/L² of the most stretched edge, elasticity grows by s and tension adds (s − 1)/2.
        """
        edges = edge_vectors(self.x[self.sheet.triangles])
        stretch = float(np.max(np.sum(edges**2, axis=2) / self.sheet.rest_squared))
        return STEP / (max(1.0, 1.5 * stretch - 0.5) + self.bending_share)

    def stiffest_bending(self) -> float:
        """Stiffness of the stiffest mode of bending alone over the metric's; under 0.001 but where edges are short.

        Power iteration of P⁻¹ Q, from the same start each time.
        """
        low, sheet = self.factor, self.sheet
        matrix = csr_array(
            (sheet.bending_value, sheet.bending_column, sheet.bending_start), shape=self.laplacian.shape
        )
        mode = np.random.default_rng(0).normal(size=self.x.shape)
        share, out = 0.0, np.empty_like(mode)
        for _ in range(BENDING_ROUNDS):
            mode /= np.linalg.norm(mode)
            solve(
                low.start, low.row, low.value, low.inverse_diagonal, low.order, matrix @ mode, self.work, out
            )
            share = float(np.linalg.norm(out))
            mode = out.copy()
        return share

    def take_in_contacts(self) -> None:
        """Brings points that touch figure or cloth, or soon may, into the metric.

        A patch of them left out would be stiffer than the metric allows for; a few are not.
        """
        touch = np.any(self.contact_force != 0.0, axis=1)
        reach = self.thickness + LAYERS_NEAR
        count = int(np.searchsorted(self.pairs.apart, reach + 2.0 * self.memory[2], side="right"))
        corners, key = self.pairs.corners[:count], self.pairs.key[:count]
        shares, stiffness, hard = pair_springs(
            self.x, corners, self.pairs.is_edges[:count], reach, HARD_NEAR * self.thickness
        )
        pressing = stiffness > 0.0
        corners, key, shares, stiffness = corners[pressing], key[pressing], shares[pressing], stiffness[pressing]
        hard = hard[pressing]
        known = np.isin(key, self.sprung, assume_unique=True) & (~hard | np.isin(key, self.pressed, assume_unique=True))
        news = np.zeros(len(self.x))  # stiffness at most of what the metric does not know: Σ|s| of a pair is 2
        np.add.at(news, corners[~known], 2.0 * np.abs(shares[~known]) * stiffness[~known, None])
        few = max(np.sum(touch & ~self.touching), np.sum(news > LAYER_STIFFNESS)) <= self.strangers_allowed
        gone = len(self.sprung) - int(known.sum())
        if few and not np.any(news > JAM) and gone <= max(GONE, len(self.sprung) // 2):
            return
        near = distance(self.field, self.x) < 0.5 * self.thickness + NEAR
        self.touching, self.sprung, self.pressed = near | touch, key, key[hard]
        self.layer_springs = springs_between(corners, shares, stiffness, len(self.x))
        self.factor = self.new_factor()
        self.memory[0] = 0.0

    def find_pairs(self) -> None:
        """Near pairs afresh, slides remembered; and how far each sample is from touching the figure."""
        if self.weave is not None:
            self.pairs = find_pairs(
                self.weave, self.x, thickness=self.thickness, margin=self.margin, before=self.pairs
            )
            self.close, self.way = np.empty(len(self.pairs.key), dtype=np.int64), np.empty((len(self.pairs.key), 4))
        self.found_at = self.x.copy()
        self.memory[2] = 0.0
        a, b = self.x[self.sheet.edges[:, 0]], self.x[self.sheet.edges[:, 1]]
        gap = distance(self.field, np.concatenate([self.x, 0.5 * (a + b)]))
        self.clear = gap - 0.5 * self.thickness - SLACK

    def advance(self, steps: int) -> None:
        """Makes `steps` steps. Raises BlewUpError with step and place."""
        sheet, field = self.sheet, self.field
        done = 0
        reach = MOVE_SHARE * self.margin
        self.check(done)
        while done < steps:
            far = self.memory[2]
            if far > 0.7 * reach or (far > STALE * reach and far < self.far_before + CREEP * reach):
                self.find_pairs()
            self.far_before = self.memory[2]
            self.take_in_contacts()
            low, step_size = self.factor, self.stable_step()
            threads = numba.get_num_threads()
            numba.set_num_threads(threads if len(self.x) > ALONE else 1)
            done += relax_steps(
                steps - done, reach, self.memory, self.x, self.momentum,
                self.velocity, self.free, self.touching, self.strangers_allowed, self.pull, step_size, low.start, low.row, low.value,
                low.inverse_diagonal, low.order, self.work, self.corners, self.rest_squared,
                sheet.membrane, self.ends, sheet.edge_area, self.contact_area, sheet.mass, sheet.bending_start,
                sheet.bending_column, sheet.bending_value, sheet.incident_start,
                sheet.incident_corner, sheet.spoke_start, sheet.spoke_edge, field.values, field.origin, field.spacing,
                0.5 * self.thickness, FIGURE_STIFFNESS, self.friction, self.gravity,
                self.anchor, self.stuck, self.clear, self.pairs.corners, self.pairs.is_edges,
                self.pairs.slide, self.pairs.apart, self.pairs.nearest, self.thickness,
                self.layer_friction, self.found_at, self.moved, self.room, self.close, self.way, self.share, self.extra, self.corner_force, self.edge_force,
                self.contact_force, self.force,
            )  # fmt: skip
            numba.set_num_threads(threads)
            self.check(done)
        self.steps += done

    def check(self, done: int) -> None:
        """Raises BlewUpError with the fastest point if the last of `done` steps left no sensible positions."""
        lost = ~np.isfinite(self.x).all(axis=1)
        if self.memory[1] or lost.any():
            speed = np.where(lost, np.inf, np.nan_to_num(np.linalg.norm(self.velocity, axis=1), nan=np.inf))
            raise BlewUpError(
                f"solver: positions ceased to be numbers after {self.steps + done} steps, "
                f"first at point {int(np.argmax(speed))}. Check the cloth's constants, or use a coarser mesh."
            )

    def residual(self) -> tuple[float, int]:
        """Largest net force over a point's weight among the free points, and where."""
        size = np.linalg.norm(self.force, axis=1) / (self.sheet.mass * STANDARD_GRAVITY)
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
    settled, residual, remaining, worst = False, np.inf, np.inf, 0
    while run.steps - first < settling.max_steps and not settled:
        run.advance(CHUNK)
        track.append(run.x.copy())
        residual, worst = run.residual()
        remaining = movement_to_come(track, settling.look_back)
        settled = residual <= settling.residual and remaining <= settling.remaining
        if progress is not None:
            progress(residual, remaining, run.steps)
    return Rest(
        worn=run.x.copy(),
        settled=settled,
        residual=residual,
        remaining=remaining,
        steps=run.steps,
        seconds=time.perf_counter() - began,
        contact_force=run.contact_force.copy(),
        worst=worst,
        grip=Grip(run.anchor.copy(), run.stuck.copy(), replace(run.pairs, slide=run.pairs.slide.copy())),
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
    Source: ours; held against runs ten times longer (DEVELOPERS.md, "What was measured").
    """
    if len(track) <= 2 * look_back:
        return np.inf
    now, before, earlier = track[-1], track[-1 - look_back], track[-1 - 2 * look_back]
    last = float(np.sqrt(np.max(np.sum((now - before) ** 2, axis=1))))
    previous = float(np.sqrt(np.max(np.sum((before - earlier) ** 2, axis=1))))
    if last == 0.0:
        return 0.0
    if last >= previous:
        return np.inf
    ratio = max(last / previous, LEAST_RATIO)
    return last * ratio / (1 - ratio)


def nowhere() -> DistanceField:
    """A field with no figure in it: every place is far outside."""
    return DistanceField(origin=np.full(3, 1e6), spacing=1.0, values=np.full((4, 4, 4), 1e3))
