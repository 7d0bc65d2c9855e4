"""Scenes, bodies and cloths: TOML files in, checked frozen dataclasses in SI out.

What a file may say stands in `scene_keys`. Unknown keys, wrong types, numbers that are not finite and numbers out of
range are refused with the file, the key, the value and what to try; nothing is guessed or clamped.
SCENE and BODY may be a path or the name of a shipped one. Whether measures make a body is left to
`figure`, whether dimensions make a draft to `cloak`.
"""

from __future__ import annotations

import importlib.resources
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from drape.body.stance import UPRIGHT_STANCE, Stance
from drape.body.tape import SLOPE_KEYS
from drape.body.worn_under import KINDS
from drape.cloth.sheet import LEAST_TWIST, MOST_TWIST, Cloth, layered
from drape.cloth.wet import WET_VALUES, wetted
from drape.cutting.lay import COATING_WIDTH, Bolt, CuttingPlan, Flaw
from drape.cutting.piecing import SEAM_ALLOWANCE, Cuts
from drape.draft.style import CollarStyle, Dags, Dart, Style
from drape.files import file_name
from drape.fitting.scene_keys import (
    BODY_TABLES,
    BOLT_KEYS,
    CLOTH_KEYS,
    CLOTH_TABLES,
    OWN_CLOTH,
    SCENE_KEYS,
    SCENE_TABLES,
)  # fmt: skip
from drape.plain import typed
from drape.reading.verdict import THRESHOLDS, WORN_THRESHOLDS
from drape.schema import (
    checked_keys,
    checked_tables,
    either,
    fail,
    nearest_hint,
    plain_number,
    read_toml,
    refuse_control_characters,
    refuse_missing,
    shown,
)
from drape.units import bare_name, from_si

RIGID: Final = ("areal_density", "bending_length_warp", "bending_length_weft")  # what flexural rigidity comes from
FAIR_EDGE_LENGTH: Final = 0.015  # m, where a scene names none; a heavy wool's bending length is 2.5 cm and more

HUNG: Final = ("level", "length_to", "front_length_to", "side_length_to", "off_floor")  # trimmed on the settled cloth

DEFAULT_COLOURS: Final = MappingProxyType(
    {"outside": "#44648c", "inside": "#cf9a45", "figure": "#e9e1d1"}  # wool, its inside, linen
)


# --- what comes out ---------------------------------------------------------------------------


@dataclass(frozen=True)
class Body:
    """A body file: tape measures in SI under their names without unit, `stature` [m] and so on.

    arms: how left and right are held. worn_under: thickness [m] by place.
    """

    name: str
    sex: str
    source: str
    tape: Mapping[str, float]
    stance: Stance = UPRIGHT_STANCE
    arms: tuple[str, str] = ("down", "down")
    worn_under: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Scene:
    """A scene file, checked, in SI: what to make, of what cloth, for which body.

    name: the file's stem, as a file may be called. tape, stance, arms, worn_under: the body's with the scene's own
    laid over them [m, rad].
    cloth: all layers as one. layers: their names, outside first.
    edge_length: target triangle edge [m]. max_steps: None for the solver's own limit.
    outside: the outermost layer. cutting: how it is cut from cloth; of it only the warp and, where the width is given,
    the seams of narrow cloth change how the cloak sits.
    colours: "outside", "inside" (the lining's, if it has one) and "figure" as #rrggbb.
    limits: the verdict's limits that the scene sets, in the unit their name ends in, as readings are.
    cut_for: the body the draft is worked out for, where the cloak is worn by another.
    worn: under `how` and `doing` the ways it is to be worn in besides, and what is done in them.
    """

    name: str
    title: str
    expect: str
    body: str
    sex: str
    tape: Mapping[str, float]
    cloth: Cloth
    layers: tuple[str, ...]
    style: Style
    edge_length: float
    max_steps: int | None
    colours: Mapping[str, str]
    limits: Mapping[str, float] = field(default_factory=dict)
    cutting: CuttingPlan = CuttingPlan()
    stance: Stance = UPRIGHT_STANCE
    arms: tuple[str, str] = ("down", "down")
    worn_under: Mapping[str, float] = field(default_factory=dict)
    outside: Cloth | None = None
    cut_for: Body | None = None
    is_wet: bool = False
    worn: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


