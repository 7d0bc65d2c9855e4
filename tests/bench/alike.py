"""Whether two versions of the program read the same: both drafts settled on many meshes by either, as a Markdown table.

    python tests/bench/alike.py --against-python OTHER/.venv/bin/python --edge-length-cm 4.5 --seeds 8

Per reading: mean and standard deviation over the meshes, before and after, and the difference of the means in its own
standard errors. Where nothing has changed one in twenty lies beyond 2, one in a hundred beyond 2.6 (Student's t is a
little wider for eight meshes: 2.1 and 3.0). Not collected by pytest.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import statistics
import subprocess
import sys
from pathlib import Path

SETTLE = """
import json, sys
import drape
from drape.errors import NotSettledError
rows = []
for seed in range(int(sys.argv[3])):
    try:
        rows.append(drape.sit(sys.argv[1], edge_length_cm=float(sys.argv[2]), seed=seed, cached=False).readings)
    except NotSettledError as error:
        print(error, file=sys.stderr)
print(json.dumps(rows))
"""
SCENES = ("ferry-warden-round", "ferry-warden-tailored")
LEFT_OUT = ("seconds", "steps", "residual", "worst", "remaining", "vertices", "edge_length", "weight.cloth", "seed")


def settled(python: Path, scene: str, edge_length_cm: float, seeds: int) -> list[dict[str, float]]:
    """The readings of each mesh, flat: dotted keys and numbers."""
    command = [python, "-c", SETTLE, scene, str(edge_length_cm), str(seeds)]
    done = subprocess.run(command, stdout=subprocess.PIPE, check=True, cwd=Path(python).parent, env=os.environ)
    return [dict(flat(readings)) for readings in json.loads(done.stdout.splitlines()[-1])]


def flat(readings: dict, prefix: str = ""):
    """Dotted keys and numbers of nested readings."""
    for key, value in readings.items():
        if isinstance(value, dict):
            yield from flat(value, f"{prefix}{key}.")
        elif isinstance(value, (int, float)) and not isinstance(value, bool) and not key.endswith("_spread"):
            yield f"{prefix}{key}", float(value)


def main() -> None:
    """Prints the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--against-python", type=Path, required=True)
    parser.add_argument("--python", type=Path, default=Path(sys.executable))
    parser.add_argument("--edge-length-cm", type=float, default=4.5)
    parser.add_argument("--seeds", type=int, default=8)
    asked = parser.parse_args()
    for scene in SCENES:
        sides = [
            settled(python, scene, asked.edge_length_cm, asked.seeds) for python in (asked.against_python, asked.python)
        ]
        print(f"\n{scene}: {len(sides[0])} and {len(sides[1])} meshes settled.\n")
        print("| reading | before | after | apart, in standard errors |\n| --- | --- | --- | --- |")
        common = [
            key for key in sides[1][0]
            if all(key in run for side in sides for run in side) and not key.startswith(LEFT_OUT)
        ]  # fmt: skip
        for key in common:
            values = [[run[key] for run in side] for side in sides]
            means, deviations = [statistics.fmean(v) for v in values], [statistics.stdev(v) for v in values]
            error = math.hypot(*(d / math.sqrt(len(v)) for d, v in zip(deviations, values, strict=True)))
            apart = (means[1] - means[0]) / error if error else 0.0
            cells = [f"{m:.4g} ± {d:.2g}" for m, d in zip(means, deviations, strict=True)]
            print(f"| {key} | {cells[0]} | {cells[1]} | {apart:+.1f} |")


if __name__ == "__main__":
    main()
