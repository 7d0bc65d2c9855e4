"""Cover: how much of the wearer lies under cloth, seen from a side or along falling rain.

In: triangles of the figure, which of them count, triangles of the cloth [m], and the way one looks. Out: shares, 0 to
1. Each is a picture of depths in parallel projection, on a grid of PIXEL: what counts and is the first of the figure to
be met there is covered where cloth is met before it.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from drape.arrays import Flags, Floats, Ints

PIXEL: Final = 0.01  # m
FINER: Final = 0.45  # of a pixel: furthest apart that places of a triangle are set down
RAIN_OFF: Final = float(np.radians(30.0))  # from upright, that rain falls in the wearer's face
WAYS: Final = {  # towards the wearer
    "front": np.array([0.0, -1.0, 0.0]),
    "back": np.array([0.0, 1.0, 0.0]),
    "rain": np.array([0.0, -np.sin(RAIN_OFF), -np.cos(RAIN_OFF)]),
}


def cover(figure: Floats, counts: Flags, cloth: Floats, way: Floats) -> float:
    """Share of what is seen of the figure's triangles (n, 3, 3) that count (n,), along `way` (3,), that cloth
    (m, 3, 3) hides. 0 where nothing that counts is seen.
    """
    across = _across(way)
    low = np.vstack([figure.reshape(-1, 3), cloth.reshape(-1, 3)]) @ across.T
    origin, shape = low.min(axis=0), np.floor((low.max(axis=0) - low.min(axis=0)) / PIXEL).astype(np.int64) + 1
    body, owner = _depths(figure, way, across, origin, shape)
    over, _ = _depths(cloth, way, across, origin, shape)
    seen = np.isfinite(body) & counts[owner]
    return float(np.mean(over[seen] < body[seen])) if seen.any() else 0.0


def _across(way: Floats) -> Floats:
    """Two directions square to a way and to each other, (2, 3)."""
    first = np.cross(way, [1.0, 0.0, 0.0] if abs(way[0]) < 0.9 else [0.0, 1.0, 0.0])
    first /= np.linalg.norm(first)
    return np.stack([first, np.cross(way, first)])


def _depths(corners: Floats, way: Floats, across: Floats, origin: Floats, shape: Ints) -> tuple[Floats, Ints]:
    """Of each pixel the least depth along `way` [m], infinite where nothing is met, and the triangle met there."""
    places, owner = set_down(corners, FINER * PIXEL)
    column, row = np.floor((across @ places.T - origin[:, None]) / PIXEL).astype(np.int64)
    cell = np.clip(column, 0, shape[0] - 1) * shape[1] + np.clip(row, 0, shape[1] - 1)
    depth = places @ way
    least, met = np.full(int(shape[0] * shape[1]), np.inf), np.zeros(int(shape[0] * shape[1]), dtype=np.int64)
    np.minimum.at(least, cell, depth)
    is_met = np.flatnonzero(depth == least[cell])[::-1]  # of places as deep the first counts: it is written last
    met[cell[is_met]] = owner[is_met]
    return least, met


def set_down(corners: Floats, apart: float) -> tuple[Floats, Ints]:
    """Places on triangles (n, 3, 3) no further apart than that [m], (k, 3), and whose each is, (k,)."""
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    parts = np.maximum(np.ceil(sides / apart).astype(np.int64), 1)
    parts = 2 ** np.ceil(np.log2(parts)).astype(np.int64)  # few kinds of grid
    places, owners = [], []
    for count in np.unique(parts):
        which = np.flatnonzero(parts == count)
        a, b = np.meshgrid(np.arange(count + 1), np.arange(count + 1), indexing="ij")
        inside = a + b <= count
        share = np.stack([a[inside], b[inside], count - a[inside] - b[inside]], axis=1) / count
        places.append(np.einsum("kc,ncx->nkx", share, corners[which]).reshape(-1, 3))
        owners.append(np.repeat(which, len(share)))
    return np.concatenate(places), np.concatenate(owners)
