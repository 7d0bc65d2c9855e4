"""What the maker asks for on the draft, and the checks that need no figure.

In: the values of a scene's draft, closure and darts, SI, angles in radians. Out: a `Style`, or one line that says
what cannot be. What a value left out comes to is worked out from the figure by `cloak` and those it calls.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from drape.errors import DraftError

CLOSURE_PLACES = ("right shoulder", "left shoulder", "centre front")
SHOULDERS = ("left shoulder", "right shoulder")
NECKS = ("round", "tailored", "drawn")
LENGTH_PLACES = ("waist", "hip", "mid-thigh", "knee", "mid-calf", "ankle")
SHOULDER_ENDS = ("collar", "shoulder point", "elbow")  # how far down a closure over a shoulder may be fastened
FRONT_ENDS = ("collar", "chest", "waist", "hip")  # and one at centre front
FASTENINGS = ("buttons", "clasp", "ties")
AZIMUTHS = {"centre front": 0.0, "left shoulder": 0.5 * math.pi, "right shoulder": 1.5 * math.pi}  # of a closure's seam
COLLAR_CUTS = ("shaped", "straight")
DAG_KINDS = ("square", "round", "pointed", "leaf")
DAG_EDGES = ("hem", "opening", "collar")
LEAST_DAG = 0.01  # m; a narrower or shallower dag frays away; ours
LEAST_NECK_SHORTFALL = 0.01  # m; a neck edge this much under the girth cannot be closed; common practice, no source
LEAST_INTAKE = 0.002  # m; a narrower wedge cannot be sewn; common practice, no source
WIDEST_CUT = math.radians(345)  # beyond it the opening edges are too near each other to cut anything on; ours
LARGEST_BOW = 0.2  # of a leg's length; a leg that bows further is no leg; ours


@dataclass(frozen=True)
class Dart:
    """A wedge sewn out of the cloth; `None` means computed from the figure. Lengths [m].

    It lies on a shoulder line (`place`) or at an azimuth [rad]. With neither it goes where the closure is not: on the
    other shoulder, and with a closing at centre front on both, one each.
    """

    place: str | None = None
    length: float | None = None  # from the neck edge to the dart point, along either leg (its chord, where it bows)
    intake: float | None = None  # between the legs at the neck edge
    azimuth: float | None = None  # round the body, 0 front, pi/2 the wearer's left
    leg_bow: float = 0.0  # how far the legs bow out of straight at their middle; positive takes more cloth out
    point_short: float | None = None  # how far the point stays short of the shoulder point, instead of a length


@dataclass(frozen=True)
class CollarStyle:
    """A standing collar; `None` means computed from the figure. Lengths [m], angle [rad].

    grain: of its warp from its length. closed: its ends meet and are held together, as the closure is.
    """

    height: float  # at centre back
    front_height: float | None = None  # at centre front; None: as high as behind
    cut: str = "shaped"  # or "straight"
    taken_in: float | None = None  # how much shorter the top edge is than the neck seam
    grain: float = 0.0
    closed: bool = True
    buttons: int = 0  # on its ends


@dataclass(frozen=True)
class Dags:
    """Dags asked for on one edge: "hem", "opening" (both edges) or "collar" (its top). Lengths [m]."""

    edge: str
    kind: str
    width: float  # about; fitted to the edge
    depth: float


@dataclass(frozen=True)
class Style:
    """What the maker asks for; `None` means computed from the figure. Lengths [m], sweep [rad].

    Depths are measured from O along the centre-front and centre-back lines; for a round neck both are its radius.
    One of `length`, `length_to` and `off_floor` says how long the cloak is; `front_` and `side_` ones bend the hem.
    """

    neck: str  # "round", "tailored" or "drawn"
    length: float | None = None  # neck edge to hem along centre back
    sweep: float = math.pi
    front_neck_depth: float | None = None
    back_neck_depth: float | None = None
    neck_width: float | None = None  # between the two side neck points, across the front with its wedges sewn
    neck_ease: float | None = None  # neck edge beyond the neck-base girth
    neck_along: tuple[float, ...] = ()  # a drawn neck's points from the front edge round: along that edge from O
    neck_up: tuple[float, ...] = ()  # and square to it
    hem_along: tuple[float, ...] = ()  # a drawn hem's points, instead of a length; as neck_along and neck_up
    hem_up: tuple[float, ...] = ()
    first_edge_along: tuple[float, ...] = ()  # a drawn opening edge's points from the neck to the hem: from O along it
    first_edge_aside: tuple[float, ...] = ()  # and how far outside of its straight line
    last_edge_along: tuple[float, ...] = ()
    last_edge_aside: tuple[float, ...] = ()
    length_to: str | None = None  # a place of the figure the settled hem is to reach
    off_floor: float | None = None  # or a height above the floor
    front_length: float | None = None  # down centre front
    front_length_to: str | None = None
    side_length: float | None = None  # from the side neck point over the shoulder
    side_length_to: str | None = None
    level: bool = False  # trim the hem until the settled one is level
    closure_place: str = "right shoulder"
    shoulder_cut_intake: float | None = None  # taken out at the neck edge, half from front, half from back
    shoulder_cut_length: float | None = None
    shoulder_cut_bow: float = 0.0  # as a dart's leg_bow
    fastened_length: float | None = None  # from the neck edge; None: the cut's, or else the shoulder's length
    fastened_to: str | None = None
    overlap: float | None = None  # that the upper edge laps over the under one, half of it on each
    fastening: str | None = None
    buttons: int | None = None
    button_diameter: float | None = None
    button_spacing: float | None = None
    neck_allowance: float = 0.0  # cut on beyond the finished edge, for a seam or a turning
    opening_allowance: float = 0.0
    hem_allowance: float = 0.0
    collar_allowance: float = 0.0  # beyond the collar's top edge
    darts: tuple[Dart, ...] = ()
    collar: CollarStyle | None = None
    dags: tuple[Dags, ...] = ()


def check_style(style: Style) -> None:
    """Refuse what is wrong whatever the figure. Raises DraftError."""
    _check_words(style)
    if not math.radians(90) - 1e-9 <= style.sweep <= math.radians(360) + 1e-9:
        raise DraftError(
            f"draft.sweep_deg: got {math.degrees(style.sweep):.6g}, allowed 90 to 360. A half circle is 180."
        )
    _check_sizes(style)
    _check_length(style)
    _check_drawn(style)
    _check_drawn_edges(style)
    _check_darts(style)
    _check_fastening(style)
    _check_collar(style)
    _check_dags(style)


def _check_words(style: Style) -> None:
    """Refuse words that are not known."""
    ends = FRONT_ENDS if style.closure_place == "centre front" else SHOULDER_ENDS
    for where, value, allowed in (
        ("draft.neck", style.neck, NECKS),
        ("closure.place", style.closure_place, CLOSURE_PLACES),
        ("draft.length_to", style.length_to, LENGTH_PLACES),
        ("draft.front_length_to", style.front_length_to, LENGTH_PLACES),
        ("draft.side_length_to", style.side_length_to, LENGTH_PLACES),
        ("closure.fastened_to", style.fastened_to, ends),
        ("closure.fastening", style.fastening, FASTENINGS),
    ):
        if value is not None and value not in allowed:
            hint = " at this place of closure" if allowed is ends else ""
            raise DraftError(f"{where}: got {value!r}, allowed {_either(allowed)}{hint}. Write one of them.")


def _either(words: tuple[str, ...]) -> str:
    """Return the words with commas and an `or`."""
    return f"{', '.join(words[:-1])} or {words[-1]}"


def _check_sizes(style: Style) -> None:
    """Refuse lengths that are negative, endless or no number."""
    lengths = [
        ("draft.length_cm", style.length, 1e-3),
        ("draft.front_length_cm", style.front_length, 1e-3),
        ("draft.side_length_cm", style.side_length, 1e-3),
        ("draft.off_floor_cm", style.off_floor, 0.0),
        ("draft.front_neck_depth_cm", style.front_neck_depth, 1e-3),
        ("draft.back_neck_depth_cm", style.back_neck_depth, 1e-3),
        ("draft.neck_width_cm", style.neck_width, 1e-3),
        ("draft.neck_ease_cm", style.neck_ease, -LEAST_NECK_SHORTFALL),
        ("closure.shoulder_cut_intake_cm", style.shoulder_cut_intake, 0.0),
        ("closure.shoulder_cut_length_cm", style.shoulder_cut_length, 1e-3),
        ("closure.fastened_length_cm", style.fastened_length, 1e-3),
        ("closure.overlap_cm", style.overlap, 0.0),
        ("allowances.neck_cm", style.neck_allowance, 0.0),
        ("allowances.opening_cm", style.opening_allowance, 0.0),
        ("allowances.hem_cm", style.hem_allowance, 0.0),
        ("allowances.collar_cm", style.collar_allowance, 0.0),
        ("closure.button_diameter_cm", style.button_diameter, 1e-3),
        ("closure.button_spacing_cm", style.button_spacing, 1e-3),
    ]
    intakes = [("closure.shoulder_cut_intake_cm", style.shoulder_cut_intake)]
    for name, dart in named_darts(style):
        lengths += [(f"{name}length_cm", dart.length, 1e-3), (f"{name}intake_cm", dart.intake, 0.0)]
        intakes.append((f"{name}intake_cm", dart.intake))
    for where, value, least in lengths:
        if value is not None and not least <= value <= 5.0:
            raise DraftError(
                f"{where}: got {100 * value:.6g}, allowed {100 * least:.6g} to 500. Give the length in centimetres."
            )
    for where, value in intakes:
        if value is not None and 0.0 < value < LEAST_INTAKE:
            raise DraftError(
                f"{where}: got {100 * value:.6g}, allowed 0 or at least {100 * LEAST_INTAKE:.6g}. Write 0 for none."
            )


def named_darts(style: Style) -> list[tuple[str, Dart]]:
    """Return the darts with what their keys begin with in messages: `dart.`, or `dart 2.` where there are several.

    One that goes on both shoulders comes out as two, each with its place.
    """
    several = len(style.darts) > 1
    return [
        (f"dart {k}." if several else "dart.", one)
        for k, dart in enumerate(style.darts, start=1)
        for one in _on_shoulders(style, dart)
    ]


def _on_shoulders(style: Style, dart: Dart) -> tuple[Dart, ...]:
    """Return the dart, or the two it stands for with a closing at centre front."""
    if style.closure_place != "centre front" or dart.place is not None or dart.azimuth is not None:
        return (dart,)
    return tuple(replace(dart, place=place) for place in SHOULDERS)


def with_placed_darts(style: Style) -> Style:
    """Return the style with every dart that goes on both shoulders made two, the second of each pair at the end."""
    pairs = [_on_shoulders(style, dart) for dart in style.darts]
    return replace(style, darts=(*(pair[0] for pair in pairs), *(pair[1] for pair in pairs if len(pair) > 1)))


def _check_length(style: Style) -> None:
    """Refuse a length given twice, or none."""
    for prefix, required in (("", True), ("front_", False), ("side_", False)):
        given = {
            f"{prefix}length_cm": getattr(style, f"{prefix}length"),
            f"{prefix}length_to": getattr(style, f"{prefix}length_to"),
        }
        if not prefix:
            given["off_floor_cm"] = style.off_floor
        named = [name for name, value in given.items() if value is not None]
        if len(named) > 1:
            raise DraftError(f"draft: got {named[0]} and {named[1]}, allowed one of them. Leave one out.")
        if required and not named and not style.hem_along:
            raise DraftError(f"draft: got no length, allowed one of {', '.join(given)}. Give one of them.")

    uneven = [
        name for name in ("front_length", "front_length_to", "side_length", "side_length_to") if getattr(style, name)
    ]
    if style.level and uneven:
        raise DraftError(
            f"draft.level: got {uneven[0]} as well, allowed one of them: a level hem has one height. Leave one out."
        )


def _check_drawn(style: Style) -> None:
    """Refuse points without a drawn neck, a drawn neck without points, and dimensions that points already settle."""
    if style.neck != "drawn":
        if style.neck_along or style.neck_up:
            raise DraftError(
                f'draft.neck_along_cm: got points for a {style.neck} neck, allowed only with neck = "drawn". '
                "Write that, or take the points out."
            )
        return
    if len(style.neck_along) != len(style.neck_up) or len(style.neck_along) < 4:
        raise DraftError(
            f"draft.neck_along_cm: got {len(style.neck_along)} along and {len(style.neck_up)} up, allowed equally many "
            "and at least 4. Give each point of the drawn neck both."
        )
    for name in ("front_neck_depth", "back_neck_depth", "neck_width", "neck_ease"):
        if getattr(style, name) is not None:
            raise DraftError(
                f"draft.{name}_cm: got {100 * getattr(style, name):.6g}, allowed none with a drawn neck, whose points "
                "settle it. Take it out."
            )


def _check_drawn_edges(style: Style) -> None:
    """Refuse a drawn hem or opening edge whose points do not match, or beside which something else settles it."""
    for name, up, least in (("hem", "up", 4), ("first_edge", "aside", 1), ("last_edge", "aside", 1)):
        along, other = getattr(style, f"{name}_along"), getattr(style, f"{name}_{up}")
        if (along or other) and (len(along) != len(other) or len(along) < least):
            raise DraftError(
                f"draft.{name}_along_cm: got {len(along)} along and {len(other)} {up}, allowed equally many and "
                f"at least {least}. Give each point both."
            )
    lengths = ("length", "length_to", "off_floor", "front_length", "front_length_to", "side_length", "side_length_to")
    asked = [name for name in (*lengths, "level") if getattr(style, name)]
    if style.hem_along and asked:
        raise DraftError(
            f"draft.hem_along_cm: got {asked[0]} as well, allowed one of them: the points of a drawn hem settle it. "
            "Take one out."
        )
    if not (style.first_edge_along or style.last_edge_along):
        return
    if style.sweep > WIDEST_CUT:
        raise DraftError(
            f"draft.first_edge_along_cm: got a sweep of {math.degrees(style.sweep):.6g} with a drawn opening edge, "
            f"allowed up to {math.degrees(WIDEST_CUT):.4g}. Leave a gap, or leave the edges straight."
        )
    if any(dags.edge == "opening" for dags in style.dags):
        raise DraftError(
            "dags.edge: got 'opening' with a drawn opening edge, allowed on a straight one. Take out the dags or the "
            "edge's points."
        )


def _check_darts(style: Style) -> None:
    """Refuse darts in places where none can be, or two in one."""
    taken: dict[str, str] = {}
    for name, dart in named_darts(style):
        if dart.place is not None and dart.place not in SHOULDERS:
            raise DraftError(f"{name}place: got {dart.place!r}, allowed {_either(SHOULDERS)}. Or give azimuth_deg.")
        if dart.place is not None and dart.azimuth is not None:
            raise DraftError(f"{name}azimuth_deg: got a place and an azimuth, allowed one of them. Leave one out.")
        if dart.length is not None and dart.point_short is not None:
            raise DraftError(f"{name}point_short_cm: got length_cm as well, allowed one of them. Leave one out.")
        place = dart_place(style, dart)
        if place is None:
            if dart.length is None or dart.intake is None:
                what = "length_cm" if dart.length is None else "intake_cm"
                raise DraftError(
                    f"{name}{what}: missing, allowed a length: away from the shoulder lines nothing says how much to "
                    "take out. Give length_cm and intake_cm."
                )
        elif place == style.closure_place:
            raise DraftError(
                f"{name}place: got {place!r}, where the closure is, allowed the other shoulder. Give the closure "
                "shoulder_cut_intake_cm instead."
            )
        elif place in taken:
            raise DraftError(f"{name}place: got {place!r} twice, allowed one dart on each shoulder. Take one out.")
        else:
            taken[place] = name
        reach = dart.length if dart.length is not None else 0.1
        if abs(dart.leg_bow) > LARGEST_BOW * reach:
            raise DraftError(
                f"{name}leg_bow_cm: got {100 * dart.leg_bow:.4g}, allowed {-100 * LARGEST_BOW * reach:.4g} to "
                f"{100 * LARGEST_BOW * reach:.4g} (a fifth of the leg). Bow it less."
            )


def dart_place(style: Style, dart: Dart) -> str | None:
    """Return the shoulder a dart of `named_darts` lies on, or None where it stands at an azimuth."""
    if dart.azimuth is not None:
        return None
    if dart.place is not None:
        return dart.place
    return SHOULDERS[1] if style.closure_place == SHOULDERS[0] else SHOULDERS[0]


def _check_fastening(style: Style) -> None:
    """Refuse fastenings that contradict each other."""
    beyond = style.opening_allowance + (style.overlap or 0.0) / 2
    if beyond and style.sweep > WIDEST_CUT:
        raise DraftError(
            f"draft.sweep_deg: got {math.degrees(style.sweep):.6g} with {100 * beyond:.4g} cm to cut beyond each "
            f"opening edge, allowed up to {math.degrees(WIDEST_CUT):.4g}: there is no cloth left between them. Leave a "
            "gap, or cut the overlap separately."
        )
    if style.fastened_to is not None and style.fastened_length is not None:
        raise DraftError("closure.fastened_to: got fastened_length_cm as well, allowed one of them. Leave one out.")
    if style.closure_place == "centre front":
        for name in ("shoulder_cut_intake", "shoulder_cut_length"):
            if getattr(style, name) is not None:
                raise DraftError(
                    f"closure.{name}_cm: got {100 * getattr(style, name):.6g}, allowed none at centre front, where no "
                    "shoulder is cut. Write [[dart]] without a place: one goes on each shoulder."
                )
    if style.fastening not in (None, "buttons"):
        for name in ("buttons", "button_diameter", "button_spacing"):
            value = getattr(style, name)
            if value is not None:
                raise DraftError(
                    f"closure.{name}{'' if name == 'buttons' else '_cm'}: got buttons with "
                    f'fastening = "{style.fastening}", allowed one of them. Take one out.'
                )
    if style.buttons is not None and not 1 <= style.buttons <= 60:
        raise DraftError(f"closure.buttons: got {style.buttons}, allowed 1 to 60. Leave it out for a usual spacing.")
    if style.buttons is not None and style.button_spacing is not None:
        raise DraftError("closure.buttons: got button_spacing_cm as well, allowed one of them. Leave one out.")


def _check_collar(style: Style) -> None:
    """Refuse a collar that contradicts itself. What the neck allows is left to `collar`."""
    collar = style.collar
    if collar is None:
        if style.collar_allowance:
            raise DraftError(
                f"allowances.collar_cm: got {100 * style.collar_allowance:.4g} without a collar, allowed none. Add "
                "[collar]."
            )
        return
    if collar.cut not in COLLAR_CUTS:
        raise DraftError(f"collar.cut: got {collar.cut!r}, allowed {_either(COLLAR_CUTS)}. Write one of them.")
    if collar.cut == "straight" and collar.taken_in:
        raise DraftError(
            f"collar.taken_in_cm: got {100 * collar.taken_in:.4g} for a straight collar, allowed none. "
            'Write cut = "shaped", or take it out.'
        )
    if collar.buttons and not collar.closed:
        raise DraftError(
            f"collar.buttons: got {collar.buttons} on a collar that stands open, allowed none. Write closed = true."
        )


def _check_dags(style: Style) -> None:
    """Refuse dags twice on one edge, on an edge that is turned in or is not there, or too small to cut."""
    taken: set[str] = set()
    beyond = {
        "hem": style.hem_allowance,
        "opening": style.opening_allowance + (style.overlap or 0.0) / 2,
        "collar": style.collar_allowance,
    }
    for number, dags in enumerate(style.dags, start=1):
        name = "dags." if len(style.dags) == 1 else f"dags {number}."
        for key, value, allowed in (("edge", dags.edge, DAG_EDGES), ("kind", dags.kind, DAG_KINDS)):
            if value not in allowed:
                raise DraftError(f"{name}{key}: got {value!r}, allowed {_either(allowed)}. Write one of them.")
        for key, size in (("width", dags.width), ("depth", dags.depth)):
            if not size >= LEAST_DAG:
                raise DraftError(
                    f"{name}{key}_cm: got {100 * size:.4g}, allowed at least {100 * LEAST_DAG:.4g}. Make it larger."
                )
        if dags.edge in taken:
            raise DraftError(f"{name}edge: got {dags.edge!r} twice, allowed once. Take one out.")
        taken.add(dags.edge)
        if dags.edge == "collar" and style.collar is None:
            raise DraftError(
                f"{name}edge: got 'collar' without a collar, allowed one of this draft's edges. Add [collar]."
            )
        if beyond.get(dags.edge):
            raise DraftError(
                f"{name}edge: got {dags.edge!r}, which has {100 * beyond[dags.edge]:.4g} cm cut on beyond it, allowed "
                f"0: a dagged edge is not turned in. Leave out allowances.{dags.edge}_cm"
                f"{' and closure.overlap_cm' if dags.edge == 'opening' else ''}."
            )
