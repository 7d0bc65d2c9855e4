"""Which trials there are: words, options with their ranges, what their readings are called at the edge.

Light on purpose: the command line is built from it before anything heavy is loaded. In: options as typed, in the
unit their key ends in. Out: the same in SI. Nothing here knows how a trial is made.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

from drape.errors import SceneError
from drape.schema import Number, checked_keys
from drape.units import ending_of, from_si


@dataclass(frozen=True)
class Kind:
    """A kind of trial.

    options: keys without a value fall back to one that suits the cloth. readings: JSON key and the attribute it
    shows; pair: the keys of value and exact value, the difference between which is printed.
    """

    words: str
    options: Mapping[str, Number]
    readings: Mapping[str, str]
    pair: tuple[str, str]


LENGTH, WIDTH = Number(1, 200), Number(0.5, 50)
EDGE: Final = {"edge_length_cm": Number(0.05, 6)}
STRIP: Final = {"length_cm": LENGTH, "width_cm": WIDTH, "grain_deg": Number(-90, 90)}
LOOP: Final = {"length_cm": LENGTH, "width_cm": WIDTH, **EDGE}
LOOP_READINGS: Final = MappingProxyType(
    {
        "weight_ratio": "weight_ratio",
        "height_over_length": "height_over_length",
        "exact_height_over_length": "exact_height_over_length",
    }
)
LOOP_PAIR: Final = ("height_over_length", "exact_height_over_length")

KINDS: Final[Mapping[str, Kind]] = MappingProxyType(
    {
        "cantilever": Kind(
            "a strip over an edge",
            {**STRIP, "clamp_deg": Number(-60, 80), **EDGE},
            {
                "weight_ratio": "weight_ratio",
                "chord_deg": "chord",
                "exact_chord_deg": "exact_chord",
                "drop_over_length": "drop_over_length",
                "exact_drop_over_length": "exact_drop_over_length",
            },
            ("chord_deg", "exact_chord_deg"),
        ),
        "ring": Kind("a closed ring of cloth, hung from a line across it", LOOP, LOOP_READINGS, LOOP_PAIR),
        "pear": Kind("a loop hung from both ends, which point up", LOOP, LOOP_READINGS, LOOP_PAIR),
        "heart": Kind("a loop hung from both ends, which point down", LOOP, LOOP_READINGS, LOOP_PAIR),
        "disc": Kind(
            "a round specimen over a smaller disc, and its shadow",
            {
                "specimen_cm": Number(5, 100),
                "support_cm": Number(3, 90),
                "starts": Number(1, 64, plain=True, whole=True),
                **EDGE,
            },
            {
                "drape_coefficient_percent": "drape_coefficient",
                "drape_coefficient_spread": "spread",
                "nodes": "nodes",
                "drape_coefficients_percent": "coefficients",
                "energies_j": "energies",
                "lowest_energy_percent": "lowest",
                "strip_floor_percent": "floor",
            },
            ("drape_coefficient_percent", "strip_floor_percent"),
        ),
        "bias": Kind(
            "a strip pulled in its plane",
            {**STRIP, "load_n_m": Number(0.01, 50), **EDGE},
            {
                "extension_percent": "extension",
                "exact_extension_percent": "exact_extension",
                "finite_extension_percent": "finite_extension",
                "narrowing_percent": "narrowing",
            },
            ("extension_percent", "exact_extension_percent"),
        ),
        "tilt": Kind(
            "cloth on a board, tilted until it slides",
            {"length_cm": LENGTH, "width_cm": WIDTH, **EDGE},
            {"slip_deg": "slip", "exact_slip_deg": "exact_slip"},
            ("slip_deg", "exact_slip_deg"),
        ),
        "belt": Kind(
            "a strip over a roller, pulled until it slides",
            {"wrap_deg": Number(20, 240), "width_cm": WIDTH, **EDGE},
            {"tension_ratio": "tension_ratio", "exact_tension_ratio": "exact_tension_ratio"},
            ("tension_ratio", "exact_tension_ratio"),
        ),
    }
)

MAX_STEPS_KEY: Final[Mapping[str, Number]] = MappingProxyType(
    {"max_steps": Number(1, 10_000_000, plain=True, whole=True)}
)
STEPPED: Final = frozenset({"cantilever", "ring", "pear", "heart", "disc", "bias"})  # kinds that may not settle

SPREADS: Final = MappingProxyType({"drape_coefficient_spread": "drape_coefficient_percent"})  # unit as that of


def options_of(kind: str) -> dict[str, Number]:
    """Every option of a kind but the seed, by key."""
    return {**KINDS[kind].options, **(MAX_STEPS_KEY if kind in STEPPED else {})}


def checked_options(kind: str, typed: Mapping[str, float | None]) -> dict[str, Any]:
    """The options that were typed, checked and in SI under bare names. Raises SceneError."""
    given = {key: value for key, value in typed.items() if value is not None}
    return checked_keys(given, options_of(kind), "command line", "")


def override(text: str) -> tuple[str, object]:
    """Key and value of `--set key=value`; a value that is no number is left to the cloth's own rules to refuse.

    Raises SceneError.
    """
    key, equals, value = text.partition("=")
    if not equals or not key.strip():
        raise SceneError(f"--set: got {text!r}, allowed key=value. Try --set bending_length_warp_cm=2.7.")
    try:
        return key.strip(), float(value)
    except ValueError:
        return key.strip(), value.strip()


def at_the_edge(key: str, value: Any) -> Any:
    """A reading in the unit its key names; a tuple becomes a list, plain numbers stay."""
    if isinstance(value, tuple):
        return [at_the_edge(key, item) for item in value]
    named = SPREADS.get(key, key)
    return from_si(named, value) if ending_of(named) else value
