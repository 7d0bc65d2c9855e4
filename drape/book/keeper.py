"""The keeper of the book: what is open, what was typed, what is settling; commands of the page in, changes out.

In: what the page asks, and what the settling says. Out: which parts of the page have changed, and pictures to hand on.
Every change is written before it is answered. Words are left to `told`, files to `entries`, settling to `settling`.
"""

from __future__ import annotations

import asyncio
import functools
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from drape.body.figure import Figure
from drape.book import flat
from drape.book.dropped import read_of, take_file
from drape.book.entries import Entry, Folder, plain, without_header
from drape.book.errands import Errands
from drape.book.frames import LAID_OVER, MOVING, RESTING, is_moving_only
from drape.book.order import Order, with_changes, with_typed
from drape.book.said import SILENT, differences_said, without_place
from drape.book.settling import Bench
from drape.book.task import DONE, FAILED, FRAME, PICTURED, TOLD, Came, Shape, Task
from drape.book.tested import text_of_tests
from drape.book.told import PARTS
from drape.draft.outline import Draft
from drape.draft.style import dart_place
from drape.errors import DrapeError, SceneError
from drape.fitting.body_card import figure_drawing
from drape.fitting.hem_trim import is_trimmed
from drape.fitting.quality import QUALITY_EDGE_LENGTH_CM
from drape.fitting.scene import Scene, edge_length_from, load_body, shipped_bodies, shipped_cloths
from drape.fitting.sit import draft_of, figure_cut_for, figure_of
from drape.progress import to_go
from drape.reading.brief import wrong
from drape.reading.conclusion import starts_of

BETWEEN: Final = 0.2  # [s] at least, between two tellings of how far it has come
LONGEST: Final = 2_000  # letters of what is typed into one field
FIRST_TIME: Final = "; the very first time the program is made ready for this computer, which takes up to a minute"


