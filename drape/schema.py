"""What a TOML file may say: rules for keys, and the checks that hold a file to them.

Comes in: a file, and tables of keys with their rules. Goes out: its tables with every value
checked, numbers in SI under their names without unit. Anything else is refused with a SceneError:
one line with the file, the key, the value got, what is allowed and what to try. Nothing is guessed
or clamped. Which keys there are is left to `scene`.
"""

from __future__ import annotations

import difflib
import math
import re
import tomllib
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final, NoReturn

from drape.errors import OldKeyWarning, SceneError
from drape.plain import plain_line
from drape.units import bare_name, ending_of, to_si, unit_of

LARGEST_FILE: Final = 200_000  # bytes; a scene is a page of text
LONGEST_LINE: Final = 5_000  # characters
DEEPEST: Final = 8  # tables and lists within one another
MOST_ROWS: Final = 300  # of one [[table]]
LARGEST_WHOLE: Final = 10**15  # beyond it a whole number is refused before any arithmetic


@dataclass(frozen=True)
class Number:
    """A number between low and high, in the unit its key ends in (`plain`: a number with none).

    several: one number or a list of them, repeated readings of one thing; comes out as a tuple.
    """

    low: float
    high: float
    required: bool = False
    plain: bool = False
    whole: bool = False
    several: bool = False


@dataclass(frozen=True)
class Text:
    """A text; one of `choices` when there are any; one line unless `lines`.

    several: one text or a list of them; comes out as a tuple.
    """

    choices: tuple[str, ...] = ()
    required: bool = False
    lines: bool = False
    several: bool = False


@dataclass(frozen=True)
class Colour:
    """A colour written #rrggbb."""

    required: bool = False


@dataclass(frozen=True)
class Switch:
    """true or false."""

    required: bool = False


Rule = Number | Text | Colour | Switch
Keys = Mapping[str, Rule]


@dataclass(frozen=True)
class Table:
    """A table of keys; `many`: written [[table]], several; `partial`: nothing in it is due.

    renamed: keys' old names, which are still read, and the new ones.
    words: what else a maker may call a key, without unit, and the key, or the keys, it may mean.
    """

    keys: Keys
    many: bool = False
    partial: bool = False
    renamed: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


def read_toml(path: Path, label: str) -> dict[str, Any]:
    """The file's tables. Raises SceneError on anything that is not TOML."""
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE:
            fail(label, f"got {size} bytes, allowed {LARGEST_FILE}", "Is it the right file?")
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        fail(label, f"cannot be read: {error.strerror or error}", "Check the path and its permissions.")
    except UnicodeDecodeError as error:
        fail(label, f"got byte {error.start} that is not UTF-8 text", "Save the file as UTF-8.")
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LONGEST_LINE:
            fail(f"{label}, line {number}", f"got {len(line)} letters, allowed {LONGEST_LINE}", "Write shorter lines.")
    try:
        document = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        _fail_syntax(text, label, str(error))
    if not document:
        fail(label, "got an empty file", "`drape new FILE` writes a scene to start from.")
    if _is_deeper(document, DEEPEST):
        fail(label, f"got tables more than {DEEPEST} deep, allowed {DEEPEST}", "Write [table], and key = 1.5 below it.")
    return document


def _is_deeper(document: object, most: int) -> bool:
    """Whether tables and lists stand within one another more than `most` deep."""
    level: list[Any] = [document]
    for _ in range(most + 1):
        within = (one.values() if isinstance(one, dict) else one for one in level if isinstance(one, (dict, list)))
        level = [inner for one in within for inner in one]
    return bool(level)


def _fail_syntax(text: str, label: str, message: str) -> NoReturn:
    """One line with the line number for a TOML syntax error."""
    found = re.search(r"\(at line (\d+), column (\d+)\)", message)
    number = int(found[1]) if found else text.rstrip("\n").count("\n") + 1
    what = re.sub(r"\s*\(at .*\)$", "", message).strip().rstrip(".") or "cannot be read"
    lines = text.splitlines()
    line = lines[number - 1].strip() if 0 < number <= len(lines) else ""
    if comma := re.match(r"[\w-]+\s*=\s*\[?\s*([-+]?\d+),(\d+)\s*\]?\s*(#.*)?$", line):
        fail(
            f"{label}, line {number}",
            f"got {shown(line)}, with a comma in the number",
            f"Write a point: {comma[1]}.{comma[2]}.",
        )
    if empty := re.match(r"([\w-]+)\s*=\s*(#.*)?$", line):
        fail(
            f"{label}, line {number}", f"got nothing after {empty[1]} =, allowed a number or a text in quotes",
            "Write it in, or put # before the line to leave it out.",
        )  # fmt: skip
    fail(
        f"{label}, line {number}",
        f"not TOML: {what[0].lower()}{what[1:]}, got {shown(line)}",
        'Write `key = 1.5` or `key = "text"`, one to a line.',
    )


