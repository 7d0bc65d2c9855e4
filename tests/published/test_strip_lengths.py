"""How much narrow cloth a half circle takes: the sum of whole strips, and what nesting saves.

A half circle of radius R out of cloth of width W, cut in strips parallel to its straight edge, takes
2 sqrt(R^2 - (k W)^2) for strip k = 0, 1, 2 ... laid end to end; cloth at least R wide takes 2 R. Elementary geometry,
worked out by hand in the table below (cm, no allowances, the neck hole not deducted).
No lay is shorter than area / width.

Each check also runs once with a wrong constant and must fail.
"""

from __future__ import annotations

import math

import pytest
from families import most_are_long
from stand_in import standing_body

from drape.cutting.lay import Bolt, lay_pieces, naive_length, thrifty_pieces
from drape.cutting.piecing import Allowances, seam_levels
from drape.draft.cloak import draft_cloak
from drape.draft.outline import Draft
from drape.draft.style import Style

BARE = Allowances(0.0, 0.0, 0.0, 0.0)
NECK = 0.13
STRIPS = {
    80: {55: 276.2, 70: 237.5, 90: 160.0, 140: 160.0, 150: 160.0},
    110: {55: 410.5, 70: 389.7, 90: 346.5, 140: 220.0, 150: 220.0},
    120: {55: 549.2, 70: 434.9, 90: 398.7, 140: 240.0, 150: 240.0},
    130: {55: 634.1, 70: 479.1, 90: 447.6, 140: 260.0, 150: 260.0},
    140: {55: 710.7, 70: 522.5, 90: 494.5, 140: 280.0, 150: 280.0},
}
ROWS = [(radius, width, length) for radius, row in STRIPS.items() for width, length in row.items()]


def half_circle(radius: float) -> Draft:
    return draft_cloak(Style("round", radius - NECK, front_neck_depth=NECK), standing_body())


@pytest.mark.parametrize(("radius", "width", "wanted"), ROWS)
def test_whole_strips_end_to_end(radius: int, width: int, wanted: float) -> None:
    draft = half_circle(radius / 100)
    levels = seam_levels(draft, width / 100, BARE)
    assert 100 * naive_length(draft, levels) == pytest.approx(wanted, abs=0.06)


LAID = most_are_long([(120, 55), (120, 70), (120, 90), (120, 140), (80, 70)], (120, 140), (80, 70))


@pytest.mark.parametrize(("radius", "width"), LAID)
def test_laid_length_lies_between_the_area_bound_and_the_strips(radius: int, width: int) -> None:
    """Never longer than whole strips, and where there are off-cuts at least 5 % shorter."""
    draft, bolt = half_circle(radius / 100), Bolt(width / 100)
    lay = lay_pieces(thrifty_pieces(draft, BARE, bolt), bolt)
    area = math.pi * ((radius / 100) ** 2 - NECK**2) / 2
    assert lay.area == pytest.approx(area, rel=1e-5)
    assert lay.bound == pytest.approx(area / bolt.width, rel=1e-5)
    assert lay.bound <= lay.length <= STRIPS[radius][width] / 100 + 1e-6
    if width < radius:
        assert lay.length < 0.95 * STRIPS[radius][width] / 100


def test_wrong_constants_fail() -> None:
    """Negative control: strips of half the chord, and seams half a width on, do not give the table."""
    draft = half_circle(1.2)
    levels = seam_levels(draft, 0.7, BARE)
    assert 50 * naive_length(draft, levels) != pytest.approx(STRIPS[120][70], abs=0.06)
    assert 100 * naive_length(draft, [level - 0.35 for level in levels]) != pytest.approx(STRIPS[120][70], abs=0.06)
