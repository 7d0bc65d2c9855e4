"""Dressing: flat cloth → a start on the figure, dart sewn and closure fastened.

In: draft, mesh, figure. Out: positions [m] of the sewn points that cross nothing: the neck edge rings
the neck a little way off, the rest spreads from it like a shallow roof above the shoulders; an arm that is
to come out of the opening lies between its edges. That start is wider than the cloth, so `Relaxation.tighten`
brings the rest lengths down to the cloth's own while it sinks.
"""

from __future__ import annotations

import math

import numpy as np

from drape.arrays import Floats
from drape.body.figure import Figure
from drape.body.signed_distance import distance
from drape.cloth.mesh import Mesh
from drape.cloth.sheet import Sheet
from drape.draft.cloak import COLLAR_APART
from drape.draft.drawn_edges import ON_RAY
from drape.draft.outline import Draft, closing_line, run_of
from drape.draft.panels import share_of
from drape.errors import DraftError
from drape.polyline import at_length, length_along

NECK_CLEARANCE = 0.012  # [m] the start's neck edge stands this far off the neck base line
ROOF_SLOPE = np.radians(18.0)  # of the start, below the level; less than any shoulder's
OPENING_GAP = 2.0  # cloth thicknesses between the opening edges of the start
ARM_HALF, ARM_RAMP = 0.085, 0.06  # [m] half the opening's width round an arm in it, and over what way it widens
ARM_WIDEST = 0.6  # [rad] either side
OUT_SIDES = {"left shoulder": "left", "right shoulder": "right"}  # by closure: the arm that may come out
FREE_ARM = 0.06  # [m] beyond the shoulder point a closure may reach over an arm that comes out
OPENING_RAMP = 0.02  # [m] beyond the closure's end over which they part
NECK_RADIUS = 0.06  # [m] about that of any neck, to turn that gap into an angle
COLLAR_RULINGS = 801  # lines from seam to top edge among which a collar's vertices are placed
COLLAR_LEANS = tuple(
    np.radians((10.0, 25.0, 40.0, 55.0))
)  # outward, of a collar's start: the first that clears the head
RING_POINTS = 721  # of the neck base line, along which its length is measured
LIFT_STEP, LIFT_MOST = 0.005, 0.08  # [m] the start is raised until it clears the figure
NECK_FADE = 0.15  # [m] beyond the neck edge, where a turn of it by its lengths has faded out


def dress(draft: Draft, mesh: Mesh, sheet: Sheet, figure: Figure, *, thickness: float) -> Floats:
    """Positions [m] of the sewn points, (p, 3), clear of the figure by half the thickness.

    Raises: DraftError if even a start raised by LIFT_MOST would cut the figure,
    or an arm cannot come out of the opening.
    """
    azimuth, run, rise = place_on_body(draft, mesh, thickness)
    if "out of the opening" in figure.arms:
        azimuth = part_for_arm(draft, mesh, figure, azimuth, run)
    slope = min(ROOF_SLOPE, 0.75 * min(shoulder_slopes(figure)))
    leans = COLLAR_LEANS if draft.collar else COLLAR_LEANS[:1]
    for is_turned in (False, True):
        around = turned_by_length(draft, mesh, figure, azimuth, run) if is_turned else azimuth
        for lean in leans:
            start = roof(sheet, figure, around, run, rise, slope, lean)
            centres = start[sheet.triangles].mean(axis=1)
            for lift in np.arange(0.0, LIFT_MOST + 1e-9, LIFT_STEP):
                gap = distance(figure.field, np.concatenate([start, centres]) + [0, 0, lift])
                if gap.min() >= 0.5 * thickness:
                    return start + [0, 0, lift]
    what = "the neck hole and its collar" if draft.collar else "the neck hole"
    raise DraftError(
        f"dress: {what} cannot be laid round the neck: raised by {100 * LIFT_MOST:.0f} cm "
        f"the cloth still cuts the figure by {-1000 * gap.min():.0f} mm. Widen the neck or check "
        "neck_base_girth_cm against the shoulder measures."
    )


