"""A drawing traced: from a file and what is known of it to its edges, the style that describes them, and how well.

In: a path, the wearer's figure, and what the maker says of the drawing. Out: a `Traced`. Every step is left to the
module named for it; here they are put in order, and the scale is found.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely
from shapely import LineString

from drape.arrays import Floats
from drape.draft.cloak import draft_cloak
from drape.draft.panels import share_of
from drape.draft.style import CLOSURE_PLACES, Style
from drape.errors import DraftError
from drape.tracing.carried import Change, carried
from drape.tracing.drawing import load_drawing
from drape.tracing.fitted import Fitted, fitted
from drape.tracing.joined import Joined, joined, without
from drape.tracing.lines import CLOAK, Drawing, Line, extent, length_of
from drape.tracing.named import Named, drawn_darts, given_edges, named, role_of
from drape.tracing.sector import Sector, sector
from drape.tracing.wedges import closure_of, neck_radii

if TYPE_CHECKING:
    from drape.body.figure import Figure

SAME: Final = 1e-7  # of a scale; nearer is the same
MOST_ROUNDS: Final = 6
LEAST_KNOWN, MOST_KNOWN = 0.001, 10.0  # m


@dataclass(frozen=True)
class Told:
    """What the maker says of a drawing. known [m]: the length between two of its edges. edges: as `--edge` has them.

    closure: where the cloak closes; None: as the drawing speaks for. mirrored: the drawing shows the wrong side.
    """

    known: float | None = None
    between: tuple[str, str] | None = None
    edges: tuple[str, ...] = ()
    closure: str | None = None
    mirrored: bool = False


@dataclass(frozen=True)
class Traced:
    """A drawing and what it was taken for. lines: its own, in metres; edges: where the drawing has them.

    closure_said: what speaks for the place of closure. mirrored: the drawing shows the wrong side. style: the one
    that goes into the scene: that of the drawing, or of the body it was carried over to, with what changed.
    """

    label: str
    lines: tuple[Line, ...]
    scale_said: str
    edges: Named
    drawn: Sector
    fitted: Fitted
    closure_said: str
    mirrored: bool
    style: Style
    changes: tuple[Change, ...] = ()


@dataclass(frozen=True)
class InMetres:
    """A drawing in metres with its edges."""

    lines: tuple[Line, ...]
    said: str
    whole: Joined
    edges: Named
    drawn: Sector


@dataclass(frozen=True)
class Found:
    """A drawing's edges, before any wearer is asked for. place: of closure; said: what speaks for it."""

    label: str
    drawing: InMetres
    place: str
    said: str
    mirrored: bool


def find_edges(path: Path, told: Told) -> Found:
    """The edges of the drawing in a file, as what is told says and its shapes show. Raises DraftError: one line."""
    drawing = load_drawing(path)
    _check_told(told)
    given = given_edges(told.edges, drawing.lines)
    lines = tuple(line for line in drawing.lines if role_of(line, given)[0] != "nothing")
    if not lines:
        raise DraftError(f"{drawing.label}: got no line that is an edge, allowed an outline. See --edge ID=NAME.")
    drawing = replace(drawing, lines=lines)
    mirrored = told.mirrored
    if mirrored:
        drawing = _mirrored(drawing)
    found = _scaled(drawing, given, told)
    place, said, by_side = closure_of(found.drawn, [dart.point for dart in found.drawn.edges.darts])
    if told.closure is not None and told.closure != place:
        if by_side and "centre front" not in (told.closure, place):  # then the wrong side was drawn
            mirrored = not mirrored
            found = _scaled(_mirrored(drawing), given, told)
        place, said = told.closure, "as --closure says"
    elif by_side and told.closure is None:
        said += "; the other shoulder if the drawing shows the wrong side: say --mirrored"
    return Found(drawing.label, found, place, said, mirrored)


def trace(found: Found, figure: Figure) -> Traced:
    """A drawing's edges described by a style and a draft for a figure. Raises DraftError: one line."""
    known = found.drawing
    made = fitted(known.drawn, found.place, figure)
    return Traced(
        found.label, known.lines, known.said, known.edges, known.drawn, made, found.said, found.mirrored, made.style
    )


def carry_over(traced: Traced, old: Figure, new: Figure) -> Traced:
    """The same draft for another body than the one it was cut for. Raises DraftError where it cannot be drawn there."""
    style, changes = carried(traced.fitted.style, old, new)
    draft_cloak(style, new)
    return replace(traced, style=style, changes=changes)


