"""Bodies drawn from the survey: the same for the same seed, of the sex and stature asked for, and such as can stand."""

from __future__ import annotations

import numpy as np
import pytest

from drape.body.survey import KEYS, covariance
from drape.body.tape import fill_tape
from drape.study.bodies import drawn_bodies, drawn_measures


def test_the_same_seed_draws_the_same_bodies_and_another_does_not() -> None:
    first, again, other = (drawn_bodies(5, "woman", seed) for seed in (3, 3, 4))
    assert [dict(one.tape) for one in first] == [dict(one.tape) for one in again]
    assert [dict(one.tape) for one in first] != [dict(one.tape) for one in other]


def test_of_both_sexes_men_and_women_come_by_turns() -> None:
    assert [one.sex for one in drawn_bodies(5, "both", 0)] == ["man", "woman", "man", "woman", "man"]
    assert len({one.name for one in drawn_bodies(9, "both", 0)}) == 9
    assert drawn_bodies(0, "both", 0) == ()


def test_stature_keeps_within_what_was_asked_and_covers_it() -> None:
    statures = sorted(one.tape["stature"] for one in drawn_bodies(12, "man", 1, shortest=1.70, tallest=1.74))
    assert 1.70 <= statures[0] < 1.705 and 1.735 < statures[-1] <= 1.74


def test_other_measures_follow_stature_as_the_survey_says() -> None:
    """Of a normal distribution: the mean of the rest given stature, by its own covariance. The same seed draws the same
    chance twice, so that it cancels.
    """
    spread = covariance("man")
    tall, short = (drawn_measures(400, "man", 5, shortest=h, tallest=h + 0.001).mean(axis=0) for h in (1.85, 1.65))
    slope = (tall - short) / (tall[0] - short[0])
    assert slope == pytest.approx(spread[:, 0] / spread[0, 0], abs=1e-6)
    assert slope[KEYS.index("chest_girth")] > 0.1  # so that the check is none of noughts


def test_every_drawn_body_can_be_filled_in_and_few_give_way() -> None:
    bodies = drawn_bodies(60, "both", 2)
    filled = [fill_tape(one.tape, sex=one.sex)[1] for one in bodies]
    assert sum("shoulder_breadth" in names for names in filled) <= 25  # one of four, 15, and three deviations of 3.4
    assert all(
        set(names) & {"stature", "chest_girth", "neck_base_girth", "shoulder_length"} == set() for names in filled
    )


def test_a_tape_is_read_to_the_millimetre() -> None:
    values = np.array([1000.0 * value for one in drawn_bodies(4, "woman", 0) for value in one.tape.values()])
    assert np.abs(values - np.rint(values)).max() < 1e-9
