"""What to chalk: the points of every curve as offsets from the straight edge and the centre.

In: a `Draft`. Out: the corners and the points on its curves, lettered and numbered, and the hem's where no one string
scribes it. Flat positions [m]. Drawing them is left to `draft_drawing`, the card to take to the table to `chalk_card`.
"""

from __future__ import annotations

import math

import numpy as np

from drape.draft.drawn_edges import ends_of
from drape.draft.neckline import direction
from drape.draft.outline import Draft, closing_line, length_of, place_along, run_of

LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"  # no I and no O: one looks like a number, the other is the centre
SHORT = 0.04  # m; a curve shorter than this needs no point between its ends

Chalked = tuple[str, str, np.ndarray]


def chalk_points(draft: Draft) -> list[Chalked]:
    """Return the points to chalk: letter or number, what it is, flat position [m].

    Letters are corners; numbers lie on curves, the neck edge's at thirds between its corners and centre points.
    """
    rows = _corners(draft)
    lettered = [(letter(k), label, point) for k, (label, point) in enumerate(rows)]
    numbered: list[Chalked] = []
    for label, run in _curves(draft):
        whole = length_of(run)
        for share in (1 / 3, 2 / 3) if "leg" not in label and "cut" not in label else (0.5,):
            numbered.append((str(len(numbered) + 1), label, place_along(run, share * whole)))
    return lettered + numbered


