"""How far one settling has come, and how long each part of it took.

In: which part is at work, and how the solver goes. Out: `Progress`, a share of the whole work; seconds by part.
Shares come from what parts cost on our scenes (2 cores; only their ratios matter): seconds on the first, coarsest mesh,
and of solver calls, each of which costs four times as much on a mesh halved once. How many calls a level needs is
reckoned from those made, and from how fast the movement to come dies away.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from typing import Final

from drape.arrays import Floats, Ints
from drape.progress import Progress, Tell

FIGURE, DRAFT, MESH, PUT_ON, READINGS = 0.6, 0.05, 0.2, 1.0, 0.2  # [s]
PICTURES, CUTTING = 5.0, 12.0  # [s] of one cloak's pictures, of a lay for each shopping width
CALL: Final = 0.025  # [s] on the coarsest mesh
SHAKES, FIRST, LEVEL, WARM, TRIM = (
    25,
    10,
    55,
    25,
    7,
)  # calls expected: shaking, first level if not the last, each, from a shape, a trim
TRIMS: Final = (2, 3)  # rounds expected on a level that is not the last, and on the last
DYING: Final = 0.2  # by so much in a call the logarithm of the movement to come falls, at about the median
LEAST_TO_COME: Final = 0.3  # of the calls expected, while nothing is known of their end


def parts_of(levels: int, *, is_trimmed: bool = False, is_warm: bool = False) -> dict[str, float]:
    """The parts of a settling in their order and what each is expected to cost [s], on so many meshes."""
    parts = {"figure": FIGURE, "draft": DRAFT}
    for level in range(levels):
        call, is_last = CALL * 4.0 ** (levels - 1 if is_warm else level), level == levels - 1
        if is_warm and not is_last:
            continue
        parts[f"mesh {level}"] = MESH
        if level == 0 and not is_warm:
            parts |= {"put on": PUT_ON, "shake": call * SHAKES}
        parts[f"settle {level}"] = call * (WARM if is_warm else LEVEL if level or is_last else FIRST)
        if is_trimmed:
            parts |= {f"trim {level}.{k}": call * TRIM for k in range(TRIMS[is_last])}
    return parts | {"readings": READINGS}


def cost(levels: int, *, is_trimmed: bool = False, is_warm: bool = False) -> float:
    """What a settling is expected to cost [s], as `parts_of` has it."""
    return sum(parts_of(levels, is_trimmed=is_trimmed, is_warm=is_warm).values())


def share_made(made: int, expected: float, remaining: float, wanted: float) -> float:
    """The share of a relaxation's calls that are made, when its movement to come is `remaining`,
    at most `wanted` [m] at its end.
    """
    to_come = max(expected - made, LEAST_TO_COME * expected)
    if math.isfinite(remaining):
        to_come = min(to_come, max(1.0, math.log(max(remaining, wanted) / wanted) / DYING))
    return made / (made + to_come)


class Clock:
    """Seconds of each part of the chain, and the caller's progress."""

    def __init__(self, tell: Tell | None) -> None:
        self.tell = tell or (lambda _: None)
        self.last = time.perf_counter()
        self.seconds: dict[str, float] = {}
        self.level = 0  # the mesh that is at work
        self.expect(1)

    def expect(self, levels: int, *, is_trimmed: bool = False, is_warm: bool = False) -> None:
        """Takes in on how many meshes the run settles, whether its hem is trimmed, whether it starts from a shape."""
        self.parts = parts_of(levels, is_trimmed=is_trimmed, is_warm=is_warm)
        self.level = levels - 1 if is_warm else 0

    def book(self, part: str) -> None:
        """Books the time since the last call under a part."""
        now = time.perf_counter()
        self.seconds[part] = self.seconds.get(part, 0.0) + now - self.last
        self.last = now

    def fraction(self, name: str, share: float = 0.0) -> float:
        """The share of the whole run's work that is done when a part of `parts_of` has come so far."""
        done = 0.0
        for one, expected in self.parts.items():
            if one == name:
                return (done + share * expected) / sum(self.parts.values())
            done += expected
        return 0.0

    def begins(self, part: str, words: str, name: str = "") -> None:
        """Tells the caller what part is at work now. name: as in `parts_of`, when it is another."""
        self.tell(Progress(part, self.fraction(name or part), words))

    def relaxing(
        self, kind: str, words: str, wanted: float, shape: Callable[[], tuple[Floats, Ints]] | None = None
    ) -> Callable[[float, float, int], None]:
        """What the solver calls to say how a relaxation goes that ends at `wanted` movement to come [m].

        kind: shake, settle, or trim with its round. shape: where the cloth is, asked each time.
        """
        is_last = f"settle {self.level + 1}" not in self.parts
        if kind.startswith("trim"):
            name = f"trim {self.level}.{min(int(kind[4:]), TRIMS[is_last] - 1)}"
            expected = TRIM
        else:
            name = kind if kind == "shake" else f"settle {self.level}"
            expected = SHAKES if kind == "shake" else LEVEL if self.level or is_last else FIRST
        made = 0

        def tell(_residual: float, remaining: float, _steps: int) -> None:
            nonlocal made
            made += 1
            share = share_made(made, expected, remaining, wanted)
            now = shape() if shape else None
            self.tell(Progress("settle", self.fraction(name, share), words, remaining, shape=now))

        return tell
