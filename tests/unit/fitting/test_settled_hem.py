"""The hem that was settled, kept for whoever cuts: the finest mesh's, for the same content and no other."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from drape.cutting.lay import Bolt, CuttingPlan
from drape.fitting.hem_trim import NODES
from drape.fitting.scene import Scene, load_scene
from drape.fitting.settled_hem import ESTIMATE, GIVEN, Hem, keep_hem, recall_hem, sewn_plan
from drape.fitting.starter_scene import STARTER_SCENE


@pytest.fixture
def scene(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Scene:
    """The starter's scene, to the knee, and a cache of its own."""
    monkeypatch.setenv("DRAPE_CACHE_DIR", str(tmp_path / "cache"))
    (tmp_path / "mine.toml").write_text(
        STARTER_SCENE.replace("length_cm = 110.0 ", 'length_to = "knee" '), encoding="utf-8"
    )
    return load_scene(tmp_path / "mine.toml")


def hem(edge: float, seed: int = 0, by: float = 0.01) -> Hem:
    return Hem(np.full(NODES, by), edge, seed)


def test_a_given_length_is_as_final_as_a_settled_one() -> None:
    assert (GIVEN.word, hem(0.02).word, ESTIMATE.word) == ("settled", "settled", "estimate")


def test_the_finest_meshs_hem_is_kept_whatever_the_order(scene: Scene) -> None:
    assert recall_hem(scene) is None
    for one in (hem(0.03, by=0.03), hem(0.015, seed=4, by=0.015), hem(0.06, by=0.06), hem(0.015, seed=9, by=0.9)):
        keep_hem(scene, one)
    found = recall_hem(scene)
    assert (found.edge_length, found.seed) == (0.015, 4)
    assert found.trim == pytest.approx(np.full(NODES, 0.015))
    keep_hem(scene, hem(0.015, seed=1, by=0.1))
    assert recall_hem(scene).seed == 1
    for starts, seed in ((5, 7), (3, 0), (1, 0)):  # the most typical of more starts stays
        keep_hem(scene, replace(hem(0.015, seed=seed), starts=starts))
        assert recall_hem(scene).seed == 7


def test_words_colours_and_limits_share_a_hem_and_cloth_body_and_style_do_not(scene: Scene) -> None:
    keep_hem(scene, hem(0.02))
    same = {
        "title": "Another",
        "expect": "No.",
        "colours": {},
        "edge_length": 0.06,
        "limits": {"gap_cm": 1.0},
        "name": "b",
    }
    for key, value in same.items():
        assert recall_hem(replace(scene, **{key: value})) is not None, key
    other = {
        "style": replace(scene.style, sweep=2.0), "cloth": replace(scene.cloth, thickness=0.004),
        "tape": {**scene.tape, "stature": 1.7}, "arms": ("down", "forward"), "max_steps": 7,
    }  # fmt: skip
    for key, value in other.items():
        assert recall_hem(replace(scene, **{key: value})) is None, key


def test_of_a_cutting_plan_only_what_is_sewn_and_the_warp_count() -> None:
    """Unsewn, the width of the cloth changes nothing that hangs; sewn, its seams do, its price does not."""
    narrow, wide = (
        CuttingPlan(Bolt(width, price=price, shrinkage=0.05), grain=0.3) for width, price in ((0.7, 3.0), (1.4, 9.0))
    )
    assert sewn_plan(narrow) == sewn_plan(wide) != sewn_plan(replace(wide, grain=0.2))
    narrow, wide = replace(narrow, sewn=True), replace(wide, sewn=True)
    assert sewn_plan(narrow) != sewn_plan(wide)
    assert sewn_plan(narrow) == sewn_plan(replace(narrow, bolt=Bolt(0.7)))
