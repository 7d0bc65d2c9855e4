"""How long a maker waits, as one Markdown table: compiling, the first command, settling, small changes, the tests.

    python tests/bench/speed.py --repeats 3
    python tests/bench/speed.py --only settle pair --against OTHER --against-python OTHER/.venv/bin/python

Each figure is the median of `--repeats` runs, each in a process of its own, by the clock; beside it the processor's
seconds, which another program at work changes less. `--against`: another checkout, "before", whose python has its
drape installed. The two run by turns. Seconds of the parts named *cold* start from an empty home and no compiled
kernels; the others have their kernels compiled. Not collected by pytest.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAIR = ("ferry-warden-round", "ferry-warden-tailored")
FIRST_TABLE = b"coarse, still settling"  # stands beside the table that comes before the cloaks have settled
NOT_COPIED = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".pytest_cache", "*-fitting")

# Run by either python. Kernels, figure and libraries are loaded by a small cloak first.
SETTLE = """
import json, resource, sys, time
import drape
name, length = sys.argv[1], float(sys.argv[2])
drape.sit(name, edge_length_cm=6.0, cached=False)
began, worked = time.perf_counter(), time.process_time()
fitting = drape.sit(name, edge_length_cm=length, cached=False)
seconds, processor = time.perf_counter() - began, time.process_time() - worked
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)
print(json.dumps([seconds, processor, fitting.readings["vertices"], peak / 1e6]))
"""
CHANGED = """
import json, sys, time
from dataclasses import replace
from drape.fitting.scene import load_scene
from drape.fitting.sit import sit
scene, length = load_scene("ferry-warden-tailored"), float(sys.argv[1]) / 100
before = sit(scene, edge_length=length, cached=False)
rows = []
for deeper in (0.002, 0.005):  # [m]; the first loads what only a second settling needs
    depth = before.draft.dimensions["front_neck_depth"] + deeper
    changed = replace(scene, style=replace(scene.style, front_neck_depth=depth))
    began, worked = time.perf_counter(), time.process_time()
    fitting = sit(changed, edge_length=length, before=before)
    rows.append([time.perf_counter() - began, time.process_time() - worked, fitting.readings["vertices"]])
print(json.dumps(rows[-1]))
"""


@dataclass(frozen=True)
class Row:
    """One measured figure: what, in which unit, how much by the clock, and the processor's seconds."""

    what: str
    value: float
    processor: float | None = None
    unit: str = "s"


@dataclass(frozen=True)
class Side:
    """A checkout, a python that has it installed, and what a user of it has kept: compiled kernels, figures."""

    checkout: Path
    python: Path
    kernels: Path
    kept: Path


@dataclass(frozen=True)
class Ran:
    """How a command went: seconds by the clock, to its first table, and of the processor, and what it said."""

    seconds: float
    first_table: float
    processor: float
    said: bytes


def run(command: list[str | Path], home: Path, *, folder: Path | None = None, **places: Path) -> Ran:
    """A command run to its end in a home of its own; `places` are variables. Raises SystemExit if it fails."""
    ours = ("DRAPE_CACHE_DIR", "NUMBA_CACHE_DIR", "XDG_CACHE_HOME", "PYTHONPATH", "PYTHONDONTWRITEBYTECODE")
    environment = {key: value for key, value in os.environ.items() if key not in ours}
    environment |= {"HOME": str(home), **{key: str(place) for key, place in places.items()}}
    began, first, said = time.perf_counter(), None, b""
    process = subprocess.Popen(
        [str(part) for part in command], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=environment,
        cwd=folder or home,
    )  # fmt: skip
    while block := os.read(process.stdout.fileno(), 65536):
        said += block
        if first is None and FIRST_TABLE in said:
            first = time.perf_counter() - began
    _, status, used = os.wait4(process.pid, 0)
    seconds = time.perf_counter() - began
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode != 0:
        raise SystemExit(f"{' '.join(map(str, command))}: failed.\n{said.decode(errors='replace')[-3000:]}")
    return Ran(seconds, seconds if first is None else first, used.ru_utime + used.ru_stime, said)


