"""draft: outlines against exact geometry, sewn properties, and every refusal.

Bodies here are stand-ins with a figure's landmarks only, so that each expected value is a formula of the numbers typed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import Polygon
from stand_in import standing_body

from drape.draft.cloak import draft_cloak
from drape.draft.neckline import direction, mirrored
from drape.draft.outline import Draft, area_of, length_of, outline_of, run_of, squeezed
from drape.draft.style import Dart, Style
from drape.errors import DraftError

CM = 0.01
EDGES = {"front neck", "back neck", "front closure", "back closure", "front opening", "back opening", "hem"}
LEGS = {"dart front leg", "dart back leg"}


def angle_at(corner: np.ndarray, a: np.ndarray, b: np.ndarray) -> float:
    """Angle a-corner-b [rad]."""
    u, v = a - corner, b - corner
    return math.acos(float(u @ v) / float(np.linalg.norm(u) * np.linalg.norm(v)))


def uneven(slope: float, difference: float, **measures: object) -> SimpleNamespace:
    """A stand-in whose two shoulder slopes [deg] differ."""
    half = difference / 2
    return standing_body(slope_left=slope + half, slope_right=slope - half, **measures)  # type: ignore[arg-type]


bodies = st.builds(
    uneven,
    slope=st.floats(17, 33),
    difference=st.one_of(st.just(0.0), st.floats(-6, 6)),
    shoulder=st.floats(0.12, 0.17),
    half_neck=st.floats(0.05, 0.075),
    girth=st.floats(0.33, 0.46),
    front=st.tuples(st.floats(0.02, 0.06), st.floats(-0.09, -0.055)),
    back=st.tuples(st.floats(-0.07, -0.04), st.floats(0.0, 0.02)),
)
lengths = st.floats(0.5, 1.4)
sweeps = st.floats(math.radians(90), math.radians(360))
darts = st.sampled_from([(), (Dart(),)])


@given(body=bodies, length=lengths, sweep=sweeps, ease=st.floats(0.0, 0.1))
@settings(max_examples=25, deadline=None)
def test_round_draft_is_an_annular_sector(body: SimpleNamespace, length: float, sweep: float, ease: float) -> None:
    """Radius (girth + ease)/S; area S (R^2 - r^2)/2; hem S R; neck S r: a half circle's are the known formulas."""
    draft = draft_cloak(Style("round", length, sweep=sweep, neck_ease=ease), body)
    radius = (body.tape["neck_base_girth"] + ease) / sweep
    hem_radius = radius + length
    values = draft.dimensions
    assert values["front_neck_depth"] == pytest.approx(radius, rel=1e-5)
    assert values["back_neck_depth"] == pytest.approx(radius, rel=1e-5)
    assert values["neck_edge_length"] == pytest.approx(sweep * radius, abs=1e-9)
    assert values["hem_radius"] == pytest.approx(hem_radius, rel=1e-5)
    assert values["hem_length"] == pytest.approx(sweep * hem_radius, rel=1e-5)
    assert values["area"] == pytest.approx(sweep * (hem_radius**2 - radius**2) / 2, rel=2e-5)
    assert length_of(run_of(draft, "hem")) == pytest.approx(sweep * hem_radius, rel=1e-5)
    assert {edge.name for edge in draft.edges} == EDGES


@st.composite
def drafts(draw: st.DrawFn) -> Draft:
    """Any draft the program is willing to draw."""
    style = Style(
        draw(st.sampled_from(["round", "tailored"])),
        draw(lengths),
        sweep=draw(st.one_of(st.just(math.pi), sweeps)),
        neck_ease=draw(st.floats(0.0, 0.08)),
        shoulder_cut_intake=draw(st.one_of(st.none(), st.just(0.0), st.floats(0.01, 0.12))),
        shoulder_cut_length=draw(st.one_of(st.none(), st.floats(0.08, 0.2))),
        fastened_length=draw(st.one_of(st.none(), st.floats(0.03, 0.4))),
        darts=draw(
            st.one_of(
                st.just(()),
                st.tuples(
                    st.builds(
                        Dart,
                        length=st.one_of(st.none(), st.floats(0.08, 0.2)),
                        intake=st.one_of(st.none(), st.floats(0.01, 0.12)),
                    )
                ),
            )
        ),
    )
    try:
        return draft_cloak(style, draw(bodies))
    except DraftError:
        assume(False)
        raise


