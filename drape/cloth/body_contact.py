"""Body contact: where cloth meets the figure.

In: positions [m], the figure's signed distance, the cloth's thickness and friction. Out: forces [N]
and the stick anchors of Coulomb friction, one for each sample: a point of the cloth, or the middle of an edge.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from drape.body.signed_distance import sample_distance, sample_value
from drape.cloth.sheet import Cloth
from drape.kernel import kernel

FIGURE_STIFFNESS = 4.0e6  # [N/m³] pressure per depth: 1.4 kPa, the worst of fifty cloaks at random, sinks in 0.35 mm
RAMP = 2.0e-4  # [m] over which the contact force sets in smoothly
TANGENT_SHARE = 0.5  # tangential stiffness of a stick anchor over the normal one


class Touch(NamedTuple):
    """How cloth meets what it lies on: its thickness [m], Coulomb friction on the figure and of cloth on cloth.

    layers: whether the cloth feels itself at all.
    """

    thickness: float
    friction: float = 0.0
    layer_friction: float = 0.0
    layers: bool = True


def touch_of(cloth: Cloth) -> Touch:
    """How a cloth touches the figure and itself."""
    return Touch(cloth.thickness, cloth.friction_on_figure, cloth.friction_on_cloth)


@kernel
def ramp(depth):  # pragma: no cover - compiled
    """Smoothed max(depth, 0): C¹, quadratic within RAMP [m]."""
    if depth <= 0.0:
        return 0.0
    if depth < RAMP:
        return depth * depth / (2.0 * RAMP)
    return depth - 0.5 * RAMP


@kernel
def figure_force(field, touch, anchor, stuck, s, place, stiffness):  # pragma: no cover - compiled
    """Contact and friction force of the figure on sample s at a place (x, y, z) [m], of so much stiffness [N/m].

    The cloth's middle touches at half the thickness in `touch`. anchor (k, 3) and stuck (k,) hold the stick
    anchors: friction is a spring to the anchor, which slides when the spring would exceed the
    coefficient times the normal force (Coulomb). Returns (fx, fy, fz, normal force) [N].
    """
    px, py, pz = place
    friction, rest_gap = touch.friction, 0.5 * touch.thickness
    if not stuck[s] and sample_value(field, px, py, pz) >= rest_gap:  # most are free, and cheaper to tell
        return 0.0, 0.0, 0.0, 0.0
    d, gx, gy, gz = sample_distance(field, px, py, pz)
    depth = rest_gap - d
    size = np.sqrt(gx * gx + gy * gy + gz * gz)
    if depth <= 0.0 or size < 1e-9:
        stuck[s] = False
        return 0.0, 0.0, 0.0, 0.0
    gx /= size
    gy /= size
    gz /= size
    normal = stiffness * ramp(depth)
    fx = normal * gx
    fy = normal * gy
    fz = normal * gz
    if friction <= 0.0 or not stuck[s]:
        stuck[s] = friction > 0.0
        anchor[s, 0] = px
        anchor[s, 1] = py
        anchor[s, 2] = pz
        return fx, fy, fz, normal
    ux = px - anchor[s, 0]
    uy = py - anchor[s, 1]
    uz = pz - anchor[s, 2]
    along = ux * gx + uy * gy + uz * gz
    ux -= along * gx
    uy -= along * gy
    uz -= along * gz
    slip = np.sqrt(ux * ux + uy * uy + uz * uz)
    tangent = TANGENT_SHARE * stiffness
    limit = friction * normal / tangent
    if slip > limit:
        scale = limit / slip
        ux *= scale
        uy *= scale
        uz *= scale
        anchor[s, 0] = px - ux
        anchor[s, 1] = py - uy
        anchor[s, 2] = pz - uz
    return fx - tangent * ux, fy - tangent * uy, fz - tangent * uz, normal
