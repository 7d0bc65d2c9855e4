"""Flat shapes on a strip of cloth: outlines in, places without overlap out, the strip as short as was found.

In: outlines [m] with the turns each may take, the strip's width, places to keep clear. Out: for each shape its
turn and the shift of its origin; x runs along the strip, y across it, both from 0.

Each pair of shapes has a no-fit polygon: where the second's origin may not be while the first lies still (Art 1966;
Adamowicz and Albano 1976; from memory). Shapes are laid one after another, each as far left as the no-fit polygons
of those already there allow; orders and turns are then varied, a fixed number of times from a fixed start, so that the
same shapes give the same lay. Shapes may fit the strip to the last digit, as a length of cloth does. What the shapes
are is left to `lay`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import shapely
from shapely import LineString, Polygon, box
from shapely.affinity import rotate, scale, translate
from shapely.errors import GEOSException
from shapely.geometry.base import BaseGeometry

COARSE = 0.001  # m; outlines are enlarged by up to this where they are made of fewer points
TIGHT = 1e-7  # m; shapes may overlap, or be wider than the strip, by this much, so that what just fits does fit
GRID = 1e-8  # m; finer detail of an outline is left out
ARC = 8  # chords to a quarter round
TRIES = 400  # choices looked at for one lay
SLACK = 0.04  # how much longer than the best a choice may be and still be varied further; falls to 0


# The order in which shapes are laid, each one's turn, and to which side of the strip it leans, 0 or 1.
_Choice = tuple[list[int], list[int], list[int]]
# Shapes already there, each with its turn, x and y; the next shape, its turn and lean.
_Laid = tuple[tuple[tuple[int, int, float, float], ...], int, int, int]


@dataclass(frozen=True)
class Shape:
    """What is to be laid: an outline [m] and the turns it may take [rad].

    on_fold: the least y of its outline is an edge on the fold, so it lies at y = 0. on_end: the same with x.
    """

    outline: Polygon
    turns: tuple[float, ...] = (0.0,)
    on_fold: bool = False
    on_end: bool = False


@dataclass(frozen=True)
class Place:
    """Where a shape lies: turned about its own origin by `turn` [rad], then shifted by (x, y) [m]."""

    turn: float
    x: float
    y: float


class Disc(NamedTuple):
    """A part of the strip to keep clear: its middle, x along and y across, and its radius [m]."""

    x: float
    y: float
    radius: float


@dataclass
class _Board:
    """The strip, the shapes as turned, where each may lie on the bare strip, no-fit polygons and spots found so far."""

    shapes: Sequence[Shape]
    width: float
    blocked: Sequence[Disc]
    turned: list[list[Polygon]]
    length: float
    room: dict[tuple[int, int], BaseGeometry | None] = field(default_factory=dict)
    no_fit: dict[tuple[int, int, int, int], BaseGeometry] = field(default_factory=dict)
    spots: dict[_Laid, tuple[float, float] | None] = field(default_factory=dict)


def pack(
    shapes: Sequence[Shape],
    width: float,
    *,
    blocked: Sequence[Disc] = (),
    tries: int = TRIES,
    coarse: float = COARSE,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[Place, ...] | None:
    """Return a place for every shape, in the order given; None if one does not fit across the strip.

    blocked: parts of the strip to keep clear. tries: orders and turns looked at; more
    may be shorter. coarse: outlines may be enlarged by so much [m], to be quicker. progress: called with tries done and
    tries in all.

    Source: bottom-left placement with no-fit polygons and a local search over the order; ours. Held against exact
    packings in tests/unit/cutting/test_nesting.py.
    """
    turned = []
    for shape in shapes:
        fewer = _coarse(shape.outline, coarse)
        turned.append([rotate(fewer, turn, origin=(0, 0), use_radians=True) for turn in shape.turns])
    if any(min(_height(one) for one in every) > width + TIGHT for every in turned):
        return None
    length = sum(max(one.bounds[2] - one.bounds[0] for one in every) for every in turned)
    length += 0.01 + max((part.x + part.radius for part in blocked), default=0.0)
    board = _Board(shapes, width, tuple(blocked), turned, length)
    order = sorted(range(len(shapes)), key=lambda i: (-turned[i][0].area, i))
    turns = [next(t for t, one in enumerate(every) if _height(one) <= width + TIGHT) for every in turned]
    best, kept, here = None, None, (order, turns, [0] * len(shapes))
    random = np.random.default_rng(7)
    slack = math.inf
    for count in range(max(1, tries)):
        choice = here if count == 0 else _varied(here, board, random)
        found = _laid(board, choice, slack)
        if found is not None:
            here = choice
            if best is None or found[0] < best:
                best, kept = found
        if best is not None:
            slack = best[0] * (1.0 + SLACK * (1.0 - count / tries))
        if progress is not None:
            progress(count + 1, tries)
    return None if kept is None else tuple(kept[i] for i in range(len(shapes)))


def _varied(here: _Choice, board: _Board, random: np.random.Generator) -> _Choice:
    """Return a choice near the one given: one to three changes, each a swap, a move, another turn or lean."""
    order, turns, leans = (list(part) for part in here)
    for _ in range(int(random.integers(1, 4))):
        kind = int(random.integers(0, 4))
        i, j = (int(k) for k in random.integers(0, len(order), 2))
        if kind == 0:
            order[i], order[j] = order[j], order[i]
        elif kind == 1:
            order.insert(j, order.pop(i))
        elif kind == 2:
            turns[i] = int(random.integers(0, len(board.turned[i])))
        else:
            leans[i] = 1 - leans[i]
    return order, turns, leans


def _laid(board: _Board, choice: _Choice, limit: float) -> tuple[tuple[float, float], dict[int, Place]] | None:
    """Return the lay's length with the sum of all ends, and each shape's place; None once longer than `limit`."""
    placed: list[tuple[int, int, float, float]] = []
    places, ends = {}, []
    order, turns, leans = choice
    for i in order:
        here = (tuple(placed), i, turns[i], leans[i])
        if here not in board.spots:
            board.spots[here] = _leftmost(board, placed, i, turns[i], leans[i])
        spot = board.spots[here]
        if spot is None:
            return None
        placed.append((i, turns[i], *spot))
        places[i] = Place(board.shapes[i].turns[turns[i]], *spot)
        ends.append(spot[0] + board.turned[i][turns[i]].bounds[2])
        if ends[-1] > limit + TIGHT:
            return None
    return (round(max(ends), 7), round(sum(ends), 7)), places


def _leftmost(
    board: _Board, placed: Sequence[tuple[int, int, float, float]], i: int, turn: int, lean: int
) -> tuple[float, float] | None:
    """Return the place furthest left, then lowest (highest with `lean`), for a shape's origin; None if none."""
    if (i, turn) not in board.room:
        board.room[i, turn] = _room(board, i, turn)
    room = board.room[i, turn]
    if room is None:
        return None
    taken = np.array([_no_fit(board, j, other, i, turn) for j, other, _, _ in placed])
    free = room.difference(shapely.union_all(_shifted(taken, [(x, y) for _, _, x, y in placed]))) if placed else room
    if free.is_empty:
        return None
    spots = shapely.get_coordinates(free)
    first = np.lexsort((-spots[:, 1] if lean else spots[:, 1], np.round(spots[:, 0], 7)))[0]
    return float(spots[first, 0]), float(spots[first, 1])


