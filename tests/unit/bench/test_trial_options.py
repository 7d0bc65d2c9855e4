"""Trials by name: options checked and in SI, overrides, readings in the unit of their key."""

from __future__ import annotations

import math

import pytest

from drape.bench.trial_options import KINDS, STEPPED, at_the_edge, checked_options, options_of, override
from drape.errors import SceneError
from drape.schema import Number
from drape.units import ending_of, from_si, to_si


def test_options_come_out_in_si_and_ranges_are_held() -> None:
    assert checked_options("cantilever", {"length_cm": 5.0, "grain_deg": 45.0, "width_cm": None}) == {
        "length": 0.05, "grain": pytest.approx(math.pi / 4),
    }  # fmt: skip
    with pytest.raises(SceneError, match=r"length_cm: got 900, allowed 1 to 200 cm"):
        checked_options("ring", {"length_cm": 900.0})
    assert "max_steps" not in options_of("tilt")


def test_overrides_are_pairs() -> None:
    assert override("bending_length_warp_cm=2.7") == ("bending_length_warp_cm", 2.7)
    assert override("poisson_ratio = soft") == ("poisson_ratio", "soft")
    with pytest.raises(SceneError, match="allowed key=value"):
        override("2.7")


def test_readings_are_in_the_unit_of_their_key() -> None:
    assert at_the_edge("chord_deg", math.pi) == pytest.approx(180)
    assert at_the_edge("drape_coefficient_spread", 0.02) == pytest.approx(2.0)
    assert at_the_edge("nodes", (5, 6)) == [5, 6]
    assert at_the_edge("drape_coefficients_percent", (0.5, 0.25)) == [50.0, 25.0]


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_option_at_its_limits_is_taken_and_just_beyond_refused(kind: str) -> None:
    for key, rule in options_of(kind).items():
        assert isinstance(rule, Number)
        for value in (rule.low, rule.high):
            (got,) = checked_options(kind, {key: float(value)}).values()
            assert got == (value if rule.plain else pytest.approx(to_si(key, value)))
        for value in (rule.low - (1 if rule.whole else 1e-3), rule.high * 1.001 + (1 if rule.whole else 0)):
            with pytest.raises(SceneError, match=f"command line, {key}: got "):
                checked_options(kind, {key: round(value) if rule.whole else value})


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_reading_and_option_carries_a_unit_that_can_be_undone(kind: str) -> None:
    keys = [key for key in (*KINDS[kind].options, *KINDS[kind].readings) if ending_of(key)]
    assert keys
    assert [to_si(key, from_si(key, 0.37)) for key in keys] == pytest.approx([0.37] * len(keys))
    assert ("max_steps" in options_of(kind)) == (kind in STEPPED)
