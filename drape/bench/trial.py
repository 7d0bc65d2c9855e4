"""A trial by its name: sizes that suit the cloth, the run, its object for JSON and its lines of text.

In: kind, `Cloth`, options in SI. Out: a `Trial`. The kinds themselves are in `strips`, `sliding` and `drape_disc`,
their options and the names of their readings in `trial_options`, the drawing in `trial_drawing`.
"""

from __future__ import annotations

import json
import math
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from typing import Any

from drape.bench import drape_disc, sliding, strips
from drape.bench.specimen import Strip
from drape.bench.trial_options import KINDS, STEPPED, at_the_edge
from drape.cloth.sheet import Cloth
from drape.errors import SceneError
from drape.progress import Progress, Tell
from drape.units import rounded

Result = strips.Cantilever | strips.Loop | strips.Bias | sliding.Tilt | sliding.Belt | drape_disc.Disc

CANTILEVER_LENGTHS = 2.0  # bending lengths: falls 41.5°, where testers read
LOOP_LENGTHS = 4.64  # weight ratio 100
STRIP_WIDTH = 0.025  # m, of the usual cantilever test
OFF_GRAIN_WIDTH = 0.1  # of the length: the edge keeps a strip cut off the grain from curling, the more the wider it is
STRIP_EDGES, LOOP_EDGES = 20, 80  # edges along a strip
BIAS_LENGTH, BIAS_WIDTH = 0.20, 0.05  # m, gauge of the usual strip test
BIAS_GRAIN = math.pi / 4
BIAS_LOAD = 0.5  # N/m: strains of some 0.1 %, where the linear formula holds
BOARD_LENGTH, BOARD_WIDTH = 0.10, 0.06  # m
BELT_WRAP, BELT_WIDTH, BELT_EDGE = math.pi, 0.02, 0.005
SPECIMEN, SUPPORT, STARTS = 0.30, 0.18, 8  # m across, of BS 5058
DISC_EDGES = 3.0  # edges in a bending length
LEAST_DISC_EDGE = 0.004  # m
MAX_STEPS = 200_000
NARROWEST = 0.005  # m of overhang


@dataclass(frozen=True)
class Trial:
    """One trial and its result; `wall_seconds` with meshing, compiling and reading."""

    kind: str
    cloth: str
    seed: int
    result: Result
    wall_seconds: float


def run_trial(
    kind: str,
    cloth: Cloth,
    options: Mapping[str, Any],
    *,
    seed: int = 0,
    progress: Tell | None = None,
) -> Trial:
    """The trial made. options: bare names in SI (`length`, `grain`, …); those left out suit the cloth.

    A result that did not settle says so in its evidence. Raises SceneError where options contradict each other.
    """
    began = time.perf_counter()

    def tell(residual: float, remaining: float) -> None:
        if progress is not None:
            share = min(0.99, strips.RESIDUAL / max(residual, 1e-12))
            progress(Progress("settle", share, f"{kind}: settling", remaining, is_timed=False))

    own = sizes(kind, cloth, options)
    if kind in STEPPED:
        own.setdefault("max_steps", MAX_STEPS)
    own["seed"] = seed
    if kind in OF_STRIPS:
        own["strip"] = Strip(**{one.name: own.pop(one.name) for one in fields(Strip) if one.name in own})
    result = MAKERS[kind](cloth, **own, tell=tell)
    if progress is not None:
        progress(Progress("settle", 1.0, f"{kind}: settled" if result.evidence.settled else f"{kind}: stopped"))
    return Trial(kind, cloth.name, seed, result, time.perf_counter() - began)


def _loop(kind: str) -> Callable[..., strips.Loop]:
    return lambda cloth, **own: strips.loop(kind, cloth, **own)


MAKERS: Mapping[str, Callable[..., Result]] = {
    "cantilever": strips.cantilever,
    "ring": _loop("ring"),
    "pear": _loop("pear"),
    "heart": _loop("heart"),
    "disc": drape_disc.disc,
    "bias": strips.bias,
    "tilt": sliding.tilt,
    "belt": sliding.belt,
}

OF_STRIPS = frozenset({"cantilever", "ring", "pear", "heart", "bias"})


