"""Readings as text and as JSON.

Comes in: the readings of one or several fittings, as `sit` prints them (units in the keys). Goes
out: a table side by side with a plain line for what each reading means, the same as JSON, the
differences between two; dimensions of a draft. It judges nothing: verdicts come with the readings,
pictures are left to `picture`, writing files to `output`.
"""

from __future__ import annotations

import json
import math
import re
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from types import MappingProxyType
from typing import Any, Final

from drape.units import UNITS, bare_name, ending_of, from_si

Readings = Mapping[str, Any]

PAGE_WIDTH: Final = 80
LABEL_WIDTH: Final = 30
CELL_WIDTH: Final = 15  # 30 + 3 x 15 = 75: label, two drafts and their difference


@dataclass(frozen=True)
class Row:
    """One line of the table: words, the dotted key of the reading, decimals shown."""

    words: str
    key: str
    decimals: int = 1


@dataclass(frozen=True)
class Group:
    """Readings of one kind: heading, what they mean in plain words, their lines."""

    heading: str
    meaning: str
    rows: tuple[Row, ...]


def _sides(prefix: str, *sides: str) -> tuple[Row, ...]:
    words = {"front": "front", "left": "left", "back": "back", "right": "right", "max": "largest"}
    return tuple(Row(words[side], f"{prefix}_{side}_cm") for side in sides)


def _both_shoulders(words: str, key: str, decimals: int = 1) -> tuple[Row, ...]:
    return tuple(Row(f"{words}, {side}", f"shoulder_{side}.{key}", decimals) for side in ("left", "right"))


DART_ROWS: Final = (
    ("intake sewn", "intake_cm"),
    ("off shoulder line", "angle_to_shoulder_deg"),
    ("short of its point", "point_short_cm"),
    ("gap at its point", "point_gap_cm"),
)

