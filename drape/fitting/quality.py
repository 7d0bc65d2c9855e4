"""Quality: how finely and how often a cloak may be settled, and how many may stand side by side.

Comes in: nothing. Goes out: names, sizes and limits, for the command line and for `front_door`, which hold to the same.
Loads nothing heavy.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, Literal

Quality = Literal["quick", "fair", "fine"]
QUALITY_EDGE_LENGTH_CM: Final[Mapping[str, float]] = MappingProxyType({"quick": 3.0, "fair": 1.5, "fine": 0.75})
MOST_COMPARED: Final = 6  # columns of a table
MOST_RUNS: Final = 20
MOST_JOBS: Final = 64  # processes at a time
LARGEST_SEED: Final = 999_999_999
MOST_TRIES: Final = 200
USUAL_TRIES: Final = 24  # drafts tried by `mend`
