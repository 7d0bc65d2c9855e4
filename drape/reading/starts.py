"""Starts: several runs of one cloak → its readings as means, each with its ±, and which way each run came to rest.

In: the readings of runs that settled, each on a mesh of its own. Out: one set of readings with a group `starts`, and
which run is the most typical. Settling them, and how many are needed, is left to `ensemble`.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any, Final

from drape.reading.spread import (
    LEAST,
    of_another_among,
    of_few,
    spread_keys,
    usual_deviation,
    verdict_share,
    with_spread,
)
from drape.reading.verdict import held

Readings = Mapping[str, Any]

WAYS: Final = MappingProxyType({  # how a cloak rests, by the limit that a reading is furthest beyond
    "crowding_percent": "fold in", "ride_cm": "stand up", "gap_cm": "stand off", "stand_off_cm": "stand off",
})  # fmt: skip
SMOOTH: Final = "lie smooth"
SINGULAR: Final = MappingProxyType({
    "fold in": "folds in", "stand up": "stands up", "stand off": "stands off", SMOOTH: "lies smooth",
})  # fmt: skip


def way_of(readings: Readings, own_limits: Mapping[str, float] | None = None) -> str:
    """How one run came to rest: by which of its readings is the largest multiple of its limit, if any is beyond it."""
    beyond = [
        (one.value / one.limit, WAYS[one.check.limit])
        for one in held(readings, own_limits)
        if one.check.limit in WAYS and one.excess > 0.0
    ]
    return max(beyond, default=(0.0, SMOOTH))[1]


def ways_words(rested: Mapping[str, int]) -> str:
    """How many runs rested which way: `5 of 8 fold in, 3 stand up`."""
    total = sum(rested.values())
    said = [f"{count} {SINGULAR[way] if count == 1 else way}" for way, count in rested.items()]
    if len(said) == 1:
        way = next(iter(rested))
        return f"all {total} {way}" if total > 1 else f"one start, which {SINGULAR[way]}"
    return ", ".join([said[0].replace(" ", f" of {total} ", 1), *said[1:]])


def shown_words(readings: Readings) -> str:
    """Which of several runs a picture shows; nothing where there was one."""
    count = (readings.get("starts") or {}).get("count", 1)
    if count == 1:
        return ""
    is_of_cloth = (readings.get("spread") or {}).get("from") == "members"
    return f"shown: the first of {count} runs" if is_of_cloth else f"shown: the most typical of {count} starts"


def gathered(
    runs: Sequence[Readings], seeds: Sequence[int], *, own_limits: Mapping[str, float] | None = None,
    unsettled: int = 0, is_of_cloth: bool = False,
) -> tuple[dict[str, Any], int]:  # fmt: skip
    """Readings that stand for all runs, and the place of the run that is shown: the most typical.

    A reading that every run has is the mean, with the ± of another run; what is counted or said in words, and all that
    tells of the solver, is that of the run shown. seeds: of their meshes. unsettled: runs that came to nothing.
    is_of_cloth: the runs differ in their cloth as well. Then the first is shown, which is of the cloth as given; and of
    the one cloth that the maker has, the mean of many says no more than one run.
    """
    values = values_of(runs)
    shown = 0 if is_of_cloth else typical(values)
    rested = dict(Counter(way_of(run, own_limits) for run in runs).most_common())
    group = {
        "count": len(runs),
        "rested": rested,
        "words": ways_words(rested),
        "not_settled": unsettled,
        "seeds": list(seeds),
        "shown_seed": seeds[shown],
    }
    if len(runs) == 1:
        return {**runs[0], "starts": group}, 0
    readings = {**runs[shown], "starts": group}
    readings |= with_means(readings, {key: sum(each) / len(each) for key, each in values.items()})
    if len(runs) < LEAST:
        return of_few(readings, len(runs)), shown
    usual = usual_deviation(readings)
    spreads = {key: of_another_among(each, usual.get(key, 0.0)) for key, each in values.items()}
    return with_spread(readings, spreads, note_of(len(runs), is_of_cloth=is_of_cloth)), shown


def values_of(runs: Sequence[Readings]) -> dict[str, list[float]]:
    """By dotted key the values of each reading that every run has, in the order of the runs."""
    each = [dict(spread_keys(run)) for run in runs]
    return {key: [one[key] for one in each] for key in each[0] if all(key in one for one in each)}


def typical(values: Mapping[str, Sequence[float]]) -> int:
    """The place of the run nearest the mean of all, each reading measured by how much it varies; of two the first."""
    far: list[float] = []
    for each in values.values():
        mean, deviation = sum(each) / len(each), deviation_of(each)
        off = [((value - mean) / deviation) ** 2 if deviation else 0.0 for value in each]
        far = [one + more for one, more in zip(far, off, strict=True)] if far else off
    return min(range(len(far)), key=lambda k: round(far[k], 9)) if far else 0


def deviation_of(values: Sequence[float]) -> float:
    """Standard deviation of a sample, 0 for one value alone."""
    mean = sum(values) / len(values)
    return math.sqrt(sum((value - mean) ** 2 for value in values) / max(len(values) - 1, 1))


def note_of(count: int, *, is_of_cloth: bool) -> dict[str, Any]:
    """Where the ± come from, in words, and which share of it a verdict allows.

    A verdict from several starts speaks of their mean; where the cloth differs too, of the one that the maker has.
    """
    if is_of_cloth:
        words = (
            f"means of {count} runs that differ in mesh, start, cloth and friction; pictures show the first. ±: "
            "another run comes within it about two times in three."
        )
        return {"from": "members", "members": count, "verdict_share": 1.0, "words": words}
    words = (
        f"means of {count} starts of this very cloak; pictures show the most typical. ±: another start comes within it "
        "about two times in three. The verdicts speak of the means, which are surer than that."
    )
    return {"from": "starts", "members": count, "verdict_share": round(verdict_share(count), 4), "words": words}


def with_means(readings: Readings, means: Mapping[str, float]) -> dict[str, Any]:
    """The readings with these values under their dotted keys; whole numbers are counts and stay."""

    def put(value: Any, key: str) -> Any:
        if isinstance(value, Mapping):
            return {name: put(item, f"{key}.{name}" if key else name) for name, item in value.items()}
        if isinstance(value, (list, tuple)):
            return [put(item, f"{key}.{place}") for place, item in enumerate(value)]
        return means[key] if isinstance(value, float) and key in means else value

    return {name: put(value, name) for name, value in readings.items()}