def drape(side: Side, *arguments: str) -> list[str | Path]:
    """The command `drape` of a side."""
    return [side.python.parent / "drape", *arguments]


def run_warm(side: Side, command: list[str | Path], home: Path) -> Ran:
    """A command of a side run as one who has run it before, with a copy of what is kept."""
    shutil.copytree(side.kept, home / "kept")
    return run(command, home, NUMBA_CACHE_DIR=side.kernels, DRAPE_CACHE_DIR=home / "kept")


def asked(side: Side, home: Path, code: str, *arguments: str) -> list[float]:
    """What a piece of code printed in its last line."""
    said = run_warm(side, [side.python, "-c", code, *arguments], home).said
    return json.loads(said.splitlines()[-1])


# --- the parts --------------------------------------------------------------------------------


def compile_kernels(side: Side, home: Path) -> list[Row]:
    """A coarse cloak settled without compiled kernels and with them: the difference is compiling."""
    kernels, runs = home / "kernels", []
    for k in range(2):
        own = home / str(k)
        own.mkdir()
        command = drape(side, "sit", PAIR[0], "--edge-length-cm", "6", "--no-pictures")
        runs.append(run(command, own, NUMBA_CACHE_DIR=kernels))
    cold, warm = runs
    return [Row("compiling, cold", cold.seconds - warm.seconds, cold.processor - warm.processor)]


def installed(side: Side, home: Path, *what: str) -> tuple[Path, Path, Ran]:
    """A copy of the checkout installed as README says: the copy, the folder of commands, how it went."""
    copy = home / "checkout"
    shutil.copytree(side.checkout, copy, ignore=NOT_COPIED)
    made = run([side.python, "-m", "venv", ".venv"], home, folder=copy)
    done = run([copy / ".venv/bin/pip", "install", *what], home, folder=copy)
    both = Ran(made.seconds + done.seconds, 0.0, made.processor + done.processor, done.said)
    return copy, copy / ".venv/bin", both


def first_command(side: Side, home: Path) -> list[Row]:
    """README's first command, from nothing."""
    copy, commands, install = installed(side, home, ".")
    done = run([commands / "drape", "compare", *PAIR], home, folder=copy)
    return [
        Row("README's first command, cold: install", install.seconds, install.processor),
        Row("README's first command, cold: first table after", done.first_table),
        Row("README's first command, cold: run", done.seconds, done.processor),
    ]


def settle(side: Side, home: Path, length: str, name: str) -> list[Row]:
    """The round cloak from scene to readings."""
    seconds, processor, points, peak = asked(side, home, SETTLE, PAIR[0], length)
    rows = [Row(f"{name}, {length} cm ({points:,.0f} points)", seconds, processor)]
    return [*rows, Row(f"{name}, {length} cm: peak memory", peak, unit="MB")]


def pair(side: Side, home: Path) -> list[Row]:
    """Both drafts of the shipped pair with pictures, by the command."""
    done = run_warm(side, drape(side, "compare", *PAIR), home)
    return [
        Row("both drafts, 1.5 cm, with pictures: first table after", done.first_table),
        Row("both drafts, 1.5 cm, with pictures", done.seconds, done.processor),
    ]


def changed(side: Side, home: Path, length: str) -> list[Row]:
    """The tailored cloak with its front neck 5 mm deeper, from the shape it had before, from scene to readings."""
    seconds, processor, points = asked(side, home, CHANGED, length)
    return [Row(f"one dimension changed ({points:,.0f} points)", seconds, processor)]


def test_command(side: Side, home: Path) -> list[Row]:
    """README's test command, from nothing."""
    copy, commands, install = installed(side, home, "--no-compile", ".[test]")
    done = run([commands / "pytest", "-q"], home, folder=copy)
    return [
        Row("README's test command, cold: install", install.seconds, install.processor),
        Row("README's test command, cold: pytest", done.seconds, done.processor),
        Row(
            "README's test command, cold: all", install.seconds + done.seconds, install.processor + done.processor
        ),
    ]  # fmt: skip


