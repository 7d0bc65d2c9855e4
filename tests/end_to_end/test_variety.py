"""The scenes that show what may be put on the cloth: each drafts, meshes and starts; two of them settle, coarse.

All of them settled at their own size, against their headers: `python tests/bench/scenes.py`, by hand.
"""

from __future__ import annotations

import numpy as np
import pytest

from drape.body.signed_distance import distance
from drape.cloth.dressing import dress
from drape.cloth.mesh import triangulate
from drape.cloth.mesher import quality_of
from drape.cloth.self_contact import crossing_count, weave
from drape.cloth.sheet import sew
from drape.draft.cloak import draft_cloak, with_meshed_dags
from drape.draft.outline import length_of, run_of
from drape.fitting.scene import load_scene, shipped_scenes
from drape.fitting.sit import figure_of, sit
from drape.reading.verdict import THRESHOLDS

pytestmark = pytest.mark.long  # eight scenes settled at 4 cm

SCENES = tuple(name for name in shipped_scenes() if name not in ("ferry-warden-round", "ferry-warden-tailored"))


def test_there_are_eight_and_they_show_the_variety() -> None:
    styles = {name: load_scene(name).style for name in SCENES}
    assert len(styles) == 8
    assert {style.closure_place for style in styles.values()} == {"right shoulder", "left shoulder", "centre front"}
    assert {round(np.degrees(style.sweep)) for style in styles.values()} >= {180, 270}
    assert sum(style.collar is not None for style in styles.values()) >= 2
    assert any(len(style.darts) == 2 for style in styles.values())
    assert any({dags.edge for dags in style.dags} == {"hem", "collar"} for style in styles.values())
    assert any(style.length_to == "knee" for style in styles.values())
    assert any(len(load_scene(name).layers) > 1 for name in SCENES)
    assert any(load_scene(name).sex == "child" for name in SCENES)
    assert all(load_scene(name).expect not in ("", "To be measured.") for name in SCENES)


@pytest.mark.parametrize("name", SCENES)
def test_each_starts_on_its_figure_without_crossing(name: str) -> None:
    scene = load_scene(name)
    figure = figure_of(scene)
    draft = with_meshed_dags(draft_cloak(scene.style, figure), scene.edge_length)
    for seam in draft.seams:
        assert length_of(run_of(draft, seam.first)) == pytest.approx(length_of(run_of(draft, seam.second)), abs=1e-3)
    mesh = triangulate(draft, edge_length=0.06)
    assert quality_of(mesh.flat, mesh.triangles).min() >= 0.5
    sheet = sew(mesh, scene.cloth, grain=draft.grain)
    start = dress(draft, mesh, sheet, figure, thickness=scene.cloth.thickness)
    assert crossing_count(weave(sheet.triangles), start) == 0
    assert distance(figure.field, start).min() >= 0.5 * scene.cloth.thickness


@pytest.mark.parametrize("name", ["lamp-bearer-collar", "child-lamp-bearer"])
def test_it_settles_honestly(name: str) -> None:
    readings = sit(load_scene(name), edge_length=0.04).readings
    assert readings["settled"] and readings["residual"] <= 0.02 and readings["remaining_mm"] <= 0.5
    assert readings["crossings"] == 0 and readings["deepest_mm"] < 1.0
    assert readings["weight"]["balance_error_percent"] < 2.0
    if name == "lamp-bearer-collar":
        assert all(readings["collar"][f"stands_{side}_percent"] > 50 for side in ("front", "left", "back", "right"))
    else:  # asked for at mid-calf: within 1 cm all round, and held to the verdict's caution about floors
        height = 100 * figure_of(load_scene(name)).levels["mid_calf"]
        assert all(abs(readings["fall"][f"{side}_cm"] - height) < 1.0 for side in ("front", "left", "back", "right"))
        assert readings["fall"]["clearance_cm"] > THRESHOLDS["clearance_cm"].value
