"""Sizes: one draft cut for each body → its dimensions from body to body, and how they grow from size to size.

In: what became of the members of one draft. Out: a table of dimensions by body, and the steps a grader works by: how
much each dimension grows with stature and with chest girth. Steps are by least squares, so they say what this draft
does over these bodies; they are no rule of the trade.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from drape.study.plan import BODY
from drape.study.results import Result
from drape.study.rows import Columns

BY: Final = (("tape.stature_cm", 8.0), ("tape.chest_girth_cm", 4.0))  # a measure, and the step in it [cm] told
LEAST_CHANGE: Final = 0.05  # cm, a dimension that changes less over all bodies is the same for all
LEFT_OUT: Final = ("hem_radius_min_cm", "hem_radius_max_cm")  # of a hem that is not an arc


@dataclass(frozen=True)
class Size:
    """One body, its stature and chest girth [cm], and the draft's dimensions for it."""

    body: str
    measures: Mapping[str, float]
    dimensions: dict[str, float]
    sits: str


@dataclass(frozen=True)
class Step:
    """How a dimension grows: by so much [its unit] for each step of BY; off: how far it is off that, at most."""

    dimension: str
    by: tuple[float, ...]
    off: float


def sizes_of(results: Sequence[Result]) -> list[Size]:
    """The draft for each body it was drawn for, the smallest chest first."""
    found = [
        Size(
            str(one.member.setting.get(BODY, one.member.scene.body)), one.measures,
            {key: float(v) for key, v in one.dimensions.items() if isinstance(v, (int, float)) and key not in LEFT_OUT},
            one.sits,
        )
        for one in results
        if one.dimensions
    ]  # fmt: skip
    return sorted(found, key=lambda size: (size.measures["tape.chest_girth_cm"], size.measures["tape.stature_cm"]))


def varying(sizes: Sequence[Size]) -> list[str]:
    """The dimensions that every size has and that are not the same for all."""
    every = [key for key in sizes[0].dimensions if all(key in one.dimensions for one in sizes)] if sizes else []
    return [key for key in every if np.ptp([one.dimensions[key] for one in sizes]) >= LEAST_CHANGE]


def steps_between(sizes: Sequence[Size], dimension: str) -> list[float]:
    """From each size to the next."""
    values = [size.dimensions[dimension] for size in sizes]
    return [round(second - first, 2) for first, second in zip(values, values[1:], strict=False)]


def size_columns(sizes: Sequence[Size]) -> Columns:
    """A row to a body: its stature and chest girth, and every dimension of its draft."""
    keys = dict.fromkeys(key for one in sizes for key in one.dimensions)
    found: Columns = {"body": [one.body for one in sizes], "sits": [one.sits for one in sizes]}
    found |= {name: [one.measures[name] for one in sizes] for name, _ in BY}
    return found | {f"drafted.{key}": [one.dimensions.get(key) for one in sizes] for key in keys}


def grading(sizes: Sequence[Size]) -> list[Step]:
    """How each dimension grows with stature and chest girth; nothing where sizes are too few or too alike to say."""
    if len(sizes) < len(BY) + 2:
        return []
    measures = np.array([[one.measures[name] for name, _ in BY] for one in sizes])
    x = np.c_[np.ones(len(sizes)), (measures - measures.mean(axis=0)) / [step for _, step in BY]]
    if np.linalg.matrix_rank(x, tol=1e-6 * np.abs(x).max()) < x.shape[1]:
        return []
    found = []
    for dimension in varying(sizes):
        y = np.array([one.dimensions[dimension] for one in sizes])
        slope, *_ = np.linalg.lstsq(x, y, rcond=None)
        found.append(Step(dimension, tuple(slope[1:].tolist()), float(np.abs(y - x @ slope).max())))
    return found
