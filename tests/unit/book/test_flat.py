"""Points of the flat draft: dragged along their line, they give the value that brings them there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from drape.book import flat
from drape.draft.cloak import draft_cloak
from drape.draft.dimensions import value_of, with_value
from drape.fitting.scene import load_scene
from drape.fitting.sit import figure_of


@pytest.fixture(scope="module")
def warden():
    scene = load_scene("ferry-warden-tailored")
    figure = figure_of(scene)
    return scene, figure, draft_cloak(scene.style, figure)


def test_every_dimension_of_the_draft_has_a_point(warden):
    handles = {handle.name: handle for handle in flat.handles_of(*warden, {})}
    assert set(handles) == {
        "draft.front_neck_depth_cm", "draft.back_neck_depth_cm", "draft.neck_width_cm", "dart.0.intake_cm",
        "closure.shoulder_cut_intake_cm", "dart.0.length_cm", "closure.shoulder_cut_length_cm", "draft.length_cm",
    }  # fmt: skip
    assert handles["draft.length_cm"].value == 112.0
    assert all(np.hypot(*handle.along) == pytest.approx(1.0, abs=1e-3) for handle in handles.values())


@pytest.mark.parametrize("name", ["dart_length", "front_neck_depth", "shoulder_cut_length", "length", "neck_width"])
def test_dragged_to_where_a_value_puts_it_a_point_gives_that_value(warden, name):
    scene, figure, draft = warden
    d = flat.BY_NAME[name]
    goal = value_of(scene.style, draft, d) + 0.006
    moved = draft_cloak(with_value(scene.style, draft, d, goal), figure)
    x, y = flat.PLACES[name](moved)
    found = flat.dragged(scene, figure, draft, flat.field_of(d), (100 * x, -100 * y))
    assert found == pytest.approx(100 * goal, abs=0.11)


def test_a_point_goes_no_further_than_a_file_may_say(warden):
    assert flat.dragged(*warden, "dart.0.length_cm", (0.0, -9000.0)) == 60.0
    assert flat.stepped(warden[0], warden[2], "draft.length_cm", 5) == 112.5
    assert flat.stepped(warden[0], warden[2], "draft.nothing", 5) is None


def test_a_hem_that_hangs_where_it_is_asked_has_no_point(warden):
    scene, figure, _ = warden
    scene = replace(scene, style=replace(scene.style, length=None, length_to="knee"))
    draft = draft_cloak(scene.style, figure)
    assert "draft.length_cm" not in {handle.name for handle in flat.handles_of(scene, figure, draft, {})}


def test_the_sheet_holds_the_whole_outline_in_its_box(warden):
    sheet = flat.sheet_of(warden[2], ())
    left, top, width, height = sheet.box
    places = [tuple(map(float, pair.split(","))) for line in sheet.lines for pair in line.points.split()]
    assert all(left < x < left + width and top < y < top + height for x, y in places)
    assert {line.kind for line in sheet.lines} >= {"cut", "leg", "fold", "centre", "grain"}
