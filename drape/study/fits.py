"""Fits: which draft suits whom. Which the most bodies sit in, whom one draft fits and where that stops, and which
member is best for each body.

In: what became of each member. Out: drafts in order of how many they suit, with the share that sits; the range of
stature or girth within which it does. A member whose answer is open counts for neither side.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from drape.fitting.mend import faultiness
from drape.reading.conclusion import STANDING
from drape.reading.verdict import wrong_or_may_be
from drape.study.plan import BODY
from drape.study.results import UNREAD, Result

MEASURES: Final = ("tape.stature_cm", "tape.chest_girth_cm")  # by which it is told where a draft stops to sit
ENDS: Final = ("yes", "no")  # answers that are certain
Z: Final = 1.0  # standard errors either way of a share


@dataclass(frozen=True)
class Share:
    """Of so many bodies how many sit, may sit, do not, and were not read."""

    yes: int
    undecided: int
    no: int
    unread: int

    @property
    def total(self) -> int:
        return self.yes + self.undecided + self.no + self.unread

    @property
    def interval(self) -> tuple[float, float]:
        """Between which shares of all bodies whose answer is certain the truth lies 2 times in 3 (Wilson 1927)."""
        n = self.yes + self.no
        if n == 0:
            return 0.0, 1.0
        p, z = self.yes / n, Z
        middle, half = p + z * z / (2 * n), z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
        scale = 1 + z * z / n
        return max(0.0, (middle - half) / scale), min(1.0, (middle + half) / scale)


@dataclass(frozen=True, eq=False)
class Suited:
    """A draft, and the bodies it was tried on. setting: what varies but for the body."""

    setting: Mapping[str, Any]
    results: tuple[Result, ...]

    @property
    def share(self) -> Share:
        return share_of(self.results)


@dataclass(frozen=True)
class Reach:
    """Where along a measure a draft sits: from low to high [the measure's unit], and how many sit within and outside.

    least, most: of all bodies tried. within, outside: (those that sit, all whose answer is certain).
    """

    measure: str
    low: float
    high: float
    least: float
    most: float
    within: tuple[int, int]
    outside: tuple[int, int]


def share_of(results: Sequence[Result]) -> Share:
    """How the members sit, counted."""
    sits = Counter(result.sits for result in results)
    return Share(sits["yes"], sits["undecided"], sits["no"], sits[UNREAD])


def worth(result: Result) -> tuple[int, float]:
    """By which members are set in order, the best first: how it sits, then how far it is at fault."""
    if result.readings is None:
        return len(STANDING), math.inf
    return -STANDING.index(result.sits), faultiness(result.readings, result.member.scene.limits)


def drafts_of(results: Sequence[Result]) -> list[Suited]:
    """The drafts, the one that the most bodies sit in first; alike in that, the one fewer do not sit in, then the one
    less at fault.
    """
    found: dict[str, list[Result]] = {}
    for result in results:
        found.setdefault(repr(_but_body(result)), []).append(result)
    suited = [Suited(_but_body(own[0]), tuple(own)) for own in found.values()]
    return sorted(suited, key=_rank)


def _but_body(result: Result) -> dict[str, Any]:
    return {name: value for name, value in result.member.setting.items() if name != BODY}


def _rank(suited: Suited) -> tuple[int, int, float]:
    share = suited.share
    read = [worth(result)[1] for result in suited.results if result.readings is not None]
    return -share.yes, share.no + share.unread, sum(read) / len(read) if read else math.inf


def best_for_each(results: Sequence[Result]) -> list[tuple[str, Result]]:
    """For each body, in the plan's order, the member that suits it best; where no body varies the best of all."""
    by_body: dict[str, list[Result]] = {}
    for result in results:
        by_body.setdefault(str(result.member.setting.get(BODY, result.member.scene.body)), []).append(result)
    return [(body, min(own, key=worth)) for body, own in by_body.items()]


def reach_of(results: Sequence[Result], measure: str) -> Reach | None:
    """Within which range of a measure a draft sits: the one that parts those that sit from those that do not best.

    None where every body sits, or none does, or fewer than four answers are certain.
    """
    told = [one for one in results if one.sits in ENDS]
    certain = sorted((one.measures.get(measure, math.nan), one.sits == "yes") for one in told)
    certain = [pair for pair in certain if math.isfinite(pair[0])]
    count = sum(sits for _, sits in certain)
    if len(certain) < 4 or count in (0, len(certain)):
        return None
    best, place = -math.inf, (0, 0)
    for first in range(len(certain)):
        gain = 0.0
        for last in range(first, len(certain)):
            gain += 1.0 if certain[last][1] else -1.0
            if gain > best:
                best, place = gain, (first, last)
    inside = certain[place[0] : place[1] + 1]
    yes = sum(sits for _, sits in inside)
    return Reach(
        measure, inside[0][0], inside[-1][0], certain[0][0], certain[-1][0],
        (yes, len(inside)), (count - yes, len(certain) - len(inside)),
    )  # fmt: skip


def what_stops(results: Sequence[Result]) -> list[tuple[str, int]]:
    """Of members that do not sit, the gravest fault of each, as `neck: gapes too wide behind`, and how many have it."""
    found: Counter[str] = Counter()
    for result in results:
        if result.sits == "no" and result.readings is not None:
            wrong = [one for one in wrong_or_may_be(result.readings, result.member.scene.limits) if one.is_fault]
            found[f"{wrong[0].check.where}: {wrong[0].check.clause}"] += 1
    return found.most_common()
