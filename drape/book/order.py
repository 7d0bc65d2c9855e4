"""The order as sentences: what a scene says, in a maker's words, each value a field that may be written over.

In: the tables of a scene's text, the scene and its draft as far as they could be worked out. Out: sentences of words
and fields; and, from what was typed in a field, the text of the scene with it. Values are held to the very rules that
files are held to. Which fields there are stands here; what they may hold in `scene_keys`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import tomlkit

from drape.body.tape import fill_tape
from drape.draft.outline import Draft
from drape.draft.style import (
    CLOSURE_PLACES,
    DAG_KINDS,
    FASTENINGS,
    FRONT_ENDS,
    LENGTH_PLACES,
    SHOULDER_ENDS,
    dart_place,
)
from drape.errors import SceneError
from drape.fitting.body_form import MEASURES, NUMBER, Measure
from drape.fitting.scene import Scene
from drape.fitting.scene_keys import SCENE_KEYS, SCENE_TABLES, TAPE_KEYS
from drape.schema import Number, checked_keys, plain_number
from drape.units import bare_name, from_si, unit_of

Tables = Mapping[str, Any]
NONE: Final = ""
NECK_WORDS: Final = (("round", "one round arc"), ("tailored", "shaped for the figure"))


@dataclass(frozen=True)
class Field:
    """A value that may be written over. name: its table and key. usual: what it is when it is left out.

    choices: values and the words for them; none for a number or a text. message: why what was typed was not taken.
    """

    name: str
    words: str
    value: str
    usual: str = ""
    unit: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    message: str = ""
    wide: bool = False
    mark: str = ""  # filled in, or changed


@dataclass(frozen=True)
class Sentence:
    """Words and fields in the order they are read."""

    parts: tuple[str | Field, ...]


@dataclass(frozen=True)
class TapeRow:
    """A tape measure beside the figure: its number there, how it is taken, its field."""

    number: int
    measure: Measure
    field: Field


class Order:
    """The order of one scene's text."""

    def __init__(
        self, tables: Tables, scene: Scene | None, draft: Draft | None, typed: Mapping[str, tuple[str, str]],
        bodies: Sequence[tuple[str, str]], cloths: Sequence[tuple[str, str]],
    ) -> None:  # fmt: skip
        """typed: by field, what was typed and not taken, and why. bodies, cloths: those that may be chosen."""
        self.tables, self.scene, self.draft, self.typed = tables, scene, draft, typed
        self.bodies, self.cloths = tuple(bodies), tuple(cloths)

    def sentences(self) -> list[Sentence]:
        """The whole order."""
        hems = (("false", "as it falls"), ("true", "levelled from the floor"))
        linings, collars = ((NONE, "nothing"), *self.cloths), (("no", "no collar"), ("yes", "a standing collar"))
        fastenings = ((NONE, "nothing yet"), *((name, name) for name in FASTENINGS))
        dags = ((NONE, "plain"), *((kind, f"cut into {kind} dags") for kind in DAG_KINDS))
        return [
            said("A cloak for ", self.choice("figure.body", "whom it is for", self.bodies), ", called ",
                 self.text("title", "what it is called"), "."),
            said("It is made of ", self.choice("cloth.cloth", "cloth", self.cloths), ", lined with ",
                 self.choice("lining.cloth", "lining", linings), "."),
            said("Cut as ", self.number("draft.sweep_deg", "how much of a circle", "180"), " of a circle, ",
                 *self.length(), "; its hem ", self.choice("draft.level", "hem", hems), "."),
            said("The neck hole is ", self.choice("draft.neck", "neck hole", NECK_WORDS), *self.neck(), "."),
            said("It closes ", self.choice("closure.place", "where it closes", closing_words()), ", fastened with ",
                 self.choice("closure.fastening", "fastening", fastenings), " down to ",
                 self.choice("closure.fastened_to", "how far down", self.ends()), ", the edges lapped by ",
                 self.number("closure.overlap_cm", "overlap", "0"), "."),
            *self.wedges(),
            said("At the neck ", self.choice("collar.is", "collar", collars), *self.collar(), "; its hem ",
                 self.choice("dags.kind", "dags", dags), *self.dags(), "."),
            said("I expect: ", self.text("expect", "what you expect", wide=True)),
        ]  # fmt: skip

    def fields(self) -> dict[str, Field]:
        """Every field of the sentences by its name."""
        return {part.name: part for one in self.sentences() for part in one.parts if isinstance(part, Field)}

    def tape(self) -> list[TapeRow]:
        """Every tape measure with the value it has: written in this order, of the body's own file, or filled in."""
        if self.scene is None:
            return []
        full, filled = fill_tape(self.scene.tape, sex=self.scene.sex)
        rows = []
        for measure in MEASURES:
            key = next(key for key in TAPE_KEYS if bare_name(key) == measure.name)
            value = full.get(measure.name)
            usual = "" if value is None else f"{from_si(key, value):.1f}"
            own = self.tables.get("figure", {}).get(key)
            mark = "changed here" if own is not None else "filled in" if measure.name in filled else ""
            rows.append(
                TapeRow(NUMBER[measure.name], measure, self.number(f"figure.{key}", measure.words, usual, mark))
            )
        return rows

    # --- parts ---------------------------------------------------------------------------------

    def own(self, name: str) -> Any:
        """The value a field has in the scene's text; None where it is left out."""
        table, _, key = name.rpartition(".")
        found: Any = self.tables if not table else self.tables.get(table.partition(".")[0], {})
        if isinstance(found, list):
            number = int(table.partition(".")[2] or 0)
            found = found[number] if number < len(found) else {}
        return found.get(key) if isinstance(found, Mapping) else None

    def as_typed(self, field: Field) -> Field:
        """The field with what was typed into it and not taken, and why; as it is where nothing was."""
        typed, message = self.typed.get(field.name, (field.value, field.message))
        return replace(field, value=typed, message=message)

    def number(self, name: str, words: str, usual: str = "", mark: str = "") -> Field:
        own = self.own(name)
        value = "" if own is None else plain_number(own)
        unit = unit_of(name.rpartition(".")[2]).symbol
        return self.as_typed(Field(name, words, value, usual, unit, mark=mark))

    def text(self, name: str, words: str, *, wide: bool = False) -> Field:
        return self.as_typed(Field(name, words, " ".join(str(self.own(name) or "").split()), wide=wide))

    def choice(self, name: str, words: str, choices: Sequence[tuple[str, str]]) -> Field:
        value = CHOSEN[name](self) if name in CHOSEN else self.own(name)
        text = "true" if value is True else "false" if value is False else str(value or "")
        known = tuple(choices)
        if text not in [one for one, _ in known]:
            known = ((text, text or "as usual"), *known)
        return self.as_typed(Field(name, words, text, choices=known))

    def usual(self, name: str, key: str) -> str:
        """What the draft came to, where a dimension is left out."""
        value = None if self.draft is None else self.draft.dimensions.get(name)
        return "" if value is None else f"{from_si(key, value):.1f}"

    def dimension(self, name: str, words: str, known: str) -> Field:
        return self.number(name, words, self.usual(known, name.rpartition(".")[2]))

    def length(self) -> list[str | Field]:
        places = ((place, f"to the {place}") for place in LENGTH_PLACES)
        ways = (("cm", "down the back"), *places, ("floor", "off the floor"))
        how = self.choice("draft.length_how", "how long", ways)
        if how.value == "floor":
            return ["hanging ", self.number("draft.off_floor_cm", "height off the floor"), " ", how]
        if how.value in LENGTH_PLACES:
            return ["long ", how]
        return [self.number("draft.length_cm", "length, neck edge to hem down the back"), " long ", how]

    def neck(self) -> list[str | Field]:
        if self.own("draft.neck") != "tailored":
            return []
        return [
            ": ", self.dimension("draft.front_neck_depth_cm", "front neck depth", "front_neck_depth"),
            " deep in front, ",
            self.dimension("draft.back_neck_depth_cm", "back neck depth", "back_neck_depth"), " behind and ",
            self.dimension("draft.neck_width_cm", "neck width", "neck_width"), " wide",
        ]  # fmt: skip

    def ends(self) -> tuple[tuple[str, str], ...]:
        is_front = self.own("closure.place") == "centre front"
        named = FRONT_ENDS if is_front else SHOULDER_ENDS
        return ((NONE, "the end of the cut" if not is_front else "as usual"), *((end, f"the {end}") for end in named))

    def wedges(self) -> list[Sentence]:
        """Darts on the shoulders, and the slanting cuts at a closure over one."""
        found = []
        darts = self.tables.get("dart", [])
        of = self.choice("dart.is", "dart", (("no", "without a dart"), ("yes", "with a dart")))
        parts: list[str | Field] = ["Over the shoulder ", of]
        for k, _ in enumerate(darts):
            label = "dart" if len(darts) == 1 else f"dart {k + 1}"
            place = dart_place(self.scene.style, self.scene.style.darts[k]) if self.scene is not None else None
            known = [d for d in (self.draft.darts if self.draft else ()) if d.place == place]
            intake, length = (f"{100 * known[0].intake:.1f}", f"{100 * known[0].length:.1f}") if known else ("", "")
            parts += [
                " and " if k else " of ", self.number(f"dart.{k}.intake_cm", f"{label} intake", intake), " intake, ",
                self.number(f"dart.{k}.length_cm", f"{label} length", length), " long",
            ]  # fmt: skip
        found.append(said(*parts, "."))
        if self.own("closure.place") != "centre front":
            found.append(said(
                "At the closure the shoulder cuts take out ",
                self.dimension("closure.shoulder_cut_intake_cm", "shoulder cut intake", "shoulder_cut_intake"),
                " over a length of ",
                self.dimension("closure.shoulder_cut_length_cm", "shoulder cut length", "shoulder_cut_length"), ".",
            ))  # fmt: skip
        return found

    def collar(self) -> list[str | Field]:
        if "collar" not in self.tables:
            return []
        return [", ", self.number("collar.height_cm", "collar height at centre back"), " high behind"]

    def dags(self) -> list[str | Field]:
        if not hem_dags(self.tables):
            return []
        return [", about ", self.number("dags.0.width_cm", "dag width"), " wide and ",
                self.number("dags.0.depth_cm", "dag depth"), " deep"]  # fmt: skip


