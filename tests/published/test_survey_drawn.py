"""A study of bodies drawn at random gives back the quantiles that the survey gives of each measure.

Problem: draw men and women from the survey as a plan does, fill in the tape as a figure is given it, and take the 5th,
25th, 50th, 75th and 95th percentile of each measure.
Answer: mean + z s of a normal distribution with the survey's mean and standard deviation. Limit: 2.6 standard errors
of the quantile p of n random draws, s sqrt(p (1 - p) / n) / density(z). Of 90 quantiles of random draws one lies beyond
that; a hypercube's lie nearer, 1 in 1,100 beyond over 60 seeds (reckoned once), so of 90 none should.
The breadth between the shoulder points gives way where neck, shoulder length and breadth contradict each other, in one
body of four, and then comes out up to 9 mm wide: its quartiles, with a standard error of 1.4 mm, come within 1 cm.
Source: C. C. Gordon and others, 1988 Anthropometric Survey of U.S. Army Personnel, report NATICK/TR-89/044: means and
standard deviations of 1,774 men and 2,208 women.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
from scipy.special import ndtri

from drape.body.survey import SURVEY
from drape.body.tape import fill_tape
from drape.study.bodies import drawn_bodies

pytestmark = pytest.mark.long

COUNT = 300
PARTS = np.array([0.05, 0.25, 0.5, 0.75, 0.95])
GIVES_WAY = "shoulder_breadth"


@cache
def drawn(sex: str) -> dict[str, np.ndarray]:
    tapes = [fill_tape(one.tape, sex=sex)[0] for one in drawn_bodies(COUNT, sex, 7)]
    return {key: np.array([tape[key] for tape in tapes]) for key in SURVEY[sex]}


def off(sex: str, key: str, *, wrong: float = 0.0) -> np.ndarray:
    """How far each quantile is off, in standard errors. wrong: a mean that is so much off [m], to see it noticed."""
    mean, deviation = SURVEY[sex][key]
    z = ndtri(PARTS)
    density = np.exp(-0.5 * z**2) / math.sqrt(2.0 * math.pi)
    error = deviation * np.sqrt(PARTS * (1.0 - PARTS) / COUNT) / density
    return (np.quantile(drawn(sex)[key], PARTS) - (mean + wrong + deviation * z)) / error


@pytest.mark.parametrize("sex", SURVEY)
def test_quantiles_of_every_measure_are_the_surveys(sex: str) -> None:
    worst = {key: float(np.abs(off(sex, key)).max()) for key in SURVEY[sex] if key != GIVES_WAY}
    assert {key: value for key, value in worst.items() if value > 2.6} == {}


@pytest.mark.parametrize("sex", SURVEY)
def test_the_breadth_that_gives_way_keeps_its_quartiles(sex: str) -> None:
    mean, deviation = SURVEY[sex][GIVES_WAY]
    quartiles = np.quantile(drawn(sex)[GIVES_WAY], PARTS[1:4]) - (mean + deviation * ndtri(PARTS[1:4]))
    assert np.abs(quartiles).max() < 0.010


def test_a_mean_wrong_by_a_third_of_a_deviation_is_noticed() -> None:
    unseen = [
        key
        for key, (_, s) in SURVEY["man"].items()
        if key != GIVES_WAY and np.abs(off("man", key, wrong=s / 3.0)).max() < 2.6
    ]
    assert unseen == []
