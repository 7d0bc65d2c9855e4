"""Whether any settled cloak passes through itself or the figure: shipped scenes, then drafts,
bodies and cloths at random.

    python tests/bench/crossings.py --count 50 --edge-length-cm 4.5

Prints a line per run: crossing triangle pairs by our count, whether an independent library (ipctk) finds any, and how
deep any vertex lies in the figure. A draft that is refused for its measures is drawn again. Not collected by pytest.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import ipctk
import numpy as np

from drape.cloth.self_contact import weave
from drape.draft.style import Dart
from drape.errors import DraftError, FigureError, MeshError, NotSettledError
from drape.fitting.scene import Scene, load_body, load_cloth, load_scene
from drape.fitting.sit import sit
from drape.reading.result import Fitting

SHIPPED = ("ferry-warden-round", "ferry-warden-tailored")
BODIES = ("ferry-warden", "lamp-bearer", "toll-house-clerk")
CLOTHS = ("light suiting", "flannel", "coating", "heavy melton", "fulled broadcloth", "calico", "wet heavy melton")
MOST_STEPS = 20_000  # of the last level: thin cloth on so coarse a mesh may never rest, and need not to be counted
STRETCHED = ("stature", "chest_girth", "waist_girth", "hip_girth")  # one share of each body's own, 0.95 to 1.05


def at_random(random: np.random.Generator) -> Scene:
    """A scene with draft, body and cloth drawn at random."""
    scene = load_scene("ferry-warden-round")
    body = load_body(str(random.choice(BODIES)))
    tape = {key: value * (random.uniform(0.95, 1.05) if key in STRETCHED else 1.0) for key, value in body.tape.items()}
    style = replace(
        scene.style,
        neck=str(random.choice(["round", "tailored"])),
        length=float(random.uniform(0.5, 1.2)),
        sweep=float(np.radians(random.uniform(140.0, 280.0))),
        darts=(Dart(),) if random.random() < 0.5 else (),
        shoulder_cut_intake=None if random.random() < 0.5 else 0.0,
    )
    return replace(
        scene,
        name="random",
        max_steps=MOST_STEPS,
        style=style,
        tape=tape,
        sex=body.sex,
        cloth=load_cloth(str(random.choice(CLOTHS))),
    )


def runs(count: int, edge_length: float) -> Iterator[tuple[str, Fitting]]:
    """Shipped scenes, then `count` random ones that are not refused."""
    for name in SHIPPED:
        yield name, settled(load_scene(name), edge_length, 0)
    random, done = np.random.default_rng(0), 0
    while done < count:
        scene = at_random(random)
        try:
            fitting = settled(scene, edge_length, done)
        except (DraftError, FigureError, MeshError) as error:
            print(f"refused: {error}")
            continue
        done += 1
        style = scene.style
        yield (
            f"{done}: {scene.cloth.name}, {style.neck}, {np.degrees(style.sweep):.0f} deg, {100 * style.length:.0f} cm"
            f"{', dart' if style.darts else ''}{', cuts' if style.shoulder_cut_intake is None else ''}",
            fitting,
        )


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


def main() -> None:
    """Prints the lines and a total."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=50)
    parser.add_argument("--edge-length-cm", type=float, default=4.5)
    chosen = parser.parse_args()
    found: list[dict[str, Any]] = []
    for name, fitting in runs(chosen.count, chosen.edge_length_cm / 100):
        got = fitting.readings
        found.append({"own": got["crossings"], "library": library_finds(fitting), **got})
        stamp = "" if got["settled"] else " NOT SETTLED"
        print(
            f"{name}: {got['crossings']} crossings, library {'finds some' if found[-1]['library'] else 'none'}, "
            f"{got['deepest_mm']:.2f} mm deep, {got['steps']} steps{stamp}", flush=True,
        )  # fmt: skip
    print(
        f"\n{len(found)} runs: {sum(f['own'] for f in found)} crossings, {sum(f['library'] for f in found)} found by "
        f"the library, deepest {max(f['deepest_mm'] for f in found):.2f} mm, {sum(not f['settled'] for f in found)} "
        "not settled"
    )


if __name__ == "__main__":
    main()
