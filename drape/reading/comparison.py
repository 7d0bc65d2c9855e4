"""Comparison: several drafts held against the same limits → which is better on which point.

In: the readings of two or more fittings, with their spreads. Out: a list of points, and the same as text. Only points
on which one of them is at fault or undecided are spoken of, and only a difference beyond the ± counts. No draft gets a
single score.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from drape.reading.table import PAGE_WIDTH, reading_words
from drape.reading.verdict import held, spoken

Readings = Mapping[str, Any]
Point = dict[str, Any]


def points(columns: Sequence[Readings], own_limits: Mapping[str, float] | None = None) -> list[Point]:
    """Each point worth speaking of: {where, reading, values, spreads, better}.

    better: places in `columns` of the drafts that are better than the worst by more than the ± of both; empty where
    none is. own_limits: the same for all, as `held` takes them. A point is compared where all have the reading.
    """
    each = [{one.check: one for one in spoken(held(readings, own_limits))} for readings in columns]
    found = []
    for check in each[0]:
        ones = [column[check] for column in each if check in column]
        if len(ones) < len(columns) or not any(one.is_fault or one.is_undecided for one in ones):
            continue
        worst = max(ones, key=lambda one: one.excess)
        better = [k for k, one in enumerate(ones) if worst.excess - one.excess > math.hypot(worst.allowed, one.allowed)]
        found.append({
            "where": check.where,
            "reading": check.key,
            "values": [one.value for one in ones],
            "spreads": [one.spread for one in ones],
            "better": better,
        })  # fmt: skip
    return found


def comparison_text(found: Sequence[Point], names: Sequence[str]) -> str:
    """The points as lines to stand under a table: for each draft where it is better, then where none is."""
    if not found:
        return ""
    lines = ["", "Which draft is better, where one of them is at fault or may be:"]
    lines += [line for point in found if point["better"] for line in _point_lines(point, names)]
    alike = [reading_words(point["reading"])[0] for point in found if not point["better"]]
    if alike:
        lines += textwrap.wrap(f"- no difference beyond the ±: {'; '.join(alike)}", PAGE_WIDTH, subsequent_indent="  ")
    return "\n".join(lines) + "\n"


def _point_lines(point: Point, names: Sequence[str]) -> list[str]:
    """One point: who is better, on what, by which figures."""
    who = " and ".join(names[k] for k in point["better"])
    words, unit = reading_words(point["reading"])
    figures = ", ".join(f"{name} {value:.1f}" for name, value in zip(names, point["values"], strict=True))
    return textwrap.wrap(f"- {who}, in {words}: {figures} {unit}", PAGE_WIDTH, subsequent_indent="  ")
