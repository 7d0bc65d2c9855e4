"""Sizes: dimensions from body to body, the steps between, and how they grow with stature and chest, of known drafts."""

from __future__ import annotations

from dataclasses import replace

import pytest
from studied import SCENE, member, outcomes, readings

from drape.study.results import Result, results_of
from drape.study.sizes import grading, size_columns, sizes_of, steps_between, varying

BODIES = {"b": (1.60, 0.90), "a": (1.60, 0.86), "d": (1.84, 1.10), "c": (1.76, 0.94), "e": (1.70, 1.20)}


def sizes(width: float = 0.0) -> list[Result]:
    """Neck width grows by 0.5 cm for 4 cm of chest and 0.2 for 8 cm of stature, and one body is `width` off that."""
    members = [
        member(k, {"body": name}, tape={**SCENE.tape, "stature": tall, "chest_girth": chest})
        for k, (name, (tall, chest)) in enumerate(BODIES.items())
    ]
    found = results_of(members, outcomes(members, lambda *_: readings()))
    made = []
    for one, (tall, chest) in zip(found, BODIES.values(), strict=True):
        off = width if one.member.setting["body"] == "d" else 0.0
        grown = 10.0 + 0.5 * 100 * chest / 4 + 0.2 * 100 * tall / 8 + off
        made.append(replace(one, dimensions={"neck_width_cm": grown, "length_cm": 112.0, "places": [1]}))
    return made


def test_sizes_come_smallest_chest_first_with_steps_between() -> None:
    found = sizes_of(sizes())
    assert [one.body for one in found] == ["a", "b", "c", "d", "e"]
    assert varying(found) == ["neck_width_cm"]
    assert steps_between(found, "neck_width_cm") == pytest.approx([0.5, 0.9, 2.2, 0.9])


def test_grading_finds_how_a_dimension_grows() -> None:
    (step,) = grading(sizes_of(sizes()))
    assert (step.dimension, step.off) == ("neck_width_cm", pytest.approx(0.0, abs=1e-9))
    assert step.by == pytest.approx((0.2, 0.5))
    (off,) = grading(sizes_of(sizes(1.0)))
    assert off.off > 0.1


def test_too_few_sizes_have_no_grading() -> None:
    assert grading(sizes_of(sizes()[:3])) == []
    alike = [one for one in sizes_of(sizes()) if one.body == "a"] * 5
    assert grading(alike) == []


def test_a_body_without_a_draft_has_no_size() -> None:
    assert len(sizes_of([*sizes(), replace(sizes()[0], dimensions={})])) == 5


def test_every_dimension_is_a_column() -> None:
    found = size_columns(sizes_of(sizes()))
    assert found["body"] == ["a", "b", "c", "d", "e"] and found["tape.chest_girth_cm"][0] == 86.0
    assert (
        found["drafted.length_cm"] == [112.0] * 5 and found["sits"] == ["undecided"] * 5 or found["sits"] == ["yes"] * 5
    )
