"""Sliding trials: cloth on a tilted board, and a strip round a roller, loaded until they slide.

In: a `Cloth`, friction, sizes, SI. Out: the slope or the ratio of tensions at which sliding begins, beside the exact
one. Loads grow by small steps; after each the cloth comes to rest or does not.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from drape.arrays import Floats
from drape.bench.specimen import Strip, board, roller, strip_mesh
from drape.bench.strips import Drawing, Evidence, Tell, end_shares, outlines
from drape.body.signed_distance import DistanceField, distance
from drape.cloth.body_contact import Touch
from drape.cloth.relaxation import NEAR, Relaxation
from drape.cloth.sheet import Cloth, Sheet, sew
from drape.errors import NotSettledError
from drape.units import STANDARD_GRAVITY

LANDING_SLICES, LANDING_STEPS = 8, 200  # in which the load comes on cloth laid on a board or a roller
UNBORNE = 0.02  # of the load: more than that on cloth laid down, and it does not lie
LOOK_STEPS = 300  # after each turn of the screw to come to rest, and as many to see whether it does
SLID = 3e-5  # [m] moved in those: sliding. Sliding cloth gathers speed, stuck cloth shears by some 5e-6 and stops
COARSE_TILT, FINE_TILT = math.radians(2.0), math.radians(0.1)
COARSE_PULL, FINE_PULL = 1.08, 1.004  # growth of the belt's load from one look to the next
MOST_TILT, MOST_PULL = math.radians(80.0), 5000.0  # give up beyond
LAID_DEPTH = 1e-5  # [m] how deep cloth laid down starts: less than any cloth sinks, or it would spring off
BELT_SLACK, BELT_TAUT = (
    20.0,
    80.0,
)  # N/m on the belt's slack side, unless its taut side is then likely to exceed the other
BELT_ROLLER = 0.05  # m


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
    mesh = strip_mesh(Strip(length, width, edge_length, seed=seed))
    sheet = sew(mesh, cloth)
    start = np.c_[mesh.flat, np.full(len(mesh.flat), 0.5 * cloth.thickness - LAID_DEPTH)]
    field_ = board([0.0, -width / 2], [length, width / 2])

    def laid() -> Relaxation:
        return lay_down(sheet, start, cloth.thickness, friction, field_, _weight(sheet, 0.0))

    def turn(run: Relaxation, slope: float) -> None:
        run.loads = _weight(sheet, slope)

    slope, run = _first_to_slide(laid, turn, lambda held: held + COARSE_TILT, 0.0, MOST_TILT, tell)
    slope, run = _first_to_slide(
        laid, turn, lambda held: held + FINE_TILT, max(0.0, slope - COARSE_TILT), MOST_TILT, tell
    )
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

    wrap: angle of roller it touches [rad]. Exact: the ratio of tensions exp(μ wrap) (Euler 1769, Eytelwein 1808),
    whatever the roller's radius. Not in that formula: the strip's rigidity, which moves the ends of the arc by √(B/T)
    but, by the line load that appears there, leaves the total pressure as it was; and its thickness, which adds nothing
    while both friction and tension act in its middle.
    """
    began = time.perf_counter()
    exact = math.exp(friction * wrap)
    slack = min(BELT_SLACK, BELT_TAUT / exact)
    radius = BELT_ROLLER + 0.5 * cloth.thickness - LAID_DEPTH
    span = 1.5 * radius
    length = 2 * span + radius * wrap
    mesh = strip_mesh(Strip(length, width, edge_length, seed=seed))
    sheet = sew(mesh, cloth)
    start = _over_roller(mesh.flat, radius, wrap, span)
    field_ = roller(BELT_ROLLER, start.min(axis=0) - 0.02, start.max(axis=0) + 0.02)

    def loaded(ratio: float) -> Floats:
        pull = np.zeros((len(start), 3))
        for end, sign, times in (("start", -1.0, 1.0), ("end", 1.0, ratio)):
            toward = np.array([sign * math.cos(wrap / 2), 0.0, -math.sin(wrap / 2)])
            index = mesh.edges[end]
            pull[index] = slack * times * end_shares(mesh.flat[index, 1])[:, None] * toward
        return pull

    def laid() -> Relaxation:
        return lay_down(sheet, start, cloth.thickness, friction, field_, loaded(1.0))

    def turn(run: Relaxation, ratio: float) -> None:
        run.loads = loaded(ratio)

    ratio, run = _first_to_slide(laid, turn, lambda held: held * COARSE_PULL, 1.0, MOST_PULL, tell)
    ratio, run = _first_to_slide(
        laid, turn, lambda held: held * FINE_PULL, max(1.0, ratio / COARSE_PULL**2), MOST_PULL, tell
    )
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
    nothing = np.zeros_like(start)
    run = Relaxation(sheet, start, Touch(thickness, friction, layers=False), field=field_, loads=nothing)
    run.touching = distance(field_, start) < 0.5 * thickness + NEAR  # known from the first step, not after a blow
    run.factor = run.new_factor()
    for share in np.linspace(0.0, 1.0, LANDING_SLICES + 1)[1:]:
        run.loads = share * pull
        run.advance(LANDING_STEPS)
    unborne = np.linalg.norm((run.state.contact_force + pull).sum(axis=0)) / np.linalg.norm(pull, axis=1).sum()
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


def _weight(sheet: Sheet, slope: float) -> Floats:
    """The weight of every point [N] on a board tilted by `slope`, in the board's own axes."""
    return sheet.mass[:, None] * STANDARD_GRAVITY * np.array([math.sin(slope), 0.0, -math.cos(slope)])


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
