"""Files: the one way to write a file, whole or not at all.

Comes in: a path and what writes it. Goes out: the file in place, or what stood there before. It is written under a
passing name beside it first, so that a half-written file is never found.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from drape.errors import SceneError


def write_whole(path: Path, write: Callable[[Path], object]) -> None:
    """Write under a passing name with the same ending, then put it in place. Raises what `write` raises,
    and OSError.
    """
    passing = path.with_name(f".{path.stem}.{os.getpid()}{path.suffix}")
    try:
        write(passing)
        os.replace(passing, path)
    finally:
        passing.unlink(missing_ok=True)


def write_text(path: Path, text: str) -> None:
    """Write a text whole, in UTF-8 with the same line ends everywhere."""
    write_whole(path, lambda passing: passing.write_text(text, encoding="utf-8", newline="\n"))


def write_new(path: Path, write: Callable[[Path], object]) -> None:
    """Write a file that must not be there yet. Raises SceneError."""
    try:
        path.touch(exist_ok=False)
        try:
            write_whole(path, write)
        except BaseException:
            path.unlink()
            raise
    except FileExistsError:
        raise SceneError(f"new: got {path}, which exists, allowed a new file. Give another name.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise SceneError(f"new: got {path}, cannot be written: {reason}. Give another folder.") from None


def unused(path: Path) -> Path:
    """The path, or with a number before its ending, NAME-2.toml, the first that is not there yet."""
    number, found = 1, path
    while found.exists():
        number += 1
        found = path.with_name(f"{path.stem}-{number}{path.suffix}")
    return found
