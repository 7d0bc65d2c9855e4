"""Bodies drawn at random from the survey, as many men or women as are asked for.

In: how many, of which sex, of what stature. Out: bodies with the measures of a tape. A draw spreads evenly over each
measure (Latin hypercube), so that few bodies show the survey's range as well as few can. What surveys say stands in
`body.survey`.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

import numpy as np
from scipy.special import ndtr, ndtri
from scipy.stats import qmc

from drape.body.survey import KEYS, MEAN, covariance
from drape.body.tape import fill_tape
from drape.body.trunk import draw_curves
from drape.errors import FigureError
from drape.fitting.scene import Body

BOTH: Final = "both"
# Left to the figure where a drawn body contradicts itself, one after another: the breadth between the shoulder points
# follows from neck and shoulder length; the others lie over the arms' and the head's own measures.
GIVE_WAY: Final = ("shoulder_breadth", "upper_arm_breadth", "head_length", "head_breadth")
SOURCE: Final = "drawn at random from the spreads of ANSUR 1988 (report NATICK/TR-89/044)"


def drawn_bodies(
    count: int, sex: str, seed: int, *, shortest: float = 0.0, tallest: float = math.inf
) -> tuple[Body, ...]:
    """So many bodies, the same for the same seed. sex: man, woman or both, which come by turns.

    shortest, tallest: stature [m]; measures then follow what the survey says of people of that height.
    """
    if sex != BOTH:
        return tuple(_of_one_sex(count, sex, seed, shortest, tallest))
    men = _of_one_sex((count + 1) // 2, "man", seed, shortest, tallest)
    women = _of_one_sex(count // 2, "woman", seed + 1, shortest, tallest)
    pairs = [one for pair in zip(men, women, strict=False) for one in pair]
    return (*pairs, *men[len(women) :])


def _of_one_sex(count: int, sex: str, seed: int, shortest: float, tallest: float) -> list[Body]:
    measures = drawn_measures(count, sex, seed, shortest=shortest, tallest=tallest)
    tapes = [dict(zip(KEYS, row, strict=True)) for row in measures.tolist()]
    return [Body(f"{sex} {k}", sex, SOURCE, _standing(tape, sex)) for k, tape in enumerate(tapes, start=1)]


def drawn_measures(count: int, sex: str, seed: int, *, shortest: float = 0.0, tallest: float = math.inf) -> np.ndarray:
    """Measures [m] of so many bodies, (count, k) in the order of `survey.KEYS`: normal, with the survey's covariance.

    Stature comes first: of those who are neither shorter nor taller than asked, the rest follows from it.
    """
    if count == 0:
        return np.empty((0, len(KEYS)))
    spread = covariance(sex)
    share = qmc.LatinHypercube(len(KEYS), rng=seed).random(count)
    mean, deviation = MEAN[sex]["stature"], math.sqrt(spread[0, 0])
    low, high = ndtr((shortest - mean) / deviation), ndtr((tallest - mean) / deviation)
    share[:, 0] = low + (high - low) * share[:, 0]
    causes = np.linalg.cholesky(spread + 1e-14 * np.eye(len(KEYS)))  # its first row is stature alone
    return np.array([MEAN[sex][key] for key in KEYS]) + ndtri(share) @ causes.T


def _standing(tape: Mapping[str, float], sex: str) -> Mapping[str, float]:
    """The measures that a figure can have together, to the millimetre as a tape is read."""
    for gone in range(len(GIVE_WAY) + 1):
        read = {key: round(value, 3) for key, value in tape.items() if key not in GIVE_WAY[:gone]}
        with contextlib.suppress(FigureError):
            draw_curves(fill_tape(read, sex=sex)[0])
            break
    return MappingProxyType(read)
