"""A linear and a product function, varied by a plan, give the shares of variance that their formulas give.

Problem: y = 3 a + 2 b + 0 c, and y = a b, where a, b and c vary independently: over all combinations of listed values,
and over ranges by a Latin hypercube.
Answer: the variance of k values a step d apart, each equally often, is d^2 (k^2 - 1) / 12; of a range R, R^2 / 12. With
means A, B and variances U, V, the product's variance is B^2 U alone by a, A^2 V alone by b, and U V by both together.
Source: the analysis of variance of independent causes, in any textbook; the first two are moments of the uniform
distribution, the third follows by writing a = A + u, b = B + v.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from drape.study import effects
from drape.study.effects import Effects, effects_of
from drape.study.members import settings_of
from drape.study.plan import Plan, load_plan

A, B, C = "dart.intake_cm", "draft.neck_width_cm", "draft.length_cm"
LISTED = f'"{A}" = [6, 8, 10, 12]\n"{B}" = [14, 15, 16]\n"{C}" = [100, 110]\n'
RANGES = f'"{A}" = {{ from = 6, to = 12 }}\n"{B}" = {{ from = 14, to = 16 }}\n"{C}" = {{ from = 100, to = 110 }}\n'
CUBE = '[design]\nkind = "latin hypercube"\nmembers = 60\n'
MEAN = {A: 9.0, B: 15.0}
LISTED_VARIANCE = {A: 2.0**2 * (4**2 - 1) / 12, B: 1.0**2 * (3**2 - 1) / 12}
RANGE_VARIANCE = {A: 6.0**2 / 12, B: 2.0**2 / 12}

DESIGNS = pytest.mark.parametrize(
    ("varied", "design", "variance"), [(LISTED, "", LISTED_VARIANCE), (RANGES, CUBE, RANGE_VARIANCE)]
)


def plan_of(folder: Path, varied: str, design: str) -> Plan:
    path = folder / "plan.toml"
    path.write_text(f'title = "a"\nscene = "ferry-warden-tailored"\n[vary]\n{varied}{design}', encoding="utf-8")
    return load_plan(path)


def read(plan: Plan, function: Callable[[float, float], float]) -> Effects:
    settings = settings_of(plan)
    found = effects_of(
        plan.factors, settings, [function(one[A], one[B]) for one in settings], is_hypercube=bool(plan.members)
    )
    assert found is not None and found.has_pairs
    return found


def check(found: Effects, parts: Mapping[tuple[str, ...], float]) -> None:
    """Every share as its formula has it, those not named nought."""
    total = sum(parts.values())
    for one in found.shares:
        assert one.share == pytest.approx(parts.get(one.names, 0.0) / total, abs=1e-9), one.names
        assert one.is_certain == (one.names in parts)
    assert found.rest == pytest.approx(0.0, abs=1e-9) and found.deviation == pytest.approx(total**0.5)


@DESIGNS
def test_a_linear_function_has_its_shares_and_no_pair(tmp_path, varied, design, variance) -> None:
    found = read(plan_of(tmp_path, varied, design), lambda a, b: 3.0 * a + 2.0 * b)
    check(found, {(A,): 9.0 * variance[A], (B,): 4.0 * variance[B]})
    by_a, by_b, by_c = (next(one for one in found.curves if one.name == name) for name in (A, B, C))
    assert by_a.change[0] == pytest.approx(18.0) and by_b.change[0] == pytest.approx(4.0)
    assert by_c.change[0] == pytest.approx(0.0, abs=1e-9)
    assert by_a.mean[0] == pytest.approx(3.0 * 6.0 + 2.0 * 15.0)


@DESIGNS
def test_a_product_has_the_share_of_its_pair(tmp_path, varied, design, variance) -> None:
    found = read(plan_of(tmp_path, varied, design), lambda a, b: a * b)
    u, v = variance[A], variance[B]
    check(found, {(A,): MEAN[B] ** 2 * u, (B,): MEAN[A] ** 2 * v, (A, B): u * v})
    assert found.share_of(A, B).share > 0.0


@DESIGNS
def test_a_formula_with_a_wrong_constant_is_noticed(tmp_path, varied, design, variance) -> None:
    found = read(plan_of(tmp_path, varied, design), lambda a, b: 3.0 * a + 2.1 * b)
    with pytest.raises(AssertionError):
        check(found, {(A,): 9.0 * variance[A], (B,): 4.0 * variance[B]})


def test_chance_alone_is_seldom_taken_for_an_effect(tmp_path: Path) -> None:
    """Of noise, one share in twenty is called certain, by its own claim; 3 standard errors of 60 draws of 3."""
    plan = plan_of(tmp_path, LISTED, "")
    settings, random = settings_of(plan), np.random.default_rng(1)
    called = []
    for _ in range(60):
        found: Any = effects_of(plan.factors, settings, random.normal(size=len(settings)))
        called += [one.is_certain for one in found.shares if len(one.names) == 1]
    assert abs(np.mean(called) - (1.0 - effects.CERTAIN)) < 3.0 * (0.05 * 0.95 / 180) ** 0.5


def test_a_change_is_within_its_spread_two_times_in_three(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, LISTED, "")
    settings, random = settings_of(plan), np.random.default_rng(2)
    within = []
    for _ in range(150):
        noisy = [3.0 * one[A] + random.normal() for one in settings]
        found: Any = effects_of(plan.factors, settings, noisy)
        mean = next(one for one in found.curves if one.name == B).mean[1]
        spread = next(one for one in found.curves if one.name == B).spread[1]
        within.append(abs(mean - 27.0) < spread)
    assert abs(np.mean(within) - 2.0 / 3.0) < 3.0 * (2.0 / 9.0 / 150) ** 0.5
