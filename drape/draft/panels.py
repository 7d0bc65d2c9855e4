"""The neck edge turned to its closure, with darts cut into it: a `Neckline` in, a `Neck` out.

`neckline` lays out two panels, front and back, that meet in a wedge over each shoulder. Where the closure stands
decides only how they are laid side by side on the flat and which wedge becomes the two cuts at the opening edges:

    right shoulder   phi from 0: front panel, left wedge, back panel
    left shoulder    back panel, right wedge, front panel
    centre front     left half of the front panel, left wedge, back panel, right wedge, right half

The panels are turned about O as they are, so the sewn cloak is the same but for where it opens. A tailored front is
halved at the body's centre front. Unlike wedges put that beside the straight edge: the opening edges are then parallel
to the straight ones, one as far inside as the other is outside.

The angle phi from the first straight edge comes to the azimuth (closure's azimuth + 2 pi phi / sweep), 0 at the front,
pi/2 the wearer's left. Flat axes and units of `cloak`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from drape.draft.neckline import Neckline, direction
from drape.draft.style import AZIMUTHS, WIDEST_CUT, Dart, Style, dart_place, named_darts
from drape.errors import DraftError

LEAST_PIECE = 0.01  # m; a neck edge shorter than this between two seams cannot be sewn; common practice, no source
LEAST_MOVED = 0.005  # m; opening edges stay on the straight ones for less, within what chalk and shears do; ours
LARGEST_GAP_SHARE = 0.45  # of the angle between the straight edges, that an opening edge may take of it; ours
BOW_COUNT = 41  # points on a leg that bows


@dataclass(frozen=True)
class Gap:
    """One dart on the flat. Points [m], shape (2,); lengths [m]; angles [rad].

    place: the shoulder or "". azimuth: where it lies round the body. first, second: its legs from the neck edge to
    the point, shape (k, 2), the one at smaller phi first. sides: their names, "front" and "back" or "left" and "right".
    """

    place: str
    azimuth: float
    point: np.ndarray
    first: np.ndarray
    second: np.ndarray
    length: float
    intake: float
    sides: tuple[str, str]


@dataclass(frozen=True)
class Neck:
    """A neck edge on the flat, closure and all, by increasing phi.

    pieces: (panel's name, points [m], shape (k, 2)). gaps: one between two pieces, or None where they meet.
    cuts: the cut edges from the neck edge to the cut points at both straight edges, or None. front and back:
    neck point and heading of the centre lines. width, cut_length, cut_intake [m]. moved: how far the opening edges of a
    closure at centre front are cut inside the first straight edge and outside the last one [m]. beside: how far inside
    the first opening edge the body's centre front lies all the same [m]; None where nothing tells.
    """

    pieces: tuple[tuple[str, np.ndarray], ...]
    gaps: tuple[Gap | None, ...]
    cuts: tuple[np.ndarray, np.ndarray] | None
    front: tuple[np.ndarray, np.ndarray]
    back: tuple[np.ndarray, np.ndarray]
    width: float
    cut_length: float
    cut_intake: float
    moved: float = 0.0
    beside: float | None = None


def sewn_length(neck: Neck) -> float:
    """Return the neck edge's length once its darts are sewn [m]."""
    return float(np.linalg.norm(np.vstack([np.diff(points, axis=0) for _, points in neck.pieces]), axis=1).sum())


def turned(points: np.ndarray, angle: float) -> np.ndarray:
    """Return flat points, shape (k, 2) or (2,), turned about O by an angle [rad]."""
    if angle == 0.0:
        return points
    c, s = math.cos(angle), math.sin(angle)
    return points @ np.array([[c, s], [-s, c]])


def angles_along(points: np.ndarray) -> np.ndarray:
    """Return phi of the points of a neck edge in turn [rad], shape (k,), from 0 to the sweep without a jump."""
    phi = np.unwrap(np.arctan2(points[:, 1], points[:, 0]))
    return phi - 2 * math.pi * math.floor(phi[-1] / (2 * math.pi) - 1e-9)


def arranged(laid: Neckline, style: Style) -> Neck:
    """Return the two panels laid side by side for the closure, a dart at every wedge that is not at the closure."""
    sweep, place = style.sweep, style.closure_place
    names = {side: f"{side} shoulder" for side in ("left", "right")}
    front, back = (laid.front_point, laid.front_heading), (laid.back_point, laid.back_heading)
    cuts, moved, beside = None, 0.0, None
    shift: tuple[float, ...] = (0.0, 0.0)
    if place == "centre front":
        moved, beside = _off_the_edge(laid, style)
        right, left = _halves(laid.front, laid.front_point) if moved else _split_at(laid.front, sweep / 4)
        shift = (-sweep / 4, -sweep / 4, 3 * sweep / 4)
        pieces = [("left front neck", left), ("back neck", laid.back), ("right front neck", right)]
        wedges = ["left", "right"]
        front = (turned(left[0], shift[0]), direction(0.0))
        back = (turned(back[0], shift[1]), turned(back[1], shift[1]))
    elif place == "left shoulder":
        shift = (-sweep / 2, sweep / 2)
        pieces, wedges = [("back neck", laid.back), ("front neck", laid.front)], ["right"]
        front, back = ((turned(ends[0], by), turned(ends[1], by)) for ends, by in ((front, shift[1]), (back, shift[0])))
    else:
        pieces, wedges = [("front neck", laid.front), ("back neck", laid.back)], ["left"]
    parts = [(name, turned(points, by)) for (name, points), by in zip(pieces, shift, strict=True)]
    gaps: list[Gap | None] = []
    for k, side in enumerate(wedges):
        turns = parts[k][1][-1], parts[k + 1][1][0]
        gaps.append(_wedge(laid, side, names[side], style, turns, k, len(wedges)))
        if gaps[-1] is None:
            parts[k + 1][1][0] = parts[k][1][-1]
    side = place.split()[0]
    if side in ("left", "right") and _reach(laid, side):
        cuts = _cuts(parts[0][1][0], parts[-1][1][-1], _reach(laid, side), sweep, style.shoulder_cut_bow)
    length, intake = (laid.cut_length, laid.cut_intake) if side != "left" else (laid.dart_length, laid.dart_intake)
    intake = intake if cuts is not None else 0.0
    return Neck(tuple(parts), tuple(gaps), cuts, front, back, laid.width, length, intake, moved, beside)


def _off_the_edge(laid: Neckline, style: Style) -> tuple[float, float | None]:
    """Return how far a closure at centre front is moved to the body's, and how far it lies beside that all the same.

    Both are counted inside the first straight edge [m]; moved edges leave nothing beside. None is moved where hem or
    opening edges are drawn through points, nor where one would come too near the other.
    """
    if style.neck != "tailored":
        return 0.0, None
    off = float(laid.front_point @ direction(style.sweep / 4 + math.pi / 2))
    if abs(off) < LEAST_MOVED:
        return 0.0, off
    turn = math.asin(abs(off) / float(np.linalg.norm(laid.front_point)))
    is_drawn = style.hem_along or style.first_edge_along or style.last_edge_along
    if is_drawn or style.sweep > WIDEST_CUT or turn > LARGEST_GAP_SHARE * (2 * math.pi - style.sweep):
        return 0.0, off
    return off, 0.0


def _reach(laid: Neckline, side: str) -> float:
    """Return how far from O a side's wedge ends [m]; 0 where there is none."""
    point = laid.dart_point if side == "left" else laid.cut_point
    return 0.0 if point is None else float(np.linalg.norm(point))


def _wedge(
    laid: Neckline, side: str, place: str, style: Style, ends: tuple[np.ndarray, np.ndarray], k: int, count: int
) -> Gap | None:
    """Return the dart over one shoulder, between the ends of two pieces; None where nothing is taken out."""
    reach = _reach(laid, side)
    if not reach:
        return None
    length, intake = (laid.dart_length, laid.dart_intake) if side == "left" else (laid.cut_length, laid.cut_intake)
    phi = style.sweep / 2 if count == 1 else style.sweep * (1 + 2 * k) / 4
    bow = next(d.leg_bow for _, d in named_darts(style) if dart_place(style, d) == place)
    sides = ("front", "back") if side == "left" else ("back", "front")
    point = reach * direction(phi)
    return Gap(place, AZIMUTHS[place], point, *_legs(point, ends, bow), length, intake, sides)


def _legs(point: np.ndarray, ends: tuple[np.ndarray, np.ndarray], bow: float) -> tuple[np.ndarray, np.ndarray]:
    """Return a dart's legs, straight or bowed; bowed ones are mirror images on the dart's middle line."""
    first, second = (np.array([end, point]) for end in ends)
    return (_bowed(first, bow), _bowed(second, -bow)) if bow else (first, second)


def _bowed(leg: np.ndarray, bow: float) -> np.ndarray:
    """Return a straight leg bent into a parabola that stands off by `bow` [m] at its middle, to its right."""
    chord = leg[1] - leg[0]
    aside = bow * np.array([chord[1], -chord[0]]) / np.linalg.norm(chord)
    share = np.linspace(0.0, 1.0, BOW_COUNT)[:, None]
    points = leg[0] + share * chord + 4 * share * (1 - share) * aside
    points[0], points[-1] = leg
    return points


def _cuts(first: np.ndarray, last: np.ndarray, reach: float, sweep: float, bow: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the two cut edges from the neck edge to the points on the straight edges, `reach` from O."""
    legs = []
    for start, angle, sense in ((first, 0.0, 1.0), (last, sweep, -1.0)):
        leg = np.array([start, reach * direction(angle)])
        legs.append(_bowed(leg, -bow * sense) if bow else leg)
    return legs[0], legs[1]


def _halves(points: np.ndarray, place: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Split a polyline at that of its points which is nearest a place."""
    at = int(np.linalg.norm(points - place, axis=1).argmin())
    return points[: at + 1].copy(), points[at:].copy()


def _split_at(points: np.ndarray, angle: float) -> tuple[np.ndarray, np.ndarray]:
    """Split a polyline where it crosses the ray at `angle`; phi increases along it."""
    phi = angles_along(points)
    if not phi[0] < angle < phi[-1]:
        raise DraftError(
            f"draft: the neck edge does not cross the draft's {math.degrees(angle):.4g} deg line, got one from "
            f"{math.degrees(phi[0]):.4g} to {math.degrees(phi[-1]):.4g} deg, allowed one about it. Take less intake."
        )
    after = int(np.argmax(phi > angle - 1e-12))
    if abs(phi[after] - angle) < 1e-12:
        return points[: after + 1].copy(), points[after:].copy()
    side = points[after - 1 : after + 1] @ direction(angle + math.pi / 2)
    cross = points[after - 1] + side[0] / (side[0] - side[1]) * (points[after] - points[after - 1])
    return np.vstack([points[:after], cross]), np.vstack([cross, points[after:]])


# --- darts at an azimuth, and wedges in a drawn neck ------------------------------------------


def share_of(azimuth: float, style: Style) -> float:
    """Return where round the draft an azimuth lies: 0 at the first straight edge, 1 at the last."""
    return ((azimuth - AZIMUTHS[style.closure_place]) / (2 * math.pi)) % 1.0


def cut_darts(neck: Neck, style: Style) -> Neck:
    """Return the neck with the darts that stand at an azimuth cut into it."""
    for name, dart in named_darts(style):
        if dart.azimuth is not None and dart.intake:
            sides = ("front", "back") if 0 < dart.azimuth % (2 * math.pi) < math.pi else ("back", "front")
            if abs(math.sin(dart.azimuth)) < 1e-6:
                sides = ("right", "left") if math.cos(dart.azimuth) > 0 else ("left", "right")
            neck = cut_in(neck, style, dart, name, "", dart.azimuth, sides)
    return neck


def cut_in(neck: Neck, style: Style, dart: Dart, name: str, place: str, azimuth: float, sides: tuple[str, str]) -> Neck:
    """Return the neck with one dart cut into it where its ray crosses.

    The dart's point D lies on the ray; in a drawn neck it may lie beside it, see `_even_mouth`. Its mouth is where the
    circle of the leg's length about D meets the neck edge, so that both legs are equally long; D is drawn towards O
    until the mouth is as wide as the intake.
    """
    phi = style.sweep * share_of(azimuth, style)
    heading = direction(phi)
    first, last = _run_at(neck, phi, name, azimuth)
    run = [neck.pieces[first][1], *(points[1:] for _, points in neck.pieces[first + 1 : last + 1])]
    points = np.vstack(run)
    joints = np.cumsum([len(part) for part in run])[:-1] - 1
    length, intake = dart.length or 0.0, dart.intake or 0.0
    if intake >= 1.7 * length:
        raise DraftError(
            f"{name}intake_cm: the intake cannot fit a wedge {100 * length:.4g} long, got {100 * intake:.4g}, allowed "
            f"at most {170 * length:.4g}. Take less intake or lengthen the wedge."
        )
    at = int(np.argmax(angles_along(points) > phi)) - 1
    low = float(points[at] @ heading)
    high = low + length
    for _ in range(80):  # the mouth narrows as D moves away from O
        middle = (low + high) / 2
        mouth = _mouth(points, at, middle * heading, length)
        if _width(mouth) < intake:
            high = middle
        else:
            low = middle
    point = low * heading
    mouth = _mouth(points, at, point, length)
    if style.neck == "drawn" and (not mouth or abs(_width(mouth) - intake) > 1e-6):
        mouth = _even_mouth(points, at, heading, intake)
        if mouth is not None:
            point = _apex(mouth[0][1], mouth[1][1], heading, length)
    if not mouth or abs(_width(mouth) - intake) > 1e-6:
        raise DraftError(
            f"{name}intake_cm: the mouth of the dart does not fit on the neck edge there, got {100 * intake:.4g}, "
            "allowed less. Take less intake or move the dart."
        )
    (i, start), (j, end) = mouth
    gap = Gap(place, azimuth, point, *_legs(point, (start, end), dart.leg_bow), length, intake, sides)
    parts: list[tuple[str, np.ndarray]] = []
    gaps: list[Gap | None] = []
    panel = [name for name, _ in neck.pieces[first : last + 1]]
    begin = 0
    for k, stop in enumerate([*joints.tolist(), len(points) - 1]):  # each panel before, across or after the mouth
        if begin <= i:
            parts.append(
                (panel[k], points[begin : stop + 1] if stop <= i else np.vstack([points[begin : i + 1], start]))
            )
            gaps.append(None if stop <= i else gap)
        if stop > j:
            parts.append(
                (panel[k], np.vstack([end, points[j + 1 : stop + 1]]) if begin <= j else points[begin : stop + 1])
            )
            gaps.append(None)
        begin = stop
    for label, part in parts:
        got = float(np.linalg.norm(np.diff(part, axis=0), axis=1).sum())
        if got < LEAST_PIECE:
            raise DraftError(
                f"{name}intake_cm: the dart leaves {100 * got:.2g} cm of the {label} edge beside it, allowed at least "
                f"{100 * LEAST_PIECE:.4g}. Take less intake or move the dart."
            )
    return replace(
        neck,
        pieces=(*neck.pieces[:first], *parts, *neck.pieces[last + 1 :]),
        gaps=(*neck.gaps[:first], *gaps[:-1], *neck.gaps[last:]),
    )


def _run_at(neck: Neck, phi: float, name: str, azimuth: float) -> tuple[int, int]:
    """Return the first and last of the pieces that run on without a dart through the ray at phi."""
    first = 0
    for k in range(len(neck.pieces)):
        if k < len(neck.gaps) and neck.gaps[k] is None:
            continue
        angles = angles_along(np.vstack([points for _, points in neck.pieces[first : k + 1]]))
        if angles[0] < phi < angles[-1]:
            return first, k
        first = k + 1
    raise DraftError(
        f"{name}azimuth_deg: got {math.degrees(azimuth):.6g}, where the neck edge is open or sewn already, allowed "
        "a place between two seams. Move the dart."
    )


def _mouth(points: np.ndarray, at: int, centre: np.ndarray, length: float) -> tuple[tuple[int, np.ndarray], ...] | None:
    """Return where the circle about `centre` is met going each way along the neck edge from its crossing of the ray.

    Each as (index of the point before, point); nothing where the edge ends inside the circle, None where it stays out.
    """
    inside = np.linalg.norm(points - centre, axis=1) < length
    if not inside[at] and not inside[at + 1]:
        return None
    before = np.flatnonzero(~inside[: at + 1])
    after = np.flatnonzero(~inside[at + 1 :])
    if not len(before) or not len(after):
        return ()
    i, j = int(before[-1]), at + int(after[0])
    return (i, _on_circle(points[i], points[i + 1], centre, length)), (
        j, _on_circle(points[j + 1], points[j], centre, length),
    )  # fmt: skip


def _even_mouth(
    points: np.ndarray, at: int, heading: np.ndarray, intake: float
) -> tuple[tuple[int, np.ndarray], tuple[int, np.ndarray]] | None:
    """Return a mouth as wide as the intake that lies evenly about the ray, for a neck edge that runs nearly along the
    circle about the dart's point, which then tells no mouth. Each end as in `_mouth`; None where the edge is too short.
    """
    aside = np.array([-heading[1], heading[0]])
    off = points @ aside  # from minus to plus at the ray
    low, high = 0.0, min(-float(off[: at + 1].min()), float(off[at + 1 :].max()))

    def ends(reach: float) -> tuple[tuple[int, np.ndarray], tuple[int, np.ndarray]]:
        i = int(np.flatnonzero(off[: at + 1] <= -reach)[-1])
        j = at + int(np.flatnonzero(off[at + 1 :] >= reach)[0])
        found = []
        for k, goal in ((i, -reach), (j, reach)):
            share = (goal - off[k]) / (off[k + 1] - off[k])
            found.append((k, np.asarray(points[k] + share * (points[k + 1] - points[k]))))
        return found[0], found[1]

    if high <= 0.0 or _width(ends(high)) < intake:
        return None
    for _ in range(80):
        middle = (low + high) / 2
        if _width(ends(middle)) < intake:
            low = middle
        else:
            high = middle
    return ends(high)


def _apex(start: np.ndarray, end: np.ndarray, heading: np.ndarray, length: float) -> np.ndarray:
    """Return the point of a dart whose legs of this length [m] begin at both ends of a mouth."""
    across = end - start
    out = np.array([across[1], -across[0]]) / np.linalg.norm(across)
    out *= math.copysign(1.0, float(out @ heading))
    return np.asarray((start + end) / 2 + out * math.sqrt(length**2 - float(across @ across) / 4))


def _width(mouth: tuple[tuple[int, np.ndarray], ...] | None) -> float:
    """Return how wide a mouth is [m]: zero where the circle is not met, endless where the edge is too short for it."""
    if not mouth:
        return 0.0 if mouth is None else math.inf
    return float(np.linalg.norm(mouth[1][1] - mouth[0][1]))


def _on_circle(outside: np.ndarray, inside: np.ndarray, centre: np.ndarray, length: float) -> np.ndarray:
    """Return where the stretch from outside a circle to inside it crosses the circle."""
    step, away = inside - outside, outside - centre
    a, b, c = float(step @ step), float(away @ step), float(away @ away) - length**2
    return outside + (-b - math.sqrt(max(b * b - a * c, 0.0))) / a * step


def cut_ends(neck: Neck, style: Style, length: float, intake: float) -> Neck:
    """Return the neck with shoulder cuts of `length` [m] at both straight edges, half the intake off each."""
    pieces, legs = list(neck.pieces), []
    for k, angle, sense in ((0, 0.0, 1.0), (-1, style.sweep, -1.0)):
        name, points = pieces[k]
        run = points if sense > 0 else points[::-1]
        off = sense * (run @ direction(angle + math.pi / 2))
        after = int(np.argmax(off > intake / 2))
        if after == 0 or intake >= 1.7 * length:
            raise DraftError(
                f"closure.shoulder_cut_intake_cm: the cut does not fit the drawn neck, got {100 * intake:.4g}, allowed "
                "less. Take less intake or lengthen the cut."
            )
        share = (intake / 2 - off[after - 1]) / (off[after] - off[after - 1])
        start = run[after - 1] + share * (run[after] - run[after - 1])
        kept = np.vstack([start, run[after:]])
        pieces[k] = (name, kept if sense > 0 else kept[::-1])
        legs.append((start, float(start @ direction(angle)) + math.sqrt(length**2 - (intake / 2) ** 2), angle, sense))
    bow = style.shoulder_cut_bow
    cuts = [
        _bowed(leg, -bow * sense) if bow else leg
        for leg, sense in ((np.array([start, reach * direction(angle)]), sense) for start, reach, angle, sense in legs)
    ]
    return replace(neck, pieces=tuple(pieces), cuts=(cuts[0], cuts[1]), cut_length=length, cut_intake=intake)


def bare(points: np.ndarray, style: Style, names: Sequence[str]) -> Neck:
    """Return a neck edge given as one curve over the whole draft, cut into its panels where the shoulders lie."""
    sweep = style.sweep
    stops = [sweep / 2] if len(names) == 2 else [sweep / 4, 3 * sweep / 4]
    rest, pieces = points, []
    for stop, name in zip(stops, names[:-1], strict=True):
        part, rest = _split_at(rest, stop)
        pieces.append((name, part))
    pieces.append((names[-1], rest))
    centres = {}
    for which, azimuth in (("front", 0.0), ("back", math.pi)):
        phi = sweep * share_of(azimuth, style)
        centres[which] = (_crossing(points, phi), direction(phi))
    width = float(np.linalg.norm(pieces[0][1][0] - pieces[0][1][-1]))
    return Neck(tuple(pieces), (None,) * len(stops), None, centres["front"], centres["back"], width, 0.0, 0.0)


def _crossing(points: np.ndarray, phi: float) -> np.ndarray:
    """Return where a neck edge crosses the ray at phi; its own end where the ray is a straight edge."""
    if phi < 1e-9:
        return points[0].copy()
    return _split_at(points, phi)[0][-1].copy()
