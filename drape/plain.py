"""Text from anywhere as text that is only shown.

In: what a file, its name or a part of it is called. Out: the same, but what would steer a terminal, turn the order of
letters round, stay unseen or end a line is written as its number (`\\u001b`), as JSON writes it too.
"""

from __future__ import annotations

import os
import re
import shlex
from pathlib import Path
from typing import Final

# controls but tab and newline; the soft hyphen; marks of direction and width; line and paragraph separators
UNSEEN: Final = re.compile("[\0-\x08\x0b-\x1f\x7f-\x9f\xad\u061c\u200b\u200e\u200f\u2028-\u202e\u2060-\u2069\ufeff]")


def plain(text: str) -> str:
    """The text, its lines as they are."""
    return UNSEEN.sub(lambda found: _number(found[0]), text)


def plain_line(text: str) -> str:
    """The text as one line of letters that can be printed."""
    return text if text.isprintable() else "".join(one if one.isprintable() else _number(one) for one in text)


def typed(path: Path | str) -> str:
    """A path as it is to be typed after a command: in quotes where a shell would take part of it for something else."""
    text = plain_line(str(path))
    if os.name == "nt":
        return text if re.fullmatch(r"[\w.:\\/-]+", text) else f'"{text}"'
    return shlex.quote(text)


def _number(letter: str) -> str:
    return f"\\u{ord(letter):04x}"
