"""Level sections against exact curves."""

from __future__ import annotations

import numpy as np
import pytest
from families import most_are_long
from scipy.integrate import quad

from drape.reading.level_section import folds, level_section


def tube(radius, *, share=1.0, count=720):
    """A wall of the given radius(azimuth) between z = ±5 cm; share of the full turn; points, triangles."""
    azimuth = np.linspace(0, 2 * np.pi * share, count, endpoint=share < 1)
    r = radius(azimuth)
    rows = [np.c_[r * np.cos(azimuth), r * np.sin(azimuth), np.full(count, z)] for z in (-0.05, 0.0, 0.05)]
    last = count if share == 1 else count - 1
    triangles = [
        t
        for j in range(2)
        for i in range(last)
        for k in [(i + 1) % count]
        for t in ((j * count + i, j * count + k, (j + 1) * count + i),
                  (j * count + k, (j + 1) * count + k, (j + 1) * count + i))
    ]  # fmt: skip
    return np.concatenate(rows), np.array(triangles)


def test_a_circle_has_no_fullness_and_no_folds():
    section = level_section(*tube(lambda a: 0.2 + 0 * a), 0.013)
    assert section.length == pytest.approx(0.4 * np.pi, rel=1e-4)
    assert section.fullness == pytest.approx(0, abs=1e-9)
    assert folds(section) == []


@pytest.mark.parametrize("count", most_are_long([6, 9], 9))
def test_sine_folds_of_known_fullness(count):
    """r = r₀ + a cos nθ: length by quadrature, hull by its own support between the n crests."""
    r0, a = 0.2, 0.02

    def radius(t):
        return r0 + a * np.cos(count * t)

    length = quad(lambda t: np.hypot(radius(t), a * count * np.sin(count * t)), 0, 2 * np.pi, limit=400)[0]
    theta = np.linspace(0, 2 * np.pi, 20001)
    outline = np.c_[radius(theta) * np.cos(theta), radius(theta) * np.sin(theta)]
    direction = np.linspace(0, 2 * np.pi, 4001)[:-1]
    support = np.max(outline @ np.array([np.cos(direction), np.sin(direction)]), axis=0)
    hull = support.mean() * 2 * np.pi  # Cauchy: perimeter of a convex curve is the mean support times 2π
    section = level_section(*tube(radius), 0.013)
    assert section.fullness == pytest.approx(length / hull - 1, abs=2e-4)
    assert section.fullness > 0.005
    hollow = np.pi / count  # azimuth of a hollow's floor; the hull spans it square to that direction
    across = np.max(outline @ np.array([np.cos(hollow), np.sin(hollow)]))
    assert folds(section) == pytest.approx([across - (r0 - a)] * count, abs=3e-4)  # resampled every 5 mm


def test_a_hollow_under_the_least_depth_is_no_fold():
    """r = r₀ + a cos 15θ with a = 2 mm is hollow, but by less than the 5 mm from which a fold counts."""
    section = level_section(*tube(lambda t: 0.2 + 0.002 * np.cos(15 * t)), 0.013)
    assert section.fullness > 1e-4
    assert folds(section) == []


def test_an_open_arc_is_closed_by_its_chord():
    section = level_section(*tube(lambda a: 0.2 + 0 * a, share=0.5), 0.013)
    assert section.gap == pytest.approx(0.4, rel=1e-4)
    assert section.fullness == pytest.approx(0, abs=1e-9)


def test_two_pieces_are_bridged():
    one, triangles = tube(lambda a: 0.2 + 0 * a, share=0.4)
    both = np.concatenate([one, one * [-1, -1, 1]])
    section = level_section(both, np.concatenate([triangles, triangles + len(one)]), 0.013)
    assert len(section.curves) == 2
    assert section.gap == pytest.approx(2 * 0.4 * np.sin(0.1 * np.pi), rel=1e-3)
    assert section.fullness == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize("share", [1.0, 0.7])
def test_two_parts_that_lie_apart_have_a_cord_each(share):
    """One cord round both would be longer than they are, and the fullness below nought."""
    one, triangles = tube(lambda a: 0.05 + 0.004 * np.cos(6 * a), share=share)
    alone = level_section(one, triangles, 0.013)
    both = np.concatenate([one - [0.3, 0, 0], one * [1, -1, 1] + [0.3, 0, 0]])
    section = level_section(both, np.concatenate([triangles, triangles + len(one)]), 0.013)
    assert section.hull > section.length + section.gap
    if share == 1.0:
        assert alone.fullness > 0.005 and section.fullness == pytest.approx(alone.fullness)
    assert section.fullness >= 0.0 and section.cord <= section.length + section.gap


def test_a_loose_loop_inside_a_section_is_all_in_excess():
    outer, triangles = tube(lambda a: 0.2 + 0 * a)
    both = np.concatenate([outer, 0.1 * outer])
    both[len(outer) :, 2] = outer[:, 2]
    section = level_section(both, np.concatenate([triangles, triangles + len(outer)]), 0.013)
    assert section.cord == section.hull and section.fullness == pytest.approx(0.1, abs=1e-9)


def test_no_cloth_no_section():
    assert level_section(*tube(lambda a: 0.2 + 0 * a), 0.2) is None


@pytest.mark.parametrize("apart", [0.0, 1e-13, 1e-11, 1e-9])
def test_ends_that_meet_add_no_fold(apart):
    """A fluted wall cut open on a crest: its two ends as good as meet,
    and the hull's side between them has no direction.
    """
    points, triangles = tube(lambda t: 0.4 + 0.06 * np.cos(6 * t), share=0.999999, count=91)
    last = np.arange(1, 4) * 91 - 1
    points[last] = points[last - 90] + [0.0, -apart, 0.0]
    assert len(folds(level_section(points, triangles, 0.013))) == 6


def test_a_flat_floor_is_one_fold():
    """A square trough in a wall, its floor parallel to the hull, all at one depth:
    equally deep places are not two folds.
    """
    outline = np.array([[0, 0], [0.4, 0], [0.4, 0.3], [0.3, 0.3], [0.3, 0.2], [0.1, 0.2], [0.1, 0.3], [0, 0.3], [0, 0]])
    walls = np.concatenate([np.c_[outline, np.full(9, z)] for z in (0.0, 0.1)])
    i = np.arange(8)
    section = level_section(walls, np.concatenate([np.c_[i, i + 1, i + 9], np.c_[i + 1, i + 10, i + 9]]), 0.05)
    assert folds(section) == pytest.approx([0.1])