def said(*parts: str | Field) -> Sentence:
    return Sentence(parts)


def closing_words() -> tuple[tuple[str, str], ...]:
    return tuple((place, f"over the {place}" if "shoulder" in place else f"at {place}") for place in CLOSURE_PLACES)


def hem_dags(tables: Tables) -> Mapping[str, Any]:
    return next((one for one in tables.get("dags", []) if one.get("edge") == "hem"), {})


def _length_how(order: Order) -> str:
    draft = order.tables.get("draft", {})
    return "floor" if "off_floor_cm" in draft else str(draft.get("length_to", "cm"))


CHOSEN: Final[Mapping[str, Callable[[Order], Any]]] = {
    "draft.length_how": _length_how,
    "draft.level": lambda order: bool(order.own("draft.level")),
    "closure.place": lambda order: order.own("closure.place") or CLOSURE_PLACES[0],
    "dart.is": lambda order: "yes" if order.tables.get("dart") else "no",
    "collar.is": lambda order: "yes" if "collar" in order.tables else "no",
    "dags.kind": lambda order: hem_dags(order.tables).get("kind", NONE),
}


# --- what was typed -----------------------------------------------------------------------------


def with_typed(text: str, name: str, typed: str, draft: Draft | None) -> str:
    """The scene's text with what was typed into a field. draft: the present one, for values to begin with.

    Raises SceneError: the same line as for a file.
    """
    document = tomlkit.parse(text)
    if name in SPECIAL:
        SPECIAL[name](document, typed, draft)
        return tomlkit.dumps(document)
    table, key, rules = _home(name)
    home: Any = document if not table else _table(document, table, make=typed.strip() != "")
    if typed.strip() == "":
        if home is not None:
            home.pop(key, None)
        return tomlkit.dumps(document)
    value = value_of(typed, rules[key])
    checked_keys({key: value}, rules, "", table.replace(".", " "), require=False)
    home[key] = value
    return tomlkit.dumps(document)


