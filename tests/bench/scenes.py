"""Every shipped scene settled, and what its header should say.

    python tests/bench/scenes.py
    python tests/bench/scenes.py --edge-length-cm 3 --seeds 0 1 2 --scenes ferry-warden-dagged

Settles each scene at its own edge length, or at one given, and prints one block a scene: whether it settled, whether
cloth crosses cloth, and the readings headers speak of, lowest to highest over the seeds. Not collected by pytest.
"""

from __future__ import annotations

import argparse
from typing import Any

from drape.errors import DrapeError
from drape.fitting.scene import load_scene, shipped_scenes
from drape.fitting.sit import sit
from drape.reading.table import value_at

KEYS = (
    "neck.gap_front_cm", "neck.gap_left_cm", "neck.gap_back_cm", "neck.gap_right_cm", "neck.gap_max_cm",
    "neck.ride_front_cm", "neck.ride_left_cm", "neck.ride_back_cm", "neck.ride_right_cm", "neck.throat_load_n",
    "neck.throat_line_load_n_m",
    "collar.top_gap_front_cm", "collar.top_gap_left_cm", "collar.top_gap_back_cm", "collar.top_gap_right_cm",
    "collar.top_gap_max_cm",
    "collar.stands_front_percent", "collar.stands_left_percent", "collar.stands_back_percent",
    "collar.stands_right_percent", "shoulder_left.stand_off_mean_cm", "shoulder_right.stand_off_mean_cm",
    "shoulder_left.lie_percent", "shoulder_right.lie_percent", "crowding.max_percent", "closure.shift_cm",
    "closure.gape_cm", "closure.pull_n", "fall.front_cm", "fall.left_cm", "fall.back_cm", "fall.right_cm",
    "fall.lowest_cm", "fall.level_cm", "weight.cloth_kg", "residual", "remaining_mm", "crossings", "deepest_mm",
    "vertices", "steps", "seconds.settle",
)  # fmt: skip


def runs_of(name: str, edge_length: float | None, seeds: list[int]) -> list[dict[str, Any]]:
    """The readings of one scene, one for each seed that settled; what went wrong is printed."""
    found = []
    for seed in seeds:
        scene = load_scene(name)
        try:
            found.append(
                dict(sit(scene, edge_length=edge_length or scene.edge_length, seed=seed, cached=False).readings)
            )
        except DrapeError as error:
            print(f"  seed {seed}: {error}")
    return found


def main() -> None:
    """Prints the blocks."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--edge-length-cm", type=float)
    parser.add_argument("--seeds", nargs="+", type=int, default=[0])
    parser.add_argument("--scenes", nargs="+", default=list(shipped_scenes()))
    chosen = parser.parse_args()
    for name in chosen.scenes:
        print(name, flush=True)
        length = None if chosen.edge_length_cm is None else chosen.edge_length_cm / 100
        runs = runs_of(name, length, chosen.seeds)
        for key in KEYS:
            values = [value_at(run, key) for run in runs if value_at(run, key) is not None]
            if values:
                print(
                    f"  {key:<34}{min(values):10.4g}" + (f" to {max(values):.4g}" if len(values) > 1 else ""),
                    flush=True,
                )
        for run in runs[:1]:
            print(
                *(f"  - {verdict['where']}: {verdict['finding']}" for verdict in run["verdicts"]), sep="\n", flush=True
            )


if __name__ == "__main__":
    main()
