"""The booklet: one HTML file that tells a fitting, or a comparison, from the order to the cautions.

In: fittings, their pictures as PNG, and what the page needs to turn the cloak. Out: the text of one file that asks
nothing of a network, reads from top to bottom, follows the reader's light or dark, and prints. Numbers are readings;
the words are those of `table` and `verdict`. Pictures are made by `make`.
"""

from __future__ import annotations

import base64
import importlib.resources
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from drape.page import page_text
from drape.picture.shading import lit_alike
from drape.reading.cautions import cautions
from drape.reading.conclusion import conclusion_of
from drape.reading.table import (
    CLOTH_COLUMNS,
    GROUPS,
    LEVEL_READINGS,
    NOT_AN_ARC,
    cell_with_spread,
    change,
    column_names,
    dimension_rows,
    edge_dimensions,
    unit_symbol,
    value_at,
)
from drape.units import bare_name, ending_of, from_si
from drape.wearing.sentences import said_by_way

if TYPE_CHECKING:
    from drape.picture.surfaces import Surface
    from drape.reading.result import Fitting

Row = tuple[str, str, Sequence[str]]  # what is told, its unit, a cell for each column
BUTTONS = (
    ("front", "Front"), ("left", "Wearer's left"), ("back", "Back"), ("right", "Wearer's right"), ("above", "Above"),
    ("neck", "Neck"),
)  # fmt: skip
TENTH_MM = 10_000  # per metre: positions go to the page as whole tenths of a millimetre

STYLE = """
:root { color-scheme: light dark; --page: #f9f7f1; --ink: #26221e; --grey: #6b645a; --rule: #d6d0c2; --mark: #9a3412;
  --card: #f9f7f1; }
@media (prefers-color-scheme: dark) { :root { --page: #1d1b18; --ink: #ece7dc; --grey: #b3aa9b; --rule: #474239;
  --mark: #f0a070; --card: #f9f7f1; } }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 62rem; padding: 1.5rem 1.25rem 4rem; background: var(--page); color: var(--ink);
  font: 1rem/1.5 "DejaVu Sans", Verdana, sans-serif; }
h1, h2 { font-family: "DejaVu Serif", Georgia, serif; line-height: 1.2; }
h1 { font-size: 1.9rem; margin: 0 0 .3rem; border-top: 3px solid var(--ink); padding-top: .8rem; }
h2 { font-size: 1.25rem; margin: 2.4rem 0 .6rem; border-bottom: 1px solid var(--rule); padding-bottom: .25rem; }
.conclusion { font-size: clamp(1.3rem, 4.5vw, 2.1rem); line-height: 1.25; font-weight: bold; margin: 0 0 1.4rem;
  max-width: none; overflow-wrap: anywhere; }
ul.found { list-style: none; padding-left: 2.6rem; } ul.found li { position: relative; margin: .55rem 0; }
.mark { position: absolute; left: -2.5rem; top: -.1rem; min-width: 1.8rem; height: 1.8rem; line-height: 1.5rem;
  border: 2px solid var(--ink); border-radius: 50%; text-align: center; font-weight: bold; background: var(--ink);
  color: var(--page); print-color-adjust: exact; -webkit-print-color-adjust: exact; }
.mark.open { background: transparent; color: var(--ink); }
h3 { font-size: 1rem; margin: 1.2rem 0 .3rem; }
p, li { max-width: 46rem; } .quiet, figcaption, .unit { color: var(--grey); } .mend { font-style: italic; }
.stamp { border: 4px solid var(--mark); color: var(--mark); border-radius: .5rem; padding: .4rem .9rem;
  font-weight: bold; display: inline-block; }
figure { margin: 0; } figcaption { font-style: italic; font-size: .9rem; padding: .15rem .1rem .5rem; }
img { display: block; width: 100%; height: auto; background: var(--card); }
.views { display: grid; grid-template-columns: repeat(4, 1fr); gap: .7rem; }
.close { display: grid; grid-template-columns: 2fr 1fr 1fr; gap: .7rem; align-items: end; }
table { border-collapse: collapse; width: 100%; font-size: .95rem; }
td, th { text-align: right; padding: .16rem .5rem; border-bottom: 1px solid var(--rule); vertical-align: top; }
td:first-child, th:first-child { text-align: left; } thead th { border-bottom: 2px solid var(--ink); }
tr.group th { padding-top: .8rem; text-align: left; font-weight: bold; }
tr.group span { font-weight: normal; color: var(--grey); }
.cautions { border-left: 5px solid var(--mark); padding-left: 2.2rem; }
#frame { position: relative; border: 1px solid var(--rule); height: 34rem; background: var(--card); overflow: hidden; }
#turn { display: none; width: 100%; height: 100%; touch-action: none; cursor: grab; }
#still { width: 100%; height: 100%; object-fit: contain; }
.turns #turn { display: block; } .turns #still { display: none; }
.turning { display: none; flex-wrap: wrap; gap: .4rem; margin: .5rem 0; } .turns .turning { display: flex; }
.turns .no-turn { display: none; }
button, select { font: inherit; color: inherit; background: transparent; border: 1px solid var(--grey);
  border-radius: .3rem; padding: .2rem .7rem; } select option { color: #26221e; background: #f9f7f1; }
.rests { display: grid; grid-template-columns: repeat(auto-fit, minmax(9rem, 1fr)); gap: .7rem; }
.rests figure { max-width: 30rem; } .rests figcaption { font-size: 1rem; }
@media (max-width: 40rem) { .views, .close { grid-template-columns: repeat(2, 1fr); }
  .close figure:first-child { grid-column: 1 / -1; } #frame { height: 26rem; } }
@media print {
  @page { size: A4; margin: 14mm; } :root { --page: #fff; --ink: #000; --grey: #444; --rule: #999; --mark: #7a2408; }
  body { max-width: none; padding: 0; font-size: 10pt; } h2 { break-after: avoid; }
  figure, tr, li, .together { break-inside: avoid; } .turns .turning, .turns #turn, .no-turn { display: none; }
  .turns #still { display: block; } #frame { height: 110mm; }
}
"""  # fmt: skip


