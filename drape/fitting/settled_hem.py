"""The hem a cloak was settled to, kept by content for whoever draws or cuts the draft.

In: a scene, and what settling it added to the hem's radius. Out: a `Hem`, the one of the finest mesh that was kept for
the same content. Settling is left to `sit`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from drape.cache import content_key, keep, recall
from drape.cutting.lay import CuttingPlan
from drape.fitting.scene import Scene


@dataclass(frozen=True)
class Hem:
    """Where a draft's hem comes from.

    trim [m]: what settling added to its radius; None for nothing. edge_length [m] and seed: of the mesh it settled on;
    None where the length is given and needs no settling, and for an estimate.
    """

    trim: NDArray[np.float64] | None = None
    edge_length: float | None = None
    seed: int | None = None
    is_estimate: bool = False
    starts: int = 1

    @property
    def word(self) -> str:
        """The word of every file made from it; a given length is as final as a settled one."""
        return "estimate" if self.is_estimate else "settled"


GIVEN: Final = Hem()
ESTIMATE: Final = Hem(is_estimate=True)


def sewn_plan(plan: CuttingPlan) -> CuttingPlan:
    """What of a cutting plan changes how the cloak sits; the rest as it is by default."""
    if not plan.sewn:
        return CuttingPlan(grain=plan.grain)
    return replace(plan, bolt=replace(plan.bolt, price=None, shrinkage=0.0), inner=())


def content_of(scene: Scene) -> Scene:
    """What of a scene changes how its cloak settles: no words, colours or limits."""
    return replace(
        scene, name="", title="", expect="", body="", edge_length=0.0, colours={}, cutting=sewn_plan(scene.cutting),
        limits={}, worn={}, cut_for=scene.cut_for and replace(scene.cut_for, name="", source=""),
    )  # fmt: skip


def keep_hem(scene: Scene, hem: Hem) -> None:
    """Keeps the hem a scene settled to, unless a better one is kept: of a finer mesh; of as fine a one, but chosen from
    more starts; or else with a smaller seed.
    """
    before = recall_hem(scene)
    if before is None or _rank(hem) < _rank(before):
        keep(_key(scene), hem)


def _rank(hem: Hem) -> tuple[float | None, int, int | None]:
    return hem.edge_length, -hem.starts, hem.seed


def recall_hem(scene: Scene) -> Hem | None:
    """The hem kept for the same content, of the finest mesh it settled on; None if there is none."""
    return recall(_key(scene), (Hem,))


def _key(scene: Scene) -> str:
    return content_key("hem", content_of(scene))
