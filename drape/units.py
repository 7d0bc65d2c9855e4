"""Units at the edge: the only place that knows 1 cm = 0.01 m.

Comes in: a number and a key whose ending names its unit (`neck_base_girth_cm`). Goes out: the
number in SI (m, kg, s, N, rad), and the key without its ending; and the way back. Numbers inside
drape are SI and carry no ending; numbers in files, flags and reports carry one. What range is
sensible, and which keys exist, is left to `scene`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

STANDARD_GRAVITY: Final = 9.80665  # m/s², standard acceleration of free fall, 3rd CGPM 1901


@dataclass(frozen=True)
class Unit:
    """A unit a key may end in: how it is written for people, and how many make one SI unit.

    Whole numbers of them do, so dividing keeps 41 cm at 0.41 m to the last digit.
    """

    symbol: str
    per_si: float


# Longest ending first, so that `_n_m2` is not read as a length in `_m2`, nor `_n_m` as `_m`.
UNITS: Final[Mapping[str, Unit]] = MappingProxyType(
    {
        "_percent": Unit("%", 100.0),
        "_g_m2": Unit("g/m²", 1000.0),
        "_n_m2": Unit("N/m²", 1.0),
        "_un_m": Unit("µN·m", 1e6),
        "_deg": Unit("°", 180.0 / math.pi),
        "_n_m": Unit("N/m", 1.0),
        "_cm": Unit("cm", 100.0),
        "_mm": Unit("mm", 1000.0),
        "_m2": Unit("m²", 1.0),
        "_kg": Unit("kg", 1.0),
        "_g": Unit("g", 1000.0),
        "_n": Unit("N", 1.0),
        "_l": Unit("l", 1000.0),
    }
)


def ending_of(key: str) -> str:
    """The unit ending of a key, or "" when the key names a plain number or a text.

    A reading that is nothing but its unit, as `spare.percent`, has it whole.

    >>> ending_of("areal_density_g_m2"), ending_of("spare.percent"), ending_of("poisson_ratio")
    ('_g_m2', '_percent', '')
    """
    ending = next((ending for ending in UNITS if key.endswith(ending) and key != ending), "")
    return "_percent" if key.endswith(".percent") else ending


def unit_of(key: str) -> Unit:
    """The unit named by the key's ending.

    Raises ValueError when the key has no unit ending: a number without a unit in its name is
    refused at the edge, never guessed.
    """
    ending = ending_of(key)
    if not ending:
        known = ", ".join(UNITS)
        raise ValueError(f"units: {key!r} names no unit, endings known: {known}")
    return UNITS[ending]


def bare_name(key: str) -> str:
    """The key without its unit ending: the name the number has inside drape."""
    return key.removesuffix(ending_of(key))


def to_si(key: str, value: float) -> float:
    """The value of an edge key in SI.

    >>> to_si("length_cm", 112.0)
    1.12
    """
    return value / unit_of(key).per_si


def from_si(key: str, value: float) -> float:
    """The SI value in the unit the edge key names."""
    return value * unit_of(key).per_si


def rounded(value: Any) -> Any:
    """Readings to six significant figures, plain Python types: what no reading is surer than."""
    if isinstance(value, Mapping):
        return {key: rounded(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [rounded(item) for item in value]
    plain = value.item() if hasattr(value, "item") else value  # a number of numpy's
    return float(f"{plain:.6g}") if isinstance(plain, float) else plain