@given(draft=drafts())
@settings(max_examples=40, deadline=None)
def test_outline_is_one_closed_simple_loop(draft: Draft) -> None:
    """Each edge ends where the next starts, exactly; anticlockwise; no crossing, checked by shapely."""
    for edge, after in zip(draft.edges, draft.edges[1:] + draft.edges[:1], strict=True):
        assert np.array_equal(edge.points[-1], after.points[0]) or draft.style.sweep > 6.28
        assert np.linalg.norm(edge.points[-1] - after.points[0]) < 1e-12
    outline = outline_of(draft)
    loop = Polygon(squeezed(outline, min(1.0, math.radians(345) / draft.style.sweep)))
    assert loop.is_valid
    assert loop.exterior.is_ccw
    assert draft.dimensions["area"] == pytest.approx(area_of(outline), rel=1e-12)
    names = [edge.name for edge in draft.edges]
    assert len(names) == len(set(names))
    assert set(names) == (EDGES | LEGS if "dart point" in draft.marks else EDGES)


@given(draft=drafts())
@settings(max_examples=40, deadline=None)
def test_seam_partners_are_equally_long_and_start_at_the_neck(draft: Draft) -> None:
    """Partners within 1e-9 m; run from the neck edge; the dart's legs end in one point, its mark."""
    neck_ends = np.vstack([run_of(draft, name)[[0, -1]] for name in ("front neck", "back neck")])
    for seam in draft.seams:
        first, second = run_of(draft, seam.first), run_of(draft, seam.second)
        assert length_of(first) == pytest.approx(length_of(second), abs=1e-9)
        for run in (first, second):
            assert np.linalg.norm(neck_ends - run[0], axis=1).min() < 1e-12
    if "dart point" in draft.marks:
        for name in LEGS:
            assert np.array_equal(run_of(draft, name)[-1], draft.marks["dart point"])


@given(draft=drafts())
@settings(max_examples=40, deadline=None)
def test_neck_is_as_long_as_asked_and_ordered(draft: Draft) -> None:
    """Sewn neck edge = girth + ease; points run by increasing phi as seen from O inside each half's wedge-free part."""
    body_and_ease = draft.dimensions["neck_edge_length"]
    sewn = length_of(run_of(draft, "front neck")) + length_of(run_of(draft, "back neck"))
    assert sewn == pytest.approx(body_and_ease, abs=1e-12)
    hem = run_of(draft, "hem")
    assert np.allclose(np.linalg.norm(hem, axis=1), draft.dimensions["hem_radius"], rtol=1e-12)
    assert np.linalg.norm(draft.marks["back hem"] - draft.marks["back neck"]) == pytest.approx(
        draft.style.length, abs=1e-9
    )
    front = run_of(draft, "front neck")
    assert np.linalg.norm(front[0] - draft.marks["right side neck front"]) < 1e-12
    assert length_of(front) > 0.05


@given(body=bodies, ease=st.floats(0.0, 0.06), dart=darts)
@settings(max_examples=25, deadline=None)
def test_tailored_neck_has_girth_plus_ease(body: SimpleNamespace, ease: float, dart: tuple[Dart, ...]) -> None:
    """Whatever the body, the sewn neck edge is neck-base girth + ease within 1e-9 m."""
    draft = draft_cloak(Style("tailored", 1.0, neck_ease=ease, darts=dart), body)
    assert draft.dimensions["neck_edge_length"] == pytest.approx(body.tape["neck_base_girth"] + ease, abs=1e-9)


@given(body=bodies, sweep=st.floats(math.radians(120), math.radians(210)))
@settings(max_examples=25, deadline=None)
def test_wedge_turns_the_panels_to_the_shoulders(body: SimpleNamespace, sweep: float) -> None:
    """delta = 180 - 2 s - S/2 per shoulder; the dart's angle on the flat is what is missing round its point once sewn;
    the front panel then turns through 180 - s_l - s_r between its two shoulder seams, and so does the back."""
    draft = draft_cloak(Style("tailored", 1.0, sweep=sweep, darts=(Dart(),)), body)
    slopes = {
        side: math.asin(
            (body.landmarks[f"side_neck_{side}"][2] - body.landmarks[f"shoulder_point_{side}"][2])
            / np.linalg.norm(body.landmarks[f"side_neck_{side}"] - body.landmarks[f"shoulder_point_{side}"])
        )
        for side in ("left", "right")
    }
    wanted = {side: math.pi - 2 * slope - sweep / 2 for side, slope in slopes.items()}
    assume(min(wanted.values()) > math.radians(3))
    marks = draft.marks
    left = angle_at(marks["dart point"], marks["left side neck front"], marks["left side neck back"])
    assert left == pytest.approx(wanted["left"], abs=1e-9)
    cut = marks["front cut point"]
    assert 2 * angle_at(cut, marks["right side neck front"], np.zeros(2)) == pytest.approx(wanted["right"], abs=1e-9)
    for name, start, end in (
        ("front", marks["right side neck front"] - cut, marks["left side neck front"] - marks["dart point"]),
        (
            "back",
            marks["left side neck back"] - marks["dart point"],
            marks["right side neck back"] - marks["back cut point"],
        ),
    ):
        turn = angle_at(np.zeros(2), start, end)
        assert turn == pytest.approx(math.pi - slopes["left"] - slopes["right"], abs=1e-9), name
    polygon = outline_of(draft)
    at = int(np.argmin(np.linalg.norm(polygon - marks["dart point"], axis=1)))
    cloth = 2 * math.pi - angle_at(polygon[at], polygon[at - 1], polygon[(at + 1) % len(polygon)])
    assert 2 * math.pi - cloth == pytest.approx(wanted["left"], abs=1e-9)


