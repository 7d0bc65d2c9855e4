"""A settled cloak settled again after a small change: its steps, and how far from where ten times as many lead.

    python tests/bench/warm.py --points 2500 --seeds 0 1 2

The tailored ferry warden, its front neck 5 mm deeper. Prints Markdown: the solver's estimate of the movement that was
left, and what was found. How long it takes: `speed.py --only change`. Not collected by pytest.
"""

from __future__ import annotations

import argparse
from dataclasses import replace

import numpy as np
from longer import gone_on
from settle import edge_length_for

from drape.fitting.scene import load_scene
from drape.fitting.sit import draft_of, figure_of, sit

DEEPER = 0.005  # [m]


def main() -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--points", type=int, default=2500)
    parser.add_argument("--seeds", type=int, nargs="+", default=[0, 1, 2])
    chosen = parser.parse_args()
    scene = load_scene("ferry-warden-tailored")
    figure = figure_of(scene)
    print("| points | steps | estimated [mm] | found [mm] |\n| --- | --- | --- | --- |")
    for seed in chosen.seeds:
        length = edge_length_for(draft_of(scene, figure), chosen.points, seed)
        before = sit(scene, edge_length=length, seed=seed, cached=False)
        deeper = replace(scene.style, front_neck_depth=before.draft.dimensions["front_neck_depth"] + DEEPER)
        changed = replace(scene, style=deeper)
        after = sit(changed, edge_length=length, seed=seed, before=before)
        worn, _ = gone_on(changed, after)
        found = 1000 * float(np.linalg.norm(worn - after.worn, axis=1).max())
        said = after.readings
        print(f"| {said['vertices']:,} | {said['steps']:,} | {said['remaining_mm']:.2f} | {found:.2f} |", flush=True)


if __name__ == "__main__":
    main()
