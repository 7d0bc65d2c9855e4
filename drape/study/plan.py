"""Plan: the file that says what a study varies, checked whole before anything runs.

In: a TOML file: a scene, what of it varies, who wears it, how it is settled. Out: a `Plan`. Every value is held to the
scene's own rules for its key, and refused by the plan's file and key. Which members follow from it is left to
`members`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from drape.files import distinct_names, file_name
from drape.fitting.quality import MOST_RUNS
from drape.fitting.scene import (
    Body,
    Scene,
    load_body,
    refuse_other_kind,
    scene_file,
    scene_of,
    shipped_folder,
    wet_document,
)
from drape.fitting.scene_keys import SCENE_TABLES
from drape.schema import (
    Keys,
    Number,
    Rule,
    Table,
    Text,
    checked_keys,
    checked_tables,
    either,
    fail,
    nearest_hint,
    plain_number,
    read_toml,
    shown,
)
from drape.study.bodies import BOTH, drawn_bodies
from drape.units import ending_of

ALL, HYPERCUBE = "all combinations", "latin hypercube"
FOR_EACH, FOR_ALL = "for each", "one for all"
BODY: Final = "body"  # the name of what varies, where bodies do
MOST_MEMBERS: Final = 10_000
MOST_LISTED: Final = 1_000
TALLEST: Final = 10.0  # m, nobody
LAST_SEED: Final = 99_999
HUNG_ON: Final = ("stance", "arms", "worn_under")  # tables of a scene that go with its own wearer

PLAN_KEYS: Final[Keys] = MappingProxyType({"title": Text(required=True), "scene": Text(required=True)})
PLAN_TABLES: Final[Mapping[str, Table]] = MappingProxyType(
    {
        "bodies": Table(
            {
                "named": Text(several=True),
                "drawn": Number(0, MOST_LISTED, plain=True, whole=True),
                "sex": Text(choices=("man", "woman", BOTH)),
                "stature_from_cm": Number(130, 220),
                "stature_to_cm": Number(130, 220),
                "seed": Number(0, LAST_SEED, plain=True, whole=True),
                "draft": Text(choices=(FOR_EACH, FOR_ALL)),
            }
        ),
        "design": Table(
            {
                "kind": Text(choices=(ALL, HYPERCUBE)),
                "members": Number(2, MOST_MEMBERS, plain=True, whole=True),
                "seed": Number(0, LAST_SEED, plain=True, whole=True),
            }
        ),
        "settle": Table(
            {
                "edge_length_cm": SCENE_TABLES["settle"].keys["edge_length_cm"],
                "starts": Number(1, MOST_RUNS, plain=True, whole=True),
            }
        ),
    }
)


@dataclass(frozen=True)
class Factor:
    """One thing that varies: a key of the scene with its table before it, or `body`.

    values: as the scene file would say them. A range has its two ends, and is_range says that a hypercube may take any
    value between them; values then hold those that all combinations take.
    """

    name: str
    values: tuple[Any, ...]
    is_range: bool = False


@dataclass(frozen=True)
class Plan:
    """What a study is to settle.

    document: the scene's own tables, as read. scene: the same, checked. wearers: by name; empty where only the scene's
    own wears it. is_one_draft: the draft is cut for the scene's own wearer and worn by all. edge_length: asked for
    here [m], or None for each scene's own.
    """

    name: str
    title: str
    label: str
    document: Mapping[str, Any]
    scene: Scene
    beside: Path
    factors: tuple[Factor, ...]
    wearers: Mapping[str, Body]
    is_one_draft: bool
    kind: str
    members: int | None
    seed: int
    starts: int
    edge_length: float | None


def load_plan(path_or_name: str | Path, *, wet: bool = False) -> Plan:
    """The plan in a file, or the shipped one of that name. wet: its scene's cloth is; its name then ends in "-wet".

    Raises SceneError: one line with file, key, value.
    """
    path, label = _plan_file(path_or_name)
    document = read_toml(path, label)
    if "scene" not in document:
        refuse_other_kind(document, "study", label)
    if not set(document) & {"vary", *PLAN_TABLES}:
        fail(label, "got nothing that varies, allowed the plan of a study", "Write [vary], or [bodies].")
    varied = document.pop("vary", {})
    tables = checked_tables(document, PLAN_KEYS, PLAN_TABLES, label)
    source, scene_label = _scene_of_plan(tables[""]["scene"], path.parent, label)
    scene_document = read_toml(source, scene_label)
    if wet:
        scene_document = wet_document(scene_document, wet=True)
    scene = scene_of(scene_document, source.stem, label=scene_label, beside=source.parent)
    factors = [_factor(name, said, scene_document, label) for name, said in _checked_vary(varied, label).items()]
    wearers = _wearers(tables["bodies"], path.parent, label)
    if wearers:
        factors.append(Factor(BODY, tuple(wearers)))
    if not factors:
        fail(label, "got nothing that varies", "Write [vary] with a key of the scene, or [bodies].")
    design = tables["design"]
    plan = Plan(
        name=file_name(f"{path.stem}-wet" if wet else path.stem), title=tables[""]["title"], label=label,
        document=scene_document, scene=scene, beside=source.parent, factors=tuple(factors), wearers=wearers,
        is_one_draft=tables["bodies"].get("draft", FOR_EACH) == FOR_ALL,
        kind=design.get("kind", ALL), members=design.get("members"), seed=design.get("seed", 0),
        starts=tables["settle"].get("starts", 1), edge_length=tables["settle"].get("edge_length"),
    )  # fmt: skip
    _refuse_design(plan)
    return plan


def count_of(plan: Plan) -> int:
    """How many members the plan has."""
    if plan.kind == HYPERCUBE:
        return plan.members or 0
    return int(np.prod([len(factor.values) for factor in plan.factors], dtype=float))


def shipped_plans() -> tuple[str, ...]:
    """Names of the plans that come with drape, sorted."""
    return tuple(sorted(path.stem for path in plans_folder().glob("*.toml")))


def plans_folder() -> Path:
    """The folder of shipped plans."""
    return shipped_folder("scene") / "studies"


# --- finding ----------------------------------------------------------------------------------


def _plan_file(path_or_name: str | Path) -> tuple[Path, str]:
    text = str(path_or_name)
    if text in shipped_plans():
        return plans_folder() / f"{text}.toml", f"studies/{text}.toml"
    path = Path(text)
    if not path.is_file():
        got = "a folder" if path.is_dir() else "no such file"
        hint = nearest_hint(text, shipped_plans()) or "`drape guide study` tells how to write one."
        fail("plan", f"got {shown(text)}, {got}; allowed a path, or {either(shipped_plans())}", hint)
    return path, text


def _scene_of_plan(named: str, beside: Path, label: str) -> tuple[Path, str]:
    """The file of the scene that a plan names, a path starting from the plan's folder; and what to call it."""
    there = beside / named
    if Path(named).suffix == ".toml" and there.is_file():
        return there, str(there)
    path = scene_file(named)
    return path, f"{label}, scene {path.name}"


