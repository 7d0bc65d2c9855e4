"""Both shipped scenes, settled on a 3 cm mesh, against what their own headers say.

The ranges are those of the headers: they hold every one of three meshes at 3 cm (tests/bench/README.md). The trade's
sayings about the two drafts are common practice, no source; where ours disagree (the round neck does not gape behind),
the header says so.
"""

from __future__ import annotations

import numpy as np
import pytest

from drape.fitting.scene import load_scene
from drape.fitting.sit import sit

pytestmark = pytest.mark.long  # two cloaks settled at 3 cm

SCENES = ("ferry-warden-round", "ferry-warden-tailored")


@pytest.fixture(scope="module")
def worn():
    return {name: sit(load_scene(name), edge_length=0.03) for name in SCENES}


@pytest.fixture(scope="module")
def round_neck(worn):
    return worn[SCENES[0]].readings


@pytest.fixture(scope="module")
def tailored(worn):
    return worn[SCENES[1]].readings


@pytest.mark.parametrize("name", SCENES)
def test_it_settles_honestly(worn, name):
    readings = worn[name].readings
    assert readings["settled"] and readings["residual"] <= 0.02 and readings["remaining_mm"] <= 0.5
    assert readings["deepest_mm"] < 1.0
    assert readings["weight"]["balance_error_percent"] < 2.0
    assert np.isfinite(worn[name].worn).all()


@pytest.mark.parametrize("name", SCENES)
def test_no_cloth_passes_through_cloth(worn, name):
    assert worn[name].readings["crossings"] == 0


def test_the_round_neck_does_what_its_header_says(round_neck):
    for side in ("left", "right"):
        assert 0.6 <= round_neck[f"shoulder_{side}"]["stand_off_mean_cm"] <= 2.5
    assert 20 <= round_neck["spare"]["percent"] <= 40
    folds_in, stands_up = round_neck["crowding"]["fullness_percent"][0], round_neck["neck"]["ride_back_cm"]
    assert 10 <= folds_in <= 40 or stands_up > 2
    assert 3 <= round_neck["neck"]["ride_front_cm"] <= 9
    assert round_neck["neck"]["throat_load_n"] > 0.5
    assert round_neck["neck"]["gap_back_cm"] < 0.5


def test_the_tailored_neck_does_what_its_header_says(tailored):
    for side in ("left", "right"):
        assert tailored[f"shoulder_{side}"]["stand_off_mean_cm"] < 0.7
    assert -3 < tailored["spare"]["percent"] < 3
    assert tailored["crowding"]["max_percent"] < 2
    assert 1.2 <= tailored["neck"]["ride_front_cm"] <= 2.2
    assert 0.3 <= tailored["neck"]["gap_left_cm"] <= 1.2


def test_the_drafts_differ_by_more_than_meshes_do(round_neck, tailored):
    """Half ranges over three meshes at 3 cm, the larger of the two drafts'.

    Crowding and ride are not among them: the round neck folds in or stands up, by chance.
    The gap behind is nought in both.
    """
    for side, spread in (("left", 0.27), ("right", 0.28)):
        key = f"shoulder_{side}"
        assert round_neck[key]["stand_off_mean_cm"] - tailored[key]["stand_off_mean_cm"] > spread
        assert tailored[key]["lie_percent"] - round_neck[key]["lie_percent"] > 6
    assert round_neck["fall"]["left_cm"] - tailored["fall"]["left_cm"] > 1.5
