"""The files of a study: those that its plan gives, none left over from another."""

from __future__ import annotations

from pathlib import Path

import pytest
from studied import BODIES, DIMENSIONS, found

from drape.study import rows
from drape.study.files import write_study


def test_effects_and_sizes_are_written_where_there_are_any(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rows, "_write_parquet", lambda _, path: path.write_bytes(b"rows"))
    out = tmp_path / "out"
    out.mkdir()
    assert (
        write_study(found(tmp_path, DIMENSIONS, lambda s: 3.0 - s["dart.intake_cm"] / 4), out) == out / "study.parquet"
    )
    assert {path.name for path in out.iterdir()} == {"study.parquet", "study.csv", "study.html", "effects.csv"}
    assert (out / "effects.csv").read_text(encoding="utf-8").startswith("reading,of,and,share_percent")
    write_study(found(tmp_path, BODIES, lambda s: 0.4), out)
    assert {path.name for path in out.iterdir()} == {"study.parquet", "study.csv", "study.html", "sizes.csv"}