def load_scene(path_or_name: str | Path, *, wet: bool | None = None) -> Scene:
    """The scene in a file, or the shipped scene of that name, checked and in SI.

    wet: whether its cloth is, whatever it says itself; its name then ends in "-wet".

    A body or a cloth named by a bare word is a shipped one; a path is looked for beside the scene.
    Raises SceneError: one line with the file, the key, the value, what is allowed.
    """
    path, label = _find(path_or_name, kind="scene")
    document, name = read_toml(path, label), path.stem
    if wet is not None:
        document, name = wet_document(document, wet=wet), f"{name}-wet" if wet else name
    return scene_of(document, name, label=label, beside=path.parent)


def wet_document(document: Mapping[str, Any], *, wet: bool) -> dict[str, Any]:
    """A scene's tables with its cloth wet, or dry, whatever they say themselves."""
    cloth = document.get("cloth")
    return {**document, "cloth": {**cloth, "wet": wet}} if isinstance(cloth, dict) else dict(document)


def scene_of(document: Mapping[str, Any], name: str, *, label: str, beside: Path, wearer: Body | None = None) -> Scene:
    """The scene that a file's tables say, checked and in SI; `document` is left as it is.

    label: what to call the file in messages. beside: the folder that paths in it start from. wearer: who wears it,
    whatever body it names. Raises SceneError.
    """
    refuse_other_kind(document, "scene", label)
    if "tape" in document:
        fail(
            f"{label}, tape",
            "unknown table in a scene",
            "Write its measures under [figure], or in the body's own file.",
        )
    tables = checked_tables(document, SCENE_KEYS, SCENE_TABLES, label)
    figure = tables["figure"]
    body_name = figure.pop("body")
    body = wearer or _load_body(body_name, beside=beside, where=f"{label}, figure.body")
    draft, closure, settle = tables["draft"], tables["closure"], tables["settle"]
    cut_for = draft.pop("cut_for", None)
    lining_colour = tables["lining"].pop("colour", None)
    if "collar" in document:
        refuse_missing(tables["collar"], SCENE_TABLES["collar"].keys, label, "collar")
    colours = {**DEFAULT_COLOURS, **tables["picture"], **({"inside": lining_colour} if lining_colour else {})}
    written = [name for name in ("cloth", "interlining", "lining") if name == "cloth" or name in document]
    inner = tuple((name, _make_bolt(tables[name])) for name in written[1:])
    wet = tables["cloth"].pop("wet", False)
    layers = [
        _make_cloth(tables[name].pop("cloth", None), tables[name], label=f"{label}, {name}", beside=beside, wet=wet)
        for name in written
    ]
    scene = Scene(
        name=file_name(name),
        title=tables[""]["title"],
        expect=tables[""].get("expect", "").strip(),
        body=body.name,
        sex=body.sex,
        tape=_overridden(body.tape, figure),
        cloth=layered(*layers),
        layers=tuple(layer.name.removesuffix(", wet") for layer in layers),
        is_wet=wet,
        worn=MappingProxyType({name: tuple(dict.fromkeys(asked)) for name, asked in tables["wear"].items()}),
        style=_make_style(draft, closure, tables, label, has_collar="collar" in document),
        edge_length=settle.get("edge_length", FAIR_EDGE_LENGTH),
        max_steps=settle.get("max_steps"),
        colours=MappingProxyType(colours),
        limits=MappingProxyType({
            name: round(from_si(name, tables["verdict"][bare_name(name)]), 9)
            for name in (*THRESHOLDS, *WORN_THRESHOLDS)
            if bare_name(name) in tables["verdict"]
        }),
        cutting=_make_cutting(tables, inner, label),
        outside=layers[0],
        stance=replace(body.stance, **tables["stance"]),
        arms=_make_arms(tables["arms"], body.arms),
        worn_under=_make_worn(tables["worn_under"], body.worn_under),
        cut_for=None if cut_for is None else _load_body(cut_for, beside=beside, where=f"{label}, draft.cut_for"),
    )  # fmt: skip
    if scene.cut_for is not None:
        _refuse_trimmed(scene, f"{label}, draft.cut_for")
    if wet:
        _refuse_trimmed(scene, f"{label}, cloth.wet", "Its hem would be trimmed wet, and a cloak is cut dry")
    return scene


