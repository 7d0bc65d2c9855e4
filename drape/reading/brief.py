"""Brief: what a maker reads first. The conclusion, what is wrong in order of harm, and the few readings that decide.

In: the readings of one fitting or several with their verdicts, and the conclusion. Out: text. The numbers of the list
are those of the marks on the sheet. The whole table is left to `table`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from drape.reading.table import (
    ODDS,
    PAGE_WIDTH,
    cell_with_spread,
    column_names,
    decimals_of,
    difference_of,
    has_odds,
    head_lines,
    place_in_table,
    reading_words,
    remark_lines,
    spread_lines,
    stamp_lines,
    value_at,
    wrapped,
)

Readings = Mapping[str, Any]

DECIDING: Final = (  # with those at fault or undecided: how neck and shoulders lie, and where the hem hangs
    "neck.gap_max_cm",
    "shoulder_left.stand_off_mean_cm",
    "shoulder_right.stand_off_mean_cm",
    "spare.percent",
    "fall.lowest_cm",
)
LABEL_WIDTH: Final = 38
CELL_WIDTH: Final = 14  # 38 + 3 x 14 = 80: label, two drafts and their difference
ALL: Final = "Every reading, and which draft is better on each point: run it again with --all, or open {}."


def brief(
    columns: Sequence[Readings], *, conclusion: str, titles: Sequence[str] = (), told_in: str = "the .txt file"
) -> str:
    """The short report of one fitting or several. told_in: the file that holds the whole table."""
    names = column_names([str(column.get("scene", "")) for column in columns])
    several = len(columns) > 1
    lines = [*wrapped(conclusion), "", *head_lines(columns, titles)]
    lines += [line for k, column in enumerate(columns) for line in stamp_lines(column, k, len(columns))]
    for name, column in zip(names, columns, strict=True):
        whose = f", {name}" if several else ""
        lines += remark_lines(column.get("remarks") or [], whose)
        lines += wrong_lines(column, whose)
    if any(map(has_odds, columns)):
        lines += ["", *wrapped(ODDS)]
    lines += number_lines(columns, names)
    lines += spread_lines(columns, names)
    return "\n".join([*(line.rstrip() for line in lines), "", *wrapped(ALL.format(told_in))]) + "\n"


def wrong(readings: Readings) -> list[Mapping[str, Any]]:
    """The verdicts on what is wrong or may be, in order of harm: number 1 first."""
    return [verdict for verdict in readings.get("verdicts") or [] if verdict.get("harm")]


def wrong_lines(readings: Readings, whose: str) -> list[str]:
    """What is wrong or may be, numbered; below it what is in order, in a line."""
    lines: list[str] = []
    told: dict[str, int] = {}
    for number, verdict in enumerate(wrong(readings), start=1):
        before = told.setdefault(str(verdict["changes"][0]), number) if verdict["changes"] else number
        again = f" Mend as {before}." if before < number else ""
        lines += wrapped(f"{number:>2}. {verdict['where']}: {verdict['finding']}{again}", indent="    ")
        if verdict["mend"] and not again:
            lines += [f"    {line}" for line in wrapped(f"Mend: {verdict['mend']}", width=PAGE_WIDTH - 4)]
    head = f"What is wrong, or may be{whose}, in order of harm" if lines else f"Nothing is wrong{whose}"
    fine = [verdict for verdict in readings.get("verdicts") or [] if not verdict.get("harm")]
    parts = [verdict["where"] for verdict in fine if verdict["where"] != "hem"]
    if parts:
        lines += wrapped(f"In order: {', '.join(parts)}.", indent="  ")
    lines += [line for v in fine if v["where"] == "hem" for line in wrapped(f"Hem: {v['finding']}", indent="  ")]
    return ["", head, *lines]


def number_lines(columns: Sequence[Readings], names: Sequence[str]) -> list[str]:
    """The readings that decide and those that are wrong or may be in any of the drafts, side by side."""
    keys = {*DECIDING, *(verdict["reading"] for column in columns for verdict in wrong(column))}
    heads = [*names, "difference"] if len(columns) == 2 else names if len(columns) > 1 else []
    over = "".join(f"{head[: CELL_WIDTH - 1]:>{CELL_WIDTH}}" for head in heads)
    lines = ["", f"{'The readings that decide':<{LABEL_WIDTH}}{over}"]
    for key in sorted(keys, key=place_in_table):
        if all(value_at(column, key) is None for column in columns):
            continue
        (words, unit), decimals = reading_words(key), decimals_of(key)
        cells = [cell_with_spread(column, key, decimals) for column in columns]
        if len(columns) == 2:
            cells.append(difference_of(columns, key, decimals))
        label = f"  {words}" + (f" [{unit}]" if unit else "")
        lines.append(f"{label:<{LABEL_WIDTH}}" + "".join(f"{cell:>{CELL_WIDTH}}" for cell in cells))
    return lines
