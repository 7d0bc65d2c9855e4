"""A hand lifts a piece of cloth from a board to where it is told, and lets go of it."""

from __future__ import annotations

import numpy as np

from drape.cloth.body_contact import Touch
from drape.cloth.relaxation import Relaxation
from drape.cloth.sheet import sew, weight
from drape.wearing.thrown import HAND, NEAR, Hand


def test_a_hand_brings_cloth_where_it_is_told_and_lets_go(make_plane, make_rectangle, melton):
    mesh = make_rectangle(0.15, 0.1, 0.05, 1)
    sheet = sew(mesh, melton)
    start = np.c_[mesh.flat, np.full(len(mesh.flat), 0.5 * melton.thickness)]
    run = Relaxation(sheet, start, Touch(melton.thickness, 0.4, 0.4), field=make_plane(0.0))
    grip = np.flatnonzero(np.linalg.norm(mesh.flat, axis=1) < 0.06)
    hand = Hand(run, grip)
    goal = np.array([0.05, 0.05, 0.12])
    hand.go(goal[None])
    assert np.linalg.norm(hand.place - goal) < 1.5 * NEAR
    pull = run.loads - weight(sheet)
    assert 0.0 < np.linalg.norm(pull.sum(axis=0)) <= HAND
    hand.let_go()
    assert np.abs(run.loads - weight(sheet)).max() < 1e-12
    run.advance(1500)
    assert run.x[:, 2].max() < 0.06


def test_a_hand_never_pulls_harder_than_a_hand_can(make_plane, make_rectangle, melton):
    mesh = make_rectangle(0.15, 0.1, 0.05, 1)
    sheet = sew(mesh, melton)
    start = np.c_[mesh.flat, np.full(len(mesh.flat), 0.5 * melton.thickness)]
    run = Relaxation(sheet, start, Touch(melton.thickness), field=make_plane(0.0), fixed=np.arange(len(start)))
    hand = Hand(run, np.arange(3))
    hand.pull(np.array([0.0, 0.0, 50.0]), 5)
    assert np.linalg.norm((run.loads - weight(sheet)).sum(axis=0)) < HAND * (1 + 1e-9)
