"""A settled cloak settled again after a small change: seconds, steps, and how far from where ten times as many lead.

    python tests/bench/warm.py --points 2500 --seeds 0 1 2

The tailored ferry warden, its front neck 5 mm deeper. Prints Markdown: seconds of the settling alone and with mesh and
sewing, medians of three runs; the solver's estimate of what was left, what was found, where the cloth lay at first
against where it ends. Not collected by pytest.
"""

from __future__ import annotations

import argparse
import statistics
from dataclasses import replace

import numpy as np
from longer import gone_on
from settle import edge_length_for

from drape.fitting.scene import load_scene
from drape.fitting.sit import WARM, Clock, draft_of, figure_cut_for, figure_of, settle_from, sit, with_meshed_dags

DEEPER = 0.005  # [m]
REPEATS = 3


def main() -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--points", type=int, default=2500)
    parser.add_argument("--seeds", type=int, nargs="+", default=[0, 1, 2])
    chosen = parser.parse_args()
    scene = load_scene("ferry-warden-tailored")
    figure = figure_of(scene)
    print(
        "| points | settling [s] | all [s] | steps | estimated [mm] | found [mm] |\n"
        "| --- | --- | --- | --- | --- | --- |"
    )
    for seed in chosen.seeds:
        length = edge_length_for(draft_of(scene, figure), chosen.points, seed)
        before = sit(scene, edge_length=length, seed=seed, cached=False)
        deeper = replace(scene.style, front_neck_depth=before.draft.dimensions["front_neck_depth"] + DEEPER)
        changed = replace(scene, style=deeper)
        seconds, whole = [], []
        for _ in range(REPEATS):
            clock = Clock(None)
            draft = with_meshed_dags(draft_of(changed, figure_cut_for(changed)), length)
            settled = settle_from(before, changed, figure, draft, WARM, clock)
            sheet, rest = settled.sheet, settled.rest
            seconds.append(rest.seconds)
            whole.append(sum(clock.seconds.values()))
        after = sit(changed, edge_length=length, seed=seed, before=before)
        worn, _ = gone_on(changed, after)
        found = 1000 * float(np.linalg.norm(worn - after.worn, axis=1).max())
        print(
            f"| {len(sheet.mass):,} | {statistics.median(seconds):.2f} | {statistics.median(whole):.2f} | "
            f"{rest.steps:,} | {1000 * rest.remaining:.2f} | {found:.2f} |", flush=True,
        )  # fmt: skip


if __name__ == "__main__":
    main()
