"""What `drape show` can make, the views it knows, the readings it paints: names and one line each, light enough for help.

Read by `arguments`; `show`, `camera` and `paint` do what stands here, and a test holds them to it.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

MAKES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "sheet": "views, readings and verdicts on a page, PNG and PDF; several results share it",
        "views": "single views, PNG; see --view, --azimuth-deg, --height-px",
        "length": "where the hem falls against the body's landmarks, PNG and PDF",
        "readings": "stand-off, fullness and layers on the worn cloak and on the flat draft, PNG and PDF",
        "round": "neck gap and hem height round the body, PNG and PDF",
        "pieces": "worn cloak and flat draft in the same piece colours, PNG and PDF",
        "turn": "the cloak turning once, GIF",
        "model": "cloak and mannequin as GLB and OBJ, named, in their colours",
        "report": "everything in one HTML file that needs no network; several results share it",
    }
)
VIEW_NAMES: Final = (
    "front", "left", "back", "right", "neck", "left shoulder", "right shoulder", "three-quarter", "above",
)  # fmt: skip
PAINT_NAMES: Final = ("stand-off", "fullness", "layers")
HEIGHT_PX: Final = (200, 1600, 4000)  # least, default, most
