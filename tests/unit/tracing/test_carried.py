"""A draft carried over: the same body changes nothing; a body half again as large, everything in proportion."""

from __future__ import annotations

import math

import pytest
from stand_in import standing_body

from drape.draft.cloak import draft_cloak
from drape.draft.style import Dart, Style
from drape.tracing.carried import carried

SIZES = {"shoulder": 0.1505, "half_neck": 0.0637, "girth": 0.4084, "front": (0.035, -0.0711), "back": (-0.055, 0.0099)}
OLD = standing_body(**SIZES)
TAILORED = Style(
    neck="tailored", length=1.0, front_neck_depth=0.235, back_neck_depth=0.168, neck_width=0.149,
    shoulder_cut_intake=0.096, shoulder_cut_length=0.15,
    darts=(Dart(place="left shoulder", length=0.15, intake=0.096),),
)  # fmt: skip
ROUND = Style(
    neck="round", length=0.9, front_neck_depth=0.16, sweep=math.radians(200),
    darts=(Dart(azimuth=math.pi, length=0.1, intake=0.04),),
)  # fmt: skip
DRAWN = Style(
    neck="drawn", length=0.9, neck_along=(0.17, 0.15, 0.0, -0.12, -0.16), neck_up=(0.0, 0.15, 0.16, 0.11, 0.0),
)  # fmt: skip


def larger(share):
    body = standing_body(**{name: tuple(share * v for v in size) if isinstance(size, tuple) else share * size
                            for name, size in SIZES.items()})  # fmt: skip
    for mark in body.landmarks.values():
        mark[2] += (share - 1) * 1.5095  # its height as well
    return body


@pytest.mark.parametrize("style", [TAILORED, ROUND, DRAWN], ids=["tailored", "round", "drawn"])
def test_the_same_body_changes_nothing(style):
    made, changes = carried(style, OLD, OLD)
    assert changes == ()
    assert draft_cloak(made, OLD).dimensions == pytest.approx(draft_cloak(style, OLD).dimensions, rel=1e-6)


@pytest.mark.parametrize("style", [TAILORED, ROUND, DRAWN], ids=["tailored", "round", "drawn"])
def test_on_a_larger_body_every_length_grows_alike_and_the_angles_stay(style):
    share = 1.1
    new = larger(share)
    made, changes = carried(style, OLD, new)
    before, after = draft_cloak(style, OLD).dimensions, draft_cloak(made, new).dimensions
    for name in ("front_neck_depth", "back_neck_depth", "neck_edge_length", "hem_radius", "hem_length"):
        assert after[name] == pytest.approx(share * before[name], rel=2e-3), name
    for name in ("dart_intake", "dart_length", "shoulder_cut_length"):
        assert after.get(name, 0.0) == pytest.approx(share * before.get(name, 0.0), rel=1e-6), name
    assert made.sweep == style.sweep
    assert {one.key for one in changes} >= {"draft.length"} and all(one.reason for one in changes)


def test_a_steeper_shoulder_takes_twice_its_slope_out_of_the_wedge():
    new = standing_body(**SIZES, slope=26.4 + 5.0)
    made, changes = carried(TAILORED, OLD, new)
    turn = 2 * math.asin(0.096 / 0.3)
    expected = 2 * 0.15 * math.sin((turn - 2 * math.radians(5.0)) / 2)
    assert made.darts[0].intake == pytest.approx(expected) and made.shoulder_cut_intake == pytest.approx(expected)
    (dart,) = (one for one in changes if one.key == "dart, left shoulder: intake")
    assert dart.before == 0.096 and "31 degrees, 26 before" in dart.reason


def test_a_wedge_that_is_no_longer_asked_for_is_left_out_and_said():
    new = standing_body(**SIZES, slope=26.4 + 19.0)
    made, changes = carried(TAILORED, OLD, new)
    assert made.darts == () and made.shoulder_cut_intake == 0.0
    assert {one.key: one.after for one in changes}["dart, left shoulder: intake"] == 0.0
