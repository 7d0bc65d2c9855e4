"""The default drafts, tailored and round, on the twelve records of the 1988 survey: does the neck sit?

    python tests/bench/twelve.py --edge-length-cm 3

Settles both drafts of the ferry warden's cloak on every record of tests/published/test_figure_survey.py and prints a
Markdown table: the largest neck gap, where, ride, the load on the throat and the share of the cloak the neck carries.
A neck sits when its gap is nowhere over the verdict's limit and its front line load is under it.
Not collected by pytest.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from drape.errors import DrapeError, NotSettledError
from drape.fitting.scene import Scene, load_scene
from drape.fitting.sit import sit
from drape.reading.verdict import THRESHOLDS

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "published"))
from test_figure_survey import RECORDS, sex_of, tape_of  # noqa: E402

DRAFTS = {"tailored": "ferry-warden-tailored", "round": "ferry-warden-round"}
GAP, LINE_LOAD = (THRESHOLDS[name].value for name in ("gap_cm", "throat_line_load_n_m"))


def scene_on(record: str, draft: str) -> Scene:
    """The draft's scene with the record's body in place of its own."""
    return replace(
        load_scene(DRAFTS[draft]), name=f"{draft}-{record}", body=record, sex=sex_of(record), tape=tape_of(record)
    )


def sits(readings: Mapping[str, Any]) -> bool:
    """Whether the neck neither gapes nor presses by the verdict's limits."""
    neck = readings["neck"]
    return bool(neck["gap_max_cm"] <= GAP and neck["throat_line_load_n_m"] <= LINE_LOAD)


def line_of(record: str, draft: str, edge_length: float, seed: int) -> tuple[str, bool]:
    """One row of the table, and whether the neck sits."""
    try:
        readings = sit(scene_on(record, draft), edge_length=edge_length, seed=seed, cached=False).readings
    except NotSettledError as error:
        readings = error.fitting.readings
    except DrapeError as error:
        return f"| {record} | {draft} | {error} |", False
    neck, crowding = readings["neck"], readings["crowding"]
    sides = ("front", "left", "back", "right")
    gaps = ", ".join(f"{neck[f'gap_{side}_cm']:.2f}" for side in sides)
    rides = ", ".join(f"{neck[f'ride_{side}_cm']:.1f}" for side in sides)
    ok = sits(readings)
    words = "yes" if ok else "no"
    if not readings["settled"]:
        words += ", not settled"
    return (
        f"| {record} | {draft} | {neck['gap_max_cm']:.2f} | {gaps} | {rides} | {neck['throat_load_n']:.2f} | "
        f"{neck['throat_line_load_n_m']:.1f} | {readings['weight']['neck_percent']:.0f} | "
        f"{crowding['max_percent']:.1f} | {words} |"
    ), ok


def main() -> None:
    """Prints the table and how many sit."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--edge-length-cm", type=float, default=3.0)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--drafts", nargs="+", choices=tuple(DRAFTS), default=list(DRAFTS))
    parser.add_argument("--records", nargs="+", choices=tuple(RECORDS), default=list(RECORDS))
    chosen = parser.parse_args()
    print(
        "| figure | draft | gap, most [cm] | front, left, back, right | ride likewise [cm] | throat [N] | in front "
        "[N/m] | carried by the neck [%] | crowding [%] | sits |"
    )
    print("| --- " * 10 + "|")
    for draft in chosen.drafts:
        count = 0
        for record in chosen.records:
            line, ok = line_of(record, draft, chosen.edge_length_cm / 100, chosen.seed)
            count += ok
            print(line, flush=True)
        print(f"\n{draft}: {count} of {len(chosen.records)} sit.\n", flush=True)


if __name__ == "__main__":
    main()
