"""Advice: a reading beyond its limit and the draft it was read on → the key of the scene to change,
and the value to write.

In: a `Held`, the draft, the figure it is cut for. Out: an `Advice`: words, and changes as {table, place, key, write,
was}. What is proposed can be drawn and lies within what a scene may say. How far to go follows from what the dimension
was seen to do (`EFFECT`, the slopes of tests/bench/effects.py) and never further than LARGEST_STEP: a step to try,
unless it follows from the geometry. Nothing is settled here; `mend` tries.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from drape.draft.cloak import draft_cloak
from drape.draft.dimensions import AIM, DIMENSIONS, value_of, whole_millimetres, with_value
from drape.draft.neckline import read_shoulders, turn_to_take_out
from drape.draft.outline import Draft
from drape.draft.style import (
    FRONT_ENDS,
    LENGTH_PLACES,
    SHOULDER_ENDS,
    SHOULDERS,
    Dart,
    Style,
    dart_place,
    with_placed_darts,
)
from drape.errors import DraftError
from drape.fitting.scene_keys import SCENE_TABLES
from drape.reading.verdict import Advice, Held, Readings, Verdict, dart_number, judge, side_of
from drape.units import from_si, to_si

if TYPE_CHECKING:
    from drape.body.figure import Figure

LEAST_STEP: Final = 0.005  # [m] a smaller change is not seen
LARGEST_STEP: Final = 0.020  # [m] further than this nothing was measured
ALIKE: Final = 0.005  # [m] an intake this near to what the slope asks for is that
MORE_FOLDS: Final = math.radians(10.0)  # a sector wider than the slopes ask by less hardly folds more

# Reading [cm] per cm of the dimension, as two shaped drafts at 6 cm showed it: tests/bench/effects.py
EFFECT: Final[Mapping[str, float]] = MappingProxyType({
    "ride_front": 0.85, "ride_back": 0.6, "ride_side": 0.5, "gap_front": 0.45, "gap_back": 0.4, "gap_side": 0.5,
    "forward": 0.2, "left": 0.3,
})  # fmt: skip
BOTH: Final = "both shoulders"  # the place of a dart that stands for two
OF_ITS_OWN: Final = ("clearance_cm", "opening_cm", "dart_point_cm", "dart_gap_cm")  # no matter of a wedge that lacks
BY_NAME: Final = MappingProxyType({d.name: d for d in DIMENSIONS})
UNMOVED: Final = (
    "No dimension that was tried moves it beyond its ±. Set the cloak straight by hand, and run with --starts 8 to "
    "see what is chance."
)


@dataclass(frozen=True)
class Cut:
    """The draft that is advised on. figure: the one it is cut for, built only when it is asked for."""

    draft: Draft
    figure: Callable[[], Figure]
    readings: Readings

    @property
    def style(self) -> Style:
        """What the scene asks for, each dart with its place."""
        return with_placed_darts(self.draft.style)

    @property
    def pair(self) -> int | None:
        """Number of the scene's dart that stands for one on either shoulder, or None."""
        asked = self.draft.style
        both = [k for k, dart in enumerate(asked.darts) if dart.place is None and dart.azimuth is None]
        return both[0] if both and asked.closure_place == "centre front" else None


def judged(
    readings: Readings, limits: Mapping[str, float], draft: Draft | None, figure: Callable[[], Figure]
) -> list[Verdict]:
    """The verdicts on a settled draft, each with what to write in its scene. figure: that the draft is cut for."""
    if draft is None:
        return judge(readings, limits)
    cut = Cut(draft, figure, readings)
    given: dict[tuple[Any, ...], Mapping[str, Any]] = {}

    def advise(one: Held) -> Advice:
        way = Advice() if one.check.limit in OF_ITS_OWN else lop(cut)
        return told_once(way if way.words else ADVICE[one.check.limit](one, cut), given)

    return judge(readings, limits, advise)


def told_once(found: Advice, given: dict[tuple[Any, ...], Mapping[str, Any]]) -> Advice:
    """Advice on a key that has been advised on already, made one with that: a key has one value to write."""
    if not found.changes:
        return found
    now = found.changes[0]
    before = given.setdefault((now["table"], now["place"], now["key"]), now)
    if before is now:
        return found
    if isinstance(now["write"], float) and (now["write"] - now["was"]) * (before["write"] - before["was"]) < 0:
        return Advice(
            f"It asks for the opposite of {said_briefly(before)}, said before: do that first, then sit again."
        )
    return Advice(f"As before: {said_briefly(before)}.", (before, *found.changes[1:]))


