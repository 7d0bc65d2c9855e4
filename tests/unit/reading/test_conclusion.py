"""The answer first: whether a draft sits, which of several is better, and the readings that decide it."""

from __future__ import annotations

import copy

import pytest
from quiet import QUIET

from drape.reading.conclusion import conclude, conclusion_of


def draft(name="plain", *, settled=True, **changed):
    """A cloak without fault, some of its readings changed: neck__gap_back_cm=3.0."""
    readings = {**copy.deepcopy(QUIET), "scene": name, "settled": settled, "verdicts": []}
    for key, value in changed.items():
        group, name_ = key.split("__")
        readings[group][name_] = value
    return readings


def crowded(name="crowded", **changed):
    usual = {"spare__percent": 28.0, "spare__percent_spread": 3.0, "shoulder_left__stand_off_mean_cm": 2.0}
    return draft(name, **usual | changed)


def sits(**changed):
    return conclude([draft(**changed)])["sits"]["plain"]


def test_a_draft_without_fault_is_to_be_cut():
    found = conclude([draft()])
    assert list(found) == ["text", "better", "sits", "starts"]
    assert found["text"].startswith("Cut plain: it sits, with spare cloth 0 %, shoulder stand-off 0.1 cm and neck gap")
    assert (found["better"], found["sits"], found["starts"]) == (None, {"plain": "yes"}, {"plain": 1})


@pytest.mark.parametrize(
    ("changed", "answer"),
    [
        ({"neck__throat_line_load_n_m": 40.0}, "no"),
        ({"fall__clearance_cm": 2.0}, "no"),
        ({"neck__gap_back_cm": 2.0, "neck__gap_back_cm_spread": 0.3}, "no"),
        ({"neck__gap_back_cm": 1.7, "neck__gap_back_cm_spread": 0.3}, "undecided"),
        ({"neck__gap_back_cm": 1.3, "neck__gap_back_cm_spread": 0.3}, "undecided"),
        ({"shoulder_left__stand_off_mean_cm": None}, "no"),
        ({"fall__level_cm": 12.0}, "yes"),
        ({"closure__gape_cm": 4.0}, "yes"),
        ({"balance__turn_deg": 12.0, "balance__turn_deg_spread": 6.0}, "yes"),
        ({"crowding__max_percent": 13.0, "crowding__max_percent_spread": 19.6}, "yes"),
    ],
)
def test_it_sits_when_nothing_harms_the_wearer_and_neck_and_shoulders_lie(changed, answer):
    assert sits(**changed) == answer


def test_a_hem_longer_than_the_wearer_is_told_as_such():
    assert "hem 10.6 cm below the floor" in conclude([draft(fall__clearance_cm=-10.6)])["text"]


def test_less_than_no_cloth_to_spare_is_none():
    """Cloth that bridges a hollow covers a little more body than it has."""
    assert "spare cloth 0 against 28 %" in conclude([draft(spare__percent=-1.2), crowded()])["text"]


def test_what_is_left_for_the_fitting_is_named_though_the_draft_sits():
    assert conclude([draft(fall__level_cm=12.0)])["text"].endswith("at the fitting see to hem out of level 12 cm.")


def test_a_draft_that_does_not_sit_is_told_by_its_gravest_readings_and_the_first_change():
    readings = crowded(fall__level_cm=12.0, neck__ride_front_cm=4.0, neck__throat_line_load_n_m=131.0)
    changes = [{"table": "draft", "place": None, "key": "neck", "write": "tailored", "was": "round"}]
    readings["verdicts"] = [{"undecided": False, "harm": "cut", "changes": changes}]
    assert conclude([readings])["text"] == (
        "Do not cut crowded as it is: throat load 131 N/m, spare cloth 28 % and left shoulder stand-off 2.0 cm. "
        'Change first: neck = "tailored".'
    )


