"""The table of `drape measure`: every measure once, asked beside got, what was filled and what gives way."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from drape.body.figure import build_figure
from drape.body.measure_table import gives_way, measure_object, measure_table
from drape.body.stance import Stance
from drape.body.tape import TAPE_KEYS
from drape.picture.figure_sheet import draw_figure

TAPE = {
    "stature": 1.7558,
    "chest_girth": 0.9914,
    "waist_girth": 0.8399,
    "hip_girth": 0.9837,
    "shoulder_slope": np.radians(26.4),
}


@pytest.fixture(scope="module")
def figure():
    return build_figure(TAPE)


def test_object_and_table_hold_every_measure(figure) -> None:
    found = measure_object("someone", figure, TAPE, 0.5)
    rows = {row["measure"]: row for row in found["rows"]}
    assert len(rows) == len(TAPE_KEYS)
    assert {key for key, row in rows.items() if not row["filled"]} == {
        "stature_cm", "chest_girth_cm", "waist_girth_cm", "hip_girth_cm", "shoulder_slope_deg"
    }  # fmt: skip
    assert rows["stature_cm"]["asked"] == pytest.approx(175.58)
    assert rows["shoulder_slope_deg"]["asked"] == pytest.approx(26.4)
    assert found["watertight"] is True
    assert [row for row in found["rows"] if gives_way(row)] == []
    text = measure_table(found)
    assert "chest girth" in text and "filled" in text and "gives way" not in text


def test_what_gives_way_is_said() -> None:
    row = {"measure": "shoulder_breadth_cm", "asked": 39.7, "got": 38.0, "filled": False}
    assert gives_way(row)
    assert not gives_way({**row, "got": 39.5})
    assert gives_way({"measure": "shoulder_slope_deg", "asked": 26.0, "got": 27.5, "filled": False})
    found = {"body": "someone", "rows": [row], "watertight": True, "volume_l": 70.0, "seconds": 0.5}
    assert "gives way" in measure_table(found)


def test_stance_arms_and_what_is_worn_are_said_and_measured_over() -> None:
    """A padded chest is larger over than got; what the arms are not held for is a dash, not a number."""
    stance = Stance(head_forward=0.02)
    worn = build_figure(TAPE, stance=stance, arms=("down", "raised"), worn_under={"chest": 0.02, "back": 0.02})
    found = measure_object("someone", worn, TAPE, 0.5)
    assert found["stance"] == {"head_forward_cm": 2.0}
    assert found["arms"] == {"left": "down", "right": "raised"}
    assert found["worn_under"] == {"chest_cm": 2.0, "back_cm": 2.0}
    rows = {row["measure"]: row for row in found["rows"]}
    assert rows["chest_girth_cm"]["got"] == pytest.approx(99.14, abs=1.0)
    assert rows["chest_girth_cm"]["over"] > rows["chest_girth_cm"]["got"] + 9.0
    assert rows["upper_arm_breadth_cm"]["got"] is None and not gives_way(rows["upper_arm_breadth_cm"])
    text = measure_table(found)
    for words in ("Stance: head forward 2.0 cm.", "Arms: left down, right raised.", "over", "not with this arm"):
        assert words in text


def test_drawing_shows_three_views_and_both_inks(figure, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each third holds linen, tape and mark colours; the same figure draws the same picture."""
    monkeypatch.setattr("drape.picture.figure_sheet.TWICE", 1)  # edges not smoothed: a quarter of the pixels
    for name in ("one.png", "two.png"):
        draw_figure(figure, tmp_path / name, title="Someone")
    assert (tmp_path / "one.png").read_bytes() == (tmp_path / "two.png").read_bytes()
    pixels = np.asarray(Image.open(tmp_path / "one.png").convert("RGB")).astype(int)
    for third in np.array_split(pixels[120:], 3, axis=1):
        for colour, least in (((156, 62, 42), 500), ((36, 72, 120), 100)):
            assert (np.abs(third - colour).sum(axis=2) < 12).sum() > least
        assert third[..., 0].std() > 10.0