def test_mean_man_takes_a_wedge_of_38_degrees_at_slope_26() -> None:
    """Worked by hand: S = 180, s = 26: 180 - 52 - 90 = 38 degrees; intake 2 x 15 sin 19 = 9.767 cm."""
    draft = draft_cloak(
        Style("tailored", 1.1, darts=(Dart(),)), standing_body(slope_left=26, slope_right=26, shoulder=0.15)
    )
    assert draft.dimensions["dart_intake"] / CM == pytest.approx(9.767, abs=5e-4)
    assert draft.dimensions["shoulder_cut_intake"] / CM == pytest.approx(9.767, abs=5e-4)
    assert draft.dimensions["dart_length"] / CM == pytest.approx(15.0, abs=1e-9)


def test_equal_shoulders_make_front_and_back_alike_but_for_the_depths() -> None:
    """Closure, dart and hem are mirrored on phi = S/2; the front neck point is the deeper one, on phi = S/4."""
    draft = draft_cloak(Style("tailored", 1.1, darts=(Dart(),)), standing_body())
    for front, back in (
        ("front closure", "back closure"),
        ("dart front leg", "dart back leg"),
        ("front opening", "back opening"),
    ):
        assert np.allclose(mirrored(run_of(draft, front), math.pi), run_of(draft, back), atol=1e-12)
    marks = draft.marks
    assert np.allclose(marks["front neck"], draft.dimensions["front_neck_depth"] * direction(math.pi / 4), atol=1e-12)
    assert np.allclose(marks["back neck"], draft.dimensions["back_neck_depth"] * direction(3 * math.pi / 4), atol=1e-12)
    assert draft.dimensions["front_neck_depth"] > draft.dimensions["back_neck_depth"] + 0.02


def test_wedge_point_obeys_the_triangle_of_the_apex() -> None:
    """Legs and centre front meet at O_f with |O_f D| = rho sin(S/4) / sin(S/4 + delta/2), from the law of sines."""
    draft = draft_cloak(Style("tailored", 1.1, darts=(Dart(),)), standing_body())
    tip, side = draft.marks["dart point"], draft.marks["left side neck front"]
    run = (side - tip) / np.linalg.norm(side - tip)
    matrix = np.column_stack([run, -direction(math.pi / 4)])
    reach, _ = np.linalg.solve(matrix, -tip)
    delta = angle_at(tip, side, draft.marks["left side neck back"])
    rho = float(np.linalg.norm(tip))
    assert reach == pytest.approx(rho * math.sin(math.pi / 4) / math.sin(math.pi / 4 + delta / 2), rel=1e-9)


@pytest.mark.parametrize("dart", [(), (Dart(),)])
def test_neck_edge_is_hollow_and_square_to_the_centre_lines(dart: tuple[Dart, ...]) -> None:
    """Each half turns one way only, crosses its centre line squarely, and runs on smoothly over the left shoulder."""
    draft = draft_cloak(Style("tailored", 1.1, darts=dart), standing_body())
    for name in ("front", "back"):
        run = run_of(draft, f"{name} neck")
        step = np.diff(run, axis=0)
        turn = step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0]
        assert turn.min() > -1e-12
        middle = int(np.argmin(np.linalg.norm(run - draft.marks[f"{name} neck"], axis=1)))
        before, after = run[middle] - run[middle - 1], run[middle + 1] - run[middle]
        assert angle_at(np.zeros(2), before, after) < math.radians(2)
    front, back = run_of(draft, "front neck"), run_of(draft, "back neck")
    if dart:
        point = draft.marks["dart point"]
        total = angle_at(front[-1], front[-2], point) + angle_at(back[0], back[1], point)
    else:
        total = angle_at(front[-1], front[-2], back[1])
    assert total == pytest.approx(math.pi, abs=math.radians(2))


