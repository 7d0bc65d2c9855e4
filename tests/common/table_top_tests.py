"""Table-top tests as a maker writes them down: the starter with every example taken up."""

from __future__ import annotations

from drape.bench.table_top import STARTER_MEASUREMENTS


def filled_in() -> str:
    """The text of the file."""
    lines = STARTER_MEASUREMENTS.splitlines()
    return "\n".join(line.removeprefix("# ") if " = " in line else line for line in lines)
