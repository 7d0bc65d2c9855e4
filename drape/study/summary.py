"""Summary: a study in a few lines, and as the JSON object that programs read.

In: the plan and what became of each member. Out: text for the terminal, 80 columns wide, and a mapping.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from drape.reading.table import wrapped
from drape.study.members import setting_words
from drape.study.plan import Plan, told_factors
from drape.study.results import Result
from drape.study.task import SETTLED

MOST_TOLD: Final = 10  # failed members that the terminal lists; all stand in the table
SITTING: Final = (("yes", "sit"), ("undecided", "may sit or not"), ("no", "do not sit"))


def summary_object(results: Sequence[Result], rows: Path) -> dict[str, Any]:
    """{members, settled, failed, rows}: how many there are, how many settled, how many did not, the table's path."""
    settled = sum(result.state == SETTLED for result in results)
    return {"members": len(results), "settled": settled, "failed": len(results) - settled, "rows": rows.as_posix()}


def summary_text(plan: Plan, results: Sequence[Result]) -> str:
    """What was asked, how the members sit, and which failed and why."""
    lines = [*wrapped(plan.title), ""]
    for words in told_factors(plan.factors):
        lines += wrapped(f"  {words}", indent="    ")
    lines += ["", *wrapped(counted_words(results))]
    failed = [result for result in results if result.state != SETTLED]
    if failed:
        lines += ["", "Not settled, or failed"]
    for result in failed[:MOST_TOLD]:
        told = f"- {result.member.number} ({setting_words(result.member.setting)}): {result.state}. {result.why}"
        lines += wrapped(told, indent="  ")
    if len(failed) > MOST_TOLD:
        lines.append(f"- and {len(failed) - MOST_TOLD} more: see study.csv.")
    return "\n".join(lines) + "\n"


def counted_words(results: Sequence[Result]) -> str:
    """How many members settled, and of these how many sit."""
    sits = Counter(result.sits for result in results)
    settled = sum(result.state == SETTLED for result in results)
    said = ", ".join(f"{sits[key]} {words}" for key, words in SITTING)
    failed = len(results) - settled
    return f"{len(results)} members, {settled} settled: {said}." + (f" {failed} failed." if failed else "")
