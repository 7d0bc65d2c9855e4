"""Trials by name: options, units at the edge, refusals, the drawing, what is said when nothing settles."""

from __future__ import annotations

import dataclasses
import math
import xml.etree.ElementTree as xml

import numpy as np
import pytest

from drape.bench import MAKERS, run_trial, sizes, trial_json, trial_object, trial_text
from drape.cloth import sew
from drape.disc import fold_count, shadow_share
from drape.errors import NotSettledError, SceneError
from drape.mesh import Mesh
from drape.sliding import lay_down, tilt
from drape.specimen import Strip, board, ring_mesh, strip_mesh
from drape.trial import finite_extension, strip_compliance, strip_rigidity
from drape.trial_options import KINDS, at_the_edge, checked_options, options_of, override
from drape.trial_sheet import write_trial_svg
from drape.units import STANDARD_GRAVITY


def test_every_kind_has_its_maker_and_its_pair() -> None:
    assert set(MAKERS) == set(KINDS)
    for kind in KINDS.values():
        assert set(kind.pair) <= set(kind.readings)


def test_options_come_out_in_si_and_ranges_are_held() -> None:
    assert checked_options("cantilever", {"length_cm": 5.0, "grain_deg": 45.0, "width_cm": None}) == {
        "length": 0.05, "grain": pytest.approx(math.pi / 4),
    }  # fmt: skip
    with pytest.raises(SceneError, match=r"length_cm: got 900, allowed 1 to 200 cm"):
        checked_options("ring", {"length_cm": 900.0})
    assert "max_steps" not in options_of("tilt")


def test_overrides_are_pairs() -> None:
    assert override("bending_length_warp_cm=2.7") == ("bending_length_warp_cm", 2.7)
    assert override("poisson_ratio = soft") == ("poisson_ratio", "soft")
    with pytest.raises(SceneError, match="allowed key=value"):
        override("2.7")


def test_readings_are_in_the_unit_of_their_key() -> None:
    assert at_the_edge("chord_deg", math.pi) == pytest.approx(180)
    assert at_the_edge("drape_coefficient_spread", 0.02) == pytest.approx(2.0)
    assert at_the_edge("nodes", (5, 6)) == [5, 6]
    assert at_the_edge("drape_coefficients_percent", (0.5, 0.25)) == [50.0, 25.0]


def test_rigidity_and_compliance_in_any_direction(melton) -> None:
    assert strip_rigidity(melton, 0.0) == pytest.approx(melton.rigidity_warp)
    assert strip_rigidity(melton, math.pi / 2) == pytest.approx(melton.rigidity_weft)
    root = 0.5 / math.sqrt(melton.rigidity_warp) + 0.5 / math.sqrt(melton.rigidity_weft)
    assert strip_rigidity(melton, math.pi / 4) == pytest.approx(root**-2)  # 1/√B is linear in cos²
    e1, e2 = melton.tensile_stiffness_warp, melton.tensile_stiffness_weft
    bias = 0.25 * (1 / e1 + 1 / e2 - 2 * melton.poisson_ratio / e1 + 1 / melton.shear_stiffness)
    assert strip_compliance(melton, math.pi / 4) == pytest.approx(bias)
    assert finite_extension(1e-4) == pytest.approx(1e-4 - 1.5e-8, abs=1e-10)


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


def test_same_trial_same_bytes(melton, tmp_path) -> None:
    texts = []
    for name in ("a.svg", "b.svg"):
        made = run_trial("pear", melton, {}, seed=2)
        write_trial_svg(made, tmp_path / name)
        texts.append([line for line in trial_json(made).splitlines() if "seconds" not in line])
    assert texts[0] == texts[1]
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()
    assert "NOT SETTLED" not in (tmp_path / "a.svg").read_text(encoding="utf-8")
    lines = xml.parse(tmp_path / "a.svg").getroot().findall("{http://www.w3.org/2000/svg}polyline")
    assert len(lines) > 100


def test_cloth_that_never_slides_is_not_called_sliding(melton) -> None:
    with pytest.raises(NotSettledError, match="not sliding"):
        tilt(melton, friction=50.0, length=0.1, width=0.06, edge_length=0.02)


def test_shadow_and_folds_of_a_known_shape() -> None:
    """A flat disc casts all of its shadow; a hem of radius b + h cos 6φ has six folds."""
    mesh: Mesh = ring_mesh(0.09, 0.15, 0.006)
    flat = np.c_[mesh.flat, np.zeros(len(mesh.flat))]
    assert shadow_share(flat, mesh, 0.09, 0.15) == pytest.approx(1.0, abs=2e-3)
    drawn_in = flat * np.where(np.hypot(*mesh.flat.T) > 0.12, 0.8, 1.0)[:, None]
    assert shadow_share(drawn_in, mesh, 0.09, 0.15) == pytest.approx((0.12**2 - 0.09**2) / (0.15**2 - 0.09**2), abs=0.02)
    angle = np.linspace(-np.pi, np.pi, 200, endpoint=False)
    hem = (0.13 + 0.01 * np.cos(6 * angle + 1))[:, None] * np.stack([np.cos(angle), np.sin(angle), 0 * angle], axis=1)
    assert fold_count(hem, 0.09, 0.15) == 6
    assert fold_count(0.13 * hem / np.linalg.norm(hem, axis=1)[:, None], 0.09, 0.15) == 0


def test_cloth_that_is_not_carried_does_not_lie(melton) -> None:
    """Laid half a metre above the board it is still falling, or past it."""
    mesh = strip_mesh(Strip(0.1, 0.06, 0.02))
    sheet = sew(mesh, melton)
    weight = sheet.mass[:, None] * STANDARD_GRAVITY * np.array([0.0, 0.0, -1.0])
    field = board([0.0, -0.03], [0.1, 0.03])
    for height, carried in ((0.0015, True), (0.5, False)):
        start = np.c_[mesh.flat, np.full(len(mesh.flat), height)]
        if carried:
            assert lay_down(sheet, start, melton.thickness, 0.4, field, weight).state.stuck.any()
        else:
            with pytest.raises(NotSettledError, match="did not come to lie"):
                lay_down(sheet, start, melton.thickness, 0.4, field, weight)


@pytest.mark.parametrize("kind", ["tilt", "belt"])
def test_thin_cloth_slides_where_thick_cloth_does(melton, kind) -> None:
    """A thin light cloth once sprang off what it was laid on, and was called sliding."""
    thin = dataclasses.replace(melton, areal_density=0.15, thickness=0.3e-3, bending_length_warp=0.016)
    made = run_trial(kind, thin, {"wrap": 1.0} if kind == "belt" else {})
    assert abs(trial_object(made)["difference_percent"]) < 2
