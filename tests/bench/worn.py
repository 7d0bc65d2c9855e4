"""Five bodies in three cloths, worn in every way: does each come to rest, cross itself, lie in the figure?

In: which bodies, cloths, ways, moves, and the size of triangles. Out: a Markdown table with a line for each way, as it
comes, and what was worst of all. The draft is the ferry warden's tailored one, cut for each body.

    python tests/bench/worn.py --edge-length-cm 6

Not collected by pytest.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from drape.errors import DrapeError
from drape.fitting.scene import Scene, load_body, load_cloth, load_scene
from drape.wearing.choices import DOINGS, HOWS
from drape.wearing.wear import Asked, wear

BODIES = ("ferry-warden", "lamp-bearer", "toll-house-clerk", "woman-50", "square-shoulders")
SMOOTH = 0.15  # friction of smooth lining cloth on itself and on clothing; from memory
CLOTHS = ("heavy melton", "light suiting", "smooth lining")


def scene_on(body: str, cloth: str) -> Scene:
    """The tailored draft for that body, of that cloth; smooth lining: light suiting that slides."""
    wearer, scene = load_body(body), load_scene("ferry-warden-tailored")
    own = load_cloth("light suiting" if cloth == "smooth lining" else cloth)
    if cloth == "smooth lining":
        own = replace(own, name=cloth, friction_on_cloth=SMOOTH, friction_on_figure=SMOOTH)
    return replace(
        scene, name=f"{body}-{cloth.replace(' ', '-')}", body=wearer.name, sex=wearer.sex, tape=wearer.tape,
        cloth=own, outside=own, stance=wearer.stance, worn_under=wearer.worn_under,
    )  # fmt: skip


def rows(scene: Scene, chosen: argparse.Namespace) -> Iterator[dict[str, Any]]:
    """The readings of each way, or one line that says why there are none."""
    for how in chosen.hows:
        asked = Asked((how,), tuple(chosen.doings), edge_length=chosen.edge_length_cm / 100, seed=chosen.seed)
        began = time.process_time()
        try:
            found = wear(scene, asked)
        except DrapeError as error:
            yield {"how": how, "doing": str(error)}
            continue
        spent = time.process_time() - began
        for line in found.left_out:
            yield {"how": how, "doing": line}
        for way in found.ways:
            yield {**way.readings, "processor": spent}


def main() -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--edge-length-cm", type=float, default=6.0)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--bodies", nargs="+", default=list(BODIES))
    parser.add_argument("--cloths", nargs="+", choices=CLOTHS, default=list(CLOTHS))
    parser.add_argument("--hows", nargs="+", choices=HOWS, default=list(HOWS))
    parser.add_argument("--doings", nargs="*", choices=DOINGS, default=[])
    chosen = parser.parse_args()
    print("| body | cloth | worn | settled | crossings | deepest [mm] | slid [cm] | seconds of the processor |")
    print("| --- " * 8 + "|")
    every = []
    for body in chosen.bodies:
        for cloth in chosen.cloths:
            for row in rows(scene_on(body, cloth), chosen):
                words = row["how"] if row["doing"] == "stand" else f"{row['how']}, {row['doing']}"
                if "settled" not in row:
                    print(f"| {body} | {cloth} | {words} |", flush=True)
                    continue
                every.append(row)
                print(
                    f"| {body} | {cloth} | {words} | {'yes' if row['settled'] else 'NO'} | {row['crossings']} | "
                    f"{row['deepest_mm']:.2f} | {row['slid_cm']:.0f} | {row['processor']:.0f} |", flush=True,
                )  # fmt: skip
    print(
        f"{len(every)} ways: {sum(row['settled'] for row in every)} settled, {sum(row['crossings'] for row in every)} "
        f"crossings, deepest {max(row['deepest_mm'] for row in every):.2f} mm"
    )


if __name__ == "__main__":
    main()
