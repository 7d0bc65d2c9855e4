"""What each command does: parsed arguments in, results on stdout and in files, an exit code out.

Each command imports the chain inside itself, so that `drape --help` loads nothing heavy. No arithmetic.
Arguments are left to `arguments`, files to `output`, progress to `progress`, errors to `main`.
"""

from __future__ import annotations

import contextlib
import json
import os
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from drape.bench.trial_options import checked_options, options_of, override
from drape.command.kernel_cache import watch_compiling
from drape.command.output import (
    fittings_table,
    folder,
    save,
    save_numbers,
    save_picture,
    with_picture_seconds,
    with_seat,
)
from drape.command.topics import page, plain_text, terminal_width, topic_lines, topics_text
from drape.errors import NotSettledError, PictureError, SceneError
from drape.files import unused, write_new, write_text, write_whole
from drape.fitting.starter_scene import STARTER_SCENE
from drape.progress import Progress, Tell, answer, parted, say, say_saved, tell

if TYPE_CHECKING:
    import argparse

    from drape.cloth.sheet import Cloth
    from drape.fitting.scene import Scene
    from drape.reading.result import Fitting

MOST_COMPARED: Final = 6  # columns of a table
DONE, FAILED, BAD_INPUT, NOT_SETTLED = 0, 1, 2, 3

QUALITY_EDGE_LENGTH_CM: Final = {"quick": 3.0, "fair": 1.5, "fine": 0.75}


def run_sit(chosen: argparse.Namespace) -> int:
    """`drape sit`: settle one scene, save and print its readings."""
    from drape.command.made_from import aside, book_and_say, sitting
    from drape.fitting.scene import load_scene
    from drape.reading.seated import seat_height_from
    from drape.reading.table import json_text

    scene = load_scene(chosen.scene)
    edge_length = _edge_length(chosen, scene)
    seat_height = None if chosen.seat_height_cm is None else seat_height_from(chosen.seat_height_cm)
    with contextlib.ExitStack() as until_done:
        asked = until_done.enter_context(folder(chosen.out or Path(f"{scene.name}-fitting")))
        watch_compiling()
        fitting, complaint = _settle(scene, edge_length, chosen, _parts([edge_length], chosen)[0], seat_height)
        run = sitting(
            scene, fitting, edge_length, chosen.seed, {"sure": chosen.sure, "seat_height_cm": chosen.seat_height_cm}
        )
        out = until_done.enter_context(folder(aside(asked, run)))
        run = replace(run, files=tuple(save(scene, fitting, out)))
        failure = None
        if not chosen.no_pictures:
            started = time.monotonic()
            failure = save_picture([fitting], out, out / f"{scene.name}.png")
            fitting = with_picture_seconds(fitting, time.monotonic() - started)
            save_numbers(fitting, out)
        text = fittings_table([scene], [fitting])
        answer(json_text(fitting.readings) if chosen.json else text)
        book_and_say(out, [run])
        return _finish([complaint], failure)


