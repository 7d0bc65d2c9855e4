"""The pages of the guide: found, listed, and set in plain type for a terminal.

Comes in: a topic's name, the width of the terminal. Goes out: the page's text, or the list of pages. The pages
themselves are Markdown in `guide/`: headings, paragraphs, lists, and lines set in by four spaces that stand as they
are.
"""

from __future__ import annotations

import re
import shutil
import textwrap
from importlib import resources
from typing import Final

from drape.errors import SceneError
from drape.schema import nearest_hint, shown

TOPICS: Final = (  # in the order in which a maker needs them
    "start", "scene", "body", "cloth", "readings", "verdicts", "cautions", "wearing", "pictures", "cutting", "trials",
    "drawing", "study", "commands", "book", "notebook",
)  # fmt: skip
NARROWEST, WIDEST = 30, 100  # characters; longer lines are hard to read


def page(topic: str) -> str:
    """The page of a topic, in Markdown. Raises SceneError where there is none."""
    if topic not in TOPICS:
        raise SceneError(f"guide: got {shown(topic)}, allowed {', '.join(TOPICS)}. {_hint(topic)}".rstrip())
    return (resources.files("drape") / "guide" / f"{topic}.md").read_text(encoding="utf-8")


def _hint(word: str) -> str:
    """The nearest topic, or the page on which a key, flag or reading stands."""
    near = nearest_hint(word, TOPICS)
    if near:
        return near
    homes = [topic for topic in TOPICS if re.search(rf"`(?:\S*\.)?{re.escape(word)}[ `]", page(topic))]
    return f"It stands in `drape guide {homes[0]}`." if homes else ""


def topic_lines() -> dict[str, str]:
    """What each page is about, in a line, by topic."""
    return {topic: page(topic).partition("\n")[0].partition(": ")[2] for topic in TOPICS}


def topics_text(width: int) -> str:
    """The list of pages, set within a width [characters]."""
    across = max(map(len, TOPICS)) + 2
    lines = ["Pages of the guide. Read one with: drape guide TOPIC", ""]
    for topic, line in topic_lines().items():
        lines += textwrap.wrap(f"{topic:<{across}}{line}", width, subsequent_indent=" " * across)
    return "\n".join(lines) + "\n"


def terminal_width() -> int:
    """How many characters a line may have: the terminal's width, or 80 where there is no terminal."""
    return min(max(shutil.get_terminal_size((80, 24)).columns, NARROWEST), WIDEST)


def plain_text(markdown: str, width: int) -> str:
    """A page set in plain type, no line longer than the width [characters] but those set in by four spaces."""
    lines = [line for block in markdown.strip().split("\n\n") for line in ["", *_block_lines(block, width)]]
    return "\n".join(lines[1:]) + "\n"


def _block_lines(block: str, width: int) -> list[str]:
    if block.startswith("    "):
        return block.split("\n")
    heading = re.match(r"(#+) (.*)", block)
    if heading:
        words = _wrapped(_bare(heading[2]), width)
        return [*words, ("=" if heading[1] == "#" else "-") * max(map(len, words))]
    if block.startswith("- "):
        return [line for item in block.split("\n") for line in _wrapped(_bare(_bare_names(item)), width, "  ")]
    return _wrapped(_bare(block), width)


def _wrapped(text: str, width: int, indent: str = "") -> list[str]:
    return textwrap.wrap(text, width, subsequent_indent=indent, break_on_hyphens=False)


def _bare_names(item: str) -> str:
    """An item of a list, the names it explains without the marks for type."""
    return re.sub(r"^- (`[^`]+`(, )?)+", lambda names: names[0].replace("`", ""), item)


def _bare(text: str) -> str:
    """The text without the marks for type and stress; what is to be typed and has a space in it keeps them."""
    return re.sub(r"\*\*?(.+?)\*\*?", r"\1", re.sub(r"`([^` ]+)`", r"\1", text))
