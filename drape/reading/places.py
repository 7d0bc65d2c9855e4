"""Places: where on the worn cloak a reading was taken, so that a fault can be marked there.

In: a fitting, the dotted key of a reading. Out: a point of the cloth [m], z up, the wearer facing +y.
"""

from __future__ import annotations

from collections.abc import Callable
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.spatial import cKDTree

from drape.arrays import Floats
from drape.reading.by_vertex import fullness, neck_edge
from drape.reading.table import value_at

if TYPE_CHECKING:
    from drape.reading.result import Fitting

AZIMUTHS: Final = MappingProxyType({"front": 0.0, "left": 0.5 * np.pi, "back": np.pi, "right": 1.5 * np.pi})
EIGHTHS: Final = ("front", "front left", "left", "back left", "back", "back right", "right", "front right")
NEAR: Final = 0.12  # [m] of the neck's base: where spare cloth is looked for if its reading does not say
FINE: Final = 10
BELOW: Final = 0.10  # [m] below the fastening, where the opening's gape is read


def place_of(fitting: Fitting, reading: str) -> Floats | None:
    """Where a reading was taken [m], (3,); None of one that has no place on the cloth."""
    group, _, key = reading.partition(".")
    find = FIND.get("shoulder" if group.startswith("shoulder") else group)
    return None if find is None else find(fitting, f"{group}.{key}")


def turn_of(points: Floats, centre: Floats) -> Floats:
    """Azimuth of points about a vertical through `centre`, 0 to 2π [rad]."""
    return np.arctan2(-(points[:, 0] - centre[0]), points[:, 1] - centre[1]) % (2 * np.pi)


def fine(line: Floats) -> Floats:
    """A polyline (k, 3) with FINE points to each of its stretches."""
    at, own = np.linspace(0.0, len(line) - 1.0, FINE * (len(line) - 1) + 1), np.arange(len(line))
    return np.column_stack([np.interp(at, own, line[:, c]) for c in range(3)])


def on_neck_edge(fitting: Fitting, azimuth: float) -> Floats:
    """The point of the neck edge at an azimuth [m], (3,)."""
    edge = fine(neck_edge(fitting))
    off = np.abs((turn_of(edge, fitting.neck_base.mean(axis=0)) - azimuth + np.pi) % (2 * np.pi) - np.pi)
    return edge[np.argmin(off)]


def _at_neck(fitting: Fitting, reading: str) -> Floats:
    """A side of the neck edge; of the largest gap the widest place in its eighth; for the throat the front."""
    side = reading.removesuffix("_cm").rpartition("_")[2]
    eighth = str(value_at(fitting.readings, "neck.gap_max_at"))
    if side == "max" and eighth in EIGHTHS:
        edge, middle = fine(neck_edge(fitting)), EIGHTHS.index(eighth) * 0.25 * np.pi
        off = np.abs((turn_of(edge, fitting.neck_base.mean(axis=0)) - middle + np.pi) % (2 * np.pi) - np.pi)
        gap = cKDTree(fitting.figure_vertices).query(edge)[0]
        return edge[np.argmax(np.where(off <= 0.125 * np.pi + 1e-6, gap, -off))]
    return on_neck_edge(fitting, AZIMUTHS.get(side, 0.0))


def _over_shoulder(fitting: Fitting, reading: str) -> Floats:
    """The cloth over the shoulder line where it stands off most; of a bare shoulder the middle of the line."""
    side = reading.partition(".")[0].rpartition("_")[2]
    line = np.asarray(getattr(fitting, f"shoulder_line_{side}"), float)
    along = np.linalg.norm(line - line[0], axis=1)
    at, most = (value_at(fitting.readings, f"shoulder_{side}.stand_off_{key}_cm") for key in ("at", "max"))
    if at is None or most is None:
        return line[len(line) // 2]
    return line[np.argmin(np.abs(along - 0.01 * at))] + (0.0, 0.0, 0.01 * most)


def _spare(fitting: Fitting, _: str) -> Floats:
    """Where near the neck's base most cloth is in excess, or where none folds, where it stands off most."""
    within = 0.01 * float(value_at(fitting.readings, "spare.within_cm") or 100 * NEAR)
    near = np.flatnonzero(cKDTree(fitting.neck_base).query(fitting.worn)[0] <= within)
    if not len(near):
        return on_neck_edge(fitting, 0.0)
    full = np.nan_to_num(fullness(fitting, lowest=fitting.worn[near, 2].min())[near], nan=0.0)
    off = cKDTree(fitting.figure_vertices).query(fitting.worn[near])[0]
    return fitting.worn[near[np.argmax(full if full.max() > 0.0 else off)]]


def _dart_point(fitting: Fitting, reading: str) -> Floats | None:
    """The point of a dart: where its legs end. Of several they are numbered from one."""
    number = int(reading.split(".")[1])
    labels = ("dart ", f"dart {number + 1} ")
    legs = [name for label in labels for name in fitting.edges if name.startswith(label) and name.endswith(" leg")]
    several = [name for name in legs if name.startswith(labels[1])]
    own = several or (legs if number == 0 else [])
    return fitting.worn[fitting.edges[own[0]][-1]] if own else None


def _at_closure(fitting: Fitting, reading: str) -> Floats | None:
    """The middle of the closure; of the gape the opening edge, so far below the fastening as it is read."""
    kind = "opening" if reading.endswith("gape_cm") else "closure"
    names = [name for name in fitting.edges if name.endswith(kind)]
    if not names:
        return None
    runs = [fitting.worn[fitting.edges[name]] for name in names]
    if kind == "closure":
        return runs[0][len(runs[0]) // 2]
    ends = []
    for run in runs:
        down = run if run[0, 2] > run[-1, 2] else run[::-1]
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(down, axis=0), axis=1))])
        ends.append([np.interp(BELOW, along, down[:, c]) for c in range(3)])
    return np.mean(ends, axis=0)


def _at_hem(fitting: Fitting, reading: str) -> Floats:
    """The lowest place of the hem; of how level it is the one furthest from its mean height."""
    hem = fitting.worn[np.asarray(fitting.about.get("hem_tips", fitting.edges["hem"]), np.int64)]
    height = hem[:, 2]
    return hem[np.argmax(np.abs(height - height.mean())) if reading.endswith("level_cm") else np.argmin(height)]


def _off_balance(fitting: Fitting, reading: str) -> Floats:
    """The side of the neck edge towards which it has gone; of a turn as far round."""
    value = float(value_at(fitting.readings, reading) or 0.0)
    if reading.endswith("turn_deg"):
        return on_neck_edge(fitting, np.radians(value))
    ways = ("front", "back") if reading.endswith("forward_cm") else ("left", "right")
    return on_neck_edge(fitting, AZIMUTHS[ways[0] if value > 0 else ways[1]])


FIND: Final = MappingProxyType[str, Callable[["Fitting", str], "Floats | None"]]({
    "neck": _at_neck, "shoulder": _over_shoulder, "spare": _spare, "crowding": _spare, "dart": _dart_point,
    "closure": _at_closure, "fall": _at_hem, "balance": _off_balance,
})  # fmt: skip
