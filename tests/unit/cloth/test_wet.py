"""A cloth wet through: heavier, limper, rougher; what nobody gave is estimated and named."""

from __future__ import annotations

import pytest

from drape.cloth.wet import CLINGS, USUAL, WET_VALUES, wetted


def test_every_stiffness_is_the_share_given_and_the_weight_the_water_more(melton):
    wet = wetted(melton, {"water": 0.5, "wet_stiffness": 0.7})
    assert wet.areal_density == pytest.approx(1.5 * melton.areal_density)
    for name in ("rigidity_warp", "rigidity_weft", "twist_rigidity", "tensile_stiffness_warp", "shear_stiffness"):
        assert getattr(wet, name) == pytest.approx(0.7 * getattr(melton, name))
    assert wet.thickness == melton.thickness


def test_what_nobody_gave_is_estimated_and_named(melton):
    wet = wetted(melton, {"wet_friction_on_cloth": 0.9})
    assert (wet.friction_on_cloth, wet.friction_on_figure) == (0.9, melton.friction_on_figure + CLINGS)
    assert wet.areal_density == pytest.approx((1 + USUAL["water"]) * melton.areal_density)
    assert set(wet.filled) == set(WET_VALUES) - {"wet_friction_on_cloth"}
    assert "estimated, from memory: water, wet_stiffness, wet_friction_on_figure" in wet.source
    known = dict(zip(WET_VALUES, (0.5, 0.5, 0.5, 0.5), strict=True))
    assert wetted(melton, known).filled == () and "estimated" not in wetted(melton, known).source
