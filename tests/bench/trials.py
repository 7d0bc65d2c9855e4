"""Every trial against its exact value, as a Markdown table for README.md here.

    python tests/bench/trials.py                 # all but the disc, a minute or two
    python tests/bench/trials.py --disc          # the disc as well, half an hour or more
    python tests/bench/trials.py --bias          # only strips cut at 45° over an edge, by width: half a minute

Cantilevers over weight ratios, grain and seeds; loops; sloping clamps; bias, tilt, belt; the disc over bending
lengths and at half the edge length. Not collected by pytest.
"""

from __future__ import annotations

import argparse
import dataclasses
import itertools
import math
from collections.abc import Iterator
from typing import Any

from scipy.optimize import brentq

from drape.bench import elastica
from drape.bench.bias_overhang import seen_rigidity
from drape.bench.specimen import Strip
from drape.bench.strips import cantilever, direction_length, strip_rigidity
from drape.bench.trial import run_trial, trial_object
from drape.bench.trial_options import KINDS
from drape.cloth.sheet import Cloth
from drape.fitting.scene import load_cloth

WEIGHTS = (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 20, 25, 30, 40, 50, 60)
GRAINS, DIVISIONS, CLAMPS, LOOP_WEIGHTS = (0, 30, 45, 90), (20, 10), (10, 20, 30), (10, 100, 300)
DISC_LENGTHS_CM, DISC_EDGES = (1.5, 2.0, 2.5, 3.0), (3, 6)
BIAS_GRAIN, BIAS_STRIPS = math.pi / 4, ((0.1, 60), (0.2, 30), (0.35, 20), (0.5, 20))  # width, edges, over the length
SHEAR_ANGLE_DEG = {1.5: 15, 2.0: 10, 2.5: 8, 3.0: 6}  # that go with such cloths, from memory


def regression(c: float, shear: float) -> float:
    """Cusick's drape coefficient [%] from bending length [cm] and shear angle [deg]; J. Text. Inst. 56 (1965) T596,
    from memory: a loose check, never a gate."""
    return 35.6 * c - 3.61 * c**2 - 2.59 * shear + 0.0461 * shear**2 + 17.0


def cases(cloth: Cloth, seeds: list[int]) -> Iterator[tuple[str, str, dict[str, Any], list[int]]]:
    """Kind, words, options in SI and seeds of every row."""
    for grain in GRAINS:
        unit = direction_length(cloth, math.radians(grain))
        for weight, parts in itertools.product(WEIGHTS, DIVISIONS):
            length = unit * weight ** (1 / 3)
            width = length / (4 if grain % 90 == 0 else 10)  # the edge keeps a wide one off the grain from curling
            own = {"length": length, "width": width, "grain": math.radians(grain), "edge_length": length / parts}
            yield "cantilever", f"W {weight}, grain {grain}°, L/{parts}", own, seeds
    for clamp in CLAMPS:
        yield "cantilever", f"W 8, clamp {clamp}°", {"clamp": math.radians(clamp), "width": 0.0125}, seeds
    for kind in ("ring", "pear", "heart"):
        for weight in LOOP_WEIGHTS:
            yield kind, f"W {weight}, L/80", {"length": cloth.bending_length_warp * weight ** (1 / 3)}, seeds
    for grain in GRAINS:
        for load in (0.5, 4.9):
            yield "bias", f"grain {grain}°, {load} N/m", {"grain": math.radians(grain), "load": load}, seeds
    yield "tilt", f"μ {cloth.friction_on_figure}", {}, seeds
    for wrap in (90, 180):
        yield "belt", f"μ {cloth.friction_on_figure}, {wrap}°", {"wrap": math.radians(wrap)}, seeds


