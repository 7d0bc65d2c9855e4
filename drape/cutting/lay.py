"""Pieces laid on cloth of a given width: `Piece`s and a `Bolt` in, a `Lay` out, and how much cloth to buy.

The warp runs along the cloth, so pieces are turned only end for end, and with a nap not at all. Folded cloth is cut
double: mirrored pairs, and pieces that lie on the fold; what is single is laid on the open cloth after it. Where the
cloth is narrower than the draft, several ways of piecing are laid out and the thriftiest is kept. SI; x runs along
the cloth, y across it from one selvedge (or from the fold). Searching for places is left to `nesting`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NoReturn

import numpy as np
import shapely
from shapely import Polygon
from shapely.affinity import scale

from drape.cutting.nesting import TRIES, Disc, Place, Shape, pack
from drape.cutting.piece import Piece, cut_outline, net_outline, unfolded
from drape.cutting.piecing import APART, SEAM_ALLOWANCE, Allowances, Cuts, pieced, seam_levels, seam_lines
from drape.draft.neckline import direction
from drape.draft.outline import Draft
from drape.errors import DraftError


class TooWideError(DraftError):
    """A piece does not fit on the cloth, across the grain."""


FOLDS = ("single", "lengthwise", "across")
SHOPPING_WIDTHS = (0.55, 0.70, 0.90, 1.40, 1.50)  # m; hand looms, narrow and broad cloth; makers' widths
COATING_WIDTH = 1.40  # m; modern coating is 1.4 to 1.5 wide; from memory
QUICK_TRIES, QUICK_COARSE = 60, 0.004  # of a lay that is only compared with others
FINALISTS = 4  # of the quickly compared piecings are laid as well as can be
LEAST_SAVING = 0.04  # m of cloth that one more piece must save to be worth its seam; ours
LEAST_SIDE, LEAST_AREA = 0.08, 0.008  # m, m2; no fill piece is smaller than this; ours
ALIKE = 1e-3  # share of its area in which a piece may differ from another one's mirror image
CRUMB = 2 * APART  # m; a piece may be wider than its cloth by so much, since its corners were moved together
ROOM = 1e-6  # m2; two pieces that share less do not overlap

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Flaw:
    """A place to keep clear: distance along the cloth and across it from the selvedge, and a radius [m]."""

    along: float
    across: float
    radius: float


@dataclass(frozen=True)
class Bolt:
    """The cloth to cut from. Width [m]; `nap`: it must run the same way on every piece; shrinkage: the share of its
    length lost before cutting; price: for a metre of length, in any money. cuts: where the draft is cut from it, as an
    old lay has it; None: as saves most cloth."""

    width: float
    nap: bool = False
    fold: str = "single"
    flaws: tuple[Flaw, ...] = ()
    shrinkage: float = 0.0
    price: float | None = None
    cuts: Cuts | None = None


@dataclass(frozen=True)
class CuttingPlan:
    """How a draft is to be cut: the cloth, the seams' allowance [m], the warp's direction from the straight edge [rad].

    grain None: along the straight edge. sewn: the seams between the pieces are settled with the cloak. inner: the cloth
    of each layer under the outside, by its name. facing_width: of facings along both opening edges [m], None for none.
    inner_collar: the collar is cut once more, to face it.
    """

    bolt: Bolt = Bolt(COATING_WIDTH)
    seam_allowance: float = SEAM_ALLOWANCE
    grain: float | None = None
    sewn: bool = False
    inner: tuple[tuple[str, Bolt], ...] = ()
    facing_width: float | None = None
    inner_collar: bool = False


@dataclass(frozen=True)
class Laid:
    """Pieces cut at one place: one, or two from folded cloth.

    outline: what is cut, on the cloth [m]. matrix (2, 2) and shift (2,): a flat point p lies at matrix p + shift. zone:
    "single" or "folded". A piece on the fold shows half of itself.
    """

    pieces: tuple[Piece, ...]
    outline: Polygon
    matrix: np.ndarray
    shift: np.ndarray
    turned: bool
    zone: str
    on_fold: bool = False


@dataclass(frozen=True)
class Lay:
    """Pieces on cloth. length: of cloth used [m]; folded: length of the folded stretch as it lies [m]; area: of all
    pieces with allowances [m2]."""

    bolt: Bolt
    laid: tuple[Laid, ...]
    length: float
    folded: float
    area: float

    @property
    def bound(self) -> float:
        """Length [m] that the area alone would take."""
        return self.area / self.bolt.width

    @property
    def utilisation(self) -> float:
        """Share of the cloth that is in the pieces."""
        return self.area / (self.length * self.bolt.width)

    @property
    def to_buy(self) -> float:
        """Length [m] to buy, shrinkage added."""
        return self.length / (1.0 - self.bolt.shrinkage)

    @property
    def cost(self) -> float | None:
        """Price of the length to buy, in the money of the bolt's price."""
        return None if self.bolt.price is None else self.to_buy * self.bolt.price


