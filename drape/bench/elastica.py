"""Exact shapes of a heavy strip: the elastica, solved as boundary-value problems of one length.

In: weight ratio W = w g L³ / B of an inextensible strip of length L (areal density w, rigidity B in its
direction), and how it is held. Out: its curve, lengths over L. Nothing here knows of meshes or of the solver;
`strips` holds the cloth against it. Source of all: L. Euler, Methodus inveniendi lineas curvas, additamentum I
(1744), with weight added; for cloth F. T. Peirce, The handle of cloth as a measurable quantity, J. Text. Inst.
21 (1930), T377.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from drape.arrays import Floats

TOLERANCE = 1e-8  # relative residual of the collocation
MAX_NODES = 50_000
MESH = 101  # nodes it starts from
SAMPLES = 401  # points of the curve returned
STEP_RATIO = 1.6  # from one weight ratio to the next on the way to the one asked
LIGHT = 1.0  # weight ratio from which the way begins

LOOP_ENDS = {"ring": math.pi, "pear": math.pi / 2, "heart": 1.5 * math.pi}  # direction at the support [rad]


@dataclass(frozen=True)
class Curve:
    """A strip's curve, lengths over its length.

    points: (n, 2), level and height, the clamp or the lowest point at the origin. angle: direction from the
    level [rad], (n,); below it for a cantilever, above for a loop.
    """

    points: Floats
    angle: Floats

    @property
    def drop(self) -> float:
        """How far the end is below the start, over the length."""
        return float(-self.points[-1, 1])

    @property
    def chord(self) -> float:
        """Angle of the line from start to end below the level [rad]."""
        return math.atan2(-self.points[-1, 1], self.points[-1, 0])

    @property
    def height(self) -> float:
        """Height of a loop's support above its lowest point, over the strip's length."""
        return float(self.points[-1, 1])

    @property
    def width(self) -> float:
        """Greatest width of a loop, over the strip's length."""
        return float(2 * self.points[:, 0].max())


def cantilever(weight_ratio: float, *, clamp: float = 0.0) -> Curve:
    """The strip clamped at one end, `clamp` [rad] below the level, and free at the other.

    With s from the clamp and φ the angle below the level: φ'' = −W (1 − s) cos φ, φ(0) = clamp, φ'(1) = 0.
    """

    def slopes(weight: float) -> Callable[[Floats, Floats, Floats], Floats]:
        return lambda s, y, _: np.array([y[1], -weight * (1 - s) * np.cos(y[0]), np.cos(y[0]), -np.sin(y[0])])

    def ends(a: Floats, b: Floats, _: Floats) -> Floats:
        return np.array([a[0] - clamp, b[1], a[2], a[3]])

    s = np.linspace(0.0, 1.0, MESH)
    guess = np.array([np.full(MESH, clamp), np.zeros(MESH), s * math.cos(clamp), -s * math.sin(clamp)])
    y = _continued(slopes, ends, s, guess, np.zeros(0), weight_ratio)
    return Curve(points=y[2:4].T, angle=y[0])


def loop(kind: str, weight_ratio: float) -> Curve:
    """Half of a loop that hangs from its two ends held together, from the lowest point to the support.

    kind: `ring` (the ends meet level and smoothly), `pear` (both point up), `heart` (both point down, so the strip
    rises from them and curls over). With s from the lowest point over the whole strip's length, θ above the level,
    h the unknown level force there over B/L²: θ'' = h sin θ − W s cos θ, θ(0) = x(0) = 0, x(½) = 0 and
    θ(½) = π, π/2 or 3π/2.
    """
    end = LOOP_ENDS[kind]

    def slopes(weight: float) -> Callable[[Floats, Floats, Floats], Floats]:
        return lambda s, y, p: np.array(
            [y[1], p[0] * np.sin(y[0]) - weight * s * np.cos(y[0]), np.cos(y[0]), np.sin(y[0])]
        )

    def ends(a: Floats, b: Floats, p: Floats) -> Floats:
        return np.array([a[0], a[2], a[3], b[0] - end, b[2]])

    s = np.linspace(0.0, 0.5, MESH)
    angle = 2 * end * s + (math.pi - end) * 0.6 * np.sin(2 * math.pi * s)  # a loop that nearly closes
    steps = np.diff(s, prepend=0.0)
    guess = np.array([angle, np.gradient(angle, s), np.cumsum(np.cos(angle) * steps), np.cumsum(np.sin(angle) * steps)])
    y = _continued(slopes, ends, s, guess, np.array([(math.pi - end) * 20.0]), weight_ratio)
    return Curve(points=y[2:4].T, angle=y[0])


def _continued(
    slopes: Callable[[float], Callable[[Floats, Floats, Floats], Floats]],
    ends: Callable[[Floats, Floats, Floats], Floats],
    s: Floats,
    guess: Floats,
    unknown: Floats,
    weight_ratio: float,
) -> Floats:
    """The solution at `weight_ratio`, reached from the weightless one by growing it; (4, SAMPLES).

    Raises ValueError if the collocation fails, which no ratio up to 10⁴ does.
    """
    from scipy.integrate import solve_bvp

    weights = [0.0]
    while weights[-1] < weight_ratio:
        weights.append(min(weight_ratio, max(LIGHT, STEP_RATIO * weights[-1])))
    for weight in weights:
        found = solve_bvp(
            _with_parameters(slopes(weight), len(unknown)), _ends(ends, len(unknown)), s, guess,
            p=unknown if len(unknown) else None, tol=TOLERANCE, max_nodes=MAX_NODES,
        )  # fmt: skip
        if not found.success:
            raise ValueError(f"elastica: no solution found at weight ratio {weight:.4g}: {found.message}")
        s, guess = found.x, found.y
        unknown = found.p if len(unknown) else unknown
    return found.sol(np.linspace(s[0], s[-1], SAMPLES))


def _with_parameters(f: Callable[[Floats, Floats, Floats], Floats], count: int) -> Callable[..., Floats]:
    """The right-hand side as solve_bvp calls it, which leaves the parameters out when there are none."""
    return f if count else lambda s, y: f(s, y, np.zeros(0))


def _ends(f: Callable[[Floats, Floats, Floats], Floats], count: int) -> Callable[..., Floats]:
    return f if count else lambda a, b: f(a, b, np.zeros(0))
