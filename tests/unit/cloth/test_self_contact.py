"""Pairs push apart, stick and slip, hold steps back that would cross; crossings are counted."""

from __future__ import annotations

import numpy as np
import pytest

from drape.cloth import self_contact
from drape.cloth.body_contact import Touch
from drape.cloth.self_contact import (
    LAYER_STIFFNESS,
    close_of,
    crossing_count,
    find_pairs,
    hold_back,
    pair_forces,
    weave,
)

THICKNESS = 0.003


def two_sheets(gap):
    """A triangle and a smaller one above it by `gap`, level."""
    low = np.array([[0, 0, 0], [0.1, 0, 0], [0, 0.1, 0]], dtype=float)
    high = np.array([[0.02, 0.02, gap], [0.05, 0.02, gap], [0.02, 0.05, gap]])
    return np.concatenate([low, high]), np.array([[0, 1, 2], [3, 4, 5]])


def push(pairs, x, force, *, thickness=THICKNESS, moved=None, friction=0.0):
    """Forces of all pairs into `force`, `moved` since the last call; returns what of a step (p, 3) may be made."""
    moved = np.zeros_like(x) if moved is None else moved
    close = close_of(pairs)
    count = pair_forces(x, moved, pairs, Touch(thickness, layer_friction=friction), np.inf, close, force)

    def held(step):
        made = step.copy()
        hold_back(made, step.copy(), pairs, close, count, 0, np.empty(len(x)))
        return made

    return held


def test_layers_push_apart_without_net_force_or_moment():
    x, triangles = two_sheets(0.002)
    pairs = find_pairs(weave(triangles), x, thickness=THICKNESS, margin=0.004)
    force = np.empty_like(x)
    push(pairs, x, force)
    assert force[3:, 2].sum() == pytest.approx(3 * LAYER_STIFFNESS * (0.001 - self_contact.SOFT * THICKNESS / 2))
    assert force.sum(axis=0) == pytest.approx([0, 0, 0], abs=1e-12)
    assert np.cross(x, force).sum(axis=0) == pytest.approx([0, 0, 0], abs=1e-12)
    x[3:, 2] = THICKNESS
    push(pairs, x, force)
    assert not force.any()


def test_layers_pressed_to_half_their_thickness_grow_hard():
    """Each of three pairs pushes with its linear law, and from half the thickness with HARD times more."""
    x, triangles = two_sheets(0.001)
    force = np.empty_like(x)
    pairs = find_pairs(weave(triangles), x, thickness=THICKNESS, margin=0.004)
    push(pairs, x, force)
    linear = 0.002 - self_contact.SOFT * THICKNESS / 2
    hard = self_contact.HARD * (0.002 - self_contact.HARD_FROM * THICKNESS)
    assert force[3:, 2].sum() == pytest.approx(3 * LAYER_STIFFNESS * (linear + hard))


@pytest.mark.parametrize("seed", range(3))
def test_pairs_of_any_posture_leave_no_net_force_or_moment(make_crumpled, seed):
    x, triangles = make_crumpled(seed)
    pairs = find_pairs(weave(triangles), x, thickness=0.008, margin=0.004)
    assert pairs.is_edges.any() and not pairs.is_edges.all()
    for kind in (pairs.is_edges, ~pairs.is_edges):
        force = np.empty_like(x)
        some = pairs._replace(
            corners=pairs.corners[kind], is_edges=pairs.is_edges[kind],
            slide=pairs.slide[kind], hardness=pairs.hardness[kind], apart=pairs.apart[kind], key=pairs.key[kind],
        )  # fmt: skip
        push(some, x, force, thickness=0.008)
        size = np.abs(force).sum()
        assert size > 1.0
        assert np.abs(force.sum(axis=0)).max() < 1e-12 * size
        assert np.abs(np.cross(x, force).sum(axis=0)).max() < 1e-12 * size


def crossed_edges(gap):
    """Two triangles of which only one edge each are near: crossed at their middles, the second's higher by `gap`."""
    low = np.array([[-0.05, 0, 0], [0.05, 0, 0], [0, 0.001, -0.1]])
    high = np.array([[0, -0.05, gap], [0, 0.05, gap], [0.001, 0, gap + 0.1]])
    return np.concatenate([low, high]), np.array([[0, 1, 2], [3, 4, 5]])


