"""Dress: flat cloth → a start on the figure, dart sewn and closure fastened.

In: draft, mesh, figure. Out: positions [m] of the sewn points that cross nothing: the neck edge rings
the neck a little way off, the rest spreads from it like a shallow roof above the shoulders. That start
is wider than the cloth, so `solver.Relaxation.tighten` brings the rest lengths down to the cloth's own
while it sinks.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from drape.cloth import Sheet
from drape.distance import distance
from drape.draft import Draft, run_of
from drape.errors import DraftError
from drape.figure import Figure
from drape.mesh import Mesh

Floats = NDArray[np.float64]

CLOSURE_AZIMUTH = -0.5 * np.pi  # right shoulder line, where the opening edges meet
NECK_CLEARANCE = 0.012  # [m] the start's neck edge stands this far off the neck base line
ROOF_SLOPE = np.radians(18.0)  # of the start, below the level; less than any shoulder's
OPENING_GAP = 2.0  # cloth thicknesses between the opening edges of the start
OPENING_RAMP = 0.02  # [m] beyond the closure's end over which they part
NECK_RADIUS = 0.06  # [m] about that of any neck, to turn that gap into an angle
LIFT_STEP, LIFT_MOST = 0.005, 0.08  # [m] the start is raised until it clears the figure


def dress(draft: Draft, mesh: Mesh, sheet: Sheet, figure: Figure, *, thickness: float) -> Floats:
    """Positions [m] of the sewn points, (p, 3), clear of the figure by half the thickness.

    Raises: DraftError if even a start raised by LIFT_MOST would cut the figure.
    """
    azimuth, run = place_on_body(draft, mesh, thickness)
    ring = neck_ring(figure, azimuth)
    outward = np.stack([-np.sin(azimuth), np.cos(azimuth), np.zeros_like(azimuth)], axis=1)
    slope = min(ROOF_SLOPE, 0.75 * min(shoulder_slopes(figure)))
    spread = outward * np.cos(slope) - np.array([0, 0, np.sin(slope)])
    vertices = ring + NECK_CLEARANCE * outward + run[:, None] * spread
    start = np.zeros((len(sheet.mass), 3))
    count = np.bincount(sheet.point_of_vertex, minlength=len(start))
    np.add.at(start, sheet.point_of_vertex, vertices)
    start /= count[:, None]
    centres = start[sheet.triangles].mean(axis=1)
    lift = 0.0
    while True:
        gap = distance(figure.field, np.concatenate([start, centres]) + [0, 0, lift])
        if gap.min() >= 0.5 * thickness:
            return start + [0, 0, lift]
        lift += LIFT_STEP
        if lift > LIFT_MOST:
            raise DraftError(
                f"dress: the neck hole cannot be laid round the neck: raised by {100 * LIFT_MOST:.0f} cm "
                f"the cloth still cuts the figure by {-1000 * gap.min():.0f} mm. Widen the neck or check "
                "neck_base_girth_cm against the shoulder measures."
            )


def shoulder_slopes(figure: Figure) -> tuple[float, float]:
    """Slopes of the left and right shoulder lines below the level [rad]."""
    return figure.tape["shoulder_slope_left"], figure.tape["shoulder_slope_right"]


def place_on_body(draft: Draft, mesh: Mesh, thickness: float) -> tuple[Floats, Floats]:
    """Azimuth round the body [rad] and distance from the neck edge [m] of every vertex.

    The draft angle between the closure and the dart (or the draft's middle) is stretched evenly
    over half the body at each distance from the draft's centre, so both sides of a seam meet.
    Beyond the closure the two opening edges start OPENING_GAP thicknesses apart: touching, neither
    would know its side.
    """
    radius = np.linalg.norm(mesh.flat, axis=1)
    angle = np.arctan2(mesh.flat[:, 1], mesh.flat[:, 0]) % (2 * np.pi)
    angle[angle > np.pi + 0.5 * draft.style.sweep] -= 2 * np.pi
    sweep = draft.style.sweep
    names = {edge.name for edge in draft.edges}
    front_from = angle_along(draft, "front closure", radius, 0.0)
    back_to = angle_along(draft, "back closure", radius, sweep)
    dart = "dart front leg" in names
    front_to = angle_along(draft, "dart front leg", radius, sweep / 2) if dart else sweep / 2
    back_from = angle_along(draft, "dart back leg", radius, sweep / 2) if dart else sweep / 2
    front = angle < 0.5 * (front_to + back_from)
    share = np.where(
        front,
        (angle - front_from) / (front_to - front_from),
        1 + (angle - back_from) / (back_to - back_from),
    )
    neck = np.concatenate([run_of(draft, "front neck"), run_of(draft, "back neck")])
    neck_angle, neck_radius = np.arctan2(neck[:, 1], neck[:, 0]), np.linalg.norm(neck, axis=1)
    order = np.argsort(neck_angle, kind="stable")
    run = radius - np.interp(angle, neck_angle[order], neck_radius[order])
    run, share = np.maximum(run, 0.0), np.clip(share, 0, 2)
    beyond = radius - np.linalg.norm(run_of(draft, "front closure"), axis=1).max()
    gap = np.clip(beyond / OPENING_RAMP, 0, 1) * OPENING_GAP * thickness / (2 * np.pi * (NECK_RADIUS + run))
    share += np.where(front, gap * (1 - share), -gap * (share - 1))
    return CLOSURE_AZIMUTH + share * np.pi, run


def angle_along(draft: Draft, name: str, radius: Floats, beyond: float) -> Floats:
    """Draft angle [rad] of the named edge at each distance from the centre; `beyond` past its end."""
    points = run_of(draft, name)
    along = np.linspace(0, len(points) - 1, 400)  # a straight edge has no even angle
    points = np.stack([np.interp(along, np.arange(len(points)), points[:, c]) for c in range(2)], axis=1)
    r, angle = np.linalg.norm(points, axis=1), np.arctan2(points[:, 1], points[:, 0])
    if name.startswith("back closure") and beyond > np.pi:
        angle = angle % (2 * np.pi)
    order = np.argsort(r, kind="stable")
    return np.where(radius >= r.max(), beyond, np.interp(radius, r[order], angle[order]))


def neck_ring(figure: Figure, azimuth: Floats) -> Floats:
    """Points of the figure's neck base line at given azimuths about its centre [m], (k, 3)."""
    offset = figure.neck_base - figure.neck_centre
    own = np.arctan2(-offset[:, 0], offset[:, 1]) % (2 * np.pi)
    order = np.argsort(own)
    own, ring = own[order], figure.neck_base[order]
    return np.stack(
        [np.interp(azimuth % (2 * np.pi), own, ring[:, c], period=2 * np.pi) for c in range(3)],
        axis=1,
    )