@dataclass(frozen=True)
class Leaf:
    """One fitting as the booklet tells it. views: PNG by caption; paints, draft: PNG by caption; solid:
    for the page to turn; strips: of each way it was worn in besides its pictures as PNG, each with its caption.
    """

    fitting: Fitting
    views: Mapping[str, bytes]
    close: Mapping[str, bytes]
    painted: Mapping[str, bytes]
    draft: Mapping[str, bytes]
    still: bytes
    solid: Mapping[str, Any]
    strips: Mapping[str, Sequence[tuple[str, bytes]]] = field(default_factory=dict)


@dataclass(frozen=True)
class Worn:
    """One way of wearing as a page tells it: its pictures as PNG, each with its caption; solid to be turned; what is
    said of it.
    """

    how: str
    fitting: Fitting
    frames: Sequence[tuple[str, bytes]]
    solid: Mapping[str, Any]
    words: str


def wearing_html(ways: Sequence[Worn], still: bytes, cautions: Sequence[str]) -> str:
    """The page of every way in which a cloak was worn."""
    told = {
        "title": _name(ways[0].fitting), "ways": ways, "buttons": BUTTONS, "still": still, "cautions": cautions,
        "made_for": _made_for(ways[0].fitting.about), "solid": [way.solid for way in ways],
    }  # fmt: skip
    script = importlib.resources.files("drape.picture").joinpath("turn.js").read_text(encoding="utf-8")
    return page_text("picture/wearing.html", told, style=STYLE, script=script)


def booklet_html(leaves: Sequence[Leaf], plots: bytes) -> str:
    """The whole file. plots: neck and hem round the body, PNG."""
    fittings = [leaf.fitting for leaf in leaves]
    names = dict.fromkeys(n for leaf in leaves for part in leaf.solid["parts"] for n in part.get("tones", {}))
    told = {
        "conclusion": conclusion_of(fittings)["text"],
        "title": " and ".join(map(_name, fittings)), "leaves": [_told(leaf) for leaf in leaves], "plots": plots,
        "buttons": BUTTONS, "paints": list(names), "still": leaves[0].still, "columns": _columns(fittings),
        "groups": _groups([fitting.readings for fitting in fittings]), "cloths": _cloths(fittings),
        "cautions": _cautions(fittings), "solid": [leaf.solid for leaf in leaves],
    }  # fmt: skip
    script = importlib.resources.files("drape.picture").joinpath("turn.js").read_text(encoding="utf-8")
    return page_text("picture/report.html", told, style=STYLE, script=script)


def _name(fitting: Fitting) -> str:
    return fitting.title or fitting.name


