"""The draft to draw and cut by: its hem as given, as settled, or an estimate where the maker asks for one.

In: a scene. Out: its `Hem`, kept from an earlier run or settled now, and the flat draft in one piece with that hem.
"""

from __future__ import annotations

from dataclasses import replace

from drape.draft.outline import Draft
from drape.fitting.hem_trim import is_trimmed
from drape.fitting.scene import Scene
from drape.fitting.settled_hem import ESTIMATE, GIVEN, Hem, recall_hem
from drape.fitting.sit import draft_of, figure_cut_for, sit
from drape.progress import Tell
from drape.reading.result import Fitting


def hem_at_hand(scene: Scene, *, estimate: bool = False) -> Hem | None:
    """The hem to draw and cut the scene's draft by, without settling it; None where it has to be settled first.

    estimate: where the length depends on settling, do without; where it does not, the hem is as given all the same.
    """
    if not is_trimmed(scene.style, figure_cut_for(scene)):
        return GIVEN
    return ESTIMATE if estimate else recall_hem(scene)


def settled_hem(scene: Scene, *, progress: Tell | None = None) -> Hem:
    """The hem at hand, or else of the scene settled at its own edge length. Raises as `sit` does."""
    found = hem_at_hand(scene)
    if found is None:
        fitting = sit(scene, edge_length=scene.edge_length, progress=progress)
        found = Hem(fitting.trim, scene.edge_length, 0)
    return found


def hem_of(scene: Scene, fitting: Fitting, *, edge_length: float, seed: int) -> Hem:
    """The hem of a scene's fitting; an estimate where it is to be trimmed and did not settle."""
    if not is_trimmed(scene.style, figure_cut_for(scene)):
        return GIVEN
    return Hem(fitting.trim, edge_length, seed) if fitting.readings["settled"] else ESTIMATE


def draft_by(scene: Scene, hem: Hem) -> Draft:
    """The scene's draft in one piece, without the seams it may be cut with, its hem where `hem` has it."""
    whole = replace(scene, cutting=replace(scene.cutting, sewn=False))
    return replace(draft_of(whole, figure_cut_for(scene), trim=hem.trim), is_estimate=hem.is_estimate)
