"""A study in a few lines: counts, what failed and why, and the object that programs read."""

from __future__ import annotations

import json
from pathlib import Path

from studied import member, outcomes, readings

from drape.study.plan import load_plan
from drape.study.results import results_of
from drape.study.summary import counted_words, summary_object, summary_text


def twenty():
    members = [member(k, {"dart.intake_cm": k}, starts=3) for k in range(1, 21)]
    read = {1: readings(), 2: readings(gap_back_cm=9.0), 3: readings(gap_back_cm=1.5)}
    return results_of(members, outcomes(members, lambda m, _: read.get(m.number)))


def test_members_are_counted_by_how_they_sit() -> None:
    assert counted_words(twenty()) == "20 members, 3 settled: 1 sit, 1 may sit or not, 1 do not sit. 17 failed."


def test_the_object_has_what_programs_ask_for_and_no_more() -> None:
    found = summary_object(twenty(), Path("a") / "study.parquet")
    assert json.dumps(found) == '{"members": 20, "settled": 3, "failed": 17, "rows": "a/study.parquet"}'


def test_the_text_lists_what_failed_up_to_ten() -> None:
    text = summary_text(load_plan("which-dimension-matters"), twenty())
    assert "dart.intake_cm: 8, 10" in text and "- 4 (dart.intake_cm 4): failed." in text
    assert "- and 7 more: see study.csv." in text and max(map(len, text.splitlines())) <= 80
