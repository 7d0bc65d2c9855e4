"""Conclusion: the answer first. Which draft to cut, or what to change, in one sentence.

In: the readings of one fitting or several, with their ± and verdicts, and the limits. Out: the text, which is better,
whether each sits, and how often each was settled.

A draft sits when nothing on it harms the wearer, and neck and shoulders lie: the neck edge neither gapes nor rides up
nor has fallen, the cloth is near the shoulders, none is spare (`SITTING` in `verdict`). It does not sit when one of
these is certainly at fault, and it is undecided while one of them may be. How level the hem hangs, how dart and closure
lie and whether the cloak has turned are left to the fitting: they do not decide whether a draft sits.

Of several the better one sits where the other may not, or may sit where the other does not. Alike in that, it is the
one better on the first reading, in order of harm, on which they differ by more than the ±. No draft gets a score.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from drape.reading.table import column_names, value_at
from drape.reading.verdict import BY_HARM, SIDES, SITTING, Held, at, held, side_of, spoken, wrong_or_may_be
from drape.units import unit_of

if TYPE_CHECKING:
    from drape.reading.result import Fitting

Readings = Mapping[str, Any]
Conclusion = dict[str, Any]

MOST_FACTS: Final = 3  # readings that one sentence names
STANDING: Final = ("no", "undecided", "yes")


def conclude(
    columns: Sequence[Readings], own_limits: Mapping[str, float] | None = None, *, is_one_draft: bool = False
) -> Conclusion:
    """What to do, of one fitting or several held against the same limits.

    {text, better: the scene's name or None, sits: by name "yes", "no" or "undecided", starts: by name how often it was
    settled}. is_one_draft: it is one draft on several bodies; there is none to choose then.
    """
    names = [name_of(column) for column in columns]
    sits = {name: how_it_sits(column, own_limits) for name, column in zip(names, columns, strict=True)}
    k = None if len(columns) == 1 or is_one_draft else best_of(columns, own_limits)
    loose = [name_of(column) for column in columns if not column.get("settled")]
    if loose:
        k, text = None, f"NOT SETTLED: {joined(loose)}. Nothing can be concluded; do not cut from this."
    elif len(columns) == 1:
        text = of_one(columns[0], own_limits)
    elif k is None:
        text = of_none(columns, own_limits, is_one_draft=is_one_draft)
    else:
        text = of_the_better(columns, k, own_limits)
    return {
        "text": text,
        "better": None if k is None else names[k],
        "sits": sits,
        "starts": dict(zip(names, map(starts_of, columns), strict=True)),
    }


def conclusion_of(fittings: Sequence[Fitting], own_limits: Mapping[str, float] | None = None) -> Conclusion:
    """What `conclude` says of fittings; without limits by those the first one's scene set, as far as it was saved."""
    limits = fittings[0].about.get("limits") if own_limits is None else own_limits
    drafts = [fitting.about.get("dimensions") for fitting in fittings]
    bodies = [fitting.about.get("body") for fitting in fittings]
    is_one_draft = bool(drafts[0]) and all(draft == drafts[0] for draft in drafts) and len(set(bodies)) == len(bodies)
    return conclude([fitting.readings for fitting in fittings], limits, is_one_draft=is_one_draft)


def name_of(readings: Readings) -> str:
    """The name of the scene."""
    return str(readings.get("scene", "the cloak"))


def starts_of(readings: Readings) -> int:
    """How often the cloak was settled for these readings."""
    return int(value_at(readings, "starts.count") or value_at(readings, "spread.members") or 1)


def how_it_sits(readings: Readings, own_limits: Mapping[str, float] | None = None) -> str:
    """One of STANDING; of a cloak that has not come to rest nothing is certain."""
    wrong = [one for one in wrong_or_may_be(readings, own_limits) if one.harm in SITTING]
    if not readings.get("settled"):
        return "undecided"
    if any(one.is_fault for one in wrong):
        return "no"
    return "undecided" if wrong else "yes"