def worn_by(scene: Scene, body: Body, name: str, *, where: str = "--bodies") -> Scene:
    """The scene's draft as it is, worn by another body; `name` goes into the scene's own. where: what asks for it.

    Raises SceneError for a hem that is trimmed on the settled cloth, since that is done on the body it hangs from.
    """
    _refuse_trimmed(scene, where)
    own = _wearer(scene)
    return replace(
        scene, name=file_name(f"{scene.name}-on-{name}"),
        title=f"{scene.title.rstrip('.')}, worn by: {body.name}", expect="",
        body=body.name, sex=body.sex, tape=body.tape, stance=body.stance, arms=body.arms, worn_under=body.worn_under,
        cut_for=scene.cut_for or own,
    )  # fmt: skip


def _wearer(scene: Scene) -> Body:
    return Body(scene.body, scene.sex, "", scene.tape, scene.stance, scene.arms, scene.worn_under)


def load_wearer(path_or_name: str | Path) -> Body:
    """A body as `load_body` finds it; or the one of a scene, with the scene's own measures,
    stance and so on laid over it.

    Raises SceneError.
    """
    if str(path_or_name) in shipped_scenes():
        return _wearer(load_scene(path_or_name))
    path, label = _find(path_or_name, kind="body")
    return _wearer(load_scene(path_or_name)) if kind_of(read_toml(path, label)) == "scene" else _load_body(path_or_name)


def scene_file(path_or_name: str | Path) -> Path:
    """The file of a scene. Raises SceneError if there is none."""
    return _find(path_or_name, kind="scene")[0]


def load_body(path_or_name: str | Path) -> Body:
    """The body in a file, or the shipped body of that name, its tape in SI.

    Raises SceneError.
    """
    return _load_body(path_or_name)


def load_cloth(
    path_or_name: str | None,
    overrides: Mapping[str, object] | None = None,
    *,
    beside: Path | None = None,
    label: str = "cloth",
    where: str | None = None,
    wet: bool = False,
) -> Cloth:
    """A shipped cloth by its name or another by the path of its file, with any of its keys overridden.

    Without either every key is due. overrides: keys as files write them (`bending_length_warp_cm`),
    values in those units. beside: the folder a path starts from. label: what asks, for messages; where: the key that
    names the cloth, if it is not `cloth`. wet: as it hangs wet through.
    Raises SceneError.
    """
    file, _, table = label.rpartition(", ")
    checked = checked_keys(dict(overrides or {}), CLOTH_KEYS, file, table, require=False)
    return _make_cloth(path_or_name, checked, label=label, beside=beside, where=where, wet=wet)


def edge_length_from(edge_length_cm: float) -> float:
    """A triangle size given outside a file [cm] in m, held to the same range. Raises SceneError."""
    keys = {"edge_length_cm": SCENE_TABLES["settle"].keys["edge_length_cm"]}
    return checked_keys({"edge_length_cm": edge_length_cm}, keys, "size of triangles", "")["edge_length"]