def roof(sheet: Sheet, figure: Figure, azimuth: Floats, run: Floats, rise: Floats, slope: float, lean: float) -> Floats:
    """Sewn points [m], (p, 3), of a start that falls away from the neck by `slope`, its collar leaning out by `lean`
    [rad].
    """
    outward = np.stack([-np.sin(azimuth), np.cos(azimuth), np.zeros_like(azimuth)], axis=1)
    spread = outward * np.cos(slope) - np.array([0, 0, np.sin(slope)])
    stand = outward * np.sin(lean) + np.array([0, 0, np.cos(lean)])
    vertices = neck_ring(figure, azimuth) + NECK_CLEARANCE * outward + run[:, None] * spread + rise[:, None] * stand
    start = np.zeros((len(sheet.mass), 3))
    np.add.at(start, sheet.point_of_vertex, vertices)
    return start / np.bincount(sheet.point_of_vertex)[:, None]


def turned_by_length(draft: Draft, mesh: Mesh, figure: Figure, azimuth: Floats, run: Floats) -> Floats:
    """Azimuths [rad] with the neck edge laid round the neck evenly by its length; centre back stays where it is.

    On shoulders that differ much a piece of the neck edge may be too short to reach from the side of the neck to the
    closure's place. Laid so, no piece is stretched; the closure starts beside that place, as the draft has it.
    """
    neck = np.concatenate([mesh.edges[name] for name in draft.neck])
    steps = [length_along(mesh.flat[mesh.edges[name]]) for name in draft.neck]
    passed = np.cumsum([0.0, *(along[-1] for along in steps)])
    sewn = np.concatenate([along + before for along, before in zip(steps, passed[:-1], strict=True)]) / passed[-1]
    around = np.linspace(azimuth[neck[0]], azimuth[neck[-1]], RING_POINTS)
    ring = length_along(neck_ring(figure, around))
    behind = draft.closure_azimuth + 2 * np.pi * share_of(np.pi, draft.style)
    here = np.interp(behind, azimuth[neck], sewn)
    there = np.interp(behind, around, ring / ring[-1])
    turns, share = np.divmod(sewn + there - here, 1.0)
    own = np.interp(share, ring / ring[-1], around) + 2 * np.pi * turns
    turn = np.interp(azimuth, azimuth[neck], own - azimuth[neck])
    return azimuth + np.clip(1.0 - run / NECK_FADE, 0.0, 1.0) * turn


def part_for_arm(draft: Draft, mesh: Mesh, figure: Figure, azimuth: Floats, run: Floats) -> Floats:
    """Azimuths [rad] of every vertex with the opening's edges brought to either side of the arm that comes out there.

    Raises: DraftError where the closure leaves that arm no way out.
    """
    side = ("left", "right")[figure.arms[1] == "out of the opening"]
    where = f'arms.{side}: got "out of the opening"'
    if OUT_SIDES.get(draft.closure_place) != side or figure.arms == ("out of the opening",) * 2:
        raise DraftError(
            f"{where} with the closure at {draft.closure_place}, allowed for the arm under a closure over its "
            f'shoulder. Write closure.place = "{side} shoulder", or hold the arm "forward".'
        )
    edge = np.linalg.norm(run_of(draft, draft.closure[0]), axis=1)
    fastened, most = float(np.ptp(edge)), figure.tape["shoulder_length"] + FREE_ARM
    if fastened > most:
        raise DraftError(
            f"{where} with the closure fastened over {100 * fastened:.1f} cm, allowed up to {100 * most:.1f}. The arm "
            "comes out below the closure: shorten closure.fastened_length_cm, or let the arm hang."
        )
    away = figure.landmarks[f"wrist_{side}"] - figure.neck_centre
    aside = np.remainder(np.arctan2(-away[0], away[1]) - draft.closure_azimuth + np.pi, 2 * np.pi) - np.pi
    beyond = np.clip((np.linalg.norm(mesh.flat, axis=1) - edge.max()) / ARM_RAMP, 0, 1)
    half = np.minimum(ARM_HALF / (NECK_RADIUS + run), ARM_WIDEST)
    share = (azimuth - draft.closure_azimuth) / (2 * np.pi)
    return azimuth + beyond * ((aside + half) * (1 - share) + (aside - half) * share)