GROUPS: Final = (
    Group(
        "Neck gap",
        "how far the neck edge stands off the neck",
        (*_sides("neck.gap", "front", "left", "back", "right", "max"), Row("largest at", "neck.gap_max_at")),
    ),
    Group(
        "Ride",
        "how high the neck edge lies above the base of the neck; negative: it has slipped below",
        _sides("neck.ride", "front", "left", "back", "right"),
    ),
    Group(
        "Throat load",
        "how hard the cloth presses on the neck itself, in all and along the front edge",
        (Row("total", "neck.throat_load_n", 2), Row("front, per metre", "neck.throat_line_load_n_m")),
    ),
    Group(
        "Collar",
        "how its top edge stands off neck and head, and how upright it stands: 100 % straight up",
        (
            *(
                Row(f"top off, {row.words}", row.key)
                for row in _sides("collar.top_gap", "front", "left", "back", "right", "max")
            ),
            *(
                Row(f"upright, {side}", f"collar.stands_{side}_percent", 0)
                for side in ("front", "left", "back", "right")
            ),
        ),
    ),
    Group(
        "Shoulder stand-off",
        "the air between cloth and shoulder line, from the neck to the shoulder point",
        _both_shoulders("mean", "stand_off_mean_cm")
        + _both_shoulders("largest", "stand_off_max_cm")
        + _both_shoulders("neck to largest", "stand_off_at_cm"),
    ),
    Group(
        "Lie",
        "share of the shoulder where the cloth lies on the body",
        _both_shoulders("cloth on shoulder", "lie_percent", 0),
    ),
    Group(
        "Spare cloth",
        "how much of the cloth round neck and shoulders has no body to lie on, however it rests: folded in, standing "
        "up, or as a tent",
        (Row("of the cloth there", "spare.percent"), Row("counted within", "spare.within_cm")),
    ),
    Group(
        "Crowding",
        "how much of the spare cloth has folded in: how much longer a level cut through the worn cloth is than a cord "
        "drawn tight round it",
        (Row("most", "crowding.max_percent"), Row("mean", "crowding.mean_percent")),
    ),
    Group(
        "Dart",
        "how the wedge on the shoulder lies: against the shoulder line, and where it ends",
        tuple(
            Row(f"{words}{which}", f"dart.{k}.{key}")
            for k, which in enumerate(("", ", 2nd", ", 3rd"))
            for words, key in DART_ROWS
        ),
    ),
    Group(
        "Closure",
        "how far its seam lies off its line, how far it gapes, how hard it pulls",
        (
            Row("shift", "closure.shift_cm"),
            Row("gape", "closure.gape_cm"),
            Row("pull on the fastening", "closure.pull_n", 2),
        ),
    ),
    Group(
        "Fall",
        "height of the hem above the floor; level: highest less lowest; bias drop: how much more the cloth has "
        "stretched on the bias than on the grain, from neck to hem",
        (
            *(Row(side, f"fall.{side}_cm") for side in ("front", "left", "back", "right")),
            Row("mean", "fall.mean_cm"),
            Row("lowest", "fall.lowest_cm"),
            Row("highest", "fall.highest_cm"),
            Row("level", "fall.level_cm"),
            Row("reaches", "fall.reaches"),
            Row("clearance", "fall.clearance_cm"),
            Row("bias drop", "fall.bias_drop_cm"),
        ),
    ),
    Group(
        "Seated",
        "height of the hem above the floor when the wearer sits upright; in front it lies over the knees and is not "
        "read",
        (
            Row("seat", "seated.seat_height_cm", 0),
            Row("comes down by", "seated.lowered_cm"),
            *(Row(side, f"seated.{side}_cm") for side in ("left", "back", "right")),
            Row("on the floor, at most", "seated.on_floor_cm"),
        ),
    ),
    Group(
        "Balance",
        "how far the cloak has shifted on the body and turned, seen from above",
        (
            Row("forward", "balance.forward_cm"),
            Row("to the left", "balance.left_cm"),
            Row("turned", "balance.turn_deg"),
        ),
    ),
    Group(
        "Weight",
        "what the cloak weighs, and the share that each part of the body holds up; a part that presses down counts 0",
        (
            Row("cloth", "weight.cloth_kg", 2),
            Row("on the neck", "weight.neck_percent", 0),
            Row("on the left shoulder", "weight.shoulder_left_percent", 0),
            Row("on the right shoulder", "weight.shoulder_right_percent", 0),
            Row("on the arms", "weight.arms_percent", 0),
            Row("on the trunk", "weight.torso_percent", 0),
            Row("pressed down by a part", "weight.pressed_down_percent", 0),
            Row("unaccounted for", "weight.balance_error_percent", 2),
        ),
    ),
    Group(
        "Settled",
        "how near to rest the cloth came: the largest force left over on any point, in that point's weight, and how "
        "far it still had to move",
        (
            Row("residual", "residual", 5),
            Row("the largest at height", "worst_height_cm", 0),
            Row("and azimuth", "worst_azimuth_deg", 0),
            Row("still to move", "remaining_mm", 2),
            Row("steps", "steps", 0),
            Row("vertices", "vertices", 0),
            Row("edge length", "edge_length_cm", 2),
            Row("cloth crossing itself", "crossings", 0),
            Row("deepest in the body", "deepest_mm", 2),
        ),
    ),
)

LEVEL_READINGS: Final = (  # words, key under crowding, decimals: one number for each level
    ("fullness", "fullness_percent", 1),
    ("folds", "folds", 0),
    ("deepest fold", "fold_depth_cm", 1),
)

KEY_ORDER: Final = (
    "conclusion",
    "scene", "settled", "residual", "remaining_mm", "worst_height_cm", "worst_azimuth_deg", "steps", "vertices",
    "edge_length_cm", "seconds", "starts", "crossings", "deepest_mm", "remarks", "neck", "collar", "shoulder_left",
    "shoulder_right", "spare", "crowding", "dart", "closure", "fall", "hem", "seated", "dags", "balance", "weight",
    "spread", "verdicts",
)  # fmt: skip

# Printed level by level, or no reading of how the cloak sits.
LEFT_OUT: Final = (
    "conclusion.",
    "seconds.",
    "hem.",
    "seated.",
    "dags.",
    "spread.",
    "starts.",
    "verdicts.",
    "crowding.at_cm.",
    *(f"crowding.{key}." for _, key, _ in LEVEL_READINGS),
)