@pytest.mark.parametrize("way", [1, -1])
def test_crossed_edges_push_apart_from_either_side(way):
    x, triangles = crossed_edges(0.002)
    x[:, 2] *= way
    pairs = find_pairs(weave(triangles), x, thickness=THICKNESS, margin=0.004)
    force = np.empty_like(x)
    push(pairs, x, force)
    push_of_pair = LAYER_STIFFNESS * (0.001 - self_contact.SOFT * THICKNESS / 2)
    each = way * push_of_pair / 2  # on each end of an edge
    assert force[:, 2] == pytest.approx([-each, -each, 0, each, each, 0])


@pytest.mark.parametrize("seed", range(4))
def test_no_step_held_back_crosses_anything(make_rectangle, seed):
    """Two wrinkled layers 0.2 to 4 mm apart, every point thrown centimetres any way at all, and each other layer at it.

    Not held back, some cross; held back, they still go millimetres where the way is free.
    """
    random = np.random.default_rng(seed)
    mesh = make_rectangle(0.15, 0.12, 0.03, seed)
    count = len(mesh.flat)
    low = np.c_[mesh.flat, 0.004 * np.sin(60 * mesh.flat[:, 0])]
    high = low + np.c_[np.full((count, 2), 0.007), 0.002 + random.uniform(2e-4, 4e-3, count)]
    x, triangles = np.concatenate([low, high]), np.concatenate([mesh.triangles, mesh.triangles + count])
    sheet = weave(triangles)
    assert crossing_count(sheet, x) == 0
    held = push(find_pairs(sheet, x, thickness=THICKNESS, margin=0.012), x, np.empty_like(x))
    crossed, furthest = 0, 0.0
    for turn in range(200):
        step = random.normal(scale=0.01, size=x.shape)
        if turn % 2:
            step[:, 2] = 0.02 * np.where(np.arange(len(x)) < count, 1.0, -1.0)
        made = held(step)
        assert crossing_count(sheet, x + made) == 0
        assert crossing_count(sheet, x + made * random.uniform(0.0, 1.0, (len(x), 1))) == 0
        crossed += crossing_count(sheet, x + step)
        furthest = max(furthest, np.linalg.norm(made, axis=1).max())
    assert crossed > 0 and furthest > 1e-3


def test_close_layers_may_part_and_slide_but_come_together_only_a_share_of_the_way():
    x, triangles = two_sheets(0.001)
    pairs = find_pairs(weave(triangles), x, thickness=THICKNESS, margin=0.004)
    assert pairs.nearest == pytest.approx(0.001)
    held = push(pairs, x, np.empty_like(x))
    free = self_contact.ROOM * THICKNESS
    step = np.zeros_like(x)
    step[3:, 2] = -0.01
    assert held(step)[3:, 2] == pytest.approx(-self_contact.ROOM * (0.001 - self_contact.LEAST_GAP))
    assert held(-step)[3:, 2] == pytest.approx(free)
    assert held(step[:, [2, 1, 0]])[3:, 0] == pytest.approx(-free)
    x[3:, 2] = 0.5 * self_contact.LEAST_GAP
    held = push(pairs, x, np.empty_like(x))
    assert held(step)[3:, 2] == pytest.approx(-self_contact.LEAST_STEP)
    assert held(-step)[3:, 2] == pytest.approx(free)
    assert self_contact.ROOM < 0.5


def test_cloth_pressed_to_the_least_gap_slides_along_what_it_lies_on():
    """Only the part of a step that goes towards the other layer is taken off, and the same of the momentum."""
    x, triangles = two_sheets(self_contact.LEAST_GAP)
    pairs = find_pairs(weave(triangles), x, thickness=THICKNESS, margin=0.004)
    close = close_of(pairs)
    count = pair_forces(x, np.zeros_like(x), pairs, Touch(THICKNESS), np.inf, close, np.empty_like(x))
    step, momentum = np.zeros_like(x), np.zeros_like(x)
    step[3:] = [5e-4, 0.0, -5e-4]
    momentum[3:] = [2.0, 0.0, -3.0]
    hold_back(step, momentum, pairs, close, count, len(x), np.empty(len(x)))
    assert step[3:, 0] == pytest.approx(5e-4)
    assert step[3:, 2] == pytest.approx(-self_contact.LEAST_STEP)
    assert momentum[3:, 0] == pytest.approx(2.0)
    assert momentum[3:, 2] == pytest.approx(0.0, abs=1e-5)


