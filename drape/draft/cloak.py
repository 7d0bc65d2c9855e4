"""The flat draft of a cloak: figure and style in, an outline with named edges out.

In: a `Figure` (landmarks, levels, neck-base girth) and a `Style`. Out: a `Draft`, one closed outline
whose edges carry names, its seams, darts, fastening, grain, marks and dimensions. SI throughout, angles in radians.

Flat axes: O at (0, 0) in the middle of the straight edge; a flat point is r (cos phi, sin phi) with phi
from 0 (first opening edge) to the sweep (last opening edge); the face side looks at the reader. Phi grows as the
azimuth does: closed over the right shoulder, sweep/4 is centre front, sweep/2 the left shoulder, 3/4 sweep centre
back; `panels` says where they come with other closures.
Triangles are left to `mesh`, drawing to `draft_drawing`, cloth widths to `lay`.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from shapely import Polygon
from shapely.validation import explain_validity

from drape.draft import neckline
from drape.draft.collar import CollarShape, lay_collar
from drape.draft.dags import DagRun, dag_run
from drape.draft.drawn_edges import edge_path
from drape.draft.fastening import Fastening, fasten
from drape.draft.hem import CLEARANCE, FALL_SHARE, HEM_STEP, hem_ends, hem_radii
from drape.draft.neck_kinds import check_neck, cut_neck
from drape.draft.neckline import direction, mirrored
from drape.draft.outline import Draft, Edge, Seam, SewnDart, area_of, length_of, loops_of, run_of, squeezed
from drape.draft.panels import Gap, Neck, sewn_length, share_of
from drape.draft.remarks import remarks_on
from drape.draft.style import AZIMUTHS, Dags, Style, check_style, dart_place, named_darts
from drape.errors import DraftError

if TYPE_CHECKING:
    from drape.body.figure import Figure

OPEN_SWEEP = math.radians(345)  # a wider sector is checked and meshed squeezed to this, so that its edges do not touch
COLLAR_APART = 0.06  # m; the collar lies so far below the body on the flat
DAGS_MESHED = (3.0, 5.0)  # depth and width, in triangle edges, from which dags are cut into the triangles; ours


def draft_cloak(style: Style, figure: Figure, *, trim: np.ndarray | None = None) -> Draft:
    """Return the cloak's draft for one figure.

    *Round*: one circular neck hole about O of radius (neck-base girth + ease) / sweep, straight closure edges.

    *Tailored*: the neck edge, dart and shoulder cuts come from the figure; the formulas stand in `neckline`.
    The wedge sewn out at a shoulder of slope s from a draft of sweep S turns through

        delta = 180 deg - 2 s - S/2     (never negative),     intake = 2 length sin(delta / 2)

    because the front panel must turn through 180 deg - s_left - s_right between the two shoulder lines and the
    draft gives S/2 to each of front and back; half of each wedge comes off the front and half off the back.
    Its point is the shoulder point, so its length is the shoulder length.

    *Drawn*: a smooth curve through given points, from straight edge to straight edge.

    Any neck may carry darts and shoulder cuts. By default the tailored neck has cuts at a closure over a shoulder and
    the others straight closure edges; darts are only those in `style.darts`. The hem is an arc about O, `length`
    from the back neck point down centre back (radius back neck depth + length where the shoulders are alike), unless
    other lengths bend it (`hem`); `trim` is added to its radius [m]. A
    given depth or width replaces the fitted one and the others stay as fitted, so that
    the neck edge is then longer or shorter than girth + ease; `dimensions["neck_edge_length"]` says how long.

    Raises
    ------
    DraftError: a dimension is out of range, or the pieces of the outline do not fit each other.

    Source: ours; tests/unit/draft/test_cloak.py and tests/published/test_sector_geometry.py.
    """
    check_style(style)
    body = neckline.read_shoulders(figure)
    neck = cut_neck(style, body)
    points = (figure.landmarks[f"shoulder_point_{side}"] for side in ("left", "right"))
    check_neck(neck, body, float(np.linalg.norm(np.subtract(*points))))
    phi = np.linspace(*hem_ends(style, figure, neck, trim), math.ceil(style.sweep / HEM_STEP) + 1)
    radii = hem_radii(style, figure, neck, phi, trim)
    hem = radii[:, None] * direction(phi)
    _check_reach(style, neck, phi, radii)
    shoulder = body.left.length if style.closure_place == "left shoulder" else body.right.length
    fastening = fasten(style, figure, length_of(neck.cuts[0]) if neck.cuts is not None else None, shoulder)
    edges, darts = _outline(style, neck, hem, fastening.length)
    _check_simple(edges, style.sweep)
    names = [edge.name for edge in edges]
    closure, opening = _names(style, "closure"), _names(style, "opening")
    marks = _marks(style, neck, phi, radii, darts)
    fall = FALL_SHARE * float(np.linalg.norm(marks["back hem"] - marks["back neck"]))
    neck_names = tuple(name for name in names[::-1] if " neck" in name)
    collar: tuple[Edge, ...] = ()
    shape = None
    seams = [Seam(*closure), *(Seam(*dart.legs) for dart in darts)]
    dimensions = _dimensions(style, neck, edges, (phi, radii), fastening, darts, body)
    if style.collar is not None:
        shape = lay_collar(style.collar, neck, figure)
        collar = _collar_edges(style, shape, edges)
        seams += [Seam(name, f"collar seam {k}") for k, name in enumerate(neck_names, start=1)]
        if style.collar.closed:
            seams.append(Seam(*_names(style, "collar end")))
        dimensions |= {
            "collar_height": shape.back_height,
            "collar_front_height": shape.front_height,
            "collar_top_length": shape.top_length,
            "collar_taken_in": shape.taken_in,
        }
    drawn = Draft(
        style=style,
        edges=edges,
        seams=tuple(seams),
        grain=0.0,
        dimensions=dimensions,
        marks=marks,
        neck=neck_names,
        closure=closure,
        opening=opening,
        closure_place=style.closure_place,
        closure_azimuth=math.remainder(AZIMUTHS[style.closure_place], 2 * math.pi),
        darts=darts,
        fastening=fastening,
        word="cloak" if figure.landmarks["back_neck"][2] - fall < figure.levels["waist"] else "mantle",
        collar=collar,
        is_trimmed=trim is not None,
    )
    if style.dags:
        before = length_of(hem if trim is None else hem_radii(style, figure, neck, phi)[:, None] * direction(phi))
        drawn = _with_dags(drawn, shape, before)
    return replace(drawn, remarks=remarks_on(drawn, body, neck.beside))


def with_meshed_dags(draft: Draft, edge_length: float) -> Draft:
    """Return the draft with those dags marked as meshed that triangles of `edge_length` [m] can show.

    None is in a pieced draft: the seams between its pieces end on the plain edge.
    """
    if not draft.dags or draft.piecing:
        return draft
    deep, wide = (share * edge_length - 1e-9 for share in DAGS_MESHED)
    return replace(
        draft, dags=tuple(replace(one, meshed=one.depth >= deep and one.width >= wide) for one in draft.dags)
    )


def _check_reach(style: Style, neck: Neck, phi: np.ndarray, radii: np.ndarray) -> None:
    """Refuse a neck hole, dart or cut that reaches the hem."""

    def room(points: np.ndarray) -> np.ndarray:
        angle = np.arctan2(points[:, 1], points[:, 0]) % (2 * math.pi)
        return np.interp(angle, phi, radii, period=2 * math.pi) - CLEARANCE

    edge = np.vstack([points for _, points in neck.pieces])
    hole = np.linalg.norm(edge, axis=1)
    if (hole >= room(edge)).any():
        raise DraftError(
            f"draft: the neck hole is wider than the draft, got {100 * hole.max():.4g} cm from the centre, allowed "
            f"less than {100 * float(room(edge).min()):.4g} (hem radius {100 * float(radii.min()):.4g} less 1). "
            f"Lengthen the cloak or raise the neck."
        )
    ends: list[tuple[str, str, np.ndarray, float]] = []
    for gap in neck.gaps:
        if gap is not None:
            ends.append(("dart reaches the hem", f"{_name_of(style, gap)}length_cm", gap.point, gap.length))
    if neck.cuts is not None:
        where = "closure.shoulder_cut_length_cm"
        ends.append(("shoulder cut is longer than the straight edge", where, neck.cuts[0][-1], neck.cut_length))
    for what, where, point, length in ends:
        over = float(np.linalg.norm(point)) - float(room(point[None])[0])
        if over >= 0:
            raise DraftError(
                f"{where}: the {what}, got {100 * length:.4g}, allowed less than {100 * (length - over):.4g}. Shorten "
                "it."
            )


def _name_of(style: Style, gap: Gap) -> str:
    """Return what the keys of a drawn dart begin with."""
    for name, dart in named_darts(style):
        if (dart_place(style, dart) or "") == gap.place and (gap.place or dart.azimuth == gap.azimuth):
            return name
    return "dart."


# --- the outline ------------------------------------------------------------------------------


def _names(style: Style, what: str) -> tuple[str, str]:
    """Return the names of the edges at phi 0 and at the sweep."""
    sides = {"right shoulder": ("front", "back"), "left shoulder": ("back", "front"), "centre front": ("left", "right")}
    first, last = sides[style.closure_place]
    return f"{first} {what}", f"{last} {what}"


def _outline(
    style: Style, neck: Neck, hem: np.ndarray, fastened: float
) -> tuple[tuple[Edge, ...], tuple[SewnDart, ...]]:
    """Return the edges of the whole outline, anticlockwise from the hem's first corner, and the darts in it."""
    (closure, opening), (last_closure, last_opening) = _straight_edges(style, neck, hem, fastened)
    closures, openings = _names(style, "closure"), _names(style, "opening")
    edges = [
        Edge("hem", hem),
        Edge(openings[1], last_opening[::-1].copy(), against=True),
        Edge(closures[1], last_closure[::-1].copy(), against=True),
    ]
    darts: list[SewnDart] = []
    count = sum(gap is not None for gap in neck.gaps)
    panels = [name for name, _ in neck.pieces]
    for k in range(len(panels) - 1, -1, -1):
        name, points = neck.pieces[k]
        if panels.count(name) > 1:
            name = f"{name} {1 + panels[:k].count(name)}"
        edges.append(Edge(name, points[::-1].copy(), against=True))
        gap = neck.gaps[k - 1] if k else None
        if gap is not None:
            label = "dart" if count == 1 else f"dart {count - len(darts)}"
            first, second = (f"{label} {side} leg" for side in gap.sides)
            edges.append(Edge(second, gap.second))
            edges.append(Edge(first, gap.first[::-1].copy(), against=True))
            darts.append(SewnDart(gap.place, gap.azimuth, (first, second), f"{label} point", gap.length, gap.intake))
    edges += [Edge(closures[0], closure), Edge(openings[0], opening)]
    return tuple(edges), tuple(darts[::-1])