def width_from(width_cm: float) -> float:
    """A cloth's width given outside a file [cm] in m, held to the same range. Raises SceneError."""
    keys = {"width_cm": SCENE_TABLES["piecing"].keys["width_cm"]}
    return checked_keys({"width_cm": width_cm}, keys, "command line", "")["width"]


def shipped_scenes() -> tuple[str, ...]:
    """Names of the scenes that come with drape, sorted."""
    return _shipped_names("scene")


def shipped_bodies() -> tuple[str, ...]:
    """Names of the bodies that come with drape, sorted."""
    return _shipped_names("body")


def shipped_cloths() -> tuple[str, ...]:
    """Names of the shipped cloths, in the order of cloths.toml: lightest class first."""
    return tuple(_cloth_tables())


# --- finding and reading files ----------------------------------------------------------------

FOLDERS: Final = MappingProxyType({"scene": "scenes", "body": "bodies"})
LISTED: Final = MappingProxyType({"scene": "`drape scenes`", "body": "`drape bodies`", "cloth": "`drape cloths`"})


def shipped_folder(kind: str) -> Path:
    """The folder of shipped scenes or bodies, in an installed wheel or in a source checkout."""
    inside = Path(str(importlib.resources.files("drape"))) / FOLDERS[kind]
    return inside if inside.is_dir() else inside.parents[1] / FOLDERS[kind]


def _shipped_names(kind: str) -> tuple[str, ...]:
    if kind == "cloth":
        return shipped_cloths()
    return tuple(sorted(path.stem for path in shipped_folder(kind).glob("*.toml")))


def _find(
    path_or_name: str | Path, *, kind: str, beside: Path | None = None, where: str | None = None
) -> tuple[Path, str]:
    """The file meant, and what to call it in messages.

    A bare word is a shipped name; anything with a folder or an ending is a path, looked for
    beside the file that names it. where: the key that names it, for messages.
    """
    text = str(path_or_name)
    refuse_control_characters(text, where or kind)
    path = Path(text)
    is_bare = path.name == text and path.suffix != ".toml"
    if is_bare and kind in FOLDERS and text in _shipped_names(kind):
        return shipped_folder(kind) / f"{text}.toml", f"{FOLDERS[kind]}/{text}.toml"
    if not path.is_absolute() and beside is not None:
        path = beside / path
    try:
        if path.is_file():
            return path, str(path)
        got = "a folder" if path.is_dir() else "no such file"
    except OSError as error:
        got = error.strerror or "cannot be opened"
    names = _shipped_names(kind)
    if is_bare and kind == "scene" and text in shipped_bodies():
        fail(where or kind, f"got {shown(text)}, a shipped body, allowed a scene", _sent_on("body", text))
    if is_bare and kind == "body" and text in shipped_scenes():
        fail(where or kind, f"got {shown(text)}, a shipped scene, allowed a body", _sent_on("scene", text))
    hint = nearest_hint(text, names) or f"Give a path, or see {LISTED[kind]}."
    fail(where or kind, f"got {shown(text)}, {got}; allowed a path, or {either(names)}", hint)


MARKS: Final = MappingProxyType(  # tables of one kind of file alone
    {
        "study": ("vary", "bodies", "design"),
        "scene": ("draft", "closure", "dart", "title"),
        "body": ("tape",),
        "tests": ("square", "overhang", "stack", "board"),
    }
)
SENT_ON: Final = MappingProxyType(
    {
        "scene": ("a scene", "`drape sit {typed}` settles it, `drape measure {typed}` measures its body."),
        "body": ("a body", "`drape measure {typed}` measures it; a scene names it under [figure]: body = {quoted}."),
        "tests": ("a cloth's table-top tests", "`drape cloth {typed}` works the cloth out."),
        "study": ("the plan of a study", "`drape study {typed}` runs it."),
    }
)


