"""Verdicts: readings → plain sentences about neck, shoulders, closure, hem and balance.

In: the groups `worn` returns, with their spreads where known, and the limits. Out: a list of {where, finding, mend,
undecided, likely_percent, changes, reading, harm}, in order of harm. Which reading is held against which limit stands
in `CHECKS`, the limits in `THRESHOLDS` with the reason of each; the same for every draft. What to change is left to the
adviser handed in (`advice`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, Final

from drape.reading.spread import allowed_of_few
from drape.reading.table import value_at
from drape.units import unit_of

Readings = Mapping[str, Any]
Verdict = dict[str, Any]


@dataclass(frozen=True)
class Threshold:
    """A limit of a verdict in the unit its name ends in, why it is there, and the range a scene may set."""

    value: float
    reason: str
    low: float
    high: float


THRESHOLDS: Final[Mapping[str, Threshold]] = MappingProxyType({
    "gap_cm": Threshold(
        1.5, "more than a finger's breadth lets the wind in; common practice, no source", 0.1, 20),
    "ride_cm": Threshold(
        2.5, "a neck edge this far up the neck base rubs the jaw; common practice, no source", 0.1, 20),
    "fallen_cm": Threshold(
        -2.0, "a neck edge this far down shows what is worn below; common practice, no source", -20, -0.1),
    "throat_line_load_n_m": Threshold(
        20.0, "0.15 kPa over a 13 cm collarbone-to-chin reach, about a light scarf's pull; from memory", 1, 200),
    "stand_off_cm": Threshold(
        1.0, "a hand can be slid under a shoulder that does not lie; common practice, no source", 0.1, 20),
    "spare_percent": Threshold(
        5.0, "a tailor eases in as much, 0.7 cm over a shoulder of 14; what is more no iron shrinks away; common "
        "practice, no source", 0.1, 100),
    "crowding_percent": Threshold(
        3.0, "more than 1 cm of spare cloth in a round of 40 cm shows as folds; our choice", 0.1, 100),
    "dart_deg": Threshold(
        8.0, "a seam 2 cm off over a 15 cm shoulder is seen as crooked; our choice", 1, 60),
    "dart_point_cm": Threshold(
        2.0, "a dart ending this far off the shoulder point leaves a hollow or a peak; our choice", 0.1, 20),
    "dart_gap_cm": Threshold(
        1.0, "a dart's point this far off the body stands up as a peak; our choice", 0.1, 20),
    "closure_cm": Threshold(
        2.0, "the closure seam is seen off its line; our choice", 0.1, 20),
    "pull_n": Threshold(
        10.0, "a kilogram on the fastening drags its seam out of line; our choice", 0.5, 200),
    "opening_cm": Threshold(
        2.0, "at this rate the opening is an arm's breadth of 10 cm wide half a metre further down; our choice", 0.1,
        50),
    "level_cm": Threshold(
        5.0, "a hem this uneven is seen at walking distance; common practice, no source", 0.5, 50),
    "clearance_cm": Threshold(
        5.0, "a hem nearer the floor is trodden on; common practice, no source", 0, 60),
    "turn_deg": Threshold(
        10.0, "3 cm round a waist of 90 cm; our choice", 1, 90),
    "shift_cm": Threshold(
        2.0, "the neck edge is seen off the neck's middle; our choice", 0.1, 20),
})  # fmt: skip

# Limits of what `drape wear` reads: of a cloak worn otherwise, or moved about in.
WORN_THRESHOLDS: Final[Mapping[str, Threshold]] = MappingProxyType({
    "slid_cm": Threshold(
        30.0, "as much as is thrown over a shoulder: a front that slides further comes off it; our choice", 0.5, 150),
})  # fmt: skip


@dataclass(frozen=True)
class Check:
    """One reading held against one limit.

    where: the part it speaks of. key: dotted key of the reading. way: a fault lies `above` the limit, `below` it, or on
    `either` side of ± the limit. clause: the fault in words, to be followed by how likely it is.
    """

    where: str
    key: str
    limit: str
    clause: str
    way: str = "above"


def at(side: str) -> str:
    """Where a side of the neck is, in words."""
    return {"front": "in front", "back": "behind"}.get(side, f"on the {side}")


SIDES: Final = ("front", "left", "back", "right")
CHECKS: Final = (
    *(Check("neck", f"neck.gap_{side}_cm", "gap_cm", f"gapes too wide {at(side)}") for side in SIDES),
    Check("neck", "neck.gap_max_cm", "gap_cm", "gapes too wide between the four sides"),
    *(Check("neck", f"neck.ride_{side}_cm", "ride_cm", f"rides too high {at(side)}") for side in SIDES),
    *(Check("neck", f"neck.ride_{side}_cm", "fallen_cm", f"has fallen too low {at(side)}", "below") for side in SIDES),
    Check("neck", "neck.throat_line_load_n_m", "throat_line_load_n_m", "presses the throat too hard"),
    *(
        Check(f"{side} shoulder", f"shoulder_{side}.stand_off_mean_cm", "stand_off_cm", "stands off too far")
        for side in ("left", "right")
    ),
    Check("spare cloth", "spare.percent", "spare_percent", "more cloth than neck and shoulders need"),
    Check("crowding", "crowding.max_percent", "crowding_percent", "too much cloth round neck and shoulders"),
    Check("dart", "dart.0.angle_to_shoulder_deg", "dart_deg", "too far off the shoulder line"),
    Check("dart", "dart.0.point_short_cm", "dart_point_cm", "ends too far off the shoulder point", "either"),
    Check("dart", "dart.0.point_gap_cm", "dart_gap_cm", "stands off too far at its point"),
    Check("closure", "closure.shift_cm", "closure_cm", "too far off its line", "either"),
    Check("closure", "closure.pull_n", "pull_n", "pulls too hard on its fastening"),
    Check("closure", "closure.gape_cm", "opening_cm", "opens too wide below the fastening"),
    Check("hem", "fall.level_cm", "level_cm", "too far out of level"),
    Check("hem", "fall.clearance_cm", "clearance_cm", "too near the floor", "below"),
    Check("balance", "balance.forward_cm", "shift_cm", "the neck edge has gone too far forward or back", "either"),
    Check("balance", "balance.left_cm", "shift_cm", "the neck edge has gone too far sideways", "either"),
    Check("balance", "balance.turn_deg", "turn_deg", "turned too far", "either"),
)  # fmt: skip
WHERE: Final = tuple(dict.fromkeys(check.where for check in CHECKS))  # the order in which a maker looks

# What a fault harms, gravest first, and so within each: the wearer; the cut, for no finishing puts right what lies off
# neck and shoulders; the finish, put right on the cloak that is made. Common practice, no source.
HARM: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType({
    "wearer": ("throat_line_load_n_m", "clearance_cm"),
    "cut": ("spare_percent", "crowding_percent", "stand_off_cm", "gap_cm", "ride_cm", "fallen_cm"),
    "finish": (
        "pull_n", "opening_cm", "dart_gap_cm", "dart_point_cm", "dart_deg", "closure_cm", "shift_cm", "turn_deg",
        "level_cm",
    ),
})  # fmt: skip
BY_HARM: Final = tuple(limit for limits in HARM.values() for limit in limits)
SITTING: Final = ("wearer", "cut")  # a draft sits when nothing of these is at fault; the rest is for the fitting


@dataclass(frozen=True)
class Held:
    """A reading held against its limit. excess: how far beyond, in its own unit; spread: 0 where none is known.

    allowed: how far off the verdict allows the reading to be; the spread where nothing else is said.
    """

    check: Check
    value: float
    spread: float
    limit: float
    allowed: float = -1.0

    def __post_init__(self) -> None:
        if self.allowed < 0.0:
            object.__setattr__(self, "allowed", self.spread)

    @property
    def excess(self) -> float:
        """How far the reading lies beyond its limit; negative while it is within."""
        if self.check.way == "below":
            return self.limit - self.value
        return (abs(self.value) if self.check.way == "either" else self.value) - self.limit

    @property
    def likely(self) -> float | None:
        """How likely another run is to be beyond the limit, 0 to 1; None where no spread is known.

        Another run is taken as normal about this reading with the spread as its standard deviation: it then comes
        within the spread two times in three, which is how `spread` defines it.
        """
        if not self.spread:
            return None
        sides = [self.value - self.limit] if self.check.way == "above" else [self.limit - self.value]
        if self.check.way == "either":
            sides = [self.value - self.limit, -self.value - self.limit]
        return sum(0.5 * math.erfc(-off / (math.sqrt(2.0) * self.spread)) for off in sides)

    @property
    def is_undecided(self) -> bool:
        """Whether what the verdict allows the reading reaches across the limit."""
        return 0.0 < self.allowed and abs(self.excess) <= self.allowed

    @property
    def is_fault(self) -> bool:
        """Whether it is beyond the limit, spread and all; so is a shoulder without cloth."""
        return math.isnan(self.value) or (self.excess > 0.0 and not self.is_undecided)

    @property
    def harm(self) -> str:
        """What a fault here harms: a key of HARM."""
        return next(harm for harm, limits in HARM.items() if self.check.limit in limits)


def limits_of(own: Mapping[str, float] | None = None) -> dict[str, float]:
    """Every limit, with some of one's own in place of the usual ones."""
    return {name: threshold.value for name, threshold in THRESHOLDS.items()} | dict(own or {})


