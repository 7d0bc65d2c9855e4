"""A hem and opening edges that are no construction of ours, as points for drawn ones.

In: a `Sector`. Out: the keys of a `Style` with their points [m], few where the edge is smooth. What curve they give is
left to `drawn_edges`.
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
from scipy.interpolate import CubicSpline, make_lsq_spline

from drape.arrays import Floats
from drape.draft.neckline import direction
from drape.errors import DraftError
from drape.tracing.joined import places_along
from drape.tracing.sector import CLOSE, Sector

NEAR: Final = 1e-3  # m; how near the curve is to lie to the drawing
HEM_PIECES: Final = (2, 3, 4, 6, 8, 12, 16, 24, 32, 48)
EDGE_PIECES: Final = (1, 2, 3, 4, 6, 9, 13, 20)


def hem_points(drawn: Sector) -> dict[str, Any]:
    """A drawn hem's points. Raises DraftError for one that turns back."""
    hem = places_along(drawn.edges.hem)
    angle = np.unwrap(np.arctan2(hem[:, 1], hem[:, 0]))
    angle -= 2 * math.pi * round((angle.mean() - drawn.sweep / 2) / (2 * math.pi))
    if np.diff(angle).min() <= 0:
        raise DraftError(
            "trace: got a hem that turns back towards its beginning, allowed one that runs round the neck. Smooth it."
        )
    at, value = _few(angle, np.linalg.norm(hem, axis=1), HEM_PIECES)
    for k, (off, end) in enumerate(zip(drawn.opening_off, (0.0, drawn.sweep), strict=True)):
        if off <= CLOSE:
            at[-k] = end  # on the straight edge, to the last digit
    points = value[:, None] * direction(at)
    return {"hem_along": _told(points[:, 0]), "hem_up": _told(points[:, 1])}


def edge_points(drawn: Sector) -> dict[str, Any]:
    """The points of those opening edges that are not straight. Raises DraftError for one that runs back inward."""
    found: dict[str, Any] = {}
    for k, (which, angle, sense) in enumerate((("first", 0.0, -1.0), ("last", drawn.sweep, 1.0))):
        if drawn.opening_off[k] <= CLOSE:
            continue
        places = places_along(drawn.edges.openings[k])
        along, aside = places @ direction(angle), sense * (places @ direction(angle + math.pi / 2))
        if np.diff(along).min() <= 0:
            raise DraftError(
                "trace: got an opening edge that runs back towards the neck, allowed one that runs outward all along. "
                "Smooth it, or say which edge it is with --edge ID=NAME."
            )
        at, value = _few(along, aside, EDGE_PIECES)
        value[-1] = aside[-1]
        found |= {f"{which}_edge_along": _told(at[1:]), f"{which}_edge_aside": _told(value[1:])}
    return found


def _few(at: Floats, value: Floats, counts: tuple[int, ...]) -> tuple[Floats, Floats]:
    """Few places and values whose spline runs within a millimetre of a curve, as far as that can be had."""
    nodes = kept = np.array([])
    for pieces in counts:
        if len(at) < 2 * pieces + 6:
            break
        inner = np.linspace(at[0], at[-1], pieces + 1)
        curve = make_lsq_spline(at, value, np.concatenate([[at[0]] * 3, inner, [at[-1]] * 3]), k=3)
        nodes = np.linspace(at[0], at[-1], max(2 * pieces + 1, 4))
        kept = curve(nodes)
        if np.abs(CubicSpline(nodes, kept)(at) - value).max() < NEAR:
            break
    return nodes, kept


def _told(values: Floats) -> tuple[float, ...]:
    return tuple(float(value) for value in values)
