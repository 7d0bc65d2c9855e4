"""A tested cloth as it is written: table, JSON and file agree; a coarse value is named with what to do."""

from __future__ import annotations

from pathlib import Path

import pytest
from table_top_tests import filled_in

from drape.bench.table_top import load_measured_cloth
from drape.bench.table_top_words import cloth_file_text, measured_object, measured_table, written


def test_what_is_written_agrees_everywhere(tests_file: Path) -> None:
    found = load_measured_cloth(tests_file)
    shown = measured_object(found)
    text, table = cloth_file_text(found), measured_table(found)
    for line in written(found):
        assert shown[line.key] == line.value
        assert shown["uncertainty"][line.key] == line.error
        assert line.words in table
        assert f"{line.key} = {line.value!r}" in text
    assert shown["filled"] == ["poisson_ratio"]
    c, w = shown["bending_length_warp_cm"], shown["areal_density_g_m2"]
    assert shown["rigidity_warp_un_m"] == pytest.approx(9.80665e-3 * w * c**3, rel=2e-3)
    assert max(map(len, table.splitlines())) <= 82
    again = load_measured_cloth(tests_file)
    assert (cloth_file_text(again), measured_table(again)) == (text, table)


def test_a_coarse_reading_is_named_with_what_to_do(tests_file: Path) -> None:
    text = filled_in().replace("weight_g = 100.0", "weight_g = 10.0").replace("[27.0, 28.0]", "3.0")
    tests_file.write_text(text, encoding="utf-8")
    table = measured_table(load_measured_cloth(tests_file))
    assert "Coarse readings\n- shear stiffness: hang more weight on a longer bias strip.\n" in table
