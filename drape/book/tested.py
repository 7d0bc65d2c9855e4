"""Table-top tests typed on the page: which readings may be typed, and the file that they make.

In: readings as they were typed. Out: the text of a measurement file, as `drape cloth` reads it; what is wrong with a
reading is said by that command. How each test is done is drawn on the card.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import tomlkit

from drape.bench.table_top import READING_TABLES
from drape.errors import SceneError
from drape.units import bare_name, ending_of, unit_of

TESTS: Final = {
    "square": "1. A square on the scales", "overhang": "2. Overhang to the sloping line",
    "bias_strip": "3. A bias strip under a weight", "warp_strip": "4. A strip along the warp",
    "weft_strip": "4. A strip along the weft", "board": "5. The board on which cloth slips",
    "stack": "6. A stack and a ruler",
}  # fmt: skip


def rows_of_tests() -> list[tuple[str, list[tuple[str, str, str, bool]]]]:
    """Each test's heading, and its readings: name, words, unit, whether several may be given."""
    return [
        (heading, [(f"{table}.{key}", bare_name(key).replace("_", " ") if ending_of(key) else key,
                    unit_of(key).symbol if ending_of(key) else "", bool(getattr(rule, "several", False)))
                   for key, rule in READING_TABLES[table].keys.items()])
        for table, heading in TESTS.items()
    ]  # fmt: skip


def text_of_tests(name: str, readings: Mapping[str, Any]) -> str:
    """The measurement file. readings: by table and key what was typed, several apart by spaces. Raises SceneError."""
    document = tomlkit.document()
    document["cloth"] = tomlkit.item({"name": name})
    for place, typed in readings.items():
        table, _, key = str(place).partition(".")
        if table not in TESTS or key not in READING_TABLES[table].keys:
            raise SceneError(f"book: got {str(place)[:60]!r}, allowed the readings of the tests. Load the page again.")
        values = [_value(text) for text in str(typed)[:500].replace(";", " ").split()]
        if values:
            document.setdefault(table, tomlkit.table())[key] = values if len(values) > 1 else values[0]
    return tomlkit.dumps(document)


def _value(text: str) -> int | float | str:
    """One reading; as it was typed where it is no number."""
    for kind in (int, float):
        try:
            return kind(text.rstrip(","))
        except ValueError:
            pass
    return text
