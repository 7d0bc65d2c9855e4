"""Trials: the textile bench on the solver that cloaks use, each beside its exact value.

In: a `Cloth` and a specimen's sizes, SI. Out: one small frozen dataclass a kind: the value read off the settled
cloth, the exact one, how it settled, and a `Drawing` of its shape. Strips do not touch themselves, so layers are off
for them. Which flags there are is left to `trial_options`, words and drawing to `trial_sheet`, the drape disc to `disc`.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from drape import elastica
from drape.cloth import Cloth, Sheet, bending_stiffness, sew
from drape.distance import DistanceField, distance
from drape.errors import NotSettledError
from drape.solver import NEAR, Relaxation, Rest, Settling, relax
from drape.specimen import board, roller, strip_mesh
from drape.units import STANDARD_GRAVITY

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Tell = Callable[[float, float], None]  # residual, movement still to come [m]

RESIDUAL = 2e-3  # of a vertex's weight: strips are read to a tenth of a per cent
REMAINING = 2e-4  # of the specimen's length, still to move
PULL_RESIDUAL = 1e-3  # of the pull on one vertex, where there is no weight
MAX_STEPS = 200_000
TAIL = 2  # rows of triangles in a clamp's jaws
LANDING_SLICES, LANDING_STEPS = 8, 200  # in which the load comes on cloth laid on a board or a roller
UNBORNE = 0.02  # of the load: more than that on cloth laid down, and it does not lie
LOOK_STEPS = 300  # after each turn of the screw to come to rest, and as many to see whether it does
SLID = 3e-5  # [m] moved in those: sliding. Sliding cloth gathers speed, stuck cloth shears by some 5e-6 and stops
COARSE_TILT, FINE_TILT = math.radians(2.0), math.radians(0.1)
COARSE_PULL, FINE_PULL = 1.08, 1.004  # growth of the belt's load from one look to the next
MOST_TILT, MOST_PULL = math.radians(80.0), 5000.0  # give up beyond
LAID_DEPTH = 1e-5  # [m] how deep cloth laid down starts: less than any cloth sinks, or it would spring off
BELT_SLACK, BELT_TAUT = 20.0, 80.0  # N/m on the belt's slack side, unless its taut side is then likely to exceed the other
BELT_ROLLER = 0.05  # m


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


@dataclass(frozen=True)
class Tilt:
    """The slope at which cloth begins to slide on a board [rad]."""

    slip: float
    exact_slip: float
    evidence: Evidence
    drawing: Drawing = field(repr=False)


@dataclass(frozen=True)
class Belt:
    """Tensions on both sides of a strip over a roller when it begins to slide."""

    tension_ratio: float
    exact_tension_ratio: float
    evidence: Evidence
    drawing: Drawing = field(repr=False)


# --- exact values -----------------------------------------------------------------------------


def strip_rigidity(cloth: Cloth, grain: float) -> float:
    """Flexural rigidity [N·m] of a narrow strip cut at `grain` [rad] to the warp, its sides free.

    Bent by M it carries the moments M (cos², sin², sin cos) and κ = D⁻¹ of them, D the cloth's for (κ11, κ22, 2κ12):
    1/B = cos⁴/D₁ + sin⁴/D₂ + sin² cos²/D₃. Off the grain it twists as well.
    """
    c, s = math.cos(grain), math.sin(grain)
    return float(1.0 / np.sum(np.array([c * c, s * s, c * s]) ** 2 / bending_stiffness(cloth)))


def strip_compliance(cloth: Cloth, grain: float) -> float:
    """Strain per line tension [m/N] of a strip cut at `grain` [rad] to the warp, free to shear and to narrow.

    1/E = cos⁴/E₁ + sin⁴/E₂ + (1/G − 2ν/E₁) sin² cos². Source: W. F. Kilby, Planar stress-strain relationships in
    woven fabrics, J. Text. Inst. 54 (1963), T9; the paper from memory, the formula any orthotropic plate's.
    """
    e1, e2 = cloth.tensile_stiffness_warp, cloth.tensile_stiffness_weft
    c2, s2 = math.cos(grain) ** 2, math.sin(grain) ** 2
    return c2 * c2 / e1 + s2 * s2 / e2 + (1 / cloth.shear_stiffness - 2 * cloth.poisson_ratio / e1) * c2 * s2


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
    *,
    length: float,
    width: float,
    grain: float = 0.0,
    clamp: float = 0.0,
    edge_length: float,
    seed: int = 0,
    max_steps: int = MAX_STEPS,
    tell: Tell | None = None,
) -> Cantilever:
    """A strip over an edge, clamped `clamp` [rad] below the level: a short tail of it is held in that plane.

    Chord and drop are those of the middle of its end.
    """
    mesh = strip_mesh(length, width, edge_length, seed=seed, tails=(TAIL, 0))
    held = mesh.edges["held"]
    sheet = sew(mesh, cloth, grain=grain, held=held)
    x, y = mesh.flat.T
    start = np.stack([x * math.cos(clamp), y, -x * math.sin(clamp)], axis=1)
    rest, evidence = _settled(sheet, start, held, _weight(sheet, 0.0), hanging(length, max_steps), edge_length, tell)
    reach, _, height = rest.worn[mesh.edges["end"]].mean(axis=0)
    exact = elastica.cantilever(weight_ratio(cloth, length, grain), clamp=clamp)
    block = np.array([[x.min() * math.cos(clamp), -x.min() * math.sin(clamp)], [0.0, 0.0]])
    return Cantilever(
        weight_ratio=weight_ratio(cloth, length, grain),
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
    *,
    length: float,
    width: float,
    grain: float = 0.0,
    edge_length: float,
    seed: int = 0,
    max_steps: int = MAX_STEPS,
    tell: Tell | None = None,
) -> Loop:
    """A `ring`, `pear` or `heart` loop of a strip of that length, hung from its two ends held together.

    The ring is closed by a seam and held along it, level there by symmetry. The others are clamped by tails that
    stand upright. They start from the weightless shape.
    """
    ring = kind == "ring"
    tails = (0, 0) if ring else (TAIL, TAIL)
    mesh = strip_mesh(length, width, edge_length, seed=seed, tails=tails, joined=ring)
    held = mesh.edges["start"] if ring else mesh.edges["held"]
    sheet = sew(mesh, cloth, grain=grain, held=None if ring else held)
    x, z = _loop_place(elastica.loop(kind, 0.0), mesh.flat[:, 0] / length)
    start = _of_points(sheet, np.stack([length * x, mesh.flat[:, 1], length * z], axis=1))
    held = np.unique(sheet.point_of_vertex[held])
    rest, evidence = _settled(sheet, start, held, _weight(sheet, 0.0), hanging(length, max_steps), edge_length, tell)
    lowest = rest.worn[sheet.point_of_vertex[mesh.edges["middle"]], 2].mean()
    exact = elastica.loop(kind, weight_ratio(cloth, length, grain))
    half = length * (exact.points - [0.0, exact.height])
    return Loop(
        weight_ratio=weight_ratio(cloth, length, grain),
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
    *,
    load: float,
    length: float,
    width: float,
    grain: float = math.pi / 4,
    edge_length: float,
    seed: int = 0,
    max_steps: int = MAX_STEPS,
    tell: Tell | None = None,
) -> Bias:
    """A weightless strip, cut at `grain` [rad] to the warp, pulled in its plane by `load` [N/m] at both ends.

    The ends are pulled evenly and free to shear and to narrow, so its state is the same everywhere; read in the
    middle two thirds.
    """
    mesh = strip_mesh(length, width, edge_length, seed=seed)
    sheet = sew(mesh, cloth, grain=grain)
    pull = np.zeros((len(mesh.flat), 3))
    for end, sign in (("start", -1.0), ("end", 1.0)):
        pull[mesh.edges[end], 0] = sign * load * _shares(mesh.flat[mesh.edges[end], 1])
    middle = mesh.edges["middle"]
    held = middle[[len(middle) // 2]]
    start = np.c_[mesh.flat, np.zeros(len(mesh.flat))]
    even = PULL_RESIDUAL * load * edge_length / float(sheet.mass.mean() * STANDARD_GRAVITY)
    settling = Settling(residual=even, remaining=PULL_RESIDUAL * load * strip_compliance(cloth, grain) * length, max_steps=max_steps)
    rest, evidence = _settled(sheet, start, held, pull, settling, edge_length, tell)
    inner = np.abs(mesh.flat[:, 0] - length / 2) < length / 3
    design = np.c_[mesh.flat[inner], np.ones(int(inner.sum()))]
    gradient = np.linalg.lstsq(design, rest.worn[inner, :2], rcond=None)[0][:2].T
    along = float(np.linalg.norm(gradient[:, 0]))
    exact = load * strip_compliance(cloth, grain)
    return Bias(
        extension=along - 1.0,
        exact_extension=exact,
        finite_extension=finite_extension(exact),
        narrowing=1.0 - float(np.linalg.det(gradient)) / along,
        evidence=evidence,
        drawing=Drawing(
            "seen from above", outlines(rest.worn[:, :2], mesh.triangles), [], [_rectangle(length, width)]
        ),
    )


def _shares(y: Floats) -> Floats:
    """How much of a row's length each of its vertices stands for [m], y in any order."""
    order = np.argsort(y)
    gap = np.diff(y[order])
    share = np.empty_like(y)
    share[order] = 0.5 * (np.r_[gap, 0.0] + np.r_[0.0, gap])
    return share


