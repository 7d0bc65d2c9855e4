"""The line to cut along: the draft's finished edges with what is cut on beyond them.

In: a `Draft`, whose outline is what shows when the cloak is finished, its dags cut in. Out: the cut line round it [m]:
half the overlap and the opening's allowance beyond each closing line, the neck's and the hem's allowances beyond those
edges, and straight across the mouths of darts, whose cloth is folded away and not cut out.
"""

from __future__ import annotations

import numpy as np
from shapely import LineString, Polygon, unary_union
from shapely.geometry.polygon import orient

from drape.draft.outline import Draft, loops_of, run_along

STEP = 1e-4  # m; joins nearer than this are the same


def allowances(draft: Draft) -> dict[str, float]:
    """Return what is cut on beyond the body's "neck", "opening" and "hem" [m]."""
    style = draft.style
    return {
        "neck": style.neck_allowance,
        "opening": style.opening_allowance + draft.fastening.overlap / 2,
        "hem": style.hem_allowance,
    }


def allowances_said(draft: Draft) -> str:
    """Return in words what is cut on beyond the finished edges, the overlap apart."""
    style = draft.style
    given = [("neck", style.neck_allowance), ("opening", style.opening_allowance), ("hem", style.hem_allowance)]
    if draft.collar:
        given.append(("collar", style.collar_allowance))
    said = [f"{name} {100 * width:.1f}" for name, width in given if width]
    return f"allowances {', '.join(said)}" if said else "no allowances"


def cut_line(draft: Draft) -> np.ndarray:
    """Return the cut line once round, anticlockwise [m], shape (k, 2); the finished outline where nothing is cut on.

    Beyond an edge the line runs parallel to it. Where two edges meet, each is carried on straight by the other's
    allowance, so that the corner is filled.
    """
    beyond = allowances(draft)
    body = loops_of(draft, all_dags=True)[0]
    if not any(beyond.values()):
        return np.concatenate([edge.points[:-1] for edge in body])
    runs = {edge.name: run_along(edge) for edge in body}
    neck = np.vstack([runs[name] for name in draft.neck])
    first, last = (np.vstack([runs[draft.closure[k]], runs[draft.opening[k]][1:]]) for k in (0, 1))
    hem = runs["hem"]
    inside = Polygon(np.vstack([first, hem[1:], last[::-1][1:], neck[::-1][1:-1]]))
    parts = [inside.buffer(0)]
    for line, own, ends in (
        (neck, beyond["neck"], (beyond["opening"],) * 2),
        (first, beyond["opening"], (beyond["neck"], beyond["hem"])),
        (last, beyond["opening"], (beyond["neck"], beyond["hem"])),
        (hem, beyond["hem"], (beyond["opening"],) * 2),
    ):
        if own:
            parts.append(LineString(_carried_on(line, *ends)).buffer(own, cap_style="flat", join_style="mitre"))
    whole = unary_union(parts).buffer(STEP, join_style="mitre").buffer(-STEP, join_style="mitre")
    if whole.geom_type != "Polygon":
        whole = max(whole.geoms, key=lambda part: part.area)
    return np.asarray(orient(Polygon(whole.exterior)).exterior.coords)[:-1]


def _carried_on(line: np.ndarray, before: float, after: float) -> np.ndarray:
    """Return a polyline carried on straight at both ends [m]."""
    start, end = line[0] - line[1], line[-1] - line[-2]
    return np.vstack([
        *([line[0] + before * start / np.linalg.norm(start)] if before else []), line,
        *([line[-1] + after * end / np.linalg.norm(end)] if after else []),
    ])  # fmt: skip


def edges_said(draft: Draft) -> list[str]:
    """Return in words how hem, opening and collar edges are finished: plain, turned or dagged; a line each."""
    style, runs = draft.style, {dags.edge: dags for dags in draft.dags}
    edges = [("hem", "hem", style.hem_allowance), ("opening", draft.opening[0], style.opening_allowance)]
    if draft.collar:
        edges.append(("collar", "collar top", style.collar_allowance))
    lines = []
    for words, name, width in edges:
        dags = runs.get(name)
        if dags is not None:
            each = " on each" if words == "opening" else ""
            size = f"{100 * dags.width:.1f} wide, {100 * dags.depth:.1f} deep"
            lines.append(f"{words} edge: {dags.count} {dags.kind} dags{each}, {size}")
        else:
            lines.append(f"{words} edge: " + (f"turned, {100 * width:.1f}" if width else "plain"))
    return lines