def run_compare(chosen: argparse.Namespace) -> int:
    """`drape compare`: settle several scenes, save each and what differs."""
    from drape.command.made_from import book_and_say, sitting, together
    from drape.fitting.scene import load_body, load_scene, worn_by
    from drape.reading.comparison import points
    from drape.reading.table import differences, json_text

    scenes = [load_scene(name) for name in chosen.scenes]
    if chosen.bodies:
        if len(scenes) > 1:
            raise SceneError(
                f"compare: got {len(scenes)} scenes with --bodies, allowed one. Its draft is worn by each body."
            )
        scenes += [worn_by(scenes[0], load_body(name), Path(name).stem) for name in chosen.bodies]
        scenes[0] = replace(scenes[0], name=f"{scenes[0].name}-on-{scenes[0].body.lower().replace(' ', '-')}")
    if not 2 <= len(scenes) <= MOST_COMPARED:
        counted = "one scene" if len(scenes) == 1 else f"{len(scenes)} drafts"
        raise SceneError(
            f"compare: got {counted}, allowed two to {MOST_COMPARED}. Name "
            f"{'another' if len(scenes) == 1 else 'fewer'}."
        )
    scenes = _distinct(scenes)
    lengths = [_edge_length(chosen, scene) for scene in scenes]
    name = f"{scenes[0].name}-and-{scenes[-1].name}"
    with folder(chosen.out or Path(f"{name}-fitting")) as out:
        (out / "compare.png").unlink(missing_ok=True)
        watch_compiling()
        settled, runs = [], []
        for scene, length, part in zip(scenes, lengths, _parts(lengths, chosen), strict=True):
            settled.append(_settle(scene, length, chosen, part))
            run = sitting(scene, settled[-1][0], length, chosen.seed, {"sure": chosen.sure})
            runs.append(replace(run, files=tuple(save(scene, settled[-1][0], out))))
        fittings = [fitting for fitting, _ in settled]
        both = {
            "drafts": [fitting.readings for fitting in fittings],
            "differences": differences(fittings[0].readings, fittings[-1].readings),
            "points": points([fitting.readings for fitting in fittings], scenes[0].limits),
        }
        text = fittings_table(scenes, fittings)
        write_text(out / "compare.json", json_text(both))
        write_text(out / "compare.txt", text)
        failure = None if chosen.no_pictures else save_picture(fittings, out, out / "compare.png")
        answer(json_text(both) if chosen.json else text)
        book_and_say(out, [*runs, together("compare", runs)])
        return _finish([complaint for _, complaint in settled], failure)


def run_mend(chosen: argparse.Namespace) -> int:
    """`drape mend`: find by trying what to change on a draft, and write a new scene beside the old."""
    from drape.command.made_from import book_and_say, sitting, together
    from drape.fitting.mend import mend, mended_object, mended_text, mended_words
    from drape.fitting.scene import edge_length_from, load_scene, scene_file
    from drape.reading.table import json_text

    scene, file = load_scene(chosen.scene), scene_file(chosen.scene)
    home = Path() if file.stem == chosen.scene else file.parent  # a shipped scene has no folder of the maker's
    new = unused(home / f"{scene.name}-mended.toml")
    is_sized = chosen.edge_length_cm is not None or chosen.quality is not None
    edge_length = (
        _edge_length(chosen, scene)
        if is_sized
        else max(edge_length_from(QUALITY_EDGE_LENGTH_CM["quick"]), scene.edge_length)
    )
    with folder(chosen.out or Path(f"{scene.name}-mend")) as out:
        watch_compiling()
        try:
            mended = mend(
                scene, edge_length=edge_length, tries=chosen.tries, name=new.stem, seed=chosen.seed,
                progress=tell, tell=say,
            )  # fmt: skip
        except NotSettledError as error:
            say(f"{error} Nothing was written.")
            return NOT_SETTLED
        if mended.is_better:
            text = mended_text(file.read_text(encoding="utf-8-sig"), mended, scene.name)
            write_new(new, lambda path: path.write_text(text, encoding="utf-8"))
        written = str(new) if mended.is_better else ""
        fittings = [mended.before, *([mended.after] if mended.after else [])]
        scenes, runs = [scene, mended.scene][: len(fittings)], []
        for one, fitting in zip(scenes, fittings, strict=True):
            run = sitting(one, fitting, edge_length, chosen.seed, {})
            runs.append(replace(run, files=tuple(save(one, fitting, out))))
        text, found = mended_words(mended, written, chosen.scene), json_text(mended_object(mended, written))
        text = f"{text}\n{fittings_table(scenes, fittings)}"
        write_text(out / "mend.txt", text)
        write_text(out / "mend.json", found)
        failure = None if chosen.no_pictures else save_picture(fittings, out, out / "mend.png")
        answer(found if chosen.json else text)
        book_and_say(out, [*runs, together("mend", runs)])
        return _finish([], failure)