# --- checking ---------------------------------------------------------------------------------


def checked_tables(document: Mapping[str, Any], top: Keys, tables: Mapping[str, Table], label: str) -> dict[str, Any]:
    """The file's tables, each value checked and in SI, with the top-level keys under "".

    A table not written comes out empty, unless a key in it is due.
    """
    for key in document:
        if key not in top and key not in tables:
            _fail_unknown(label, "", key, [*top, *tables], value=document[key], tables=tables)
    document = _by_new_names(document, tables, label)
    own = {key: value for key, value in document.items() if key in top}
    checked: dict[str, Any] = {"": checked_keys(own, top, label, "")}
    for name, table in tables.items():
        if table.many:
            rows = document.get(name, [])
            if not isinstance(rows, list):
                fail(f"{label}, {name}", f"got {shown(rows)}, allowed [[{name}]]", f"Write [[{name}]].")
            if len(rows) > MOST_ROWS:
                fail(f"{label}, {name}", f"got {len(rows)} of them, allowed {MOST_ROWS}", "Leave some out.")
            checked[name] = [
                _checked_table(row, name, table, label, f"{name} {place}", tables)
                for place, row in enumerate(rows, start=1)
            ]
        else:
            checked[name] = _checked_table(document.get(name, {}), name, table, label, name, tables)
    return checked


def _by_new_names(document: Mapping[str, Any], tables: Mapping[str, Table], label: str) -> dict[str, Any]:
    """The tables with every key under its new name; one warning for the whole file,
    however many stood under old ones.
    """
    renamed, told = dict(document), []
    for name, table in tables.items():
        row = document.get(name)
        if not isinstance(row, dict):
            continue
        for old, new in table.renamed.items():
            if old in row and new in row:
                fail(f"{label}, {name}.{old}", f"got {new} as well, of which it is the old name", f"Leave {old} out.")
            if old in row:
                told.append((old, new))
        renamed[name] = {table.renamed.get(key, key): value for key, value in row.items()}
    if told:
        old, new = told[0]
        warnings.warn(f"{label}: {old} is now called {new}. Write {new} = ... instead.", OldKeyWarning, 2)
    return renamed


def _checked_table(
    row: object, name: str, table: Table, label: str, place: str, tables: Mapping[str, Table]
) -> dict[str, Any]:
    if not isinstance(row, dict):
        heading = f"[[{name}]]" if table.many else f"[{name}]"
        fail(f"{label}, {place}", f"got {shown(row)}, allowed a table", f"Write {heading}.")
    return checked_keys(row, table.keys, label, place, require=not table.partial, tables=tables)


def checked_keys(
    row: Mapping[str, Any],
    known: Keys,
    label: str,
    table: str,
    *,
    require: bool = True,
    tables: Mapping[str, Table] = MappingProxyType({}),
) -> dict[str, Any]:
    """One table with every value checked, under bare names and in SI."""
    checked: dict[str, Any] = {}
    for key, value in row.items():
        if key not in known:
            _fail_unknown(label, table, key, list(known), value=value, tables=tables)
        where = place_of(label, table, key)
        rule = known[key]
        if isinstance(rule, Number):
            check = _checked_readings if rule.several else _checked_number
            checked[key if rule.plain else bare_name(key)] = check(value, rule, key, where)
        elif isinstance(rule, Colour):
            checked[key] = _checked_colour(value, where)
        elif isinstance(rule, Switch):
            checked[key] = _checked_switch(value, key, where)
        elif rule.several:
            texts = value if isinstance(value, list) else [value]
            checked[key] = tuple(_checked_text(text, rule, key, where) for text in texts)
        else:
            checked[key] = _checked_text(value, rule, key, where)
    if require:
        refuse_missing(checked, known, label, table)
    return checked


def refuse_missing(checked: Mapping[str, Any], known: Keys, label: str, table: str) -> None:
    for key, rule in known.items():
        name = key if isinstance(rule, Number) and rule.plain else bare_name(key)
        if not rule.required or name in checked:
            continue
        line = f'{key} = "..."' if isinstance(rule, Text) else f"{key} = ..."
        home = f"under [{table}]" if table else "at the top"
        fail(place_of(label, table, key), f"missing, allowed {_allowed(rule, key)}", f"Add {line} {home}.")


