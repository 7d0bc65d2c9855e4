"""What a maker should hear of a draft before any cloth is cut: what was asked and is not on it, or is changed.

In: a `Draft` and the shoulders of the body it is cut for. Out: plain sentences, lengths in cm, each with its reason.
What was asked is compared with what the drawn outline measures, so that nothing is lost on the way unsaid. Shoulders
that differ far more on the draft than on the body are named too, and a closure that lies beside centre front.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from drape.draft.drawn_edges import ends_of
from drape.draft.neckline import Shoulders, turn_to_take_out
from drape.draft.outline import Draft, SewnDart, length_of, run_of
from drape.draft.panels import share_of
from drape.draft.style import AZIMUTHS, SHOULDERS, WIDEST_CUT, Dart, dart_place, named_darts

TOLD_LENGTH = 0.005  # m; a smaller change is within what chalk and shears do; ours
TOLD_ANGLE = math.radians(2)  # likewise
LESS_BY_HALF = 0.5  # of what the slopes ask for beside the other shoulder: with less, they are treated unlike; ours
CLOSURE_ASIDE = 0.01  # m; from so far beside centre front on a closure there is told; ours
FITTED_NECK = "the other dimensions given for the neck go before it"
TRIMMED = "the hem is trimmed on the settled cloth to the height asked for, all in one smooth line"


@dataclass(frozen=True)
class _Size:
    """A length asked for and the one on the draft [m], in words, and why they may differ."""

    what: str
    asked: float | None
    got: float
    reason: str


def remarks_on(draft: Draft, body: Shoulders, beside: float | None = None) -> tuple[str, ...]:
    """Return the sentences, those about darts and cuts first; empty where the draft is as asked.

    beside: of a closure at centre front, how far inside the first opening edge the body's lies [m]; see `Neck`.
    """
    sizes = (
        *_dart_sizes(draft, body),
        *_cut_sizes(draft),
        *_neck_sizes(draft),
        *_length_sizes(draft),
        *_edge_sizes(draft),
    )
    changed = (said for size in sizes if (said := _changed(size)))
    lopsided = tuple(_unlike(draft, body)) or tuple(_closure_aside(draft, body, beside))
    return (*_not_there(draft, body), *changed, *lopsided)


def _changed(size: _Size) -> str:
    """Return the sentence for a length that is not as asked; nothing where it is."""
    if size.asked is None or abs(size.got - size.asked) <= TOLD_LENGTH:
        return ""
    return f"{size.what}: asked {100 * size.asked:.1f} cm, {100 * size.got:.1f} on the draft: {size.reason}."


# --- asked and not there -----------------------------------------------------------------------


def _not_there(draft: Draft, body: Shoulders) -> Iterator[str]:
    """Yield what was asked and came out as nothing: darts, cuts, a second button, the shape of a collar."""
    style = draft.style
    for _, dart in named_darts(style):
        if dart.intake != 0.0 and _drawn(draft, dart) is None:
            place = dart_place(style, dart) or "neck"
            yield (
                f"dart, {place}: asked, not on the draft: {_no_turn(draft, body, place)}. Write its intake_cm to have "
                "one all the same, or take the [[dart]] out."
            )
    cut = {"length": style.shoulder_cut_length, "bow": style.shoulder_cut_bow, "intake": style.shoulder_cut_intake}
    if any(cut.values()) and not draft.dimensions["shoulder_cut_intake"]:
        if style.shoulder_cut_intake == 0.0:
            reason = "shoulder_cut_intake_cm is 0. Leave that out"
        elif style.neck == "tailored":
            reason = f"{_no_turn(draft, body, style.closure_place)}. Write shoulder_cut_intake_cm"
        else:
            reason = f"the edges at the closure are straight on a {style.neck} neck. Write shoulder_cut_intake_cm"
        yield f"shoulder cuts: asked, not on the draft: {reason} to have them."
    if style.button_spacing is not None and len(draft.fastening.places) == 1:
        yield (
            f"buttons: asked {100 * style.button_spacing:.1f} cm apart, only one on the draft: the closure is fastened "
            f"over {100 * draft.fastening.length:.1f} cm, too little for two. Fasten it further down, or set them "
            "nearer."
        )
    collar = style.collar
    if (
        collar is not None
        and collar.cut == "shaped"
        and collar.taken_in is None
        and not draft.dimensions["collar_taken_in"]
    ):
        yield (
            "collar: asked shaped, straight on the draft: this neck does not narrow upward. Write taken_in_cm to "
            "shape it."
        )


def _no_turn(draft: Draft, body: Shoulders, place: str) -> str:
    """Return why the figure asks for no wedge over a shoulder."""
    slope = getattr(body, place.split()[0]).slope
    return (
        f"a sector of {math.degrees(draft.style.sweep):.0f} degrees is so wide that it lies over a shoulder sloping "
        f"{math.degrees(slope):.0f} degrees with no cloth to take out"
    )


# --- asked and changed -------------------------------------------------------------------------


def _drawn(draft: Draft, dart: Dart) -> SewnDart | None:
    """Return the dart of the draft that a dart of the style came out as."""
    place = dart_place(draft.style, dart) or ""
    alike = (one for one in draft.darts if one.place == place and (place or one.azimuth == dart.azimuth))
    return next(alike, None)


def _dart_sizes(draft: Draft, body: Shoulders) -> Iterator[_Size]:
    """Yield each dart's sizes, measured between the drawn ends of its legs."""
    for _, dart in named_darts(draft.style):
        drawn = _drawn(draft, dart)
        if drawn is None:
            continue
        first, second = (run_of(draft, leg) for leg in drawn.legs)
        length, name = _chord(first), f"dart, {drawn.place or f'{math.degrees(drawn.azimuth):.0f} degrees'}"
        reason = "the wedges over the two shoulders differ too much to meet as drawn"
        yield _Size(f"{name}, length", dart.length, length, reason)
        yield _Size(f"{name}, length of the other leg", dart.length, _chord(second), reason)
        yield _Size(f"{name}, intake", dart.intake or None, float(np.linalg.norm(first[0] - second[0])), reason)
        yield _Size(f"{name}, bow of its legs", dart.leg_bow or None, math.copysign(_bow(first), dart.leg_bow), reason)
        if dart.point_short is not None and drawn.place:
            short = getattr(body, drawn.place.split()[0]).length - length
            yield _Size(f"{name}, point short of the shoulder point", dart.point_short, short, reason)


