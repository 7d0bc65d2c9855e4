"""How the closure is fastened: how far down, with what, and where along the edge.

In: a `Style`, the figure, the length of the closure edge. Out: a `Fastening`, lengths [m] from the neck edge along the
closing line, where one edge lies on the other.

Sizes are the trade's, none of them a standard: coat buttons stand 9 to 11 cm apart; a button's middle keeps half to
three quarters of its diameter from the edge; a buttonhole is the diameter and 3 mm long (sewing handbooks and button
sellers agree; common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from drape.draft.style import Style
from drape.errors import DraftError

if TYPE_CHECKING:
    from drape.body.figure import Figure

COLLAR_REACH = 0.02  # m of edge that a clasp, a tie or a collar's end holds together; common practice, no source
BUTTON_DIAMETER = 0.02  # m, of a coat button; common practice, no source
BUTTON_SPACING = 0.10  # m, of coat buttons; common practice, no source
BUTTON_FROM_EDGE = 0.75  # diameters from a button's middle to the edge; common practice, no source
LEAST_FROM_EDGE = 0.5  # diameters; nearer, the button stands over the edge; common practice, no source
BUTTONHOLE_MORE = 0.003  # m a buttonhole is longer than the button is wide; common practice, no source
SMALLEST_BUTTON, LARGEST_BUTTON = 0.006, 0.08  # m; ours


@dataclass(frozen=True)
class Fastening:
    """What holds the closure. Lengths [m].

    length: fastened, from the neck edge. kind: "buttons", "clasp", "ties" or "" where nothing was asked.
    places: middles of buttons, clasp or ties from the neck edge. overlap: half of it on either edge.
    """

    length: float
    kind: str
    places: tuple[float, ...]
    diameter: float
    buttonhole: float
    overlap: float


def fasten(style: Style, figure: Figure, cut_length: float | None, shoulder_length: float) -> Fastening:
    """Return the fastening; `cut_length` is the shoulder cuts' [m], None where there are none."""
    length = fastened_length(style, figure, cut_length, shoulder_length)
    kind = style.fastening or ""
    if not kind and any(v is not None for v in (style.buttons, style.button_diameter, style.button_spacing)):
        kind = "buttons"
    if kind == "buttons":
        return _buttoned(style, length)
    places = (min(0.01, length / 2),) if kind else ()
    return Fastening(length, kind, places, 0.0, 0.0, style.overlap or 0.0)


def fastened_length(style: Style, figure: Figure, cut_length: float | None, shoulder_length: float) -> float:
    """Return how far down the closure is fastened [m].

    By default: as long as the shoulder cuts, else as the shoulder, and at centre front down to the chest.
    """
    if style.fastened_length is not None:
        return style.fastened_length
    front = style.closure_place == "centre front"
    end = style.fastened_to or ("chest" if front else None)
    if end == "collar":
        return COLLAR_REACH
    if front and end is not None:
        return float(figure.landmarks["front_neck"][2] - figure.levels[end])
    if end == "elbow":
        return shoulder_length + 0.5 * float(figure.tape["arm_length"])
    return shoulder_length if cut_length is None or end is not None else cut_length


def _buttoned(style: Style, length: float) -> Fastening:
    """Return buttons from one diameter below the neck edge to the end of the fastening, evenly apart."""
    diameter = BUTTON_DIAMETER if style.button_diameter is None else style.button_diameter
    if not SMALLEST_BUTTON <= diameter <= LARGEST_BUTTON:
        raise DraftError(
            f"closure.button_diameter_cm: got {100 * diameter:.4g}, allowed {100 * SMALLEST_BUTTON:.4g} to "
            f"{100 * LARGEST_BUTTON:.4g}. Coat buttons are about 2."
        )
    overlap = 2 * BUTTON_FROM_EDGE * diameter if style.overlap is None else style.overlap
    if overlap / 2 < LEAST_FROM_EDGE * diameter - 1e-9:
        raise DraftError(
            f"closure.overlap_cm: got {100 * overlap:.4g}, allowed at least {200 * LEAST_FROM_EDGE * diameter:.4g}, or "
            f"the buttons of {100 * diameter:.4g} stand over the edge. Widen it, or take smaller buttons."
        )
    first = min(diameter, length / 2)
    room = length - first
    if style.buttons is not None:
        count = style.buttons
    elif style.button_spacing is not None:
        count = 1 + int(room / style.button_spacing + 1e-9)
    else:
        count = 1 + max(round(room / BUTTON_SPACING), 1 if room > 2 * diameter else 0)
    apart = style.button_spacing or (room / (count - 1) if count > 1 else 0.0)
    if count > 1 and apart < diameter - 1e-9:
        where = "button_spacing_cm" if style.button_spacing is not None else "buttons"
        got = f"{100 * apart:.4g}" if style.button_spacing is not None else f"{count}, {100 * apart:.3g} apart"
        raise DraftError(
            f"closure.{where}: buttons are closer than their size, got {got}, allowed at least "
            f"{100 * diameter:.4g} apart. Take fewer or smaller ones, or fasten further down."
        )
    places = tuple(first + k * apart for k in range(count)) if count > 1 else (first,)
    return Fastening(length, "buttons", places, diameter, diameter + BUTTONHOLE_MORE, overlap)
