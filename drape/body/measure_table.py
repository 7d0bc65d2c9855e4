"""Asked beside got: a mannequin's measures as JSON and as text.

In: a body's tape, SI, and the `Figure` built from it. Out: what `drape measure` prints, cm and degrees.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from drape.body.figure import Figure
from drape.body.measure import is_watertight, measure_figure, volume
from drape.body.stance import UPRIGHT_STANCE
from drape.units import from_si

SLACK_CM, SLACK_SHARE, SLACK_DEG = 0.3, 0.01, 1.0  # of lengths, girths and slopes: beyond it a measure has given way
WORDS = {"stance": "Stance", "arms": "Arms", "worn_under": "Worn under the cloak"}


def measure_object(body: str, figure: Figure, given: Mapping[str, float], seconds: float) -> dict[str, Any]:
    """Return `{body, rows: [{measure, asked, got, filled}], watertight, volume_l, seconds}`, and what is not usual.

    `asked` of a filled measure is what it was filled with; `got` is None where the arms are not held for it. Over
    something worn each row also has `over`, the same measured over that. Stance, arms and thickness are there when they
    are not the usual ones. given: the body's own tape, SI; seconds: to build the figure.
    """
    body_itself = figure.bare or figure
    got = measure_figure(body_itself)
    over = measure_figure(figure) if figure.bare else {}
    rows = []
    for key, value in got.items():
        name = f"{key}_deg" if "_slope" in key else f"{key}_cm"
        asked = given.get(key, body_itself.tape[key])
        row = {"measure": name, "asked": _edge(name, asked), "got": _edge(name, value), "filled": key not in given}
        rows.append({**row, "over": _edge(name, over[key])} if over else row)
    return {
        "body": body, **_held(figure), "rows": rows, "watertight": is_watertight(figure),
        "volume_l": round(1000.0 * volume(body_itself), 2), "seconds": round(seconds, 3),
    }  # fmt: skip


def _edge(name: str, value: float | None) -> float | None:
    """Return a measure in the unit its name ends in, to a tenth of a mm or degree."""
    return None if value is None else round(from_si(name, value), 2)


def _held(figure: Figure) -> dict[str, Any]:
    """Return stance, arms and what is worn under the cloak, each only where it is not the usual."""
    stance = {
        key if isinstance(value, str) else f"{key}_cm": value if isinstance(value, str) else _edge(f"{key}_cm", value)
        for key, value in asdict(figure.stance).items()
        if value != getattr(UPRIGHT_STANCE, key)
    }
    arms = dict(zip(("left", "right"), figure.arms, strict=True)) if figure.arms != ("down", "down") else {}
    worn = {f"{key}_cm": _edge(f"{key}_cm", value) for key, value in figure.worn_under.items() if value}
    return {key: said for key, said in (("stance", stance), ("arms", arms), ("worn_under", worn)) if said}


def measure_table(found: Mapping[str, Any]) -> str:
    """Return the same as text, a line for each measure."""
    worn = any("over" in row for row in found["rows"])
    lines = [f"{found['body']}: what was asked and what the mannequin measures, cm and degrees", ""]
    lines += [f"  {WORDS[table]}: {_said(found[table])}." for table in WORDS if table in found]
    lines += [""] if len(lines) > 2 else []
    lines.append(f"  {'':<24}{'asked':>8}{'got':>8}{'over' if worn else '':>8}".rstrip())
    for row in found["rows"]:
        notes = ["filled"] if row["filled"] else []
        notes += ["gives way"] if gives_way(row) else []
        words = row["measure"].rsplit("_", 1)[0].replace("_", " ")
        notes += ["not with this arm"] if row["got"] is None else []
        numbers = [row["asked"], row["got"]] + ([row["over"]] if worn else [])
        columns = "".join(f"{'-':>8}" if one is None else f"{one:>8.1f}" for one in numbers)
        lines.append(f"  {words:<24}{columns}  {', '.join(notes)}".rstrip())
    closed = "closed" if found["watertight"] else "NOT CLOSED"
    lines += ["", f"  Volume {found['volume_l']:.1f} l, surface {closed}, built in {found['seconds']:.1f} s."]
    if any(gives_way(row) for row in found["rows"]):
        lines.append("  What gives way makes room for measures that do not fit together: see `drape guide body`.")
    return "\n".join(lines) + "\n"


def _said(values: Mapping[str, Any]) -> str:
    """Return keys and values in words: `left down, stoop 4.0 cm`."""
    return ", ".join(
        f"{key} {value}" if isinstance(value, str) else f"{key.removesuffix('_cm').replace('_', ' ')} {value:.1f} cm"
        for key, value in values.items()
    )


def gives_way(row: Mapping[str, Any]) -> bool:
    """Whether a measure differs from what was asked by more than 3 mm, 1 % of a girth, or 1 degree."""
    if row["got"] is None:
        return False
    off = abs(row["got"] - row["asked"])
    if row["measure"].endswith("_deg"):
        return off > SLACK_DEG
    return off > (SLACK_SHARE * row["asked"] if row["measure"].endswith("_girth_cm") else SLACK_CM)
