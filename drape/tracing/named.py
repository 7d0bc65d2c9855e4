"""Which stretch of an outline is which edge: neck, hem, opening edges, darts; by what they are called, else found.

In: a `Joined`. Out: a `Named`. Found are: the hem, the longest stretch, from corner to corner; a dart, a notch whose
point lies away from the neck; the opening edges, which run from the hem inward; the neck, what is left. An edge called
by a plain word, or by `--edge`, goes before what is found.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from drape.arrays import Floats
from drape.errors import DraftError
from drape.polyline import at_length, length_along, polyline_distance
from drape.schema import either, shown
from drape.tracing.joined import GAP, Joined, places_along
from drape.tracing.lines import Line

ROLES: Final = ("hem", "neck", "opening", "dart", "piecing", "outline", "nothing")
WORDS: Final[Mapping[str, tuple[str, ...]]] = {
    "hem": ("hem", "hemline", "bottom"),
    "neck": ("neck", "neckline", "neckhole"),
    "opening": ("opening", "closure", "openings"),
    "dart": ("dart", "darts", "wedge"),
    "piecing": ("piecing", "piecings", "seam", "seams", "join", "joins"),
    "outline": ("outline", "contour"),
    "nothing": ("grain", "notes", "note", "dimensions", "frame", "construction", "text", "title", "border", "grid"),
}
WINDOW: Final = 0.02  # m on either side, over which the turn at a corner is taken
LEAST_CORNER: Final = math.radians(50)  # of turn; a neck edge bends by less over the window
LEAST_MOUTH: Final = math.radians(30)  # of turn where a dart's leg meets the neck edge; the wider the dart, the less
BOWED: Final = 0.1  # of its chord that a dart's leg stands off it at most
DART_TURN: Final = math.radians(105)  # of turn at a dart's point: its legs are less than 75 degrees apart
RADIAL: Final = math.cos(math.radians(50))  # an edge within 50 degrees of the line from the centre runs inward
OUTER: Final = 0.6  # of the hem's radius; the hem lies beyond it
MOSTLY: Final = 0.6  # of a stretch that lies on named lines, for it to have their name
NEAR: Final = 0.003  # m; a stretch that lies so near to a named line is that line


@dataclass(frozen=True)
class NamedDart:
    """A dart's legs, each from the neck edge to its point [m], shape (k, 2)."""

    first: Floats
    second: Floats

    @property
    def point(self) -> Floats:
        """Its point [m]."""
        return self.first[-1]


@dataclass(frozen=True)
class Named:
    """A drawing's edges [m]. hem: from the first opening edge round to the last, anticlockwise about the centre.

    openings: the first and the last edge, each from the neck to the hem. neck: its stretches from the first edge
    round; between two of them lies the dart of the same place, or none (None). inner: lines inside, each with what it
    was taken for. how: what each kind of edge was found by.
    """

    hem: Floats
    openings: tuple[Floats, Floats]
    neck: tuple[Floats, ...]
    darts: tuple[NamedDart, ...]
    inner: tuple[tuple[str, Line], ...]
    how: Mapping[str, str]


def role_of(line: Line, given: Mapping[str, str]) -> tuple[str, str]:
    """What a line is by what it is called, and the word that says so; empty where nothing does.

    given: by name or layer, from the command line.
    """
    for word in (line.name, *line.words):
        if word in given:
            return given[word], f"--edge {word}={given[word]}"
    for word in line.words:
        parts = set(re.findall(r"[a-z]+", word.lower()))
        for role, known in WORDS.items():
            if parts & set(known):
                return role, f"its name {shown(word)}"
    return "", ""


def given_edges(texts: Sequence[str], lines: Sequence[Line]) -> dict[str, str]:
    """The names of `--edge ID=NAME`. Raises DraftError."""
    known = {word for line in lines for word in (line.name, *line.words)}
    given = {}
    for text in texts:
        name, _, role = text.rpartition("=")
        if role not in ROLES or not name:
            raise DraftError(f"--edge: got {shown(text)}, allowed ID=NAME with NAME {either(ROLES)}.")
        if name not in known:
            near = ", ".join(sorted(known)[:8])
            raise DraftError(f"--edge: got {shown(name)}, allowed a name or layer in the drawing: {near}.")
        given[name] = role
    return given


# --- corners ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Stretch:
    """A stretch of the outline from corner to corner; turn: at its end [rad], positive to the left."""

    points: Floats
    turn: float