# --- which is better ---------------------------------------------------------------------------


def best_of(columns: Sequence[Readings], own_limits: Mapping[str, float] | None) -> int | None:
    """Place of the draft that is better than each other; None where none is."""
    for k, column in enumerate(columns):
        others = [other for m, other in enumerate(columns) if m != k]
        if all(is_better(column, other, own_limits) for other in others):
            return k
    return None


def is_better(one: Readings, other: Readings, own_limits: Mapping[str, float] | None) -> bool:
    """Whether the first draft is better: by how it sits, else by the gravest reading on which they differ."""
    ranks = [STANDING.index(how_it_sits(readings, own_limits)) for readings in (one, other)]
    if ranks[0] != ranks[1]:
        return ranks[0] > ranks[1]
    found = differing(one, other, own_limits)
    return bool(found) and found[0][0].excess < found[0][1].excess


def differing(one: Readings, other: Readings, own_limits: Mapping[str, float] | None = None) -> list[tuple[Held, Held]]:
    """In order of harm, the worst of each kind of reading in either draft where they differ by more than the ±.

    Only where one of them is at fault or may be, and both have the reading.
    """
    pairs = []
    first, second = (worst_of_each(readings, own_limits) for readings in (one, other))
    for limit in BY_HARM:
        if limit not in first or limit not in second:
            continue
        pair = first[limit], second[limit]
        is_wrong = any(held.is_fault or held.is_undecided for held in pair)
        if is_wrong and abs(pair[0].excess - pair[1].excess) > math.hypot(pair[0].allowed, pair[1].allowed):
            pairs.append(pair)
    return pairs


def worst_of_each(readings: Readings, own_limits: Mapping[str, float] | None) -> dict[str, Held]:
    """By the name of its limit, the reading furthest beyond it or nearest to it."""
    worst: dict[str, Held] = {}
    for one in spoken(held(readings, own_limits)):
        before = worst.get(one.check.limit)
        if before is None or one.excess > before.excess:
            worst[one.check.limit] = one
    return worst


# --- sentences ---------------------------------------------------------------------------------


def of_one(readings: Readings, own_limits: Mapping[str, float] | None) -> str:
    """What to do with the only draft."""
    name, way = name_of(readings), how_it_sits(readings, own_limits)
    if way == "no":
        return (
            f"Do not cut {name} as it is: {faults(readings, own_limits)}{rested([readings])}.{first_change(readings)}"
        )
    if way == "undecided":
        return f"Undecided whether {name} sits: {doubts(readings, own_limits)}{rested([readings])}."
    return f"Cut {name}: it sits, with {praise(readings)}{finish(readings, own_limits)}."


def of_the_better(columns: Sequence[Readings], k: int, own_limits: Mapping[str, float] | None) -> str:
    """Which of several to cut, against the others."""
    theirs = [m for m in range(len(columns)) if m != k]
    better, others = columns[k], [columns[m] for m in theirs]
    name, rest = name_of(better), joined([name_of(other) for other in others], "or")
    against = facts_against(better, others, own_limits)
    way = how_it_sits(better, own_limits)
    if way == "yes":
        return (
            f"Cut {name}, not {rest}: {against or praise(better)}{rested(columns, theirs)}{finish(better, own_limits)}."
        )
    why = f": {against}" if against else ""
    if way == "undecided":
        doubt = doubts(better, own_limits)
        return f"{name} is better than {rest}{why}{rested(columns)}; whether it sits is undecided: {doubt}."
    still = faults(better, own_limits)
    no_draft = "neither draft" if len(columns) == 2 else "no draft"
    return f"Cut {no_draft} as it is. {name} is better than {rest}{why}{rested(columns)}; it still has {still}." + (
        first_change(better)
    )


