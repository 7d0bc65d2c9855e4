"""A mannequin on paper: a tube in its place shades, hides and is lettered as geometry says."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from turned import HEIGHT, RADIUS, tube_figure

from drape.body.girth import ring_length
from drape.picture import figure_sheet
from drape.picture.camera import Frame
from drape.picture.figure_sheet import (
    APART,
    BESIDE,
    MARGIN,
    SEEN,
    TYPE,
    WIDTH,
    Block,
    mark_notes,
    placed_across,
    shaded,
    silhouette,
    tape_lines,
    tape_notes,
)
from drape.picture.lettering import PAPER, length_of

SIZE = (200, 400)
FRONT = Frame(np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 0.9]), 0.5, 1.0)  # 200 pixels to the metre


@pytest.fixture(scope="module")
def tube() -> SimpleNamespace:
    return tube_figure()


@pytest.fixture(scope="module")
def seen(tube: SimpleNamespace) -> tuple[np.ndarray, np.ndarray]:
    return shaded(tube, FRONT, SIZE)


def test_words_of_one_view_stand_clear_of_the_next_ones() -> None:
    """Arms spread as wide as the view: words beside them, then room, then the next view's."""
    notes = [(10.0, "shoulder point 144.3")]
    blocks = [
        Block((0, WIDTH - 1), [(10.0, "neck base 40.8")], notes),
        Block((300, 420), [(12.0, "neck base 40.8")], notes),
    ]
    starts, width = placed_across(blocks)
    first_ends = starts[0] + WIDTH - 1 + BESIDE + length_of("shoulder point 144.3", TYPE)
    next_begins = starts[1] - BESIDE - length_of("neck base 40.8", TYPE)
    assert next_begins - first_ends >= APART - 1
    assert starts[0] - BESIDE - length_of("neck base 40.8", TYPE) >= MARGIN - 1
    assert starts[1] + 120 + BESIDE + length_of("shoulder point 144.3", TYPE) <= width - MARGIN + 1


def test_a_tube_is_as_broad_and_as_high_in_the_picture_as_it_is(seen: tuple[np.ndarray, np.ndarray]) -> None:
    """14 cm at 200 pixels to the metre: 28 columns about the middle; from the floor at row 380 up 340 rows."""
    shade, depth = seen
    first, last = silhouette(depth)
    assert (first + last) / 2 == pytest.approx(SIZE[0] / 2, abs=1)
    assert last - first + 1 == pytest.approx(2 * RADIUS * 200, abs=2)
    rows = np.flatnonzero((depth > -1e8).any(axis=1))
    assert (rows[0], rows[-1]) == pytest.approx((380 - 200 * HEIGHT, 380), abs=1.5)
    assert (shade[depth < -1e8] == PAPER).all()


def test_depth_is_that_of_the_nearer_side(seen: tuple[np.ndarray, np.ndarray]) -> None:
    """At a column x from the middle the tube's front lies sqrt(r^2 - x^2) towards the camera."""
    _, depth = seen
    for column in (94, 100, 106):
        x = (column + 0.5 - 100) / 200
        assert depth[200, column] == pytest.approx(np.sqrt(RADIUS**2 - x**2), abs=2e-3)


def test_light_comes_from_above_left_of_the_camera_so_that_the_tube_is_brightest_there(
    seen: tuple[np.ndarray, np.ndarray],
) -> None:
    row = seen[0][200, 87:113].astype(float).sum(axis=1)
    assert np.argmax(row) < len(row) / 2 and row.max() > 1.15 * row.min()


def test_tape_lines_lie_on_the_tube_at_their_heights_and_have_its_girth(tube: SimpleNamespace) -> None:
    lines = tape_lines(tube)
    for level in ("chest", "waist", "hip"):
        assert lines[level][:, 2] == pytest.approx(tube.levels[level])
        assert ring_length(lines[level][:-1]) == pytest.approx(2 * np.pi * RADIUS, rel=2e-3)
        assert lines[level][0] == pytest.approx(lines[level][-1])
    assert lines["left shoulder"] is tube.shoulder_line_left
    assert (lines["neck base"][0] == lines["neck base"][-1]).all()


def test_marks_in_sight_are_named_with_their_height_and_hidden_ones_are_not(
    tube: SimpleNamespace, seen: tuple[np.ndarray, np.ndarray]
) -> None:
    """From the front: the front neck point and the knee, once for both; the back neck point is hidden."""
    assert 2 * RADIUS > SEEN
    words = [text for _, text in mark_notes(tube, "front", FRONT, seen[1], SIZE)]
    assert "front neck 138.0" in words and not [text for text in words if text.startswith("back neck")]
    assert sum(text.startswith("knee") for text in words) == 1
    row = next(row for row, text in mark_notes(tube, "front", FRONT, seen[1], SIZE) if text == "front neck 138.0")
    assert row == pytest.approx(200 - 200 * (1.38 - 0.9))


def test_girths_stand_at_the_rows_of_their_lines(tube: SimpleNamespace) -> None:
    notes = {
        text.rpartition(" ")[0]: (row, float(text.rpartition(" ")[2])) for row, text in tape_notes(tube, FRONT, SIZE)
    }
    for level in ("chest", "waist", "hip"):
        row, girth = notes[level]
        assert row == pytest.approx(200 - 200 * (tube.levels[level] - 0.9))
        assert girth == pytest.approx(100 * tube.tape[f"{level}_girth"], abs=0.051)


def test_a_line_that_comes_to_light_in_specks_is_not_drawn_there() -> None:
    places = np.stack([np.arange(0.0, 120.0, 4.0), np.zeros(30)], axis=1)
    seen = np.ones(30, dtype=bool)
    seen[[3, 9]] = False  # 3 points, 5 points, then 20
    assert figure_sheet._without_specks(places, seen).tolist() == [k > 9 for k in range(30)]
