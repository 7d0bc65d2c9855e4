"""The command `drape`: arguments in, files and one exit code out. No arithmetic.

Each command imports the chain inside itself, so `drape --help` loads nothing heavy. Results go to
stdout, progress and errors to stderr. The only module that prints and that turns a DrapeError into
a line and an exit code: 0 done, 1 something of ours failed, 2 bad input or usage, 3 not settled.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import math
import os
import re
import shutil
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Callable, Final, Iterator, NoReturn, Sequence

from drape import __version__
from drape.errors import DraftError, DrapeError, FigureError, NotSettledError, PictureError, SceneError
from drape.trial_options import KINDS, checked_options, options_of, override
from drape.units import from_si

if TYPE_CHECKING:
    from drape.cloth import Cloth
    from drape.draft import Draft
    from drape.fitting import Fitting, Progress
    from drape.scene import Scene

DONE, FAILED, BAD_INPUT, NOT_SETTLED = 0, 1, 2, 3
INTERRUPTED: Final = 130  # what a shell calls a program stopped by Ctrl-C

QUALITY_EDGE_LENGTH_CM: Final = {"quick": 3.0, "fair": 1.5, "fine": 0.75}

STARTER_SCENE: Final = '''\
# A scene for drape: one cloak draft, of one cloth, for one body.
# Every number's name ends in its unit. Lines starting with # are notes; take the # away to use them.
# Run it with:  drape sit FILE

title = "A half-circle cloak"
expect = "What you think will happen, to hold the result against."

[figure]
body = "ferry-warden"             # a shipped body (see: drape bodies) or the path of your own file
# neck_base_girth_cm = 41.0       # any tape measure may be overridden here

[cloth]
preset = "heavy melton"           # see: drape cloths; or the path of a file that drape cloth wrote
# areal_density_g_m2 = 620.0      # any key of the cloth may be overridden here

# [lining]                        # sewn in at neck, hem and edges, over the whole draft; hangs with the cloth
# preset = "light suiting"
# colour = "#8c3b3b"              # what the inside shows, in place of [picture] inside

# [interlining]                   # between cloth and lining
# preset = "calico"

[draft]
sweep_deg = 180.0                 # 180: half circle
neck = "tailored"                 # "round": one arc; "tailored": shaped for the figure
length_cm = 110.0                 # neck edge to hem, down the centre back
# front_neck_depth_cm = 22.5      # left out: worked out from the figure
# back_neck_depth_cm = 18.0
# neck_width_cm = 15.5
# neck_ease_cm = 1.0              # instead of the three above: slack beyond the neck-base girth

[closure]
place = "right shoulder"
# shoulder_cut_intake_cm = 9.5    # taken out at the neck edge, half from each side; 0: straight
# shoulder_cut_length_cm = 15.0
# fastened_length_cm = 15.0       # how far down from the neck edge it is fastened

[[dart]]
place = "left shoulder"
# intake_cm = 9.5
# length_cm = 15.0

[settle]
edge_length_cm = 1.5              # size of the triangles: smaller is finer and slower

[picture]
outside = "#44648c"
inside = "#cf9a45"
figure = "#e9e1d1"
'''


# --- arguments --------------------------------------------------------------------------------


class OneLineParser(argparse.ArgumentParser):
    """Answers wrong usage with one line and exit code 2."""

    def error(self, message: str) -> NoReturn:
        line = " ".join(message.split())
        line = re.sub(r"invalid choice: (.+?) \(choose from (.+)\)", r"got \1, allowed \2", line)
        line = re.sub(r"invalid float value: (.+)", r"got \1, allowed a number", line)
        self.exit(BAD_INPUT, f"{self.prog}: {line}. Try `{self.prog} --help`.\n")


def build_parser() -> argparse.ArgumentParser:
    """The whole command line."""
    parser = OneLineParser(
        prog="drape",
        description="Settle a flat cloak draft over a body made from tape measures, and read how it sits.",
        epilog="Try: drape compare ferry-warden-round ferry-warden-tailored",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"drape {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    _add_sit(commands)
    _add_compare(commands)
    _add_draft(commands)
    _add_trial(commands)
    for name, run, words in (
        ("bodies", run_bodies, "list the shipped bodies"),
        ("cloths", run_cloths, "list the cloth presets and their values"),
    ):
        listing = _add_command(commands, name, run, words, example=f"drape {name}")
        _add_json(listing)
    _add_cloth(commands)
    new = _add_command(
        commands, "new", run_new, "write a commented file to start from", example="drape new mine.toml"
    )
    new.add_argument("file", metavar="FILE", type=Path, help="file to write; never overwritten")
    new.add_argument(
        "--kind", choices=("scene", "cloth"), default="scene",
        help="what to start: a scene (default), or the table-top tests of a cloth, with their card to print",
    )  # fmt: skip
    return parser


def _add_command(
    commands: Any, name: str, run: Callable[[argparse.Namespace], int], words: str, *, example: str
) -> argparse.ArgumentParser:
    command = commands.add_parser(
        name, help=words, description=words[0].upper() + words[1:] + ".",
        epilog=f"Example: {example}", allow_abbrev=False,
    )  # fmt: skip
    command.set_defaults(run=run)
    return command


def _add_sit(commands: Any) -> None:
    sit = _add_command(
        commands, "sit", run_sit, "settle one draft on its body and read how it sits",
        example="drape sit ferry-warden-tailored --quality quick",
    )  # fmt: skip
    sit.add_argument("scene", metavar="SCENE", help="a scene file, or the name of a shipped scene")
    _add_settling(sit)


def _add_compare(commands: Any) -> None:
    compare = _add_command(
        commands, "compare", run_compare, "settle two or more drafts and set their readings side by side",
        example="drape compare ferry-warden-round ferry-warden-tailored",
    )  # fmt: skip
    compare.add_argument(
        "scenes", metavar="SCENE", nargs="+", help="scene files or names of shipped scenes, two or more"
    )
    _add_settling(compare)


def _add_draft(commands: Any) -> None:
    draft = _add_command(
        commands, "draft", run_draft, "draw the flat draft alone, without settling it",
        example="drape draft ferry-warden-tailored",
    )  # fmt: skip
    draft.add_argument("scene", metavar="SCENE", help="a scene file, or the name of a shipped scene")
    _add_out(draft)
    _add_json(draft)


def _add_trial(commands: Any) -> None:
    trial = _add_command(
        commands, "trial", run_trial_command, "try a cloth on the textile bench, beside the exact value",
        example='drape trial cantilever --cloth "heavy melton"',
    )  # fmt: skip
    kinds = trial.add_subparsers(dest="kind", metavar="KIND", title="kinds", required=True, help="what to try")
    for name, kind in KINDS.items():
        one = kinds.add_parser(
            name, help=kind.words, description=f"{kind.words[0].upper()}{kind.words[1:]}.",
            epilog=f"Example: drape trial {name} --cloth flannel", allow_abbrev=False,
        )  # fmt: skip
        one.add_argument("--cloth", required=True, metavar="CLOTH", help="a cloth preset, or the path of a cloth file")
        one.add_argument(
            "--set", action="append", default=[], metavar="KEY=VALUE", dest="overrides",
            help="another value for one of the cloth's keys; may be given several times",
        )  # fmt: skip
        for key, rule in options_of(name).items():
            one.add_argument(
                f"--{key.replace('_', '-')}", type=float, metavar="N" if rule.plain else "X", dest=key,
                help=f"{rule.low:g} to {rule.high:g}",
            )  # fmt: skip
        one.add_argument("--seed", type=_seed, default=0, metavar="N", help="another mesh (default 0)")
        one.add_argument("--out", type=Path, metavar="DIR", help="folder for the drawing; none is made without it")
        _add_json(one)


def _add_cloth(commands: Any) -> None:
    cloth = _add_command(
        commands, "cloth", run_cloth, "work out a cloth, each value with its ±, from tests made on a table",
        example="drape cloth grey-melton.toml",
    )  # fmt: skip
    cloth.add_argument(
        "measurements", metavar="MEASUREMENTS", type=Path,
        help="a file of readings; `drape new FILE --kind cloth` writes one to fill in",
    )  # fmt: skip
    _add_out(cloth, "cloth")
    _add_json(cloth)


def _add_settling(command: argparse.ArgumentParser) -> None:
    size = command.add_mutually_exclusive_group()
    sizes = ", ".join(f"{name} {length:g} cm" for name, length in QUALITY_EDGE_LENGTH_CM.items())
    size.add_argument(
        "--quality", choices=tuple(QUALITY_EDGE_LENGTH_CM),
        help=f"size of the triangles: {sizes}; the scene's own when left out",
    )  # fmt: skip
    size.add_argument("--edge-length-cm", type=float, metavar="X", help="size of the triangles, 0.5 to 6 cm")
    command.add_argument(
        "--seed", type=_seed, default=0, metavar="N", help="another start: meshes differently (default 0)"
    )
    command.add_argument("--no-pictures", action="store_true", help="save the numbers only")
    command.add_argument(
        "--fresh", action="store_true", help="settle anew, though the same draft has been settled before"
    )
    _add_out(command)
    _add_json(command)


def _add_out(command: argparse.ArgumentParser, kind: str = "fitting") -> None:
    command.add_argument(
        "--out", type=Path, metavar="DIR", help=f"folder for the results (default ./NAME-{kind})"
    )


def _add_json(command: argparse.ArgumentParser) -> None:
    command.add_argument("--json", action="store_true", help="print one JSON object and nothing else")


def _seed(text: str) -> int:
    if not text.isdecimal() or len(text) > 9:
        raise argparse.ArgumentTypeError(f"got {text!r}, allowed a whole number from 0 to 999999999")
    return int(text)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; return its exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a terminal without ± shows ?, not a traceback
    try:
        code = _run(arguments)
        sys.stdout.flush()
        return code
    except BrokenPipeError:
        # The reader of our output has gone; Python would complain once more when it closes stdout.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FAILED
    except KeyboardInterrupt:
        _say("\ndrape: stopped.")
        return INTERRUPTED


def _run(arguments: Sequence[str] | None) -> int:
    parser = build_parser()
    chosen = parser.parse_args(arguments)
    if chosen.command is None:
        parser.error("no command given, allowed sit, compare, draft, trial, bodies, cloths, cloth, new")
    try:
        with _kept_kernels():
            return chosen.run(chosen)
    except NotSettledError as error:
        _say(str(error))
        return NOT_SETTLED
    except (SceneError, FigureError, DraftError) as error:
        _say(str(error))
        return BAD_INPUT
    except DrapeError as error:
        _say(str(error))
        return FAILED


# --- commands ---------------------------------------------------------------------------------


def run_sit(chosen: argparse.Namespace) -> int:
    """`drape sit`: settle one scene, save and print its readings."""
    from drape.report import json_text
    from drape.scene import load_scene

    scene = load_scene(chosen.scene)
    edge_length = _edge_length(chosen, scene)
    with _folder(chosen.out or Path(f"{scene.name}-fitting")) as out:
        _say_compiling()
        fitting, complaint = _settle(scene, edge_length, chosen, out)
        failure = None
        if not chosen.no_pictures:
            started = time.monotonic()
            failure = _picture([fitting], out, out / f"{scene.name}.png")
            fitting = _with_picture_seconds(fitting, time.monotonic() - started)
            _save_numbers(fitting, out)
        text = _table([scene], [fitting])
        print(json_text(fitting.readings) if chosen.json else text, end="")
        _say_saved(out)
        return _finish([complaint], failure)


def run_compare(chosen: argparse.Namespace) -> int:
    """`drape compare`: settle several scenes, save each and what differs."""
    from drape.report import differences, json_text
    from drape.scene import load_scene

    if len(chosen.scenes) < 2:
        raise SceneError(f"compare: got one scene, {chosen.scenes[0]}, allowed two or more. Name another.")
    scenes = _distinct([load_scene(name) for name in chosen.scenes])
    lengths = [_edge_length(chosen, scene) for scene in scenes]
    name = f"{scenes[0].name}-and-{scenes[-1].name}"
    with _folder(chosen.out or Path(f"{name}-fitting")) as out:
        (out / "compare.png").unlink(missing_ok=True)
        _say_compiling()
        settled = [_settle(scene, length, chosen, out) for scene, length in zip(scenes, lengths, strict=True)]
        fittings = [fitting for fitting, _ in settled]
        both = {
            "drafts": [fitting.readings for fitting in fittings],
            "differences": differences(fittings[0].readings, fittings[-1].readings),
        }
        text = _table(scenes, fittings)
        _write_text(out / "compare.json", json_text(both))
        _write_text(out / "compare.txt", text)
        failure = None if chosen.no_pictures else _picture(fittings, out, out / "compare.png")
        print(json_text(both) if chosen.json else text, end="")
        _say_saved(out)
        return _finish([complaint for _, complaint in settled], failure)


def run_draft(chosen: argparse.Namespace) -> int:
    """`drape draft`: the flat draft with its dimensions, not settled."""
    from drape.report import dimensions_table, edge_dimensions, json_text
    from drape.scene import load_scene

    scene = load_scene(chosen.scene)
    with _folder(chosen.out or Path(f"{scene.name}-fitting")) as out:
        _say_compiling()
        draft = _draft_of(scene)
        _write_draft(scene, draft, out)
        dimensions = {"scene": scene.name, **edge_dimensions(draft.dimensions)}
        print(json_text(dimensions) if chosen.json else dimensions_table(scene.title, dimensions), end="")
        _say_saved(out)
        return DONE


def run_trial_command(chosen: argparse.Namespace) -> int:
    """`drape trial`: one trial of a cloth, printed beside its exact value; drawn when --out is given."""
    from drape.scene import load_cloth

    kind = chosen.kind
    options = checked_options(kind, {key: getattr(chosen, key) for key in options_of(kind)})
    cloth = load_cloth(chosen.cloth, dict(override(text) for text in chosen.overrides))
    with contextlib.ExitStack() as until_done:
        out = until_done.enter_context(_folder(chosen.out)) if chosen.out else None
        return _make_trial(kind, cloth, options, chosen.seed, out, as_json=chosen.json)


def _make_trial(
    kind: str, cloth: Cloth, options: dict[str, Any], seed: int, out: Path | None, *, as_json: bool
) -> int:
    from drape.bench import run_trial, trial_json, trial_text
    from drape.trial_sheet import write_trial_svg

    _say_compiling()
    line = ProgressLine(kind)
    try:
        made = run_trial(kind, cloth, options, seed=seed, progress=line)
    finally:
        line.close()
    if out is not None:
        _replace(out / f"{kind}.svg", lambda path: write_trial_svg(made, path))
        _write_text(out / f"{kind}.json", trial_json(made))
    print(trial_json(made) if as_json else trial_text(made), end="")
    if out is not None:
        _say_saved(out)
    evidence = made.result.evidence
    if not evidence.settled:
        _say(
            f"trial {kind}: not settled after {evidence.steps} steps: residual {evidence.residual:.3g} of a vertex's "
            "weight. Raise --max-steps or use a coarser --edge-length-cm."
        )
    return DONE if evidence.settled else NOT_SETTLED


def run_bodies(chosen: argparse.Namespace) -> int:
    """`drape bodies`: the shipped bodies."""
    from drape.report import bodies_object, bodies_table, json_text
    from drape.scene import load_body, shipped_bodies

    bodies = {name: load_body(name) for name in shipped_bodies()}
    print(json_text(bodies_object(bodies)) if chosen.json else bodies_table(bodies), end="")
    return DONE


def run_cloths(chosen: argparse.Namespace) -> int:
    """`drape cloths`: the cloth presets."""
    from drape.report import cloths_object, cloths_table, json_text
    from drape.scene import load_cloth, shipped_cloths

    cloths = [load_cloth(name) for name in shipped_cloths()]
    print(json_text(cloths_object(cloths)) if chosen.json else cloths_table(cloths), end="")
    return DONE


def run_cloth(chosen: argparse.Namespace) -> int:
    """`drape cloth`: table-top tests made into a cloth that a scene can name."""
    from drape.benchcard import write_card_svg
    from drape.report import json_text
    from drape.tabletop import cloth_file_text, load_measured_cloth, measured_object, measured_table

    measured = load_measured_cloth(chosen.measurements)
    name = f"{chosen.measurements.stem}-cloth"
    with _folder(chosen.out or Path(name)) as out:
        text, found = measured_table(measured), json_text(measured_object(measured))
        _write_text(out / f"{name}.toml", cloth_file_text(measured))
        _write_text(out / f"{name}.txt", text)
        _write_text(out / f"{name}.json", found)
        _replace(out / f"{name}.svg", lambda path: write_card_svg(path, measured))
        print(found if chosen.json else text, end="")
        _say(f'Saved in {out}{os.sep}. In a scene, under [cloth]: preset = "{(out / name).as_posix()}.toml"')
        return DONE


def run_new(chosen: argparse.Namespace) -> int:
    """`drape new`: a commented scene to start from, or a commented file of table-top tests and their card."""
    path: Path = chosen.file
    if chosen.kind == "scene":
        _write_new(path, lambda new: new.write_text(STARTER_SCENE.replace("FILE", str(path)), encoding="utf-8"))
        _say(f"Wrote {path}. Run it with: drape sit {path}")
        return DONE
    from drape.benchcard import write_card_svg
    from drape.tabletop import STARTER_MEASUREMENTS

    card = path.parent / f"{path.stem}.svg"
    if card == path:
        raise SceneError(f"new: got {path}, which is the card's own name. Give one ending in .toml.")
    text = STARTER_MEASUREMENTS.replace("FILE", str(path)).replace("CARD", card.name)
    _write_new(card, write_card_svg)
    try:
        _write_new(path, lambda new: new.write_text(text, encoding="utf-8"))
    except SceneError:
        card.unlink()
        raise
    _say(f"Wrote {path}, and {card} to print. When it is filled in: drape cloth {path}")
    return DONE


# --- settling and saving ----------------------------------------------------------------------


def _settle(
    scene: Scene, edge_length: float, chosen: argparse.Namespace, out: Path
) -> tuple[Fitting, NotSettledError | None]:
    """One scene settled and its numbers saved; with the complaint when it did not come to rest."""
    from drape.fitting import sit_again

    line = ProgressLine(scene.name)
    complaint, before = None, False
    try:
        fitting, before = sit_again(
            scene, edge_length=edge_length, seed=chosen.seed, progress=line, fresh=chosen.fresh
        )
    except NotSettledError as error:
        if error.fitting is None:
            raise
        fitting, complaint = error.fitting, error
    finally:
        line.close()
    if before:
        _say(f"{scene.name}: the shape and its seconds are kept from an earlier run. Settle it anew with --fresh.")
    fitting = _with_picture_seconds(fitting, 0.0)
    _save(scene, fitting, out)
    return fitting, complaint


def _save(scene: Scene, fitting: Fitting, out: Path) -> None:
    """Everything but the picture, each file whole or not at all."""
    (out / f"{scene.name}.png").unlink(missing_ok=True)  # an older picture would not match
    _save_numbers(fitting, out)
    _write_text(out / f"{scene.name}.txt", _table([scene], [fitting]))
    if fitting.draft is not None:  # a loaded fitting has none
        _write_draft(scene, fitting.draft, out)


def _save_numbers(fitting: Fitting, out: Path) -> None:
    from drape.fitting import save_fitting
    from drape.report import json_text

    save_fitting(fitting, out)
    _write_text(out / f"{fitting.name}.json", json_text(fitting.readings))


def _draft_of(scene: Scene) -> Draft:
    from drape.draft import draft_cloak
    from drape.fitting import figure_of

    return draft_cloak(scene.style, figure_of(scene))


def _write_draft(scene: Scene, draft: Draft, out: Path) -> None:
    from drape.pattern import write_draft_svg

    _replace(out / f"{scene.name}.svg", lambda path: write_draft_svg(draft, path, title=scene.title))


def _picture(fittings: Sequence[Fitting], out: Path, path: Path) -> PictureError | None:
    """The sheet of some saved fittings, kept from before or drawn; the complaint when it cannot be drawn."""
    from drape.keep import content_key, keep, recall

    saved = [out / f"{fitting.name}.npz" for fitting in fittings]
    key = content_key("sheet", [one.read_bytes() for one in saved])
    before = recall(key)
    if before is not None:
        _replace(path, lambda passing: passing.write_bytes(before))
        return None
    from drape.picture import draw_in_child

    _say("Drawing the pictures.")
    try:
        draw_in_child(saved, path)
    except PictureError as error:
        return error
    if all(fitting.readings["settled"] for fitting in fittings):
        keep(key, path.read_bytes())
    return None


def _with_picture_seconds(fitting: Fitting, seconds: float) -> Fitting:
    times = {**fitting.readings.get("seconds", {}), "pictures": round(seconds, 3)}
    return replace(fitting, readings={**fitting.readings, "seconds": times})


def _table(scenes: Sequence[Scene], fittings: Sequence[Fitting]) -> str:
    """The text report: readings side by side, then the cautions that apply, once."""
    from drape.report import cautions, cautions_text, table, value_at

    text = table(
        [fitting.readings for fitting in fittings],
        titles=[scene.title for scene in scenes],
        expects=[scene.expect for scene in scenes],
    )
    lines: dict[str, None] = {}
    for scene, fitting in zip(scenes, fittings, strict=True):
        found = cautions(
            sex=scene.sex,
            stature=scene.tape.get("stature"),
            cloths=scene.layers,
            clearance_cm=value_at(fitting.readings, "fall.clearance_cm"),
        )
        lines |= dict.fromkeys(found)
    return text + cautions_text(list(lines))


def _finish(complaints: Sequence[NotSettledError | None], failure: PictureError | None) -> int:
    """Say what went wrong, and answer with the graver code."""
    unsettled = [complaint for complaint in complaints if complaint is not None]
    for complaint in (*unsettled, *([failure] if failure else [])):
        _say(str(complaint))
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
    from drape.scene import edge_length_from

    if chosen.edge_length_cm is not None:
        return edge_length_from(chosen.edge_length_cm)
    if chosen.quality is not None:
        return edge_length_from(QUALITY_EDGE_LENGTH_CM[chosen.quality])
    return scene.edge_length


# --- files ------------------------------------------------------------------------------------


@contextlib.contextmanager
def _folder(path: Path) -> Iterator[Path]:
    """A folder to write results in; if the work fails before anything is in it, it goes again."""
    new = not path.exists()
    try:
        path.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=path):
            pass
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise SceneError(f"--out: got {path}, cannot be written: {reason}. Give another folder.") from None
    try:
        yield path
    finally:
        if new and not any(path.iterdir()):
            path.rmdir()


def _write_text(path: Path, text: str) -> None:
    _replace(path, lambda passing: passing.write_text(text, encoding="utf-8"))


def _write_new(path: Path, write: Callable[[Path], object]) -> None:
    """Write a file that must not be there yet. Raises SceneError."""
    try:
        path.touch(exist_ok=False)
        try:
            _replace(path, write)
        except BaseException:
            path.unlink()
            raise
    except FileExistsError:
        raise SceneError(f"new: got {path}, which exists, allowed a new file. Give another name.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise SceneError(f"new: got {path}, cannot be written: {reason}. Give another folder.") from None


def _replace(path: Path, write: Callable[[Path], object]) -> None:
    """Write under a passing name, then put it in place: nothing half written is ever found."""
    passing = path.with_name(f".{path.stem}.{os.getpid()}{path.suffix}")
    try:
        write(passing)
        os.replace(passing, path)
    finally:
        passing.unlink(missing_ok=True)


# --- progress ---------------------------------------------------------------------------------


def _say(line: str) -> None:
    """A line for the person at the terminal, not for the program reading our output."""
    with contextlib.suppress(BrokenPipeError):
        print(line, file=sys.stderr, flush=True)


def _say_saved(out: Path) -> None:
    _say(f"Saved in {out}{os.sep}")


class ProgressLine:
    """How far one fitting has come, on stderr: one line rewritten, or plain lines into a file."""

    WIDTH = 20
    PLAIN_SECONDS = 10.0  # between plain lines of one part

    def __init__(self, name: str) -> None:
        self.name = name
        self.live = sys.stderr.isatty()
        self.part = ""
        self.shown_at = -self.PLAIN_SECONDS
        self.shown_width = 0

    def __call__(self, progress: Progress) -> None:
        due = 0.1 if self.live else self.PLAIN_SECONDS
        now = time.monotonic()
        if progress.part == self.part and now - self.shown_at < due and progress.fraction < 1.0:
            return
        self.part, self.shown_at = progress.part, now
        text = self.text(progress)
        if self.live:
            room = shutil.get_terminal_size().columns - 1
            padded = text[:room].ljust(min(self.shown_width, room))
            sys.stderr.write(f"\r{padded}")
            sys.stderr.flush()
            self.shown_width = len(text)
        else:
            _say(text)

    def text(self, progress: Progress) -> str:
        """One line: name, part, bar, residual, what is left to move, seconds."""
        done = round(self.WIDTH * min(max(progress.fraction, 0.0), 1.0))
        bar = "#" * done + "." * (self.WIDTH - done)
        parts = [f"{self.name}  {progress.part:<8} [{bar}]"]
        if progress.residual is not None:
            parts.append(f"residual {progress.residual:.2g}")
        if progress.remaining is not None and math.isfinite(progress.remaining):
            parts.append(f"{from_si('remaining_mm', progress.remaining):.2g} mm to go")
        parts.append(f"{progress.seconds:.0f} s")
        if progress.note:
            parts.append(progress.note)
        return "  ".join(parts)

    def close(self) -> None:
        if self.live and self.shown_width:
            sys.stderr.write("\n")
            sys.stderr.flush()
        self.shown_width = 0


# --- compiled loops ---------------------------------------------------------------------------


@contextlib.contextmanager
def _kept_kernels() -> Iterator[None]:
    """A folder in which numba can keep what it compiles, named before numba is first imported.

    Beside the source when that can be written, else in the user's cache folder, else one for this
    run alone; numba would fail where it finds none. NUMBA_CACHE_DIR, when set, is left as it is.
    """
    with contextlib.ExitStack() as until_done:
        if "NUMBA_CACHE_DIR" not in os.environ and not _can_write(_beside_source()):
            folder = _user_cache()
            if folder is None or not _can_write(folder):
                folder = Path(until_done.enter_context(tempfile.TemporaryDirectory(prefix="drape-")))
            os.environ["NUMBA_CACHE_DIR"] = str(folder)
        yield


def _say_compiling() -> None:
    """A word before the first run, which is the long one."""
    kept = Path(os.environ.get("NUMBA_CACHE_DIR") or _beside_source())
    if not (kept.is_dir() and any(kept.rglob("*.nbi"))):
        _say("Compiling the inner loops, about a minute. Kept for later runs where a folder can be written.")


def _beside_source() -> Path:
    return Path(__file__).parent / "__pycache__"


def _user_cache() -> Path | None:
    from drape.keep import cache_folder

    try:
        return cache_folder()
    except RuntimeError:  # a user without a home
        return None


def _can_write(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False
