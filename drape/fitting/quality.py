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
MOST_STARTS: Final = 8  # of a draft whose answer stays open
MOST_JOBS: Final = 64  # processes at a time
LARGEST_SEED: Final = 999_999_999
MOST_TRIES: Final = 200
USUAL_TRIES: Final = 24  # drafts tried by `mend`
# How a cloak may be worn, and what may be done in it: what a scene may ask for and `drape wear` does.
HOWS: Final = ("closed", "one arm free", "both arms under, raised", "thrown over", "open")
DOINGS: Final = ("lean", "reach", "turn", "step")


def starts_of(quality: str | None, starts: int | None) -> int:
    """How often a draft may be settled at most: as asked; else MOST_STARTS of quick quality, whose starts take seconds,
    and once of a finer one, or of triangles whose size is given in centimetres.
    """
    if starts is not None:
        return starts
    return MOST_STARTS if quality == "quick" else 1
