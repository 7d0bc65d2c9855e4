"""Cloth slides on cloth at atan μ on a slope, and round a roller when its tensions are as exp(μθ).

The same two problems as for cloth on a board and on a roller, with the board and the roller under a cloth that is held
fast, so that all friction is between layers. Sources: C. A. Coulomb, Théorie des machines simples (1785); L. Euler,
Remarques sur l'effet du frottement dans l'équilibre (1769); J. A. Eytelwein, Handbuch der Statik fester Körper (1808).
Each load comes on little by little; a little less than the exact one must hold, a little more must not.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from families import most_are_long

from drape.bench.specimen import Strip, strip_mesh
from drape.cloth.body_contact import Touch
from drape.cloth.mesh import Mesh
from drape.cloth.relaxation import Relaxation
from drape.cloth.self_contact import crossing_count, weave
from drape.cloth.sheet import sew
from drape.units import STANDARD_GRAVITY

LIMIT = 0.03
LOOK = 300  # steps after the last load to come to rest, and as many to see whether it does
SLID = 3e-5  # [m] moved on the whole in those: stuck cloth shears by less and stops, sliding cloth gathers speed
PRESSED = 1e-4  # [m] of the thickness by which the layers are pressed to begin with
ROLLER, WRAPPED = 0.06, math.radians(150)  # [m]; cloth over a shoulder goes round as far, about


def layers(cloth, lower, upper):
    """A sheet of two strips that do not hang together, and how many points the lower one has."""
    count = len(lower.flat)
    flat = np.concatenate([lower.flat + [10.0, 0.0], upper.flat])
    triangles = np.concatenate([lower.triangles, upper.triangles + count])
    mesh = Mesh(flat, triangles, {name: at + count for name, at in upper.edges.items()}, np.empty((0, 2), np.int64))
    return mesh, sew(mesh, cloth), count


def slides(cloth, friction, sheet, start, count, loads):
    """Whether the upper strip still moves on the lower one, held fast, after the last of some loads (k, 3) [N]."""
    touch = Touch(cloth.thickness, 0.0, friction)
    run = Relaxation(sheet, start, touch, fixed=np.arange(count), loads=np.zeros_like(start))
    for load in loads:
        run.loads = load
        run.advance(100)
    run.advance(LOOK)
    before = run.x.copy()
    run.advance(LOOK)
    assert crossing_count(weave(sheet.triangles), run.x) == 0
    return np.linalg.norm((run.x - before)[count:].mean(axis=0)) > SLID


def on_a_slope(cloth, friction, slope, seed):
    """Whether cloth slides on cloth on a slope [rad]."""
    lower, upper = strip_mesh(Strip(0.3, 0.12, 0.018, seed=seed + 7)), strip_mesh(Strip(0.1, 0.06, 0.02, seed=seed))
    _, sheet, count = layers(cloth, lower, upper)
    start = np.zeros((len(sheet.mass), 3))
    start[:count, :2], start[count:, :2] = lower.flat - [0.1, 0.0], upper.flat
    start[count:, 2] = cloth.thickness - PRESSED

    def weight(angle, share=1.0):
        load = share * STANDARD_GRAVITY * sheet.mass[:, None] * [math.sin(angle), 0.0, -math.cos(angle)]
        load[:count] = 0.0
        return load

    laid = [weight(0.0, share) for share in np.linspace(0.0, 1.0, 9)[1:]]
    return slides(cloth, friction, sheet, start, count, laid + [weight(a) for a in np.linspace(0.0, slope, 21)[1:]])


def over_a_roller(cloth, friction, ratio, side):
    """Whether a strip of triangles of that side [m], over a roller, slides when one end is pulled so much harder."""
    least = side**2 / (8 * ROLLER)  # a chord lies so much lower than its ends
    radius, span, width = ROLLER + cloth.thickness - PRESSED + 1.5 * least, 1.5 * ROLLER, 3 * side
    lower = strip_mesh(Strip(ROLLER * (WRAPPED + 0.6), 1.8 * width, 0.9 * side, seed=7))
    upper = strip_mesh(Strip(2 * span + radius * WRAPPED, width, side))
    mesh, sheet, count = layers(cloth, lower, upper)
    start = np.concatenate([bent(lower.flat, ROLLER), bent(upper.flat, radius)])
    slack = 10.0 * width / len(mesh.edges["end"])  # [N] on each point of the end less pulled, 10 N/m in all

    def pulled(ratio):
        load = np.zeros_like(start)
        for end, sign, times in (("start", -1.0, 1.0), ("end", 1.0, ratio)):
            load[mesh.edges[end]] = slack * times * np.array([
                sign * math.cos(WRAPPED / 2), 0.0, -math.sin(WRAPPED / 2)
            ])  # fmt: skip
        return load

    laid = [share * pulled(1.0) for share in np.linspace(0.0, 1.0, 9)[1:]]
    return slides(cloth, friction, sheet, start, count, laid + [pulled(r) for r in np.geomspace(1.0, ratio, 41)[1:]])


def bent(flat, radius):
    """A strip bent over a roller, straight on both sides of the arc."""
    s = flat[:, 0] - 0.5 * flat[:, 0].max()
    angle = np.clip(s / radius, -0.5 * WRAPPED, 0.5 * WRAPPED)
    past = s - radius * angle
    x = radius * np.sin(angle) + past * np.cos(angle)
    return np.stack([x, flat[:, 1], radius * np.cos(angle) - past * np.sin(angle)], axis=1)


@pytest.mark.parametrize(("friction", "seed"), most_are_long([(0.2, 0), (0.4, 1), (0.6, 2)], 0.4))
def test_on_a_slope(melton, friction, seed):
    exact = math.atan(friction)
    assert not on_a_slope(melton, friction, exact * (1 - LIMIT), seed)
    assert on_a_slope(melton, friction, exact * (1 + LIMIT), seed)


@pytest.mark.long
@pytest.mark.parametrize("friction", [0.1, 0.6])
def test_over_a_roller(melton, friction):
    exact = math.exp(friction * WRAPPED)
    assert not over_a_roller(melton, friction, exact * (1 - LIMIT), side=0.01)
    assert over_a_roller(melton, friction, exact * (1 + LIMIT), side=0.01)
