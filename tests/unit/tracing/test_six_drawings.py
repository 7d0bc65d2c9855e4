"""Six drawings of the pageant's wardrobe, made as a person makes them: traced, and how far off the draft lies."""

from __future__ import annotations

import pytest
from stand_in import standing_body

from drape.fitting.scene import shipped_folder
from drape.tracing.trace import Told, find_edges, trace
from drape.tracing.traced_scene import scene_text

FOLDER = shipped_folder("scene") / "drawings"
BODY = standing_body()
SMALL = standing_body(girth=0.35, half_neck=0.056, shoulder=0.13)
CHILD = standing_body(girth=0.31, half_neck=0.05, shoulder=0.1)


def traced(name, body=BODY, **told):
    return trace(find_edges(FOLDER / name, Told(**told)), body)


def worst(found):
    return max(most for _, most in found.fitted.off.values())


@pytest.mark.long
def test_the_winter_cloak_has_its_own_neck_one_dart_and_cuts():
    found = traced("ferry-warden-winter.svg")  # its hem is drawn twice, its grain and a note stand on another layer
    style = found.fitted.style
    assert (style.neck, len(style.darts), style.closure_place) == ("drawn", 1, "right shoulder")
    assert style.darts[0].intake == pytest.approx(0.096, abs=2e-3)  # 48 mm to either side, as typed in the drawing
    assert style.shoulder_cut_intake == pytest.approx(0.094, abs=2e-3) and worst(found) < 3e-3


@pytest.mark.long
def test_the_mantle_has_its_darts_as_lines_on_an_unbroken_neck():
    found = traced("lamp-bearer-mantle.svg", SMALL)
    style = found.fitted.style
    assert (style.neck, len(style.darts), style.closure_place) == ("round", 2, "centre front")
    assert found.drawn.sweep == pytest.approx(3.7699, abs=3e-3) and worst(found) < 2e-3  # 216 degrees


@pytest.mark.long
def test_the_clerks_cloak_is_cut_as_its_joins_are_drawn():
    text = scene_text(traced("toll-house-clerk-pieced.dxf"), "toll-house-clerk")
    assert "levels_cm = [49.9" in text and "strip = 2" in text and "width_cm = 54.0" in text


@pytest.mark.long
def test_the_full_circle_is_scaled_by_its_bar():
    found = traced("lamp-bearer-full-circle.svg", SMALL)
    assert found.fitted.style.front_neck_depth == pytest.approx(21.5 / 300, abs=2e-4)  # 150 units are 50 cm
    assert found.drawn.radius == pytest.approx(1.1, abs=1e-3)


@pytest.mark.long
def test_the_train_has_a_drawn_hem_and_front_edge():
    style = traced("ferry-warden-train.svg").fitted.style
    assert style.hem_along and style.first_edge_along and not style.last_edge_along and style.neck == "drawn"


@pytest.mark.long
def test_the_childs_cloak_is_scaled_by_a_known_length_and_named_by_layers():
    found = traced("river-child.dxf", CHILD, known=0.752, between=("hem", "neck"))
    assert found.edges.how["hem"] == 'its name "Bottom line"' and worst(found) < 2e-3
    assert found.fitted.style.length == pytest.approx(0.752, abs=2e-3)
