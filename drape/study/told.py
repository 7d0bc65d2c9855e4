"""Told: what a study found, in sentences and tables of text.

In: the plan and what became of each member. Out: the answer first, then what it rests on; the same words for the
terminal and for the page. Numbers come from `matters`, `fits` and `sizes`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from drape.reading.conclusion import joined
from drape.schema import plain_number
from drape.study.fits import MEASURES, Reach, Share, Suited, best_for_each, drafts_of, reach_of, what_stops
from drape.study.matters import Matter, factors_told, matters_of, name_words
from drape.study.plan import BODY, Factor, Plan
from drape.study.results import UNREAD, Result
from drape.study.sizes import Size, sizes_of

SITS: Final = {"yes": "sits", "undecided": "may sit or not", "no": "does not sit", UNREAD: "no readings"}
MOST_NAMED: Final = 12  # values told one by one
CERTAINLY: Final = 0.01  # a share of the variance that is worth a word


@dataclass(frozen=True, eq=False)
class Findings:
    """What a study found. drafts: those that bodies were tried in, the best first; empty where no bodies vary.

    reaches: where the best draft stops to sit. sizes: the best draft cut for each body; empty where it is cut for one.
    """

    plan: Plan
    results: tuple[Result, ...]
    matters: tuple[Matter, ...]
    drafts: tuple[Suited, ...]
    reaches: tuple[Reach, ...]
    best: tuple[tuple[str, Result], ...]
    sizes: tuple[Size, ...]


def findings_of(plan: Plan, results: Sequence[Result]) -> Findings:
    """All that is told of a study."""
    has_bodies = any(factor.name == BODY and len(factor.values) > 1 for factor in plan.factors)
    drafts = drafts_of(results) if has_bodies else []
    own = drafts[0].results if drafts else ()
    reaches = [reach for measure in MEASURES if (reach := reach_of(own, measure)) is not None]
    sizes = sizes_of(own) if has_bodies and not plan.is_one_draft else []
    return Findings(
        plan, tuple(results), tuple(matters_of(plan, results)), tuple(drafts), tuple(reaches),
        tuple(best_for_each(results)), tuple(sizes),
    )  # fmt: skip


def conclusions_of_study(found: Findings) -> list[str]:
    """The answer, and what else there is to say, one after another."""
    said = []
    if not any(result.readings for result in found.results):
        return ["No member settled: nothing can be concluded."]
    if found.drafts:
        said.append(best_for_all_words(found.drafts))
    elif found.best[0][1].readings is not None:
        best = found.best[0][1]
        said.append(f"Best of all is member {best.member.number}: {words_of(best.member.setting)}.")
        said.append(f"It {sits_words(best)}.")
    if found.matters and factors_told(found.plan):
        said.append(what_matters_words(found.matters))
    return said


def best_for_all_words(drafts: Sequence[Suited]) -> str:
    """The draft that the most bodies sit in, and on what share."""
    best = drafts[0]
    whose = "The draft" if len(drafts) == 1 else f"Best for all: {words_of(best.setting)}. It"
    return f"{whose} {share_words(best.share)}."


def share_words(share: Share) -> str:
    """On how many bodies a draft sits: `sits on 9 of 16 bodies, may sit on 4 more`."""
    said = f"sits on {share.yes or 'none'} of {share.total} bodies"
    if share.undecided:
        said += f", may sit on {share.undecided}{' more' if share.yes else ''}"
    if share.unread:
        said += f"; {share.unread} could not be settled"
    return said


def interval_words(share: Share) -> str:
    """What the share says of all such bodies."""
    low, high = (round(100 * one) for one in share.interval)
    return f"Of all such bodies whose answer is certain, it sits on {low} to {high} % (two times in three)."


def reach_words(reach: Reach) -> str:
    """Where a draft stops to sit."""
    words = name_words(reach.measure.removeprefix("tape."))[0]
    if reach.low == reach.least:
        where = f"up to {reach.high:.0f} cm"
    elif reach.high == reach.most:
        where = f"from {reach.low:.0f} cm up"
    else:
        where = f"{reach.low:.0f} to {reach.high:.0f} cm"
    inside, outside = (f"{yes} of {count}" for yes, count in (reach.within, reach.outside))
    return f"{words}, {where}: it sits on {inside}; beyond that on {outside}"


def stops_words(results: Sequence[Result]) -> list[str]:
    """What keeps a draft from sitting, the commonest first."""
    return [f"{words} ({count})" for words, count in what_stops(results)]


def what_matters_words(matters: Sequence[Matter]) -> str:
    """Which dimension makes most of the difference in each reading that decides; bodies are none."""
    by_name: dict[str, list[str]] = {}
    for matter in matters:
        certain = [one for one in matter.effects.shares if one.is_certain]
        alone = [one for one in certain if len(one.names) == 1 and one.names != (BODY,)]
        if alone:
            most = max(alone, key=lambda one: one.share)
            by_name.setdefault(most.names[0], []).append(matter.noun)
    if not by_name:
        return "Nothing that was varied matters more than chance."
    said = [
        f"{name_words(name)[0]} for {joined(list(dict.fromkeys(readings)))}"
        for name, readings in sorted(by_name.items(), key=lambda item: -len(item[1]))
    ]
    return f"What matters most: {'; '.join(said)}."


def matter_words(matter: Matter) -> str:
    """What one reading hangs on: `neck gap, largest: dart intake 62 % ±9, ...`."""
    return f"{matter.words}: {shares_words(matter)}"


def shares_words(matter: Matter) -> str:
    """What makes how much of a reading's variance, the most first, and what is left."""
    shares = sorted(matter.effects.shares, key=lambda one: -one.share)
    said = [
        f"{' with '.join(name_words(name)[0] for name in one.names)} "
        f"{100 * one.share:.0f}\u00a0%\u00a0±{100 * one.spread:.0f}"
        for one in shares
        if one.is_certain and one.share >= CERTAINLY
    ]
    if not said:
        return "nothing beyond chance"
    certain = sum(one.share for one in shares if one.is_certain)
    return ", ".join([*said, f"the rest and chance {100 * (1 - certain):.0f}\u00a0%"])


def factor_words(factor: Factor) -> str:
    """What varies, and over what: `dart intake: 8, 10 cm`."""
    words, unit = name_words(factor.name)
    values = [plain_number(v) if isinstance(v, (int, float)) else str(v) for v in factor.values]
    if factor.is_range:
        said = f"{values[0]} to {values[-1]}"
    else:
        said = ", ".join(values) if len(values) <= MOST_NAMED else f"{len(values)} of them"
    return f"{words}: {said} {unit}".rstrip()


def sits_words(result: Result) -> str:
    """How a member sits, with what decides."""
    return f"{SITS[result.sits]}{', with' if result.sits == 'yes' else ':'} {result.verdict}"


def words_of(setting: Mapping[str, Any]) -> str:
    """What varies and its value, in words: `dart intake 6 cm, lamp-bearer`."""
    said = []
    for name, value in setting.items():
        words, unit = name_words(name)
        if name == BODY:
            said.append(str(value))
        else:
            shown = plain_number(value) if isinstance(value, (int, float)) else str(value)
            said.append(f"{words} {shown} {unit}".rstrip())
    return ", ".join(said) or "the draft as it is"
