"""Tape measures filled in and held against each other: by geometry, and refusals with their line."""

from __future__ import annotations

import numpy as np
import pytest

from drape.body.superellipse import squareness_for
from drape.body.survey import MEAN
from drape.body.tape import PLAIN_KEYS, TAPE_KEYS, fill_tape, neck_half_width, shoulder_sweep
from drape.errors import FigureError

MAN = {"stature": 1.7558, "chest_girth": 0.9914, "waist_girth": 0.8399, "hip_girth": 0.9837}


@pytest.mark.parametrize("sex", ["man", "woman"])
def test_the_mean_of_the_survey_is_filled_from_its_girths_and_stature(sex: str) -> None:
    """ANSUR 1988: who has the means of the measures that are due is expected to have those of the rest."""
    due = {key: MEAN[sex][key] for key in ("stature", "chest_girth", "waist_girth", "hip_girth")}
    full, filled = fill_tape(due, sex=sex)
    for key in (
        "back_neck_height",
        "side_neck_height",
        "front_neck_height",
        "neck_base_girth",
        "neck_girth",
        "knee_height",
        "arm_length",
    ):
        assert full[key] == pytest.approx(MEAN[sex][key], abs=1e-6), key
    assert set(filled) == set(TAPE_KEYS) - set(due) and set(full) == set(TAPE_KEYS)


def test_what_is_given_is_kept_to_the_last_bit() -> None:
    first, _ = fill_tape(MAN, sex="man")
    given = {key: first[key] for key in PLAIN_KEYS}
    again, filled = fill_tape(given, sex="man")
    assert {key: again[key] for key in PLAIN_KEYS} == given
    assert set(filled) == set(TAPE_KEYS) - set(PLAIN_KEYS)


def test_two_of_slope_length_and_drop_make_the_third() -> None:
    """sin(slope) = drop / length: 15 cm at 30 degrees drops 7.5 cm; 12 cm with a 6 cm drop slopes 30 degrees."""
    full, _ = fill_tape({**MAN, "shoulder_length": 0.15, "shoulder_slope": np.radians(30.0)}, sex="man")
    assert full["side_neck_height"] - full["shoulder_point_height"] == pytest.approx(0.075, abs=1e-12)
    full, _ = fill_tape(
        {**MAN, "side_neck_height": 1.5, "shoulder_point_height": 1.44, "shoulder_length": 0.12}, sex="man"
    )  # fmt: skip
    assert np.degrees(full["shoulder_slope"]) == pytest.approx(30.0, abs=1e-9)


def test_two_slopes_make_the_mean_one_and_one_of_two_stands_for_both() -> None:
    full, _ = fill_tape({**MAN, "shoulder_slope_left": 0.40, "shoulder_slope_right": 0.50}, sex="man")
    assert full["shoulder_slope"] == pytest.approx(0.45)
    assert fill_tape({**MAN, "shoulder_slope_left": 0.40}, sex="man")[0]["shoulder_slope_right"] == 0.40


def test_breadth_over_the_shoulder_points_leaves_room_for_the_neck() -> None:
    """Breadth = 2 (half width of the neck + the way to the side), which is sqrt(cos^2 slope - sweep^2) of the
    length.
    """
    full, _ = fill_tape({**MAN, "shoulder_slope_left": 0.38, "shoulder_slope_right": 0.52}, sex="man")
    sweep, length = shoulder_sweep(full), full["shoulder_length"]
    aside = [length * np.sqrt(np.cos(slope) ** 2 - sweep**2) for slope in (0.38, 0.52)]
    assert 2 * neck_half_width(full) + sum(aside) == pytest.approx(full["shoulder_breadth"], rel=1e-12)
    assert 0.08 <= sweep <= 0.22


def test_a_section_of_which_one_side_is_given_is_an_ordinary_oval() -> None:
    """Broad and shallow or narrow and deep: the section is no squarer and no leaner than one of which neither is
    given.
    """
    for breadth in (0.28, 0.33):
        full, _ = fill_tape({**MAN, "chest_breadth": breadth}, sex="man")
        usual, _ = fill_tape(MAN, sex="man")
        assert (full["chest_depth"] < usual["chest_depth"]) == (breadth > usual["chest_breadth"])
        own, usually = (
            squareness_for(one["chest_girth"], one["chest_breadth"], one["chest_depth"]) for one in (full, usual)
        )
        assert own == pytest.approx(usually, abs=1e-3)


