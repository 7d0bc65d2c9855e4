"""Result: one draft worn by one figure, with its readings; saved as one NAME.npz and loaded again.

In: arrays per mesh vertex, named edges, readings. Out: a `Fitting`. How it came about is left to the rooms above.
"""

from __future__ import annotations

import json
import zipfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from drape.arrays import Floats, Ints
from drape.errors import SceneError
from drape.files import write_whole

if TYPE_CHECKING:
    from drape.cloth.relaxation import Grip
    from drape.draft.outline import Draft

ARRAYS = (
    "flat", "worn", "triangles", "figure_vertices", "figure_triangles", "neck_base",
    "shoulder_line_left", "shoulder_line_right",
)  # fmt: skip


WORDS = ("name", "title", "expect", "readings", "levels", "thickness", "colours", "about")


@dataclass(frozen=True)
class Fitting:
    """One draft worn by one figure. Arrays per mesh vertex; seam partners share a position [m].

    readings: the JSON object of `drape sit`. colours: hex, keys outside, inside, figure.
    """

    name: str
    title: str
    expect: str
    readings: Mapping[str, Any]
    flat: Floats
    worn: Floats
    triangles: Ints
    edges: Mapping[str, Ints]
    figure_vertices: Floats
    figure_triangles: Ints
    landmarks: Mapping[str, Floats]
    levels: Mapping[str, float]
    neck_base: Floats
    shoulder_line_left: Floats
    shoulder_line_right: Floats
    thickness: float
    colours: Mapping[str, str]
    about: Mapping[str, Any] = field(default_factory=dict)  # see `about_of`; empty in files written before it was
    draft: Draft | None = None  # not saved
    trim: Floats | None = None  # [m] added to the hem's radius while it settled; kept, not saved
    grip: Grip | None = None  # of friction, for a run that starts from here; neither saved nor kept


def save_fitting(fitting: Fitting, folder: Path) -> Path:
    """Writes NAME.npz, arrays and readings together, whole or not at all; returns its path."""
    path = folder / f"{fitting.name}.npz"
    arrays = {name: getattr(fitting, name) for name in ARRAYS}
    arrays |= {f"edge {name}": index for name, index in fitting.edges.items()}
    arrays |= {f"landmark {name}": point for name, point in fitting.landmarks.items()}
    words = {name: getattr(fitting, name) for name in WORDS}
    said = np.array(json.dumps(words, allow_nan=False))
    write_whole(path, lambda passing: np.savez(passing, words=said, **arrays))
    return path


def load_fitting(path: Path) -> Fitting:
    """The fitting in a saved NAME.npz. Raises SceneError if the file is not one."""
    try:
        with open(path, "rb") as file, np.load(file, allow_pickle=False) as stored:
            arrays = {name: stored[name] for name in stored.files}
        words = json.loads(str(arrays.pop("words")))
        return Fitting(
            **words,
            **{name: arrays[name] for name in ARRAYS},
            edges=named(arrays, "edge "),
            landmarks=named(arrays, "landmark "),
        )
    except (OSError, EOFError, zipfile.BadZipFile, KeyError, ValueError, TypeError):
        raise SceneError(
            f"{path}: not a saved fitting, or a damaged one. Give a .npz that `drape sit` wrote."
        ) from None


def named(arrays: Mapping[str, NDArray[Any]], prefix: str) -> dict[str, NDArray[Any]]:
    """The arrays whose names begin with a prefix, without it."""
    return {name.removeprefix(prefix): a for name, a in arrays.items() if name.startswith(prefix)}


def neck_edge(fitting: Fitting) -> Floats:
    """Positions (k, 3) [m] along the neck edge, from the closure round to the closure."""
    return np.vstack([fitting.worn[fitting.edges[name]] for name in neck_names(fitting.edges)])


def neck_names(edges: Iterable[str]) -> list[str]:
    """The names of the edges that make the neck edge, from the closure round to the closure."""
    return [name for name in edges if name.endswith(" neck") or " neck " in name][::-1]
