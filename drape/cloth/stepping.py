"""Stepping: the compiled loop that moves the cloth, step by step, until something outside has to be looked at.

In: what stays as it is for many steps (sheet, figure's field, touch, loads, pairs found, factor of the metric) and the
state. Out: the state so many steps on, in place. Which steps to ask for, and when cloth is at rest, is left to
`relaxation`. Arrays travel in NamedTuples; a loop takes out the ones it needs before it begins,
which costs nothing then.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from drape.arrays import Flags, Floats, Singles
from drape.body.signed_distance import DistanceField
from drape.cloth.body_contact import FIGURE_STIFFNESS, Touch, figure_force
from drape.cloth.preconditioner import solve
from drape.cloth.self_contact import Close, Pairs, hold_back, pair_forces
from drape.cloth.sheet import Sheet, add_membrane, bending_force
from drape.kernel import kernel

FLUNG = 1e7  # kinetic measure no cloth reaches unless the step has become unstable
SINK = 0.97  # of its peak: energy below that stops the cloth; smaller dips are the chatter of contacts
# of the energy at the first step from standstill: less at the second stops the cloth. A mode at its middle after
# that first step has no more at the second, and would swing across to its other side, as far or a little further
GROWN = 1.1
RECKONED = 10  # steps between looks at how far points have come since their pairs were found


class Problem(NamedTuple):
    """What acts on the cloth: itself, the figure, how they touch, and a force on each point [N], (p, 3).

    free (p,): points that may move. The sheet's indices are unsigned: compiled loops index faster without a sign.
    """

    sheet: Sheet
    field: DistanceField
    touch: Touch
    loads: Floats
    free: Flags


class Found(NamedTuple):
    """What was last found of who is near to whom, and `at` which positions (p, 3) [m].

    clear (p + e,): way of each point and middle of an edge to the figure, thickness aside [m].
    """

    pairs: Pairs
    close: Close
    clear: Floats
    at: Floats


class State(NamedTuple):
    """What a step changes and the next one begins from; p points, e edges.

    x [m], momentum, velocity, moved: displacement of the last step [m], (p, 3). anchor (p + e, 3) [m], stuck (p + e,):
    what friction on the figure holds. force, contact_force [N], (p, 3): net, and the figure's part of it.
    memory (4,): kinetic energy at its peak, a flag that positions ceased to be numbers, a bound on what any
    point has moved since pairs were found [m], and how many steps were made since the cloth last stood still.
    """

    x: Floats
    momentum: Floats
    velocity: Floats
    moved: Floats
    anchor: Floats
    stuck: Flags
    force: Floats
    contact_force: Floats
    memory: Floats


class Scratch(NamedTuple):
    """Room for what is reckoned on the way through one step.

    layer_force (p, 3) [N]. work (p, 4). share (p,): part of its step that each point makes.
    """

    layer_force: Floats
    work: Singles
    share: Floats


class Limits(NamedTuple):
    """How many steps at most, of what size, and what ends them early.

    reach [m]: what any point may move since pairs were found. strangers: how many points may touch the figure
    that are not in the metric as touching.
    """

    steps: int
    step_size: float
    reach: float
    strangers: int


def state_at(start: Floats, edge_count: int) -> State:
    """Cloth at rest at start (p, 3) [m], nothing stuck, no pairs found yet."""
    x = np.array(start, dtype=np.float64)
    samples = len(x) + edge_count
    momentum, velocity, moved, force, contact_force = (np.zeros_like(x) for _ in range(5))
    anchor, stuck = np.zeros((samples, 3)), np.zeros(samples, dtype=np.bool_)
    return State(x, momentum, velocity, moved, anchor, stuck, force, contact_force, np.array([0.0, 0.0, np.inf, 0.0]))


def scratch_for(points: int) -> Scratch:
    """Room for a step of so many points."""
    return Scratch(np.zeros((points, 3)), np.zeros((points, 4), np.float32), np.zeros(points))


@kernel
def net_forces(problem, state, layer_force, clear, moved):  # pragma: no cover - compiled
    """Net force on every point [N] into `state.force`, and the figure's part into `state.contact_force`.

    layer_force (p, 3): what near layers exert [N]. The figure is felt at every point and middle of an edge, each
    for half the area; those that were `clear` of touching it [m] by more than they can have `moved` since are passed
    over.
    """
    sheet, field, touch, loads, _ = problem
    x, anchor, stuck, force, contact_force = state.x, state.anchor, state.stuck, state.force, state.contact_force
    bend_start, bend_column, bend_value = sheet.bending_start, sheet.bending_column, sheet.bending_value
    edges, edge_area, pressed_area = sheet.edges, sheet.edge_area, sheet.pressed_area
    point_count = len(x)
    for i in range(point_count):
        fx, fy, fz = bending_force(x, bend_start, bend_column, bend_value, i)
        force[i, 0] = fx + loads[i, 0] + layer_force[i, 0]
        force[i, 1] = fy + loads[i, 1] + layer_force[i, 1]
        force[i, 2] = fz + loads[i, 2] + layer_force[i, 2]
        cx, cy, cz = 0.0, 0.0, 0.0
        if clear[i] > moved:
            stuck[i] = False
        else:
            stiffness = 0.5 * FIGURE_STIFFNESS * pressed_area[i]
            cx, cy, cz, _ = figure_force(field, touch, anchor, stuck, i, (x[i, 0], x[i, 1], x[i, 2]), stiffness)
        contact_force[i, 0] = cx
        contact_force[i, 1] = cy
        contact_force[i, 2] = cz
    add_membrane(x, sheet.triangles, sheet.rest_squared, sheet.membrane, force)
    for e in range(len(edges)):
        if clear[point_count + e] > moved:
            stuck[point_count + e] = False
            continue
        i = edges[e, 0]
        j = edges[e, 1]
        place = (0.5 * (x[i, 0] + x[j, 0]), 0.5 * (x[i, 1] + x[j, 1]), 0.5 * (x[i, 2] + x[j, 2]))
        stiffness = 0.5 * FIGURE_STIFFNESS * edge_area[e]
        fx, fy, fz, _ = figure_force(field, touch, anchor, stuck, point_count + e, place, stiffness)
        for k in (i, j):
            contact_force[k, 0] += 0.5 * fx
            contact_force[k, 1] += 0.5 * fy
            contact_force[k, 2] += 0.5 * fz
    for i in range(point_count):
        force[i, 0] += contact_force[i, 0]
        force[i, 1] += contact_force[i, 1]
        force[i, 2] += contact_force[i, 2]


@kernel
def relax_steps(problem, found, factor, touching, state, scratch, limits):  # pragma: no cover - compiled
    """Up to `limits.steps` steps; returns how many were made. touching (p,):
    points the metric knows to touch the figure.

    Stops early when a point has moved as far as it may since its pairs were found, or when too many points touch
    the figure that the metric does not know of.
    """
    touch, free = problem.touch, problem.free
    x, momentum, velocity, moved_by, memory = state.x, state.momentum, state.velocity, state.moved, state.memory
    pairs, close, thickness = found.pairs, found.close, touch.thickness
    moved = memory[2]
    for step in range(limits.steps):
        near = thickness + 2.0 * moved
        close_count = pair_forces(x, moved_by, pairs, touch, near, close, scratch.layer_force)
        net_forces(problem, state, scratch.layer_force, found.clear, moved)
        push_on(momentum, state.force, free, limits.step_size)
        solve(factor, momentum, scratch.work, velocity)
        energy = inner_product(momentum, velocity)
        if not energy < FLUNG:
            memory[1] = 1.0
            return step + 1
        if energy < (GROWN if memory[3] == 1.0 else SINK) * memory[0]:
            # Past the peak: stop without moving. Moving on first would let the stiffest modes,
            # whose period is two or three steps, grow from one stop to the next.
            momentum[:] = 0.0
            moved_by[:] = 0.0
            memory[0] = 0.0
            memory[3] = 0.0
            continue
        memory[0] = max(energy, memory[0])
        memory[3] += 1.0
        hold_back(velocity, momentum, pairs, close, close_count, limits.strangers, scratch.share)
        moved += make_step(state, free)
        if strangers(state.contact_force, touching) > limits.strangers:
            memory[2] = moved
            return step + 1
        is_far = moved > limits.reach
        if is_far or step % RECKONED == 0:  # what has gone to and fro has not gone so far
            moved = furthest(x, found.at)
        memory[2] = moved
        if is_far and moved > 0.7 * limits.reach:
            return step + 1
    return limits.steps


@kernel
def greatest_stretch(x, triangles, rest_squared):  # pragma: no cover - compiled
    """l²/L² of the edge that is stretched most, 1 at least."""
    most = 1.0
    for t in range(len(triangles)):
        for k in range(3):
            i = triangles[t, (k + 1) % 3]
            j = triangles[t, (k + 2) % 3]
            square = (x[i, 0] - x[j, 0]) ** 2 + (x[i, 1] - x[j, 1]) ** 2 + (x[i, 2] - x[j, 2]) ** 2
            most = max(most, square / rest_squared[t, k])
    return most


@kernel
def push_on(momentum, force, free, step_size):  # pragma: no cover - compiled
    """Adds to momentum (p, 3) what the force (p, 3) [N] gives free points in one step."""
    for i in range(len(momentum)):
        for c in range(3):
            momentum[i, c] += step_size * force[i, c] if free[i] else 0.0


@kernel
def inner_product(a, b):  # pragma: no cover - compiled
    """Σ a b over (p, 3): of momentum and velocity, twice the kinetic energy."""
    total = 0.0
    for i in range(len(a)):
        for c in range(3):
            total += a[i, c] * b[i, c]
    return total


@kernel
def make_step(state, free):  # pragma: no cover - compiled
    """Moves every free point by its velocity; returns how far the fastest has gone [m]."""
    x, velocity, moved = state.x, state.velocity, state.moved
    fastest = 0.0
    for i in range(len(x)):
        if free[i]:
            square = 0.0
            for c in range(3):
                moved[i, c] = velocity[i, c]
                x[i, c] += moved[i, c]
                square += moved[i, c] ** 2
            fastest = max(fastest, square)
    return np.sqrt(fastest)


@kernel
def strangers(contact_force, touching):  # pragma: no cover - compiled
    """How many points the figure pushes (p, 3) that are not known to be touching (p,)."""
    count = 0
    for i in range(len(touching)):
        if not touching[i] and (contact_force[i, 0] != 0.0 or contact_force[i, 2] != 0.0):
            count += 1
    return count


@kernel
def furthest(x, before):  # pragma: no cover - compiled
    """The longest way from where a point was before to where it is now [m]."""
    longest = 0.0
    for i in range(len(x)):
        square = 0.0
        for c in range(3):
            d = x[i, c] - before[i, c]
            square += d * d
        longest = max(longest, square)
    return np.sqrt(longest)
