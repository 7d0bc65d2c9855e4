"""Thrown: a hand that takes cloth by its edge, brings it somewhere, and lets go little by little.

In: cloth being relaxed, which points the hand grips, the places it goes through [m]. Out: the cloth as the hand left
it. The hand only pulls, at most as hard as HAND; the cloth, its weight and its friction do the rest.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from drape.arrays import Floats, Ints
from drape.cloth.relaxation import Relaxation
from drape.cloth.sheet import weight

HAND: Final = 40.0  # [N] at most
NEARER, LEARNT = 60.0, 12.0  # [N/m] of the way still to go: pulled now, and pulled more from now on
STEPS: Final = 60  # of the solver in each pull
NEAR, MOST_PULLS = 0.04, 10  # m from a place the hand is brought to, from where it goes on; pulls after which it does
APART: Final = 0.05  # m, between those places
LETTING_GO: Final = 40  # parts in which a hand lets go
HELD_BEFORE: Final = 20  # pulls it makes at the end of its way


class Hand:
    """A hand that brings what it grips to a place, and pulls harder while it is not there."""

    def __init__(self, run: Relaxation, grip: Ints) -> None:
        self.run, self.grip, self.push = run, grip, np.zeros(3)
        self.own = weight(run.sheet)

    @property
    def place(self) -> Floats:
        """Where it is [m], (3,): the middle of what it grips."""
        return np.asarray(self.run.x[self.grip].mean(axis=0))

    def pull(self, goal: Floats, times: int) -> None:
        """Pulls towards a place [m], (3,), so many times."""
        for _ in range(times):
            short = goal - self.place
            force = NEARER * short + self.push
            self.push = self.push + LEARNT * short
            strength = min(1.0, HAND / max(float(np.linalg.norm(force)), 1e-9))
            self.push = strength * self.push
            self._load(strength * force)
            self.run.advance(STEPS)

    def _load(self, force: Floats) -> None:
        self.run.loads = self.own.copy()
        self.run.loads[self.grip] += force / len(self.grip)

    def go(self, way: Floats) -> None:
        """Goes through places [m], (k, 3), one after another."""
        at = self.place
        for goal in way:
            count = max(1, int(np.ceil(np.linalg.norm(goal - at) / APART)))
            for share in np.linspace(0.0, 1.0, count + 1)[1:]:
                self.bring(at + share * (goal - at))
            at = goal
        self.pull(at, HELD_BEFORE)

    def bring(self, goal: Floats) -> None:
        """Pulls until it is near a place [m], (3,), or has pulled for long."""
        for _ in range(MOST_PULLS):
            self.pull(goal, 1)
            if np.linalg.norm(goal - self.place) < NEAR:
                break

    def let_go(self) -> None:
        """Lets go little by little."""
        pull = self.run.loads - self.own
        for share in np.linspace(1.0, 0.0, LETTING_GO + 1)[1:]:
            self.run.loads = self.own + share * pull
            self.run.advance(STEPS)
