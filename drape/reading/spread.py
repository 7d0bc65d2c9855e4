"""Spread: how far a reading may be from that of another run of the same cloak.

In: the groups `worn` returns, of one run or of several. Out: the same with a `_spread` beside every reading, in its
unit, and a note of where they come from; and what a verdict allows a reading, which has none after one run. Runs differ
in mesh, start and cloth; running them is left to `ensemble`, what is made of them to `starts`.
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

# Standard deviation between starts, as is usual: the median of many drafts, of those that lie smooth and of those that
# crowd; lengths at least what a settled cloak may still move. Of drafts that crowd, spare cloth and crowding have a
# share of the reading, since a fold more or less is a share of what is folded. By tests/bench/plus_minus.py --usual.
USUAL: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {
        "neck.gap_front_cm": (0.048, 0.19),
        "neck.gap_left_cm": (0.073, 0.18),
        "neck.gap_back_cm": (0.047, 0.15),
        "neck.gap_right_cm": (0.058, 0.11),
        "neck.gap_max_cm": (0.089, 0.46),
        "neck.ride_front_cm": (0.12, 0.29),
        "neck.ride_left_cm": (0.18, 0.53),
        "neck.ride_back_cm": (0.077, 0.59),
        "neck.ride_right_cm": (0.17, 0.61),
        "neck.throat_load_n": (0.044, 0.65),
        "neck.throat_line_load_n_m": (0.77, 4.3),
        "shoulder_left.stand_off_mean_cm": (0.071, 0.31),
        "shoulder_left.stand_off_max_cm": (0.093, 0.42),
        "shoulder_left.stand_off_at_cm": (1.4, 3.0),
        "shoulder_left.lie_percent": (1.9, 3.6),
        "shoulder_right.stand_off_mean_cm": (0.058, 0.28),
        "shoulder_right.stand_off_max_cm": (0.065, 0.37),
        "shoulder_right.stand_off_at_cm": (0.82, 1.5),
        "shoulder_right.lie_percent": (1.3, 3.8),
        "spare.percent": (0.22, 0.1),
        "crowding.fullness_percent.0": (0.022, 0.53),
        "crowding.fullness_percent.1": (0.0091, 0.53),
        "crowding.fullness_percent.2": (0.01, 0.64),
        "crowding.fullness_percent.3": (0.007, 0.51),
        "crowding.fullness_percent.4": (0.02, 0.8),
        "crowding.fullness_percent.5": (0.058, 0.73),
        "crowding.max_percent": (0.058, 0.57),
        "crowding.mean_percent": (0.013, 0.51),
        "closure.shift_cm": (0.3, 0.45),
        "closure.gape_cm": (0.4, 0.6),
        "closure.pull_n": (0.087, 0.21),
        "fall.front_cm": (0.36, 0.47),
        "fall.left_cm": (0.39, 0.96),
        "fall.back_cm": (0.36, 1.4),
        "fall.right_cm": (0.52, 0.6),
        "fall.mean_cm": (0.15, 0.48),
        "fall.lowest_cm": (0.16, 0.45),
        "fall.highest_cm": (0.5, 1.2),
        "fall.level_cm": (0.69, 1.5),
        "fall.clearance_cm": (0.16, 0.45),
        "fall.bias_drop_cm": (0.035, 0.06),
        "balance.forward_cm": (0.056, 0.25),
        "balance.left_cm": (0.12, 0.11),
        "balance.turn_deg": (2.7, 3.2),
        "weight.neck_percent": (0.065, 3.3),
        "weight.shoulder_left_percent": (1.6, 5.5),
        "weight.shoulder_right_percent": (1.9, 3.3),
        "weight.arms_percent": (2.8, 6.1),
        "weight.torso_percent": (1.3, 2.8),
        "weight.pressed_down_percent": (0.13, 0.22),
        "dart.0.angle_to_shoulder_deg": (1.3, 5.1),
        "dart.0.point_short_cm": (0.13, 0.57),
        "dart.0.point_gap_cm": (0.035, 0.23),
        "collar.top_gap_front_cm": (0.035, 0.035),
        "collar.top_gap_left_cm": (0.04, 0.04),
        "collar.top_gap_back_cm": (0.04, 0.04),
        "collar.top_gap_right_cm": (0.041, 0.041),
        "collar.top_gap_max_cm": (0.079, 0.079),
        "collar.stands_front_percent": (3.6, 3.6),
        "collar.stands_left_percent": (2.4, 2.4),
        "collar.stands_back_percent": (0.6, 0.6),
        "collar.stands_right_percent": (0.56, 0.56),
    }
)
USUAL_FREEDOM: Final = 3  # degrees of freedom that the usual deviation has beside those of a sample; fits best, ours
LEAST: Final = 3  # runs from which the ± holds, and is printed; see tests/bench/README.md
TWO_IN_THREE: Final = 2.0 / 3.0


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


def crowds(readings: Readings) -> bool:
    """Whether there is so much spare cloth that chance decides where it goes: it folds in, or it stands up."""
    spare = readings["spare"]["percent"]
    return bool(readings["crowding"]["max_percent"] > CROWDED_PERCENT or (spare or 0.0) > SPARE_PERCENT)


def usual_deviation(readings: Readings) -> dict[str, float]:
    """The standard deviation between starts that is usual for what this draft does: lie smooth or crowd; by dotted key.

    0 where none is known, as of what is counted.
    """
    column = int(crowds(readings))
    found = {}
    for key, value in spread_keys(readings):
        usual = USUAL.get(FIRST_DART.sub("dart.0.", key), (0.0, 0.0))[column]
        found[key] = usual * value if column and key.startswith(OF_READING) else usual
    return found


def of_another(deviation: float, freedom: int, count: int) -> float:
    """How near the mean of `count` runs another one comes two times in three.

    Of normal readings: Student's factor for the degrees of freedom (JCGM 100:2008, G.3), their standard deviation, and
    the root of 1 + 1/count, since the mean is uncertain too.
    """
    from scipy.special import stdtrit

    return float(stdtrit(freedom, 0.5 + 0.5 * TWO_IN_THREE)) * deviation * math.sqrt(1.0 + 1.0 / count)


def of_another_among(values: Sequence[float], usual: float) -> float:
    """The same of the values of several runs, whose variance is taken together with the usual one.

    Of few runs alone it is chance whether they lie together; pooled as in JCGM 100:2008, 4.2.4.
    """
    count, mean = len(values), math.fsum(values) / len(values)
    squares = USUAL_FREEDOM * usual**2 + math.fsum((value - mean) ** 2 for value in values)
    freedom = USUAL_FREEDOM + count - 1
    return of_another(math.sqrt(squares / freedom), freedom, count)


def verdict_share(count: int) -> float:
    """Which share of the ± a verdict allows the mean of some runs: twice the mean's own standard uncertainty.

    That is the ± of another run over the root of count + 1. So what is called certain lies on the other side about one
    time in forty.
    """
    return 2.0 / math.sqrt(count + 1)


def allowed_of_few(readings: Readings) -> dict[str, float]:
    """How far off a verdict allows each reading of too few runs to be, by what is usual; by dotted key.

    Nothing where there is a ±, or no note of how many runs there were; 0 in files written before there was none.
    """
    count = (readings.get("spread") or {}).get("members", LEAST)
    if not 0 < count < LEAST:
        return {}
    usual = usual_deviation(readings).items()
    return {key: verdict_share(count) * of_another(one, USUAL_FREEDOM, count) for key, one in usual}


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


def of_few(readings: Readings, count: int = 1) -> dict[str, Any]:
    """The readings of too few runs to have a ±, so marked."""
    runs = "one run" if count == 1 else f"means of {count} runs"
    words = f"{runs}: no ± yet; the verdicts allow for what is usual. With --starts {LEAST} every reading has its own."
    return with_spread(
        readings, {}, {"from": "one run" if count == 1 else "few runs", "members": count, "words": words}
    )