# --- what varies ------------------------------------------------------------------------------


def _checked_vary(varied: object, label: str) -> Mapping[str, Any]:
    """What stands under [vary] by its full key: `"dart.intake_cm" = ...`, or [vary.dart] with intake_cm below it."""
    if not isinstance(varied, dict):
        fail(f"{label}, vary", f"got {shown(varied)}, allowed a table", 'Write [vary], and "dart.intake_cm" = [6, 9].')
    found: dict[str, Any] = {}
    for key, said in varied.items():
        is_table = isinstance(said, dict) and "from" not in said and "to" not in said
        for name, one in said.items() if is_table else (("", said),):
            full = f"{key}.{name}" if name else key
            if full.count(".") == 2 and full.startswith("draft."):  # the dart of the draft
                full = full.removeprefix("draft.")
            if full in found:
                fail(f"{label}, vary.{full}", "written twice", "Leave one out.")
            found[full] = one
    return found


def place_in_scene(name: str, label: str) -> tuple[str, int | None, str]:
    """The table of a key that varies, which of several it is (None: all of them), and the key. Raises SceneError."""
    table, _, key = name.partition(".")
    which, _, rest = key.partition(".")
    number = int(which) if which.isdecimal() and rest and len(which) < 4 else None
    key = key if number is None else rest
    known = SCENE_TABLES.get(table)
    if known is None or key not in known.keys or (number is not None and not known.many):
        every = [f"{one}.{two}" for one, rules in SCENE_TABLES.items() for two in rules.keys]
        hint = nearest_hint(name, every) or next((f"It may be {n}." for n in every if n.endswith(f".{name}")), "")
        fail(f"{label}, vary.{name}", "unknown key", hint or 'Write its table before it: "dart.intake_cm".')
    return table, number, key