# --- how a change is said ----------------------------------------------------------------------


def change(table: str, key: str, write: Any, was: Any, place: str | None = None) -> dict[str, Any]:
    """One key to write. place: of the dart whose key it is. was: None where the key stood for nothing."""
    return {"table": table, "place": place, "key": key, "write": write, "was": was}


def shown(value: Any) -> str:
    """A value as a scene file has it; none where there is none."""
    if value is None:
        return "none"
    return f"{value:.1f}" if isinstance(value, float) else json.dumps(value)


def advice(why: str, *changes: Mapping[str, Any], verb: str = "Try") -> Advice:
    """Why, then each key with what to write: `Deepen the neck behind.
    Try back_neck_depth_cm = 8.5 (was 7.5) in [draft].`
    """
    if not changes:
        return Advice(why)
    new = [one["place"] for one in changes if one["key"] == "place"]
    said = []
    for one in changes:
        if one["key"] == "place":
            own = [
                f"{c['key']} = {shown(c['write'])}"
                for c in changes
                if c["table"] == "dart" and c["place"] == one["place"]
            ]
            said.append(f"a new [[dart]] with {', '.join(own)}")
        elif one["write"] is None:
            said.append(f"without {one['key']}")
        elif one["place"] not in new:
            where = f"[{one['table']}]" if one["place"] is None else f"the [[dart]] {_on(one['place'])}"
            said.append(f"{one['key']} = {shown(one['write'])} (was {shown(one['was'])}) in {where}")
    return Advice(f"{why} {verb} {'; '.join(said)}.", tuple(changes))


def said_briefly(one: Mapping[str, Any]) -> str:
    """A change that has been told: the key and what to write."""
    return f"a new [[dart]] {_on(one['place'])}" if one["key"] == "place" else f"{one['key']} = {shown(one['write'])}"


def _on(place: str) -> str:
    if place == BOTH:
        return f"for {place}"
    return f"on the {place}" if place in SHOULDERS else f"at {place}"


# --- steps along a dimension -------------------------------------------------------------------


def drawable(cut: Cut, style: Style) -> bool:
    """Whether a style can be drawn for the figure it is cut for."""
    try:
        draft_cloak(style, cut.figure())
    except DraftError:
        return False
    return True


def in_range(table: str, key: str, value: float) -> float:
    """A length [m] within what a scene may say."""
    rule: Any = SCENE_TABLES[table].keys[key]
    return min(max(value, to_si(key, rule.low)), to_si(key, rule.high))


def step(cut: Cut, name: str, by: float, why: str) -> Advice:
    """A dimension of draft or closure changed by so much [m], or by less where that cannot be drawn."""
    d = BY_NAME[name]
    was = value_of(cut.style, cut.draft, d)
    if was is None:
        return Advice()
    for share in (1.0, 0.5, 0.25):
        goal = whole_millimetres(d.key, in_range(d.table, d.key, was + share * by))
        if abs(goal - was) < min(LEAST_STEP, abs(by)) - 1e-9:
            break
        if drawable(cut, with_value(cut.style, cut.draft, d, goal)):
            return advice(why, change(d.table, d.key, from_si(d.key, goal), round(from_si(d.key, was), 1)))
    return Advice()


def step_ease(cut: Cut, by: float, why: str) -> Advice:
    """More or less ease in the neck edge [m], where no other dimension settles how long it is."""
    style = cut.style
    if style.neck == "drawn" or any((style.front_neck_depth, style.back_neck_depth, style.neck_width)):
        return Advice()
    was = cut.draft.dimensions["neck_ease"]
    goal = whole_millimetres("neck_ease_cm", in_range("draft", "neck_ease_cm", was + by))
    if abs(goal - was) < LEAST_STEP - 1e-9 or not drawable(cut, replace(style, neck_ease=goal)):
        return Advice()
    return advice(why, change("draft", "neck_ease_cm", from_si("neck_ease_cm", goal), round(100 * was, 1)))


