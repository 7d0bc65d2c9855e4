"""The ensemble: members that differ within their uncertainty, the same every time, and what comes of their readings."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from drape.cloth.sheet import FILLED_SHARE
from drape.errors import NotSettledError
from drape.fitting.ensemble import (
    FEWEST,
    MEASURED_SHARE,
    STEPS_OF_A_START,
    WIDEST,
    Runs,
    cloth_of_member,
    plan_of,
    settle_runs,
)
from drape.fitting.scene import load_scene
from drape.fitting.side_by_side import Crew, costs_of
from drape.fitting.sit import judged_on
from drape.reading.result import Fitting
from drape.reading.spread import of_few


def test_the_first_member_is_the_cloth_itself_and_the_others_are_the_same_every_time(melton):
    assert cloth_of_member(melton, 0, is_shipped=True) == melton
    assert cloth_of_member(melton, 3, is_shipped=True) == cloth_of_member(melton, 3, is_shipped=True)
    assert cloth_of_member(melton, 3, is_shipped=True) != cloth_of_member(melton, 4, is_shipped=True)


@pytest.mark.parametrize(("is_shipped", "share"), [(True, FILLED_SHARE), (False, MEASURED_SHARE)])
def test_constants_move_by_their_uncertainty(melton, is_shipped, share):
    """The standard deviation of ln(constant) over many members, cut off at twice: 0.8796 of the normal's."""
    members = [cloth_of_member(melton, k, is_shipped=is_shipped) for k in range(1, 1500)]
    for kind in ("bending_length", "tensile_stiffness"):
        warp, weft = (np.log([getattr(m, f"{kind}_{way}") for m in members]) for way in ("warp", "weft"))
        assert np.std(warp) == pytest.approx(0.96 * share[kind], rel=0.05)
        assert np.ptp(warp) <= 2 * WIDEST * share[kind] + 1e-9
        assert np.allclose(warp - weft, warp[0] - weft[0])
    friction = np.array([m.friction_on_figure for m in members])
    assert friction.min() >= 0 and np.mean(friction) == pytest.approx(melton.friction_on_figure, abs=0.01)
    assert all(0 <= m.poisson_ratio <= 0.5 for m in members)


@pytest.mark.parametrize(("filled", "share"), [((), MEASURED_SHARE), (("twist_rigidity",), FILLED_SHARE)])
def test_twist_that_was_estimated_is_less_sure_than_what_was_measured(melton, filled, share):
    """Beside what it moves with warp and weft, that is."""
    given = dataclasses.replace(melton, filled=filled)
    members = [cloth_of_member(given, k, is_shipped=False) for k in range(1, 800)]
    twist = np.log([m.twist_rigidity / m.mean_rigidity for m in members])
    assert np.std(twist) == pytest.approx(0.96 * share["twist_share"], rel=0.07)


@pytest.fixture
def chance(monkeypatch):
    """Runs that give readings by seed, as kept from before, and do not settle on some seeds."""
    called = []

    def pretend(scene, *, edge_length, seed, cached, before, progress, early, most_steps):
        called.append((scene.cloth, seed))
        if seed in (2, 29, 30, 31):
            raise NotSettledError("clerk: not settled after 9 steps.")
        readings = {
            "scene": scene.name,
            "neck": {"gap_back_cm": GAPS[seed]},
            "shoulder_left": {"stand_off_mean_cm": 0.1},
            "shoulder_right": {"stand_off_mean_cm": 0.1},
            "spare": {"percent": 0.0},
            "crowding": {"max_percent": 0.0},
            "dart": [],
            "fall": {"word": "cloak", "level_cm": 1.0, "reaches": "the knee", "clearance_cm": 40.0},
            "closure": {"place": "right shoulder", "shift_cm": 0.0},
        }
        readings = judged_on(scene, None, of_few({**readings, "settled": True}))
        fields = {field.name: None for field in dataclasses.fields(Fitting)}
        return Fitting(**{**fields, "name": scene.name, "readings": readings, "is_recalled": seed != 3 or cached})

    monkeypatch.setattr("drape.fitting.settling_process.sit", pretend)
    return called


