"""The collar on the flat, in the mesh and at the start: against the development of a cone, and every refusal."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from families import most_are_long
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon
from stand_in import standing_body

from drape.body.signed_distance import distance
from drape.cloth.dressing import dress
from drape.cloth.mesh import morphed, refined, triangulate
from drape.cloth.mesher import quality_of
from drape.cloth.self_contact import crossing_count, weave
from drape.cloth.sheet import sew
from drape.draft.cloak import draft_cloak
from drape.draft.outline import Draft, length_of, loops_of, run_of
from drape.draft.style import CollarStyle, Dart, Style
from drape.errors import DraftError
from drape.fitting.scene import load_scene
from drape.fitting.sit import figure_of
from drape.reading.worn import Worn, read_collar


@pytest.fixture(scope="module")
def draft_of():
    """`draft_of(collar, place=, sweep=)`: a tailored draft with that collar."""

    def drafted(collar: CollarStyle, *, place: str = "right shoulder", sweep: float = math.pi) -> Draft:
        sides = {"right shoulder": ("left",), "left shoulder": ("right",), "centre front": ("left", "right")}[place]
        darts = tuple(Dart(f"{side} shoulder") for side in sides) if sweep < math.radians(250) else ()
        style = Style("tailored", length=0.9, sweep=sweep, closure_place=place, darts=darts, collar=collar)
        return draft_cloak(style, standing_body())

    return drafted


@settings(max_examples=25, deadline=None)
@given(
    height=st.floats(0.015, 0.08),
    taken=st.floats(0.0, 0.06),
    grain=st.floats(-1.5, 1.5),
    place=st.sampled_from(("right shoulder", "left shoulder", "centre front")),
    sweep=st.sampled_from((math.radians(150), math.pi, math.radians(270))),
)
def test_an_even_collar_is_part_of_a_cone(
    draft_of, height: float, taken: float, grain: float, place: str, sweep: float
) -> None:
    """A cone's development: the top edge is shorter by what is taken in,
    the area is their mean length times the height.
    """
    draft = draft_of(CollarStyle(height, taken_in=taken, grain=grain), place=place, sweep=sweep)
    seam = sum(length_of(run_of(draft, f"collar seam {k}")) for k in range(1, len(draft.neck) + 1))
    top = length_of(run_of(draft, "collar top"))
    assert seam == pytest.approx(draft.dimensions["neck_edge_length"], abs=2e-5)
    assert top == pytest.approx(seam - taken, abs=2e-5)
    loop = Polygon(np.concatenate([edge.points[:-1] for edge in draft.collar]))
    assert loop.is_valid and loop.exterior.is_ccw
    assert loop.area == pytest.approx((seam + top) / 2 * height, rel=2e-4)
    for seam_ in draft.seams:
        assert length_of(run_of(draft, seam_.first)) == pytest.approx(length_of(run_of(draft, seam_.second)), abs=1e-5)
    body_loop = Polygon(np.concatenate([edge.points[:-1] for edge in draft.edges])).buffer(0)
    assert loop.distance(body_loop) > 0.05


@given(front=st.floats(0.02, 0.07), back=st.floats(0.02, 0.08))
@settings(max_examples=15, deadline=None)
def test_an_uneven_collar_is_as_high_as_asked_in_front_and_behind(draft_of, front: float, back: float) -> None:
    draft = draft_of(CollarStyle(back, front_height=front, cut="straight"), place="centre front")
    for edge in (edge for edge in draft.collar if edge.name.endswith("collar end")):
        assert length_of(edge.points) == pytest.approx(front, abs=1e-9)
    top = run_of(draft, "collar top")
    foot = run_of(draft, "collar seam 1")[0]
    assert np.abs(top[:, 1] - foot[1]).max() == pytest.approx(max(front, back), abs=1e-5)
    area = Polygon(np.concatenate([edge.points[:-1] for edge in draft.collar])).area
    assert area == pytest.approx(draft.dimensions["neck_edge_length"] * (front + back) / 2, rel=1e-3)  # a wave's mean


def test_a_shaped_collar_takes_in_what_the_neck_narrows(draft_of) -> None:
    """Neck base 40.84, neck 37.9 cm a sixth of the way to the crown, 3.94 cm up: at half that height, half of 2.94."""
    figure = standing_body()
    measured = 0.16 * (figure.tape["stature"] - figure.landmarks["side_neck_left"][2])
    draft = draft_of(CollarStyle(measured / 2))
    assert draft.dimensions["collar_taken_in"] == pytest.approx((0.4084 - 0.379) / 2, abs=1e-12)
    assert draft_of(CollarStyle(0.03, cut="straight")).dimensions["collar_taken_in"] == 0.0


@pytest.mark.parametrize("edge_length", [0.06, 0.03])
def test_the_mesh_has_two_panels_whose_seam_matches(draft_of, edge_length: float) -> None:
    draft = draft_of(CollarStyle(0.045, 0.035))
    mesh = triangulate(draft, edge_length=edge_length)
    assert quality_of(mesh.flat, mesh.triangles).min() >= 0.5
    areas = [Polygon(np.concatenate([edge.points[:-1] for edge in loop])).area for loop in loops_of(draft)]
    a, b, c = (mesh.flat[mesh.triangles[:, k]] for k in range(3))
    total = 0.5 * ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]).sum()
    assert total == pytest.approx(sum(areas), rel=2e-3)
    for seam in draft.seams:
        first, second = (mesh.flat[mesh.edges[name]] for name in (seam.first, seam.second))
        steps = [np.linalg.norm(np.diff(run, axis=0), axis=1) for run in (first, second)]
        assert steps[0] == pytest.approx(steps[1], rel=0.05)  # chords of two arcs of one length
    finer, _ = refined(draft, mesh)
    assert len(finer.triangles) == 4 * len(mesh.triangles)
    assert set(finer.edges) == {edge.name for loop in loops_of(draft) for edge in loop}
    moved = morphed(mesh, draft, draft)
    assert moved.flat == pytest.approx(mesh.flat, abs=1e-12)


@pytest.fixture(scope="module")
def scene():
    return load_scene("lamp-bearer-collar")


@pytest.fixture(scope="module")
def figure(scene):
    return figure_of(scene)


@pytest.mark.parametrize("closed", most_are_long([True, False], True))
def test_the_collar_starts_standing_clear_and_crossing_nothing(scene, figure, closed: bool) -> None:
    draft = draft_cloak(replace(scene.style, collar=CollarStyle(0.05, 0.04, closed=closed)), figure)
    mesh = triangulate(draft, edge_length=0.05)
    sheet = sew(mesh, scene.cloth, grain=draft.grain)
    start = dress(draft, mesh, sheet, figure, thickness=scene.cloth.thickness)
    assert crossing_count(weave(sheet.triangles), start) == 0
    assert distance(figure.field, start).min() >= 0.5 * scene.cloth.thickness
    worn = Worn(figure, draft, mesh, sheet, start, np.zeros_like(start), scene.cloth.thickness)
    found = read_collar(worn)
    assert all(found[f"stands_{side}_percent"] > 50 for side in ("front", "left", "back", "right"))
    ends = [worn.edge(name) for name in mesh.edges if name.endswith("collar end")]
    assert np.array_equal(*ends) == closed


@pytest.mark.parametrize("taken_in", [0.1, 0.12])
def test_a_collar_that_is_taken_in_much_starts_over_its_own_seam(scene, figure, taken_in: float) -> None:
    """It lies on the flat as three quarters of a ring: a line across it, run on, meets its other side too."""
    draft = draft_cloak(replace(scene.style, collar=CollarStyle(0.025, 0.022, taken_in=taken_in)), figure)
    mesh = triangulate(draft, edge_length=0.05)
    sheet = sew(mesh, scene.cloth, grain=draft.grain)
    start = dress(draft, mesh, sheet, figure, thickness=scene.cloth.thickness)
    assert crossing_count(weave(sheet.triangles), start) == 0


@pytest.mark.parametrize(
    ("collar", "words"),
    [
        (CollarStyle(0.19), "collar.height_cm: the collar is higher than the neck allows"),
        (CollarStyle(0.05, 0.12), "collar.front_height_cm: the collar is higher than the neck allows"),
        (CollarStyle(0.005), "collar.height_cm: got 0.5, allowed at least 1"),
        (CollarStyle(0.05, taken_in=0.3), "collar.taken_in_cm: got 30"),
        (CollarStyle(0.01, taken_in=0.136), "got 13.6, allowed at most 5.236, or its ends would overlap on the cloth"),
        (CollarStyle(0.05, cut="bent"), "collar.cut: got 'bent'"),
        (CollarStyle(0.05, cut="straight", taken_in=0.01), "collar.taken_in_cm: got 1 for a straight collar"),
        (CollarStyle(0.05, closed=False, buttons=1), "collar.buttons: got 1 on a collar that stands open"),
    ],
)
def test_collars_that_cannot_be_are_refused(draft_of, collar: CollarStyle, words: str) -> None:
    with pytest.raises(DraftError) as caught:
        draft_of(collar)
    assert words in str(caught.value) and "allowed" in str(caught.value) and "\n" not in str(caught.value)
