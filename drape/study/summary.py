"""Summary: a study in a few lines, and as the JSON object that programs read.

In: what a study found. Out: text for the terminal, 80 columns wide, and a mapping.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, Final

from drape.reading.table import wrapped
from drape.study import told
from drape.study.members import setting_words
from drape.study.results import Result
from drape.study.task import SETTLED
from drape.study.told import Findings

MOST_TOLD: Final = 10  # lines of a list that the terminal is told
SITTING: Final = (("yes", "sit"), ("undecided", "may sit or not"), ("no", "do not sit"))


def summary_object(results: Sequence[Result], rows: Path) -> dict[str, Any]:
    """{members, settled, failed, rows}: how many there are, how many settled, how many did not, the table's path."""
    settled = sum(result.state == SETTLED for result in results)
    return {"members": len(results), "settled": settled, "failed": len(results) - settled, "rows": rows.as_posix()}


def summary_text(found: Findings) -> str:
    """The answer, what was asked, how the members sit, what it rests on, and which failed and why."""
    lines = [*wrapped(" ".join(told.conclusions_of_study(found))), "", *wrapped(found.plan.title), ""]
    for words in map(told.factor_words, found.plan.factors):
        lines += wrapped(f"  {words}", indent="    ")
    lines += ["", *wrapped(counted_words(found.results))]
    lines += _block("Which dimension matters: share of the variance", map(told.matter_words, found.matters))
    lines += _block("Whom it fits", _fits(found))
    if len(found.drafts) > 1:
        best = [f"{body}: member {one.member.number}, it {told.sits_words(one)}" for body, one in found.best]
        lines += _block("Best for whom", best)
    failed = [result for result in found.results if result.state != SETTLED]
    reasons = [f"{one.member.number} ({setting_words(one.member.setting)}): {one.state}. {one.why}" for one in failed]
    return "\n".join([*lines, *_block("Not settled, or failed", reasons)]) + "\n"


def _block(head: str, items: Iterable[str]) -> list[str]:
    """A list under its heading, as much of it as the terminal is told; nothing where there is none."""
    every = list(items)
    lines = [line for item in every[:MOST_TOLD] for line in wrapped(f"- {item}", indent="  ")]
    if len(every) > MOST_TOLD:
        lines.append(f"- and {len(every) - MOST_TOLD} more: see study.html and study.csv.")
    return ["", head, *lines] if lines else []


def _fits(found: Findings) -> list[str]:
    """How many bodies the best draft sits on, and where it stops."""
    if not found.drafts:
        return []
    own = found.drafts[0]
    stops = told.stops_words(own.results)
    kept = [f"What keeps it from sitting: {'; '.join(stops)}"] if stops else []
    return [told.interval_words(own.share), *map(told.reach_words, found.reaches), *kept]


def counted_words(results: Sequence[Result]) -> str:
    """How many members settled, and of these how many sit."""
    sits = Counter(result.sits for result in results)
    settled = sum(result.state == SETTLED for result in results)
    said = ", ".join(f"{sits[key]} {words}" for key, words in SITTING)
    failed = len(results) - settled
    return f"{len(results)} members, {settled} settled: {said}." + (f" {failed} failed." if failed else "")
