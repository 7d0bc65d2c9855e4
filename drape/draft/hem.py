"""The hem line: how far from the centre the draft is cut, all round.

In: the neck, and lengths given as measures or as places on the figure. Out: the hem's radius [m] at every phi. With
one length it is an arc about O. Lengths asked for in front, at the sides and behind stand at those azimuths, and the
radius passes from each to the next as half a cosine wave does, so that it has no corner.

A length to a place is first estimated: cloth falls FALL_SHARE of its length from the back neck point, and an arc about
O hangs nearly level. How the cloth hangs settles the rest: `hem_trim` trims the hem on the settled cloth.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from drape.draft.drawn_edges import drawn_hem, hem_span
from drape.draft.panels import Neck, share_of
from drape.draft.style import Style
from drape.errors import DraftError

if TYPE_CHECKING:
    from drape.body.figure import Figure

FALL_SHARE = 0.975  # of its length that cloth falls; measured on the two shipped cloaks, front and back
HEM_STEP = math.radians(0.1)  # spacing of outline points on the hem arc; chord error 1.3e-7 of the length
CLEARANCE = 0.01  # m; neck hole, darts and cuts keep this far from the hem
LEAST_LENGTH = 0.1  # m; a place this little below the shoulders is no length; ours


def target_height(style: Style, figure: Figure, prefix: str = "") -> float | None:
    """Return the height above the floor [m] the settled hem is to reach, or None where a length is given."""
    place = getattr(style, f"{prefix}length_to")
    if place is not None:
        return float(figure.levels[place.replace("-", "_")])
    if prefix or style.off_floor is None:
        return None
    return style.off_floor


def targets(style: Style, figure: Figure) -> dict[str, float]:
    """Return the heights [m] the settled hem is to reach at "back", "front" and "side"; a length given has none."""
    base = target_height(style, figure)
    found = {}
    for name, prefix in (("back", ""), ("front", "front_"), ("side", "side_")):
        own = target_height(style, figure, prefix)
        if own is None and prefix and getattr(style, f"{prefix}length") is None:
            own = base
        if own is not None:
            found[name] = own
    return found


def hem_ends(style: Style, figure: Figure, neck: Neck, trim: np.ndarray | None = None) -> tuple[float, float]:
    """Return the angles from the hem's first corner to its last [rad]: where it meets the opening edges.

    An edge that is moved off its straight line by d meets it at asin(d / radius) from there; the radius of a bent hem
    is found by going to and fro between angle and radius.
    """
    if not neck.moved:
        return hem_span(style)
    found = []
    for base, end in ((0.0, 0), (style.sweep, -1)):
        phi, more = base, 0.0 if trim is None else float(trim[end])
        for _ in range(30):
            radius = float(hem_radii(style, figure, neck, np.array([phi]))[0]) + more
            before, phi = phi, base + math.asin(neck.moved / radius)
            if phi == before:
                break
        found.append(phi)
    return found[0], found[1]


def hem_radii(style: Style, figure: Figure, neck: Neck, phi: np.ndarray, trim: np.ndarray | None = None) -> np.ndarray:
    """Return the hem's radius [m] at each phi, shape (k,).

    trim: what is added to it [m] at evenly spaced phi from the first to the last one, a smooth curve between.
    """
    if style.hem_along:
        return drawn_hem(style, phi)
    nodes = _nodes(style, figure, neck)
    if len(nodes) == 1:
        radius = np.full(len(phi), nodes[math.pi])
    else:
        radius = hem_wave(style, nodes, phi)
    if trim is None:
        return radius
    from scipy.interpolate import CubicSpline

    return radius + CubicSpline(np.linspace(phi[0], phi[-1], len(trim)), trim)(phi)


def hem_wave(style: Style, nodes: dict[float, float], phi: np.ndarray) -> np.ndarray:
    """Return the value at each phi between nodes by azimuth [rad], half a cosine wave from each node to the next."""
    azimuth = (2 * math.pi * (phi / style.sweep - share_of(0.0, style))) % (2 * math.pi)
    places = sorted(nodes)
    found = np.empty(len(azimuth))
    for here, after in zip(places, [*places[1:], places[0] + 2 * math.pi], strict=True):
        along = (azimuth - here) % (2 * math.pi)
        inside = along <= after - here
        wave = (1 - np.cos(math.pi * along[inside] / (after - here))) / 2
        start, end = nodes[here], nodes[after % (2 * math.pi)]
        found[inside] = start + (end - start) * wave
    return found


def _nodes(style: Style, figure: Figure, neck: Neck) -> dict[float, float]:
    """Return the hem's radius [m] by azimuth [rad] where it is asked for; centre back always.

    A height stands for the radius at which centre back would come to it: an arc about O hangs nearly level.
    """

    def behind(length: float) -> float:
        return float(np.linalg.norm(neck.back[0] + length * neck.back[1]))

    neck_height = float(figure.landmarks["back_neck"][2])
    base = target_height(style, figure)
    back = style.length if base is None else _fallen(neck_height, base)
    if back is None:
        raise DraftError("draft.length_cm: missing, allowed 15 to 200. Give it, or length_to.")
    nodes = {math.pi: behind(back)}
    for prefix, azimuths in (("front_", (0.0,)), ("side_", (0.5 * math.pi, 1.5 * math.pi))):
        length, height = getattr(style, f"{prefix}length"), target_height(style, figure, prefix)
        for azimuth in azimuths:
            if height is not None:
                nodes[azimuth] = behind(_fallen(neck_height, height))
            elif length is not None and prefix == "front_":
                nodes[azimuth] = float(np.linalg.norm(neck.front[0] + length * neck.front[1]))
            elif length is not None:
                nodes[azimuth] = _side_start(style, neck, azimuth) + length
    return nodes


def _fallen(start: float, end: float) -> float:
    """Return about how long cloth must be to fall from one height to another [m]."""
    if start - end < LEAST_LENGTH:
        raise DraftError(
            f"draft.length_to: got a place {100 * (start - end):.4g} cm below the neck, allowed at least "
            f"{100 * LEAST_LENGTH:.4g}. Name a lower one."
        )
    return float(start - end) / FALL_SHARE


def _side_start(style: Style, neck: Neck, azimuth: float) -> float:
    """Return how far from O a shoulder's side neck point would lie if its wedge were sewn and laid straight [m]."""
    share = share_of(azimuth, style)
    if share < 1e-9:  # at the closure
        if neck.cuts is not None:
            return float(np.linalg.norm(neck.cuts[0][-1])) - neck.cut_length
        return float(np.linalg.norm(neck.pieces[0][1][0]))
    for gap in neck.gaps:
        if gap is not None and gap.place and abs(gap.azimuth - azimuth) < 1e-9:
            return float(np.linalg.norm(gap.point)) - gap.length
    joints = [part[1][-1] for part in neck.pieces[:-1]]
    wanted = style.sweep * share
    return float(np.linalg.norm(min(joints, key=lambda p: abs(math.atan2(p[1], p[0]) % (2 * math.pi) - wanted))))
