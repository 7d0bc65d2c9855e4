"""What `drape show` can make, the views it knows, the readings it paints: names and one line each,
light enough for help.

Read by `arguments`; `make`, `camera` and `paint` do what stands here, and a test holds them to it.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

MAKES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "sheet": "conclusion, views, verdicts and readings on a page",
        "views": "single views, see --view and --azimuth-deg",
        "length": "where the hem falls on the body",
        "readings": "stand-off, fullness and layers painted on cloak and draft",
        "round": "neck gap and hem height round the body",
        "pieces": "cloak and draft, each piece in its colour",
        "turn": "the cloak turning once, a GIF",
        "model": "cloak and mannequin as GLB and OBJ",
        "report": "everything in one HTML file",
        "strip": "rests of one way of wearing side by side; give its results in order",
    }
)
VIEW_NAMES: Final = (
    "front", "left", "back", "right", "neck", "left shoulder", "right shoulder", "three-quarter", "above",
)  # fmt: skip
PAINT_NAMES: Final = ("stand-off", "fullness", "layers")
HEIGHT_PX: Final = (200, 1600, 4000)  # least, default, most
