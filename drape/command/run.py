"""What each command does: parsed arguments in, results on stdout and in files, an exit code out.

Each command imports the chain inside itself, so that `drape --help` loads nothing heavy. No arithmetic.
Arguments are left to `arguments`, files to `output`, progress to `progress`, errors to `main`.
"""

from __future__ import annotations

import contextlib
import json
import os
import time
from collections.abc import Callable, Generator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drape.bench.trial_options import checked_options, options_of, override
from drape.command.kernel_cache import watch_compiling
from drape.command.output import (
    fittings_brief,
    fittings_table,
    folder,
    save,
    save_picture,
    save_readings,
    with_picture_seconds,
    with_seat,
)
from drape.command.study import door_of
from drape.command.topics import page, plain_text, terminal_width, topic_lines, topics_text
from drape.errors import NotSettledError, PictureError, SceneError
from drape.files import file_name, holds, unused, write_new, write_text, write_whole
from drape.fitting.starter_scene import STARTER_SCENE
from drape.plain import typed
from drape.progress import Progress, answer, say, say_saved, show_first, tell
from drape.schema import refuse_control_characters

if TYPE_CHECKING:
    import argparse

    from drape.cloth.sheet import Cloth
    from drape.command.made_from import Run
    from drape.fitting.mend import Mended
    from drape.fitting.scene import Scene
    from drape.fitting.settling_process import Job
    from drape.reading.result import Fitting

DONE, FAILED, BAD_INPUT, NOT_SETTLED = 0, 1, 2, 3


def run_sit(chosen: argparse.Namespace) -> int:
    """`drape sit`: settle one scene, save and print its readings."""
    from drape.command.made_from import aside, book_and_say, sitting
    from drape.command.wear import worn_beside
    from drape.fitting.front_door import edge_length_of
    from drape.fitting.scene import load_scene
    from drape.reading.seated import seat_height_from
    from drape.reading.table import json_text

    scene = load_scene(chosen.scene, wet=chosen.wet or None)
    edge_length = edge_length_of(scene, chosen.quality, chosen.edge_length_cm)
    seat_height = None if chosen.seat_height_cm is None else seat_height_from(chosen.seat_height_cm)
    with contextlib.ExitStack() as until_done:
        usual = until_done.enter_context(folder(chosen.out or Path(f"{scene.name}-fitting")))
        watch_compiling()
        ((fitting, complaint),) = _settle([scene], [edge_length], chosen)
        if seat_height is not None:
            fitting = with_seat(scene, fitting, seat_height)
        if scene.is_wet:
            fitting = _with_wetting(load_scene(chosen.scene, wet=False), scene, fitting, edge_length, chosen)
        run = sitting(
            scene, fitting, edge_length, chosen.seed, {**_how_often(chosen), "seat_height_cm": chosen.seat_height_cm}
        )
        out = until_done.enter_context(folder(aside(usual, run)))
        own, unworn = worn_beside(scene, fitting, edge_length, chosen, out)
        fitting = replace(fitting, readings={**fitting.readings, **own.readings})
        text = fittings_table([scene], [fitting]) + own.text
        run = replace(run, files=(*save(scene, fitting, out, text), *own.files))
        fitting, failure = _draw_and_save_readings(scene, fitting, out, with_pictures=not chosen.no_pictures)
        shown = text if chosen.all else fittings_brief([scene], [fitting], out / f"{scene.name}.txt") + own.text
        answer(json_text(fitting.readings) if chosen.json else shown)
        book_and_say(out, [run])
        return _finish([complaint, unworn], failure or own.failure)


def _with_wetting(
    dry: Scene, scene: Scene, fitting: Fitting, edge_length: float, chosen: argparse.Namespace
) -> Fitting:
    """A wet cloak's fitting with what has changed beside the dry one's, which is settled for it; it is said too."""
    from drape.fitting.sit import sit
    from drape.wearing.wetting import read_wetting, wetting_words

    before = sit(dry, edge_length=edge_length, seed=chosen.seed, cached=not chosen.fresh, progress=tell)
    group = read_wetting(before.readings, fitting.readings)
    say(wetting_words(group, scene.cloth.filled))
    return replace(fitting, readings={**fitting.readings, "wetting": group})


