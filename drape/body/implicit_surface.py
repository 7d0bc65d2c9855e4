"""Lofted parts joined into one smooth surface: the places where a function is zero.

In: parts, each a column of section measures along an axis [m], and pull points that the surface must pass through.
Out: that function at any point, points moved onto the surface, where rays leave it. Its mesh is left to `surface_nets`;
what the parts mean, and their sizes, to `trunk`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from drape.arrays import Floats
from drape.kernel import kernel

CELL = 0.008  # m
FAR = 1.0e3
WIDEST_BLEND = 0.06  # m; a part further off than this does not change those before it
CONVERGED = 1.0e-5  # m, from the surface, where a point is left alone
ROWS = 192  # rows of a part's table, evenly along its axis
TURNS = 180  # places round a row, evenly by azimuth: 0 at the part's own front, then to its left


class Parts(NamedTuple):
    """Sections lofted along an axis, each in its own frame, and joined smoothly in order.

    A part's section is the closed curve at distance `radii` from its centre, by azimuth. Beyond either end it closes
    with about a half ellipsoid of height `caps`, without a kink.
    """

    frames: Floats  # (parts, 3, 3) rows: the part's own right, front and axis in the world
    origins: Floats  # (parts, 3) [m]
    spans: Floats  # (parts, 2) first and last place along the axis [m]
    caps: Floats  # (parts, 2) heights of the end caps [m]
    centres: Floats  # (parts, ROWS, 2) of the sections, to the right and to the front [m]
    radii: Floats  # (parts, ROWS, TURNS) [m]
    blends: Floats  # (parts, ROWS, TURNS) how widely it joins those before it [m]
    boxes: Floats  # (parts, 6) lower and upper corner in the world [m]
    pull_points: Floats  # (c, 3)
    pull_weights: Floats  # (c,) [m]
    pull_reach: float  # [m]
    pull_box: Floats  # (6,) lower and upper corner of where pulls reach [m]


@dataclass(frozen=True)
class Part:
    """One part before joining; the fields are those of `Parts`."""

    span: tuple[float, float]
    caps: tuple[float, float]
    centre: Floats  # (ROWS, 2)
    radius: Floats  # (ROWS, TURNS)
    blend: Floats  # (ROWS, TURNS)
    frame: Floats  # (3, 3)
    origin: Floats  # (3,)

    @cached_property
    def box(self) -> Floats:
        """The lower and upper corner of the part in the world [m], (6,)."""
        along = np.linspace(*self.span, ROWS)
        turn = azimuths()[::6]
        out = self.radius[:, ::6]
        local = np.stack([
            self.centre[:, :1] - out * np.sin(turn), self.centre[:, 1:] + out * np.cos(turn),
            np.repeat(along[:, None], len(turn), axis=1),
        ], axis=2)  # fmt: skip
        low, high = local[0].copy(), local[-1].copy()
        low[:, 2] -= self.caps[0]
        high[:, 2] += self.caps[1]
        points = np.concatenate([local.reshape(-1, 3), low, high]) @ self.frame + self.origin
        return np.concatenate([points.min(axis=0) - 0.002, points.max(axis=0) + 0.002])


def azimuths() -> Floats:
    """Return the azimuths [rad] of a row's places, (TURNS,); the direction of a is (-sin a, cos a)."""
    return np.arange(TURNS, dtype=np.float64) * (2.0 * np.pi / TURNS)


def join(parts: Sequence[Part]) -> Parts:
    """Return parts ready to evaluate, without pulls."""
    boxes = np.array([part.box for part in parts])

    def stack(name: str) -> Floats:
        return np.array([getattr(part, name) for part in parts], dtype=np.float64)

    return Parts(
        stack("frame"), stack("origin"), stack("span"), stack("caps"), stack("centre"), stack("radius"), stack("blend"),
        boxes, np.zeros((0, 3)), np.zeros(0), 0.1, np.repeat([FAR, -FAR], 3),
    )  # fmt: skip


def pull_through(parts: Parts, points: Floats, *, reach: float, softness: float = 0.005) -> Parts:
    """Return parts whose surface also passes (closely) through the points.

    Adds the sum of w_i (1 - r/reach)^4 (4 r/reach + 1) over the points, r the distance to point i, the weights
    solved so that the joined function vanishes at each. Use it for corrections of a few mm: the further the
    surface has to move against `reach`, the more its slope changes.
    Source: positive definite compactly supported functions, H. Wendland, Adv. Comput. Math. 4, 1995.
    """
    wanted = -evaluate(parts, points)
    distance = np.linalg.norm(points[:, None] - points[None], axis=2) / reach
    matrix = np.where(distance < 1.0, (1.0 - np.minimum(distance, 1.0)) ** 4 * (4.0 * distance + 1.0), 0.0)
    matrix[np.diag_indices_from(matrix)] += softness
    weights = np.asarray(np.linalg.solve(matrix, wanted), np.float64)
    box = np.concatenate([points.min(axis=0) - reach, points.max(axis=0) + reach])
    return parts._replace(
        pull_points=np.ascontiguousarray(points), pull_weights=weights, pull_reach=float(reach), pull_box=box
    )


