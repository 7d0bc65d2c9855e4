"""What a maker may ask for, whatever the figure: every refusal with its line, and where a dart without a place goes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import pytest

from drape.draft.style import (
    CLOSURE_PLACES,
    CollarStyle,
    Dags,
    Dart,
    Style,
    check_style,
    dart_place,
    named_darts,
    with_placed_darts,
)
from drape.errors import DraftError

PLAIN = Style("tailored", 1.1)
DRAWN = Style("drawn", 1.1, neck_along=(0.16, 0.1, -0.1, -0.15), neck_up=(0.0, 0.12, 0.12, 0.0))
COLLAR = CollarStyle(0.045)
REFUSED: Mapping[str, tuple[Style, str]] = {
    "neck": (Style("square", 1.1), r"draft\.neck: got 'square', allowed round, tailored or drawn"),
    "closure": (
        Style("round", 1.1, closure_place="centre back"),
        r"closure\.place: got 'centre back', allowed right shoulder, left shoulder or centre front",
    ),
    "dart place": (
        Style("round", 1.1, darts=(Dart("centre back"),)),
        r"dart\.place: got 'centre back', allowed left shoulder or right shoulder\. Or give azimuth_deg",
    ),
    "dart at the closure": (
        Style("round", 1.1, darts=(Dart("right shoulder"),)),
        r"dart\.place: got 'right shoulder', where the closure is, allowed the other shoulder",
    ),
    "two darts": (
        Style("round", 1.1, darts=(Dart(), Dart())),
        r"dart 2\.place: got 'left shoulder' twice, allowed one dart on each shoulder",
    ),
    "narrow sweep": (Style("round", 1.1, sweep=math.radians(80)), r"draft\.sweep_deg: got 80, allowed 90 to 360"),
    "wide sweep": (Style("round", 1.1, sweep=math.radians(400)), r"draft\.sweep_deg: got 400, allowed 90 to 360"),
    "no length": (Style("round", -0.05), r"draft\.length_cm: got -5, allowed 0\.1 to 500"),
    "not a number": (Style("round", math.nan), r"draft\.length_cm: got nan"),
    "depth": (
        Style("tailored", 1.1, front_neck_depth=-0.1),
        r"draft\.front_neck_depth_cm: got -10, allowed 0\.1 to 500",
    ),
    "ease": (Style("round", 1.1, neck_ease=-0.03), r"draft\.neck_ease_cm: got -3, allowed -1 to 500"),
    "tiny dart": (
        Style("round", 1.1, darts=(Dart(intake=0.001),)),
        r"dart\.intake_cm: got 0\.1, allowed 0 or at least 0\.2",
    ),
    "end of a closure": (replace(PLAIN, fastened_to="hip"),
     r"closure\.fastened_to: got 'hip', allowed collar, .* at this place of closure"),
    "end at the front": (
        replace(PLAIN, closure_place="centre front", fastened_to="elbow"),
        r"closure\.fastened_to: got 'elbow', allowed collar, chest, waist or hip",
    ),
    "two lengths": (replace(PLAIN, length_to="knee"), r"draft: got length_cm and length_to, allowed one of them"),
    "no length given": (replace(PLAIN, length=None),
     r"got no length, allowed one of length_cm, length_to, off_floor_cm"),
    "level and uneven": (replace(PLAIN, level=True, front_length=1.0), r"draft\.level: got front_length as well"),
    "points of another neck": (replace(DRAWN, neck="round"),
     r'got points for a round neck, allowed only with neck = "drawn"'),
    "three points": (replace(DRAWN, neck_along=(0.1, 0.0, -0.1), neck_up=(0.0, 0.1, 0.0)),
     r"got 3 along and 3 up, .* at least 4"),
    "unlike many": (replace(DRAWN, neck_up=(0.0, 0.1, 0.0)), r"got 4 along and 3 up, allowed equally many"),
    "drawn with a width": (replace(DRAWN, neck_width=0.15),
     r"draft\.neck_width_cm: got 15, allowed none with a drawn neck"),
    "place and azimuth": (replace(PLAIN, darts=(Dart("left shoulder", azimuth=1.0),)),
     r"dart\.azimuth_deg: got a place and an azimuth"),
    "length and point": (replace(PLAIN, darts=(Dart(length=0.1, point_short=0.02),)),
     r"dart\.point_short_cm: got length_cm as well"),
    "dart behind": (replace(PLAIN, darts=(Dart(azimuth=3.0, length=0.1),)),
     r"dart\.intake_cm: missing, allowed a length"),
    "bowed": (replace(PLAIN, darts=(Dart(length=0.1, leg_bow=0.03),)),
     r"dart\.leg_bow_cm: got 3, allowed -2 to 2 \(a fifth"),
    "nothing between": (
        replace(PLAIN, sweep=2 * math.pi, overlap=0.04),
        r"draft\.sweep_deg: got 360 with 2 cm to cut beyond .* up to 345",
    ),
    "fastened twice": (replace(PLAIN, fastened_to="collar", fastened_length=0.1),
     r"fastened_to: got fastened_length_cm as well"),
    "cuts at the front": (
        replace(PLAIN, closure_place="centre front", shoulder_cut_intake=0.05),
        r"closure\.shoulder_cut_intake_cm: got 5, allowed none at centre front",
    ),
    "buttons and ties": (replace(PLAIN, fastening="ties", buttons=3),
     r'closure\.buttons: got buttons with fastening = "ties"'),
    "no buttons": (replace(PLAIN, buttons=0), r"closure\.buttons: got 0, allowed 1 to 60"),
    "buttons and spacing": (replace(PLAIN, buttons=3, button_spacing=0.05),
     r"closure\.buttons: got button_spacing_cm as well"),
    "allowance of no collar": (replace(PLAIN, collar_allowance=0.01), r"allowances\.collar_cm: got 1 without a collar"),
    "cut of a collar": (replace(PLAIN, collar=replace(COLLAR, cut="round")),
     r"collar\.cut: got 'round', allowed shaped or straight"),
    "straight and taken in": (
        replace(PLAIN, collar=replace(COLLAR, cut="straight", taken_in=0.02)),
        r"collar\.taken_in_cm: got 2 for a straight collar",
    ),
    "buttons on an open collar": (
        replace(PLAIN, collar=replace(COLLAR, closed=False, buttons=2)),
        r"collar\.buttons: got 2 on a collar that stands open",
    ),
    "kind of dag": (replace(PLAIN, dags=(Dags("hem", "star", 0.09, 0.06),)),
     r"dags\.kind: got 'star', allowed square, round, pointed or leaf"),
    "small dag": (replace(PLAIN, dags=(Dags("hem", "leaf", 0.09, 0.004),)),
     r"dags\.depth_cm: got 0\.4, allowed at least 1"),
    "dags twice": (
        replace(PLAIN, dags=(Dags("hem", "leaf", 0.09, 0.06), Dags("hem", "round", 0.09, 0.06))),
        r"dags 2\.edge: got 'hem' twice",
    ),
    "dags of no collar": (replace(PLAIN, dags=(Dags("collar", "leaf", 0.03, 0.02),)),
     r"dags\.edge: got 'collar' without a collar"),
    "dags turned in": (
        replace(PLAIN, hem_allowance=0.04, dags=(Dags("hem", "leaf", 0.09, 0.06),)),
        r"dags\.edge: got 'hem', which has 4 cm cut on beyond it, allowed 0",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_what_contradicts_itself_is_refused_in_one_line(case: str) -> None:
    style, wanted = REFUSED[case]
    with pytest.raises(DraftError, match=wanted) as caught:
        check_style(style)
    message = str(caught.value)
    assert "\n" not in message and "allowed" in message and message.endswith(".")


@pytest.mark.parametrize(
    "style",
    [
        PLAIN,
        DRAWN,
        replace(PLAIN, sweep=math.radians(345), overlap=0.04),
        replace(PLAIN, darts=(Dart(intake=0.0), Dart(azimuth=3.0, length=0.1, intake=0.02, leg_bow=0.02))),
        replace(PLAIN, closure_place="centre front", darts=(Dart(),), fastened_to="hip", buttons=60),
        replace(
            PLAIN, collar=replace(COLLAR, buttons=2), collar_allowance=0.01, dags=(Dags("hem", "leaf", 0.01, 0.01),)
        ),
    ],
    ids=range(6),
)
def test_what_lies_on_the_limit_is_taken(style: Style) -> None:
    """The neighbours of the refusals above: an intake of nought, the widest sweep with an overlap, the smallest dag."""
    assert check_style(style) is None


def test_a_dart_without_a_place_goes_where_the_closure_is_not() -> None:
    found = {
        place: [dart_place(style, dart) for _, dart in named_darts(style)]
        for place in CLOSURE_PLACES
        for style in [replace(PLAIN, closure_place=place, darts=(Dart(),))]
    }
    assert found == {
        "right shoulder": ["left shoulder"], "left shoulder": ["right shoulder"],
        "centre front": ["left shoulder", "right shoulder"],
    }  # fmt: skip
    assert dart_place(PLAIN, Dart(azimuth=0.0)) is None


def test_darts_are_counted_as_the_maker_wrote_them() -> None:
    """One dart for both shoulders is one in messages; with several each is called by its number."""
    front = replace(PLAIN, closure_place="centre front", darts=(Dart(), Dart(azimuth=3.0)))
    assert [name for name, _ in named_darts(front)] == ["dart 1.", "dart 1.", "dart 2."]
    placed = with_placed_darts(front)
    assert [dart.place for dart in placed.darts] == ["left shoulder", None, "right shoulder"]
    assert with_placed_darts(placed) == placed
