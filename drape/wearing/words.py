"""Words: how a cloak wears, as a table and as one JSON object.

In: a `Wearing`, or those of several starts. Out: text for a terminal, and the object of `drape wear --json`.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any, Final

from drape.reading.cautions import WornSo, cautions
from drape.reading.table import PAGE_WIDTH, cautions_text
from drape.units import from_si
from drape.wearing.choices import LEANING, STANDING, THROWN
from drape.wearing.sentences import said
from drape.wearing.wear import Wearing

Reading = Mapping[str, Any]

COLUMNS: Final = (  # heading, dotted key, decimals
    ("slid", "slid_cm", 0),
    ("front", "cover.front_percent", 0),
    ("back", "cover.back_percent", 0),
    ("rain", "cover.rain_percent", 0),
    ("pull", "pull_n", 1),
    ("throat", "throat_n", 1),
    ("left", "shoulder_left_percent", 0),
    ("right", "shoulder_right_percent", 0),
    ("hem", "hem_lowest_cm", 0),
)
LABEL: Final = 30
COARSE: Final = 0.035  # m: over a shoulder, some 6 cm round, longer triangles hold on to each other by their corners
CELL: Final = 7
FOOT: Final = (
    "slid: cm that the marked edge has moved: of a front thrown over where it was gripped, else the neck edge. front, "
    "back, rain: % of trunk, arms and legs under cloth, seen from there; rain falls in the face, 30° off upright. pull "
    "on the closure, load on the throat: N. left, right: % of the cloak's weight on that half of the body. hem: its "
    "lowest place, cm above the floor. Of a move: the worst of its rests; slid: once back."
)


def wearing_object(wearing: Wearing, ways: Sequence[Reading], *, edge_length: float, seconds: float) -> dict[str, Any]:
    """The object of `drape wear --json`. ways: their readings, of one start or of several."""
    return {
        "scene": wearing.scene.name,
        "settled": bool(wearing.fitting.readings["settled"]) and all(way["settled"] for way in ways),
        "edge_length_cm": round(from_si("edge_length_cm", edge_length), 4),
        "cloth": wearing.scene.cloth.name,
        "ways": [dict(way) for way in ways],
        "left_out": list(wearing.left_out),
        "remarks": worn_remarks(ways, edge_length),
        "cautions": worn_cautions(wearing, ways),
        "seconds": round(seconds, 2),
    }


def worn_remarks(ways: Sequence[Reading], edge_length: float) -> list[str]:
    """What to know of these readings before one relies on them. edge_length of the triangles [m]."""
    if edge_length <= COARSE or not any(way["how"] == THROWN and way["stays"] for way in ways):
        return []
    return [
        f"{THROWN}: with triangles of {from_si('edge_length_cm', edge_length):g} cm, layers catch on each other and "
        "stay where they would slide. Ask with --edge-length-cm 3 before you rely on it."
    ]


def wearing_text(wearing: Wearing, ways: Sequence[Reading], *, edge_length: float) -> str:
    """What a maker reads: a line for each way and move, what it means, then the cautions."""
    heads = "".join(f"{head:>{CELL}}" for head, _, _ in COLUMNS)
    lines = [f"As worn: {wearing.scene.title}", "", f"{'':{LABEL}}{heads}"]
    for way in ways:
        words = way["how"] if way["doing"] == STANDING else f"  {way['doing']}"
        lines.append(f"{words:{LABEL}}" + "".join(_cell(way, key, decimals) for _, key, decimals in COLUMNS))
    lines += ["", *textwrap.wrap(FOOT, PAGE_WIDTH), ""]
    for way in ways:
        lines += textwrap.wrap(said(way), PAGE_WIDTH, initial_indent="- ", subsequent_indent="  ")
    for line in (*(f"Left out: {line}" for line in wearing.left_out), *worn_remarks(ways, edge_length)):
        lines += textwrap.wrap(line, PAGE_WIDTH, initial_indent="- ", subsequent_indent="  ")
    return "\n".join(lines) + "\n" + cautions_text(worn_cautions(wearing, ways))


def _cell(way: Reading, key: str, decimals: int) -> str:
    group, _, name = key.rpartition(".")
    value = (way[group] if group else way)[name]
    return f"{'–':>{CELL}}" if value is None else f"{value:{CELL}.{decimals}f}"


def worn_cautions(wearing: Wearing, ways: Sequence[Reading]) -> list[str]:
    """What to be careful of in these ways of wearing, beside what holds for the cloak as it hangs."""
    scene = wearing.scene
    thrown = [way["throat_n"] for way in ways if way["how"] == THROWN and way["settled"]]
    lowest = [way["hem_lowest_cm"] for way in ways if way["settled"]]
    return cautions(
        sex=scene.sex, stature=scene.tape.get("stature"), cloths=scene.layers,
        clearance_cm=min(lowest, default=None), fastening=scene.style.fastening,
        worn=WornSo(
            max(thrown, default=None), trodden_on=any(way["trodden_on"] for way in ways),
            leaning=any(way["doing"] == LEANING for way in ways),
        ),
    )  # fmt: skip
