"""Runs are saved and loaded whole, unsettled ones say so, and the same input gives the same bytes."""

from __future__ import annotations

import dataclasses
import json
import math
import re
from types import SimpleNamespace

import numpy as np
import pytest
from stand_in import standing_body

from drape.cloth.mesh import triangulate
from drape.draft.cloak import draft_cloak, with_meshed_dags
from drape.draft.style import Dags
from drape.errors import NotSettledError, SceneError
from drape.fitting.scene import load_body, load_scene, worn_by
from drape.fitting.sit import (
    FINE,
    START_EDGE,
    about_of,
    draft_of,
    figure_cut_for,
    figure_of,
    halvings,
    sit,
    unsettled_words,
)
from drape.reading.result import ARRAYS, load_fitting, save_fitting
from drape.units import rounded

COARSEST = 0.12  # [m]; for what is not looked at as cloth


@pytest.fixture(scope="module")
def unsettled():
    scene = dataclasses.replace(load_scene("ferry-warden-round"), max_steps=200)
    with pytest.raises(NotSettledError) as caught:
        sit(scene, edge_length=COARSEST)
    return caught.value


def test_a_draft_on_another_body_is_the_same_draft():
    """Cut for one, worn by the other: outline and pieces are the first body's, the figure is the second's."""
    own = load_scene("ferry-warden-tailored")
    other = worn_by(own, load_body("lamp-bearer"), "lamp-bearer")
    drafts = [draft_of(scene, figure_cut_for(scene)) for scene in (own, other)]
    for first, second in zip(*(draft.edges for draft in drafts), strict=True):
        assert np.array_equal(first.points, second.points)
    assert (
        figure_of(other).tape["stature"] == load_body("lamp-bearer").tape["stature"] != figure_of(own).tape["stature"]
    )
    assert (own.name, other.name) == ("ferry-warden-tailored", "ferry-warden-tailored-on-lamp-bearer")
    assert worn_by(other, load_body("woman-50"), "woman-50").cut_for == other.cut_for


@pytest.mark.parametrize("length", [0.2, 0.06, 0.05, 0.03, 0.02, 0.015, 0.012])
def test_the_first_mesh_is_about_as_coarse_whatever_is_asked(length):
    coarsest = 2 ** halvings(length) * length
    assert coarsest == length > START_EDGE or START_EDGE / 2**0.5 <= coarsest <= START_EDGE * 2**0.5


def test_an_unsettled_run_says_where_and_carries_its_last_state(unsettled):
    message = str(unsettled)
    assert re.search(r"not settled after \d+ steps: residual .* largest at \(.*\) cm", message)
    assert "\n" not in message
    assert unsettled.fitting.readings["settled"] is False
    remaining = unsettled.fitting.readings["remaining_mm"]
    assert remaining is None or remaining > 0.5


def test_saved_and_loaded_is_the_same(unsettled, tmp_path):
    fitting = unsettled.fitting
    again = load_fitting(save_fitting(fitting, tmp_path))
    assert again.readings == fitting.readings
    for name in ARRAYS:
        assert np.array_equal(getattr(again, name), getattr(fitting, name))
    for name, index in fitting.edges.items():
        assert np.array_equal(again.edges[name], index)
    assert [path.name for path in tmp_path.iterdir()] == ["ferry-warden-round.npz"]


def short_run(name, *, seed=0, progress=None):
    """The last state of 200 steps on a mesh of 12 cm, which is never settled."""
    with pytest.raises(NotSettledError) as caught:
        sit(dataclasses.replace(load_scene(name), max_steps=200), edge_length=COARSEST, seed=seed, progress=progress)
    return caught.value.fitting


@pytest.mark.parametrize("name", ["ferry-warden-round", pytest.param("ferry-warden-tailored", marks=pytest.mark.long)])
def test_the_same_scene_gives_the_same_bytes(unsettled, name):
    first = unsettled.fitting if name == unsettled.fitting.name else short_run(name)
    again = short_run(name)
    assert again.worn.tobytes() == first.worn.tobytes()
    apart = {"seconds"}
    assert {k: v for k, v in again.readings.items() if k not in apart} == {
        k: v for k, v in first.readings.items() if k not in apart
    }


def test_another_seed_gives_another_mesh_and_progress_is_told_in_order(unsettled):
    told = []
    other = short_run("ferry-warden-round", seed=1, progress=told.append)
    first = unsettled.fitting
    assert other.flat.shape != first.flat.shape or not np.allclose(other.flat, first.flat)
    parts = list(dict.fromkeys(progress.part for progress in told))
    assert parts == ["figure", "draft", "mesh", "settle", "readings"]
    assert all(0.0 <= progress.fraction <= 1.0 for progress in told)
    assert told[-1].fraction == 1.0 and any("points" in progress.words for progress in told)
    assert set(other.readings["seconds"]) == set(parts)


