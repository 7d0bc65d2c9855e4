"""`drape trace`, and `drape new --from`: a line drawing made a scene.

Comes in: parsed arguments. Goes out: the scene, the sheet that shows what was taken for what, a table or JSON on
stdout, an exit code. What the drawing is taken for is left to `tracing`.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from drape.command.kernel_cache import watch_compiling
from drape.command.output import folder
from drape.errors import SceneError
from drape.files import file_name, unused, write_new, write_text, write_whole
from drape.plain import typed
from drape.progress import Progress, answer, say, tell

if TYPE_CHECKING:
    import argparse

    from drape.body.figure import Figure
    from drape.fitting.scene import Body
    from drape.tracing.trace import Traced

DONE = 0
USUAL_BODY = "ferry-warden"


def run_trace(chosen: argparse.Namespace) -> int:
    """`drape trace`: a drawing's edges found, a draft fitted to them, its scene written."""
    from drape.reading.table import json_text
    from drape.tracing.shown import write_shown
    from drape.tracing.traced_scene import scene_text, traced_object, traced_table

    name = file_name(chosen.drawing.stem)
    usual = chosen.out or Path(f"{name}-trace")
    wearer = chosen.wearer or chosen.body or USUAL_BODY
    traced = traced_drawing(chosen, chosen.body, chosen.wearer)
    with folder(usual) as out:
        text = scene_text(traced, body_from(wearer, out))
        scene = unused(out / f"{name}.toml", text)  # the one that is there may have been worked on
        write_text(scene, text)
        write_whole(out / f"{name}-traced.svg", lambda path: write_shown(traced, path))
        write_text(out / f"{name}.json", json_text(traced_object(traced, str(scene))))
        answer(json_text(traced_object(traced, str(scene))) if chosen.json else traced_table(traced))
        say(f"Wrote {scene}, and {out / f'{name}-traced.svg'} to look at. Settle it with: drape sit {typed(scene)}")
        return DONE


def write_traced(chosen: argparse.Namespace, path: Path) -> int:
    """`drape new FILE --from DRAWING`: the scene alone, as a new file."""
    from drape.tracing.traced_scene import scene_text, traced_table

    traced = traced_drawing(chosen, chosen.body)
    text = scene_text(traced, body_from(chosen.body or USUAL_BODY, path.parent))
    write_new(path, lambda new: new.write_text(text, encoding="utf-8"))
    answer(traced_table(traced))
    say(f"Wrote {path}. Run it with: drape sit {typed(path)}")
    return DONE


def traced_drawing(chosen: argparse.Namespace, body: str | None, wearer: str | None = None) -> Traced:
    """The drawing of some arguments traced for a body, and carried over to a wearer. Raises DraftError, SceneError."""
    from drape.fitting.scene import load_wearer
    from drape.tracing.trace import Told, carry_over, find_edges, trace
    from drape.units import to_si

    if wearer is not None and body is None:
        raise SceneError(
            "trace: got --for without --body, allowed both: whom was the drawing cut for? Write --body BODY."
        )
    both = [load_wearer(one) for one in (body or USUAL_BODY, wearer) if one is not None]
    tell(Progress("draft", 0.0, "looking at the drawing"))
    known = None if chosen.known_cm is None else to_si("known_cm", chosen.known_cm)
    between = None if chosen.between is None else (chosen.between[0], chosen.between[1])
    told = Told(known, between, tuple(chosen.edge), chosen.closure, chosen.mirrored)
    found = find_edges(chosen.drawing, told)
    watch_compiling()
    tell(Progress("figure", 0.2, "building the figure"))
    figures = [_figure(one) for one in both]
    tell(Progress("draft", 0.7, "fitting a draft"))
    traced = trace(found, figures[0])
    return traced if wearer is None else carry_over(traced, *figures)


def _figure(wearer: Body) -> Figure:
    from drape.body.figure import build_figure

    return build_figure(
        wearer.tape, name=wearer.name, sex=wearer.sex, stance=wearer.stance, arms=wearer.arms,
        worn_under=wearer.worn_under,
    )  # fmt: skip


def body_from(body: str, home: Path) -> str:
    """A body as a scene in a folder names it: a shipped name, or the way to its file from there."""
    from drape.fitting.scene import shipped_bodies

    return body if body in shipped_bodies() else Path(os.path.relpath(body, home)).as_posix()
