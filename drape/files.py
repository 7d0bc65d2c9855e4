"""Files: the one way to name a file, and the one way to write it, whole or not at all.

Comes in: a path and what writes it. Goes out: the file in place, or what stood there before. It is written under a
passing name beside it first, so that a half-written file is never found. Names come in as well, from files and
arguments; out comes what a file may be called on every system, which is never a path.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import re
import time
import unicodedata
from collections.abc import Callable, Collection, Iterator, Sequence
from glob import escape
from pathlib import Path
from typing import Final

from drape.errors import SceneError, UnwrittenError

written: Final[list[Path]] = []  # by this process, in their order

LONGEST_NAME: Final = 100  # bytes of UTF-8: two names and what we add to them stay below the 255 that systems allow
LONGEST_WRITTEN: Final = 225  # bytes of a file's own name that leave room for what its passing name adds
SEPARATORS: Final = re.compile(r'[/\\:*?"<>|]+')
OURS: Final = re.compile(
    r"made-from|compare|mend|cut|index|((inter)?lining-)?(lay|lay-card|roll|pattern-\w+)", re.IGNORECASE
)
DEVICES: Final = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)  # names Windows keeps


def file_name(name: str) -> str:
    """What to call the files of something that is called so: one part of a path, whatever the name holds.

    No folder, no hidden file, no name that a system keeps for itself or that we give to other files; short enough for
    every ending we add. Equal for equal names; a name that may stand stays as it is, one that was too long differs from
    every other.
    """
    text = "".join(letter if letter.isprintable() else "-" for letter in SEPARATORS.sub("-", name))
    text = text.lstrip(". -").rstrip(". ")
    if len(text.encode()) > LONGEST_NAME:
        digest = hashlib.sha256(name.encode(errors="surrogatepass")).hexdigest()[:8]
        text = f"{text.encode()[: LONGEST_NAME - 9].decode(errors='ignore').rstrip('. ')}-{digest}"
    if OURS.fullmatch(text) or DEVICES.fullmatch(text):
        stem, dot, rest = text.partition(".")
        text = f"{stem}-1{dot}{rest}"
    return text or "unnamed"


def distinct_names(names: Sequence[str], *, taken: Collection[str] = ()) -> list[str]:
    """The names, a number after each that is there already: none is another, even where capitals count for nothing."""
    given = {_folded(name) for name in (*names, *taken)}
    found: list[str] = []
    seen = set(map(_folded, taken))
    for name in names:
        number, one = 1, name
        while _folded(one) in seen or (number > 1 and _folded(one) in given):
            number += 1
            one = f"{name}-{number}"
        seen.add(_folded(one))
        found.append(one)
    return found


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()


def write_whole(path: Path, write: Callable[[Path], object]) -> None:
    """Write under a passing name with the same ending, then put it in place. Raises what `write` raises;
    UnwrittenError for what the system refused.
    """
    try:
        with _passing(path) as passing:
            write(passing)
            os.replace(passing, path)
    except OSError as error:
        raise UnwrittenError(error.errno or errno.EIO, error.strerror or str(error), str(path)) from error
    written.append(path)


@contextlib.contextmanager
def _passing(path: Path) -> Iterator[Path]:
    """The name beside a path under which it is written first; what is left there goes at the end.

    What runs that were killed left of the same file goes too.
    """
    stem = path.stem if len(os.fsencode(path.name)) < LONGEST_WRITTEN else path.stem[:50]
    for left in path.parent.glob(f".{escape(stem)}.*.unfinished{escape(path.suffix)}"):
        number = left.name.removesuffix(path.suffix).split(".")[-2]
        if number.isdecimal() and not _may_run(int(number), left):
            with contextlib.suppress(OSError):
                left.unlink()
    passing = path.with_name(f".{stem}.{os.getpid()}.unfinished{path.suffix}")
    try:
        yield passing
    finally:
        with contextlib.suppress(OSError):  # where nothing can be written, nothing was
            passing.unlink(missing_ok=True)


def _may_run(process: int, left: Path) -> bool:
    """Whether the process that began a file may still be at it. Windows cannot ask: there a day is waited."""
    if os.name == "nt":
        return time.time() - left.stat().st_mtime < 86_400
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True


def write_text(path: Path, text: str) -> None:
    """Write a text whole, in UTF-8 with the same line ends everywhere."""
    write_whole(path, lambda passing: passing.write_text(text, encoding="utf-8", newline="\n"))


def write_new(path: Path, write: Callable[[Path], object]) -> None:
    """Write a file that must not be there yet. Raises SceneError."""
    try:
        with _passing(path) as passing:
            write(passing)
            try:
                os.link(passing, path)  # fails where the path is there, and is never seen half done
            except FileExistsError:
                raise
            except OSError:  # a disk that knows no links
                path.touch(exist_ok=False)
                os.replace(passing, path)
    except FileExistsError:
        raise SceneError(f"new: got {path}, which exists, allowed a new file. Give another name.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise SceneError(f"new: got {path}, cannot be written: {reason}. Give another folder.") from None
    written.append(path)


def unused(path: Path, text: str) -> Path:
    """Where a text may be written without writing over another: the path, or with a number before its ending,
    NAME-2.toml; the first that is not there yet, or holds this very text.
    """
    number, found = 1, path
    while found.exists() and not holds(found, text):
        number += 1
        found = path.with_name(f"{path.stem}-{number}{path.suffix}")
    return found


def holds(path: Path, text: str) -> bool:
    """Whether a file holds this very text, in UTF-8."""
    try:
        return path.read_bytes() == text.encode()
    except OSError:
        return False