def corners(loop: Floats) -> tuple[Floats, Floats]:
    """The places in a closed loop where it turns sharply, and by how much [rad], positive to the left."""
    closed = np.vstack([loop, loop[:1]])
    along = length_along(closed)
    total = along[-1]
    window = min(WINDOW, total / 20)
    behind = at_length((along[:-1] - window) % total, along, closed)
    ahead = at_length((along[:-1] + window) % total, along, closed)
    a, b = loop - behind, ahead - loop
    turn = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], np.sum(a * b, axis=1))
    sharp = np.flatnonzero(np.abs(turn) > LEAST_CORNER)
    found: list[int] = []
    for k in sharp[np.argsort(-np.abs(turn[sharp]), kind="stable")]:
        apart = [abs(along[k] - along[other]) for other in found]
        if all(min(one, total - one) > window for one in apart):
            found.append(int(k))
    places = np.array(sorted(found + _mouths(loop, turn, sorted(found))), dtype=int)
    return places, turn[places]


def _mouths(loop: Floats, turn: Floats, found: Sequence[int]) -> list[int]:
    """The ends of darts' legs at the neck edge that turn by too little to be corners anywhere else.

    On either side of a dart's point, before the next corner, that is the sharpest turn that a leg runs straight to.
    """
    mouths = []
    for n, point in enumerate(found):
        if turn[point] > -DART_TURN:
            continue
        for corner, sense in ((found[(n + 1) % len(found)], 1), (found[n - 1], -1)):
            run = (point + sense * np.arange(sense * (corner - point) % len(loop) + 1)) % len(loop)
            along = length_along(loop[run])
            inner = (along > WINDOW) & (along < along[-1] - WINDOW) & (turn[run] > LEAST_MOUTH)
            sharpest = sorted(np.flatnonzero(inner), key=lambda k: -turn[run[k]])
            mouths += [int(run[k]) for k in sharpest if _is_straight(loop[run[: k + 1]], BOWED)][:1]
    return mouths


def _stretches(loop: Floats) -> list[_Stretch]:
    places, turns = corners(loop)
    found = []
    for k, start in enumerate(places):
        end = places[(k + 1) % len(places)]
        run = loop[start : end + 1] if end > start else np.vstack([loop[start:], loop[: end + 1]])
        found.append(_Stretch(run, float(turns[(k + 1) % len(places)])))
    return found


# --- which is which ---------------------------------------------------------------------------


def named(whole: Joined, given: Mapping[str, str], label: str) -> Named:
    """The edges of an outline. Raises DraftError where one cannot be found."""
    stretches = _stretches(whole.outline)
    if len(stretches) < 4:
        raise DraftError(
            f"{label}: got an outline with {len(stretches)} corners, allowed 4 and more: two at the neck, two at the "
            "hem. Draw the edges with corners between them."
        )
    roles = [_role_along(stretch.points, whole.lines, given) for stretch in stretches]
    at, count, centre, hem_how = _hem(stretches, [role for role, _ in roles], label)
    order = [(at + k) % len(stretches) for k in range(len(stretches))]
    hem = np.vstack([stretches[k].points[: None if n == count - 1 else -1] for n, k in enumerate(order[:count])])
    rest = [stretches[k] for k in order[count:]]
    said = [roles[k][0] for k in order[count:]]
    last, first = _openings(rest, said, centre, label)
    inside = rest[last : len(rest) - first]
    neck, darts = _neck(inside, said[last : len(rest) - first], label)
    how = {"hem": next((why for role, why in roles if role == "hem"), "") or hem_how}
    for name, found in (
        ("neck", "found between the opening edges"),
        ("opening", "found: the edges that run in from the hem"),
        ("dart", "found: a notch that points away from the neck"),
    ):
        how[name] = next((why for role, why in roles if role == name), "") or found
    made = Named(
        hem=hem,
        openings=(_run(rest[len(rest) - first :]), _run(rest[:last])[::-1].copy()),
        neck=tuple(run[::-1].copy() for run in neck[::-1]),
        darts=tuple(NamedDart(dart.second, dart.first) for dart in darts[::-1]),
        inner=(),
        how=how,
    )
    return _with_inner(made, whole, given, centre)


def _run(stretches: Sequence[_Stretch]) -> Floats:
    return np.vstack([stretches[0].points, *(one.points[1:] for one in stretches[1:])])


