"""Spare cloth round neck and shoulders: which reading of it repeats, whichever way the cloth comes to rest?

    python tests/bench/spare.py --bank FOLDER --edge-length-cm 5 --seeds 8

Settles the ferry warden's two shipped drafts, worked out for each of six bodies, in three cloths, on eight meshes, and
keeps each in the folder; what is there already is not settled again. Prints in Markdown, for every way tried to tell
spare cloth: the largest share, over bodies and cloths, of half the range of one draft's readings in the difference
between the means of both; then the readings themselves of the way that is kept. Not collected by pytest.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np

from drape.arrays import Floats
from drape.body.figure import Figure, region_of
from drape.body.signed_distance import distance_and_normal
from drape.cloth.mesh import vertex_normals, welded
from drape.errors import NotSettledError
from drape.fitting.scene import Scene, load_body, load_cloth, load_scene
from drape.fitting.sit import figure_of, sit
from drape.polyline import polyline_distance
from drape.reading import spare
from drape.reading.by_vertex import neck_names
from drape.reading.result import Fitting, load_fitting, save_fitting
from drape.triangle import quarter, sides_of, triangle_areas

BODIES = ("ferry-warden", "lamp-bearer", "toll-house-clerk", "woman-50", "man-95", "square-shoulders")
CLOTHS = ("heavy melton", "flannel", "light suiting")
DRAFTS = {"round": "ferry-warden-round", "tailored": "ferry-warden-tailored"}
UPPER = (0, 6)  # neck and head in REGIONS
Runs = Mapping[tuple[str, str, str], list[dict[str, float]]]  # by body, cloth, draft: what was read of each mesh


def scene_on(draft: str, body: str, cloth: str) -> Scene:
    """The draft's scene on another body, its dimensions worked out from that, in another cloth."""
    found, stuff = load_body(body), load_cloth(cloth)
    return replace(
        load_scene(DRAFTS[draft]), name=f"{draft}-{body}", body=body, sex=found.sex, tape=found.tape,
        stance=found.stance, arms=found.arms, worn_under=found.worn_under, cloth=stuff, outside=stuff,
    )  # fmt: skip


@cache
def figure_on(body: str) -> Figure:
    return figure_of(scene_on("round", body, CLOTHS[0]))


def settled(folder: Path, which: tuple[str, str, str], edge_length: float, seed: int) -> Fitting:
    """The run from the folder, or settled and put there; of one that does not settle the last state."""
    body, cloth, draft = which
    name = f"{body}_{cloth.replace(' ', '-')}_{draft}_{seed}"
    path = folder / f"{name}.npz"
    if not path.exists():
        try:
            fitting = sit(scene_on(draft, body, cloth), edge_length=edge_length, seed=seed)
        except NotSettledError as error:
            fitting = error.fitting
        save_fitting(replace(fitting, name=name), folder)
    return load_fitting(path)


# --- ways to tell spare cloth --------------------------------------------------------------------


def kept_way(fitting: Fitting, figure: Figure, **changed: float) -> float:
    """Share of the cloth within reach of the neck's base beyond the body it covers [%]; `changed`: constants of
    `spare`.
    """
    corners = fitting.worn[np.asarray(fitting.triangles)]
    area = np.abs(triangle_areas(fitting.flat[np.asarray(fitting.triangles)]))
    with patch.multiple(spare, **({"WITHIN": spare.WITHIN} | changed)):
        return float(spare.read_spare(figure, corners, area, fitting.thickness)["percent"])  # type: ignore[arg-type]


