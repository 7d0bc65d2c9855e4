"""Ways of wearing: what a hand does, which edge it takes, and what a cloak does not allow."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from drape.fitting.scene import load_scene
from drape.fitting.sit import sit
from drape.polyline import length_along
from drape.wearing.choices import ARM_FREE, BACK, CLOSED, DOINGS, HOWS, OPEN, RAISED, THROWN
from drape.wearing.posture import HANGING, UPRIGHT, Held
from drape.wearing.readings import read_arm, worn_now
from drape.wearing.ways import _PUT, LEAN, TURN, CannotError, moves, put
from drape.wearing.wear import DOWN, cloak_of


def test_every_way_can_be_put_on_and_no_other():
    assert set(_PUT) == set(HOWS)


def test_the_free_edge_is_the_fronts_from_the_closure_down(cloak):
    edge = cloak.mesh.flat[cloak.front_edge]
    assert cloak.free_side == "right"
    assert np.linalg.norm(edge[0]) < np.linalg.norm(edge[-1])
    assert length_along(edge)[-1] > 0.9
    closed = cloak.mesh.edges[cloak.draft.closure[0]]
    assert cloak.front_edge[0] == closed[-1]


def test_a_front_too_short_is_not_thrown_and_one_line_says_why(cloak):
    edges = {**cloak.mesh.edges, "front opening": cloak.front_edge[:7]}
    short = replace(cloak, mesh=replace(cloak.mesh, edges=edges))
    with pytest.raises(CannotError, match=r"thrown over: got a front edge free over \d+ cm, allowed \d+ and more"):
        put(THROWN, short)
    edges = {**cloak.mesh.edges, "front opening": cloak.front_edge[:2]}
    with pytest.raises(CannotError, match="one arm free: got a front fastened down"):
        put("one arm free", replace(cloak, mesh=replace(cloak.mesh, edges=edges)))


def test_a_closure_undone_has_two_edges_a_little_apart_and_all_its_cloth(cloak):
    opened = put(OPEN, cloak)
    was, now = cloak.sheet, opened.cloak.sheet
    first, last = (now.point_of_vertex[cloak.mesh.edges[name]] for name in cloak.draft.closure)
    assert not set(first.tolist()) & set(last.tolist())
    assert len(now.mass) == len(was.mass) + len(first)
    assert now.mass.sum() == pytest.approx(was.mass.sum(), rel=1e-12)
    apart = np.linalg.norm(opened.wearer.run.x[first] - opened.wearer.run.x[last], axis=1)
    assert apart.min() > cloak.scene.cloth.thickness


@pytest.mark.parametrize("doing", DOINGS)
def test_a_move_ends_where_it_began(cloak, doing):
    found = moves(doing, cloak, UPRIGHT)
    assert found[-1][0].startswith(BACK) and found[-1][1] == UPRIGHT
    assert all(posture != UPRIGHT for _, posture in found[:-1])


def test_moves_are_as_large_as_told(cloak):
    lean = moves("lean", cloak, UPRIGHT, lean=0.5)[0][1]
    assert lean.lean == 0.5 and lean.arms[0].upper[0] == 0.5  # arms go on hanging
    raised = replace(UPRIGHT, arms=(Held((0.3, 0.0, 0.0)), HANGING))
    assert moves("lean", cloak, raised)[0][1].arms[0] == raised.arms[0]
    assert moves("lean", cloak, UPRIGHT)[0][1].lean == LEAN == pytest.approx(np.radians(40.0))
    assert [posture.turn for _, posture in moves("turn", cloak, UPRIGHT)] == [TURN, -TURN, 0.0]
    left, right = moves("reach", cloak, UPRIGHT)[0][1].arms
    assert left == HANGING and right != HANGING


@pytest.mark.long
def test_raised_arms_lift_the_cloth_and_stay_under_it(cloak):
    worn = put(RAISED, cloak)
    rest = worn.wearer.rest()
    closed = put(CLOSED, cloak)
    assert rest.settled
    hem = cloak.sheet.point_of_vertex[cloak.mesh.edges["hem"]]
    assert (rest.worn[hem, 1].max() - closed.wearer.run.x[hem, 1].max()) > 0.1


@pytest.mark.long
def test_an_arm_comes_out_of_a_cloak_that_closes_in_front():
    scene = replace(load_scene("toll-house-clerk-two-darts"), arms=DOWN)
    cloak = cloak_of(scene, sit(scene, edge_length=0.06))
    worn = put(ARM_FREE, cloak)
    rest = worn.wearer.rest()
    now = worn_now(worn.cloak, worn.wearer, rest)
    free, under = (read_arm(cloak, now, side) for side in ("right", "left"))
    assert rest.settled and free["free"] and not under["free"]
    edge = cloak.sheet.point_of_vertex[cloak.front_edge]
    assert now.points[edge, 0].max() > cloak.joints.places["elbow right"][0]  # it is put back past the elbow