def _factor(name: str, said: object, document: Mapping[str, Any], label: str) -> Factor:
    """What varies, each of its values held to the scene's rule for its key."""
    table, number, key = place_in_scene(name, label)
    rule = SCENE_TABLES[table].keys[key]
    where = f"{label}, vary.{name}"
    if SCENE_TABLES[table].many:
        there = len(document.get(table, []))
        if there < (number or 1):
            fail(where, f"got a [[{table}]] that the scene has not: it has {there}", "Write it in the scene first.")
    if isinstance(said, dict):
        return _range(name, said, key, rule, label)
    if not isinstance(said, list) or not said:
        fail(where, f"got {shown(said)}, allowed a list, or {{ from = ..., to = ..., count = ... }}", "Write [6, 9].")
    if len(said) > MOST_LISTED:
        fail(where, f"got {len(said)} values, allowed {MOST_LISTED}", "Write fewer.")
    for value in said:
        _check_value(value, key, rule, name, label)
    if len({shown(value) for value in said}) < len(said):
        fail(where, f"got {shown(said)}, a value twice", "Write each once.")
    return Factor(name, tuple(said))


def _check_value(value: object, key: str, rule: Rule, name: str, label: str) -> None:
    """Holds one value to the scene's rule. Raises SceneError, under the plan's own key."""
    checked_keys({key: value}, {key: rule}, label, f"vary.{name.removesuffix(f'.{key}')}")


def _range(name: str, said: Mapping[str, Any], key: str, rule: Rule, label: str) -> Factor:
    """A range, with the values that all combinations take: evenly apart, both ends among them."""
    where = f"{label}, vary.{name}"
    if not isinstance(rule, Number) or rule.several:
        fail(where, "got a range, allowed a list of values", f"Write {shown(name)} = [...].")
    for end in ("from", "to"):
        if end not in said:
            fail(f"{where}.{end}", "missing, allowed a number", "Write { from = 6, to = 12, count = 3 }.")
        _check_value(said[end], key, rule, name, label)
    for other in said:
        if other not in ("from", "to", "count"):
            fail(f"{where}.{other}", "unknown key", "Known: from, to, count.")
    low, high = float(said["from"]), float(said["to"])
    if not low < high:
        fail(where, f"got {plain_number(low)} to {plain_number(high)}, allowed a rising range", "Turn them round.")
    rule_of_count = Number(2, MOST_LISTED, plain=True, whole=True)
    count = checked_keys({"count": said.get("count", 2)}, {"count": rule_of_count}, label, f"vary.{name}")["count"]
    values = [as_written(name, value, is_whole=rule.whole) for value in np.linspace(low, high, count)]
    return Factor(name, tuple(dict.fromkeys(values)), is_range=True)


def as_written(name: str, value: float, *, is_whole: bool = False) -> float | int:
    """A value as a maker would write it: lengths and angles to a tenth, others to four figures."""
    if is_whole:
        return round(float(value))
    return round(float(value), 1) if ending_of(name) in ("_cm", "_deg") else float(f"{value:.4g}")


# --- who wears it -----------------------------------------------------------------------------


def _wearers(bodies: Mapping[str, Any], beside: Path, label: str) -> Mapping[str, Body]:
    """The bodies, named ones first, each under a name of its own."""
    if not bodies:
        return MappingProxyType({})
    named = bodies.get("named", ())
    loaded = [_named_body(name, beside, label) for name in named]
    names = [Path(name).stem for name in named]
    count = bodies.get("drawn", 0)
    low, high = bodies.get("stature_from", 0.0), bodies.get("stature_to", TALLEST)
    if not low < high:
        fail(
            f"{label}, bodies.stature_to_cm", f"got {100 * high:g}, allowed more than stature_from_cm, {100 * low:g}",
            "Turn them round.",
        )  # fmt: skip
    if not loaded and not count:
        fail(f"{label}, bodies", "got nobody", 'Write named = ["ferry-warden"], or drawn = 20.')
    drawn = drawn_bodies(count, bodies.get("sex", BOTH), bodies.get("seed", 0), shortest=low, tallest=high)
    every = [*loaded, *drawn]
    return MappingProxyType(dict(zip(distinct_names([*names, *(b.name for b in drawn)]), every, strict=True)))


def _named_body(name: str, beside: Path, label: str) -> Body:
    there = beside / name
    return load_body(there if Path(name).suffix == ".toml" and there.is_file() else name)


# --- refusals ---------------------------------------------------------------------------------


def _refuse_design(plan: Plan) -> None:
    where = f"{plan.label}, design.members"
    if plan.kind == HYPERCUBE and plan.members is None:
        fail(where, "missing, allowed 2 to 10000", "Write members = ... under [design].")
    if plan.kind == ALL and plan.members is not None:
        fail(where, "got a number of members, allowed with a latin hypercube", f'Write kind = "{HYPERCUBE}".')
    count = count_of(plan)
    if not 2 <= count <= MOST_MEMBERS:
        fail(plan.label, f"got {count} members, allowed 2 to {MOST_MEMBERS}", f'Vary less, or kind = "{HYPERCUBE}".')