def _rectangle(length: float, width: float) -> Floats:
    h = 0.5 * width
    return np.array([[0, -h], [length, -h], [length, h], [0, h], [0, -h]])


# --- sliding ----------------------------------------------------------------------------------


def tilt(
    cloth: Cloth,
    *,
    friction: float,
    length: float,
    width: float,
    edge_length: float,
    seed: int = 0,
    tell: Tell | None = None,
) -> Tilt:
    """Cloth laid on a board that is tilted until it slides; exact: atan of the friction coefficient (Coulomb 1785).

    The board stays where it is and the weight turns, first by 2° a look, then from the last angle that held by 0.1°.
    """
    began = time.perf_counter()
    mesh = strip_mesh(length, width, edge_length, seed=seed)
    sheet = sew(mesh, cloth)
    start = np.c_[mesh.flat, np.full(len(mesh.flat), 0.5 * cloth.thickness - LAID_DEPTH)]
    field_ = board([0.0, -width / 2], [length, width / 2])

    def laid() -> Relaxation:
        return lay_down(sheet, start, cloth.thickness, friction, field_, _weight(sheet, 0.0))

    def turn(run: Relaxation, slope: float) -> None:
        run.pull = _weight(sheet, slope)

    slope, run = _first_to_slide(laid, turn, lambda held: held + COARSE_TILT, 0.0, MOST_TILT, tell)
    slope, run = _first_to_slide(laid, turn, lambda held: held + FINE_TILT, max(0.0, slope - COARSE_TILT), MOST_TILT, tell)
    seen = _turned(run.x, slope)
    ends = _turned(np.array([[-0.1 * length, 0, 0], [1.3 * length, 0, 0]]), slope)
    return Tilt(
        slip=slope,
        exact_slip=math.atan(friction),
        evidence=_slid(sheet, run, edge_length, began),
        drawing=Drawing("side view, sliding", outlines(seen, mesh.triangles), [], [ends]),
    )