def reach(one: Held, effect: str) -> float:
    """How far to change a dimension [m] to bring a reading in cm to AIM of its limit, within what was measured."""
    beyond = abs(one.value) - AIM * abs(one.limit)
    return min(max(0.01 * beyond / EFFECT[effect], LEAST_STEP), LARGEST_STEP)


def redrawn(where: str, way: str, by: float) -> Advice:
    """What to do to a drawn neck, whose points no rule may move."""
    return Advice(
        f"Redraw the neck: try the points {where} {100 * by:.1f} cm {way} in neck_along_cm and neck_up_cm, in [draft]."
    )


# --- wedges over the shoulders -----------------------------------------------------------------


def intake_of(cut: Cut, place: str) -> float:
    """What is sewn out over a shoulder [m]."""
    if place == cut.style.closure_place:
        return cut.draft.dimensions["shoulder_cut_intake"]
    return next((dart.intake for dart in cut.draft.darts if dart.place == place), 0.0)


def asked_for(cut: Cut, place: str, length: float | None = None) -> tuple[float, float]:
    """Intake and length [m] of a wedge as the shoulder's slope asks; of the shoulder's length if no other is given."""
    shoulder = getattr(read_shoulders(cut.figure()), place.split()[0])
    length = shoulder.length if length is None else length
    return 2 * length * math.sin(turn_to_take_out(shoulder.slope, cut.style.sweep) / 2), length


def lacking(cut: Cut) -> list[str]:
    """Shoulders that slope so as to need a wedge and have none."""
    bare = [place for place in SHOULDERS if intake_of(cut, place) == 0.0]
    return [place for place in bare if asked_for(cut, place)[0] > ALIKE]


def wedge_changes(cut: Cut, place: str) -> tuple[list[dict[str, Any]], Style]:
    """The keys of a wedge as the slope asks over a shoulder that has none, and the style with it."""
    intake, length = (whole_millimetres("length_cm", value) for value in asked_for(cut, place))
    if place == cut.style.closure_place:
        was = 0.0 if cut.style.shoulder_cut_intake is not None or cut.style.neck != "tailored" else None
        written = change("closure", "shoulder_cut_intake_cm", from_si("length_cm", intake), was)
        return [written], replace(cut.style, shoulder_cut_intake=intake)
    old = [dart for dart in cut.style.darts if dart.azimuth is None and dart_place(cut.style, dart) == place]
    kept = tuple(dart for dart in cut.style.darts if dart not in old)
    keys = [("intake_cm", intake, 0.0 if old else None), ("length_cm", length, None)][: 1 if old else 2]
    changes = [change("dart", key, from_si(key, value), was, place) for key, value, was in keys]
    if not old:
        changes.insert(0, change("dart", "place", place, None, place))
    return changes, replace(cut.style, darts=(*kept, Dart(place=place, intake=intake, length=length)))


def put_in(cut: Cut) -> Advice:
    """The wedges that lack over one shoulder or both."""
    missing, changes, style = lacking(cut), [], cut.style
    for place in missing:
        more, style = wedge_changes(replace_style(cut, style), place)
        changes += more
    if not missing:
        return Advice()
    if len(missing) == 1:
        other = next(place for place in SHOULDERS if place not in missing)
        why = (
            f"Nothing is taken out over the {missing[0]}, but {100 * intake_of(cut, other):.1f} cm over the {other}: "
            "make them alike."
        )
    else:
        why = "Nothing is taken out over either shoulder: take out what their slopes ask."
    if style.neck == "round":
        style, shape = shaped(style)
        changes = shape + changes
    return advice(why, *changes, verb="Write") if drawable(cut, style) else Advice(why)


def replace_style(cut: Cut, style: Style) -> Cut:
    """The same draft, asked for otherwise."""
    return replace(cut, draft=replace(cut.draft, style=style))


def shaped(style: Style) -> tuple[Style, list[dict[str, Any]]]:
    """The style with a shaped neck in place of a round one, as its darts ask; and the keys to write."""
    names = ("front_neck_depth", "back_neck_depth", "neck_width")
    out = [(name, value) for name in names if (value := getattr(style, name)) is not None]
    gone = [change("draft", f"{name}_cm", None, round(100 * value, 1)) for name, value in out]
    plain: dict[str, Any] = {name: None for name, _ in out}
    return replace(style, neck="tailored", **plain), [change("draft", "neck", "tailored", style.neck), *gone]


