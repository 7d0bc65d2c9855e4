"""drape: settle a flat cloak draft over a body made from tape measures, and read how it sits.

Importing the package loads nothing heavy. The modules, lowest first, and what each one answers
for are listed in DEVELOPERS.md; `drape.fitting.sit` runs the whole chain.
"""

from __future__ import annotations

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
)

__version__ = "0.1.0"

__all__ = [
    "BlewUpError",
    "DraftError",
    "DrapeError",
    "FigureError",
    "MeshError",
    "MissingExtraError",
    "NotSettledError",
    "PictureError",
    "SceneError",
    "SolverError",
    "__version__",
]
