"""How far readings move between equally good meshes, and when the edge length is halved.

    python tests/bench/spread.py --edge-length-cm 3 1.5 --seeds 0 1 2
    python tests/bench/spread.py --documented

Settles both shipped scenes at every edge length and seed, and prints a Markdown table: per reading
the mean and half the range over the seeds, then vertices and seconds. With --documented instead the lines of
`DOCUMENTED` in `spread`: root mean square of the difference between two meshes at 3 cm. Not collected by pytest.
"""

from __future__ import annotations

import argparse
import math
import statistics
from collections.abc import Mapping, Sequence
from typing import Any

from drape.errors import NotSettledError
from drape.fitting.scene import load_scene
from drape.fitting.sit import sit
from drape.reading.spread import OF_READING, spread_between, spread_keys
from drape.reading.table import value_at

SCENES = ("ferry-warden-round", "ferry-warden-tailored")
COLLARED = "lamp-bearer-collar"  # whose collar stands for every collar
KEYS = (
    "neck.gap_front_cm", "neck.gap_left_cm", "neck.gap_back_cm", "neck.gap_right_cm",
    "neck.gap_max_cm", "neck.ride_front_cm", "neck.ride_back_cm", "neck.throat_load_n",
    "shoulder_left.stand_off_mean_cm", "shoulder_right.stand_off_mean_cm",
    "shoulder_left.lie_percent", "shoulder_right.lie_percent",
    "crowding.max_percent", "crowding.mean_percent",
    "fall.front_cm", "fall.left_cm", "fall.back_cm", "fall.right_cm", "fall.mean_cm", "fall.level_cm",
    "crossings", "deepest_mm", "weight.balance_error_percent", "vertices", "steps",
    "seconds.figure", "seconds.mesh", "seconds.settle", "seconds.readings",
)  # fmt: skip


def column(name: str, edge_length_cm: float, seeds: list[int]) -> dict[str, list[float]]:
    """Every reading of one scene at one edge length, a value a seed."""
    found: dict[str, list[float]] = {key: [] for key in KEYS}
    for seed in seeds:
        try:
            fitting = sit(load_scene(name), edge_length=edge_length_cm / 100, seed=seed, cached=False)
        except NotSettledError as error:
            print(f"{name}, {edge_length_cm} cm, seed {seed}: {error}")
            continue
        for key in KEYS:
            value = value_at(fitting.readings, key)
            found[key].append(float("nan") if value is None else float(value))
    return found


def cell(values: list[float]) -> str:
    """Mean and half range."""
    if not values:
        return "-"
    mean = statistics.fmean(values)
    return f"{mean:.3g}" if len(values) == 1 else f"{mean:.3g} ± {(max(values) - min(values)) / 2:.2g}"


NO_SPREAD = ("weight.cloth_kg", "weight.balance_error_percent")  # the same on every mesh; of no use to a maker
LEAST_CM = 0.05  # a settled cloak may still have that far to move


def documented(smooth: Sequence[Mapping[str, Any]], crowded: Sequence[Mapping[str, Any]]) -> list[str]:
    """Lines of `DOCUMENTED`: reading, spread of a draft that lies smooth, of one that crowds."""
    found = [pairwise(crowded), pairwise(smooth)]
    for key in [key for key in found[0] if key.startswith(OF_READING)]:  # as a share of the reading
        mean = statistics.fmean(dict(spread_keys(run))[key] for run in crowded)
        found[0][key] /= mean or 1.0
    keys = [key for key in found[1] | found[0] if not key.startswith(("crowding.fold", *NO_SPREAD))]
    lines = []
    for key in keys:
        low, high = (
            spreads.get(key, found[1 - place].get(key, 0.0)) for place, spreads in ((1, found[1]), (0, found[0]))
        )
        least = LEAST_CM if key.endswith("_cm") else 0.0
        lines.append(f'    "{key}": ({max(low, least):.2g}, {max(high, least):.2g}),')
    return lines


def pairwise(runs: Sequence[Mapping[str, Any]]) -> dict[str, float]:
    """Root mean square over all pairs of runs of their difference in each reading."""
    each = [spread_between(run, [other for other in runs if other is not run]) for run in runs]
    keys = [key for key in each[0] if all(key in one for one in each)]
    return {key: math.sqrt(statistics.fmean(one[key] ** 2 for one in each)) for key in keys}


def main() -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--edge-length-cm", nargs="+", type=float, default=[3.0])
    parser.add_argument("--seeds", nargs="+", type=int, default=[0, 1, 2])
    parser.add_argument("--documented", action="store_true")
    chosen = parser.parse_args()
    if chosen.documented:
        runs = {
            n: [sit(load_scene(n), edge_length=0.03, seed=s, cached=False).readings for s in chosen.seeds]
            for n in SCENES
        }
        print("\n".join(documented(runs[SCENES[1]], runs[SCENES[0]])))
        collars = [
            sit(load_scene(COLLARED), edge_length=0.03, seed=s, cached=False).readings["collar"] for s in chosen.seeds
        ]
        collars = [{"collar": one} for one in collars]
        print("\n".join(documented(collars, collars)))
        return
    heads = [(name, length) for length in chosen.edge_length_cm for name in SCENES]
    columns = [column(name, length, chosen.seeds) for name, length in heads]
    print("| reading | " + " | ".join(f"{n.split('-')[-1]}, {h:g} cm" for n, h in heads) + " |")
    print("| --- " * (len(heads) + 1) + "|")
    for key in KEYS:
        print(f"| {key} | " + " | ".join(cell(found[key]) for found in columns) + " |")


if __name__ == "__main__":
    main()
