"""The errors drape raises, one tree; `main` alone turns them into a line and an exit code.

    DrapeError
    ├── SceneError          a file or a value in it cannot be used           (exit 2)
    ├── FigureError         the tape measures do not make a body             (exit 2)
    ├── DraftError          the draft cannot be drawn as asked               (exit 2)
    ├── MeshError           the draft could not be cut into triangles        (exit 1)
    ├── SolverError
    │   ├── NotSettledError the cloth had not come to rest; evidence inside  (exit 3)
    │   └── BlewUpError     positions ceased to be numbers                   (exit 1)
    ├── PictureError        results are saved, a picture could not be drawn  (exit 1)
    ├── UnwrittenError      a file could not be written; an OSError too      (exit 1)
    └── MissingExtraError   an optional package is needed; says what to type (exit 1)

Every message is one line: where: what, got, allowed. What to try.
`OldKeyWarning` is no error: what it tells of was understood, and `main` makes it a line of its own.
"""

from __future__ import annotations

from typing import Any


class DrapeError(Exception):
    """Any failure that drape explains in one line."""


class SceneError(DrapeError):
    """A scene, body or cloth file, or a value in one, cannot be used."""


class FigureError(DrapeError):
    """The tape measures contradict each other or do not make a body."""


class DraftError(DrapeError):
    """The draft cannot be drawn as asked."""


class OldKeyWarning(FutureWarning):
    """A file says something by a key's old name. It was read all the same."""


class MeshError(DrapeError):
    """The draft could not be cut into triangles."""


class SolverError(DrapeError):
    """The cloth could not be relaxed."""


class NotSettledError(SolverError):
    """The cloth had not come to rest within the steps allowed.

    `fitting` holds the last state and its readings, stamped not settled, once
    `sit` has made them.
    """

    def __init__(self, message: str, *, fitting: Any = None) -> None:
        super().__init__(message)
        self.fitting = fitting


class BlewUpError(SolverError):
    """Positions ceased to be finite numbers."""


class PictureError(DrapeError):
    """A picture could not be drawn; the results themselves are saved."""


class UnwrittenError(DrapeError, OSError):
    """A file could not be written: its number, reason and path as of any OSError. What stood there before still does.

    It is raised by `write_whole` for what the system refused, and told with what is saved all the same.
    """

    def __str__(self) -> str:
        return f"{self.filename}: cannot be written: {self.strerror}. Make room, or give another folder with --out."


class MissingExtraError(DrapeError):
    """An optional package is needed; the message says what to type."""
