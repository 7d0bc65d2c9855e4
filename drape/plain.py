"""Text from anywhere as text that is only shown.

In: what a file, its name or a part of it is called. Out: the same, but what would steer a terminal, turn the order of
letters round, stay unseen or end a line is written as its number (`\\u001b`), as JSON writes it too. Spaces stay, one
that keeps a line together too.
"""

from __future__ import annotations

import math
import os
import re
import shlex
import unicodedata
from collections.abc import Callable
from pathlib import Path
from typing import Final

# controls but tab and newline; the soft hyphen; marks of direction and width; line and paragraph separators; tags
UNSEEN: Final = re.compile(
    "[\0-\x08\x0b-\x1f\x7f-\x9f\xad\u061c\u200b\u200e\u200f\u2028-\u202e\u2060-\u2069\ufeff\U000e0000-\U000e007f]"
)
JOINERS: Final = "\u200c\u200d"  # they say whether the letters beside them join, in some scripts and in small pictures
SHORTENED: Final = " …"
NARROWEST: Final = 0.27  # width of the narrowest letter, in heights of type


def plain(text: str) -> str:
    """The text, its lines as they are."""
    return UNSEEN.sub(lambda found: _number(found[0]), text)


def plain_line(text: str) -> str:
    """The text as one line of letters that can be printed."""
    return text if text.isprintable() else "".join(one if _is_shown(one) else _number(one) for one in text)


def shortened(text: str, most: int) -> str:
    """The text, cut where it has more letters than `most`, which is said by dots."""
    return text if len(text) <= most else text[: max(0, most - len(SHORTENED))].rstrip() + SHORTENED


def fitted(text: str, room: float, width_of: Callable[[str], float]) -> str:
    """The text, shortened where it is wider than the room; room and width_of in heights of type."""
    most = min(len(text), max(0, math.ceil(room / NARROWEST)))
    while most and width_of(shortened(text, most)) > room:
        most -= 1
    return shortened(text, most)


def _is_shown(letter: str) -> bool:
    return letter.isprintable() or letter in JOINERS or unicodedata.category(letter) == "Zs"  # spaces of any width


def typed(path: Path | str) -> str:
    """A path as it is to be typed after a command: in quotes where a shell would take part of it for something else."""
    text = plain_line(str(path))
    text = f"./{text}" if text.startswith("-") else text  # else it would be taken for a flag
    if os.name == "nt":
        return text if re.fullmatch(r"[\w.:\\/-]+", text) else f'"{text}"'
    return shlex.quote(text)


def _number(letter: str) -> str:
    units = letter.encode("utf-16-be", "surrogatepass").hex()
    return "".join(f"\\u{units[k : k + 4]}" for k in range(0, len(units), 4))