ODDS: Final = '"7 in 10": of ten runs of this cloak about seven would be beyond the limit, by the reading and its ±.'
NOT_SETTLED: Final = "NOT SETTLED"


# --- JSON -------------------------------------------------------------------------------------


def json_text(value: object) -> str:
    """The value as JSON, two spaces deep, ending in a newline; the same bytes for the same value.

    Readings come in the order of KEY_ORDER, keys not in it after them by name. A number that is
    not finite becomes null: JSON has no other word for "no reading".
    """
    return json.dumps(_plain(value), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _plain(value: Any) -> Any:
    """The value in the types JSON has; array scalars and arrays become numbers and lists."""
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, Mapping):
        known = [key for key in KEY_ORDER if key in value] if "settled" in value else list(value)
        rest = sorted(key for key in value if key not in known)
        return {key: _plain(value[key]) for key in (*known, *rest)}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def differences(first: Readings, second: Readings) -> dict[str, Any]:
    """Second minus first for every numeric reading, under the same keys.

    A spread becomes the root of the two squares added. Seconds, texts, verdicts and conclusion are left out;
    so is a reading only one of them has. Lists are taken place by place when equally long.
    """
    left_out = ("seconds", "starts", "verdicts", "conclusion")
    kept = [key for key in first if key in second and key not in left_out]
    changes = {key: _difference(key, first[key], second[key]) for key in kept}
    return {key: change for key, change in changes.items() if change is not None}


def _difference(key: str, first: Any, second: Any) -> Any:
    if isinstance(first, Mapping) and isinstance(second, Mapping):
        return differences(first, second) or None
    if isinstance(first, (list, tuple)) and isinstance(second, (list, tuple)):
        if key in ("at_cm", "at_deg"):
            return list(first) if list(first) == list(second) else None
        if len(first) != len(second):
            return None
        changes = [_difference(key, *pair) for pair in zip(first, second, strict=True)]
        return changes if any(change is not None for change in changes) else None
    if not (_is_number(first) and _is_number(second)):
        return None
    if key.endswith("_spread"):
        return round(math.hypot(first, second), 6)
    return round(second - first, 6)


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


# --- table ------------------------------------------------------------------------------------


def table(
    readings: Sequence[Readings], *, conclusion: str = "", titles: Sequence[str] = (), expects: Sequence[str] = ()
) -> str:
    """The conclusion, then the readings of one or several fittings side by side, 80 columns wide for one or two.

    Two fittings get a third column, second less first. Readings no fitting has are left out;
    ones the table does not know are listed last under their own keys.
    titles and expects: a line and a paragraph for each fitting, from its scene.
    """
    columns = list(readings)
    lines = [*wrapped(conclusion), ""] if conclusion else []
    lines += head_lines(columns, titles)
    lines += [line for number, reading in enumerate(columns) for line in stamp_lines(reading, number, len(columns))]
    names = column_names([str(reading.get("scene", "")) for reading in columns])
    for name, column in zip(names, columns, strict=True):
        lines += remark_lines(column.get("remarks") or [], f", {name}" if len(columns) > 1 else "")
    heads = [*names, "difference"] if len(columns) == 2 else names
    if len(columns) > 1:
        lines += ["", " " * LABEL_WIDTH + "".join(f"{h[: CELL_WIDTH - 1]:>{CELL_WIDTH}}" for h in heads)]
    for group in GROUPS:
        lines += _group_lines(group, columns, names)
        if group.heading == "Crowding":
            lines += _level_lines(columns)
        if group.heading == "Fall":
            lines += _trim_lines(columns, names)
            lines += _dag_lines(columns, names)
    lines += _other_lines(columns)
    lines += spread_lines(columns, names)
    lines += _verdict_lines(columns, names)
    for name, expect in zip(names, expects, strict=False):
        if expect.strip():
            prefix = f"{name}, " if len(columns) > 1 else ""
            lines += ["", *wrapped(f"Expected, {prefix}as the scene says: {' '.join(expect.split())}")]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def column_names(names: Sequence[str]) -> list[str]:
    """Names short enough to head a column: what they begin with alike, up to a hyphen, is dropped.

    >>> column_names(["ferry-warden-round", "ferry-warden-tailored"])
    ['round', 'tailored']
    """
    parts = [name.split("-") for name in names]
    alike = 0
    if len(names) > 1:
        for words in zip(*parts, strict=False):
            if len(set(words)) > 1:
                break
            alike += 1
    alike = min([alike, *(len(words) - 1 for words in parts)])
    return ["-".join(words[alike:]) for words in parts]


