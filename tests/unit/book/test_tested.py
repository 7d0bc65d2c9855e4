"""Readings typed on the page make the very file that `drape cloth` reads."""

from __future__ import annotations

import pytest

from drape.bench.table_top import READING_TABLES, load_measured_cloth
from drape.book.entries import plain
from drape.book.tested import rows_of_tests, text_of_tests
from drape.errors import SceneError


def test_every_reading_of_every_test_can_be_typed():
    names = [name for _, readings in rows_of_tests() for name, *_ in readings]
    assert sorted(names) == sorted(f"{table}.{key}" for table, rule in READING_TABLES.items() for key in rule.keys)


def test_what_is_typed_is_a_cloth_s_tests_and_what_is_left_empty_is_left_out(tmp_path):
    typed = {"square.side_cm": "20", "square.mass_g": "22.0 22.4", "board.on_cloth_deg": " ", "stack.layers": "8",
             "stack.height_mm": "17.5; 17.7"}  # fmt: skip
    text = text_of_tests('grey "melton"', typed)
    assert plain(text) == {
        "cloth": {"name": 'grey "melton"'}, "square": {"side_cm": 20, "mass_g": [22.0, 22.4]},
        "stack": {"layers": 8, "height_mm": [17.5, 17.7]},
    }  # fmt: skip
    path = tmp_path / "grey.toml"
    path.write_text(text, encoding="utf-8")
    assert load_measured_cloth(path).cloth.areal_density == pytest.approx(0.555, abs=0.001)


def test_a_reading_that_is_no_number_goes_on_as_it_is_and_one_that_is_none_is_refused():
    assert plain(text_of_tests("x", {"square.side_cm": "20cm"}))["square"]["side_cm"] == "20cm"
    with pytest.raises(SceneError, match="allowed the readings of the tests"):
        text_of_tests("x", {"square.colour": "1"})