def shape(cut: Cut) -> Advice:
    """A shaped neck in place of a round one, with the wedges that lack: it sits where a round one does not."""
    if cut.style.neck != "round":
        return Advice()
    if lacking(cut):
        return put_in(cut)
    style, changes = shaped(cut.style)
    return advice("Shape the neck.", *changes, verb="Write") if drawable(cut, style) else Advice()


def at_azimuth(azimuth: float | None) -> str:
    """A dart's place away from the shoulders, as readings name it."""
    return f"azimuth {math.degrees(azimuth or 0.0):.0f}"


def step_wedge(cut: Cut, place: str, key: str, by: float, why: str) -> Advice:
    """Intake or length ("intake_cm", "length_cm") of the wedge over one shoulder or of a dart elsewhere, changed [m].

    Not made smaller by more than a third.
    """
    if place == cut.style.closure_place:
        return step(cut, f"shoulder_cut_{key.removesuffix('_cm')}", by, why)
    where = [dart_place(cut.style, dart) or at_azimuth(dart.azimuth) for dart in cut.style.darts]
    drawn = next((dart for dart in cut.draft.darts if (dart.place or at_azimuth(dart.azimuth)) == place), None)
    if place not in where or drawn is None:
        return Advice()
    is_pair = cut.pair is not None and place in SHOULDERS
    style, number = (cut.draft.style, cut.pair or 0) if is_pair else (cut.style, where.index(place))
    asked, was = style.darts[number], drawn.length if key == "length_cm" else drawn.intake
    by = max(by, -was / 3)
    if key == "length_cm" and asked.point_short is not None:
        key, was, by = "point_short_cm", asked.point_short, -by
    goal = whole_millimetres(key, in_range("dart", key, was + by))
    darts = list(style.darts)
    named: dict[str, Any] = {key.removesuffix("_cm"): goal}
    darts[number] = replace(asked, **named)
    if abs(goal - was) < 0.001 or not drawable(cut, replace(style, darts=tuple(darts))):
        return Advice()
    return advice(why, change("dart", key, from_si(key, goal), round(from_si(key, was), 1), BOTH if is_pair else place))


# --- what to do about each limit ---------------------------------------------------------------


def first(*found: Advice) -> Advice:
    """The first that says something."""
    return next((one for one in found if one.words), Advice())


def neck_side(one: Held, cut: Cut) -> str:
    """Front, back or side: where on the neck a reading is; of the largest gap where that is."""
    side = side_of(one)
    place = str(cut.readings["neck"].get("gap_max_at", "")) if side == "max" else side
    return next((name for name in ("front", "back") if place.startswith(name)), "side")


def move_neck(one: Held, cut: Cut, kind: str, sign: float) -> Advice:
    """The neck edge cut lower (+) or higher (-) where it was read: its depth in front or behind,
    its width at the sides.
    """
    side = neck_side(one, cut)
    by = reach(one, f"{kind}_{side}")
    name, where = {
        "front": ("front_neck_depth", "in front"), "back": ("back_neck_depth", "behind"),
        "side": ("neck_width", "at the sides"),
    }[side]  # fmt: skip
    if cut.style.neck == "drawn":
        return redrawn(where, "further out" if sign > 0 else "further in", by)
    deeper, wider = ("Deepen", "Widen the neck.") if sign > 0 else ("Raise", "Narrow the neck.")
    return step(cut, name, sign * by, wider if side == "side" else f"{deeper} the neck {where}.")


def _gap(one: Held, cut: Cut) -> Advice:
    looser = "Take ease out of the neck edge."
    return first(shape(cut), move_neck(one, cut, "gap", -1.0), step_ease(cut, -0.01, looser))


def _ride(one: Held, cut: Cut) -> Advice:
    return first(shape(cut), move_neck(one, cut, "ride", 1.0))


def _fallen(one: Held, cut: Cut) -> Advice:
    return first(
        shape(cut), move_neck(one, cut, "ride", -1.0), step_ease(cut, -0.01, "Take ease out of the neck edge.")
    )


