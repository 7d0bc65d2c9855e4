"""A hem asked for at a place of the figure, or level, hangs there on the settled cloth: the whole chain, coarse."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from drape.draft.outline import length_of, run_of
from drape.draft.style import Dart
from drape.fitting.scene import load_scene
from drape.fitting.sit import sit

pytestmark = pytest.mark.long  # three cloaks settled at 4 cm


def worn(**asked):
    """The tailored ferry warden with other keys of its style, settled on a 4 cm mesh."""
    scene = load_scene("ferry-warden-tailored")
    return sit(replace(scene, style=replace(scene.style, **asked)), edge_length=0.04)


def test_the_knee_is_the_knee_front_and_back():
    """The mean hem within 20° of front, left, back and right is within 1 cm of the figure's own knee."""
    fitting = worn(length=None, length_to="knee")
    fall, knee = fitting.readings["fall"], 100 * fitting.levels["knee"]
    assert fitting.readings["settled"]
    for side in ("front", "back", "left", "right"):
        assert fall[f"{side}_cm"] == pytest.approx(knee, abs=1.0), side
    assert fall["reaches"] in ("the knee", "1 cm above the knee", "1 cm below the knee")
    assert np.ptp(fitting.readings["hem"]["trim_cm"]) > 1.0, "an arc alone would not hang so"


def test_a_level_hem_is_level_and_as_long_behind_as_asked():
    """Highest less lowest within 5 mm all round, the opening too; untrimmed it is several centimetres.

    Nothing is let out or taken off at centre back, so the hem comes to where it hung there before.
    """
    plain, level = worn(), worn(level=True)
    hem = level.worn[level.edges["hem"]][:, 2]
    assert level.readings["settled"]
    assert np.ptp(hem) <= 0.005
    assert plain.readings["fall"]["level_cm"] > 4.0
    assert level.readings["fall"]["back_cm"] == pytest.approx(plain.readings["fall"]["back_cm"], abs=1.0)
    assert level.readings["hem"]["trim_cm"][level.readings["hem"]["at_deg"].index(180)] == pytest.approx(0.0, abs=0.01)
    assert "hem" not in plain.readings
    assert length_of(run_of(level.draft, "hem")) == pytest.approx(level.draft.dimensions["hem_length"], abs=1e-6)


def test_the_shoulders_lie_as_well_closed_at_centre_front():
    """The same wedges over the same shoulders: stand-off under 1 cm,
    as the tailored draft has it closed on the right.
    """
    darts = (Dart("left shoulder"), Dart("right shoulder"))
    fitting = worn(closure_place="centre front", darts=darts)
    readings = fitting.readings
    assert readings["settled"] and readings["crossings"] == 0
    for side in ("left", "right"):
        assert readings[f"shoulder_{side}"]["stand_off_mean_cm"] < 1.0
    assert readings["closure"]["place"] == "centre front" and abs(readings["closure"]["shift_cm"]) < 2.5
    assert [dart["place"] for dart in readings["dart"]] == ["left shoulder", "right shoulder"]
