"""The booklet: everything in one file, nothing asked of a network, numbers as the report prints them."""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Callable
from html import unescape
from html.parser import HTMLParser

import numpy as np
import pytest
from hostile import HOSTILE

from drape.picture import html_report
from drape.picture.surfaces import cloth_surfaces, drawn_cloth
from drape.reading.result import Fitting

Cone = Callable[..., Fitting]
READINGS = {
    "scene": "cone", "settled": True, "residual": 0.004, "vertices": 1098,
    "neck": {"gap_front_cm": 1.25, "gap_front_cm_spread": 0.4},
    "fall": {"clearance_cm": 2.0, "reaches": "the <ankle>"},
    "verdicts": [
        {"where": "neck", "finding": "gapes & chokes", "mend": "Deepen it by 1 cm.", "harm": "cut", "undecided": False},
        {"where": "hem", "finding": "not level: 7 in 10.", "mend": "", "harm": "finish", "undecided": True},
        {"where": "dart", "finding": "lies.", "mend": "", "harm": None, "undecided": False},
    ],
}  # fmt: skip
ABOUT = {
    "grain": 0.0, "body": "ferry-warden", "sex": "woman", "stature": 1.655, "layers": ["sailcloth"],
    "cloth": {"name": "sailcloth", "areal_density": 0.6, "thickness": 0.003, "source": "ours"},
    "dimensions": {"hem_radius": 1.3, "area": 2.5},
}  # fmt: skip


def leaf(fitting: Fitting) -> html_report.Leaf:
    drawn = drawn_cloth(fitting)
    outside = cloth_surfaces(drawn, 0.003, np.array([68.0, 100.0, 140.0]), np.zeros(3))[0]
    light = np.column_stack([np.full(len(outside.points), 0.5), np.full(len(outside.points), 0.25)])
    tones = {"stand-off": np.tile((10.0, 20.0, 30.0, 255.0), (len(light), 1))}
    solid = html_report.solid_data(
        fitting, [(outside, light, np.zeros(3), 0.003, tones)], [(outside.points[:5], np.zeros(3))]
    )
    one = {"front": b"png"}
    return html_report.Leaf(fitting, one, one, {"Stand-off: air": b"png"}, one, b"png", solid)


