"""The drape disc's shadow, folds, waves and floor, of shapes known by formula."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from drape.bench.drape_disc import START_SHARE, _waved, energy_of, fold_count, shadow_share, strip_floor
from drape.bench.specimen import ring_mesh
from drape.cloth.mesh import Mesh
from drape.cloth.sheet import sew
from drape.units import STANDARD_GRAVITY


def test_shadow_and_folds_of_a_known_shape() -> None:
    """A flat disc casts all of its shadow; a hem of radius b + h cos 6φ has six folds."""
    mesh: Mesh = ring_mesh(0.09, 0.15, 0.006)
    flat = np.c_[mesh.flat, np.zeros(len(mesh.flat))]
    assert shadow_share(flat, mesh, 0.09, 0.15) == pytest.approx(1.0, abs=2e-3)
    drawn_in = flat * np.where(np.hypot(*mesh.flat.T) > 0.12, 0.8, 1.0)[:, None]
    assert shadow_share(drawn_in, mesh, 0.09, 0.15) == pytest.approx(
        (0.12**2 - 0.09**2) / (0.15**2 - 0.09**2), abs=0.02
    )
    angle = np.linspace(-np.pi, np.pi, 200, endpoint=False)
    hem = (0.13 + 0.01 * np.cos(6 * angle + 1))[:, None] * np.stack([np.cos(angle), np.sin(angle), 0 * angle], axis=1)
    assert fold_count(hem, 0.09, 0.15) == 6
    assert fold_count(0.13 * hem / np.linalg.norm(hem, axis=1)[:, None], 0.09, 0.15) == 0


def test_energy_of_flat_cloth_is_its_weight_times_its_height(melton) -> None:
    mesh = ring_mesh(0.09, 0.15, 0.012)
    sheet = sew(mesh, melton)
    flat = np.c_[mesh.flat, np.full(len(mesh.flat), 0.7)]
    assert energy_of(sheet, flat) == pytest.approx(STANDARD_GRAVITY * sheet.mass.sum() * 0.7, rel=1e-9)
    lower = flat - [0.0, 0.0, 0.1]
    assert energy_of(sheet, lower) < energy_of(sheet, flat) < energy_of(sheet, flat * [1.01, 1.01, 1.0])


def test_a_start_is_waved_at_its_hem_and_flat_at_its_support_and_another_seed_waves_otherwise() -> None:
    mesh = ring_mesh(0.09, 0.15, 0.012)
    one, again, other = (_waved(mesh.flat, 0.09, 0.15, seed) for seed in (1, 1, 2))
    inside = np.hypot(*mesh.flat.T) <= 0.09 + 1e-9
    assert np.abs(one[inside, 2]).max() < 1e-12
    assert 1e-3 < np.abs(one[:, 2]).max() < 4 * START_SHARE * 0.06
    assert (one == again).all() and not np.allclose(one, other)
    assert (one[:, :2] == mesh.flat).all()


@pytest.mark.long
def test_the_strips_floor_is_one_where_cloth_is_a_board_and_falls_with_its_weight(melton) -> None:
    """Stiff strips stand straight out: the shadow is the whole ring. Limp ones hang straight down: next to none."""
    board, limp = (dataclasses.replace(melton, bending_length_warp=c, bending_length_weft=c) for c in (1.0, 0.012))
    sizes = {"specimen": 0.15, "support": 0.09}
    assert strip_floor(board, **sizes) == pytest.approx(1.0, abs=1e-4)
    assert 0.0 < strip_floor(limp, **sizes) < 0.3
    assert strip_floor(limp, **sizes) < strip_floor(melton, **sizes) < 1.0