def _cut_sizes(draft: Draft) -> Iterator[_Size]:
    """Yield the shoulder cuts' sizes, measured at the first straight edge, which lies along flat x."""
    style, end = draft.style, draft.marks.get(draft.closure[0].replace("closure", "cut point"))
    if end is None:
        return
    start = run_of(draft, draft.closure[0])[0]
    reason = "the wedges over the two shoulders differ too much to meet as drawn"
    yield _Size("shoulder cuts, length", style.shoulder_cut_length, float(np.linalg.norm(end - start)), reason)
    yield _Size("shoulder cuts, intake", style.shoulder_cut_intake or None, 2 * abs(float(start[1])), reason)


def _neck_sizes(draft: Draft) -> Iterator[_Size]:
    """Yield the neck's depths, width and ease."""
    style, values = draft.style, draft.dimensions
    for side in ("front", "back"):
        depth = float(np.linalg.norm(draft.marks[f"{side} neck"]))
        yield _Size(f"{side} neck depth", getattr(style, f"{side}_neck_depth"), depth, FITTED_NECK)
    width = values["neck_edge_length"] / math.pi if style.neck == "round" else values["neck_width"]
    yield _Size("neck width", style.neck_width, width, FITTED_NECK)
    yield _Size("neck ease", style.neck_ease, values["neck_ease"], FITTED_NECK)