def lay_pieces(
    pieces: Sequence[Piece],
    bolt: Bolt,
    *,
    tries: int = TRIES,
    coarse: float | None = None,
    progress: Progress | None = None,
) -> Lay:
    """Return the shortest lay found of any pieces, from whatever they come, on one cloth.

    tries, coarse: how hard to look, as in `nesting.pack`.

    Raises
    ------
    DraftError: the cloth cannot be folded as asked, or (TooWideError) a piece is wider than it.
    """
    _check_bolt(bolt)
    every = [unfolded(piece) if bolt.fold == "single" else piece for piece in pieces for _ in range(piece.quantity)]
    area = sum(cut_outline(unfolded(piece)).area * piece.quantity for piece in pieces)
    double, single = ([], _singles(every)) if bolt.fold == "single" else _doubled(every, bolt)
    laid: list[Laid] = []
    folded = 0.0
    if double:
        half = bolt.width / 2 if bolt.fold == "lengthwise" else bolt.width
        laid = _packed(double, bolt, half, "folded", 0.0, tries, coarse, progress)
        folded = _end(laid)
    start = folded * (2.0 if bolt.fold == "across" else 1.0)
    if single:
        laid += _packed(single, bolt, bolt.width, "single", start, tries, coarse, progress)
    length = max(start, _end([one for one in laid if one.zone == "single"]))
    return Lay(bolt, tuple(laid), length, folded, float(area))


def _check_bolt(bolt: Bolt) -> None:
    """Refuse cloth that cannot be laid as asked."""
    if bolt.width <= 0.0:
        raise DraftError(
            f"piecing.width_cm: got {100 * bolt.width:g}, allowed more than 0. Measure it selvedge to selvedge."
        )
    if bolt.fold not in FOLDS:
        raise DraftError(f"lay.fold: got {bolt.fold!r}, allowed {', '.join(FOLDS)}. Choose one.")
    if bolt.fold == "across" and bolt.nap:
        raise DraftError(
            "lay.fold: got across for cloth with a nap, allowed single or lengthwise. Folded across, the nap of the "
            "upper layer runs the wrong way: fold it lengthwise, or lay it single."
        )
    if bolt.fold == "across" and bolt.flaws:
        raise DraftError(
            "lay.fold: got across for cloth with flaws, allowed single or lengthwise. Folded across, it is not known "
            "where a flaw comes to lie: lay it single."
        )


@dataclass(frozen=True)
class _ToLay:
    """What is laid at one place: pieces, the outline turned to the warp, and the matrix that turned it."""

    pieces: tuple[Piece, ...]
    outline: Polygon
    matrix: np.ndarray
    on_fold: bool = False


def _to_warp(piece: Piece, *, mirrored: bool = False) -> _ToLay:
    """Return a piece turned so that its warp lies along x; `mirrored`: turned over about the warp."""
    c, s = math.cos(piece.grain), math.sin(piece.grain)
    matrix = np.array([[c, s], [-s, c]])
    if mirrored:
        matrix = np.array([[1.0, 0.0], [0.0, -1.0]]) @ matrix
    return _ToLay((piece,), _moved(cut_outline(piece), matrix, np.zeros(2)), matrix)