def lines_at(corners: Floats, values: Floats, level: float) -> Floats:
    """Where values (t, 3) at triangles' corners (t, 3, d) pass a level: ends of straight pieces (s, 2, d)."""
    above = values >= level
    mixed = above.any(axis=1) & ~above.all(axis=1)
    sides = [(0, 1), (1, 2), (2, 0)]
    met = np.stack([above[mixed, i] != above[mixed, j] for i, j in sides], axis=1)
    share = np.stack([(level - values[mixed, i]) / (values[mixed, j] - values[mixed, i] + 1e-30) for i, j in sides], 1)
    places = np.stack(
        [corners[mixed, i] + share[:, k, None] * (corners[mixed, j] - corners[mixed, i]) for k, (i, j) in
         enumerate(sides)], axis=1,
    )  # fmt: skip
    return places[met].reshape(-1, 2, corners.shape[2])


def run_of(pieces: Floats) -> Floats:
    return np.linalg.norm(pieces[:, 1] - pieces[:, 0], axis=1)


def closed(line: Floats) -> Floats:
    return np.vstack([line, line[:1]])


@cache
def body_rounds(body: str, raised: float) -> tuple[Floats, Floats]:
    """Places below (+) or up the neck from (-) its base line [m], and how long a line round the body is there [m]."""
    figure = figure_on(body)
    place = polyline_distance(figure.vertices, closed(figure.neck_base))
    place = np.where(np.isin(figure.vertex_regions, UPPER), -place, place)
    near = np.abs(place)[figure.triangles].min(axis=1) < 0.3
    points = figure.vertices + raised * vertex_normals(figure.vertices, figure.triangles)
    corners, values = points[figure.triangles[near]], place[figure.triangles[near]]
    levels = np.arange(-0.06, 0.25, 0.005)
    return levels, np.array([run_of(lines_at(corners, values, level)).sum() for level in levels])


def cloth_lines(fitting: Fitting) -> tuple[Floats, Floats, Floats]:
    """Triangles cut in sixteen: corners on the draft and worn, and their distance on the draft from the neck edge."""
    triangles = np.asarray(fitting.triangles)
    flat, worn = fitting.flat[triangles], fitting.worn[triangles]
    for _ in range(2):
        flat, worn = quarter(flat), quarter(worn)
    edges = [fitting.flat[np.asarray(fitting.edges[name])] for name in neck_names(fitting.edges)]
    far = np.min([polyline_distance(flat.reshape(-1, 2), edge) for edge in edges], axis=0)
    return flat, worn, far.reshape(-1, 3)


def by_lines(fitting: Fitting, figure: Figure, body: str) -> dict[str, float]:
    """Lines in the cloth 1 to 12 cm from the neck edge against lines round the body where they lie; and the same from
    draft and body alone: the cloth sinks until one of its lines is as tight as the body.
    """
    flat, worn, far = cloth_lines(fitting)
    levels, rounds = body_rounds(body, 0.5 * fitting.thickness)
    each, places = [], []
    for d in np.arange(0.01, 0.125, 0.01):
        pieces = lines_at(worn, far, d)
        middle, length = pieces.mean(axis=1), run_of(pieces)
        off, normal = distance_and_normal(figure.field, middle)
        foot = middle - off[:, None] * normal
        place = polyline_distance(foot, closed(figure.neck_base))
        place = np.where(np.isin(region_of(figure, foot), UPPER), -place, place)
        places.append(np.average(place, weights=length))
        each.append(length.sum() / np.average(np.interp(place, levels, rounds), weights=length) - 1)
    depths = np.arange(0.0, 0.30, 0.01)
    own = np.array([run_of(lines_at(flat, far, d + 1e-6)).sum() for d in depths])
    for up in np.arange(0.0, 0.15, 0.002):
        place = depths - up
        on = (place > levels[0]) & (place < 0.18)
        if (own[on] >= np.interp(place[on], levels, rounds)).all():
            break
    zone = np.arange(0.0, 0.121, 0.01)
    alone = np.interp(zone + up, depths, own) / np.interp(zone, levels, rounds) - 1
    return {
        "lines 1 to 12 cm from the neck edge": 100 * float(np.mean(each)),
        "the longest of those lines": 100 * float(np.max(each)),
        "draft and body alone (not on the settled shape)": 100 * float(alone.mean()),
    }