def _told(leaf: Leaf) -> dict[str, Any]:
    """What the page tells of one fitting."""
    fitting = leaf.fitting
    return {
        "name": _name(fitting), "made_for": _made_for(fitting.about), "expect": " ".join(fitting.expect.split()),
        "settled": fitting.readings.get("settled", False), "verdicts": _verdicts(fitting), "views": leaf.views,
        "close": leaf.close, "painted": leaf.painted, "draft": leaf.draft, "dimensions": _dimensions(fitting),
        "note": NOT_AN_ARC if "hem_radius_min" in fitting.about.get("dimensions", {}) else "",
        "how_settled": _how_settled(fitting.readings), "strips": leaf.strips,
        "ways": said_by_way(fitting.readings.get("ways") or []),
    }  # fmt: skip


def _made_for(about: Mapping[str, Any]) -> str:
    """For whom it is, and of what."""
    if not about:
        return ""
    stature = f", {from_si('stature_cm', about['stature']):.0f} cm tall" if about.get("stature") else ""
    return f"For {about.get('body', '')}{stature}. Of {' over '.join(about.get('layers', []))}."


def _verdicts(fitting: Fitting) -> list[dict[str, Any]]:
    """The verdicts, what is wrong or may be numbered as on the pictures."""
    keys, number, told = ("where", "finding", "mend", "undecided"), 0, []
    for verdict in fitting.readings.get("verdicts") or []:
        number += bool(verdict.get("harm"))
        one = {key: verdict.get(key, "") for key in keys}
        told.append(one | {"number": number if verdict.get("harm") else None})
    return told


def _columns(fittings: Sequence[Fitting]) -> list[str]:
    """The heads of the table of readings."""
    if len(fittings) == 1:
        return ["reading"]
    names = column_names([str(fitting.readings.get("scene", "")) for fitting in fittings])
    return [*names, "difference"] if len(fittings) == 2 else list(names)