def _role_along(points: Floats, lines: Sequence[Line], given: Mapping[str, str]) -> tuple[str, str]:
    """The role of the named line that most of a stretch lies on, and the word for it."""
    places = places_along(points)
    on: dict[str, np.ndarray] = {}
    words: dict[str, str] = {}
    for line in lines:
        role, why = role_of(line, given)
        if role in ("hem", "neck", "opening", "dart"):
            near = polyline_distance(places, line.points) < NEAR
            on[role] = on.get(role, False) | near
            words.setdefault(role, why)
    best = max(on, key=lambda role: float(on[role].mean()), default="")
    return (best, words[best]) if best and on[best].mean() > MOSTLY else ("", "")


def _hem(stretches: Sequence[_Stretch], roles: Sequence[str], label: str) -> tuple[int, int, Floats, str]:
    """Where the hem begins among the stretches, how many it has, the centre of its circle, how it was found."""
    count = len(stretches)
    lengths = [float(length_along(one.points)[-1]) for one in stretches]
    called = [k for k in range(count) if roles[k] == "hem"]
    seed = max(called or range(count), key=lambda k: lengths[k])
    centre, radius = circle(stretches[seed].points)
    if not called and _is_straight(stretches[seed].points, 0.01):
        raise DraftError(
            f"{label}: found no hem, the longest edge ({100 * lengths[seed]:.0f} cm) is straight, allowed an arc. Say "
            "which it is with --edge ID=hem, and leave frames out with --edge ID=nothing."
        )

    def is_hem(k: int) -> bool:
        if roles[k]:
            return roles[k] == "hem"
        points = places_along(stretches[k].points)
        off = np.linalg.norm(points - centre, axis=1)
        return not called and bool(off.min() > OUTER * radius) and not _is_radial(stretches[k].points, centre)

    first = last = seed
    while is_hem((first - 1) % count) and (first - 1) % count != last:
        first = (first - 1) % count
    while is_hem((last + 1) % count) and (last + 1) % count != first:
        last = (last + 1) % count
    return first, (last - first) % count + 1, centre, "found: the longest arc"


def circle(points: Floats) -> tuple[Floats, float]:
    """The centre and radius of the circle that fits places along a polyline best, by its equation (Kåsa 1976)."""
    places = places_along(points, max(1e-3, float(length_along(points)[-1]) / 400))
    middle = places.mean(axis=0)
    local = places - middle
    matrix = np.column_stack([2 * local, np.ones(len(local))])
    found, *_ = np.linalg.lstsq(matrix, np.sum(local**2, axis=1), rcond=None)
    return found[:2] + middle, math.sqrt(max(0.0, float(found[2] + found[:2] @ found[:2])))


def _is_radial(points: Floats, centre: Floats) -> bool:
    """Whether a stretch runs towards the centre or from it rather than round it."""
    step, middle = points[-1] - points[0], (points[0] + points[-1]) / 2 - centre
    return abs(float(step @ middle)) > RADIAL * float(np.linalg.norm(step)) * float(np.linalg.norm(middle))


def _is_straight(points: Floats, share: float = 0.05) -> bool:
    """Whether a stretch nowhere stands off its chord by more than a share of it."""
    chord = points[-1] - points[0]
    off = np.abs((points - points[0]) @ np.array([-chord[1], chord[0]]))
    return bool(off.max() < share * float(chord @ chord))


def _openings(rest: Sequence[_Stretch], said: Sequence[str], centre: Floats, label: str) -> tuple[int, int]:
    """How many stretches after the hem are its last opening edge, and how many before it are the first."""
    counts = []
    for order in (range(len(rest)), range(len(rest) - 1, -1, -1)):
        count = 0
        for k in order:
            runs_in = _is_radial(rest[k].points, centre) and (not count or _is_straight(rest[k].points))
            if said[k] not in ("", "opening") or not (said[k] or runs_in):
                break
            count += 1
        counts.append(count)
    if not all(counts) or sum(counts) >= len(rest):
        raise DraftError(
            f"{label}: found no two opening edges that run in from the hem to a neck, got {sum(counts)} of "
            f"{len(rest)} edges. Say which they are with --edge ID=opening, and --edge ID=neck."
        )
    return counts[0], counts[1]