def held(readings: Readings, own_limits: Mapping[str, float] | None = None) -> list[Held]:
    """Every reading that is there and has a limit, held against it, in the order of CHECKS."""
    limits, note, few = limits_of(own_limits), readings.get("spread") or {}, allowed_of_few(readings)
    found = []
    for check in checks_of(readings):
        value = value_at(readings, check.key)
        if value is not None:
            spread = value_at(readings, f"{check.key}_spread") or 0.0
            allowed = few.get(check.key, note.get("verdict_share", 1.0) * spread)
            found.append(Held(check, value, spread, limits[check.limit], allowed))
    return found


def checks_of(readings: Readings) -> list[Check]:
    """The checks, those of the first dart for every dart there is; a dart's point is judged off the shoulders only.

    On a shoulder the stand-off says how the cloth lies.
    """
    darts = readings.get("dart") or []
    first = [check for check in CHECKS if check.where == "dart"]
    of_darts = [
        replace(check, key=check.key.replace(".0.", f".{k}.", 1))
        for k, dart in enumerate(darts)
        for check in first
        if check.limit != "dart_gap_cm" or "angle_to_shoulder_deg" not in dart
    ]
    at = CHECKS.index(first[0])
    return [*CHECKS[:at], *of_darts, *CHECKS[at + len(first) :]]


