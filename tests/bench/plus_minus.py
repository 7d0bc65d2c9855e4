"""How often does another run fall within the ± that was printed? Twenty drafts of all kinds, several meshes of each.

    python tests/bench/plus_minus.py --bank FOLDER --edge-length-cm 3 --seeds 5
    python tests/bench/plus_minus.py --bank FOLDER --usual

Settles every draft of DRAFTS on every mesh and keeps the readings in the folder; what is there already is not settled
again, so empty it when the program has changed. Prints what each draft reads; how often another run falls within once
and twice the ± that a few of its runs give, what is usual being taken from the other drafts only; and how many verdicts
are certain, and wrong. With --usual instead the lines of `USUAL` in `spread`. Not collected by pytest.
"""

from __future__ import annotations

import argparse
import json
import math
import statistics
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path
from typing import Any
from unittest.mock import patch

from drape.draft.style import CollarStyle, Dart
from drape.errors import NotSettledError
from drape.fitting.scene import Scene, load_body, load_cloth, load_scene
from drape.fitting.sit import sit
from drape.reading import spread, starts
from drape.reading.spread import FIRST_DART, OF_READING, USUAL_FREEDOM, crowds, spread_keys
from drape.reading.starts import deviation_of, values_of, with_means
from drape.reading.table import json_text, spread_at
from drape.reading.verdict import CHECKS, held


@dataclass(frozen=True)
class Kind:
    """A draft of the table. intake [m] of the cut on the closure's shoulder: None where it is worked out."""

    body: str
    cloth: str
    sweep_deg: float
    neck: str = "tailored"
    place: str = "right shoulder"
    darts: tuple[Dart, ...] = ()
    intake: float | None = None
    length: float = 1.0
    more: tuple[tuple[str, Any], ...] = ()


SMALL = Dart(intake=0.03)
DRAFTS: Mapping[str, Kind] = {
    "round half": Kind("ferry-warden", "heavy melton", 180, "round", intake=0.0, length=1.12),
    "tailored half": Kind("ferry-warden", "heavy melton", 180, darts=(Dart(),), length=1.12),
    "centre front, lopsided darts": Kind(
        "ferry-warden", "heavy melton", 180, place="centre front",
        darts=(Dart(place="left shoulder"), Dart(place="right shoulder", intake=0.02)), length=1.12,
    ),
    "third, two darts": Kind("woman-50", "flannel", 120, place="centre front", darts=(Dart(),), length=0.8),
    "150, dart": Kind("man-50", "coating", 150, darts=(Dart(),)),
    "150, round, no dart": Kind("woman-5", "fulled broadcloth", 150, "round", intake=0.0, length=0.9),
    "half, left closing": Kind("lamp-bearer", "coating", 180, place="left shoulder", darts=(Dart(),), length=0.95),
    "half, small dart": Kind("toll-house-clerk", "fulled broadcloth", 180, darts=(SMALL,)),
    "half, two darts": Kind("toll-house-clerk", "flannel", 180, place="centre front", darts=(Dart(),), length=0.9),
    "half, no dart": Kind("square-shoulders", "flannel", 180),
    "half, round, thin": Kind("man-95", "light suiting", 180, "round", intake=0.0, length=0.8),
    "half, collar": Kind(
        "lamp-bearer", "flannel", 180, darts=(Dart(),), length=0.9, more=(("collar", CollarStyle(height=0.06)),)
    ),
    "210, dart": Kind("sloping-shoulders", "calico", 210, darts=(Dart(),), length=0.9),
    "210, round, front": Kind("woman-95", "coating", 210, "round", "centre front", length=0.9),
    "240, cuts": Kind("full-figure", "heavy melton", 240),
    "240, front": Kind("stooping", "flannel", 240, place="centre front", length=0.9),
    "three quarters": Kind("ferry-warden", "flannel", 270, place="centre front", length=0.95),
    "three quarters, round": Kind("man-5", "wet heavy melton", 270, "round", intake=0.0, length=0.7),
    "300, child": Kind("child-140", "flannel", 300, place="centre front", length=0.6),
    "full circle": Kind("woman-50", "light suiting", 345, place="centre front", length=0.6),
}  # fmt: skip


