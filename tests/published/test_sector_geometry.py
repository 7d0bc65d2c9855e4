"""Flat sectors and the cones they close to: known geometry the drafts must reproduce.

*Cone.* A sector of angle A closed along its straight edges is a cone of half apex angle arcsin(A / 360 deg): a half
circle has 30 deg, its sides fall 60 deg below the level and its hem is a ring of half the slant. Elementary geometry
(development of the cone; for instance Bronshtein and Semendyayev, Handbook of Mathematics, section on solids; from
memory).

*Angle defect.* Cloth sewn to a point from less than 360 deg has there a curvature equal to what is missing (Descartes,
De solidorum elementis, about 1630; the discrete Gauss-Bonnet theorem).

*Girths.* Neck-base girths are means of the US Army surveys of 2012 (Gordon and others 2014, NATICK/TR-15/007) and 1988
(Gordon and others 1989, NATICK/TR-89/044). A neck hole that is a half circle has the radius girth / pi.

Each check also runs once with a wrong constant and must fail.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from families import most_are_long
from stand_in import standing_body

from drape.body.figure import build_figure
from drape.draft import neckline
from drape.draft.cloak import draft_cloak
from drape.draft.outline import Draft, length_of, run_of
from drape.draft.style import Dart, Style

MAN_1988 = {  # men's means, NATICK/TR-89/044 [m]
    "stature": 1.7558,
    "back_neck_height": 1.5194,
    "side_neck_height": 1.5095,
    "front_neck_height": 1.4384,
    "shoulder_point_height": 1.4425,
    "shoulder_length": 0.1505,
    "shoulder_breadth": 0.3970,
    "upper_arm_breadth": 0.4918,
    "neck_base_girth": 0.4084,
    "neck_girth": 0.3796,
    "chest_girth": 0.9914,
    "waist_girth": 0.8399,
    "hip_girth": 0.9837,
}
WOMAN_1988 = {  # women's means, the same report [m]
    "stature": 1.6294,
    "back_neck_height": 1.4080,
    "side_neck_height": 1.3965,
    "front_neck_height": 1.3303,
    "shoulder_point_height": 1.3336,
    "shoulder_length": 0.1447,
    "shoulder_breadth": 0.3626,
    "upper_arm_breadth": 0.4326,
    "neck_base_girth": 0.3462,
    "neck_girth": 0.3157,
    "chest_girth": 0.9071,
    "waist_girth": 0.7255,
    "hip_girth": 0.9669,
}


def half_apex(draft: Draft) -> float:
    """Half apex angle [deg] of the cone a round draft closes to: hem ring's radius over the slant."""
    return math.degrees(math.asin(length_of(run_of(draft, "hem")) / (2 * math.pi * draft.dimensions["hem_radius"])))


CONES = [(90, 14.478), (120, 19.471), (180, 30.0), (240, 41.810), (270, 48.590), (300, 56.443)]


@pytest.mark.parametrize(("sweep", "wanted"), CONES)
def test_sector_closes_to_its_cone(sweep: float, wanted: float) -> None:
    """Half apex arcsin(A / 360): table worked out by hand for six sectors."""
    draft = draft_cloak(Style("round", 1.0, sweep=math.radians(sweep)), standing_body())
    assert half_apex(draft) == pytest.approx(wanted, abs=1e-3)


def test_half_circle_falls_sixty_degrees_with_a_hem_of_half_the_slant() -> None:
    """Slope 60 deg below the level, hem ring's radius half the slant, height sqrt(3)/2 of it."""
    draft = draft_cloak(Style("round", 1.1), standing_body())
    slant = draft.dimensions["hem_radius"]
    ring = draft.dimensions["hem_length"] / (2 * math.pi)
    assert ring == pytest.approx(slant / 2, rel=1e-9)
    assert 90 - half_apex(draft) == pytest.approx(60.0, abs=1e-3)
    assert math.sqrt(slant**2 - ring**2) == pytest.approx(0.866025 * slant, rel=1e-6)


GIRTHS = [
    ("men 2012", 0.4346, 0.1383),
    ("women 2012", 0.3712, 0.1182),
    ("men 1988", 0.4084, 0.1300),
    ("women 1988", 0.3462, 0.1102),
]


@pytest.mark.parametrize(("who", "girth", "radius"), GIRTHS)
def test_half_circle_neck_has_the_radius_girth_over_pi(who: str, girth: float, radius: float) -> None:
    """Four survey means, no ease, to a tenth of a millimetre."""
    draft = draft_cloak(Style("round", 1.1, neck_ease=0.0), standing_body(girth=girth))
    assert draft.dimensions["front_neck_depth"] == pytest.approx(radius, abs=6e-5), who
    assert draft.dimensions["neck_edge_length"] == pytest.approx(girth, abs=1e-9), who


