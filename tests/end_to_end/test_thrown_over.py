"""A front thrown over the other shoulder, as `drape wear` does it, and leaning to 30° after it: friction decides.

Common practice, no source: fulled wool clings to itself there and stays while one leans to work, smooth lining cloth
does not. Held by friction alone, it has to cling hard: some 0.7 N of the front's 7 N hang behind the shoulder, and pull
against ten times as much and more. By the belt's equation (Euler; Eytelwein 1808) cloth over 150° holds e^(2.6 μ)
times what hangs behind: 23 times at μ 1.2, 4 at 0.5 (heavy melton, from memory), 1.5 at 0.15. Of three meshes the
front of heavy melton stayed on one. Measurements beside `tests/bench/thrown_over.py`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from drape.fitting.scene import load_scene
from drape.wearing.choices import LEANING, THROWN
from drape.wearing.wear import Asked, wear

pytestmark = pytest.mark.long  # two cloaks of small triangles, since larger ones hold on to each other


def worn(**friction):
    """Readings of the front thrown over, and of leaning after it, in heavy melton of other friction."""
    scene = load_scene("ferry-warden-tailored")
    scene = replace(scene, cloth=replace(scene.cloth, **friction))
    asked = Asked((THROWN,), (LEANING,), edge_length=0.03, lean=float(np.radians(30.0)))
    ways = [way.readings for way in wear(scene, asked).ways]
    assert all(way["crossings"] == 0 and way["deepest_mm"] < 1.0 for way in ways)
    return ways


def test_wool_that_clings_stays_thrown_over_while_one_leans():
    assert [way["stays"] for way in worn(friction_on_cloth=1.2)] == [True, True]


def test_smooth_cloth_slides_down_when_it_is_let_go():
    assert not worn(friction_on_cloth=0.15, friction_on_figure=0.15)[0]["stays"]