def _home(name: str) -> tuple[str, str, Mapping[str, Any]]:
    """A field's table, its key, and the rules of that table. Raises SceneError where there is no such field."""
    table, _, key = name.rpartition(".")
    known = SCENE_KEYS if not table else getattr(SCENE_TABLES.get(table.partition(".")[0]), "keys", {})
    if key not in known or not re.fullmatch(r"[a-z]*(\.\d{1,2})?", table):
        raise SceneError(f"book: got a field called {name[:60]!r}, allowed those of the order. Load the page again.")
    return table, key, known


def value_of(typed: str, rule: Any) -> Any:
    """What was typed as a file would have it: a number, true or false, or the text itself."""
    text = typed.strip()
    if isinstance(rule, Number):
        if re.fullmatch(r"[-+]?\d+", text) and rule.whole:
            return int(text)
        if re.fullmatch(r"[-+]?(\d+\.?\d*|\.\d+)", text):
            return float(text)
        return text
    return {"true": True, "false": False}.get(text, text)


def _table(document: Any, table: str, *, make: bool = True) -> Any:
    """A table of the document, made if it is not there."""
    name, _, number = table.partition(".")
    home = document.get(name)
    if number:
        rows = home if isinstance(home, Sequence) else []
        if int(number) >= len(rows):
            raise SceneError(f"{name}: there is no number {int(number) + 1} any more. Load the page again.")
        return rows[int(number)]
    if isinstance(home, Sequence):
        raise SceneError(f"{name}: got no number, allowed one, since there may be several. Load the page again.")
    if home is None and make:
        document[name] = tomlkit.table()
    return document.get(name)


