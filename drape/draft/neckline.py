"""The neck edge of a flat draft, with the dart and the shoulder cuts that run into it.

In: the figure's neck points and shoulder points, the sweep, and what is asked of each wedge.
Out: a `Neckline`: the neck edge's two halves, the wedge points, the dimensions. SI, angles in radians, flat axes of
`cloak`.

How the tailored neck is developed from the figure (ours), for shoulder slopes s, sweep S, shoulder length L:

1. A wedge of angle delta with its point D at distance rho from O, on the line phi = S/2 (dart) or on the straight
   edge (cut), has two legs that turn delta/2 off the line D-O. Front leg and front cut, each run on to a length a,
   meet at the front apex O_f, where the two shoulder lines would meet above the neck once sewn:
       rho_r e(0) + a_r v_r = rho_l e(S/2) + a_l v_l,     e a direction from O, v_i the leg's direction,
   two linear equations for rho_r and rho_l. With equal shoulders this is the triangle O, O_f, D:
       a = rho sin(S/4) / sin(S/4 + delta/2).
   The back is the mirror image, with O_b. Centre front runs from O_f so that it shares out the panel's angle as on
   the body, (90 deg - s_r) : (90 deg - s_l); phi = S/4 when the shoulders are alike. It makes the angle theta with a
   leg.
2. Side neck point N, shoulder point and front neck point P are a triangle on the body; laid flat on the leg in true
   size, with c = |NP| and gamma the angle at N, it puts P at
       w = c sin(gamma - theta) towards the centre line,     d = c cos(gamma - theta) along it.
   So does the back neck point. Front and back ask for different half widths w, since no flat panel fits both; the
   mean is taken and both drops d are kept (but at least a quarter of w, which only a draft without wedges meets).
   Then N lies n = w / sin(theta) from the apex, P lies n cos(theta) + d from it,
   and the wedge's point a = n + L: the seam over the shoulder is as long as the shoulder.
3. The neck edge leaves each leg at the angle at which, on the body, the shoulder line leaves the line from back to
   front neck point, and behind at 180 deg less that, so that front and back run on smoothly once sewn. It meets
   the centre lines squarely. Each quarter is the affine image of a circular arc as one cubic (handles
   4/3 tan(psi/4) / tan(psi/2) of the tangents, psi the turn), so it is convex.
4. Girth and ease: w and d are multiplied by one factor until the sewn neck edge is as long as asked. On a
   figure of mean measures it comes out about 5 % short of the neck-base girth by itself.
5. The front neck point is then hollowed FRONT_LOWERED further (`neck_kinds`), before girth and ease are met:
  cloth bridges
   the hollow between throat and collarbones, and an edge cut to lie in it rides up 2 to 3 cm. How far: settled on
   twelve surveyed bodies (tests/bench/README.md).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from drape.errors import DraftError

if TYPE_CHECKING:
    from drape.body.figure import Figure

Drawn = TypeVar("Drawn")

ARC_STEP = math.radians(0.25)  # spacing of outline points on a round neck; chord error 8e-7 of the length
CURVE_COUNT = 161  # points on each quarter of a tailored neck; chord error about 1e-5 of the length
LEAST_HALF_WIDTH = 0.015  # m; a neck edge narrower than this from the centre line is no neck; ours
LEAST_HOLLOW = (
    0.25  # share of the half width that a developed neck point drops at least; bites only without wedges; ours
)
LEAST_DROP = 0.004  # m; a neck point less below the side neck point leaves no hollow; ours
HANDLES = (0.2, 2.0)  # limits of a quarter's centre tangent in its half width, so that it stays full; ours, by eye
STEEPEST_SHOULDER = math.radians(60)  # past it there is no shoulder to hang from; ours
WIDE_SWEEP = math.radians(300)  # past it unequal wedges are placed one by one: their legs hardly meet; ours
LARGEST_TURN = math.radians(120)  # of a wedge; past it the two legs are nearly one straight line


@dataclass(frozen=True)
class Shoulder:
    """One shoulder of a body: slope [rad], length [m], and how the neck points lie from it.

    `front` and `back`: (distance from the side neck point [m], angle there from the shoulder line [rad]).
    `crossing`: angle from the shoulder line to the line from back to front neck point [rad].
    """

    slope: float
    length: float
    front: tuple[float, float]
    back: tuple[float, float]
    crossing: float


@dataclass(frozen=True)
class Shoulders:
    """What the draft needs of a body: both shoulders and the neck-base girth [m]."""

    left: Shoulder
    right: Shoulder
    neck_base_girth: float


@dataclass(frozen=True)
class Wedge:
    """What is asked of a dart or a pair of cuts; `turn` is the angle [rad] taken out unless an intake [m] is given."""

    name: str
    length: float | None
    intake: float | None
    turn: float

    def drawn(self, default_length: float) -> tuple[float, float]:
        """Return (length [m], angle [rad]); angle 0 means no wedge."""
        length = default_length if self.length is None else self.length
        if self.intake is None:
            return length, self.turn
        widest = 2 * length * math.sin(LARGEST_TURN / 2)
        if length <= 0.0 or not abs(self.intake) <= widest:  # a drawing that is fitted tries any
            raise DraftError(
                f"{self.name}intake_cm: the intake cannot fit a wedge {100 * length:.4g} long, got "
                f"{100 * self.intake:.4g}, "
                f"allowed at most {100 * widest:.4g}. Take less intake or lengthen the wedge."
            )
        return length, 2 * math.asin(self.intake / (2 * length))


@dataclass(frozen=True)
class Neckline:
    """A neck edge on the flat. `front` and `back`: points [m], shape (k, 2), by increasing phi; lengths [m].

    `front_point` and `back_point` are the neck points, the headings the directions of the centre lines from there;
    `dart_point` and `cut_point` (the front one) are None where there is no wedge.
    """

    front: np.ndarray
    back: np.ndarray
    front_point: np.ndarray
    back_point: np.ndarray
    front_heading: np.ndarray
    back_heading: np.ndarray
    width: float
    dart_point: np.ndarray | None
    cut_point: np.ndarray | None
    dart_length: float
    dart_intake: float
    cut_length: float
    cut_intake: float


def direction(angle: float | np.ndarray) -> np.ndarray:
    """Return unit vectors at `angle` [rad] from flat x, shape (..., 2)."""
    return np.stack([np.cos(angle), np.sin(angle)], axis=-1)


def mirrored(points: np.ndarray, sweep: float) -> np.ndarray:
    """Return flat points, shape (k, 2) or (2,), mirrored on the line phi = sweep/2 (front to back)."""
    c, s = math.cos(sweep), math.sin(sweep)
    return points @ np.array([[c, s], [s, -c]])


def turn_to_take_out(slope: float, sweep: float) -> float:
    """Return the wedge angle [rad] for a shoulder of this slope: 180 deg - 2 slope - sweep/2, never negative."""
    return max(0.0, math.pi - 2 * slope - sweep / 2)


def read_shoulders(figure: Figure) -> Shoulders:
    """Return the shoulders and neck points of a figure as the draft needs them.

    Raises DraftError if a shoulder does not slope like one.
    """
    marks = {name: np.asarray(point, dtype=float) for name, point in figure.landmarks.items()}
    found = {}
    for side in ("left", "right"):
        start = marks[f"side_neck_{side}"]
        line = marks[f"shoulder_point_{side}"] - start
        length = float(np.linalg.norm(line))
        slope = math.asin(-float(line[2]) / length)
        if not 0.0 <= slope <= STEEPEST_SHOULDER:
            raise DraftError(
                f"draft: the {side} shoulder does not slope like one, got {math.degrees(slope):.4g} deg, "
                f"allowed 0 to {math.degrees(STEEPEST_SHOULDER):.4g}. Check shoulder_slope_deg and the heights."
            )
        front, back = marks["front_neck"] - start, marks["back_neck"] - start
        found[side] = Shoulder(
            slope=slope,
            length=length,
            front=(float(np.linalg.norm(front)), _angle_between(front, line)),
            back=(float(np.linalg.norm(back)), _angle_between(back, line)),
            crossing=_angle_between(front - back, line),
        )
    return Shoulders(found["left"], found["right"], float(figure.tape["neck_base_girth"]))


def _angle_between(a: np.ndarray, b: np.ndarray) -> float:
    """Return the angle between two vectors [rad]."""
    return math.acos(float(a @ b) / float(np.linalg.norm(a) * np.linalg.norm(b)))


def fit_length(
    drawn: Callable[[float], Drawn], sewn: Callable[[Drawn], float], first: float, target: float
) -> tuple[Drawn, float]:
    """Return the neck whose `sewn` edge is `target` long [m] and its factor, by secant steps from `first`."""

    def excess(factor: float) -> tuple[Drawn, float]:
        neck = drawn(factor)
        return neck, sewn(neck) - target

    last, (neck, last_excess) = first, excess(first)
    used, factor = first, first * 1.02
    for _ in range(60):
        if abs(last_excess) < 1e-13:
            break
        used, (neck, now) = factor, excess(factor)
        if now == last_excess:
            break
        step = -now * (factor - last) / (now - last_excess)
        last, last_excess = factor, now
        factor = min(max(factor + step, 0.7 * factor), 1.4 * factor)
    if abs(last_excess) > 1e-10:
        raise DraftError(
            f"draft: found no neck edge of the length you asked, got {100 * (target + last_excess):.4g} cm, allowed "
            f"{100 * target:.4g}. Give front_neck_depth_cm and back_neck_depth_cm, or take less intake."
        )
    return neck, used


def round_neck(sweep: float, radius: float, body: Shoulders, left: Wedge, right: Wedge) -> Neckline:
    """Return the neck cut as a circle about O, with wedges running into it.

    A wedge of leg length L and angle delta ends where both its legs have length L up to the circle:
    rho = L cos(delta/2) + sqrt(radius^2 - L^2 sin^2(delta/2)).
    """
    points, angles, sizes = {}, {}, {}
    for side, wedge, shoulder in (("left", left, body.left), ("right", right, body.right)):
        length, turn = wedge.drawn(shoulder.length)
        half = length * math.sin(turn / 2)
        if half > 0.9 * radius:
            raise DraftError(
                f"{wedge.name}intake_cm: the intake does not fit the round neck, got {200 * half:.4g}, allowed at most "
                f"{180 * radius:.4g} (0.9 of twice the radius). Take less intake or widen the neck."
            )
        points[side] = length * math.cos(turn / 2) + math.sqrt(radius**2 - half**2) if turn else None
        angles[side] = math.asin(half / radius)
        sizes[side] = (length, 2 * half)
    start, end = angles["right"], sweep / 2 - angles["left"]
    _check_room(start, end, sweep, left, right, sizes)
    front = radius * direction(np.linspace(start, end, max(3, math.ceil((end - start) / ARC_STEP) + 1)))
    headings = (direction(sweep / 4), direction(3 * sweep / 4))
    centres = (radius * headings[0], radius * headings[1])
    return _assembled(
        sweep,
        front,
        mirrored(front[::-1], sweep),
        centres,
        headings,
        radius * 2 * (end - start) / math.pi,
        points,
        sizes,
    )


def tailored_neck(
    sweep: float,
    scale: float,
    body: Shoulders,
    left: Wedge,
    right: Wedge,
    *,
    depths: tuple[float | None, float | None] = (None, None),
    width: float | None = None,
) -> Neckline:
    """Return the neck developed from the figure (steps 1 to 3 above), its widths and drops multiplied by `scale`.

    `depths` (front, back; from O along the centre lines) and `width` (between side neck points, across the panel)
    replace
    what the figure gives [m].
    """
    sizes, turns = {}, {}
    for side, wedge, shoulder in (("left", left, body.left), ("right", right, body.right)):
        length, turn = wedge.drawn(shoulder.length)
        sizes[side], turns[side] = (length, 2 * length * math.sin(turn / 2)), turn
    ray = _centre_front(sweep, body, turns)
    ridges, developed, flat_width = _developed(sweep, scale, body, turns, ray, width)
    legs = {side: ridges[side] + sizes[side][0] for side in turns}
    rho = _wedge_distances(sweep, turns, legs)
    inward = {
        "right": direction(math.pi - turns["right"] / 2),
        "left": direction(sweep / 2 + math.pi + turns["left"] / 2),
    }
    tips = {"right": rho["right"] * direction(0.0), "left": rho["left"] * direction(sweep / 2)}
    apex = (tips["right"] + legs["right"] * inward["right"] + tips["left"] + legs["left"] * inward["left"]) / 2
    sides = {side: tips[side] + sizes[side][0] * inward[side] for side in tips}
    front_end, back_end = (
        _centre_point(apex, ray, reach, depth) for reach, depth in zip(developed, depths, strict=True)
    )
    front, back = [], []
    for side, shoulder, sense in (("right", body.right, 1.0), ("left", body.left, -1.0)):
        ahead, behind = _quarters(sides[side], -inward[side], ray, (front_end, back_end), shoulder.crossing, sense)
        front.append(ahead)
        back.append(behind)
    return _assembled(
        sweep,
        np.vstack([front[0], front[1][-2::-1]]),
        mirrored(np.vstack([back[0], back[1][-2::-1]])[::-1], sweep),
        (front_end, mirrored(back_end, sweep)),
        (direction(ray), direction(sweep - ray)),
        flat_width,
        {side: rho[side] if turns[side] else None for side in rho},
        sizes,
    )


def _developed(
    sweep: float, scale: float, body: Shoulders, turns: dict[str, float], ray: float, width: float | None
) -> tuple[dict[str, float], tuple[float, float], float]:
    """Lay the neck points flat on the legs (step 2 above), lengths times `scale`.

    Returns apex to side neck point by side [m], apex to front and back neck points [m], and the flat width [m];
    a `width` given replaces the developed one.
    """
    angles = {"right": ray + turns["right"] / 2, "left": sweep / 2 + turns["left"] / 2 - ray}
    halves, drops = {}, {}
    for side, shoulder in (("left", body.left), ("right", body.right)):
        laid = [
            (c * math.sin(turn - angles[side]), c * math.cos(turn - angles[side]))
            for c, turn in (shoulder.front, shoulder.back)
        ]
        halves[side] = scale * (laid[0][0] + laid[1][0]) / 2
        drops[side] = [max(scale * drop, LEAST_HOLLOW * halves[side]) for _, drop in laid]
    total = halves["left"] + halves["right"]
    if min(halves.values()) < LEAST_HALF_WIDTH:
        raise DraftError(
            f"draft: the neck does not come out wide enough for this sweep, got {100 * total:.4g} cm between "
            f"side neck points, "
            f"allowed more than {200 * LEAST_HALF_WIDTH:.4g}. Take a smaller sweep or less intake."
        )
    widening = 1.0 if width is None else width / total
    ridges = {side: widening * halves[side] / math.sin(angles[side]) for side in halves}
    front, back = (
        sum(ridges[side] * math.cos(angles[side]) + drops[side][which] for side in ridges) / 2 for which in (0, 1)
    )
    return ridges, (front, back), widening * total


def _check_room(
    start: float,
    end: float,
    sweep: float,
    left: Wedge,
    right: Wedge,
    sizes: dict[str, tuple[float, float]],
) -> None:
    """Refuse wedges that leave too little neck edge on either side of the centre lines."""
    least = 0.02 * sweep
    for name, side, used in ((right.name, "right", start), (left.name, "left", sweep / 2 - end)):
        if used > sweep / 4 - least:
            raise DraftError(
                f"{name}intake_cm: the intake takes the whole neck edge as far as the centre line, got "
                f"{100 * sizes[side][1]:.4g}, "
                f"allowed less than about {100 * sizes[side][1] * (sweep / 4 - least) / used:.3g}. Take less "
                f"intake or widen the neck."
            )


def _wedge_distances(sweep: float, turns: dict[str, float], legs: dict[str, float]) -> dict[str, float]:
    """Return each wedge point's distance from O [m] (step 1 above)."""
    alike = turns["left"] == turns["right"] and abs(legs["left"] - legs["right"]) < 1e-12
    if alike or not any(turns.values()) or sweep > WIDE_SWEEP:
        return {side: legs[side] * math.sin(sweep / 4 + turns[side] / 2) / math.sin(sweep / 4) for side in turns}
    matrix = np.column_stack([direction(0.0), -direction(sweep / 2)])
    right = legs["right"] * direction(math.pi - turns["right"] / 2)
    left = legs["left"] * direction(sweep / 2 + math.pi + turns["left"] / 2)
    rho = np.linalg.solve(matrix, left - right)
    if min(rho) <= 0.02:
        raise DraftError(
            f"draft: dart and shoulder cuts differ too much, got angles {math.degrees(turns['left']):.4g} and "
            f"{math.degrees(turns['right']):.4g} deg, allowed nearer ones at this sweep. Make their intakes alike."
        )
    return {"right": float(rho[0]), "left": float(rho[1])}