def _draw_and_save_readings(
    scene: Scene, fitting: Fitting, out: Path, *, with_pictures: bool
) -> tuple[Fitting, PictureError | None]:
    """The sheet of a saved fitting; then its readings, with the seconds it took, however the drawing ended."""
    failure, started = None, time.monotonic()
    try:
        if with_pictures:
            failure = save_picture([fitting], out, out / f"{scene.name}.png")
            fitting = with_picture_seconds(fitting, time.monotonic() - started)
    finally:
        save_readings(fitting, out)
    return fitting, failure


def run_compare(chosen: argparse.Namespace) -> int:
    """`drape compare`: settle several scenes, save each and what differs."""
    from drape.command.made_from import book_and_say, sitting, together
    from drape.fitting.front_door import check_count, comparison_of, edge_length_of
    from drape.fitting.scene import load_body, load_scene, worn_by
    from drape.reading.table import json_text

    scenes = [load_scene(name, wet=chosen.wet or None) for name in chosen.scenes]
    if chosen.bodies:
        if len(scenes) > 1:
            raise SceneError(
                f"compare: got {len(scenes)} scenes with --bodies, allowed one. Its draft is worn by each body."
            )
        scenes += [worn_by(scenes[0], load_body(name), Path(name).stem) for name in chosen.bodies]
        own = file_name(f"{scenes[0].name}-on-{scenes[0].body.lower().replace(' ', '-')}")
        scenes[0] = replace(scenes[0], name=own)
    check_count(len(scenes))
    scenes = _told_apart(scenes, [*chosen.scenes, *chosen.bodies])
    lengths = [edge_length_of(scene, chosen.quality, chosen.edge_length_cm) for scene in scenes]
    name = f"{scenes[0].name}-and-{scenes[-1].name}"
    with folder(chosen.out or Path(f"{name}-fitting")) as out:
        (out / "compare.png").unlink(missing_ok=True)
        watch_compiling()
        settled, runs = [], []
        with contextlib.closing(_settle(scenes, lengths, chosen)) as each:
            for scene, length, one in zip(scenes, lengths, each, strict=True):
                settled.append(one)
                run = sitting(scene, one[0], length, chosen.seed, _how_often(chosen))
                runs.append(_saved(run, scene, one[0], out))
        fittings = [fitting for fitting, _ in settled]
        compared = comparison_of(fittings, scenes[0].limits)
        both = {
            "conclusion": compared.conclusion,
            "drafts": [fitting.readings for fitting in fittings],
            "differences": compared.differences,
            "points": compared.points,
        }
        text = fittings_table(scenes, fittings)
        write_text(out / "compare.json", json_text(both))
        write_text(out / "compare.txt", text)
        failure = None if chosen.no_pictures else save_picture(fittings, out, out / "compare.png")
        shown = text if chosen.all else fittings_brief(scenes, fittings, out / "compare.txt")
        answer(json_text(both) if chosen.json else shown)
        book_and_say(out, [*runs, together("compare", runs)])
        return _finish([complaint for _, complaint in settled], failure)


def _told_apart(scenes: Sequence[Scene], given: Sequence[str | Path]) -> list[Scene]:
    """The scenes with names that differ, and a word for each that is not called as its file is."""
    from drape.fitting.front_door import distinct

    apart = distinct(scenes)
    for path, old, new in zip(given, scenes, apart, strict=True):
        if old.name != new.name:
            say(f"{path}: its results are called {new.name}, since another's are called {old.name}.")
    return apart


def run_mend(chosen: argparse.Namespace) -> int:
    """`drape mend`: find by trying what to change on a draft, and write a new scene beside the old."""
    from drape.cloth.rehearsal import compile_kernels
    from drape.fitting.front_door import mending_edge_length_of
    from drape.fitting.mend import mend, mended_text
    from drape.fitting.scene import load_scene, scene_file

    scene, file = load_scene(chosen.scene, wet=chosen.wet or None), scene_file(chosen.scene)
    home = Path() if file.stem == chosen.scene else file.parent  # a shipped scene has no folder of the maker's
    source = file.read_text(encoding="utf-8-sig")

    def called(found: Mended) -> str:
        """After the file it is written to: that of an earlier run, where it holds the same."""
        return unused(home / f"{scene.name}-mended.toml", mended_text(source, found, scene.name)).stem

    edge_length = mending_edge_length_of(scene, chosen.quality, chosen.edge_length_cm)
    with folder(chosen.out or Path(f"{scene.name}-mend")) as out:
        watch_compiling()
        compile_kernels()
        try:
            with door_of(chosen) as door:
                mended = mend(
                    scene, edge_length=edge_length, tries=chosen.tries, name=called, seed=chosen.seed,
                    progress=tell, tell=say, door=door,
                )  # fmt: skip
        except NotSettledError as error:
            say(f"{error} Nothing was written.")
            return NOT_SETTLED
        if mended.is_better:
            new, text = home / f"{mended.scene.name}.toml", mended_text(source, mended, scene.name)
            if not holds(new, text):
                write_new(new, lambda path: path.write_text(text, encoding="utf-8", newline="\n"))
        return _mended(chosen, scene, mended, str(new) if mended.is_better else "", out)


