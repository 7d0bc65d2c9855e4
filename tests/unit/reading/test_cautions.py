"""Cautions: where they apply and nowhere else, each deferring to local rules."""

from __future__ import annotations

from typing import Any

import pytest

from drape.reading.cautions import cautions
from drape.reading.table import cautions_text


def test_no_caution_where_none_applies() -> None:
    assert cautions(sex="man", stature=1.76, cloths=["heavy melton"], clearance_cm=35.0) == []
    assert cautions_text([]) == ""


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"sex": "child", "stature": 1.34}, "no tie, cord or drawstring"),
        ({"sex": "child", "stature": 1.10}, "EN 14682, ASTM F1816"),
        ({"sex": "woman", "stature": 1.30}, "no tie, cord or drawstring"),
        ({"sex": "child", "stature": 1.35}, "free ends"),
        ({"clearance_cm": 4.9}, "trip hazard"),
        ({"throat_line_load_n_m": 20.1}, "presses on the throat"),
        ({"fastening": "ties"}, "may not give way"),
        ({"fastening": "clasp"}, "under a hard pull"),
        ({"seated_on_floor_cm": 4.2}, "about 4.2 cm of the hem lies on the floor"),
        ({"cloths": ["calico"]}, "naked flame"),
        ({"cloths": ["heavy melton", "own cloth"]}, "naked flame"),
    ],
)
def test_cautions_appear_where_they_apply_and_defer_to_local_rules(given: dict[str, Any], says: str) -> None:
    """EN 14682:2014 draws its line at 134 cm (7 years); ASTM F1816-18 allows no neck cord in sizes 2T-12."""
    usual: dict[str, Any] = {"sex": "man", "stature": 1.76, "cloths": ["heavy melton"], "clearance_cm": 35.0}
    lines = cautions(**{**usual, **given})
    assert len(lines) == 2
    assert says in lines[0]
    assert lines[1] == "Local rules and qualified people come before these lines."
    assert max(map(len, cautions_text(lines).splitlines())) <= 80


def test_a_hem_at_five_centimetres_is_clear_enough() -> None:
    assert cautions(sex="man", stature=1.76, cloths=["flannel"], clearance_cm=5.0) == []
    assert (
        cautions(
            sex="man", stature=1.7, cloths=["flannel"], clearance_cm=9.0, throat_line_load_n_m=19.9, fastening="buttons"
        )
        == []
    )
    assert cautions(sex="man", stature=None, cloths=["flannel"], clearance_cm=None) == []