def by_upright_cuts(fitting: Fitting, figure: Figure) -> float:
    """Upright cuts outward from the neck's middle, every 5 degrees: cloth against body within 12 cm of its base [%]."""
    triangles = np.asarray(fitting.triangles)
    base = closed(figure.neck_base)
    total = np.zeros(2)
    for k, corners in enumerate((fitting.worn[triangles], figure.vertices[figure.triangles])):
        near = corners[spare.could_lie_within(corners, base, 0.12)]
        for turn in np.radians(np.arange(0.0, 360.0, 5.0)):
            out, across = np.array([-np.sin(turn), np.cos(turn)]), np.array([np.cos(turn), np.sin(turn)])
            level = (near - figure.neck_centre)[..., :2]
            pieces = lines_at(near, level @ across, 0.0)
            middle = pieces.mean(axis=1)
            keep = ((middle - figure.neck_centre)[:, :2] @ out > 0) & (polyline_distance(middle, base) <= 0.12)
            if k:
                keep &= ~np.isin(region_of(figure, middle), UPPER)
            total[k] += run_of(pieces)[keep].sum()
    return 100 * float(total[0] / total[1] - 1)


def by_bends(fitting: Fitting, figure: Figure) -> float:
    """How sharply the cloth is bent within 12 cm of the neck's base: length times angle, over its area [1/m]."""
    weld = welded(fitting.worn, fitting.edges)
    points = np.zeros((weld.max() + 1, 3))
    points[weld] = fitting.worn
    triangles = weld[np.asarray(fitting.triangles)]
    corners = points[triangles]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = 0.5 * np.linalg.norm(normal, axis=1)
    normal /= 2 * area[:, None]
    sides = np.sort(sides_of(triangles).reshape(-1, 2), axis=1)
    _, index, count = np.unique(sides, axis=0, return_inverse=True, return_counts=True)
    order = np.argsort(index.ravel(), kind="stable")
    first = np.concatenate([[0], np.cumsum(count)])[:-1][count == 2]
    pair = np.stack([order[first], order[first + 1]], axis=1) // 3
    ends = points[sides[order[first]]]
    angle = np.arccos(np.clip(np.sum(normal[pair[:, 0]] * normal[pair[:, 1]], axis=1), -1, 1))
    base = closed(figure.neck_base)
    near = polyline_distance(ends.mean(axis=1), base) <= 0.12
    share = area[polyline_distance(corners.mean(axis=1), base) <= 0.12].sum()
    return float((angle * np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1))[near].sum() / share)


def by_area(fitting: Fitting, body: str) -> dict[str, float]:
    """What the way that is kept reads of one run, and what it would with other constants."""
    figure = figure_on(body)
    kept = kept_way(fitting, figure)
    found = {"kept": kept, "the same, of the body in place of the cloth": 100 * (1 / (1 - kept / 100) - 1)}
    for words, changed in (
        ("reach 0.6 of the shoulder", {"WITHIN": 0.6}), ("reach of the whole shoulder", {"WITHIN": 1.0}),
        ("reach 1.2 of the shoulder", {"WITHIN": 1.2}), ("no neck covered", {"UP_NECK": 0.0}),
        ("neck covered 1 cm up", {"UP_NECK": 0.067}), ("neck covered 3 cm up", {"UP_NECK": 0.2}),
        ("all the neck covered that has cloth", {"UP_NECK": 2.0}),
    ):  # fmt: skip
        found[words] = kept_way(fitting, figure, **changed)
    return found


def every_way(fitting: Fitting, body: str) -> dict[str, float]:
    """What each way reads of one run."""
    figure, readings = figure_on(body), fitting.readings
    found = by_area(fitting, body) | by_lines(fitting, figure, body)
    found["upright cuts"] = by_upright_cuts(fitting, figure)
    found["bends"] = by_bends(fitting, figure)
    found["crowding, most"] = readings["crowding"]["max_percent"]
    found["crowding, mean"] = readings["crowding"]["mean_percent"]
    found["stand-off, both shoulders"] = 0.5 * sum(
        readings[f"shoulder_{side}"]["stand_off_mean_cm"] for side in ("left", "right")
    )
    found["ride, mean"] = float(np.mean([readings["neck"][f"ride_{side}_cm"] for side in ("front", "back")]))
    return found


