"""Colours: what a scene asks for, how dark cloth may be, and that the scale is even."""

from __future__ import annotations

import numpy as np
import pytest

from drape.errors import PictureError
from drape.picture import colour

LUMA = (0.299, 0.587, 0.114)  # ITU-R BT.601


def test_a_colour_that_is_none_is_refused_with_its_value() -> None:
    with pytest.raises(PictureError, match="'woad'"):
        colour.given_colours({"outside": "woad"})
    assert colour.rgb("#0a1020").tolist() == [10, 16, 32]
    assert colour.hexed(colour.rgb("#0a1020")) == "#0a1020"


def test_black_cloth_is_drawn_light_enough_for_its_folds_to_show() -> None:
    black, pale = np.zeros(3), np.array([200.0, 190.0, 180.0])
    assert colour.legible(black) @ LUMA == pytest.approx(100.0)
    np.testing.assert_array_equal(colour.legible(pale), pale)


def lightness(rgb: np.ndarray) -> np.ndarray:
    """CIE L* of sRGB (IEC 61966-2-1 and CIE 15:2004)."""
    c = rgb / 255.0
    linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    y = linear @ (0.2126, 0.7152, 0.0722)
    return np.where(y > (6 / 29) ** 3, 116 * np.cbrt(y) - 16, y * (29 / 3) ** 3)


@pytest.mark.parametrize("count", [4, 8])
def test_the_scale_grows_lighter_by_even_steps(count: int) -> None:
    steps = np.diff(lightness(colour.scale_colours(count)))
    assert steps.min() > 0
    assert steps.max() < 1.25 * steps.mean() and steps.min() > 0.75 * steps.mean()


def test_one_piece_has_the_cloths_colour_and_more_have_their_own() -> None:
    cloth = np.array([68.0, 100.0, 140.0])
    assert colour.piece_colours(1, cloth).tolist() == [cloth.tolist()]
    several = colour.piece_colours(4, cloth)
    assert len(np.unique(several, axis=0)) == 4