def row(kind: str, words: str, cloth: Cloth, own: dict[str, Any], seeds: list[int]) -> str:
    """One row: value and exact value of the first seed, the largest difference over all."""
    made = [trial_object(run_trial(kind, cloth, own, seed=seed)) for seed in seeds]
    value, exact = KINDS[kind].pair
    worst = max((found["difference_percent"] for found in made), key=abs)
    settled = "" if all(found["settled"] for found in made) else " NOT SETTLED"
    cells = (
        kind,
        words,
        f"{made[0][value]:.5g}",
        f"{made[0][exact]:.5g}",
        f"{worst:+.2f}{settled}",
        made[0]["vertices"],
    )
    return "| " + " | ".join(str(cell) for cell in cells) + " |"


def disc_rows(starts: int) -> Iterator[str]:
    """Discs of coating over bending lengths, at c/3 and half of that."""
    for c in DISC_LENGTHS_CM:
        keys = {"bending_length_warp_cm": c, "bending_length_weft_cm": c}
        cloth = load_cloth("coating", keys)
        for edges in DISC_EDGES:
            found = trial_object(run_trial("disc", cloth, {"starts": starts, "edge_length": c / 100 / edges}))
            value = f"{found['drape_coefficient_percent']:.1f} ± {found['drape_coefficient_spread']:.1f}"
            nodes = " ".join(str(count) for count in sorted(found["nodes"]))
            settled = "yes" if found["settled"] else "NO"
            yield (
                f"| {c:g} | c/{edges} | {value} | {nodes} | {found['lowest_energy_percent']:.1f} | "
                f"{found['strip_floor_percent']:.1f} | {regression(c, SHEAR_ANGLE_DEG[c]):.1f} | {found['vertices']} | "
                f"{settled} |"
            )


def bias_rows(cloth: Cloth) -> Iterator[str]:
    """Strips cut at 45°: how much stiffer than a narrow one [%], and by `seen_rigidity`; twist share by width."""
    for share in (0.14, 0.2, 0.28, 0.4):
        limp = dataclasses.replace(cloth, twist_share=share)
        ends = {"poisson": limp.poisson_ratio, "twist": limp.twist_rigidity}
        cells = [f"{share:g}"]
        for slender, edges in BIAS_STRIPS:
            seen = seen_rigidity(limp.rigidity_warp, limp.rigidity_weft, slender=slender, **ends)
            exact = strip_rigidity(limp, BIAS_GRAIN)
            length = 2 * direction_length(limp, BIAS_GRAIN) * (seen / exact) ** (1 / 3)
            made = cantilever(limp, Strip(length, slender * length, length / edges, BIAS_GRAIN))
            weight = brentq(lambda w, chord=made.chord: elastica.cantilever(w).chord - chord, 2, 20)
            cells.append(f"{100 * (made.weight_ratio / weight - 1):.1f}, {100 * (seen / exact - 1):.1f}")
        yield "| " + " | ".join(cells) + " |"


def main() -> None:
    """Prints the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cloth", default="heavy melton")
    parser.add_argument("--seeds", nargs="+", type=int, default=[0, 1, 2])
    parser.add_argument("--disc", action="store_true")
    parser.add_argument("--starts", type=int, default=8)
    parser.add_argument("--bias", action="store_true")
    chosen = parser.parse_args()
    cloth = load_cloth(chosen.cloth)
    if chosen.bias:
        print("| twist share | " + " | ".join(f"{slender:g}" for slender, _ in BIAS_STRIPS) + " |")
        print("| --- " * (1 + len(BIAS_STRIPS)) + "|")
        for line in bias_rows(cloth):
            print(line, flush=True)
        return
    print("| trial | | value | exact | worst difference, % | vertices |\n| --- | --- | --- | --- | --- | --- |")
    for kind, words, own, seeds in cases(cloth, chosen.seeds):
        print(row(kind, words, cloth, own, seeds), flush=True)
    if chosen.disc:
        print(
            "\n| c, cm | edge | drape coefficient, % | folds | of least energy | strips | regression, from memory | "
            "vertices | settled |"
        )
        print("| --- " * 9 + "|")
        for line in disc_rows(chosen.starts):
            print(line, flush=True)


if __name__ == "__main__":
    main()
