"""Which limits carry weight: verdicts of both default drafts on twelve surveyed bodies, each limit moved a quarter.

    python tests/bench/limits.py --bank FOLDER

Settles both drafts of the ferry warden's cloak on every record of tests/published/test_figure_survey.py, once each, at
quick quality, and keeps the readings in FOLDER as JSON; what is there already is not settled again. Then judges the
same readings with one limit moved at a time, and prints a Markdown table: in how many of the twelve runs of a draft the
verdict of that limit changes (in order, may be at fault, at fault), in how many whether the draft sits, and on how
many bodies which draft is better. Not collected by pytest.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from twelve import DRAFTS, RECORDS, scene_on

from drape.errors import NotSettledError
from drape.fitting.sit import sit
from drape.reading.conclusion import conclude, how_it_sits
from drape.reading.verdict import THRESHOLDS, held, limits_of, wrong_or_may_be

QUICK = 0.03  # m
PARTS = (0.75, 1.25)
Readings = Mapping[str, Any]


def readings_of(record: str, draft: str, bank: Path) -> Readings:
    """The readings of one draft on one body, from the bank or settled now."""
    path = bank / f"{draft}-{record}.json"
    if not path.exists():
        try:
            readings = sit(scene_on(record, draft), edge_length=QUICK, cached=False).readings
        except NotSettledError as error:
            readings = error.fitting.readings
        path.write_text(json.dumps(readings), encoding="utf-8")
    return json.loads(path.read_text(encoding="utf-8"))


def standing(readings: Readings, name: str, own: Mapping[str, float]) -> str:
    """The gravest verdict that one limit gives: `fault`, `may be`, `in order`; nothing where it judges no reading."""
    said = [one for one in wrong_or_may_be(readings, own) if one.check.limit == name]
    if any(one.is_fault for one in said):
        return "fault"
    if said:
        return "may be"
    return "in order" if any(one.check.limit == name for one in held(readings, own)) else ""


def changed(runs: Sequence[Readings], name: str, own: Mapping[str, float]) -> tuple[int, int]:
    """In how many runs the limit's verdict changes, and in how many whether the draft sits."""
    verdicts = sum(standing(run, name, own) != standing(run, name, {}) for run in runs)
    return verdicts, sum(how_it_sits(run, own) != how_it_sits(run) for run in runs)


def better(pairs: Sequence[tuple[Readings, Readings]], own: Mapping[str, float]) -> list[str | None]:
    """Which draft is better on each body."""
    return [conclude(pair, own)["better"] for pair in pairs]


def counted(words: Sequence[str]) -> str:
    """`7 no, 5 undecided`."""
    return ", ".join(f"{words.count(word)} {word}" for word in sorted(set(words)))


def summary(runs: Mapping[str, Sequence[Readings]], own: Mapping[str, float]) -> str:
    """How both drafts sit on all bodies, and which is better."""
    sits = [f"{draft} sits: {counted([how_it_sits(run, own) for run in every])}" for draft, every in runs.items()]
    found = better(list(zip(*runs.values(), strict=True)), own)
    return "; ".join([*sits, f"better: {counted([(one or 'neither').partition('-')[0] for one in found])}"])


def row(name: str, runs: Mapping[str, Sequence[Readings]]) -> str:
    """One line of the table: the two drafts' counts side by side, a quarter lower / a quarter higher."""
    value = limits_of()[name]
    now = [sum(standing(run, name, {}) in ("fault", "may be") for run in runs[draft]) for draft in DRAFTS]
    cells = [name, f"{value:g}", f"{now[0]} · {now[1]}"]
    moved = [{name: value * part} for part in PARTS]
    counts = {draft: [changed(runs[draft], name, own) for own in moved] for draft in DRAFTS}
    for which in range(2):
        cells.append(" · ".join(" / ".join(str(one[which]) for one in counts[draft]) for draft in DRAFTS))
    pairs = list(zip(*(runs[draft] for draft in DRAFTS), strict=True))
    usual = better(pairs, {})
    cells.append(" / ".join(str(sum(a != b for a, b in zip(better(pairs, own), usual, strict=True))) for own in moved))
    return "| " + " | ".join(cells) + " |"


def main() -> None:
    """Settles what is missing and prints the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bank", type=Path, required=True)
    bank = parser.parse_args().bank
    bank.mkdir(parents=True, exist_ok=True)
    runs = {draft: [readings_of(record, draft, bank) for record in RECORDS] for draft in DRAFTS}
    print(f"not settled: {sum(not run['settled'] for every in runs.values() for run in every)}")
    for part in (1, *PARTS):
        print(
            f"all limits times {part:g}: {summary(runs, {name: part * value for name, value in limits_of().items()})}"
        )
    print()
    print(
        "| limit | value | at fault or may be | verdict changes | whether it sits changes | which is better changes |"
    )
    print("| --- " * 6 + "|")
    for name in THRESHOLDS:
        print(row(name, runs), flush=True)


if __name__ == "__main__":
    main()