def _length_sizes(draft: Draft) -> Iterator[_Size]:
    """Yield the lengths from neck to hem behind, in front and over the shoulders."""
    style, marks = draft.style, draft.marks
    corners = run_of(draft, "hem")
    hem = np.linalg.norm(corners, axis=1)
    reason = "the hem is levelled on the settled cloth" if style.level else TRIMMED
    for words, asked, side in (
        ("length behind", style.length, "back"),
        ("length in front", style.front_length, "front"),
    ):
        yield _Size(words, asked, float(np.linalg.norm(marks[f"{side} hem"] - marks[f"{side} neck"])), reason)
    for place in SHOULDERS:
        share = share_of(AZIMUTHS[place], style)
        radius = float(np.interp(share * style.sweep, np.linspace(*ends_of(corners, style.sweep), len(hem)), hem))
        yield _Size(f"length over the {place}", style.side_length, radius - _neck_reach(draft, place), reason)


def _neck_reach(draft: Draft, place: str) -> float:
    """Return how far from O a shoulder's side neck point lies with its wedge sewn and laid straight [m]."""
    if place == draft.closure_place:
        end = draft.marks.get(draft.closure[0].replace("closure", "cut point"))
        start = run_of(draft, draft.closure[0])[0]
        return (
            float(np.linalg.norm(start))
            if end is None
            else float(np.linalg.norm(end)) - draft.dimensions["shoulder_cut_length"]
        )
    dart = next((one for one in draft.darts if one.place == place), None)
    if dart is not None:
        return float(np.linalg.norm(draft.marks[dart.point])) - dart.length
    points = [point for name, point in draft.marks.items() if name.startswith(f"{place.split()[0]} side neck")]
    return float(np.mean([np.linalg.norm(point) for point in points])) if points else math.nan


def _edge_sizes(draft: Draft) -> Iterator[_Size]:
    """Yield the sizes of fastening, collar and dags."""
    style, values, made = draft.style, draft.dimensions, draft.fastening
    yield _Size("fastening, length", style.fastened_length, values["fastened_length"], "the closure ends before")
    yield _Size("overlap", style.overlap, made.overlap, "the buttons need another")
    if len(made.places) > 1:
        apart = made.places[1] - made.places[0]
        yield _Size("buttons, apart", style.button_spacing, apart, "they are set evenly over the fastening")
    if style.collar is not None:
        for words, asked, name in (
            ("height behind", style.collar.height, "collar_height"),
            ("height in front", style.collar.front_height, "collar_front_height"),
            ("taken in", style.collar.taken_in, "collar_taken_in"),
        ):
            yield _Size(f"collar, {words}", asked, values[name], "it is held to the neck edge")
    for dags in style.dags:
        reason = "fitted, so that the edge begins and ends with a whole one"
        yield _Size(f"dags, {dags.edge}, width", dags.width, values[f"{dags.edge}_dag_width"], reason)
        yield _Size(
            f"dags, {dags.edge}, depth", dags.depth, values[f"{dags.edge}_dag_depth"], "they are held off the neck"
        )


def _chord(leg: np.ndarray) -> float:
    """Return the straight length of a leg [m]."""
    return float(np.linalg.norm(leg[-1] - leg[0]))


def _bow(leg: np.ndarray) -> float:
    """Return how far a leg stands off its chord at most [m]."""
    along = (leg[-1] - leg[0]) / _chord(leg)
    off = leg - leg[0]
    return float(np.abs(off[:, 0] * along[1] - off[:, 1] * along[0]).max())


# --- shoulders treated unlike ------------------------------------------------------------------


