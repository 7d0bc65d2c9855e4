"""A tailor's mannequin from tape measures.

In: tape measures, SI (m, rad), keys of a body file without their unit suffix; how the body stands, how its arms are
held, what is worn under the cloak. Out: a `Figure`: closed mesh [m], named landmarks and levels, neck-base curve,
shoulder lines, signed distance.
Axes, for the whole program: z up, floor z = 0; the figure faces +y; its right is +x; left and right are the wearer's.
Azimuth a points along (-sin a, cos a): 0 front, 90 degrees the wearer's left, 180 back, 270 right.
Reading files, changing units and dressing the figure are left to others.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from dataclasses import field as with_default
from types import MappingProxyType

import numpy as np
from scipy.spatial import cKDTree

from drape.arrays import Floats, Ints
from drape.body.arm_pose import HOLDS, held_arm
from drape.body.girth import TAPE_TURNS, hull_length, ring_length, section, turned
from drape.body.implicit_surface import (
    Part,
    Parts,
    azimuths,
    cast,
    evaluate,
    evaluate_each,
    join,
    onto_surface,
    pull_through,
)
from drape.body.limbs import Arm, Hang, both, hanging_arm, legs, next_hang
from drape.body.signed_distance import DistanceField, closest_on_mesh, distance_and_normal, distance_field
from drape.body.stance import UPRIGHT_STANCE, Stance, bend, stand
from drape.body.surface_nets import Softening, skin
from drape.body.tape import TAPE_KEYS, fill_tape
from drape.body.trunk import (
    Curves,
    crotch_height,
    draw_curves,
    first_sections,
    head,
    head_level,
    head_place,
    mid_neck_place,
    neck,
    next_sections,
    trunk,
)  # fmt: skip
from drape.body.worn_under import PLACES, evened, padded
from drape.errors import FigureError

REGIONS = ("neck", "shoulder_left", "shoulder_right", "arm_left", "arm_right", "torso", "head", "leg")
GIRTH_LEVELS = ("chest", "waist", "hip")
TRUNK_AND_LEGS, NECK, HEAD, ARMS = slice(0, 5), 5, 6, slice(7, None)  # the parts in order
FITTING_ROUNDS = 5
ARM_ROUNDS = 2
CLOSE_ENOUGH = 4e-4  # of a measure, when the sections are left alone
HEAD_CLOSE_ENOUGH = 3e-3  # of a measure of the head, by which the joint with the neck may swell it
UP = np.array([0.0, 0.0, 1.0])
BESIDE_ARMS = ("chest", "back", "waist", "hips")  # places of what is worn that push the arms outward
FADE = 0.08  # m, over which what is worn thins out towards its hem and its cuffs
NOTHING: Mapping[str, float] = MappingProxyType({})
PULL_REACH = 0.070  # m, how far a landmark bends the surface round it
SHOULDER_DEPTH = 0.06  # m, how far below the shoulder line the shoulder region reaches


@dataclass(frozen=True)
class Figure:
    """A closed mannequin with its landmarks; lengths in m, angles in rad."""

    name: str
    sex: str  # "man", "woman" or "child"
    tape: Mapping[str, float]  # every measure, given or filled
    filled: tuple[str, ...]  # names of those filled from the survey
    vertices: Floats  # (n, 3)
    triangles: Ints  # (m, 3) outward counter-clockwise, closed
    landmarks: Mapping[str, Floats]  # (3,) each, on the surface
    levels: Mapping[str, float]  # heights of chest, waist, hip, mid_thigh, knee, mid_calf, ankle, floor
    neck_base: Floats  # (72, 3) on the surface at azimuths 0, 5, ... 355 degrees about neck_centre
    neck_centre: Floats  # (3,)
    shoulder_line_left: Floats  # (31, 3) on the surface, side neck point to shoulder point
    shoulder_line_right: Floats  # (31, 3)
    vertex_regions: Ints  # (n,) index into REGIONS
    field: DistanceField
    stance: Stance = UPRIGHT_STANCE
    arms: tuple[str, str] = ("down", "down")  # how left and right are held, of `HOLDS`
    worn_under: Mapping[str, float] = with_default(default_factory=dict)  # thickness [m] by place, of `PLACES`
    bare: Figure | None = None  # the same without what is worn under the cloak, if anything is


def build_figure(
    tape: Mapping[str, float], *, name: str = "figure", sex: str = "man", stance: Stance = UPRIGHT_STANCE,
    arms: tuple[str, str] = ("down", "down"), worn_under: Mapping[str, float] = NOTHING,
) -> Figure:  # fmt: skip
    """Return the mannequin that carries the tape measures.

    Measures not given are filled (`tape.fill_tape`); sections are lofted and joined (`trunk`), the trunk's sections
    stretched until chest, waist and hip girths are met, and the surface drawn through neck base and shoulder lines.
    What is worn under the cloak is laid over that.

    Parameters: tape: SI, needs stature, chest_girth, waist_girth, hip_girth; sex: "man", "woman" or "child"; arms: how
    left and right are held (`arm_pose.HOLDS`); worn_under: thickness [m] by place (`worn_under.PLACES`).
    Raises: FigureError in one line when the measures do not make a body.
    Source: proportions in `tape`; shape ours, tested in tests/unit/body/test_figure.py and tests/published.
    """
    _check_arms(arms)
    full, _ = fill_tape(stand(tape, stance, sex), sex=sex)
    filled = tuple(key for key in TAPE_KEYS if key not in tape)
    curves = draw_curves(full, stance)
    room = (
        0.0
        if not worn_under
        else worn_under.get("arms", 0.0) + max(worn_under.get(place, 0.0) for place in BESIDE_ARMS)
    )
    parts, held, hung, vertices, triangles = _fit_surface(full, curves, sex, "wrist_height" in tape, stance, arms, room)
    drawn = (curves.neck_base, curves.shoulder_line_left, curves.shoulder_line_right)
    settled = closest_on_mesh(vertices, triangles, onto_surface(parts, np.vstack(drawn), rounds=3))
    ring, left, right = np.split(settled, np.cumsum([len(points) for points in drawn])[:-1])
    four = ring[[0, 180, 90, 270]]
    neck_centre, neck_base = _by_azimuth(ring)
    neck_base = closest_on_mesh(vertices, triangles, neck_base)
    landmarks = {
        "front_neck": four[0], "back_neck": four[1], "side_neck_left": four[2], "side_neck_right": four[3],
        "shoulder_point_left": left[-1], "shoulder_point_right": right[-1], "crown": vertices[vertices[:, 2].argmax()],
        **_limb_marks(full, held, vertices, triangles),
    }  # fmt: skip
    if "wrist_height" not in tape:  # follows from the arm's length and how it hangs
        hanging = [
            landmarks[f"wrist_{side}"][2] for side, hold in zip(("left", "right"), arms, strict=True) if hold == "down"
        ]
        full["wrist_height"] = (
            float(0.5 * sum(hanging)) if len(hanging) == 2 else float(np.mean([one[2] for one in hung]))
        )
    bare = Figure(
        name=name, sex=sex, tape=full, filled=filled, vertices=vertices, triangles=triangles, landmarks=landmarks,
        levels=_levels(full), neck_base=neck_base, neck_centre=neck_centre, shoulder_line_left=left,
        shoulder_line_right=right,
        vertex_regions=_vertex_regions(parts, vertices, full, curves, neck_base, neck_centre, held, arms),
        field=distance_field(vertices, triangles), stance=stance, arms=arms,
    )  # fmt: skip
    return _dressed(bare, held, worn_under) if any(worn_under.values()) else bare


def _check_arms(arms: tuple[str, str]) -> None:
    """Refuse holds that are not known, or two forearms in one place."""
    for side, hold in zip(("left", "right"), arms, strict=True):
        if hold not in HOLDS:
            raise FigureError(f"figure: arms.{side}: got {hold!r}, allowed {', '.join(HOLDS)}. Check the spelling.")
    if "forearm across" in arms and set(arms) <= {"forearm across", "forward"}:
        other = arms[1] if arms[0] == "forearm across" else arms[0]
        raise FigureError(
            f'figure: arms: got "forearm across" with the other arm "{other}", allowed with an arm held otherwise. '
            "Both forearms would lie in one place: let one hang."
        )


def _dressed(bare: Figure, held: tuple[Arm, Arm], worn_under: Mapping[str, float]) -> Figure:
    """Return the figure with what is worn laid over it; landmarks and lines lie on the new surface."""
    thickness = _thickness(bare, held, worn_under)
    vertices, triangles = padded(bare.vertices, bare.field, thickness)
    tree = cKDTree(bare.vertices)
    lines = (bare.neck_base, bare.shoulder_line_left, bare.shoulder_line_right, *bare.landmarks.values())
    points = np.vstack(lines)
    _, slope = distance_and_normal(bare.field, points)
    points = points + thickness[tree.query(points)[1]][:, None] * slope / np.linalg.norm(slope, axis=1)[:, None]
    moved = np.split(
        closest_on_mesh(vertices, triangles, points), np.cumsum([len(np.atleast_2d(line)) for line in lines])[:-1]
    )
    neck_centre, neck_base = _by_azimuth(moved[0])
    neck_base = closest_on_mesh(vertices, triangles, neck_base)
    marks = {name: place[0] for name, place in zip(bare.landmarks, moved[3:], strict=True)}
    return replace(
        bare, vertices=vertices, triangles=triangles, landmarks=marks, neck_base=neck_base, neck_centre=neck_centre,
        shoulder_line_left=moved[1], shoulder_line_right=moved[2],
        vertex_regions=bare.vertex_regions[tree.query(vertices)[1]], tape={**bare.tape,
         "neck_base_girth": ring_length(neck_base)}, field=distance_field(vertices, triangles),
        worn_under=dict(worn_under), bare=bare,
    )  # fmt: skip


def _thickness(bare: Figure, held: tuple[Arm, Arm], worn_under: Mapping[str, float]) -> Floats:
    """Return the thickness [m] over each vertex of the bare figure, (n,); head, hands and legs stay bare.

    It thins out to nothing towards the crotch and the wrists.
    """
    height, tape = bare.vertices[:, 2], bare.tape
    region = np.array(REGIONS)[bare.vertex_regions]
    trunk_y = np.array([bend(tape, bare.stance, float(z)) for z in np.linspace(0.0, tape["stature"], 200)])
    ahead = bare.vertices[:, 1] > np.interp(height, np.linspace(0.0, tape["stature"], 200), trunk_y)
    upper = height > 0.5 * (tape["waist_height"] + tape["chest_height"])
    lower = height < 0.5 * (tape["waist_height"] + tape["hip_height"])
    place = np.where(upper, np.where(ahead, "chest", "back"), np.where(lower, "hips", "waist")).astype("<U9")
    for names, where in (
        (("neck",), "neck"),
        (("shoulder_left", "shoulder_right"), "shoulders"),
        (("arm_left", "arm_right"), "arms"),
    ):
        place[np.isin(region, names)] = where
    none = np.isin(region, ("head", "leg"))
    above_edge = np.where(region == "torso", height - crotch_height(tape), FADE)  # [m] from hem or cuff
    for arm, name in zip(held, ("arm_right", "arm_left"), strict=True):
        fore = (arm.elbow - arm.wrist) / np.linalg.norm(arm.elbow - arm.wrist)
        near = (region == name) & (np.linalg.norm(bare.vertices - arm.wrist, axis=1) < 0.25)
        above_edge = np.where(near, (bare.vertices - arm.wrist) @ fore, above_edge)
    none |= above_edge <= 0.0
    laid = np.array([worn_under.get(one, 0.0) for one in PLACES])
    at = {one: i for i, one in enumerate(PLACES)}
    thickness = laid[np.array([at[one] for one in place])] * np.clip(above_edge / FADE, 0.0, 1.0)
    return evened(np.where(none, 0.0, thickness), bare.triangles, none)


def region_of(figure: Figure, points: Floats) -> Ints:
    """Return for each point (k, 3) [m] the index in `REGIONS` of the figure's nearest surface, shape (k,).

    Neck: above the neck base and below the head. Shoulder: within 6 cm below a shoulder line, inside the armhole.
    Arm: beyond the armhole. Leg: below the crotch. Torso: the rest. Raises ValueError unless points are (k, 3).
    """
    points = np.asarray(points, dtype=np.float64)
    if points.ndim != 2 or points.shape[1] != 3:
        raise ValueError(f"figure: points: got shape {points.shape}, allowed (k, 3). Give one point per row.")
    _, nearest = cKDTree(figure.vertices, compact_nodes=False, balanced_tree=False).query(points)
    return figure.vertex_regions[nearest]


def _fit_surface(
    tape: Mapping[str, float],
    curves: Curves,
    sex: str,
    wrist_asked: bool,
    stance: Stance,
    arms: tuple[str, str],
    room: float,
) -> tuple[Parts, tuple[Arm, Arm], Floats, Floats, Ints]:
    """Return parts, arms as held, their wrists (2, 3) when they hang, and the mesh.

    Its chest, waist and hip sections have girth, breadth and depth as asked.
    """
    sections = first_sections(tape)
    asked = np.array([[tape[f"{level}_{what}"] for what in ("girth", "breadth", "depth")] for level in GIRTH_LEVELS])
    asked_head = np.array([tape["head_girth"], tape["head_breadth"], tape["head_length"]])
    ring, of_head, top, good_head = 1.0, asked_head, head(tape, stance), False
    fixed = [*legs(tape, sections), neck(tape, curves, ring, stance), top]
    for _ in range(FITTING_ROUNDS):
        drawn = join([trunk(tape, curves, sex, sections, stance), *fixed])
        got = np.array(
            [
                _ray_section(drawn, tape[f"{level}_height"], bend(tape, stance, tape[f"{level}_height"]))
                for level in GIRTH_LEVELS
            ]
        )
        round_neck = tape["neck_girth"] / _ray_neck_girth(_pulled(drawn, curves), curves)
        if not good_head:
            swollen = np.maximum(1.0, _ray_section(drawn, head_level(tape), head_place(tape, stance)) / asked_head)
            good_head = bool((swollen < 1.0 + HEAD_CLOSE_ENOUGH).all())
        if (np.abs(got / asked - 1.0) < CLOSE_ENOUGH).all() and abs(round_neck - 1.0) < CLOSE_ENOUGH and good_head:
            break
        if not good_head:
            of_head = of_head / swollen
            top = head(tape, stance, measures=of_head)
        sections = next_sections(sections, asked, got)
        ring *= round_neck
        fixed = [*legs(tape, sections), neck(tape, curves, ring, stance), top]
    body = [trunk(tape, curves, sex, sections, stance), *fixed]
    parts, held, hung = _with_arms(body, tape, curves, sex, sections, wrist_asked, arms, room)
    parts = _pulled(parts, curves)
    soften = (*_soft_corners(curves), *_soft_jaw(parts, tape, stance), *_soft_armpits(parts, held, tape))
    vertices, triangles = skin(parts, soften=soften)
    return parts, held, hung, vertices, triangles


def _with_arms(
    body: list[Part], tape: Mapping[str, float], curves: Curves, sex: str, sections: Floats, wrist_asked: bool,
    arms: tuple[str, str], room: float,
) -> tuple[Parts, tuple[Arm, Arm], Floats]:  # fmt: skip
    """Return all parts, the arms (right, left) and where their wrists hang, (2, 3).

    Hung so that breadth over the upper arms and arm length are as asked, then held as told.
    """
    ends = (curves.shoulder_line_right[-1], curves.shoulder_line_left[-1])
    hangs = [Hang(), Hang()]

    def hung() -> tuple[Arm, Arm]:
        right, left = (hanging_arm(tape, end, sex, sections, hang, room) for end, hang in zip(ends, hangs, strict=True))
        return right, left

    for _ in range(ARM_ROUNDS):
        held = hung()
        drawn = _pulled(join([*body, *both(held)]), curves)  # the tape lies on the shoulder as it will be
        got = [_measure_arm(drawn, arm, end) for arm, end in zip(held, ends, strict=True)]
        hangs = [next_hang(tape, arm, hang, one, wrist_asked) for arm, hang, one in zip(held, hangs, got, strict=True)]
    held = hung()
    parts = join([*body, *both(held)])
    wrists = np.array([arm.wrist for arm in held])
    if arms != ("down", "down"):
        bodies = join(body)
        right, left = (
            held_arm(tape, end, arm, hold, sex, bodies, room)
            for end, arm, hold in zip(ends, held, reversed(arms), strict=True)
        )  # fmt: skip
        held = (right, left)
        parts = join([*body, *both(held)])
    return parts, held, wrists


def _measure_arm(parts: Parts, arm: Arm, end: Floats) -> Floats:
    """Return half-breadth over the upper arm, length along the outside from shoulder point to wrist,
    wrist height [m].
    """
    sign = np.sign(end[0])
    across = np.array([sign, 0.0, 0.0])
    half = abs(arm.deltoid[0]) + cast(parts, arm.deltoid[None], across)[0]
    out = arm.outward
    inner = np.vstack([end - 0.030 * out, arm.deltoid, arm.elbow, arm.wrist])
    steps = np.linspace(0.0, 3.0, 61)
    inner = np.stack([np.interp(steps, np.arange(4.0), inner[:, i]) for i in range(3)], axis=1)
    last = arm.wrist + cast(parts, arm.wrist[None], out, reach=0.15)[0] * out
    chord = float(np.linalg.norm(last - end))
    way = (last - end) / chord
    square_out = (out - (out @ way) * way) / np.linalg.norm(out - (out @ way) * way)
    lengths = []
    for aside in turned(square_out, way, TAPE_TURNS):  # a tape lies in one plane, and where its way is shortest
        square = np.cross(way, aside)
        flat = inner - ((inner - end) @ square)[:, None] * square
        path = flat + cast(parts, flat, aside, reach=0.15)[:, None] * aside - end
        along, off = path @ way, path @ aside
        between = (along > 0.0) & (along < chord) & (off > 0.0)
        profile = np.vstack([[[0.0, 0.0], [chord, 0.0]], np.stack([along, off], axis=1)[between]])
        lengths.append(hull_length(profile) - chord)
    return np.array([half, min(lengths), last[2]])


def _limb_marks(
    tape: Mapping[str, float], held: tuple[Arm, Arm], vertices: Floats, triangles: Ints
) -> dict[str, Floats]:
    """Return the outermost places of the upper arms, wrists, middles of the kneecaps and outer ankle bones,
    (3,) each.
    """
    marks = {}
    for side, sign, arm in (("right", 1.0, held[0]), ("left", -1.0, held[1])):
        marks[f"deltoid_{side}"] = _outermost(vertices, triangles, arm.deltoid, sign)
        marks[f"wrist_{side}"] = arm.wrist + arm.wrist_radius * arm.outward
        for name, ahead in (("knee", True), ("ankle", False)):
            cut = section(vertices, triangles, np.array([0.0, 0.0, tape[f"{name}_height"]]), UP)
            cut = cut[(sign * cut[:, 0] > 0.0) & (ahead | (cut[:, 1] < 0.02))]
            marks[f"{name}_{side}"] = cut[(cut[:, 1] if ahead else sign * cut[:, 0]).argmax()]
    wrists = ["wrist_right", "wrist_left"]
    places = closest_on_mesh(vertices, triangles, np.array([marks[name] for name in wrists]))
    return {**marks, **dict(zip(wrists, places, strict=True))}


def _outermost(vertices: Floats, triangles: Ints, near: Floats, sign: float) -> Floats:
    """Return the outermost place of the mesh at the height of `near`, to the right for sign 1."""
    cut = section(vertices, triangles, np.array([0.0, 0.0, near[2]]), UP)
    return cut[(sign * cut[:, 0]).argmax()]


def _soft_corners(curves: Curves) -> tuple[Softening, ...]:
    """The corners between shoulder and neck, which bend within two grid cells."""
    unit = curves.neck_base[180, 2] / 1.52
    corners = np.array([curves.neck_base[turn] + [0.0, y, 0.006] for turn in (90, 270) for y in (-0.018, 0.0)])
    return (Softening(corners, 0.024 * unit, 4),)


def _soft_jaw(parts: Parts, tape: Mapping[str, float], stance: Stance) -> tuple[Softening, ...]:
    """The line where the head ends and the neck goes on, as far as the mid-neck girth stays as it is."""
    out, cap = parts.radii[HEAD, 0], parts.caps[HEAD, 0]
    turn = azimuths()
    x, y = parts.centres[HEAD, 0, 0] - out * np.sin(turn), parts.centres[HEAD, 0, 1] + out * np.cos(turn)
    ring = np.stack([x, y, np.full_like(x, parts.spans[HEAD, 0] - 0.5 * cap)], axis=1)[:: len(turn) // 15]
    centre, axis = mid_neck_place(tape, stance)
    clear = ring[(ring - centre) @ axis > 0.55 * cap + 0.003]
    return (Softening(clear, 0.55 * cap, 8),) if len(clear) else ()


def _soft_armpits(parts: Parts, held: tuple[Arm, Arm], tape: Mapping[str, float]) -> tuple[Softening, ...]:
    """The places where the arms leave the trunk, slits narrower than the grid."""
    found = []
    unit = tape["stature"] / 1.7558
    for arm in held:
        high, low = arm.deltoid, arm.deltoid + (arm.elbow - arm.deltoid) * 0.8
        steps = np.linspace(0.0, 1.0, 60)
        outer = high + steps[:, None] * (low - high)
        across = np.linspace(0.0, 1.0, 40)[None, :, None]
        inner = outer * [0.4, 1.0, 1.0]
        grid = inner[:, None] + across * (outer - inner)[:, None]
        open_ = evaluate(parts, grid.reshape(-1, 3)).reshape(grid.shape[:2])
        first = np.nonzero(open_.max(axis=1) > 0.0)[0]
        if len(first):
            place = grid[first[0], open_[first[0]].argmax()]
            reach = min(0.060 * unit, 0.8 * (place[2] - tape["chest_height"]) - 0.004)  # the chest stays as it is
            found += [Softening(place[None], reach, 24)] if reach > 0.008 else []
    return tuple(found)


def _ray_section(parts: Parts, height: float, ahead: float) -> Floats:
    """Return hull girth, breadth and depth [m] of the level section without arms, from 180 rays;
    `ahead` its middle's y [m].
    """
    turn = np.radians(np.arange(0.0, 360.0, 2.0))
    ray = np.stack([-np.sin(turn), np.cos(turn), np.zeros_like(turn)], axis=1)
    points = (cast(parts, np.array([0.0, -0.01 + ahead, height]), ray)[:, None] * ray)[:, :2]
    return np.array([hull_length(points), *np.ptp(points, axis=0)])


def _pulled(parts: Parts, curves: Curves) -> Parts:
    """Draw the surface through neck base (each 15 degrees) and shoulder lines: a few mm where joints swell."""
    outer = slice(3, 31, 3)
    fixed = np.vstack([curves.neck_base[::15], curves.shoulder_line_left[outer], curves.shoulder_line_right[outer]])
    return pull_through(parts, fixed, reach=PULL_REACH)


def _ray_neck_girth(parts: Parts, curves: Curves) -> float:
    """Return the hull girth of the neck square to its axis at the larynx, from rays."""
    centre = curves.mid_neck.mean(axis=0)
    rays = curves.mid_neck - centre
    rays /= np.linalg.norm(rays, axis=1)[:, None]
    plane = np.stack([rays[0], rays[len(rays) // 4]], axis=1)
    return hull_length((cast(parts, centre, rays, reach=0.2)[:, None] * rays) @ plane)


def _by_azimuth(ring: Floats) -> tuple[Floats, Floats]:
    """Return the centroid of the ring's 72 points at equal azimuths about that same centroid, and the points."""
    centre = ring.mean(axis=0)
    wanted = np.radians(np.arange(0.0, 360.0, 5.0))
    for _ in range(20):
        azimuth = np.unwrap(np.arctan2(-(ring[:, 0] - centre[0]), ring[:, 1] - centre[1]))
        azimuth = np.concatenate([azimuth - 2 * np.pi, azimuth, azimuth + 2 * np.pi])
        points = np.stack([np.interp(wanted, azimuth, np.tile(ring[:, axis], 3)) for axis in range(3)], axis=1)
        centre = points.mean(axis=0)
    return centre, points