# --- tables --------------------------------------------------------------------------------------


def share_of_difference(runs: Runs, way: str, body: str, cloth: str) -> float:
    """The larger half range over the difference between the drafts' means."""
    first, second = (np.array([run[way] for run in runs[body, cloth, draft]]) for draft in DRAFTS)
    return float(max(np.ptp(first), np.ptp(second)) / 2 / abs(first.mean() - second.mean()))


def said(runs: Runs, way: str, which: tuple[str, str, str]) -> str:
    """Mean, half the range."""
    values = np.array([run[way] for run in runs[which]])
    return f"{values.mean():.1f} ± {np.ptp(values) / 2:.1f}"


def print_tables(runs: Runs) -> None:
    pairs = sorted({(body, cloth) for body, cloth, _ in runs}, key=lambda p: (CLOTHS.index(p[1]), BODIES.index(p[0])))
    ways = list(next(iter(runs.values()))[0])
    shares = {way: [share_of_difference(runs, way, *pair) for pair in pairs] for way in ways}
    print("| way | worst share | on | mean share | within a quarter | round, tailored there |\n" + "| --- " * 6 + "|")
    for way in ways:
        worst = pairs[int(np.argmax(shares[way]))]
        there = ", ".join(said(runs, way, (*worst, draft)) for draft in DRAFTS)
        within = sum(share < 0.25 for share in shares[way])
        print(
            f"| {way} | {max(shares[way]):.2f} | {', '.join(worst)} | {np.mean(shares[way]):.2f} | "
            f"{within} of {len(pairs)} | {there} |"
        )
    print("\n| body | cloth | round | tailored | share |\n" + "| --- " * 5 + "|")
    for pair in pairs:
        cells = [said(runs, "kept", (*pair, draft)) for draft in DRAFTS]
        share = f"{share_of_difference(runs, 'kept', *pair):.2f}"
        print(f"| {' | '.join([*pair, *cells, share])} |")
    for draft in DRAFTS:
        each = [np.array([run["kept"] for run in runs[(*pair, draft)]]) for pair in pairs]
        apart = [np.sqrt(2 * values.var(ddof=1)) for values in each]
        share = np.sqrt(np.mean([(a / values.mean()) ** 2 for a, values in zip(apart, each, strict=True)]))
        print(
            f"\n{draft}: two meshes differ by {np.sqrt(np.mean(np.square(apart))):.2g} in the root mean square, "
            f"{share:.2g} of the reading"
        )


def main() -> None:
    """Settles what is not in the bank, reads all of it, prints the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--bank", type=Path, required=True)
    parser.add_argument("--edge-length-cm", type=float, default=5.0)
    parser.add_argument("--seeds", type=int, default=8)
    parser.add_argument("--bodies", nargs="+", choices=BODIES, default=list(BODIES))
    parser.add_argument("--cloths", nargs="+", choices=CLOTHS, default=list(CLOTHS))
    parser.add_argument("--area-alone", action="store_true", help="only the way that is kept, with other constants too")
    chosen = parser.parse_args()
    chosen.bank.mkdir(parents=True, exist_ok=True)
    runs: dict[Any, Any] = {}
    read: Callable[[Fitting, str], dict[str, float]] = by_area if chosen.area_alone else every_way
    for which in product(chosen.bodies, chosen.cloths, DRAFTS):
        fittings = (settled(chosen.bank, which, chosen.edge_length_cm / 100, seed) for seed in range(chosen.seeds))
        runs[which] = [read(fitting, which[0]) for fitting in fittings]
    print_tables(runs)


if __name__ == "__main__":
    main()
