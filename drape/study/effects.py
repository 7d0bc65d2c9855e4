"""Effects: which of what varies changes a reading, and how much of its variance each makes, alone and in pairs.

In: what varied, the value each member took of it, one reading of each, and how much chance there is in it. Out: the
share of the variance that each makes, and each pair beyond its two alone; the reading by the value of each; all with ±.

The reading is written as a sum of parts: a mean, one for each thing alone, one for each pair, and the rest. Parts are
made of functions that have no mean and do not hang together over the values the plan gives, so that their variances add
up (Fisher's analysis of variance for all combinations; for ranges Legendre polynomials, as in Sudret 2008, Reliability
Engineering and System Safety 93, 964, from memory). They are fitted by least squares; with all combinations settled
that gives the same as means of rows and columns.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from scipy.special import fdtri, stdtrit

from drape.arrays import Floats
from drape.reading.spread import TWO_IN_THREE, USUAL_FREEDOM
from drape.study.plan import Factor

CERTAIN: Final = 0.95  # how sure it must be that a share is not chance alone
SPARE: Final = 1.5  # members to each number that is fitted, in a hypercube; fewer follow chance
RANGE_DEGREE: Final = 2  # of a range, as a polynomial
RANGE_POINTS: Final = 9  # places at which a range is plotted
NOTHING: Final = 1e-9  # a share of the variance that is rounding


@dataclass(frozen=True)
class Share:
    """How much of the variance one thing makes, or two beyond each alone, 0 to 1, and its ±.

    is_certain: whether chance alone would seldom make as much.
    """

    names: tuple[str, ...]
    share: float
    spread: float
    is_certain: bool


@dataclass(frozen=True)
class Curve:
    """A reading by the value of one thing, the others taken all alike: mean and ± at each value."""

    name: str
    values: tuple[Any, ...]
    mean: tuple[float, ...]
    spread: tuple[float, ...]

    @property
    def change(self) -> tuple[float, float]:
        """From the first value to the last, or of things without order from the least to the greatest; and its ±."""
        if all(isinstance(value, (int, float)) for value in self.values):
            low, high = 0, len(self.mean) - 1
        else:
            low, high = int(np.argmin(self.mean)), int(np.argmax(self.mean))
        return self.mean[high] - self.mean[low], math.hypot(self.spread[low], self.spread[high])


@dataclass(frozen=True)
class Effects:
    """What makes one reading differ. rest: the share that is left, of three together and more, and of chance.

    deviation: standard deviation of the reading over the members. has_pairs: whether there were members enough.
    """

    shares: tuple[Share, ...]
    rest: float
    curves: tuple[Curve, ...]
    deviation: float
    has_pairs: bool

    @property
    def is_constant(self) -> bool:
        """Whether the reading is the same in every member, but for rounding."""
        return self.deviation <= NOTHING * max(1.0, *(abs(value) for curve in self.curves for value in curve.mean))

    def share_of(self, *names: str) -> Share:
        """The share of one thing, or of a pair."""
        return next(one for one in self.shares if one.names == names)


# --- functions of what varies -------------------------------------------------------------------


@dataclass(frozen=True)
class Basis:
    """Functions of one thing that varies, without mean and at right angles to each other over the values it takes.

    linear: how many of them a coarser model takes.
    """

    factor: Factor
    is_range: bool
    count: int
    linear: int

    def at(self, values: Sequence[Any]) -> Floats:
        """The functions at some values, (n, count)."""
        if self.is_range:
            low, high = self.factor.values[0], self.factor.values[-1]
            x = 2.0 * (np.array(values, dtype=float) - low) / (high - low) - 1.0
            legendre = np.polynomial.legendre.legvander(x, RANGE_DEGREE)[:, 1:]
            return legendre * np.sqrt(2.0 * np.arange(1, RANGE_DEGREE + 1) + 1.0)
        place = {_named(value): k for k, value in enumerate(self.factor.values)}
        return _contrasts(self.factor.values)[[place[_named(value)] for value in values]]


def basis_of(factor: Factor, *, is_hypercube: bool) -> Basis:
    """The functions of one thing: of a range in a hypercube polynomials, else one less than it has values."""
    if factor.is_range and is_hypercube:
        return Basis(factor, True, RANGE_DEGREE, 1)
    count = len(factor.values) - 1
    return Basis(factor, False, count, min(count, 1) if is_number(factor) else count)


def is_number(factor: Factor) -> bool:
    """Whether what varies is a number, and so has an order."""
    return all(isinstance(value, (int, float)) and not isinstance(value, bool) for value in factor.values)


def _named(value: Any) -> Any:
    return repr(value) if isinstance(value, list) else value


def _contrasts(values: Sequence[Any]) -> Floats:
    """Functions over listed values, each taken equally often, (count, count - 1); of numbers a line first."""
    count = len(values)
    numbers = [value for value in values if isinstance(value, (int, float)) and not isinstance(value, bool)]
    if len(numbers) == count:
        x = np.array(numbers, dtype=float)
        raw = np.vander((x - x.mean()) / np.ptp(x), count, increasing=True)
    else:
        raw = np.c_[np.ones(count), np.eye(count)[:, : count - 1]]
    q, r = np.linalg.qr(raw)
    return (q * np.sign(np.diag(r)))[:, 1:] * math.sqrt(count)


# --- the fit ------------------------------------------------------------------------------------


def effects_of(
    factors: Sequence[Factor], settings: Sequence[Mapping[str, Any]], values: Sequence[float], *,
    noise: float = 0.0, is_hypercube: bool = False,
) -> Effects | None:  # fmt: skip
    """What makes a reading differ, from its value in each member; None where there are too few members to say.

    noise: standard deviation that chance alone gives one member's value, where it is known.
    """
    bases = [basis_of(factor, is_hypercube=is_hypercube) for factor in factors if len(factor.values) > 1]
    y = np.array(values, dtype=float)
    if not bases or len(y) < 3:
        return None
    least = SPARE if is_hypercube else 1.0
    for pairs, is_coarse in ((2, False), (1, False), (0, False), (0, True)):
        parts = _parts(bases, settings, pairs=pairs, is_coarse=is_coarse)
        x = np.concatenate([np.ones((len(y), 1)), *parts.values()], axis=1)
        if len(y) >= least * x.shape[1] and np.linalg.matrix_rank(x) == x.shape[1]:
            return _fitted(bases, parts, x, y, noise, is_coarse=is_coarse)
    return None


def _parts(
    bases: Sequence[Basis], settings: Sequence[Mapping[str, Any]], *, pairs: int, is_coarse: bool
) -> dict[tuple[str, ...], Floats]:
    """The functions of each thing at every member, and those of each pair: all of them, or of its straight lines."""
    alone = {one.factor.name: one.at([setting[one.factor.name] for setting in settings]) for one in bases}
    found: dict[tuple[str, ...], Floats] = {}
    for one in bases:
        found[(one.factor.name,)] = alone[one.factor.name][:, : one.linear if is_coarse else one.count]
    for one, other in itertools.combinations(bases, 2) if pairs else ():
        first, second = (
            alone[each.factor.name][:, : each.count if pairs == 2 else each.linear] for each in (one, other)
        )
        product = first[:, :, None] * second[:, None, :]
        found[(one.factor.name, other.factor.name)] = product.reshape(len(product), -1)
    return found


def _fitted(
    bases: Sequence[Basis], parts: Mapping[tuple[str, ...], Floats], x: Floats, y: Floats, noise: float, *,
    is_coarse: bool,
) -> Effects:  # fmt: skip
    """The fit by least squares, and what follows from its numbers and their uncertainty."""
    found: Floats = np.asarray(np.linalg.lstsq(x, y, rcond=None)[0], dtype=float)
    left = float(np.sum((y - x @ found) ** 2))
    freedom = len(y) - x.shape[1]
    error, freedom = _error(left, freedom, noise)
    uncertain: Floats = np.asarray(error**2 * np.linalg.inv(x.T @ x), dtype=float)
    widen = float(stdtrit(freedom, 0.5 + 0.5 * TWO_IN_THREE))
    places, start = {}, 1
    for names, columns in parts.items():
        places[names] = slice(start, start + columns.shape[1])
        start += columns.shape[1]
    total = float(np.sum(found[1:] ** 2)) + left / len(y)
    shares = [
        _share(names, found[place], np.diag(uncertain)[place], total, freedom, widen) for names, place in places.items()
    ]
    curves = [_curve(one, places[(one.factor.name,)], found, uncertain, widen) for one in bases]
    rest = max(0.0, 1.0 - sum(one.share for one in shares)) if total > 0.0 else 0.0
    return Effects(tuple(shares), rest, tuple(curves), math.sqrt(total), any(len(names) == 2 for names in parts))


def _error(left: float, freedom: int, noise: float) -> tuple[float, float]:
    """Standard deviation of one member's value about the fit, and its degrees of freedom: the larger of what is left
    over and what chance is known to give.
    """
    if freedom > 0 and left / freedom >= noise**2:
        return math.sqrt(left / freedom), freedom
    return noise, USUAL_FREEDOM + max(freedom, 0)


def _share(
    names: tuple[str, ...], found: Floats, variance: Floats, total: float, freedom: float, widen: float
) -> Share:
    """A share of the variance, its ±, and whether it is more than chance."""
    own, chance = float(np.sum(found**2)), float(np.sum(variance))
    if total <= 0.0:
        return Share(names, 0.0, 0.0, False)
    spread = widen * math.sqrt(float(np.sum(4.0 * found**2 * variance + 2.0 * variance**2))) / total
    limit = chance * float(fdtri(len(found), freedom, CERTAIN))
    return Share(names, own / total, spread, own > max(limit, NOTHING * total))


def _curve(basis: Basis, place: slice, found: Floats, uncertain: Floats, widen: float) -> Curve:
    """The reading by the values of one thing."""
    values: tuple[Any, ...] = basis.factor.values
    if basis.is_range:
        values = tuple(np.linspace(values[0], values[-1], RANGE_POINTS).tolist())
    own = basis.at(values)[:, : place.stop - place.start]
    chosen = np.r_[0, np.arange(place.start, place.stop)]
    x = np.c_[np.ones(len(values)), own]
    mean = x @ found[chosen]
    spread = widen * np.sqrt(np.einsum("ij,jk,ik->i", x, uncertain[np.ix_(chosen, chosen)], x))
    return Curve(basis.factor.name, values, tuple(mean.tolist()), tuple(spread.tolist()))
