"""How a cloak wears, in words: a line for each way, what is free, cautions where they belong."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from drape.wearing.words import said, wearing_object, wearing_text, worn_cautions


def way(**changed):
    arm = {"bare_cm": 0.0, "free": False, "bare_at": []}
    return {
        "how": "thrown over", "doing": "stand", "settled": True, "stays": True, "slid_cm": 6.4,
        "cover": {"front_percent": 70.0, "back_percent": 80.0, "rain_percent": 75.0}, "pull_n": 3.2, "throat_n": 1.0,
        "shoulder_left_percent": 60.0, "shoulder_right_percent": 40.0, "hem_lowest_cm": 40.0, "trodden_on": False,
        "arms": {"left": arm, "right": arm}, "turned_deg": 2.0, "ridden_back_cm": 0.1, **changed,
    }  # fmt: skip


def wearing(**changed):
    scene = SimpleNamespace(
        name="warden", title="Warden's cloak", sex="man", tape={"stature": 1.75}, layers=("heavy melton",),
        style=SimpleNamespace(fastening=None), cloth=SimpleNamespace(name="heavy melton"), limits={},
    )  # fmt: skip
    return SimpleNamespace(scene=scene, fitting=SimpleNamespace(readings={"settled": True}), left_out=(), **changed)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({}, "thrown over: it stays over the shoulder; the edge slid 6 cm; both arms are under."),
        ({"stays": False, "slid_cm": 55.0}, "it does not stay over the shoulder; the edge slid 55 cm"),
        ({"how": "open", "stays": False, "slid_cm": 44.0}, "open: it does not stay: the neck edge slid 44 cm"),
        ({"settled": False}, "NOT SETTLED"),
        ({"doing": "lean", "trodden_on": True}, "thrown over, lean: it stays"),
        ({"trodden_on": True, "turned_deg": -14.0, "ridden_back_cm": 3.1},
         "turned 14° to the right; ridden back by 3.1 cm; the hem is trodden on."),
        ({"arms": {"left": {"bare_cm": 0.0, "free": False, "bare_at": []},
                   "right": {"bare_cm": 28.0, "free": True, "bare_at": []}}},
         "the right arm is free; 28 cm of it bare, from the finger tips"),
        ({"arms": {"left": {"bare_cm": 0.0, "free": False, "bare_at": []},
                   "right": {"bare_cm": 4.0, "free": False, "bare_at": ["at the side", "behind"]}}},
         "the left arm is under; the right arm is under only in front: it is bare at the side and behind."),
    ],
)  # fmt: skip
def test_a_way_in_a_sentence(changed, words):
    assert words in said(way(**changed))


def test_the_table_has_a_line_for_each_way_and_a_dash_for_what_is_not_there():
    text = wearing_text(wearing(), [way(), way(doing="lean"), way(how="open", pull_n=None)], edge_length=0.03)
    lines = text.splitlines()
    assert any(
        line.split() == ["thrown", "over", "6", "70", "80", "75", "3.2", "1.0", "60", "40", "40"] for line in lines
    )
    assert any(line.startswith("  lean") for line in lines)
    assert any(line.startswith("open") and "–" in line for line in lines)
    assert max(map(len, lines)) <= 95


def test_the_object_says_whether_all_settled():
    found = wearing_object(wearing(), [way(), way(settled=False)], edge_length=0.03, seconds=1.234)
    assert found["settled"] is False and found["edge_length_cm"] == 3.0 and found["seconds"] == 1.23
    assert wearing_object(wearing(), [way()], edge_length=0.03, seconds=0.0)["settled"] is True


def test_a_throw_that_stays_on_coarse_triangles_is_not_to_be_relied_on():
    told = "triangles of 6 cm, layers catch on each other"
    for edge_length, stays, warned in ((0.06, True, True), (0.06, False, False), (0.03, True, False)):
        ways = [way(stays=stays)]
        remarks = wearing_object(wearing(), ways, edge_length=edge_length, seconds=0.0)["remarks"]
        assert (told in " ".join(remarks)) is warned
        assert (told in " ".join(wearing_text(wearing(), ways, edge_length=edge_length).split())) is warned


def test_cautions_stand_where_they_belong_and_nowhere_else():
    assert worn_cautions(wearing(), [way()]) == []
    leaning = " ".join(worn_cautions(wearing(), [way(doing="lean")]))
    assert "naked flame" in leaning and "throat" not in leaning
    assert "hangs from the throat with 8 N" in " ".join(worn_cautions(wearing(), [way(throat_n=8.0)]))
    assert worn_cautions(wearing(), [way(how="closed", throat_n=8.0)]) == []
    stepped = " ".join(worn_cautions(wearing(), [way(trodden_on=True, hem_lowest_cm=1.0)]))
    assert "trodden on" in stepped and "trip hazard" in stepped
