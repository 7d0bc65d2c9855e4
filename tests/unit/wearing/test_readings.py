"""Readings of a cloak as worn: its weight on two shoulders, arms bare so far, hems that feet reach."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from drape.bench.specimen import Strip, strip_mesh
from drape.body.signed_distance import DistanceField
from drape.cloth.body_contact import Touch
from drape.cloth.relaxation import Relaxation, Settling, relax
from drape.cloth.sheet import sew, weight
from drape.wearing.readings import BAND, bare_bands, deepest, is_trodden, read_rest, read_shoulders, slid, worst_of

RADIUS, LEFT, RIGHT = 0.05, -0.12, 0.16  # m: two round shoulders, one nearer the middle


def two_shoulders():
    axes = [np.arange(-0.5, 0.5, 0.01), np.arange(-0.07, 0.08, 0.01), np.arange(-0.35, 0.2, 0.01)]
    x, _, z = np.meshgrid(*axes, indexing="ij")
    values = np.minimum(np.hypot(x - LEFT, z), np.hypot(x - RIGHT, z)) - RADIUS
    return DistanceField(np.array([a[0] for a in axes]), 0.01, np.ascontiguousarray(values))


def test_the_weights_on_both_shoulders_add_up_to_the_cloak_and_balance_its_moment(melton):
    """Statics: what the figure bears is the weight, and its moment about the middle is the cloth's own."""
    mesh = strip_mesh(Strip(0.66, 0.05, 0.025))
    sheet = sew(mesh, melton)
    start = np.c_[mesh.flat[:, 0] - 0.30, mesh.flat[:, 1], np.full(len(mesh.flat), RADIUS + 0.5 * melton.thickness)]
    run = Relaxation(sheet, start, Touch(melton.thickness, 0.6, 0.6), field=two_shoulders())
    rest = relax(run, settling=Settling(max_steps=20_000))
    assert rest.settled
    skin = np.array([[middle, 0.0, RADIUS] for middle in (LEFT, RIGHT)])
    worn = SimpleNamespace(
        points=rest.worn, contact_force=rest.contact_force, sheet=sheet, figure=SimpleNamespace(vertices=skin)
    )
    cloak = SimpleNamespace(joints=SimpleNamespace(is_left=np.array([True, False])))
    found = read_shoulders(cloak, worn)
    left, right = found["shoulder_left_percent"], found["shoulder_right_percent"]
    assert left + right == pytest.approx(100.0, abs=0.1)
    own = weight(sheet)
    moment = np.cross(rest.worn, rest.contact_force + own)[:, 1].sum()
    assert abs(moment) < 0.002 * abs(own.sum()) * 0.66
    assert min(left, right) > 20.0  # both bear


def test_a_triangle_is_looked_at_between_its_corners_too():
    """A flat triangle on a ball of radius r whose corners lie ρ from its middle reaches r - √(r² - ρ²) into it."""
    axis = np.arange(-0.12, 0.13, 0.01)
    x, y, z = np.meshgrid(axis, axis, axis, indexing="ij")
    ball = DistanceField(np.full(3, axis[0]), 0.01, np.sqrt(x * x + y * y + z * z) - RADIUS)
    rho = 0.03
    turn, level = np.radians([0.0, 120.0, 240.0]), np.sqrt(RADIUS**2 - rho**2)
    ring = np.stack([rho * np.cos(turn), rho * np.sin(turn), np.full(3, level)], axis=1)
    assert deepest(ball, ring[None]) == pytest.approx(RADIUS - level, abs=1e-3)
    assert deepest(ball, ring[None] + [0.0, 0.0, 0.02]) == 0.0
    assert deepest(ball, ring[None] + [0.0, 0.0, 0.5]) == 0.0


def test_nothing_that_bears_carries_nothing(melton):
    sheet = SimpleNamespace(mass=np.ones(2))
    worn = SimpleNamespace(points=np.zeros((2, 3)), contact_force=np.zeros((2, 3)), sheet=sheet)
    assert set(read_shoulders(SimpleNamespace(), worn).values()) == {0.0}


def test_an_arm_is_bare_as_far_as_its_bands_are():
    along = np.repeat(np.arange(0.0, 0.60, 0.005), 6)
    bare = along > 0.40
    assert bare_bands(along, bare) == pytest.approx(0.195, abs=BAND)
    assert bare_bands(along, np.zeros(len(along), dtype=bool)) == 0.0
    assert bare_bands(along, np.ones(len(along), dtype=bool)) == pytest.approx(0.595)
    patch = bare.copy()
    patch[::6] = False  # a sixth of each band under cloth leaves it bare
    assert bare_bands(along, patch) == pytest.approx(bare_bands(along, bare), abs=1.01 * BAND)


@pytest.mark.parametrize(("hem", "trodden"), [((0.0, 0.05, 0.01), True), ((0.0, 0.05, 0.06), False),
                                              ((0.0, 0.6, 0.01), False)])  # fmt: skip
def test_a_hem_is_trodden_on_where_it_hangs_lower_than_a_sole_near_a_foot(hem, trodden):
    feet = np.array([[0.0, 0.0, 0.0], [0.0, 0.1, 0.02], [0.0, 0.6, 0.5]])
    worn = SimpleNamespace(figure=SimpleNamespace(vertices=feet))
    assert is_trodden(worn, np.array([hem])) is trodden


def test_what_went_with_the_wearer_has_not_slid():
    before, way = np.random.default_rng(0).normal(size=(5, 3)), np.array([0.1, 0.0, -0.2])
    assert slid(before, before + way, np.broadcast_to(way, (5, 3))) == pytest.approx(0.0, abs=1e-12)
    assert slid(before, before + way + [0.0, 0.03, 0.04], np.broadcast_to(way, (5, 3))) == pytest.approx(0.05)


def test_of_a_move_the_worst_counts():
    rests = [
        {
            "settled": True, "cover": {"front_percent": a, "rain_percent": b}, "pull_n": p, "throat_n": t,
            "crossings": 0, "deepest_mm": d, "hem_lowest_cm": h, "trodden_on": on, "turned_deg": g,
        }
        for a, b, p, t, d, h, on, g in ((80.0, 60.0, 3.0, 1.0, 0.1, 40.0, False, 5.0),
                                        (70.0, 65.0, 2.0, 4.0, 0.4, 30.0, True, 9.0))
    ]  # fmt: skip
    found = worst_of(rests)
    assert found["cover"] == {"front_percent": 70.0, "rain_percent": 60.0}
    assert (found["pull_n"], found["throat_n"], found["deepest_mm"]) == (3.0, 4.0, 0.4)
    assert (found["hem_lowest_cm"], found["trodden_on"], found["turned_deg"]) == (30.0, True, 5.0)


@pytest.mark.long
def test_a_cloak_as_it_hangs_reads_as_its_fitting_does(cloak):
    wearer = cloak.wearer()
    found = read_rest("closed", cloak, wearer, wearer.rest())
    assert found["settled"] and found["crossings"] == 0 and not found["trodden_on"]
    assert found["shoulder_left_percent"] + found["shoulder_right_percent"] == pytest.approx(100.0, abs=1.0)
    assert not any(arm["free"] for arm in found["arms"].values())
    assert 70.0 < found["cover"]["front_percent"] < 95.0
