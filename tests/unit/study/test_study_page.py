"""The page of a study: each part where it was asked for, every text escaped, nothing asked of a network."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest
from hostile import HOSTILE
from studied import BODIES, DIMENSIONS, found

from drape.study.study_page import _tied, study_html

pytestmark = pytest.mark.long  # it draws


def headings(text: str) -> list[str]:
    return re.findall(r"<h2>(.*?)</h2>", text)


ALWAYS = ["What was asked", "Every member", "Cautions", "How it was made"]


def test_a_study_of_dimensions_tells_which_matters_with_its_plot(tmp_path: Path) -> None:
    one = found(tmp_path, DIMENSIONS, lambda s: None if s["dart.intake_cm"] == 6 == s["draft.neck_width_cm"] - 8 else
                3.0 - s["dart.intake_cm"] / 4)  # fmt: skip
    text = study_html(one)
    assert headings(text) == [ALWAYS[0], "Which dimension matters", "Not settled, or failed", *ALWAYS[1:]]
    assert text.count("data:image/png;base64,") == 1 and "1 failed" in text
    assert '<td data-head="dart intake, cm">9</td>' in text  # what a narrow screen shows without the table's head
    assert not re.search(r"(?:src|href)=[\"']?http", text)


def test_a_study_of_one_draft_tells_whom_it_fits(tmp_path: Path) -> None:
    gaps = {"man-5": 9.0, "man-50": 0.4, "man-95": 0.4, "ferry-warden": 0.4}
    text = study_html(found(tmp_path, BODIES + 'draft = "one for all"\n', lambda s: gaps[s["body"]]))
    assert headings(text) == [ALWAYS[0], "Whom it fits", *ALWAYS[1:]]
    assert "The draft is cut once, for Ferry warden, and worn by all." in text
    assert "stature, from 176 cm up: it sits on 3 of 3; beyond that on 0 of 1." in text


def test_a_study_of_drafts_on_bodies_tells_the_best_for_all_and_sizes(tmp_path: Path) -> None:
    one = found(tmp_path, '[vary]\n"dart.intake_cm" = [6, 9]\n' + BODIES, lambda s: s["dart.intake_cm"] / 10)
    grown = {id(r): {"neck_width_cm": 10.0 + r.measures["tape.chest_girth_cm"] / 8} for r in one.drafts[0].results}
    results = tuple(replace(r, dimensions=grown.get(id(r), {})) for r in one.results)
    sizes = tuple(
        replace(s, dimensions={"neck_width_cm": 10.0 + s.measures["tape.chest_girth_cm"] / 8}) for s in one.sizes
    )
    text = study_html(replace(one, results=results, sizes=sizes))
    wanted = ["Whom it fits", "Best for all", "From size to size", "Best for whom"]
    assert [name for name in headings(text) if name in wanted] == wanted
    assert "<h3>Grading steps</h3>" in text and "neck width, cm" in text


def test_no_line_ends_between_a_number_and_its_unit() -> None:
    tied = "throat load 22\u00a0N/m, limit 20; neck gap 1.9\u00a0cm and spare cloth 3\u00a0%"
    assert _tied(tied.replace("\u00a0", " ")) == tied


def test_no_text_of_a_plan_can_be_taken_for_a_tag(tmp_path: Path) -> None:
    one = found(tmp_path, DIMENSIONS, lambda s: 0.4)
    for title in HOSTILE:
        text = study_html(replace(one, plan=replace(one.plan, title=title), matters=()))
        (shown,) = re.findall(r"<h1>(.*?)</h1>", text, re.DOTALL)
        assert unescape(shown) == title and "<script" not in text