def of_none(columns: Sequence[Readings], own_limits: Mapping[str, float] | None, *, is_one_draft: bool) -> str:
    """Of several, where none is better or there is none to choose: what each does."""
    told, ways = [], []
    names = [name_of(column) for column in columns]
    for name, column in zip(column_names(names) if is_one_draft else names, columns, strict=True):
        ways.append(how_it_sits(column, own_limits))
        it = "it " if is_one_draft else ""
        said = {
            "yes": f"{it}sits: {praise(column)}", "no": f"{it}does not sit: {faults(column, own_limits)}",
            "undecided": f"{it}may sit or not: {doubts(column, own_limits)}",
        }  # fmt: skip
        told.append(f"{'on ' if is_one_draft else ''}{name} {said[ways[-1]]}")
    alike = ways[0] if len(set(ways)) == 1 else ""
    heads = {"yes": "Cut either", "no": "Cut none as it is", "": "Undecided which to cut"}
    if is_one_draft:
        heads = {"yes": "Cut it", "no": "Do not cut it as it is", "": "Do not cut it for all"}
    head = heads.get(alike, "Undecided")
    words = "; ".join(told)
    return f"{head}. {words[0].upper() + words[1:] if is_one_draft else words}{rested(columns)}."


def faults(readings: Readings, own_limits: Mapping[str, float] | None) -> str:
    """The gravest certain faults: `throat load 131 N/m, spare cloth 28 %`."""
    wrong = [one for one in wrong_or_may_be(readings, own_limits) if one.is_fault and one.harm in SITTING]
    return joined([fact(one) for one in gravest(wrong)])


def doubts(readings: Readings, own_limits: Mapping[str, float] | None) -> str:
    """What is undecided, with ± and limit."""
    wrong = [one for one in wrong_or_may_be(readings, own_limits) if one.is_undecided and one.harm in SITTING]
    said = []
    for one in gravest(wrong)[: MOST_FACTS - 1]:
        off = f" ± {number(one, one.spread)}" if one.spread else ""
        said.append(f"{fact(one)}{off}, limit {one.limit:g}")
    return "; ".join(said)


def finish(readings: Readings, own_limits: Mapping[str, float] | None) -> str:
    """What is left to put right at the fitting, where anything is certain."""
    wrong = [one for one in wrong_or_may_be(readings, own_limits) if one.is_fault and one.harm not in SITTING]
    return f"; at the fitting see to {joined([fact(one) for one in gravest(wrong)])}" if wrong else ""


def gravest(wrong: Sequence[Held]) -> list[Held]:
    """The worst of each kind, the gravest kinds first, as many as one sentence names."""
    worst: dict[str, Held] = {}
    for one in wrong:
        before = worst.get(one.check.limit)
        if before is None or not one.excess <= before.excess:  # a bare shoulder's is no number
            worst[one.check.limit] = one
    return list(worst.values())[:MOST_FACTS]


def facts_against(better: Readings, others: Sequence[Readings], own_limits: Mapping[str, float] | None) -> str:
    """Where the better draft is better than each other: `spare cloth 1 against 28 %`."""
    found = [{pair[0].check.limit: pair for pair in differing(better, other, own_limits)} for other in others]
    said = []
    for limit in BY_HARM:
        pairs = [own[limit] for own in found if limit in own and own[limit][0].excess < own[limit][1].excess]
        if len(pairs) == len(others):
            own = pairs[0][0]
            values = joined([number(theirs, theirs.value) for _, theirs in pairs])
            unit = unit_of(own.check.key).symbol
            said.append(f"{NOUNS[limit]} {number(own, own.value)} against {values} {unit}")
    return joined(said[:MOST_FACTS])


def praise(readings: Readings) -> str:
    """The three readings that say how neck and shoulders lie: cloth to spare, air at the shoulders, gap at the neck."""
    off = [value_at(readings, f"shoulder_{side}.stand_off_mean_cm") for side in ("left", "right")]
    spare, gap = value_at(readings, "spare.percent"), value_at(readings, "neck.gap_max_cm")
    said = [] if spare is None else [f"spare cloth {max(spare, 0.0):.0f} %"]
    if None not in off:
        said.append(f"shoulder stand-off {max(off):.1f} cm")
    return joined(said if gap is None else [*said, f"neck gap {gap:.1f} cm at most"])


