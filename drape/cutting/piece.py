"""One piece of cloth: named edges round a net outline, and all that is chalked on it.

In: edges with their seam allowances, grain, notches, lines, buttons. Out: a `Piece`, its net outline (the seam
lines), its cut outline (with allowances), where its matching notches stand. Flat axes and metres are the draft's.
How a draft falls into pieces is left to `piecing`, how pieces lie on cloth to `lay`, drawing to `strokes`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from drape.draft.outline import Edge

LONGEST_TIP = 3.0  # an allowance runs on at most so many times its width; common practice, no source
MOUTH = "mouth"  # of a dart, while its second leg is not yet found
LEAST_PART = 1e-8  # m2; smaller parts are crumbs of arithmetic


@dataclass(frozen=True)
class Notch:
    """A mark across an edge: `place` on the seam line [m], `outward` a unit vector, `count` strokes side by side."""

    place: np.ndarray
    outward: np.ndarray
    count: int = 1


@dataclass(frozen=True)
class Piece:
    """One piece to cut.

    edges: run round the net outline anticlockwise, each ending where the next starts. grain: direction of the warp
    from flat x [rad]; the nap runs along it the same way on every piece. allowance: by edge name [m], 0 where missing.
    layer: which cloth it is cut from. quantity: how many; every second one turned over when `paired`. fold: name
    of a straight edge that lies on the fold, so that the piece is twice what is drawn. lines: chalked inside.
    buttons: centres [m], shape (k, 2), of button_diameter [m].
    """

    name: str
    number: int
    edges: tuple[Edge, ...]
    grain: float = 0.0
    allowance: Mapping[str, float] = field(default_factory=dict)
    layer: str = "cloth"
    quantity: int = 1
    paired: bool = False
    fold: str | None = None
    notches: tuple[Notch, ...] = ()
    lines: tuple[Edge, ...] = ()
    buttons: np.ndarray = field(default_factory=lambda: np.empty((0, 2)))
    button_diameter: float = 0.0


@dataclass(frozen=True)
class MarkedDart:
    """A dart as it is marked inside a piece: folded and sewn, not cut. `legs`: from the mouth to the point [m],
    shape (k, 2).
    """

    name: str
    legs: tuple[np.ndarray, np.ndarray]

    @property
    def point(self) -> np.ndarray:
        """Where both legs end [m], shape (2,)."""
        return self.legs[0][-1]

    @property
    def fold(self) -> np.ndarray:
        """The line it is folded on, from its point to the middle of its mouth [m], shape (2, 2)."""
        return np.array([self.point, (self.legs[0][0] + self.legs[1][0]) / 2])


def is_leg(name: str) -> bool:
    """Return whether an edge of that name is a leg of a dart, which lies inside the cut line."""
    return name.endswith(" leg")


def dart_name(leg: str) -> str:
    """Return the name of the dart a leg belongs to: "dart", or "dart 2"."""
    return leg.rsplit(" ", 2)[0]


def marked_darts(piece: Piece) -> list[MarkedDart]:
    """Return the darts that lie wholly in a piece."""
    pairs = zip(piece.edges, (*piece.edges[1:], piece.edges[0]), strict=True)
    return [
        MarkedDart(dart_name(first.name), (first.points, second.points[::-1]))
        for first, second in pairs
        if is_leg(first.name) and is_leg(second.name) and dart_name(first.name) == dart_name(second.name)
    ]


def net_outline(piece: Piece) -> Polygon:
    """Return the outline of seam lines [m]."""
    return Polygon(np.concatenate([edge.points[:-1] for edge in piece.edges]))


def cut_outline(piece: Piece) -> Polygon:
    """Return the outline to cut [m]: the net one with each edge's allowance outside it.

    At a corner each allowance ends on the line of the other: square corners come out square, an allowance that meets a
    selvedge ends on it. It runs on no further than thrice the wider, so that sharp tips come out blunt, as they are
    trimmed. A dart's wedge is folded away and not cut out: its mouth is cut straight across.
    """
    edges = _mouths_closed(piece.edges)
    parts = [net_outline(piece), Polygon(np.concatenate([edge.points[:-1] for edge in edges]))]
    widths = [piece.allowance.get(edge.name, 0.0) for edge in edges]
    for i, edge in enumerate(edges):
        if widths[i] > 0.0:
            before, after = i - 1, (i + 1) % len(widths)
            onward = (
                _mitre(edges[before].points[-2:], edge.points[:2], widths[i], widths[before]),
                _mitre(edge.points[-2:], edges[after].points[:2], widths[i], widths[after]),
            )
            band = LineString(_longer(edge.points, *onward))
            band = band.buffer(-widths[i], single_sided=True, join_style="mitre")
            for own, line, other in (
                (edge.points[:2], edges[before].points[-2:], widths[before]),
                (edge.points[-2:], edges[after].points[:2], widths[after]),
            ):
                band = _trimmed(band, own, line, widths[i], other)
            parts.append(band)
    whole = shapely.union_all(parts, grid_size=1e-7)
    largest = max(getattr(whole, "geoms", [whole]), key=lambda part: part.area)
    return Polygon(largest.exterior)


def _mouths_closed(edges: Sequence[Edge]) -> list[Edge]:
    """Return the edges, the two legs of each dart made one straight edge across its mouth, named as the edge before.

    They begin with the first that is no leg.
    """
    closed: list[Edge] = []
    first = next(k for k, edge in enumerate(edges) if not is_leg(edge.name))
    for edge in (*edges[first:], *edges[:first]):
        if not is_leg(edge.name):
            closed.append(edge)
        elif np.array_equal(edge.points[0], closed[-1].points[-1]) and closed[-1].name == MOUTH:
            closed[-1] = Edge(closed[-2].name, np.array([closed[-1].points[0], edge.points[-1]]))
        else:
            closed.append(Edge(MOUTH, edge.points))
    return closed


def _mitre(first: np.ndarray, second: np.ndarray, own: float, other: float) -> float:
    """Return how far an allowance `own` runs on past a corner to meet the line of the `other` [m].

    first, second: the stretches that meet there, in the order of the outline, shape (2, 2). With the inner angle A
    it is (other + own cos A) / sin A; nothing where the outline turns inward.
    """
    a, b = first[1] - first[0], second[1] - second[0]
    sine = float(a[0] * b[1] - a[1] * b[0]) / float(np.linalg.norm(a) * np.linalg.norm(b))
    cosine = -float(a @ b) / float(np.linalg.norm(a) * np.linalg.norm(b))
    if sine <= 1e-6:
        return 0.0
    return min(max(0.0, (other + own * cosine) / sine), LONGEST_TIP * max(own, other))


def _longer(points: np.ndarray, before: float, after: float) -> np.ndarray:
    """Return the points with the first and last moved on along the run by `before` and `after` [m]."""
    run = points.copy()
    for end, inner, more in ((0, 1, before), (-1, -2, after)):
        along = points[end] - points[inner]
        run[end] = points[end] + more * along / np.linalg.norm(along)
    return run


def _trimmed(band: BaseGeometry, own: np.ndarray, line: np.ndarray, width: float, other: float) -> BaseGeometry:
    """Return an allowance of `width` [m] less what lies past the neighbour's cut line, `other` [m] out.

    own, line: the edge's and the neighbour's stretches there, in the order of the outline, shape (2, 2). With the turn
    T between them the allowance passes that line as far back as (width cos T - other) / sin T. Where the outline turns
    inward nothing is trimmed.
    """
    ahead = np.array_equal(own[-1], line[0])
    corner = line[0] if ahead else line[-1]
    along, mine = ((run[1] - run[0]) / np.linalg.norm(run[1] - run[0]) for run in (line, own))
    sine = (mine[0] * along[1] - mine[1] * along[0]) * (1.0 if ahead else -1.0)
    if sine <= 1e-6:
        return band
    back = (width * float(mine @ along) - other) / sine
    onward = _mitre(own, line, width, other) if ahead else _mitre(line, own, width, other)
    reach = float(np.hypot(max(back, onward), max(width, other))) + 1e-3
    out = np.array([along[1], -along[0]])
    foot = corner + other * out
    past = Polygon(
        [foot - reach * along, foot - reach * (along - out), foot + reach * (along + out), foot + reach * along]
    )
    return band.difference(past.intersection(Point(corner).buffer(reach)))


def unfolded(piece: Piece) -> Piece:
    """Return the piece opened flat about its fold; the same piece if it has none."""
    if piece.fold is None:
        return piece
    at = next(i for i, edge in enumerate(piece.edges) if edge.name == piece.fold)
    fold = piece.edges[at].points
    rest = [*piece.edges[at + 1 :], *piece.edges[:at]]
    along = (fold[-1] - fold[0]) / np.linalg.norm(fold[-1] - fold[0])

    def other(points: np.ndarray) -> np.ndarray:
        offset = points - fold[0]
        return fold[0] + 2 * np.multiply.outer(offset @ along, along) - offset

    def turned(vector: np.ndarray) -> np.ndarray:
        return 2 * (vector @ along) * along - vector

    twin = [Edge(f"{edge.name}, far side", other(edge.points)[::-1].copy()) for edge in reversed(rest)]
    allowance = {**piece.allowance, **{f"{name}, far side": width for name, width in piece.allowance.items()}}
    return Piece(
        name=piece.name,
        number=piece.number,
        edges=(*rest, *twin),
        grain=piece.grain,
        allowance=allowance,
        layer=piece.layer,
        quantity=piece.quantity,
        paired=piece.paired,
        notches=(*piece.notches, *(Notch(other(n.place), turned(n.outward), n.count) for n in piece.notches)),
        lines=(*piece.lines, Edge("centre", fold), *(Edge(e.name, other(e.points)) for e in piece.lines)),
        buttons=np.vstack([piece.buttons, other(piece.buttons)]),
        button_diameter=piece.button_diameter,
    )


def outward_at(edge: Edge, place: np.ndarray) -> np.ndarray:
    """Return the unit vector out of the piece at the point of an edge nearest to `place`."""
    starts, steps = edge.points[:-1], np.diff(edge.points, axis=0)
    along = np.clip(np.sum((place - starts) * steps, axis=1) / np.sum(steps**2, axis=1), 0.0, 1.0)
    nearest = int(np.argmin(np.linalg.norm(starts + along[:, None] * steps - place, axis=1)))
    step = steps[nearest] / np.linalg.norm(steps[nearest])
    return np.array([step[1], -step[0]])