@dataclass(frozen=True)
class Advice:
    """What to change: in words, and the keys of the scene to write, as JSON shows them; see `advice`."""

    words: str = ""
    changes: tuple[Mapping[str, Any], ...] = ()


def no_advice(_: Held) -> Advice:
    """What to change where nothing is known of the draft."""
    return Advice()


def judge(
    readings: Readings,
    own_limits: Mapping[str, float] | None = None,
    adviser: Callable[[Held], Advice] = no_advice,
) -> list[Verdict]:
    """Sentences: what is wrong or may be, in order of harm; then what is in order, as a maker looks.

    adviser: what to change about a reading that is beyond its limit, or more likely so than not.
    """
    wrong = wrong_or_may_be(readings, own_limits)
    said = []
    for one in wrong:
        if one.is_undecided:
            said.append(undecided(one, readings, adviser(one) if one.excess > 0 else Advice()))
        else:
            said.append(fault(one, readings, adviser(one)))
    judged = {one.check.where for one in spoken(held(readings, own_limits))} | {"spare cloth"}
    for where in WHERE:
        if where == "hem":
            said.append(verdict(where, hem_words(readings["fall"])))
        elif where in judged - {one.check.where for one in wrong}:
            said += in_order(where, readings)
    return said


def wrong_or_may_be(readings: Readings, own_limits: Mapping[str, float] | None = None) -> list[Held]:
    """The readings at fault or undecided, in order of harm, what is certain before what may be."""
    every = spoken(held(readings, own_limits))
    wrong = [one for one in [*every, *bare(readings)] if one.is_fault or one.is_undecided]
    if any(one.check.limit == "gap_cm" and side_of(one) in SIDES for one in wrong):  # the largest gap is theirs
        wrong = [one for one in wrong if one.check.key != "neck.gap_max_cm"]
    return sorted(wrong, key=lambda one: (list(HARM).index(one.harm), one.is_undecided, BY_HARM.index(one.check.limit)))


def spoken(every: Sequence[Held]) -> list[Held]:
    """The readings that have a verdict of their own: crowding only where spare cloth does not decide.

    Both see the same cloth. How much of it folds in is chance, how much there is is not.
    """
    decides = any(one.check.limit == "spare_percent" and not one.is_undecided for one in every)
    return [one for one in every if not (decides and one.check.limit == "crowding_percent")]


def bare(readings: Readings) -> list[Held]:
    """A stand-off that is no number for each shoulder without cloth."""
    checks = [check for check in CHECKS if check.limit == "stand_off_cm"]
    there = [check for check in checks if check.key.partition(".")[0] in readings]
    return [Held(check, math.nan, 0.0, 0.0) for check in there if value_at(readings, check.key) is None]