def _singles(pieces: Sequence[Piece]) -> list[_ToLay]:
    """Return pieces to lay one by one; every second one of a pair is turned over."""
    seen: dict[int, int] = {}
    out = []
    for piece in pieces:
        key = id(piece) if not piece.paired else piece.number
        seen[key] = seen.get(key, 0) + 1
        out.append(_to_warp(unfolded(piece), mirrored=piece.paired and seen[key] % 2 == 0))
    return out


def _doubled(pieces: Sequence[Piece], bolt: Bolt) -> tuple[list[_ToLay], list[_ToLay]]:
    """Return what folded cloth cuts double, and what is left to cut single."""
    double: list[_ToLay] = []
    left: list[Piece] = []
    waiting = list(pieces)
    while waiting:
        piece = waiting.pop(0)
        if piece.fold is not None:
            on_fold = _on_fold(piece, bolt)
            double += [on_fold] if on_fold else []
            left += [] if on_fold else [unfolded(piece)]
            continue
        one = _to_warp(piece)
        twin = next(
            (i for i, other in enumerate(waiting) if other.fold is None and _twins(one, piece, other, bolt)), None
        )
        if twin is None:
            left.append(piece)
        else:
            double.append(replace(one, pieces=(piece, waiting.pop(twin))))
    return double, _singles(left)


def _twins(one: _ToLay, piece: Piece, other: Piece, bolt: Bolt) -> bool:
    """Say whether the other piece comes out of the lower layer when the first is cut from the upper."""
    if piece.paired and other is piece:
        return True
    there = _to_warp(other).outline
    mirrored = [scale(one.outline, 1.0, -1.0, origin=(0, 0))]
    if not bolt.nap:
        mirrored.append(scale(one.outline, -1.0, 1.0, origin=(0, 0)))
    return any(_same(shape, there) for shape in mirrored)


def _same(first: Polygon, second: Polygon) -> bool:
    """Say whether two outlines are alike once shifted onto each other."""
    if abs(first.area - second.area) > ALIKE * second.area:
        return False
    shift = np.array(second.bounds[:2]) - np.array(first.bounds[:2])
    moved = _moved(first, np.eye(2), shift)
    return moved.symmetric_difference(second).area < ALIKE * second.area


def _on_fold(piece: Piece, bolt: Bolt) -> _ToLay | None:
    """Return a folded piece turned so that its fold lies on the cloth's; None if its grain does not allow that."""
    edge = next(edge for edge in piece.edges if edge.name == piece.fold)
    wanted = np.array([0.0, -1.0]) if bolt.fold == "lengthwise" else np.array([-1.0, 0.0])
    for turn in (0.0,) if bolt.nap else (0.0, math.pi):
        for flip in (False, True):
            one = _to_warp(piece, mirrored=flip)
            matrix = math.cos(turn) * one.matrix
            along = matrix @ (edge.points[-1] - edge.points[0])
            outward = matrix @ edge.points.mean(axis=0) - matrix @ np.array(net_outline(piece).centroid.coords[0])
            if abs(along @ wanted) < 1e-6 * float(np.linalg.norm(along)) and outward @ wanted > 0:
                return _ToLay(
                    (piece,), _moved(one.outline, math.cos(turn) * np.eye(2), np.zeros(2)), matrix, on_fold=True
                )
    return None


def _packed(
    items: Sequence[_ToLay],
    bolt: Bolt,
    width: float,
    zone: str,
    start: float,
    tries: int,
    coarse: float | None,
    progress: Progress | None,
) -> list[Laid]:
    """Return the items laid on cloth of this width from `start` [m] on."""
    lengthwise = zone == "folded" and bolt.fold == "lengthwise"
    across = zone == "folded" and bolt.fold == "across"
    turns = (0.0,) if bolt.nap else (0.0, math.pi)
    shapes = [
        Shape(
            item.outline,
            (0.0,) if item.on_fold else turns,
            on_fold=item.on_fold and lengthwise,
            on_end=item.on_fold and across,
        )
        for item in items
    ]
    blocked = [_blocked(flaw, bolt.width, start, lengthwise) for flaw in bolt.flaws]
    blocked = [part for part in blocked if part.x + part.radius > 0.0]
    more = {} if coarse is None else {"coarse": coarse}
    widest = max(item.outline.bounds[3] - item.outline.bounds[1] for item in items)
    room = widest if width < widest <= width + CRUMB else width
    places = pack(shapes, room, blocked=blocked, tries=tries, progress=progress, **more)
    if places is None:
        _refuse_too_wide(items, width, bolt)
    return [_laid_at(item, place, zone, start) for item, place in zip(items, places, strict=True)]


