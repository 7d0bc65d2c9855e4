"""How far readings move between equally good meshes, and when the edge length is halved.

    python tests/bench/spread.py --edge-length-cm 3 1.5 --seeds 0 1 2

Settles both shipped scenes at every edge length and seed, and prints a Markdown table: per reading
the mean and half the range over the seeds, then vertices and seconds. Not collected by pytest.
"""

from __future__ import annotations

import argparse
import statistics

from drape.errors import NotSettledError
from drape.fitting.scene import load_scene
from drape.fitting.sit import sit
from drape.reading.table import value_at

SCENES = ("ferry-warden-round", "ferry-warden-tailored")
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


def main() -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--edge-length-cm", nargs="+", type=float, default=[3.0])
    parser.add_argument("--seeds", nargs="+", type=int, default=[0, 1, 2])
    chosen = parser.parse_args()
    heads = [(name, length) for length in chosen.edge_length_cm for name in SCENES]
    columns = [column(name, length, chosen.seeds) for name, length in heads]
    print("| reading | " + " | ".join(f"{n.split('-')[-1]}, {h:g} cm" for n, h in heads) + " |")
    print("| --- " * (len(heads) + 1) + "|")
    for key in KEYS:
        print(f"| {key} | " + " | ".join(cell(found[key]) for found in columns) + " |")


if __name__ == "__main__":
    main()
