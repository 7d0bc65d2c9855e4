"""Verdicts: readings → plain sentences about neck, shoulders, closure, hem and balance.

In: the groups `reading` returns. Out: a list of {where, finding, mend}. All thresholds stand in one
table with the reason for each; the same for every draft. What to change by how much is not worked
out here: a mend names the dimension and the way to move it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

Readings = Mapping[str, Any]
Verdict = dict[str, str]


@dataclass(frozen=True)
class Threshold:
    """A limit of a verdict, in the unit of the reading it judges, and why it is there."""

    value: float
    reason: str


THRESHOLDS: Mapping[str, Threshold] = {
    "gap_cm": Threshold(1.5, "more than a finger's breadth lets the wind in; common practice, no source"),
    "ride_cm": Threshold(2.5, "a neck edge this far up the neck base rubs the jaw; common practice, no source"),
    "fallen_cm": Threshold(-2.0, "a neck edge this far down shows what is worn below; common practice, no source"),
    "throat_line_load_n_m": Threshold(
        20.0, "0.15 kPa over a 13 cm collarbone-to-chin reach, about a light scarf's pull; from memory"
    ),
    "stand_off_cm": Threshold(1.0, "a hand can be slid under a shoulder that does not lie; common practice, no source"),
    "crowding_percent": Threshold(3.0, "more than 1 cm of spare cloth in a round of 40 cm shows as folds; our choice"),
    "dart_deg": Threshold(8.0, "a seam 2 cm off over a 15 cm shoulder is seen as crooked; our choice"),
    "closure_cm": Threshold(2.0, "the closure seam is seen off the shoulder line; our choice"),
    "level_cm": Threshold(5.0, "a hem this uneven is seen at walking distance; common practice, no source"),
    "turn_deg": Threshold(10.0, "3 cm round a waist of 90 cm; our choice"),
    "shift_cm": Threshold(2.0, "the neck edge is seen off the neck's middle; our choice"),
}


def limit(name: str) -> float:
    """The value of a threshold."""
    return THRESHOLDS[name].value


def judge(readings: Readings) -> list[Verdict]:
    """Sentences for every part, faults first within a part, in the order a maker looks."""
    return [
        *judge_neck(readings["neck"]),
        *judge_shoulder("left shoulder", readings["shoulder_left"], wedge_at(readings, "left")),
        *judge_shoulder("right shoulder", readings["shoulder_right"], wedge_at(readings, "right")),
        *judge_crowding(readings["crowding"]),
        *[verdict for dart in readings["dart"] for verdict in judge_dart(dart)],
        *judge_closure(readings["closure"]),
        *judge_fall(readings["fall"]),
        *judge_balance(readings["balance"]),
    ]


def verdict(where: str, finding: str, mend: str = "") -> Verdict:
    """One sentence, with what to change or nothing."""
    return {"where": where, "finding": finding, "mend": mend}


def judge_neck(neck: Readings) -> list[Verdict]:
    """Gapes, rides up, has fallen, presses the throat; or sits."""
    found = []
    for side in ("front", "left", "back", "right"):
        gap, ride = neck[f"gap_{side}_cm"], neck[f"ride_{side}_cm"]
        if gap > limit("gap_cm"):
            found.append(
                verdict("neck", f"gapes by {gap:.1f} cm {at(side)}.", "Narrow the neck or take more into the shoulders.")
            )
        if ride > limit("ride_cm"):
            way = "Deepen the front of the neck." if side == "front" else "Take more into the shoulders."
            found.append(verdict("neck", f"rides {ride:.1f} cm up {at(side)}.", way))
        if ride < limit("fallen_cm"):
            found.append(verdict("neck", f"has fallen {-ride:.1f} cm {at(side)}.", f"Make the neck shallower {at(side)}."))
    if neck["throat_line_load_n_m"] > limit("throat_line_load_n_m"):
        found.append(
            verdict(
                "neck",
                f"presses the throat: {neck['throat_load_n']:.1f} N on the neck, "
                f"{neck['throat_line_load_n_m']:.0f} N per metre at the worst place in front.",
                "Deepen the front of the neck.",
            )
        )
    return found or [verdict("neck", "sits.")]


def at(side: str) -> str:
    """Where a side of the neck is, in words."""
    return {"front": "in front", "back": "behind"}.get(side, f"on the {side}")


def judge_shoulder(where: str, shoulder: Readings, wedge: str) -> list[Verdict]:
    """Stands off or lies."""
    mean = shoulder["stand_off_mean_cm"]
    if mean is None:
        return [verdict(where, "is bare: no cloth over the shoulder line.", "Narrow the neck.")]
    if mean > limit("stand_off_cm"):
        return [
            verdict(
                where,
                f"stands off by {mean:.1f} cm on average, {shoulder['stand_off_max_cm']:.1f} cm at most.",
                f"Take more out over this shoulder, in {wedge}.",
            )
        ]
    return [verdict(where, f"lies; the cloth is {mean:.1f} cm off on average.")]


def wedge_at(readings: Readings, side: str) -> str:
    """What takes cloth out over a shoulder: the cuts where the closure is, else a dart."""
    return "the cuts at the closure" if readings["closure"]["place"] == f"{side} shoulder" else "a dart"


def judge_crowding(crowding: Readings) -> list[Verdict]:
    """Crowds at a level, or not."""
    worst = max(range(len(crowding["at_cm"])), key=lambda k: crowding["fullness_percent"][k])
    fullness = crowding["fullness_percent"][worst]
    if fullness <= limit("crowding_percent"):
        return [verdict("crowding", "none to speak of round the neck and shoulders.")]
    folds = crowding["folds"][worst]
    many = f"{folds} fold{'' if folds == 1 else 's'}"
    return [
        verdict(
            "crowding",
            f"{fullness:.1f} % more cloth than it goes round, {crowding['at_cm'][worst]:.0f} cm below the neck, in {many}.",
            "Take the spare cloth into dart and shoulder cuts, or make the neck wider.",
        )
    ]


def judge_dart(dart: Readings) -> list[Verdict]:
    """Right, turned, long or short; of a dart away from the shoulders, whether its point stands off."""
    if "angle_to_shoulder_deg" not in dart:
        gap = dart["point_gap_cm"]
        if gap > limit("stand_off_cm"):
            return [verdict("dart", f"at {dart['place']} stands {gap:.1f} cm off at its point.", "Take out less, or lengthen it.")]
        return [verdict("dart", f"at {dart['place']} lies at its point.")]
    found = []
    if dart["angle_to_shoulder_deg"] > limit("dart_deg"):
        found.append(
            verdict("dart", f"lies {dart['angle_to_shoulder_deg']:.0f} degrees off the shoulder line.", "Move the dart.")
        )
    if abs(dart["point_short_cm"]) > limit("closure_cm"):
        off = dart["point_short_cm"]
        found.append(
            verdict(
                "dart",
                f"ends {abs(off):.1f} cm {'short of' if off > 0 else 'beyond'} the shoulder point.",
                f"Make it {'longer' if off > 0 else 'shorter'}.",
            )
        )
    return found or [verdict("dart", "lies along the shoulder line and ends at the shoulder point.")]


def judge_closure(closure: Readings) -> list[Verdict]:
    """On its line or off it."""
    shift = closure["shift_cm"]
    if closure["place"] == "centre front":
        if abs(shift) > limit("closure_cm"):
            way = "left" if shift > 0 else "right"
            return [verdict("closure", f"lies {abs(shift):.1f} cm to the {way} of centre front.", "Check both shoulders.")]
        return [verdict("closure", "lies on centre front.")]
    if abs(shift) > limit("closure_cm"):
        way, from_to = ("forward", "front to back") if shift > 0 else ("back", "back to front")
        finding = f"lies {abs(shift):.1f} cm {way} of the shoulder line."
        return [verdict("closure", finding, f"Shift length from {from_to}.")]
    return [verdict("closure", "lies on the shoulder line.")]


def judge_fall(fall: Readings) -> list[Verdict]:
    """Where the hem falls and how level it is."""
    text = f"a {fall['word']}: {fall['reaches']} on average; {fall['clearance_cm']:.0f} cm off the floor at the lowest."
    if fall["level_cm"] > limit("level_cm"):
        return [
            verdict(
                "hem",
                f"{text} Not level: {fall['level_cm']:.0f} cm between highest and lowest.",
                "Let it hang, then level it from the floor.",
            )
        ]
    level = fall["level_cm"]
    return [verdict("hem", f"{text} Level within {level:.{0 if level >= 1 else 1}f} cm.")]


def judge_balance(balance: Readings) -> list[Verdict]:
    """Falls back or forward, turns; silent when neither."""
    found = []
    forward = balance["forward_cm"]
    if abs(forward) > limit("shift_cm"):
        found.append(
            verdict("balance", f"the neck edge has gone {abs(forward):.1f} cm {'forward' if forward > 0 else 'back'}.",
                    "Deepen the neck in front." if forward < 0 else "Deepen the neck behind.")
        )
    if abs(balance["turn_deg"]) > limit("turn_deg"):
        way = "left" if balance["turn_deg"] > 0 else "right"
        found.append(verdict("balance", f"the cloak has turned {abs(balance['turn_deg']):.0f} degrees to the {way}."))
    return found
