"""Dags: an edge cut into tongues, all alike, as many as fit so that it begins and ends with a whole one.

In: an edge's points, which way the cloth lies from it, a kind, a width and a depth. Out: the dagged edge's points [m].
The tips lie on the edge as drafted, so that its length and reach are those of the tips; the notches are cut into it.

    square     tips and notches straight across and equally wide
    round      scallops: arcs that meet at an angle
    pointed    straight sides, one point
    leaf       bowed sides, one point: two arcs, as in a pointed arch
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from drape.draft.style import Dags
from drape.errors import DraftError
from drape.polyline import at_length, length_along

STRETCH = 8  # points on a straight stretch of a dag, which lies on a curved edge
ARC = 48  # points on a bowed side: under 4 degrees from one to the next
BOW_END = math.radians(15)  # a scallop's side leaves the notch so far off square, or shears could not turn in it; ours
LEAF_RADIUS = 1.6  # of a leaf's arcs, in half widths; ours, by eye
LEAST_ROOT = 0.5  # of a dag's width that it must keep at its root


@dataclass(frozen=True)
class DagRun:
    """The dags of one edge. Lengths [m].

    edge: its name. points: the dagged edge, shape (k, 2), in the order of the outline. width: of one as fitted.
    meshed: whether they are cut into the triangles too.
    """

    edge: str
    kind: str
    count: int
    width: float
    depth: float
    points: np.ndarray
    meshed: bool = False


def dag_run(
    name: str, points: np.ndarray, inward: np.ndarray, asked: Dags, where: str, *,
    fitted_to: float | None = None, plain: tuple[float, float] = (0.0, 0.0),
) -> DagRun:  # fmt: skip
    """Return one edge's dags. Raises DraftError, in which `where` names the key that says their depth.

    points, inward: as in `dagged`, or the two ends of a straight edge. fitted_to: the length the count is fitted to
    [m], its own if None. plain: how much is kept plain at either end [m].
    """
    lands = points[[0, -1]] if any(plain) else points[:0]
    if any(plain):
        way = (points[-1] - points[0]) / np.linalg.norm(points[-1] - points[0])
        points = np.array([points[0] + plain[0] * way, points[-1] - plain[1] * way])
        if (points[1] - points[0]) @ way < asked.width:
            room = float(np.linalg.norm(lands[1] - lands[0])) - sum(plain) + asked.width
            raise DraftError(
                f"{where.replace('depth', 'width')}: got {100 * asked.width:.4g}, allowed less than about "
                f"{50 * room:.3g}, half the opening edge. Make the dags narrower."
            )
    length = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
    count = fitted_count(length if fitted_to is None else fitted_to, asked.width, asked.kind)
    check_roots(points, inward, count, asked.depth, where)
    cut = dagged(points, inward, dag_shape(asked.kind, count), asked.depth)
    if len(lands):
        steps = (points[:1], points[1:]) if asked.kind != "square" else (points[:0], points[:0])
        cut = np.vstack([lands[:1], steps[0], cut, steps[1], lands[1:]])
    return DagRun(name, asked.kind, count, fitted_width(length, count, asked.kind), asked.depth, cut)


def fitted_count(length: float, width: float, kind: str) -> int:
    """Return how many whole dags of about `width` [m] fill an edge; square ones have one notch less than tips."""
    return max(1, round(length / width + (0.5 if kind == "square" else 0.0)))


def fitted_width(length: float, count: int, kind: str) -> float:
    """Return the width [m] at which `count` dags fill an edge; of square ones a tip and a notch."""
    return length / (count - 0.5 if kind == "square" else count)


def dag_shape(kind: str, count: int) -> np.ndarray:
    """Return the course of `count` dags: shares of the edge's length and of the depth, shape (k, 2),
    both from 0 to 1.
    """
    if kind == "square":
        half = 1.0 / (2 * count - 1)
        corners = [(0.0, 0.0)]
        for k in range(2 * count - 1):
            low = float(k % 2)
            corners += [(k * half, low), ((k + 1) * half, low)]
        return _stretched(np.array(corners[1:]))
    one = _one_dag(kind)
    runs = [np.column_stack([(k + one[:, 0]) / count, one[:, 1]])[1 if k else 0 :] for k in range(count)]
    return np.vstack(runs)


def _one_dag(kind: str) -> np.ndarray:
    """Return one dag from notch to notch: shares of its width and depth."""
    if kind == "pointed":
        return _stretched(np.array([(0.0, 1.0), (0.5, 0.0), (1.0, 1.0)]))
    if kind == "round":
        turn = np.linspace(BOW_END, math.pi - BOW_END, 2 * ARC + 1)
        low = math.sin(BOW_END)
        return np.column_stack([0.5 - np.cos(turn) / (2 * math.cos(BOW_END)), 1.0 - (np.sin(turn) - low) / (1.0 - low)])
    turn = np.linspace(0.0, math.acos((LEAF_RADIUS - 1.0) / LEAF_RADIUS), ARC + 1)  # from the root to the tip
    aside, up = LEAF_RADIUS * np.cos(turn) - (LEAF_RADIUS - 1.0), LEAF_RADIUS * np.sin(turn)
    left = np.column_stack([0.5 - aside / 2, 1.0 - up / up[-1]])
    return np.vstack([left, np.column_stack([1.0 - left[-2::-1, 0], left[-2::-1, 1]])])


def _stretched(corners: np.ndarray) -> np.ndarray:
    """Return a polyline with STRETCH points on each stretch that is not square to the edge."""
    out = [corners[:1]]
    for start, end in zip(corners[:-1], corners[1:], strict=True):
        share = np.linspace(0.0, 1.0, STRETCH + 1 if start[0] != end[0] else 2)[1:, None]
        out.append(start + share * (end - start))
    return np.vstack(out)


def dagged(points: np.ndarray, inward: np.ndarray, shape: np.ndarray, depth: float) -> np.ndarray:
    """Return an edge with dags cut into it, shape (k, 2) [m].

    points: the edge (n, 2). inward: unit vectors into the cloth at each (n, 2), along which notches are cut.
    """
    along = length_along(points)
    place = shape[:, 0] * along[-1]
    on, into = (at_length(place, along, of) for of in (points, inward))
    into /= np.linalg.norm(into, axis=1)[:, None]
    return on + depth * shape[:, 1:] * into


def check_roots(points: np.ndarray, inward: np.ndarray, count: int, depth: float, where: str) -> None:
    """Refuse dags so deep that the edge's turn leaves them too narrow at the root, or makes neighbours cross."""
    along = length_along(points)
    place = np.linspace(0.0, along[-1], 4 * count + 1)
    on, into = (at_length(place, along, of) for of in (points, inward))
    into /= np.linalg.norm(into, axis=1)[:, None]
    step, apart = np.diff(on, axis=0), np.diff(into, axis=0)
    size = np.linalg.norm(step, axis=1)
    narrowing = -np.sum(step * apart, axis=1) / size**2  # of the width, per metre of depth
    worst = float(narrowing.max())
    if worst * depth > 1.0 - LEAST_ROOT:
        raise DraftError(
            f"{where}: the dags are deeper than the turn of the curve, got {100 * depth:.4g}, allowed at most "
            f"{100 * (1.0 - LEAST_ROOT) / worst:.3g}, where they are still half as wide at the root. Make them "
            "shallower."
        )
