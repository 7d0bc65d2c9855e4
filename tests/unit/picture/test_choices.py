"""What `show` can make: the names that help lists are those that are drawn."""

from __future__ import annotations

from drape.picture.camera import ALL_VIEWS
from drape.picture.choices import HEIGHT_PX, MAKES, PAINT_NAMES, VIEW_NAMES
from drape.picture.make import MAKERS
from drape.picture.paint import KINDS


def test_the_names_in_help_are_those_that_are_made() -> None:
    assert tuple(MAKES) == tuple(MAKERS)
    assert sorted(VIEW_NAMES) == sorted(ALL_VIEWS)
    assert PAINT_NAMES == tuple(KINDS)


def test_least_default_and_most_rise() -> None:
    least, usual, most = HEIGHT_PX
    assert 0 < least < usual < most