def _centre_front(sweep: float, body: Shoulders, turns: dict[str, float]) -> float:
    """Return the direction of centre front from the front apex [rad]; sweep/4 when both shoulders are alike.

    The angle between front cut and front leg is shared out as it is on the body, (90 deg - s_right) : (90 deg -
    s_left).
    """
    right, left = math.pi / 2 - body.right.slope, math.pi / 2 - body.left.slope
    opening = sweep / 2 + (turns["left"] + turns["right"]) / 2
    return opening * right / (left + right) - turns["right"] / 2


def _centre_point(apex: np.ndarray, ray: float, developed: float, depth: float | None) -> np.ndarray:
    """Return a neck point on the centre line from the apex, as if in front.

    It lies `developed` from the apex, or `depth` from O where that is given.
    """
    heading = direction(ray)
    if depth is not None:
        along = float(apex @ heading)
        aside = float(apex @ direction(ray + math.pi / 2))
        if abs(aside) >= depth:
            raise DraftError(
                f"draft: a neck depth ends before the ridge that dart and shoulder cuts make, got {100 * depth:.4g}, "
                f"allowed more than {100 * abs(aside):.4g}. Deepen the neck, or make dart and shoulder cuts alike."
            )
        developed = math.sqrt(depth**2 - aside**2) - along
    return apex + developed * heading


