"""The start crosses nothing, seams are closed, azimuths are the body's; a coarse shape is carried over."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from families import most_are_long
from stand_in import standing_body

from drape.body.signed_distance import distance
from drape.body.stance import Stance
from drape.cloth.dressing import OPENING_GAP, dress, neck_ring, place_on_body, turned_by_length
from drape.cloth.mesh import triangulate
from drape.cloth.self_contact import crossing_count, find_pairs, weave
from drape.cloth.sheet import sew
from drape.draft.cloak import draft_cloak
from drape.draft.style import Dart, Style
from drape.errors import DraftError
from drape.fitting.scene import load_scene
from drape.fitting.sit import figure_of
from drape.reading.worn import Worn, azimuth_of, mark_point

SCENES = ("ferry-warden-round", "ferry-warden-tailored")


@pytest.fixture(scope="module")
def figure():
    return figure_of(load_scene(SCENES[0]))


def clear_start(scene, figure):
    """Draft, mesh, sheet and start of a scene on a figure; the start is clear of the figure and of itself."""
    draft = draft_cloak(scene.style, figure)
    mesh = triangulate(draft, edge_length=0.06)
    sheet = sew(mesh, scene.cloth, grain=draft.grain)
    start = dress(draft, mesh, sheet, figure, thickness=scene.cloth.thickness)
    centres = start[sheet.triangles].mean(axis=1)
    assert distance(figure.field, np.concatenate([start, centres])).min() >= 0.5 * scene.cloth.thickness
    assert crossing_count(weave(sheet.triangles), start) == 0
    return draft, mesh, sheet, start


@pytest.mark.parametrize("name", SCENES)
def test_the_start_is_clear_closed_and_the_right_way_round(figure, name):
    scene = load_scene(name)
    draft, mesh, sheet, start = clear_start(scene, figure)
    thickness = scene.cloth.thickness
    nearest = find_pairs(weave(sheet.triangles), start, thickness=thickness, margin=2 * thickness).nearest
    assert nearest.min() > 0.25 * OPENING_GAP * thickness  # the opening edges have each their own side from the start
    azimuth, run, _ = place_on_body(draft, mesh, 0.0)
    ends = azimuth[mesh.seams]
    assert np.cos(ends[:, 0] - ends[:, 1]) == pytest.approx(1.0, abs=1e-9)
    assert run[mesh.seams[:, 0]] == pytest.approx(run[mesh.seams[:, 1]], abs=1e-9)
    front, back = mesh.edges["front neck"], mesh.edges["back neck"]
    ends = azimuth[[front[0], front[-1], back[0], back[-1]]]
    assert np.degrees(ends) == pytest.approx([-90.0, 90.0, 90.0, 270.0], abs=1e-9)
    neck = np.concatenate([front, back])
    assert run[neck] == pytest.approx(0.0, abs=1e-3)
    worn = Worn(figure, draft, mesh, sheet, start, np.zeros_like(start), scene.cloth.thickness)
    for mark, place in (("front neck", 0.0), ("back neck", np.pi)):
        found = azimuth_of(mark_point(worn, mark)[None], figure.neck_centre)[0]
        assert np.cos(found - place) > np.cos(np.radians(6))


def reaching_out(figure, sides):
    """The figure with wrists 50 cm out to the side and 15 forward, said to be out of the opening."""
    marks = dict(figure.landmarks)
    for side, sign in (("left", -1.0), ("right", 1.0)):
        marks[f"wrist_{side}"] = figure.neck_centre + [sign * 0.50, 0.15, -0.35]
    return dataclasses.replace(figure, arms=sides, landmarks=marks)


@pytest.mark.parametrize(
    ("place", "sides"),
    [("right shoulder", ("down", "out of the opening")), ("left shoulder", ("out of the opening", "down"))],
)
def test_the_openings_edges_start_on_either_side_of_an_arm_that_comes_out(figure, place, sides):
    """Beyond the closure no point lies within 7 cm of the arm's line seen from above, and edges stay in their order."""
    scene = load_scene(SCENES[0])
    draft = draft_cloak(dataclasses.replace(scene.style, closure_place=place), figure)
    mesh = triangulate(draft, edge_length=0.06)
    sheet = sew(mesh, scene.cloth, grain=draft.grain)
    reaching = reaching_out(figure, sides)
    start = dress(draft, mesh, sheet, reaching, thickness=scene.cloth.thickness)
    assert crossing_count(weave(sheet.triangles), start) == 0
    side = "right" if sides[1] != "down" else "left"
    way = (reaching.landmarks[f"wrist_{side}"] - reaching.neck_centre)[:2]
    away = start[:, :2] - reaching.neck_centre[:2]
    along, off = away @ way / np.hypot(*way), np.abs(away[:, 0] * way[1] - away[:, 1] * way[0]) / np.hypot(*way)
    assert off[along > 0.42].min() > 0.07


