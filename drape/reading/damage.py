"""Damage: what is wrong with a saved fitting, found before anything is drawn of it.

In: the arrays and the words of a file, which may have been cut short, changed or made by anyone. Out: the first thing
in which they are no fitting, in a few words; nothing where they are one. Words that are not known are let be.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from drape.draft.style import FASTENINGS
from drape.plain import plain_line
from drape.reading.table import GROUPS
from drape.units import ending_of

FURTHEST: Final = 100.0  # [m] from the wearer's feet: nothing of a fitting lies beyond
THICKEST: Final = 0.1  # [m]
SHAPES: Final = {  # columns and least rows
    "flat": (2, 3), "worn": (3, 3), "figure_vertices": (3, 4), "neck_base": (3, 3), "shoulder_line_left": (3, 2),
    "shoulder_line_right": (3, 2),
}  # fmt: skip
TRIANGLES: Final = {"triangles": "worn", "figure_triangles": "figure_vertices"}
ROWS: Final = frozenset(row.key.partition(".")[0] for group in GROUPS for row in group.rows if "." in row.key)
LISTS: Final = ("dart", "verdicts")
COUNTS: Final = ("residual", "steps", "vertices", "crossings", "members")
SENTENCES: Final = ("scene", "word", "words", "place", "reaches", "gap_max_at", "where", "finding", "mend", "from")

VERDICT_KEYS: Final = {"where", "finding", "mend", "reading"}

Check = Callable[[Any], bool]


def damage_in(words: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> str:
    """What is wrong first; empty where nothing is. arrays: by their names in the file."""
    return _wrong_arrays(arrays) or _wrong_words(words, arrays)


def damage_of_readings(readings: Any) -> str:
    """The same of readings, as `drape sit --json` tells them."""
    if not _is_table(readings):
        return "they are no table"
    wrong = _wrong_readings(readings, "")
    if wrong:
        return wrong
    if any(not VERDICT_KEYS <= verdict.keys() for verdict in readings.get("verdicts", [])):
        return "a verdict lacks what it is about"
    conclusion = readings.get("conclusion", {"text": ""})
    return "" if _is_table(conclusion) and _is_text(conclusion.get("text")) else "the conclusion is no text"


# --- arrays -----------------------------------------------------------------------------------


def _wrong_arrays(arrays: Mapping[str, NDArray[Any]]) -> str:
    for name, (columns, least) in SHAPES.items():
        rows = arrays[name]
        if rows.ndim != 2 or rows.shape[1] != columns or len(rows) < least or not _are_places(rows):
            return f"{name} holds no places"
    if len(arrays["flat"]) != len(arrays["worn"]):
        return "flat and worn differ in length"
    for name, of in TRIANGLES.items():
        if arrays[name].ndim != 2 or arrays[name].shape[1] != 3 or not _are_rows(arrays[name], len(arrays[of])):
            return f"{name} are no triangles"
    for name, one in arrays.items():
        if name.startswith("edge ") and (one.ndim != 1 or not _are_rows(one, len(arrays["worn"]))):
            return f"{name} is no edge"
        if name.startswith("landmark ") and (one.shape != (3,) or not _are_places(one)):
            return f"{name} is no place"
    return "" if "edge hem" in arrays else "the hem is missing"


def _are_places(values: NDArray[Any]) -> bool:
    return values.dtype.kind in "fiu" and bool((np.abs(values) < FURTHEST).all())


def _are_rows(index: NDArray[Any], count: int) -> bool:
    return index.dtype.kind in "iu" and index.size > 0 and 0 <= int(index.min()) and int(index.max()) < count


# --- words ------------------------------------------------------------------------------------


def _wrong_words(words: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> str:
    checks: dict[str, Check] = {
        "name": _is_line, "title": _is_line, "expect": _is_text, "readings": _is_table, "levels": _are_numbers,
        "thickness": lambda value: _is_number(value) and 0.0 < value <= THICKEST, "colours": _are_colours,
        "about": lambda about: _is_about(about, arrays),
    }  # fmt: skip
    unlike = [name for name, value in words.items() if name not in checks or not checks[name](value)]
    if unlike:
        return f"{unlike[0][:40]} is not as it should be"
    return _wrong_readings(words["readings"], "")


def _wrong_readings(table: Mapping[str, Any], place: str) -> str:
    for key, value in table.items():
        where = f"{place}.{key}".lstrip(".")[:60]
        if not _is_reading(key, value, is_top=not place):
            return f"the reading {where} is not as it should be"
        rows = value if isinstance(value, list) else [value]
        if not place and key not in (*ROWS, *LISTS):
            continue
        wrong = next(filter(None, (_wrong_readings(row, where) for row in rows if isinstance(row, dict))), "")
        if wrong:
            return wrong
    return ""


def _is_reading(key: str, value: Any, *, is_top: bool) -> bool:
    if is_top and key in LISTS:
        return isinstance(value, list) and all(map(_is_table, value))
    if is_top and key in ROWS:
        return _is_table(value)
    if key == "settled":
        return isinstance(value, bool)
    if key == "remarks":
        return isinstance(value, list) and all(map(_is_text, value))
    if key in SENTENCES:
        return value is None or _is_line(value)
    if key in COUNTS or ending_of(key.removesuffix("_spread")):
        numbers = value if isinstance(value, list) else [value]
        return all(one is None or _is_number(one) for one in numbers)
    return True


def _is_about(about: Any, arrays: Mapping[str, NDArray[Any]]) -> bool:
    """Whether it is what `about_of` tells, or nothing, as in files written before it was told."""
    if not _is_table(about) or not about:
        return _is_table(about)
    held = about.get("fastening", {"kind": "", "closure": [], "places": [], "diameter": 0.0, "overlap": 0.0})
    tips = about.get("hem_tips", [0])
    return (
        all(_is_line(about.get(key, "")) for key in ("body", "sex"))
        and (about.get("stature") is None or _is_number(about["stature"]))
        and _is_number(about.get("grain", 0.0))
        and _are(_is_line, about.get("layers", []))
        and _is_table(about.get("cloth", {}))
        and all(
            one is None or _is_number(one) or _is_text(one) or _are(_is_text, one)
            for one in about.get("cloth", {}).values()
        )
        and _are_numbers(about.get("dimensions", {}))
        and _is_table(held)
        and held.get("kind") in ("", *FASTENINGS)
        and _are(lambda name: _is_text(name) and f"edge {name}" in arrays, held.get("closure"))
        and _are(_is_number, held.get("places"))
        and all(_is_number(held.get(key)) for key in ("diameter", "overlap"))
        and _are(lambda row: type(row) is int and 0 <= row < len(arrays["worn"]), tips)
        and len(tips) > 0
    )


def _are(check: Check, values: Any) -> bool:
    return isinstance(values, list) and all(map(check, values))


def _is_line(value: Any) -> bool:
    """Whether it is a text of one line, as a picture's heading has to be."""
    return isinstance(value, str) and plain_line(value) == value


def _is_text(value: Any) -> bool:
    return isinstance(value, str) and _is_line(value.replace("\n", "").replace("\t", ""))


def _is_table(value: Any) -> bool:
    return isinstance(value, dict)


def _is_number(value: Any) -> bool:
    return type(value) in (int, float) and math.isfinite(value) and abs(value) < 1e15


def _are_numbers(value: Any) -> bool:
    return isinstance(value, dict) and all(map(_is_number, value.values()))


def _are_colours(value: Any) -> bool:
    return _is_table(value) and all(_is_text(c) and re.fullmatch("(#[0-9a-fA-F]{6})?", c) for c in value.values())
