"""Fitting: one run of the whole chain and its results.

In: a `Scene`. Out: a `Fitting`, the worn shape with its readings; saved as one NAME.npz and loaded
again. `sit` is the one function that settles a scene; everything above calls it.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from drape.arrays import Floats, Ints
from drape.body.figure import Figure, build_figure
from drape.body.signed_distance import DistanceField, distance
from drape.body.stance import Stance
from drape.cache import content_key, keep, kept, recall
from drape.cloth.body_contact import Touch, touch_of
from drape.cloth.dressing import dress
from drape.cloth.mesh import Mesh, morphed, refined, seam_pairs, triangulate
from drape.cloth.rehearsal import compile_kernels
from drape.cloth.relaxation import Grip, Relaxation, Rest, Settling, relax
from drape.cloth.self_contact import crossing_count, weave
from drape.cloth.sheet import SeamAllowance, Sheet, sew
from drape.cloth.transfer import carried
from drape.cutting.lay import jointed, thrifty_cuts
from drape.cutting.piecing import Allowances, Cuts
from drape.draft.cloak import dags_as, draft_cloak, with_meshed_dags
from drape.draft.outline import DRAFT_PARTS, Draft
from drape.errors import NotSettledError, SceneError
from drape.fitting.advice import judged
from drape.fitting.clock import Clock
from drape.fitting.hem_trim import (
    COARSE_ROUNDS,
    ROUNDS,
    hem_error,
    hem_remarks,
    is_near_enough,
    is_trimmed,
    trim_more,
    trim_reading,
)
from drape.fitting.scene import Body, Scene
from drape.fitting.settled_hem import Hem, content_of, keep_hem, sewn_plan
from drape.progress import Progress, Tell
from drape.reading.conclusion import conclude
from drape.reading.result import Fitting
from drape.reading.spread import of_few
from drape.reading.worn import Worn, hem_vertices, read_worn
from drape.triangle import edge_vectors
from drape.units import from_si, rounded

START_EDGE = 0.06  # [m] about the edge length of the first, coarsest level
COARSE = Settling(residual=0.2, remaining=5e-3, max_steps=20_000, look_back=2)  # of every level but the last
FINE = Settling()
WARM = Settling(look_back=3)  # from the shape of nearly the same cloak, with nothing far to go
TIGHTEN_STEPS = 600
SHAKEN = Settling(residual=0.1, remaining=3e-3, max_steps=1500, look_back=2)  # settled on a slippery figure


Early = Callable[[Mapping[str, Any]], None]  # called with the readings of the coarse shape, once it rests


def sit(
    scene: Scene,
    *,
    edge_length: float,
    seed: int = 0,
    cached: bool = True,
    before: Fitting | None = None,
    progress: Tell | None = None,
    early: Early | None = None,
    most_steps: int | None = None,
) -> Fitting:
    """The scene's draft settled once on its figure, read and judged.

    edge_length [m] of the finest mesh; seed chooses among equally good meshes. cached: take what an earlier run of the
    same content settled to, its seconds included; the scene's words, colours and limits are no part of that content.
    What settles is kept either way. before: a fitting of nearly the same draft, cloth and figure, not reloaded from a
    file; the run then starts from its shape, on its mesh, and is neither taken from an earlier run nor kept. early:
    told the readings of the first, coarse mesh where finer ones follow: to be shown as such, for they change.
    most_steps: after which it counts as not settled, where the scene does not say; what settles does not hang on it.
    Raises: NotSettledError, its `fitting` holding the last state stamped not settled; and what figure, draft, mesh and
    solver raise.
    """
    if before is not None:
        return sit_afresh(
            scene, edge_length=edge_length, seed=seed, before=before, progress=progress, early=early,
            most_steps=most_steps,
        )  # fmt: skip
    found = sit_kept(scene, edge_length=edge_length, seed=seed, progress=progress) if cached else None
    if found is None:
        found = sit_afresh(
            scene, edge_length=edge_length, seed=seed, progress=progress, early=early, most_steps=most_steps
        )
        keep(_key(scene, edge_length, seed), replace(found, grip=None))
        keep_hem(scene, Hem(found.trim, edge_length, seed))
    return found


def sit_kept(scene: Scene, *, edge_length: float, seed: int, progress: Tell | None = None) -> Fitting | None:
    """The fitting that an earlier run of the same content settled to; None if none is kept."""
    found = recall(_key(scene, edge_length, seed), (Fitting, *DRAFT_PARTS))
    if found is None:
        return None
    if progress is not None:
        progress(Progress("kept", 1.0, "kept from an earlier run", is_timed=False))
    keep_hem(scene, Hem(found.trim, edge_length, seed))
    return replace(retold(scene, found), is_recalled=True)


def _key(scene: Scene, edge_length: float, seed: int) -> str:
    return content_key("sit", content_of(scene), edge_length, seed)


def retold(scene: Scene, found: Fitting) -> Fitting:
    """A fitting of the same content with this scene's words, colours and limits."""
    readings = judged_on(scene, found.draft, {**found.readings, "scene": scene.name})
    return replace(
        found,
        name=scene.name,
        title=scene.title,
        expect=scene.expect,
        colours=dict(scene.colours),
        about={**found.about, "body": scene.body, "limits": dict(scene.limits)},
        readings=readings,
    )


