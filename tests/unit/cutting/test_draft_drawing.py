"""pattern: the sheet is at true scale, nothing runs out of it, no two words overlap, and its bytes repeat."""

from __future__ import annotations

import math
import re
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from families import most_are_long
from shapely import Polygon, box
from shapely.affinity import rotate
from stand_in import standing_body

from drape.cutting.chalk_card import write_chalk_card
from drape.cutting.chalk_points import chalk_points, is_arc
from drape.cutting.draft_drawing import write_draft_svg
from drape.draft.cloak import draft_cloak
from drape.draft.cut_line import cut_line
from drape.draft.outline import Draft, area_of
from drape.draft.style import Dart, Style
from drape.reading.table import dimension_rows, dimensions_table, edge_dimensions

SVG = "{http://www.w3.org/2000/svg}"
STYLES = {
    "round": Style("round", 1.12),
    "tailored": Style("tailored", 1.12, darts=(Dart(),)),
    "tailored without dart": Style("tailored", 1.12),
    "round with dart and cuts": Style("round", 1.12, darts=(Dart(),), shoulder_cut_intake=0.08),
    "quarter": Style("tailored", 1.12, sweep=math.pi / 2, darts=(Dart(),)),
    "230 degrees": Style("tailored", 1.2, sweep=math.radians(230), darts=(Dart(),)),
    "full": Style("round", 1.12, sweep=2 * math.pi),
    "left closing, buttoned to the elbow": Style(
        "tailored", 1.12, closure_place="left shoulder", darts=(Dart(),), fastened_to="elbow", buttons=6
    ),
    "centre front, two darts": Style(
        "tailored", 1.12, closure_place="centre front", darts=(Dart("left shoulder"), Dart("right shoulder")), buttons=3
    ),
    "centre front, unlike darts": Style(
        "tailored",
        1.12,
        sweep=math.radians(200),
        closure_place="centre front",
        darts=(Dart("left shoulder", intake=0.1), Dart("right shoulder", intake=0.05)),
    ),
    "centre front, three quarters": Style("tailored", 1.12, sweep=1.5 * math.pi, closure_place="centre front"),
    "three darts, bowed": Style(
        "tailored",
        1.12,
        darts=(
            Dart(leg_bow=0.006),
            Dart(azimuth=math.pi, length=0.12, intake=0.02),
            Dart(azimuth=0.0, length=0.1, intake=0.02),
        ),
        shoulder_cut_bow=0.006,
    ),
    "mantle with a bent hem": Style(
        "tailored", 0.45, front_length=0.35, darts=(Dart(),), fastening="clasp", fastened_to="collar"
    ),
    "allowances": Style(
        "tailored", 1.12, darts=(Dart(),), neck_allowance=0.015, opening_allowance=0.02, hem_allowance=0.04, buttons=2
    ),
    "drawn": Style("drawn", 1.12, neck_along=(0.16, 0.11, 0.0, -0.11, -0.15), neck_up=(0.0, 0.11, 0.15, 0.09, 0.0)),
    "short": Style("tailored", 0.45, darts=(Dart(),), fastened_length=0.08),
}
AT_ONCE = ("tailored", "full", "centre front, two darts", "three darts, bowed", "mantle with a bent hem", "drawn")
LETTER = 0.58  # mean width of a letter in type heights, DejaVu Sans; measured on the captions


