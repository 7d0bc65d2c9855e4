"""All that goes to the cutting table: a scene's draft in; pieces, lay, what to buy, and a folder of files out.

In: a draft and a `CuttingPlan`. Out: a `Cut` with its numbers, its text, JSON, and the files: patterns as PDF, SVG and
DXF, the lay, the chalk card with the order of work, and an index page. Arithmetic is in `piecing`,
`lay`, `instructions`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

from drape.cutting.instructions import chalk_card, cutting_order, notions, sewing_order
from drape.cutting.lay import (
    SHOPPING_WIDTHS,
    Bolt,
    CuttingPlan,
    Laid,
    Lay,
    Progress,
    lay_pieces,
    naive_length,
    thrifty_pieces,
)
from drape.cutting.pdf import PAPERS, paper_words, write_roll, write_tiles
from drape.cutting.piece import Piece
from drape.cutting.piecing import Allowances, seam_levels
from drape.cutting.plotter import write_lay_card, write_lay_dxf, write_lay_svg
from drape.cutting.strokes import Drawn, cut_words, draw_piece
from drape.draft.cut_line import edges_said
from drape.draft.outline import Draft, hem_mark, hem_said
from drape.files import write_whole
from drape.page import page_text


@dataclass(frozen=True)
class Cut:
    """A draft cut: its pieces, their lay, the sum of whole strips [m], and one lay for each other width."""

    name: str
    title: str
    draft: Draft
    allowances: Allowances
    grain: float | None
    pieces: tuple[Piece, ...]
    lay: Lay
    naive: float
    widths: tuple[tuple[float, float, Lay, int], ...] = ()  # width, naive length, lay, pieces
    cautions: tuple[str, ...] = ()
    inner: tuple[Cut, ...] = ()  # interlining and lining, each from its own cloth, under its name
    drawn: Mapping[int, Drawn] = field(default_factory=dict)

    def has(self, layer: str) -> bool:
        """Whether there is a layer of that name under the outside."""
        return any(one.name == layer for one in self.inner)


@dataclass(frozen=True)
class OneCloth:
    """A cloth to cut from, and how: seams' allowances, the warp's direction from the straight edge [rad],
    None for along it.

    widths [m]: others of which the length to buy is reckoned as well. layer: what the cloth is for.
    """

    bolt: Bolt
    allowances: Allowances
    grain: float | None = None
    widths: Sequence[float] = SHOPPING_WIDTHS
    layer: str = "cloth"


def cut_draft(
    draft: Draft,
    cloth: OneCloth,
    *,
    name: str,
    title: str,
    extra: Sequence[Piece] = (),
    cautions: Sequence[str] = (),
    inner: Sequence[Cut] = (),
    progress: Callable[[str], Progress] | None = None,
) -> Cut:
    """Return the draft cut from one cloth, and how much of other widths it would take.

    extra: pieces beside the draft's own (collar, facing), laid with it. inner: the layers under it, already cut.
    progress: given words, what to call.
    Raises DraftError where the cloth cannot give the pieces.
    """
    bolt = cloth.bolt
    pieces, lay, naive = _cut_from(draft, cloth, extra, progress)
    table = []
    for width in sorted({round(width, 4) for width in (*cloth.widths, bolt.width)}):
        if abs(width - bolt.width) < 1e-9:
            table.append((width, naive, lay, len(pieces)))
        else:
            other = replace(cloth, bolt=replace(bolt, width=width, flaws=(), price=None, cuts=None))
            there, laid, sum_of_strips = _cut_from(draft, other, extra, progress)
            table.append((width, sum_of_strips, laid, len(there)))
    drawn = {piece.number: draw_piece(piece, title=title, nap=bolt.nap, mark=hem_mark(draft)) for piece in pieces}
    return Cut(
        name=name,
        title=title,
        draft=draft,
        allowances=cloth.allowances,
        grain=cloth.grain,
        pieces=pieces,
        lay=lay,
        naive=naive,
        widths=tuple(table),
        cautions=tuple(cautions),
        inner=tuple(inner),
        drawn=drawn,
    )


def _cut_from(
    draft: Draft, cloth: OneCloth, extra: Sequence[Piece], progress: Callable[[str], Progress] | None
) -> tuple[tuple[Piece, ...], Lay, float]:
    """Return pieces, lay and the sum of whole strips for one cloth."""
    bolt, allowances, grain, layer = cloth.bolt, cloth.allowances, cloth.grain, cloth.layer
    words = f"{layer} {100 * bolt.width:g} cm wide"
    levels = seam_levels(draft, bolt.width, allowances, grain) if bolt.cuts is None else bolt.cuts.levels
    naive = naive_length(draft, levels, grain)
    pieces = thrifty_pieces(
        draft, allowances, bolt, grain=grain, progress=progress(f"{words}: piecing") if progress else None
    )
    pieces += tuple(replace(piece, number=len(pieces) + k) for k, piece in enumerate(extra, start=1))
    pieces = tuple(replace(piece, layer=layer) for piece in pieces)
    lay = lay_pieces(pieces, bolt, progress=progress(f"{words}: lay") if progress else None)
    return pieces, lay, naive


def cut_inner(
    draft: Draft,
    plan: CuttingPlan,
    *,
    title: str,
    progress: Callable[[str], Progress] | None = None,
) -> tuple[Cut, ...]:
    """Return interlining and lining cut from their own cloths, as the plan has them.

    A lining is turned in at neck and opening, as wide as a seam, and cut at the hem line, where it is turned up 2 cm
    shorter than the cloth; an interlining is cut on the finished lines and its lengths are laid edge to edge. Common
    practice, no source. Raises DraftError where a cloth cannot give the pieces.
    """
    lap = draft.fastening.overlap / 2
    plain = replace(draft, dags=())
    turnings = {
        "interlining": Allowances(0.0, 0.0, lap, 0.0),
        "lining": Allowances(plan.seam_allowance, plan.seam_allowance, lap + plan.seam_allowance, 0.0),
    }
    return tuple(
        cut_draft(
            plain, OneCloth(bolt, turnings[layer], plan.grain, widths=(), layer=layer), name=layer,
            title=f"{title}: {layer}", progress=progress,
        )
        for layer, bolt in plan.inner
    )  # fmt: skip


REMARKS = "Not as asked, or to think over"
WIDTHS_SAID = (
    "  To buy: length of cloth, with allowances and shrinkage.",
    "  Whole strips: length if uncut strips were laid end to end, without allowances.",
    "  Area alone: length if no cloth at all were left over; no lay can be shorter.",
)


# --- numbers ----------------------------------------------------------------------------------


def cut_object(cut: Cut) -> dict[str, Any]:
    """Return the numbers as they go into JSON: units in the keys."""
    return {
        "scene": cut.name,
        "hem": "estimate" if cut.draft.is_estimate else "settled",
        "edges": edges_said(cut.draft),
        "remarks": list(cut.draft.remarks),
        "cloth": _cloth_object(cut),
        "pieces": [_piece_object(piece, cut.lay) for piece in cut.pieces],
        **{
            layer.name: {
                "cloth": _cloth_object(layer),
                "pieces": [_piece_object(piece, layer.lay) for piece in layer.pieces],
            }
            for layer in cut.inner
        },
        "widths": [
            {
                "width_cm": _cm(width),
                "length_cm": _cm(laid.length),
                "to_buy_cm": _cm(laid.to_buy),
                "strips_cm": _cm(naive),
                "area_bound_cm": _cm(laid.bound),
                "utilisation_percent": round(100 * laid.utilisation, 1),
                "pieces": count,
            }
            for width, naive, laid, count in cut.widths
        ],
    }


def _cloth_object(cut: Cut) -> dict[str, Any]:
    lay = cut.lay
    return {
        "width_cm": _cm(lay.bolt.width),
        "nap": lay.bolt.nap,
        "fold": lay.bolt.fold,
        "length_cm": _cm(lay.length),
        "shrinkage_percent": round(100 * lay.bolt.shrinkage, 2),
        "to_buy_cm": _cm(lay.to_buy),
        "cost": None if lay.cost is None else round(lay.cost, 2),
        "area_bound_cm": _cm(lay.bound),
        "strips_cm": _cm(cut.naive),
        "utilisation_percent": round(100 * lay.utilisation, 1),
    }


def _piece_object(piece: Piece, lay: Lay) -> dict[str, Any]:
    one = next(laid for laid in lay.laid if any(p.number == piece.number for p in laid.pieces))
    left, low, right, high = one.outline.bounds
    return {
        "number": piece.number,
        "name": piece.name,
        "layer": piece.layer,
        "quantity": piece.quantity,
        "along_from_cm": _cm(left),
        "along_to_cm": _cm(right),
        "across_from_cm": _cm(low),
        "across_to_cm": _cm(high),
        "turned": one.turned,
        "double": one.zone == "folded",
    }


def _cm(value: float) -> float:
    return round(100 * value, 2)


def _tenth(value: float) -> str:
    """A length [m] in cm to the millimetre."""
    return f"{100 * value:.1f}"


def whole_cm(length: float) -> int:
    """Return a length to buy [cm], rounded up."""
    return math.ceil(100 * length - 1e-6)


def cut_text(cut: Cut) -> str:
    """Return what to buy and how it is cut, as plain text."""
    hem = [f"*** {hem_mark(cut.draft)} ***" if cut.draft.is_estimate else hem_said(cut.draft).capitalize(), ""]
    lines = [
        cut.title,
        "",
        *hem,
        *_layer_lines(cut, "cloth"),
        "",
        "Edges",
        *(f"  {line}" for line in edges_said(cut.draft)),
    ]
    if cut.draft.remarks:
        lines += ["", REMARKS, *(f"  {line}" for line in cut.draft.remarks)]
    for layer in cut.inner:
        lines += ["", layer.name.capitalize(), *_layer_lines(layer, layer.name)]
    lines += ["", "Which width to buy", "  width cm   to buy cm   whole strips   area alone   used %   pieces"]
    for width, naive, laid, count in cut.widths:
        here = "  <-" if abs(width - cut.lay.bolt.width) < 1e-9 else ""
        lines.append(
            f"  {100 * width:>8.0f}   {whole_cm(laid.to_buy):>9}   {100 * naive:>12.0f}   {100 * laid.bound:>10.0f}   "
            f"{100 * laid.utilisation:>6.0f}   {count:>6}{here}"
        )
    lines += WIDTHS_SAID
    for heading, section in work_sections(cut):
        lines += ["", heading, *(f"  {line}" for line in section)]
    return "\n".join(lines) + "\n"


def _layer_lines(cut: Cut, word: str) -> list[str]:
    """Return what to buy of one cloth, how much of it is used, and its pieces."""
    lay = cut.lay
    buy = f"{whole_cm(lay.to_buy)} cm of {word} {100 * lay.bolt.width:g} cm wide"
    lines = [f"Buy {buy}." + (f" At {lay.bolt.price:g} a metre: {lay.cost:.2f}." if lay.cost is not None else "")]
    if lay.bolt.shrinkage:
        lines.append(f"{100 * lay.length:.0f} cm are used; {100 * lay.bolt.shrinkage:g} % is added for shrinkage.")
    lines += [
        f"Used {100 * lay.length:.1f} cm; whole strips end to end, without allowances, {100 * cut.naive:.1f}; "
        f"area alone {100 * lay.bound:.1f}.",
        f"{100 * lay.utilisation:.0f} % of the {word} is in the pieces.",
        "",
        "Pieces" if word == "cloth" else f"Pieces of the {word}",
        "  no  name                    along the cloth, cm   across, cm",
    ]
    for row in _piece_rows(cut):
        lines.append("  {:>2}  {:<22}  {:>19}   {:>12}  {}".format(*row).rstrip())
    return lines


def _piece_rows(cut: Cut) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for piece in cut.pieces:
        one = _piece_object(piece, cut.lay)
        note = ", ".join(
            word
            for word, true in (
                (cut_words(piece), True), ("end for end", one["turned"]), ("double", one["double"]),
            )
            if true
        )  # fmt: skip
        along = f"{one['along_from_cm']:.1f} to {one['along_to_cm']:.1f}"
        across = f"{one['across_from_cm']:.1f} to {one['across_to_cm']:.1f}"
        rows.append((str(piece.number), piece.name, along, across, note))
    return rows


def work_sections(cut: Cut) -> list[tuple[str, list[str]]]:
    """Return the order of work under its headings."""
    numbered = [
        ("Cutting", cutting_order(cut.lay)),
        ("Sewing", sewing_order(cut.draft, cut.pieces, lined=cut.has("lining"), interlined=cut.has("interlining"))),
    ]
    sections = [(heading, [f"{k}. {line}" for k, line in enumerate(lines, start=1)]) for heading, lines in numbered]
    bought = [
        f"{layer.name.capitalize()}: {whole_cm(layer.lay.to_buy)} cm, {100 * layer.lay.bolt.width:g} cm wide."
        for layer in cut.inner
    ]
    sections.append(("Notions", [*notions(cut.draft, cut.pieces), *bought]))
    if cut.cautions:
        sections.append(("Cautions", list(cut.cautions)))
    return sections


# --- files ------------------------------------------------------------------------------------


def write_cut(cut: Cut, out: Path) -> list[str]:
    """Write every file into a folder, each whole or not at all, and return their names."""
    files: list[tuple[str, str]] = []

    def put(name: str, words: str, make: Callable[[Path], object]) -> None:
        write_whole(out / name, make)
        files.append((name, words))

    for one in (cut, *cut.inner):
        put_drawings(one, put)
    put(
        "cut.txt",
        "What to buy, pieces, order of work, as text",
        lambda path: path.write_text(cut_text(cut), encoding="utf-8"),
    )
    put("index.html", "This page", lambda path: path.write_text(index_page(cut, files), encoding="utf-8"))
    return [name for name, _ in files]


def put_drawings(cut: Cut, put: Callable[[str, str, Callable[[Path], object]], None]) -> None:
    """Write the full-size pattern and the lay of one cloth; those of a layer under the outside begin with its name."""
    drawn = [cut.drawn[piece.number] for piece in cut.pieces]
    layer, mark, hem = cut.pieces[0].layer, hem_mark(cut.draft), hem_said(cut.draft)
    start, of = ("", "") if layer == "cloth" else (f"{layer}-", f" of the {layer}")
    for paper in PAPERS:
        put(
            f"{start}pattern-{paper}.pdf",
            f"Full-size pattern{of} to print and glue, {paper_words(paper)}",
            partial(write_tiles, drawn, paper=paper, title=cut.title, hem=hem, mark=mark),
        )
    put(
        f"{start}roll.pdf",
        f"Full-size lay{of} on one sheet, for a roll printer",
        lambda path: write_roll(cut.drawn, cut.lay, path, title=cut.title, mark=mark),
    )
    put(
        f"{start}lay.svg",
        f"Full-size lay{of} as SVG, in millimetres",
        lambda path: write_lay_svg(cut.drawn, cut.lay, path, title=cut.title, mark=mark),
    )
    put(
        f"{start}lay.dxf",
        f"Full-size lay{of} as DXF R2010, in millimetres",
        lambda path: write_lay_dxf(cut.drawn, cut.lay, path),
    )
    put(
        f"{start}lay-card.svg",
        f"The lay{of}, small, to hang beside the table",
        lambda path: write_lay_card(cut.lay, path, title=cut.title, hem=hem, mark=mark),
    )


STYLE = (
    "body{font:16px/1.45 Georgia,serif;max-width:60rem;margin:2rem auto;padding:0 1rem;color:#222}"
    "table{border-collapse:collapse;margin:.6rem 0}td,th{padding:.15rem .8rem .15rem 0;text-align:right;"
    "border-bottom:1px solid #ddd}"
    ".named td:nth-child(2),.named th:nth-child(2){text-align:left}"
    ".estimate{font-size:2.2rem;font-weight:bold;border:4px solid #222;padding:.4rem .8rem}"
    "img{width:100%;border:1px solid #ccc}h2{margin-top:2rem}"
    "@media print{h2{break-after:avoid}}"
)


def index_page(cut: Cut, files: Sequence[tuple[str, str]]) -> str:
    """Return the page that leads through the folder: what to buy, the lay, chalk card, order of work, files."""
    layers = (cut, *cut.inner)
    hem = hem_mark(cut.draft) if cut.draft.is_estimate else f"{hem_said(cut.draft).capitalize()}."
    told = {
        "title": cut.title, "is_estimate": cut.draft.is_estimate, "hem": hem, "remarks_head": REMARKS,
        "remarks": cut.draft.remarks,
        "layers": [_layer_told(one, "cloth" if one is cut else one.name) for one in layers],
        "edges": edges_said(cut.draft), "widths": [_width_row(*one) for one in cut.widths],
        "widths_said": [line.strip() for line in WIDTHS_SAID],
        "cards": [_card_told(laid, cut.draft, "" if one is cut else f", {one.name}")
                  for one in layers for laid in one.lay.laid],
        "sections": work_sections(cut), "files": files,
    }  # fmt: skip
    return page_text("cutting/cut_page.html", told, style=STYLE, images="'self' file: data:")


def _width_row(width: float, naive: float, lay: Lay, count: int) -> tuple[str, ...]:
    shares = (100 * naive, 100 * lay.bound, 100 * lay.utilisation)
    return (f"{100 * width:.0f}", str(whole_cm(lay.to_buy)), *(f"{share:.0f}" for share in shares), str(count))


def _layer_told(cut: Cut, word: str) -> dict[str, Any]:
    """Return what to buy of one cloth, its lay and its pieces."""
    lay = cut.lay
    cost = f", {lay.cost:.2f} at {lay.bolt.price:g} a metre" if lay.cost is not None else ""
    return {
        "name": word, "buy": f"{whole_cm(lay.to_buy)} cm",
        "card": f"{'' if word == 'cloth' else word + '-'}lay-card.svg",
        "told": f"{word} {100 * lay.bolt.width:g} cm wide{cost}. {100 * lay.length:.0f} cm are used, "
        f"{100 * lay.utilisation:.0f} % of it in the pieces; whole strips end to end would take "
        f"{100 * cut.naive:.0f} cm, the area alone {100 * lay.bound:.0f} cm.",
        "pieces": _piece_rows(cut),
    }  # fmt: skip


def _card_told(laid: Laid, draft: Draft, of: str) -> dict[str, Any]:
    """Return the chalk card of one piece as it lies: points on its outline and within it, and what to do."""
    points, lines = chalk_card(laid, draft)
    tables = [
        (head, [(p.sign, p.what, _tenth(p.along), _tenth(p.across)) for p in points if p.inside == inside])
        for inside, head in ((False, "on the outline"), (True, "inside: mark, do not cut"))
    ]
    return {"head": f"{laid.pieces[0].number}, {laid.pieces[0].name}{of}", "tables": tables, "lines": lines}
