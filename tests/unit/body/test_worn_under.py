"""What is worn under the cloak lies on the body as thick as it is said to, and only where."""

from __future__ import annotations

import numpy as np
import pytest
from mannequin import DRESSED, mannequin

from drape.body.figure import Figure
from drape.body.measure import is_watertight, measure_figure
from drape.body.signed_distance import distance
from drape.body.worn_under import KINDS, PLACES, THICKEST


def wearing(kind: str) -> Figure:
    return mannequin(**{**DRESSED, "worn_under": dict(KINDS[kind])})


@pytest.mark.parametrize("kind", ["padded coat"])
def test_it_is_as_thick_as_said(kind: str) -> None:
    """By the bare body's own distance: within 1 mm at chest and back; nothing on head and legs.

    The sampled distance is smoothed by 81 mm^2/8 times its Laplacian: up to 2 mm on fingers and toes of 1 cm radius.
    """
    figure = wearing(kind)
    off = distance(figure.bare.field, figure.vertices)
    chest = figure.levels["chest"]
    level = (np.abs(figure.vertices[:, 2] - chest - 0.04) < 0.01) & (np.abs(figure.vertices[:, 0]) < 0.05)
    for where, place in (
        (level & (figure.vertices[:, 1] > 0.0), "chest"),
        (level & (figure.vertices[:, 1] < 0.0), "back"),
    ):
        assert off[where].mean() == pytest.approx(KINDS[kind][place], abs=0.001), place
    middle = distance(figure.bare.field, figure.shoulder_line_left[15:16])[0]
    assert KINDS[kind]["neck"] < middle < KINDS[kind]["shoulders"] + 0.001
    shins = (figure.vertices[:, 2] < figure.levels["knee"]) & (figure.vertices[:, 2] > figure.levels["ankle"] + 0.05)
    assert np.abs(off[shins]).max() < 0.001
    assert np.abs(off[figure.vertices[:, 2] > figure.tape["stature"] - 0.12]).max() < 0.001
    assert off.min() > -0.003


@pytest.mark.parametrize("kind", ["padded coat"])
def test_girth_grows_by_two_pi_thicknesses(kind: str) -> None:
    """Round a convex section the taut line lengthens by 2 pi times the thickness (Steiner): waist within 1 cm."""
    figure = wearing(kind)
    grown = measure_figure(figure)["waist_girth"] - measure_figure(figure.bare)["waist_girth"]
    assert grown == pytest.approx(2.0 * np.pi * KINDS[kind]["waist"], abs=0.010)


@pytest.mark.parametrize("kind", ["padded coat"])
def test_the_body_beneath_keeps_its_measures(kind: str) -> None:
    figure = wearing(kind)
    assert is_watertight(figure)
    got = measure_figure(figure.bare)
    for key in ("chest_girth", "waist_girth", "hip_girth", "neck_base_girth", "shoulder_length"):
        assert got[key] == pytest.approx(figure.bare.tape[key], rel=0.01), key
    assert figure.tape["neck_base_girth"] > figure.bare.tape["neck_base_girth"]


def test_landmarks_lie_on_what_is_worn() -> None:
    figure = wearing("padded coat")
    marks = np.array(list(figure.landmarks.values()))
    assert np.abs(distance(figure.field, np.vstack([marks, figure.neck_base, figure.shoulder_line_left]))).max() < 0.002


def test_a_coat_is_thicker_than_a_jacket_everywhere_and_within_what_a_file_may_say() -> None:
    assert all(0.0 < KINDS["jacket"][place] < KINDS["padded coat"][place] <= THICKEST for place in PLACES)
