"""Curves and parts of the mannequin before they are joined, against the tape they are drawn from."""

from __future__ import annotations

import numpy as np
import pytest

from drape.body.girth import ring_length
from drape.body.implicit_surface import ROWS, Part, azimuths, evaluate, join
from drape.body.stance import NECK_LEAN, Stance
from drape.body.superellipse import oval_girth
from drape.body.tape import fill_tape
from drape.body.trunk import (
    draw_curves,
    first_sections,
    head,
    head_level,
    leaning_frame,
    mid_neck_place,
    neck,
    next_sections,
    through,
    trunk,
)
from drape.errors import FigureError

MAN = {"stature": 1.7558, "chest_girth": 0.9914, "waist_girth": 0.8399, "hip_girth": 0.9837}
WOMAN = {"stature": 1.6294, "chest_girth": 0.9071, "waist_girth": 0.7255, "hip_girth": 0.9669}
UNEVEN = {**MAN, "shoulder_slope_left": np.radians(22.0), "shoulder_slope_right": np.radians(29.0)}
TAPES = {
    "man": fill_tape(MAN, sex="man")[0], "woman": fill_tape(WOMAN, sex="woman")[0],
    "uneven": fill_tape(UNEVEN, sex="man")[0],
}  # fmt: skip


def ring_at(part: Part, height: float) -> np.ndarray:
    """The part's level section at a height, in its own frame, (TURNS, 2)."""
    row = round((height - part.span[0]) / (part.span[1] - part.span[0]) * (ROWS - 1))
    turn = azimuths()
    return part.centre[row] + part.radius[row][:, None] * np.stack([-np.sin(turn), np.cos(turn)], axis=1)


@pytest.mark.parametrize("name", TAPES)
def test_the_neck_base_has_its_girth_and_runs_through_its_heights(name: str) -> None:
    tape = TAPES[name]
    ring = draw_curves(tape).neck_base
    assert ring_length(ring) == pytest.approx(tape["neck_base_girth"], abs=1e-6)
    heights = ring[[0, 90, 180, 270], 2]
    assert heights == pytest.approx([tape[f"{key}_neck_height"] for key in ("front", "side", "back", "side")], abs=1e-9)
    assert ring[0, 1] > ring[90, 1] > ring[180, 1] and ring[90, 0] < 0 < ring[270, 0]  # front to back; the left is -x


@pytest.mark.parametrize("name", TAPES)
def test_shoulder_lines_have_length_and_slope_and_end_as_far_apart_as_measured(name: str) -> None:
    tape = TAPES[name]
    curves = draw_curves(tape)
    for side, start in (("left", 90), ("right", 270)):
        line = getattr(curves, f"shoulder_line_{side}")
        run = line[-1] - line[0]
        assert line[0] == pytest.approx(curves.neck_base[start])
        assert np.linalg.norm(run) == pytest.approx(tape["shoulder_length"], rel=1e-12)
        assert np.arcsin(-run[2] / np.linalg.norm(run)) == pytest.approx(tape[f"shoulder_slope_{side}"], abs=1e-12)
    apart = curves.shoulder_line_right[-1, 0] - curves.shoulder_line_left[-1, 0]
    assert apart == pytest.approx(
        tape["shoulder_breadth"], abs=0.037
    )  # breadth may give way to the neck's girth by 3.6 cm


@pytest.mark.parametrize("name", TAPES)
def test_the_mid_neck_ring_has_its_girth_square_to_the_leaning_axis(name: str) -> None:
    tape = TAPES[name]
    ring = draw_curves(tape).mid_neck
    centre, axis = mid_neck_place(tape)
    assert ring_length(ring) == pytest.approx(tape["neck_girth"], rel=1e-6)
    assert (ring - centre) @ axis == pytest.approx(0.0, abs=1e-12)
    assert np.arctan2(axis[1], axis[2]) == pytest.approx(NECK_LEAN)


def test_a_stoop_carries_the_neck_forward_as_it_is() -> None:
    upright, stooped = draw_curves(TAPES["man"]), draw_curves(TAPES["man"], Stance(stoop=0.04))
    assert stooped.neck_base - upright.neck_base == pytest.approx(np.tile([0.0, 0.04, 0.0], (360, 1)), abs=1e-12)
    assert (
        mid_neck_place(TAPES["man"], Stance(stoop=0.04))[1][1] > mid_neck_place(TAPES["man"])[1][1]
    )  # and it leans more


def test_a_neck_too_thin_for_its_heights_is_refused_in_one_line() -> None:
    tape, _ = fill_tape(
        {**MAN, "neck_base_girth": 0.26, "front_neck_height": 1.40, "back_neck_height": 1.52}, sex="man"
    )
    with pytest.raises(FigureError) as caught:
        draw_curves(tape)
    message = str(caught.value)
    assert message.startswith("figure: neck_base_girth: got 26.0 cm, allowed ") and "\n" not in message
    assert "140.0 (front)" in message and "Measure the three heights" in message