def _check_told(told: Told) -> None:
    if (told.known is None) != (told.between is None):
        have, miss = ("--known-cm", "--between") if told.between is None else ("--between", "--known-cm")
        raise DraftError(f"trace: got {have} without {miss}, allowed both. Write --known-cm 112 --between hem neck.")
    if told.known is not None and not LEAST_KNOWN <= told.known <= MOST_KNOWN:
        raise DraftError(
            f"--known-cm: got {100 * told.known:g}, allowed {100 * LEAST_KNOWN:g} to {100 * MOST_KNOWN:g}. Give it in "
            "cm."
        )
    if told.closure is not None and told.closure not in CLOSURE_PLACES:
        raise DraftError(f"--closure: got {told.closure!r}, allowed {', '.join(CLOSURE_PLACES)}. Write one of them.")


def _mirrored(drawing: Drawing) -> Drawing:
    return replace(
        drawing, lines=tuple(replace(line, points=line.points * np.array([-1.0, 1.0])) for line in drawing.lines)
    )


# --- the scale --------------------------------------------------------------------------------


def _scaled(drawing: Drawing, given: dict[str, str], told: Told) -> InMetres:
    """The drawing in metres, its scale its own, or such that the known length comes out. Raises DraftError."""
    if told.known is None or told.between is None:
        if drawing.scale is None:
            raise DraftError(
                f"{drawing.label}: nothing says how large it is, allowed a size in mm, cm or in. Write --known-cm 112 "
                '--between hem neck, or draw a line called "scale 20 cm".'
            )
        return _in_metres(drawing, drawing.scale, drawing.scale_said, given)
    scale = CLOAK / extent(drawing.lines)
    said = f"by the {100 * told.known:g} cm between {told.between[0]} and {told.between[1]}"
    for _ in range(MOST_ROUNDS):
        found = _in_metres(drawing, scale, said, given)
        got = _between(found, told.between, given)
        if not got > 0:
            raise DraftError(f"--between: got {' and '.join(told.between)}, which touch, allowed two edges apart.")
        scale *= told.known / got
        if abs(told.known / got - 1) < SAME:
            break
    return _in_metres(drawing, scale, said, given)


def _in_metres(drawing: Drawing, scale: float, said: str, given: dict[str, str]) -> InMetres:
    lines = tuple(replace(line, points=scale * line.points) for line in drawing.lines)
    size = extent(lines)
    if not 0.2 <= size <= 20.0:
        raise DraftError(
            f"{drawing.label}: got {100 * size:.4g} cm across, {said or 'by the scale'}, allowed 20 to 2000. Check the "
            "scale, or write --known-cm 112 --between hem neck."
        )
    whole = joined(lines, drawing.label)
    edges = named(whole, given, drawing.label)
    wedges, taken = drawn_darts(edges, whole, given)
    if wedges:
        whole = without(whole, wedges, taken)
        edges = named(whole, given, drawing.label)
    return InMetres(lines, said, whole, edges, sector(edges))


def _between(found: InMetres, names: Sequence[str], given: dict[str, str]) -> float:
    """The length between two edges [m]: hem and neck down centre back, others where they are nearest; of one named
    twice its own length.
    """
    if set(names) == {"hem", "neck"}:
        place, _, _ = closure_of(found.drawn, [dart.point for dart in found.drawn.edges.darts])
        phi, radius = neck_radii(found.drawn)
        behind = share_of(math.pi, Style(neck="round", closure_place=place)) * found.drawn.sweep
        hem = found.drawn.edges.hem
        angle = np.unwrap(np.arctan2(hem[:, 1], hem[:, 0]))
        return float(np.interp(behind, angle, np.linalg.norm(hem, axis=1)) - np.interp(behind, phi, radius))
    runs = [_called(found, name, given) for name in names]
    if names[0] == names[1]:
        return max(length_of(run) for run in runs[0])
    shapes = [shapely.union_all([LineString(run) for run in of]) for of in runs]
    return float(shapes[0].distance(shapes[1]))


def _called(found: InMetres, name: str, given: dict[str, str]) -> list[Floats]:
    """The lines of an edge, or of a name or layer in the drawing [m]. Raises DraftError."""
    edges = found.edges
    own = {
        "hem": [edges.hem], "neck": list(edges.neck), "opening": list(edges.openings),
        "dart": [leg for dart in edges.darts for leg in (dart.first, dart.second)],
    }.get(name) or [line.points for line in found.lines if name in (line.name, *line.words)]  # fmt: skip
    if not own:
        raise DraftError(
            f"--between: got {name!r}, allowed hem, neck, opening, dart, or a name or layer in the drawing. Check it."
        )
    return own