def _mended(chosen: argparse.Namespace, scene: Scene, mended: Mended, written: str, out: Path) -> int:
    """Save and tell what mending came to. written: the new scene file, or ""."""
    from drape.command.made_from import book_and_say, sitting, together
    from drape.fitting.mend import mended_object, mended_words
    from drape.reading.table import json_text

    fittings = [mended.before, *([mended.after] if mended.after else [])]
    scenes, runs = [scene, mended.scene][: len(fittings)], []
    for one, fitting in zip(scenes, fittings, strict=True):
        run = sitting(one, fitting, mended.edge_length, chosen.seed, {})
        runs.append(_saved(run, one, fitting, out))
    words, found = mended_words(mended, written, chosen.scene), json_text(mended_object(mended, written))
    text = f"{words}\n{fittings_table(scenes, fittings)}"
    shown = text if chosen.all else f"{words}\n{fittings_brief(scenes, fittings, out / 'mend.txt')}"
    write_text(out / "mend.txt", text)
    write_text(out / "mend.json", found)
    failure = None if chosen.no_pictures else save_picture(fittings, out, out / "mend.png")
    answer(found if chosen.json else shown)
    book_and_say(out, [*runs, together("mend", runs)])
    return _finish([], failure)


def run_trial_command(chosen: argparse.Namespace) -> int:
    """`drape trial`: one trial of a cloth, printed beside its exact value; drawn when --out is given."""
    from drape.fitting.scene import load_cloth

    kind = chosen.kind
    options = checked_options(kind, {key: getattr(chosen, key) for key in options_of(kind)})
    cloth = load_cloth(chosen.cloth, dict(override(text) for text in chosen.overrides), wet=chosen.wet)
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
    name = file_name(Path(chosen.body).stem)
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

    cloths = [load_cloth(name, wet=chosen.wet) for name in shipped_cloths()]
    answer(json_text(cloths_object(cloths)) if chosen.json else cloths_table(cloths))
    return DONE


def run_cloth(chosen: argparse.Namespace) -> int:
    """`drape cloth`: table-top tests made into a cloth that a scene can name."""
    from drape.bench.table_top import load_measured_cloth
    from drape.bench.table_top_card import write_card_svg
    from drape.bench.table_top_words import cloth_file_text, measured_object, measured_table
    from drape.reading.table import json_text

    measured = load_measured_cloth(chosen.measurements)
    name = file_name(f"{chosen.measurements.stem}-cloth")
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
    if chosen.drawing is not None and chosen.kind != "scene":
        raise SceneError(f"new: got --from with --kind {chosen.kind}, allowed with a scene only. Leave it out.")
    _check_new(path, chosen.kind)
    if chosen.drawing is not None:
        from drape.command.trace import write_traced

        return write_traced(chosen, path)
    if chosen.kind == "scene":
        text = STARTER_SCENE.replace("FILE", typed(path))
        if chosen.body is not None:
            text = _on_body(text, chosen.body, path.parent)
        write_new(path, lambda new: new.write_text(text, encoding="utf-8"))
        say(f"Wrote {path}. Run it with: drape sit {typed(path)}")
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
    say(f"Wrote {path}, and {card} to print. When it is filled in: {after} {typed(path)}")
    return DONE


def _check_new(path: Path, kind: str) -> None:
    """Refuse a name that the next command would not take for this file. Raises SceneError."""
    from drape.fitting.scene import shipped_bodies, shipped_scenes

    refuse_control_characters(str(path), "new")
    shipped = {"scene": shipped_scenes, "body": shipped_bodies}.get(kind, tuple)()
    if str(path) in shipped:
        raise SceneError(f'new: got "{path}", the name of a shipped {kind}. Give a name that ends in .toml.')


