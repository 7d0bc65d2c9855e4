"""The card: the strip is the elastica, the line has its angle, nothing runs out of its panel, no words overlap."""

from __future__ import annotations

import math
import re
from pathlib import Path
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pytest
from PIL import ImageFont
from shapely import Polygon, box
from shapely.affinity import rotate, translate
from table_top_tests import filled_in

from drape.bench.table_top import LINE, OVERHANG_RATIO, MeasuredCloth, load_measured_cloth
from drape.bench.table_top_card import (
    DRAWING_HEIGHT,
    HEIGHT,
    MARGIN,
    PANEL_WIDTH,
    PANELS,
    ROOT_CURVATURE,
    WEIGHT,
    WIDTH,
    hanging_strip,
    write_card_svg,
)

SVG = "{http://www.w3.org/2000/svg}"
LETTERS = {
    weight: ImageFont.truetype(str(Path(matplotlib.get_data_path()) / f"fonts/ttf/DejaVuSans{weight}.ttf"), 100)
    for weight in ("", "-Bold")
}


def measured_from(tmp_path: Path, text: str) -> MeasuredCloth:
    path = tmp_path / "grey.toml"
    path.write_text(text, encoding="utf-8")
    return load_measured_cloth(path)


def texts(tmp_path: Path) -> dict[str, MeasuredCloth | None]:
    """No cloth, one with the widest figures, one of which only the square was weighed."""
    full = filled_in().replace("grey melton, second bolt", "the toll-house clerk's winter cloth " * 4)
    for short, long in (
        ("5.7, 5.6", "15.7, 15.6"),
        ("5.4, 5.6", "15.4, 12.6"),
        ("5.2, 5.0", "15.2"),
        ("4.9, 5.1", "14.9"),
    ):
        full = full.replace(short, long)
    return {
        "blank": None,
        "full": measured_from(tmp_path, full),
        "scrap": measured_from(tmp_path, "[square]\nside_cm = 20\nmass_g = 24\n"),
    }


@pytest.fixture(params=["blank", "full", "scrap"])
def card(request: pytest.FixtureRequest, tmp_path: Path) -> ElementTree.Element:
    write_card_svg(tmp_path / "card.svg", texts(tmp_path)[request.param])
    return ElementTree.parse(tmp_path / "card.svg").getroot()


def words_of(root: ElementTree.Element) -> list[tuple[str, Polygon]]:
    """Every line of type on the sheet with the box it takes."""
    found = []
    for parent in root.iter():
        shift = (
            re.match(r"translate\(([\d.]+) ([\d.]+)\)", parent.get("transform", ""))
            if parent.tag == f"{SVG}g"
            else None
        )
        for node in parent.findall(f"{SVG}text"):
            x, y, size = (float(node.get(name)) for name in ("x", "y", "font-size"))
            width = LETTERS["-Bold" if node.get("font-weight") else ""].getlength(node.text) * size / 100
            left = x - {"start": 0.0, "middle": width / 2, "end": width}[node.get("text-anchor")]
            shape = box(left, y - 0.75 * size, left + width, y + 0.2 * size)
            turn = re.match(r"rotate\((\S+) ", node.get("transform", ""))
            shape = rotate(shape, float(turn[1]), origin=(x, y)) if turn else shape
            found.append((node.text, translate(shape, float(shift[1]), float(shift[2])) if shift else shape))
    return found


def test_it_is_one_a4_sheet_upright(card: ElementTree.Element) -> None:
    assert (card.get("width"), card.get("height")) == ("210.0mm", "297.0mm")
    assert len(list(card.iter(f"{SVG}g"))) == len(PANELS) == 6


