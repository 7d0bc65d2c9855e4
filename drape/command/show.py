"""`drape show`: saved results drawn again, without settling.

Comes in: parsed arguments. Goes out: files beside the result, or in --out, their names on stdout. The drawing itself
is done by `make` in a process of its own.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drape.command.output import folder
from drape.errors import SceneError
from drape.picture.choices import HEIGHT_PX
from drape.progress import Progress, answer, say, say_saved, tell
from drape.units import to_si

if TYPE_CHECKING:
    import argparse

DONE = 0


def run_show(chosen: argparse.Namespace) -> int:
    """`drape show`: draw saved fittings again; several by the same cameras."""
    from drape.command.made_from import add_files, changed_since
    from drape.drawing_process import draw_in_child

    saved = [_saved_result(path) for path in chosen.results]
    job = {
        "saved": [str(path) for path in saved],
        "starts": [str(_saved_result(path)) for path in chosen.starts],
        "make": list(dict.fromkeys(chosen.make)) or ["sheet"],
        "how": _how(
            {"azimuth": chosen.azimuth_deg, "elevation": chosen.elevation_deg},
            chosen.height_px,
            {"views": chosen.view, "paint": chosen.paint, "lines": chosen.lines},
        ),
    }
    with folder(chosen.out or saved[0].parent) as out:
        tell(Progress("pictures", 0.0, f"drawing: {' '.join(job['make'])}", has_share=False))
        names = draw_in_child({**job, "out": str(out)})
        if out.resolve() == saved[0].parent.resolve():
            add_files(out, saved[0].name, names)
        answer((json.dumps({"files": names}, indent=2) if chosen.json else "\n".join(names)) + "\n")
        for words in filter(None, map(changed_since, saved)):
            say(words)
        say_saved(out)
    return DONE


def _saved_result(path: Path) -> Path:
    """The saved fitting meant: a file, or the only one in a folder of results. Raises SceneError."""
    if path.is_file():
        return path
    if not path.is_dir():
        raise SceneError(
            f'show: got "{path}", no such file; allowed a NAME.npz that `drape sit` wrote, or its folder. '
            "Settle the scene first: drape sit SCENE"
        )
    found = sorted(path.glob("*.npz"))
    if len(found) == 1:
        return found[0]
    names = ", ".join(one.name for one in found) or "none"
    raise SceneError(f"show: {path}: got {len(found)} saved fittings ({names}), allowed one. Name the file itself.")


def _how(angles: Mapping[str, float | None], height: int, more: Mapping[str, Any]) -> dict[str, Any]:
    """The maker's own side [deg] and size [px], checked, beside what needs no check. Raises SceneError."""
    low, _, high = HEIGHT_PX
    if not low <= height <= high:
        raise SceneError(f"show: --height-px: got {height}, allowed {low} to {high}. Leave it out for 1600.")
    for flag, most in (("azimuth", 360.0), ("elevation", 90.0)):
        value = angles[flag]
        if value is not None and not (math.isfinite(value) and abs(value) <= most):
            raise SceneError(
                f"show: --{flag}-deg: got {value:g}, allowed {-most:g} to {most:g}. 0 is front, 90 the wearer's left."
            )
    is_turned = any(value is not None for value in angles.values())
    elevation = max(min(angles["elevation"] or 0.0, 89.99), -89.99)
    return {
        **more, "height": height, "azimuth": to_si("azimuth_deg", angles["azimuth"] or 0.0) if is_turned else None,
        "elevation": to_si("elevation_deg", elevation),
    }  # fmt: skip
