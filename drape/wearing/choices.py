"""Choices: what `drape wear` can be asked: ways of wearing, moves, limits.

Comes in: nothing. Goes out: names, for the command line and the scene's keys. Loads nothing heavy.
"""

from __future__ import annotations

from typing import Final

from drape.fitting.quality import DOINGS, HOWS

CLOSED, ARM_FREE, RAISED, THROWN, OPEN = HOWS
LEANING, REACHING, TURNING, STEPPING = DOINGS
STANDING, BACK = "stand", "back from "  # what a rest is called; back from leaning, and so on
LEAN_DEG: Final = (5, 60)
USUAL_LEAN_DEG: Final = 40
