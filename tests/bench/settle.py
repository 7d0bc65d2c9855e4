"""How long a cloak takes to settle, where the time goes, and how it grows with the mesh.

    python tests/bench/settle.py --sizes 650 2500 10000 40000 --repeats 3
    python tests/bench/settle.py --sizes 2500 --curve

The half circle of radius 1.1 m in heavy melton on the shipped ferry warden, cloth touching cloth, friction on both.
Prints Markdown. Every run has a process and an empty cache of its own, and settles a small cloak first, so that
kernels are loaded and peak memory is that of one size. Seconds are from the draft to the settled shape, figure apart.
`--curve`: how far the last level is, at each moment, from where ten times its steps lead. Not collected by pytest.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from drape.body.figure import Figure, build_figure
from drape.cloth import relaxation
from drape.cloth.mesh import Mesh, refined, triangulate
from drape.draft.cloak import draft_cloak
from drape.draft.outline import Draft, area_of, outline_of
from drape.draft.style import Style
from drape.fitting import sit as fitting
from drape.fitting.scene import Scene, load_scene

RADIUS = 1.1  # [m] of the hem, the neck's own radius included
SIZES = (650, 2500, 10_000, 40_000)  # points of the sewn cloth
GROWTH_FROM = 2500  # points; below it fixed costs hide the growth
CLOSE = 0.02  # a size is hit when the count is this near
SNAPSHOTS = 80  # of the curve, at most; thinned by halves
PARTS = ("search", "factor", "steps", "carry", "rest")


def half_circle() -> tuple[Scene, Figure, Draft]:
    """The scene, its figure and the draft whose hem has RADIUS."""
    scene = load_scene("ferry-warden-round")
    figure = build_figure(scene.tape, name=scene.body, sex=scene.sex)
    style = Style(neck="round", length=RADIUS, shoulder_cut_intake=0.0)
    neck = draft_cloak(style, figure).dimensions["hem_radius"] - RADIUS
    style = replace(style, length=RADIUS - neck)
    scene = replace(scene, style=style, max_steps=None)
    return scene, figure, draft_cloak(style, figure)


def finest(draft: Draft, edge_length: float, seed: int) -> Mesh:
    """The last mesh that `settle` comes to."""
    last = fitting.halvings(edge_length)
    mesh = triangulate(draft, edge_length=2**last * edge_length, seed=seed)
    for _ in range(last):
        mesh, _ = refined(draft, mesh)
    return mesh


def edge_length_for(draft: Draft, points: int, seed: int) -> float:
    """The edge length [m] whose last mesh, sewn, has about so many points."""
    length = math.sqrt(area_of(outline_of(draft)) / (math.sqrt(3) / 2 * points))
    nearest = (math.inf, length)
    for _ in range(6):
        mesh = finest(draft, length, seed)
        count = len(mesh.flat) - len(mesh.seams)
        nearest = min(nearest, (abs(count / points - 1), length))
        if nearest[0] < CLOSE:
            break
        length *= math.sqrt(count / points)
    return nearest[1]


class Watch:
    """Seconds spent in the solver's parts, and the last run with how it went; put over the solver for one process."""

    def __init__(self, *, snapshots: bool) -> None:
        self.seconds = dict.fromkeys(PARTS, 0.0)
        self.steps = 0
        self.run: relaxation.Relaxation | None = None
        self.track: list[tuple[float, int, np.ndarray]] = []
        self.every = 1
        self.over(relaxation.Relaxation, "find_pairs", "search")
        self.over(relaxation.Relaxation, "new_factor", "factor")
        self.over(relaxation, "relax_steps", "steps")
        advance = relaxation.Relaxation.advance

        def watched(run: relaxation.Relaxation, steps: int) -> None:
            before = run.steps
            advance(run, steps)
            self.steps += run.steps - before
            if run is not self.run:
                self.run, self.track, self.every = run, [], 1
            if snapshots and run.steps % (self.every * relaxation.CHUNK) == 0:
                self.snap(run)

        relaxation.Relaxation.advance = watched

    def over(self, owner: Any, name: str, part: str) -> None:
        """Books the time of every call of owner.name under a part."""
        inner = getattr(owner, name)

        def timed(*given: Any) -> Any:
            began = time.perf_counter()
            try:
                return inner(*given)
            finally:
                self.seconds[part] += time.perf_counter() - began

        setattr(owner, name, timed)

    def snap(self, run: relaxation.Relaxation) -> None:
        self.track.append((time.perf_counter(), run.steps, run.x.copy()))
        if len(self.track) > SNAPSHOTS:
            self.every *= 2
            self.track = [one for one in self.track if one[1] % (self.every * relaxation.CHUNK) == 0]


def one(points: int, seed: int, *, curve: bool) -> dict[str, Any]:
    """One size settled once in this process: its row, and its curve when asked."""
    scene, figure, draft = half_circle()
    length = edge_length_for(draft, points, seed)
    fitting.settle(
        scene, figure, draft, fitting.START_EDGE, seed, fitting.COARSE, fitting.Clock(None)
    )  # kernels loaded
    watch, clock = Watch(snapshots=curve), fitting.Clock(None)
    began = time.perf_counter()
    settled = fitting.settle(scene, figure, draft, length, seed, fitting.FINE, clock)
    total = time.perf_counter() - began
    sheet, rest = settled.sheet, settled.rest
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)
    watch.seconds["carry"] = clock.seconds["mesh"]
    watch.seconds["rest"] = total - sum(watch.seconds.values())
    row = {
        "points": len(sheet.mass), "edge_length_cm": 100 * length, "settled": rest.settled, "seconds": total,
        "steps": watch.steps, "last_steps": rest.steps, "peak_mb": peak / 1e6, "remaining_mm": 1000 * rest.remaining,
        "share": {part: seconds / total for part, seconds in watch.seconds.items()},
    }  # fmt: skip
    return row | ({"curve": curve_of(watch, rest, began, began + total)} if curve else {})