def test_given_dimensions_are_kept_and_the_rest_left_alone() -> None:
    """A given depth or width replaces the fitted one; the others stay; the neck edge length is what comes of it."""
    fitted = draft_cloak(Style("tailored", 1.1, darts=(Dart(),)), standing_body())
    deeper = draft_cloak(
        Style("tailored", 1.1, darts=(Dart(),), front_neck_depth=fitted.dimensions["front_neck_depth"] + 0.02),
        standing_body(),
    )
    assert deeper.dimensions["front_neck_depth"] == pytest.approx(
        fitted.dimensions["front_neck_depth"] + 0.02, abs=1e-12
    )
    for name in ("back_neck_depth", "neck_width", "dart_intake", "dart_length"):
        assert deeper.dimensions[name] == pytest.approx(fitted.dimensions[name], abs=1e-12)
    assert deeper.dimensions["neck_edge_length"] > fitted.dimensions["neck_edge_length"] + 0.01
    wide = draft_cloak(Style("tailored", 1.1, darts=(Dart(),), neck_width=0.2), standing_body())
    assert wide.dimensions["neck_width"] == pytest.approx(0.2, abs=1e-12)
    front = wide.marks["left side neck front"] - wide.marks["right side neck front"]
    assert np.linalg.norm(front) == pytest.approx(0.2, abs=1e-9)
    hem = deeper.dimensions["hem_radius"] - deeper.dimensions["back_neck_depth"]
    assert hem == pytest.approx(1.1, abs=1e-12)


def test_wedge_dimensions_can_be_given() -> None:
    """Intake and length as asked, measured on the flat; intake 0 means none."""
    style = Style(
        "tailored", 1.1, darts=(Dart(length=0.12, intake=0.05),), shoulder_cut_intake=0.06, shoulder_cut_length=0.13
    )
    draft = draft_cloak(style, standing_body())
    marks = draft.marks
    assert np.linalg.norm(marks["left side neck front"] - marks["left side neck back"]) == pytest.approx(0.05, abs=1e-9)
    assert np.linalg.norm(marks["left side neck front"] - marks["dart point"]) == pytest.approx(0.12, abs=1e-9)
    assert marks["right side neck front"][1] == pytest.approx(0.03, abs=1e-9)
    assert length_of(run_of(draft, "front closure")) == pytest.approx(0.13, abs=1e-9)
    plain = draft_cloak(replace(style, darts=(Dart(intake=0.0),), shoulder_cut_intake=0.0), standing_body())
    assert {edge.name for edge in plain.edges} == EDGES
    assert "front cut point" not in plain.marks
    assert run_of(plain, "front closure")[:, 1] == pytest.approx(0.0, abs=1e-12)


def test_round_neck_takes_dart_and_cuts() -> None:
    """Wedge ends lie on the circle about O; the sewn neck edge is still girth + ease."""
    draft = draft_cloak(Style("round", 1.1, darts=(Dart(),), shoulder_cut_intake=0.08), standing_body())
    radius = draft.dimensions["front_neck_depth"]
    for name in ("front neck", "back neck"):
        assert np.linalg.norm(run_of(draft, name), axis=1) == pytest.approx(radius, abs=1e-12)
    assert draft.dimensions["neck_edge_length"] == pytest.approx(0.4084 + 0.01, abs=1e-9)
    assert draft.dimensions["shoulder_cut_intake"] == pytest.approx(0.08, abs=1e-9)


def test_fastening_is_as_long_as_the_shoulder_or_as_asked() -> None:
    """Default: shoulder length on a straight edge, the cut's length with a cut; an asked one ends on or beyond the
    cut."""
    body = standing_body()
    assert draft_cloak(Style("round", 1.1), body).dimensions["fastened_length"] == pytest.approx(0.1505, abs=1e-12)
    assert draft_cloak(Style("tailored", 1.1), body).dimensions["fastened_length"] == pytest.approx(0.1505, abs=1e-12)
    for fastened in (0.08, 0.3):
        draft = draft_cloak(Style("tailored", 1.1, fastened_length=fastened), body)
        assert length_of(run_of(draft, "front closure")) == pytest.approx(fastened, abs=1e-12)
        assert len(run_of(draft, "front closure")) == (2 if fastened < 0.15 else 3)


