"""Where a fault is: each place by the formula of a cone of cloth, whichever reading asks for it."""

from __future__ import annotations

import numpy as np
import pytest

from drape.reading import places
from drape.reading.by_vertex import neck_edge
from drape.reading.places import AZIMUTHS, place_of, turn_of
from drape.reading.verdict import CHECKS
from drape.reading.worn import EIGHTHS
from drape.reading.worn import SIDES as AZIMUTHS_OF_READINGS

READINGS = {
    "neck": {"gap_max_at": "back left"},
    "shoulder_left": {"stand_off_at_cm": 3.0, "stand_off_max_cm": 2.0},
    "shoulder_right": {"stand_off_mean_cm": None},
    "spare": {"percent": 20.0, "within_cm": 12.0},
    "balance": {"forward_cm": -3.0, "left_cm": 2.5, "turn_deg": 40.0},
}


def azimuth(point) -> float:
    return float(np.degrees(turn_of(point[None], np.zeros(3))[0]))


@pytest.mark.parametrize("side", ["front", "left", "back"])
@pytest.mark.parametrize("kind", ["gap", "ride"])
def test_a_side_of_the_neck_edge_is_where_it_is_read(cone, side, kind):  # noqa: ANN001
    place = place_of(cone(), f"neck.{kind}_{side}_cm")
    assert azimuth(place) == pytest.approx(np.degrees(AZIMUTHS[side]), abs=1.0)
    assert place[2] == pytest.approx(1.45) and np.hypot(*place[:2]) == pytest.approx(0.09, rel=0.01)
    assert dict(AZIMUTHS) == AZIMUTHS_OF_READINGS


def test_the_throat_is_in_front_and_the_largest_gap_where_it_was_read(cone):  # noqa: ANN001
    fitting = cone(readings=READINGS)
    assert azimuth(place_of(fitting, "neck.throat_line_load_n_m")) == pytest.approx(0.0, abs=1.0)
    at = azimuth(place_of(fitting, "neck.gap_max_cm"))
    assert EIGHTHS[round(at / 45)] == "back left"


def test_a_shoulder_is_marked_where_the_cloth_stands_off_most_and_a_bare_one_in_its_middle(cone):  # noqa: ANN001
    """The shoulder line begins 7 cm from the middle and falls by 0.4: 3 cm along it is 3 / sqrt(1.16) further out."""
    fitting = cone(readings=READINGS)
    out = 0.07 + 0.03 / np.sqrt(1.16)
    place = place_of(fitting, "shoulder_left.stand_off_mean_cm")
    assert place == pytest.approx([-out, 0.0, 1.5 - 0.4 * (out - 0.07) + 0.02], abs=0.003)
    line = fitting.shoulder_line_right
    assert place_of(fitting, "shoulder_right.stand_off_mean_cm") == pytest.approx(line[len(line) // 2])


def test_spare_cloth_is_marked_where_most_folds_near_the_neck_else_where_it_stands_off_most(cone, monkeypatch):  # noqa: ANN001
    fitting = cone(readings=READINGS)
    full = np.full(len(fitting.worn), np.nan)
    lower, upper = (int(np.argmin(np.linalg.norm(fitting.worn - p, axis=1))) for p in ((-0.3, 0, 0.8), (-0.1, 0, 1.43)))
    full[lower], full[upper] = 9.0, 0.4  # more of it folds where it hangs free, as it may
    monkeypatch.setattr(places, "fullness", lambda *_, **__: full)
    assert place_of(fitting, "spare.percent") == pytest.approx(fitting.worn[upper])
    monkeypatch.setattr(places, "fullness", lambda *_, **__: np.full(len(fitting.worn), np.nan))
    place = place_of(fitting, "crowding.max_percent")
    assert np.linalg.norm(fitting.neck_base - place, axis=1).min() <= 0.12


def test_the_hem_is_marked_at_its_lowest_and_where_it_is_furthest_from_level(cone):  # noqa: ANN001
    fitting = cone()
    worn = fitting.worn.copy()
    hem = fitting.edges["hem"]
    worn[hem[20], 2] -= 0.02
    worn[hem[40], 2] += 0.10
    fitting = cone(worn=worn)
    assert place_of(fitting, "fall.clearance_cm") == pytest.approx(worn[hem[20]])
    assert place_of(fitting, "fall.level_cm") == pytest.approx(worn[hem[40]])


def test_closure_opening_and_darts(cone):  # noqa: ANN001
    plain = cone()
    edges = {**plain.edges, "front closure": plain.edges["front opening"][:5]}
    edges |= {f"dart {k} front leg": plain.edges["hem"][10 * k : 10 * k + 4] for k in (1, 2)}
    fitting = cone(edges=edges)
    assert place_of(fitting, "closure.shift_cm") == pytest.approx(plain.worn[edges["front closure"][2]])
    opening = place_of(fitting, "closure.gape_cm")  # 10 cm down a slant from 9 cm at 1.45 m to 35 at 0.60
    assert opening[2] == pytest.approx(1.45 - 0.10 * 0.85 / np.hypot(0.85, 0.26), abs=1e-6)
    for k in (0, 1):
        assert place_of(fitting, f"dart.{k}.point_short_cm") == pytest.approx(
            plain.worn[plain.edges["hem"][10 * k + 13]]
        )
    assert place_of(fitting, "dart.2.point_short_cm") is None


def test_a_neck_edge_off_the_middle_is_marked_where_it_has_gone(cone):  # noqa: ANN001
    fitting = cone(readings=READINGS)
    found = [azimuth(place_of(fitting, f"balance.{key}")) for key in ("forward_cm", "left_cm", "turn_deg")]
    assert found == pytest.approx([180.0, 90.0, 40.0], abs=1.5)


def test_every_reading_that_is_judged_has_a_place(cone):  # noqa: ANN001
    plain = cone()
    edges = {**plain.edges, "front closure": plain.edges["front opening"][:5], "dart front leg": plain.edges["hem"][:4]}
    fitting = cone(readings=READINGS, edges=edges)
    assert [check.key for check in CHECKS if place_of(fitting, check.key) is None] == []
    assert place_of(fitting, "weight.cloth_kg") is None
    assert len(neck_edge(fitting)) > 50
