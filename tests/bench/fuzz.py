"""Whether anything that is read can do more than be taken or be refused in a line.

    nice python tests/bench/fuzz.py --seconds 600 --seed 0

Shipped scenes, bodies, drawings and plans of studies, the form for a cloth, what is typed into an order of the book,
and a saved fitting are changed at random, and read. Of the scenes that are taken some are drafted, meshed, drawn and
cut; of the bodies some are built, of the drawings some traced, of the fittings some made into models.
Prints what was tried and found; each fault with the seed of its file, which `--only SEED` makes and reads again. Not
collected by pytest; a few of these are in tests/unit/fitting/test_scene.py and tests/unit/reading/test_damage.py.
"""

from __future__ import annotations

import argparse
import random
import re
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "common"))
from hostile import HOSTILE  # noqa: E402
from mutated import NUMBERS, WORDS, mutated_drawing, mutated_fitting, mutated_text, shipped_texts  # noqa: E402

from drape.bench.table_top import STARTER_MEASUREMENTS, load_measured_cloth  # noqa: E402
from drape.body.figure import Figure, build_figure  # noqa: E402
from drape.book.order import SPECIAL, with_typed  # noqa: E402
from drape.cloth.mesh import triangulate  # noqa: E402
from drape.cutting.cut import OneCloth, cut_draft, write_cut  # noqa: E402
from drape.cutting.draft_drawing import write_draft_svg  # noqa: E402
from drape.cutting.piecing import Allowances  # noqa: E402
from drape.errors import DrapeError  # noqa: E402
from drape.fitting.scene import load_body, load_scene, shipped_folder  # noqa: E402
from drape.fitting.scene_keys import SCENE_KEYS, SCENE_TABLES  # noqa: E402
from drape.fitting.sit import draft_of, figure_cut_for, figure_of  # noqa: E402
from drape.picture.make import Job, make_model  # noqa: E402
from drape.reading.result import load_fitting  # noqa: E402
from drape.study.members import members_of  # noqa: E402
from drape.study.plan import load_plan  # noqa: E402
from drape.tracing.shown import write_shown  # noqa: E402
from drape.tracing.trace import Told, find_edges, trace  # noqa: E402
from drape.tracing.traced_scene import scene_text  # noqa: E402

LONGEST_LINE = 700  # characters of a refusal
DRAFTED, CUT, BUILT, MODELLED, TRACED = 0.06, 0.01, 0.02, 0.05, 0.2  # shares of what is taken that goes further
Try = Callable[[random.Random, Path], None]


def try_scene(source: random.Random, folder: Path) -> None:
    path = folder / "scene.toml"
    text = mutated_text(source.choice(SCENES), source)
    path.write_text(text, encoding="utf-8", newline="")
    scene = load_scene(path)
    if source.random() > DRAFTED:
        return
    draft = draft_of(scene, figure_cut_for(scene))
    write_draft_svg(draft, folder / "a.svg", title=scene.title)
    ElementTree.parse(folder / "a.svg")
    triangulate(draft, edge_length=0.06)
    if source.random() < CUT / DRAFTED:
        plan = scene.cutting
        cloth = OneCloth(plan.bolt, Allowances(plan.seam_allowance), plan.grain, ())
        write_cut(cut_draft(draft, cloth, name=scene.name, title=scene.title), folder)
        for drawn in folder.glob("*.svg"):
            ElementTree.parse(drawn)


def try_body(source: random.Random, folder: Path) -> None:
    path = folder / "body.toml"
    path.write_text(mutated_text(source.choice(BODIES), source), encoding="utf-8", newline="")
    body = load_body(path)
    if source.random() < BUILT:
        build_figure(
            body.tape, name=body.name, sex=body.sex, stance=body.stance, arms=body.arms, worn_under=body.worn_under
        )


def try_cloth(source: random.Random, folder: Path) -> None:
    path = folder / "cloth.toml"
    filled = re.sub(r"(?m)^# (?=\w+ = )", "", STARTER_MEASUREMENTS)
    path.write_text(mutated_text(filled, source), encoding="utf-8", newline="")
    load_measured_cloth(path)


