"""Level sections of the worn cloth: their curves, fullness and folds.

In: positions [m], triangles. Out: for one height, the curves in which the level plane cuts the cloth,
how much longer they are than what they go round, and the folds along them. Knows nothing of figure
or draft.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull

from drape.arrays import Floats, Ints
from drape.polyline import at_length
from drape.triangle import sides_of

FOLD_DEPTH = 0.005  # [m] a fold stands out by at least this from its neighbours
STEP = 0.005  # [m] spacing at which a section is resampled before folds are counted
EVEN = 1e-12  # [m] a step of depth far below any that matters
FLAT = 1e-9  # [m] points nearer to one line are on it
SHORT_SIDE = 1e-6  # [m] a hull's side between two points as good as one has no direction


@dataclass(frozen=True)
class Section:
    """One level section. curves: polylines (k, 2) [m]; a closed one repeats its first point.

    length: of all curves [m]. gap: of the straight lines that join their free ends [m].
    hull: length of the convex hull of all [m]. cord: of a cord drawn tight round it, or round each part of it that lies
    apart where that is shorter [m]; never longer than length and gap.
    """

    curves: tuple[Floats, ...]
    length: float
    gap: float
    hull: float
    cord: float

    @property
    def fullness(self) -> float:
        """Length, free ends joined straight, over that of a cord drawn tight round it, less 1; never below 0.

        No closed curve is shorter than its own convex hull, so the sum of the parts' is no longer than all of them.
        """
        return max((self.length + self.gap) / self.cord - 1.0, 0.0) if self.cord > 0 else 0.0


def level_section(worn: Floats, triangles: Ints, height: float) -> Section | None:
    """The section at a height [m], or None where the plane misses the cloth.

    worn (n, 3), one position per point (seams joined), triangles (t, 3).
    """
    curves = chain(*plane_cuts(worn, triangles, height))
    curves = [curve for curve in curves if len(curve) > 1]
    points = np.concatenate(curves) if curves else np.empty((0, 2))
    if len(points) < 4 or np.linalg.matrix_rank(points - points[0], tol=1e-9) < 2:
        return None
    hull = tight_round(points)
    return Section(
        curves=tuple(curves),
        length=float(sum(run(curve)[-1] for curve in curves)),
        gap=free_end_gap(curves),
        hull=hull,
        cord=min(hull, sum(tight_round(part) for part in parts_apart(curves))),
    )


def tight_round(points: Floats) -> float:
    """Length of a cord drawn tight round points (k, 2) [m]; round points on a line it runs there and back."""
    centred = points - points[0]
    _, spread, axes = np.linalg.svd(centred, full_matrices=False)
    if spread[-1] <= FLAT or len(points) < 3:
        return 2 * float(np.ptp(centred @ axes[0]))
    hull = points[ConvexHull(points).vertices]
    return float(np.linalg.norm(hull - np.roll(hull, 1, axis=0), axis=1).sum())


def parts_apart(curves: list[Floats]) -> list[Floats]:
    """Points of each closed part of a section: a closed curve, or open ones that their gap lines join in a ring."""
    part = np.arange(len(curves))
    ends = {point.tobytes(): k for k, curve in enumerate(curves) for point in (curve[0], curve[-1])}
    for line in gap_lines(curves):
        first, second = (part[ends[point.tobytes()]] for point in line)
        part[part == second] = first
    return [np.concatenate([curves[k] for k in np.flatnonzero(part == one)]) for one in np.unique(part)]


def plane_cuts(worn: Floats, triangles: Ints, height: float) -> tuple[Ints, Floats]:
    """Segments of the cut: the points at their two ends (s, 2), by place in the points (m, 2).

    A point exactly at the height counts as above it.
    """
    above = worn[:, 2] >= height
    corner_above = above[triangles]
    cut = triangles[corner_above.any(axis=1) & ~corner_above.all(axis=1)]
    ends = sides_of(cut)
    crossing = above[ends[..., 0]] != above[ends[..., 1]]
    pair = np.sort(ends[crossing].reshape(-1, 2, 2), axis=2)
    edges, ids = np.unique(pair.reshape(-1, 2), axis=0, return_inverse=True)
    a, b = worn[edges[:, 0]], worn[edges[:, 1]]
    share = (height - a[:, 2]) / (b[:, 2] - a[:, 2])
    points = a[:, :2] + share[:, None] * (b[:, :2] - a[:, :2])
    return ids.reshape(-1, 2), points


def chain(segments: Ints, points: Floats) -> list[Floats]:
    """Segments joined into polylines (k, 2); a closed one ends where it began."""
    links: list[list[int]] = [[] for _ in range(len(points))]
    for a, b in segments:
        links[a].append(int(b))
        links[b].append(int(a))
    ends = [i for i, near in enumerate(links) if len(near) == 1]
    seen = np.zeros(len(points), dtype=bool)
    curves = []
    for begin in [*ends, *range(len(points))]:
        if seen[begin]:
            continue
        curve = [begin]
        seen[begin] = True
        while True:
            onward = [j for j in links[curve[-1]] if not seen[j]]
            if not onward:
                break
            curve.append(onward[0])
            seen[onward[0]] = True
        if len(curve) > 2 and begin in links[curve[-1]]:
            curve.append(begin)
        curves.append(points[curve])
    return curves


def run(curve: Floats) -> Floats:
    """Arc length [m] at each point of a polyline, from 0."""
    steps = np.linalg.norm(np.diff(curve, axis=0), axis=1)
    return np.concatenate([[0.0], np.cumsum(steps)])


def free_end_gap(curves: list[Floats]) -> float:
    """Length of the straight lines that join the curves' free ends [m]."""
    lines = gap_lines(curves)
    return float(np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1).sum())


