"""Shelf: outcomes kept by content in the study's own folder, so that an interrupted study goes on where it was.

In: an outcome under the key of its settling. Out: the same from an earlier run of the same content, or None. They are
few kilobytes each, and nothing else removes them: drape's cache, which is shared and has an end, may.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from drape.files import write_text
from drape.reading.damage import damage_of_readings
from drape.study.task import FAILED, NOT_SETTLED, SETTLED

FOLDER: Final = "kept"


def find(folder: Path, key: str) -> dict[str, Any] | None:
    """The outcome kept under a key; None where there is none, or it is damaged: then it is settled again."""
    try:
        said = json.loads((folder / FOLDER / f"{key}.json").read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return None
    return said if isinstance(said, dict) and _is_whole(said) else None


def _is_whole(said: Mapping[str, Any]) -> bool:
    """Whether it is what `task.outcome_of` gives."""
    state, seconds, versions = said.get("state"), said.get("seconds"), said.get("versions")
    if state == SETTLED:
        is_read = not damage_of_readings(said.get("readings"))
    else:
        is_read = state in (NOT_SETTLED, FAILED) and said.get("readings") is None
    return (
        is_read
        and isinstance(said.get("why"), str)
        and isinstance(said.get("dimensions"), dict)
        and isinstance(seconds, (int, float))
        and math.isfinite(seconds)
        and isinstance(versions, dict)
        and all(isinstance(one, str) for one in versions.values())
    )


def keep(folder: Path, key: str, outcome: Mapping[str, Any]) -> None:
    """Keeps an outcome, but for one that came of no settling, as of a worker that ended: that is tried again."""
    if outcome["versions"]:
        home = folder / FOLDER
        home.mkdir(exist_ok=True)
        write_text(home / f"{key}.json", json.dumps(outcome, ensure_ascii=False, allow_nan=False) + "\n")
