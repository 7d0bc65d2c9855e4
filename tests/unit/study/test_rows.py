"""The table: a row to a member, every reading under its name, empty where nothing was read; read back as written."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import pytest
from studied import member, outcomes, readings

from drape.study.results import Result, results_of
from drape.study.rows import columns_of, csv_text, kind_of, spread_name, write_rows


def three(starts: int = 1) -> tuple[Result, ...]:
    """Two members that settle, in two cloths, and one that does not."""
    settings: list[dict[str, Any]] = [{"dart.intake_cm": k, "cloth.cloth": name} for k, name in ((6, "a"), (9, "b"))]
    members = [member(k, one, starts) for k, one in enumerate([*settings, {"dart.intake_cm": 12, "cloth.cloth": "b"}])]
    return results_of(members, outcomes(members, lambda m, _: readings(gap_max_cm=m.number) if m.number < 2 else None))


def test_a_row_holds_what_varies_the_readings_and_why_there_are_none() -> None:
    found = columns_of(three())
    assert found["member"] == [0, 1, 2] and found["dart.intake_cm"] == [6.0, 9.0, 12.0]
    assert found["cloth.cloth"] == ["a", "b", "b"] and found["settled"] == [True, True, False]
    assert found["neck.gap_max_cm"] == [0.0, 1.0, None] and found["crowding.folds.1"] == [1.0, 1.0, None]
    assert found["neck.gap_max_at"] == ["front", "front", None]
    assert found["drafted.neck_width_cm"] == [14.9, 14.9, None] and found["version.drape"] == ["0.1.0"] * 3
    assert list(found)[-1] == "seconds" and not any(name.endswith("_spread") for name in found)


def test_a_spread_stands_beside_its_reading() -> None:
    found = columns_of(three(starts=3))
    assert spread_name("neck.gap_max_cm") in found and found["neck.gap_max_cm_spread"][2] is None
    assert spread_name("crowding.fullness_percent.1") == "crowding.fullness_percent_spread.1"


def test_measures_of_the_wearer_stand_there_where_bodies_vary() -> None:
    one = member(1, {"body": "ferry-warden"})
    found = columns_of(results_of([one], outcomes([one], lambda *_: readings())))
    assert found["tape.stature_cm"] == [175.6] and found["tape.shoulder_slope_left_deg"] == [26.4]
    assert found["tape.chest_height_cm"] and not any(name.startswith("tape.") for name in columns_of(three()))


def test_the_text_reads_back_as_it_was_written() -> None:
    found = columns_of(three())
    rows = list(csv.DictReader(io.StringIO(csv_text(found))))
    assert [list(row) for row in rows] == [list(found)] * 3
    assert [row["settled"] for row in rows] == ["true", "true", "false"]
    assert [float(row["fall.mean_cm"] or "nan") for row in rows][:2] == found["fall.mean_cm"][:2]
    assert rows[2]["neck.gap_max_cm"] == ""


def test_a_column_of_nothing_is_of_text_and_so_is_one_of_many_kinds() -> None:
    assert [kind_of(c) for c in ([None], [1.0, None], [True], [1.0, "a"])] == [str, float, bool, str]


@pytest.mark.long
def test_pandas_and_polars_read_what_was_written(tmp_path: Path) -> None:
    pq = pytest.importorskip("pyarrow.parquet", reason="the extra `study` is not installed")
    found = columns_of(three())
    parquet, plain = write_rows(found, tmp_path)
    again = pq.read_table(parquet)
    assert again.to_pydict() == found
    first = parquet.read_bytes()
    write_rows(found, tmp_path)
    assert parquet.read_bytes() == first and plain.read_text(encoding="utf-8") == csv_text(found)