def _sent_on(kind: str, path: str) -> str:
    """What a file of a kind is for, its path as it is to be typed and to be written."""
    return SENT_ON[kind][1].format(typed=typed(path), quoted=json.dumps(path, ensure_ascii=False))


def kind_of(document: Mapping[str, Any]) -> str:
    """What a file is by the tables in it: study, scene, body, tests (of a cloth); empty where none says."""
    return next((kind for kind, marks in MARKS.items() if any(mark in document for mark in marks)), "")


def refuse_other_kind(document: Mapping[str, Any], kind: str, label: str) -> None:
    """Refuse a file that is plainly of another kind, and say what it is for."""
    found = kind_of(document)
    if found and found != kind:
        fail(label, f"got {SENT_ON[found][0]}, allowed {SENT_ON[kind][0]}", _sent_on(found, label))


# --- putting it together ----------------------------------------------------------------------


def _load_body(path_or_name: str | Path, *, beside: Path | None = None, where: str | None = None) -> Body:
    path, label = _find(path_or_name, kind="body", beside=beside, where=where)
    document = read_toml(path, label)
    refuse_other_kind(document, "body", label)
    tables = checked_tables(document, {}, BODY_TABLES, label)
    figure = tables["figure"]
    return Body(
        name=figure.get("name", path.stem),
        sex=figure["sex"],
        source=figure.get("source", "").strip(),
        tape=MappingProxyType(tables["tape"]),
        stance=Stance(**tables["stance"]),
        arms=_make_arms(tables["arms"], ("down", "down")),
        worn_under=_make_worn(tables["worn_under"], {}),
    )


def _make_arms(own: Mapping[str, str], otherwise: tuple[str, str]) -> tuple[str, str]:
    """How left and right arm are held, each as written or as otherwise known."""
    return own.get("left", otherwise[0]), own.get("right", otherwise[1])


def _make_worn(own: Mapping[str, Any], otherwise: Mapping[str, float]) -> Mapping[str, float]:
    """Thickness [m] by place: of the kind named, else as otherwise known, with the thicknesses written laid over it."""
    known = KINDS[own["kind"]] if "kind" in own else otherwise
    return MappingProxyType({**known, **{place: value for place, value in own.items() if place != "kind"}})


def _overridden(tape: Mapping[str, float], own: Mapping[str, float]) -> Mapping[str, float]:
    """The body's tape with the scene's measures laid over it.

    One slope stands for both shoulders. Slope, shoulder length and the heights of side neck point
    and shoulder point are bound together, so a scene that changes one of them frees another: the
    shoulder point's height, or the slope when that height is what the scene gives.
    """
    freed: set[str] = set()
    if "shoulder_slope" in own:
        freed |= set(SLOPE_KEYS)
    if own.keys() & {*SLOPE_KEYS, "shoulder_length", "side_neck_height"}:
        freed.add("shoulder_point_height")
    if "shoulder_point_height" in own:
        freed |= set(SLOPE_KEYS)
    kept = {key: value for key, value in tape.items() if key not in freed}
    return MappingProxyType({**kept, **own})


def _cloth_tables() -> Mapping[str, Mapping[str, Any]]:
    path = Path(str(importlib.resources.files("drape"))) / "cloths.toml"
    return read_toml(path, "cloths.toml")


def _known_cloth(path_or_name: str, *, beside: Path | None, where: str) -> tuple[str, Mapping[str, Any]]:
    """Name and values of a shipped cloth, or of the one in a file.

    A file may not call its cloth by a shipped name: the caution about flame goes by the name.
    """
    tables = _cloth_tables()
    if path_or_name in tables:
        return path_or_name, checked_keys(tables[path_or_name], OWN_CLOTH, "cloths.toml", path_or_name)
    path, label = _find(path_or_name, kind="cloth", beside=beside, where=where)
    values = checked_tables(read_toml(path, label), {}, CLOTH_TABLES, label)["cloth"]
    name = values.pop("name", path.stem)
    refuse_shipped_name(name, f"{label}, cloth.name")
    return name, values


