"""Piecing lines of a drawing as cuts, so that an old lay can be cut again.

In: a `Sector` with its piecing lines. Out: the warp's direction, the levels of the long seams, the seams across a
strip, the width of cloth they need; and what of the lines could not be taken, in sentences. SI, flat axes of `cloak`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from drape.arrays import Floats
from drape.cutting.piecing import SEAM_ALLOWANCE, Cuts
from drape.draft.neckline import direction
from drape.tracing.joined import places_along
from drape.tracing.sector import CLOSE, Sector
from drape.tracing.wedges import inner_path

SQUARE: Final = math.radians(2)  # a line that leans by less lies along the warp or square to it
SAME: Final = 6e-3  # m; seams nearer to each other are one seam, interrupted


@dataclass(frozen=True)
class OldCuts:
    """Where a drawing has its pieces joined. grain: the warp, from the straight edge [rad]; width: of the cloth [m]."""

    cuts: Cuts
    grain: float
    width: float
    left_out: tuple[str, ...]


def old_cuts(drawn: Sector) -> OldCuts | None:
    """The cuts that the drawing's piecing lines make; None without any."""
    lines = [line for role, line in drawn.edges.inner if role == "piecing"]
    if not lines:
        return None
    left_out: list[str] = []
    straight = []
    for line in lines:
        if _bow(line.points) > CLOSE:
            left_out.append(f"Piecing line {line.name}: bends; only straight seams are cut.")
        else:
            straight.append(line)
    if not straight:
        return OldCuts(Cuts(), 0.0, 0.0, tuple(left_out))
    longest = max(straight, key=lambda line: float(np.linalg.norm(np.ptp(line.points, axis=0))))
    grain = _grain(longest.points)
    levels: list[float] = []
    across: list[Floats] = []
    for line in straight:
        run = _turned(line.points, -grain)
        lean = math.atan2(*(run[-1] - run[0])[::-1]) % math.pi
        if min(lean, math.pi - lean) < SQUARE:
            levels.append(float(run[:, 1].mean()))
        elif abs(lean - math.pi / 2) < SQUARE:
            across.append(run)
        else:
            left_out.append(f"Piecing line {line.name}: slants; seams are cut along the warp or across it.")
    stops = _merged(levels)
    ends: dict[int, list[float]] = {}
    for run in across:
        strip = int(np.searchsorted(stops, float(run[:, 1].mean())))
        ends.setdefault(strip, []).append(float(run[:, 0].mean()))
    cuts = Cuts(tuple(stops), tuple((strip, tuple(_merged(places))) for strip, places in sorted(ends.items())))
    return OldCuts(cuts, grain, _width(drawn, stops, grain), tuple(left_out))


def _grain(points: Floats) -> float:
    """Which way a line runs, from -90 to 90 degrees; 0 where it runs along the straight edge [rad]."""
    step = points[-1] - points[0]
    angle = (math.atan2(step[1], step[0]) + math.pi / 2) % math.pi - math.pi / 2
    if abs(abs(angle) - math.pi / 2) < SQUARE:
        return math.pi / 2
    return 0.0 if abs(angle) < SQUARE else angle


def _bow(points: Floats) -> float:
    chord = points[-1] - points[0]
    across = np.array([-chord[1], chord[0]]) / np.linalg.norm(chord)
    return float(np.abs((points - points[0]) @ across).max())


def _turned(points: Floats, angle: float) -> Floats:
    c, s = math.cos(angle), math.sin(angle)
    return points @ np.array([[c, s], [-s, c]])


def _merged(places: Sequence[float]) -> list[float]:
    """Places in order, those that are one made one."""
    groups: list[list[float]] = []
    for place in sorted(places):
        if groups and place - groups[-1][-1] < SAME:
            groups[-1].append(place)
        else:
            groups.append([place])
    return [sum(group) / len(group) for group in groups]


def _width(drawn: Sector, levels: Sequence[float], grain: float) -> float:
    """How wide the cloth must be for the widest strip with its seams [m], in whole centimetres."""
    outline = np.vstack([places_along(drawn.edges.hem), inner_path(drawn)])
    reach = outline @ direction(grain + math.pi / 2)
    stops = [float(reach.min()), *levels, float(reach.max())]
    strips = np.diff(stops)
    seams = np.full(len(strips), 2 * SEAM_ALLOWANCE)
    if len(strips) > 1:
        seams[[0, -1]] = SEAM_ALLOWANCE
    return math.ceil(100 * float((strips + seams).max()) - 1e-6) / 100
