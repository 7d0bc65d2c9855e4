"""A study in a few lines: counts, what failed and why, and the object that programs read."""

from __future__ import annotations

import json
from pathlib import Path

from studied import BODIES, found, member, outcomes, readings

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


def test_the_text_has_the_answer_first_and_lists_no_more_than_ten(tmp_path: Path) -> None:
    one = found(tmp_path, '[vary]\n"dart.intake_cm" = { from = 4, to = 15, count = 12 }\n', lambda s: None)
    lines = summary_text(one).splitlines()
    assert lines[0] == "No member settled: nothing can be concluded." and "  dart intake: 4 to 15 cm" in lines
    assert "- 4 (dart.intake_cm 7.0): failed. no draft" in lines
    assert "- and 2 more: see study.html and study.csv." in lines
    assert max(map(len, lines)) <= 80


def test_the_text_tells_which_dimension_matters_and_whom_it_fits(tmp_path: Path) -> None:
    text = '[vary]\n"dart.intake_cm" = [6, 9]\n' + BODIES
    told = summary_text(found(tmp_path, text, lambda s: 9.0 if s["dart.intake_cm"] == 6 else 0.4))
    for head in ("Which dimension matters: share of the variance", "Whom it fits", "Best for whom"):
        assert f"\n{head}\n- " in told
