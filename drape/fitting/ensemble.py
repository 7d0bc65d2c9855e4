"""Ensemble: one cloak settled several times, each time on another mesh and of a cloth as likely as the first.

In: a `Scene` and how often. Out: a job for each run, and the first run's fitting with the spread of all. The runs are
made by a `Crew`; what a spread is stands in `reading.spread`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

import numpy as np

from drape.cloth.sheet import FILLED_PLAIN, FILLED_SHARE, Cloth
from drape.errors import NotSettledError
from drape.fitting.scene import Scene, shipped_cloths
from drape.fitting.settling_process import Job
from drape.fitting.side_by_side import Crew
from drape.fitting.sit import judged_on
from drape.reading.result import Fitting
from drape.reading.spread import measured
from drape.units import rounded

WIDEST: Final = 2.0  # standard uncertainties a constant is moved at most

# Standard uncertainty of the constants of a cloth from a file or of one's own, taken to have been measured on a table:
# of the value itself, and of friction absolute. From memory of such tests; a shipped cloth has those of `table_top`.
MEASURED_SHARE: Final = MappingProxyType(
    {"thickness": 0.05, "bending_length": 0.05, "tensile_stiffness": 0.2, "shear_stiffness": 0.15, "twist_share": 0.15}
)
MEASURED_PLAIN: Final = MappingProxyType({"poisson_ratio": 0.1, "friction_on_cloth": 0.05, "friction_on_figure": 0.05})
WEIGHED_SHARE: Final = 0.03  # of the areal density: kitchen scales and a ruler
FRICTION_RANGE: Final = (0.0, 1.5)


def cloth_of_member(cloth: Cloth, member: int, *, is_shipped: bool) -> Cloth:
    """The cloth with every constant moved within its uncertainty; the same for the same member.

    Stiffnesses, lengths and weight keep their sign (log-normal), warp and weft move together, as a cloth more fulled is
    stiffer in both. Member 0 is the cloth itself.
    """
    if member == 0:
        return cloth
    share, plain = (FILLED_SHARE, FILLED_PLAIN) if is_shipped else (MEASURED_SHARE, MEASURED_PLAIN)
    kinds = {**share, "areal_density": WEIGHED_SHARE}
    if "twist_rigidity" in cloth.filled:
        kinds["twist_share"] = FILLED_SHARE["twist_share"]
    draw = np.clip(np.random.default_rng(member).standard_normal(len(kinds) + len(plain)), -WIDEST, WIDEST)
    factor = {kind: float(np.exp(u * z)) for (kind, u), z in zip(sorted(kinds.items()), draw, strict=False)}
    moved = {
        name: getattr(cloth, name) * factor[kind]
        for kind in kinds
        for name in (kind, f"{kind}_warp", f"{kind}_weft")
        if hasattr(cloth, name)
    }
    for (name, u), z in zip(sorted(plain.items()), draw[len(kinds) :], strict=True):
        low, high = FRICTION_RANGE if name.startswith("friction") else (0.0, max(0.5, cloth.poisson_ratio))
        moved[name] = float(np.clip(getattr(cloth, name) + u * z, low, high))
    pulled = cloth.tensile_stiffness_weft / cloth.tensile_stiffness_warp
    stiffest = max(pulled, cloth.rigidity_weft / cloth.rigidity_warp, 1e-9)
    moved["poisson_ratio"] = min(moved["poisson_ratio"], 0.95 / stiffest**0.5)
    return replace(cloth, **moved)


def member(scene: Scene, number: int) -> Scene:
    """The scene with the cloth of one of its members; 0 is the scene as it is."""
    is_shipped = all(layer in shipped_cloths() for layer in scene.layers)
    return replace(scene, cloth=cloth_of_member(scene.cloth, number, is_shipped=is_shipped))


@dataclass(frozen=True)
class Runs:
    """How a scene is to be settled: triangles of what size [m], from which seed, how often; cached: as for `sit`."""

    edge_length: float
    seed: int = 0
    count: int = 1
    cached: bool = True


def jobs_of(scene: Scene, runs: Runs, words: str = "") -> list[Job]:
    """A job for each run: run k takes seed + k and a cloth within its uncertainty. words: of all of them."""
    said = [words]
    if runs.count > 1:
        begun = f"{words}, " if words else ""
        said = [f"{begun}run {k + 1} of {runs.count}" for k in range(runs.count)]
    return [Job(text, member(scene, k), runs.edge_length, runs.seed + k, runs.cached) for k, text in enumerate(said)]


def settle_runs(
    crew: Crew, jobs: Sequence[Job], *, ahead: Sequence[Job] = (), tell: Callable[[str], None] = lambda _: None
) -> Fitting:
    """The fitting of a scene's first run, with the spread of all its runs beside its readings.

    A later run that does not settle is left out, and `tell` is told so. ahead: jobs that come after these.
    Raises what `sit` raises.
    """
    first = crew.settle(jobs[0], [*jobs[1:], *ahead])
    others = []
    for k in range(1, len(jobs)):
        try:
            others.append(crew.settle(jobs[k], [*jobs[k + 1 :], *ahead]))
        except NotSettledError as error:
            tell(f"{error} This run does not count for the ±.")
    if not others:
        return first
    readings = rounded(measured(first.readings, [other.readings for other in others]))
    judged = judged_on(jobs[0].scene, first.draft, readings)
    return replace(first, readings=judged, is_recalled=all(one.is_recalled for one in (first, *others)))