def run_trial_command(chosen: argparse.Namespace) -> int:
    """`drape trial`: one trial of a cloth, printed beside its exact value; drawn when --out is given."""
    from drape.fitting.scene import load_cloth

    kind = chosen.kind
    options = checked_options(kind, {key: getattr(chosen, key) for key in options_of(kind)})
    cloth = load_cloth(chosen.cloth, dict(override(text) for text in chosen.overrides))
    with contextlib.ExitStack() as until_done:
        out = until_done.enter_context(folder(chosen.out)) if chosen.out else None
        return _make_trial(kind, cloth, options, chosen.seed, out, as_json=chosen.json)


def _make_trial(kind: str, cloth: Cloth, options: dict[str, Any], seed: int, out: Path | None, *, as_json: bool) -> int:
    from drape.bench.trial import run_trial, trial_json, trial_text
    from drape.bench.trial_drawing import write_trial_svg

    watch_compiling()
    made = run_trial(kind, cloth, options, seed=seed, progress=tell)
    if out is not None:
        write_whole(out / f"{kind}.svg", lambda path: write_trial_svg(made, path))
        write_text(out / f"{kind}.json", trial_json(made))
    answer(trial_json(made) if as_json else trial_text(made))
    if out is not None:
        say_saved(out)
    evidence = made.result.evidence
    if not evidence.settled:
        say(
            f"trial {kind}: not settled after {evidence.steps} steps: residual {evidence.residual:.3g} of a vertex's "
            "weight. Raise --max-steps or use a coarser --edge-length-cm."
        )
    return DONE if evidence.settled else NOT_SETTLED


def run_measure(chosen: argparse.Namespace) -> int:
    """`drape measure`: the mannequin of a body, or of a scene's, measured, drawn, and saved as a mesh."""
    from drape.body.figure import build_figure
    from drape.body.measure_table import measure_object, measure_table
    from drape.fitting.scene import load_wearer
    from drape.picture.figure_sheet import draw_figure
    from drape.picture.mesh_file import write_glb, write_obj
    from drape.picture.model import mannequin_parts
    from drape.reading.table import json_text

    body = load_wearer(chosen.body)
    name = Path(chosen.body).stem
    with folder(chosen.out or Path(f"{name}-figure")) as out:
        watch_compiling()
        started = time.monotonic()
        tell(Progress("figure", 0.0, "building the figure"))
        figure = build_figure(
            body.tape, name=body.name, sex=body.sex, stance=body.stance, arms=body.arms, worn_under=body.worn_under
        )
        found = measure_object(name, figure, body.tape, time.monotonic() - started)
        text, told = measure_table(found), json_text(found)
        write_text(out / f"{name}.txt", text)
        write_text(out / f"{name}.json", told)
        parts = mannequin_parts(figure.vertices, figure.triangles)
        write_whole(out / f"{name}.glb", lambda path: write_glb(parts, path))
        write_whole(out / f"{name}.obj", lambda path: write_obj(parts, path, material=out / f"{name}.mtl"))
        tell(Progress("pictures", 0.6, "drawing the figure"))
        write_whole(out / f"{name}.png", lambda path: draw_figure(figure, path, title=body.name))
        answer(told if chosen.json else text)
        say_saved(out)
        return DONE


def run_scenes(chosen: argparse.Namespace) -> int:
    """`drape scenes`: the shipped scenes."""
    from drape.fitting.catalogue import scenes_object, scenes_table
    from drape.fitting.scene import load_scene, shipped_scenes
    from drape.reading.table import json_text

    scenes = [load_scene(name) for name in shipped_scenes()]
    answer(json_text(scenes_object(scenes)) if chosen.json else scenes_table(scenes))
    return DONE


