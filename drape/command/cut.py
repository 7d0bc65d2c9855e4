"""`drape draft` and `drape cut`: the flat draft drawn and cut, its hem as given, as settled or, if asked, an estimate.

Comes in: parsed arguments. Goes out: files in the result's folder, tables or JSON on stdout, an exit code. What is
drawn is left to `output` and `cutting`, which hem to `hem_to_cut`.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drape.command.kernel_cache import watch_compiling
from drape.command.output import folder, write_card, write_draft
from drape.errors import NotSettledError
from drape.files import write_text
from drape.progress import answer, counted, parted, rest_of_run, say, tell
from drape.units import from_si

if TYPE_CHECKING:
    import argparse

    from drape.cutting.cut import Cut
    from drape.fitting.scene import Scene
    from drape.fitting.settled_hem import Hem

DONE, NOT_SETTLED = 0, 3


def run_draft(chosen: argparse.Namespace) -> int:
    """`drape draft`: the flat draft with its dimensions, its hem settled where that is what its length depends on."""
    from drape.draft.outline import hem_mark, hem_said, place_said
    from drape.fitting.hem_to_cut import draft_by
    from drape.fitting.scene import load_scene
    from drape.reading.table import dimensions_table, edge_dimensions, json_text

    scene = load_scene(chosen.scene)
    with _hemmed(scene, _Folder("draft", chosen.out), {}, estimate=chosen.estimate) as (out, hem, wrote):
        if hem is None:
            return NOT_SETTLED
        draft = draft_by(scene, hem)
        write_draft(scene, draft, out)
        write_card(scene, draft, out)
        wrote += [f"{scene.name}.svg", f"{scene.name}-chalk.svg"]
        dimensions = {
            "scene": scene.name, "hem": hem.word, "word": draft.word, **edge_dimensions(draft.dimensions),
            "dart_places": [place_said(dart) for dart in draft.darts], "remarks": list(draft.remarks),
        }  # fmt: skip
        mark = f"*** {hem_mark(draft)} ***\n\n" if draft.is_estimate else ""
        hem_line = "" if draft.is_estimate else f"{hem_said(draft).capitalize()}.\n\n"
        text = f"{mark}{hem_line}{dimensions_table(scene.title, dimensions)}"
        answer(json_text(dimensions) if chosen.json else text)
        return DONE


def run_cut(chosen: argparse.Namespace) -> int:
    """`drape cut`: the draft cut from cloth of one width; pattern, lay, what to buy, order of work."""
    from drape.cache import digest_of
    from drape.cutting.cut import cut_object, cut_text, write_cut
    from drape.fitting.scene import load_scene, width_from
    from drape.reading.table import json_text

    scene = load_scene(chosen.scene)
    own = scene.cutting.bolt.width
    width = own if chosen.width_cm is None else width_from(chosen.width_cm)
    width_cm = round(from_si("width_cm", width), 4)
    made = {"width_cm": width_cm, "plan": digest_of(scene.cutting), "table": not chosen.no_table}
    ending = "" if width == own else f"-{width_cm:g}cm"
    with _hemmed(scene, _Folder("cut", chosen.out, ending), made, estimate=chosen.estimate) as (out, hem, wrote):
        if hem is None:
            return NOT_SETTLED
        cut = _cut(scene, hem, width, not chosen.no_table)
        wrote += write_cut(cut, out)
        write_text(out / "cut.json", json_text(cut_object(cut)))
        wrote.append("cut.json")
        answer(json_text(cut_object(cut)) if chosen.json else cut_text(cut))
        return DONE


@dataclass(frozen=True)
class _Folder:
    """Where a command writes: as asked, or in a folder of its usual name, ending included."""

    command: str
    asked: Path | None
    ending: str = ""

    def path(self, scene: Scene, *, is_estimate: bool) -> Path:
        return self.asked or Path(f"{scene.name}-{self.command}{self.ending}{'-estimate' if is_estimate else ''}")


@contextlib.contextmanager
def _hemmed(
    scene: Scene, place: _Folder, made: dict[str, Any], *, estimate: bool
) -> Iterator[tuple[Path, Hem | None, list[str]]]:
    """The folder for what is made of a flat draft, its hem, None where it does not settle,
    and a list for the files' names.

    made: what, beside the scene and its hem, makes the results differ. estimate: do without settling. The files
    listed are recorded in the folder.
    """
    from drape.command.made_from import Run, book_and_say, check_not_lesser, made_of
    from drape.fitting.clock import CUTTING, cost
    from drape.fitting.hem_to_cut import hem_at_hand, settled_hem
    from drape.fitting.settled_hem import Hem
    from drape.fitting.sit import halvings

    watch_compiling()
    hem = hem_at_hand(scene, estimate=estimate)
    path = place.path(scene, is_estimate=hem is not None and hem.is_estimate)
    run = Run(place.command, {scene.name: made_of(scene, hem or Hem(None, scene.edge_length, 0), made)})
    check_not_lesser(path, run)
    with folder(path) as out:
        if hem is None:
            say(f"{scene.name}: its length depends on how it hangs, so it is settled first. With --estimate it is not.")
            costs = {"": cost(halvings(scene.edge_length) + 1, is_trimmed=True), place.command: CUTTING}
            try:
                hem = settled_hem(scene, progress=parted(tell, costs)[0])
            except NotSettledError as error:
                say(f"{error} Nothing was written. With --estimate the draft is made without settling.")
        wrote: list[str] = []
        yield out, hem, wrote
        if hem is None:
            return
        book_and_say(out, [replace(run, files=tuple(wrote))])
        if hem.is_estimate:
            say("The hem is an estimate, and every file says so: `drape sit` trims it on the settled cloth.")


def _cut(scene: Scene, hem: Hem, width: float, with_table: bool) -> Cut:
    """The scene's draft with its hem cut from cloth of a width [m], what lies under it from its own."""
    from drape.cutting.cut import OneCloth, cut_draft, cut_inner
    from drape.cutting.facings import smaller_pieces
    from drape.cutting.lay import SHOPPING_WIDTHS
    from drape.cutting.piecing import Allowances
    from drape.fitting.hem_to_cut import draft_by
    from drape.reading.cautions import cautions

    plan = scene.cutting
    draft, allowances = draft_by(scene, hem), Allowances(plan.seam_allowance)
    extra = smaller_pieces(draft, allowances, facing_width=plan.facing_width, inner_collar=plan.inner_collar)
    words = cautions(sex=scene.sex, stature=scene.tape.get("stature"), cloths=scene.layers, clearance_cm=None)
    widths = SHOPPING_WIDTHS if with_table else ()
    count = len({round(one, 4) for one in (*widths, width)})
    progress = counted(rest_of_run(), 2 * (len(plan.inner) + count))  # piecing and lay of each
    inner = cut_inner(draft, plan, title=scene.title, progress=progress)
    bolt = plan.bolt if width == plan.bolt.width else replace(plan.bolt, width=width, cuts=None)
    cloth = OneCloth(bolt, allowances, plan.grain, widths)
    return cut_draft(
        draft, cloth, name=scene.name, title=scene.title, extra=extra, cautions=words, inner=inner, progress=progress,
    )  # fmt: skip
