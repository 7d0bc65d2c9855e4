"""Mannequins that many tests look at: each is built once, by whichever worker needs it first."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drape.body.figure import Figure, build_figure
from drape.body.signed_distance import DistanceField
from drape.body.stance import UPRIGHT_STANCE, Stance
from drape.body.worn_under import KINDS
from drape.cache import kept

# Stature and three girths of the mean man of the 1988 US Army survey (NATICK/TR-89/044) [m].
MAN = {"stature": 1.7558, "chest_girth": 0.9914, "waist_girth": 0.8399, "hip_girth": 0.9837}
DRESSED = {"stance": Stance(head_forward=0.02), "arms": ("down", "raised"), "worn_under": dict(KINDS["padded coat"])}


def mannequin(tape: Mapping[str, float] = MAN, **more: Any) -> Figure:
    """`build_figure(tape, **more)`, from the folder that a run's workers share where it has been built before.

    Not for a test of building itself, nor where a part of it is replaced.
    """
    given = {"name": "figure", "sex": "man", "stance": UPRIGHT_STANCE, "arms": ("down", "down"), "worn_under": {}}
    if unknown := set(more) - set(given):
        raise TypeError(f"mannequin: got {sorted(unknown)}, allowed {sorted(given)}")
    return kept(build_figure, (Figure, DistanceField, Stance), {"tape": tape, **given, **more})
