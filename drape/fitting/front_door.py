"""Front door: what a notebook or a program of one's own calls.

In: scenes by name, by path or as a `Scene`, and how fine to settle. Out: fittings, comparisons, mended scenes. The
commands say the same through `drape.command`, which also writes files.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path
from typing import Any

from drape.errors import SceneError
from drape.files import distinct_names
from drape.fitting import mend as mending
from drape.fitting.ensemble import Plan, Runs, plan_of, settle_runs
from drape.fitting.mend import Mended
from drape.fitting.quality import (
    LARGEST_SEED,
    MOST_COMPARED,
    MOST_JOBS,
    MOST_RUNS,
    MOST_STARTS,
    MOST_TRIES,
    QUALITY_EDGE_LENGTH_CM,
    USUAL_TRIES,
    Quality,
    starts_of,
)
from drape.fitting.scene import Scene, edge_length_from, load_scene
from drape.fitting.settling_process import Job
from drape.fitting.side_by_side import Crew, Door, cores, costs_of
from drape.reading.comparison import points
from drape.reading.conclusion import conclusion_of
from drape.reading.result import Fitting, sheet_png
from drape.reading.table import differences

SceneLike = str | Path | Scene


@dataclass(frozen=True, repr=False)
class Comparison:
    """Several drafts settled alike and held against the same limits. A notebook shows the sheet of all.

    conclusion: which draft to cut, and why. differences: the last draft's readings less the first's. points: which
    draft is better on which point. All are as in `drape compare --json`.
    """

    conclusion: Mapping[str, Any]
    fittings: tuple[Fitting, ...]
    differences: Mapping[str, Any]
    points: Sequence[Mapping[str, Any]]

    def __repr__(self) -> str:
        return f"<Comparison of {', '.join(map(repr, self.fittings))}>"

    def _repr_png_(self) -> bytes | None:
        return sheet_png(self.fittings)


def sit(
    scene: SceneLike,
    *,
    quality: Quality | None = None,
    edge_length_cm: float | None = None,
    seed: int = 0,
    starts: int | None = None,
    runs: int = 1,
    cached: bool = True,
    jobs: int | None = None,
) -> Fitting:
    """The scene's draft settled on its wearer, read and judged.

    scene: the name of a shipped scene, a path, or a `Scene`. quality: triangles of 3, 1.5 or 0.75 cm; or
    edge_length_cm, 0.5 to 6. Without either, the scene's own. seed: chooses among equally good meshes. starts: settle
    at most so often, 1 to 8, on other meshes, until it is clear whether the draft sits; without it, 8 for quality
    "quick", else 1. runs: settle 1 to 20 times in any case, on other meshes and of cloths as likely as yours; `starts`
    then counts for nothing. Of several, the readings are means, and the shape is the most typical, of `runs` the first.
    cached: take what an earlier run of the same scene settled to. jobs: how many may go on at the same time, each in a
    process of its own, 1 to 64; without it, as many as there are cores.
    Raises: SceneError; NotSettledError, its `fitting` the last state, marked as not settled; FigureError, DraftError,
    MeshError, SolverError.

    >>> import drape
    >>> fitting = drape.sit("ferry-warden-tailored", edge_length_cm=6)
    >>> fitting.readings["settled"]
    True
    """
    scene = _scene(scene)
    length = edge_length_of(scene, quality, edge_length_cm)
    plan = plan_of(scene, _runs(length, seed, starts_of(quality, starts), runs, cached))
    with Crew(_jobs(jobs), costs_of(plan.jobs), possible=plan.possible) as crew:
        return settle_runs(crew, plan)


def compare(
    *scenes: SceneLike,
    quality: Quality | None = None,
    edge_length_cm: float | None = None,
    seed: int = 0,
    starts: int | None = None,
    runs: int = 1,
    cached: bool = True,
    jobs: int | None = None,
) -> Comparison:
    """Two to six scenes settled alike, side by side, held against the limits of the first.

    The other arguments are those of `sit`, the same for every scene. Raises: SceneError, and what `sit` raises.

    >>> import drape
    >>> both = drape.compare("ferry-warden-round", "ferry-warden-tailored", edge_length_cm=6)
    >>> both.differences["neck"]["gap_back_cm"] < 0  # the tailored neck gapes less behind
    True
    """
    check_count(len(scenes))
    loaded = distinct([_scene(scene) for scene in scenes])
    lengths = [edge_length_of(scene, quality, edge_length_cm) for scene in loaded]
    plans = [
        plan_of(scene, _runs(length, seed, starts_of(quality, starts), runs, cached), scene.name)
        for scene, length in zip(loaded, lengths, strict=True)
    ]
    possible = chain.from_iterable(plan.possible for plan in plans)
    with Crew(_jobs(jobs), costs_of(chain.from_iterable(plan.jobs for plan in plans)), possible=possible) as crew:
        fittings = [settle_runs(crew, plan, ahead=_certain(plans[k + 1 :])) for k, plan in enumerate(plans)]
    return comparison_of(fittings, loaded[0].limits)


def mend(
    scene: SceneLike,
    *,
    quality: Quality | None = None,
    edge_length_cm: float | None = None,
    tries: int = USUAL_TRIES,
    seed: int = 0,
    jobs: int | None = None,
) -> Mended:
    """What to change on a draft, and by how much, found by trying; the result's `scene` is the mended one.

    quality, edge_length_cm: as for `sit`; without either, quick, or the scene's own where that is coarser. tries: how
    many drafts to try, 1 to 200. seed, jobs: as for `sit`.
    Raises: SceneError; NotSettledError if the draft as it is, or the mended one, does not settle; and what `sit`
    raises.

    >>> import drape
    >>> mended = drape.mend("ferry-warden-round", edge_length_cm=6, tries=1)
    >>> mended.tried
    1
    """
    scene = _scene(scene)
    return mending.mend(
        scene,
        edge_length=mending_edge_length_of(scene, quality, edge_length_cm),
        tries=_whole("tries", tries, 1, MOST_TRIES),
        name=lambda _: f"{scene.name}-mended",
        seed=_whole("seed", seed, 0, LARGEST_SEED),
        door=Door(_jobs(jobs)),
    )


def comparison_of(fittings: Sequence[Fitting], limits: Mapping[str, float]) -> Comparison:
    """The fittings held against the same limits, each in the unit that its name ends in."""
    columns = [fitting.readings for fitting in fittings]
    conclusion = conclusion_of(fittings, limits)
    return Comparison(conclusion, tuple(fittings), differences(columns[0], columns[-1]), points(columns, limits))


def check_count(count: int) -> None:
    """Refuses more scenes than a table has columns, or one alone. Raises SceneError."""
    if not 2 <= count <= MOST_COMPARED:
        counted = {0: "no scene", 1: "one scene"}.get(count, f"{count} drafts")
        more = "another" if count < 2 else "fewer"
        raise SceneError(f"compare: got {counted}, allowed two to {MOST_COMPARED}. Name {more}.")


def distinct(scenes: Sequence[Scene]) -> list[Scene]:
    """The scenes with names that differ, so that none is taken for another."""
    names = distinct_names([scene.name for scene in scenes])
    return [replace(scene, name=name) for scene, name in zip(scenes, names, strict=True)]


def edge_length_of(scene: Scene, quality: str | None, edge_length_cm: float | None) -> float:
    """The size of triangles asked for [m], by name or by number, or the scene's own. Raises SceneError."""
    if quality is not None and edge_length_cm is not None:
        raise SceneError(f"quality: got {quality!r} and edge_length_cm {edge_length_cm:g}, allowed one. Leave one out.")
    if edge_length_cm is not None:
        return edge_length_from(edge_length_cm)
    if quality is None:
        return scene.edge_length
    if quality not in QUALITY_EDGE_LENGTH_CM:
        raise SceneError(f"quality: got {quality!r}, allowed {', '.join(QUALITY_EDGE_LENGTH_CM)}. Name one of them.")
    return edge_length_from(QUALITY_EDGE_LENGTH_CM[quality])


