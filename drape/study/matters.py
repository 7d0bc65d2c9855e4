"""Matters: which of what varies a study's readings hang on.

In: the plan and what became of each member. Out: the effects on each reading that decides, those that harm most first,
with the members' own values; and on every reading, as rows of a table. How effects are reckoned stands in `effects`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from drape.reading.conclusion import NOUNS
from drape.reading.spread import LEAST, spread_keys, usual_deviation
from drape.reading.table import reading_words, spread_at, value_at
from drape.reading.verdict import BY_HARM, Held, held, limits_of
from drape.study.effects import Effects, effects_of
from drape.study.plan import BODY, HYPERCUBE, Factor, Plan
from drape.study.results import Result
from drape.study.rows import Columns
from drape.units import UNITS, ending_of

MOST_SHOWN: Final = 6  # readings on a page
SAID_ALONE: Final = ("draft", "figure", "settle")  # tables that a key's words do without


@dataclass(frozen=True, eq=False)
class Matter:
    """One reading, what a verdict calls it, its limit, what it hangs on, and its value in each member that settled."""

    key: str
    noun: str
    limit: float
    effects: Effects
    members: tuple[tuple[Result, float], ...]

    @property
    def words(self) -> str:
        return reading_words(self.key)[0]

    @property
    def unit(self) -> str:
        return reading_words(self.key)[1]


def name_words(name: str) -> tuple[str, str]:
    """What varies in words, and its unit: `("dart intake", "cm")`."""
    ending = ending_of(name)
    table, _, key = name.removesuffix(ending).partition(".")
    plain = key.replace(".", " ").replace("_", " ")
    if not key or key == table:
        words = table
    else:
        words = plain if table in SAID_ALONE or plain.startswith("shoulder cut") else f"{table} {plain}"
    return words.replace("_", " "), (UNITS[ending].symbol if ending else "")


def factors_told(plan: Plan) -> list[Factor]:
    """What takes more than one value; nothing where that is the body alone, which is no dimension."""
    found = [factor for factor in plan.factors if len(factor.values) > 1]
    return [] if [factor.name for factor in found] == [BODY] else found


def matters_of(plan: Plan, results: Sequence[Result]) -> list[Matter]:
    """The effects on the readings that decide, in order of harm; those only that are at fault, or may be, in a member.

    Of each kind of reading, as the gap at the neck's four sides, the one that comes nearest to its limit, or furthest
    beyond it.
    """
    read = [result for result in results if result.readings is not None]
    worst: dict[str, Held] = {}
    wrong: set[str] = set()
    for result in read:
        for one in held(result.readings or {}, result.member.scene.limits):
            limit = one.check.limit
            wrong |= {limit} if one.is_fault or one.is_undecided else set()
            if limit not in worst or one.excess > worst[limit].excess:
                worst[limit] = one
    found = []
    for limit in BY_HARM:
        key = worst[limit].check.key if limit in worst and (limit in wrong or not wrong) else ""
        effects = effects_on(plan, read, key) if key else None
        if effects is not None and not effects.is_constant:
            values = tuple((one, float(value_at(one.readings or {}, key))) for one in _with(read, key))
            found.append(Matter(key, NOUNS[limit], limits_of(plan.scene.limits)[limit], effects, values))
    return found[:MOST_SHOWN]


def effects_on(plan: Plan, results: Sequence[Result], key: str) -> Effects | None:
    """What one reading hangs on; None where it is not read in members enough."""
    factors, there = factors_told(plan), _with(results, key)
    if not factors:
        return None
    values = [float(value_at(one.readings or {}, key)) for one in there]
    return effects_of(
        factors, [one.member.setting for one in there], values,
        noise=noise_in(there, key), is_hypercube=plan.kind == HYPERCUBE,
    )  # fmt: skip


def _with(results: Sequence[Result], key: str) -> list[Result]:
    """The members in which a reading is a number."""
    return [one for one in results if isinstance(value_at(one.readings or {}, key), (int, float))]


def noise_in(results: Sequence[Result], key: str) -> float:
    """Standard deviation that chance alone gives a member's value: of its own starts, or what is usual of so few."""
    squares = [_noise(one.readings or {}, one.member.starts, key) ** 2 for one in results]
    return math.sqrt(math.fsum(squares) / len(squares)) if squares else 0.0


def _noise(readings: Mapping[str, Any], starts: int, key: str) -> float:
    count = int(value_at(readings, "starts.count") or starts)
    if count >= LEAST:
        return float(spread_at(readings, key) or 0.0) / math.sqrt(count + 1)
    return usual_deviation(readings).get(key, 0.0) / math.sqrt(count)


def effect_columns(plan: Plan, results: Sequence[Result]) -> Columns:
    """Every effect on every reading: share of the variance and its ±, whether it is more than chance; of one thing
    alone the change from its first value to its last, or from the least to the greatest, and its ±.
    """
    rows = list(_effect_rows(plan, [result for result in results if result.readings is not None]))
    names = ("reading", "of", "and", "share_percent", "share_percent_spread", "certain", "change", "change_spread")
    return {name: [row[k] for row in rows] for k, name in enumerate(names)}


def _effect_rows(plan: Plan, results: Sequence[Result]) -> Iterator[tuple[Any, ...]]:
    keys = dict.fromkeys(key for one in results for key, _ in spread_keys(one.readings or {}))
    for key in keys:
        effects = effects_on(plan, results, key)
        if effects is None or effects.is_constant:
            continue
        changes = {curve.name: curve.change for curve in effects.curves}
        for one in effects.shares:
            change = changes[one.names[0]] if len(one.names) == 1 else (None, None)
            yield (
                key, one.names[0], one.names[1] if len(one.names) > 1 else None, _rounded(100.0 * one.share),
                _rounded(100.0 * one.spread), one.is_certain, *map(_rounded, change),
            )  # fmt: skip
        yield key, "the rest", None, _rounded(100.0 * effects.rest), None, None, None, None


def _rounded(value: float | None) -> float | None:
    """To five figures; nought for what is rounding alone."""
    return None if value is None else float(f"{value:.5g}") if abs(value) > 1e-7 else 0.0