def _form(kind: str, path: Path, card: Path) -> tuple[str, Callable[[Path], None], str]:
    """The text of a form for a body or a cloth, what writes its card, and the command that takes it."""
    if kind == "body":
        from drape.fitting.body_card import write_body_card
        from drape.fitting.body_form import body_form

        return body_form(typed(path), card.name), write_body_card, "drape measure"
    from drape.bench.table_top import STARTER_MEASUREMENTS
    from drape.bench.table_top_card import write_card_svg

    text = STARTER_MEASUREMENTS.replace("FILE", typed(path)).replace("CARD", card.name)
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


def _saved(run: Run, scene: Scene, fitting: Fitting, out: Path) -> Run:
    """The run with the files of one of its fittings, which are written, all but a picture."""
    files = save(scene, fitting, out, fittings_table([scene], [fitting]))
    save_readings(fitting, out)
    return replace(run, files=tuple(files))


def _settle(
    scenes: Sequence[Scene], lengths: Sequence[float], chosen: argparse.Namespace
) -> Generator[tuple[Fitting, NotSettledError | None]]:
    """Each scene settled at its edge length [m], as the flags say; with the complaint when it did not come to rest."""
    from drape.cloth.rehearsal import compile_kernels
    from drape.fitting.clock import PICTURES
    from drape.fitting.ensemble import Runs, plan_of, settle_runs
    from drape.fitting.quality import starts_of
    from drape.fitting.side_by_side import Crew, cores, costs_of

    starts = starts_of(chosen.quality, chosen.starts)
    runs = [Runs(length, chosen.seed, starts, chosen.sure, not chosen.fresh) for length in lengths]
    plans = [plan_of(scene, own, scene.name if scenes[1:] else "") for scene, own in zip(scenes, runs, strict=True)]
    compile_kernels()
    costs = costs_of(job for plan in plans for job in plan.jobs)
    costs |= {} if chosen.no_pictures else {"pictures": len(scenes) * PICTURES}
    possible = [job for plan in plans for job in plan.possible]
    early = _first_tables([plan.jobs[0] for plan in plans])
    with Crew(chosen.jobs or cores(), costs, possible=possible, tell=tell, early=early) as crew:
        crew.prepare([job for plan in plans for job in plan.certain])
        _say_remarks(scenes)
        for k, (scene, plan) in enumerate(zip(scenes, plans, strict=True)):
            complaint = None
            try:
                ahead = [job for later in plans[k + 1 :] for job in later.certain]
                fitting = settle_runs(crew, plan, ahead=ahead, tell=say)
            except NotSettledError as error:
                if error.fitting is None:
                    raise
                fitting, complaint = error.fitting, error
            if fitting.is_recalled:
                kept = "the shape and its seconds are kept from an earlier run"
                say(f"{scene.name}: {kept}. Settle it anew with --fresh.")
            yield with_picture_seconds(fitting, 0.0), complaint


def _how_often(chosen: argparse.Namespace) -> dict[str, int]:
    """What of the flags says how often a scene is settled."""
    from drape.fitting.quality import starts_of

    return {"sure": chosen.sure, "starts": starts_of(chosen.quality, chosen.starts)}


def _say_remarks(scenes: Sequence[Scene]) -> None:
    """What of each draft is not as asked: before any of them is settled, so that one that is refused costs nothing."""
    from drape.fitting.sit import draft_of, figure_cut_for

    for scene in scenes:
        tell(Progress("draft", 0.0, "working out the draft"))
        for remark in draft_of(scene, figure_cut_for(scene)).remarks:
            say(f"{scene.name}: {remark}")


def _first_tables(firsts: Sequence[Job]) -> Callable[[Job, Mapping[str, Any]], None]:
    """What shows the coarse readings of each scene's first run, those that have come so far side by side."""
    from drape.reading.first_table import first_table

    found: dict[Job, Mapping[str, Any]] = {}

    def early(job: Job, readings: Mapping[str, Any]) -> None:
        if job in firsts:
            found[job] = readings
            show_first(first_table([found[one] for one in firsts if one in found]), first_table([readings]))

    return early


def _finish(complaints: Sequence[NotSettledError | None], failure: PictureError | None) -> int:
    """Say what went wrong, and answer with the graver code."""
    unsettled = [complaint for complaint in complaints if complaint is not None]
    for complaint in (*unsettled, *([failure] if failure else [])):
        say(str(complaint))
    if unsettled:
        return NOT_SETTLED
    return FAILED if failure else DONE