def test_half_annulus_of_radii_140_and_13_8() -> None:
    """Area pi (R^2 - r^2) / 2 = 3.049 m2 and hem pi R = 4.398 m for R = 1.40 m and r = 0.138 m."""
    draft = draft_cloak(Style("round", 1.40 - 0.138, front_neck_depth=0.138), standing_body())
    assert draft.dimensions["area"] == pytest.approx(3.049, abs=5e-4)
    assert draft.dimensions["hem_length"] == pytest.approx(4.398, abs=5e-4)
    assert length_of(run_of(draft, "hem")) == pytest.approx(4.398, abs=5e-4)


@pytest.mark.parametrize("slope", [20.0, 23.0, 26.0, 33.0])
def test_wedges_and_sweep_add_up_to_what_the_shoulders_need(slope: float) -> None:
    """Two shoulder lines are 180 - 2 s apart through straight down, front and back need twice that: sweep and wedges.

    At s = 26 deg: 256 = 180 + 38 + 38. The defect round the sewn dart point is the dart's angle on the flat.
    """
    draft = draft_cloak(Style("tailored", 1.1, darts=(Dart(),)), standing_body(slope=slope))
    marks, values = draft.marks, draft.dimensions
    dart = 2 * math.asin(values["dart_intake"] / (2 * values["dart_length"]))
    cuts = 2 * math.asin(values["shoulder_cut_intake"] / (2 * values["shoulder_cut_length"]))
    assert 180 + math.degrees(dart + cuts) == pytest.approx(2 * (180 - 2 * slope), abs=1e-9)
    legs = [marks[f"left side neck {side}"] - marks["dart point"] for side in ("front", "back")]
    flat = math.acos(float(legs[0] @ legs[1]) / float(np.linalg.norm(legs[0]) * np.linalg.norm(legs[1])))
    assert flat == pytest.approx(dart, abs=1e-9)


@pytest.mark.parametrize(("sex", "tape"), most_are_long([("man", MAN_1988), ("woman", WOMAN_1988)], "man"))
def test_developed_neck_comes_out_near_the_girth_by_itself(sex: str, tape: dict[str, float]) -> None:
    """On figures of survey means the neck laid flat from the shoulder lines is the neck-base girth within 8 % before it
    is fitted to it: the girth is not used in laying it flat, so this is a check of the development (ours)."""
    shoulders = neckline.read_shoulders(build_figure(tape, sex=sex))
    turn = neckline.turn_to_take_out(shoulders.left.slope, math.pi)
    wedge = neckline.Wedge("dart.", None, None, turn)
    neck = neckline.tailored_neck(math.pi, 1.0, shoulders, wedge, wedge)
    assert length_of(neck.front) + length_of(neck.back) == pytest.approx(tape["neck_base_girth"], rel=0.08)
    shrunk = {
        side: replace(
            shoulder,
            front=(0.85 * shoulder.front[0], shoulder.front[1]),
            back=(0.85 * shoulder.back[0], shoulder.back[1]),
        )
        for side, shoulder in (("left", shoulders.left), ("right", shoulders.right))
    }
    wrong = neckline.tailored_neck(math.pi, 1.0, replace(shoulders, **shrunk), wedge, wedge)
    assert length_of(wrong.front) + length_of(wrong.back) != pytest.approx(tape["neck_base_girth"], rel=0.08)


def test_wrong_constants_fail() -> None:
    """Negative control: the checks above refuse a cone of A/180, a radius of girth over 2 pi, and a whole annulus."""
    draft = draft_cloak(Style("round", 1.1, neck_ease=0.0), standing_body())
    assert half_apex(draft) != pytest.approx(math.degrees(math.asin(180 / 240)), abs=1e-3)
    assert draft.dimensions["front_neck_depth"] != pytest.approx(0.4084 / (2 * math.pi), abs=6e-5)
    radius, hem = draft.dimensions["front_neck_depth"], draft.dimensions["hem_radius"]
    assert draft.dimensions["area"] != pytest.approx(math.pi * (hem**2 - radius**2), abs=5e-4)
    tailored = draft_cloak(Style("tailored", 1.1, darts=(Dart(),), shoulder_cut_intake=0.0), standing_body()).dimensions
    dart = 2 * math.asin(tailored["dart_intake"] / (2 * tailored["dart_length"]))
    assert 180 + math.degrees(dart) != pytest.approx(256.0, abs=1e-9)
