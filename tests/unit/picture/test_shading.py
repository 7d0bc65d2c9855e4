"""Shading: nap that keeps the cloth's colour, light that is softened without being lost, an even sky."""

from __future__ import annotations

import numpy as np
import pytest

from drape.picture import shading


def test_nap_is_even_and_fits_itself() -> None:
    """Its mean is known, so cloth keeps its colour; across the join it steps no more than inside."""
    tile = shading.nap_tile()[..., 0].astype(float)
    assert tile.mean() == pytest.approx(255 * shading.NAP_MEAN, abs=1.5)
    inside = np.abs(np.diff(tile, axis=0)).mean()
    assert np.abs(tile[0] - tile[-1]).mean() < 1.3 * inside
    along = np.abs(np.diff(tile, axis=1)).mean()
    assert along < inside  # smoother along the warp than across it


def test_the_sky_is_even_and_brighter_above() -> None:
    """Directions are unit vectors whose mean is nought; their light averages 0.55."""
    directions, light = shading.sky(48)
    assert np.linalg.norm(directions, axis=1) == pytest.approx(1.0)
    assert directions.mean(axis=0) == pytest.approx(0.0, abs=0.02)
    assert light.mean() == pytest.approx(0.55)
    assert light[directions[:, 2] > 0].min() > light[directions[:, 2] < 0].max()


def test_softening_keeps_an_even_light_and_evens_a_speck() -> None:
    floor = shading.floor_surface()
    own = np.arange(len(floor.points))
    assert shading.softened(np.full(len(own), 0.4), floor.triangles, own, 5) == pytest.approx(0.4)
    speck = np.zeros(len(own))
    middle = len(own) // 2
    speck[middle] = 1.0
    soft = shading.softened(speck, floor.triangles, own, 4)
    assert 0.0 < soft[middle] < 0.3 and soft.sum() == pytest.approx(1.0, abs=0.01)


def test_welded_vertices_get_one_light() -> None:
    triangles = np.array([[0, 1, 2], [3, 4, 5]])
    soft = shading.softened(np.array([1.0, 0, 0, 0, 0, 0]), triangles, np.array([0, 1, 2, 0, 3, 4]), 3)
    assert soft[0] == soft[3]


def test_shade_is_the_colours_own_in_the_open() -> None:
    shaded = shading.shaded(np.array([200.0, 100.0, 50.0]), np.array([1.0, 0.0]))
    assert shaded[0].tolist() == [200, 100, 50]
    assert shaded[1] == pytest.approx(0.48 * np.array([200, 100, 50]), abs=1)


def test_what_a_page_turns_is_lit_as_the_pictures_are() -> None:
    """Its lights shine from where the pictures' do, and add to a colour what theirs do."""
    told = shading.lit_alike()
    for camera, key in (((0.0, 1.0, 0.0), "key"), ((0.0, 0.5, 0.8), "key_from_above")):
        (place, strength), (fill, weaker) = shading.lights(np.array(camera))
        assert told[key] == pytest.approx(np.array(place) / np.linalg.norm(place), abs=1e-4)
        assert told["fill"] == pytest.approx(np.array(fill) / np.linalg.norm(fill), abs=1e-4)
        assert (told["key_adds"], told["fill_adds"]) == pytest.approx((0.8 * strength, 0.8 * weaker), abs=1e-4)
    dark = shading.shaded(np.array([200.0]), np.zeros(1))
    assert told["skyless"] == pytest.approx(dark[0] / 200, abs=0.005)
