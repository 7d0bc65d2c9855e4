"""Verdicts: readings → plain sentences about neck, shoulders, closure, hem and balance.

In: the groups `reading` returns, with their spreads where known, and the limits. Out: a list of {where, finding, mend,
undecided}. Which reading is held against which limit stands in `CHECKS`, the limits in `THRESHOLDS` with the reason of
each; the same for every draft. How much to change is left to `mend`: a verdict names the dimension and the way to move it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, Final

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
    "level_cm": Threshold(
        5.0, "a hem this uneven is seen at walking distance; common practice, no source", 0.5, 50),
    "clearance_cm": Threshold(
        5.0, "a hem nearer the floor is trodden on; common practice, no source", 0, 60),
    "turn_deg": Threshold(
        10.0, "3 cm round a waist of 90 cm; our choice", 1, 90),
    "shift_cm": Threshold(
        2.0, "the neck edge is seen off the neck's middle; our choice", 0.1, 20),
})  # fmt: skip


@dataclass(frozen=True)
class Check:
    """One reading held against one limit.

    where: the part it speaks of. key: dotted key of the reading. way: a fault lies `above` the limit, `below` it, or on
    `either` side of ± the limit. clause: the fault in words, to follow "whether".
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
    *(Check("neck", f"neck.gap_{side}_cm", "gap_cm", f"it gapes {at(side)}") for side in SIDES),
    Check("neck", "neck.gap_max_cm", "gap_cm", "it gapes between the four sides"),
    *(Check("neck", f"neck.ride_{side}_cm", "ride_cm", f"it rides up {at(side)}") for side in SIDES),
    *(Check("neck", f"neck.ride_{side}_cm", "fallen_cm", f"it has fallen {at(side)}", "below") for side in SIDES),
    Check("neck", "neck.throat_line_load_n_m", "throat_line_load_n_m", "it presses the throat"),
    *(
        Check(f"{side} shoulder", f"shoulder_{side}.stand_off_mean_cm", "stand_off_cm", "it stands off")
        for side in ("left", "right")
    ),
    Check("crowding", "crowding.max_percent", "crowding_percent", "cloth crowds round neck and shoulders"),
    Check("dart", "dart.0.angle_to_shoulder_deg", "dart_deg", "it lies off the shoulder line"),
    Check("dart", "dart.0.point_short_cm", "dart_point_cm", "it ends off the shoulder point", "either"),
    Check("dart", "dart.0.point_gap_cm", "dart_gap_cm", "the cloth stands off at its point"),
    Check("closure", "closure.shift_cm", "closure_cm", "it lies off its line", "either"),
    Check("closure", "closure.pull_n", "pull_n", "it pulls"),
    Check("hem", "fall.level_cm", "level_cm", "it is out of level"),
    Check("hem", "fall.clearance_cm", "clearance_cm", "it comes too near the floor", "below"),
    Check("balance", "balance.forward_cm", "shift_cm", "the neck edge has gone forward or back", "either"),
    Check("balance", "balance.left_cm", "shift_cm", "the neck edge has gone sideways", "either"),
    Check("balance", "balance.turn_deg", "turn_deg", "the cloak has turned", "either"),
)  # fmt: skip
WHERE: Final = tuple(dict.fromkeys(check.where for check in CHECKS))  # the order in which a maker looks


@dataclass(frozen=True)
class Held:
    """A reading held against its limit. excess: how far beyond, in its own unit; spread: 0 where none is known."""

    check: Check
    value: float
    spread: float
    limit: float

    @property
    def excess(self) -> float:
        """How far the reading lies beyond its limit; negative while it is within."""
        if self.check.way == "below":
            return self.limit - self.value
        return (abs(self.value) if self.check.way == "either" else self.value) - self.limit

    @property
    def is_undecided(self) -> bool:
        """Whether the spread reaches across the limit."""
        return 0.0 < self.spread and abs(self.excess) <= self.spread

    @property
    def is_fault(self) -> bool:
        """Whether it is beyond the limit, spread and all."""
        return self.excess > 0.0 and not self.is_undecided


def limits_of(own: Mapping[str, float] | None = None) -> dict[str, float]:
    """Every limit, with some of one's own in place of the usual ones."""
    return {name: threshold.value for name, threshold in THRESHOLDS.items()} | dict(own or {})


def held(readings: Readings, own_limits: Mapping[str, float] | None = None) -> list[Held]:
    """Every reading that is there and has a limit, held against it, in the order of CHECKS."""
    limits = limits_of(own_limits)
    found = []
    for check in checks_of(readings):
        value = reading_at(readings, check.key)
        if value is not None:
            spread = reading_at(readings, f"{check.key}_spread")
            found.append(Held(check, value, spread or 0.0, limits[check.limit]))
    return found


