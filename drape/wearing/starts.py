"""Starts: a cloak worn so on one mesh after another → means, each with its ±, and how often it stayed.

In: a scene, what is asked, how often. Out: a `Wearing` for each start; one set of readings for all.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from drape.fitting.scene import Scene
from drape.progress import Tell, within
from drape.reading.spread import LEAST, of_another
from drape.reading.starts import deviation_of
from drape.units import rounded
from drape.wearing.wear import Asked, Wearing, wear

Readings = Mapping[str, Any]


def wear_often(scene: Scene, asked: Asked, starts: int, *, progress: Tell | None = None) -> list[Wearing]:
    """The cloak worn so on as many meshes as there are starts."""
    found = []
    for k in range(starts):
        words = f"start {k + 1}" if starts > 1 else ""
        tell = within(progress, k / starts, 1.0 / starts, words)
        found.append(wear(scene, replace(asked, seed=asked.seed + k), progress=tell))
    return found


def gathered_ways(wearings: Sequence[Wearing]) -> list[dict[str, Any]]:
    """The readings of every way that all starts have, as `gathered` has them."""
    every = [{(way.readings["how"], way.readings["doing"]): way.readings for way in one.ways} for one in wearings]
    return [gathered([one[key] for one in every]) for key in every[0] if all(key in one for one in every)]


def gathered(runs: Sequence[Readings]) -> dict[str, Any]:
    """One way's readings from several starts: means, from LEAST starts on with `NAME_spread`, the ± of another start.

    stays: whether it does in more than half of them; `stayed` says in how many. What is counted or said is the first
    start's. One start's readings stay as they are.
    """
    if len(runs) == 1:
        return dict(runs[0])
    told = _together(runs, len(runs))
    stayed = sum(bool(one["stays"]) for one in runs)
    settled = all(one["settled"] for one in runs)
    return told | {"settled": settled, "stays": 2 * stayed > len(runs), "stayed": stayed, "starts": len(runs)}


def _together(runs: Sequence[Readings], count: int) -> dict[str, Any]:
    told: dict[str, Any] = {}
    for key, value in runs[0].items():
        each = [one[key] for one in runs]
        if isinstance(value, Mapping):
            told[key] = _together(each, count)
        elif isinstance(value, float) and key != "seconds":
            told[key] = rounded(sum(each) / count)
            if count >= LEAST:
                told[f"{key}_spread"] = rounded(of_another(deviation_of(each), count - 1, count))
        else:
            told[key] = value
    return told
