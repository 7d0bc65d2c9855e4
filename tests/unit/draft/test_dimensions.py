"""What of a draft may be changed: each value given comes back from the draft it makes."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from stand_in import standing_body

from drape.draft.cloak import draft_cloak
from drape.draft.dimensions import DIMENSIONS, Dimension, shoulder_darts, value_of, whole_millimetres, with_value
from drape.draft.style import Dart, Style
from drape.fitting.scene_keys import SCENE_TABLES
from drape.reading.verdict import THRESHOLDS
from drape.units import from_si

STYLE = Style("tailored", 1.0, darts=(Dart(),))
DRAFT = draft_cloak(STYLE, standing_body())
BY_KEY = {(one.table, one.key): one for one in DIMENSIONS}


@pytest.mark.parametrize("one", DIMENSIONS, ids=lambda one: f"{one.table}.{one.key}")
def test_a_dimension_changed_by_a_step_is_found_so_in_the_draft(one: Dimension) -> None:
    before = value_of(STYLE, DRAFT, one)
    assert before is not None
    wanted = whole_millimetres(one.key, before + one.step)
    style = with_value(STYLE, DRAFT, one, wanted)
    assert value_of(style, draft_cloak(style, standing_body()), one) == pytest.approx(wanted, abs=1e-9)
    assert wanted - before == pytest.approx(one.step, abs=5.1e-4)


@pytest.mark.parametrize("one", DIMENSIONS, ids=lambda one: f"{one.table}.{one.key}")
def test_a_dimension_is_a_key_of_a_scene_and_cures_what_is_judged(one: Dimension) -> None:
    assert one.key in SCENE_TABLES[one.table].keys
    assert set(one.cures) <= set(THRESHOLDS) and one.cures
    assert 0 < one.step < one.reach and one.more != one.less


def test_what_a_draft_has_not_cannot_be_changed() -> None:
    plain = replace(STYLE, neck="round", darts=(), shoulder_cut_intake=0.0)
    draft = draft_cloak(plain, standing_body())
    have = {key for key, one in BY_KEY.items() if value_of(plain, draft, one) is not None}
    assert ("draft", "length_cm") in have
    assert not have & {
        ("dart", "intake_cm"),
        ("dart", "length_cm"),
        ("draft", "neck_width_cm"),
        ("closure", "shoulder_cut_intake_cm"),
    }


def test_a_dart_short_of_the_shoulder_point_has_no_length_of_its_own() -> None:
    style = replace(STYLE, darts=(Dart(point_short=0.02),))
    draft = draft_cloak(style, standing_body())
    assert value_of(style, draft, BY_KEY["dart", "length_cm"]) is None
    assert value_of(style, draft, BY_KEY["dart", "intake_cm"]) is not None


def test_both_shoulder_darts_change_by_as_much_and_one_behind_does_not() -> None:
    behind = Dart(azimuth=math.pi, length=0.12, intake=0.02)
    style = replace(
        STYLE,
        closure_place="centre front",
        darts=(Dart("left shoulder", intake=0.08), Dart("right shoulder", intake=0.09), behind),
    )
    draft = draft_cloak(style, standing_body())
    assert [k for k, *_ in shoulder_darts(style, draft)] == [0, 1]
    changed = with_value(style, draft, BY_KEY["dart", "intake_cm"], 0.095)
    assert [dart.intake for dart in changed.darts] == pytest.approx([0.095, 0.105, 0.02])


@pytest.mark.parametrize("value", [0.12345, 0.1, 1.10049, 0.0999])
def test_whole_millimetres_are_and_are_the_nearest(value: float) -> None:
    found = whole_millimetres("length_cm", value)
    assert 10 * from_si("length_cm", found) == pytest.approx(round(1000 * value), abs=1e-9)
    assert abs(found - value) <= 5.01e-4
