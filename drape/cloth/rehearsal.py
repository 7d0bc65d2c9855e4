"""Rehearsal: all inner loops that settling calls, compiled before they are called for good, and kept.

In: nothing. Out: loops compiled, and numba's files of them, for this process and those after it. Each is called
once on next to nothing, so that it is compiled for the very types it will meet. Two processes share the work: this
one rehearses a scrap of cloth; another, started when the first loop turns out not to be there yet, builds a mannequin.
"""

from __future__ import annotations

import contextlib
import functools
import gc
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from numba.core import event
from numba.core.dispatcher import Dispatcher

from drape.body.figure import build_figure
from drape.cache import content_key
from drape.cloth.body_contact import touch_of
from drape.cloth.mesh import Mesh
from drape.cloth.relaxation import Relaxation, nowhere
from drape.cloth.self_contact import crossing_count, weave
from drape.cloth.sheet import Cloth, pull_membrane, sew
from drape.cloth.stepping import relax_steps
from drape.drawing_process import end_with_parent, own_environment
from drape.files import write_text
from drape.progress import tell_compiled
from drape.ray import first_crossing

SCRAP = Cloth("scrap", 0.5, 0.002, 0.03, 0.03, 1000.0, 1000.0, 100.0, 0.3, 0.4, 0.3)
BODY = {"stature": 1.75, "chest_girth": 1.0, "waist_girth": 0.85, "hip_girth": 1.0}  # [m]


@functools.cache
def compile_kernels() -> None:
    """Compiles every inner loop that settling calls, unless that is known to be done; the bar tells how many are.

    A note beside what is compiled says for which program that was done.
    """
    folder = relax_steps.stats.cache_path
    note, program = Path(folder or os.devnull) / "compiled-for.txt", content_key("kernels")
    with contextlib.suppress(OSError):
        if note.read_text(encoding="utf-8") == program:
            return
    names: set[str] = set()  # of what has been compiled, here or in the other process
    total = sum(map(len, kernels().values()))

    def compiled(name: str) -> None:
        names.add(name)
        tell_compiled((min(len(names), total), total))

    with contextlib.ExitStack() as until_done:
        until_done.callback(tell_compiled, None)
        other = until_done.enter_context(_Other(compiled))
        with heard(compiled, first=other.start):
            rehearse_cloth()
        other.wait()
    if folder is not None:  # what is compiled is kept
        with contextlib.suppress(OSError):
            write_text(note, program)


def kernels() -> dict[str, list[Dispatcher]]:
    """The compiled loops of every module of ours that is loaded, less those that are only ever copied into others."""
    found: dict[str, list[Dispatcher]] = {}
    for name, module in sorted(sys.modules.items()):
        if name.startswith("drape."):
            found[name] = [
                one
                for one in vars(module).values()
                if isinstance(one, Dispatcher) and one.py_func.__module__ == name and "inline" not in one.targetoptions
            ]
    return found


def rehearse_cloth() -> None:
    """A scrap of cloth takes a step and is looked over."""
    side = np.arange(4) * 0.03
    flat = np.stack(np.meshgrid(side, side, indexing="ij"), axis=2).reshape(-1, 2)
    low = (4 * np.arange(3)[:, None] + np.arange(3)).ravel()
    triangles = np.concatenate([np.stack([low, low + 4, low + 5], axis=1), np.stack([low, low + 5, low + 1], axis=1)])
    sheet = sew(Mesh(flat, triangles, {}, np.empty((0, 2), dtype=np.int64)), SCRAP)
    run = Relaxation(sheet, np.c_[flat, np.zeros(len(flat))], touch_of(SCRAP), field=nowhere())
    run.advance(1)
    crossing_count(weave(triangles), run.x)
    pull_membrane(sheet, run.x, np.zeros_like(run.x))
    first_crossing(run.x, np.ones_like(run.x), run.x[triangles])


@contextlib.contextmanager
def heard(compiled: Callable[[str], object], first: Callable[[], object] = lambda: None) -> Iterator[None]:
    """While it is open: `first` is called before a loop is compiled, `compiled` with the name of each of ours that was.

    Python's search for garbage is put off: it would take a tenth of the time and find next to nothing.
    """

    class Watch(event.Listener):
        def on_start(self, event: event.Event) -> None:
            first()

        def on_end(self, event: event.Event) -> None:
            function = event.data["dispatcher"].py_func
            if function.__module__.startswith("drape."):
                compiled(f"{function.__module__}.{function.__qualname__}")

    was_on = gc.isenabled()
    gc.disable()
    try:
        with event.install_listener("numba:compile", Watch()):
            yield
    finally:
        if was_on:
            gc.enable()


class _Other:
    """The process that builds a mannequin meanwhile, once it is started. It ends with the `with`."""

    def __init__(self, compiled: Callable[[str], object]) -> None:
        self.compiled = compiled
        self.process: subprocess.Popen[str] | None = None
        self.listener = threading.Thread(target=self._listen, daemon=True)

    def __enter__(self) -> _Other:
        return self

    def start(self) -> None:
        if self.process is None:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "drape.cloth.rehearsal"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                stdin=subprocess.PIPE, text=True, env=own_environment(),
            )  # fmt: skip
            self.listener.start()

    def _listen(self) -> None:
        if self.process is not None and self.process.stdout is not None:
            for line in self.process.stdout:
                self.compiled(line.strip())

    def wait(self) -> None:
        """Till it has built one; should it fail, what it did not compile is compiled when it is first called."""
        if self.process is not None:
            self.process.wait()
            self.listener.join()

    def __exit__(self, *_: object) -> None:
        if self.process is not None:
            with self.process:  # closes its pipe
                self.process.kill()
                self.listener.join()


def main() -> None:
    """Builds a mannequin, and writes the name of each loop that is compiled for it. Ends with who started it."""
    end_with_parent(sys.stdin)
    with heard(lambda name: sys.stdout.write(f"{name}\n") and sys.stdout.flush()):
        build_figure(BODY)


if __name__ == "__main__":
    main()