class Keeper:
    """The book of one folder. Its commands run one at a time."""

    def __init__(self, folder: Folder, changed: Callable[[Sequence[str]], None], show: Callable[[bytes], None]) -> None:
        """changed: told which parts of the page are other now. show: handed every picture of the cloth."""
        self.folder, self.changed, self.show = folder, changed, show
        self.entries = folder.entries()
        state = folder.state()
        self.open = self._known(state.get("open")) or (self.entries[-1].number if self.entries else None)
        self.pinned = self._known(state.get("pinned"))
        self.laid: int | None = None
        self.typed: dict[str, tuple[str, str]] = {
            str(name): (str(said[0]), str(said[1])) for name, said in dict(state.get("typed", {})).items()
        }
        quality = str(state.get("quality"))
        self.quality = quality if quality in QUALITY_EDGE_LENGTH_CM else "quick"
        self.text = folder.pencil()
        self.scene: Scene | None = None
        self.draft: Draft | None = None
        self.figure: Figure | None = None
        self.sheet: flat.Sheet | None = None
        self.trouble = ""
        self.words, self.fraction, self.to_go, self.complaint, self.found_words = "opening the book", 0.0, "", "", ""
        self.told_at = 0.0
        self.is_held = False
        self.at_work: tuple[str, str, int] | None = None  # kind, text, number of the entry it will be
        self.being_sure: int | None = None  # the entry that is settled again from scratch, while it is shown at rest
        self.was_sure: set[int] = set()  # entries of which that was tried to its end
        self.waiting: Came | None = None  # what has settled while a point is held
        self.last: dict[int, bytes] = {}  # the last picture of each kind, for a page that comes later
        self.lock = asyncio.Lock()
        self.bench = Bench(self.heard)
        self.errands = Errands(folder.path, lambda: self.changed(["cloth", "worn", "entries", "order"]))
        self.figure_drawing = figure_drawing()
        self.tasks: set[asyncio.Task[None]] = set()

    # --- what is known -------------------------------------------------------------------------

    def _known(self, number: Any) -> int | None:
        return number if any(entry.number == number for entry in self.entries) else None

    def entry_of(self, number: int | None) -> Entry | None:
        return next((entry for entry in self.entries if entry.number == number), None)

    def open_entry(self) -> Entry | None:
        return self.entry_of(self.open)

    def is_as_inked(self) -> bool:
        """Whether the page in pencil says what the open entry says."""
        entry = self.open_entry()
        return entry is not None and self.text_of(entry) == self.text

    def text_of(self, entry: Entry) -> str:
        """An entry's scene, without the line that numbers it; empty where its file is gone."""
        try:
            return without_header(entry.path.read_text(encoding="utf-8"))
        except (OSError, UnicodeDecodeError):
            return ""

    def is_at_rest(self) -> bool:
        return self.at_work is None and self.is_as_inked()

    def state_word(self) -> str:
        """What the cloth is doing: settling, rest, unsettled, or waiting for an order that can be cut."""
        if self.at_work is not None:
            return "settling"
        if not self.is_as_inked():
            return "waiting"
        entry = self.open_entry()
        return "rest" if entry is not None and entry.readings.get("settled") else "unsettled"

    def picture_of(self, entry: Entry) -> str | None:
        path = self.folder.shapes / f"{entry.name}.png"
        return f"picture/{entry.number}?{path.stat().st_mtime_ns}" if path.is_file() else None

    def hem_hangs(self) -> bool:
        """Whether the hem is trimmed on the settled cloth, so that the flat one is an estimate."""
        return self.scene is not None and is_trimmed(self.scene.style, figure_of(self.scene))

    def order(self) -> Order:
        bodies = [*shipped_body_names()]
        bodies += [(name, name.removesuffix(".toml")) for name in self.folder.bodies()]
        cloths = [(name, name) for name in (*shipped_cloths(), *self.folder.cloths())]
        return Order(plain(self.text), self.scene, self.draft, self.typed, bodies, cloths)

    def errands_told(self) -> list[dict[str, Any]]:
        return self.errands.told(self.open)

    # --- opening and closing -------------------------------------------------------------------

    async def begin(self) -> None:
        """Works out the page in pencil, and settles it or shows it as it settled."""
        async with self.lock:
            self.words = f"building the figure{FIRST_TIME}"
            self.changed(["status"])
            await asyncio.to_thread(self.take_in, self.text, is_first=True)
            self.words = ""
            if self.is_as_inked():
                self.show_open()
            elif self.scene is not None:
                self.settle()
            self.changed(PARTS)

    def end(self) -> None:
        self.bench.end()
        self.errands.end()

    # --- commands ------------------------------------------------------------------------------

    async def do(self, said: Mapping[str, Any]) -> None:
        """One command of the page. Raises SceneError for one that is none."""
        command = COMMANDS.get(str(said.get("do")))
        if command is None:
            raise SceneError(f"book: got {str(said.get('do'))[:40]!r}, allowed what the page asks. Load it again.")
        async with self.lock:
            before = self.text
            await asyncio.to_thread(command, self, said)
            self.keep_state()
            if said.get("do") != "open" and self.text != before and not self._is_silent(before):
                self.settle()
            self.after(said)

    def after(self, said: Mapping[str, Any]) -> None:
        """What is set going once a command is done, on the server's own loop."""
        kind = said.get("do")
        if kind == "open":
            self.show_open()
        elif kind == "lay":
            self.show_laid()
        elif kind == "release" and self.waiting is not None:
            came, self.waiting = self.waiting, None
            self.ink(came)
        elif kind == "sure":
            self.make_sure()
        elif kind in ("mend", "settle"):
            self.settle(str(kind))
        elif kind == "cut":
            self.errands.cut(self.entry_of(self.open), said.get("width_cm"))
        elif kind == "wear":
            self.errands.wear(self.entry_of(self.open), str(said.get("how", "")), str(said.get("doing", "")))
        self.changed(PARTS)

    def _is_silent(self, before: str) -> bool:
        was, now = plain(before), plain(self.text)
        return {**was, **dict.fromkeys(SILENT)} == {**now, **dict.fromkeys(SILENT)}

    def type(self, said: Mapping[str, Any]) -> None:
        """What was typed into a field."""
        name, typed = str(said.get("name"))[:80], str(said.get("text", ""))[:LONGEST]
        self.write(name, typed)
        for other in [one for one in self.typed if one != name]:  # it may stand now
            self.write(other, self.typed[other][0], is_again=True)

    def write(self, name: str, typed: str, *, is_again: bool = False) -> None:
        try:
            text = with_typed(self.text, name, typed, self.draft)
            if text != self.text:
                self.take_in(text)
            self.typed.pop(name, None)
            self.folder.note(f"{name} = {typed or 'left out'}")
        except DrapeError as error:
            self.typed[name] = (typed, without_place(str(error), name))
            if not is_again:
                self.folder.note(f"{name} = {typed}, not taken: {error}")

    def drag(self, said: Mapping[str, Any]) -> None:
        """A handle dragged to a place of the sheet [cm]."""
        name, x, y = str(said.get("name")), said.get("x"), said.get("y")
        if self.scene is None or self.draft is None or self.figure is None:
            return
        if not isinstance(x, (int, float)) or not isinstance(y, (int, float)) or not max(abs(x), abs(y)) < 1e4:
            raise SceneError("book: got a place that is no place, allowed numbers. Drag the point again.")
        self.is_held = True
        self._set(name, flat.dragged(self.scene, self.figure, self.draft, name, (float(x), float(y))))

    def step(self, said: Mapping[str, Any]) -> None:
        """A handle moved by so many millimetres."""
        by = said.get("by")
        if self.scene is None or self.draft is None or not isinstance(by, int) or abs(by) > 1000:
            return
        self._set(str(said.get("name")), flat.stepped(self.scene, self.draft, str(said.get("name")), by))

    def _set(self, name: str, value: float | None) -> None:
        if value is not None:
            self.write(name, f"{value:.1f}")

    def release(self, _: Mapping[str, Any]) -> None:
        self.is_held = False

    def go_to(self, said: Mapping[str, Any]) -> None:
        """Another entry opened: its draft is in pencil again, its shape shown."""
        entry = self.entry_of(said.get("of"))
        if entry is None:
            raise SceneError(f"book: got entry {said.get('number')!r}, allowed one of the book. Choose another.")
        if not self.is_as_inked():
            self.folder.note("left in pencil, not tried: " + " ".join(self._changes()))
        self.open, self.typed, self.found_words, self.complaint = entry.number, {}, "", ""
        self.take_in(self.text_of(entry), is_first=True)
        self.folder.note(f"entry {entry.number} opened")

    def pin(self, said: Mapping[str, Any]) -> None:
        number = self._known(said.get("of"))
        self.pinned = None if number == self.pinned else number

    def lay(self, said: Mapping[str, Any]) -> None:
        number = self._known(said.get("of"))
        self.laid = None if number == self.laid else number

    def try_mend(self, said: Mapping[str, Any]) -> None:
        """What a verdict says to write, written."""
        entry, number = self.open_entry(), said.get("of")
        faults = wrong(entry.readings) if entry is not None and self.is_at_rest() else []
        if not isinstance(number, int) or not 0 < number <= len(faults) or self.scene is None:
            raise SceneError(f"book: got fault {number!r}, allowed one of the answer. Wait until it has settled.")
        changes = faults[number - 1].get("changes") or []
        style = self.scene.style
        try:
            self.take_in(with_changes(self.text, changes, [dart_place(style, dart) for dart in style.darts]))
            self.folder.note(f"tried what fault {number} of entry {self.open} asks for")
        except DrapeError as error:
            self.complaint = f"What fault {number} asks for cannot be cut: {error}"

    def take(self, said: Mapping[str, Any]) -> None:
        """A file of the folder, or the text of one dropped on the page."""
        text, name = said.get("text"), str(said.get("file"))[:200]
        text = read_of(self, name) if text is None else str(text)
        try:
            take_file(self, name, text)
        except DrapeError as error:
            self.complaint = f"{name}: {error}"

    def take_tests(self, said: Mapping[str, Any]) -> None:
        """Readings of table-top tests typed on the page: written as a file, of which a cloth is worked out."""
        readings, name = said.get("readings"), "-".join(str(said.get("name")).split())[:60]
        if not isinstance(readings, Mapping):
            raise SceneError("book: got no readings, allowed those of the tests. Load the page again.")
        take_file(self, f"{name}.toml", text_of_tests(str(said.get("name")), readings))

    def choose_quality(self, said: Mapping[str, Any]) -> None:
        if said.get("name") in QUALITY_EDGE_LENGTH_CM:
            self.quality = str(said.get("name"))

    def nothing(self, _: Mapping[str, Any]) -> None:
        """For commands that are done on the loop, in `after`."""

    # --- the page in pencil --------------------------------------------------------------------

    def take_in(self, text: str, *, is_first: bool = False) -> None:
        """The text from now on. Raises DrapeError where it makes no draft, and keeps the one before; not at first."""
        self.trouble = ""
        try:
            scene = self.folder.scene(text, "pencil")
            figure = figure_cut_for(scene)
            draft = draft_of(scene, figure)
        except DrapeError as error:
            if not is_first:
                raise
            self.text, self.trouble = text, str(error)
            return
        self.text, self.scene, self.figure, self.draft = text, scene, figure, draft
        known = {} if self.sheet is None or is_first else {h.name: h.along for h in self.sheet.handles}
        self.sheet = flat.sheet_of(draft, flat.handles_of(scene, figure, draft, known))
        self.folder.write_pencil(text)

    def keep_state(self) -> None:
        self.folder.write_state({
            "open": self.open, "pinned": self.pinned, "quality": self.quality,
            "typed": {name: list(said) for name, said in self.typed.items()},
        })  # fmt: skip

    def _changes(self) -> list[str]:
        entry = self.open_entry()
        if entry is None:
            return []
        return differences_said(self.order().fields(), plain(self.text_of(entry)), plain(self.text))

    # --- settling ------------------------------------------------------------------------------

    def settle(self, kind: str = "settle") -> None:
        """Sets the bench to the page in pencil; what it was at is left."""
        if self.scene is None or self.trouble:
            return
        number = max((entry.number for entry in self.entries), default=0) + 1
        scene = replace(self.scene, name=f"entry-{number}")
        self.at_work, self.waiting, self.complaint, self.found_words = (kind, self.text, number), None, "", ""
        began = "beginning" if self.told_at else f"beginning{FIRST_TIME}"
        self.words, self.fraction, self.to_go = began, 0.0, ""
        self.laid = self.being_sure = None
        length = self.edge_length()
        self.bench.want(Task(kind, scene, length, self.folder.shapes, self._shape(self.open), self.text))

    def edge_length(self) -> float:
        """Of the triangles [m]: as chosen; of quick ones the scene's own where those are larger, as for `mend`."""
        chosen = edge_length_from(QUALITY_EDGE_LENGTH_CM[self.quality])
        return max(chosen, self.scene.edge_length) if self.scene and self.quality == "quick" else chosen

    def _shape(self, number: int | None) -> Shape | None:
        """An entry to start from; None where it has no shape that can be started from."""
        entry = self.entry_of(number)
        length = entry.readings.get("edge_length_cm") if entry is not None else None
        if entry is None or length is None:
            return None
        path = self.folder.shapes / f"{entry.name}.npz"
        if not path.is_file():
            return None
        try:
            scene = self.folder.scene(self.text_of(entry), entry.name)
        except DrapeError:
            return None
        return Shape(path, scene, edge_length_from(length))

    def show_open(self) -> None:
        """The open entry's own shape on the figure; settled if it has none."""
        shape = self._shape(self.open)
        self.at_work, self.waiting, self.words, self.being_sure = None, None, "", None
        if shape is None:
            self.settle()
        else:
            self.bench.want(Task("show", shape.scene, shape.edge_length, self.folder.shapes))

    def show_laid(self) -> None:
        shape = self._shape(self.laid)
        if shape is None:
            self.laid = None
        elif self.at_work is None:
            self.being_sure = None  # gone on with, once this is shown
            self.bench.want(Task("lay", shape.scene, shape.edge_length, self.folder.shapes))

    def go_on(self) -> None:
        """What settled once is made sure of without being asked, at quick quality: `drape sit` does it likewise."""
        entry = self.open_entry()
        if entry is None or self.quality != "quick" or entry.number in self.was_sure or self.bench.is_busy:
            return
        if entry.readings.get("settled") and starts_of(entry.readings) == 1:
            self.make_sure()

    def make_sure(self) -> None:
        """Settles the open entry again from scratch, several times; meanwhile it is shown as it is."""
        entry = self.open_entry()
        length = entry.readings.get("edge_length_cm") if entry is not None else None
        if entry is None or length is None or self.scene is None or self.being_sure or not self.is_at_rest():
            return
        self.being_sure, self.words, self.fraction, self.to_go, self.complaint = entry.number, "", 0.0, "", ""
        scene = replace(self.scene, name=entry.name)
        self.bench.also(Task("sure", scene, edge_length_from(length), self.folder.shapes))
        self.changed(["status", "answer"])

    def heard(self, kind: str, value: Any) -> None:
        """What the bench says of the task that is wanted."""
        if kind == FRAME:
            self.keep_picture(value)
            self.show(value)
        elif kind == TOLD:
            self.words, self.fraction = value.words, value.fraction if value.has_share else -1.0
            self.to_go = ", ".join(to_go(value.remaining))
            if time.monotonic() - self.told_at > BETWEEN:
                self.told_at = time.monotonic()
                self.changed(["status"])
        elif kind == DONE:
            self._later(self.came(value))
        elif kind == FAILED:
            if self.being_sure is not None:
                self.was_sure.add(self.being_sure)
            self.at_work, self.being_sure, self.complaint = None, None, str(value)
            self.changed(PARTS)
        elif kind == PICTURED:
            self.changed(["entries", "sheet"])
            self.go_on()

    def keep_picture(self, picture: bytes) -> None:
        """Keeps what a page that comes later has to be shown: the figure, and the cloth as it was last sent whole."""
        if is_moving_only(picture):
            return
        kind = picture[0]
        if kind in (MOVING, RESTING):
            for other in (MOVING, RESTING, LAID_OVER):
                self.last.pop(other, None)
        self.last[kind] = picture

    def _later(self, doing: Any) -> None:
        task = asyncio.get_running_loop().create_task(doing)
        self.tasks.add(task)
        task.add_done_callback(self.tasks.discard)

    async def came(self, came: Came) -> None:
        """What came of a task."""
        async with self.lock:
            if self.at_work is None:  # an entry was shown, or made sure of
                self.take_readings(came)
            elif self.bench.is_busy:
                return  # something newer is wanted
            elif self.at_work[0] == "mend":
                self.mended(came)
            elif self.is_held:
                self.waiting = came
                self.words = "at rest; let go of the point to write it in"
            else:
                self.ink(came)
            self.changed(PARTS)

    def take_readings(self, came: Came) -> None:
        """What was found of an entry that is written in already."""
        entry = next((one for one in self.entries if one.name == came.name), None)
        if entry is not None and came.readings:
            entry.readings, entry.places = dict(came.readings), came.places
            if entry.number == self.being_sure:
                self.being_sure, self.words = None, ""
                self.was_sure.add(entry.number)
                self.folder.note(f"entry {entry.number} settled {starts_of(entry.readings)} times")
        self.go_on()

    def mended(self, came: Came) -> None:
        """A better draft was searched for."""
        self.at_work = None
        words = came.words
        if came.text:
            self.take_in(without_header(came.text))
            self.settle()
        self.found_words = words

    def ink(self, came: Came) -> None:
        """What has settled, written in as the next entry."""
        if self.at_work is None:
            return
        _, _, number = self.at_work
        self.at_work = None
        before = self.open_entry()
        said = "; ".join(self._changes())
        line = f"From entry {before.number}: {said or 'nothing but its words'}." if before is not None else "The first."
        path = self.folder.ink(number, self.text, line)
        self.entries.append(
            Entry(number, path, line, before.number if before is not None else None, dict(came.readings), came.places)
        )
        self.open, self.words = number, ""
        self.keep_state()
        self.folder.note(f"entry {number} written in. {line}")


@functools.cache
def shipped_body_names() -> tuple[tuple[str, str], ...]:
    """The shipped bodies: what a scene calls each, and its name."""
    return tuple((name, load_body(name).name) for name in shipped_bodies())


COMMANDS: Final[Mapping[str, Callable[[Keeper, Mapping[str, Any]], None]]] = {
    "type": Keeper.type, "drag": Keeper.drag, "step": Keeper.step, "release": Keeper.release, "open": Keeper.go_to,
    "pin": Keeper.pin, "lay": Keeper.lay, "try": Keeper.try_mend, "take": Keeper.take, "tests": Keeper.take_tests,
    "quality": Keeper.choose_quality, "sure": Keeper.nothing, "mend": Keeper.nothing, "settle": Keeper.nothing,
    "cut": Keeper.nothing, "wear": Keeper.nothing,
}  # fmt: skip
