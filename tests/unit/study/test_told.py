"""What a study found in sentences: the answer first, each outcome where the plan asks for it and nowhere else."""

from __future__ import annotations

from pathlib import Path

import pytest
from studied import BODIES, DIMENSIONS, found

from drape.study.fits import Reach, Share
from drape.study.plan import Factor
from drape.study.told import (
    conclusions_of_study,
    factor_words,
    interval_words,
    matter_words,
    reach_words,
    share_words,
    words_of,
)


def test_of_dimensions_the_best_member_and_what_matters_is_told(tmp_path: Path) -> None:
    one = found(tmp_path, DIMENSIONS, lambda s: 3.0 - s["dart.intake_cm"] / 4 + (s["draft.neck_width_cm"] - 14) / 20)
    best, how, most = conclusions_of_study(one)
    assert best == "Best of all is member 4: dart intake 9 cm, neck width 14 cm."
    assert how.startswith("It sits, with spare cloth 1 %") and most == "What matters most: dart intake for neck gap."
    assert one.drafts == one.sizes == one.reaches == ()
    (words,) = map(matter_words, one.matters)
    assert words.startswith("neck gap, back: dart intake 99") and words.endswith("the rest and chance 0\u00a0%")


def test_of_one_draft_on_many_bodies_how_many_it_fits(tmp_path: Path) -> None:
    gaps = {"man-5": 9.0, "man-50": 0.4, "man-95": 0.4, "ferry-warden": None}
    one = found(tmp_path, BODIES + 'draft = "one for all"\n', lambda s: gaps[s["body"]])
    assert conclusions_of_study(one) == ["The draft sits on 2 of 4 bodies; 1 could not be settled."]
    assert one.matters == () and one.sizes == () and len(one.drafts) == 1


def test_of_a_draft_cut_for_each_body_sizes_are_told(tmp_path: Path) -> None:
    one = found(tmp_path, BODIES, lambda s: 0.4)
    assert [size.body for size in one.sizes] == ["man-5", "man-50", "ferry-warden", "man-95"]


def test_of_drafts_on_bodies_the_best_for_all_and_for_each(tmp_path: Path) -> None:
    text = '[vary]\n"dart.intake_cm" = [6, 9]\n' + BODIES
    one = found(tmp_path, text, lambda s: 0.4 if s["dart.intake_cm"] == 9 or s["body"] == "man-5" else 9.0)
    assert conclusions_of_study(one)[0] == "Best for all: dart intake 9 cm. It sits on 4 of 4 bodies."
    assert [(body, result.member.setting["dart.intake_cm"]) for body, result in one.best][1:] == [
        ("man-50", 9), ("man-95", 9), ("ferry-warden", 9),
    ]  # fmt: skip


def test_where_nothing_settled_nothing_is_concluded(tmp_path: Path) -> None:
    one = found(tmp_path, DIMENSIONS, lambda s: None)
    assert conclusions_of_study(one) == ["No member settled: nothing can be concluded."]
    assert one.matters == ()


@pytest.mark.parametrize(
    ("reach", "said"),
    [
        (
            Reach("tape.stature_cm", 165, 175, 160, 185, (3, 3), (0, 3)),
            "stature, 165 to 175 cm: it sits on 3 of 3; beyond",
        ),
        (
            Reach("tape.chest_girth_cm", 90, 104, 90, 110, (4, 5), (0, 3)),
            "chest girth, up to 104 cm: it sits on 4 of 5",
        ),
        (Reach("tape.stature_cm", 165, 185, 160, 185, (3, 3), (0, 3)), "stature, from 165 cm up"),
    ],
)
def test_where_a_draft_stops_to_sit_is_told(reach: Reach, said: str) -> None:
    assert reach_words(reach).startswith(said)


def test_shares_are_told_with_what_few_bodies_allow() -> None:
    assert share_words(Share(9, 4, 3, 0)) == "sits on 9 of 16 bodies, may sit on 4 more"
    assert share_words(Share(0, 2, 3, 1)) == "sits on none of 6 bodies, may sit on 2; 1 could not be settled"
    assert "it sits on 35 to 65 %" in interval_words(Share(5, 0, 5, 0))


def test_what_varies_is_told_with_its_unit() -> None:
    assert factor_words(Factor("dart.intake_cm", (6, 9.5))) == "dart intake: 6, 9.5 cm"
    assert factor_words(Factor("draft.length_cm", (80.0, 120.0), is_range=True)) == "length: 80 to 120 cm"
    assert factor_words(Factor("body", tuple("abcdefghijklmnop"))) == "body: 16 of them"
    assert words_of({"dart.intake_cm": 6, "body": "lamp-bearer"}) == "dart intake 6 cm, lamp-bearer"
    assert words_of({}) == "the draft as it is"