def mending_edge_length_of(scene: Scene, quality: str | None, edge_length_cm: float | None) -> float:
    """The size of triangles to mend on [m]: as asked; else quick, or the scene's own where that is coarser."""
    if quality is None and edge_length_cm is None:
        return max(edge_length_of(scene, "quick", None), scene.edge_length)
    return edge_length_of(scene, quality, edge_length_cm)


def _scene(scene: SceneLike) -> Scene:
    if isinstance(scene, Scene):
        return scene
    if not isinstance(scene, (str, os.PathLike)):
        raise SceneError(
            f"scene: got a {type(scene).__name__}, allowed a name, a path or a Scene. "
            'Write drape.sit("ferry-warden-tailored").'
        )
    return load_scene(scene)


def _runs(edge_length: float, seed: int, starts: int, runs: int, cached: bool) -> Runs:
    return Runs(
        edge_length, _whole("seed", seed, 0, LARGEST_SEED), _whole("starts", starts, 1, MOST_STARTS),
        _whole("runs", runs, 1, MOST_RUNS), cached,
    )  # fmt: skip


def _certain(plans: Sequence[Plan]) -> list[Job]:
    return [job for plan in plans for job in plan.certain]


def _jobs(jobs: int | None) -> int:
    return cores() if jobs is None else _whole("jobs", jobs, 1, MOST_JOBS)


def _whole(name: str, value: int, low: int, high: int) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
        raise SceneError(f"{name}: got {value!r}, allowed a whole number from {low} to {high}. Give another.")
    return value
