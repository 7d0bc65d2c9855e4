"""A cloak whose hem is drawn is traced, and then worn: closed, and open."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typed import drape

DRAWING = Path(__file__).parents[2] / "scenes" / "drawings" / "ferry-warden-train.svg"


@pytest.mark.long
def test_a_traced_cloak_with_a_drawn_hem_is_worn(tmp_path: Path) -> None:
    traced = drape("trace", str(DRAWING), "--out", str(tmp_path / "t"), where=tmp_path)
    assert traced.returncode == 0, traced.stderr
    scene = tmp_path / "t" / "ferry-warden-train.toml"
    assert "hem_along_cm" in scene.read_text(encoding="utf-8")
    typed = ("--how", "closed", "--how", "open", "--edge-length-cm", "6", "--no-pictures", "--json", "--out", "w")
    worn = drape("wear", str(scene), *typed, where=tmp_path)
    assert worn.returncode == 0, worn.stderr
    told = json.loads(worn.stdout)
    assert told["settled"] and not told["left_out"]
    assert [way["how"] for way in told["ways"]] == ["closed", "open"]
    for way in told["ways"]:
        assert way["crossings"] == 0 and way["deepest_mm"] < 1.0
        assert way["shoulder_left_percent"] + way["shoulder_right_percent"] == pytest.approx(100.0, abs=2.0)
    assert told["ways"][0]["stays"] and told["ways"][1]["pull_n"] is None
