"""What the page tells: the parts of the page as HTML, from what the book's keeper knows.

In: the keeper. Out: HTML of each part by its name, everything in it escaped. Words and numbers are those of
`conclusion`, `verdict`, `table` and `cautions`; the marks and places are those of the readings. No arithmetic.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from drape.book.entries import Entry
from drape.book.said import Fields, in_words, mend_said
from drape.cutting.chalk_points import chalk_points
from drape.fitting.quality import DOINGS, HOWS, QUALITY_EDGE_LENGTH_CM
from drape.page import fragment_text
from drape.reading.brief import DECIDING, wrong
from drape.reading.cautions import cautions
from drape.reading.conclusion import starts_of
from drape.reading.table import (
    cell_with_spread,
    decimals_of,
    difference_of,
    dimension_rows,
    edge_dimensions,
    place_in_table,
    reading_words,
    value_at,
)
from drape.units import from_si

if TYPE_CHECKING:
    from drape.book.keeper import Keeper

PARTS: Final = ("visit", "order", "tape", "draft", "status", "answer", "entries", "worn", "cloth", "sheet")
VIEWS: Final = (
    ("front", "Front", 0), ("left", "Wearer's left", 90), ("back", "Back", 180), ("right", "Wearer's right", 270),
)  # fmt: skip


def parts_of(keeper: Keeper, wanted: Sequence[str] = PARTS) -> dict[str, str]:
    """The HTML of the parts of the page."""
    made = {
        "visit": visit_told, "order": order_told, "tape": order_told, "draft": draft_told, "status": status_told,
        "answer": answer_told, "entries": entries_told, "worn": worn_told, "cloth": cloth_told, "sheet": sheet_told,
    }  # fmt: skip
    return {name: fragment_text(f"book/page/{name}.html", made[name](keeper)) for name in wanted}


def visit_told(keeper: Keeper) -> dict[str, Any]:
    return {"is_first": len(keeper.entries) < 2, "folder": keeper.folder.path.name}


def order_told(keeper: Keeper) -> dict[str, Any]:
    order = keeper.order()
    cloths = [one for one in keeper.errands_told() if one["kind"] == "cloth"]
    return {
        "sentences": order.sentences(), "tape": order.tape(), "trouble": keeper.trouble,
        "figure": keeper.figure_drawing, "others": keeper.folder.other_scenes(),
        "remarks": list(keeper.draft.remarks) if keeper.draft is not None else [],
        "cloths": [one for k, one in enumerate(cloths) if k == 0 or one["state"] != "not done"],
    }  # fmt: skip


def draft_told(keeper: Keeper) -> dict[str, Any]:
    rows = []
    if keeper.draft is not None:
        rows = dimension_rows(edge_dimensions(keeper.draft.dimensions))
    return {
        "sheet": keeper.sheet, "rows": rows, "is_estimate": keeper.draft is not None and keeper.hem_hangs(),
        "typed": keeper.typed,
    }  # fmt: skip


def status_told(keeper: Keeper) -> dict[str, Any]:
    return {
        "state": keeper.state_word(), "words": keeper.words, "fraction": keeper.fraction, "to_go": keeper.to_go,
        "complaint": keeper.complaint, "entry": keeper.open_entry(), "quality": keeper.quality,
        "is_being_sure": keeper.being_sure is not None,
        "qualities": [(name, f"{name}, {cm:g} cm triangles") for name, cm in QUALITY_EDGE_LENGTH_CM.items()],
    }  # fmt: skip


def answer_told(keeper: Keeper) -> dict[str, Any]:
    entry = keeper.open_entry()
    is_current = entry is not None and keeper.is_at_rest()
    readings: Mapping[str, Any] = entry.readings if entry is not None and is_current else {}
    fields = keeper.order().fields() if readings else {}
    return {
        "state": keeper.state_word(), "entry": entry, "readings": readings, "words": keeper.found_words,
        "conclusion": in_words(fields, value_at(readings, "conclusion.text") or ""),
        "faults": faults_of(entry, fields) if readings else [],
        "fine": [v for v in readings.get("verdicts", []) if not v.get("harm")],
        "cautions": cautions_of(keeper, readings), "is_settled": readings.get("settled", False),
        "starts": starts_of(readings), "can_mend": bool(readings) and bool(wrong(readings)),
        "is_being_sure": keeper.being_sure is not None, "is_open": is_open(entry, readings),
    }  # fmt: skip


def is_open(entry: Entry | None, readings: Mapping[str, Any]) -> bool:
    """Whether it is undecided if the draft sits."""
    return entry is not None and value_at(readings, f"conclusion.sits.{entry.name}") == "undecided"


def faults_of(entry: Entry | None, fields: Fields) -> list[dict[str, Any]]:
    """What is wrong or may be, numbered in order of harm, with its place and whether there is something to try."""
    if entry is None:
        return []
    told = []
    for number, verdict in enumerate(wrong(entry.readings), start=1):
        place = entry.places.get(str(verdict.get("reading")))
        told.append({
            "number": number, "where": verdict["where"], "finding": verdict["finding"],
            "mend": mend_said(fields, verdict["mend"], verdict.get("changes") or []),
            "undecided": verdict.get("undecided"),
            "can_try": bool(verdict.get("changes")) and (starts_of(entry.readings) > 1 or not verdict.get("undecided")),
            "place": None if place is None else " ".join(f"{c:.4f}" for c in place),
        })  # fmt: skip
    return told


def cautions_of(keeper: Keeper, readings: Mapping[str, Any]) -> list[str]:
    scene = keeper.scene
    if scene is None:
        return []
    return cautions(
        sex=scene.sex, stature=scene.tape.get("stature"), cloths=scene.layers,
        clearance_cm=value_at(readings, "fall.clearance_cm"),
        throat_line_load_n_m=value_at(readings, "neck.throat_line_load_n_m"), fastening=scene.style.fastening,
    )  # fmt: skip


def entries_told(keeper: Keeper) -> dict[str, Any]:
    entry, fields = keeper.open_entry(), keeper.order().fields()
    rows = [
        {
            "entry": one, "is_open": one.number == keeper.open, "is_pinned": one.number == keeper.pinned,
            "is_laid": one.number == keeper.laid, "picture": keeper.picture_of(one),
            "text": in_words(fields, value_at(one.readings, "conclusion.text") or ""),
            "settled": one.readings.get("settled"), "few": few_readings(one.readings),
        }
        for one in reversed(keeper.entries)
    ]  # fmt: skip
    made = [one for one in keeper.errands_told() if one["kind"] == "trace"]
    return {"rows": rows, "table": table_of(keeper, entry), "open": entry, "others": keeper.folder.other_scenes(),
            "made": made}  # fmt: skip


def few_readings(readings: Mapping[str, Any]) -> list[tuple[str, str]]:
    """The few readings by which an entry is known."""
    few = []
    for key, words in (("neck.gap_max_cm", "neck gap"), ("spare.percent", "spare"), ("fall.lowest_cm", "hem lowest")):
        if value_at(readings, key) is not None:
            few.append((words, f"{cell_with_spread(readings, key, decimals_of(key))} {reading_words(key)[1]}"))
    return few


def table_of(keeper: Keeper, entry: Entry | None) -> dict[str, Any] | None:
    """The readings that decide, of the open entry against the one before it and the pinned one."""
    if entry is None or not entry.readings:
        return None
    against = [keeper.entry_of(number) for number in dict.fromkeys((entry.before, keeper.pinned)) if number]
    others = [one for one in against if one is not None and one.readings and one.number != entry.number]
    columns = [entry.readings, *(one.readings for one in others)]
    keys = {*DECIDING, *(verdict["reading"] for column in columns for verdict in wrong(column))}
    rows = []
    for key in sorted(keys, key=place_in_table):
        if all(value_at(column, key) is None for column in columns):
            continue
        (words, unit), decimals = reading_words(key), decimals_of(key)
        cells = [cell_with_spread(entry.readings, key, decimals)]
        for one in others:
            cells += [cell_with_spread(one.readings, key, decimals),
                      difference_of([one.readings, entry.readings], key, decimals)]  # fmt: skip
        rows.append((words, unit, cells))
    heads = [f"entry {entry.number}"]
    for one in others:
        heads += [f"entry {one.number}{', pinned' if one.number == keeper.pinned else ''}", "change from it"]
    return {"heads": heads, "rows": rows}


def cloth_told(keeper: Keeper) -> dict[str, Any]:
    entry = keeper.open_entry()
    errands = [one for one in keeper.errands_told() if one["kind"] == "cut"]
    return {"entry": entry, "errands": errands, "is_at_rest": keeper.is_at_rest()}


def worn_told(keeper: Keeper) -> dict[str, Any]:
    errands = [one for one in keeper.errands_told() if one["kind"] == "wear"]
    return {"entry": keeper.open_entry(), "errands": errands, "hows": HOWS, "doings": DOINGS,
            "is_at_rest": keeper.is_at_rest()}  # fmt: skip


def sheet_told(keeper: Keeper) -> dict[str, Any]:
    told = answer_told(keeper)
    points = []
    if keeper.draft is not None:
        points = [
            (f"{mark} {words}", f"{from_si('at_cm', place[0]):.1f}", f"{from_si('at_cm', place[1]):.1f}")
            for mark, words, place in chalk_points(keeper.draft)
        ]
    entry = keeper.open_entry()
    picture = keeper.picture_of(entry) if entry is not None else None
    return {**told, "points": points, "title": keeper.scene.title if keeper.scene else "", "picture": picture,
            "body": keeper.scene.body if keeper.scene else "", "sheet": keeper.sheet,
            "layers": " over ".join(keeper.scene.layers) if keeper.scene else ""}  # fmt: skip