def sit_afresh(
    scene: Scene,
    *,
    edge_length: float,
    seed: int = 0,
    before: Fitting | None = None,
    progress: Tell | None = None,
    early: Early | None = None,
    most_steps: int | None = None,
) -> Fitting:
    """The whole chain, once, whatever is kept. Arguments and errors are those of `sit`."""
    compile_kernels()
    clock = Clock(progress)
    clock.begins("figure", "building the figure")
    figure = figure_of(scene)
    clock.book("figure")
    clock.expect(halvings(edge_length) + 1, is_trimmed=is_trimmed(scene.style, figure), is_warm=before is not None)
    clock.begins("draft", "working out the draft")
    draft = with_meshed_dags(draft_of(scene, figure_cut_for(scene)), edge_length)
    clock.book("draft")
    settling = FINE if before is None else WARM
    settling = replace(settling, max_steps=scene.max_steps or most_steps or settling.max_steps)
    if before is None:
        settled = settle(scene, figure, draft, edge_length, seed, settling, clock, early)
    else:
        settled = settle_from(before, scene, figure, draft, settling, clock)
        settled = trimmed(scene, figure, settled, settling, ROUNDS, clock)
    clock.begins("readings", "reading how it sits")
    mesh, sheet, rest, trim = settled.mesh, settled.sheet, settled.rest, settled.trim
    draft = replace(settled.draft, is_estimate=not rest.settled and is_trimmed(scene.style, figure))
    worn = worn_of(scene, figure, replace(settled, draft=draft))
    groups = of_few(read_worn(worn))
    if trim is not None:
        groups["hem"] = trim_reading(draft, trim)
    clock.book("readings")
    clock.tell(Progress("readings", 1.0, "reading how it sits"))
    head = evidence(scene, figure, sheet, rest, edge_length, clock.seconds)
    rim = hem_vertices(draft, mesh)
    remarks = [*draft.remarks, *hem_remarks(scene.style, figure, mesh.flat[rim], rest.worn[sheet.point_of_vertex[rim]])]
    readings = rounded(head | {"remarks": remarks} | groups)
    fitting = fitting_of(scene, worn, judged_on(scene, draft, readings))
    fitting = replace(fitting, trim=trim, grip=rest.grip)
    if not rest.settled:
        raise NotSettledError(f"{scene.name}: {unsettled_words(rest, settling)}", fitting=fitting)
    return fitting


def unsettled_words(rest: Rest, settling: Settling) -> str:
    """How far from rest the cloth is, where that can be told, and what to try."""
    place = ", ".join(f"{100 * c:.0f}" for c in rest.worn[rest.worst])
    is_known = math.isfinite(rest.remaining)
    to_go = (
        f"still to move {1000 * rest.remaining:.1f} mm" if is_known else "too soon to tell how much is still to move"
    )
    return (
        f"not settled after {rest.steps} steps: residual {rest.residual:.3g} of a point's weight, wanted "
        f"{settling.residual:g}, largest at ({place}) cm; {to_go}, wanted {1000 * settling.remaining:g} mm. "
        "Raise settle.max_steps or use a coarser --quality."
    )


def judged_on(scene: Scene, draft: Draft | None, readings: Mapping[str, Any]) -> dict[str, Any]:
    """The readings of a scene's settled draft with what is said of them by the limits the scene sets.

    That is the verdicts, each with what to write in the scene, and the conclusion.
    """
    verdicts = judged(readings, scene.limits, draft, lambda: figure_cut_for(scene))
    found = {**readings, "verdicts": verdicts}
    return {**found, "conclusion": conclude([found], scene.limits)}


