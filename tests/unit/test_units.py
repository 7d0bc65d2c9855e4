"""Units at the edge: factors against their definitions, round trips, refusals."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drape.units import STANDARD_GRAVITY, UNITS, bare_name, ending_of, from_si, to_si, unit_of

# key, value as written, the same in SI: by definition of the units (SI brochure).
WRITTEN = [
    ("length_cm", 112.0, 1.12),
    ("thickness_mm", 3.0, 0.003),
    ("sweep_deg", 180.0, math.pi),
    ("areal_density_g_m2", 600.0, 0.6),
    ("shear_stiffness_n_m", 120.0, 120.0),
    ("pressure_n_m2", 40.0, 40.0),
    ("lie_percent", 25.0, 0.25),
    ("cloth_kg", 1.9, 1.9),
    ("mass_g", 24.5, 0.0245),
    ("pull_n", 4.5, 4.5),
    ("rigidity_warp_un_m", 129.0, 129e-6),
    ("volume_l", 78.0, 0.078),
    ("area_m2", 3.05, 3.05),
]


@pytest.mark.parametrize(("key", "written", "inside"), WRITTEN)
def test_written_values_come_inside_in_si(key: str, written: float, inside: float) -> None:
    assert to_si(key, written) == pytest.approx(inside, rel=1e-15)


def test_every_ending_is_tried() -> None:
    assert {ending_of(key) for key, _, _ in WRITTEN} == set(UNITS)


@pytest.mark.parametrize("ending", sorted(UNITS))
@given(value=st.floats(-1e6, 1e6))
def test_out_and_in_again_is_the_same(ending: str, value: float) -> None:
    key = f"some{ending}"
    assert to_si(key, from_si(key, value)) == pytest.approx(value, rel=4e-16, abs=1e-300)


def test_whole_centimetres_keep_their_last_digit() -> None:
    assert [to_si("girth_cm", whole) for whole in range(1, 400)] == [whole / 100 for whole in range(1, 400)]


@pytest.mark.parametrize("key", ["poisson_ratio", "title", "cm", "_cm", "length_in", "turn", "residual"])
def test_a_name_without_a_unit_is_refused(key: str) -> None:
    assert ending_of(key) == ""
    assert bare_name(key) == key
    with pytest.raises(ValueError, match=f"'{key}' names no unit"):
        unit_of(key)


@pytest.mark.parametrize(
    ("key", "bare"),
    [("areal_density_g_m2", "areal_density"), ("throat_line_load_n_m", "throat_line_load"),
     ("pressure_n_m2", "pressure"), ("throat_load_n", "throat_load"),
     ("shoulder_slope_left_deg", "shoulder_slope_left")],
)  # fmt: skip
def test_the_longest_ending_is_taken_off(key: str, bare: str) -> None:
    assert bare_name(key) == bare


def test_standard_gravity() -> None:
    """9.80665 m/s², 3rd General Conference on Weights and Measures, 1901."""
    assert STANDARD_GRAVITY == 9.80665