def _unlike(draft: Draft, body: Shoulders) -> Iterator[str]:
    """Yield a sentence where one shoulder has much less taken out than the other, and the body does not ask for it."""
    taken = {"left": 0.0, "right": 0.0}
    for dart in draft.darts:
        if abs(math.sin(dart.azimuth)) > 1e-6:
            taken["left" if math.sin(dart.azimuth) > 0 else "right"] += dart.intake
    if draft.closure_place in SHOULDERS:
        taken[draft.closure_place.split()[0]] += draft.dimensions["shoulder_cut_intake"]
    less, more = sorted(taken, key=lambda side: taken[side])
    share = _share_asked(draft, body, less, more)
    if share < LESS_BY_HALF or taken[less] >= LESS_BY_HALF * share * taken[more]:
        return
    due = f"{100 * share * taken[more]:.1f}"
    if taken[less]:
        mend = "Make both intakes alike" if share == 1.0 else f"About {due} cm go with it on the {less}"
    elif f"{less} shoulder" == draft.closure_place:
        mend = f"Write closure.shoulder_cut_intake_cm = {due}"
    elif draft.closure_place == "centre front":
        mend = "Leave place out of [[dart]], and one goes on each shoulder"
    else:
        mend = "Add [[dart]]: it goes on that shoulder"
    amount = f"{100 * taken[less]:.1f} cm" if taken[less] else "nothing"
    slopes = {side: math.degrees(getattr(body, side).slope) for side in taken}
    shape = f"on this body the left one slopes {slopes['left']:.0f} degrees, the right one {slopes['right']:.0f}"
    yield (
        f"shoulders: {'they are alike on this body' if _are_alike(body) else shape}, but {100 * taken[more]:.1f} cm "
        f"are taken out on the {more} and {amount} on the {less}: the cloak will hang lopsided. {mend}; or leave it, "
        "if you mean it so."
    )


def _closure_aside(draft: Draft, body: Shoulders, beside: float | None) -> Iterator[str]:
    """Yield a sentence where a closure at centre front lies beside the body's, and how to bring it there.

    What is cut off one opening edge and cut on at the other leaves the sewn cloak as it is, but for where it opens.
    """
    if draft.closure_place != "centre front":
        return
    off = _halves_apart(draft) if beside is None else beside
    if abs(off) < CLOSURE_ASIDE:
        return
    other, side = ("left", "right") if off > 0 else ("right", "left")
    why = "more is taken out over one shoulder"
    if not _are_alike(body):
        slopes = f"{math.degrees(body.left.slope):.0f} degrees, the right one {math.degrees(body.right.slope):.0f}"
        why = f"the left shoulder slopes {slopes}"
    mend = ""
    if beside is not None and draft.style.sweep <= WIDEST_CUT:
        mend = (
            f"To bring it to the centre, cut that much off the {other} opening edge, from neck to hem, and cut as much "
            f"on at the {side} one; carry the neck edge and the hem on over it. Or close"
        )
    yield (
        f"closure: it lies to the {side} of centre front, by {100 * abs(off):.1f} cm, since {why}. {mend or 'Close'} "
        f'at a shoulder: place = "{side} shoulder" in [closure].'
    )


def _halves_apart(draft: Draft) -> float:
    """Return how far the middle of the front neck edge lies inside the first opening edge [m]."""
    left, right = (
        sum(length_of(run_of(draft, name)) for name in draft.neck if name.startswith(f"{side} front neck"))
        for side in ("left", "right")
    )
    return (left - right) / 2


def _are_alike(body: Shoulders) -> bool:
    """Say whether the shoulders of the body differ by less than is told."""
    left, right = body.left, body.right
    return abs(left.slope - right.slope) <= TOLD_ANGLE and abs(left.length - right.length) <= TOLD_LENGTH


def _share_asked(draft: Draft, body: Shoulders, less: str, more: str) -> float:
    """Return what share of one shoulder's intake the slopes ask for on the other, 1 at most."""
    if _are_alike(body):
        return 1.0
    turns = {side: turn_to_take_out(getattr(body, side).slope, draft.style.sweep) for side in (less, more)}
    return min(1.0, turns[less] / turns[more]) if turns[more] else 0.0
