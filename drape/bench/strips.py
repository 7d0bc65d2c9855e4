"""Strips: trials of the textile bench on the solver that cloaks use, each beside its exact value.

In: a `Cloth` and a specimen's sizes, SI. Out: one small frozen dataclass a kind: the value read off the settled
cloth, the exact one, how it settled, and a `Drawing` of its shape. Strips do not touch themselves, so layers are off
for them. Which flags there are is left to `trial_options`, words and drawing to `trial` and `trial_drawing`, the
others to `sliding` and `drape_disc`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from drape.arrays import Floats, Ints
from drape.bench import elastica
from drape.bench.specimen import Strip, strip_mesh
from drape.cloth.body_contact import Touch
from drape.cloth.relaxation import Relaxation, Rest, Settling, relax
from drape.cloth.sheet import Cloth, Sheet, bending_stiffness, plane_stiffness, sew, stiffness_along, weight
from drape.units import STANDARD_GRAVITY

Tell = Callable[[float, float], None]  # residual, movement still to come [m]

RESIDUAL = 2e-3  # of a vertex's weight: strips are read to a tenth of a per cent
REMAINING = 2e-4  # of the specimen's length, still to move
PULL_RESIDUAL = 1e-3  # of the pull on one vertex, where there is no weight
MAX_STEPS = 200_000
TAIL = 2  # rows of triangles in a clamp's jaws


@dataclass(frozen=True)
class Drawing:
    """What to draw: lines [m], (k, 2) each, as seen; and which way that is.

    cloth: pieces of the settled cloth. exact: the exact curve. support: what holds it.
    """

    view: str
    cloth: Sequence[Floats]
    exact: Sequence[Floats] = ()
    support: Sequence[Floats] = ()


@dataclass(frozen=True)
class Evidence:
    """How a specimen settled. residual: largest net force over a vertex's weight, or over a vertex's pull."""

    vertices: int
    edge_length: float
    settled: bool
    residual: float
    remaining: float
    steps: int
    seconds: float


@dataclass(frozen=True)
class Cantilever:
    """A strip over an edge. Angles below the level [rad]; weight_ratio w g L³/B with B in the strip's direction."""

    weight_ratio: float
    chord: float
    exact_chord: float
    drop_over_length: float
    exact_drop_over_length: float
    evidence: Evidence
    drawing: Drawing = field(repr=False)


@dataclass(frozen=True)
class Loop:
    """A loop hung from its ends held together; heights from the support to the lowest point."""

    weight_ratio: float
    height_over_length: float
    exact_height_over_length: float
    evidence: Evidence
    drawing: Drawing = field(repr=False)


@dataclass(frozen=True)
class Bias:
    """A strip pulled in its plane: extension of its middle part.

    exact: by the linear formula. finite: the same cloth law at this very load, second order and all.
    narrowing: how much of its width it loses.
    """

    extension: float
    exact_extension: float
    finite_extension: float
    narrowing: float
    evidence: Evidence
    drawing: Drawing = field(repr=False)


# --- exact values -----------------------------------------------------------------------------


def strip_rigidity(cloth: Cloth, grain: float) -> float:
    """Flexural rigidity [N·m] of a narrow strip cut at `grain` [rad] to the warp, its sides free.

    1/B = cos⁴/B₁ + sin⁴/B₂ + (1/T − 2ν/B₁) sin² cos²; off the grain it twists as well. Source: `stiffness_along`.
    """
    return stiffness_along(bending_stiffness(cloth), grain)


def strip_compliance(cloth: Cloth, grain: float) -> float:
    """Strain per line tension [m/N] of a strip cut at `grain` [rad] to the warp, free to shear and to narrow.

    1/E = cos⁴/E₁ + sin⁴/E₂ + (1/G − 2ν/E₁) sin² cos². Source: `stiffness_along`.
    """
    return 1 / stiffness_along(plane_stiffness(cloth), grain)


def finite_extension(strain: float) -> float:
    """Extension e of cloth whose Green strain is linear in its stress, where the linear formula says `strain`.

    Pulled along its length by a line tension N, the strip has N = E λ (λ² − 1)/2 with λ = 1 + e.
    """
    roots = np.roots([0.5, 0.0, -0.5, -strain])
    return float(max(root.real for root in roots if abs(root.imag) < 1e-9)) - 1.0


