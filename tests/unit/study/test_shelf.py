"""Outcomes kept: what was put there comes back; what is damaged, or came of no settling, is as if it were not there."""

from __future__ import annotations

import json
from pathlib import Path

from drape.study import shelf

OUTCOME = {
    "state": "settled", "why": "", "readings": {"residual": 0.1}, "dimensions": {"hem_radius_cm": 130.0},
    "seconds": 2.5, "versions": {"drape": "0.1.0"},
}  # fmt: skip
DAMAGED = [
    {"state": "else"}, {"why": 5}, {"readings": None}, {"readings": {"settled": "yes"}}, {"dimensions": []},
    {"seconds": "2"}, {"seconds": float("nan")}, {"versions": "0.1.0"}, {"state": "failed"},
]  # fmt: skip


def test_what_is_kept_is_found(tmp_path: Path) -> None:
    shelf.keep(tmp_path, "k", OUTCOME)
    assert shelf.find(tmp_path, "k") == OUTCOME
    assert shelf.find(tmp_path, "another") is None


def test_what_came_of_a_worker_that_ended_is_tried_again(tmp_path: Path) -> None:
    shelf.keep(tmp_path, "k", {**OUTCOME, "state": "failed", "versions": {}})
    assert shelf.find(tmp_path, "k") is None and list(tmp_path.iterdir()) == []


def test_a_damaged_file_counts_as_none(tmp_path: Path) -> None:
    shelf.keep(tmp_path, "k", OUTCOME)
    for text in ("", '{"state": "sett', "[1]", "[" * 100_000, *(json.dumps({**OUTCOME, **one}) for one in DAMAGED)):
        (tmp_path / "kept" / "k.json").write_text(text, encoding="utf-8")
        assert shelf.find(tmp_path, "k") is None
