"""A cloak worn in ways: what is asked, what comes out, that the same comes out again."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from drape.errors import SceneError
from drape.fitting.scene import load_cloth, load_scene
from drape.wearing.choices import CLOSED, HOWS, LEANING, OPEN, RAISED, THROWN
from drape.wearing.moving import Wearer
from drape.wearing.wear import Asked, asked_of, wear

CONTRACT = {
    "how", "doing", "settled", "stays", "slid_cm", "cover", "pull_n", "throat_n", "shoulder_left_percent",
    "shoulder_right_percent", "hem_lowest_cm",
}  # fmt: skip


def test_what_is_left_out_is_every_way_and_no_move():
    scene = load_scene("ferry-warden-tailored")
    asked = asked_of(scene, [], [], edge_length=0.06)
    assert (asked.hows, asked.doings, asked.lean) == (HOWS, (), pytest.approx(np.radians(40.0)))
    asked = asked_of(scene, [THROWN, THROWN], ["lean"], edge_length=0.06, lean_deg=30.0)
    assert (asked.hows, asked.doings, asked.lean) == ((THROWN,), ("lean",), pytest.approx(np.radians(30.0)))


def test_a_lean_that_nobody_makes_is_refused():
    with pytest.raises(SceneError, match="--lean-deg: got 90, allowed 5 to 60"):
        asked_of(load_scene("ferry-warden-tailored"), [], [], edge_length=0.06, lean_deg=90.0)


@pytest.mark.long
def test_every_way_comes_to_rest_without_crossings_and_says_what_was_promised():
    scene = load_scene("ferry-warden-tailored")
    found = wear(scene, Asked(HOWS, (), edge_length=0.06))
    assert [way.readings["how"] for way in found.ways] == list(HOWS) and found.left_out == ()
    for way in found.ways:
        one = way.readings
        assert set(one) >= CONTRACT and set(one["cover"]) == {"front_percent", "back_percent", "rain_percent"}
        assert one["settled"] and one["crossings"] == 0
        assert one["shoulder_left_percent"] + one["shoulder_right_percent"] == pytest.approx(100.0, abs=1.5)
        json.dumps(one, allow_nan=False)
    by_how = {way.readings["how"]: way.readings for way in found.ways}
    assert by_how["one arm free"]["arms"]["right"]["free"] and not by_how["closed"]["arms"]["right"]["free"]
    assert by_how[OPEN]["pull_n"] is None
    names = [shape.name for shape in found.shapes]
    assert len(set(names)) == len(names) and f"{scene.name}-thrown-over" in names


@pytest.mark.long
def test_a_hand_that_is_raised_does_not_go_through_thin_cloth():
    """Its folds cross where the whole of a stretch is made at once; what then stayed behind was pierced, 16 mm deep."""
    scene, thin = load_scene("ferry-warden-tailored"), load_cloth("light suiting")
    found = wear(replace(scene, cloth=thin, outside=thin), Asked((RAISED,), (), edge_length=0.06))
    (one,) = (way.readings for way in found.ways)
    assert one["crossings"] == 0 and one["deepest_mm"] < 1.0


@pytest.mark.long
def test_the_same_comes_out_again_whether_kept_or_not():
    scene, asked = load_scene("ferry-warden-tailored"), Asked((OPEN,), (), edge_length=0.06)
    first, again = (wear(scene, replace(asked, cached=cached)) for cached in (True, False))
    for a, b in zip(first.shapes, again.shapes, strict=True):
        assert a.worn.tobytes() == b.worn.tobytes()


@pytest.mark.long
def test_how_far_a_move_has_come_is_told_on_the_way(monkeypatch):
    """A move of fine cloth takes minutes. Here the wearer only seems to move, so that it takes none: standing is the
    first half of all, the way there half of the rest, and there is no way back.
    """
    monkeypatch.setattr(Wearer, "stretch", lambda *_, **__: None)
    heard = []
    wear(load_scene("ferry-warden-tailored"), Asked((CLOSED,), (LEANING,), edge_length=0.06), progress=heard.append)
    moving = [one.fraction for one in heard if one.words == "closed, lean"]
    assert len(set(moving)) > 10 and moving == sorted(moving)
    assert (moving[0], moving[-1]) == pytest.approx((0.6, 0.8))