def checks_of(readings: Readings) -> list[Check]:
    """The checks, those of the first dart for every dart there is; a dart's point is judged off the shoulders only.

    On a shoulder the stand-off says how the cloth lies.
    """
    darts = readings["dart"]
    first = [check for check in CHECKS if check.where == "dart"]
    of_darts = [
        replace(check, key=check.key.replace(".0.", f".{k}.", 1))
        for k, dart in enumerate(darts)
        for check in first
        if check.limit != "dart_gap_cm" or "angle_to_shoulder_deg" not in dart
    ]
    at = CHECKS.index(first[0])
    return [*CHECKS[:at], *of_darts, *CHECKS[at + len(first) :]]


def reading_at(readings: Readings, key: str) -> float | None:
    """The number under a dotted key, or None where there is none."""
    value: Any = readings
    for part in key.split("."):
        if isinstance(value, Mapping):
            value = value.get(part)
        elif isinstance(value, list) and part.isdigit() and int(part) < len(value):
            value = value[int(part)]
        else:
            return None
    return value


def judge(readings: Readings, own_limits: Mapping[str, float] | None = None) -> list[Verdict]:
    """Sentences for every part, in the order a maker looks: its faults, then what is undecided; or that it is right."""
    every = held(readings, own_limits)
    said: list[Verdict] = []
    for where in WHERE:
        here = [one for one in every if one.check.where == where]
        sides = [one for one in here if one.check.limit == "gap_cm" and side_of(one) in SIDES]
        if any(one.is_fault or one.is_undecided for one in sides):  # the largest gap is theirs
            here = [one for one in here if one.check.key != "neck.gap_max_cm"]
        found = [fault(one, readings) for one in here if one.is_fault]
        found += [undecided(one) for one in here if one.is_undecided]
        if where == "hem":
            found.insert(0, verdict(where, hem_words(readings["fall"])))
        said += found or in_order(where, readings)
    return said


def verdict(where: str, finding: str, mend: str = "", *, is_undecided: bool = False) -> Verdict:
    """One sentence, with what to change or nothing."""
    return {"where": where, "finding": finding, "mend": mend, "undecided": is_undecided}


def undecided(one: Held) -> Verdict:
    """Said of a reading whose spread reaches across its limit."""
    check = one.check
    unit = {"_cm": " cm", "deg": " degrees", "ent": " %", "n_m": " N per metre", "l_n": " N"}[check.key[-3:]]
    size = abs(one.value) if check.way == "either" else one.value
    finding = (
        f"undecided whether {check.clause}: {size:.1f}{unit}, give or take {one.spread:.1f}, and {one.limit:g} is the limit."
    )
    return verdict(check.where, finding, is_undecided=True)


def fault(one: Held, readings: Readings) -> Verdict:
    """What is wrong and what to change."""
    finding, mend = FAULTS[one.check.limit](one, readings)
    return verdict(one.check.where, finding, mend)


def side_of(one: Held) -> str:
    """The side of the neck a check speaks of."""
    return one.check.key.removesuffix("_cm").rpartition("_")[2]


def _gapes(one: Held, readings: Readings) -> tuple[str, str]:
    side = side_of(one)
    where = at(side) if side in SIDES else f"at the {readings['neck']['gap_max_at']}"
    return f"gapes by {one.value:.1f} cm {where}.", "Narrow the neck or take more into the shoulders."


def _rides(one: Held, _: Readings) -> tuple[str, str]:
    way = "Deepen the front of the neck." if side_of(one) == "front" else "Take more into the shoulders."
    return f"rides {one.value:.1f} cm up {at(side_of(one))}.", way


def _has_fallen(one: Held, _: Readings) -> tuple[str, str]:
    where = at(side_of(one))
    return f"has fallen {-one.value:.1f} cm {where}.", f"Make the neck shallower {where}."


def _presses(one: Held, readings: Readings) -> tuple[str, str]:
    total = readings["neck"]["throat_load_n"]
    finding = f"presses the throat: {total:.1f} N on the neck, {one.value:.0f} N per metre at the worst place in front."
    return finding, "Deepen the front of the neck."


def _stands_off(one: Held, readings: Readings) -> tuple[str, str]:
    is_left = one.check.where == "left shoulder"
    most = readings["shoulder_left" if is_left else "shoulder_right"]["stand_off_max_cm"]
    wedge = "the cuts at the closure" if readings["closure"]["place"] == one.check.where else "a dart"
    finding = f"stands off by {one.value:.1f} cm on average, {most:.1f} cm at most."
    return finding, f"Take more out over this shoulder, in {wedge}."