def letter(k: int) -> str:
    """Return the k-th letter; after the last come A2, B2 and so on."""
    return LETTERS[k % len(LETTERS)] + (str(1 + k // len(LETTERS)) if k >= len(LETTERS) else "")


def _corners(draft: Draft) -> list[tuple[str, np.ndarray]]:
    """Return every corner of neck, darts, cuts and fastening: what it is and where."""
    marks = draft.marks
    rows = [
        (f"{side} neck point", marks[f"{side} neck"])
        for side, azimuth in (("front", 0.0), ("back", math.pi))
        if not any(abs(math.remainder(dart.azimuth - azimuth, 2 * math.pi)) < 1e-6 for dart in draft.darts)
    ]
    if moved_said(draft):  # the two ends of the neck edge are no longer mirror images
        rows[:1] = [
            (f"front neck point, {side}", closing_line(draft, k)[0]) for k, side in enumerate(("left", "right"))
        ]
    for name, point in marks.items():
        if " side neck" in name:
            side, _, which = name.partition(" side neck")
            rows.append((f"{side} side neck{',' + which if which else ''}", point))
    for dart in draft.darts:
        if not dart.place:
            rows += [(f"{leg.removesuffix(' leg')} edge", run_of(draft, leg)[0]) for leg in dart.legs]
        rows.append((f"{dart.point}, inside", marks[dart.point]))
    for name, point in marks.items():
        if name.endswith(" cut point"):
            rows.append((f"cut ends, {name.removesuffix(' cut point')}", point))
    cuts = [point for label, point in rows if label.startswith("cut ends")]
    for name in draft.closure:
        end = run_of(draft, name)[-1]
        if not any(np.linalg.norm(end - cut) < 1e-6 for cut in cuts):
            rows.append((f"fastening ends, {name.removesuffix(' closure')}", end))
    return rows


def _curves(draft: Draft) -> list[tuple[str, np.ndarray]]:
    """Return every curve that no string can scribe: its name and its points [m], shape (k, 2)."""
    found = []
    if draft.style.neck != "round":
        for name in draft.neck:
            run = run_of(draft, name)
            stops = {0, len(run) - 1}
            for mark in ("front neck", "back neck"):
                away = np.linalg.norm(run - draft.marks[mark], axis=1)
                if away.min() < 1e-3:
                    stops.add(int(away.argmin()))
            places = sorted(stops)
            for start, stop in zip(places[:-1], places[1:], strict=True):
                if length_of(run[start : stop + 1]) > SHORT:
                    found.append((f"on the {name} edge", run[start : stop + 1]))
    for side, (name, which) in enumerate(zip(draft.opening, ("first", "last"), strict=True)):
        if getattr(draft.style, f"{which}_edge_along"):
            found.append((f"on the {name} edge", closing_line(draft, side)))
    for dart in draft.darts:
        found += [(f"on the {leg}, inside", run_of(draft, leg)) for leg in dart.legs if len(run_of(draft, leg)) > 2]
    for side, name in enumerate(draft.closure):
        cut = draft.marks.get(name.replace("closure", "cut point"))
        line = closing_line(draft, side)
        if cut is not None and len(line) > 10:
            end = int(np.linalg.norm(line - cut, axis=1).argmin())
            found.append((f"on the {name.removesuffix(' closure')} cut", line[: end + 1]))
    return found


def moved_said(draft: Draft) -> tuple[str, str, str] | None:
    """Return the side whose opening edge lies inside its straight line from O, the side whose lies outside, and how
    far [cm, in words]; None where both lie on it.
    """
    moved = draft.dimensions.get("closure_moved", 0.0)
    if not moved:
        return None
    inside, outside = ("left", "right") if moved > 0 else ("right", "left")
    return inside, outside, cm(abs(moved))


def is_arc(draft: Draft) -> bool:
    """Return whether one string from O scribes the whole hem."""
    return float(np.ptp(np.linalg.norm(run_of(draft, "hem"), axis=1))) < 1e-4


def hem_points(draft: Draft) -> list[tuple[float, float, np.ndarray]]:
    """Return the hem where one string does not scribe it: angle from the first edge [rad], string [m], position [m]."""
    sweep = draft.style.sweep
    if is_arc(draft):
        return []
    count = max(8, round(math.degrees(sweep) / 15))
    places = np.linspace(*ends_of(run_of(draft, "hem"), sweep), count + 1)
    return [(float(phi), hem_at(draft, phi), hem_at(draft, phi) * direction(phi)) for phi in places]


def collar_facts(draft: Draft) -> list[str]:
    """Return the sentences a maker needs beside the drawn collar."""
    values, collar = draft.dimensions, draft.style.collar
    back, front = (100 * values[name] for name in ("collar_height", "collar_front_height"))
    shape = (
        "straight" if values["collar_taken_in"] < 1e-6 else f"shaped, {100 * values['collar_taken_in']:.1f} taken in"
    )
    height = f"{back:.1f} high" if abs(back - front) < 0.05 else f"{back:.1f} high behind, {front:.1f} in front"
    return [
        f"collar, cut one, {shape}",
        height,
        f"neck seam {100 * values['neck_edge_length']:.1f}, top edge {100 * values['collar_top_length']:.1f}",
        "notches on those of the neck edge, double at centre back",
        *(
            [f"{collar.buttons} button{'s' if collar.buttons > 1 else ''} on its ends"]
            if collar and collar.buttons
            else []
        ),
    ]


def collar_steps(draft: Draft) -> list[str]:
    """Return how the collar is scribed: a strip, or a ring struck from one centre; then its height all along."""
    values = draft.dimensions
    if not draft.collar:
        return []
    length, back, front = (100 * values[name] for name in ("neck_edge_length", "collar_height", "collar_front_height"))
    taken = 100 * values["collar_taken_in"]
    if taken < 1e-4:
        line = f"chalk a straight line of {length:.1f} cm, its neck seam"
    else:
        line = f"a string of {length * back / taken:.1f} cm strikes its neck seam, {length:.1f} cm along the arc"
    if abs(back - front) < 0.05:
        return [f"{line}; its top edge lies {back:.1f} cm inside, square to it all along."]
    return [
        f"{line}; its top edge lies inside, square to it: {front:.1f} cm at centre front, {(back + front) / 2:.1f} "
        f"halfway, {back:.1f} at centre back."
    ]


def hem_at(draft: Draft, phi: float) -> float:
    """Return the hem's distance from O at phi [m]."""
    hem = run_of(draft, "hem")
    angles = np.linspace(*ends_of(hem, draft.style.sweep), len(hem))
    return float(np.interp(phi, angles, np.linalg.norm(hem, axis=1)))


def cm(value: float) -> str:
    """Return a length [m] in cm to the millimetre, without a minus before zero."""
    return f"{100 * value:.1f}".replace("-0.0", "0.0") if abs(value) < 0.0005 else f"{100 * value:.1f}"
