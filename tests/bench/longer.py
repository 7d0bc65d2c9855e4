"""Whether "settled" means it: five cloaks held against runs ten times longer.

    python tests/bench/longer.py --edge-length-cm 3

Settles each, then lets it go on from there, friction holding what it held, for ten times the steps its last level took,
and prints a Markdown table: the movement still to come as `settled` estimated it, the largest that was found,
and the readings
that changed most: a length [mm], a share [percentage points]. Not collected by pytest.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import Any

import numpy as np

from drape.cloth.mesh import Mesh, seam_pairs
from drape.fitting.scene import Scene, load_cloth, load_scene
from drape.fitting.sit import figure_of, resting_run, sewn_sheet, sit
from drape.reading.result import Fitting
from drape.reading.spread import spread_keys
from drape.reading.worn import Worn, read_worn

CLOAKS = (
    ("ferry-warden-tailored", "heavy melton", 0), ("ferry-warden-round", "heavy melton", 1),
    ("ferry-warden-tailored", "light suiting", 2), ("ferry-warden-round", "flannel", 0), ("lamp-bearer-collar", "", 0),
)  # fmt: skip
TIMES = 10


def of_cloth(name: str, preset: str) -> Scene:
    """The shipped scene, in a shipped cloth if one is named."""
    scene = load_scene(name)
    return replace(scene, cloth=load_cloth(preset), layers=(preset,)) if preset else scene


def gone_on(scene: Scene, fitting: Fitting) -> tuple[np.ndarray, dict[str, Any]]:
    """Positions [m] and readings after TIMES as many steps again."""
    figure, draft = figure_of(scene), fitting.draft
    mesh = Mesh(fitting.flat, fitting.triangles, fitting.edges, seam_pairs(draft, fitting.edges))
    sheet = sewn_sheet(scene, draft, mesh)
    start = np.zeros((len(sheet.mass), 3))
    start[sheet.point_of_vertex] = fitting.worn
    run = resting_run(scene, figure, sheet, start, fitting.grip)
    run.advance(TIMES * int(fitting.readings["steps"]))
    worn = Worn(figure, draft, mesh, sheet, run.x, run.state.contact_force, scene.cloth.thickness)
    return run.x[sheet.point_of_vertex], read_worn(worn)


def largest(before: dict[str, Any], after: dict[str, Any], ending: str) -> tuple[float, str]:
    """The largest change among readings of a unit, and whose."""
    now = dict(spread_keys(after))
    changes = [
        (abs(now[key] - value), key)
        for key, value in spread_keys(before)
        if key.endswith(ending) and not key.endswith("_at_cm")
    ]
    return max(changes)


def main() -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--edge-length-cm", type=float, default=3.0)
    chosen = parser.parse_args()
    print(
        "| cloak | estimated [mm] | found [mm] | reading changed most [mm] | share changed most [points] |\n"
        "| --- | --- | --- | --- | --- |"
    )
    for name, preset, seed in CLOAKS:
        scene = of_cloth(name, preset)
        fitting = sit(scene, edge_length=chosen.edge_length_cm / 100, seed=seed, cached=False)
        worn, readings = gone_on(scene, fitting)
        moved = 1000 * float(np.linalg.norm(worn - fitting.worn, axis=1).max())
        length, which = largest(fitting.readings, readings, "_cm")
        share, what = largest(fitting.readings, readings, "_percent")
        print(
            f"| {name}, {preset or 'its own cloth'}, seed {seed} | {fitting.readings['remaining_mm']:.2f} | "
            f"{moved:.2f} | {10 * length:.2f}, {which} | {share:.2f}, {what} |", flush=True,
        )  # fmt: skip


if __name__ == "__main__":
    main()