def run_bodies(chosen: argparse.Namespace) -> int:
    """`drape bodies`: the shipped bodies."""
    from drape.fitting.catalogue import bodies_object, bodies_table
    from drape.fitting.scene import load_body, shipped_bodies
    from drape.reading.table import json_text

    bodies = {name: load_body(name) for name in shipped_bodies()}
    answer(json_text(bodies_object(bodies)) if chosen.json else bodies_table(bodies))
    return DONE


def run_cloths(chosen: argparse.Namespace) -> int:
    """`drape cloths`: the shipped cloths."""
    from drape.fitting.catalogue import cloths_object, cloths_table
    from drape.fitting.scene import load_cloth, shipped_cloths
    from drape.reading.table import json_text

    cloths = [load_cloth(name) for name in shipped_cloths()]
    answer(json_text(cloths_object(cloths)) if chosen.json else cloths_table(cloths))
    return DONE


def run_cloth(chosen: argparse.Namespace) -> int:
    """`drape cloth`: table-top tests made into a cloth that a scene can name."""
    from drape.bench.table_top import cloth_file_text, load_measured_cloth, measured_object, measured_table
    from drape.bench.table_top_card import write_card_svg
    from drape.reading.table import json_text

    measured = load_measured_cloth(chosen.measurements)
    name = f"{chosen.measurements.stem}-cloth"
    with folder(chosen.out or Path(name)) as out:
        text, found = measured_table(measured), json_text(measured_object(measured))
        write_text(out / f"{name}.toml", cloth_file_text(measured))
        write_text(out / f"{name}.txt", text)
        write_text(out / f"{name}.json", found)
        write_whole(out / f"{name}.svg", lambda path: write_card_svg(path, measured))
        answer(found if chosen.json else text)
        say(f'Saved in {out}{os.sep}. In a scene, under [cloth]: cloth = "{(out / name).as_posix()}.toml"')
        return DONE


def run_guide(chosen: argparse.Namespace) -> int:
    """`drape guide`: a page of the guide, or the list of pages."""
    from drape.reading.table import json_text

    if chosen.topic is None:
        answer(json_text({"topics": topic_lines()}) if chosen.json else topics_text(terminal_width()))
        return DONE
    text = page(chosen.topic)
    answer(json_text({"topic": chosen.topic, "text": text}) if chosen.json else plain_text(text, terminal_width()))
    return DONE


def run_new(chosen: argparse.Namespace) -> int:
    """`drape new`: a commented scene to start from, or the form for a body or a cloth's tests, and its card."""
    path: Path = chosen.file
    if chosen.body is not None and chosen.kind != "scene":
        raise SceneError(f"new: got --body with --kind {chosen.kind}, allowed with a scene only. Leave it out.")
    if chosen.kind == "scene":
        text = STARTER_SCENE.replace("FILE", str(path))
        if chosen.body is not None:
            text = _on_body(text, chosen.body, path.parent)
        write_new(path, lambda new: new.write_text(text, encoding="utf-8"))
        say(f"Wrote {path}. Run it with: drape sit {path}")
        return DONE
    card = path.parent / f"{path.stem}.svg"
    if card == path:
        raise SceneError(f"new: got {path}, which is the card's own name. Give one ending in .toml.")
    text, write, after = _form(chosen.kind, path, card)
    write_new(card, write)
    try:
        write_new(path, lambda new: new.write_text(text, encoding="utf-8"))
    except SceneError:
        card.unlink()
        raise
    say(f"Wrote {path}, and {card} to print. When it is filled in: {after} {path}")
    return DONE


def _form(kind: str, path: Path, card: Path) -> tuple[str, Callable[[Path], None], str]:
    """The text of a form for a body or a cloth, what writes its card, and the command that takes it."""
    if kind == "body":
        from drape.fitting.body_card import write_body_card
        from drape.fitting.body_form import body_form

        return body_form(str(path), card.name), write_body_card, "drape measure"
    from drape.bench.table_top import STARTER_MEASUREMENTS
    from drape.bench.table_top_card import write_card_svg

    text = STARTER_MEASUREMENTS.replace("FILE", str(path)).replace("CARD", card.name)
    return text, write_card_svg, "drape cloth"