def scene_of(name: str) -> Scene:
    """The scene of one draft of the table."""
    kind = DRAFTS[name]
    scene, body, cloth = load_scene("ferry-warden-tailored"), load_body(kind.body), load_cloth(kind.cloth)
    style = replace(
        scene.style, neck=kind.neck, sweep=math.radians(kind.sweep_deg), closure_place=kind.place, darts=kind.darts,
        shoulder_cut_intake=kind.intake, shoulder_cut_length=None, length=kind.length, **dict(kind.more),
    )  # fmt: skip
    return replace(
        scene, name=name, style=style, body=kind.body, sex=body.sex, tape=body.tape, stance=body.stance,
        arms=body.arms, worn_under=body.worn_under, cloth=cloth, outside=cloth,
    )  # fmt: skip


def readings_of(folder: Path, name: str, edge_length: float, seed: int) -> dict[str, Any]:
    """The readings of one run from the folder, or settled and put there; of one not settled its last state."""
    path = folder / f"{name.replace(', ', '-').replace(' ', '-')}-{seed}.json"
    if not path.exists():
        try:
            found = sit(scene_of(name), edge_length=edge_length, seed=seed, cached=False).readings
        except NotSettledError as error:
            if error.fitting is None:
                raise
            found = error.fitting.readings
        path.write_text(json_text(found), encoding="utf-8")
    read: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return read


Runs = list[dict[str, Any]]  # readings of one draft, each of another start
FITTED = 0.92  # of the median: with it the ± of three starts holds, once and twice
NOT_JUDGED = ("weight.cloth_kg", "weight.balance_error_percent", "crowding.folds", "crowding.fold_depth_cm")
LEAST_CM = 0.035  # a settled cloak may still have half a millimetre to move; two such differ by the root of 2 of it


def bank_of(folder: Path, edge_length: float, seeds: int) -> dict[str, Runs]:
    """The runs of every draft that settled, from the folder or settled now."""
    found: dict[str, Runs] = {name: [] for name in DRAFTS}
    for seed in range(seeds):
        for name in DRAFTS:
            one = spread.of_few(readings_of(folder, name, edge_length, seed))
            if one["settled"]:
                found[name].append(one)
    return found


def usual(bank: Mapping[str, Runs]) -> dict[str, tuple[float, float]]:
    """`USUAL` of `spread`: by reading the median over drafts of the deviation between starts: smooth, crowded.

    A reading that one kind does not have has the other's. FITTED makes the ± of three starts hold; see `main`.
    """
    found: dict[str, tuple[list[float], list[float]]] = {}
    for runs in bank.values():
        if len(runs) < 3:
            continue
        readings = {**runs[0], **with_means(runs[0], means_of(runs))}
        column = int(crowds(readings))
        for key, values in values_of(runs).items():
            name = FIRST_DART.sub("dart.0.", key)
            if not key.startswith(NOT_JUDGED):
                share = statistics.fmean(values) if column and key.startswith(OF_READING) else 1.0
                found.setdefault(name, ([], []))[column].append(deviation_of(values) / (share or 1.0))
    return {
        key: (least(key, smooth or crowded), least(key, crowded or smooth)) for key, (smooth, crowded) in found.items()
    }


def least(key: str, deviations: Sequence[float]) -> float:
    """The median, two figures, of a length no less than a settled cloak may move."""
    return float(f"{max(FITTED * statistics.median(deviations), LEAST_CM if key.endswith('_cm') else 0.0):.2g}")


def means_of(runs: Runs) -> dict[str, float]:
    return {key: statistics.fmean(values) for key, values in values_of(runs).items()}


@dataclass
class Tally:
    """How many of other runs fell within once and twice the ±, of how many."""

    within: float = 0.0
    twice: float = 0.0
    all: float = 0.0

    def add(self, off: float, spread: float, weight: float) -> None:
        self.within += weight * (off <= spread)
        self.twice += weight * (off <= 2 * spread)
        self.all += weight

    def __str__(self) -> str:
        return f"{100 * self.within / self.all:.0f} | {100 * self.twice / self.all:.0f}"


