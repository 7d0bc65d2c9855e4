"""What a drawing is made of: its lines, each with what it is called, and how large a unit of it is.

In: nothing. Out: `Line` and `Drawing`. Positions are in the drawing's own unit, y up; `scale` is how many metres one of
them is, if the file says so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from drape.arrays import Floats
from drape.plain import plain_line

FLATTENED: Final = 2e-4  # m that a polyline may stand off its curve
LONGEST_WORD: Final = 60  # letters of what a line is called; what follows counts for nothing
MOST_POINTS: Final = 40_000
MOST_LINES: Final = 4_000
CLOAK: Final = 2.2  # m, how large a drawing is taken to be while nothing says it; only curves are flattened by it


@dataclass(frozen=True)
class Line:
    """One line of a drawing: points (k, 2), a closed one ends on its first; name: what the file calls it alone.

    words: all it is called by, its own name first, then its layers from the inside out.
    """

    points: Floats
    name: str
    words: tuple[str, ...] = ()


@dataclass(frozen=True)
class Drawing:
    """The lines of a file. scale: metres to a unit, None where nothing says it; scale_said: what does."""

    label: str
    lines: tuple[Line, ...]
    scale: float | None
    scale_said: str


def called(word: str) -> str:
    """A word of a file as it may stand in a message, a note or on a sheet: one line that can be read."""
    return plain_line(word[:LONGEST_WORD])


def extent(lines: Sequence[Line]) -> float:
    """The larger side of all lines together, in their unit."""
    points = np.vstack([line.points for line in lines])
    return float(np.ptp(points, axis=0).max())


def length_of(points: Floats) -> float:
    """How long a polyline is."""
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def chord_tolerance(scale: float | None, size: float) -> float:
    """How far a polyline may stand off its curve, in the drawing's unit; size: about how large the drawing is in it."""
    if scale is not None:
        return FLATTENED / scale
    return FLATTENED * size / CLOAK if size > 0 and math.isfinite(size) else FLATTENED
