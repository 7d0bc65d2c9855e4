"""The booklet: one HTML file that tells a fitting, or a comparison, from the order to the cautions.

In: fittings, their pictures as PNG, and what the page needs to turn the cloak. Out: the text of one file that asks
nothing of a network, reads from top to bottom, follows the reader's light or dark, and prints. Numbers are readings;
the words are those of `table` and `verdict`. Pictures are made by `make`.
"""

from __future__ import annotations

import base64
import importlib.resources
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np

from drape.reading.cautions import cautions
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

if TYPE_CHECKING:
    from drape.picture.surfaces import Surface
    from drape.reading.result import Fitting

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
h3 { font-size: 1rem; margin: 1.2rem 0 .3rem; }
p, li { max-width: 46rem; } .quiet, figcaption, .unit { color: var(--grey); } .mend { font-style: italic; }
.stamp { border: 4px solid var(--mark); color: var(--mark); border-radius: .5rem; padding: .4rem .9rem;
  font-weight: bold; display: inline-block; }
figure { margin: 0; } figcaption { font-style: italic; font-size: .9rem; padding: .15rem .1rem .5rem; }
img { display: block; width: 100%; height: auto; background: var(--card); }
.views { display: grid; grid-template-columns: repeat(4, 1fr); gap: .7rem; }
.close { display: grid; grid-template-columns: repeat(3, 1fr); gap: .7rem; align-items: end; }
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
@media (max-width: 40rem) { .views, .close { grid-template-columns: repeat(2, 1fr); } #frame { height: 26rem; } }
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
    for the page to turn.
    """

    fitting: Fitting
    views: Mapping[str, bytes]
    close: Mapping[str, bytes]
    painted: Mapping[str, bytes]
    draft: Mapping[str, bytes]
    still: bytes
    solid: Mapping[str, Any]


def booklet_html(leaves: Sequence[Leaf], plots: bytes) -> str:
    """The whole file. plots: neck and hem round the body, PNG."""
    fittings = [leaf.fitting for leaf in leaves]
    title = " and ".join(f.title or f.name for f in fittings)
    parts = [_order(fittings, title), *(_pictures(leaf, alone=len(leaves) == 1) for leaf in leaves)]
    parts += [
        _found(fittings),
        _turn(leaves),
        _readings(fittings),
        *(_painted(leaf, len(leaves) == 1) for leaf in leaves),
    ]
    parts += [
        _section(
            "Round the body",
            _figure(plots, "Off the neck, and the hem's height, as seen from in front: the back at both ends."),
        )
    ]
    parts += [
        *(_draft(leaf, len(leaves) == 1) for leaf in leaves),
        _cloth(fittings),
        _cautions(fittings),
        _settled(fittings),
    ]
    solid = json.dumps([leaf.solid for leaf in leaves], separators=(",", ":"))
    script = importlib.resources.files("drape.picture").joinpath("turn.js").read_text(encoding="utf-8")
    head = (
        '<meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; img-src data:; '
        "style-src 'unsafe-inline'; script-src 'unsafe-inline'\">"
        f'<link rel="icon" href="data:,"><title>{escape(title)}</title><style>{STYLE}</style>'
    )
    return (
        f'<!DOCTYPE html>\n<html lang="en"><head>{head}</head><body>\n'
        + "\n".join(part for part in parts if part)
        + f'\n<script type="application/json" id="solid">{solid}</script>\n<script>{script}</script>\n</body></html>\n'
    )


def _section(heading: str, body: str) -> str:
    return f"<section><h2>{escape(heading)}</h2>{body}</section>"


def _image(png: bytes, words: str, *, attributes: str = "") -> str:
    text = base64.b64encode(png).decode("ascii")
    return f'<img {attributes} alt="{escape(words, quote=True)}" src="data:image/png;base64,{text}">'


def _figure(png: bytes, caption: str) -> str:
    return f"<figure>{_image(png, caption)}<figcaption>{escape(caption)}</figcaption></figure>"


def _name(fitting: Fitting) -> str:
    return fitting.title or fitting.name


def _of(heading: str, leaf: Leaf, alone: bool) -> str:
    return heading if alone else f"{heading}: {_name(leaf.fitting)}"


def _order(fittings: Sequence[Fitting], title: str) -> str:
    """The title, for whom, of what, and what is expected."""
    parts = [f"<h1>{escape(title)}</h1>"]
    for fitting in fittings:
        about = fitting.about
        if len(fittings) > 1:
            parts.append(f"<h3>{escape(_name(fitting))}</h3>")
        if about:
            layers = " over ".join(about.get("layers", []))
            stature = f", {from_si('stature_cm', about['stature']):.0f} cm tall" if about.get("stature") else ""
            parts.append(f"<p>For {escape(str(about.get('body', '')))}{stature}. Of {escape(layers)}.</p>")
        if fitting.expect.strip():
            parts.append(f'<p class="quiet">Expected: {escape(" ".join(fitting.expect.split()))}</p>')
        if not fitting.readings.get("settled", False):
            parts.append('<p class="stamp">NOT SETTLED. Do not cut from this.</p>')
    return f"<header>{''.join(parts)}</header>"


def _pictures(leaf: Leaf, alone: bool) -> str:
    standing = "".join(_figure(png, caption) for caption, png in leaf.views.items())
    close = "".join(_figure(png, caption) for caption, png in leaf.close.items())
    words = (
        '<p class="quiet">Left and right are the wearer\'s. Lines behind the figure lie 10 cm apart, darker each '
        "50 cm.</p>"
    )
    return _section(
        _of("Pictures", leaf, alone), f'<div class="views">{standing}</div><div class="close">{close}</div>{words}'
    )


def _found(fittings: Sequence[Fitting]) -> str:
    parts = []
    for fitting in fittings:
        items = []
        for verdict in fitting.readings.get("verdicts") or []:
            mend = f'<br><span class="mend">Mend: {escape(verdict["mend"])}</span>' if verdict.get("mend") else ""
            items.append(
                f"<li><b>{escape(verdict.get('where', ''))}</b>: {escape(verdict.get('finding', ''))}{mend}</li>"
            )
        heading = f"<h3>{escape(_name(fitting))}</h3>" if len(fittings) > 1 else ""
        parts.append(heading + (f"<ul>{''.join(items)}</ul>" if items else "<p>Nothing was judged.</p>"))
    return _section("What was found, and what to change", "".join(parts))


def _turn(leaves: Sequence[Leaf]) -> str:
    """The cloak that turns, its buttons, and the picture that stands for it where it cannot."""
    views = "".join(f'<button data-view="{v}">{w}</button>' for v, w in (
        ("front", "Front"), ("left", "Wearer\'s left"), ("back", "Back"), ("right", "Wearer\'s "
        "right"), ("above", "Above"), ("neck", "Neck"),
    ))  # fmt: skip
    zooms = '<button data-zoom="1.3">Nearer</button><button data-zoom="0.77">Further</button>'
    choices = ""
    if len(leaves) > 1:
        options = "".join(
            f'<option value="{k}">{escape(_name(leaf.fitting))}</option>' for k, leaf in enumerate(leaves)
        )
        choices += f'<select id="choose-fitting" aria-label="which cloak">{options}</select>'
    names = dict.fromkeys(n for leaf in leaves for part in leaf.solid["parts"] for n in part.get("tones", {}))
    options = "".join(f'<option value="{n}">{escape(n)}</option>' for n in names)
    choices += f'<select id="choose-paint" aria-label="painted with"><option value="">cloth</option>{options}</select>'
    still = _image(leaves[0].still, "The cloak from the wearer's left front", attributes='id="still"')
    words = (
        '<p class="quiet no-turn">This page or browser does not turn solid models; the picture stands in their '
        'place.</p><p class="quiet turning">Drag to turn, or use the arrow keys.</p>'
    )
    canvas = '<canvas id="turn" tabindex="0" aria-label="The cloak, to be turned with the arrow keys"></canvas>'
    return _section(
        "Turn it round",
        f'<div class="turning">{views}{zooms}{choices}</div><div id="frame">{canvas}{still}</div>{words}',
    )


def _readings(fittings: Sequence[Fitting]) -> str:
    """The readings in the groups and words of the text report."""
    columns = [fitting.readings for fitting in fittings]
    names = column_names([str(column.get("scene", "")) for column in columns])
    heads = "".join(f"<th>{escape(name)}</th>" for name in (names if len(names) > 1 else ["reading"]))
    change = "<th>difference</th>" if len(columns) == 2 else ""
    body = []
    for group in GROUPS:
        rows = [row for row in group.rows if any(value_at(c, row.key) is not None for c in columns)]
        if rows:
            span = len(columns) + 1 + (len(columns) == 2)
            body.append(
                f'<tr class="group"><th colspan="{span}">{escape(group.heading)} '
                f"<span>{escape(group.meaning)}</span></th></tr>"
            )
            body += [_reading_row(row.words, row.key, row.decimals, columns) for row in rows]
        if group.heading == "Crowding":
            body += [_reading_row(*level, columns) for level in _levels(columns)]
    table = f"<table><thead><tr><th></th>{heads}{change}</tr></thead><tbody>{''.join(body)}</tbody></table>"
    return _section("Readings", table)


def _levels(columns: Sequence[Mapping[str, Any]]) -> list[tuple[str, str, int]]:
    levels: Sequence[float] = next((c["crowding"]["at_cm"] for c in columns if value_at(c, "crowding.at_cm")), [])
    return [
        (f"{words} {level:g} cm down", f"crowding.{key}.{place}", decimals)
        for words, key, decimals in LEVEL_READINGS
        for place, level in enumerate(levels)
        if any(value_at(c, f"crowding.{key}.{place}") is not None for c in columns)
    ]


def _reading_row(words: str, key: str, decimals: int, columns: Sequence[Mapping[str, Any]]) -> str:
    values = [value_at(column, key) for column in columns]
    unit = unit_symbol(key.rpartition(".")[0] if key.rpartition(".")[2].isdigit() else key)
    cells = [
        escape(str(v)) if isinstance(v, str) else escape(cell_with_spread(c, key, decimals))
        for v, c in zip(values, columns, strict=True)
    ]
    if len(columns) == 2:
        numbers = all(isinstance(v, (int, float)) and not isinstance(v, bool) for v in values)
        cells.append(change(values[1] - values[0], decimals) if numbers else "")
    label = f'{escape(words)} <span class="unit">{escape(unit)}</span>' if unit else escape(words)
    return f"<tr><td>{label}</td>{''.join(f'<td>{cell}</td>' for cell in cells)}</tr>"


def _painted(leaf: Leaf, alone: bool) -> str:
    return _section(
        _of("Where on the cloth", leaf, alone), "".join(_figure(png, words) for words, png in leaf.painted.items())
    )


def _draft(leaf: Leaf, alone: bool) -> str:
    """The flat draft and its dimensions."""
    drawn = "".join(_figure(png, words) for words, png in leaf.draft.items())
    dimensions = leaf.fitting.about.get("dimensions", {})
    places = [dart["place"] for dart in leaf.fitting.readings.get("dart", [])]
    rows = []
    for name, unit, cell in dimension_rows(edge_dimensions(dimensions) | {"dart_places": places}):
        rows.append(f'<tr><td>{escape(name)} <span class="unit">{unit}</span></td><td>{cell}</td></tr>')
    table = f"<table><tbody>{''.join(rows)}</tbody></table>" if rows else ""
    note = f"<p>{NOT_AN_ARC}</p>" if "hem_radius_min" in dimensions else ""
    return _section(_of("The draft", leaf, alone), f"{drawn}{table}{note}")


def _cloth(fittings: Sequence[Fitting]) -> str:
    """What the cloak is made of, each cloth once."""
    told: dict[str, str] = {}
    for fitting in fittings:
        cloth = fitting.about.get("cloth")
        if not cloth:
            continue
        rows = []
        for _, key, decimals in (*CLOTH_COLUMNS[0], *CLOTH_COLUMNS[1]):
            value = cloth.get(bare_name(key))
            if isinstance(value, (int, float)):
                shown = from_si(key, value) if ending_of(key) else value
                words = bare_name(key).replace("_", " ")
                rows.append(
                    f'<tr><td>{escape(words)} <span class="unit">{escape(unit_symbol(key))}</span></td>'
                    f"<td>{shown:.{decimals}f}</td></tr>"
                )
        told[str(cloth.get("name"))] = (
            f'<div class="together"><h3>{escape(str(cloth.get("name")))}</h3>'
            f"<table><tbody>{''.join(rows)}</tbody></table>"
            f'<p class="quiet">Source: {escape(str(cloth.get("source", "")))}</p></div>'
        )
    return _section("The cloth", "".join(told.values())) if told else ""


def _cautions(fittings: Sequence[Fitting]) -> str:
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
    always = "Whatever the age, let the neck fastening give way under a hard pull."
    items = "".join(f"<li>{escape(line)}</li>" for line in (*lines, always))
    return _section("Cautions", f'<ul class="cautions">{items}</ul>')


def _settled(fittings: Sequence[Fitting]) -> str:
    rows = []
    for fitting in fittings:
        read = fitting.readings
        state = "settled" if read.get("settled") else "NOT SETTLED"
        told = [state]
        for key, words in (
            ("residual", "largest net force left on a point, over its weight: {:.2g}"),
            ("remaining_mm", "still to move: {:.2g} mm"),
            ("vertices", "{:,.0f} points"), ("edge_length_cm", "triangles of {:g} cm"),
            ("crossings", "layers crossing: {:.0f}"),
            ("deepest_mm", "deepest point inside the body: {:.1f} mm"),
        ):  # fmt: skip
            if isinstance(read.get(key), (int, float)):
                told.append(words.format(read[key]))
        rows.append(f"<li>{escape(_name(fitting))}: {escape('; '.join(told))}.</li>")
    words = (
        '<p class="quiet">Cloth has many resting shapes: a fold may fall elsewhere on the next start. '
        "A drawing is no substitute for a fitting on the wearer.</p>"
    )
    return _section("How it settled", f"<ul>{''.join(rows)}</ul>{words}")


# --- the solid --------------------------------------------------------------------------------


def solid_data(
    fitting: Fitting, parts: Sequence[tuple[Surface, np.ndarray, np.ndarray, float, Mapping[str, np.ndarray]]],
    lines: Sequence[tuple[np.ndarray, np.ndarray]],
) -> dict[str, Any]:  # fmt: skip
    """What `turn.js` draws. parts: surface, light 0 to 1 (n,), its inside's colour (3,) and how far in that lies [m]
    (0: a solid, whose inside is never seen), paints by name (n, 4): a colour, and 255 where it is hatched.

    lines: runs of positions (k, 3) [m] and their colour (3,), 0 to 255.
    """
    everything = np.vstack([surface.points for surface, *_ in parts])
    high, low = float(everything[:, 2].max()), float(everything[:, 2].min())
    reach = max(0.5 * (high - low), float(np.linalg.norm(everything[:, :2], axis=1).max())) * 1.06
    told = [_solid_part(*part) for part in parts] + [_line_part(*run) for run in lines]
    neck = np.asarray(fitting.neck_base, float).mean(axis=0)
    return {
        "name": _name(fitting), "reach": round(reach, 4), "middle": round(0.5 * (high + low), 4),
        "neck": [round(float(c), 4) for c in neck], "parts": told,
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