def evaluate(parts: Parts, points: Floats, *, count: int | None = None) -> Floats:
    """Return the joined function [m] at points (k, 3): about the distance near the surface, negative inside.

    `count` takes only the first so many parts.
    """
    points = np.ascontiguousarray(points, dtype=np.float64)
    return _evaluate_many(points, count or len(parts.spans), parts)


def evaluate_each(parts: Parts, points: Floats) -> Floats:
    """Return every part's own function at points (k, 3), shape (k, parts); `FAR` well outside the part's box."""
    return _each_many(np.ascontiguousarray(points), parts)


def onto_surface(parts: Parts, points: Floats, *, rounds: int) -> Floats:
    """Return points (k, 3) [m] moved onto the surface along its normal, by Newton steps of at most half a cell."""
    return _onto_many(np.ascontiguousarray(points, dtype=np.float64), rounds, parts)


def cast(parts: Parts, origins: Floats, directions: Floats, *, reach: float = 0.6, count: int | None = None) -> Floats:
    """Return where rays from inside first leave the surface: distances [m] (k,), `reach` if they never do."""
    origins, directions = np.broadcast_arrays(origins, directions)
    return _cast_many(
        np.ascontiguousarray(origins, dtype=np.float64), np.ascontiguousarray(directions, dtype=np.float64), reach,
        count or len(parts.spans), parts,
    )  # fmt: skip


@kernel
def _part(
    x: float, y: float, z: float, part: int, parts: Parts
) -> tuple[float, float]:  # fmt: skip
    """One part's function at a point, (q - 1)/|grad q| with q(surface) = 1, and its blend there [m]."""
    frames = parts.frames
    dx = x - parts.origins[part, 0]
    dy = y - parts.origins[part, 1]
    dz = z - parts.origins[part, 2]
    along = frames[part, 2, 0] * dx + frames[part, 2, 1] * dy + frames[part, 2, 2] * dz
    rows, turns = parts.radii.shape[1], parts.radii.shape[2]
    low, high = parts.spans[part, 0], parts.spans[part, 1]
    step = (high - low) / (rows - 1)
    place = (along - low) / step
    row = min(max(int(place), 0), rows - 2)
    t = place - row  # below 0 or above 1 in the caps, which go on with the last rows' slope
    x_rate = parts.centres[part, row + 1, 0] - parts.centres[part, row, 0]
    y_rate = parts.centres[part, row + 1, 1] - parts.centres[part, row, 1]
    u = (
        frames[part, 0, 0] * dx
        + frames[part, 0, 1] * dy
        + frames[part, 0, 2] * dz
        - parts.centres[part, row, 0]
        - t * x_rate
    )
    v = (
        frames[part, 1, 0] * dx
        + frames[part, 1, 1] * dy
        + frames[part, 1, 2] * dz
        - parts.centres[part, row, 1]
        - t * y_rate
    )
    out = np.sqrt(max(u * u + v * v, 1e-14))
    turn = np.arctan2(-u, v) * (turns / (2.0 * np.pi))
    if turn < 0.0:
        turn += turns
    k = int(turn)
    s = turn - k
    k = k % turns
    n = (k + 1) % turns
    a, b = parts.radii[part, row, k], parts.radii[part, row, n]
    c, d = parts.radii[part, row + 1, k], parts.radii[part, row + 1, n]
    here = a + s * (b - a)
    there = c + s * (d - c)
    inside = min(max(t, 0.0), 1.0)
    r = here + inside * (there - here)
    rate = 1.0 / step
    if t != inside:  # in a cap the slope goes on and dies out
        fade = 0.35 * parts.caps[part, 1 if t > inside else 0] / step
        gone = np.exp(-abs(t - inside) / fade)
        r = max(r + (t - inside) / abs(t - inside) * (there - here) * fade * (1.0 - gone), 0.3 * r)
        rate *= gone
    round_rate = ((b - a) + inside * ((d - c) - (b - a))) * (turns / (2.0 * np.pi)) / (r * r)
    blend = (1.0 - inside) * ((1.0 - s) * parts.blends[part, row, k] + s * parts.blends[part, row, n]) + inside * (
        (1.0 - s) * parts.blends[part, row + 1, k] + s * parts.blends[part, row + 1, n]
    )
    q = out / r
    by_u = (u / r + round_rate * v) / out
    by_v = (v / r - round_rate * u) / out
    by_w = -rate * (q / r * (there - here) + by_u * x_rate + by_v * y_rate)
    beyond = 0.0
    if along > high:
        beyond = (along - high) / parts.caps[part, 1]
        by_w = q * by_w + beyond / parts.caps[part, 1]
    elif along < low:
        beyond = (along - low) / parts.caps[part, 0]
        by_w = q * by_w + beyond / parts.caps[part, 0]
    if beyond != 0.0:
        whole = np.sqrt(q * q + beyond * beyond)
        by_u *= q / whole
        by_v *= q / whole
        by_w /= whole
        q = whole
    slope = np.sqrt(by_u * by_u + by_v * by_v + by_w * by_w)
    return (q - 1.0) / max(slope, 0.25 / r), blend