def shoulder_slopes(figure: Figure) -> tuple[float, float]:
    """Slopes of the left and right shoulder lines below the level [rad]."""
    return figure.tape["shoulder_slope_left"], figure.tape["shoulder_slope_right"]


def place_on_body(draft: Draft, mesh: Mesh, thickness: float) -> tuple[Floats, Floats, Floats]:
    """Azimuth round the body [rad], distance from the neck edge and rise above it on the collar [m] of every vertex.

    The draft angles between closure, shoulder lines and darts are stretched evenly over the azimuths
    between them at each distance from the draft's centre, so both sides of a seam meet.
    Beyond the closure the two opening edges start OPENING_GAP thicknesses apart: touching, neither
    would know its side. A collar stands over its seam, each vertex at the azimuth of the seam beneath it.
    """
    radius = np.linalg.norm(mesh.flat, axis=1)
    angle = draft_angle(mesh.flat, draft.style.sweep)
    lower, upper, places = seam_angles(draft, radius)
    share = np.empty_like(radius)
    for k in range(len(places) - 1):
        inside = angle >= 0.5 * (lower[k] + upper[k]) if k else np.ones(len(angle), dtype=bool)
        along = (angle - upper[k]) / (lower[k + 1] - upper[k])
        share[inside] = (places[k] + (places[k + 1] - places[k]) * along)[inside]
    neck = np.concatenate([run_of(draft, name) for name in draft.neck])
    neck_angle, neck_radius = draft_angle(neck, draft.style.sweep), np.linalg.norm(neck, axis=1)
    order = np.argsort(neck_angle, kind="stable")
    run = radius - np.interp(angle, neck_angle[order], neck_radius[order])
    run, share = np.maximum(run, 0.0), np.clip(share, 0, 1)
    beyond = radius - np.linalg.norm(run_of(draft, draft.closure[0]), axis=1).max()
    gap = np.clip(beyond / OPENING_RAMP, 0, 1) * OPENING_GAP * thickness / (2 * np.pi * (NECK_RADIUS + run))
    share += np.where(share < 0.5, gap * (0.5 - share), -gap * (share - 0.5))
    rise = np.zeros_like(run)
    if draft.collar:
        place_collar(draft, mesh, thickness, share, run, rise)
    return draft.closure_azimuth + share * 2 * np.pi, run, rise