def curve_of(watch: Watch, rest: relaxation.Rest, began: float, ended: float) -> list[dict[str, float]]:
    """Seconds, steps, largest and root mean square distance [mm] to the shape ten times the last level's steps give."""
    run = watch.run
    track = [one for one in watch.track if one[1] < rest.steps] + [(ended, rest.steps, rest.worn)]
    watch.every, goal = 10 * run.steps, 10 * run.steps  # no more snapshots but one
    while run.steps < goal:
        run.advance(min(relaxation.CHUNK, goal - run.steps))
    rows = []
    for moment, steps, x in track:
        apart = 1000 * np.linalg.norm(x - run.x, axis=1)
        rows.append({
            "seconds": moment - began, "steps": steps, "largest_mm": float(apart.max()),
            "rms_mm": float(np.sqrt(np.mean(apart**2))),
        })  # fmt: skip
    return rows


def run_one(points: int, seed: int, *, curve: bool) -> dict[str, Any]:
    """`one` in a process and a cache of its own."""
    with tempfile.TemporaryDirectory(prefix="drape-bench-") as cache:
        command = [sys.executable, str(Path(__file__).resolve()), "--one", str(points), "--seed", str(seed)]
        environment = {**os.environ, "DRAPE_CACHE_DIR": cache}
        done = subprocess.run(
            command + ["--curve"] * curve, stdout=subprocess.PIPE, text=True, check=True, env=environment
        )
    return json.loads(done.stdout)


def exponent(rows: list[dict[str, Any]]) -> str:
    """Slope of log seconds over log points by least squares, with its range of sizes."""
    if len(rows) < 2:
        return "needs two sizes"
    slope = np.polyfit(np.log([row["points"] for row in rows]), np.log([row["seconds"] for row in rows]), 1)[0]
    return f"{slope:.2f} from {rows[0]['points']} to {rows[-1]['points']} points"


def median_row(rows: list[dict[str, Any]]) -> dict[str, Any]:
    """The run of median seconds, settled only if all were."""
    middle = sorted(rows, key=lambda row: row["seconds"])[len(rows) // 2]
    seconds = statistics.median(row["seconds"] for row in rows)
    return {**middle, "seconds": seconds, "settled": all(row["settled"] for row in rows)}


def print_table(rows: list[dict[str, Any]]) -> None:
    """Rows of sizes, and the growth."""
    print(
        "| points | edge, cm | seconds | steps, all levels | steps, last | peak, MB | "
        + " | ".join(f"{p}, %" for p in PARTS)
        + " |"
    )
    print("| --- " * (6 + len(PARTS)) + "|")
    for row in rows:
        shares = " | ".join(f"{100 * row['share'][part]:.0f}" for part in PARTS)
        stamp = "" if row["settled"] else " NOT SETTLED"
        print(
            f"| {row['points']} | {row['edge_length_cm']:.3g} | {row['seconds']:.3g}{stamp} | {row['steps']} "
            f"| {row['last_steps']} | {row['peak_mb']:.0f} | {shares} |"
        )
    print(f"\nGrowth exponent of seconds: {exponent(rows)}")
    print(f"Without the small ones: {exponent([row for row in rows if row['points'] > 0.9 * GROWTH_FROM])}")


def print_curve(row: dict[str, Any]) -> None:
    """The last level's way to the ten times longer answer."""
    print(
        f"\n{row['points']} points: last level (dressing too, if it is the only one), distance to the shape ten times "
        f"its {row['last_steps']} steps give"
    )
    print(f"(estimate of movement to come when settled: {row['remaining_mm']:.3g} mm)\n")
    print("| seconds | steps | largest, mm | root mean square, mm |\n| --- | --- | --- | --- |")
    for at in row["curve"]:
        print(f"| {at['seconds']:.3g} | {at['steps']} | {at['largest_mm']:.3g} | {at['rms_mm']:.3g} |")


def main() -> None:
    """Prints the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sizes", nargs="+", type=int, default=list(SIZES), help="points of the sewn cloth")
    parser.add_argument(
        "--repeats", type=int, default=1, help="runs of each size, each another seed; medians are printed"
    )
    parser.add_argument("--seed", type=int, default=0, help="of the first run")
    parser.add_argument("--curve", action="store_true", help="distance to the ten times longer answer against seconds")
    parser.add_argument("--one", type=int, help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.one is not None:
        print(json.dumps(one(chosen.one, chosen.seed, curve=chosen.curve)))
        return
    seeds = range(chosen.seed, chosen.seed + max(1, chosen.repeats))
    rows = []
    for points in sorted(chosen.sizes):
        runs = [run_one(points, seed, curve=chosen.curve and seed == chosen.seed) for seed in seeds]
        rows.append(median_row(runs))
        if chosen.curve:
            print_curve(runs[0])
    print()
    print_table(rows)


if __name__ == "__main__":
    main()
