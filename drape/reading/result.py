"""Result: one draft worn by one figure, with its readings; saved as one NAME.npz and loaded again.

In: arrays per mesh vertex, named edges, readings. Out: a `Fitting`, also as surfaces of trimesh and pyvista, and as the
sheet where a notebook shows it. How it came about is left to the rooms above.
"""

from __future__ import annotations

import json
import tempfile
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from drape import drawing_process
from drape.arrays import Floats, Ints
from drape.cache import content_key, keep, recall
from drape.errors import DrapeError, SceneError
from drape.files import file_name, write_text, write_whole
from drape.reading.damage import damage_in

if TYPE_CHECKING:
    import pyvista
    import trimesh

    from drape.cloth.relaxation import Grip
    from drape.draft.outline import Draft

ARRAYS = (
    "flat", "worn", "triangles", "figure_vertices", "figure_triangles", "neck_base",
    "shoulder_line_left", "shoulder_line_right",
)  # fmt: skip


LARGEST: Final = 1_000_000_000  # bytes of a fitting's arrays; one of the finest triangles takes a tenth
WORDS = ("name", "title", "expect", "readings", "levels", "thickness", "colours", "about")


@dataclass(frozen=True, repr=False)
class Fitting:
    """One draft worn by one figure: what settled, and how it sits. A notebook shows it as the sheet.

    readings: the JSON object of `drape sit`; every number's name ends in its unit. flat (n, 2) and worn (n, 3): the
    mesh's vertices on the draft and on the wearer [m]; seam partners share a position. triangles (m, 3). edges: by
    name, rows of those. figure_vertices, figure_triangles: the mannequin. colours: hex, keys outside, inside, figure.
    is_recalled: whether it was taken from an earlier run of the same content.
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
    is_recalled: bool = False  # taken from an earlier run of the same content; not saved

    def __repr__(self) -> str:
        state = "settled" if self.readings.get("settled") else "NOT SETTLED"
        return f"<Fitting {self.name}: {state}, {len(self.worn)} vertices, {len(self.verdicts)} verdicts>"

    def _repr_png_(self) -> bytes | None:
        return sheet_png([self])

    @property
    def verdicts(self) -> Sequence[Mapping[str, Any]]:
        """What is wrong, what may be, and what to change: each with `where`, `finding`, `mend`."""
        return tuple(self.readings.get("verdicts", ()))

    @property
    def cloak(self) -> trimesh.Trimesh:
        """The worn cloak [m], z up, the wearer facing +y, vertices as in `worn`; the metadata say if it `settled`."""
        return self._trimesh(self.worn, self.triangles)

    @property
    def mannequin(self) -> trimesh.Trimesh:
        """The closed mannequin [m], z up, facing +y."""
        return self._trimesh(self.figure_vertices, self.figure_triangles)

    def _trimesh(self, points: Floats, triangles: Ints) -> trimesh.Trimesh:
        import trimesh

        settled = {"settled": bool(self.readings.get("settled"))}
        return trimesh.Trimesh(np.array(points), np.array(triangles), process=False, metadata=settled)

    def to_pyvista(self) -> pyvista.MultiBlock:
        """Blocks [m]: `cloak`, `mannequin`, `neck_base`, `shoulder_line_left`, `shoulder_line_right`.

        The cloak has at each vertex what pictures paint: `stand_off_cm`, `fullness_percent` (nan where the cloth lies
        too flat for it) and `layers`.
        """
        from drape.reading.blocks import blocks_of

        return blocks_of(self)

    def show(self, reading: str | None = None) -> Any:
        """Cloak and mannequin in a pyvista window, or in pyvista's own view inside a notebook.

        reading: `stand_off_cm`, `fullness_percent` or `layers`, to be painted on the cloak. Returns what pyvista's
        `show` returns. Raises PictureError for another reading, or without a screen.
        """
        from drape.reading.blocks import show

        return show(self, reading)

    def save(self, folder: str | Path) -> Path:
        """Writes NAME.npz and NAME.json into a folder, made if it is not there; returns the path of the first.

        `load_fitting` reads it again, and so does `drape show`. Raises SceneError where nothing can be written.
        """
        from drape.reading.table import json_text

        out = Path(folder)
        try:
            out.mkdir(parents=True, exist_ok=True)
            write_text(out / f"{file_name(self.name)}.json", json_text(self.readings))
            return save_fitting(self, out)
        except OSError as error:
            reason = error.strerror or str(error)
            raise SceneError(f"save: got {out}, cannot be written: {reason}. Give another folder.") from None


def save_fitting(fitting: Fitting, folder: Path) -> Path:
    """Writes NAME.npz, arrays and readings together, whole or not at all; returns its path."""
    path = folder / f"{file_name(fitting.name)}.npz"
    arrays = {name: getattr(fitting, name) for name in ARRAYS}
    arrays |= {f"edge {name}": index for name, index in fitting.edges.items()}
    arrays |= {f"landmark {name}": point for name, point in fitting.landmarks.items()}
    words = {name: getattr(fitting, name) for name in WORDS}
    said = np.array(json.dumps(words, allow_nan=False))
    write_whole(path, lambda passing: np.savez(passing, words=said, **arrays))
    return path


def sheet_file(saved: Sequence[Path], path: Path, *, is_kept: bool) -> None:
    """Writes the sheet of saved fittings. is_kept: keep what is drawn for the next time that
    the same is asked under the same name, which is told on it.

    Raises PictureError, MissingExtraError.
    """
    key = content_key("sheet", path.name, [one.read_bytes() for one in saved])
    before = recall(key)
    if before is not None:
        write_whole(path, lambda passing: passing.write_bytes(before))
        return
    drawing_process.draw_in_child({"saved": [str(one) for one in saved], "sheet": str(path)})
    if is_kept:
        keep(key, path.read_bytes())


def sheet_png(fittings: Sequence[Fitting]) -> bytes | None:
    """The sheet of one to six fittings as PNG; None where it cannot be drawn, so that a notebook shows words."""
    try:
        with tempfile.TemporaryDirectory(prefix="drape-") as passing:
            saved, sheet = [], Path(passing, "sheet.png")
            for number, fitting in enumerate(fittings):
                folder = Path(passing, str(number))  # of its own: two fittings may have one name
                folder.mkdir()
                saved.append(save_fitting(fitting, folder))
            sheet_file(saved, sheet, is_kept=all(one.readings.get("settled") for one in fittings))
            return sheet.read_bytes()
    except (DrapeError, OSError):
        return None


def load_fitting(path: str | Path) -> Fitting:
    """The fitting in a saved NAME.npz, its name as a file may be called. Raises SceneError if the file is not one."""
    try:
        with open(path, "rb") as file:
            wrong = _too_large(file)
            with np.load(file, allow_pickle=False) as stored:
                arrays = {name: stored[name] for name in ([] if wrong else stored.files)}
        words = {} if wrong else json.loads(str(arrays.pop("words")))
        wrong = wrong or damage_in(words, arrays)
        if not wrong:
            return Fitting(
                **(words | {"name": file_name(words["name"])}),
                **{name: arrays[name] for name in ARRAYS},
                edges=named(arrays, "edge "),
                landmarks=named(arrays, "landmark "),
            )
    except OSError as error:
        wrong = error.strerror or str(error)
    except MemoryError:
        raise
    except Exception:  # whatever else is in the file, it is none of ours
        wrong = "cannot be read"
    raise SceneError(
        f"{path}: not a saved fitting, or a damaged one: {wrong}. Give a .npz that `drape sit` wrote."
    ) from None


def _too_large(file: IO[bytes]) -> str:
    """What to say of a file whose arrays would take more room than any fitting; nothing of others."""
    with zipfile.ZipFile(file) as stored:
        size = sum(one.file_size for one in stored.infolist())
    file.seek(0)
    return f"its arrays take {size} bytes, allowed {LARGEST}" if size > LARGEST else ""


def named(arrays: Mapping[str, NDArray[Any]], prefix: str) -> dict[str, NDArray[Any]]:
    """The arrays whose names begin with a prefix, without it."""
    return {name.removeprefix(prefix): a for name, a in arrays.items() if name.startswith(prefix)}