def _crowds(one: Held, readings: Readings) -> tuple[str, str]:
    crowding = readings["crowding"]
    worst = max(range(len(crowding["at_cm"])), key=lambda k: crowding["fullness_percent"][k])
    folds = crowding["folds"][worst]
    many = f"{folds} fold{'' if folds == 1 else 's'}"
    finding = f"{one.value:.1f} % more cloth than it goes round, {crowding['at_cm'][worst]:.0f} cm below the neck, in {many}."
    return finding, "Take the spare cloth into dart and shoulder cuts, or make the neck wider."


def dart_name(one: Held, readings: Readings) -> str:
    """Which dart a check speaks of, to stand before what it does; nothing where there is only one."""
    darts = readings["dart"]
    return f"at the {darts[int(one.check.key.split('.')[1])]['place']} " if len(darts) > 1 else ""


def _dart_turned(one: Held, readings: Readings) -> tuple[str, str]:
    return f"{dart_name(one, readings)}lies {one.value:.0f} degrees off the shoulder line.", "Move the dart."


def _dart_ends(one: Held, readings: Readings) -> tuple[str, str]:
    off = one.value
    way = "short of" if off > 0 else "beyond"
    finding = f"{dart_name(one, readings)}ends {abs(off):.1f} cm {way} the shoulder point."
    return finding, f"Make it {'longer' if off > 0 else 'shorter'}."


def _dart_stands_off(one: Held, readings: Readings) -> tuple[str, str]:
    return f"{dart_name(one, readings)}stands {one.value:.1f} cm off at its point.", "Take out less, or lengthen it."


def _closure_off(one: Held, readings: Readings) -> tuple[str, str]:
    if readings["closure"]["place"] == "centre front":
        side = "left" if one.value > 0 else "right"
        return f"lies {abs(one.value):.1f} cm to the {side} of centre front.", "Check both shoulders."
    way, from_to = ("forward", "front to back") if one.value > 0 else ("back", "back to front")
    return f"lies {abs(one.value):.1f} cm {way} of the shoulder line.", f"Shift length from {from_to}."


def _closure_pulls(one: Held, _: Readings) -> tuple[str, str]:
    return f"pulls with {one.value:.0f} N on its fastening.", "Ease the neck, or take less into the shoulder cuts."


def _not_level(one: Held, _: Readings) -> tuple[str, str]:
    return f"not level, by {one.value:.0f} cm.", "Write level = true, or let it hang and level it from the floor."


def _trails(one: Held, _: Readings) -> tuple[str, str]:
    return f"only {one.value:.1f} cm off the floor.", f"Shorten it by {one.excess:.0f} cm or more."


def _shifted(one: Held, _: Readings) -> tuple[str, str]:
    off = one.value
    if one.check.key.endswith("left_cm"):
        return f"the neck edge has gone {abs(off):.1f} cm to the {'left' if off > 0 else 'right'}.", ""
    way, mend = ("forward", "behind") if off > 0 else ("back", "in front")
    return f"the neck edge has gone {abs(off):.1f} cm {way}.", f"Deepen the neck {mend}."


def _turned(one: Held, _: Readings) -> tuple[str, str]:
    return f"the cloak has turned {abs(one.value):.0f} degrees to the {'left' if one.value > 0 else 'right'}.", ""


FAULTS: Final = MappingProxyType({
    "gap_cm": _gapes, "ride_cm": _rides, "fallen_cm": _has_fallen, "throat_line_load_n_m": _presses,
    "stand_off_cm": _stands_off, "crowding_percent": _crowds, "dart_deg": _dart_turned, "dart_point_cm": _dart_ends,
    "dart_gap_cm": _dart_stands_off,
    "closure_cm": _closure_off, "pull_n": _closure_pulls, "level_cm": _not_level, "clearance_cm": _trails,
    "shift_cm": _shifted, "turn_deg": _turned,
})  # fmt: skip


def hem_words(fall: Readings) -> str:
    """Where the hem falls, whether it is at fault or not."""
    level = fall["level_cm"]
    return (
        f"a {fall['word']}: on average {fall['reaches']}; {fall['clearance_cm']:.0f} cm off the floor at the lowest, "
        f"{level:.{0 if level >= 1 else 1}f} cm between highest and lowest."
    )


def in_order(where: str, readings: Readings) -> list[Verdict]:
    """What is said of a part in which nothing is at fault or undecided."""
    if where in ("left shoulder", "right shoulder"):
        mean = readings[f"shoulder_{where.split()[0]}"]["stand_off_mean_cm"]
        if mean is None:
            return [verdict(where, "is bare: no cloth over the shoulder line.", "Narrow the neck.")]
        return [verdict(where, f"lies; the cloth is {mean:.1f} cm off on average.")]
    at_front = readings["closure"]["place"] == "centre front"
    words = {
        "neck": "sits.",
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
