"""fastening: how far down, buttons along the edge. Sizes are common practice, no source, and say so."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drape.draft.fastening import BUTTON_FROM_EDGE, COLLAR_REACH, fasten, fastened_length
from drape.draft.style import Style, check_style
from drape.errors import DraftError

BODY = SimpleNamespace(
    landmarks={"front_neck": np.array([0.0, 0.1, 1.44])},
    levels={"chest": 1.28, "waist": 1.07, "hip": 0.86},
    tape={"arm_length": 0.6},
)


@pytest.mark.parametrize(
    ("style", "wanted"),
    [
        (Style("round", 1.1), 0.15),  # the shoulder's
        (Style("round", 1.1, fastened_length=0.3), 0.3),
        (Style("round", 1.1, fastened_to="collar"), COLLAR_REACH),
        (Style("round", 1.1, fastened_to="shoulder point"), 0.15),
        (Style("round", 1.1, fastened_to="elbow"), 0.15 + 0.3),
        (Style("round", 1.1, closure_place="centre front"), 1.44 - 1.28),
        (Style("round", 1.1, closure_place="centre front", fastened_to="waist"), 1.44 - 1.07),
        (Style("round", 1.1, closure_place="centre front", fastened_to="collar"), COLLAR_REACH),
    ],
)
def test_it_is_fastened_as_far_as_asked(style: Style, wanted: float) -> None:
    """Shoulder 15 cm, arm 60: to the elbow is the shoulder and half the arm; at centre front straight down."""
    check_style(style)
    assert fastened_length(style, BODY, None, 0.15) == pytest.approx(wanted, abs=1e-12)  # type: ignore[arg-type]


def test_a_cut_is_fastened_along_its_length() -> None:
    assert fastened_length(Style("round", 1.1), BODY, 0.13, 0.15) == 0.13  # type: ignore[arg-type]


@given(length=st.floats(0.1, 1.0), diameter=st.floats(0.01, 0.03))
@settings(max_examples=60, deadline=None)
def test_buttons_stand_evenly_from_a_diameter_down_to_the_end(length: float, diameter: float) -> None:
    """First a diameter below the neck edge, last at the end; 5 to 15 cm apart where nothing is asked, about the trade's
    9 to 11; half the overlap is three quarters of a button (all common practice, no source)."""
    made = fasten(Style("round", 1.1, fastened_length=length, button_diameter=diameter), BODY, None, 0.15)  # type: ignore[arg-type]
    assert made.kind == "buttons"
    assert made.places[0] == pytest.approx(diameter)
    assert made.places[-1] == pytest.approx(length)
    apart = np.diff(made.places)
    assert np.ptp(apart) < 1e-12
    assert 0.04 < apart[0] <= 0.1501
    assert made.overlap == pytest.approx(2 * BUTTON_FROM_EDGE * diameter)
    assert made.buttonhole == pytest.approx(diameter + 0.003)


def test_a_spacing_or_a_count_is_kept() -> None:
    spaced = fasten(Style("round", 1.1, fastened_length=0.5, button_spacing=0.09), BODY, None, 0.15)  # type: ignore[arg-type]
    assert np.diff(spaced.places) == pytest.approx(0.09)
    assert spaced.places[-1] <= 0.5 < spaced.places[-1] + 0.09
    assert len(fasten(Style("round", 1.1, fastened_length=0.5, buttons=7), BODY, None, 0.15).places) == 7  # type: ignore[arg-type]
    assert len(fasten(Style("round", 1.1, fastened_to="collar", buttons=1), BODY, None, 0.15).places) == 1  # type: ignore[arg-type]


def test_clasp_and_ties_sit_at_the_neck_and_nothing_asked_is_nothing() -> None:
    for kind in ("clasp", "ties"):
        made = fasten(Style("round", 1.1, fastening=kind), BODY, None, 0.15)  # type: ignore[arg-type]
        assert (made.kind, made.places, made.overlap) == (kind, (0.01,), 0.0)
    assert fasten(Style("round", 1.1), BODY, None, 0.15).kind == ""  # type: ignore[arg-type]


REFUSED = {
    "crowded": (
        Style("round", 1.1, fastened_length=0.15, buttons=9),
        r"closure\.buttons: buttons are closer than their size, got 9, 1\.62 apart, allowed at least 2 apart",
    ),
    "spacing": (
        Style("round", 1.1, button_spacing=0.015),
        r"closure\.button_spacing_cm: buttons are closer than their size, got 1\.5, allowed at least 2 apart",
    ),
    "over the edge": (
        Style("round", 1.1, buttons=2, overlap=0.015),
        r"closure\.overlap_cm: got 1\.5, allowed at least 2, or the buttons of 2 stand over the edge",
    ),
    "plate": (Style("round", 1.1, button_diameter=0.2), r"closure\.button_diameter_cm: got 20, allowed 0\.6 to 8"),
    "none": (Style("round", 1.1, buttons=0), r"closure\.buttons: got 0, allowed 1 to 60"),
    "both": (Style("round", 1.1, buttons=3, button_spacing=0.1), r"closure\.buttons: got button_spacing_cm as well"),
    "clasp with buttons": (
        Style("round", 1.1, fastening="clasp", buttons=3), r'closure\.buttons: got buttons with fastening = "clasp"',
    ),
    "negative": (Style("round", 1.1, overlap=-0.02), r"closure\.overlap_cm: got -2, allowed 0 to 500"),
    "to and length": (
        Style("round", 1.1, fastened_to="collar", fastened_length=0.2),
        r"closure\.fastened_to: got fastened_length_cm as well",
    ),
    "elbow in front": (
        Style("round", 1.1, closure_place="centre front", fastened_to="elbow"),
        r"closure\.fastened_to: got 'elbow', allowed collar, chest, waist or hip at this place of closure",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_refusals_are_one_line_with_the_value_and_what_to_try(case: str) -> None:
    style, wanted = REFUSED[case]
    with pytest.raises(DraftError, match=wanted) as caught:
        check_style(style)
        fasten(style, BODY, None, 0.15)  # type: ignore[arg-type]
    assert "\n" not in str(caught.value)
    assert str(caught.value).endswith(".")