def rested(columns: Sequence[Readings], places: Sequence[int] | None = None) -> str:
    """How many of several starts came to rest in which way, where that was told; of several drafts each by its name.

    places: of the drafts to speak of; all if left out.
    """
    names = column_names([name_of(column) for column in columns])
    told = [(names[k], value_at(columns[k], "starts.words")) for k in places or range(len(columns))]
    several = [(name, words) for name, words in told if words and starts_of(columns[names.index(name)]) > 1]
    said = [words if len(columns) == 1 else f"{name}: {words}" for name, words in several]
    return f" ({'; '.join(said)})" if said else ""


def first_change(readings: Readings) -> str:
    """What to write in the scene first, in brief: a wedge that lacks, since much follows from that, or what the gravest
    fault asks for; nothing where no change is known.
    """
    certain = [v for v in readings.get("verdicts") or [] if not v.get("undecided") and v.get("harm") in SITTING]
    asked = [v["changes"] for v in certain if v.get("changes")]
    wedges = [changes for changes in asked if any(is_new_wedge(one) for one in changes)]
    changes = [one for one in (*wedges, *asked, [])[0] if one["key"] != "place"]
    if not changes:
        return ""
    one = changes[0]
    value = f"{one['write']:.1f}" if isinstance(one["write"], float) else json.dumps(one["write"])
    where = f" of a dart on the {one['place']}" if one.get("place") else ""
    return f" Change first: {one['key']} = {value}{where}{'; see below what else' if changes[1:] else ''}."


def is_new_wedge(change: Mapping[str, Any]) -> bool:
    """Whether a change takes something out over a shoulder where nothing was."""
    return bool(change["key"].endswith("intake_cm") and not change["was"])


# --- words -------------------------------------------------------------------------------------


def fact(one: Held) -> str:
    """A reading in three words and a number: `throat load 131 N/m`."""
    words = NOUNS[one.check.limit]
    if one.check.limit == "stand_off_cm":
        words = f"{one.check.where} stand-off"
    elif side_of(one) in SIDES:
        words = f"{words} {at(side_of(one))}"
    if math.isnan(one.value):
        return f"no cloth over the {one.check.where}"
    if one.check.limit == "clearance_cm" and one.value < 0:
        return f"hem {-one.value:.1f} cm below the floor"
    return f"{words} {number(one, one.value)} {unit_of(one.check.key).symbol}"


def number(one: Held, value: float) -> str:
    """A value of a reading with as many decimals as help to tell it from its limit; less than none spare is none."""
    size = abs(value) if one.check.way == "either" else value
    size = max(size, 0.0) if one.check.limit == "spare_percent" else size
    if abs(one.excess) < 0.1:
        return f"{size:.2f}"
    return f"{size:.{1 if size < 10 and unit_of(one.check.key).symbol in ('cm', 'N') else 0}f}"


NOUNS: Final[Mapping[str, str]] = MappingProxyType({
    "throat_line_load_n_m": "throat load", "clearance_cm": "hem above the floor", "spare_percent": "spare cloth",
    "crowding_percent": "cloth folded in", "stand_off_cm": "shoulder stand-off", "gap_cm": "neck gap",
    "ride_cm": "ride", "fallen_cm": "ride", "pull_n": "pull on the fastening", "opening_cm": "opening",
    "dart_gap_cm": "dart point off the body", "dart_point_cm": "dart off its point",
    "dart_deg": "dart off the shoulder line", "closure_cm": "closure off its line",
    "shift_cm": "neck edge off the middle", "turn_deg": "turn", "level_cm": "hem out of level",
})  # fmt: skip


def joined(words: Sequence[str], last: str = "and") -> str:
    """`a`, `a and b`, `a, b and c`."""
    return f" {last} ".join([part for part in (", ".join(words[:-1]), *words[-1:]) if part])