def test_a_hard_pair_pushes_as_many_times_harder_and_is_known_again():
    x, triangles = two_sheets(0.002)
    sheet = weave(triangles)
    pairs = find_pairs(sheet, x, thickness=THICKNESS, margin=0.004)
    force, harder = np.empty_like(x), np.empty_like(x)
    push(pairs, x, force)
    pairs.hardness[:] = 3.0
    again = find_pairs(sheet, x, thickness=THICKNESS, margin=0.004, before=pairs)
    push(again, x, harder)
    assert harder == pytest.approx(3 * force)
    count = len(pairs.key)
    _, soft, _ = self_contact.pair_springs(x, pairs._replace(hardness=np.ones(count)), count, THICKNESS, 0.0)
    _, hard, _ = self_contact.pair_springs(x, again, count, THICKNESS, 0.0)
    assert soft.any() and hard == pytest.approx(3 * soft)


def test_crossings_are_counted():
    x, triangles = two_sheets(0.01)
    assert crossing_count(weave(triangles), x) == 0
    x[3, 2] = -0.01
    assert crossing_count(weave(triangles), x) == 1


def test_neighbours_on_one_fold_do_not_cross(make_rectangle):
    """Flat cloth touches itself all over, along its own edges only: no crossing. Folded through itself: some."""
    mesh = make_rectangle(0.15, 0.12, 0.03, 0)
    sheet = weave(mesh.triangles)
    flat = np.c_[mesh.flat, np.zeros(len(mesh.flat))]
    assert crossing_count(sheet, flat) == 0
    x, y = mesh.flat.T
    through = np.c_[np.abs(x - 0.075), y, 0.3 * (x - 0.075) * (0.04 - np.abs(x - 0.075))]
    assert crossing_count(sheet, through) > 0


@pytest.mark.parametrize("friction", [0.2, 0.6])
def test_layers_stick_then_slip_at_friction_times_their_push(friction):
    """Coulomb: a small slide is held by a spring, a large one by friction times the push; nothing is left over."""
    x, triangles = two_sheets(0.002)
    pairs = find_pairs(weave(triangles), x, thickness=THICKNESS, margin=0.004)
    force = np.empty_like(x)
    push(pairs, x, force, friction=friction)
    normal = force[3:, 2].sum()
    assert not force[:, :2].any()
    step = np.zeros_like(x)
    step[3:, 0] = 1e-5
    push(pairs, x, force, moved=step, friction=friction)
    stuck = 3 * 1e-5 * self_contact.LAYER_TANGENT_SHARE * LAYER_STIFFNESS
    assert force[3:, 0].sum() == pytest.approx(-stuck)
    assert stuck < friction * normal
    for _ in range(300):
        push(pairs, x, force, moved=step, friction=friction)
    assert force[3:, 0].sum() == pytest.approx(-friction * normal)
    push(pairs, x, force, moved=-step, friction=friction)
    assert -friction * normal < force[3:, 0].sum() < 0  # let go a little: the spring, not the full friction
    assert force.sum(axis=0) == pytest.approx([0, 0, 0], abs=1e-12)


@pytest.mark.parametrize("seed", range(3))
def test_pairs_passed_over_would_not_press(make_crumpled, seed):
    """Pairs come nearest first, and none further apart than asked adds a force."""
    x, triangles = make_crumpled(seed)
    pairs = find_pairs(weave(triangles), x, thickness=0.008, margin=0.02)
    assert (np.diff(pairs.apart) >= 0).all()
    every, near = np.empty_like(x), np.empty_like(x)
    push(pairs, x, every, thickness=0.008)
    pair_forces(x, np.zeros_like(x), pairs, Touch(0.008), 0.008, close_of(pairs), near)
    assert (pairs.apart > 0.008).any()
    assert near == pytest.approx(every, abs=1e-15)


def test_slides_are_remembered_while_a_pair_presses():
    x, triangles = two_sheets(0.002)
    sheet = weave(triangles)
    pairs = find_pairs(sheet, x, thickness=THICKNESS, margin=0.004)
    step = np.zeros_like(x)
    step[3:, 1] = 2e-5
    force, again = np.empty_like(x), np.empty_like(x)
    push(pairs, x, force, moved=step, friction=0.5)
    assert force[3:, 1].sum() < 0
    push(find_pairs(sheet, x, thickness=THICKNESS, margin=0.004, before=pairs), x, again, friction=0.5)
    assert again == pytest.approx(force)


@pytest.mark.parametrize("n", [0, 7, 199])
def test_the_nth_least_is_that_of_the_sorted(n):
    values = np.random.default_rng(n).integers(0, 50, 200).astype(float)
    assert self_contact.nth_least(values, n) == np.sort(values)[n]