def head_lines(columns: Sequence[Readings], titles: Sequence[str]) -> list[str]:
    """A line for each draft: its title, and the scene's name."""
    lines = []
    for reading, title in zip_longest(columns, titles):
        name = str(reading.get("scene", "")) if reading else ""
        lines += wrapped(f"{title} ({name})" if title else name)
    return lines


def stamp_lines(reading: Readings, number: int, count: int) -> list[str]:
    """What stands above the readings of a cloak that had not come to rest; nothing of one that had."""
    if reading.get("settled") is True:
        return []
    whose = f" ({reading.get('scene', number + 1)})" if count > 1 else ""
    return ["", *wrapped(
        f"*** {NOT_SETTLED}{whose} *** The cloth had not come to rest: residual "
        f"{_cell(reading.get('residual'), 4)} of a vertex's weight, "
        f"{_cell(reading.get('remaining_mm'), 1)} mm still to move. Trust no reading below."
    )]  # fmt: skip


def _group_lines(group: Group, columns: Sequence[Readings], names: Sequence[str]) -> list[str]:
    rows = [row for row in group.rows if any(value_at(c, row.key) is not None for c in columns)]
    if not rows:
        return []
    lines = ["", *_heading(group.heading, group.meaning)]
    for row in rows:
        is_words = any(isinstance(value_at(column, row.key), str) for column in columns)
        lines += _words_lines(row, columns, names) if is_words else [_row_line(row, columns)]
    return lines


def _words_lines(row: Row, columns: Sequence[Readings], names: Sequence[str]) -> list[str]:
    """A reading in words, too wide for a column: a line for each draft."""
    whose = [f", {name}" for name in names] if len(columns) > 1 else [""]
    said = zip(whose, columns, strict=True)
    return [f"  {row.words}{who}: {value_at(column, row.key) or '-'}" for who, column in said]


def _heading(heading: str, meaning: str) -> list[str]:
    return textwrap.wrap(f"{heading}: {meaning}.", PAGE_WIDTH, subsequent_indent="  ")


def _row_line(row: Row, columns: Sequence[Readings]) -> str:
    unit = unit_symbol(row.key)
    label = f"  {row.words}" + (f" [{unit}]" if unit else "")
    cells = [cell_with_spread(column, row.key, row.decimals) for column in columns]
    if len(columns) == 2:
        cells.append(difference_of(columns, row.key, row.decimals))
    return f"{label:<{LABEL_WIDTH}}" + "".join(f"{cell:>{CELL_WIDTH}}" for cell in cells)


def difference_of(columns: Sequence[Readings], key: str, decimals: int) -> str:
    """The second draft's reading less the first's, with its ±; empty where one has none."""
    first, second = (value_at(column, key) for column in columns)
    both = _is_number(first) and _is_number(second)
    return change(second - first, decimals, _spread_of_change(columns, key)) if both else ""


def _level_lines(columns: Sequence[Readings]) -> list[str]:
    """Fullness and folds at each level below the side neck points."""
    levels: Sequence[float] = next((c["crowding"]["at_cm"] for c in columns if value_at(c, "crowding.at_cm")), [])
    lines = []
    for words, key, decimals in LEVEL_READINGS:
        unit = f" [{unit_symbol(key)}]" if ending_of(key) else ""
        for place, level in enumerate(levels):
            row = Row(f"{words} {level:g} cm down{unit}", f"crowding.{key}.{place}", decimals)
            if any(value_at(column, row.key) is not None for column in columns):
                lines.append(_row_line(row, columns))
    return lines