# Gap behind by seed [cm]; its limit is 1.5. From 10 on they lie far from it, from 20 on nearer, from 40 on at it.
GAPS = {
    0: 1.0, 1: 2.0, 3: 4.0, 4: 2.5, 10: 0.1, 11: 0.1, 12: 0.1, **dict.fromkeys(range(32, 40), 0.1),
    **dict(enumerate((1.9, 1.1, 1.2, 1.0, 1.1, 1.1, 1.0, 1.1), start=20)), **dict(enumerate((1.4, 1.6) * 4, start=40)),
}  # fmt: skip


def settled(runs, **more):
    plan = plan_of(load_scene("ferry-warden-round"), runs)
    with Crew(1, costs_of(plan.jobs), possible=plan.possible) as crew:
        return settle_runs(crew, plan, **more)


def test_members_differ_in_mesh_and_cloth_and_the_first_is_shown(chance):
    scene, told = load_scene("ferry-warden-round"), []
    fitting = settled(Runs(0.06, sure=5), tell=told.append)
    assert [seed for _, seed in chance] == [0, 1, 2, 3, 4] and len({cloth for cloth, _ in chance}) == 5
    assert chance[0][0] == scene.cloth and fitting.is_recalled
    assert fitting.readings["neck"]["gap_back_cm"] == pytest.approx(9.5 / 4)
    assert fitting.readings["spread"]["members"] == 4 and fitting.readings["starts"]["shown_seed"] == 0
    assert fitting.readings["starts"]["not_settled"] == 1 and any("counts for nothing" in line for line in told)


def test_starts_go_on_while_the_answer_is_open_and_no_longer(chance):
    """Far from the limit the fewest are enough; nearer it takes more; at the limit all there are."""
    assert settled(Runs(0.06, seed=10, starts=8)).readings["starts"]["seeds"] == [10, 11, 12]
    near = settled(Runs(0.06, seed=20, starts=8))
    assert FEWEST < near.readings["starts"]["count"] < 8 and near.readings["conclusion"]["sits"] == {near.name: "yes"}
    open_still = settled(Runs(0.06, seed=40, starts=8))
    assert open_still.readings["starts"]["seeds"] == list(range(40, 48))
    assert open_still.readings["conclusion"]["sits"] == {near.name: "undecided"}
    assert len({cloth for cloth, _ in chance}) == 1


def test_a_start_is_given_up_sooner_where_there_may_be_others():
    scene = load_scene("ferry-warden-round")
    several, alone, sure = (plan_of(scene, Runs(0.03, **often)) for often in ({"starts": 8}, {}, {"sure": 4}))
    assert {job.most_steps for job in several.jobs} == {STEPS_OF_A_START} and several.least == FEWEST
    assert {job.most_steps for job in (*alone.jobs, *sure.jobs)} == {None}


def test_one_start_alone_is_left_as_it_is(chance):
    fitting = settled(Runs(0.06, seed=40))
    assert len(chance) == 1 and fitting.readings["neck"] == {"gap_back_cm": 1.4}
    assert fitting.readings["starts"]["count"] == 1


def test_a_start_that_does_not_settle_counts_for_nothing_and_three_end_it(chance):
    told = []
    fitting = settled(Runs(0.06, seed=31, starts=8), tell=told.append)
    assert fitting.readings["starts"]["not_settled"] == 1 and fitting.readings["starts"]["seeds"][0] == 32
    assert "counts for nothing" in told[0]
    with pytest.raises(NotSettledError):
        settled(Runs(0.06, seed=29, starts=8))
    with pytest.raises(NotSettledError):
        settled(Runs(0.06, seed=31))


def test_a_fitting_of_several_runs_is_recalled_when_every_run_is(chance):
    assert settled(Runs(0.06, sure=4, cached=False)).is_recalled is False
