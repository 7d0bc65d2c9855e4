"""Lettering of pictures: lines that fit, a staff and a bar of true lengths, a stamp where it belongs."""

from __future__ import annotations

import numpy as np
import pytest
from hostile import UNWIELDY
from PIL import Image, ImageDraw

from drape.picture.lettering import (
    GREY,
    INK,
    PAPER,
    STAMP,
    TITLE_SIZES,
    Mark,
    draw_marks,
    draw_scale,
    draw_staff,
    draw_stamp,
    fitted_title,
    length_of,
    spaced,
    together,
    wrapped,
)
from drape.plain import plain_line


def sheet(width: int = 400, height: int = 600) -> tuple[Image.Image, ImageDraw.ImageDraw]:
    image = Image.new("RGB", (width, height), (255, 255, 255))
    return image, ImageDraw.Draw(image)


def pixels_of(image: Image.Image, colour: tuple[int, int, int]) -> np.ndarray:
    """Rows and columns of the pixels of one colour, (k, 2)."""
    return np.argwhere((np.asarray(image.convert("RGB")) == colour).all(axis=2))


@pytest.mark.parametrize("title", ["ferry warden", *UNWIELDY])
def test_a_title_fits_its_width_smaller_first_and_cut_then(title: str) -> None:
    words, size = fitted_title(title, 900.0)
    assert 0.0 < length_of(words, size, "serif bold") <= 900.0
    assert words == plain_line(title) or (size == min(TITLE_SIZES) and words.endswith(" …"))


def test_lines_fit_their_width_and_lose_no_word() -> None:
    words = "the cloak hangs level from the left shoulder to the hem behind"
    lines = wrapped(words, 20, 150.0)
    assert " ".join(lines) == words and len(lines) > 3
    assert max(length_of(line, 20) for line in lines) <= 150.0
    for line, following in zip(lines, lines[1:], strict=False):
        assert length_of(f"{line} {following.split()[0]}", 20) > 150.0  # no line could have taken one more
    assert wrapped("unbreakable", 20, 10.0) == ["unbreakable"]


def test_type_grows_with_its_size_and_bold_is_wider() -> None:
    assert length_of("hem", 40) == pytest.approx(2 * length_of("hem", 20), rel=0.05)
    assert length_of("hem", 20, "bold") > length_of("hem", 20)


def test_the_scale_bar_is_a_tenth_of_a_metre_long() -> None:
    image, pen = sheet()
    draw_scale(pen, 1500.0, (50, 300))
    inked = pixels_of(image, INK)
    bar = inked[inked[:, 0] == 300][:, 1]
    assert np.ptp(bar) + 1 == pytest.approx(150, abs=4)  # and the width of its end marks


@pytest.mark.parametrize("per_metre", [200.0, 300.0])
def test_the_staff_has_a_dark_band_every_other_ten_centimetres_up_from_the_floor(per_metre: float) -> None:
    floor, top, right = 500.0, 40, 120
    image, pen = sheet()
    draw_staff(pen, (floor, per_metre), (right, top))
    column = np.asarray(image)[:, right - 15]
    tallest = int(floor / per_metre * 10) * 10
    for height in range(5, tallest, 10):
        row = round(top + floor - height / 100 * per_metre)
        assert tuple(column[row]) == (GREY if height // 10 % 2 == 0 else PAPER), height
    assert (column[: round(top + floor - tallest / 100 * per_metre) - 1] == 255).all()
    assert (column[round(top + floor) + 2 :] == 255).all()


def test_the_stamp_lies_about_its_centre() -> None:
    image, _ = sheet(1200, 600)
    draw_stamp(image, (700, 300))
    stamped = pixels_of(image, STAMP)
    assert len(stamped) > 5000
    assert (stamped.min(axis=0) + stamped.max(axis=0)) / 2 == pytest.approx([300, 700], abs=6)


def test_marks_stand_apart_in_order_and_within_the_view() -> None:
    assert spaced([10.0, 12.0, 300.0], 50.0, (30.0, 370.0)) == [30.0, 80.0, 300.0]
    assert spaced([350.0, 360.0, 365.0], 50.0, (30.0, 370.0)) == [270.0, 320.0, 370.0]
    assert spaced([5.0] * 5, 100.0, (0.0, 200.0)) == [0.0, 50.0, 100.0, 150.0, 200.0]  # too many: evenly
    assert spaced([], 50.0, (0.0, 100.0)) == []


def test_marks_at_one_place_share_a_leader() -> None:
    marks = [Mark(2, (50.0, 100.0)), Mark(1, (200.0, 40.0)), Mark(3, (52.0, 103.0))]
    assert [[mark.number for mark in group] for group in together(marks, 20)] == [[1], [2, 3]]


def test_a_mark_points_at_its_place_and_stands_at_the_side_filled_where_it_is_certain() -> None:
    """Paper and ink alone: it is told from one that may be by more than a colour."""
    for is_certain in (True, False):
        image, pen = sheet()
        draw_marks(pen, [Mark(1, (180.0, 300.0), is_certain)], (0, 0, 400, 600), radius=20)
        inked = pixels_of(image, INK)
        assert [300, 180] in inked.tolist() and [300, 100] in inked.tolist()  # the dot, the leader
        disc = np.asarray(image)[285:316, 10:43]
        share = (disc == INK).all(axis=2).mean()
        assert share > 0.6 if is_certain else share < 0.4


def test_a_place_that_cannot_be_seen_gets_a_ring() -> None:
    image, pen = sheet()
    draw_marks(pen, [Mark(1, (180.0, 300.0), shows=False)], (0, 0, 400, 600), radius=40)
    assert image.getpixel((180, 300)) == PAPER and [300, 150] in pixels_of(image, INK).tolist()