def direction_length(cloth: Cloth, grain: float) -> float:
    """Bending length [m] of a strip at `grain` [rad] to the warp, c³ = B/(w g)."""
    return (strip_rigidity(cloth, grain) / (cloth.areal_density * STANDARD_GRAVITY)) ** (1 / 3)


def weight_ratio(cloth: Cloth, length: float, grain: float) -> float:
    """w g L³/B of a strip."""
    return (length / direction_length(cloth, grain)) ** 3


def hanging(length: float, max_steps: int) -> Settling:
    """When a hanging specimen counts as settled."""
    return Settling(residual=RESIDUAL, remaining=REMAINING * length, max_steps=max_steps)


# --- bending and hanging ----------------------------------------------------------------------


def cantilever(
    cloth: Cloth,
    strip: Strip,
    *,
    clamp: float = 0.0,
    max_steps: int = MAX_STEPS,
    tell: Tell | None = None,
) -> Cantilever:
    """A strip over an edge, clamped `clamp` [rad] below the level: a short tail of it is held in that plane.

    Chord and drop are those of the middle of its end.
    """
    mesh, length = strip_mesh(strip, tails=(TAIL, 0)), strip.length
    held = mesh.edges["held"]
    sheet = sew(mesh, cloth, grain=strip.grain, held=held)
    x, y = mesh.flat.T
    start = np.stack([x * math.cos(clamp), y, -x * math.sin(clamp)], axis=1)
    rest, evidence = _settled(sheet, start, held, weight(sheet), hanging(length, max_steps), strip.edge_length, tell)
    reach, _, height = rest.worn[mesh.edges["end"]].mean(axis=0)
    ratio = weight_ratio(cloth, length, strip.grain)
    exact = elastica.cantilever(ratio, clamp=clamp)
    block = np.array([[x.min() * math.cos(clamp), -x.min() * math.sin(clamp)], [0.0, 0.0]])
    return Cantilever(
        weight_ratio=ratio,
        chord=math.atan2(-height, reach),
        exact_chord=exact.chord,
        drop_over_length=float(-height / length),
        exact_drop_over_length=exact.drop,
        evidence=evidence,
        drawing=Drawing("side view", outlines(rest.worn[:, [0, 2]], mesh.triangles), [length * exact.points], [block]),
    )


def loop(
    kind: str,
    cloth: Cloth,
    strip: Strip,
    *,
    max_steps: int = MAX_STEPS,
    tell: Tell | None = None,
) -> Loop:
    """A `ring`, `pear` or `heart` loop of a strip, hung from its two ends held together.

    The ring is closed by a seam and held along it, level there by symmetry. The others are clamped by tails that
    stand upright. They start from the weightless shape.
    """
    ring = kind == "ring"
    tails = (0, 0) if ring else (TAIL, TAIL)
    mesh, length = strip_mesh(strip, tails=tails, joined=ring), strip.length
    held = mesh.edges["start"] if ring else mesh.edges["held"]
    sheet = sew(mesh, cloth, grain=strip.grain, held=None if ring else held)
    x, z = _loop_place(elastica.loop(kind, 0.0), mesh.flat[:, 0] / length)
    start = _of_points(sheet, np.stack([length * x, mesh.flat[:, 1], length * z], axis=1))
    held = np.unique(sheet.point_of_vertex[held])
    rest, evidence = _settled(sheet, start, held, weight(sheet), hanging(length, max_steps), strip.edge_length, tell)
    lowest = rest.worn[sheet.point_of_vertex[mesh.edges["middle"]], 2].mean()
    ratio = weight_ratio(cloth, length, strip.grain)
    exact = elastica.loop(kind, ratio)
    half = length * (exact.points - [0.0, exact.height])
    return Loop(
        weight_ratio=ratio,
        height_over_length=float(-lowest / length),
        exact_height_over_length=exact.height,
        evidence=evidence,
        drawing=Drawing(
            "side view", outlines(rest.worn[:, [0, 2]], sheet.triangles), [half, half * [-1.0, 1.0]],
            [0.12 * length * np.array([[-1.0, 0.0], [1.0, 0.0]])],
        ),
    )  # fmt: skip


