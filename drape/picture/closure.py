"""What is sewn to the closure, as it is drawn: buttons, clasp, ties, and the half of the overlap that lies on top.

In: a fitting and its drawn cloth. Out: surfaces, positions [m]. The cloth settles edge to edge, so the lap is laid over
the cloth beside the closure afterwards, down to the end of the fastening. At centre front a woman's right half lies on
top and a man's left; over a shoulder the front. Sizes not in the draft are ours; common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.spatial import cKDTree

from drape.arrays import Floats, Ints
from drape.cloth.mesh import vertex_normals
from drape.picture.surfaces import Drawn, Surface
from drape.polyline import at_length, length_along

if TYPE_CHECKING:
    from drape.reading.result import Fitting


HORN, METAL = np.array([58.0, 42.0, 30.0]), np.array([146.0, 142.0, 130.0])
BUTTON_PROFILE = ((0.0, 0.13), (0.34, 0.13), (0.44, 0.18), (0.72, 0.18), (0.94, 0.13), (1.0, 0.06), (1.0, 0.0))
AROUND = 24  # corners of a button
CLASP_PLATE, CLASP_APART = 0.028, 0.024  # m: across one plate; from the line to a plate's middle
CORD, CORD_LENGTH, KNOT = 0.0025, 0.16, 0.007  # m: radius of a tie, its hanging end, radius of its knot
STEP = 0.006  # m, from one point of a lap or cord to the next


class Closing:
    """The line on which the closure's halves meet, from the neck down, and the cloth round it."""

    def __init__(self, fitting: Fitting, drawn: Drawn) -> None:
        held: Mapping[str, Any] = fitting.about["fastening"]
        self.drawn, self.thickness = drawn, float(fitting.thickness)
        names = list(held["closure"])
        top = names[1] if "left closure" in names and fitting.about.get("sex") == "woman" else names[0]
        self.run = drawn.edges[top]
        self.line = drawn.points[self.run]
        self.along = length_along(self.line)
        self.tree = cKDTree(drawn.points)
        mine = drawn.triangles[np.isin(drawn.triangles, self.run).any(axis=1)]
        middles = drawn.points[mine].mean(axis=1)
        nearest = cKDTree(self.line).query(middles)[1]
        self.inward = (middles - self.line[nearest]).mean(axis=0)

    def frame(self, place: float) -> tuple[Floats, Floats, Floats, Floats]:
        """Point of the line so far down [m]; unit vectors down it, away from the upper half, and out of the cloth."""
        at = at_length(place, self.along, self.line)
        normals = self.drawn.normals[self.run]
        out = at_length(place, self.along, normals)
        ahead, behind = (np.clip(place + s, 0.0, self.along[-1]) for s in (0.01, -0.01))
        down = at_length(ahead, self.along, self.line) - at_length(behind, self.along, self.line)
        down /= np.linalg.norm(down)
        out -= (out @ down) * down
        out /= np.linalg.norm(out)
        across = np.cross(out, down)
        return at, down, across if across @ self.inward < 0.0 else -across, out

    def laid(self, points: Floats, above: float | Floats) -> tuple[Floats, Floats, Ints]:
        """Points laid on the cloth's outer face, `above` it [m]; the normals there, and the nearest drawn vertices."""
        nearest = self.tree.query(points)[1]
        normals = self.drawn.normals[nearest]
        off = np.einsum("kc,kc->k", points - self.drawn.points[nearest], normals)
        return points + (0.5 * self.thickness + np.asarray(above) - off)[:, None] * normals, normals, nearest


def is_fastened(fitting: Fitting) -> bool:
    """Whether the fitting says how its closure is held; those of older files do not."""
    held = fitting.about.get("fastening")
    if not held:
        return False
    return all(name in fitting.edges for name in held["closure"])


def lap_surface(fitting: Fitting, drawn: Drawn, colour: Floats) -> tuple[Surface, Floats] | None:
    """The upper half of the overlap on the lower half of the cloak, and its free edge (k, 3);
    None without an overlap.
    """
    if not is_fastened(fitting) or fitting.about["fastening"]["overlap"] <= 0.0:
        return None
    closing, wide = Closing(fitting, drawn), fitting.about["fastening"]["overlap"] / 2
    places = np.linspace(0.0, closing.along[-1], max(3, int(closing.along[-1] / STEP)))
    ways = np.linspace(0.0, wide, max(3, int(wide / STEP)))
    frames = [closing.frame(place) for place in places]
    flat = np.array([at + way * across for at, _, across, _ in frames for way in ways])
    above = np.tile(np.minimum(0.05 + ways / (0.3 * wide), 1.0), len(places))  # from its own half up onto the other
    top, normals, nearest = closing.laid(flat, closing.thickness * above)
    foot = top - closing.thickness * normals
    rows, columns = len(places), len(ways)
    index = np.arange(rows * columns).reshape(rows, columns)
    rim = np.concatenate([index[0, :-1], index[:-1, -1], index[-1, :0:-1]])  # neck side, free edge, lower end
    strip = np.column_stack([rim[:-1], rim[1:], rim[1:] + rows * columns, rim[:-1] + rows * columns])
    a, b, c, d = (k.ravel() for k in (index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]))
    quads = np.vstack([np.column_stack([a, b, c, d]), strip])
    triangles = np.vstack([quads[:, :3], quads[:, (0, 2, 3)]])
    points = np.vstack([top, foot])
    corner = points[triangles[0]]
    if np.cross(corner[1] - corner[0], corner[2] - corner[0]) @ normals[0] < 0.0:
        triangles = triangles[:, ::-1]
    lap = Surface("lap", points, triangles, np.vstack([normals, normals]), colour, np.concatenate([nearest, nearest]))
    return lap, points[rim]