def try_plan(source: random.Random, folder: Path) -> None:
    path = folder / "plan.toml"
    path.write_text(mutated_text(source.choice(PLANS), source), encoding="utf-8", newline="")
    members_of(load_plan(path))


def try_typed(source: random.Random, folder: Path) -> None:
    """One field of an order after another, as a browser would send it."""
    text = source.choice(SCENES)
    for _ in range(source.randint(1, 3)):
        name = source.choice(FIELDS)
        typed = source.choice((*NUMBERS, *WORDS, *HOSTILE)).strip('"')
        text = with_typed(text, name, typed, None)
    path = folder / "scene.toml"
    path.write_text(text, encoding="utf-8", newline="")
    load_scene(path)


def try_drawing(source: random.Random, folder: Path) -> None:
    drawn = source.choice(DRAWINGS)
    path = folder / f"drawing{drawn.suffix}"
    path.write_bytes(mutated_drawing(drawn.read_bytes(), source))
    found = find_edges(path, Told())
    if source.random() < TRACED:
        traced = trace(found, wearer())
        write_shown(traced, folder / "shown.svg")
        ElementTree.parse(folder / "shown.svg")
        (folder / "traced.toml").write_text(scene_text(traced, "ferry-warden"), encoding="utf-8")
        load_scene(folder / "traced.toml")


@cache
def wearer() -> Figure:
    return figure_of(load_scene("ferry-warden-tailored"))


def try_fitting(source: random.Random, folder: Path, whole: bytes) -> None:
    path = folder / "a.npz"
    path.write_bytes(mutated_fitting(whole, source))
    fitting = load_fitting(path)
    if source.random() < MODELLED:
        make_model(Job([fitting], folder, fitting.name))


SCENES, BODIES = (shipped_texts(shipped_folder(kind)) for kind in ("scene", "body"))
PLANS = shipped_texts(shipped_folder("scene") / "studies")
DRAWINGS = sorted(path for path in (shipped_folder("scene") / "drawings").iterdir() if path.suffix in (".svg", ".dxf"))
FIELDS = (
    *SPECIAL, *SCENE_KEYS, "no.such", "../x", "dart.0.x",
    *(f"{name}.{key}" for name, table in SCENE_TABLES.items() for key in getattr(table, "keys", {})),
)  # fmt: skip


def outcome(attempt: Try, seed: int) -> str:
    """What became of one file: taken, refused, or a fault with its traceback."""
    with tempfile.TemporaryDirectory() as folder:
        try:
            attempt(random.Random(seed), Path(folder))
        except DrapeError as error:
            line = str(error)
            return "refused" if len(line) < LONGEST_LINE and "\n" not in line else f"fault: no line: {line[:200]!r}"
        except Exception:
            return f"fault: {traceback.format_exc()}"
    return "taken"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--only", type=int, help="the seed of one file, of every kind")
    parser.add_argument("--fitting", type=Path, help="a NAME.npz that `drape sit` wrote, to be damaged")
    chosen = parser.parse_args()
    warnings.simplefilter("ignore")
    kinds: dict[str, Try] = {
        "scenes": try_scene, "bodies": try_body, "cloth forms": try_cloth, "drawings": try_drawing, "plans": try_plan,
        "orders": try_typed,
    }  # fmt: skip
    if chosen.fitting:
        whole = chosen.fitting.read_bytes()
        kinds["fittings"] = lambda source, folder: try_fitting(source, folder, whole)
    found: dict[str, Counter[str]] = {kind: Counter() for kind in kinds}
    ends, seed = time.monotonic() + chosen.seconds, chosen.seed if chosen.only is None else chosen.only
    while time.monotonic() < ends:
        for kind, attempt in kinds.items():
            told = outcome(attempt, seed)
            found[kind][told.partition(":")[0]] += 1
            if told.startswith("fault"):
                print(f"{kind}, seed {seed}: {told}", flush=True)
        if chosen.only is not None:
            break
        seed += 1
    print("\nkind          tried    taken  refused   faults")
    for kind, counts in found.items():
        print(f"{kind:<12}{counts.total():>7}{counts['taken']:>9}{counts['refused']:>9}{counts['fault']:>9}")


if __name__ == "__main__":
    main()
