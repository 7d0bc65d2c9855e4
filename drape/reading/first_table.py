"""First table: a few readings of a coarse shape, while the cloth still settles on finer triangles.

In: readings of the coarse mesh, without ±, since they will change. Out: lines marked as such, to be shown meanwhile and
never saved. The table of a settled cloak is left to `table`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from drape.reading.table import column_names, reading_words, value_at

MARK: Final = "coarse, still settling: these will change. The settled table follows."
ROWS: Final = (  # what triangles of 6 cm tell already; the load on the throat they do not
    "neck.gap_max_cm",
    "shoulder_left.stand_off_mean_cm",
    "shoulder_right.stand_off_mean_cm",
    "spare.percent",
    "fall.lowest_cm",
    "fall.level_cm",
)
LABEL_WIDTH: Final = 42
CELL_WIDTH: Final = 15


def first_table(columns: Sequence[Mapping[str, Any]]) -> list[str]:
    """The readings that decide, of one or several coarse shapes side by side, each under its `scene`."""
    names = column_names([str(column["scene"]) for column in columns])
    most = CELL_WIDTH - 1 if len(names) > 1 else LABEL_WIDTH
    heads = "".join(f"{name[:most]:>{CELL_WIDTH}}" for name in names)
    lines = [MARK, f"{heads:>{LABEL_WIDTH + CELL_WIDTH}}" if len(names) == 1 else " " * LABEL_WIDTH + heads]
    for key in ROWS:
        words, unit = reading_words(key)
        values = [value_at(column, key) for column in columns]
        cells = ["-" if value is None else f"{value:.1f}" for value in values]
        lines.append(f"  {f'{words} [{unit}]':<{LABEL_WIDTH - 2}}" + "".join(f"{cell:>{CELL_WIDTH}}" for cell in cells))
    return lines