def verdict(where: str, finding: str, advice: Advice = Advice(), *, of: Held | None = None) -> Verdict:
    """One sentence, with what to change or nothing. of: the reading that is wrong or may be."""
    likely = None if of is None else of.likely
    return {
        "where": where,
        "finding": finding,
        "mend": advice.words,
        "undecided": of is not None and of.is_undecided,
        "likely_percent": None if likely is None else round(100 * likely),
        "changes": [dict(change) for change in advice.changes],
        "reading": None if of is None else of.check.key,
        "harm": None if of is None else of.harm,
    }


IN_WORDS: Final = MappingProxyType({"°": "degrees", "N/m": "N per metre"})  # units that a sentence spells out


def odds(likely: float) -> str:
    """A likelihood to the nearest tenth as people say it: `7 in 10`, `4 in 5`."""
    tenths = min(max(round(10 * likely), 1), 9)
    common = math.gcd(tenths, 10)
    return f"{tenths // common} in {10 // common}"


def undecided(one: Held, readings: Readings, advice: Advice) -> Verdict:
    """Said of a reading that may be on either side of its limit: how likely it is beyond it, where that is known, and
    from what that follows.
    """
    check, likely = one.check, one.likely
    symbol = unit_of(check.key).symbol
    unit = IN_WORDS.get(symbol, symbol)
    size = abs(one.value) if check.way == "either" else one.value
    which = dart_name(one, readings) if check.where == "dart" else ""
    decimals = 2 if abs(one.excess) < 0.1 else 1  # so that 1.54 does not read as the 1.5 that is its limit
    reads, limit = f"It reads {size:.{decimals}f} {unit}", f"the limit is {one.limit:g}"
    if likely is None:
        finding = f"{which}{check.clause}: not certain from so few runs. {reads}; {limit}."
    else:
        finding = f"{which}{check.clause}: {odds(likely)}. {reads}, give or take {one.spread:.{decimals}f}; {limit}."
    return verdict(check.where, finding, advice, of=one)


def fault(one: Held, readings: Readings, advice: Advice) -> Verdict:
    """What is wrong and what to change."""
    return verdict(one.check.where, FAULTS[one.check.limit](one, readings), advice, of=one)


def side_of(one: Held) -> str:
    """The side of the neck a check speaks of."""
    return one.check.key.removesuffix("_cm").rpartition("_")[2]


def _gapes(one: Held, readings: Readings) -> str:
    side = side_of(one)
    where = at(side) if side in SIDES else f"at the {readings['neck']['gap_max_at']}"
    return f"gapes by {one.value:.1f} cm {where}."


def _rides(one: Held, _: Readings) -> str:
    return f"rides {one.value:.1f} cm up {at(side_of(one))}."


def _has_fallen(one: Held, _: Readings) -> str:
    return f"has fallen {-one.value:.1f} cm {at(side_of(one))}."


def _presses(one: Held, readings: Readings) -> str:
    total = readings["neck"]["throat_load_n"]
    return f"presses the throat: {total:.1f} N on the neck, {one.value:.0f} N per metre at the worst place in front."


def _stands_off(one: Held, readings: Readings) -> str:
    if math.isnan(one.value):
        return "is bare: no cloth over the shoulder line."
    most = readings[f"shoulder_{one.check.where.split()[0]}"]["stand_off_max_cm"]
    return f"stands off by {one.value:.1f} cm on average, {most:.1f} cm at most."


def _has_spare(one: Held, readings: Readings) -> str:
    within = readings["spare"]["within_cm"]
    return f"{one.value:.0f} % of the cloth within {within:.0f} cm of the neck's base has no body to lie on."


def _crowds(one: Held, readings: Readings) -> str:
    crowding = readings["crowding"]
    worst = max(range(len(crowding["at_cm"])), key=lambda k: crowding["fullness_percent"][k])
    folds = crowding["folds"][worst]
    many = f"{folds} fold{'' if folds == 1 else 's'}"
    return (
        f"{one.value:.1f} % more cloth than it goes round, {crowding['at_cm'][worst]:.0f} cm below the neck, in {many}."
    )


def dart_name(one: Held, readings: Readings) -> str:
    """Which dart a check speaks of, to stand before what it does; nothing where there is only one."""
    darts = readings["dart"]
    return f"at the {darts[dart_number(one)]['place']} " if len(darts) > 1 else ""


def dart_number(one: Held) -> int:
    """Place in the readings' list of the dart a check speaks of."""
    return int(one.check.key.split(".")[1])