def _blocked(flaw: Flaw, width: float, start: float, lengthwise: bool) -> Disc:
    """Return the place of a flaw on the zone that starts there; on cloth folded lengthwise y counts from the fold."""
    across = abs(flaw.across - width / 2) if lengthwise else flaw.across
    return Disc(flaw.along - start, across, flaw.radius)


def _laid_at(item: _ToLay, place: Place, zone: str, start: float) -> Laid:
    matrix = round(math.cos(place.turn)) * item.matrix
    shift = np.array([place.x + start, place.y])
    outline = _moved(item.outline, round(math.cos(place.turn)) * np.eye(2), shift)
    return Laid(item.pieces, outline, matrix, shift, place.turn != 0.0, zone, item.on_fold)


def _moved(outline: Polygon, matrix: np.ndarray, shift: np.ndarray) -> Polygon:
    return shapely.transform(outline, lambda points: points @ matrix.T + shift)


def on_cloth(laid: Laid, points: np.ndarray) -> np.ndarray:
    """Return where flat points of a laid piece, shape (k, 2), lie on the cloth [m]."""
    return points @ laid.matrix.T + laid.shift


def _end(laid: Sequence[Laid]) -> float:
    return max((float(one.outline.bounds[2]) for one in laid), default=0.0)


def _refuse_too_wide(items: Sequence[_ToLay], width: float, bolt: Bolt) -> NoReturn:
    wide = max(items, key=lambda item: item.outline.bounds[3] - item.outline.bounds[1])
    got = wide.outline.bounds[3] - wide.outline.bounds[1]
    folded = ", folded" if width < bolt.width else ""
    raise TooWideError(
        f"lay: piece {wide.pieces[0].number}, {wide.pieces[0].name}, is {100 * got:.4g} cm across the grain, allowed "
        f"{100 * width:.4g}, the width of the cloth{folded}. Take wider cloth{', or lay it single' if folded else ''}."
    )


# --- the thriftiest piecing -------------------------------------------------------------------


def thrifty_pieces(
    draft: Draft,
    allowances: Allowances,
    bolt: Bolt,
    *,
    grain: float | None = None,
    progress: Progress | None = None,
) -> tuple[Piece, ...]:
    """Return the draft's pieces for this cloth, cut as saves most of it."""
    cuts = thrifty_cuts(draft, allowances, bolt, grain=grain, progress=progress)
    return pieced(draft, cuts.levels, allowances, grain, dict(cuts.ends))


def thrifty_cuts(
    draft: Draft,
    allowances: Allowances,
    bolt: Bolt,
    *,
    grain: float | None = None,
    progress: Progress | None = None,
) -> Cuts:
    """Return where to cut the draft for this cloth, each length after the body's as saves most cloth.

    Looked at: each length whole, halved, or with its two ends cut off as fill pieces, at several places. One more piece
    must save LEAST_SAVING of cloth. Source: ours; published strip sums in tests/published/test_strip_lengths.py.
    Where the cloth says how it is cut, it is cut so.
    """
    if bolt.cuts is not None:
        return bolt.cuts
    levels = seam_levels(draft, bolt.width, allowances, grain)
    if not levels:
        return Cuts()
    plain = pieced(draft, levels, allowances, grain)
    best: dict[int, tuple[float, ...]] = {}
    seen = [(_worth(plain, bolt), best, plain)]
    trials = list(_ways(plain, levels, draft.grain if grain is None else grain))
    for count, (strip, places) in enumerate(trials, start=1):
        trial = {**best, strip: places}
        pieces = pieced(draft, levels, allowances, grain, trial)
        if all(_big_enough(piece) for piece in pieces[1:]):
            worth = _worth(pieces, bolt)
            if worth < min(before for before, _, _ in seen):
                best = trial
            seen.append((worth, trial, pieces))
        if progress is not None:
            progress(count, len(trials) + FINALISTS)
    finalists = sorted(seen, key=lambda one: one[0])[:FINALISTS]
    worths = []
    for _, _, pieces in finalists:
        worths.append(_worth(pieces, bolt, tries=TRIES, coarse=None))
        if progress is not None:
            progress(len(trials) + len(worths), len(trials) + FINALISTS)
    if math.isinf(min(worths)):
        lay_pieces(plain, bolt)  # says which piece is too wide
    return Cuts(levels, tuple(finalists[worths.index(min(worths))][1].items()))


