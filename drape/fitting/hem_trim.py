"""The hem trimmed on the settled cloth until it hangs where the maker asked.

In: a style and the settled hem. Out: what to add to the hem's radius [m]. A hem asked for at a place of the figure is
moved in front, at the sides and behind; a level one wherever it hangs too low or too high. Cloth is biassed in places
and folds in others, so no formula gives the trim; each round takes off what hangs too low and lets out what hangs too
high. Running the solver is left to `sit`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from drape.arrays import Floats
from drape.draft.drawn_edges import ends_of
from drape.draft.hem import FALL_SHARE, hem_wave, targets
from drape.draft.outline import Draft, run_of
from drape.draft.panels import share_of
from drape.draft.remarks import TOLD_LENGTH
from drape.draft.style import Style
from drape.reading.worn import SIDES, azimuth_of, edge_share, mean_at

if TYPE_CHECKING:
    from drape.body.figure import Figure


NODES = 49  # places of the trim round the draft; 8 cm apart on a hem of 4 m
PLACE_TOLERANCE = 0.004  # m; how near a place of the figure is near enough
LEVEL_TOLERANCE = 0.004  # m; highest less lowest of a level hem, a little less than the 5 mm promised
ROUNDS = 8  # at most, on the finest mesh
COARSE_ROUNDS = 2  # on each coarser one


def is_trimmed(style: Style, figure: Figure) -> bool:
    """Return whether the hem is to be trimmed on the settled cloth."""
    return style.level or bool(targets(style, figure))


def hem_error(style: Style, figure: Figure, flat: Floats, hem: Floats) -> tuple[Floats, float]:
    """Return how much too low the settled hem hangs at each node, shape (NODES,), and the worst anywhere [m].

    flat, hem: the hem's vertices [m] on the flat, (k, 2), and settled, (k, 3). For a level hem the worst is highest
    less lowest; with no height asked for, the hem is levelled to centre back,
    where the cloth stays as long as it was cut.
    """
    share, asked = edge_share(hem), targets(style, figure)
    ends = ends_of(flat, style.sweep)
    phi = np.linspace(*ends, NODES)
    if style.level:
        place = np.arctan2(flat[:, 1], flat[:, 0]) % (2 * np.pi)
        place[place > np.mean(ends) + np.pi] -= 2 * np.pi  # an edge cut on, below the first straight one
        place[0] = ends[0]
        if place[-1] <= place[0]:
            place[-1] = ends[1]
        high = _smoothed(place, hem[:, 2], share, phi)
        uneven = float(np.ptp(hem[:, 2]))
        if "back" in asked:
            return asked["back"] - high, max(uneven, float(np.abs(hem[:, 2] - asked["back"]).max()))
        return np.interp(style.sweep * share_of(np.pi, style), phi, high) - high, uneven
    azimuth = azimuth_of(hem, figure.neck_centre)
    at = {name: mean_at(hem[:, 2], azimuth, share, SIDES[name]) for name in ("front", "left", "back", "right")}
    wanted = {
        "front": asked.get("front"),
        "back": asked.get("back"),
        "left": asked.get("side"),
        "right": asked.get("side"),
    }
    low = {SIDES[side]: height - at[side] for side, height in wanted.items() if height is not None}
    return hem_wave(style, low, phi), max(abs(value) for value in low.values())


def is_near_enough(style: Style, worst: float) -> bool:
    """Return whether the worst error of a hem [m] is one to leave."""
    return worst <= (LEVEL_TOLERANCE if style.level else PLACE_TOLERANCE)


def hem_remarks(style: Style, figure: Figure, flat: Floats, hem: Floats) -> list[str]:
    """Return a sentence where the hem, trimmed and settled, still hangs further off than a maker would leave it;
    else none.

    flat, hem: as in `hem_error`.
    """
    if not is_trimmed(style, figure):
        return []
    worst = hem_error(style, figure, flat, hem)[1]
    if worst <= TOLD_LENGTH:
        return []
    asked = "level" if style.level else "at the height given"
    return [
        f"hem: asked {asked}, up to {100 * worst:.1f} cm off that when trimming ended. Trim the rest on the wearer."
    ]


def _smoothed(place: Floats, value: Floats, share: Floats, nodes: Floats) -> Floats:
    """Return means of values about each node, weighted by length and by nearness to the node."""
    near = np.maximum(1.0 - np.abs(place[None] - nodes[:, None]) / (nodes[1] - nodes[0]), 0.0) * share
    total = near.sum(axis=1)
    mean = np.divide(near @ value, total, out=np.zeros(len(nodes)), where=total > 0)
    return np.where(total > 0, mean, np.interp(nodes, place, value))


def trim_more(trim: Floats | None, low: Floats) -> Floats:
    """Return the trim after a round: what hangs too low by `low` [m] is shortened so that it rises by as much."""
    return (np.zeros(NODES) if trim is None else trim) - low / FALL_SHARE


def trim_reading(draft: Draft, trim: Floats) -> dict[str, list[float]]:
    """Return the trim by azimuth every 30 degrees and at both opening edges: what was let out (+) or taken off (-)."""
    from scipy.interpolate import CubicSpline

    first, last = (phi / draft.style.sweep for phi in ends_of(run_of(draft, "hem"), draft.style.sweep))
    spline = CubicSpline(np.linspace(first, last, NODES), trim)
    places = np.radians(np.arange(0.0, 360.0, 30.0))
    return {
        "at_deg": [round(float(np.degrees(place))) for place in places],
        "trim_cm": [100 * float(spline(np.clip(share_of(place, draft.style), first, last))) for place in places],
        "opening_trim_cm": [100 * float(trim[0]), 100 * float(trim[-1])],
    }