def _levels(tape: Mapping[str, float]) -> dict[str, float]:
    """Heights of the body levels a hem is judged by; mid_thigh and mid_calf lie halfway between their neighbours."""
    crotch, knee, ankle = crotch_height(tape), tape["knee_height"], tape["ankle_height"]
    return {
        "chest": tape["chest_height"], "waist": tape["waist_height"], "hip": tape["hip_height"],
        "mid_thigh": 0.5 * (crotch + knee), "knee": knee, "mid_calf": 0.5 * (knee + ankle), "ankle": ankle,
        "floor": 0.0,
    }  # fmt: skip


def _arm_vertices(
    each: Floats, vertices: Floats, curves: Curves, held: tuple[Arm, Arm], arms: tuple[str, str]
) -> Floats:
    """Return which vertices lie beyond the left and the right armhole, (2, n) bool; the armpit's joint counts as arm.

    each: every part's own function at the vertices, (n, parts).
    """
    body = each[:, TRUNK_AND_LEGS].min(axis=1)
    found = []
    own = np.split(each[:, ARMS], [len(held[0].parts)], axis=1)  # right, left
    for sign, end, hold, mine in (
        (-1.0, curves.shoulder_line_left[-1], arms[0], own[1]), (1.0, curves.shoulder_line_right[-1], arms[1], own[0]),
    ):  # fmt: skip
        x, below = sign * vertices[:, 0], end[2] - vertices[:, 2]
        reach = 0.002 + np.clip(0.3 * (below - 0.07), 0.0, 0.008)
        arm = (each[:, ARMS].min(axis=1) < body + reach) & (x > sign * end[0] - 0.25 * np.maximum(below, 0.0))
        arm |= (x > sign * end[0] + 0.002 + 0.9 * np.maximum(-below, 0.0)) & (below < 0.10)
        arm &= below > -0.02
        if hold != "down":  # may lie anywhere
            arm = (mine.min(axis=1) < body + 0.002) & (arm | (below > 0.10) | (x > sign * end[0] + 0.02))
        found.append(arm)
    return np.array(found)


