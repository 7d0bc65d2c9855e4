"""Spread: how far a reading may be from that of another run of the same cloak.

In: the groups `worn` returns, of one run or of several. Out: the same with a `_spread` beside every reading, in its
unit, and a note of where they come from. Runs differ in mesh, start and cloth; running them is left to `ensemble`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any, Final

Readings = Mapping[str, Any]

GROUPS: Final = (
    "neck",
    "collar",
    "shoulder_left",
    "shoulder_right",
    "spare",
    "crowding",
    "dart",
    "closure",
    "fall",
    "balance",
    "weight",
)
SURE: Final = ("at_cm", "intake_cm", "within_cm")  # no reading: the same in every run
FIRST_DART: Final = re.compile(r"^dart\.\d+\.")  # one dart's spread stands for every dart's
CROWDED_PERCENT: Final = 3.0  # from here on spare cloth folds, and where is chance; the limit of the verdict
SPARE_PERCENT: Final = 5.0  # the same of the spare cloth itself, which may also stand up without a fold
OF_READING: Final = ("spare.", "crowding.")  # of a draft that crowds their spread is a share of the reading

# Root mean square of the difference between two of three meshes at 3 cm, lengths at least the half millimetre that a
# settled cloak may still move: of a draft that lies smooth, and of one that crowds. Of the latter spare cloth and
# crowding have a share of the reading, since a fold more or less is a share of what is folded; and it had no dart. A
# collar's are the lamp bearer's, for both. Those of spare cloth are of eight meshes at 5 cm, six bodies, three cloths.
# Printed by tests/bench/spread.py --documented and tests/bench/spare.py.
DOCUMENTED: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {
        "neck.gap_front_cm": (0.074, 0.055),
        "neck.gap_left_cm": (0.084, 0.12),
        "neck.gap_back_cm": (0.05, 0.12),
        "neck.gap_right_cm": (0.086, 0.091),
        "neck.gap_max_cm": (0.34, 0.59),
        "neck.ride_front_cm": (0.44, 2.5),
        "neck.ride_left_cm": (0.05, 2.7),
        "neck.ride_back_cm": (0.42, 0.99),
        "neck.ride_right_cm": (0.15, 2.3),
        "neck.throat_load_n": (0.29, 2),
        "neck.throat_line_load_n_m": (0.76, 9.4),
        "collar.top_gap_front_cm": (0.05, 0.05),
        "collar.top_gap_left_cm": (0.05, 0.05),
        "collar.top_gap_back_cm": (0.28, 0.28),
        "collar.top_gap_right_cm": (0.05, 0.05),
        "collar.top_gap_max_cm": (0.22, 0.22),
        "collar.stands_front_percent": (1.8, 1.8),
        "collar.stands_left_percent": (11, 11),
        "collar.stands_back_percent": (1.3, 1.3),
        "collar.stands_right_percent": (3.1, 3.1),
        "shoulder_left.stand_off_mean_cm": (0.093, 0.17),
        "shoulder_left.stand_off_max_cm": (0.071, 0.6),
        "shoulder_left.stand_off_at_cm": (11, 2.9),
        "shoulder_left.lie_percent": (3.2, 4.1),
        "shoulder_right.stand_off_mean_cm": (0.12, 0.19),
        "shoulder_right.stand_off_max_cm": (0.14, 0.94),
        "shoulder_right.stand_off_at_cm": (4.9, 0.05),
        "shoulder_right.lie_percent": (1.7, 7.5),
        "spare.percent": (0.27, 0.11),
        "crowding.fullness_percent.0": (0.0029, 1.6),
        "crowding.fullness_percent.1": (0.012, 1.6),
        "crowding.fullness_percent.2": (0.0062, 1.5),
        "crowding.fullness_percent.3": (0.08, 1.8),
        "crowding.fullness_percent.4": (0.014, 0.8),
        "crowding.fullness_percent.5": (0.027, 0.27),
        "crowding.max_percent": (0.08, 1.5),
        "crowding.mean_percent": (0.016, 1.5),
        "dart.0.angle_to_shoulder_deg": (3.3, 3.3),
        "dart.0.point_short_cm": (0.13, 0.13),
        "dart.0.point_gap_cm": (0.056, 0.056),
        "closure.shift_cm": (1.2, 0.33),
        "closure.gape_cm": (0.2, 0.49),
        "closure.pull_n": (0.43, 0.42),
        "fall.front_cm": (0.38, 1.3),
        "fall.left_cm": (0.56, 1.5),
        "fall.back_cm": (0.74, 0.81),
        "fall.right_cm": (0.61, 0.72),
        "fall.mean_cm": (0.17, 0.54),
        "fall.lowest_cm": (0.32, 1.1),
        "fall.highest_cm": (0.17, 1.5),
        "fall.level_cm": (0.82, 2.8),
        "fall.clearance_cm": (0.32, 1.1),
        "fall.bias_drop_cm": (0.05, 0.093),
        "balance.forward_cm": (0.25, 0.87),
        "balance.left_cm": (0.2, 0.16),
        "balance.turn_deg": (6.6, 5.9),
        "weight.neck_percent": (1.1, 3.3),
        "weight.shoulder_left_percent": (0.9, 10),
        "weight.shoulder_right_percent": (4.2, 5.9),
        "weight.arms_percent": (4.3, 7),
        "weight.torso_percent": (3.5, 2.6),
    }
)


def spread_keys(readings: Readings) -> Iterator[tuple[str, float]]:
    """Every reading that may vary, as (dotted key, value); of a list each place."""
    for group in GROUPS:
        if group in readings:
            yield from _numbers(readings[group], f"{group}.")


def _numbers(value: Any, prefix: str) -> Iterator[tuple[str, float]]:
    if isinstance(value, Mapping):
        items = [(k, v) for k, v in value.items() if k not in SURE and not k.endswith("_spread")]
    elif isinstance(value, (list, tuple)):
        items = [(str(place), item) for place, item in enumerate(value)]
    else:
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            yield prefix.rstrip("."), float(value)
        return
    for key, item in items:
        yield from _numbers(item, f"{prefix}{key}.")


def spread_between(shown: Readings, others: Sequence[Readings]) -> dict[str, float]:
    """Root mean square of how far each reading of the other runs is from the one shown, by dotted key.

    Of normal errors it is the root of 2 times one run's standard deviation, since two runs differ by that: another run
    comes within it two times in three. A reading the others lack has none.
    """
    found = [dict(spread_keys(other)) for other in others]
    spreads = {}
    for key, value in spread_keys(shown):
        off = [other[key] - value for other in found if key in other]
        if off:
            spreads[key] = math.sqrt(sum(d * d for d in off) / len(off))
    return spreads


def crowds(readings: Readings) -> bool:
    """Whether there is so much spare cloth that chance decides where it goes: it folds in, or it stands up."""
    spare = readings["spare"]["percent"]
    return bool(readings["crowding"]["max_percent"] > CROWDED_PERCENT or (spare or 0.0) > SPARE_PERCENT)


def documented_spread(readings: Readings) -> dict[str, float]:
    """The spread measured once on the shipped drafts, for what this draft does: lie smooth or crowd; by dotted key."""
    column = int(crowds(readings))
    named = {key: FIRST_DART.sub("dart.0.", key) for key, _ in spread_keys(readings)}
    spreads = {key: DOCUMENTED[name][column] for key, name in named.items() if name in DOCUMENTED}
    values = dict(spread_keys(readings))
    return {key: s * values[key] if column and key.startswith(OF_READING) else s for key, s in spreads.items()}


def with_spread(readings: Readings, spreads: Mapping[str, float], note: Mapping[str, Any]) -> dict[str, Any]:
    """The readings with `NAME_spread` beside each NAME that has one, and where they come from under `spread`.

    A list of readings gets a list, with None where there is no spread.
    """
    groups = {group: _beside(readings[group], f"{group}.", spreads) for group in GROUPS if group in readings}
    return {**readings, **groups, "spread": dict(note)}


def _beside(value: Any, prefix: str, spreads: Mapping[str, float]) -> Any:
    if isinstance(value, (list, tuple)):
        return [_beside(item, f"{prefix}{place}.", spreads) for place, item in enumerate(value)]
    if not isinstance(value, Mapping):
        return value
    out: dict[str, Any] = {}
    for key, item in value.items():
        if key.endswith("_spread"):
            continue
        own = prefix + key
        out[key] = _beside(item, f"{own}.", spreads)
        if own in spreads:
            out[f"{key}_spread"] = spreads[own]
        elif isinstance(item, (list, tuple)) and any(f"{own}.{k}" in spreads for k in range(len(item))):
            out[f"{key}_spread"] = [spreads.get(f"{own}.{k}") for k in range(len(item))]
    return out


def documented(readings: Readings) -> dict[str, Any]:
    """The readings with the documented spread, so marked."""
    kind = "crowd" if crowds(readings) else "lie smooth"
    words = (
        f"±: not of this cloak, but as measured once on drafts that {kind}, over three meshes at 3 cm. "
        "For its own, run with --sure 4."
    )
    return with_spread(readings, documented_spread(readings), {"from": "documented", "members": 0, "words": words})


def measured(shown: Readings, others: Sequence[Readings]) -> dict[str, Any]:
    """The readings with the spread between several runs of this very cloak."""
    count = len(others) + 1
    words = (
        f"±: how far the other {len(others)} of {count} runs are from the one shown, root mean square; "
        "they differ in mesh, start, cloth and friction. Another run comes within it about two times in three."
    )
    return with_spread(shown, spread_between(shown, others), {"from": "members", "members": count, "words": words})
