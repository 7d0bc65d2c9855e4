"""What the person at the terminal is told meanwhile: lines and a bar on stderr.

Comes in: words, and how far a part of the work has come. Goes out: stderr, one line rewritten on a
terminal or plain lines in a file. Nothing here touches stdout, which belongs to whoever reads our output.
"""

from __future__ import annotations

import contextlib
import math
import os
import shutil
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

from drape.units import from_si

if TYPE_CHECKING:
    from drape.fitting import Progress


def say(line: str) -> None:
    """A line for the person at the terminal, not for the program reading our output."""
    with contextlib.suppress(BrokenPipeError):
        print(line, file=sys.stderr, flush=True)


def say_saved(out: Path) -> None:
    say(f"Saved in {out}{os.sep}")


class ProgressLine:
    """How far one fitting has come, on stderr: one line rewritten, or plain lines into a file."""

    WIDTH = 20
    PLAIN_SECONDS = 10.0  # between plain lines of one part

    def __init__(self, name: str) -> None:
        self.name = name
        self.live = sys.stderr.isatty()
        self.part = ""
        self.shown_at = -self.PLAIN_SECONDS
        self.shown_width = 0

    def __call__(self, progress: Progress) -> None:
        due = 0.1 if self.live else self.PLAIN_SECONDS
        now = time.monotonic()
        if progress.part == self.part and now - self.shown_at < due and progress.fraction < 1.0:
            return
        self.part, self.shown_at = progress.part, now
        text = self.text(progress)
        if self.live:
            room = shutil.get_terminal_size().columns - 1
            padded = text[:room].ljust(min(self.shown_width, room))
            sys.stderr.write(f"\r{padded}")
            sys.stderr.flush()
            self.shown_width = len(text)
        else:
            say(text)

    def text(self, progress: Progress) -> str:
        """One line: name, part, bar, residual, what is left to move, seconds."""
        done = round(self.WIDTH * min(max(progress.fraction, 0.0), 1.0))
        bar = "#" * done + "." * (self.WIDTH - done)
        parts = [f"{self.name}  {progress.part:<8} [{bar}]"]
        if progress.residual is not None:
            parts.append(f"residual {progress.residual:.2g}")
        if progress.remaining is not None and math.isfinite(progress.remaining):
            parts.append(f"{from_si('remaining_mm', progress.remaining):.2g} mm to go")
        parts.append(f"{progress.seconds:.0f} s")
        if progress.note:
            parts.append(progress.note)
        return "  ".join(parts)

    def say(self, line: str) -> None:
        """A line that stays, the bar going on below it."""
        self.close()
        say(line)

    def close(self) -> None:
        if self.live and self.shown_width:
            sys.stderr.write("\n")
            sys.stderr.flush()
        self.shown_width = 0