def test_a_wedge_that_lacks_is_what_to_change_first():
    wider = {"table": "draft", "place": None, "key": "neck_width_cm", "write": 13.699999999999998, "was": 12.2}
    wedge = {"table": "dart", "place": "left shoulder", "key": "intake_cm", "write": 9.5, "was": None}
    certain = [{"undecided": False, "harm": "wearer", "changes": [wider]}]
    readings = crowded() | {"verdicts": certain}
    assert conclude([readings])["text"].endswith("Change first: neck_width_cm = 13.7.")
    readings["verdicts"] = [*certain, {"undecided": False, "harm": "cut", "changes": [wedge]}]
    assert conclude([readings])["text"].endswith("Change first: intake_cm = 9.5 of a dart on the left shoulder.")


@pytest.mark.parametrize("turned", [False, True])
def test_of_two_the_one_that_sits_is_to_be_cut(turned):
    found = conclude([draft(), crowded()] if turned else [crowded(), draft()])
    assert found["better"] == "plain" and found["sits"] == {"plain": "yes", "crowded": "no"}
    assert found["text"].startswith(
        "Cut plain, not crowded: spare cloth 0 against 28 % and shoulder stand-off 0.1 against 2.0 cm"
    )


def test_of_two_that_do_not_sit_the_gravest_reading_on_which_they_differ_decides():
    """The gap is as wide in both, and what is spare is graver than how far it rides."""
    first = crowded("a", neck__gap_back_cm=3.0, neck__ride_front_cm=2.6)
    second = draft("b", spare__percent=12.0, neck__gap_back_cm=3.0, neck__ride_front_cm=9.0)
    found = conclude([first, second])
    assert found["better"] == "b" and found["text"].startswith("Cut neither draft as it is. b is better than a: spare")
    assert conclude([crowded("a"), crowded("b", spare__percent=27.0)])["better"] is None  # within ±


def test_of_several_the_better_must_be_better_than_each():
    three = [crowded("a"), draft("b"), draft("c")]
    assert conclude(three)["better"] is None
    three[2]["fall"]["level_cm"] = 12.0  # both sit, and one is better to finish
    assert conclude(three)["better"] == "b"
    assert conclude(three)["text"].startswith("Cut b, not a or c: ")


def test_nothing_is_concluded_of_cloth_that_has_not_come_to_rest():
    found = conclude([draft("loose", settled=False), draft()])
    assert found["text"].startswith("NOT SETTLED: loose.") and found["better"] is None
    assert found["sits"] == {"loose": "undecided", "plain": "yes"}


def test_one_draft_on_several_bodies_is_not_chosen_from(cone):
    told = [{"dimensions": {"neck_width": 0.15}, "body": body} for body in ("clerk", "warden")]
    found = conclusion_of([cone(readings=r, about=a) for r, a in zip([crowded(), draft()], told, strict=True)])
    assert found["better"] is None
    assert found["text"].startswith("Do not cut it for all. On crowded it does not sit: spare cloth 28 %")
    told[1]["dimensions"] = {"neck_width": 0.16}
    found = conclusion_of([cone(readings=r, about=a) for r, a in zip([crowded(), draft()], told, strict=True)])
    assert found["better"] == "plain"


def test_limits_of_ones_own_decide():
    assert conclude([draft(neck__gap_back_cm=1.0)], {"gap_cm": 0.8})["sits"] == {"plain": "no"}


def test_how_often_and_in_which_way_it_came_to_rest_is_told():
    readings = crowded() | {"starts": {"count": 8, "words": "5 of 8 fold in, 3 stand up"}}
    found = conclude([readings])
    assert found["starts"] == {"crowded": 8} and "(5 of 8 fold in, 3 stand up)" in found["text"]
    both = conclude([draft("cloak-b"), readings | {"scene": "cloak-a"}])["text"]
    assert "(a: 5 of 8 fold in, 3 stand up)" in both
    once = crowded() | {"starts": {"count": 1, "words": "one start, which folds in"}}
    assert "one start" not in conclude([once])["text"]
    assert conclude([draft() | {"spread": {"members": 4}}])["starts"] == {"plain": 4}