def test_what_is_not_a_fitting_is_refused(tmp_path):
    path = tmp_path / "x.npz"
    np.savez(path, flat=np.zeros(3))
    with pytest.raises(SceneError, match="not a saved fitting") as caught:
        load_fitting(path)
    assert "\n" not in str(caught.value)
    with pytest.raises(SceneError, match="not a saved fitting"):
        load_fitting(tmp_path / "none.npz")
    path.write_text("not numbers")
    with pytest.raises(SceneError, match="not a saved fitting") as caught:
        load_fitting(path)
    assert "\n" not in str(caught.value)


def test_rounding_keeps_six_figures_and_plain_types():
    value = rounded({"a": np.float64(1.23456789), "b": [np.int64(3), True], "c": {"d": 1e-9 / 3}})
    assert value == {"a": 1.23457, "b": [3, True], "c": {"d": 3.33333e-10}}
    assert type(value["b"][0]) is int and value["b"][1] is True


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 cut short", b"words"])
def test_a_damaged_file_is_refused_in_one_line(tmp_path, content):
    path = tmp_path / "x.npz"
    path.write_bytes(content)
    with pytest.raises(SceneError, match="not a saved fitting, or a damaged one") as caught:
        load_fitting(path)
    assert "\n" not in str(caught.value)


@pytest.mark.long
def test_a_run_from_an_earlier_shape_comes_to_where_it_stays():
    """Front neck 5 mm deeper: fewer steps than afresh, and started from its own result it stays."""
    scene = load_scene("ferry-warden-tailored")
    first = sit(scene, edge_length=0.06)
    depth = first.draft.dimensions["front_neck_depth"] + 0.005
    deeper = dataclasses.replace(scene, style=dataclasses.replace(scene.style, front_neck_depth=depth))
    second = sit(deeper, edge_length=0.06, before=first)
    assert second.readings["settled"] and second.readings["steps"] < first.readings["steps"]
    assert second.readings["neck"]["ride_front_cm"] < first.readings["neck"]["ride_front_cm"]
    third = sit(deeper, edge_length=0.06, before=second)
    assert np.linalg.norm(third.worn - second.worn, axis=1).max() < 5e-4


def test_a_run_does_not_start_from_a_reloaded_fitting(unsettled, tmp_path):
    again = load_fitting(save_fitting(unsettled.fitting, tmp_path))
    with pytest.raises(SceneError, match="without its draft.*afresh"):
        sit(load_scene("ferry-warden-round"), edge_length=COARSEST, before=again)


def test_a_dagged_hem_is_saved_with_its_tips_and_a_whole_one_without():
    """A pointed dag touches the hem as drafted with its point alone."""
    scene = load_scene("ferry-warden-tailored")
    for dags in ((), (Dags("hem", "pointed", 0.5, 0.3),)):
        draft = with_meshed_dags(draft_cloak(dataclasses.replace(scene.style, dags=dags), standing_body()), 0.06)
        about = about_of(scene, draft, triangulate(draft, edge_length=0.06))
        assert ("hem_tips" in about) == bool(dags)
        tips = about.get("hem_tips", [])
        assert len(tips) == sum(run.count for run in draft.dags)
        assert json.loads(json.dumps(about))["hem_tips" if dags else "body"] == (tips if dags else scene.body)


@pytest.mark.long
def test_readings_of_the_coarse_shape_are_told_once_it_rests_and_only_where_finer_triangles_follow(monkeypatch):
    """By the very functions that read the end; without ±, as none is known for so coarse a mesh."""
    monkeypatch.setattr("drape.fitting.sit.START_EDGE", 0.12)
    scene, told = load_scene("ferry-warden-tailored"), []
    with pytest.raises(NotSettledError) as caught:
        sit(dataclasses.replace(scene, max_steps=1), edge_length=0.06, cached=False, early=told.append)
    sit(scene, edge_length=0.12, cached=False, early=told.append)
    (coarse,) = told
    end = caught.value.fitting.readings
    assert coarse["scene"] == scene.name and not {"settled", "verdicts"} & coarse.keys()
    groups = {"neck", "shoulder_left", "shoulder_right", "crowding", "fall", "closure", "weight"}
    assert groups <= coarse.keys() & end.keys()
    assert not [key for group in groups for key in coarse[group] if key.endswith("_spread")]
    assert coarse["fall"]["mean_cm"] == pytest.approx(end["fall"]["mean_cm"], abs=5.0)


def test_how_far_it_is_from_rest_is_told_where_that_is_known() -> None:
    """Stopped before anything could be estimated, there is no number to show."""
    rest = SimpleNamespace(steps=3, residual=2.5, remaining=math.inf, worst=0, worn=np.array([[0.1, 0.2, 1.3]]))
    assert "too soon to tell how much is still to move, wanted 0.5 mm" in unsettled_words(rest, FINE)
    rest.remaining = 0.0123
    said = unsettled_words(rest, FINE)
    assert "still to move 12.3 mm, wanted 0.5 mm" in said and "inf" not in said
