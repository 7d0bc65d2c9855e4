"""What a file may say, held to the style, the tape and the units it is made into."""

from __future__ import annotations

from dataclasses import fields

import pytest

from drape.body.stance import Stance
from drape.body.survey import SURVEY
from drape.body.tape import REQUIRED
from drape.body.tape import TAPE_KEYS as TAPE
from drape.cloth.sheet import Cloth
from drape.draft.style import CollarStyle, Dags, Dart, Style
from drape.fitting.scene_keys import (
    BODY_TABLES,
    CLOTH_KEYS,
    CLOTH_TABLES,
    SCENE_KEYS,
    SCENE_TABLES,
    STANCE_KEYS,
    TAPE_KEYS,
    TAPE_WORDS,
)
from drape.schema import Number, Text
from drape.units import bare_name, ending_of, to_si

EVERY_KEY = [
    (key, rule)
    for keys in (
        SCENE_KEYS,
        TAPE_KEYS,
        CLOTH_KEYS,
        *(t.keys for t in {**SCENE_TABLES, **BODY_TABLES, **CLOTH_TABLES}.values()),
    )
    for key, rule in keys.items()
]
NUMBERS = [(key, rule) for key, rule in EVERY_KEY if isinstance(rule, Number)]
PLAIN = (
    "max_steps",
    "strip",
    "buttons",
    "poisson_ratio",
    "friction_on_cloth",
    "friction_on_figure",
    "wet_friction_on_cloth",
    "wet_friction_on_figure",
    "price_per_metre",
)


def test_ranges_are_the_right_way_round_and_every_number_but_a_plain_one_carries_a_unit() -> None:
    assert len(NUMBERS) > 80
    for key, rule in NUMBERS:
        assert rule.low < rule.high, key
        assert rule.plain == (key in PLAIN), key
        assert rule.plain or ending_of(key), key


def test_a_number_several_of_a_key_have_the_same_range_wherever_it_may_stand() -> None:
    """A body file and a scene that overrides it must not differ on what is a body,
    nor a cloth file and a scene on cloth.
    """
    for table, other in (("tape", TAPE_KEYS), ("cloth", CLOTH_KEYS)):
        rules = {**BODY_TABLES, **CLOTH_TABLES}[table].keys
        shared = [key for key in other if isinstance(other[key], Number)]
        assert shared and [(rules[key].low, rules[key].high) for key in shared] == [
            (other[key].low, other[key].high) for key in shared
        ]


def test_every_tape_measure_may_be_written_and_those_that_are_due_are_due() -> None:
    assert {bare_name(key) for key in TAPE_KEYS} == set(TAPE)
    due = {bare_name(key) for key, rule in BODY_TABLES["tape"].keys.items() if rule.required}
    assert due == set(REQUIRED)
    assert not any(rule.required for rule in TAPE_KEYS.values())


@pytest.mark.parametrize("sex", ["man", "woman"])
def test_a_range_takes_in_all_but_the_rarest_adults(sex: str) -> None:
    """Mean and three standard deviations either way, ANSUR 1988 (NATICK/TR-89/044), of every measure it gives."""
    assert len(SURVEY[sex]) > 15
    for name, (mean, spread) in SURVEY[sex].items():
        low, high = (
            to_si(f"{name}_cm", value) for value in (TAPE_KEYS[f"{name}_cm"].low, TAPE_KEYS[f"{name}_cm"].high)
        )
        assert low < mean - 3 * spread and mean + 3 * spread < high, name


@pytest.mark.parametrize(
    ("keys", "made_into"),
    [
        (CLOTH_KEYS, Cloth),
        (STANCE_KEYS, Stance),
        (SCENE_TABLES["dart"].keys, Dart),
        (SCENE_TABLES["dags"].keys, Dags),
        (SCENE_TABLES["collar"].keys, CollarStyle),
    ],
    ids=["cloth", "stance", "dart", "dags", "collar"],
)
def test_every_key_of_a_table_is_a_field_of_what_it_is_made_into(keys, made_into) -> None:  # noqa: ANN001
    names = {bare_name(key) for key in keys} - {"shoulders"}  # how shoulders are set becomes their slope
    kept = {field.name for field in fields(made_into)} | {"twist_rigidity"}  # as its share of warp's and weft's
    assert names and names <= kept


def test_every_key_of_the_draft_and_the_closure_is_one_of_the_style() -> None:
    style = {field.name for field in fields(Style)}
    draft = {bare_name(key) for key in SCENE_TABLES["draft"].keys} - {"cut_for"}  # a body, not a dimension
    closure = {{"place": "closure_place"}.get(bare_name(key), bare_name(key)) for key in SCENE_TABLES["closure"].keys}
    assert draft <= style
    assert closure <= style


def test_every_word_for_a_measure_leads_to_keys_and_none_is_a_key() -> None:
    known = {bare_name(key) for key in TAPE_KEYS}
    assert len(TAPE_WORDS) > 30
    assert {key for keys in TAPE_WORDS.values() for key in keys} <= set(TAPE_KEYS)
    assert set(TAPE_WORDS) & known == set()


def test_no_choice_is_offered_twice() -> None:
    offered = [(key, rule.choices) for key, rule in EVERY_KEY if isinstance(rule, Text) and rule.choices]
    assert len(offered) > 12
    assert [key for key, choices in offered if len(set(choices)) < len(choices)] == []
