"""Members: a plan → the drafts it settles, each a checked scene with what varies set in it.

In: a `Plan`. Out: its members in order, every one of their scenes checked, and the settlings each needs. All
combinations go through the last thing that varies first; a Latin hypercube takes each value of each equally often
(McKay, Beckman and Conover 1979). How they are settled is left to `engine`.
"""

from __future__ import annotations

import copy
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

from scipy.stats import qmc

from drape.cache import content_key
from drape.draft.cloak import draft_cloak
from drape.errors import SceneError
from drape.files import file_name
from drape.fitting.scene import Scene, scene_of, worn_by
from drape.fitting.scene_keys import SCENE_TABLES
from drape.fitting.settling_process import Job
from drape.fitting.sit import figure_cut_for
from drape.schema import Number, shown
from drape.study.plan import ALL, BODY, HUNG_ON, Factor, Plan, as_written, place_in_scene


@dataclass(frozen=True, eq=False)
class Member:
    """One draft of a study. number: from 1. setting: by what varies its value, as a scene file says it."""

    number: int
    setting: Mapping[str, Any]
    scene: Scene
    edge_length: float
    starts: int

    @property
    def jobs(self) -> tuple[Job, ...]:
        """Its settlings, each on another mesh."""
        return tuple(
            Job(f"{self.scene.name}, start {seed + 1}", self.scene, self.edge_length, seed)
            for seed in range(self.starts)
        )


def key_of(job: Job) -> str:
    """The key that a settling's outcome is kept under: all that it hangs on, and the limits it is judged by."""
    scene = replace(job.scene, name="", title="", expect="", body="", colours={}, edge_length=0.0)
    return content_key("study", scene, job.edge_length, job.seed)


def members_of(plan: Plan) -> tuple[Member, ...]:
    """Every member, checked. Raises SceneError for the first that no scene file may say."""
    made = []
    for number, setting in enumerate(settings_of(plan), start=1):
        scene = _scene(plan, number, setting)
        made.append(Member(number, setting, scene, plan.edge_length or scene.edge_length, plan.starts))
    return tuple(made)


def check_base(plan: Plan) -> None:
    """Refuses a plan whose scene, as it is, gives no draft. Raises FigureError, DraftError."""
    draft_cloak(plan.scene.style, figure_cut_for(plan.scene))


def settings_of(plan: Plan) -> list[Mapping[str, Any]]:
    """The values that each member takes of all that varies."""
    names = [factor.name for factor in plan.factors]
    if plan.kind == ALL:
        rows: list[Sequence[Any]] = list(itertools.product(*(factor.values for factor in plan.factors)))
    else:
        shares = qmc.LatinHypercube(len(names), rng=plan.seed).random(plan.members)
        rows = [[_value(f, share) for f, share in zip(plan.factors, row, strict=True)] for row in shares.tolist()]
    return [MappingProxyType(dict(zip(names, row, strict=True))) for row in rows]


def _value(factor: Factor, share: float) -> Any:
    """The value so far into a range, or into the list."""
    if not factor.is_range:
        return factor.values[int(share * len(factor.values))]
    low, high = factor.values[0], factor.values[-1]
    table, _, key = place_in_scene(factor.name, "")
    rule = SCENE_TABLES[table].keys[key]
    return as_written(factor.name, low + share * (high - low), is_whole=isinstance(rule, Number) and rule.whole)


def _scene(plan: Plan, number: int, setting: Mapping[str, Any]) -> Scene:
    """The plan's scene with one member's values in it."""
    document = copy.deepcopy(dict(plan.document))
    wearer = plan.wearers.get(setting.get(BODY, ""))
    if wearer is not None and not plan.is_one_draft:  # what the scene says of its own wearer goes for no other
        document["figure"] = {"body": document["figure"]["body"]}
        document = {table: rows for table, rows in document.items() if table not in HUNG_ON}
    for name, value in setting.items():
        if name != BODY:
            _put(document, name, value)
    label = f"{plan.label}, member {number} ({setting_words(setting)})"
    name = f"{plan.scene.name}-{number}"
    if wearer is None or plan.is_one_draft:
        scene = scene_of(document, name, label=label, beside=plan.beside)
        if wearer is not None:
            scene = worn_by(scene, wearer, setting[BODY], where=f"{plan.label}, bodies.draft")
    else:
        scene = scene_of(document, name, label=label, beside=plan.beside, wearer=wearer)
    if wearer is not None:
        scene = replace(scene, body=str(setting[BODY]))
    return replace(scene, name=file_name(name), title=f"{plan.scene.title}, {setting_words(setting)}", expect="")


def _put(document: dict[str, Any], name: str, value: Any) -> None:
    """Writes a value under its key; of several tables into all of them, or into the one that is named."""
    table, number, key = place_in_scene(name, "")
    if SCENE_TABLES[table].many:
        for row in document[table] if number is None else [document[table][number - 1]]:
            row[key] = copy.deepcopy(value)
    else:
        document.setdefault(table, {})[key] = copy.deepcopy(value)


def setting_words(setting: Mapping[str, Any]) -> str:
    """A member's values in words: `dart.intake_cm 6, body lamp-bearer`."""
    return ", ".join(f"{name} {value if isinstance(value, str) else shown(value)}" for name, value in setting.items())


def check_members(plan: Plan) -> tuple[Member, ...]:
    """The members of a plan, all checked before anything is settled. Raises what a wrong one leads to, in one line."""
    members = members_of(plan)
    if len({key_of(job) for member in members for job in member.jobs[:1]}) == 1:
        raise SceneError(f"{plan.label}: got {len(members)} members that are all alike. Vary what changes the cloak.")
    check_base(plan)
    return members
