"""The process that settles for the book: tasks in, pictures of the moving cloth and what came of it out.

In, on standard input: tasks, each with a number, and numbers of tasks to be left. Out, on standard output: how far it
has come, where the cloth is, and at the end what it came to, saved. Both are pickled, as in `settling_process`. It
keeps the last shapes, so that a changed draft starts from the one before. Which task is wanted is left to `settling`.
"""

from __future__ import annotations

import contextlib
import functools
import os
import queue
import sys
import threading
import time
import traceback
from collections import OrderedDict
from dataclasses import replace
from pathlib import Path
from typing import IO, Any, Final

from drape.arrays import Ints
from drape.book.frames import FIGURE, LAID_OVER, MOVING, RESTING, frame, rims
from drape.book.small_picture import write_small_picture
from drape.book.task import BEGUN, DONE, FAILED, FRAME, LEFT, PICTURED, TOLD, Came, Shape, Task
from drape.draft.cloak import with_meshed_dags
from drape.errors import DrapeError, MeshError, NotSettledError, SceneError
from drape.files import write_text, write_whole
from drape.fitting.ensemble import Runs, plan_of, settle_runs
from drape.fitting.mend import mend, mended_text, mended_words
from drape.fitting.quality import starts_of
from drape.fitting.scene import Scene
from drape.fitting.settling_process import send, take_in
from drape.fitting.side_by_side import Crew, costs_of
from drape.fitting.sit import draft_of, figure_cut_for, figure_of, sit
from drape.picture.surfaces import drawn_cloth
from drape.progress import Progress, Tell
from drape.reading.places import place_of
from drape.reading.result import Fitting, load_fitting, save_fitting
from drape.reading.table import json_text

KEPT: Final = 12  # shapes remembered
IDLE: Final = 1.0  # [s] without a task, after which a small picture is made
BETWEEN: Final = 0.04  # [s] at least, between two pictures
DRAWN: Final = 0.02  # [m] triangles of a cloth at rest, as it is drawn


class _LeftError(Exception):
    """Nobody wants the task any more."""


