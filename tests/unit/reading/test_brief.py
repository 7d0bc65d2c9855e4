"""The short report: the conclusion first, what is wrong numbered by harm, few readings, and where the rest is."""

from __future__ import annotations

import copy

import pytest
from quiet import QUIET

from drape.reading.brief import brief
from drape.reading.verdict import Advice, judge

CHANGE = {"table": "draft", "place": None, "key": "neck", "write": "tailored", "was": "round"}


def draft(name, **changed):
    """Quiet readings, some changed (neck__gap_back_cm=3.0), with their verdicts."""
    readings = {**copy.deepcopy(QUIET), "scene": name, "settled": True}
    for key, value in changed.items():
        group, reading = key.split("__")
        readings[group][reading] = value
    return readings | {"verdicts": judge(readings, adviser=lambda _: Advice("Shape the neck.", (CHANGE,)))}


@pytest.fixture
def lines():
    drafts = [draft("cloak-a", neck__gap_back_cm=3.0, neck__throat_line_load_n_m=131.0), draft("cloak-b")]
    return brief(drafts, conclusion="Cut cloak-b, not cloak-a.", told_in="out/compare.txt").splitlines()


def test_the_conclusion_is_the_first_line(lines):
    assert lines[0] == "Cut cloak-b, not cloak-a."


def test_what_is_wrong_is_numbered_in_order_of_harm_and_a_mend_is_told_once(lines):
    text = " ".join(" ".join(lines).split())
    assert "1. neck: presses the throat" in text and "2. neck: gapes by 3.0 cm behind. Mend as 1." in text
    assert text.count("Mend: Shape the neck.") == 1
    assert "Nothing is wrong, b" in lines and "In order: neck," in text


def test_only_the_readings_that_decide_or_are_wrong_are_shown_and_the_rest_is_pointed_to(lines):
    begun = [line.split(" [")[0].strip() for line in lines if "[" in line]
    assert (
        "neck gap, back" in begun
        and "throat load, front, per metre" in begun
        and "spare cloth, of the cloth there" in begun
    )
    assert "ride, left" not in begun and "closure, gape" not in begun
    text = " ".join(" ".join(lines).split())
    assert "--all" in text and "out/compare.txt" in text
    assert max(map(len, lines)) <= 80


def test_odds_are_explained_only_where_some_are_told():
    told = draft("a", neck__gap_back_cm=1.6, neck__gap_back_cm_spread=0.5)
    untold = copy.deepcopy(told)
    for verdict in untold["verdicts"]:
        verdict["likely_percent"] = None
    said = [brief([one], conclusion="") for one in (told, untold)]
    assert "of ten runs" in said[0] and "of ten runs" not in said[1]


def test_what_has_not_come_to_rest_is_stamped():
    loose = draft("loose") | {"settled": False}
    assert "NOT SETTLED" in brief([loose], conclusion="")