def _throat(_: Held, cut: Cut) -> Advice:
    if cut.style.neck == "drawn":
        return redrawn("at the sides and in front", "further out", 0.01)
    return first(put_in(cut), shape(cut), step(cut, "neck_width", 0.015, "Widen the neck."))


def _stand_off(one: Held, cut: Cut) -> Advice:
    if math.isnan(one.value):
        bare = "Bring the neck edge nearer the neck."
        return first(step(cut, "neck_width", -0.01, bare), step_ease(cut, -0.01, bare))
    return first(put_in(cut), shape(cut), as_the_slope_asks(cut, one.check.where), loosened(cut, one.check.where))


def as_the_slope_asks(cut: Cut, place: str) -> Advice:
    """The wedge over a shoulder brought up to what its slope asks for its length, where it takes out less."""
    was, length = intake_of(cut, place), None
    if place == cut.style.closure_place:
        length = cut.draft.dimensions.get("shoulder_cut_length")
    else:
        length = next((dart.length for dart in cut.draft.darts if dart.place == place), None)
    by = asked_for(cut, place, length)[0] - was
    return (
        step_wedge(cut, place, "intake_cm", by, f"The slope of the {place} asks for more.") if by > ALIKE else Advice()
    )


def loosened(cut: Cut, place: str) -> Advice:
    """A wider neck, or a longer wedge where the neck is drawn: with wedges as asked,
    a tight neck holds the cloth up.
    """
    return first(
        step(cut, "neck_width", 0.015, "As much is taken out as the slope asks; a wider neck lets the cloth down."),
        step_wedge(
            cut,
            place,
            "length_cm",
            0.015,
            "As much is taken out as the slope asks; a longer wedge lets the cloth down.",
        ),
    )


def narrower(cut: Cut) -> Advice:
    """A sector that covers the shoulders' slopes without folds, where it is wider by more than MORE_FOLDS."""
    shoulders = read_shoulders(cut.figure())
    asked = 2 * (math.pi - shoulders.left.slope - shoulders.right.slope)
    if cut.style.sweep - asked < MORE_FOLDS or not drawable(cut, replace(cut.style, sweep=asked)):
        return Advice()
    goal, was = float(round(math.degrees(asked))), round(math.degrees(cut.style.sweep), 1)
    why = "So wide a sector hangs in folds from the neck. If you do not want them, cut a narrower one."
    return advice(why, change("draft", "sweep_deg", goal, was))


def _spare(_: Held, cut: Cut) -> Advice:
    return first(
        put_in(cut),
        shape(cut),
        narrower(cut),
        *(as_the_slope_asks(cut, place) for place in SHOULDERS),
        loosened(cut, SHOULDERS[0]),
    )


def _dart_turned(one: Held, cut: Cut) -> Advice:
    place = str(cut.readings["dart"][dart_number(one)]["place"])
    if 2 * abs(cut.readings["balance"]["turn_deg"]) >= one.value:
        return Advice("It goes with the turn of the cloak: see to that first.")
    straight, off = (90.0, one.value) if place == SHOULDERS[0] else (270.0, -one.value)
    return Advice(
        f"Move it: in place of place, try azimuth_deg: {straight + off:.0f} if it lies in front of the shoulder line, "
        f"{straight - off:.0f} if behind, was {straight:.0f}, in the [[dart]] {_on(place)}."
    )


def _dart_ends(one: Held, cut: Cut) -> Advice:
    place = str(cut.readings["dart"][dart_number(one)]["place"])
    return step_wedge(cut, place, "length_cm", 0.01 * one.value, f"Make it {'longer' if one.value > 0 else 'shorter'}.")


def _dart_stands_off(one: Held, cut: Cut) -> Advice:
    place = str(cut.readings["dart"][dart_number(one)]["place"])
    return step_wedge(cut, place, "intake_cm", -0.015, "Take less out.")


def _sideways(one: Held, cut: Cut) -> Advice:
    """To the left of its place a cloak comes right by more taken out over the left shoulder."""
    place = f"{'left' if one.value > 0 else 'right'} shoulder"
    why = f"Take more out over the {place}."
    if cut.pair is not None:
        return first(put_in(cut), Advice(UNMOVED))
    return first(put_in(cut), shape(cut), step_wedge(cut, place, "intake_cm", reach(one, "left"), why))