SIDE_AT: Final = {0: "front ", 90: "left ", 180: "back ", 270: "right "}  # by azimuth [deg]


def _trim_lines(columns: Sequence[Readings], names: Sequence[str]) -> list[str]:
    """What the hem was let out or taken off in front, at the sides and behind, for each draft that was trimmed."""
    lines: list[str] = []
    for name, column in zip(names, columns, strict=True):
        hem = column.get("hem")
        if not hem:
            continue
        whose = f", {name}" if len(columns) > 1 else ""
        pairs = zip(hem["at_deg"], hem["trim_cm"], strict=True)
        said = ", ".join(f"{SIDE_AT.get(place, '')}{place:.0f}° {change(trim, 1)}" for place, trim in pairs)
        ends = " and ".join(change(trim, 1) for trim in hem["opening_trim_cm"])
        text = f"hem let out (+) or taken off (-) [cm]{whose}: {said}; at the opening edges {ends}."
        lines += textwrap.wrap(text, PAGE_WIDTH, initial_indent="  ", subsequent_indent="    ")
    return lines


def _dag_lines(columns: Sequence[Readings], names: Sequence[str]) -> list[str]:
    """The dags of each draft, and whether they were settled or, too fine for its triangles, only drawn and cut."""
    lines: list[str] = []
    for name, column in zip(names, columns, strict=True):
        whose = f", {name}" if len(columns) > 1 else ""
        for dags in column.get("dags") or []:
            size = f"{dags['count']} {dags['kind']} dags, {dags['width_cm']:.1f} cm wide, {dags['depth_cm']:.1f} deep"
            how = "fall is read at their tips" if dags["edge"] == "hem" else "cut into the triangles"
            if not dags["settled"]:
                how = "too fine for these triangles: the edge was settled whole, the dags are drawn and cut only"
            text = f"{dags['edge']}{whose}: {size}; {how}."
            lines += textwrap.wrap(text, PAGE_WIDTH, initial_indent="  ", subsequent_indent="    ")
    return lines


def _other_lines(columns: Sequence[Readings]) -> list[str]:
    """Numbers among the readings that no group names, so that none goes unseen."""
    known = {row.key for group in GROUPS for row in group.rows}
    found: dict[str, None] = {}
    for column in columns:
        for key in _number_keys(column):
            skip = key.startswith(LEFT_OUT) or "_spread" in key
            if key not in known and not skip:
                found[key] = None
    if not found:
        return []
    rows = (Row(_words(key), key, 2) for key in found)
    return ["", "Other readings.", *(_row_line(row, columns) for row in rows)]


def _number_keys(value: Any, prefix: str = "") -> list[str]:
    if isinstance(value, Mapping):
        items = list(value.items())
    elif isinstance(value, (list, tuple)):
        items = list(enumerate(value))
    else:
        return [prefix.rstrip(".")] if _is_number(value) else []
    return [key for name, item in items for key in _number_keys(item, f"{prefix}{name}.")]


def _words(key: str) -> str:
    return bare_name(key).replace("_", " ").replace(".", " ")


def _verdict_lines(columns: Sequence[Readings], names: Sequence[str]) -> list[str]:
    lines: list[str] = []
    for name, column in zip(names, columns, strict=True):
        verdicts = column.get("verdicts") or []
        whose = f", {name}" if len(columns) > 1 else ""
        if verdicts:
            lines += ["", f"Verdicts{whose}"]
        for verdict in verdicts:
            lines += wrapped(f"- {verdict.get('where', '')}: {verdict.get('finding', '')}", indent="  ")
            if verdict.get("mend"):
                lines += [f"  {line}" for line in wrapped(f"Mend: {verdict['mend']}", width=PAGE_WIDTH - 2)]
    if any(map(has_odds, columns)):
        lines += wrapped(ODDS)
    return lines


