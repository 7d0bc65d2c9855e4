"""Coming to rest: the estimate, the refusals, determinism, and Coulomb's angle on a slope."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from drape.cloth.body_contact import Touch
from drape.cloth.relaxation import CHUNK, LAYERS_HARDEST, MORE, Relaxation, Settling, movement_to_come, relax
from drape.cloth.self_contact import LEAST_GAP
from drape.cloth.sheet import sew, weight
from drape.errors import BlewUpError


def test_estimate_sums_a_geometric_series():
    """Positions 1 − qᵏ come to rest at 1: what is left after k intervals is qᵏ."""
    q, look_back = 0.97, Settling().look_back
    count = 2 * look_back + 1
    track = [np.array([[1 - q**k, 0.0, 0.0]]) for k in range(count)]
    assert movement_to_come(track, look_back) == pytest.approx(q ** (count - 1), rel=1e-9)
    assert movement_to_come(track[:-1], look_back) == np.inf
    assert movement_to_come(track[::-1], look_back) == np.inf
    assert movement_to_come([track[0]] * count, look_back) == 0.0


def hung(make_rectangle, melton, seed=0):
    mesh = make_rectangle(0.3, 0.2, 0.03, seed)
    sheet = sew(mesh, melton)
    fixed = np.flatnonzero(mesh.flat[:, 0] < 1e-9)
    start = np.c_[mesh.flat, np.zeros(len(mesh.flat))]
    return Relaxation(sheet, start, Touch(melton.thickness), fixed=fixed), start, fixed


def test_hanging_cloth_settles_and_its_clamp_holds_still(make_rectangle, melton):
    run, start, fixed = hung(make_rectangle, melton)
    rest = relax(run, settling=Settling())
    assert rest.settled and rest.residual <= 0.02 and rest.remaining <= 1e-3
    assert np.array_equal(rest.worn[fixed], start[fixed])
    assert rest.worn[:, 2].min() < -0.25


def test_too_few_steps_is_said(make_rectangle, melton):
    run, _, _ = hung(make_rectangle, melton)
    rest = relax(run, settling=Settling(max_steps=CHUNK))
    assert not rest.settled and rest.steps == CHUNK


def test_same_bytes_with_contacts_and_layers(make_rectangle, make_plane, melton):
    """A sheet folded over on itself and laid on a table: figure, friction and layers all at work."""
    mesh = make_rectangle(0.3, 0.2, 0.03, 3)
    x, y = mesh.flat.T
    round_fold = np.clip((x - 0.14) / 0.01, 0, np.pi)
    along = np.where(x < 0.14, x, 0.14 + 0.01 * np.sin(round_fold) - np.maximum(x - 0.14 - 0.01 * np.pi, 0))
    start = np.c_[along, y, 0.0014 + 0.01 * (1 - np.cos(round_fold))]
    shapes = []
    for _ in range(2):
        run = Relaxation(sew(mesh, melton), start, Touch(0.003, 0.4), field=make_plane(0.0))
        run.advance(300)
        shapes.append(run.x.tobytes())
    assert run.state.stuck.any() and len(run.pairs.key) > 10
    assert len(set(shapes)) == 1


@pytest.mark.parametrize("load", [0.0, 15.0])
def test_no_point_rests_deep_in_the_figure_whatever_hangs_on_it(make_rectangle, make_plane, melton, load):
    """A cloth on a table with a weight of so many newtons on one point: the table gives way by a spring, and without
    more ado by 2 mm below its top. Where nothing is deep the table stays as it is.
    """
    mesh = make_rectangle(0.3, 0.2, 0.05, 0)
    sheet = sew(mesh, melton)
    loads = weight(sheet)
    loads[np.linalg.norm(mesh.flat - [0.15, 0.1], axis=1).argmin(), 2] -= load
    start = np.c_[mesh.flat, np.full(len(mesh.flat), 0.5 * melton.thickness)]
    run = Relaxation(sheet, start, Touch(melton.thickness, 0.4), field=make_plane(0.0), loads=loads)
    rest = relax(run, settling=Settling())
    assert rest.settled and rest.worn[:, 2].min() >= -5e-4
    assert rest.contact_force[:, 2].sum() == pytest.approx(-loads[:, 2].sum(), rel=1e-3)
    assert (run.hardness > 1.0).any() == (load > 0.0)
    again = Relaxation(sheet, rest.worn, run.touch, field=run.field, loads=loads, grip=rest.grip)
    again.advance(100)
    assert np.abs(again.x - rest.worn).max() < 1e-4, "what goes on from a rest finds the table as stiff as it was"


def test_a_point_at_the_figure_that_the_metric_does_not_know_is_taken_in(make_rectangle, make_plane, melton):
    """One that bounces alone on the table would bounce for ever; one in the air is none of its business."""
    mesh = make_rectangle(0.15, 0.1, 0.05, 0)
    start = np.c_[mesh.flat, np.full(len(mesh.flat), 0.5 * melton.thickness)]
    start[mesh.flat[:, 0] > 0.1, 2] += 0.1
    run = Relaxation(sew(mesh, melton), start, Touch(melton.thickness, 0.4), field=make_plane(0.0))
    for corner, is_near in ((0.0, True), (0.15, False)):
        point = int(np.linalg.norm(mesh.flat - [corner, 0.0], axis=1).argmin())
        assert not run.touching[point]
        run.take_in_point(point)
        assert run.touching[point] == is_near


def test_layers_that_stay_pressed_to_the_least_gap_grow_harder_where_the_force_is_worst(make_rectangle, melton):
    """Looked at twice, and only pairs of the point asked about; never more than LAYERS_HARDEST times."""
    mesh = make_rectangle(0.06, 0.05, 0.03, 0)
    count = len(mesh.flat)
    one = sew(mesh, melton)
    flat = np.concatenate([mesh.flat, mesh.flat])
    triangles = np.concatenate([mesh.triangles, mesh.triangles + count])
    both = sew(dataclasses.replace(mesh, flat=flat, triangles=triangles), melton)
    assert len(both.mass) == 2 * len(one.mass)
    start = np.c_[flat, np.repeat([0.0, LEAST_GAP], count)]
    run = Relaxation(both, start, Touch(melton.thickness, 0.4))
    run.find_pairs()
    assert not len(run.sprung)
    run.take_in_layers(count)
    own = run.pairs.key[(run.pairs.corners == count).any(axis=1)]
    assert np.isin(run.sprung, own).any(), "the metric knows the pairs of a point that only bounces"
    run.harden_layers(count)
    assert (run.pairs.hardness == 1.0).all()
    for times in (MORE, LAYERS_HARDEST, LAYERS_HARDEST):
        run.harden_layers(count)
        harder = run.pairs.hardness > 1.0
        assert harder.any() and (run.pairs.hardness[harder] == times).all()
        assert (run.pairs.corners[harder] == count).any(axis=1).all()


def test_nonsense_is_stopped(make_rectangle, melton):
    mesh = make_rectangle(0.3, 0.2, 0.03, 0)
    sheet = sew(mesh, melton)
    sheet = sheet._replace(membrane=1e6 * sheet.membrane)
    start = np.c_[mesh.flat, np.random.default_rng(0).normal(0, 0.01, len(mesh.flat))]
    with pytest.raises(BlewUpError, match="ceased to be numbers after"):
        Relaxation(sheet, start, Touch(0.003, layers=False)).advance(2000)


@pytest.mark.parametrize("layers", [False, True])
def test_a_start_that_is_no_number_is_stopped_and_named(make_rectangle, make_plane, melton, layers):
    mesh = make_rectangle(0.3, 0.2, 0.03, 0)
    start = np.c_[mesh.flat, np.full(len(mesh.flat), 0.001)]
    start[7, 1] = np.nan
    run = Relaxation(sew(mesh, melton), start, Touch(0.003, 0.4, layers=layers), field=make_plane(0.0))
    with pytest.raises(BlewUpError, match="after 0 steps, first at point 7"):
        run.advance(100)


@pytest.mark.parametrize(("share", "slides"), [(0.97, False), (1.03, True)])
def test_cloth_on_a_slope_slides_beyond_the_friction_angle(make_rectangle, make_plane, melton, share, slides):
    """Coulomb (1785): cloth on a plane falling by θ lies still if tan θ < μ and slides if tan θ > μ."""
    friction = 0.4
    slope = np.arctan(share * friction)
    mesh = make_rectangle(0.12, 0.09, 0.03, 1)
    along = np.array([np.cos(slope), 0.0, -np.sin(slope)])
    normal = np.array([np.sin(slope), 0.0, np.cos(slope)])
    start = mesh.flat[:, :1] * along + mesh.flat[:, 1:] * [0.0, 1.0, 0.0] + 0.00147 * normal
    run = Relaxation(sew(mesh, melton), start, Touch(melton.thickness, friction, layers=False), field=make_plane(slope))
    run.advance(600)  # landed
    before = run.x.copy()
    run.advance(600)
    slid = float(((run.x - before) @ along).mean())
    if slides:
        assert slid > 1e-3
    else:
        assert abs(slid) < 1e-6


def test_a_run_that_starts_with_the_grip_of_another_stays_where_that_one_came_to_rest(
    make_rectangle, make_plane, melton
):
    """On a slope under the friction angle friction carries the cloth; a run without its grip has none at first."""
    slope = np.arctan(0.8 * 0.4)
    mesh = make_rectangle(0.12, 0.09, 0.03, 1)
    along = np.array([np.cos(slope), 0.0, -np.sin(slope)])
    start = mesh.flat[:, :1] * along + mesh.flat[:, 1:] * [0.0, 1.0, 0.0]
    start = start + 0.00147 * np.array([np.sin(slope), 0.0, np.cos(slope)])
    sheet = sew(mesh, melton)
    touch, field = Touch(melton.thickness, 0.4), make_plane(slope)
    rest = relax(Relaxation(sheet, start, touch, field=field), settling=Settling(residual=1e-3))
    assert rest.settled
    first = []
    for grip in (rest.grip, None):
        run = Relaxation(sheet, rest.worn, touch, field=field, grip=grip)
        run.advance(1)
        first.append((run.residual()[0], float((run.state.force @ along).sum()) / run.loads[:, 2].sum()))
    assert first[0][0] < 2e-3
    assert first[1][1] == pytest.approx(-np.sin(slope), rel=1e-3)  # all of what friction had carried