def test_no_two_words_overlap_and_none_runs_out(card: ElementTree.Element) -> None:
    words = words_of(card)
    assert len(words) > 40
    page = box(MARGIN - 1, MARGIN - 1, WIDTH - MARGIN + 1, HEIGHT - MARGIN + 2)
    middle = WIDTH / 2
    for place, (text, shape) in enumerate(words):
        assert page.contains(shape), text
        if shape.bounds[1] > 32 and shape.bounds[3] < 280:  # in a panel: on one side of the middle
            assert shape.bounds[2] < middle + 0.5 or shape.bounds[0] > middle - 0.5, text
        for other, another in words[place + 1 :]:
            assert shape.intersection(another).area < 0.3, (text, other)


def test_drawings_stay_in_their_panels(card: ElementTree.Element) -> None:
    lines = [node for group in card.iter(f"{SVG}g") for node in group if node.get("points")]
    assert len(lines) > 20
    for node in lines:
        points = np.array([pair.split(",") for pair in node.get("points").split()], dtype=float)
        assert (points >= -0.6).all() and (points <= [PANEL_WIDTH + 0.1, DRAWING_HEIGHT + 0.3]).all()


def test_three_lines_each_and_every_value_has_its_place(tmp_path: Path) -> None:
    assert [len(lines) for _, lines, _, _ in PANELS] == [3] * 6
    found = texts(tmp_path)
    write_card_svg(tmp_path / "full.svg", found["full"])
    text = " ".join(words for words, _ in words_of(ElementTree.parse(tmp_path / "full.svg").getroot()))
    for value in ("600 ± 26 g/m²", "3.00 ± 0.12 mm", "bending length 7.", "N/m", "cm", "15.65 and 14.00 cm"):
        assert value in text, value
    write_card_svg(tmp_path / "scrap.svg", found["scrap"])
    text = " ".join(words for words, _ in words_of(ElementTree.parse(tmp_path / "scrap.svg").getroot()))
    assert text.count("not measured (") == 9 and "filled from heavy melton" in text


def test_the_hanging_strip_is_the_elastica_at_the_line() -> None:
    """Chord 41.5° below the edge, no moment at its end, length 1; W = (overhang / c)³."""
    points = hanging_strip()
    reach, drop = points[-1]
    assert math.atan2(drop, reach) == pytest.approx(LINE, abs=2e-6)
    assert (reach, drop) == pytest.approx((0.724270, 0.640780), abs=5e-6)
    assert WEIGHT == pytest.approx(OVERHANG_RATIO**3, abs=2e-5)
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    assert steps.sum() == pytest.approx(1.0, abs=1e-4)
    bend = np.diff(np.unwrap(np.arctan2(*np.diff(points, axis=0).T[::-1]))) * (len(points) - 1)
    assert bend[0] == pytest.approx(ROOT_CURVATURE, rel=0.02)
    assert abs(bend[-1]) < 1e-3 * bend[0]


def test_the_sloping_line_and_the_ruled_lengths_say_the_same(card: ElementTree.Element) -> None:
    """88.5 mm down on 100 mm along is 41.5°; the line drawn has that angle and the strip's end is on it."""
    assert math.degrees(math.atan2(88.5, 100.0)) == pytest.approx(41.5, abs=0.02)
    group = list(card.iter(f"{SVG}g"))[1]
    lines = [
        np.array([p.split(",") for p in n.get("points").split()], dtype=float) for n in group.iter(f"{SVG}polyline")
    ]
    slopes = [math.atan2(*(line[-1] - line[0])[::-1]) for line in lines if len(line) == 2]
    assert any(abs(slope - LINE) < 2e-3 for slope in slopes)
    strip = max((line for line in lines if len(line) > 150), key=lambda line: line[-1, 1])
    edge = next(
        line[0] for line in lines if len(line) == 2 and abs(math.atan2(*(line[-1] - line[0])[::-1]) - LINE) < 2e-3
    )
    assert math.atan2(*(strip[-1] - edge)[::-1]) == pytest.approx(LINE, abs=0.03)


def test_same_cloth_same_bytes(tmp_path: Path) -> None:
    found = texts(tmp_path)["full"]
    write_card_svg(tmp_path / "a.svg", found)
    write_card_svg(tmp_path / "b.svg", found)
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()
