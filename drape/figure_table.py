"""Asked beside got: a mannequin's measures as JSON and as text.

In: a body's tape, SI, and the `Figure` built from it. Out: what `drape measure` prints, cm and degrees.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drape.figure import Figure
from drape.measure import is_watertight, measure_figure, volume
from drape.units import from_si

SLACK_CM, SLACK_SHARE, SLACK_DEG = 0.3, 0.01, 1.0  # of lengths, girths and slopes: beyond it a measure has given way


def measure_object(body: str, figure: Figure, given: Mapping[str, float], seconds: float) -> dict[str, Any]:
    """Return `{body, rows: [{measure, asked, got, filled}], watertight, volume_l, seconds}`.

    `asked` of a filled measure is what it was filled with. given: the body's own tape, SI; seconds: to build the figure.
    """
    got = measure_figure(figure)
    rows = []
    for key, value in got.items():
        name = f"{key}_deg" if "_slope" in key else f"{key}_cm"
        asked = given.get(key, figure.tape[key])
        rows.append({
            "measure": name, "asked": round(from_si(name, asked), 2), "got": round(from_si(name, value), 2),
            "filled": key not in given,
        })  # fmt: skip
    return {
        "body": body, "rows": rows, "watertight": is_watertight(figure), "volume_l": round(1000.0 * volume(figure), 2),
        "seconds": round(seconds, 3),
    }  # fmt: skip


def measure_table(found: Mapping[str, Any]) -> str:
    """Return the same as text, a line for each measure."""
    lines = [f"{found['body']}: what was asked and what the mannequin measures, cm and degrees", ""]
    lines.append(f"  {'':<24}{'asked':>8}{'got':>8}")
    for row in found["rows"]:
        notes = ["filled"] if row["filled"] else []
        notes += ["gives way"] if gives_way(row) else []
        words = row["measure"].rsplit("_", 1)[0].replace("_", " ")
        lines.append(f"  {words:<24}{row['asked']:>8.1f}{row['got']:>8.1f}  {', '.join(notes)}".rstrip())
    closed = "closed" if found["watertight"] else "NOT CLOSED"
    lines += ["", f"  Volume {found['volume_l']:.1f} l, surface {closed}, built in {found['seconds']:.1f} s."]
    if any(gives_way(row) for row in found["rows"]):
        lines.append("  What gives way makes room for measures that do not fit it: see README, drape measure.")
    return "\n".join(lines) + "\n"


def gives_way(row: Mapping[str, Any]) -> bool:
    """Whether a measure differs from what was asked by more than 3 mm, 1 % of a girth, or 1 degree."""
    off = abs(row["got"] - row["asked"])
    if row["measure"].endswith("_deg"):
        return off > SLACK_DEG
    return off > (SLACK_SHARE * row["asked"] if row["measure"].endswith("_girth_cm") else SLACK_CM)
