"""What `drape wear` does, and `drape sit` of a scene that says how its cloak is worn.

In: parsed arguments. Out: results on stdout and in files, an exit code. The chain is imported when it is needed. No
arithmetic; that is left to `wearing`.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from drape.command.kernel_cache import watch_compiling
from drape.command.output import folder
from drape.drawing_process import ALLOWED_SECONDS, draw_in_child
from drape.errors import NotSettledError, PictureError
from drape.files import write_text
from drape.progress import Progress, answer, say, say_saved, tell

if TYPE_CHECKING:
    import argparse

    from drape.fitting.scene import Scene
    from drape.reading.result import Fitting
    from drape.wearing.wear import Asked

SECONDS_A_REST: Final = 60.0  # that drawing one more rest of a worn cloak may take
DONE, FAILED, NOT_SETTLED = 0, 1, 3


@dataclass(frozen=True)
class Worn:
    """What came of wearing a cloak: readings, text, names of files, and what went wrong with the pictures."""

    readings: Mapping[str, Any] = field(default_factory=dict)
    text: str = ""
    files: tuple[str, ...] = ()
    failure: PictureError | None = None


def run_wear(chosen: argparse.Namespace) -> int:
    """`drape wear`: the settled cloak worn in one way after another, and moved about in."""
    from drape.cloth.rehearsal import compile_kernels
    from drape.fitting.front_door import mending_edge_length_of
    from drape.fitting.scene import load_scene
    from drape.reading.table import json_text
    from drape.wearing.wear import asked_of

    scene = load_scene(chosen.scene, wet=chosen.wet or None)
    edge_length = mending_edge_length_of(scene, chosen.quality, chosen.edge_length_cm)
    asked = asked_of(
        scene, chosen.how, chosen.doing, edge_length=edge_length, lean_deg=chosen.lean_deg, seed=chosen.seed,
        cached=not chosen.fresh,
    )  # fmt: skip
    with folder(chosen.out or Path(f"{scene.name}-wear")) as out:
        watch_compiling()
        compile_kernels()
        try:
            worn = wear_into(out, scene, asked, starts=chosen.starts, with_pictures=not chosen.no_pictures)
        except NotSettledError as error:
            say(f"{error} Nothing was worn.")
            return NOT_SETTLED
        answer(json_text(worn.readings) if chosen.json else worn.text)
        for line in (*worn.readings["left_out"], *([str(worn.failure)] if worn.failure else [])):
            say(line)
        say_saved(out)
        if not worn.readings["settled"]:
            return NOT_SETTLED
        return FAILED if worn.failure else DONE


def wear_into(out: Path, scene: Scene, asked: Asked, *, starts: int, with_pictures: bool) -> Worn:
    """The cloak worn so, its results in a folder. Raises what `wear` raises."""
    from drape.reading.result import save_fitting
    from drape.reading.table import json_text
    from drape.wearing.starts import gathered_ways, wear_often
    from drape.wearing.words import wearing_object, wearing_text

    began = time.monotonic()
    wearings = wear_often(scene, asked, starts, progress=tell)
    wearing, ways = wearings[0], gathered_ways(wearings)
    saved = [save_fitting(shape, out) for shape in wearing.shapes]
    found = wearing_object(wearing, ways, edge_length=asked.edge_length, seconds=time.monotonic() - began)
    text, name = wearing_text(wearing, ways, edge_length=asked.edge_length), f"{scene.name}-wear"
    write_text(out / f"{name}.json", json_text(found))
    write_text(out / f"{name}.txt", text)
    drawn, failure = _drawn(saved, out, name, found["cautions"]) if with_pictures else ((), None)
    files = (*(path.name for path in saved), f"{name}.json", f"{name}.txt", *drawn)
    return Worn(found, text, files, failure)


def worn_beside(
    scene: Scene, fitting: Fitting, edge_length: float, chosen: argparse.Namespace, out: Path
) -> tuple[Worn, NotSettledError | None]:
    """What `drape sit` adds where the scene says how the cloak is worn; nothing where it does not, or where the cloak
    did not settle. With the complaint where a way came to no rest.
    """
    from drape.fitting.front_door import edge_length_of
    from drape.wearing.wear import asked_of

    if not scene.worn or not fitting.readings["settled"]:
        return Worn(), None
    coarsest = max(edge_length, edge_length_of(scene, "quick", None))
    asked = asked_of(scene, [], [], edge_length=coarsest, seed=chosen.seed)
    try:
        worn = wear_into(out, scene, asked, starts=1, with_pictures=not chosen.no_pictures)
    except NotSettledError as error:
        return Worn(), error
    for line in worn.readings["left_out"]:
        say(line)
    unsettled = [way["how"] for way in worn.readings["ways"] if not way["settled"]]
    told = Worn({"ways": worn.readings["ways"]}, f"\n{worn.text}", worn.files, worn.failure)
    if unsettled:
        return told, NotSettledError(f"{scene.name}: worn {unsettled[0]}: not settled. Try a coarser --quality.")
    return told, None


def _drawn(
    saved: Sequence[Path], out: Path, name: str, cautions: Sequence[str]
) -> tuple[tuple[str, ...], PictureError | None]:
    """Names of the strips and the page of saved rests; the complaint when they cannot be drawn."""
    if not saved:
        return (), None
    tell(Progress("pictures", 1.0, "drawing the pictures"))
    job = {"saved": [str(one) for one in saved], "out": str(out), "wearing": name, "cautions": list(cautions)}
    try:
        return tuple(draw_in_child(job, allowed_seconds=ALLOWED_SECONDS + SECONDS_A_REST * len(saved))), None
    except PictureError as error:
        return (), error
