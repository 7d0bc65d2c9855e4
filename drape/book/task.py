"""Tasks of the settling process, and what comes of them: what is sent between it and the server.

In: nothing. Out: the classes that are pickled on the way, in a module of their own so that both ends know them by the
same name. What is done stands in `worker`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from drape.fitting.scene import Scene

BEGUN, TOLD, FRAME, DONE, FAILED, LEFT = "begun", "told", "frame", "done", "failed", "left"  # what becomes of a task
PICTURED: Final = "pictured"  # the small picture of an entry is made


@dataclass(frozen=True)
class Shape:
    """A settled entry to start from or to show: its file, its scene, triangles [m]."""

    path: Path
    scene: Scene
    edge_length: float


@dataclass(frozen=True, eq=False)
class Task:
    """One thing to do. kind: settle, sure (several times, from scratch), mend, show or lay (an entry's shape over).

    scene: named as its files will be. folder: where they go. before: the shape it starts from, if any. text: of the
    scene file, for a mend.
    """

    kind: str
    scene: Scene
    edge_length: float
    folder: Path
    before: Shape | None = None
    text: str = ""
    tries: int = 12


@dataclass(frozen=True)
class Came:
    """What came of a task: readings as JSON has them, places of the verdicts [m], and what was found in words."""

    name: str
    readings: dict[str, Any] = field(default_factory=dict)
    places: dict[str, list[float]] = field(default_factory=dict)
    words: str = ""
    text: str = ""  # of a mended scene; empty where none is better
