"""The table of `drape measure`: every measure once, asked beside got, what was filled and what gives way."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from families import most_are_long
from mannequin import DRESSED, MAN, mannequin
from PIL import Image

from drape.body.measure_table import gives_way, measure_object, measure_table
from drape.body.tape import TAPE_KEYS
from drape.body.worn_under import KINDS
from drape.picture.figure_sheet import draw_figure

TAPE = {**MAN, "shoulder_slope": np.radians(26.4)}


@pytest.fixture(scope="module")
def figure():
    return mannequin(TAPE)


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


@pytest.mark.long
def test_stance_arms_and_what_is_worn_are_said_and_measured_over() -> None:
    """A padded chest is larger over than got; what the arms are not held for is a dash, not a number."""
    found = measure_object("someone", mannequin(**DRESSED), MAN, 0.5)
    assert found["stance"] == {"head_forward_cm": 2.0}
    assert found["arms"] == {"left": "down", "right": "raised"}
    assert found["worn_under"] == pytest.approx(
        {f"{place}_cm": 100 * thick for place, thick in KINDS["padded coat"].items()}
    )
    rows = {row["measure"]: row for row in found["rows"]}
    assert rows["chest_girth_cm"]["got"] == pytest.approx(99.14, abs=1.0)
    assert rows["chest_girth_cm"]["over"] > rows["chest_girth_cm"]["got"] + 9.0
    assert rows["upper_arm_breadth_cm"]["got"] is None and not gives_way(rows["upper_arm_breadth_cm"])
    text = measure_table(found)
    for words in ("Stance: head forward 2.0 cm.", "Arms: left down, right raised.", "over", "not with this arm"):
        assert words in text


@pytest.mark.parametrize("times", most_are_long([1, 2], 1))
def test_drawing_shows_three_views_and_both_inks(
    figure, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, times: int
) -> None:
    """Each third holds linen, tape and mark colours; the same figure draws the same picture."""
    monkeypatch.setattr("drape.picture.figure_sheet.TWICE", 1)  # edges not smoothed: a quarter of the pixels
    names = ["one.png", "two.png"][:times]
    for name in names:
        draw_figure(figure, tmp_path / name, title="Someone")
    assert (tmp_path / "one.png").read_bytes() == (tmp_path / names[-1]).read_bytes()
    pixels = np.asarray(Image.open(tmp_path / "one.png").convert("RGB")).astype(int)
    for third in np.array_split(pixels[120:], 3, axis=1):
        for colour, least in (((156, 62, 42), 500), ((36, 72, 120), 100)):
            assert (np.abs(third - colour).sum(axis=2) < 12).sum() > least
        assert third[..., 0].std() > 10.0