def has_odds(readings: Readings) -> bool:
    """Whether any verdict says how likely it is."""
    verdicts = readings.get("verdicts") or []
    return any(one.get("undecided") and one.get("likely_percent") is not None for one in verdicts)


def value_at(readings: Readings, key: str) -> Any:
    """The value under a dotted key (`neck.gap_front_cm`, `dart.0.intake_cm`), or None."""
    value: Any = readings
    for part in key.split("."):
        if isinstance(value, Mapping):
            value = value.get(part)
        elif isinstance(value, (list, tuple)) and part.isdigit() and int(part) < len(value):
            value = value[int(part)]
        else:
            return None
    return value


def cell_with_spread(column: Readings, key: str, decimals: int) -> str:
    """A reading as the table shows it: the number, and its spread where one is given."""
    return f"{_cell(value_at(column, key), decimals)}{with_sign(spread_at(column, key), decimals)}"


def with_sign(spread: Any, decimals: int) -> str:
    """A spread after its number, as " ±0.3"; nothing where there is none, or none of so many decimals."""
    return f" ±{spread:.{decimals}f}" if _is_number(spread) and round(spread, decimals) else ""


ROW_OF: Final = MappingProxyType({row.key: (k, row) for k, row in enumerate(r for g in GROUPS for r in g.rows)})


def place_in_table(key: str) -> int:
    """The number of a reading's row in the table; of one without a row, the number after the last."""
    return ROW_OF[key][0] if key in ROW_OF else len(ROW_OF)


def decimals_of(key: str) -> int:
    """How many decimals the table shows of a reading."""
    return ROW_OF[key][1].decimals if key in ROW_OF else 1


def reading_words(key: str) -> tuple[str, str]:
    """A reading in the words of the table, and its unit: `("shoulder stand-off, mean, left", "cm")`."""
    rows = {row.key: f"{group.heading.lower()}, {row.words}" for group in GROUPS for row in group.rows}
    return rows.get(key, _words(key)), unit_symbol(key)


def spread_at(readings: Readings, key: str) -> Any:
    """The spread of the reading under a dotted key, or None; of one in a list,
    the same place of the list of spreads.
    """
    name, _, place = key.rpartition(".")
    return value_at(readings, f"{name}_spread.{place}" if place.isdigit() else f"{key}_spread")


def _spread_of_change(columns: Sequence[Readings], key: str) -> float | None:
    """Spread of the difference of two readings, None where either has none."""
    spreads = [spread_at(column, key) for column in columns]
    return math.hypot(*spreads) if all(map(_is_number, spreads)) else None


def spread_lines(columns: Sequence[Readings], names: Sequence[str]) -> list[str]:
    """Where each ± comes from, once for all that are alike."""
    notes: dict[str, list[str]] = {}
    for name, column in zip(names, columns, strict=True):
        words = value_at(column, "spread.words")
        if words:
            notes.setdefault(words, []).append(name)
    alike = len(notes) == 1 and len(next(iter(notes.values()))) == len(columns)
    return [
        line
        for words, whose in notes.items()
        for line in ["", *wrapped(words if alike else f"{', '.join(whose)}, {words}")]
    ]


def _cell(value: Any, decimals: int) -> str:
    return f"{value:.{decimals}f}" if _is_number(value) else "-"


def change(value: float, decimals: int, spread: float | None = None) -> str:
    """A difference with its sign and ±; one that shows as nought has no sign."""
    rounded = round(value, decimals)
    text = f"{rounded:+.{decimals}f}" if rounded else f"{0:.{decimals}f}"
    return f"{text}{with_sign(spread, decimals)}"


def unit_symbol(key: str) -> str:
    """The unit a key ends in as people write it, or ""."""
    ending = ending_of(key)
    return UNITS[ending].symbol if ending else ""


def wrapped(text: str, *, indent: str = "", width: int = PAGE_WIDTH) -> list[str]:
    """The text in lines of at most `width` letters, the second and later ones indented."""
    return textwrap.wrap(text, width, subsequent_indent=indent) or [""]


# --- cautions, dimensions --------------------------------------------------------------------