@pytest.mark.parametrize("lean", [0.0, 0.3])
def test_a_leaning_frame_is_a_turn_about_the_line_from_left_to_right(lean: float) -> None:
    frame = leaning_frame(lean)
    assert frame @ frame.T == pytest.approx(np.eye(3), abs=1e-15)
    assert np.linalg.det(frame) == pytest.approx(1.0)
    assert frame[2] == pytest.approx([0.0, np.sin(lean), np.cos(lean)])


def test_columns_run_through_their_stations_where_nothing_is_evened_out() -> None:
    """On a straight line evening out changes nothing but at the ends; at stations it is the value given."""
    place = np.linspace(0.0, 1.0, 401)
    table = through([(0.0, 1.0), (0.4, 3.0), (1.0, 6.0)], place, 0.004)
    assert table[[160], 0] == pytest.approx(3.0, abs=0.01)
    assert table[[80, 280], 0] == pytest.approx([2.0, 4.5], abs=0.15)
    assert (np.diff(table[:, 0]) > 0).all()


def test_the_neck_runs_through_its_base_and_its_ring() -> None:
    """Evening out over 9 mm leaves the base within 2.5 mm, the ring within 1."""
    tape = TAPES["man"]
    curves = draw_curves(tape)
    parts = join([neck(tape, curves, 1.0)])
    assert np.abs(evaluate(parts, curves.neck_base)).max() < 0.0025
    assert np.abs(evaluate(parts, curves.mid_neck)).max() < 0.001
    wider = join([neck(tape, curves, 1.05)])
    assert evaluate(wider, curves.mid_neck).max() < evaluate(parts, curves.mid_neck).min() - 0.001


def test_the_heads_fullest_section_has_its_three_measures() -> None:
    tape = TAPES["woman"]
    ring = ring_at(head(tape), head_level(tape))
    assert ring_length(ring) == pytest.approx(tape["head_girth"], rel=5e-3)
    assert np.ptp(ring, axis=0) == pytest.approx([tape["head_breadth"], tape["head_length"]], rel=2e-3)
    own = np.array([0.56, 0.15, 0.19])
    ring = ring_at(head(tape, measures=own), head_level(tape))
    assert (ring_length(ring), *np.ptp(ring, axis=0)) == pytest.approx(own, rel=5e-3)


def test_the_crown_is_as_high_as_the_stature() -> None:
    part = head(TAPES["man"])
    assert part.span[1] + part.caps[1] == pytest.approx(TAPES["man"]["stature"], abs=1e-9)


@pytest.mark.parametrize("name", TAPES)
def test_the_trunk_begins_as_ovals_of_the_girths_measured(name: str) -> None:
    tape = TAPES[name]
    for level, (half, deep, square) in zip(("chest", "waist", "hip"), first_sections(tape), strict=True):
        assert (2 * half, 2 * deep) == (tape[f"{level}_breadth"], tape[f"{level}_depth"])
        assert oval_girth(2 * half, 2 * deep, square) == pytest.approx(tape[f"{level}_girth"], abs=1e-4)


def test_the_trunk_is_as_broad_as_its_sections_and_alike_on_both_sides() -> None:
    tape = TAPES["man"]
    sections = first_sections(tape)
    part = trunk(tape, draw_curves(tape), "man", sections)
    for level, (half, _, _) in zip(("waist", "hip"), sections[1:], strict=True):
        ring = ring_at(part, tape[f"{level}_height"])
        assert np.ptp(ring[:, 0]) == pytest.approx(2 * half, rel=0.01), level
    assert part.radius[:, 1:] == pytest.approx(part.radius[:, :0:-1], abs=1e-9)
    assert part.span[1] == pytest.approx(tape["side_neck_height"] - 0.004)


def test_sections_that_measure_as_asked_are_left_and_others_go_the_way_they_are_off() -> None:
    sections = first_sections(TAPES["man"])
    asked = np.array(
        [
            [TAPES["man"][f"{level}_{key}"] for key in ("girth", "breadth", "depth")]
            for level in ("chest", "waist", "hip")
        ]
    )
    assert next_sections(sections, asked, asked) == pytest.approx(sections, abs=1e-4)
    broader = asked * [1.0, 1.02, 1.0]  # it measures 2 % too broad
    found = next_sections(sections, asked, broader)
    assert found[:, 0] == pytest.approx(sections[:, 0] / 1.02)
    assert found[:, 1] == pytest.approx(sections[:, 1])
    longer = next_sections(sections, asked, asked * [1.01, 1.0, 1.0])
    assert (longer[:, 2] < sections[:, 2]).all()  # leaner, since a tape reads too much round it


def test_a_neck_that_would_reach_up_to_the_face_is_refused():
    with pytest.raises(FigureError, match=r"head: got 3\.\d cm from its widest level down to the chin, allowed 7\.0"):
        head(TAPES["man"] | {"stature": TAPES["man"]["stature"] - 0.1})
