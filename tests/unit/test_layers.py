"""Pairs push apart, stick and slip, leave room for a step that crosses nothing; crossings are counted."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from drape import layers
from drape.layers import LAYER_STIFFNESS, crossing_count, find_pairs, pair_forces, weave

THICKNESS = 0.003


def two_sheets(gap):
    """A triangle and a smaller one above it by `gap`, level."""
    low = np.array([[0, 0, 0], [0.1, 0, 0], [0, 0.1, 0]], dtype=float)
    high = np.array([[0.02, 0.02, gap], [0.05, 0.02, gap], [0.02, 0.05, gap]])
    return np.concatenate([low, high]), np.array([[0, 1, 2], [3, 4, 5]])


def push(pairs, x, force, *, thickness=THICKNESS, moved=None, friction=0.0):
    """Forces of all pairs into `force`, `moved` since the last call; returns the room each point has."""
    moved = np.zeros_like(x) if moved is None else moved
    room = np.empty(len(x))
    pair_forces(
        x, moved, pairs.corners, pairs.is_edges, pairs.apart, pairs.nearest, np.inf, thickness, friction,
        pairs.slide, room, force,
    )  # fmt: skip
    return room


def test_layers_push_apart_without_net_force_or_moment():
    x, triangles = two_sheets(0.001)
    pairs = find_pairs(weave(triangles), x, thickness=THICKNESS, margin=0.004)
    force = np.empty_like(x)
    push(pairs, x, force)
    assert force[3:, 2].sum() == pytest.approx(3 * LAYER_STIFFNESS * (0.002 - layers.SOFT / 2))
    assert force.sum(axis=0) == pytest.approx([0, 0, 0], abs=1e-12)
    assert np.cross(x, force).sum(axis=0) == pytest.approx([0, 0, 0], abs=1e-12)
    x[3:, 2] = THICKNESS
    push(pairs, x, force)
    assert not force.any()


@pytest.mark.parametrize("seed", range(3))
def test_pairs_of_any_posture_leave_no_net_force_or_moment(make_crumpled, seed):
    x, triangles = make_crumpled(seed)
    pairs = find_pairs(weave(triangles), x, thickness=0.008, margin=0.004)
    assert pairs.is_edges.any() and not pairs.is_edges.all()
    for kind in (pairs.is_edges, ~pairs.is_edges):
        force = np.empty_like(x)
        some = dataclasses.replace(
            pairs, corners=pairs.corners[kind], is_edges=pairs.is_edges[kind],
            slide=pairs.slide[kind], apart=pairs.apart[kind], key=pairs.key[kind],
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
    x, triangles = crossed_edges(0.001)
    x[:, 2] *= way
    pairs = find_pairs(weave(triangles), x, thickness=THICKNESS, margin=0.004)
    force = np.empty_like(x)
    push(pairs, x, force)
    each = way * LAYER_STIFFNESS * (0.002 - layers.SOFT / 2) / 2  # half of the one pair's push on each end
    assert force[:, 2] == pytest.approx([-each, -each, 0, each, each, 0])


@pytest.mark.parametrize("seed", range(4))
def test_no_step_within_its_room_crosses_anything(make_rectangle, seed):
    """Two wrinkled layers 0.2 to 4 mm apart, every point thrown as far as its room allows, any way at all.

    Ten times as far does cross: the room is not merely small.
    """
    random = np.random.default_rng(seed)
    mesh = make_rectangle(0.15, 0.12, 0.03, seed)
    count = len(mesh.flat)
    low = np.c_[mesh.flat, 0.004 * np.sin(60 * mesh.flat[:, 0])]
    high = low + np.c_[np.full((count, 2), 0.007), 0.002 + random.uniform(2e-4, 4e-3, count)]
    x, triangles = np.concatenate([low, high]), np.concatenate([mesh.triangles, mesh.triangles + count])
    sheet = weave(triangles)
    assert crossing_count(sheet, x) == 0
    pairs = find_pairs(sheet, x, thickness=THICKNESS, margin=0.012)
    force = np.empty_like(x)
    room = push(pairs, x, force)
    crossed = 0
    for _ in range(200):
        way = random.normal(size=x.shape)
        way *= (room / np.linalg.norm(way, axis=1))[:, None]
        assert crossing_count(sheet, x + way) == 0
        crossed += crossing_count(sheet, x + 10 * way)
    assert crossed > 0


def test_room_is_a_share_of_the_way_to_the_nearest_layer():
    x, triangles = two_sheets(0.001)
    pairs = find_pairs(weave(triangles), x, thickness=THICKNESS, margin=0.004)
    assert pairs.nearest == pytest.approx(0.001)
    room = push(pairs, x, np.empty_like(x))
    assert room == pytest.approx(layers.ROOM * (0.001 - layers.LEAST_GAP))
    x[3:, 2] = 0.5 * layers.LEAST_GAP
    assert push(pairs, x, np.empty_like(x)) == pytest.approx(layers.LEAST_STEP)
    assert layers.ROOM < 0.5


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
    x, triangles = two_sheets(0.001)
    pairs = find_pairs(weave(triangles), x, thickness=THICKNESS, margin=0.004)
    force = np.empty_like(x)
    push(pairs, x, force, friction=friction)
    normal = force[3:, 2].sum()
    assert not force[:, :2].any()
    step = np.zeros_like(x)
    step[3:, 0] = 1e-5
    push(pairs, x, force, moved=step, friction=friction)
    stuck = 3 * 1e-5 * layers.LAYER_TANGENT_SHARE * LAYER_STIFFNESS
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
    pair_forces(
        x, np.zeros_like(x), pairs.corners, pairs.is_edges, pairs.apart, pairs.nearest, 0.008, 0.008, 0.0,
        pairs.slide, np.empty(len(x)), near,
    )  # fmt: skip
    assert (pairs.apart > 0.008).any()
    assert near == pytest.approx(every, abs=1e-15)


def test_slides_are_remembered_while_a_pair_presses():
    x, triangles = two_sheets(0.001)
    sheet = weave(triangles)
    pairs = find_pairs(sheet, x, thickness=THICKNESS, margin=0.004)
    step = np.zeros_like(x)
    step[3:, 1] = 2e-5
    force, again = np.empty_like(x), np.empty_like(x)
    push(pairs, x, force, moved=step, friction=0.5)
    assert force[3:, 1].sum() < 0
    push(find_pairs(sheet, x, thickness=THICKNESS, margin=0.004, before=pairs), x, again, friction=0.5)
    assert again == pytest.approx(force)
