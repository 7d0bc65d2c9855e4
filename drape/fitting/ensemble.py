"""Ensemble: one cloak settled several times, each time on another mesh, if wished of a cloth as likely as the first.

In: a `Scene` and how often: in any case, or until its answer is no longer open. Out: a plan with a job for each run,
and one fitting that stands for all. The runs are made by a `Crew`; what is made of their readings stands in
`reading.starts`.
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
from drape.fitting.settled_hem import Hem, keep_hem
from drape.fitting.settling_process import Job
from drape.fitting.side_by_side import Crew
from drape.fitting.sit import judged_on
from drape.reading.conclusion import conclude, how_it_sits
from drape.reading.result import Fitting
from drape.reading.starts import gathered
from drape.units import rounded

FEWEST: Final = 3  # starts that are made in any case, where there may be more: without them there is no ±
HOPELESS: Final = 3  # runs that do not settle, before any has
STEPS_OF_A_START: Final = 16_000  # where there may be others; of 100 that settled one took more
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
    """How a scene is to be settled: triangles of what size [m], from which seed, whether `cached` as for `sit`.

    starts: how often at most, on other meshes, while its answer is open. sure: how often in any case, on other meshes
    and of cloths as likely as its own; 1 for no such runs.
    """

    edge_length: float
    seed: int = 0
    starts: int = 1
    sure: int = 1
    cached: bool = True


@dataclass(frozen=True)
class Plan:
    """The jobs of one scene in their order: the first `least` are done in any case, the rest while its answer is
    open.
    """

    jobs: tuple[Job, ...]
    least: int
    is_of_cloth: bool = False

    @property
    def certain(self) -> tuple[Job, ...]:
        """Jobs that are done in any case."""
        return self.jobs[: self.least]

    @property
    def possible(self) -> tuple[Job, ...]:
        """Jobs that are done only while the answer is open."""
        return self.jobs[self.least :]


def plan_of(scene: Scene, runs: Runs, words: str = "") -> Plan:
    """A job for each run: run k takes seed + k, of those asked for by `sure` also a cloth within its uncertainty.

    words: of all of them.
    """
    is_of_cloth = runs.sure > 1
    count = runs.sure if is_of_cloth else runs.starts
    begun = f"{words}, " if words else ""
    said = [words]
    if count > 1:
        said = [f"{begun}run {k + 1} of {count}" if is_of_cloth else f"{begun}start {k + 1}" for k in range(count)]
    scenes = [member(scene, k) if is_of_cloth else scene for k in range(count)]
    most = STEPS_OF_A_START if runs.starts > 1 and not is_of_cloth else None
    jobs = [
        Job(text, one, runs.edge_length, runs.seed + k, runs.cached, most_steps=most)
        for k, (text, one) in enumerate(zip(said, scenes, strict=True))
    ]
    return Plan(tuple(jobs), count if is_of_cloth else min(count, FEWEST), is_of_cloth)


def settle_runs(
    crew: Crew, plan: Plan, *, ahead: Sequence[Job] = (), tell: Callable[[str], None] = lambda _: None
) -> Fitting:
    """The fitting that stands for all runs of a scene: the shape of the most typical, readings as `gathered` has them.

    Runs beyond the least are made one after another, until the answer is not open any more; what is found does not
    hang on how many go on side by side. A run that does not settle counts for nothing, and `tell` is told so. ahead:
    jobs that come after these. Raises what `sit` raises, where HOPELESS runs do not settle before any has.
    """
    found: list[tuple[Job, Fitting]] = []
    failed: list[NotSettledError] = []
    for k, job in enumerate(plan.jobs):
        if len(found) >= plan.least and not is_open(plan, found):
            break
        after = [*plan.jobs[k + 1 : plan.least], *ahead, *plan.jobs[max(k + 1, plan.least) :]]
        try:
            found.append((job, crew.settle(job, after)))
        except NotSettledError as error:
            failed.append(error)
            if not found and (len(failed) == HOPELESS or k + 1 == len(plan.jobs)):
                raise failed[0] from None
            tell(f"{error} This run counts for nothing.")
    return stands_for(plan, found, len(failed))


def is_open(plan: Plan, found: Sequence[tuple[Job, Fitting]]) -> bool:
    """Whether it is not certain yet, after some runs, if the draft sits."""
    readings, _ = gathered([fitting.readings for _, fitting in found], [job.seed for job, _ in found])
    return how_it_sits(readings, plan.jobs[0].scene.limits) == "undecided"


def stands_for(plan: Plan, found: Sequence[tuple[Job, Fitting]], unsettled: int) -> Fitting:
    """The fitting of the most typical of some runs, with the readings of all, judged."""
    scene, fittings = plan.jobs[0].scene, [fitting for _, fitting in found]
    gathering, place = gathered(
        [fitting.readings for fitting in fittings], [job.seed for job, _ in found], own_limits=scene.limits,
        unsettled=unsettled, is_of_cloth=plan.is_of_cloth,
    )  # fmt: skip
    shown, readings = fittings[place], rounded(gathering)
    if len(found) > 1:
        readings = judged_on(scene, shown.draft, readings)
        job = found[place][0]
        keep_hem(job.scene, Hem(shown.trim, job.edge_length, job.seed, starts=len(found)))
    else:
        readings = {**readings, "conclusion": conclude([readings], scene.limits)}
    return replace(shown, readings=readings, is_recalled=all(one.is_recalled for one in fittings))