@kernel(inline="always")
def _gap_squared(x: float, y: float, z: float, part: int, parts: Parts) -> float:
    """Squared distance from a point to a part's box."""
    gap_x = max(parts.boxes[part, 0] - x, x - parts.boxes[part, 3], 0.0)
    gap_y = max(parts.boxes[part, 1] - y, y - parts.boxes[part, 4], 0.0)
    gap_z = max(parts.boxes[part, 2] - z, z - parts.boxes[part, 5], 0.0)
    return gap_x * gap_x + gap_y * gap_y + gap_z * gap_z


@kernel
def joined(
    x: float, y: float, z: float, count: int, parts: Parts
) -> float:  # fmt: skip
    """All parts joined: a smooth least value, cubic within each part's blend, plus the pulls."""
    best = 0.5
    for part in range(count):
        gap = _gap_squared(x, y, z, part, parts)
        if gap > max(best + WIDEST_BLEND, 0.0) ** 2:
            continue
        d, blend = _part(x, y, z, part, parts)
        h = blend - abs(best - d)
        if h > 0.0:
            h /= blend
            best = min(best, d) - h * h * h * blend / 6.0
        else:
            best = min(best, d)
    box = parts.pull_box
    if x < box[0] or y < box[1] or z < box[2] or x > box[3] or y > box[4] or z > box[5]:
        return best
    for i in range(parts.pull_points.shape[0]):
        rx = x - parts.pull_points[i, 0]
        ry = y - parts.pull_points[i, 1]
        rz = z - parts.pull_points[i, 2]
        squared = rx * rx + ry * ry + rz * rz
        if squared < parts.pull_reach * parts.pull_reach:
            r = np.sqrt(squared) / parts.pull_reach
            s = (1.0 - r) * (1.0 - r)
            best += parts.pull_weights[i] * s * s * (4.0 * r + 1.0)
    return best


@kernel
def _evaluate_many(
    points: Floats, count: int, parts: Parts
) -> Floats:  # fmt: skip
    out = np.empty(points.shape[0])
    for i in range(points.shape[0]):
        out[i] = joined(
            points[i, 0], points[i, 1], points[i, 2], count, parts
        )  # fmt: skip
    return out


@kernel
def _each_many(points: Floats, parts: Parts) -> Floats:
    out = np.empty((points.shape[0], parts.spans.shape[0]))
    for i in range(points.shape[0]):
        x, y, z = points[i, 0], points[i, 1], points[i, 2]
        for part in range(parts.spans.shape[0]):
            out[i, part] = FAR
            if _gap_squared(x, y, z, part, parts) < WIDEST_BLEND * WIDEST_BLEND:
                out[i, part] = _part(x, y, z, part, parts)[0]
    return out


@kernel
def _onto_many(
    points: Floats, rounds: int, parts: Parts
) -> Floats:  # fmt: skip
    """Newton steps with differences over 1 mm, which also evens out the rows of the tables."""
    out = points.copy()
    count = parts.spans.shape[0]
    h = 1.0e-3
    for i in range(points.shape[0]):
        x, y, z = points[i, 0], points[i, 1], points[i, 2]
        for _ in range(rounds):
            f = joined(x, y, z, count, parts)
            if abs(f) < CONVERGED:
                break
            gx = joined(x + h, y, z, count, parts) - f
            gy = joined(x, y + h, z, count, parts) - f
            gz = joined(x, y, z + h, count, parts) - f
            squared = max((gx * gx + gy * gy + gz * gz) / (h * h), 0.04)
            step = -f / squared / h
            step *= min(1.0, 0.5 * CELL / max(abs(f) / np.sqrt(squared), 1e-12))
            x += step * gx
            y += step * gy
            z += step * gz
        out[i, 0], out[i, 1], out[i, 2] = x, y, z
    return out


@kernel
def _cast_many(
    origins: Floats, directions: Floats, reach: float, count: int, parts: Parts
) -> Floats:  # fmt: skip
    """March by the function's own value, then halve."""
    out = np.empty(origins.shape[0])
    for i in range(origins.shape[0]):
        low = 0.0
        high = -1.0
        t = 0.0
        while t < reach:
            f = joined(
                origins[i, 0] + t * directions[i, 0], origins[i, 1] + t * directions[i, 1],
                origins[i, 2] + t * directions[i, 2], count, parts
            )  # fmt: skip
            if f >= 0.0:
                high = t
                break
            low = t
            t += max(-0.5 * f, 0.0005)
        if high < 0.0:
            out[i] = reach
            continue
        for _ in range(30):
            middle = 0.5 * (low + high)
            f = joined(
                origins[i, 0] + middle * directions[i, 0], origins[i, 1] + middle * directions[i, 1],
                origins[i, 2] + middle * directions[i, 2], count, parts
            )  # fmt: skip
            if f >= 0.0:
                high = middle
            else:
                low = middle
        out[i] = 0.5 * (low + high)
    return out
