"""The card of tape measures: every number drawn and listed, at the place it is taken on a body of true proportions."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from drape.body.survey import HEIGHT_RATIO, MEAN
from drape.fitting.body_card import (
    ANKLE,
    BACK_NECK,
    CHEST,
    CROWN,
    FLOOR,
    FRONT_NECK,
    HALF,
    HEIGHT,
    HIP,
    KNEE,
    MARGIN,
    PROFILE,
    SHOULDER,
    SIDE_NECK,
    WAIST,
    WIDTH,
    WRIST,
    write_body_card,
)
from drape.fitting.body_form import FIRST, MEASURES, NUMBER

SVG = "{http://www.w3.org/2000/svg}"


def test_the_card_shows_every_number_of_the_form_in_the_drawing_and_in_the_list(tmp_path: Path) -> None:
    write_body_card(tmp_path / "card.svg")
    root = ElementTree.parse(tmp_path / "card.svg").getroot()
    words = [text.text for text in root.iter(f"{SVG}text")]
    for measure in MEASURES:
        assert words.count(str(NUMBER[measure.name])) >= 2, measure.name
        assert measure.words in words
    discs = [(float(disc.get("cx")), float(disc.get("cy"))) for disc in root.iter(f"{SVG}circle")]
    assert all(MARGIN - 3 < x < WIDTH - MARGIN + 3 and MARGIN < y < HEIGHT - MARGIN for x, y in discs)
    near = [(a, b) for i, a in enumerate(discs) for b in discs[:i] if (a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2 < 4.2**2]
    assert near == [], "numbers lie on each other"
    write_body_card(tmp_path / "again.svg")
    assert (tmp_path / "again.svg").read_bytes() == (tmp_path / "card.svg").read_bytes()


def test_the_marks_stand_where_a_mean_womans_do() -> None:
    """Heights over the crown's, ANSUR 1988 women (NATICK/TR-89/044); a drawing may be 1.5 % of stature off."""
    heights = {"back_neck_height": BACK_NECK, "side_neck_height": SIDE_NECK, "front_neck_height": FRONT_NECK,
               "shoulder_point_height": SHOULDER, "knee_height": KNEE, "ankle_height": ANKLE}  # fmt: skip
    for key, height in heights.items():
        assert height / CROWN == pytest.approx(MEAN["woman"][key] / MEAN["woman"]["stature"], abs=0.015), key
    for key, height in {"chest_height": CHEST, "waist_height": WAIST, "hip_height": HIP, "wrist_height": WRIST}.items():
        assert height / CROWN == pytest.approx(HEIGHT_RATIO["woman"][key], abs=0.015), key


def test_outlines_run_from_crown_to_floor() -> None:
    for outline in (HALF, PROFILE):
        z = np.array(outline)[:, 1]
        assert z.max() == pytest.approx(CROWN, abs=2) and z.min() == pytest.approx(0, abs=2)
    assert HALF[0][0] == HALF[-1][0] == 0  # from the middle to the middle


def test_numbers_of_measures_that_are_due_are_black_and_all_lie_on_the_sheet(tmp_path: Path) -> None:
    write_body_card(tmp_path / "card.svg")
    nodes = list(ElementTree.parse(tmp_path / "card.svg").getroot())
    pairs = [(disc, words) for disc, words in zip(nodes, nodes[1:], strict=False) if disc.tag == f"{SVG}circle"]
    black = {int(words.text) for disc, words in pairs if disc.get("fill") == "#000"}
    assert black == {NUMBER[measure.name] for measure in FIRST}
    for node in nodes:
        if node.tag == f"{SVG}polyline":
            points = np.array([pair.split(",") for pair in node.get("points").split()], float)
            assert (points > [3, MARGIN]).all() and (points < [WIDTH - 3, HEIGHT - MARGIN]).all()
    floor = [node for node in nodes if node.tag == f"{SVG}polyline" and node.get("points").count(f",{FLOOR:.2f}") == 2]
    assert floor
