"""The chalk card: all points on one page, and steps whose figures are the draft's."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from chalked import STYLES
from shapely import box
from stand_in import standing_body

from drape.cutting.chalk_card import PAGE, steps, write_chalk_card
from drape.cutting.chalk_points import chalk_points, cm, is_arc
from drape.draft.cloak import draft_cloak
from drape.draft.outline import ESTIMATE_WORDS, Draft, length_of, run_of
from drape.draft.style import Dags

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(params=STYLES)
def draft(request: pytest.FixtureRequest) -> Draft:
    return draft_cloak(STYLES[request.param], standing_body())


def test_the_card_holds_every_point_on_one_page(draft: Draft, tmp_path: Path) -> None:
    """A4 in mm, every letter with its two figures, no word over the edge, type of 3 mm and more in the tables."""
    path = tmp_path / "card.svg"
    write_chalk_card(draft, path, title="Lamp bearer")
    root = ElementTree.parse(path).getroot()
    assert (root.get("width"), root.get("height")) == ("210.0mm", "297.0mm")
    words = [node for node in root.iter(f"{SVG}text") if node not in {n for g in root.iter(f"{SVG}g") for n in g}]
    text = [node.text or "" for node in words]
    for sign, label, point in chalk_points(draft):
        assert sign in text and label in text
        assert cm(point[0]) in text and cm(point[1]) in text
    page = box(0, 0, *PAGE)
    for node in words:
        x, y, size = (float(node.get(name, "nan")) for name in ("x", "y", "font-size"))
        width = 0.58 * size * len(node.text or "")
        left = x - {"start": 0.0, "end": 1.0}[node.get("text-anchor", "start")] * width
        assert page.contains(box(left, y - size, left + width, y)), node.text
        assert size >= 3.0
    assert re.search(r"string of \d+\.\d cm from O", " ".join(text)) or not is_arc(draft)
    again = tmp_path / "again.svg"
    write_chalk_card(draft, again, title="Lamp bearer")
    assert again.read_bytes() == path.read_bytes()


def figures(line: str) -> list[float]:
    return [float(found) for found in re.findall(r"\d+\.\d", line)]


def test_the_strings_are_as_long_as_the_drafts_radii() -> None:
    draft = draft_cloak(STYLES["round"], standing_body())
    (hem,) = [line for line in steps(draft) if line.startswith("Hem")]
    (neck,) = [line for line in steps(draft) if line.startswith("Neck:")]
    assert figures(hem) == pytest.approx([100 * np.linalg.norm(run_of(draft, "hem")[7])], abs=0.051)
    assert figures(neck) == pytest.approx([100 * np.linalg.norm(run_of(draft, "front neck")[7])], abs=0.051)
    sewn = sum(length_of(run_of(draft, name)) for name in draft.neck)
    assert figures(steps(draft)[-1]) == pytest.approx([100 * sewn], abs=0.051)


def test_the_opening_edges_are_chalked_as_far_round_as_the_sweep() -> None:
    body = standing_body()
    assert "a straight line for both opening edges" in steps(draft_cloak(STYLES["tailored"], standing_body()))[0]
    assert "270 degrees round" in steps(draft_cloak(STYLES["three quarters"], standing_body()))[0]
    assert not any("inside" in line and "outside" in line for line in steps(draft_cloak(STYLES["centre front"], body)))
    moved = draft_cloak(STYLES["edges moved"], body)
    off = 100 * moved.dimensions["closure_moved"]
    assert off < -1.0 and run_of(moved, "left opening")[-1, 1] == pytest.approx(off / 100)
    assert f"the right one {-off:.1f} cm inside, the left one {-off:.1f} cm outside" in steps(moved)[1]


def test_what_the_draft_has_not_is_not_to_be_done() -> None:
    """Darts, dags and allowances have a step only where there are any."""
    plain = " ".join(steps(draft_cloak(replace(STYLES["round"], shoulder_cut_intake=0.0), standing_body())))
    assert not any(word in plain for word in ("Darts", "Dags", "Cut on", "Collar"))
    full = " ".join(
        steps(
            draft_cloak(
                replace(STYLES["tailored"], hem_allowance=0.04, dags=(Dags("opening", "leaf", 0.09, 0.06),)),
                standing_body(),
            )
        )
    )
    assert all(word in full for word in ("Darts", "Dags", "Cut on"))


def test_an_estimate_is_marked_on_the_card_and_a_final_draft_is_not(tmp_path: Path) -> None:
    draft = draft_cloak(STYLES["tailored"], standing_body())
    said = []
    for one in (draft, replace(draft, is_estimate=True)):
        write_chalk_card(one, tmp_path / "card.svg", title="Lamp bearer")
        said.append(ESTIMATE_WORDS in (tmp_path / "card.svg").read_text(encoding="utf-8"))
    assert said == [False, True]
