"""Cloaks at random, on bodies at random: settled or told why, with no crossing and nothing deep in the figure, by our
own count and by two libraries that know nothing of us."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

BENCH = Path(__file__).resolve().parents[1] / "bench" / "crossings.py"


@pytest.mark.long
def test_random_cloaks_pass_through_nothing() -> None:
    """More of these: `python tests/bench/crossings.py`."""
    spec = importlib.util.spec_from_file_location("crossings", BENCH)
    crossings = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(crossings)
    seen = 0
    for name, fitting in crossings.runs(2, 0.06, seed=7, shipped=()):
        seen += 1
        assert fitting.readings["settled"], name
        assert fitting.readings["crossings"] == 0 and not crossings.library_finds(fitting), name
        assert fitting.readings["deepest_mm"] < 1.0 and crossings.deepest_by_library(fitting) < 1e-3, name
    assert seen == 2