def _neck(inside: Sequence[_Stretch], said: Sequence[str], label: str) -> tuple[list[Floats], list[NamedDart]]:
    """The neck's stretches and the darts between them, both in the order of the outline."""
    runs: list[list[_Stretch]] = [[]]
    darts: list[NamedDart] = []
    k = 0
    while k < len(inside):
        is_tip = inside[k].turn < -DART_TURN and k + 1 < len(inside)
        is_called = said[k] == "dart" and k + 1 < len(inside) and said[k + 1] == "dart"
        if is_tip and "neck" not in said[k : k + 2] or is_called:
            darts.append(NamedDart(inside[k].points, inside[k + 1].points[::-1].copy()))
            runs.append([])
            k += 2
        else:
            runs[-1].append(inside[k])
            k += 1
    if not all(runs):
        raise DraftError(f"{label}: found a dart with no neck edge beside it. Say which the neck is: --edge ID=neck.")
    return [_run(run) for run in runs], darts


def drawn_darts(edges: Named, whole: Joined, given: Mapping[str, str]) -> tuple[list[Floats], list[str]]:
    """Darts drawn as lines inside an unbroken neck edge: each from it to the point and back; and their lines' names."""
    wedges: list[Floats] = []
    taken: list[str] = []
    lines = [line for line in whole.inner if role_of(line, given)[0] in ("", "dart", "outline")]
    for k, line in enumerate(lines):
        if line.name in taken:
            continue
        joined_up = [(line, None)] + [(line, other) for other in lines[k + 1 :] if other.name not in taken]
        for one, other in joined_up:
            path = one.points if other is None else _chained(one.points, other.points)
            if path is not None and _is_dart(path, edges.neck):
                wedges.append(_run_on(path))
                taken += [one.name] + ([other.name] if other is not None else [])
                break
    return wedges, taken


def _chained(first: Floats, second: Floats) -> Floats | None:
    """Two lines that meet in one place as one, from free end to free end; None where they do not meet."""
    for a in (first, first[::-1]):
        for b in (second, second[::-1]):
            if float(np.linalg.norm(a[-1] - b[0])) <= 2 * GAP:
                return np.vstack([a, b[1:]])
    return None


def _run_on(path: Floats) -> Floats:
    """A line run on straight at both ends, so that it surely comes out of the cloth."""
    ends = [(path[0], path[0] - path[1]), (path[-1], path[-1] - path[-2])]
    first, last = (place + 4 * GAP * step / np.linalg.norm(step) for place, step in ends)
    return np.vstack([first, path, last])


def _is_dart(path: Floats, neck: Sequence[Floats]) -> bool:
    """Whether a line leaves the neck edge, turns back sharply, and comes to it again."""
    edge = np.vstack(neck)
    if polyline_distance(path[[0, -1]], edge).max() > 2.5 * GAP or len(path) < 3:
        return False
    tip = int(polyline_distance(path, edge).argmax())
    legs = path[0] - path[tip], path[-1] - path[tip]
    lengths = [float(np.linalg.norm(leg)) for leg in legs]
    if tip in (0, len(path) - 1) or min(lengths) < 0.02 or max(lengths) > 1.5 * min(lengths):
        return False
    return float(legs[0] @ legs[1]) > lengths[0] * lengths[1] * math.cos(math.pi - DART_TURN)


def _with_inner(made: Named, whole: Joined, given: Mapping[str, str], centre: Floats) -> Named:
    """The edges with the lines inside: a dart drawn on an unbroken neck edge is cut in; the others are told apart."""
    inner: list[tuple[str, Line]] = []
    closed = np.vstack([whole.outline, whole.outline[:1]])
    others = [line.points for line in whole.inner]
    for k, line in enumerate(whole.inner):
        role, _ = role_of(line, given)
        if role not in ("dart", "piecing", "nothing"):
            ends = line.points[[0, -1]]
            reached = polyline_distance(ends, closed) < 2.5 * GAP
            beside = [polyline_distance(ends, run) < 2.5 * GAP for j, run in enumerate(others) if j != k]
            touching = reached | np.any([np.zeros(2, dtype=bool), *beside], axis=0)
            from_neck = any(polyline_distance(ends, run).min() < 2.5 * GAP for run in made.neck)
            is_centre = from_neck and _is_radial(line.points, centre)
            role = "piecing" if touching.all() and not is_centre else "nothing"
        inner.append((role, line))
    return replace(made, inner=tuple(inner))