def _groups(columns: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The readings in the groups and words of the text report."""
    told = []
    for group in GROUPS:
        rows = [
            _reading_row(row.words, row.key, row.decimals, columns)
            for row in group.rows
            if any(value_at(column, row.key) is not None for column in columns)
        ]
        if group.heading == "Crowding":
            rows += [_reading_row(*level, columns) for level in _levels(columns)]
        if rows:
            told.append({"heading": group.heading, "meaning": group.meaning, "rows": rows})
    return told


def _levels(columns: Sequence[Mapping[str, Any]]) -> list[tuple[str, str, int]]:
    levels: Sequence[float] = next((c["crowding"]["at_cm"] for c in columns if value_at(c, "crowding.at_cm")), [])
    return [
        (f"{words} {level:g} cm down", f"crowding.{key}.{place}", decimals)
        for words, key, decimals in LEVEL_READINGS
        for place, level in enumerate(levels)
        if any(value_at(c, f"crowding.{key}.{place}") is not None for c in columns)
    ]


def _reading_row(words: str, key: str, decimals: int, columns: Sequence[Mapping[str, Any]]) -> Row:
    values = [value_at(column, key) for column in columns]
    unit = unit_symbol(key.rpartition(".")[0] if key.rpartition(".")[2].isdigit() else key)
    cells = [
        v if isinstance(v, str) else cell_with_spread(c, key, decimals) for v, c in zip(values, columns, strict=True)
    ]
    if len(columns) == 2:
        numbers = all(isinstance(v, (int, float)) and not isinstance(v, bool) for v in values)
        cells.append(change(values[1] - values[0], decimals) if numbers else "")
    return words, unit, cells


def _dimensions(fitting: Fitting) -> list[Row]:
    dimensions = edge_dimensions(fitting.about.get("dimensions", {}))
    places = [dart["place"] for dart in fitting.readings.get("dart", [])]
    return [(name, unit, [cell]) for name, unit, cell in dimension_rows(dimensions | {"dart_places": places})]


def _cloths(fittings: Sequence[Fitting]) -> list[dict[str, Any]]:
    """What the cloak is made of, each cloth once."""
    told: dict[str, dict[str, Any]] = {}
    for fitting in fittings:
        cloth = fitting.about.get("cloth")
        if not cloth:
            continue
        rows: list[Row] = []
        for _, key, decimals in (*CLOTH_COLUMNS[0], *CLOTH_COLUMNS[1]):
            value = cloth.get(bare_name(key))
            if isinstance(value, (int, float)):
                shown = from_si(key, value) if ending_of(key) else value
                rows.append((bare_name(key).replace("_", " "), unit_symbol(key), [f"{shown:.{decimals}f}"]))
        name = str(cloth.get("name"))
        told[name] = {"name": name, "rows": rows, "source": str(cloth.get("source", ""))}
    return list(told.values())


def _cautions(fittings: Sequence[Fitting]) -> list[str]:
    lines: dict[str, None] = {}
    for fitting in fittings:
        about = fitting.about
        if about:
            found = cautions(
                sex=str(about.get("sex", "")), stature=about.get("stature"), cloths=about.get("layers", []),
                clearance_cm=value_at(fitting.readings, "fall.clearance_cm"),
                throat_line_load_n_m=value_at(fitting.readings, "neck.throat_line_load_n_m"),
                fastening=about.get("fastening", {}).get("kind"),
                seated_on_floor_cm=value_at(fitting.readings, "seated.on_floor_cm"),
            )  # fmt: skip
            lines |= dict.fromkeys(found)
    return [*lines, "Whatever the age, let the neck fastening give way under a hard pull."]


def _how_settled(read: Mapping[str, Any]) -> str:
    told = ["settled" if read.get("settled") else "NOT SETTLED"]
    for key, words in (
        ("residual", "largest net force left on a point, over its weight: {:.2g}"),
        ("remaining_mm", "still to move: {:.2g} mm"),
        ("vertices", "{:,.0f} points"), ("edge_length_cm", "triangles of {:g} cm"),
        ("crossings", "layers crossing: {:.0f}"),
        ("deepest_mm", "deepest point inside the body: {:.1f} mm"),
    ):  # fmt: skip
        if isinstance(read.get(key), (int, float)):
            told.append(words.format(read[key]))
    return "; ".join(told)


# --- the solid --------------------------------------------------------------------------------


def solid_data(
    fitting: Fitting, parts: Sequence[tuple[Surface, np.ndarray, np.ndarray, float, Mapping[str, np.ndarray]]],
    lines: Sequence[tuple[np.ndarray, np.ndarray]],
) -> dict[str, Any]:  # fmt: skip
    """What `turn.js` draws. parts: surface, light 0 to 1 (n,), its inside's colour (3,) and how far in that lies [m]
    (0: a solid, whose inside is never seen; else light is (n, 2), outside and inside), paints by name (n, 4): a colour,
    and 255 where it is hatched.

    lines: runs of positions (k, 3) [m] and their colour (3,), 0 to 255.
    """
    everything = np.vstack([surface.points for surface, *_ in parts])
    high, low = float(everything[:, 2].max()), float(everything[:, 2].min())
    reach = max(0.5 * (high - low), float(np.linalg.norm(everything[:, :2], axis=1).max())) * 1.06
    told = [_solid_part(*part) for part in parts] + [_line_part(*run) for run in lines]
    neck = np.asarray(fitting.neck_base, float).mean(axis=0)
    return {
        "name": _name(fitting), "reach": round(reach, 4), "middle": round(0.5 * (high + low), 4),
        "neck": [round(float(c), 4) for c in neck], "parts": told, "lit": lit_alike(),
    }  # fmt: skip


def _solid_part(
    surface: Surface, light: np.ndarray, inside: np.ndarray, thickness: float, paints: Mapping[str, np.ndarray]
) -> dict[str, Any]:
    wide = len(surface.points) > 65_535
    return {
        "name": surface.name, "lines": False, "wide": wide, "places": _packed(TENTH_MM * surface.points, "<i2"),
        "normals": _packed(127 * surface.normals, "i1"), "light": _packed(255 * light, "u1"),
        "index": _packed(surface.triangles, "<u4" if wide else "<u2"), "outside": _unit(surface.colour),
        "inside": _unit(inside), "thickness": round(thickness, 5),
        "tones": {name: _packed(tone, "u1") for name, tone in paints.items()},
    }  # fmt: skip


def _line_part(points: np.ndarray, colour: np.ndarray) -> dict[str, Any]:
    k = np.arange(len(points) - 1)
    index = _packed(np.column_stack([k, k + 1]), "<u2")
    return {
        "name": "line", "lines": True, "wide": False, "places": _packed(TENTH_MM * points, "<i2"), "index": index,
        "outside": _unit(colour), "inside": _unit(colour), "thickness": 0, "tones": {},
    }  # fmt: skip


def _unit(colour: np.ndarray) -> list[float]:
    return [round(float(c) / 255.0, 4) for c in (colour if colour.ndim == 1 else colour.mean(axis=0))]


def _packed(values: np.ndarray, kind: str) -> str:
    kinds = np.iinfo(kind)
    whole = np.clip(np.rint(values), kinds.min, kinds.max).astype(kind)
    return base64.b64encode(np.ascontiguousarray(whole).tobytes()).decode("ascii")