def test_wide_sweep_needs_no_wedge() -> None:
    """S = 270, s = 26.4: 180 - 52.8 - 135 < 0, so nothing is taken out and no dart is drawn, which dimensions say."""
    draft = draft_cloak(Style("tailored", 1.1, sweep=1.5 * math.pi, darts=(Dart(),)), standing_body())
    assert draft.dimensions["dart_intake"] == 0.0
    assert draft.dimensions["shoulder_cut_intake"] == 0.0
    assert "dart point" not in draft.marks


def test_uneven_shoulders_get_uneven_wedges() -> None:
    """The steeper shoulder takes the narrower wedge: 2 s more slope, as much less angle."""
    draft = draft_cloak(Style("tailored", 1.1, darts=(Dart(),)), standing_body(slope_left=30, slope_right=24))
    marks = draft.marks
    left = angle_at(marks["dart point"], marks["left side neck front"], marks["left side neck back"])
    right = 2 * angle_at(marks["front cut point"], marks["right side neck front"], np.zeros(2))
    assert math.degrees(left) == pytest.approx(180 - 60 - 90, abs=1e-6)
    assert math.degrees(right) == pytest.approx(180 - 48 - 90, abs=1e-6)


@given(body=bodies, factor=st.floats(0.5, 1.5))
@settings(max_examples=20, deadline=None)
def test_draft_scales_with_the_body(body: SimpleNamespace, factor: float) -> None:
    """A body twice as large has a draft twice as large: every length by the factor, the area by its square."""
    grown = SimpleNamespace(
        landmarks={name: factor * point for name, point in body.landmarks.items()},
        tape={"neck_base_girth": factor * body.tape["neck_base_girth"]},
        levels={name: factor * level for name, level in body.levels.items()},
    )
    style = Style("tailored", 1.0, darts=(Dart(),), neck_ease=0.01)
    small = draft_cloak(style, body).dimensions
    large = draft_cloak(replace(style, length=factor, neck_ease=0.01 * factor), grown).dimensions
    for name, value in small.items():
        assert large[name] == pytest.approx(value * factor ** (2 if name == "area" else 1), rel=1e-6), name


REFUSED: Mapping[str, tuple[Style, str]] = {
    "hole": (Style("round", 0.005), r"neck hole is wider than the draft, got 13\.3\d* cm"),
    "deep hole": (Style("tailored", 0.1, front_neck_depth=0.4), r"neck hole is wider than the draft"),
    "dart to hem": (
        Style("round", 0.3, darts=(Dart(length=0.5, intake=0.05),)),
        r"dart\.length_cm: the dart reaches the hem, got 50",
    ),
    "cut to hem": (
        Style("tailored", 0.3, shoulder_cut_length=0.5, shoulder_cut_intake=0.05),
        r"closure\.shoulder_cut_length_cm: the shoulder cut is longer than the straight edge, got 50",
    ),
    "intake for length": (
        Style("tailored", 1.1, darts=(Dart(length=0.05, intake=0.2),)),
        r"dart\.intake_cm: the intake cannot fit a wedge 5 long, got 20, allowed at most 8\.66",
    ),
    "intake for round": (
        Style("round", 1.1, front_neck_depth=0.135, darts=(Dart(length=0.3, intake=0.26),)),
        r"dart\.intake_cm: the intake does not fit the round neck, got 26, allowed at most 24\.3",
    ),
    "too short": (
        Style("round", 1.1, front_neck_depth=0.12),
        r"neck edge is too short to close, got 37\.7 cm sewn, allowed at least 39\.84",
    ),
    "too narrow": (Style("tailored", 1.1, neck_width=0.08), r"too short to close"),
    "wider than the shoulders": (
        Style("round", 1.1, front_neck_depth=0.45),
        r"so wide that the shoulders slip through, got 141\.4 cm sewn, allowed under",
    ),
    "fastened": (
        Style("round", 1.1, fastened_length=1.2),
        r"closure\.fastened_length_cm: got 120, allowed less than 109",
    ),
    "shallow back": (
        Style("tailored", 1.1, darts=(Dart(),), back_neck_depth=0.09),
        r"draft\.back_neck_depth_cm: the neck edge cannot be drawn as one hollow curve, got 9",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refusals_name_the_value_and_what_is_allowed(case: str) -> None:
    """One line each, with the value got, what is allowed, and something to try."""
    style, wanted = REFUSED[case]
    with pytest.raises(DraftError, match=wanted) as caught:
        draft_cloak(style, standing_body())
    message = str(caught.value)
    assert "\n" not in message
    assert "got" in message
    assert "allowed" in message
    assert message.rstrip().endswith(".")