def _quarters(
    side: np.ndarray,
    leg: np.ndarray,
    ray: float,
    ends: tuple[np.ndarray, np.ndarray],
    crossing: float,
    sense: float,
) -> tuple[np.ndarray, np.ndarray]:
    """Return front and back quarters of the neck edge from one side neck point, both drawn on the front half.

    `leg` points from side neck to wedge point; `ends` are the front and back neck points; `sense` is +1 for the
    right side (neck edge at larger phi), -1 for the left.
    """
    onward, across = direction(ray), -sense * direction(ray + math.pi / 2)  # down the centre line, and to this side
    for where, end in (("front", ends[0]), ("back", ends[1])):
        if float((end - side) @ onward) < LEAST_DROP:
            raise DraftError(
                f"draft.{where}_neck_depth_cm: the neck edge cannot be drawn as one hollow curve, got "
                f"{100 * float(np.linalg.norm(end)):.4g}, allowed more than "
                f"{100 * (float(side @ onward) + LEAST_DROP):.4g} "
                f"with this width. Deepen the {where} neck or narrow it."
            )
    angle = math.atan2(leg[1], leg[0])
    corner = _corner(side, direction(angle + sense * crossing), ends[0], onward, across)
    first = corner - side
    used = sense * (math.atan2(first[1], first[0]) - angle)
    back_corner = _corner(side, direction(angle + sense * (math.pi - used)), ends[1], onward, across)
    return _curve(side, corner, ends[0]), _curve(side, back_corner, ends[1])


