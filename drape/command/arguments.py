"""The command line of `drape`: its commands, flags and help.

Comes in: nothing. Goes out: the parser, which names the function of `run` to run. Wrong usage gets
one line and exit code 2.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn

from drape import __version__
from drape.bench.trial_options import KINDS, options_of
from drape.command.book import run_book
from drape.command.cut import run_cut, run_draft
from drape.command.run import (
    BAD_INPUT,
    run_bodies,
    run_cloth,
    run_cloths,
    run_compare,
    run_guide,
    run_measure,
    run_mend,
    run_new,
    run_scenes,
    run_sit,
    run_trial_command,
)
from drape.command.show import run_show
from drape.command.study import run_study
from drape.command.trace import run_trace
from drape.command.wear import run_wear
from drape.fitting.quality import (
    DOINGS,
    HOWS,
    LARGEST_SEED,
    MOST_JOBS,
    MOST_RUNS,
    MOST_STARTS,
    MOST_TRIES,
    QUALITY_EDGE_LENGTH_CM,
    USUAL_TRIES,
)
from drape.picture.choices import HEIGHT_PX, MAKES, PAINT_NAMES, VIEW_NAMES
from drape.units import unit_of
from drape.wearing.choices import LEAN_DEG, USUAL_LEAN_DEG


class OneLineParser(argparse.ArgumentParser):
    """Answers wrong usage with one line and exit code 2."""

    def error(self, message: str) -> NoReturn:
        line = " ".join(message.split())
        line = re.sub(r"invalid choice: (.+?) \(choose from (.+)\)", r"got \1, allowed \2", line)
        line = re.sub(
            r"invalid float value: '(-?\d+),(\d+)'", r"got '\1,\2', allowed a number. Write a point: \1.\2", line
        )
        line = re.sub(r"invalid float value: (.+)", r"got \1, allowed a number", line)
        line = re.sub(r"invalid int value: (.+)", r"got \1, allowed a whole number", line)
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
    _add_mend(commands)
    _add_wear(commands)
    _add_study(commands)
    _add_draft(commands)
    _add_cut(commands)
    _add_book(commands)
    _add_show(commands)
    _add_trace(commands)
    _add_trial(commands)
    measure = _add_command(
        commands, "measure", run_measure, "build a body's mannequin, measure it, draw it and save it",
        example="drape measure ferry-warden",
    )  # fmt: skip
    measure.add_argument("body", metavar="BODY", help="a body file, a scene file, or the name of a shipped one")
    _add_out(measure, "NAME-figure")
    _add_json(measure)
    for name, run, words in (
        ("scenes", run_scenes, "list the shipped scenes"),
        ("bodies", run_bodies, "list the shipped bodies"),
        ("cloths", run_cloths, "list the shipped cloths and their values"),
    ):
        listing = _add_command(commands, name, run, words, example=f"drape {name}")
        _add_json(listing)
        if name == "cloths":
            listing.add_argument("--wet", action="store_true", help="each as it is wet through")
    _add_cloth(commands)
    new = _add_command(commands, "new", run_new, "write a commented file to start from", example="drape new mine.toml")
    new.add_argument("file", metavar="FILE", type=Path, help="file to write; never overwritten")
    new.add_argument(
        "--kind", choices=("scene", "body", "cloth"), default="scene",
        help="what to start: a scene (default); a body's tape measures, or a cloth's table-top tests, with a card to "
        "print",
    )  # fmt: skip
    new.add_argument(
        "--body", metavar="BODY", help="with a scene: whom it is for, a body file or the name of a shipped body"
    )
    new.add_argument(
        "--from", metavar="DRAWING", type=Path, dest="drawing",
        help="with a scene: trace a line drawing, SVG or DXF; `drape trace` shows what was taken for what",
    )  # fmt: skip
    _add_tracing(new)
    guide = _add_command(
        commands, "guide", run_guide, "explain every key, command, flag and reading, a page at a time",
        example="drape guide readings",
    )  # fmt: skip
    guide.add_argument("topic", metavar="TOPIC", nargs="?", help="a page of the guide; without it, the list of pages")
    _add_json(guide)
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
    sit.add_argument(
        "--seat-height-cm", type=float, metavar="X",
        help="also read where the hem comes when the wearer sits on a seat this high, 20 to 80 cm",
    )  # fmt: skip
    _add_settling(sit)


def _add_compare(commands: Any) -> None:
    compare = _add_command(
        commands, "compare", run_compare, "settle two or more drafts and set their readings side by side",
        example="drape compare ferry-warden-round ferry-warden-tailored",
    )  # fmt: skip
    compare.add_argument(
        "scenes", metavar="SCENE", nargs="+", help="scene files or names of shipped scenes, two to six"
    )
    compare.add_argument(
        "--bodies", metavar="BODY", nargs="+", default=[],
        help="with one scene: put its draft, cut for its own body, on these bodies too",
    )  # fmt: skip
    _add_settling(compare, "FIRST-and-LAST-fitting")


def _add_mend(commands: Any) -> None:
    mend = _add_command(
        commands, "mend", run_mend, "try what to change on a draft, and by how much; write the best as a new scene",
        example="drape mend ferry-warden-round",
    )  # fmt: skip
    mend.add_argument("scene", metavar="SCENE", help="a scene file, or the name of a shipped scene")
    mend.add_argument(
        "--tries",
        type=_tries,
        default=USUAL_TRIES,
        metavar="N",
        help=f"how many drafts to try, 1 to {MOST_TRIES} (default {USUAL_TRIES})",
    )
    _add_size(mend, "quick")
    mend.add_argument(
        "--seed", type=_seed, default=0, metavar="N", help="another mesh, and so another start (default 0)"
    )
    _add_jobs(mend)
    _add_wet(mend)
    _add_cluster(mend)
    mend.add_argument("--no-pictures", action="store_true", help="save the numbers only")
    _add_all(mend)
    _add_out(mend, "NAME-mend")
    _add_json(mend)


def _add_wear(commands: Any) -> None:
    wear = _add_command(
        commands, "wear", run_wear,
        "wear a settled cloak otherwise, and move about in it: does it stay, is an arm free",
        example='drape wear ferry-warden-tailored --how "thrown over" --doing lean',
    )  # fmt: skip
    wear.add_argument("scene", metavar="SCENE", help="a scene file, or the name of a shipped scene")
    wear.add_argument(
        "--how", action="append", choices=HOWS, default=[], metavar="HOW",
        help=f"how it is worn: {'; '.join(HOWS)}. May be given several times; if left out, as the scene says, or all",
    )  # fmt: skip
    wear.add_argument(
        "--doing", action="append", choices=DOINGS, default=[], metavar="DOING",
        help=f"what is done in it: {', '.join(DOINGS)}. May be given several times; if left out, as the scene says, "
        "or nothing",
    )  # fmt: skip
    least, most = LEAN_DEG
    wear.add_argument(
        "--lean-deg", type=float, metavar="X",
        help=f"how far one leans, {least} to {most} degrees (default {USUAL_LEAN_DEG})",
    )  # fmt: skip
    _add_size(wear, "quick")
    wear.add_argument(
        "--seed", type=_seed, default=0, metavar="N", help="another mesh, and so another start (default 0)"
    )
    wear.add_argument(
        "--starts", type=_starts, default=1, metavar="N",
        help=f"wear it N times, 1 to {MOST_STARTS}, each on another mesh; the readings are then means (default 1)",
    )  # fmt: skip
    _add_wet(wear)
    wear.add_argument("--no-pictures", action="store_true", help="save the numbers and shapes only")
    wear.add_argument("--fresh", action="store_true", help="settle anew, even if the same draft was settled before")
    _add_out(wear, "NAME-wear")
    _add_json(wear)


def _add_study(commands: Any) -> None:
    study = _add_command(
        commands, "study", run_study, "settle the many drafts that a plan tells of; one table of their readings",
        example="drape study which-dimension-matters",
    )  # fmt: skip
    study.add_argument("plan", metavar="PLAN", help="the file of a plan, or the name of a shipped one")
    _add_cluster(study)
    _add_size(study, "the plan's own")
    _add_jobs(study)
    _add_wet(study)
    _add_out(study, "NAME-study")
    _add_json(study)


def _add_draft(commands: Any) -> None:
    draft = _add_command(
        commands, "draft", run_draft, "draw the flat draft alone, its hem as it settled",
        example="drape draft ferry-warden-tailored",
    )  # fmt: skip
    draft.add_argument("scene", metavar="SCENE", help="a scene file, or the name of a shipped scene")
    _add_estimate(draft)
    _add_out(draft, "NAME-draft")
    _add_json(draft)


def _add_show(commands: Any) -> None:
    show = _add_command(
        commands, "show", run_show, "draw saved results again, without settling them",
        example="drape show ferry-warden-tailored-fitting --make report",
    )  # fmt: skip
    show.add_argument(
        "results",
        metavar="RESULT",
        nargs="+",
        type=Path,
        help="a NAME.npz that sit saved, or its folder; several are seen from the same place",
    )
    show.add_argument(
        "--make", action="append", choices=tuple(MAKES), default=[], metavar="KIND",
        help="what to make, default sheet; may be given several times. "
        f"{'. '.join(f'{k}: {v}' for k, v in MAKES.items())}",
    )  # fmt: skip
    show.add_argument(
        "--view", action="append", choices=VIEW_NAMES, default=[], metavar="VIEW",
        help=f"with --make views: {', '.join(VIEW_NAMES)}; may be given several times",
    )  # fmt: skip
    show.add_argument(
        "--azimuth-deg",
        type=float,
        metavar="X",
        help="with --make views: look from this side; 0 front, 90 the wearer's left",
    )
    show.add_argument(
        "--elevation-deg", type=float, metavar="X", help="look from this far above the level; negative: below"
    )
    least, usual, most = HEIGHT_PX
    show.add_argument(
        "--height-px",
        type=int,
        default=usual,
        metavar="N",
        help=f"height of single views, {least} to {most} (default {usual})",
    )
    show.add_argument(
        "--paint",
        choices=PAINT_NAMES,
        metavar="READING",
        help=f"with --make views: paint the cloth with it: {', '.join(PAINT_NAMES)}",
    )
    show.add_argument("--lines", action="store_true", help="draw landmark lines on the mannequin")
    show.add_argument(
        "--starts", nargs="+", type=Path, default=[], metavar="RESULT",
        help="the first draft settled with other --seed numbers: plots get a band, places that differ are hatched",
    )  # fmt: skip
    show.add_argument("--out", type=Path, metavar="DIR", help="folder for the drawings (default the result's own)")
    _add_json(show)


def _add_cut(commands: Any) -> None:
    cut = _add_command(
        commands, "cut", run_cut, "cut the draft from cloth: pieces, lay, what to buy, full-size pattern",
        example="drape cut ferry-warden-tailored --width-cm 70",
    )  # fmt: skip
    cut.add_argument("scene", metavar="SCENE", help="a scene file, or the name of a shipped scene")
    cut.add_argument(
        "--width-cm", type=float, metavar="X", help="width of the cloth, selvedge to selvedge; else the scene's, or 140"
    )
    cut.add_argument(
        "--no-table", action="store_true", help="leave out what other widths would take, which needs most of the time"
    )
    _add_estimate(cut)
    cut.add_argument(
        "--out", type=Path, metavar="DIR",
        help="folder for the results (default ./NAME-cut, with the width behind it where it is not the scene's own)",
    )  # fmt: skip
    _add_json(cut)


def _add_book(commands: Any) -> None:
    book = _add_command(
        commands, "book", run_book, "open the job book of a folder in your browser: change a draft and see how it sits",
        example="drape book",
    )  # fmt: skip
    book.add_argument(
        "folder", metavar="FOLDER", nargs="?", type=Path, default=Path(),
        help="folder of the book, made if it is not there (default: this one)",
    )  # fmt: skip
    book.add_argument("--no-browser", action="store_true", help="do not open the browser; print the address alone")
    book.add_argument(
        "--host", default="127.0.0.1", metavar="HOST",
        help="listen elsewhere than on this computer alone; whoever has the address may then use the book",
    )  # fmt: skip
    book.add_argument("--port", type=_port, default=0, metavar="N", help="listen there (default: whichever is free)")
    _add_json(book)


def _add_trace(commands: Any) -> None:
    trace = _add_command(
        commands, "trace", run_trace, "make a scene of a line drawing of a cloak, SVG or DXF",
        example="drape trace old-cloak.svg --known-cm 112 --between hem neck",
    )  # fmt: skip
    trace.add_argument("drawing", metavar="DRAWING", type=Path, help="a file of lines that ends in .svg or .dxf")
    _add_tracing(trace)
    trace.add_argument(
        "--body", metavar="BODY", help="whom the drawing was cut for, and the scene is for (default ferry-warden)"
    )
    trace.add_argument(
        "--for",
        metavar="BODY",
        dest="wearer",
        help="carry the draft over to this body; with --body",
    )
    _add_out(trace, "NAME-trace")
    _add_json(trace)


def _add_tracing(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--known-cm", type=float, metavar="X", help="a length you know in the drawing, which then sets its scale"
    )
    command.add_argument(
        "--between", nargs=2, metavar="EDGE",
        help="what the known length lies between: hem and neck (down centre back), or two other edges, layers or lines",
    )  # fmt: skip
    command.add_argument(
        "--edge", action="append", default=[], metavar="ID=NAME",
        help="what a line or layer is: hem, neck, opening, dart, piecing, outline or nothing; may be given several "
        "times",
    )  # fmt: skip
    command.add_argument(
        "--closure", metavar="PLACE", help="where the cloak closes: right shoulder, left shoulder or centre front"
    )
    command.add_argument("--mirrored", action="store_true", help="the drawing shows the wrong side of the cloth")


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
        one.add_argument("--cloth", required=True, metavar="CLOTH", help="a shipped cloth, or the path of a cloth file")
        one.add_argument(
            "--set", action="append", default=[], metavar="KEY=VALUE", dest="overrides",
            help="another value for one of the cloth's keys; may be given several times",
        )  # fmt: skip
        for key, rule in options_of(name).items():
            one.add_argument(
                f"--{key.replace('_', '-')}", type=float, metavar="N" if rule.plain else "X", dest=key,
                help=f"{rule.low:g} to {rule.high:g} "
                f"{'' if rule.plain else unit_of(key).symbol}".rstrip().replace(" °", "°"),
            )  # fmt: skip
        one.add_argument("--wet", action="store_true", help="the cloth wet through")
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
    _add_out(cloth, "NAME-cloth")
    _add_json(cloth)


def _add_size(command: argparse.ArgumentParser, usual: str = "the scene's own") -> None:
    size = command.add_mutually_exclusive_group()
    sizes = ", ".join(f"{name} {length:g} cm" for name, length in QUALITY_EDGE_LENGTH_CM.items())
    size.add_argument(
        "--quality", choices=tuple(QUALITY_EDGE_LENGTH_CM),
        help=f"size of the triangles: {sizes}; {usual} if left out",
    )  # fmt: skip
    size.add_argument("--edge-length-cm", type=float, metavar="X", help="size of the triangles, 0.5 to 6 cm")


def _add_settling(command: argparse.ArgumentParser, folder: str = "NAME-fitting") -> None:
    _add_size(command)
    command.add_argument(
        "--seed", type=_seed, default=0, metavar="N", help="another mesh, and so another start (default 0)"
    )
    several = command.add_mutually_exclusive_group()
    several.add_argument(
        "--starts", type=_starts, metavar="N",
        help=f"settle up to N times, 1 to {MOST_STARTS}, on other meshes, until it is clear whether the draft sits; "
        f"the readings are then means (default {MOST_STARTS} with --quality quick, else 1)",
    )  # fmt: skip
    several.add_argument(
        "--sure", type=_count, default=1, metavar="N",
        help=f"settle N times, 2 to {MOST_RUNS}, on other meshes and of cloths as likely as yours: how much of the "
        "answer hangs on a cloth not measured",
    )  # fmt: skip
    _add_jobs(command)
    _add_wet(command)
    command.add_argument("--no-pictures", action="store_true", help="save the numbers only")
    _add_all(command)
    command.add_argument("--fresh", action="store_true", help="settle anew, even if the same draft was settled before")
    _add_out(command, folder)
    _add_json(command)


def _add_wet(command: argparse.ArgumentParser) -> None:
    command.add_argument("--wet", action="store_true", help="the cloth wet through; results are called NAME-wet")


def _add_all(command: argparse.ArgumentParser) -> None:
    command.add_argument("--all", action="store_true", help="print every reading, not only those that decide")


def _add_jobs(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--jobs", type=_jobs, metavar="N",
        help=f"how many settlings may go on side by side, 1 to {MOST_JOBS} (default: as many as there are cores)",
    )  # fmt: skip


def _add_cluster(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--cluster", metavar="ADDRESS",
        help="settle on the workers of this Dask scheduler, tcp://HOST:8786; without it, on this machine's own cores",
    )  # fmt: skip
    for flag, words in (
        ("--tls-ca-file", "who vouches for it"), ("--tls-cert", "our certificate"), ("--tls-key", "its key"),
    ):  # fmt: skip
        command.add_argument(flag, metavar="FILE", help=f"with a tls:// scheduler: {words}, a .pem file")


def _add_estimate(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--estimate", action="store_true",
        help="do not settle a hem asked for by where it hangs; draw an estimate, marked as one",
    )  # fmt: skip


def _add_out(command: argparse.ArgumentParser, folder: str = "NAME-fitting") -> None:
    command.add_argument("--out", type=Path, metavar="DIR", help=f"folder for the results (default ./{folder})")


def _add_json(command: argparse.ArgumentParser) -> None:
    command.add_argument("--json", action="store_true", help="print one JSON object and nothing else")


def _port(text: str) -> int:
    return _whole(text, 1, 65_535)


def _count(text: str) -> int:
    return _whole(text, 2, MOST_RUNS)


def _starts(text: str) -> int:
    return _whole(text, 1, MOST_STARTS)


def _jobs(text: str) -> int:
    return _whole(text, 1, MOST_JOBS)


def _tries(text: str) -> int:
    return _whole(text, 1, MOST_TRIES)


def _whole(text: str, low: int, high: int) -> int:
    if not text.isdecimal() or len(text) > 9 or not low <= int(text) <= high:
        raise argparse.ArgumentTypeError(f"got {text!r}, allowed a whole number from {low} to {high}")
    return int(text)


def _seed(text: str) -> int:
    return _whole(text, 0, LARGEST_SEED)
