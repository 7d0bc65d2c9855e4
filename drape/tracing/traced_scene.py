"""The scene of a traced drawing, as the text of a file; and what is said of it.

In: a `Traced`. Out: TOML that `scene` reads, its header telling how far the drawing lies from the draft; a table for
the terminal, and the same as an object. Lengths in cm to a tenth of a millimetre.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import tomlkit
from tomlkit.items import Table

from drape.draft.style import Style
from drape.plain import plain_line
from drape.reading.table import edge_dimensions
from drape.tracing.old_cuts import old_cuts
from drape.tracing.sector import CLOSE
from drape.tracing.trace import Traced
from drape.units import from_si

LENGTHS: Final = (
    "length", "front_length", "side_length", "front_neck_depth", "back_neck_depth", "neck_width", "neck_ease",
)  # fmt: skip
DRAWN: Final = (
    "neck_along", "neck_up", "hem_along", "hem_up", "first_edge_along", "first_edge_aside", "last_edge_along",
    "last_edge_aside",
)  # fmt: skip
CUT: Final = ("shoulder_cut_intake", "shoulder_cut_length", "shoulder_cut_bow")
USUAL_CLOTH: Final = "heavy melton"
TRIANGLES: Final = 1.5  # cm
KINDS: Final = {"round": "one arc", "tailored": "our tailored neck", "drawn": "drawn, through points"}
SUREST_ANGLE: Final = 5e-4  # m at the hem that rounding an angle may move it


def scene_text(traced: Traced, body: str) -> str:
    """The scene as the text of a file, for a body by its name or path."""
    document = tomlkit.document()
    for line in header(traced):
        document.add(tomlkit.comment(line) if line else tomlkit.nl())
    document.add(tomlkit.nl())
    document.add("title", tomlkit.item(f"Traced from {plain_line(Path(traced.label).name)}"))
    document.add("figure", _table({"body": body}))
    document.add("cloth", _table({"cloth": USUAL_CLOTH}))
    style = traced.style
    document.add("draft", _draft(style, traced.drawn.radius))
    document.add("closure", _closure(style))
    if style.darts:
        rows = tomlkit.aot()
        for dart in style.darts:
            row = _table({"place": dart.place} if dart.place is not None else {})
            if dart.azimuth is not None:
                row.add("azimuth_deg", round(math.degrees(dart.azimuth), 2))
            row.add("length_cm", _cm(dart.length or 0.0))
            row.add("intake_cm", _cm(dart.intake or 0.0))
            if dart.leg_bow:
                row.add("leg_bow_cm", _cm(dart.leg_bow))
            rows.append(row)
        document.add("dart", rows)
    old = None if traced.changes else old_cuts(traced.drawn)
    if old is not None and old.cuts.levels:
        piecing = _table({"width_cm": _cm(old.width)})
        if old.grain:
            piecing.add("grain_deg", round(math.degrees(old.grain), 2))
        piecing.add("levels_cm", [_cm(level) for level in old.cuts.levels])
        document.add("piecing", piecing)
        if old.cuts.ends:
            seams = tomlkit.aot()
            for strip, places in old.cuts.ends:
                seams.append(_table({"strip": strip + 1, "at_cm": [_cm(place) for place in places]}))
            document.add("cross_seam", seams)
    document.add("settle", _table({"edge_length_cm": TRIANGLES}))
    return tomlkit.dumps(document)


def _table(values: Mapping[str, Any]) -> Table:
    table = tomlkit.table()
    for key, value in values.items():
        table.add(key, value)
    return table


def _draft(style: Style, radius: float) -> Table:
    table = _table({"sweep_deg": _degrees(style.sweep, radius), "neck": style.neck})
    for name in LENGTHS:
        value = getattr(style, name)
        if value is not None:
            table.add(f"{name}_cm", _cm(value))
    for name in DRAWN:
        if getattr(style, name):
            table.add(f"{name}_cm", [_cm(value) for value in getattr(style, name)])
    return table


def _closure(style: Style) -> Table:
    table = _table({"place": style.closure_place})
    for name in CUT:
        value = getattr(style, name)
        if value is not None and not (name == "shoulder_cut_bow" and not value):
            table.add(f"{name}_cm", _cm(value))
    return table


def _cm(value: float) -> float:
    return round(from_si("length_cm", value), 2) + 0.0


def _degrees(value: float, radius: float) -> float:
    """An angle in degrees, to a tenth where that moves nothing at the hem."""
    degrees = math.degrees(value)
    near = round(degrees, 1)
    return near if abs(math.radians(near) - value) * radius < SUREST_ANGLE else round(degrees, 3)


# --- what is said -----------------------------------------------------------------------------


def header(traced: Traced) -> list[str]:
    """The lines of notes above the scene."""
    name = plain_line(Path(traced.label).name)
    lines = [
        f"Traced from {name}, scaled {traced.scale_said}.",
        f"Closes at: {traced.fitted.style.closure_place} ({traced.closure_said}).",
        "Edge, what it was taken from, how far the drawing lies from this draft on average and at most:",
    ]
    lines += [f"  {edge}: {how}; {mean:.1f} and {most:.1f} mm" for edge, how, mean, most in edge_rows(traced)]
    lines += remarks(traced) + changes_said(traced)
    if traced.changes:
        return lines
    return [*lines, "The wearer and the cloth are not in a drawing: write whom it is for, and of what."]


def edge_rows(traced: Traced) -> list[tuple[str, str, float, float]]:
    """Each edge, what it was found by, and how far off it lies on average and at most [mm]."""
    found = []
    for edge, (mean, most) in traced.fitted.off.items():
        found.append((edge, traced.edges.how.get(edge, ""), 1000 * mean, 1000 * most))
    return found


def remarks(traced: Traced) -> list[str]:
    """What a maker should know of the fit: legs that differ, cuts that differ, edges that are not met."""
    said = []
    for k, wedge in enumerate(traced.fitted.wedges, start=1):
        if wedge.unlike > CLOSE:
            said.append(
                f"Dart {k}: its legs differ by {1000 * wedge.unlike:.0f} mm in the drawing; the draft has them alike."
            )
    cuts = [cut for cut in traced.fitted.cuts if cut is not None]
    if len(cuts) == 2 and (
        abs(cuts[0].intake - cuts[1].intake) > CLOSE or abs(cuts[0].length - cuts[1].length) > CLOSE
    ):
        said.append("Shoulder cuts: front and back differ in the drawing; the draft has their mean on both.")
    for edge, _, _, most in edge_rows(traced):
        if most > 1000 * CLOSE:
            said.append(f"{edge.capitalize()}: the draft is up to {most:.0f} mm off the drawing. Look at it.")
    old = old_cuts(traced.drawn)
    if old is not None:
        said += old.left_out
        if old.cuts.levels:
            count = len(old.cuts.levels) + sum(len(places) for _, places in old.cuts.ends)
            said.append(f"Piecing: {count} seams as in the drawing, from cloth {100 * old.width:.0f} cm wide.")
    if traced.mirrored:
        said.append("The drawing shows the wrong side of the cloth: it was mirrored.")
    return said


def hem_said(style: Style) -> str:
    """How the hem is described."""
    if style.hem_along:
        return "drawn, through points"
    return "an arc" if style.front_length is None else "bent: other lengths in front and at the sides"


def changes_said(traced: Traced) -> list[str]:
    """Each dimension that changed with the body, in cm, and why."""
    if not traced.changes:
        return []
    rows = [f"  {one.key}: {_cm(one.before):.1f} → {_cm(one.after):.1f}; {one.reason}" for one in traced.changes]
    return ["Carried over to another body; in cm:", *rows]


def traced_table(traced: Traced) -> str:
    """What was taken for what, for the terminal."""
    style = traced.fitted.style
    rows = edge_rows(traced)
    across = max(len(how) for _, how, _, _ in rows)
    lines = [
        f"{plain_line(traced.label)}: scaled {traced.scale_said}.", "",
        f"  {'edge':<8}  {'taken from':<{across}}  {'off by':>7}  {'at most':>8}",
        *(f"  {edge:<8}  {how:<{across}}  {mean:>4.1f} mm  {most:>5.1f} mm" for edge, how, mean, most in rows), "",
        f"  sweep     {math.degrees(style.sweep):.1f} degrees",
        f"  neck      {KINDS[style.neck]}",
        f"  hem       {hem_said(style)}",
        f"  edges     {'drawn, through points' if style.first_edge_along or style.last_edge_along else 'straight'}",
        f"  closes    {style.closure_place}: {traced.closure_said}",
        f"  darts     {len(style.darts)}",
    ]  # fmt: skip
    lines += ["", *remarks(traced)] if remarks(traced) else []
    lines += ["", *changes_said(traced)] if traced.changes else []
    return "\n".join(lines) + "\n"


def traced_object(traced: Traced, scene: str) -> dict[str, Any]:
    """The same for `--json`."""
    style = traced.fitted.style
    return {
        "drawing": traced.label,
        "scene": scene,
        "scaled": traced.scale_said,
        "edges": {
            edge: {"taken_from": how, "mean_off_mm": round(mean, 3), "most_off_mm": round(most, 3)}
            for edge, how, mean, most in edge_rows(traced)
        },
        "sweep_deg": round(math.degrees(style.sweep), 3),
        "neck": style.neck,
        "closure": style.closure_place,
        "closure_by": traced.closure_said,
        "mirrored": traced.mirrored,
        "dimensions": edge_dimensions(traced.fitted.draft.dimensions),
        "remarks": remarks(traced),
        "changes": [
            {"key": one.key, "before_cm": _cm(one.before), "after_cm": _cm(one.after), "reason": one.reason}
            for one in traced.changes
        ],
    }
