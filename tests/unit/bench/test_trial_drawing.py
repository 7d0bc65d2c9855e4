"""A trial on paper: the same bytes, its scale true, a warning where it did not settle."""

from __future__ import annotations

import xml.etree.ElementTree as xml
from pathlib import Path

import numpy as np
import pytest

from drape.bench.strips import Drawing, Evidence, Loop
from drape.bench.trial import Trial, run_trial, trial_json
from drape.bench.trial_drawing import MARGIN, ROOM, WIDTH, write_trial_svg

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.long
def test_same_trial_same_bytes(melton, tmp_path) -> None:
    texts = []
    for name in ("a.svg", "b.svg"):
        made = run_trial("pear", melton, {}, seed=2)
        write_trial_svg(made, tmp_path / name)
        texts.append([line for line in trial_json(made).splitlines() if "seconds" not in line])
    assert texts[0] == texts[1]
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()
    assert "NOT SETTLED" not in (tmp_path / "a.svg").read_text(encoding="utf-8")
    lines = xml.parse(tmp_path / "a.svg").getroot().findall(f"{SVG}polyline")
    assert len(lines) > 100


def drawn(path: Path, *, settled: bool = True, exact: bool = True) -> xml.Element:
    """The sheet of a square of cloth of 30 cm, one corner at (2, 5) m, and if asked an exact line across it."""
    square = np.array([[0.0, 0.0], [0.3, 0.0], [0.3, 0.3], [0.0, 0.3], [0.0, 0.0]]) + [2.0, 5.0]
    picture = Drawing("side view", [square], [square[[0, 2]]] if exact else [], [])
    evidence = Evidence(vertices=4, edge_length=0.3, settled=settled, residual=0.0, remaining=0.0, steps=1, seconds=0.0)
    write_trial_svg(Trial("ring", "melton", 0, Loop(5.0, 0.35, 0.36, evidence, picture), 0.0), path)
    return xml.parse(path).getroot()


def test_the_drawing_fills_its_room_and_the_bar_is_as_long_as_it_says(tmp_path: Path) -> None:
    """30 cm on 150 mm of paper, so that a bar of 5 cm is 25 mm long."""
    lines = drawn(tmp_path / "a.svg").findall(f"{SVG}polyline")
    shapes = [np.array([pair.split(",") for pair in line.get("points").split()], float) for line in lines]
    square = shapes[0]
    assert np.ptp(square, axis=0) == pytest.approx([ROOM, ROOM], abs=0.02)
    assert square[:, 0].min() == pytest.approx(MARGIN) and square[:, 0].max() <= WIDTH
    words = [text.text for text in drawn(tmp_path / "a.svg").iter(f"{SVG}text")]
    (bar,) = [shape for shape in shapes if np.ptp(shape[:, 1]) == 0 and shape[0, 0] == MARGIN]
    told = next(float(word.split()[0]) for word in words if word and word.endswith(" cm"))
    assert np.ptp(bar[:, 0]) == pytest.approx(told / 30 * ROOM, abs=0.02)


def test_up_is_up(tmp_path: Path) -> None:
    """The exact line runs from the lower left to the upper right; on paper y counts downward."""
    lines = drawn(tmp_path / "a.svg").findall(f"{SVG}polyline")
    (exact,) = [
        line
        for line in lines
        if "dasharray" in xml.tostring(line, encoding="unicode")
        and line.get("points").count(",") == 2
        and float(line.get("points").split()[0].split(",")[0]) == MARGIN
    ]
    (x0, y0), (x1, y1) = (map(float, pair.split(",")) for pair in exact.get("points").split())
    assert x1 > x0 and y1 < y0


def test_what_did_not_settle_and_what_is_exact_are_said_only_then(tmp_path: Path) -> None:
    def words(**how: bool) -> set[str]:
        return {text.text or "" for text in drawn(tmp_path / "a.svg", **how).iter(f"{SVG}text")}

    assert {"NOT SETTLED", "the exact curve"} & words() == {"the exact curve"}
    assert {"NOT SETTLED", "the exact curve"} & words(settled=False, exact=False) == {"NOT SETTLED"}