def _shifted(shapes: np.ndarray, by: Sequence[tuple[float, float]]) -> np.ndarray:
    """Return each of the shapes moved by its (x, y) [m]; all at one stroke."""
    shift = np.repeat(np.array(by), shapely.get_num_coordinates(shapes), axis=0)
    return shapely.transform(shapes, lambda at: at + shift)


def _room(board: _Board, i: int, turn: int) -> BaseGeometry | None:
    """Return where a shape's origin may be on the bare strip; None if it does not fit across."""
    left, low, right, high = board.turned[i][turn].bounds
    top = -low if board.shapes[i].on_fold else max(board.width - high, -low)
    end = -left if board.shapes[i].on_end else board.length - right
    if top + low < -TIGHT or board.width - (high - low) < -TIGHT:
        return None
    room: BaseGeometry
    if top + low < TIGHT:
        room = LineString([(-left, -low), (end, -low)]) if end + left > TIGHT else shapely.Point(-left, -low)
    elif end + left < TIGHT:
        room = LineString([(-left, -low), (-left, top)])
    else:
        room = box(-left, -low, end, top)
    return room.difference(_over(board.blocked, board.turned[i][turn])) if board.blocked else room


def _over(blocked: Sequence[Disc], moving: Polygon) -> BaseGeometry:
    """Return where the moving shape's origin may not be for it to lie on none of the discs.

    That of one disc is the shape turned through its origin and grown by the radius, here up to the next COARSE.
    """
    through = scale(moving, -1.0, -1.0, origin=(0, 0))
    grown: dict[int, BaseGeometry] = {}
    taken = []
    for disc in blocked:
        size = math.ceil(disc.radius / COARSE - 1e-9)
        if size not in grown:
            radius = size * COARSE / math.cos(math.pi / (4 * ARC))  # so that the chords of the round lie outside it
            grown[size] = through.buffer(radius - TIGHT, quad_segs=ARC)
        taken.append(translate(grown[size], disc.x, disc.y))
    return shapely.union_all(taken)


