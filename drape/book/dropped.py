"""Files put into the book: a file of the folder, or one dropped on the page, taken by what it is.

In: the keeper, a name, a text. Out: a scene is taken in pencil; a body or a cloth is copied into the folder and chosen
in the order; of a line drawing a draft is made, of table-top tests a cloth, each by an errand.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from drape.book.entries import plain, without_header
from drape.errors import SceneError
from drape.files import file_name, unused, write_new

if TYPE_CHECKING:
    from drape.book.keeper import Keeper

DRAWINGS: Final = (".svg", ".dxf")


def read_of(keeper: Keeper, name: str) -> str:
    """The text of a scene that lies in the folder, or that an errand made. Raises SceneError."""
    out, _, own = name.rpartition("/")
    path = keeper.errands.file(out, own) if out else keeper.folder.path / name
    if path is None or (not out and name not in keeper.folder.other_scenes()):
        raise SceneError(f"book: got {name!r}, allowed a scene file of the folder. Choose another.")
    return path.read_text(encoding="utf-8-sig")


def take_file(keeper: Keeper, name: str, text: str) -> None:
    """What a file's text says, taken in. Raises DrapeError where it says nothing that can be used."""
    ending = Path(name).suffix.lower()
    kind = "drawing" if ending in DRAWINGS else keeper.folder.kind_of_text(text)
    if kind == "scene":
        keeper.take_in(without_header(text))
        keeper.typed = {}
        keeper.folder.note(f"taken from {name}")
        return
    if kind not in ("drawing", "tests", "body", "cloth"):
        raise SceneError("got no file that drape knows, allowed a scene, a body, a cloth, its tests, or a drawing.")
    if kind == "cloth" and "/" in name and keeper.errands.file(*name.split("/", 1)) is not None:
        keeper.write("cloth.cloth", name)  # worked out here, so it lies in the folder already
        return
    path = unused(keeper.folder.path / f"{file_name(Path(name).stem)}{ending if kind == 'drawing' else '.toml'}", text)
    if not path.exists():
        write_new(path, lambda new: new.write_text(text, encoding="utf-8", newline="\n"))
    keeper.folder.note(f"{path.name} put into the folder")
    if kind == "drawing":
        keeper.errands.trace(path, str(plain(keeper.text).get("figure", {}).get("body", "")))
    elif kind == "tests":
        keeper.errands.work_out_cloth(path)
    else:
        keeper.write("figure.body" if kind == "body" else "cloth.cloth", path.name)
