"""Lists of what is shipped: units at the edge undone again, and every name in the table."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from drape.cloth.sheet import Cloth
from drape.fitting.catalogue import bodies_object, bodies_table, cloths_object, cloths_table, scenes_table
from drape.reading.table import CLOTH_COLUMNS, PAGE_WIDTH
from drape.units import bare_name, ending_of, to_si

CLOTH = Cloth(
    "toll-house twill", 0.19, 0.0007, 0.021, 0.018, 1800.0, 1400.0, 60.0, 0.12, 0.45, 0.35, "invented, " * 20 + "end"
)
BODY = SimpleNamespace(name="A toll clerk", sex="woman", tape={"stature": 1.62389}, source="measured twice " * 12)


def test_a_cloths_values_are_its_own_in_the_unit_of_their_key() -> None:
    (row,) = cloths_object([CLOTH])["cloths"]
    for key, value in row.items():
        if key not in ("cloth", "source"):
            assert (to_si(key, value) if ending_of(key) else value) == pytest.approx(
                getattr(CLOTH, bare_name(key)), rel=1e-6
            ), key
    assert row["areal_density_g_m2"] == 190.0 and row["thickness_mm"] == 0.7


def test_rigidity_is_weight_times_bending_length_cubed() -> None:
    """0.19 kg/m2 x 9.80665 x 2.1 cm cubed: 17.26 micronewton metres."""
    (row,) = cloths_object([CLOTH])["cloths"]
    assert row["rigidity_warp_un_m"] == pytest.approx(1e6 * 0.19 * 9.80665 * 0.021**3, abs=1e-5)


def test_the_table_of_cloths_has_every_number_under_its_heading() -> None:
    lines = cloths_table([CLOTH]).splitlines()
    rows = [line for line in lines if line.startswith(CLOTH.name) and ":" not in line]
    (row,) = cloths_object([CLOTH])["cloths"]
    assert len(rows) == len(CLOTH_COLUMNS)
    for line, columns in zip(rows, CLOTH_COLUMNS, strict=True):
        cells = line[18:].split()
        assert [float(cell) for cell in cells] == [
            pytest.approx(row[key], abs=0.51 * 10.0**-places) for _, key, places in columns
        ]
    assert max(map(len, lines)) <= PAGE_WIDTH and lines[-1].strip().endswith("end.")


def test_bodies_and_scenes_are_named_and_long_sources_wrapped() -> None:
    assert bodies_object({"clerk": BODY})["bodies"][0]["stature_cm"] == 162.39
    lines = bodies_table({"clerk": BODY}).splitlines()
    assert lines[0] == "clerk: A toll clerk, woman, stature 162.4 cm"
    assert len(lines) > 2 and max(map(len, lines)) <= PAGE_WIDTH
    assert " ".join(line.strip() for line in lines[1:]) == BODY.source.strip()
    scenes = [SimpleNamespace(name=name, title=name.title(), body="clerk") for name in ("one", "two")]
    assert scenes_table(scenes) == "one: One\n  body: clerk\ntwo: Two\n  body: clerk\n"
