"""Files of a study: its table, its effects and sizes where it has any, and its page.

In: what a study found, and a folder. Out: study.parquet, study.csv, effects.csv, sizes.csv, study.html; the path of the
first.
"""

from __future__ import annotations

from pathlib import Path

from drape.files import write_text
from drape.study.matters import effect_columns, factors_told
from drape.study.rows import columns_of, csv_text, write_rows
from drape.study.sizes import size_columns
from drape.study.study_page import study_html
from drape.study.told import Findings


def write_study(found: Findings, folder: Path) -> Path:
    """Writes all files, the table first; its path."""
    parquet, _ = write_rows(columns_of(found.results), folder)
    tables = {}
    if factors_told(found.plan):
        tables["effects.csv"] = effect_columns(found.plan, found.results)
    if found.sizes:
        tables["sizes.csv"] = size_columns(found.sizes)
    for name in ("effects.csv", "sizes.csv"):
        (folder / name).unlink(missing_ok=True)  # an older one would not match
    for name, columns in tables.items():
        write_text(folder / name, csv_text(columns))
    write_text(folder / "study.html", study_html(found))
    return parquet
