"""Shelf: outcomes kept by content in the study's own folder, so that an interrupted study goes on where it was.

In: an outcome under the key of its settling. Out: the same from an earlier run of the same content, or None. They are
few kilobytes each, and nothing else removes them: drape's cache, which is shared and has an end, may.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from drape.files import write_text
from drape.study.task import FAILED, NOT_SETTLED, SETTLED

FOLDER: Final = "kept"


def find(folder: Path, key: str) -> dict[str, Any] | None:
    """The outcome kept under a key; None where there is none that can be read."""
    try:
        said = json.loads((folder / FOLDER / f"{key}.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    if not isinstance(said, dict) or said.get("state") not in (SETTLED, NOT_SETTLED, FAILED):
        return None
    return said


def keep(folder: Path, key: str, outcome: Mapping[str, Any]) -> None:
    """Keeps an outcome, but for one that came of no settling, as of a worker that ended: that is tried again."""
    if outcome["versions"]:
        home = folder / FOLDER
        home.mkdir(exist_ok=True)
        write_text(home / f"{key}.json", json.dumps(outcome, ensure_ascii=False, allow_nan=False) + "\n")
