"""Pages: what is told is text, data cannot end their element, and only the page's own script and style may run."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from html.parser import HTMLParser
from typing import Any

import pytest
from hostile import HOSTILE
from jinja2 import ChoiceLoader, DictLoader, UndefinedError

from drape.page import _engine, digest, page_text

PLAIN = """{% extends "page.html" %}{% block body %}
<h1 title="{{ title }}">{{ title }}</h1><p>{{ title }}</p>
<script type="application/json" id="solid">{{ data | tojson }}</script>
{% if script %}<script>{{ script | safe }}</script>{% endif %}
{% endblock %}"""


@pytest.fixture(autouse=True)
def plain(monkeypatch: pytest.MonkeyPatch) -> None:
    """A page of ours, shorter than any that is made."""
    ours = _engine().loader
    monkeypatch.setattr(_engine(), "loader", ChoiceLoader([DictLoader({"plain.html": PLAIN}), ours]))


class Shape(HTMLParser):
    """Every tag with the names of its attributes, in order; and the text of each script."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[Any] = []
        self.scripts: list[str] = []
        self.policy = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, [name for name, _ in attrs]))
        if ("http-equiv", "Content-Security-Policy") in attrs:
            self.policy = dict(attrs)["content"] or ""

    def handle_endtag(self, tag: str) -> None:
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        if self.tags and self.tags[-1] in (("script", []), ("script", ["type", "id"])):
            self.scripts.append(data)


def page(words: str) -> Shape:
    told = {"title": words, "data": [{"name": words}]}
    return Shape(page_text("plain.html", told, style="p{}", script="let a;"))


def test_hostile_texts_change_no_tag_and_come_back_whole() -> None:
    plain = page("ferry warden")
    for words in HOSTILE:
        shape = page(words)
        assert shape.tags == plain.tags
        assert json.loads(shape.scripts[0]) == [{"name": words}] and shape.scripts[1:] == ["let a;"]


def test_the_comparison_of_tags_would_tell() -> None:
    assert Shape("<p>a</p>").tags != Shape("<p>a<b></p>").tags
    assert Shape("<script>'</script><p>'</script>").tags != Shape("<script>'<p>'</script>").tags


def test_data_hold_nothing_that_ends_their_element_or_a_line_of_script() -> None:
    for words in HOSTILE:
        text = page_text("plain.html", {"title": "", "data": [words]}, style="")
        (data,) = re.findall(r'id="solid">(.*)</script>', text)
        assert set(data).isdisjoint("<>&\u2028\u2029")


def test_only_its_own_script_and_style_may_run() -> None:
    policy = page("ferry warden").policy
    assert "unsafe" not in policy and "default-src 'none'" in policy
    for text in ("p{}", "let a;"):
        named = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert digest(text) == f"sha256-{named}" and f"'sha256-{named}'" in policy


def test_a_name_that_a_page_does_not_know_is_a_fault() -> None:
    with pytest.raises(UndefinedError):
        page_text("plain.html", {"data": ""}, style="")
