"""Trials by name: options, units at the edge, refusals, the drawing, what is said when nothing settles."""

from __future__ import annotations

import dataclasses

import pytest
from families import most_are_long

from drape.bench.trial import MAKERS, run_trial, sizes, trial_object, trial_text
from drape.bench.trial_drawing import write_trial_svg
from drape.bench.trial_options import KINDS
from drape.errors import SceneError


def test_every_kind_has_its_maker_and_its_pair() -> None:
    assert set(MAKERS) == set(KINDS)
    for kind in KINDS.values():
        assert set(kind.pair) <= set(kind.readings)


def test_sizes_suit_the_cloth_and_nonsense_is_refused(melton) -> None:
    assert sizes("cantilever", melton, {})["length"] == pytest.approx(2 * melton.bending_length_warp)
    assert sizes("disc", melton, {})["specimen"] == pytest.approx(0.15)
    with pytest.raises(SceneError, match=r"specimen_cm: got 18 over a support of 18"):
        sizes("disc", melton, {"specimen": 0.18})
    for edge in (0.05, 1e-5):
        with pytest.raises(SceneError, match="edge_length_cm: got"):
            sizes("ring", melton, {"edge_length": edge})


def test_too_few_steps_is_said_everywhere(melton, tmp_path) -> None:
    made = run_trial("ring", melton, {"max_steps": 100})
    assert trial_object(made)["settled"] is False
    assert trial_text(made).startswith("NOT SETTLED")
    write_trial_svg(made, tmp_path / "ring.svg")
    assert "NOT SETTLED" in (tmp_path / "ring.svg").read_text(encoding="utf-8")


@pytest.mark.parametrize("kind", most_are_long(["tilt", "belt"], "tilt"))
def test_thin_cloth_slides_where_thick_cloth_does(melton, kind) -> None:
    """A thin light cloth once sprang off what it was laid on, and was called sliding."""
    thin = dataclasses.replace(melton, areal_density=0.15, thickness=0.3e-3, bending_length_warp=0.016)
    made = run_trial(kind, thin, {"wrap": 1.0} if kind == "belt" else {})
    assert abs(trial_object(made)["difference_percent"]) < 2
