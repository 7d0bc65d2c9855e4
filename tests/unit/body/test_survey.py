"""What one measure says of another: against the survey's own spreads and a brute-force regression."""

from __future__ import annotations

import numpy as np
import pytest

from drape.body.survey import DROP_SPREAD, HEAD_SPREAD, HEIGHT_RATIO, KEYS, LOADINGS, MEAN, SURVEY, covariance, expected

SEXES = ("man", "woman")


def spread_of(sex: str, first: str, second: str) -> float:
    """Standard deviation of a difference of two measures [m] by the covariance."""
    table, i, j = covariance(sex), KEYS.index(first), KEYS.index(second)
    return float(np.sqrt(table[i, i] + table[j, j] - 2 * table[i, j]))


@pytest.mark.parametrize("sex", SEXES)
def test_the_covariance_is_one_and_gives_each_measure_its_spread(sex: str) -> None:
    """Symmetric, no direction of negative spread, and along its diagonal what the survey prints, heights aside.

    The heights of side neck, front neck and shoulder point are built from the back neck's and the drops; the survey's
    own spreads of them lie within a tenth.
    """
    table = covariance(sex)
    assert table == pytest.approx(table.T)
    assert np.linalg.eigvalsh(table).min() > -1e-12
    spread = dict(zip(KEYS, np.sqrt(np.diag(table)), strict=True))
    for key in ("stature", "back_neck_height", *LOADINGS):
        assert spread[key] == pytest.approx(SURVEY[sex][key][1], rel=1e-9), key
    for key in ("side_neck_height", "front_neck_height", "shoulder_point_height"):
        assert spread[key] == pytest.approx(SURVEY[sex][key][1], rel=0.10), key


@pytest.mark.parametrize("sex", SEXES)
def test_drops_spread_as_the_survey_says(sex: str) -> None:
    side, front, shoulder = DROP_SPREAD[sex]
    assert spread_of(sex, "back_neck_height", "side_neck_height") == pytest.approx(side)
    assert spread_of(sex, "side_neck_height", "front_neck_height") == pytest.approx(front)
    assert spread_of(sex, "side_neck_height", "shoulder_point_height") == pytest.approx(shoulder)
    assert spread_of(sex, "stature", "back_neck_height") == pytest.approx(HEAD_SPREAD[sex])


def test_two_drops_together_spread_as_measured() -> None:
    """ANSUR 1988, men: back to front neck point 12.5 mm, back neck to shoulder point 14.0 mm;
    ours within half a millimetre.
    """
    assert spread_of("man", "back_neck_height", "front_neck_height") == pytest.approx(0.0125, abs=5e-4)
    assert spread_of("man", "back_neck_height", "shoulder_point_height") == pytest.approx(0.0140, abs=5e-4)


def test_nothing_given_is_the_mean_and_what_is_given_is_kept() -> None:
    assert expected({}, "woman") == pytest.approx(MEAN["woman"])
    found = expected({"stature": 1.70, "chest_girth": 1.0}, "woman")
    assert (found["stature"], found["chest_girth"]) == (1.70, 1.0)


def test_one_measure_moves_another_by_correlation_times_spreads() -> None:
    """Regression on one: mean + r s_y / s_x (x - mean). Stature and arm length have r = 0.80 by the loadings."""
    found = expected({"stature": MEAN["man"]["stature"] + 0.0668}, "man")
    assert found["arm_length"] - MEAN["man"]["arm_length"] == pytest.approx(0.80 * 0.0307, rel=1e-6)


def test_several_measures_are_weighed_as_drawn_bodies_weigh_them() -> None:
    """100,000 bodies drawn with the covariance; least squares of hip girth on stature,
    chest and waist gives the same.
    """
    mean = np.array([MEAN["man"][key] for key in KEYS])
    drawn = np.random.default_rng(1).multivariate_normal(mean, covariance("man"), size=100_000, method="eigh")
    given = {"stature": 1.82, "chest_girth": 1.08, "waist_girth": 0.90}
    columns = [KEYS.index(key) for key in given]
    design = np.c_[np.ones(len(drawn)), drawn[:, columns]]
    weights = np.linalg.lstsq(design, drawn[:, KEYS.index("hip_girth")], rcond=None)[0]
    assert expected(given, "man")["hip_girth"] == pytest.approx(weights @ [1.0, *given.values()], abs=6e-4)


@pytest.mark.parametrize("sex", SEXES)
def test_levels_of_the_trunk_stand_in_order_below_the_neck(sex: str) -> None:
    levels = HEIGHT_RATIO[sex]
    neck = MEAN[sex]["front_neck_height"] / MEAN[sex]["stature"]
    assert neck > levels["chest_height"] > levels["waist_height"] > levels["hip_height"] > levels["wrist_height"]
    assert levels["wrist_height"] > MEAN[sex]["knee_height"] / MEAN[sex]["stature"]
