"""A front thrown over the other shoulder, and a wearer who leans to 30° and back: on how many meshes does it stay?

In: how many meshes, of what triangles. Out: a line for each mesh, of heavy melton, of the same cloth with a smooth
outside, and of wool that clings to itself harder than melton's friction says. Common practice, no source: fulled wool
stays while the wearer leans to work, smooth lining cloth does not.

    python tests/bench/thrown_over.py --count 3

Triangles longer than 3.5 cm hold on to each other over a shoulder, even without friction.
"""

from __future__ import annotations

import argparse
from dataclasses import replace

import numpy as np

from drape.fitting.scene import Scene, load_scene
from drape.wearing.choices import LEANING, THROWN
from drape.wearing.wear import Asked, wear

SMOOTH = 0.15  # friction of smooth lining cloth on itself and on clothing; from memory
CLINGING = 1.2  # of cloth on cloth, where the nap holds


def told(scene: Scene, edge_length: float, seed: int) -> str:
    """What one throw, and leaning after it, came to."""
    asked = Asked((THROWN,), (LEANING,), edge_length=edge_length, lean=float(np.radians(30.0)), seed=seed)
    said = []
    for way in (way.readings for way in wear(scene, asked).ways):
        state = "stays" if way["stays"] else "slides"
        settled = "" if way["settled"] else ", NOT SETTLED"
        said.append(
            f"{way['doing']}: {state}, {way['slid_cm']:.0f} cm{settled}, {way['crossings']} crossings, deepest "
            f"{way['deepest_mm']:.2f} mm"
        )
    return "; ".join(said)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=6)
    parser.add_argument("--edge-length-cm", type=float, default=3.0)
    chosen = parser.parse_args()
    rough = load_scene("ferry-warden-tailored")
    smooth = replace(rough, cloth=replace(rough.cloth, friction_on_cloth=SMOOTH, friction_on_figure=SMOOTH))
    clinging = replace(rough, cloth=replace(rough.cloth, friction_on_cloth=CLINGING))
    for seed in range(chosen.count):
        for words, scene in (("rough", rough), ("smooth", smooth), ("clinging", clinging)):
            print(f"mesh {seed}, {words}: {told(scene, chosen.edge_length_cm / 100, seed)}", flush=True)


if __name__ == "__main__":
    main()
