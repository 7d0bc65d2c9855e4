"""The shipped scenes, bodies and cloths as text and as JSON.

In: scenes, bodies and cloths as `scene` loads them, SI. Out: tables and objects with the unit at the end of every key.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from drape.reading.table import CLOTH_COLUMNS, PAGE_WIDTH, wrapped
from drape.units import bare_name, ending_of, from_si

if TYPE_CHECKING:
    from drape.cloth.sheet import Cloth
    from drape.fitting.scene import Body, Scene


def scenes_object(scenes: Sequence[Scene]) -> dict[str, Any]:
    """The scenes as JSON shows them: `{scenes: [{scene, title, body}]}`, the body by its name."""
    return {"scenes": [{"scene": scene.name, "title": scene.title, "body": scene.body} for scene in scenes]}


def scenes_table(scenes: Sequence[Scene]) -> str:
    """The scenes, name and title on a line and the body under it."""
    lines = []
    for row in scenes_object(scenes)["scenes"]:
        lines += [f"{row['scene']}: {row['title']}", f"  body: {row['body']}"]
    return "\n".join(lines) + "\n"


def bodies_object(bodies: Mapping[str, Body]) -> dict[str, Any]:
    """The bodies as JSON shows them: `{bodies: [{body, name, sex, source, stature_cm}]}`."""
    return {
        "bodies": [
            {
                "body": key,
                "name": body.name,
                "sex": body.sex,
                "stature_cm": round(from_si("stature_cm", body.tape["stature"]), 2),
                "source": body.source,
            }
            for key, body in bodies.items()
        ]
    }


def bodies_table(bodies: Mapping[str, Body]) -> str:
    """The bodies, a line for each, with their sources under them."""
    lines = []
    for row in bodies_object(bodies)["bodies"]:
        lines.append(f"{row['body']}: {row['name']}, {row['sex']}, stature {row['stature_cm']:.1f} cm")
        lines += textwrap.wrap(row["source"], PAGE_WIDTH, initial_indent="  ", subsequent_indent="  ")
    return "\n".join(lines) + "\n"


def cloths_object(cloths: Sequence[Cloth]) -> dict[str, Any]:
    """The cloths as JSON shows them, under the keys a scene file uses, and their rigidities."""
    rows = []
    for cloth in cloths:
        row: dict[str, Any] = {"cloth": cloth.name}
        for _, key, _ in (*CLOTH_COLUMNS[0], *CLOTH_COLUMNS[1]):
            value = getattr(cloth, bare_name(key))
            row[key] = round(from_si(key, value), 6) if ending_of(key) else value
        rows.append({**row, "source": cloth.source})
    return {"cloths": rows}


def cloths_table(cloths: Sequence[Cloth]) -> str:
    """The cloths, a line for each in two blocks, with their sources below."""
    rows = cloths_object(cloths)["cloths"]
    lines, label = [], max(17, *(len(row["cloth"]) for row in rows))
    for columns in CLOTH_COLUMNS:
        lines.append(f"{'':<{label}}" + "".join(f"{heading:>9}" for heading, _, _ in columns))
        for row in rows:
            cells = "".join(f"{row[key]:>9.{decimals}f}" for _, key, decimals in columns)
            lines.append(f"{row['cloth']:<{label}}{cells}".rstrip())
        lines.append("")
    words = (
        "bend: bending length c, warp and weft. B: flexural rigidity, weight x c³. pull: tensile stiffness, warp and "
        "weft. shear: shear stiffness, N/m. twist: twist rigidity, µN·m. on cloth, on body: friction."
    )
    lines += wrapped(words)
    for row in rows:
        lines += wrapped(f"{row['cloth']}: {row['source']}.", indent="  ")
    return "\n".join(lines) + "\n"