def refuse_shipped_name(name: str, where: str) -> None:
    """Raises SceneError when a cloth of one's own is called as a shipped one is."""
    if name in _cloth_tables():
        fail(where, f"got {shown(name)}, the name of a shipped cloth", 'Write name = "..." with one of your own.')


def _make_cloth(
    path_or_name: str | None,
    own: Mapping[str, Any],
    *,
    label: str,
    beside: Path | None = None,
    where: str | None = None,
    wet: bool = False,
) -> Cloth:
    """A shipped cloth or one from a file, and checked keys laid over it."""
    name = "own cloth"
    known: Mapping[str, Any] = {}
    if path_or_name is not None:
        name, known = _known_cloth(path_or_name, beside=beside, where=where or f"{label}.cloth")
    values = {**known, **own}
    of_wet: dict[str, float] = {key: values.pop(key) for key in WET_VALUES if key in values}
    dry = [key for key in own if key not in WET_VALUES]
    if path_or_name is None:
        _refuse_no_cloth(values, label)
    elif dry and "source" not in own:
        values["source"] = f"{known['source']}; changed here: {', '.join(dry)}"
    cloth = _with_twist(values, own if "twist_rigidity" in own else known, name=name, label=label)
    _refuse_unstable(cloth, label)
    return wetted(cloth, of_wet) if wet else cloth


def _with_twist(values: Mapping[str, Any], given: Mapping[str, Any], *, name: str, label: str) -> Cloth:
    """The cloth of checked values, its twist rigidity that of `given`, or estimated where none is.

    Cloth made stiffer or limper than the known one keeps its share of twist.
    """
    cloth = Cloth(name=name, **{key: value for key, value in values.items() if key != "twist_rigidity"})
    if "twist_rigidity" not in given:
        source = f"{cloth.source}; twist_rigidity estimated from the bending lengths"
        return replace(cloth, source=source, filled=("twist_rigidity",))
    rigidity = replace(cloth, **{key: given[key] for key in RIGID if key in given}).mean_rigidity
    share = given["twist_rigidity"] / rigidity
    if not LEAST_TWIST <= share <= MOST_TWIST:
        got, low, high = (f"{1e6 * rigidity * part:.4g}" for part in (share, LEAST_TWIST, MOST_TWIST))
        fail(
            f"{label}.twist_rigidity_un_m", f"got {got}, allowed {low} to {high} µN·m at these bending lengths",
            "Check it, or leave it out: it is then estimated.",
        )  # fmt: skip
    return replace(cloth, twist_share=share)


def _refuse_no_cloth(values: Mapping[str, Any], label: str) -> None:
    if not values:
        fail(f"{label}.cloth", f"missing, allowed {either(shipped_cloths())}", 'Write cloth = "heavy melton".')
    where, _, table = label.rpartition(", ")
    refuse_missing(values, CLOTH_KEYS, where, table)


def _refuse_unstable(cloth: Cloth, label: str) -> None:
    """An orthotropic sheet stores energy in every strain, stretched or bent, only if ν² < stiffer/softer is kept.

    With ν the weft contraction under warp tension, ν_weft,warp = ν E_weft / E_warp, and the
    product of the two must be below 1 (Lempriere 1968, AIAA Journal 6, 2226; from memory).
    """
    pulled = cloth.tensile_stiffness_weft / cloth.tensile_stiffness_warp
    bent = cloth.rigidity_weft / cloth.rigidity_warp
    for ratio, words in ((pulled, "tensile stiffnesses"), (bent, "bending lengths")):
        limit = 1.0 / math.sqrt(ratio)
        if cloth.poisson_ratio >= limit:
            fail(
                f"{label}.poisson_ratio",
                f"got {plain_number(cloth.poisson_ratio)}, allowed 0 to below {limit:.3f} at these {words}",
                "Lower it, or bring warp and weft stiffness closer.",
            )