def figure_of(scene: Scene) -> Figure:
    """The figure that wears the scene's cloak, built once for the same measures."""
    return _figure(scene.body, scene)


def figure_cut_for(scene: Scene) -> Figure:
    """The figure that the scene's draft is worked out for: the wearer's unless it says otherwise."""
    return figure_of(scene) if scene.cut_for is None else _figure(scene.cut_for.name, scene.cut_for)


def _figure(name: str, body: Scene | Body) -> Figure:
    measures = {
        "tape": body.tape, "name": name, "sex": body.sex, "stance": body.stance, "arms": body.arms,
        "worn_under": body.worn_under,
    }  # fmt: skip
    return kept(build_figure, (Figure, DistanceField, Stance), measures)


def draft_of(scene: Scene, figure: Figure, *, trim: Floats | None = None) -> Draft:
    """The scene's draft for the figure it is cut for; where it says how wide its cloth is,
    with the seams of the pieces it is cut from.

    trim [m] is added to the hem's radius; the pieces are those of the untrimmed draft.
    """
    draft, plan = draft_cloak(scene.style, figure, trim=trim), scene.cutting
    if not plan.sewn:
        return draft if plan.grain is None else replace(draft, grain=plan.grain)
    whole = draft if trim is None else draft_cloak(scene.style, figure)
    asked = {
        "draft": whole,
        "allowances": Allowances(plan.seam_allowance),
        "bolt": sewn_plan(plan).bolt,
        "grain": plan.grain,
    }
    return jointed(draft, plan, kept(thrifty_cuts, (Cuts,), asked))


def sewn_sheet(scene: Scene, draft: Draft, mesh: Mesh) -> Sheet:
    """The scene's cloth sewn together, with the allowances of its piecing seams."""
    inside = SeamAllowance(scene.cutting.seam_allowance, scene.outside or scene.cloth) if draft.piecing else None
    return sew(mesh, scene.cloth, grain=draft.grain, inside=inside)


def halvings(edge_length: float) -> int:
    """How many times the first mesh is halved to come to an edge length [m]."""
    return max(0, round(math.log2(START_EDGE / edge_length)))


@dataclass(frozen=True)
class Settled:
    """A draft and what it settled to. trim [m]: what has been added to its hem's radius while it settled."""

    draft: Draft
    mesh: Mesh
    sheet: Sheet
    rest: Rest
    trim: Floats | None = None


def worn_of(scene: Scene, figure: Figure, settled: Settled) -> Worn:
    """The settled draft as readings are taken of it."""
    rest = settled.rest
    return Worn(
        figure, settled.draft, settled.mesh, settled.sheet, rest.worn, rest.contact_force, scene.cloth.thickness
    )


def settle(
    scene: Scene, figure: Figure, draft: Draft, edge_length: float, seed: int,
    settling: Settling, clock: Clock, early: Early | None = None,
) -> Settled:  # fmt: skip
    """The draft dressed coarsely and settled level by level, its hem trimmed on the way if that is asked.

    Each level's mesh halves the one before, so that it starts on the very surface that one settled in.
    """
    cloth, trim, worn = scene.cloth, None, np.empty((0, 3))
    last = halvings(edge_length)
    for level in range(last + 1):
        clock.level = level
        clock.begins("mesh", "meshing the draft", f"mesh {level}")
        if level == 0:
            mesh = kept(triangulate, (Mesh,), {"draft": draft, "edge_length": 2**last * edge_length, "seed": seed})
            sheet = sewn_sheet(scene, draft, mesh)
            start = dress(draft, mesh, sheet, figure, thickness=cloth.thickness)
        else:
            mesh, sides = refined(draft, mesh)
            sheet = sewn_sheet(scene, draft, mesh)
            start = np.zeros((len(sheet.mass), 3))
            start[sheet.point_of_vertex] = np.concatenate([worn, worn[sides].mean(axis=1)])
        clock.book("mesh")
        run = Relaxation(sheet, start, Touch(cloth.thickness), field=figure.field)
        shape = functools.partial(shape_of, run, mesh)
        points = f"{len(sheet.mass):,} points"
        if level == 0:  # put on: sunk, then shaken down without friction, then let stick
            clock.begins("settle", f"putting it on, {points}", "put on")
            run.tighten(np.sum(edge_vectors(start[sheet.triangles]) ** 2, axis=2), steps=TIGHTEN_STEPS)
            shaken = f"shaking it down, {points}"
            relax(run, settling=SHAKEN, progress=clock.relaxing("shake", shaken, SHAKEN.remaining, shape))
        run.touch = touch_of(cloth)
        asked = settling if level == last else COARSE
        words = f"settling, {points}" if level == last else f"settling roughly, {points}"
        rest = relax(run, settling=asked, progress=clock.relaxing("settle", words, asked.remaining, shape))
        rounds = ROUNDS if level == last else COARSE_ROUNDS
        settled = trimmed(scene, figure, Settled(draft, mesh, sheet, rest, trim), asked, rounds, clock)
        draft, mesh, sheet, rest, trim = settled.draft, settled.mesh, settled.sheet, settled.rest, settled.trim
        worn = rest.worn[sheet.point_of_vertex]
        clock.book("settle")
        if early is not None and level == 0 < last and rest.settled:
            early(rounded({"scene": scene.name, **read_worn(worn_of(scene, figure, settled))}))
            clock.book("readings")
    return settled


