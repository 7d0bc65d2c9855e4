"""Both shipped drafts on five bodies: verdicts, figures with their spread,
and whether the trade's sayings hold; mending.

    python tests/bench/wardrobe.py --edge-length-cm 3 --seeds 3
    python tests/bench/wardrobe.py --mend 6

The first prints, for each body and draft, the mean of the readings over the seeds with half their range, the verdicts
of the first seed, and which sayings hold by more than both spreads. The second lets `mend` work on the round draft of
three bodies, dart and cuts allowed, and settles what it found afresh, from the usual start and on another mesh.
Markdown; not collected by pytest.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from drape.errors import NotSettledError
from drape.fitting.mend import mend
from drape.fitting.scene import Scene, load_body, load_scene
from drape.fitting.sit import sit
from drape.reading.result import Fitting

BODIES = ("ferry-warden", "lamp-bearer", "toll-house-clerk", "woman-50", "man-95")
MENDED = BODIES[:3]
DRAFTS = ("ferry-warden-round", "ferry-warden-tailored")
SHOWN = (
    "neck.gap_max_cm", "neck.gap_back_cm", "neck.ride_front_cm", "neck.ride_back_cm", "neck.throat_load_n",
    "shoulder_left.stand_off_mean_cm", "shoulder_right.stand_off_mean_cm", "shoulder_left.lie_percent",
    "shoulder_right.lie_percent", "crowding.max_percent", "fall.level_cm",
)  # fmt: skip
# Common practice, no source: the reading, and +1 where the round draft's is said to be the higher, −1 the lower.
SAYINGS = {
    "the round neck stands off the left shoulder": ("shoulder_left.stand_off_mean_cm", 1),
    "the round neck stands off the right shoulder": ("shoulder_right.stand_off_mean_cm", 1),
    "the round neck crowds": ("crowding.max_percent", 1),
    "the round neck gapes behind": ("neck.gap_back_cm", 1),
    "the round neck rides high in front": ("neck.ride_front_cm", 1),
    "a neck deeper in front rides up behind": ("neck.ride_back_cm", -1),
    "a neck deeper in front frees the throat": ("neck.throat_load_n", 1),
}


def scene_on(draft: str, body: str) -> Scene:
    """The draft's scene with another body in it, its dimensions left to be worked out from that body."""
    found = load_body(body)
    return replace(load_scene(draft), name=f"{draft}-on-{body}", body=body, sex=found.sex, tape=found.tape)


def settled(scene: Scene, edge_length: float, seed: int) -> Fitting:
    """The fitting, or that of the last state if it was not settled."""
    try:
        return sit(scene, edge_length=edge_length, seed=seed)
    except NotSettledError as error:
        return error.fitting


def value_of(readings: Mapping[str, Any], place: str) -> float:
    group, key = place.split(".")
    return float(readings[group][key])


def spread_of(fittings: list[Fitting], place: str) -> tuple[float, float]:
    """Mean and half the range."""
    values = [value_of(fitting.readings, place) for fitting in fittings]
    return sum(values) / len(values), (max(values) - min(values)) / 2


def print_body(body: str, edge_length: float, seeds: int) -> list[str]:
    """The table of one body and its verdicts; returns its column of the table of sayings."""
    runs = {}
    for draft in DRAFTS:
        scene = scene_on(draft, body)
        runs[draft] = [settled(scene, edge_length, seed) for seed in range(seeds)]
    print(f"\n**{body}**\n\n| reading | round | tailored |\n| --- | --- | --- |")
    for place in SHOWN:
        cells = [f"{mean:.2f} ± {half:.2f}" for mean, half in (spread_of(runs[draft], place) for draft in DRAFTS)]
        print(f"| {place} | {' | '.join(cells)} |")
    for draft in DRAFTS:
        unsettled = sum(not fitting.readings["settled"] for fitting in runs[draft])
        crossings = sum(fitting.readings["crossings"] for fitting in runs[draft])
        said = "; ".join(f"{v['where']} {v['finding']}" for v in runs[draft][0].readings["verdicts"])
        print(f"\n{draft}: {unsettled} not settled, {crossings} crossings. {said}")
    column = []
    for place, sign in SAYINGS.values():
        (round_mean, round_half), (mean, half) = (spread_of(runs[draft], place) for draft in DRAFTS)
        more = sign * (round_mean - mean)
        column.append(
            "yes" if more > round_half + half else "no, the other way" if -more > round_half + half else "no difference"
        )
    return column


def print_mend(body: str, edge_length: float, seed: int) -> None:
    """What `mend` found for the round draft on one body, and how it sits afresh on another mesh."""
    scene = scene_on(DRAFTS[0], body)
    try:
        mended = mend(scene, edge_length=edge_length, tries=24, name=lambda _: "mended", seed=seed)
    except NotSettledError as error:
        print(f"| {body} | {error} |")
        return
    if mended.after is None:
        print(f"| {body} | nothing bettered in {mended.tried} tries |")
        return
    afresh = sit(mended.scene, edge_length=edge_length, seed=seed + 1, cached=False)
    cells = []
    for place in ("shoulder_left.stand_off_mean_cm", "shoulder_right.stand_off_mean_cm", "crowding.max_percent"):
        cells.append(", ".join(f"{value_of(f.readings, place):.2f}" for f in (mended.before, mended.after, afresh)))
    print(
        f"| {body} | {' | '.join(cells)} | {mended.tried} | {' '.join(change.words for change in mended.changes)} |",
        flush=True,
    )


def main() -> None:
    """Prints the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--edge-length-cm", type=float, default=3.0)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--bodies", nargs="+", default=list(BODIES))
    parser.add_argument(
        "--mend", type=float, metavar="CM", help="mend the round draft on three bodies at this edge length instead"
    )
    chosen = parser.parse_args()
    if chosen.mend:
        print("Before, mended, mended and settled afresh on another mesh.\n")
        print(
            "| body | stand-off left, cm | stand-off right, cm | crowding, % | tries | changes |\n"
            "| --- | --- | --- | --- | --- | --- |"
        )
        for body in MENDED:
            print_mend(body, chosen.mend / 100, 0)
        return
    columns = {body: print_body(body, chosen.edge_length_cm / 100, chosen.seeds) for body in chosen.bodies}
    print("\n| saying of the trade (common practice, no source) | " + " | ".join(columns) + " |")
    print("| --- " * (1 + len(columns)) + "|")
    for row, saying in enumerate(SAYINGS):
        print(f"| {saying} | {' | '.join(column[row] for column in columns.values())} |")


if __name__ == "__main__":
    main()
