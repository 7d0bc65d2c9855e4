"""The right front thrown back over the shoulder by a hand that lets go little by little:
friction decides whether it stays.

Common practice, no source: rough cloth stays where it is thrown, slippery cloth slides down. By the belt's equation
(Euler; Eytelwein 1808) cloth over 150° holds a weight e^(2.6 μ) times its own end's: 1.3 at μ 0.1, 4.8 at μ 0.6; so
most of the front is brought over. Where a throw comes to lie differs by mesh, so one throw says little: five are made,
each further down behind.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from drape.cloth.body_contact import Touch
from drape.cloth.mesh import Mesh, seam_pairs
from drape.cloth.relaxation import Relaxation, relax
from drape.cloth.self_contact import crossing_count, weave
from drape.cloth.sheet import sew
from drape.draft.style import Dart
from drape.fitting.scene import load_scene
from drape.fitting.sit import Settling, figure_of, sit
from drape.wearing.thrown import HELD_BEFORE, Hand

pytestmark = pytest.mark.long  # three cloaks settled, a front thrown over the shoulder

EDGE = 0.045  # [m] of the mesh
HOLD = 0.10  # [m] of cloth round the middle of the opening edge that is gripped
WAY = ([0.10, 0.35, -0.05], [0.05, 0.20, 0.25], [0.03, 0.0, 0.22], [0.03, -0.20, 0.15])  # [m] from mid-shoulder
BEHIND = (-0.20, -0.25, -0.30, -0.35, -0.40)  # [m] below mid-shoulder: how far down the front is thrown over


@pytest.fixture(scope="module")
def throws():
    """A run, what is gripped, the shoulder, and each throw: the front held behind the shoulder without friction."""
    scene = load_scene("ferry-warden-tailored")
    darts = (Dart("left shoulder"), Dart("right shoulder"))
    scene = replace(scene, style=replace(scene.style, closure_place="centre front", darts=darts))
    fitting, figure = sit(scene, edge_length=EDGE), figure_of(scene)
    mesh = Mesh(fitting.flat, fitting.triangles, fitting.edges, seam_pairs(fitting.draft, fitting.edges))
    sheet = sew(mesh, scene.cloth, grain=fitting.draft.grain)
    start = np.zeros((len(sheet.mass), 3))
    start[sheet.point_of_vertex] = fitting.worn
    opening = mesh.edges["right opening"]
    grip = sheet.point_of_vertex[np.linalg.norm(mesh.flat - mesh.flat[opening[len(opening) // 2]], axis=1) < HOLD]
    run = Relaxation(sheet, start, Touch(scene.cloth.thickness), field=figure.field)
    hand, marks = Hand(run, grip), figure.landmarks
    shoulder = (marks["shoulder_point_right"] + marks["side_neck_right"]) / 2
    hand.go(shoulder + np.array(WAY))
    held = []
    for goal in shoulder + np.array([[0.03, -0.15, up] for up in BEHIND]):
        hand.go([goal])
        held.append((run.x.copy(), hand.push.copy(), goal))
    return run, grip, shoulder, held


def stays(run, grip, shoulder, throw, friction):
    """Whether a held throw still lies behind the shoulder, with so much friction, when the hand has let go."""
    x, push, goal = throw
    run = Relaxation(run.sheet, x, Touch(run.touch.thickness, friction, friction), field=run.field)
    hand = Hand(run, grip)
    hand.push = push
    hand.pull(goal, HELD_BEFORE)
    hand.let_go()
    rest = relax(run, settling=Settling())
    assert rest.settled and crossing_count(weave(run.sheet.triangles), rest.worn) == 0
    return hand.place[1] < shoulder[1]


def test_a_front_thrown_over_the_shoulder_stays_if_it_is_rough_enough(throws):
    """More throws stay rough than slippery, and what stays slippery stays rough."""
    *given, held = throws
    slippery, rough = ([stays(*given, throw, friction) for throw in held] for friction in (0.1, 0.6))
    assert all(there for there, before in zip(rough, slippery, strict=True) if before)
    assert sum(rough) > sum(slippery)
