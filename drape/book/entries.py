"""Entries: the numbered scene files of a folder, the one in pencil, and what has been found of each.

In: a folder. Out: its entries in their order, and files written so that nothing is lost: an entry once written is never
written again, the page in pencil is written whole at every change, and a day book gets a line for each.
"""

from __future__ import annotations

import json
import re
import time
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

import tomlkit

from drape.errors import SceneError
from drape.files import write_new, write_text
from drape.fitting.scene import Scene, kind_of, load_scene, shipped_folder
from drape.reading.damage import damage_of_readings
from drape.schema import LARGEST_FILE, read_toml

PENCIL, STATE, DAY_BOOK, SHAPES = "pencil.toml", "book.json", "day-book.txt", "settled"
FIRST: Final = "ferry-warden-tailored"  # what lies ready on the first visit
NAME: Final = re.compile(r"entry-(\d{1,6})\.toml")
HEADER: Final = re.compile(r"\A# Entry \d+ of the job book\.(?: (?P<told>[^\n]*))?\n")
FROM: Final = re.compile(r"From entry (\d+)[.:]")
NAMED_FILES: Final = (
    ("figure", "body"), ("cloth", "cloth"), ("lining", "cloth"), ("interlining", "cloth"), ("draft", "cut_for"),
)  # fmt: skip


@dataclass
class Entry:
    """One tried draft. told: where it came from and what was changed. readings: empty until they are there."""

    number: int
    path: Path
    told: str = ""
    before: int | None = None
    readings: dict[str, Any] = field(default_factory=dict)
    places: dict[str, list[float]] = field(default_factory=dict)

    @property
    def name(self) -> str:
        return self.path.stem