def _on_body(text: str, body: str, home: Path) -> str:
    """A scene's text with another body, one of a file by its way from the scene's folder.
    Raises SceneError if it is none.
    """
    from drape.fitting.scene import load_body, shipped_bodies

    load_body(body)
    name = body if body in shipped_bodies() else Path(os.path.relpath(body, home)).as_posix()
    return text.replace('body = "ferry-warden"', f"body = {json.dumps(name, ensure_ascii=False)}", 1)


# --- settling ---------------------------------------------------------------------------------


def _settle(
    scene: Scene,
    edge_length: float,
    chosen: argparse.Namespace,
    progress: Tell | None,
    seat_height: float | None = None,
) -> tuple[Fitting, NotSettledError | None]:
    """One scene settled; with the complaint when it did not come to rest."""
    from drape.fitting.ensemble import sit_surely
    from drape.fitting.sit import draft_of, figure_cut_for

    for remark in draft_of(scene, figure_cut_for(scene)).remarks:
        say(f"{scene.name}: {remark}")
    complaint, before = None, False
    try:
        fitting, before = sit_surely(
            scene, edge_length=edge_length, count=chosen.sure, seed=chosen.seed, progress=progress, tell=say,
            fresh=chosen.fresh,
        )  # fmt: skip
    except NotSettledError as error:
        if error.fitting is None:
            raise
        fitting, complaint = error.fitting, error
    if before:
        say(f"{scene.name}: the shape and its seconds are kept from an earlier run. Settle it anew with --fresh.")
    fitting = with_picture_seconds(fitting, 0.0)
    if seat_height is not None:
        fitting = with_seat(scene, fitting, seat_height)
    return fitting, complaint


def _parts(lengths: Sequence[float], chosen: argparse.Namespace) -> list[Tell | None]:
    """What the settling of each scene tells, at its edge length [m]: its part of the bar;
    the pictures have the last.
    """
    from drape.fitting.clock import PICTURES, cost
    from drape.fitting.sit import halvings

    names = [f"{k} of {len(lengths)}" if len(lengths) > 1 else "" for k in range(1, len(lengths) + 1)]
    costs = {name: chosen.sure * cost(halvings(length) + 1) for name, length in zip(names, lengths, strict=True)}
    return parted(tell, costs if chosen.no_pictures else costs | {"pictures": len(lengths) * PICTURES})[: len(lengths)]


def _finish(complaints: Sequence[NotSettledError | None], failure: PictureError | None) -> int:
    """Say what went wrong, and answer with the graver code."""
    unsettled = [complaint for complaint in complaints if complaint is not None]
    for complaint in (*unsettled, *([failure] if failure else [])):
        say(str(complaint))
    if unsettled:
        return NOT_SETTLED
    return FAILED if failure else DONE


def _distinct(scenes: Sequence[Scene]) -> list[Scene]:
    """The scenes with names that differ, so that none writes over another's results."""
    counts: dict[str, int] = {}
    named = []
    for scene in scenes:
        counts[scene.name] = counts.get(scene.name, 0) + 1
        number = counts[scene.name]
        named.append(replace(scene, name=f"{scene.name}-{number}") if number > 1 else scene)
    return named


def _edge_length(chosen: argparse.Namespace, scene: Scene) -> float:
    """The triangle size asked for [m], or the scene's own."""
    from drape.fitting.scene import edge_length_from

    if chosen.edge_length_cm is not None:
        return edge_length_from(chosen.edge_length_cm)
    if chosen.quality is not None:
        return edge_length_from(QUALITY_EDGE_LENGTH_CM[chosen.quality])
    return scene.edge_length