def test_a_child_has_a_large_head_for_its_height() -> None:
    """Head girths of our own statement: 50 cm at 0.9 m, 55 cm from 1.6 m, in a line between."""
    for stature, head in ((0.9, 0.50), (1.25, 0.525), (1.6, 0.55)):
        girths = {"chest_girth": min(0.62 * stature, 0.8), "waist_girth": 0.5 * stature, "hip_girth": 0.62 * stature}
        full, _ = fill_tape({"stature": stature, **girths}, sex="child")
        assert full["head_girth"] == pytest.approx(head), stature
        assert full["head_girth"] / stature > 0.9 * MEAN["woman"]["head_girth"] / MEAN["woman"]["stature"]


def test_the_wrists_height_and_the_arms_length_make_each_other() -> None:
    full, _ = fill_tape({**MAN, "wrist_height": 0.84}, sex="man")
    assert full["arm_length"] == pytest.approx(full["shoulder_point_height"] - 0.84, rel=1e-12)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"chest_girth": None}, ("chest_girth", "nothing")),
        ({"sholder_length": 0.15}, ("sholder_length", "shoulder_length")),
        ({"chest_girth": 99.1}, ("chest_girth", "9910.0 cm", "45 to 180")),
        ({"shoulder_slope": np.radians(60.0)}, ("shoulder_slope", "60.0 deg", "5 to 42")),
        ({"shoulder_length": 0.15, "shoulder_slope": np.radians(20.0), "side_neck_height": 1.51,
          "shoulder_point_height": 1.42}, ("20.0 deg", "9.0 cm", "5.1 cm")),
        ({"front_neck_height": 1.53, "back_neck_height": 1.52}, ("front_neck_height", "153.0 cm")),
        ({"shoulder_point_height": 1.53, "side_neck_height": 1.51}, ("shoulder_point_height", "153.0 cm", "151.0")),
        ({"waist_height": 1.4}, ("waist_height", "140.0 cm", "chest_height")),
        ({"neck_girth": 0.50, "neck_base_girth": 0.40}, ("neck_girth", "50.0 cm", "42.0")),
        ({"chest_breadth": 0.20, "chest_depth": 0.20}, ("chest", "20.0", "99.1")),
        ({"shoulder_breadth": 0.36, "shoulder_length": 0.16, "shoulder_slope": np.radians(22.0),
          "neck_base_girth": 0.41},
         ("shoulder_breadth", "36.0 cm", "too narrow", "shoulder_length 16.0", "22.0 deg", "neck_base_girth 41.0")),
        ({"shoulder_breadth": 0.46, "shoulder_length": 0.13, "shoulder_slope": np.radians(22.0),
          "neck_base_girth": 0.38},
         ("shoulder_breadth", "46.0 cm", "too broad", "neck_base_girth 38.0")),
        ({"upper_arm_breadth": 0.39, "shoulder_breadth": 0.40}, ("upper_arm_breadth", "39.0 cm", "41.6")),
        ({"head_girth": 0.65, "head_length": 0.18, "head_breadth": 0.14}, ("head_girth", "65.0 cm", "head_breadth")),
    ],
)  # fmt: skip
def test_what_makes_no_body_is_refused_in_one_line(change: dict[str, float | None], words: tuple[str, ...]) -> None:
    tape = {key: value for key, value in {**MAN, **change}.items() if value is not None}
    with pytest.raises(FigureError) as caught:
        fill_tape(tape, sex="man")
    message = str(caught.value)
    assert "\n" not in message and message.startswith("figure: ") and "got" in message and "allowed" in message
    for word in words:
        assert word in message


def test_unknown_sex_is_refused() -> None:
    with pytest.raises(FigureError, match="man, woman, child"):
        fill_tape(MAN, sex="other")
