"""Frames: a shape as the bytes the page draws it from.

In: vertices [m] and triangles. Out: five whole numbers (what it is, of which run, how many vertices, triangles, lines),
then float32 positions and, where they are not those sent before, uint32 triangles and lines; little endian throughout.
"""

from __future__ import annotations

import struct
from typing import Final

import numpy as np

from drape.arrays import Floats, Ints

MOVING, RESTING, FIGURE, LAID_OVER = 1, 2, 3, 4  # cloth as it settles, at rest, the mannequin, another entry's cloth
HEAD: Final = struct.Struct("<5I")


def frame(kind: int, run: int, points: Floats, triangles: Ints | None = None, lines: Ints | None = None) -> bytes:
    """One shape. points (n, 3) [m]; triangles (m, 3), lines (k, 2): None where they are as before."""
    parts = [part for part in (triangles, lines) if part is not None]
    counts = (0 if part is None else len(part) for part in (triangles, lines))
    packed = [np.ascontiguousarray(points, "<f4").tobytes(), *(np.ascontiguousarray(p, "<u4").tobytes() for p in parts)]
    return HEAD.pack(kind, run, len(points), *counts) + b"".join(packed)


def is_moving_only(picture: bytes) -> bool:
    """Whether a picture brings new positions alone, for a mesh that was sent before."""
    kind, _, _, triangles, _ = HEAD.unpack_from(picture)
    return bool(kind == MOVING and triangles == 0)


def rims(triangles: Ints) -> Ints:
    """Sides that belong to one triangle alone, (k, 2): the cloth's cut edges and, where they are sewn, its seams."""
    sides = np.vstack([triangles[:, (0, 1)], triangles[:, (1, 2)], triangles[:, (2, 0)]])
    _, first, count = np.unique(np.sort(sides, axis=1), axis=0, return_index=True, return_counts=True)
    return sides[first[count == 1]]