def _closure_off(one: Held, cut: Cut) -> Advice:
    if cut.readings["closure"]["place"] == "centre front" and cut.style.neck != "tailored":
        return _sideways(one, cut)  # a tailored front is cut open at centre front whatever is taken out
    return first(put_in(cut), Advice(UNMOVED))


def _pull(_: Held, cut: Cut) -> Advice:
    return first(
        shape(cut),
        step(cut, "shoulder_cut_length", -0.015, "Shorten the cuts."),
        step(cut, "neck_width", 0.015, "Widen the neck."),
    )


def _gape(one: Held, cut: Cut) -> Advice:
    ends = FRONT_ENDS if cut.style.closure_place == "centre front" else SHOULDER_ENDS
    if cut.style.fastened_to == ends[0]:
        return advice("Fasten it further down.", change("closure", "fastened_to", ends[1], ends[0]), verb="Write")
    was = cut.draft.fastening.overlap
    goal = in_range("closure", "overlap_cm", 0.005 * math.ceil(round((100 * was + one.value) / 0.5, 6)))
    why = "Let the edges lap over each other."
    if not drawable(cut, replace(cut.style, overlap=goal)):
        return Advice("Fasten it further down: fastened_length_cm, in [closure].")
    return advice(why, change("closure", "overlap_cm", round(100 * goal, 1), round(100 * was, 1)), verb="Write")


def _level(_: Held, cut: Cut) -> Advice:
    style = cut.style
    if style.level or any((style.front_length, style.front_length_to, style.side_length, style.side_length_to)):
        return Advice("Let it hang, then level it from the floor.")
    return advice("Level the hem.", change("draft", "level", True, False), verb="Write")


def lop(cut: Cut) -> Advice:
    """The wedge that lacks where the other shoulder has one: such a cloak hangs to one side."""
    return put_in(cut) if len(lacking(cut)) == 1 and max(intake_of(cut, place) for place in SHOULDERS) > 0 else Advice()


def _clearance(one: Held, cut: Cut) -> Advice:
    style, by, why = cut.style, 0.01 * one.excess, f"Shorten it by {one.excess:.0f} cm or more."
    if style.off_floor is not None:
        goal = in_range("draft", "off_floor_cm", style.off_floor + by)
        return advice(why, change("draft", "off_floor_cm", _up(goal), round(100 * style.off_floor, 1)), verb="Write")
    if style.length is not None:
        goal = in_range("draft", "length_cm", style.length - by)
        return advice(why, change("draft", "length_cm", -_up(-goal), round(100 * style.length, 1)), verb="Write")
    higher = LENGTH_PLACES[max(LENGTH_PLACES.index(str(style.length_to)) - 1, 0)]
    return advice(why, change("draft", "length_to", higher, style.length_to), verb="Write")


def _up(value: float) -> float:
    """A length [m] in cm, to the next whole millimetre up."""
    return math.ceil(round(1000 * value, 6)) / 10


def _shift(one: Held, cut: Cut) -> Advice:
    if one.check.key.endswith("left_cm"):
        return _sideways(one, cut)
    name, where = ("back_neck_depth", "behind") if one.value > 0 else ("front_neck_depth", "in front")
    by = reach(one, "forward")
    if cut.style.neck == "drawn":
        return redrawn(where, "further out", by)
    return first(shape(cut), step(cut, name, by, f"Deepen the neck {where}."))


def _turn(_: Held, cut: Cut) -> Advice:
    return first(put_in(cut), Advice(UNMOVED))


ADVICE: Final[Mapping[str, Callable[[Held, Cut], Advice]]] = MappingProxyType({
    "gap_cm": _gap, "ride_cm": _ride, "fallen_cm": _fallen, "throat_line_load_n_m": _throat, "stand_off_cm": _stand_off,
    "spare_percent": _spare, "crowding_percent": _spare, "dart_deg": _dart_turned, "dart_point_cm": _dart_ends,
    "dart_gap_cm": _dart_stands_off, "closure_cm": _closure_off, "pull_n": _pull, "opening_cm": _gape,
    "level_cm": _level, "clearance_cm": _clearance, "shift_cm": _shift, "turn_deg": _turn,
})  # fmt: skip
