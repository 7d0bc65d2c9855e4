"""A front thrown over the other shoulder, and a wearer who leans: does it stay?

Common practice, no source: fulled wool thrown over the shoulder clings to itself there, and stays while the wearer
leans to work; a cloak with a smooth cloth outside does not. Where a throw comes to lie differs by mesh, so several are
made. Nothing here is tuned to that; what more meshes give stands in tests/bench/README.md.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from drape.fitting.scene import load_scene
from drape.wearing.choices import LEANING, THROWN
from drape.wearing.wear import Asked, wear

pytestmark = pytest.mark.long  # fronts thrown over and leant with, on two meshes each

SMOOTH = 0.15  # friction of smooth lining cloth on itself and on clothing; from memory
SEEDS = (0, 1)


def slides(friction: float | None) -> list[float]:
    """How far the thrown edge has slid on each mesh [cm]: when it was let go, and by leaning to 30° and back."""
    scene = load_scene("ferry-warden-tailored")
    if friction is not None:
        scene = replace(scene, cloth=replace(scene.cloth, friction_on_cloth=friction, friction_on_figure=friction))
    found = []
    for seed in SEEDS:
        asked = Asked((THROWN,), (LEANING,), edge_length=0.06, lean=float(np.radians(30.0)), seed=seed)
        ways = [way.readings for way in wear(scene, asked).ways]
        assert all(way["settled"] and way["crossings"] == 0 for way in ways)
        found.append(sum(way["slid_cm"] for way in ways))
    return found


def test_a_thrown_front_slides_less_the_rougher_it_is() -> None:
    rough, smooth = slides(None), slides(SMOOTH)
    assert np.mean(rough) < np.mean(smooth)