def _dart_turned(one: Held, readings: Readings) -> str:
    return f"{dart_name(one, readings)}lies {one.value:.0f} degrees off the shoulder line."


def _dart_ends(one: Held, readings: Readings) -> str:
    way = "short of" if one.value > 0 else "beyond"
    return f"{dart_name(one, readings)}ends {abs(one.value):.1f} cm {way} the shoulder point."


def _dart_stands_off(one: Held, readings: Readings) -> str:
    return f"{dart_name(one, readings)}stands {one.value:.1f} cm off at its point."


def _closure_off(one: Held, readings: Readings) -> str:
    if readings["closure"]["place"] == "centre front":
        return f"lies {abs(one.value):.1f} cm to the {'left' if one.value > 0 else 'right'} of centre front."
    return f"lies {abs(one.value):.1f} cm {'forward' if one.value > 0 else 'back'} of the shoulder line."


def _closure_pulls(one: Held, _: Readings) -> str:
    return f"pulls with {one.value:.0f} N on its fastening."


def _opens(one: Held, _: Readings) -> str:
    return f"stands {one.value:.1f} cm open, 10 cm below the end of the fastening."


def _not_level(one: Held, _: Readings) -> str:
    return f"not level, by {one.value:.0f} cm."


def _trails(one: Held, _: Readings) -> str:
    return f"only {one.value:.1f} cm off the floor." if one.value >= 0 else f"{-one.value:.1f} cm too long: it drags."


def _shifted(one: Held, _: Readings) -> str:
    off = one.value
    if one.check.key.endswith("left_cm"):
        return f"the neck edge has gone {abs(off):.1f} cm to the {'left' if off > 0 else 'right'}."
    return f"the neck edge has gone {abs(off):.1f} cm {'forward' if off > 0 else 'back'}."


def _turned(one: Held, _: Readings) -> str:
    return f"the cloak has turned {abs(one.value):.0f} degrees to the {'left' if one.value > 0 else 'right'}."


FAULTS: Final = MappingProxyType({
    "gap_cm": _gapes, "ride_cm": _rides, "fallen_cm": _has_fallen, "throat_line_load_n_m": _presses,
    "stand_off_cm": _stands_off, "spare_percent": _has_spare, "crowding_percent": _crowds, "dart_deg": _dart_turned,
    "dart_point_cm": _dart_ends, "dart_gap_cm": _dart_stands_off, "closure_cm": _closure_off,
    "pull_n": _closure_pulls, "opening_cm": _opens, "level_cm": _not_level, "clearance_cm": _trails,
    "shift_cm": _shifted, "turn_deg": _turned,
})  # fmt: skip


def hem_words(fall: Readings) -> str:
    """Where the hem falls, whether it is at fault or not."""
    level, lowest = fall["level_cm"], fall["clearance_cm"]
    off = f"{lowest:.0f} cm off" if lowest >= 0 else f"{-lowest:.0f} cm below"
    return (
        f"the {fall['word']} hangs to {fall['reaches']} on average; {off} the floor at the "
        f"lowest, {level:.{0 if level >= 1 else 1}f} cm between highest and lowest."
    )


def in_order(where: str, readings: Readings) -> list[Verdict]:
    """What is said of a part in which nothing is at fault or undecided."""
    if where in ("left shoulder", "right shoulder"):
        mean = readings[f"shoulder_{where.split()[0]}"]["stand_off_mean_cm"]
        return [verdict(where, f"lies; the cloth is {mean:.1f} cm off on average.")]
    if where == "spare cloth" and value_at(readings, "spare.percent") is None:
        return [verdict(where, "not told: no cloth near the neck's base.")]
    at_front = readings["closure"]["place"] == "centre front"
    words = {
        "neck": "sits.",
        "spare cloth": "none to speak of: as much cloth as neck and shoulders need.",
        "crowding": "none to speak of round the neck and shoulders.",
        "dart": darts_in_order(readings["dart"]),
        "closure": "lies on centre front." if at_front else "lies on the shoulder line.",
    }.get(where, "")
    return [verdict(where, words)] if words else []


def darts_in_order(darts: Sequence[Readings]) -> str:
    """What is said of darts with nothing wrong; nothing where there are none."""
    if not darts:
        return ""
    if any("angle_to_shoulder_deg" not in dart for dart in darts):
        return "lies at its point." if len(darts) == 1 else "all lie at their points."
    lies, ends = ("lies", "ends") if len(darts) == 1 else ("all lie", "end")
    return f"{lies} along the shoulder line and {ends} at the shoulder point."