def _turned(points: Floats, slope: float) -> Floats:
    """Side view (x, z) of points, turned `slope` [rad] downward."""
    c, s = math.cos(slope), math.sin(slope)
    x, z = points[:, 0], points[:, 2]
    return np.stack([c * x + s * z, c * z - s * x], axis=1)


def _weight(sheet: Sheet, slope: float) -> Floats:
    """The weight of every point [N] on a board tilted by `slope`, in the board's own axes."""
    return sheet.mass[:, None] * STANDARD_GRAVITY * np.array([math.sin(slope), 0.0, -math.cos(slope)])


def belt(
    cloth: Cloth,
    *,
    friction: float,
    wrap: float,
    width: float,
    edge_length: float,
    seed: int = 0,
    tell: Tell | None = None,
) -> Belt:
    """A weightless strip over a roller, pulled at both ends; the load on one grows until it slides.

    wrap: angle of roller it touches [rad]. Exact: the ratio of tensions exp(μ wrap) (Euler 1769, Eytelwein 1808), whatever
    the roller's radius. Not in that formula: the strip's rigidity, which moves the ends of the arc by √(B/T) but, by
    the line load that appears there, leaves the total pressure as it was; and its thickness, which adds nothing while
    both friction and tension act in its middle.
    """
    began = time.perf_counter()
    exact = math.exp(friction * wrap)
    slack = min(BELT_SLACK, BELT_TAUT / exact)
    radius = BELT_ROLLER + 0.5 * cloth.thickness - LAID_DEPTH
    span = 1.5 * radius
    length = 2 * span + radius * wrap
    mesh = strip_mesh(length, width, edge_length, seed=seed)
    sheet = sew(mesh, cloth)
    start = _over_roller(mesh.flat, radius, wrap, span)
    field_ = roller(BELT_ROLLER, start.min(axis=0) - 0.02, start.max(axis=0) + 0.02)

    def loaded(ratio: float) -> Floats:
        pull = np.zeros((len(start), 3))
        for end, sign, times in (("start", -1.0, 1.0), ("end", 1.0, ratio)):
            toward = np.array([sign * math.cos(wrap / 2), 0.0, -math.sin(wrap / 2)])
            index = mesh.edges[end]
            pull[index] = slack * times * _shares(mesh.flat[index, 1])[:, None] * toward
        return pull

    def laid() -> Relaxation:
        return lay_down(sheet, start, cloth.thickness, friction, field_, loaded(1.0))

    def turn(run: Relaxation, ratio: float) -> None:
        run.pull = loaded(ratio)

    ratio, run = _first_to_slide(laid, turn, lambda held: held * COARSE_PULL, 1.0, MOST_PULL, tell)
    ratio, run = _first_to_slide(laid, turn, lambda held: held * FINE_PULL, max(1.0, ratio / COARSE_PULL**2), MOST_PULL, tell)
    round_ = BELT_ROLLER * np.stack([np.cos(np.linspace(0, 2 * np.pi, 181)), np.sin(np.linspace(0, 2 * np.pi, 181))], 1)
    return Belt(
        tension_ratio=ratio,
        exact_tension_ratio=exact,
        evidence=_slid(sheet, run, edge_length, began),
        drawing=Drawing("side view, sliding to the right", outlines(run.x[:, [0, 2]], mesh.triangles), [], [round_]),
    )


