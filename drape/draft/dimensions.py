"""Dimensions: what of a draft may be changed to better how it sits, and by how much at a time.

In: a `Style` and its `Draft`. Out: a dimension as the style gives it or the draft works it out, and the style with
another value. Lengths in metres; keys with their unit, as a scene file has them. Which to change, and when, is left to
`advice` and `mend`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

from drape.draft.outline import Draft
from drape.draft.style import Dart, Style, dart_place
from drape.units import bare_name, from_si, to_si

AIM: Final = 0.7  # a change is after readings at this share of their limit, so that they are not just within
WEDGE_FAULTS: Final = ("stand_off_cm", "spare_percent", "crowding_percent")


@dataclass(frozen=True)
class Dimension:
    """A dimension of the draft that may be changed.

    table, key: its place in a scene file. name: under which `draft` gives it. step: of the first try [m]; reach: how
    far it may go from where it started [m]. cures: limits it may bring a reading within. more, less: what to do.
    """

    table: str
    key: str
    name: str
    step: float
    reach: float
    cures: tuple[str, ...]
    more: str
    less: str


NECK_FAULTS: Final = ("ride_cm", "fallen_cm", "gap_cm", "throat_line_load_n_m", "shift_cm")
DIMENSIONS: Final = (
    Dimension("draft", "front_neck_depth_cm", "front_neck_depth", 0.010, 0.06, NECK_FAULTS,
              "deepen the front neck", "make the front neck shallower"),
    Dimension("draft", "back_neck_depth_cm", "back_neck_depth", 0.010, 0.05, NECK_FAULTS,
              "deepen the back neck", "make the back neck shallower"),
    Dimension("draft", "neck_width_cm", "neck_width", 0.010, 0.05,
              (*WEDGE_FAULTS, "ride_cm", "gap_cm", "fallen_cm", "pull_n"), "widen the neck", "narrow the neck"),
    Dimension("dart", "intake_cm", "dart_intake", 0.015, 0.08, (*WEDGE_FAULTS, "gap_cm", "turn_deg", "dart_deg"),
              "take more into the dart", "take less into the dart"),
    Dimension("closure", "shoulder_cut_intake_cm", "shoulder_cut_intake", 0.015, 0.08,
              (*WEDGE_FAULTS, "gap_cm", "closure_cm", "pull_n", "turn_deg"),
              "take more into the shoulder cuts", "take less into the shoulder cuts"),
    Dimension("dart", "length_cm", "dart_length", 0.015, 0.06, ("dart_point_cm", "dart_gap_cm", *WEDGE_FAULTS),
              "lengthen the dart", "shorten the dart"),
    Dimension("closure", "shoulder_cut_length_cm", "shoulder_cut_length", 0.015, 0.06, (*WEDGE_FAULTS, "closure_cm"),
              "lengthen the shoulder cuts", "shorten the shoulder cuts"),
    Dimension("draft", "length_cm", "length", 0.030, 0.40, ("clearance_cm",),
              "lengthen the cloak", "shorten the cloak"),
)  # fmt: skip


def shoulder_darts(style: Style, draft: Draft) -> list[tuple[int, Dart, float, float]]:
    """Darts on a shoulder: place in the style, the dart, its length and intake as drawn [m]."""
    drawn = {dart.place: dart for dart in draft.darts if dart.place}
    places = [(k, dart, dart_place(style, dart)) for k, dart in enumerate(style.darts)]
    return [(k, dart, drawn[p].length, drawn[p].intake) for k, dart, p in places if p in drawn]


def value_of(style: Style, draft: Draft, d: Dimension) -> float | None:
    """A dimension as the style gives it or the draft works it out [m], of darts the first's;
    None where there is none.
    """
    if d.name == "length":
        return style.length
    if d.table == "draft":
        return draft.dimensions[d.name] if style.neck == "tailored" else None
    if d.table == "closure":
        return draft.dimensions.get(d.name) or None
    darts = shoulder_darts(style, draft)
    if not darts or (d.key == "length_cm" and darts[0][1].point_short is not None):
        return None
    return darts[0][2] if d.key == "length_cm" else darts[0][3]


def with_value(style: Style, draft: Draft, d: Dimension, value: float) -> Style:
    """The style with one dimension given [m]; every dart on a shoulder is changed by as much as the first."""
    if d.table != "dart":
        named: dict[str, Any] = {bare_name(d.key): value}
        return replace(style, **named)
    by = value - (value_of(style, draft, d) or 0.0)
    darts = list(style.darts)
    for k, dart, length, intake in shoulder_darts(style, draft):
        own = length if d.key == "length_cm" else intake
        named = {bare_name(d.key): whole_millimetres(d.key, own + by)}
        darts[k] = replace(dart, **named)
    return replace(style, darts=tuple(darts))


def whole_millimetres(key: str, value: float) -> float:
    """A length [m] as it would be read back from a scene file that gives it to the millimetre."""
    return to_si(key, round(from_si(key, value), 1))
