"""What each dimension of a draft does to how it sits: the slopes that `advice` goes by.

    python tests/bench/effects.py ferry-warden-tailored toll-house-clerk-two-darts ferry-warden-round

Each draft is settled at 6 cm, then again with one dimension 1.5 cm more and less (ease 2 more and 1 less), from the
shape it had. Printed: the readings as they are, then by how much each change moves them. Not collected by pytest.
"""

from __future__ import annotations

import argparse
from dataclasses import replace

from drape.draft.dimensions import DIMENSIONS, value_of, with_value
from drape.draft.style import Style, with_placed_darts
from drape.errors import DraftError, MeshError, NotSettledError
from drape.fitting.scene import load_scene
from drape.fitting.sit import sit
from drape.reading.table import value_at

EDGE = 0.06  # m
BY = 0.015  # m
READINGS = (
    "neck.gap_front_cm", "neck.gap_left_cm", "neck.gap_back_cm", "neck.gap_right_cm", "neck.ride_front_cm",
    "neck.ride_left_cm", "neck.ride_back_cm", "neck.ride_right_cm", "neck.throat_line_load_n_m",
    "shoulder_left.stand_off_mean_cm", "shoulder_right.stand_off_mean_cm", "closure.shift_cm", "closure.gape_cm",
    "closure.pull_n", "balance.forward_cm", "balance.left_cm", "balance.turn_deg",
)  # fmt: skip


def changes(style: Style, draft) -> list[tuple[str, Style]]:
    """The styles to try, with what was changed."""
    found = []
    for d in DIMENSIONS:
        value = value_of(style, draft, d)
        if value is not None and d.name != "length":
            found += [(f"{d.name} {100 * by:+.1f}", with_value(style, draft, d, value + by)) for by in (BY, -BY)]
    ease = draft.dimensions["neck_ease"]
    return found + [(f"neck_ease {100 * by:+.1f}", replace(style, neck_ease=ease + by)) for by in (0.02, -0.01)]


def main() -> None:
    """Prints a table for each scene."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("scenes", nargs="+")
    for name in parser.parse_args().scenes:
        scene = load_scene(name)
        style = with_placed_darts(scene.style)
        first = sit(scene, edge_length=EDGE, cached=False)
        start = {key: value_at(first.readings, key) for key in READINGS}
        print(f"\n| {name} | " + " | ".join(key.split(".")[1].rpartition("_")[0] for key in READINGS) + " |")
        print("| --- " * (len(READINGS) + 1) + "|")
        print("| as it is | " + " | ".join(f"{start[key]:.2f}" for key in READINGS) + " |", flush=True)
        for words, changed in changes(style, first.draft):
            try:
                readings = sit(replace(scene, style=changed), edge_length=EDGE, before=first).readings
            except (DraftError, MeshError, NotSettledError) as error:
                print(f"| {words} | {str(error).partition(',')[0]} |", flush=True)
                continue
            cells = [f"{value_at(readings, key) - start[key]:+.2f}" for key in READINGS]
            print(f"| {words} | " + " | ".join(cells) + " |", flush=True)


if __name__ == "__main__":
    main()
