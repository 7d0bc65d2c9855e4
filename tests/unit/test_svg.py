"""svg: marks stand where they are put, words are escaped, bytes repeat."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from hostile import STEERING

from drape.svg import arrowhead, polyline, type_line, write_svg

SVG = "{http://www.w3.org/2000/svg}"


def test_a_sheet_has_its_size_and_its_marks(tmp_path: Path) -> None:
    parts = [
        polyline(np.array([[1.0, 2.0], [-0.0, 4.0]]), 'stroke="#000"'),
        *type_line(5, 6, "warp & <weft>", 2.7, bold=True),
    ]
    write_svg(parts, tmp_path / "a.svg", 210.0, 297.0, "A & B")
    root = ElementTree.parse(tmp_path / "a.svg").getroot()
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("210.0mm", "297.0mm", "0 0 210.0 297.0")
    assert root.findtext(f"{SVG}title") == "A & B"
    assert root.find(f"{SVG}polyline").get("points") == "1.00,2.00 0.00,4.00"
    (words,) = root.iter(f"{SVG}text")
    assert (words.text, words.get("x"), words.get("font-weight"), words.get("transform")) == (
        "warp & <weft>",
        "5.00",
        "bold",
        None,
    )
    write_svg(parts, tmp_path / "b.svg", 210.0, 297.0, "A & B")
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()


def test_type_turns_about_its_foot() -> None:
    assert "rotate(-90.00 5.00 6.00)" in type_line(5, 6, "side", 2.4, turn=-90)[0]


def test_an_arrowhead_points_away_from_its_tail() -> None:
    points = arrowhead(np.array([10.0, 0.0]), np.array([0.0, 0.0]), 2.0).split('"')[1].split()
    tip, *feet = (tuple(map(float, pair.split(","))) for pair in points)
    assert tip == (10.0, 0.0)
    assert {x for x, _ in feet} == {8.0}
    assert sum(y for _, y in feet) == pytest.approx(0.0)


@pytest.mark.parametrize("text", [*STEERING, "end\0", "no letter \ufffe"])
def test_any_text_leaves_a_sheet_that_can_be_read(text: str, tmp_path: Path) -> None:
    """XML 1.0 has no control characters, not even by number."""
    write_svg(type_line(5, 6, text, 2.7), tmp_path / "a.svg", 210.0, 297.0, text)
    root = ElementTree.parse(tmp_path / "a.svg").getroot()
    (words,) = root.iter(f"{SVG}text")
    assert words.text == root.findtext(f"{SVG}title") and words.text.isprintable() and "\\u" in words.text