def _set_length_how(document: Any, typed: str, draft: Draft | None) -> None:
    home = document["draft"]
    length = draft.style.length if draft is not None else None
    for key in ("length_cm", "length_to", "off_floor_cm"):
        home.pop(key, None)
    if typed == "floor":
        home["off_floor_cm"] = 10.0
    elif typed == "cm":
        home["length_cm"] = round(100 * (length or _back_length(draft)), 1)
    else:
        home["length_to"] = typed


def _back_length(draft: Draft | None) -> float:
    """How long the draft is behind [m], to the centimetre."""
    if draft is None:
        return 1.1
    start, end = draft.marks["back neck"], draft.marks["back hem"]
    return round(float(((end - start) ** 2).sum() ** 0.5), 2)


def _set_body(document: Any, typed: str, _: Draft | None) -> None:
    """Another wearer: measures written here were of the one before."""
    home = document["figure"]
    for key in TAPE_KEYS:
        home.pop(key, None)
    home["body"] = typed


def _set_layer(name: str) -> Callable[[Any, str, Draft | None], None]:
    def put(document: Any, typed: str, _: Draft | None) -> None:
        if typed == NONE:
            document.pop(name, None)
        elif name in document:
            document[name]["cloth"] = typed
        else:
            document[name] = tomlkit.item({"cloth": typed})

    return put


def _set_darts(document: Any, typed: str, _: Draft | None) -> None:
    document.pop("dart", None)
    if typed == "yes":
        rows = tomlkit.aot()
        rows.append(tomlkit.table())
        document["dart"] = rows


def _set_collar(document: Any, typed: str, _: Draft | None) -> None:
    document.pop("collar", None)
    if typed == "yes":
        document["collar"] = tomlkit.item({"height_cm": 4.5})


def _set_neck(document: Any, typed: str, _: Draft | None) -> None:
    for key in ("front_neck_depth_cm", "back_neck_depth_cm", "neck_width_cm", "neck_along_cm", "neck_up_cm"):
        document["draft"].pop(key, None)
    document["draft"]["neck"] = typed


def _set_closing(document: Any, typed: str, _: Draft | None) -> None:
    home = _table(document, "closure")
    home.pop("fastened_to", None)
    if typed == "centre front":
        for key in ("shoulder_cut_intake_cm", "shoulder_cut_length_cm", "shoulder_cut_bow_cm"):
            home.pop(key, None)
    for dart in document.get("dart", []):
        dart.pop("place", None)  # the one without the closure
    home["place"] = typed


def _set_dags(document: Any, typed: str, _: Draft | None) -> None:
    rows = [row for row in document.get("dags", []) if row.get("edge") != "hem"]
    own = dict(hem_dags(document)) or {"edge": "hem", "width_cm": 9.0, "depth_cm": 6.0}
    document.pop("dags", None)
    if typed != NONE:
        rows.insert(0, {**own, "kind": typed})
    if rows:
        document["dags"] = tomlkit.item(rows)


SPECIAL: Final[Mapping[str, Callable[[Any, str, Draft | None], None]]] = {
    "draft.length_how": _set_length_how, "figure.body": _set_body, "lining.cloth": _set_layer("lining"),
    "interlining.cloth": _set_layer("interlining"), "dart.is": _set_darts, "collar.is": _set_collar,
    "draft.neck": _set_neck, "closure.place": _set_closing, "dags.kind": _set_dags,
}  # fmt: skip


def with_changes(text: str, changes: Sequence[Mapping[str, Any]], places: Sequence[str | None]) -> str:
    """The scene's text with what a verdict says to write. places: of its darts, in their order."""
    document = tomlkit.parse(text)
    for change in changes:
        if change["table"] == "dart":
            for row in _darts_at(document, change["place"], places):
                _write(row, change)
        else:
            _write(_table(document, change["table"]), change)
    return tomlkit.dumps(document)


def _darts_at(document: Any, place: str | None, places: Sequence[str | None]) -> list[Any]:
    """The darts a change means: those on that shoulder, on both, or a new one."""
    rows = document.setdefault("dart", tomlkit.aot())
    found = [row for row, own in zip(rows, places, strict=False) if own == place or place in (None, "both shoulders")]
    if not found:
        found = [row for row in rows if row.get("place") == place]
    if not found:
        rows.append(tomlkit.item({"place": place}))
        found = [rows[-1]]
    return found


def _write(home: Any, change: Mapping[str, Any]) -> None:
    if change["write"] is None:
        home.pop(change["key"], None)
    else:
        home[change["key"]] = change["write"]
