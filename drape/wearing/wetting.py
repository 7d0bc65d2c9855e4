"""Wetting: what becomes of a cloak when it is wet through.

In: the readings of one cloak, dry and wet. Out: a group of readings, and a sentence.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drape.units import STANDARD_GRAVITY, rounded

Readings = Mapping[str, Any]
BEARING = ("shoulder_left", "shoulder_right")


def read_wetting(dry: Readings, wet: Readings) -> dict[str, float]:
    """Weight, load on either shoulder, how far the hem drops on average and at its lowest; dry, and wet."""
    group: dict[str, float] = {}
    for name, one in (("dry", dry), ("wet", wet)):
        group[f"cloth_{name}_kg"] = one["weight"]["cloth_kg"]
        for part in BEARING:
            share = one["weight"][f"{part}_percent"] / 100
            group[f"{part}_{name}_n"] = share * one["weight"]["cloth_kg"] * STANDARD_GRAVITY
    for name, key in (("hem_drop_cm", "mean_cm"), ("lowest_drop_cm", "lowest_cm")):
        group[name] = dry["fall"][key] - wet["fall"][key]
    told: dict[str, float] = rounded(group)
    return told


def wetting_words(group: Mapping[str, float], filled: tuple[str, ...] = ()) -> str:
    """What changes, in a sentence. filled: names of the wet values that nobody gave."""
    drop = group["hem_drop_cm"]
    hem = f"the hem hangs {abs(drop):.1f} cm {'lower' if drop >= 0 else 'higher'} on average"
    words = (
        f"Wet, it weighs {group['cloth_wet_kg']:.1f} kg instead of {group['cloth_dry_kg']:.1f}. The left shoulder "
        f"bears {group['shoulder_left_wet_n']:.0f} N instead of {group['shoulder_left_dry_n']:.0f}, the right "
        f"{group['shoulder_right_wet_n']:.0f} instead of {group['shoulder_right_dry_n']:.0f}; {hem}."
    )
    estimated = [name.replace("_", " ") for name in filled if name == "water" or name.startswith("wet_")]
    return f"{words} Estimated, from memory: {', '.join(estimated)}." if estimated else words