def jointed(draft: Draft, plan: CuttingPlan, cuts: Cuts) -> Draft:
    """Return the draft with its warp as planned and the seams of its pieces inside it, as they are cut and sewn.

    Seams end on the plain edge, as if there were no dags: so is a pieced draft meshed. Raises DraftError as
    `piecing.pieced` does.
    """
    pieces = pieced(replace(draft, dags=()), cuts.levels, Allowances(plan.seam_allowance), plan.grain, dict(cuts.ends))
    return replace(draft, grain=pieces[0].grain, piecing=seam_lines(pieces))


def _worth(
    pieces: Sequence[Piece], bolt: Bolt, *, tries: int = QUICK_TRIES, coarse: float | None = QUICK_COARSE
) -> float:
    """Return the cloth a piecing takes [m], laid quickly unless told otherwise, with what its seams must save added.

    Infinite where a piece is wider than the cloth: cut square to the grain, the tip of a slanting end may run on past
    the selvedge. Laid quickly, it is laid on cloth without flaws.
    """
    try:
        laid = lay_pieces(pieces, replace(bolt, flaws=()) if coarse else bolt, tries=tries, coarse=coarse)
    except TooWideError:
        return math.inf
    return laid.length + LEAST_SAVING * len(pieces)


def _big_enough(piece: Piece) -> bool:
    left, low, right, high = net_outline(piece).bounds
    return min(right - left, high - low) >= LEAST_SIDE and net_outline(piece).area >= LEAST_AREA


def _ways(plain: Sequence[Piece], levels: Sequence[float], grain: float) -> Iterator[tuple[int, tuple[float, ...]]]:
    """Yield lengths of cloth and places at which to cut them, the last length first."""
    along, across = direction(grain), direction(grain + math.pi / 2)
    neck = next(i for i in range(len(levels) + 1) if _strip(plain[0], levels, across) == i)
    for strip in sorted({_strip(piece, levels, across) for piece in plain} - {neck}, reverse=True):
        reach = np.concatenate(
            [shapely.get_coordinates(net_outline(p)) @ along for p in plain if _strip(p, levels, across) == strip]
        )
        middle, half = (reach.max() + reach.min()) / 2, (reach.max() - reach.min()) / 2
        yield strip, (middle,)
        for share in (0.25, 0.35, 0.45, 0.55, 0.65, 0.75):
            yield strip, (middle - share * half, middle + share * half)
        for share in (0.45, 0.65):
            yield strip, (middle - share * half, middle, middle + share * half)


def _strip(piece: Piece, levels: Sequence[float], across: np.ndarray) -> int:
    """Return which length of cloth, counted from 0, a piece comes from."""
    reach = float(np.array(net_outline(piece).representative_point().coords[0]) @ across)
    return int(np.searchsorted(levels, reach))


def naive_length(draft: Draft, levels: Sequence[float], grain: float | None = None) -> float:
    """Return the cloth [m] that whole lengths end to end would take, each as long as its net piece, nothing nested.

    For a half circle of radius R cut at k W: the sum of 2 sqrt(R^2 - (k W)^2). Source: elementary geometry.
    """
    whole = pieced(draft, levels, Allowances(0.0, 0.0, 0.0, 0.0), grain)
    along = direction(draft.grain if grain is None else grain)
    across = direction((draft.grain if grain is None else grain) + math.pi / 2)
    reach: dict[int, list[np.ndarray]] = {}
    for piece in whole:
        reach.setdefault(_strip(piece, levels, across), []).append(shapely.get_coordinates(net_outline(piece)) @ along)
    return float(sum(np.ptp(np.concatenate(parts)) for parts in reach.values()))