def sizes(kind: str, cloth: Cloth, options: Mapping[str, Any]) -> dict[str, Any]:
    """The options of a kind, those left out filled in."""
    own = dict(options)
    if kind == "cantilever":
        grain = own.get("grain", 0.0)
        own.setdefault("length", CANTILEVER_LENGTHS * strips.direction_length(cloth, grain))
        on_grain = abs(math.sin(2 * grain)) < 1e-9
        own.setdefault("width", STRIP_WIDTH if on_grain else OFF_GRAIN_WIDTH * own["length"])
        own.setdefault("edge_length", own["length"] / STRIP_EDGES)
    elif kind in ("ring", "pear", "heart"):
        own.setdefault("length", LOOP_LENGTHS * strips.direction_length(cloth, 0.0))
        own.setdefault("width", 0.1 * own["length"])
        own.setdefault("edge_length", own["length"] / LOOP_EDGES)
    elif kind == "bias":
        own.setdefault("length", BIAS_LENGTH)
        own.setdefault("width", BIAS_WIDTH)
        own.setdefault("grain", BIAS_GRAIN)
        own.setdefault("load", BIAS_LOAD)
        own.setdefault("edge_length", 0.2 * own["width"])
    elif kind == "disc":
        own = _disc_sizes(cloth, own)
    else:
        own = _sliding_sizes(kind, cloth, own)
    _refuse_coarse(own)
    return own


def _disc_sizes(cloth: Cloth, own: dict[str, Any]) -> dict[str, Any]:
    """Diameters become radii."""
    specimen, support = own.pop("specimen", SPECIMEN), own.pop("support", SUPPORT)
    if specimen - support < 2 * NARROWEST:
        raise SceneError(
            f"command line, specimen_cm: got {100 * specimen:.6g} over a support of {100 * support:.6g}, allowed at "
            f"least {200 * NARROWEST:.6g} more than the support. Try {100 * support / 0.6:.3g}."
        )
    shortest = min(cloth.bending_length_warp, cloth.bending_length_weft)
    own.setdefault("edge_length", max(LEAST_DISC_EDGE, shortest / DISC_EDGES))
    return {"starts": STARTS, **own, "specimen": specimen / 2, "support": support / 2}


def _sliding_sizes(kind: str, cloth: Cloth, own: dict[str, Any]) -> dict[str, Any]:
    """Friction is the cloth's on the figure."""
    if kind == "tilt":
        own.setdefault("length", BOARD_LENGTH)
        own.setdefault("width", BOARD_WIDTH)
        own.setdefault("edge_length", own["width"] / 3)
    else:
        own = {"wrap": BELT_WRAP, "width": BELT_WIDTH, "edge_length": BELT_EDGE, **own}
    return {**own, "friction": cloth.friction_on_figure}


def _refuse_coarse(own: Mapping[str, Any]) -> None:
    """A mesh of fewer than four edges along the specimen shows nothing; one of a million vertices never ends."""
    size = own["specimen"] - own["support"] if "specimen" in own else own.get("length", sliding.BELT_ROLLER)
    area = math.pi * own["specimen"] ** 2 if "specimen" in own else size * own["width"]
    least, most = math.sqrt(area / 100_000), size / 4
    if not least <= own["edge_length"] <= most:
        raise SceneError(
            f"command line, edge_length_cm: got {100 * own['edge_length']:.6g}, allowed {100 * least:.3g} to "
            f"{100 * most:.3g} for this specimen. Try {100 * max(least, size / 20):.2g}."
        )


# --- words ------------------------------------------------------------------------------------


def trial_object(made: Trial) -> dict[str, Any]:
    """The trial as JSON shows it."""
    readings = {key: at_the_edge(key, getattr(made.result, name)) for key, name in KINDS[made.kind].readings.items()}
    evidence = made.result.evidence
    return rounded(
        {
            "trial": made.kind,
            "cloth": made.cloth,
            **readings,
            "difference_percent": difference_percent(made),
            "edge_length_cm": at_the_edge("edge_length_cm", evidence.edge_length),
            "seed": made.seed,
            "vertices": evidence.vertices,
            "steps": evidence.steps,
            "residual": evidence.residual,
            "seconds": round(made.wall_seconds, 3),
            "settled": evidence.settled,
        }
    )


def difference_percent(made: Trial) -> float | None:
    """Value less exact value, in per cent of the exact; None where there is a floor and nothing exact."""
    value, exact = (getattr(made.result, KINDS[made.kind].readings[key]) for key in KINDS[made.kind].pair)
    return None if made.kind == "disc" or exact == 0 else 100.0 * (value / exact - 1.0)


def trial_json(made: Trial) -> str:
    """The object as JSON, its keys in the order of `trial_object`."""
    return json.dumps(trial_object(made), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def trial_text(made: Trial) -> str:
    """A line for each key; a warning on top when the cloth did not settle."""
    shown = {key: value for key, value in trial_object(made).items() if value is not None}
    wide = max(len(key) for key in shown)
    lines = [] if made.result.evidence.settled else ["NOT SETTLED: these values are of cloth still moving."]
    return "\n".join([*lines, *(f"{key:<{wide}}  {_cell(value)}" for key, value in shown.items())]) + "\n"


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "NO"
    if isinstance(value, list):
        return " ".join(_cell(item) for item in value)
    return f"{value:.5g}" if isinstance(value, float) else str(value)
