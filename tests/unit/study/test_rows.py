"""The table: a row to a member, every reading under its name, empty where nothing was read; read back as written."""

from __future__ import annotations

import csv
import io
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
from hostile import FORMULAS
from studied import member, outcomes, readings

from drape.study.results import Result, results_of
from drape.study.rows import _of_one_kind, columns_of, csv_text, kind_of, spread_name, write_rows


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
    assert [row["settled"] for row in rows] == ["TRUE", "TRUE", "FALSE"]
    assert [float(row["fall.mean_cm"] or "nan") for row in rows][:2] == found["fall.mean_cm"][:2]
    assert rows[2]["neck.gap_max_cm"] == ""


def test_a_column_of_nothing_is_of_text_and_so_is_one_of_many_kinds() -> None:
    assert [kind_of(c) for c in ([None], [1.0, None], [True], [1.0, "a"])] == [str, float, bool, str]


@pytest.mark.long
def test_parquet_holds_the_columns_as_they_are_and_the_same_bytes_each_time(tmp_path: Path) -> None:
    pq = pytest.importorskip("pyarrow.parquet", reason="the extra `study` is not installed")
    found = columns_of(three())
    parquet, plain = write_rows(found, tmp_path)
    assert pq.read_table(parquet).to_pydict() == found
    first = parquet.read_bytes()
    write_rows(found, tmp_path)
    assert parquet.read_bytes() == first and plain.read_text(encoding="utf-8") == csv_text(found)


@pytest.mark.long
def test_one_value_beside_a_list_of_values_is_text_in_both_files(tmp_path: Path) -> None:
    pq = pytest.importorskip("pyarrow.parquet", reason="the extra `study` is not installed")
    members = [member(k, {"cloth.friction": value}) for k, value in enumerate((0.3, [0.3, 0.4]))]
    found = columns_of(results_of(members, outcomes(members, lambda *_: readings())))
    parquet, plain = write_rows(found, tmp_path)
    assert pq.read_table(parquet)["cloth.friction"].to_pylist() == ["0.3", "[0.3, 0.4]"]
    rows = csv.DictReader(io.StringIO(plain.read_text(encoding="utf-8")))
    assert [row["cloth.friction"] for row in rows] == ["0.3", "[0.3, 0.4]"]


KINDS = {
    "member": "int", "dart.intake_cm": "float", "cloth.cloth": "text", "state": "text", "settled": "truth",
    "sits": "text", "verdict": "text", "starts": "int", "neck.gap_max_cm": "float", "neck.gap_max_at": "text",
    "neck.gap_max_cm_spread": "float", "crowding.folds.0": "float", "seconds": "float", "version.drape": "text",
}  # fmt: skip


@pytest.mark.long
def test_pandas_reads_numbers_texts_truths_and_gaps_and_no_column_of_its_own(tmp_path: Path) -> None:
    pd = pytest.importorskip("pandas", reason="the extra `tables` is not installed")
    pytest.importorskip("pyarrow", reason="the extra `study` is not installed")
    found = columns_of(three(starts=3))
    parquet, plain = write_rows(found, tmp_path)
    is_kind = {"int": pd.api.types.is_integer_dtype, "float": pd.api.types.is_float_dtype,
               "truth": pd.api.types.is_bool_dtype, "text": lambda column: column.dtype in (object, "str")}  # fmt: skip
    for frame in (pd.read_parquet(parquet), pd.read_csv(plain)):
        assert list(frame.columns) == list(found) and list(frame.index) == [0, 1, 2]
        assert {name: kind for name, kind in KINDS.items() if not is_kind[kind](frame[name])} == {}
        for name, column in found.items():
            assert [None if pd.isna(value) else value for value in frame[name]] == column, name


@pytest.mark.long
def test_polars_reads_numbers_texts_truths_and_gaps_and_no_column_of_its_own(tmp_path: Path) -> None:
    pl = pytest.importorskip("polars", reason="the extra `tables` is not installed")
    pytest.importorskip("pyarrow", reason="the extra `study` is not installed")
    found = columns_of(three(starts=3))
    parquet, plain = write_rows(found, tmp_path)
    kinds = {"int": pl.Int64, "float": pl.Float64, "truth": pl.Boolean, "text": pl.String}
    for frame in (pl.read_parquet(parquet), pl.read_csv(plain)):
        assert frame.to_dict(as_series=False) == found
        assert {name: kind for name, kind in KINDS.items() if frame.schema[name] != kinds[kind]} == {}


READ_BY_R = """
read <- read.csv(commandArgs(TRUE)[1], check.names = FALSE)
cat(names(read), sep = "\\t"); cat("\\n")
cat(sapply(read, class), sep = "\\t"); cat("\\n")
cat(colSums(is.na(read)), sep = "\\t"); cat("\\n")
"""


@pytest.mark.long
@pytest.mark.skipif(shutil.which("R") is None, reason="R is not installed")
def test_r_reads_numbers_texts_truths_and_gaps(tmp_path: Path) -> None:
    found = columns_of(three(starts=3))
    (tmp_path / "study.csv").write_text(csv_text(found), encoding="utf-8")
    (tmp_path / "read.R").write_text(READ_BY_R, encoding="utf-8")
    typed = ["R", "--no-echo", "--vanilla", "-f", "read.R", "--args", "study.csv"]
    said = subprocess.run(typed, cwd=tmp_path, capture_output=True, text=True, check=True).stdout
    names, classes, gaps = (line.split("\t") for line in said.splitlines())
    assert names == list(found)
    kinds = {"integer": {int}, "numeric": {float}, "logical": {bool}, "character": {str}}
    assert [n for n, c in zip(names, classes, strict=True) if kind_of(found[n]) not in kinds[c]] == []
    there = [0 if kind_of(column) is str else column.count(None) for column in found.values()]
    assert [int(count) for count in gaps] == there  # text that is not there is "" to R


def test_no_cell_is_a_formula_to_a_spreadsheet() -> None:
    """Only texts are marked: a number that is below nothing stays a number, and the other table's texts their own."""
    found = {"text": [*FORMULAS, "-1.5", "a=b"], "number": [-1.5, -2, 0, 1, 2, 3, 4]}
    rows = list(csv.DictReader(io.StringIO(csv_text(found))))
    assert [row["text"] for row in rows] == [*(f"'{text}" for text in FORMULAS), "-1.5", "a=b"]
    assert [float(row["number"]) for row in rows] == found["number"]
    assert _of_one_kind(found["text"]) == found["text"]