def trimmed(scene: Scene, figure: Figure, settled: Settled, settling: Settling, rounds: int, clock: Clock) -> Settled:
    """The settled draft with its hem trimmed, in so many rounds, to hang where the style asks;
    as it is if it asks nothing.

    Each round settles on from the last one's shape.
    """
    draft, mesh, sheet, rest, trim = settled.draft, settled.mesh, settled.sheet, settled.rest, settled.trim
    for k in range(rounds if is_trimmed(scene.style, figure) else 0):
        rim = hem_vertices(draft, mesh)
        low, worst = hem_error(scene.style, figure, mesh.flat[rim], rest.worn[sheet.point_of_vertex[rim]])
        if not rest.settled or is_near_enough(scene.style, worst):
            break
        trim = trim_more(trim, low)
        cut = dags_as(draft_of(scene, figure_cut_for(scene), trim=trim), draft)
        mesh, draft = morphed(mesh, draft, cut), cut
        sheet = sewn_sheet(scene, draft, mesh)
        run = resting_run(scene, figure, sheet, rest.worn, rest.grip)
        words = f"trimming the hem, {len(sheet.mass):,} points, {from_si('worst_cm', worst):.1f} cm off"
        warm = replace(settling, look_back=WARM.look_back)
        steps = rest.steps
        shape = functools.partial(shape_of, run, mesh)
        rest = relax(run, settling=warm, progress=clock.relaxing(f"trim{k}", words, warm.remaining, shape))
        rest = replace(rest, steps=steps + rest.steps)
    return Settled(draft, mesh, sheet, rest, trim)


def settle_from(
    before: Fitting, scene: Scene, figure: Figure, draft: Draft, settling: Settling, clock: Clock
) -> Settled:
    """The draft settled from the shape of an earlier fitting, on its mesh drawn over to the new outline.

    Raises: SceneError if the earlier fitting has come from a file, without its draft; MeshError if the drafts differ
    by too much for one mesh.
    """
    if before.draft is None:
        raise SceneError(f"{before.name}: reloaded without its draft, allowed a fitting of this run. Settle it afresh.")
    clock.begins("mesh", "meshing the draft", f"mesh {clock.level}")
    old = Mesh(before.flat, before.triangles, before.edges, seam_pairs(before.draft, before.edges))
    mesh = morphed(old, before.draft, draft)
    sheet = sewn_sheet(scene, draft, mesh)
    start, grip = moved_on(old, before.worn, mesh, sheet, before.grip)
    clock.book("mesh")
    run = resting_run(scene, figure, sheet, start, grip)
    words, shape = f"settling, {len(sheet.mass):,} points", functools.partial(shape_of, run, mesh)
    rest = relax(run, settling=settling, progress=clock.relaxing("settle", words, settling.remaining, shape))
    clock.book("settle")
    return Settled(draft, mesh, sheet, rest)