def gap_lines(curves: list[Floats]) -> Floats:
    """Straight lines (g, 2, 2) [m] that join the curves' free ends round their middle.

    Going round the ends by azimuth, every second stretch between neighbours is open; of the two
    ways to choose, the shorter.
    """
    found = [p for c in curves if not np.array_equal(c[0], c[-1]) for p in (c[0], c[-1])]
    if not found:
        return np.empty((0, 2, 2))
    ends = np.array(found)
    offset = ends - np.concatenate(curves).mean(axis=0)
    ends = ends[np.argsort(np.arctan2(offset[:, 1], offset[:, 0]))]
    lines = np.stack([ends, np.roll(ends, -1, axis=0)], axis=1)
    ways = [lines[0::2], lines[1::2]]
    return min(ways, key=lambda way: float(np.linalg.norm(way[:, 1] - way[:, 0], axis=1).sum()))


def folds(section: Section) -> list[float]:
    """Depth [m] of each fold: how far it dips inside the section's convex hull.

    A fold is a hollow whose depth below the hull stands FOLD_DEPTH out from both its shoulders.
    """
    from scipy.signal import find_peaks  # a third of a second, which a kept fitting need not wait for

    points = np.concatenate(section.curves)
    hull = points[ConvexHull(points).vertices]
    depths: list[float] = []
    for curve in section.curves:
        closed = np.array_equal(curve[0], curve[-1])
        depth = depth_below(hull, evenly(curve))
        if closed:  # begin at the hull, so that no fold is cut in two
            depth = np.roll(depth[:-1], -int(np.argmin(depth[:-1])))
        uneven = depth + EVEN * np.arange(len(depth))  # of two equally deep places on one floor only one stands out
        peaks, _ = find_peaks(np.concatenate([[0.0], uneven, [0.0]]), prominence=FOLD_DEPTH)
        depths.extend(float(depth[p - 1]) for p in peaks)
    return depths


def evenly(curve: Floats) -> Floats:
    """The polyline resampled about every STEP metres."""
    along = run(curve)
    places = np.linspace(0.0, along[-1], max(3, int(np.ceil(along[-1] / STEP)) + 1))
    return at_length(places, along, curve)


def depth_below(hull: Floats, points: Floats) -> Floats:
    """Distance [m] of points inside a convex polygon (anticlockwise) from its outline."""
    side = np.roll(hull, -1, axis=0) - hull
    length = np.linalg.norm(side, axis=1)
    keep = length > SHORT_SIDE
    normal = np.stack([-side[keep, 1], side[keep, 0]], axis=1) / length[keep, None]
    inside = np.einsum("nkc,kc->nk", points[:, None] - hull[keep][None], normal)
    return np.maximum(inside.min(axis=1), 0.0)