@pytest.fixture(params=most_are_long(STYLES, *AT_ONCE))
def sheet(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[Draft, ElementTree.Element]:
    """A draft and its sheet, read back."""
    draft = draft_cloak(STYLES[request.param], standing_body())
    path = tmp_path / "draft.svg"
    write_draft_svg(draft, path, title="Lamp bearer's cloak & hood <first>")
    return draft, ElementTree.parse(path).getroot()


def words_of(root: ElementTree.Element) -> list[tuple[str, Polygon]]:
    """Every line of type with the box it takes."""
    found = []
    for node in root.iter(f"{SVG}text"):
        x, y, size = (float(node.get(name, "nan")) for name in ("x", "y", "font-size"))
        width = LETTER * size * len(node.text or "")
        left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[node.get("text-anchor", "start")] * width
        area = box(left, y - 0.76 * size, left + width, y + 0.1 * size)
        turn = re.fullmatch(r"rotate\((\S+) (\S+) (\S+)\)", node.get("transform", "rotate(0 0 0)"))
        assert turn is not None
        found.append((node.text or "", rotate(area, float(turn[1]), origin=(float(turn[2]), float(turn[3])))))
    return found


def points_of(node: ElementTree.Element) -> np.ndarray:
    """The points of a polyline or polygon."""
    return np.array([[float(v) for v in pair.split(",")] for pair in node.get("points", "").split()])


def test_sheet_is_at_true_scale(sheet: tuple[Draft, ElementTree.Element]) -> None:
    """Width and height in mm say what a unit is; each edge is drawn 1000 mm to the metre; the square is 10 cm."""
    draft, root = sheet
    view = [float(v) for v in root.get("viewBox", "").split()]
    assert view[:2] == [0.0, 0.0]
    unit = float(root.get("width", "").removesuffix("mm")) / view[2]
    assert float(root.get("height", "").removesuffix("mm")) / view[3] == pytest.approx(unit, rel=1e-4)
    lines = [points_of(node) for node in root.iter(f"{SVG}polyline")]
    for edge in draft.edges:
        wanted = 1000 / unit * (edge.points - edge.points[0]) * np.array([1, -1])
        drawn = [line for line in lines if line.shape == wanted.shape and np.abs(line - line[0] - wanted).max() < 0.2]
        assert drawn, edge.name
    squares = [node for node in root.iter(f"{SVG}rect") if node.get("width") == node.get("height")]
    assert [float(node.get("width", "")) * unit for node in squares] == pytest.approx([100.0], rel=2e-4)


def test_everything_is_inside_the_sheet(sheet: tuple[Draft, ElementTree.Element]) -> None:
    """No line, square or word leaves the frame."""
    _, root = sheet
    width, height = (float(v) for v in root.get("viewBox", "").split()[2:])
    frame = box(0, 0, width, height)
    for words, area in words_of(root):
        assert frame.contains(area), words
    for kind in ("polyline", "polygon"):
        for node in root.iter(f"{SVG}{kind}"):
            points = points_of(node)
            assert points.min() >= 0
            assert points[:, 0].max() <= width
            assert points[:, 1].max() <= height


def test_no_two_words_overlap(sheet: tuple[Draft, ElementTree.Element]) -> None:
    """The box of each line of type is clear of every other."""
    words = words_of(sheet[1])
    assert len(words) > 20
    for i, (first, area) in enumerate(words):
        for second, other in words[i + 1 :]:
            assert area.intersection(other).area < 1.0, (first, second)


def test_sheet_says_what_a_maker_needs(sheet: tuple[Draft, ElementTree.Element]) -> None:
    """Title, neck edge, cloth, area, grain, centre lines and every chalk point with its two figures."""
    draft, root = sheet
    text = [words for words, _ in words_of(root)]
    whole = "\n".join(text)
    assert "Lamp bearer's cloak & hood <first>" in text
    assert f"neck edge {100 * draft.dimensions['neck_edge_length']:.1f} cm sewn" in whole
    assert f"area {area_of(cut_line(draft)):.2f} m²" in whole
    assert f"hem {100 * draft.dimensions['hem_length']:.1f} cm" in whole
    if is_arc(draft):
        assert f"hem radius {100 * draft.dimensions['hem_radius']:.1f}" in whole
    assert draft.word in whole
    for kind in ("clasp", "buttons"):
        assert (kind in whole) == (draft.fastening.kind == kind)
    assert "grain, warp" in text
    high = np.ptp(cut_line(draft), axis=0) * 100
    assert f"cloth in one width: {high[1]:.1f} cm wide, {high[0]:.1f} cm long" in whole
    for sign, label, point in chalk_points(draft):
        assert sign in text
        assert label in text
        for value in point:
            assert re.search(rf"^{re.escape(f'{100 * value:.1f}'.replace('-0.0', '0.0'))}$", whole, re.MULTILINE)


def test_as_many_buttons_as_buttonholes_and_a_drill_mark_at_every_dart(tmp_path: Path) -> None:
    """Rings: chalk points of the neck, buttons, dart points."""
    draft = draft_cloak(STYLES["left closing, buttoned to the elbow"], standing_body())
    path = tmp_path / "draft.svg"
    write_draft_svg(draft, path, title="t")
    lettered = len([row for row in chalk_points(draft) if "fastening" not in row[1]])
    wanted = len(draft.fastening.places) + len(draft.darts) + lettered
    assert path.read_text(encoding="utf-8").count("<circle") == wanted


def test_same_draft_same_bytes(tmp_path: Path) -> None:
    """Nothing of the day, the machine or the path enters the file."""
    draft = draft_cloak(STYLES["tailored"], standing_body())
    first, second = tmp_path / "a.svg", tmp_path / "b.svg"
    for path in (first, second):
        write_draft_svg(draft, path, title="Lamp bearer")
    assert first.read_bytes() == second.read_bytes()
    write_draft_svg(draft, second, title="Toll-house clerk")
    assert first.read_bytes() != second.read_bytes()


def test_a_hem_that_is_no_arc_shows_no_single_radius_and_says_how_it_was_found(tmp_path: Path) -> None:
    figure = standing_body()
    style = Style("tailored", None, length_to="knee")
    trim = np.linspace(0.0, 0.06, 49)
    draft = draft_cloak(style, figure, trim=trim)
    low, high = (100 * draft.dimensions[f"hem_radius_{which}"] for which in ("min", "max"))
    assert high - low == pytest.approx(6.0, abs=0.1)
    write_draft_svg(draft, tmp_path / "a.svg", title="A")
    write_chalk_card(draft, tmp_path / "b.svg", title="A")
    drawn, card = ((tmp_path / name).read_text(encoding="utf-8") for name in ("a.svg", "b.svg"))
    for text in (drawn, card):
        assert "hem: settled on the figure, to the knee" in text
        assert f"{low:.1f} to {high:.1f} cm" in text and "not an arc" in text
    assert f"hem radius {100 * draft.dimensions['hem_radius']:.1f}" not in drawn
    table = dimensions_table("A", edge_dimensions(draft.dimensions))
    assert re.search(rf"hem radius, not an arc \[cm\] +{low:.1f} to {high:.1f}\n", table)
    assert "hem radius [cm]" not in table and "hem_radius_min" not in draft_cloak(style, figure).dimensions


def test_the_tables_of_two_darts_name_the_shoulder() -> None:
    values = {"dart_1_intake_cm": 9.0, "dart_2_length_cm": 14.0, "dart_places": ["left shoulder", "right shoulder"]}
    assert [row[0] for row in dimension_rows(values)] == ["dart intake, left shoulder", "dart length, right shoulder"]