def findings_surfaces(fitting: Fitting, drawn: Drawn) -> list[Surface]:
    """Buttons, a clasp or ties where the draft has them, each kind one surface; none where it asks for none."""
    if not is_fastened(fitting) or not fitting.about["fastening"]["kind"]:
        return []
    held, closing = fitting.about["fastening"], Closing(fitting, drawn)
    above = closing.thickness if held["overlap"] > 0.0 else 0.0
    make = {"buttons": _button, "clasp": _clasp, "ties": _tie}[held["kind"]]
    parts = [part for place in held["places"] for part in make(closing, place, above, held)]
    starts = np.cumsum([0, *(len(points) for points, _ in parts)])
    points = np.vstack([points for points, _ in parts])
    triangles = np.vstack([own + start for (_, own), start in zip(parts, starts[:-1], strict=True)])
    colour = {"buttons": HORN, "clasp": METAL, "ties": HORN}[held["kind"]]
    return [Surface(held["kind"], points, triangles, vertex_normals(points, triangles), colour, np.empty(0, np.int64))]


def _button(closing: Closing, place: float, above: float, held: Mapping[str, Any]) -> list[tuple[Floats, Ints]]:
    at, down, across, out = closing.frame(place)
    foot = closing.laid(at[None], above)[0][0]
    return [_turned(foot, down, across, out, held["diameter"])]


def _turned(foot: Floats, down: Floats, across: Floats, out: Floats, diameter: float) -> tuple[Floats, Ints]:
    """A turned button, its back on `foot`, its face along `out`."""
    profile = np.array(BUTTON_PROFILE) * (diameter / 2, diameter)
    turn = np.linspace(0.0, 2 * np.pi, AROUND, endpoint=False)
    ring = np.cos(turn)[:, None] * down + np.sin(turn)[:, None] * across
    points = np.array([foot + radius * ring + height * out for radius, height in profile]).reshape(-1, 3)
    return points, _facing(_tube(len(profile), AROUND), points, foot - diameter * out)


def _tube(rings: int, around: int) -> Ints:
    """Triangles between rings of as many points each, one after the other."""
    index = np.arange(rings * around).reshape(rings, around)
    a, b = index[:-1], index[1:]
    c, d = np.roll(b, -1, axis=1), np.roll(a, -1, axis=1)
    return np.vstack(
        [np.column_stack([a.ravel(), b.ravel(), c.ravel()]), np.column_stack([a.ravel(), c.ravel(), d.ravel()])]
    )


def _facing(triangles: Ints, points: Floats, inside: Floats) -> Ints:
    """The triangles, turned over if on the whole they face a point inside."""
    corner = points[triangles]
    face = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    outward = np.einsum("tc,tc->t", face, corner.mean(axis=1) - inside).sum()
    return triangles if outward > 0.0 else triangles[:, ::-1]


def _clasp(closing: Closing, place: float, above: float, held: Mapping[str, Any]) -> list[tuple[Floats, Ints]]:
    """Two plates either side of the line and a bar between them."""
    at, down, across, out = closing.frame(place)
    parts, middles = [], []
    for side in (-1.0, 1.0):
        (foot,), (normal,), _ = closing.laid((at + side * CLASP_APART * across)[None], above)
        along = down - (down @ normal) * normal
        along /= np.linalg.norm(along)
        parts.append(_turned(foot, along, np.cross(normal, along), normal, CLASP_PLATE))
        middles.append(foot + 0.10 * CLASP_PLATE * normal)
    return [*parts, _cord(np.array(middles), 0.0032)]


def _tie(closing: Closing, place: float, above: float, held: Mapping[str, Any]) -> list[tuple[Floats, Ints]]:
    """A knot on the line and two ends hanging from it on the cloth."""
    at, down, across, out = closing.frame(place)
    (knot,), (normal,), _ = closing.laid(at[None], above + 0.6 * KNOT)
    turn = np.linspace(0.15, np.pi - 0.15, 9)
    ball = [knot + KNOT * (np.cos(a) * across) for a in turn]
    parts = [_cord(np.array(ball), KNOT * np.sin(turn))]
    for side in (-1.0, 1.0):
        points = [knot]
        for k in range(int(CORD_LENGTH / STEP)):
            lean = side * 0.5 * np.exp(-k / 6.0)
            way = lean * across - np.array([0.0, 0.0, 1.0])
            points.append(closing.laid((points[-1] + STEP * way / np.linalg.norm(way))[None], CORD)[0][0])
        parts.append(_cord(np.array(points), CORD))
    return parts


def _cord(line: Floats, radius: float | Floats) -> tuple[Floats, Ints]:
    """A round cord along a line (k, 3)."""
    along = np.gradient(line, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    aside = np.cross(along, (0.31, 0.47, 0.83))
    aside /= np.linalg.norm(aside, axis=1, keepdims=True)
    up = np.cross(along, aside)
    turn = np.linspace(0.0, 2 * np.pi, 8, endpoint=False)
    reach = np.broadcast_to(radius, len(line))[:, None, None]
    ring = np.cos(turn)[None, :, None] * aside[:, None] + np.sin(turn)[None, :, None] * up[:, None]
    points = (line[:, None] + reach * ring).reshape(-1, 3)
    middle = np.repeat(line, 8, axis=0)
    triangles = _tube(len(line), 8)
    corner = points[triangles]
    face = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    outward = np.einsum("tc,tc->t", face, corner.mean(axis=1) - middle[triangles].mean(axis=1)).sum()
    return points, triangles if outward > 0.0 else triangles[:, ::-1]