def _loop_place(half: elastica.Curve, share: Floats) -> tuple[Floats, Floats]:
    """Where a share 0 to 1 of a loop's strip lies, over its length, the support at the origin; tails go straight on."""
    s = np.minimum(np.abs(share - 0.5), 0.5)
    steps = np.linspace(0.0, 0.5, len(half.points))
    x, z = np.interp(s, steps, half.points[:, 0]), np.interp(s, steps, half.points[:, 1]) - half.height
    beyond = np.maximum(np.abs(share - 0.5) - 0.5, 0.0)
    end = half.angle[-1]
    return np.sign(share - 0.5) * (x + beyond * math.cos(end)), z + beyond * math.sin(end)


# --- pulling ----------------------------------------------------------------------------------


def bias(
    cloth: Cloth,
    strip: Strip,
    *,
    load: float,
    max_steps: int = MAX_STEPS,
    tell: Tell | None = None,
) -> Bias:
    """A weightless strip pulled in its plane by `load` [N/m] at both ends.

    The ends are pulled evenly and free to shear and to narrow, so its state is the same everywhere; read in the
    middle two thirds.
    """
    mesh, length = strip_mesh(strip), strip.length
    sheet = sew(mesh, cloth, grain=strip.grain)
    pull = np.zeros((len(mesh.flat), 3))
    for end, sign in (("start", -1.0), ("end", 1.0)):
        pull[mesh.edges[end], 0] = sign * load * end_shares(mesh.flat[mesh.edges[end], 1])
    middle = mesh.edges["middle"]
    held = middle[[len(middle) // 2]]
    start = np.c_[mesh.flat, np.zeros(len(mesh.flat))]
    even = PULL_RESIDUAL * load * strip.edge_length / float(sheet.mass.mean() * STANDARD_GRAVITY)
    exact = load * strip_compliance(cloth, strip.grain)
    settling = Settling(residual=even, remaining=PULL_RESIDUAL * exact * length, max_steps=max_steps)
    rest, evidence = _settled(sheet, start, held, pull, settling, strip.edge_length, tell)
    inner = np.abs(mesh.flat[:, 0] - length / 2) < length / 3
    design = np.c_[mesh.flat[inner], np.ones(int(inner.sum()))]
    gradient = np.linalg.lstsq(design, rest.worn[inner, :2], rcond=None)[0][:2].T
    along = float(np.linalg.norm(gradient[:, 0]))
    return Bias(
        extension=along - 1.0,
        exact_extension=exact,
        finite_extension=finite_extension(exact),
        narrowing=1.0 - float(np.linalg.det(gradient)) / along,
        evidence=evidence,
        drawing=Drawing(
            "seen from above", outlines(rest.worn[:, :2], mesh.triangles), [], [_rectangle(length, strip.width)]
        ),
    )


def end_shares(y: Floats) -> Floats:
    """How much of a row's length each of its vertices stands for [m], y in any order."""
    order = np.argsort(y)
    gap = np.diff(y[order])
    share = np.empty_like(y)
    share[order] = 0.5 * (np.r_[gap, 0.0] + np.r_[0.0, gap])
    return share


def _rectangle(length: float, width: float) -> Floats:
    h = 0.5 * width
    return np.array([[0, -h], [length, -h], [length, h], [0, h], [0, -h]])


# --- settling ---------------------------------------------------------------------------------


def _settled(
    sheet: Sheet,
    start: Floats,
    held: Ints,
    pull: Floats,
    settling: Settling,
    edge_length: float,
    tell: Tell | None,
) -> tuple[Rest, Evidence]:
    """The settled specimen under given pulls alone, and how it settled."""
    run = Relaxation(sheet, start, Touch(0.0, layers=False), fixed=held, loads=pull)
    rest = relax(run, settling=settling, progress=None if tell is None else lambda r, m, _: tell(r, m))
    return rest, Evidence(
        vertices=len(sheet.mass),
        edge_length=edge_length,
        settled=rest.settled,
        residual=rest.residual,
        remaining=rest.remaining,
        steps=rest.steps,
        seconds=rest.seconds,
    )


def _of_points(sheet: Sheet, of_vertices: Floats) -> Floats:
    """Values of the points, from values of the vertices sewn into them."""
    out = np.empty((len(sheet.mass), *of_vertices.shape[1:]))
    out[sheet.point_of_vertex] = of_vertices
    return out


def outlines(seen: Floats, triangles: Ints) -> list[Floats]:
    """The sides of triangles as closed lines, as seen (n, 2)."""
    return [seen[[*corners, corners[0]]] for corners in triangles]
