"""Effects of known functions beside the published check: cloths, members that are missing, too few members, chance."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest

from drape.study.effects import Basis, basis_of, effects_of
from drape.study.plan import Factor

A = Factor("dart.intake_cm", (6, 9, 12))
CLOTH = Factor("cloth.cloth", ("melton", "flannel", "calico"))
WEIGHT = {"melton": 3.0, "flannel": 1.0, "calico": 2.0}


def crossed(*factors: Factor) -> list[dict[str, Any]]:
    return [
        dict(zip((f.name for f in factors), row, strict=True))
        for row in itertools.product(*(f.values for f in factors))
    ]


def value(setting: dict[str, Any]) -> float:
    return 0.5 * setting[A.name] + WEIGHT[setting[CLOTH.name]]


@pytest.mark.parametrize("factor", [A, CLOTH, Factor("draft.level", (True, False))])
def test_functions_over_listed_values_have_no_mean_and_stand_at_right_angles(factor: Factor) -> None:
    functions = basis_of(factor, is_hypercube=False).at(factor.values)
    count = len(factor.values)
    assert functions.shape == (count, count - 1)
    assert functions.mean(axis=0) == pytest.approx(0.0, abs=1e-12)
    assert functions.T @ functions / count == pytest.approx(np.eye(count - 1), abs=1e-12)


def test_functions_over_a_range_have_no_mean_and_stand_at_right_angles() -> None:
    basis: Basis = basis_of(Factor("draft.length_cm", (80.0, 120.0), is_range=True), is_hypercube=True)
    points, weights = np.polynomial.legendre.leggauss(6)
    functions = basis.at((100.0 + 20.0 * points).tolist())
    assert (weights / 2) @ functions == pytest.approx([0.0, 0.0], abs=1e-12)
    assert functions.T @ (functions * weights[:, None] / 2) == pytest.approx(np.eye(2), abs=1e-12)


def test_cloths_have_their_share_and_their_means() -> None:
    settings = crossed(A, CLOTH)
    found = effects_of([A, CLOTH], settings, [value(one) for one in settings])
    assert found is not None
    variance_a, variance_cloth = 0.25 * 9.0 * 8 / 12, np.var(list(WEIGHT.values()))
    assert found.share_of(CLOTH.name).share == pytest.approx(variance_cloth / (variance_a + variance_cloth))
    curve = next(one for one in found.curves if one.name == CLOTH.name)
    assert curve.mean == pytest.approx([4.5 + WEIGHT[name] for name in curve.values])
    assert curve.change[0] == pytest.approx(2.0)  # from the least to the greatest


def test_a_member_that_is_missing_changes_no_share_of_a_sum() -> None:
    settings = crossed(A, CLOTH)[:-1]
    found = effects_of([A, CLOTH], settings, [value(one) for one in settings])
    assert found is not None
    assert found.share_of(A.name).share + found.share_of(CLOTH.name).share == pytest.approx(1.0)


def test_with_too_few_members_nothing_is_said() -> None:
    settings = crossed(A, CLOTH)
    assert effects_of([A, CLOTH], settings[:2], [1.0, 2.0]) is None
    assert effects_of([A, CLOTH], settings[:3], [1.0, 2.0, 3.0]) is None  # one dart intake alone
    assert effects_of([Factor("a", (1,))], settings, [1.0] * 9) is None


def test_what_chance_alone_may_make_is_not_certain() -> None:
    settings = crossed(A, CLOTH)
    values = [value(one) for one in settings]
    quiet, loud = (effects_of([A, CLOTH], settings, values, noise=noise) for noise in (0.01, 5.0))
    assert quiet is not None and loud is not None
    assert quiet.share_of(A.name).is_certain and not loud.share_of(A.name).is_certain
    assert loud.curves[0].spread[0] > 100 * quiet.curves[0].spread[0]


def test_a_reading_that_is_the_same_everywhere_hangs_on_nothing() -> None:
    settings = crossed(A, CLOTH)
    found = effects_of([A, CLOTH], settings, [2.5] * 9)
    assert found is not None and found.is_constant and not any(one.is_certain for one in found.shares)