def cautions_text(lines: Sequence[str]) -> str:
    """The cautions as a block to stand under a table, or "" when there are none."""
    if not lines:
        return ""
    parts = [part for line in lines for part in wrapped(f"- {line}", indent="  ")]
    return "\n".join(["", "Cautions", *parts]) + "\n"


def remark_lines(remarks: Sequence[str], whose: str = "") -> list[str]:
    """What of the draft is not as asked, as a block with a line above it; nothing where all is."""
    if not remarks:
        return []
    return [
        "",
        f"Not as asked, or to think over{whose}",
        *(part for line in remarks for part in wrapped(f"- {line}", indent="  ")),
    ]


def edge_dimensions(dimensions: Mapping[str, float]) -> dict[str, float]:
    """A draft's dimensions as the edge writes them: lengths in `_cm`, the area in `_m2`.

    dimensions: SI, as `draft` gives them [m, m²].
    """
    keys = {name: f"{name}_m2" if name == "area" else f"{name}_cm" for name in dimensions}
    return {key: round(from_si(key, dimensions[name]), 4) for name, key in keys.items()}


NOT_AN_ARC: Final = "The hem is not an arc: chalk it from its points."


def dimension_rows(dimensions: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """A draft's dimensions in rows of words, unit, number; `dimensions` with units in the keys and the darts' places.

    A hem that is not an arc shows its least and greatest radius, so that nobody strikes it with one string.
    """
    least, most = (dimensions.get(f"hem_radius_{which}_cm") for which in ("min", "max"))
    places = dimensions.get("dart_places") or []
    rows = []
    for key, value in dimensions.items():
        if not _is_number(value) or key in ("hem_radius_min_cm", "hem_radius_max_cm"):
            continue
        words, unit = _words(key), unit_symbol(key)
        which = re.fullmatch(r"dart (?:(\d+) )?(intake|length)", words)
        if which and places:
            words = f"dart {which[2]}, {places[int(which[1] or 1) - 1]}"
        if key == "hem_radius_cm" and least is not None:
            rows.append(("hem radius, not an arc", unit, f"{least:.1f} to {most:.1f}"))
            words = "hem radius at centre back"
        rows.append((words, unit, f"{value:.{3 if key.endswith('_m2') else 1}f}"))
    return rows


def dimensions_table(title: str, dimensions: Mapping[str, Any]) -> str:
    """The flat draft's dimensions, one to a line; `dimensions` with units in the keys."""
    lines = wrapped(title) + [""]
    if dimensions.get("word"):
        lines.append(f"  {'kind':<{LABEL_WIDTH}}{dimensions['word']:>{CELL_WIDTH}}")
    rows = [(f"{words} [{unit}]", cell) for words, unit, cell in dimension_rows(dimensions)]
    wide = max([LABEL_WIDTH, *(len(words) for words, _ in rows)])
    lines += [f"  {words:<{wide}}{cell:>{CELL_WIDTH}}" for words, cell in rows]
    if "hem_radius_min_cm" in dimensions:
        lines += ["", NOT_AN_ARC]
    lines += remark_lines(dimensions.get("remarks") or [])
    return "\n".join(lines) + "\n"


CLOTH_COLUMNS: Final = (  # two blocks of: heading, key, decimals
    (
        ("g/m²", "areal_density_g_m2", 0),
        ("mm", "thickness_mm", 1),
        ("bend cm", "bending_length_warp_cm", 2),
        ("weft", "bending_length_weft_cm", 2),
        ("B µN·m", "rigidity_warp_un_m", 1),
        ("weft", "rigidity_weft_un_m", 1),
    ),
    (
        ("pull N/m", "tensile_stiffness_warp_n_m", 0),
        ("weft", "tensile_stiffness_weft_n_m", 0),
        ("shear", "shear_stiffness_n_m", 0),
        ("twist", "twist_rigidity_un_m", 1),
        ("Poisson", "poisson_ratio", 2),
        ("on cloth", "friction_on_cloth", 2),
        ("on body", "friction_on_figure", 2),
    ),
)