def _checked_readings(value: object, rule: Number, key: str, where: str) -> tuple[float | int, ...]:
    """Repeated readings, each held to the rule; a single one may stand without brackets."""
    readings = value if isinstance(value, list) else [value]
    if not readings:
        fail(where, f"got [], allowed one reading or several, {_allowed(rule, key)}", "Leave the line out.")
    return tuple(_checked_number(reading, rule, key, where) for reading in readings)


def _checked_number(value: object, rule: Number, key: str, where: str) -> float | int:
    """The number in SI, or whole and as it is when the rule says so."""
    allowed = _allowed(rule, key)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        hint = f"Write {key} = a number, without quotes."
        if isinstance(value, str) and re.fullmatch(r"[-+]?\d+,\d+", value.strip()):
            hint = f"Write a point, and no quotes: {key} = {value.strip().replace(',', '.')}."
        fail(where, f"got {shown(value)}, allowed a number, {allowed}", hint)
    if isinstance(value, float) and not math.isfinite(value):
        fail(where, f"got {value}, allowed a finite number, {allowed}", CHECK_NUMBER)
    if rule.whole and value != int(value):
        fail(where, f"got {plain_number(value)}, allowed a whole number, {allowed}", CHECK_NUMBER)
    if not rule.low <= value <= rule.high:
        hint = "" if rule.plain else _slip_hint(value, rule, key)
        fail(where, f"got {plain_number(value)}, allowed {allowed}", hint or CHECK_NUMBER)
    if rule.whole:
        return int(value)
    return float(value) if rule.plain else to_si(key, float(value))


def _checked_text(value: object, rule: Text, key: str, where: str) -> str:
    if not isinstance(value, str):
        fail(where, f"got {shown(value)}, allowed a text", f'Write {key} = "...".')
    if not value.strip():
        fail(where, 'got "", allowed a text that is not empty', "Write a few words, or leave it out.")
    refuse_control_characters(value, where, lines=rule.lines)
    if rule.choices and value not in rule.choices:
        hint = nearest_hint(value, rule.choices) or f'Write "{rule.choices[0]}".'
        fail(where, f"got {shown(value)}, allowed {either(rule.choices)}", hint)
    return value


def _checked_colour(value: object, where: str) -> str:
    if not isinstance(value, str) or not re.fullmatch(r"#[0-9a-fA-F]{6}", value):
        fail(where, f"got {shown(value)}, allowed #000000 to #ffffff", 'Write "#34495e".')
    return value.lower()


def _checked_switch(value: object, key: str, where: str) -> bool:
    if not isinstance(value, bool):
        fail(where, f"got {shown(value)}, allowed true or false", f"Write {key} = true, without quotes.")
    return value


def refuse_control_characters(text: str, where: str, *, lines: bool = False) -> None:
    if any("\ud800" <= letter <= "\udfff" for letter in text):
        fail(where, f"got {shown(text)}, which is not UTF-8, allowed printable text", "Write it in UTF-8.")
    kept = text.replace("\n", "").replace("\t", "") if lines else text
    if plain_line(kept) != kept:
        fail(where, f"got {shown(text)}, allowed printable text", "Take the control character out.")


CHECK_NUMBER: Final = "Check the number and its unit."

# Units a measure is often noted in by mistake: (name, how many of the key's own unit one is).
SLIPS: Final[Mapping[str, tuple[tuple[str, float], ...]]] = MappingProxyType(
    {
        "_cm": (("millimetres", 0.1), ("metres", 100.0), ("inches", 2.54)),
        "_mm": (("centimetres", 10.0), ("metres", 1000.0), ("inches", 25.4)),
        "_deg": (("radians", 180.0 / math.pi),),
        "_g": (("kilograms", 1000.0), ("ounces", 28.35), ("milligrams", 0.001)),
        "_g_m2": (("kg/m²", 1000.0), ("oz/yd²", 33.906)),
        "_n_m": (("gf/cm", 0.980665), ("kN/m", 1000.0)),
    }
)


def _slip_hint(value: float, rule: Number, key: str) -> str:
    """What to write if the number was noted in another unit that would put it in range."""
    if abs(value) > LARGEST_WHOLE:
        return ""
    for name, size in SLIPS.get(ending_of(key), ()):
        if rule.low <= value * size <= rule.high:
            return f"If this is in {name}, write {float(f'{value * size:.4g}')}."
    return ""


# --- saying what is wrong ---------------------------------------------------------------------