def _straight_edges(
    style: Style, neck: Neck, hem: np.ndarray, fastened: float
) -> tuple[tuple[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]:
    """Return closure and opening at phi 0 and at the sweep, from the neck down; mirror images where the draft is."""
    paths = []
    ends = (("first", neck.pieces[0][1][0], hem[0]), ("last", neck.pieces[-1][1][-1], hem[-1]))
    for leg, (which, start, corner) in enumerate(ends):
        inner = start[None] if neck.cuts is None else neck.cuts[leg]
        paths.append(np.vstack([inner[:-1], edge_path(style, which, inner[-1], corner)]))
    first = _split_path(paths[0], fastened)
    last = (mirrored(first[0], style.sweep), mirrored(first[1], style.sweep))
    other = mirrored(paths[0], style.sweep)
    if other.shape != paths[1].shape or np.abs(other - paths[1]).max() > 1e-12:
        last = _split_path(paths[1], fastened)
    last[0][0], last[1][-1] = paths[1][0], paths[1][-1]
    return first, last


def _split_path(path: np.ndarray, fastened: float) -> tuple[np.ndarray, np.ndarray]:
    """Split the closure edge at the end of the fastening; returns the fastened part and the open part."""
    steps = np.linalg.norm(np.diff(path, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    if fastened > along[-1] - 0.01:
        raise DraftError(
            f"closure.fastened_length_cm: got {100 * fastened:.4g}, allowed less than {100 * (along[-1] - 0.01):.4g} "
            f"(the whole closure edge less 1). Fasten less of it."
        )
    near = np.flatnonzero(np.abs(along - fastened) < 1e-9)
    if len(near):
        return path[: near[0] + 1].copy(), path[near[0] :].copy()
    after = int(np.searchsorted(along, fastened))
    end = path[after - 1] + (path[after] - path[after - 1]) * (fastened - along[after - 1]) / steps[after - 1]
    return np.vstack([path[:after], end]), np.vstack([end, path[after:]])


def dags_as(draft: Draft, other: Draft) -> Draft:
    """Return the draft with those dags marked as meshed that are in another draft of the same style."""
    if not draft.dags:
        return draft
    pairs = zip(draft.dags, other.dags, strict=True)
    return replace(draft, dags=tuple(replace(one, meshed=before.meshed) for one, before in pairs))


def _collar_edges(style: Style, shape: CollarShape, body: tuple[Edge, ...]) -> tuple[Edge, ...]:
    """Return the collar's outline, anticlockwise from the first end of its seam, laid below the body."""
    first, last = _names(style, "collar end")
    seam = [Edge(f"collar seam {k}", points) for k, points in enumerate(shape.seam, start=1)]
    loop = [
        *seam, Edge(last, shape.last), Edge("collar top", shape.top[::-1].copy(), against=True),
        Edge(first, shape.first[::-1].copy(), against=True),
    ]  # fmt: skip
    own = np.concatenate([edge.points for edge in loop])
    other = np.concatenate([edge.points for edge in body])
    low, high = other.min(axis=0), other.max(axis=0)
    shift = np.array([
        (low[0] + high[0] - own[:, 0].min() - own[:, 0].max()) / 2,
        min(0.0, float(low[1])) - COLLAR_APART - own[:, 1].max(),
    ])  # fmt: skip
    moved = [edge.points + shift for edge in loop]
    for k in range(len(moved)):  # each ends where the next starts, to the last digit
        moved[k][-1] = moved[(k + 1) % len(moved)][0]
    return tuple(replace(edge, points=points) for edge, points in zip(loop, moved, strict=True))


# --- dags -------------------------------------------------------------------------------------


def _with_dags(draft: Draft, shape: CollarShape | None, hem_length: float) -> Draft:
    """Return the draft with its dags; their count on the hem is that of `hem_length` [m],
    whatever was trimmed since.
    """
    runs: list[DagRun] = []
    several = len(draft.style.dags) > 1
    for number, asked in enumerate(draft.style.dags, start=1):
        where = f"dags {number}.depth_cm" if several else "dags.depth_cm"
        _check_depth(draft, shape, asked, where)
        names = {"hem": ("hem",), "collar": ("collar top",), "opening": draft.opening}[asked.edge]
        for name in names:
            edge = next(one for one in (*draft.edges, *draft.collar) if one.name == name)
            runs.append(_dag_run(draft, edge, asked, shape, hem_length, where))
    made = replace(draft, dags=tuple(runs))
    for loop in loops_of(made, all_dags=True):
        outline = np.concatenate([edge.points[:-1] for edge in loop])
        if loop[0].name == "hem":
            outline = squeezed(outline, min(1.0, OPEN_SWEEP / draft.style.sweep))
        if not Polygon(outline).is_valid:
            raise DraftError(
                "dags.depth_cm: the dags of two edges cross where they meet, allowed none that do. Make them shallower."
            )
    first = {"opening": draft.opening[0], "collar": "collar top"}
    values = dict(draft.dimensions)
    for asked in draft.style.dags:
        run = next(one for one in runs if one.edge == first.get(asked.edge, asked.edge))
        values |= {f"{asked.edge}_dag_width": run.width, f"{asked.edge}_dag_depth": run.depth}
    return replace(made, dimensions=values)


def _dag_run(draft: Draft, edge: Edge, asked: Dags, shape: CollarShape | None, hem_length: float, where: str) -> DagRun:
    """Return one edge's dags. An opening's tips stand square to it, and at either end half a width of it stays
    plain.
    """
    points = edge.points
    if asked.edge == "hem":
        inward = -points / np.linalg.norm(points, axis=1)[:, None]
        return dag_run(edge.name, points, inward, asked, where, fitted_to=hem_length)
    if shape is not None and asked.edge == "collar":
        return dag_run(edge.name, points, shape.inward[::-1], asked, where)
    plain = (asked.width / 2, asked.width / 2 + _corner_loss(draft))  # at the fastening, at the hem
    step = points[-1] - points[0]
    inward = np.tile(np.array([-step[1], step[0]]) / np.linalg.norm(step), (2, 1))  # the cloth lies to the left
    return dag_run(edge.name, points, inward, asked, where, plain=plain[::-1] if edge.against else plain)


def _corner_loss(draft: Draft) -> float:
    """Return how much of the opening edges the hem's dags cut away at its corners [m]."""
    return max((one.depth for one in draft.style.dags if one.edge == "hem" and one.kind != "square"), default=0.0)


def _check_depth(draft: Draft, shape: CollarShape | None, asked: Dags, where: str) -> None:
    """Refuse dags that reach the neck, a dart or a cut, or cut a collar through."""
    if asked.edge == "collar" and shape is not None:
        room, what = min(shape.front_height, shape.back_height) - CLEARANCE, "the collar's neck seam"
    elif asked.edge == "hem":
        inner = [np.linalg.norm(run_of(draft, name), axis=1).max() for name in draft.neck]
        inner += [np.linalg.norm(point) for name, point in draft.marks.items() if name.endswith(" point")]
        inner.append(np.linalg.norm(run_of(draft, draft.closure[0])[-1]))
        room = float(np.linalg.norm(run_of(draft, "hem"), axis=1).min() - max(inner)) - CLEARANCE
        what = "the neck, a dart or the end of the fastening"
    else:
        return
    if asked.depth > room:
        raise DraftError(
            f"{where}: got {100 * asked.depth:.4g}, allowed at most {100 * room:.3g}, or they reach {what}. Make them "
            "shallower."
        )


def _check_simple(edges: tuple[Edge, ...], sweep: float) -> None:
    """Refuse an outline that crosses itself; the last guard behind the plainer checks."""
    outline = np.concatenate([edge.points[:-1] for edge in edges])
    loop = Polygon(squeezed(outline, min(1.0, OPEN_SWEEP / sweep)))
    if not loop.is_valid:
        where = re.findall(r"-?[\d.]+(?:e-?\d+)?", explain_validity(loop))[:2]
        raise DraftError(
            f"draft: the outline crosses itself, got a crossing {100 * math.hypot(*map(float, where)):.4g} cm from "
            f"the centre, allowed none. Take less intake, or shorten the dart or cut."
        )


# --- what is said of it -----------------------------------------------------------------------


def _dimensions(
    style: Style, neck: Neck, edges: tuple[Edge, ...], hem: tuple[np.ndarray, np.ndarray], fastening: Fastening,
    darts: tuple[SewnDart, ...], body: neckline.Shoulders,
) -> dict[str, float]:  # fmt: skip
    """Return the draft's measures, SI; hem: its angles and its radii."""
    phi, radii = hem
    by_name = {edge.name: edge.points for edge in edges}
    even = float(np.ptp(radii)) < 1e-9
    back = style.sweep * share_of(math.pi, style)
    hem_radius = float(radii[0]) if even else float(np.interp(back, phi, radii))
    values = {
        "front_neck_depth": float(np.linalg.norm(neck.front[0])),
        "back_neck_depth": float(np.linalg.norm(neck.back[0])),
        "neck_width": neck.width,
        "neck_edge_length": sewn_length(neck),
        "neck_ease": sewn_length(neck) - body.neck_base_girth,
        "hem_radius": hem_radius,
        **({} if even else {"hem_radius_min": float(radii.min()), "hem_radius_max": float(radii.max())}),
        "hem_length": float(phi[-1] - phi[0]) * hem_radius if even else length_of(by_name["hem"]),
        "area": area_of(np.concatenate([edge.points[:-1] for edge in edges])),
        "shoulder_cut_intake": neck.cut_intake,
        "fastened_length": length_of(by_name[_names(style, "closure")[0]]),
    }
    if neck.cuts is not None:
        values["shoulder_cut_length"] = neck.cut_length
    for dart in darts:
        label = dart.point.removesuffix(" point").replace(" ", "_")
        values |= {f"{label}_intake": dart.intake, f"{label}_length": dart.length}
    if neck.moved:
        values["closure_moved"] = neck.moved
    if style.darts and not darts:
        values["dart_intake"] = 0.0
    if fastening.overlap:
        values["overlap"] = fastening.overlap
    if fastening.kind == "buttons":
        values |= {"button_diameter": fastening.diameter, "buttonhole_length": fastening.buttonhole}
        if len(fastening.places) > 1:
            values["button_spacing"] = fastening.places[1] - fastening.places[0]
    return values


def _marks(
    style: Style, neck: Neck, phi: np.ndarray, radii: np.ndarray, darts: tuple[SewnDart, ...]
) -> dict[str, np.ndarray]:
    """Return the draft's named points."""

    def on_hem(start: np.ndarray, heading: np.ndarray) -> np.ndarray:
        """Where a line from inside the hem meets it."""
        point, radius = start, float(radii.max())
        for _ in range(30):
            along = float(start @ heading)
            reach = math.sqrt(along**2 + radius**2 - float(start @ start)) - along
            point = np.asarray(start + reach * heading)
            angle = math.atan2(point[1], point[0]) % (2 * math.pi)
            now = float(np.interp(min(angle, 2 * math.pi - 1e-12), phi, radii))
            if now == radius:
                break
            radius = now
        return point

    marks = {
        "centre": np.zeros(2),
        "front neck": neck.front[0].copy(),
        "back neck": neck.back[0].copy(),
        "front hem": radii[0] * direction(float(phi[0])) if neck.moved else on_hem(*neck.front),
        "back hem": on_hem(*neck.back),
    }
    for side in ("left", "right"):
        share = share_of(AZIMUTHS[f"{side} shoulder"], style)
        if share > 1e-9:
            angle = style.sweep * share
            marks[f"{side} hem"] = float(np.interp(angle, phi, radii)) * direction(angle)
    marks |= _neck_marks(style, neck)
    drawn = [gap for gap in neck.gaps if gap is not None]
    for dart, gap in zip(darts, drawn, strict=True):
        marks[dart.point] = gap.point.copy()
    if neck.cuts is not None:
        for name, cut in zip(_names(style, "cut point"), neck.cuts, strict=True):
            marks[name] = cut[-1].copy()
    return marks


def _neck_marks(style: Style, neck: Neck) -> dict[str, np.ndarray]:
    """Return the side neck points: two where a wedge or the closure parts them, named by their side of it."""
    marks = {}
    if style.closure_place != "centre front":
        side = style.closure_place.split()[0]
        ends = neck.pieces[0][1][0], neck.pieces[-1][1][-1]
        for name, point in zip(_names(style, ""), ends, strict=True):
            marks[f"{side} side neck {name.strip()}"] = point.copy()
    for k, gap in enumerate(neck.gaps):
        before, after = neck.pieces[k][1][-1], neck.pieces[k + 1][1][0]
        if gap is None:
            marks[f"{_joint_side(style, k, neck)} side neck"] = before.copy()
        elif gap.place:
            side = gap.place.split()[0]
            for name, point in zip(gap.sides, (before, after), strict=True):
                marks[f"{side} side neck {name}"] = point.copy()
    return marks


def _joint_side(style: Style, k: int, neck: Neck) -> str:
    """Return which shoulder two panels meet on without a dart."""
    if style.closure_place != "centre front":
        return "left" if style.closure_place == "right shoulder" else "right"
    return "left" if neck.pieces[k + 1][0] == "back neck" else "right"