def _no_fit(board: _Board, fixed: int, fixed_turn: int, moving: int, moving_turn: int) -> BaseGeometry:
    """Return where the moving shape's origin may not be while the fixed one lies at the origin."""
    key = (fixed, fixed_turn, moving, moving_turn)
    if key not in board.no_fit:
        # Asked the other way round, or with both turned end for end, the answer is turned end for end.
        same = [(moving, moving_turn, fixed, fixed_turn)]
        if board.shapes[fixed].turns == board.shapes[moving].turns == (0.0, math.pi):
            same.append((fixed, 1 - fixed_turn, moving, 1 - moving_turn))
        known = next((board.no_fit[other] for other in same if other in board.no_fit), None)
        if known is not None:
            board.no_fit[key] = scale(known, -1.0, -1.0, origin=(0, 0))
            return board.no_fit[key]
        board.no_fit[key] = _minkowski(board.turned[fixed][fixed_turn], board.turned[moving][moving_turn])
    return board.no_fit[key]


def _minkowski(still: Polygon, moving: Polygon) -> BaseGeometry:
    """Return the sum of one outline and the other turned through its origin, holes filled: a no-fit polygon.

    All round it lie sides of one carried to corners of the other, at which they may stand out (the reduced
    convolution of Behar and Lien, 2011; from memory); what these sides enclose is the sum.
    """
    a, b = (shapely.get_coordinates(shapely.orient_polygons(one).exterior)[:-1] for one in (still, moving))
    sides = shapely.linestrings(np.concatenate([_sides_at(a, -b), _sides_at(-b, a)]))
    try:
        net = shapely.union_all(sides)
    except GEOSException:  # needles; slower, and robust
        net = shapely.union_all(sides, grid_size=GRID)
    whole = shapely.coverage_union_all(shapely.get_parts(shapely.polygonize(shapely.get_parts(net))))
    parts = [Polygon(part.exterior) for part in getattr(whole, "geoms", [whole])]
    return shapely.union_all(parts).buffer(-TIGHT, join_style="mitre")


def _sides_at(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Return the sides of outline a, (k, 2, 2), carried to the corners of b that stand out and take their direction.

    a, b: corners anticlockwise, (n, 2). A corner takes the directions between those of its two sides.
    """
    along, out = (np.roll(one, -1, axis=0) - one for one in (a, b))
    along, out = (one / np.linalg.norm(one, axis=1, keepdims=True) for one in (along, out))
    into = np.roll(out, 1, axis=0)
    taken = _turns_left(into[None], along[:, None]) & _turns_left(along[:, None], out[None]) & _turns_left(into, out)
    i, j = np.nonzero(taken)
    return np.stack([a[i] + b[j], np.roll(a, -1, axis=0)[i] + b[j]], axis=1)


def _turns_left(u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """Return whether v points left of u or along it; a hair to the right counts, and does no harm."""
    return u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0] > -1e-9


def _coarse(outline: Polygon, coarse: float) -> Polygon:
    """Return the outline made of fewer points, nowhere inside the given one and no longer or wider."""
    outline = shapely.set_precision(shapely.transform(outline, lambda at: np.round(at, 12)), GRID)  # 1e-263 is zero
    for share in (0.5, 0.3, 0.15):  # a simpler line may cut a sharp tip; then it is drawn further out
        around = outline.buffer((1.0 - share) * coarse, join_style="mitre").simplify(share * coarse)
        fewer = around.intersection(box(*outline.bounds))
        if isinstance(fewer, Polygon) and fewer.buffer(1e-6).covers(outline):
            return Polygon(fewer.exterior)
    return Polygon(outline.exterior)


def _height(shape: Polygon) -> float:
    """Return how far a shape reaches across the strip [m]."""
    return float(shape.bounds[3] - shape.bounds[1])