def _refuse_trimmed(scene: Scene, where: str, why: str = "Its hem would be trimmed on whoever wears it") -> None:
    """Refuse a draft whose hem would be trimmed on the settled cloth: on another body than it is cut for, or wet."""
    style = scene.style
    asked = [name for name in HUNG if getattr(style, name) not in (None, False)]
    if asked:
        fail(
            where, f"got a draft with {asked[0]}, allowed one whose lengths are given in cm",
            f"{why}: write length_cm as `drape sit` found it.",
        )  # fmt: skip


def _make_bolt(layer: dict[str, Any]) -> Bolt:
    """The cloth a layer under the outside is cut from; its keys are taken out of the layer's."""
    taken = {bare_name(key): layer.pop(bare_name(key), None) for key in BOLT_KEYS}
    width = COATING_WIDTH if taken["width"] is None else taken["width"]
    return Bolt(width, shrinkage=taken["shrinkage"] or 0.0, price=taken["price_per_metre"])


def _make_cuts(tables: Mapping[str, Any], label: str) -> Cuts | None:
    """Where the scene says the draft is cut into pieces; None where it leaves that open."""
    levels, seams = tables["piecing"].get("levels"), tables["cross_seam"]
    if not levels:
        if seams:
            fail(f"{label}, cross_seam", "got seams across without levels_cm", "Write levels_cm under [piecing].")
        return None
    for number, seam in enumerate(seams, start=1):
        if seam["strip"] > len(levels) + 1:
            fail(
                f"{label}, cross_seam {number}.strip", f"got {seam['strip']}, allowed 1 to {len(levels) + 1}",
                "The levels part the draft into so many strips.",
            )  # fmt: skip
    return Cuts(tuple(sorted(levels)), tuple((seam["strip"] - 1, tuple(sorted(seam["at"]))) for seam in seams))


def _make_cutting(tables: Mapping[str, Any], inner: tuple[tuple[str, Bolt], ...], label: str) -> CuttingPlan:
    piecing, lay, facing = tables["piecing"], tables["lay"], tables["facing"]
    cuts = _make_cuts(tables, label)
    return CuttingPlan(
        bolt=Bolt(
            width=piecing.get("width", COATING_WIDTH),
            nap=lay.get("nap") == "one way",
            fold=lay.get("fold", "single"),
            flaws=tuple(Flaw(**flaw) for flaw in tables["flaw"]),
            shrinkage=lay.get("shrinkage", 0.0),
            price=lay.get("price_per_metre"),
            cuts=cuts,
        ),
        seam_allowance=tables["allowances"].get("seam", SEAM_ALLOWANCE),
        grain=piecing.get("grain"),
        sewn="width" in piecing,
        inner=inner,
        facing_width=facing.get("opening"),
        inner_collar=facing.get("collar", False),
    )


def _make_style(
    draft: Mapping[str, Any], closure: Mapping[str, Any], tables: Mapping[str, Any], label: str, *, has_collar: bool
) -> Style:
    lengths = ("length", "length_to", "off_floor", "hem_along")
    if not any(name in draft for name in lengths):
        fail(
            f"{label}, draft.length_cm",
            "missing, allowed 15 to 200 cm",
            "Add length_cm = ... under [draft], or length_to, or off_floor_cm.",
        )
    closing = dict(closure)
    if "place" in closing:
        closing["closure_place"] = closing.pop("place")
    beyond = {f"{edge}_allowance": width for edge, width in tables["allowances"].items() if edge != "seam"}
    return Style(
        **draft, **closing, **beyond,
        darts=tuple(Dart(**dart) for dart in tables["dart"]),
        collar=CollarStyle(**tables["collar"]) if has_collar else None,
        dags=tuple(Dags(**dags) for dags in tables["dags"]),
    )  # fmt: skip
