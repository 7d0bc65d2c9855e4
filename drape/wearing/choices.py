"""Choices: what `drape wear` can be asked: ways of wearing, moves, limits.

Comes in: nothing. Goes out: names, for the command line and the scene's keys. Loads nothing heavy.
"""

from __future__ import annotations

from typing import Final

CLOSED, ARM_FREE, RAISED, THROWN, OPEN = (
    "closed", "one arm free", "both arms under, raised", "thrown over", "open",
)  # fmt: skip
HOWS: Final = (CLOSED, ARM_FREE, RAISED, THROWN, OPEN)
LEANING, REACHING, TURNING, STEPPING = "lean", "reach", "turn", "step"
DOINGS: Final = (LEANING, REACHING, TURNING, STEPPING)
STANDING, BACK = "stand", "back"
LEAN_DEG: Final = (5, 60)
USUAL_LEAN_DEG: Final = 40