def place_collar(draft: Draft, mesh: Mesh, thickness: float, share: Floats, run: Floats, rise: Floats) -> None:
    """Puts the collar's vertices over their seam: into share (0 to 1 round the draft), run and rise [m].

    How far along the collar and how far up a vertex lies is read between seam and top edge, which have equal shares of
    their lengths at the same place round the neck.
    """
    sewn = [f"collar seam {k}" for k in range(1, len(draft.neck) + 1)]
    seam = np.concatenate([mesh.edges[name] for name in sewn])
    neck = np.concatenate([mesh.edges[name] for name in draft.neck])
    places = np.linspace(0.0, 1.0, COLLAR_RULINGS)
    foot = along_shares(np.vstack([run_of(draft, name) for name in sewn]), places)
    head = along_shares(run_of(draft, "collar top"), places)
    lowest = min(float(edge.points[:, 1].min()) for edge in draft.edges)
    own = np.flatnonzero(mesh.flat[:, 1] < min(0.0, lowest) - 0.5 * COLLAR_APART)
    flat = mesh.flat[own]
    way = head - foot
    height = np.linalg.norm(way, axis=1)
    off = flat[:, None] - foot[None]
    up = np.sum(off * way, axis=2) / height**2
    aside = np.abs(off[..., 0] * way[:, 1] - off[..., 1] * way[:, 0]) / height
    beyond = np.maximum(np.maximum(-up, up - 1.0), 0.0) * height  # a curved collar's rulings, run on, cross elsewhere
    nearest = (aside + beyond).argmin(axis=1)
    along = places[nearest]
    rise[own] = np.maximum(up[np.arange(len(own)), nearest], 0.0) * height[nearest]
    stops = length_along(mesh.flat[seam])
    inner = np.clip(np.interp(along * stops[-1], stops, share[neck]), 0.0, 1.0)
    if draft.style.collar is not None and not draft.style.collar.closed:  # the ends stand apart, each on its own side
        gap = np.clip(rise[own] / OPENING_RAMP, 0, 1) * OPENING_GAP * thickness / (2 * np.pi * NECK_RADIUS)
        inner += np.where(inner < 0.5, gap * (0.5 - inner), -gap * (inner - 0.5))
    share[own], run[own] = inner, 0.0
    rise[seam] = 0.0
    share[seam], run[seam] = share[neck], run[neck]


def along_shares(points: Floats, shares: Floats) -> Floats:
    """Points at shares of a polyline's length."""
    along = length_along(points)
    return at_length(shares * along[-1], along, points)


def draft_angle(flat: Floats, sweep: float) -> Floats:
    """Draft angle phi of flat points (k, 2) [rad], within half the gap the sector leaves on either side of it."""
    angle = np.arctan2(flat[:, 1], flat[:, 0]) % (2 * np.pi)
    angle[angle > np.pi + 0.5 * sweep] -= 2 * np.pi
    return angle


def seam_angles(draft: Draft, radius: Floats) -> tuple[list[Floats], list[Floats], list[float]]:
    """Where seams and shoulder lines lie at each distance from the centre.

    Draft angles [rad] of their sides at smaller and larger phi, and their places round the draft, 0 to 1.
    """
    style = draft.style
    found = {0.0: ("", draft.closure[0]), 1.0: (draft.closure[1], "")}
    for azimuth in (0.5 * np.pi, 1.5 * np.pi):
        share = share_of(azimuth, style)
        if share > 1e-9:
            found[share] = ("", "")
    for dart in draft.darts:
        found[share_of(dart.azimuth, style)] = dart.legs
    places = sorted(found)
    lower, upper = [], []
    for place in places:
        sides = [
            angle_along(draft, name, radius, style.sweep * place) if name else np.full(len(radius), style.sweep * place)
            for name in found[place]
        ]
        lower.append(sides[0])
        upper.append(sides[1])
    return lower, upper, places


def angle_along(draft: Draft, name: str, radius: Floats, beyond: float) -> Floats:
    """Draft angle [rad] of the named edge at each distance from the centre; `beyond` past its end.

    A closure is followed to the hem where its opening edge is drawn, or lies beside the straight edge.
    """
    points = run_of(draft, name)
    if name in draft.closure:
        side = draft.closure.index(name)
        line = closing_line(draft, side)
        off = (math.atan2(line[-1, 1], line[-1, 0]) - beyond + np.pi) % (2 * np.pi) - np.pi
        if (draft.style.first_edge_along, draft.style.last_edge_along)[side] or abs(off) > ON_RAY:
            points = line
            beyond += off
    along = np.linspace(0, len(points) - 1, 400)  # a straight edge has no even angle
    points = at_length(along, np.arange(len(points), dtype=np.float64), points)
    r, angle = np.linalg.norm(points, axis=1), np.arctan2(points[:, 1], points[:, 0])
    angle = beyond + (angle - beyond + np.pi) % (2 * np.pi) - np.pi
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
