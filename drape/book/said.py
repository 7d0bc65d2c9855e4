"""What a scene's keys and values are in the words of the order: for changes, for what a verdict asks, for the answer.

In: the fields of the order, and words or tables of the program that name keys of a file. Out: sentences with the names
and units that the page uses. What has no field there keeps its key, without underlines.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from drape.book.order import Field, Tables
from drape.schema import plain_number
from drape.units import bare_name, ending_of, unit_of

Fields = Mapping[str, Field]
TO_WRITE: Final = re.compile(r"(?<=\.) (?:Try|Write) (?:\w+ = |a new \[\[dart\]\]|without \w+_\w+).*$")
KEY_AND_VALUE: Final = re.compile(r"\b([a-z]+(?:_[a-z]+)+) = ([\d.]*\d|true|false)")
LENGTHS: Final = ("draft length_cm", "draft length_to", "draft off_floor_cm")
SILENT: Final = ("title", "expect")


def in_words(fields: Fields, text: str) -> str:
    """A sentence of the program, each `key = value` in it as the order says it."""
    return KEY_AND_VALUE.sub(lambda found: _pair_said(fields, found[1], found[2]), text)


def mend_said(fields: Fields, words: str, changes: Sequence[Mapping[str, Any]]) -> str:
    """What a verdict asks for: why, then each change as the order says it."""
    why = TO_WRITE.sub("", words)
    if not changes or why == words:
        return in_words(fields, words)
    return f"{why} In the order: {'; '.join(_change_said(fields, one) for one in changes)}."


def differences_said(fields: Fields, before: Tables, after: Tables) -> list[str]:
    """What one scene's text says otherwise than another's: `dart length: 15 cm, now 16.2 cm`."""
    was, now = dict(_flat(before)), dict(_flat(after))
    said = []
    if any(was.get(name) != now.get(name) for name in LENGTHS):
        said.append(f"length: {_length_said(was)}, now {_length_said(now)}")
    for name in [*now, *(name for name in was if name not in now)]:
        if was.get(name) != now.get(name) and name not in (*SILENT, *LENGTHS):
            field = _field(fields, name)
            words = field.words if field is not None else _bare(name)
            said.append(f"{words}: {_value_said(field, name, was.get(name))}, now "
                        f"{_value_said(field, name, now.get(name))}")  # fmt: skip
    return said


def without_place(message: str, name: str) -> str:
    """A message without the place it speaks of, where it stands beside that very field."""
    where, colon, what = message.partition(": ")
    key = name.rpartition(".")[2]
    return what[:1].upper() + what[1:] if colon and where.endswith(key) else message


# --- one key ------------------------------------------------------------------------------------


def _pair_said(fields: Fields, key: str, value: str) -> str:
    field = next((one for name, one in fields.items() if name.rpartition(".")[2] == key), None)
    words = field.words if field is not None else _bare(key)
    return f"{words} {_value_said(field, key, {'true': True, 'false': False}.get(value, value))}"


def _change_said(fields: Fields, change: Mapping[str, Any]) -> str:
    """One change: `overlap 3.0 cm, was 0.0`."""
    table, key, write, was = (change[name] for name in ("table", "key", "write", "was"))
    if key == "place":
        return f"a dart on the {write}"
    field = _field(fields, f"{table} {key}")
    words = field.words if field is not None else _bare(key)
    if table == "dart" and change["place"] is not None:
        words += f" on the {change['place']}"
    if isinstance(write, float):
        return f"{words} {write:.1f} {unit_of(key).symbol}" + ("" if was is None else f", was {was:.1f}")
    return f"{words} {_value_said(field, key, write)}"


def _field(fields: Fields, name: str) -> Field | None:
    """The field of a key with its table: `dart 2 length_cm` is `dart.1.length_cm`."""
    table, _, key = name.rpartition(" ")
    own, _, number = table.partition(" ")
    places = [f"{own}.{int(number) - 1}.{key}"] if number.isdigit() else [f"{own}.{key}", f"{own}.0.{key}"]
    return next((fields[place] for place in places if place in fields), None)


def _bare(name: str) -> str:
    """A key in words, its table left before it, its unit not."""
    table, _, key = name.rpartition(" ")
    return f"{table} {bare_name(key) if ending_of(key) else key}".strip().replace("_", " ")


def _length_said(flat: Mapping[str, Any]) -> str:
    """How long, of the three ways to say it."""
    length, place, off = (flat.get(name) for name in LENGTHS)
    if place is not None:
        return f"to the {place}"
    return f"{plain_number(off)} cm off the floor" if off is not None else f"{plain_number(length or 0)} cm"


def _value_said(field: Field | None, name: str, value: Any) -> str:
    """A value with its unit, or the words by which the order lets it be chosen."""
    if value is None:
        usual = field.usual if field is not None else ""
        return f"{usual} {field.unit}".strip() if field is not None and usual else "as usual"
    text = str(value).lower() if isinstance(value, bool) else str(value)
    if field is not None and field.choices:
        return dict(field.choices).get(text, text)
    key = name.rpartition(" ")[2]
    unit = unit_of(key).symbol if ending_of(key) else ""
    number = plain_number(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else text
    return f"{number} {unit}".strip()


def _flat(tables: Any, name: str = "") -> list[tuple[str, Any]]:
    """Every value under its table and key, with a number where there are several such tables."""
    if isinstance(tables, Mapping):
        return [one for key, value in tables.items() for one in _flat(value, f"{name} {key}".strip())]
    if isinstance(tables, list) and tables and isinstance(tables[0], Mapping):
        return [
            one for k, row in enumerate(tables) for one in _flat(row, f"{name} {k + 1}" if len(tables) > 1 else name)
        ]
    return [(name, tables)]
