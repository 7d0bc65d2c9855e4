"""drape: settle a flat cloak draft over a body made from tape measures, and read how it sits.

Importing the package loads nothing heavy. The modules, lowest first, and what each one answers
for are listed in DEVELOPERS.md; `drape.fitting.sit.sit` runs the whole chain.
"""

from __future__ import annotations

import os

# The solver's parallel loops last some 50 µs. Threads that wait for each other by spinning run them four
# times slower than one thread does as soon as another program wants a core; let them sleep instead.
# Has to be said before the threading library loads; whoever has said otherwise is left alone.
os.environ.setdefault("OMP_WAIT_POLICY", "PASSIVE")
os.environ.setdefault("GOMP_SPINCOUNT", "0")

from drape.errors import (  # noqa: E402
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