class Folder:
    """A folder with a job book in it."""

    def __init__(self, path: Path) -> None:
        self.path = path.resolve()
        try:
            self.path.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise SceneError(f"book: got {path}, cannot be opened: {error.strerror}. Give another folder.") from None
        self.kinds: dict[tuple[Path, int], str] = {}
        self.shapes = self.path / SHAPES
        self.pencil_path = self.path / PENCIL

    def entries(self) -> list[Entry]:
        """The entries in the order of their numbers."""
        found = [
            (int(match[1]), path) for path in self.path.iterdir()
            if (match := NAME.fullmatch(path.name)) and path.is_file()
        ]  # fmt: skip
        return [self.entry(number, path) for number, path in sorted(found)]

    def entry(self, number: int, path: Path) -> Entry:
        """An entry as its file and its results tell it."""
        try:
            header = HEADER.match(path.read_text(encoding="utf-8", errors="replace"))
        except OSError:  # may not be read: the entry stays, and says so when it is opened
            header = None
        told = (header["told"] or "") if header else ""
        before = FROM.search(told)
        readings, places = self.readings_of(path.stem)
        return Entry(number, path, told, int(before[1]) if before else None, readings, places)

    def readings_of(self, name: str) -> tuple[dict[str, Any], dict[str, list[float]]]:
        """What was found of an entry, as `drape sit --json` tells it; empty where nothing was, or it is damaged."""
        try:
            found = json.loads((self.shapes / f"{name}.json").read_text(encoding="utf-8"))
        except (OSError, ValueError, RecursionError):
            return {}, {}
        return ({} if damage_of_readings(found) else found), {}

    def other_scenes(self) -> list[str]:
        """Scene files in the folder that are no entries of the book."""
        return sorted(
            path.name for path in self.path.glob("*.toml")
            if not NAME.fullmatch(path.name) and path.name != PENCIL and self.kind_of(path) == "scene"
        )  # fmt: skip

    def bodies(self) -> list[str]:
        """Body files in the folder."""
        return sorted(path.name for path in self.path.glob("*.toml") if self.kind_of(path) == "body")

    def cloths(self) -> list[str]:
        """Cloth files, as `drape cloth` writes them, in the folder or in one of its own."""
        found = [*self.path.glob("*.toml"), *self.path.glob("*-cloth/*-cloth.toml")]
        return sorted(path.relative_to(self.path).as_posix() for path in found if self.kind_of(path) == "cloth")

    def kind_of(self, path: Path) -> str:
        """What a file is, as it stands now."""
        try:
            stamp = (path, path.stat().st_mtime_ns)
        except OSError:
            return ""
        if stamp not in self.kinds:
            self.kinds[stamp] = self._read_kind(path)
        return self.kinds[stamp]

    def _read_kind(self, path: Path) -> str:
        try:
            return _kind(read_toml(path, path.name))
        except SceneError:
            return ""

    def kind_of_text(self, text: str) -> str:
        """What a file with this text is. Raises SceneError for one that is no TOML."""
        return _kind(plain(text))

    def pencil(self) -> str:
        """The text of the page in pencil; on the first visit the order that lies ready. Raises SceneError."""
        if not self.pencil_path.exists():
            entries = self.entries()
            source = entries[-1].path if entries else shipped_folder("scene") / f"{FIRST}.toml"
            self.write_pencil(without_header(_text_of(source)))
        return _text_of(self.pencil_path)

    def write_pencil(self, text: str) -> None:
        write_text(self.pencil_path, text)

    def note(self, line: str) -> None:
        """A line in the day book."""
        with open(self.path / DAY_BOOK, "a", encoding="utf-8") as book:
            book.write(f"{time.strftime('%Y-%m-%d %H:%M:%S')}  {' '.join(line.split())}\n")

    def ink(self, number: int, text: str, told: str) -> Path:
        """A new entry's file. Raises SceneError where there is one of that number."""
        path = self.path / f"entry-{number}.toml"
        whole = f"# Entry {number} of the job book. {' '.join(told.split())}".rstrip() + f"\n{text}"
        write_new(path, lambda new: new.write_text(whole, encoding="utf-8", newline="\n"))
        return path

    def scene(self, text: str, name: str) -> Scene:
        """The scene that a text makes in this folder, under a name. Raises DrapeError, without the file's path."""
        if len(text.encode()) > LARGEST_FILE:
            raise SceneError(
                f"scene: got more than {LARGEST_FILE} bytes, allowed {LARGEST_FILE}. Is it the right file?"
            )
        passing = self.path / f".{name}.trying.toml"
        try:
            write_text(passing, text)
            self.refuse_outside(read_toml(passing, name))
            return _named(load_scene(passing), name)
        except SceneError as error:
            raise SceneError(str(error).replace(f"{passing}, ", "").replace(str(passing), "scene")) from None
        finally:
            passing.unlink(missing_ok=True)

    def refuse_outside(self, document: dict[str, Any]) -> None:
        """Refuse a scene that names a file outside the folder. Raises SceneError."""
        for table, key in NAMED_FILES:
            value = document.get(table, {}).get(key) if isinstance(document.get(table), dict) else None
            if isinstance(value, str) and (Path(value).is_absolute() or "/" in value or "\\" in value or "." in value):
                if not (self.path / value).resolve().is_relative_to(self.path):
                    raise SceneError(f"{table}.{key}: got {value!r}, allowed files of this folder. Copy it here first.")

    def state(self) -> dict[str, Any]:
        """What the page remembers beside the entries: which is open, pinned, laid over, what was typed in vain."""
        try:
            state = dict(json.loads((self.path / STATE).read_text(encoding="utf-8")))
        except (OSError, ValueError, TypeError, RecursionError):
            return {}
        typed = state.get("typed", {})
        if not isinstance(typed, dict) or any(type(said) is not list or len(said) != 2 for said in typed.values()):
            del state["typed"]
        return state

    def write_state(self, state: dict[str, Any]) -> None:
        write_text(self.path / STATE, json.dumps(state, ensure_ascii=False, indent=1))


def _text_of(path: Path) -> str:
    """A scene file's text. Raises SceneError where it cannot be read."""
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        what = "allowed text in UTF-8"
    except OSError as error:
        what = f"cannot be read: {error.strerror}"
    raise SceneError(f"book: got {path}, {what}. Move it out of the folder; the other entries stay.")


def _named(scene: Scene, name: str) -> Scene:
    return replace(scene, name=name)


def _kind(document: dict[str, Any]) -> str:
    """Scene, body, tests, or cloth; empty where no table says."""
    kind = kind_of(document)
    return "cloth" if not kind and "cloth" in document and "figure" not in document else kind


def without_header(text: str) -> str:
    """A scene's text without the line that numbers it as an entry."""
    return HEADER.sub("", text.lstrip("\ufeff"), count=1)


def plain(text: str) -> dict[str, Any]:
    """The tables of a scene's text. Raises SceneError."""
    try:
        return tomlkit.parse(text).unwrap()
    except Exception as error:
        raise SceneError(f"scene: not TOML: {error}. Take an entry of the book to start from.") from None