def _corner(
    side: np.ndarray, tangent: np.ndarray, end: np.ndarray, onward: np.ndarray, across: np.ndarray
) -> np.ndarray:
    """Return where the tangent from the side neck point meets the centre tangent, kept within HANDLES of the half
    width."""
    half, drop = float((side - end) @ across), float((end - side) @ onward)
    fall, spread = float(tangent @ onward), float(tangent @ across)
    aside = half + drop / fall * spread if fall > 1e-6 else math.copysign(math.inf, spread)
    return end + min(max(aside, HANDLES[0] * half), HANDLES[1] * half) * across


def _curve(start: np.ndarray, corner: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Return a convex cubic from start to end, tangent to both sides of the corner, shape (CURVE_COUNT, 2)."""
    first, last = corner - start, end - corner
    cosine = float(first @ last) / float(np.linalg.norm(first) * np.linalg.norm(last))
    turn = math.acos(min(1.0, max(-1.0, cosine)))
    handle = 4 / 3 * math.tan(turn / 4) / math.tan(turn / 2) if turn > 1e-6 else 2 / 3
    t = np.linspace(0.0, 1.0, CURVE_COUNT)[:, None]
    second, third = start + handle * first, end - handle * last
    points = (1 - t) ** 3 * start + 3 * t * (1 - t) ** 2 * second + 3 * t**2 * (1 - t) * third + t**3 * end
    points[0], points[-1] = start, end
    return points


def _assembled(
    sweep: float,
    front: np.ndarray,
    back: np.ndarray,
    centre_points: tuple[np.ndarray, np.ndarray],
    headings: tuple[np.ndarray, np.ndarray],
    width: float,
    points: dict[str, float | None],
    sizes: dict[str, tuple[float, float]],
) -> Neckline:
    """Put a neckline together from its parts."""
    if points["left"] is None:
        back[0] = front[-1]
    return Neckline(
        front=front,
        back=back,
        front_point=centre_points[0],
        back_point=centre_points[1],
        front_heading=headings[0],
        back_heading=headings[1],
        width=width,
        dart_point=None if points["left"] is None else points["left"] * direction(sweep / 2),
        cut_point=None if points["right"] is None else points["right"] * direction(0.0),
        dart_length=sizes["left"][0],
        dart_intake=sizes["left"][1],
        cut_length=sizes["right"][0],
        cut_intake=sizes["right"][1],
    )
