"""Which hem a draft is drawn and cut by: given, kept or estimated, and never one settled where none need be."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from stand_in import standing_body

from drape.draft.outline import run_of
from drape.fitting.hem_to_cut import draft_by, hem_at_hand, hem_of, settled_hem
from drape.fitting.hem_trim import NODES
from drape.fitting.scene import Scene, load_scene
from drape.fitting.settled_hem import ESTIMATE, GIVEN, Hem, keep_hem
from drape.fitting.starter_scene import STARTER_SCENE


@pytest.fixture
def scenes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Scene, Scene]:
    """The starter's scene, its length given and to the knee; the stand-in is their body; nothing may settle."""

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("settled")

    module = sys.modules[hem_at_hand.__module__]
    monkeypatch.setenv("DRAPE_CACHE_DIR", str(tmp_path / "cache"))
    monkeypatch.setattr(module, "figure_cut_for", lambda _: standing_body())
    monkeypatch.setattr(module, "sit", refuse)
    found = []
    for name, words in (("given", "length_cm = 110.0 "), ("knee", 'length_to = "knee" ')):
        (tmp_path / f"{name}.toml").write_text(STARTER_SCENE.replace("length_cm = 110.0 ", words), encoding="utf-8")
        found.append(load_scene(tmp_path / f"{name}.toml"))
    return found[0], found[1]


def test_a_length_given_needs_no_settling_and_is_no_estimate_though_one_is_asked_for(
    scenes: tuple[Scene, Scene],
) -> None:
    given, _ = scenes
    assert hem_at_hand(given) is GIVEN and hem_at_hand(given, estimate=True) is GIVEN
    assert settled_hem(given) is GIVEN


def test_a_place_of_the_figure_needs_settling_until_it_was_or_an_estimate_is_asked_for(
    scenes: tuple[Scene, Scene],
) -> None:
    _, knee = scenes
    assert hem_at_hand(knee) is None and hem_at_hand(knee, estimate=True) is ESTIMATE
    with pytest.raises(AssertionError, match="settled"):
        settled_hem(knee)
    keep_hem(knee, Hem(np.full(NODES, 0.02), 0.015, 0))
    assert settled_hem(knee).edge_length == hem_at_hand(knee).edge_length == 0.015


def test_a_fitting_that_did_not_settle_leaves_an_estimate(scenes: tuple[Scene, Scene]) -> None:
    given, knee = scenes
    rest, moving = (SimpleNamespace(trim=np.zeros(NODES), readings={"settled": settled}) for settled in (True, False))
    found = hem_of(knee, rest, edge_length=0.03, seed=2)
    assert found.trim is rest.trim and replace(found, trim=None) == Hem(None, 0.03, 2)
    assert hem_of(knee, moving, edge_length=0.03, seed=2) is ESTIMATE
    assert hem_of(given, moving, edge_length=0.03, seed=2) is GIVEN


def test_the_draft_has_the_trim_on_its_hem_and_says_when_it_is_an_estimate(scenes: tuple[Scene, Scene]) -> None:
    _, knee = scenes
    plain, trimmed = (draft_by(knee, Hem(trim, 0.015, 0)) for trim in (np.zeros(NODES), np.full(NODES, 0.02)))
    radii = [np.linalg.norm(run_of(draft, "hem"), axis=1) for draft in (plain, trimmed)]
    assert radii[1] - radii[0] == pytest.approx(0.02, abs=1e-9)
    assert not trimmed.is_estimate and draft_by(knee, ESTIMATE).is_estimate


def test_the_draft_is_in_one_piece_though_it_is_sewn_of_several(scenes: tuple[Scene, Scene]) -> None:
    given, _ = scenes
    sewn = replace(given, cutting=replace(given.cutting, sewn=True, bolt=replace(given.cutting.bolt, width=0.7)))
    assert draft_by(sewn, GIVEN).piecing == ()
