"""Settle a flat cloak draft in heavy wool over a body made from tape measures, and read how it sits.

>>> import drape
>>> fitting = drape.sit("ferry-warden-tailored", edge_length_cm=6)
>>> fitting
<Fitting ferry-warden-tailored: settled, ... vertices, ... verdicts>
>>> 0 < fitting.readings["neck"]["gap_back_cm"] < 2
True

A notebook shows a fitting as its sheet; `fitting.show()` turns it. `drape guide notebook` tells more. Importing drape
loads nothing heavy: each name loads what it needs when it is first used. The commands are in `drape.command`.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from drape.errors import (
    BlewUpError,
    DraftError,
    DrapeError,
    FigureError,
    MeshError,
    MissingExtraError,
    NotSettledError,
    PictureError,
    SceneError,
    SolverError,
    UnwrittenError,
)

if TYPE_CHECKING:
    from drape.fitting.front_door import Comparison, compare, mend, sit
    from drape.fitting.mend import Mended
    from drape.fitting.scene import Scene, load_scene
    from drape.reading.result import Fitting, load_fitting

__version__ = "0.1.0"

__all__ = [
    "BlewUpError",
    "Comparison",
    "DraftError",
    "DrapeError",
    "FigureError",
    "Fitting",
    "Mended",
    "MeshError",
    "MissingExtraError",
    "NotSettledError",
    "PictureError",
    "Scene",
    "SceneError",
    "SolverError",
    "UnwrittenError",
    "__version__",
    "compare",
    "load_fitting",
    "load_scene",
    "mend",
    "sit",
]

_FOUND_IN = {
    "Comparison": "drape.fitting.front_door",
    "Fitting": "drape.reading.result",
    "Mended": "drape.fitting.mend",
    "Scene": "drape.fitting.scene",
    "compare": "drape.fitting.front_door",
    "load_fitting": "drape.reading.result",
    "load_scene": "drape.fitting.scene",
    "mend": "drape.fitting.front_door",
    "sit": "drape.fitting.front_door",
}


def __getattr__(name: str) -> Any:
    """The name, loaded when it is first asked for."""
    if name not in _FOUND_IN:
        raise AttributeError(f"module 'drape' has no attribute {name!r}")
    value = getattr(importlib.import_module(_FOUND_IN[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