class _Hand:
    """Tasks one after another, while a thread listens."""

    def __init__(self, tasks: IO[bytes], answers: IO[bytes]) -> None:
        self.tasks, self.answers = tasks, answers
        self.waiting: queue.SimpleQueue[tuple[int, Task]] = queue.SimpleQueue()
        self.left: set[int] = set()
        self.shapes: OrderedDict[str, Fitting] = OrderedDict()
        self.number, self.shown_at = 0, 0.0
        self.triangles: Ints | None = None
        self.is_shown = True  # whether the cloth is seen as it settles
        self.still_to_draw: Fitting | None = None
        self.figure: tuple[Any, ...] = ()  # the one last shown
        self.pictures: list[tuple[Fitting, Path]] = []  # still to be made, when nothing else is to be done

    def listen(self) -> None:
        """Takes in tasks."""
        take_in(self.tasks, self.waiting, self.left)

    def work(self) -> None:
        while True:
            self.number, task = self.next_task()
            self.triangles, self.shown_at, self.is_shown = None, 0.0, True
            self.still_to_draw = None
            self.say(*self.outcome(task))
            if self.still_to_draw is not None and self.waiting.empty():
                self.draw(self.still_to_draw, RESTING)

    def next_task(self) -> tuple[int, Task]:
        """The next task; where none comes for a while, small pictures are made meanwhile."""
        while True:
            try:
                return self.waiting.get(timeout=IDLE if self.pictures else None)
            except queue.Empty:
                self.make_picture()

    def make_picture(self) -> None:
        if self.pictures:
            fitting, path = self.pictures.pop(0)
            write_whole(path, functools.partial(write_small_picture, fitting))
            self.say(PICTURED, path.stem)

    def say(self, kind: str, value: Any) -> None:
        send(self.answers, (self.number, kind, value))

    def outcome(self, task: Task) -> tuple[str, Any]:
        """What becomes of a task."""
        try:
            if self.number in self.left:
                raise _LeftError
            self.say(BEGUN, task.kind)
            return DONE, getattr(self, task.kind)(task)
        except _LeftError:
            return LEFT, None
        except DrapeError as error:
            return FAILED, str(error)
        except Exception as error:
            traceback.print_exc()
            return FAILED, f"book: the settling stopped: {type(error).__name__}: {error}. What is written is kept."

    # --- what may be asked -------------------------------------------------------------------

    def settle(self, task: Task) -> Came:
        """Settled once, from the shape before where that can be, else from scratch."""
        before = self.start_of(task)
        self.show_figure(task.scene)
        try:
            fitting = self.from_shape(task, before) if before is not None else None
            if fitting is None:
                fitting = sit(task.scene, edge_length=task.edge_length, progress=self.tell)
        except NotSettledError as error:
            if error.fitting is None:
                raise
            fitting = error.fitting
        return self.finished(task, fitting)

    def from_shape(self, task: Task, before: Fitting) -> Fitting | None:
        """Settled from a shape; None where the draft has changed too much for that."""
        with contextlib.suppress(MeshError, SceneError):
            return sit(task.scene, edge_length=task.edge_length, before=before, progress=self.tell)
        return None

    def sure(self, task: Task) -> Came:
        """Settled from scratch until it is certain whether it sits, as `drape sit --quality quick` does; not shown."""
        self.is_shown = False
        plan = plan_of(task.scene, Runs(task.edge_length, 0, starts_of("quick", None), 1, True))
        with Crew(1, costs_of(plan.jobs), possible=plan.possible, tell=self.tell) as crew:
            return self.finished(task, settle_runs(crew, plan))

    def mend(self, task: Task) -> Came:
        """Searched for a better draft, as `drape mend` does."""
        mended = mend(
            task.scene, edge_length=task.edge_length, tries=task.tries, name=lambda _: task.scene.name,
            progress=self.tell, tell=self.remark,
        )  # fmt: skip
        text = mended_text(task.text, mended, task.scene.name) if mended.is_better else ""
        return Came(task.scene.name, words=mended_words(mended, "", task.scene.name), text=text)

    def show(self, task: Task) -> Came:
        """An entry's own shape shown again."""
        fitting = self.shape_of(Shape(task.folder / f"{task.scene.name}.npz", task.scene, task.edge_length))
        self.show_figure(task.scene)
        self.draw(fitting, RESTING)
        return Came(task.scene.name, dict(fitting.readings), places_of(fitting))

    def lay(self, task: Task) -> Came:
        """An entry's shape, to be laid over another."""
        fitting = self.shape_of(Shape(task.folder / f"{task.scene.name}.npz", task.scene, task.edge_length))
        self.draw(fitting, LAID_OVER)
        return Came(task.scene.name)

    # --- how -----------------------------------------------------------------------------------

    def start_of(self, task: Task) -> Fitting | None:
        """The shape to start from with its draft; None where there is none of the same figure and triangles."""
        before = task.before
        if (
            before is None
            or before.edge_length != task.edge_length
            or figure_key(before.scene) != figure_key(task.scene)
        ):
            return None
        with contextlib.suppress(DrapeError, OSError):
            fitting = self.shape_of(before)
            if fitting.draft is None and fitting.readings.get("settled"):
                whole = draft_of(before.scene, figure_cut_for(before.scene), trim=fitting.trim)
                fitting = replace(fitting, draft=with_meshed_dags(whole, before.edge_length))
            return fitting if fitting.readings.get("settled") else None
        return None

    def shape_of(self, shape: Shape) -> Fitting:
        """A shape as it is remembered, or from its file."""
        name = shape.path.stem
        if name not in self.shapes:
            self.remember(name, load_fitting(shape.path))
        self.shapes.move_to_end(name)
        return self.shapes[name]

    def remember(self, name: str, fitting: Fitting) -> None:
        self.shapes[name] = fitting
        while len(self.shapes) > KEPT:
            self.shapes.popitem(last=False)

    def finished(self, task: Task, fitting: Fitting) -> Came:
        """What settled, saved, remembered and drawn."""
        if self.number in self.left:
            raise _LeftError
        task.folder.mkdir(parents=True, exist_ok=True)
        save_fitting(fitting, task.folder)
        write_text(task.folder / f"{fitting.name}.json", json_text(fitting.readings))
        self.pictures.append((fitting, task.folder / f"{fitting.name}.png"))
        self.remember(fitting.name, fitting)
        self.still_to_draw = fitting  # the readings go first
        return Came(fitting.name, dict(fitting.readings), places_of(fitting))

    def show_figure(self, scene: Scene) -> None:
        """The mannequin, where it is another than the one last shown."""
        key = figure_key(scene)
        if key != self.figure:
            self.figure = key
            figure = figure_of(scene)
            self.say(FRAME, frame(FIGURE, 0, figure.vertices, figure.triangles))

    def draw(self, fitting: Fitting, kind: int) -> None:
        drawn = drawn_cloth(fitting, edge=DRAWN)
        self.say(FRAME, frame(kind, self.number, drawn.points, drawn.triangles, rims(drawn.triangles)))

    @property
    def tell(self) -> Tell:
        """Tells how far it has come and where the cloth is; ends the task when nobody wants it."""

        def told(progress: Progress) -> None:
            if self.number in self.left:
                raise _LeftError
            now = time.perf_counter()
            if now - self.shown_at < BETWEEN:
                return
            self.shown_at = now
            self.say(TOLD, replace(progress, shape=None))
            if progress.shape is not None and self.is_shown:
                self.show_moving(*progress.shape)

        return told

    def show_moving(self, points: Any, triangles: Ints) -> None:
        is_new = self.triangles is not triangles
        self.triangles = triangles
        with_mesh = (triangles, rims(triangles)) if is_new else (None, None)
        self.say(FRAME, frame(MOVING, self.number, points, *with_mesh))

    def remark(self, words: str) -> None:
        self.say(TOLD, Progress("mend", 0.0, words, has_share=False))


def figure_key(scene: Scene) -> tuple[Any, ...]:
    """What makes a figure: two scenes with the same are worn by the same."""
    worn = (dict(scene.tape), dict(scene.worn_under), scene.cut_for)
    return (scene.sex, worn, scene.stance, scene.arms)


def places_of(fitting: Fitting) -> dict[str, list[float]]:
    """Where each reading that is wrong was taken [m], by its key."""
    keys = [str(verdict["reading"]) for verdict in fitting.verdicts if verdict.get("harm")]
    found = {key: place_of(fitting, key) for key in keys}
    return {key: [round(float(c), 4) for c in place] for key, place in found.items() if place is not None}


def serve() -> None:
    """Does what standard input asks for; what a library prints goes to the error stream, not among the answers."""
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    hand = _Hand(sys.stdin.buffer, answers)
    threading.Thread(target=hand.listen, daemon=True).start()
    hand.work()


if __name__ == "__main__":
    serve()