def moved_on(old: Mesh, worn: Floats, mesh: Mesh, sheet: Sheet, grip: Grip | None) -> tuple[Floats, Grip | None]:
    """The start of a changed mesh [m], (p, 3), and what friction holds: the cloth where it hung, only cut otherwise.

    worn: the old mesh's shape per vertex [m]. Where cloth would so cross itself, all points stay where they were.
    """
    start = np.zeros((len(sheet.mass), 3))
    start[sheet.point_of_vertex] = worn
    there, found = carried(old, worn, mesh.flat)
    way, count = np.zeros_like(start), np.zeros(len(start))
    np.add.at(way, sheet.point_of_vertex[found], (there - worn)[found])
    np.add.at(count, sheet.point_of_vertex[found], 1.0)
    way /= np.maximum(count, 1.0)[:, None]
    if crossing_count(weave(sheet.triangles), start + way):
        return start, grip
    if grip is not None:
        grip = replace(grip, anchor=grip.anchor + np.concatenate([way, way[sheet.edges].mean(axis=1)]))
    return start + way, grip


def resting_run(scene: Scene, figure: Figure, sheet: Sheet, start: Floats, grip: Grip | None) -> Relaxation:
    """A run from a shape near its rest: the cloth's own friction from the first step, and what it held there."""
    return Relaxation(sheet, start, touch_of(scene.cloth), field=figure.field, grip=grip)


def shape_of(run: Relaxation, mesh: Mesh) -> tuple[Floats, Ints]:
    """Where the cloth is now: the mesh's vertices [m], (n, 3), and triangles (m, 3)."""
    return run.x[run.sheet.point_of_vertex], mesh.triangles


def evidence(
    scene: Scene, figure: Figure, sheet: Sheet, rest: Rest, edge_length: float,
    seconds: Mapping[str, float],
) -> dict[str, Any]:  # fmt: skip
    """The head of the readings: is it settled, how well, on what mesh, in what time."""
    deepest = max(0.0, -float(distance(figure.field, rest.worn).min()))
    x, y, z = rest.worn[rest.worst]
    return {
        "scene": scene.name,
        "settled": rest.settled,
        "residual": rest.residual,
        "remaining_mm": 1000 * rest.remaining if math.isfinite(rest.remaining) else None,
        "worst_height_cm": 100 * z,
        "worst_azimuth_deg": math.degrees(math.atan2(-x, y)) % 360,
        "steps": rest.steps,
        "vertices": len(sheet.mass),
        "edge_length_cm": 100 * edge_length,
        "seconds": dict(seconds),
        "crossings": crossing_count(weave(sheet.triangles), rest.worn),
        "deepest_mm": 1000 * deepest,
    }


def fitting_of(scene: Scene, worn: Worn, readings: Mapping[str, Any]) -> Fitting:
    """The fitting of a worn shape, arrays per mesh vertex."""
    figure, mesh = worn.figure, worn.mesh
    return Fitting(
        name=scene.name,
        title=scene.title,
        expect=scene.expect,
        readings=readings,
        flat=mesh.flat,
        worn=worn.points[worn.sheet.point_of_vertex],
        triangles=mesh.triangles,
        edges=dict(mesh.edges),
        figure_vertices=figure.vertices,
        figure_triangles=figure.triangles,
        landmarks=dict(figure.landmarks),
        levels=dict(figure.levels),
        neck_base=figure.neck_base,
        shoulder_line_left=figure.shoulder_line_left,
        shoulder_line_right=figure.shoulder_line_right,
        thickness=worn.thickness,
        colours=dict(scene.colours),
        about=about_of(scene, worn.draft, mesh),
        draft=worn.draft,
    )


def about_of(scene: Scene, draft: Draft, mesh: Mesh) -> dict[str, Any]:
    """What a fitting was made of, to be told without its scene: grain [rad], body, sex, stature [m], layers, cloth,
    dimensions, fastening, lengths [m], its own limits; of a dagged hem which vertices are tips."""
    tips = hem_vertices(draft, mesh)
    return {
        **({"hem_tips": tips.tolist()} if len(tips) < len(mesh.edges["hem"]) else {}),
        "grain": float(draft.grain),
        "body": scene.body,
        "sex": scene.sex,
        "stature": scene.tape.get("stature"),
        "layers": list(scene.layers),
        "limits": dict(scene.limits),
        "cloth": asdict(scene.cloth),
        "dimensions": {name: float(value) for name, value in draft.dimensions.items()},
        "fastening": {
            "kind": draft.fastening.kind,
            "closure": list(draft.closure),
            "places": [float(place) for place in draft.fastening.places],
            "diameter": float(draft.fastening.diameter),
            "overlap": float(draft.fastening.overlap),
        },
    }