def _over_roller(flat: Floats, radius: float, wrap: float, span: float) -> Floats:
    """The strip bent over a roller, straight on both sides of the arc."""
    s = flat[:, 0] - span - 0.5 * radius * wrap
    arc = np.clip(s, -0.5 * radius * wrap, 0.5 * radius * wrap)
    angle, past = arc / radius, s - arc
    x = radius * np.sin(angle) + past * np.cos(angle)
    return np.stack([x, flat[:, 1], radius * np.cos(angle) - past * np.sin(angle)], axis=1)


def lay_down(
    sheet: Sheet, start: Floats, thickness: float, friction: float, field_: DistanceField, pull: Floats
) -> Relaxation:
    """Cloth lying on a board or a roller under given pulls [N], which are laid on little by little.

    Raises NotSettledError if what it lies on does not carry the pulls.
    """
    run = Relaxation(
        sheet, start, thickness=thickness, friction=friction, field=field_, gravity=0.0, layers=False
    )
    run.touching = distance(field_, start) < 0.5 * thickness + NEAR  # known from the first step, not after a blow
    run.factor = run.new_factor()
    for share in np.linspace(0.0, 1.0, LANDING_SLICES + 1)[1:]:
        run.pull = share * pull
        run.advance(LANDING_STEPS)
    unborne = np.linalg.norm((run.contact_force + pull).sum(axis=0)) / np.linalg.norm(pull, axis=1).sum()
    if not unborne < UNBORNE:
        raise NotSettledError(
            f"trial: the cloth did not come to lie, {100 * unborne:.3g} % of its load is not borne, allowed "
            f"{100 * UNBORNE:g}. Try a shorter --edge-length-cm."
        )
    return run


def _first_to_slide(
    laid: Callable[[], Relaxation],
    turn: Callable[[Relaxation, float], None],
    more: Callable[[float], float],
    held: float,
    most: float,
    tell: Tell | None,
) -> tuple[float, Relaxation]:
    """Between which two of a growing series of loads freshly laid cloth begins to slide: their middle; and the cloth.

    Raises NotSettledError if it does not slide by `most`.
    """
    run = laid()
    while held < most:
        now = more(held)
        turn(run, now)
        run.advance(LOOK_STEPS)
        before = run.x.copy()
        run.advance(LOOK_STEPS)
        moved = float(np.linalg.norm((run.x - before).mean(axis=0)))
        if tell is not None:
            tell(run.residual()[0], moved)
        if moved > SLID:
            return 0.5 * (held + now), run
        held = now
    raise NotSettledError(f"trial: not sliding at {most:.4g}, the most that is tried. Lower friction_on_figure.")


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
    run = Relaxation(
        sheet, start, thickness=0.0, friction=0.0, fixed=held, pull=pull, gravity=0.0, layers=False
    )
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


def _slid(sheet: Sheet, run: Relaxation, edge_length: float, began: float) -> Evidence:
    """The evidence of a trial that ends when the cloth slides: it did, at the value read."""
    return Evidence(
        vertices=len(sheet.mass),
        edge_length=edge_length,
        settled=True,
        residual=run.residual()[0],
        remaining=0.0,
        steps=run.steps,
        seconds=time.perf_counter() - began,
    )


def _of_points(sheet: Sheet, of_vertices: Floats) -> Floats:
    """Values of the points, from values of the vertices sewn into them."""
    out = np.empty((len(sheet.mass), *of_vertices.shape[1:]))
    out[sheet.point_of_vertex] = of_vertices
    return out


def outlines(seen: Floats, triangles: Ints) -> list[Floats]:
    """The sides of triangles as closed lines, as seen (n, 2)."""
    return [seen[[*corners, corners[0]]] for corners in triangles]
