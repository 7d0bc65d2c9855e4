"""How often does another run fall within the ± that was printed? Twenty drafts of all kinds, several meshes of each.

    python tests/bench/plus_minus.py --bank FOLDER --edge-length-cm 3 --seeds 5

Settles every draft of DRAFTS on every mesh and keeps the readings in the folder; what is there already is not settled
again, so empty it when the program has changed. Not collected by pytest.
"""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from drape.draft.style import CollarStyle, Dart
from drape.errors import NotSettledError
from drape.fitting.scene import Scene, load_body, load_cloth, load_scene
from drape.fitting.sit import sit
from drape.reading.table import json_text


@dataclass(frozen=True)
class Kind:
    """A draft of the table. intake [m] of the cut on the closure's shoulder: None where it is worked out."""

    body: str
    cloth: str
    sweep_deg: float
    neck: str = "tailored"
    place: str = "right shoulder"
    darts: tuple[Dart, ...] = ()
    intake: float | None = None
    length: float = 1.0
    more: tuple[tuple[str, Any], ...] = ()


SMALL = Dart(intake=0.03)
DRAFTS: Mapping[str, Kind] = {
    "round half": Kind("ferry-warden", "heavy melton", 180, "round", intake=0.0, length=1.12),
    "tailored half": Kind("ferry-warden", "heavy melton", 180, darts=(Dart(),), length=1.12),
    "centre front, lopsided darts": Kind(
        "ferry-warden", "heavy melton", 180, place="centre front",
        darts=(Dart(place="left shoulder"), Dart(place="right shoulder", intake=0.02)), length=1.12,
    ),
    "third, two darts": Kind("woman-50", "flannel", 120, place="centre front", darts=(Dart(),), length=0.8),
    "150, dart": Kind("man-50", "coating", 150, darts=(Dart(),)),
    "150, round, no dart": Kind("woman-5", "fulled broadcloth", 150, "round", intake=0.0, length=0.9),
    "half, left closing": Kind("lamp-bearer", "coating", 180, place="left shoulder", darts=(Dart(),), length=0.95),
    "half, small dart": Kind("toll-house-clerk", "fulled broadcloth", 180, darts=(SMALL,)),
    "half, two darts": Kind("toll-house-clerk", "flannel", 180, place="centre front", darts=(Dart(),), length=0.9),
    "half, no dart": Kind("square-shoulders", "flannel", 180),
    "half, round, thin": Kind("man-95", "light suiting", 180, "round", intake=0.0, length=0.8),
    "half, collar": Kind(
        "lamp-bearer", "flannel", 180, darts=(Dart(),), length=0.9, more=(("collar", CollarStyle(height=0.06)),)
    ),
    "210, dart": Kind("sloping-shoulders", "calico", 210, darts=(Dart(),), length=0.9),
    "210, round, front": Kind("woman-95", "coating", 210, "round", "centre front", length=0.9),
    "240, cuts": Kind("full-figure", "heavy melton", 240),
    "240, front": Kind("stooping", "flannel", 240, place="centre front", length=0.9),
    "three quarters": Kind("ferry-warden", "flannel", 270, place="centre front", length=0.95),
    "three quarters, round": Kind("man-5", "wet heavy melton", 270, "round", intake=0.0, length=0.7),
    "300, child": Kind("child-140", "flannel", 300, place="centre front", length=0.6),
    "full circle": Kind("woman-50", "light suiting", 345, place="centre front", length=0.6),
}  # fmt: skip


def scene_of(name: str) -> Scene:
    """The scene of one draft of the table."""
    kind = DRAFTS[name]
    scene, body, cloth = load_scene("ferry-warden-tailored"), load_body(kind.body), load_cloth(kind.cloth)
    style = replace(
        scene.style, neck=kind.neck, sweep=math.radians(kind.sweep_deg), closure_place=kind.place, darts=kind.darts,
        shoulder_cut_intake=kind.intake, shoulder_cut_length=None, length=kind.length, **dict(kind.more),
    )  # fmt: skip
    return replace(
        scene, name=name, style=style, body=kind.body, sex=body.sex, tape=body.tape, stance=body.stance,
        arms=body.arms, worn_under=body.worn_under, cloth=cloth, outside=cloth,
    )  # fmt: skip


def readings_of(folder: Path, name: str, edge_length: float, seed: int) -> dict[str, Any]:
    """The readings of one run from the folder, or settled and put there; of one not settled its last state."""
    path = folder / f"{name.replace(', ', '-').replace(' ', '-')}-{seed}.json"
    if not path.exists():
        try:
            found = sit(scene_of(name), edge_length=edge_length, seed=seed, cached=False).readings
        except NotSettledError as error:
            if error.fitting is None:
                raise
            found = error.fitting.readings
        path.write_text(json_text(found), encoding="utf-8")
    read: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return read


def main() -> None:
    """Settles what is missing."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bank", type=Path, required=True)
    parser.add_argument("--edge-length-cm", type=float, default=3.0)
    parser.add_argument("--seeds", type=int, default=5)
    chosen = parser.parse_args()
    chosen.bank.mkdir(parents=True, exist_ok=True)
    for seed in range(chosen.seeds):
        for name in DRAFTS:
            found = readings_of(chosen.bank, name, chosen.edge_length_cm / 100, seed)
            print(name, seed, found["settled"], found["steps"], found["spare"]["percent"], flush=True)


if __name__ == "__main__":
    main()