def fail(where: str, what: str, hint: str) -> NoReturn:
    raise SceneError(f"{where}: {what}. {hint}".rstrip())


def _fail_unknown(
    label: str, table: str, key: str, names: Sequence[str], *, value: object, tables: Mapping[str, Table]
) -> NoReturn:
    """An unknown key, with the nearest known one, in this table or in the one it belongs to."""
    name_shown = key if key.isprintable() and 0 < len(key) <= 60 else shown(key)
    where = place_of(label, table, name_shown)
    if table in tables and (hint := _meant_hint(key, value, tables[table])):
        fail(where, "unknown key", hint)
    homes = [name for name, other in tables.items() if key in other.keys and name != table]
    if homes:
        fail(where, "unknown here", f"It belongs in [{homes[0]}].")
    for home, other in tables.items():
        if hint := _meant_hint(key, value, other):
            fail(where, "unknown key", f"{hint} It belongs in [{home}].")
    near = next((name for name in names if bare_name(name) == key), "") or _nearest(key, names)
    hint = f"Nearest known: {near}." if near else f"Known: {', '.join(names)}."
    fail(where, "unknown key" if table else "unknown key or table", hint)


WRITTEN_IN: Final = (
    ("_cm", 1.0),
    ("_mm", 0.1),
    ("_in", 2.54),
    ("_inch", 2.54),
    ("_inches", 2.54),
    ("_m", 100.0),
    ("_deg", 1.0),
    ("", 1.0),
)


def _meant_hint(key: str, value: object, table: Table) -> str:
    """What a key by another of its names, or in another unit, would be called here; with its value,
    where that can be.
    """
    word = re.sub(r"[\s-]+", "_", key.strip().lower())
    for ending, size in WRITTEN_IN:
        name = word.removesuffix(ending)
        keys = table.words.get(name, ())
        if not keys and table.words and ending and name + "_cm" in table.keys:
            keys = (name + "_cm",)
        if not word.endswith(ending) or not keys:
            continue
        if len(keys) > 1:
            return f"It may be {' or '.join(keys)} here: write the one you took."
        rule, number = table.keys[keys[0]], "..."
        if not isinstance(rule, Number) or not isinstance(value, (int, float)) or abs(value) > LARGEST_WHOLE:
            pass
        elif rule.low <= value * size <= rule.high:
            number = plain_number(value * size)
        return f"Here it is {keys[0]}: write {keys[0]} = {number}."
    return ""


def place_of(label: str, table: str, key: str) -> str:
    place = f"{table}.{key}" if table else key
    return f"{label}, {place}" if label else place


def _nearest(word: str, names: Sequence[str]) -> str:
    return next(iter(difflib.get_close_matches(word, names, n=1, cutoff=0.6)), "")


def nearest_hint(word: str, names: Sequence[str]) -> str:
    near = _nearest(word, names) or next((name for name in names if word and word in name), "")
    return f'Did you mean "{near}"?' if near else ""


def either(names: Sequence[str]) -> str:
    quoted = [f'"{name}"' for name in names]
    if len(quoted) < 2:
        return quoted[0] if quoted else "none are shipped"
    return f"{', '.join(quoted[:-1])} or {quoted[-1]}"


def shown(value: object) -> str:
    """A value as it may stand in a one-line message: quoted, escaped, shortened."""
    try:
        text = repr(value) if not isinstance(value, str) else '"' + repr(value)[1:-1] + '"'
    except ValueError:  # a whole number that is too long to be written out, or a list of such
        return plain_number(value) if isinstance(value, int) else "numbers too long to be shown"
    if isinstance(value, bool):
        text = text.lower()
    return text if len(text) <= 60 else text[:57] + "..."


def plain_number(value: float) -> str:
    """A number as a person would write it: 380, 0.03, 1e+300."""
    if isinstance(value, int) and abs(value) > LARGEST_WHOLE:
        bits = value.bit_length()  # Python writes out no number of many thousand digits
        return f"a number of {len(str(abs(value))) if bits < 10_000 else f'about {bits // 3.3219:.0f}'} digits"
    return f"{value:.6g}"


def _allowed(rule: Rule, key: str) -> str:
    if isinstance(rule, Number):
        symbol = "" if rule.plain else unit_of(key).symbol
        return f"{plain_number(rule.low)} to {plain_number(rule.high)} {symbol}".rstrip().replace(" °", "°")
    if isinstance(rule, Colour):
        return "#000000 to #ffffff"
    if isinstance(rule, Switch):
        return "true or false"
    return either(rule.choices) if rule.choices else "a text"