def coverage(bank: Mapping[str, Runs], count: int) -> dict[str, Tally]:
    """By reading, and "" of all: how often another run falls within the ± of `count` runs of its draft.

    What is usual is taken from the other drafts. Each draft weighs the same.
    """
    found: dict[str, Tally] = {"": Tally()}
    for name, runs in bank.items():
        others = usual({other: theirs for other, theirs in bank.items() if other != name})
        chosen = list(combinations(range(len(runs)), count))
        with patch.object(spread, "USUAL", others), patch.object(starts, "LEAST", 2), patch.object(spread, "LEAST", 2):
            for places in chosen:
                some = [runs[k] for k in places]
                rest = [runs[k] for k in range(len(runs)) if k not in places]
                values, spreads = printed(some)
                for other in rest:
                    weight = 1.0 / (len(chosen) * len(rest))
                    for key, value in spread_keys(other):
                        if key in spreads and not key.startswith(NOT_JUDGED):
                            off = abs(value - values[key])
                            found[""].add(off, spreads[key], weight)
                            found.setdefault(key, Tally()).add(off, spreads[key], weight)
    return found


def printed(some: Runs) -> tuple[dict[str, float], dict[str, float]]:
    """The means of some runs and the ± that stands, or of one run would stand, beside each."""
    if len(some) == 1:
        deviations = spread.usual_deviation(some[0])
        known = {key: one for key, one in deviations.items() if one}
        return dict(spread_keys(some[0])), {key: spread.of_another(one, USUAL_FREEDOM, 1) for key, one in known.items()}
    readings, _ = starts.gathered(some, range(len(some)))
    values = dict(spread_keys(readings))
    return values, {key: float(spread_at(readings, key)) for key in values if spread_at(readings, key) is not None}


def decisions(bank: Mapping[str, Runs], count: int) -> tuple[float, float]:
    """Of all verdicts from `count` runs the share that is certain, and of these the share for which the mean of the
    draft's other runs lies on the other side.
    """
    certain = wrong = every = 0
    for name, runs in bank.items():
        others = usual({other: theirs for other, theirs in bank.items() if other != name})
        with patch.object(spread, "USUAL", others):
            for places in combinations(range(len(runs)), count):
                rest = [runs[k] for k in range(len(runs)) if k not in places]
                if not rest:
                    continue
                some, _ = starts.gathered([runs[k] for k in places], places)
                truth = {one.check: one.excess > 0 for one in held(with_means(rest[0], means_of(rest)))}
                for one in held(some):
                    every += 1
                    certain += not one.is_undecided
                    wrong += not one.is_undecided and one.check in truth and one.is_fault != truth[one.check]
    return certain / every, wrong / certain


def main() -> None:
    """Settles what is missing and prints the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bank", type=Path, required=True)
    parser.add_argument("--edge-length-cm", type=float, default=3.0)
    parser.add_argument("--seeds", type=int, default=5)
    parser.add_argument("--usual", action="store_true", help="print the lines of USUAL in spread")
    chosen = parser.parse_args()
    chosen.bank.mkdir(parents=True, exist_ok=True)
    bank = bank_of(chosen.bank, chosen.edge_length_cm / 100, chosen.seeds)
    if chosen.usual:
        print("\n".join(f'        "{key}": {values},' for key, values in usual(bank).items()))
        return
    print("| draft | settled | " + " | ".join(SHOWN) + " | rested |\n" + "| --- " * (len(SHOWN) + 3) + "|")
    for name, runs in bank.items():
        cells = [cell(values_of(runs).get(key)) for key in SHOWN]
        ways = starts.ways_words(dict(Counter(starts.way_of(run) for run in runs).most_common()))
        print(f"| {name} | {len(runs)} of {chosen.seeds} | {' | '.join(cells)} | {ways} |")
    most = range(1, chosen.seeds)
    tallies = {count: coverage(bank, count) for count in most}
    print(
        "\n| reading | "
        + " | ".join(f"{count}: once | twice" for count in most)
        + " |\n"
        + "| --- " * (2 * len(most) + 1)
        + "|"
    )
    for key in ["", *dict.fromkeys(check.key for check in CHECKS)]:
        print(
            f"| {key or 'all readings'} | " + " | ".join(str(tallies[count].get(key, "- | -")) for count in most) + " |"
        )
    print("\n| runs | verdicts certain | of these wrong |\n| --- | --- | --- |")
    for count in most:
        print("| {} | {:.0%} | {:.1%} |".format(count, *decisions(bank, count)))


SHOWN = (
    "spare.percent", "crowding.max_percent", "neck.ride_front_cm", "neck.gap_max_cm", "shoulder_left.stand_off_mean_cm",
    "fall.level_cm",
)  # fmt: skip


def cell(values: Sequence[float] | None) -> str:
    """Mean and deviation."""
    return "-" if not values else f"{statistics.fmean(values):.1f} ± {deviation_of(values):.1f}"


if __name__ == "__main__":
    main()