def _vertex_regions(
    parts: Parts, vertices: Floats, tape: Mapping[str, float], curves: Curves, neck_base: Floats,
    neck_centre: Floats, held: tuple[Arm, Arm], holds: tuple[str, str],
) -> Ints:  # fmt: skip
    """Name the region of every vertex."""
    regions = np.full(len(vertices), REGIONS.index("torso"))
    regions[vertices[:, 2] < crotch_height(tape)] = REGIONS.index("leg")
    each = evaluate_each(parts, vertices)
    arms = _arm_vertices(each, vertices, curves, held, holds)
    for side, sign, line, arm in (
        ("left", -1.0, curves.shoulder_line_left, arms[0]), ("right", 1.0, curves.shoulder_line_right, arms[1]),
    ):  # fmt: skip
        x = sign * vertices[:, 0]
        ridge = np.interp(x, sign * line[:, 0], line[:, 2])
        shoulder = (x > 0.6 * sign * line[0, 0]) & (vertices[:, 2] > ridge - SHOULDER_DEPTH)
        regions[shoulder] = REGIONS.index(f"shoulder_{side}")
        regions[arm] = REGIONS.index(f"arm_{side}")
    away = vertices - neck_centre
    azimuth = np.degrees(np.arctan2(-away[:, 0], away[:, 1])) % 360.0
    steps = np.arange(0.0, 365.0, 5.0)
    ring = np.vstack([neck_base, neck_base[:1]])
    base = np.interp(azimuth, steps, ring[:, 2])
    reach = np.interp(azimuth, steps, np.hypot(*(ring - neck_centre)[:, :2].T))
    within = np.hypot(away[:, 0], away[:, 1]) < reach + 0.08
    regions[(vertices[:, 2] > base) & within] = REGIONS.index("neck")
    head = each[:, HEAD] < each[:, NECK]
    regions[head & (vertices[:, 2] > tape["side_neck_height"])] = REGIONS.index("head")
    return regions