@pytest.mark.parametrize(
    ("place", "fastened", "sides", "words"),
    most_are_long(
        [
            ("centre front", None, ("down", "out of the opening"), ("arms.right", "centre front", "right shoulder")),
            ("right shoulder", None, ("out of the opening", "down"), ("arms.left", "left shoulder")),
            ("right shoulder", 0.40, ("down", "out of the opening"), ("40.0 cm", "fastened_length_cm")),
        ],
        "centre front",
    ),
)
def test_an_arm_without_a_way_out_is_refused_in_one_line(figure, place, fastened, sides, words):
    scene = load_scene(SCENES[0])
    cut = None if place == "centre front" else 0.0
    style = dataclasses.replace(scene.style, closure_place=place, fastened_length=fastened, shoulder_cut_intake=cut)
    draft = draft_cloak(style, figure)
    mesh = triangulate(draft, edge_length=0.06)
    sheet = sew(mesh, scene.cloth, grain=draft.grain)
    with pytest.raises(DraftError) as caught:
        dress(draft, mesh, sheet, reaching_out(figure, sides), thickness=0.003)
    assert "\n" not in str(caught.value)
    assert [word for word in words if word not in str(caught.value)] == []


def test_without_dart_or_cuts_the_azimuth_is_the_draft_angle_spread_evenly(figure):
    """-90° + φ · 360 / sweep: 0 at the centre front, 90 at the left shoulder, 180 at the centre back."""
    draft = draft_cloak(load_scene(SCENES[0]).style, figure)
    mesh = triangulate(draft, edge_length=0.06)
    phi = np.degrees(np.arctan2(mesh.flat[:, 1], mesh.flat[:, 0]))
    azimuth, _, _ = place_on_body(draft, mesh, 0.0)
    assert np.degrees(azimuth) == pytest.approx(-90.0 + 2.0 * phi, abs=1e-6)


def test_edges_moved_to_centre_front_start_there_from_neck_to_hem():
    """The one edge lies below the draft's straight one, so that its angle is negative; both start at azimuth 0."""
    darts = (Dart("left shoulder", intake=0.1), Dart("right shoulder", intake=0.05))
    draft = draft_cloak(Style("tailored", 0.6, closure_place="centre front", darts=darts), standing_body())
    assert draft.dimensions["closure_moved"] < -0.01
    mesh = triangulate(draft, edge_length=0.08)
    azimuth, run, _ = place_on_body(draft, mesh, 0.0)
    for side, whole in ((0, 0.0), (1, 2 * np.pi)):
        edge = np.concatenate([mesh.edges[draft.closure[side]], mesh.edges[draft.opening[side]]])
        assert azimuth[edge] == pytest.approx(whole, abs=1e-4)
    assert run.min() == 0.0 and run.max() > 0.5


@pytest.mark.long
def test_a_neck_edge_far_longer_on_one_side_of_the_closure_is_laid_round_the_neck():
    """Between shoulders of 35 and 17 degrees the front neck edge is 19.5 cm long on one side, 2.4 on the other, where a
    drawn hem keeps the opening edges where they are."""
    scene = load_scene("lamp-bearer-collar")
    phi = np.linspace(0.0, scene.style.sweep, 9)
    hem = {"hem_along": tuple(0.46 * np.cos(phi)), "hem_up": tuple(0.46 * np.sin(phi))}
    scene = dataclasses.replace(scene, style=dataclasses.replace(scene.style, length=None, **hem))
    lopsided = Stance(stoop=-0.034, full_back=0.04, low_left=0.042)
    figure = figure_of(dataclasses.replace(scene, stance=lopsided))
    draft, mesh, _, _ = clear_start(scene, figure)
    azimuth, run, _ = place_on_body(draft, mesh, scene.cloth.thickness)
    turned = turned_by_length(draft, mesh, figure, azimuth, run)
    back = mesh.edges["back neck"]
    assert np.interp(np.pi, turned[back], np.arange(len(back))) == pytest.approx(
        np.interp(np.pi, azimuth[back], np.arange(len(back))), abs=0.1
    )  # centre back stays
    for name in draft.neck:  # and no piece of the neck edge is more than a tenth longer or shorter than its like
        edge = mesh.edges[name]
        along = np.linspace(turned[edge[0]], turned[edge[-1]], 200)
        ring = np.linalg.norm(np.diff(neck_ring(figure, along), axis=0), axis=1).sum()
        flat = np.linalg.norm(np.diff(mesh.flat[edge], axis=0), axis=1).sum()
        assert ring / flat == pytest.approx(figure.tape["neck_base_girth"] / 0.356, rel=0.1)


def test_a_ring_far_too_small_is_refused(figure):
    """A neck base drawn in to a third puts the start inside the neck, however far it is raised."""
    scene = load_scene(SCENES[0])
    draft = draft_cloak(scene.style, figure)
    mesh = triangulate(draft, edge_length=0.06)
    shrunk = figure.neck_centre + (figure.neck_base - figure.neck_centre) / 3
    with pytest.raises(DraftError, match="neck hole cannot be laid round the neck") as caught:
        dress(draft, mesh, sew(mesh, scene.cloth), dataclasses.replace(figure, neck_base=shrunk), thickness=0.003)
    assert "\n" not in str(caught.value)


def test_a_figure_that_fills_the_start_is_refused(figure):
    scene = load_scene(SCENES[0])
    draft = draft_cloak(scene.style, figure)
    mesh = triangulate(draft, edge_length=0.06)
    swollen = figure.field._replace(values=figure.field.values - 0.15)
    with pytest.raises(DraftError, match="still cuts the figure by") as caught:
        dress(draft, mesh, sew(mesh, scene.cloth), dataclasses.replace(figure, field=swollen), thickness=0.003)
    assert "\n" not in str(caught.value)
