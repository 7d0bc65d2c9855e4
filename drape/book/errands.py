"""Errands: what the book has the command line do for it, each as a process of its own in the folder.

In: an entry and what is asked, cloth cut or ways of wearing. Out: how each errand stands, and the files it wrote. The
files lie in the folder as if the maker had typed the command.
"""

from __future__ import annotations

import re
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from drape.book.entries import Entry
from drape.drawing_process import own_environment
from drape.errors import SceneError
from drape.files import file_name
from drape.fitting.quality import DOINGS, HOWS
from drape.fitting.scene import width_from

SHOWN: Final = (".pdf", ".svg", ".png", ".html", ".txt", ".toml", ".json", ".dxf", ".plt", ".csv", ".gif", ".glb")
TOLD_IN: Final = ("-wear.txt", "cut.txt", "-cloth.txt")
OF_AN_ENTRY: Final = re.compile(r"entry-(?P<number>\d{1,6})-(?P<kind>cut|wear)-(?P<rest>[\w.-]+)")
LONGEST: Final = 2_000  # letters of what an errand said last


@dataclass
class Errand:
    """One command under way or done. files: by name, below the folder."""

    kind: str
    words: str
    out: str
    entry: int | None  # None: of the whole book
    process: subprocess.Popen[str] | None = None
    said: str = ""
    files: list[str] = field(default_factory=list)
    text: str = ""  # what it told
    state: str = "under way"


class Errands:
    """The errands of one folder."""

    def __init__(self, folder: Path, changed: Callable[[], None]) -> None:
        """changed: told, from another thread, when an errand has ended."""
        self.folder, self.changed = folder, changed
        self.every = sorted(self._done_before(), key=lambda errand: errand.out)

    def _done_before(self) -> Iterator[Errand]:
        """Errands of an earlier day whose files lie in the folder."""
        for place in self.folder.iterdir():
            match = OF_AN_ENTRY.fullmatch(place.name)
            if match and place.is_dir():
                kind, rest = match["kind"], match["rest"].replace("-", " ")
                words = f"cut from cloth {rest.replace('cm', ' cm')} wide" if kind == "cut" else f"worn {rest}"
                errand = Errand(kind, words, place.name, int(match["number"]), state="done")
                self._take_in(errand)
                if errand.text:
                    yield errand

    def _take_in(self, errand: Errand) -> None:
        """The files an errand wrote, and what it told."""
        place = self.folder / errand.out
        errand.files = sorted(path.name for path in place.iterdir() if path.suffix in SHOWN)
        texts = [place / name for name in errand.files if name.endswith(TOLD_IN)]
        errand.text = texts[0].read_text(encoding="utf-8", errors="replace") if texts else ""

    def told(self, entry: int | None) -> list[dict[str, Any]]:
        """How each errand of an entry stands."""
        return [
            {"kind": one.kind, "words": one.words, "state": one.state, "said": one.said, "files": one.files,
             "text": one.text, "out": one.out}
            for one in reversed(self.every) if one.entry in (entry, None)
        ]  # fmt: skip

    def cut(self, entry: Entry | None, width_cm: Any) -> None:
        """Cuts an entry from cloth of a width. Raises SceneError."""
        if entry is None:
            raise SceneError("book: nothing is written in yet. Wait until it has settled.")
        try:
            width = width_from(float(str(width_cm).replace(",", ".")))
        except ValueError:
            raise SceneError(f"width_cm: got {width_cm!r}, allowed a number, in cm. Write 140.") from None
        wide = f"{100 * width:g}"
        out = f"{entry.name}-cut-{wide}cm"
        self.send(entry, f"cut from cloth {wide} cm wide", out, ["cut", entry.path.name, "--width-cm", wide])

    def wear(self, entry: Entry | None, how: str, doing: str) -> None:
        """Wears an entry in one way, or in all where none is named, and moves about in it. Raises SceneError."""
        if entry is None:
            raise SceneError("book: nothing is written in yet. Wait until it has settled.")
        if how not in ("", *HOWS) or doing not in ("", *DOINGS):
            raise SceneError(f"book: got {how!r} and {doing!r}, allowed the ways and moves of the list. Choose again.")
        words = f"worn {how or 'in every way'}" + (f", with a {doing}" if doing else "")
        out = file_name(
            f"{entry.name}-wear-{how or 'all'}{f'-{doing}' if doing else ''}".replace(",", "").replace(" ", "-")
        )
        asked = [*(("--how", how) if how else ()), *(("--doing", doing) if doing else ())]
        self.send(entry, words, out, ["wear", entry.path.name, "--quality", "quick", *asked])

    def trace(self, drawing: Path, body: str) -> None:
        """Makes a scene of a line drawing that lies in the folder."""
        arguments = ["trace", drawing.name, *(("--body", body) if body else ())]
        self.send(None, f"a draft made of {drawing.name}", f"{drawing.stem}-trace", arguments)

    def work_out_cloth(self, tests: Path) -> None:
        """Works out a cloth from a file of table-top tests that lies in the folder."""
        self.send(None, f"the cloth of {tests.name}", f"{tests.stem}-cloth", ["cloth", tests.name])

    def send(self, entry: Entry | None, words: str, out: str, arguments: list[str]) -> None:
        """One command sent off, unless the same is under way."""
        if any(one.out == out and one.state == "under way" for one in self.every):
            return
        errand = Errand(arguments[0], words, out, None if entry is None else entry.number)
        self.every = [one for one in self.every if one.out != out] + [errand]
        errand.process = subprocess.Popen(
            [sys.executable, "-m", "drape", *arguments, "--out", out, "--json"], cwd=self.folder, text=True,
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=own_environment(),
        )  # fmt: skip
        threading.Thread(target=self._wait, args=(errand, errand.process), daemon=True).start()

    def _wait(self, errand: Errand, process: subprocess.Popen[str]) -> None:
        _, complaint = process.communicate()
        lines = [line for line in complaint.splitlines() if line.strip()]
        errand.said = (lines[-1] if lines else "")[:LONGEST]
        errand.state = "done" if process.returncode == 0 else "not done"
        if process.returncode == 0:
            place = self.folder / errand.out
            if errand.kind == "wear":
                command = [sys.executable, "-m", "drape.book.small_picture", str(place)]
                errand.process = subprocess.Popen(command, env=own_environment(), stdin=subprocess.DEVNULL, text=True)
                errand.process.communicate()
            self._take_in(errand)
        self.changed()

    def file(self, out: str, name: str) -> Path | None:
        """A file that an errand wrote; None where there is none such."""
        known = any(one.out == out and name in one.files for one in self.every)
        path = (self.folder / out / name).resolve()
        return path if known and path.is_file() and path.is_relative_to(self.folder) else None

    def end(self) -> None:
        for one in self.every:
            if one.process is not None and one.process.poll() is None:
                one.process.kill()
