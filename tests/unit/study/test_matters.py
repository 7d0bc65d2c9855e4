"""Which readings are told of, what chance there is in them, and every effect as a row."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from studied import member, outcomes, readings

from drape.study.matters import effect_columns, factors_told, matters_of, name_words, noise_in
from drape.study.members import settings_of
from drape.study.plan import Plan, load_plan
from drape.study.results import Result, results_of

A, B = "dart.intake_cm", "draft.neck_width_cm"


def study(folder: Path, starts: int = 3) -> tuple[Plan, tuple[Result, ...]]:
    """Gap behind grows with the neck's width, load at the throat with both; all else stays."""
    path = folder / "plan.toml"
    path.write_text(
        f'title = "a"\nscene = "ferry-warden-tailored"\n[vary]\n"{A}" = [6, 9]\n"{B}" = [14, 15, 16]\n',
        encoding="utf-8",
    )
    plan = load_plan(path)
    members = [member(k, dict(one), starts) for k, one in enumerate(settings_of(plan), start=1)]

    def read(one: Any, seed: int) -> Any:
        a, b = one.setting[A], one.setting[B]
        jitter = 0.001 * (seed - 1)
        return readings(gap_back_cm=b - 14.0 + jitter, throat_line_load_n_m=2.0 * a + b + jitter)

    return plan, results_of(members, outcomes(members, read))


def test_readings_at_fault_are_told_in_order_of_harm(tmp_path: Path) -> None:
    plan, results = study(tmp_path)
    found = matters_of(plan, results)
    assert [one.key for one in found] == ["neck.throat_line_load_n_m", "neck.gap_back_cm"]
    load, gap = found
    assert (load.limit, load.unit, gap.words) == (20.0, "N/m", "neck gap, back")
    assert gap.effects.share_of(B).share == pytest.approx(1.0) and not gap.effects.share_of(A).is_certain
    assert [value for _, value in gap.members] == pytest.approx([0.0, 1.0, 2.0] * 2)


def test_bodies_alone_are_no_dimension(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.write_text('title = "a"\nscene = "ferry-warden-tailored"\n[bodies]\ndrawn = 3\n', encoding="utf-8")
    assert factors_told(load_plan(path)) == []


def test_chance_is_that_of_the_starts_or_what_is_usual(tmp_path: Path) -> None:
    _, three = study(tmp_path, starts=3)
    _, one = study(tmp_path, starts=1)
    spread = three[0].readings["neck"]["gap_back_cm_spread"]
    assert noise_in(three, "neck.gap_back_cm") == pytest.approx(spread / 2.0, rel=0.05)
    assert noise_in(one, "neck.gap_back_cm") > 0.01 and noise_in(one, "spare.within_cm") == 0.0


def test_every_effect_is_a_row(tmp_path: Path) -> None:
    plan, results = study(tmp_path)
    found = effect_columns(plan, results)
    rows = {(found["reading"][k], found["of"][k], found["and"][k]): k for k in range(len(found["of"]))}
    k = rows[("neck.gap_back_cm", B, None)]
    assert found["share_percent"][k] == pytest.approx(100.0) and found["change"][k] == pytest.approx(2.0)
    assert found["certain"][k] is True and found["change"][rows[("neck.gap_back_cm", A, B)]] is None
    assert found["share_percent"][rows[("neck.gap_back_cm", "the rest", None)]] == pytest.approx(0.0, abs=1e-3)
    assert not any(key == "fall.mean_cm" for key, *_ in rows)


def test_what_varies_is_told_in_words() -> None:
    told = {"dart.intake_cm": ("dart intake", "cm"), "draft.neck_width_cm": ("neck width", "cm"),
            "closure.shoulder_cut_intake_cm": ("shoulder cut intake", "cm"), "cloth.cloth": ("cloth", ""),
            "dart.2.length_cm": ("dart 2 length", "cm"), "closure.place": ("closure place", ""), "body": ("body", ""),
            "cloth.areal_density_g_m2": ("cloth areal density", "g/m²")}  # fmt: skip
    assert {name: name_words(name) for name in told} == told
