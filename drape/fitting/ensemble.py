"""Ensemble: one cloak settled several times, each time on another mesh and of a cloth as likely as the first.

In: a `Scene` and how many members. Out: the fitting of the scene as it is, with the spread between the members beside
its readings, judged with it. What a spread is stands in `spread`; one run in `sit`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import MappingProxyType
from typing import Final

import numpy as np

from drape.cloth.sheet import FILLED_PLAIN, FILLED_SHARE, Cloth
from drape.errors import NotSettledError
from drape.fitting.scene import Scene, shipped_cloths
from drape.fitting.sit import sit_again, verdicts_on
from drape.progress import Tell, within
from drape.reading.result import Fitting
from drape.reading.spread import measured
from drape.units import rounded

WIDEST: Final = 2.0  # standard uncertainties a constant is moved at most

# Standard uncertainty of the constants of a cloth from a file or of one's own, taken to have been measured on a table:
# of the value itself, and of friction absolute. From memory of such tests; a shipped cloth has those of `table_top`.
MEASURED_SHARE: Final = MappingProxyType(
    {"thickness": 0.05, "bending_length": 0.05, "tensile_stiffness": 0.2, "shear_stiffness": 0.15}
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
    draw = np.clip(np.random.default_rng(member).standard_normal(8), -WIDEST, WIDEST)
    share, plain = (FILLED_SHARE, FILLED_PLAIN) if is_shipped else (MEASURED_SHARE, MEASURED_PLAIN)
    kinds = {**share, "areal_density": WEIGHED_SHARE}
    factor = {kind: float(np.exp(u * z)) for (kind, u), z in zip(sorted(kinds.items()), draw[:5], strict=True)}
    moved = {
        name: getattr(cloth, name) * factor[kind]
        for kind in kinds
        for name in (kind, f"{kind}_warp", f"{kind}_weft")
        if hasattr(cloth, name)
    }
    for (name, u), z in zip(sorted(plain.items()), draw[5:], strict=True):
        low, high = FRICTION_RANGE if name.startswith("friction") else (0.0, max(0.5, cloth.poisson_ratio))
        moved[name] = float(np.clip(getattr(cloth, name) + u * z, low, high))
    stiffest = max(cloth.tensile_stiffness_weft / cloth.tensile_stiffness_warp, 1e-9)
    moved["poisson_ratio"] = min(moved["poisson_ratio"], 0.95 / stiffest**0.5)
    return replace(cloth, **moved)


def sit_surely(
    scene: Scene,
    *,
    edge_length: float,
    count: int,
    seed: int = 0,
    progress: Tell | None = None,
    tell: Callable[[str], None] = lambda _: None,
    fresh: bool = False,
) -> tuple[Fitting, bool]:
    """The scene settled `count` times; the first, as the scene says, with the spread of the others beside its readings.

    Member k takes seed + k and a cloth within its uncertainty. A member that does not settle is left out and `tell` is
    told so. The second value says whether every run was kept from before.
    Raises: NotSettledError if the first does not settle.
    """
    runs = [
        within(progress, k / count, 1 / count, f"run {k + 1} of {count}" if count > 1 else "") for k in range(count)
    ]
    fitting, before = sit_again(scene, edge_length=edge_length, seed=seed, progress=runs[0], fresh=fresh)
    is_shipped = all(layer in shipped_cloths() for layer in scene.layers)
    others = []
    for member in range(1, count):
        other = replace(scene, cloth=cloth_of_member(scene.cloth, member, is_shipped=is_shipped))
        try:
            one, was = sit_again(other, edge_length=edge_length, seed=seed + member, progress=runs[member], fresh=fresh)
        except NotSettledError as error:
            tell(f"{error} This run does not count for the ±.")
            continue
        before = before and was
        others.append(one.readings)
    if not others:
        return fitting, before
    readings = rounded(measured(fitting.readings, others))
    return replace(fitting, readings={**readings, "verdicts": verdicts_on(scene, fitting.draft, readings)}), before
