"""Whether any settled cloak passes through itself or the figure: shipped scenes, then drafts, bodies, stances, arms,
what is worn below, collars, dags, seams, linings and cloths at random.

    python tests/bench/crossings.py --count 50 --edge-length-cm 4.5 --seed 0

Prints a line per run: crossing triangle pairs by our count, whether an independent library (ipctk) finds any, and how
deep any vertex lies in the figure, by our field and by the signed distance of another (trimesh, which wants rtree
beside it). A draft that is refused for its measures is told and drawn again. At the end the worst ten. Not collected
by pytest; two such cloaks are settled, coarse, in tests/end_to_end/test_random_cloaks.py.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import ipctk
import numpy as np
import trimesh
from scipy.spatial import cKDTree

from drape.body.stance import Stance
from drape.body.worn_under import KINDS
from drape.cloth.self_contact import weave
from drape.cloth.sheet import layered
from drape.draft.style import CLOSURE_PLACES, DAG_KINDS, CollarStyle, Dags, Dart, Style
from drape.errors import DrapeError, NotSettledError
from drape.fitting.scene import Scene, load_body, load_cloth, load_scene
from drape.fitting.sit import sit
from drape.reading.result import Fitting

SHIPPED = ("ferry-warden-round", "ferry-warden-tailored")
BODIES = ("ferry-warden", "lamp-bearer", "toll-house-clerk")
CLOTHS = ("light suiting", "flannel", "coating", "heavy melton", "fulled broadcloth", "calico", "wet heavy melton")
MOST_STEPS = 20_000  # of the last level: thin cloth on so coarse a mesh may never rest, and need not to be counted
STRETCHED = ("stature", "chest_girth", "waist_girth", "hip_girth")  # one share of each body's own, 0.95 to 1.05
WORST = 10  # runs that are listed again
NEAR = 0.03  # m from the figure's surface, within which a vertex is measured by the other library


def at_random(random: np.random.Generator) -> Scene:
    """A scene with draft, body and cloth drawn at random."""
    scene = load_scene("ferry-warden-round")
    body = load_body(str(random.choice(BODIES)))
    tape = {key: value * (random.uniform(0.95, 1.05) if key in STRETCHED else 1.0) for key, value in body.tape.items()}
    cloths = [load_cloth(str(random.choice(CLOTHS)))]
    if one_in(random, 4):
        cloths.append(load_cloth("light suiting"))
    plan = scene.cutting
    if one_in(random, 4):
        plan = replace(plan, bolt=replace(plan.bolt, width=float(random.uniform(0.55, 0.9))), sewn=True)
    holds = ("down", "down", "down", "forearm across", "forward", "raised")
    return replace(
        scene, name="random", max_steps=MOST_STEPS, style=style_at_random(random, scene), tape=tape, sex=body.sex,
        cloth=layered(*cloths), layers=tuple(cloth.name for cloth in cloths), outside=cloths[0], cutting=plan,
        stance=stance_at_random(random) if one_in(random, 3) else body.stance,
        arms=(str(random.choice(holds)), str(random.choice(holds))),
        worn_under=KINDS[str(random.choice(sorted(KINDS)))] if one_in(random, 4) else body.worn_under,
    )  # fmt: skip


def one_in(random: np.random.Generator, count: int) -> bool:
    return bool(random.random() < 1.0 / count)


def style_at_random(random: np.random.Generator, scene: Scene) -> Style:
    height, place = float(random.uniform(0.02, 0.06)), str(random.choice(CLOSURE_PLACES))
    kind, width = str(random.choice(DAG_KINDS)), float(random.uniform(0.06, 0.15))
    return replace(
        scene.style,
        neck=str(random.choice(["round", "tailored"])),
        closure_place=place,
        length=float(random.uniform(0.5, 1.2)),
        sweep=float(np.radians(random.uniform(140.0, 355.0 if one_in(random, 4) else 280.0))),
        darts=(Dart(),) if one_in(random, 2) else (),
        shoulder_cut_intake=None if one_in(random, 2) or place == "centre front" else 0.0,
        collar=CollarStyle(height, float(height * random.uniform(0.7, 1.0))) if one_in(random, 4) else None,
        dags=(Dags("hem", kind, width, float(width * random.uniform(0.3, 0.8))),) if one_in(random, 6) else (),
    )


def stance_at_random(random: np.random.Generator) -> Stance:
    low = float(random.uniform(0.0, 0.03))
    left = one_in(random, 2)
    return Stance(
        head_forward=float(random.uniform(-0.02, 0.04)), stoop=float(random.uniform(-0.02, 0.05)),
        full_back=float(random.uniform(0.0, 0.03)), low_left=low if left else 0.0, low_right=0.0 if left else low,
    )  # fmt: skip


def told(scene: Scene) -> str:
    """What is unusual about a scene, in a few words."""
    style = scene.style
    words = [
        " over ".join(scene.layers), style.neck, f"closed at the {style.closure_place}",
        f"{np.degrees(style.sweep):.0f} deg", f"{100 * (style.length or 0):.0f} cm",
        *(["dart"] if style.darts else []), *(["cuts"] if style.shoulder_cut_intake is None else []),
        *(["collar"] if style.collar else []), *([f"{style.dags[0].kind} dags"] if style.dags else []),
        *(["pieced"] if scene.cutting.sewn else []), *(["stance"] if scene.stance != Stance() else []),
        *(["worn under"] if scene.worn_under else []),
        *([f"arms {' and '.join(scene.arms)}"] if scene.arms != ("down", "down") else []),
    ]  # fmt: skip
    return ", ".join(words)


def runs(count: int, edge_length: float, seed: int, shipped: Sequence[str] = SHIPPED) -> Iterator[tuple[str, Fitting]]:
    """Shipped scenes, then `count` random ones that are not refused."""
    for name in shipped:
        yield name, settled(load_scene(name), edge_length, 0)
    random, done = np.random.default_rng(seed), 0
    while done < count:
        scene = at_random(random)
        try:
            fitting = settled(scene, edge_length, done)
        except DrapeError as error:
            print(f"refused: {told(scene)}: {error}", flush=True)
            continue
        done += 1
        yield f"{done}: {told(scene)}", fitting


def settled(scene: Scene, edge_length: float, seed: int) -> Fitting:
    """The fitting, or that of the last state if it was not settled."""
    try:
        return sit(scene, edge_length=edge_length, seed=seed, cached=False)
    except NotSettledError as error:
        return error.fitting


def library_finds(fitting: Fitting) -> bool:
    """Whether ipctk finds the sewn cloth crossing itself."""
    _, point, index = np.unique(fitting.worn, axis=0, return_index=True, return_inverse=True)
    triangles = index.ravel()[fitting.triangles]
    x = fitting.worn[point]
    return bool(
        ipctk.has_intersections(ipctk.CollisionMesh(x, weave(triangles).edges, triangles), np.asfortranarray(x))
    )


def deepest_by_library(fitting: Fitting) -> float:
    """How deep any vertex of the cloak lies in the mannequin [m], by trimesh; 0 where none does."""
    away, _ = cKDTree(fitting.figure_vertices).query(fitting.worn)
    near = fitting.worn[away < NEAR]
    if not len(near):
        return 0.0
    return max(0.0, float(trimesh.proximity.signed_distance(fitting.mannequin, near).max()))  # inside is positive


def main() -> None:
    """Prints the lines, a total and the worst."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=50)
    parser.add_argument("--edge-length-cm", type=float, default=4.5)
    parser.add_argument("--seed", type=int, default=0)
    chosen = parser.parse_args()
    found: list[tuple[float, str, dict[str, Any]]] = []
    for name, fitting in runs(chosen.count, chosen.edge_length_cm / 100, chosen.seed):
        got = {**fitting.readings, "library": library_finds(fitting)}
        other = 1000 * deepest_by_library(fitting)
        stamp = "" if got["settled"] else " NOT SETTLED"
        line = (
            f"{name}: {got['crossings']} crossings, library {'finds some' if got['library'] else 'none'}, "
            f"{got['deepest_mm']:.2f} mm deep, library {other:.2f}, {got['steps']} steps{stamp}"
        )
        found.append((max(other, got["deepest_mm"]), line, got))
        print(line, flush=True)
    every = [got for _, _, got in found]
    print(
        f"\n{len(every)} runs: {sum(got['crossings'] for got in every)} crossings, "
        f"{sum(got['library'] for got in every)} found by the library, deepest {max(deep for deep, *_ in found):.2f} "
        f"mm, {sum(not got['settled'] for got in every)} not settled\n\nDeepest:"
    )
    for _, line, _ in sorted(found, key=lambda one: -one[0])[:WORST]:
        print(line)


if __name__ == "__main__":
    main()
