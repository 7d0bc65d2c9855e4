"""Rows: a study as a table, one row to a member, in files that pandas, polars and R read.

In: what became of each member. Out: study.parquet and study.csv with the same columns: number, what varies by its key,
whether it settled and sits, every reading under its own name with its ± beside it (`_spread`), the wearer's measures
(`tape.`), the draft's dimensions (`drafted.`), versions, and last the seconds. What was not read is left empty.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from drape.files import write_text, write_whole
from drape.reading.table import GROUPS, LEVEL_READINGS, spread_at, value_at
from drape.study.plan import BODY
from drape.study.results import Result
from drape.study.task import SETTLED
from drape.units import from_si

SECONDS: Final = "seconds"  # the last column, and the only one that another run of the same study may have otherwise
FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")  # what a spreadsheet takes a formula by
Column = list[Any]
Columns = dict[str, Column]  # by name; of numbers, texts or truths, None where there is nothing


def columns_of(results: Sequence[Result]) -> Columns:
    """The table, column by column."""
    head = [_head(result) for result in results]
    readings = [_readings(result) for result in results]
    tails = [_tail(result) for result in results]
    found: Columns = {}
    for rows in (head, readings, tails):
        for name in dict.fromkeys(name for row in rows for name in row):
            found[name] = [row.get(name) for row in rows]
    found[SECONDS] = [result.seconds for result in results]
    return found


def _head(result: Result) -> dict[str, Any]:
    member = result.member
    setting = {name: _plain(value) for name, value in member.setting.items()}
    return {
        "member": member.number,
        **setting,
        "state": result.state,
        "settled": result.state == SETTLED,
        "sits": result.sits,
        "verdict": result.verdict,
        "starts": member.starts,
        "edge_length_cm": round(from_si("edge_length_cm", member.edge_length), 4),
    }


def _plain(value: Any) -> Any:
    """A value of the scene as one cell: a number, or a text; a list as JSON."""
    if isinstance(value, bool) or isinstance(value, str):
        return value
    return float(value) if isinstance(value, (int, float)) else json.dumps(value)


def _readings(result: Result) -> dict[str, Any]:
    """Every reading of the table, by its dotted key, and its ± where it has one."""
    found: dict[str, Any] = {}
    for key in reading_keys(result.readings or {}):
        value = value_at(result.readings or {}, key)
        found[key] = float(value) if isinstance(value, (int, float)) else str(value)
        spread = spread_at(result.readings or {}, key)
        if isinstance(spread, (int, float)):
            found[spread_name(key)] = float(spread)
    return found


def spread_name(key: str) -> str:
    """The column of a reading's ±: `neck.gap_front_cm_spread`, `crowding.fullness_percent_spread.0`."""
    stem, _, place = key.rpartition(".")
    return f"{stem}_spread.{place}" if place.isdecimal() else f"{key}_spread"


def reading_keys(readings: Mapping[str, Any]) -> list[str]:
    """The keys of the readings there are, in the order of the table."""
    keys = [row.key for group in GROUPS for row in group.rows]
    levels = range(len(value_at(readings, "crowding.at_cm") or []))
    keys += [f"crowding.{key}.{place}" for key in ("at_cm", *(key for _, key, _ in LEVEL_READINGS)) for place in levels]
    return [key for key in keys if value_at(readings, key) is not None]


def _tail(result: Result) -> dict[str, Any]:
    scene = result.member.scene
    tape: dict[str, Any] = {}
    if BODY in result.member.setting:
        tape = {"tape.sex": scene.sex, **result.measures}
    drafted = {f"drafted.{key}": float(v) for key, v in result.dimensions.items() if isinstance(v, (int, float))}
    return {**tape, **drafted, **{f"version.{name}": text for name, text in result.versions.items()}}


# --- files ------------------------------------------------------------------------------------


def write_rows(columns: Columns, folder: Path) -> tuple[Path, Path]:
    """Writes study.parquet and study.csv; their paths."""
    parquet, plain = folder / "study.parquet", folder / "study.csv"
    write_whole(parquet, lambda path: _write_parquet(columns, path))
    write_text(plain, csv_text(columns))
    return parquet, plain


def _write_parquet(columns: Columns, path: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    kinds = {bool: pa.bool_(), int: pa.int64(), float: pa.float64(), str: pa.string()}
    arrays = {name: pa.array(_of_one_kind(column), kinds[kind_of(column)]) for name, column in columns.items()}
    pq.write_table(pa.table(arrays), path, compression="snappy")


def kind_of(column: Column) -> type:
    """The type of a column's cells; text where they differ, or where there are none."""
    kinds = {type(value) for value in column if value is not None}
    return kinds.pop() if len(kinds) == 1 else str


def _of_one_kind(column: Column) -> Column:
    """The cells, as text where their types differ: a list of values beside one value."""
    return [value if value is None else _cell(value) for value in column] if kind_of(column) is str else column


def csv_text(columns: Columns) -> str:
    """The table as text: a comma between cells, a point in numbers, nothing where there is nothing (RFC 4180).

    A text that a spreadsheet would take for a formula has an apostrophe before it, as is usual (OWASP, CSV injection).
    """
    held = io.StringIO()
    writer = csv.writer(held, lineterminator="\n")
    writer.writerow(columns)
    for row in zip(*columns.values(), strict=True):
        writer.writerow([_in_sheet(value) for value in row])
    return held.getvalue()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"  # R takes no other for a truth
    return repr(value) if isinstance(value, float) else str(value)


def _in_sheet(value: Any) -> str:
    """A cell that a spreadsheet shows as it is."""
    text = _cell(value)
    return f"'{text}" if text.startswith(FORMULA) and not _is_number(text) else text


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
