"""What a body file says under [stance] comes out on the mesh, by so much and on the right side; nothing else moves."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from families import most_are_long

from drape.body.figure import Figure, build_figure
from drape.body.measure import measure_figure
from drape.body.stance import UPRIGHT_STANCE, Stance, bend, neck_lean, stand
from drape.body.tape import fill_tape
from drape.errors import FigureError

MAN = {"stature": 1.7558, "chest_girth": 0.9914, "waist_girth": 0.8399, "hip_girth": 0.9837}
GIRTHS = ("chest_girth", "waist_girth", "hip_girth", "neck_girth", "neck_base_girth", "head_girth", "shoulder_length")

AHEAD, STOOPING = Stance(head_forward=0.03, full_chest=0.02), Stance(stoop=0.05)
LOW_LEFT, LOW_RIGHT = Stance(full_back=0.02, low_left=0.02), Stance(full_back=0.02, low_right=0.02)


@pytest.fixture(autouse=True)
def bare(monkeypatch: pytest.MonkeyPatch) -> None:
    """Figures without their distance field, which costs as much as the rest: only their skin is looked at here."""
    monkeypatch.setattr("drape.body.figure.distance_field", lambda *_: None)


@cache
def standing(stance: Stance) -> Figure:
    return build_figure(MAN, stance=stance)


def most(figure: Figure, height: float, sign: float) -> float:
    """How far front (1) or back (-1) the level section reaches at a height, arms left out [m]."""
    near = (np.abs(figure.vertices[:, 2] - height) < 0.006) & (np.abs(figure.vertices[:, 0]) < 0.14)
    return float((sign * figure.vertices[near, 1]).max())


def head_front(figure: Figure) -> float:
    return most(figure, figure.vertices[:, 2].max() - 0.10, 1.0)


@pytest.mark.long
def test_head_forward_moves_the_head_and_leaves_the_neck_base() -> None:
    """3 cm asked, 3 cm found at the brow; the neck base stays within 1 mm."""
    usual, forward = standing(UPRIGHT_STANCE), standing(AHEAD)
    assert head_front(forward) - head_front(usual) == pytest.approx(0.03, abs=0.001)
    assert np.abs(forward.neck_base - usual.neck_base).max() < 0.001


@pytest.mark.long
def test_a_stoop_moves_the_neck_base_and_leaves_the_waist() -> None:
    """5 cm asked, 5 cm found midway between back and front neck point; waist and hips stay, the head goes further."""
    usual, stooping = standing(UPRIGHT_STANCE), standing(STOOPING)
    one, other = (
        0.5 * (figure.landmarks["back_neck"] + figure.landmarks["front_neck"]) for figure in (usual, stooping)
    )
    assert (other - one)[1] == pytest.approx(0.05, abs=0.003)
    assert head_front(stooping) - head_front(usual) > 0.055
    for level in ("waist", "hip"):
        assert most(stooping, usual.levels[level], -1.0) == pytest.approx(
            most(usual, usual.levels[level], -1.0), abs=0.001
        )
    assert stooping.landmarks["back_neck"][2] == pytest.approx(usual.landmarks["back_neck"][2], abs=0.001)
    assert stooping.landmarks["front_neck"][2] < usual.landmarks["front_neck"][2] - 0.005


@pytest.mark.parametrize(("stance", "sign", "share"), most_are_long([(AHEAD, 1.0, 0.0), (LOW_LEFT, -1.0, 0.36)], AHEAD))
def test_a_full_chest_or_back_stands_out_by_so_much(stance: Stance, sign: float, share: float) -> None:
    """2 cm asked; in front at the chest, behind at the blades, which lie 36 % of the way from there to the shoulder
    points.
    """
    usual, full = standing(UPRIGHT_STANCE), standing(stance)
    height = usual.levels["chest"] + share * (usual.tape["shoulder_point_height"] - usual.levels["chest"])
    assert most(full, height, sign) - most(usual, height, sign) == pytest.approx(0.02, abs=0.005)
    assert most(full, usual.levels["waist"], sign) == pytest.approx(most(usual, usual.levels["waist"], sign), abs=0.002)


@pytest.mark.parametrize("stance", [AHEAD, STOOPING, LOW_LEFT])
def test_girths_stay_as_taped(stance: Stance) -> None:
    figure = standing(stance)
    got = measure_figure(figure)
    assert [key for key in GIRTHS if abs(got[key] / figure.tape[key] - 1.0) > 0.01] == []


@pytest.mark.long
def test_a_lower_shoulder_is_lower_by_so_much_and_mirrors() -> None:
    left, right = standing(LOW_LEFT), standing(LOW_RIGHT)
    for figure, low, high in ((left, "left", "right"), (right, "right", "left")):
        marks = figure.landmarks
        assert marks[f"shoulder_point_{high}"][2] - marks[f"shoulder_point_{low}"][2] == pytest.approx(0.02, abs=0.003)
    one, other = left.landmarks["shoulder_point_left"], right.landmarks["shoulder_point_right"]
    assert np.abs(one * [-1.0, 1.0, 1.0] - other).max() < 0.003


@pytest.mark.parametrize(
    ("word", "sex", "slope"),
    [("square", "man", 20.1), ("sloping", "man", 33.0), ("square", "woman", 19.2), ("sloping", "woman", 32.0)],
)
def test_square_and_sloping_shoulders_are_the_surveys(word: str, sex: str, slope: float) -> None:
    """5 % and 95 % of the slope, 1,774 men and 2,208 women, ANSUR 1988, report NATICK/TR-89/044."""
    full, _ = fill_tape(stand(MAN, Stance(shoulders=word), sex), sex=sex)
    assert np.degrees(full["shoulder_slope_left"]) == pytest.approx(slope)


def test_upright_is_what_it_was() -> None:
    full, _ = fill_tape(MAN, sex="man")
    assert stand(MAN, UPRIGHT_STANCE, "man") == MAN
    assert bend(full, UPRIGHT_STANCE, 1.4) == 0.0
    assert np.degrees(neck_lean(full, UPRIGHT_STANCE)) == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("tape", "stance", "words"),
    [
        ({"shoulder_slope": 0.4}, Stance(shoulders="square"), ("stance.shoulders", "square", "shoulder_slope")),
        ({}, Stance(low_left=0.01, low_right=0.01), ("stance.low_left", "1.0 cm", "low_right")),
        ({"shoulder_slope_left": 0.4}, Stance(low_right=0.01), ("stance.low_right", "1.0 cm", "each shoulder")),
        ({"shoulder_slope": np.radians(10.0)}, Stance(low_left=0.06), ("stance.low_left", "6.0 cm", "up to")),
    ],
)  # fmt: skip
def test_what_contradicts_is_refused_in_one_line(
    tape: dict[str, float], stance: Stance, words: tuple[str, ...]
) -> None:
    with pytest.raises(FigureError) as caught:
        stand({**MAN, **tape}, stance, "man")
    message = str(caught.value)
    assert "\n" not in message and "got" in message and "allowed" in message
    assert [word for word in words if word not in message] == []