PARTS: dict[str, Callable[[Side, Path], list[Row]]] = {
    "compile": compile_kernels,
    "first": first_command,
    "settle3": lambda side, home: settle(side, home, "3", "round cloak"),
    "settle": lambda side, home: settle(side, home, "1.5", "round cloak"),
    "pair": pair,
    "large": lambda side, home: settle(side, home, "0.846", "round cloak"),
    "change": lambda side, home: changed(side, home, "3.4"),
    "change-fine": lambda side, home: changed(side, home, "1.5"),
    "tests": test_command,
}
COLD = ("compile", "first", "tests")  # need no kernels of their side


def ready(side: Side) -> None:
    """Has every kernel of a side compiled: those of pictures, and those that only a large cloak needs."""
    places = {"NUMBA_CACHE_DIR": side.kernels, "DRAPE_CACHE_DIR": side.kept}
    with tempfile.TemporaryDirectory(prefix="drape-bench-") as home:
        run(drape(side, "compare", *PAIR, "--edge-length-cm", "6"), Path(home), **places)
        run(drape(side, "sit", PAIR[0], "--edge-length-cm", "2", "--no-pictures"), Path(home), **places)


# --- the table --------------------------------------------------------------------------------


def medians(runs: list[list[Row]]) -> list[Row]:
    """Row by row the median of several runs."""
    rows = []
    for same in zip(*runs, strict=True):
        processor = [row.processor for row in same if row.processor is not None]
        middle = statistics.median(processor) if processor else None
        rows.append(Row(same[0].what, statistics.median(row.value for row in same), middle, same[0].unit))
    return rows


def number(value: float | None) -> str:
    return "" if value is None else f"{value:.0f}" if value >= 100 else f"{value:.3g}"


def print_rows(sides: list[list[Row]]) -> None:
    """Rows of one part: a side, or before and after with what is left of before."""
    for same in zip(*sides, strict=True):
        cells = [number(row.value) for row in same]
        processor = [number(row.processor) for row in same]
        if len(same) == 2:
            old, new = same
            cells.append(f"{new.value / old.value:.2f}")
            both = old.processor is not None and new.processor is not None
            processor.append(f"{new.processor / old.processor:.2f}" if both else "")
        print(f"| {same[-1].what} [{same[-1].unit}] | {' | '.join([*cells, *processor])} |", flush=True)


def print_head(count: int) -> None:
    columns = ["by the clock"] if count == 1 else ["before", "after", "ratio"]
    processor = ["processor [s]"] if count == 1 else ["before, processor [s]", "after, processor [s]", "ratio"]
    print(f"| what | {' | '.join([*columns, *processor])} |\n{'| --- ' * (1 + 2 * len(columns))}|", flush=True)


def main() -> None:
    """Prints the table, a part at a time."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--repeats", type=int, default=3, metavar="N", help="runs of each part; medians are printed")
    parser.add_argument("--only", nargs="+", choices=tuple(PARTS), default=list(PARTS), help="some of the parts")
    parser.add_argument("--against", type=Path, metavar="DIR", help="a checkout to run by turns with this one")
    parser.add_argument("--against-python", type=Path, metavar="FILE", help="its python (default DIR/.venv/bin/python)")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="drape-bench-") as folder:
        sides = [Side(ROOT, Path(sys.executable), Path(folder, "kernels"), Path(folder, "kept"))]
        if chosen.against:
            other = chosen.against.absolute()
            python = (chosen.against_python or other / ".venv/bin/python").absolute()
            sides.insert(0, Side(other, python, Path(folder, "kernels-before"), Path(folder, "kept-before")))
        if set(chosen.only) - set(COLD):
            for side in sides:
                ready(side)
        print_head(len(sides))
        for name in chosen.only:
            found: list[list[list[Row]]] = [[] for _ in sides]
            for _ in range(max(1, chosen.repeats)):
                for side, runs in zip(sides, found, strict=True):
                    with tempfile.TemporaryDirectory(prefix="drape-bench-") as home:
                        runs.append(PARTS[name](side, Path(home)))
            print_rows([medians(runs) for runs in found])


if __name__ == "__main__":
    main()