class Outline(HTMLParser):
    """Tags opened and closed, and every address a tag gives."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.addresses: list[str] = []
        self.headings: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.addresses += [v or "" for k, v in attrs if k in ("src", "href", "srcset", "data", "action")]
        if tag not in ("meta", "link", "img", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "h2":
            self.headings.append(data)


def outline(text: str) -> Outline:
    found = Outline()
    found.feed(text)
    assert found.open == []
    return found


def test_it_is_one_whole_file_that_asks_for_nothing(cone: Cone) -> None:
    text = html_report.booklet_html([leaf(cone(readings=READINGS, about=ABOUT))], b"png")
    found = outline(text)
    assert len(found.addresses) >= 6
    assert [a for a in found.addresses if not a.startswith("data:")] == []
    assert "default-src 'none'" in unescape(text)
    for asks in ("http://", "https://", "fetch(", "XMLHttpRequest", "import(", "url("):
        assert asks not in text
    assert text == html_report.booklet_html([leaf(cone(readings=READINGS, about=ABOUT))], b"png")


def test_it_reads_from_the_order_to_how_it_settled(cone: Cone) -> None:
    found = outline(html_report.booklet_html([leaf(cone(readings=READINGS, about=ABOUT))], b"png"))
    assert found.headings == [
        "Pictures", "What was found, and what to change", "Turn it round", "Readings", "Where on the cloth",
        "Round the body", "The draft", "The cloth", "Cautions", "How it settled",
    ]  # fmt: skip


def test_numbers_words_and_cautions_are_there_and_escaped(cone: Cone) -> None:
    text = html_report.booklet_html([leaf(cone(readings=READINGS, about=ABOUT))], b"png")
    assert "1.2 ±0.4" in text or "1.3 ±0.4" in text
    assert "gapes &amp; chokes" in text and "the &lt;ankle&gt;" in text and "Deepen it by 1 cm." in text
    assert "166 cm tall" in text or "165 cm tall" in text
    assert re.search(r"hem radius <span[^>]*>cm</span></td><td>130.0<", text)
    assert "trip hazard" in text and "naked flame" in text and "give way under a hard pull" in text
    assert "NOT SETTLED" not in text


def test_the_conclusion_comes_first_and_faults_have_the_numbers_of_their_marks(cone: Cone) -> None:
    text = html_report.booklet_html([leaf(cone(readings=READINGS, about=ABOUT))], b"png")
    assert text.index('<p class="conclusion">Do not cut cone as it is: hem above the floor 2.0 cm.') < text.index(
        "<h1>"
    )
    marks = re.findall(r'<li>(?:<span class="(mark[^"]*)">(\d+)</span>)?<b>(\w+)</b>', text)
    assert marks == [("mark", "1", "neck"), ("mark open", "2", "hem"), ("", "", "dart")]


def test_one_that_did_not_settle_is_stamped_and_a_bare_one_still_tells(cone: Cone) -> None:
    text = html_report.booklet_html([leaf(cone(readings={"settled": False}))], b"png")
    outline(text)
    assert text.count("NOT SETTLED") >= 2
    assert "give way under a hard pull" in text


def test_a_comparison_sets_its_readings_side_by_side(cone: Cone) -> None:
    other = {**READINGS, "scene": "other", "neck": {"gap_front_cm": 2.25}}
    both = [leaf(cone(readings=READINGS)), leaf(cone(readings=other, title="Another"))]
    text = html_report.booklet_html(both, b"png")
    outline(text)
    assert "<th>difference</th>" in text and "+1.0" in text
    assert 'id="choose-fitting"' in text and "Another" in text


def test_the_solid_comes_back_as_it_went_in(cone: Cone) -> None:
    """Positions to a tenth of a millimetre, whole indices, a colour for each point."""
    fitting = cone()
    outside = cloth_surfaces(drawn_cloth(fitting), 0.003, np.zeros(3), np.zeros(3))[0]
    part, line = leaf(fitting).solid["parts"]
    places = np.frombuffer(base64.b64decode(part["places"]), "<i2").reshape(-1, 3) / 10_000
    assert places == pytest.approx(outside.points, abs=0.51e-4)
    index = np.frombuffer(base64.b64decode(part["index"]), "<u2").reshape(-1, 3)
    np.testing.assert_array_equal(index, outside.triangles)
    normals = np.frombuffer(base64.b64decode(part["normals"]), "i1").reshape(-1, 3) / 127
    assert normals == pytest.approx(outside.normals, abs=0.004)
    tones = np.frombuffer(base64.b64decode(part["tones"]["stand-off"]), "u1").reshape(-1, 4)
    assert (tones == (10, 20, 30, 255)).all()
    light = np.frombuffer(base64.b64decode(part["light"]), "u1").reshape(-1, 2)
    assert (light == (128, 64)).all()  # outside, inside
    assert line["lines"] is True
    assert json.loads(json.dumps(part)) == part


def test_a_hostile_text_changes_no_tag(cone: Cone) -> None:
    """Whatever a fitting names or tells comes from a file, which may have come from anyone."""

    def tags(words: str) -> list[str]:
        verdict = {"where": words, "finding": words, "mend": words}
        readings = {**READINGS, "scene": words, "verdicts": [verdict], "fall": {"reaches": words}}
        about = {**ABOUT, "body": words, "layers": [words], "cloth": {"name": words, "source": words}}
        both = [leaf(cone(title=words, expect=words, readings=readings, about=about)) for _ in range(2)]
        return re.findall(r"<[^!>]*", html_report.booklet_html(both, b"png"))

    def bare(words: str) -> list[str]:
        return [unescape(tag).replace(words, "") for tag in tags(words)]

    plain = bare("ferry warden")
    for words in HOSTILE:
        assert bare(words) == plain
