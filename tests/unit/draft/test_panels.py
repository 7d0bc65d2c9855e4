"""panels, necks: the same cloak opened elsewhere, darts anywhere, bowed legs, drawn necks; each against a formula."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely import Polygon
from stand_in import standing_body

from drape.cloth.mesh import triangulate
from drape.cloth.sheet import join_seams
from drape.draft.cloak import draft_cloak
from drape.draft.neckline import direction
from drape.draft.outline import Draft, area_of, closing_line, length_of, outline_of, run_of, squeezed
from drape.draft.panels import share_of
from drape.draft.style import AZIMUTHS, CLOSURE_PLACES, Dart, Style
from drape.errors import DraftError, MeshError


def shoulder_darts(place: str) -> tuple[Dart, ...]:
    """A dart on every shoulder that is not the closure."""
    return tuple(Dart(side) for side in ("left shoulder", "right shoulder") if side != place)


@st.composite
def drafts(draw: st.DrawFn) -> Draft:
    """Any draft the program is willing to draw: every closure, darts anywhere, bowed or not."""
    place = draw(st.sampled_from(CLOSURE_PLACES))
    bow = draw(st.sampled_from([0.0, 0.004, -0.004]))
    darts = [Dart(d.place, leg_bow=bow) for d in shoulder_darts(place)][: draw(st.integers(0, 2))]
    for azimuth in draw(st.lists(st.sampled_from([20, 160, 180, 200, 345]), max_size=2, unique=True)):
        darts.append(Dart(azimuth=math.radians(azimuth), length=0.11, intake=draw(st.floats(0.01, 0.03)), leg_bow=bow))
    style = Style(
        draw(st.sampled_from(["round", "tailored"])),
        draw(st.floats(0.5, 1.4)),
        sweep=draw(st.one_of(st.just(math.pi), st.floats(math.radians(90), math.radians(360)))),
        front_length=draw(st.one_of(st.none(), st.floats(0.45, 1.3))),
        closure_place=place,
        fastened_length=draw(st.one_of(st.none(), st.floats(0.03, 0.3))),
        darts=tuple(darts),
    )
    try:
        return draft_cloak(
            style,
            standing_body(
                slope_left=draw(st.floats(20, 32)),
                slope_right=draw(st.floats(20, 32)),
                girth=draw(st.floats(0.35, 0.45)),
            ),
        )
    except DraftError:
        assume(False)
        raise


@given(draft=drafts())
@settings(max_examples=25, deadline=None)
def test_any_draft_is_one_simple_loop_with_equal_seam_partners(draft: Draft) -> None:
    """Edges join, the loop crosses nothing (shapely), partners are equally long and run from neck to point."""
    for edge, after in zip(draft.edges, draft.edges[1:] + draft.edges[:1], strict=True):
        assert np.linalg.norm(edge.points[-1] - after.points[0]) < 1e-12
    loop = Polygon(squeezed(outline_of(draft), min(1.0, math.radians(345) / draft.style.sweep)))
    assert loop.is_valid
    assert loop.exterior.is_ccw
    names = [edge.name for edge in draft.edges]
    assert len(names) == len(set(names))
    for seam in draft.seams:
        assert length_of(run_of(draft, seam.first)) == pytest.approx(length_of(run_of(draft, seam.second)), abs=1e-9)
    for dart in draft.darts:
        first, second = (run_of(draft, leg) for leg in dart.legs)
        assert np.array_equal(first[-1], second[-1]) and np.array_equal(first[-1], draft.marks[dart.point])
        assert np.linalg.norm(first[0] - second[0]) == pytest.approx(dart.intake, abs=2e-6)
        assert np.linalg.norm(first[0] - first[-1]) == pytest.approx(dart.length, abs=1e-6)
        wanted = draft.style.sweep * share_of(dart.azimuth, draft.style)
        assert abs(draft.marks[dart.point] @ direction(wanted + math.pi / 2)) < 1e-9
    sewn = sum(length_of(run_of(draft, name)) for name in draft.neck)
    assert sewn == pytest.approx(draft.dimensions["neck_edge_length"], abs=1e-9)


@given(draft=drafts())
@settings(max_examples=6, deadline=None)
@pytest.mark.long
def test_the_sewn_surface_closes(draft: Draft) -> None:
    """Sewn, every side is in one or two triangles, the rim is two loops (neck; hem and opening) and V - E + F = 0,
    as of any ring (Euler's formula for a surface with two boundaries)."""
    try:
        mesh = triangulate(draft, edge_length=0.06)
    except MeshError:
        assume(False)
    point_of_vertex, count = join_seams(len(mesh.flat), mesh.seams)
    corners = point_of_vertex[mesh.triangles]
    sides = np.sort(np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]]), axis=1)
    sides, times = np.unique(sides, axis=0, return_counts=True)
    assert times.max() == 2
    assert count - len(sides) + len(corners) == 0
    rim = sides[times == 1]
    used, place = np.unique(rim, return_inverse=True)
    assert (np.bincount(place.ravel()) == 2).all()
    ends = place.reshape(-1, 2)
    loops, _ = connected_components(
        coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(len(used),) * 2), directed=False
    )
    assert loops == 2


@pytest.mark.parametrize("slopes", [(26.4, 26.4), (29.0, 24.0)])
def test_the_closure_moves_and_the_sewn_cloak_stays(slopes: tuple[float, float]) -> None:
    """Wherever it opens: same area, same neck edge, same wedges over the shoulders, same depths at centre back."""
    body = standing_body(slope_left=slopes[0], slope_right=slopes[1])
    made = {
        place: draft_cloak(Style("tailored", 1.1, closure_place=place, darts=shoulder_darts(place)), body)
        for place in CLOSURE_PLACES
    }
    right = made["right shoulder"]
    for place, draft in made.items():
        for name in ("area", "neck_edge_length", "back_neck_depth", "hem_length"):
            assert draft.dimensions[name] == pytest.approx(right.dimensions[name], abs=1e-9), (place, name)
        wedges = {dart.place: dart.intake for dart in draft.darts}
        wedges[place] = draft.dimensions["shoulder_cut_intake"]
        wanted = {"left shoulder": right.darts[0].intake, "right shoulder": right.dimensions["shoulder_cut_intake"]}
        for side, intake in wanted.items():
            assert wedges[side] == pytest.approx(intake, abs=1e-12)
    assert [dart.place for dart in made["centre front"].darts] == ["left shoulder", "right shoulder"]
    assert made["centre front"].closure == ("left closure", "right closure")
    assert made["left shoulder"].closure == ("back closure", "front closure")


def test_a_left_closing_on_an_even_body_is_the_mirror_image() -> None:
    """Left and right exchanged: each point of the one outline lies on the other, mirrored on phi = S/2."""
    body = standing_body()
    right = draft_cloak(Style("tailored", 1.1, darts=(Dart(),)), body)
    left = draft_cloak(Style("tailored", 1.1, closure_place="left shoulder", darts=(Dart(),)), body)
    for name in ("front neck", "back neck", "front closure", "back closure", "front opening", "back opening"):
        mirror = run_of(right, name) * [-1, 1]
        mine = run_of(left, name)
        assert min(np.abs(mine - mirror).max(), np.abs(mine - mirror[::-1]).max()) < 1e-12, name


def test_centre_front_closes_on_straight_edges_at_the_front_neck_point() -> None:
    """Both opening edges lie on the straight edge; the neck edge meets it squarely, half on each side."""
    draft = draft_cloak(
        Style("tailored", 1.1, closure_place="centre front", darts=shoulder_darts("centre front")), standing_body()
    )
    for name in (*draft.closure, *draft.opening):
        assert np.abs(run_of(draft, name)[:, 1]).max() < 1e-12
    left, right = run_of(draft, "left front neck"), run_of(draft, "right front neck")
    assert left[0, 0] == pytest.approx(draft.dimensions["front_neck_depth"], abs=1e-12)
    assert abs(left[1, 0] - left[0, 0]) < 0.02 * abs(left[1, 1] - left[0, 1])
    assert length_of(left) == pytest.approx(length_of(right), abs=1e-9)


def crossing(first: np.ndarray, last: np.ndarray) -> np.ndarray:
    """Where two straight runs of points meet, run on."""
    ways = np.column_stack([first[-1] - first[0], last[0] - last[-1]])
    return first[0] + np.linalg.solve(ways, last[0] - first[0])[0] * ways[:, 0]


@pytest.mark.parametrize(("left", "right", "sweep"), [(31.0, 22.0, 180), (20.0, 32.0, 210), (23.0, 26.0, 150)])
def test_at_centre_front_the_edges_and_centre_back_run_to_where_the_shoulder_lines_meet(left, right, sweep) -> None:
    """The front legs of both darts, laid side by side as they are sewn, meet over the front edges' line, the back legs
    over centre back; and there, as on the body, each makes 90 degrees less the slope with it."""
    style = Style("tailored", 1.1, sweep=math.radians(sweep), closure_place="centre front", darts=(Dart(),))
    draft = draft_cloak(style, standing_body(slope_left=left, slope_right=right))
    assert abs(draft.dimensions["closure_moved"]) > 0.005
    c, s = math.cos(style.sweep), math.sin(style.sweep)
    edges, centre = [closing_line(draft, 0), closing_line(draft, 1) @ [[c, -s], [s, c]]], draft.marks
    np.testing.assert_allclose(edges[0], edges[1], atol=1e-12)  # sewn, one lies on the other from neck to hem
    assert np.ptp(edges[0][:, 1]) < 1e-12 and edges[0][0, 1] == pytest.approx(draft.dimensions["closure_moved"])
    fronts = [run_of(draft, "dart 1 front leg"), run_of(draft, "dart 2 front leg") @ [[c, -s], [s, c]]]
    backs = [run_of(draft, f"dart {k} back leg") for k in (1, 2)]
    for legs, line in ((fronts, edges[0]), (backs, np.array([centre["back neck"], centre["back hem"]]))):
        way = (line[-1] - line[0]) / np.linalg.norm(line[-1] - line[0])
        off = crossing(*legs) - line[0]
        assert abs(off[0] * way[1] - off[1] * way[0]) < 1e-9
        for leg, slope in zip(legs, (left, right), strict=True):
            along = (leg[-1] - leg[0]) / np.linalg.norm(leg[-1] - leg[0])
            assert math.degrees(math.acos(along @ way)) == pytest.approx(90.0 - slope, abs=1e-6)


def test_unlike_darts_on_like_shoulders_leave_as_much_front_neck_on_either_side() -> None:
    darts = (Dart("left shoulder", intake=0.1), Dart("right shoulder", intake=0.06))
    draft = draft_cloak(Style("tailored", 1.1, closure_place="centre front", darts=darts), standing_body())
    left, right = (length_of(run_of(draft, f"{side} front neck")) for side in ("left", "right"))
    assert left == pytest.approx(right, abs=1e-9)
    ends = [closing_line(draft, side)[-1] for side in (0, 1)]
    np.testing.assert_allclose(ends[0], -ends[1], atol=1e-12)


@pytest.mark.parametrize("bow", [0.005, -0.004])
def test_a_bowed_leg_takes_the_parabola_with_it(bow: float) -> None:
    """Area between chord and parabola: 2/3 of chord times height (Archimedes, Quadrature of the Parabola). Two legs."""
    plain = draft_cloak(Style("tailored", 1.1, darts=(Dart(),)), standing_body())
    bowed = draft_cloak(Style("tailored", 1.1, darts=(Dart(leg_bow=bow),)), standing_body())
    taken = plain.dimensions["area"] - bowed.dimensions["area"]
    assert taken == pytest.approx(2 * 2 / 3 * plain.darts[0].length * bow, rel=1e-3)
    first = run_of(bowed, "dart front leg")
    chord = first[-1] - first[0]
    off = (first - first[0]) @ np.array([chord[1], -chord[0]]) / np.linalg.norm(chord)
    assert np.abs(off).max() == pytest.approx(abs(bow), rel=1e-3)
    cut = draft_cloak(Style("tailored", 1.1, darts=(Dart(),), shoulder_cut_bow=bow), standing_body())
    taken = plain.dimensions["area"] - cut.dimensions["area"]
    assert taken == pytest.approx(2 * 2 / 3 * plain.dimensions["shoulder_cut_length"] * bow, rel=1e-3)


def test_a_dart_at_an_azimuth_of_a_round_neck_ends_where_the_circle_says() -> None:
    """Leg L, mouth i on a circle of radius r: its point is L cos(d/2) + sqrt(r^2 - i^2/4) from O, sin(d/2) = i/2L."""
    draft = draft_cloak(Style("round", 1.1, darts=(Dart(azimuth=math.pi, length=0.12, intake=0.03),)), standing_body())
    r, half = draft.dimensions["front_neck_depth"], 0.015
    wanted = math.sqrt(0.12**2 - half**2) + math.sqrt(r**2 - half**2)
    assert draft.marks["dart point"] == pytest.approx(wanted * direction(0.75 * math.pi), abs=2e-6)
    assert draft.darts[0].legs == ("dart left leg", "dart right leg")
    assert draft.neck == ("front neck", "back neck 1", "back neck 2")
    assert draft.dimensions["neck_edge_length"] == pytest.approx(0.4084 + 0.01, abs=1e-9)


def test_a_dart_is_set_back_from_the_shoulder_point() -> None:
    """point_short 2 cm: the dart is as much shorter than the shoulder, and its angle stays that of the slope."""
    whole, short = (
        draft_cloak(Style("tailored", 1.1, darts=(dart,)), standing_body()).darts[0]
        for dart in (Dart(), Dart(point_short=0.02))
    )
    assert short.length == pytest.approx(whole.length - 0.02, abs=1e-12)
    assert short.intake / short.length == pytest.approx(whole.intake / whole.length, rel=1e-12)


ARC = [0.22 * direction(math.radians(angle)) for angle in (0, 30, 60, 90, 120, 150, 180)]


def test_a_drawn_neck_goes_through_its_points_and_can_be_a_circle() -> None:
    """Points each 30 degrees of a circle: the curve is that circle within 0.5 mm, the round neck of that radius."""
    along, up = zip(*ARC, strict=True)
    drawn = draft_cloak(Style("drawn", 1.1, neck_along=along, neck_up=up), standing_body())
    curve = np.vstack([run_of(drawn, name) for name in drawn.neck])
    for point in ARC:
        assert np.linalg.norm(curve - point, axis=1).min() < 1e-3
    assert np.abs(np.linalg.norm(curve, axis=1) - 0.22).max() < 5e-4
    plain = draft_cloak(Style("round", 1.1, front_neck_depth=0.22), standing_body())
    assert drawn.dimensions["area"] == pytest.approx(plain.dimensions["area"], rel=4e-4)
    assert drawn.dimensions["neck_ease"] == pytest.approx(math.pi * 0.22 - 0.4084, abs=5e-4)


@pytest.mark.parametrize("place", CLOSURE_PLACES)
def test_a_drawn_neck_takes_wedges_like_a_round_one(place: str) -> None:
    """On a circle, darts and cuts end where they do in the round neck."""
    along, up = zip(*ARC, strict=True)
    darts = tuple(Dart(d.place, intake=0.05, length=0.15) for d in shoulder_darts(place))
    cuts = {} if place == "centre front" else {"shoulder_cut_intake": 0.05, "shoulder_cut_length": 0.15}
    drawn, plain = (
        draft_cloak(Style(neck, 1.1, closure_place=place, darts=darts, **cuts, **more), standing_body())  # type: ignore[arg-type]
        for neck, more in (("drawn", {"neck_along": along, "neck_up": up}), ("round", {"front_neck_depth": 0.22}))
    )
    assert [dart.legs for dart in drawn.darts] == [dart.legs for dart in plain.darts]
    for name in plain.marks:
        assert drawn.marks[name] == pytest.approx(plain.marks[name], abs=5e-4), name
    assert area_of(outline_of(drawn)) == pytest.approx(area_of(outline_of(plain)), rel=4e-4)


def test_azimuth_and_draft_angle_go_round_together() -> None:
    """Closed on the right, centre front is at a quarter and centre back at three; on the left the other way about."""
    share = {place: Style("round", 1.0, closure_place=place) for place in CLOSURE_PLACES}
    assert share_of(0.0, share["right shoulder"]) == pytest.approx(0.25)
    assert share_of(math.pi, share["right shoulder"]) == pytest.approx(0.75)
    assert share_of(0.0, share["left shoulder"]) == pytest.approx(0.75)
    assert share_of(math.pi / 2, share["centre front"]) == pytest.approx(0.25)
    assert set(AZIMUTHS) == set(CLOSURE_PLACES)


REFUSED = {
    "round points": (Style("round", 1.1, neck_along=(0.1,), neck_up=(0.1,)), "got points for a round neck"),
    "uneven points": (Style("drawn", 1.1, neck_along=(0.1, 0.2)), "got 2 along and 0 up"),
    "drawn with depth": (
        Style("drawn", 1.1, neck_along=(0.2,) * 4, neck_up=(0.1,) * 4, front_neck_depth=0.1),
        r"draft\.front_neck_depth_cm: got 10, allowed none with a drawn neck",
    ),
    "off the edge": (
        Style("drawn", 1.1, neck_along=(0.22, 0.1, -0.1, -0.2), neck_up=(0.02, 0.2, 0.2, 0.0)),
        "the first point is off its straight edge, got 2 cm off",
    ),
    "turns back": (
        Style("drawn", 1.1, neck_along=(0.22, -0.1, 0.1, -0.2), neck_up=(0.0, 0.2, 0.2, 0.0)),
        "points that turn back",
    ),
    "too tight": (
        Style("drawn", 1.1, neck_along=(0.1, 0.05, -0.05, -0.1), neck_up=(0.0, 0.08, 0.08, 0.0)),
        r"neck edge is too short to close, got .* \(neck-base girth 40\.84 less 1\)",
    ),
    "place and azimuth": (Style("round", 1.1, darts=(Dart("left shoulder", azimuth=1.0),)), "a place and an azimuth"),
    "azimuth without intake": (
        Style("round", 1.1, darts=(Dart(azimuth=3.0, length=0.1),)),
        r"dart\.intake_cm: missing, allowed a length: away from the shoulder lines",
    ),
    "at the closure": (
        Style("round", 1.1, darts=(Dart(azimuth=1.5 * math.pi, length=0.1, intake=0.02),)),
        r"dart\.azimuth_deg: got 270, where the neck edge is open or sewn already",
    ),
    "wide mouth": (
        Style("round", 1.1, darts=(Dart(azimuth=3.0, length=0.1, intake=0.18),)),
        r"dart\.intake_cm: the intake cannot fit a wedge 10 long, got 18, allowed at most 17",
    ),
    "beside another": (
        Style("tailored", 1.1, darts=(Dart(), Dart(azimuth=math.radians(100), length=0.1, intake=0.04))),
        r"dart 2\.",
    ),
    "bows too far": (
        Style("round", 1.1, darts=(Dart(leg_bow=0.03, length=0.1),)),
        r"dart\.leg_bow_cm: got 3, allowed -2 to 2",
    ),
    "short and long": (
        Style("round", 1.1, darts=(Dart(length=0.1, point_short=0.01),)),
        r"dart\.point_short_cm: got length_cm",
    ),
    "too short": (
        Style("tailored", 1.1, darts=(Dart(point_short=0.15),)),
        r"dart\.point_short_cm: got 15, allowed less",
    ),
    "one on each shoulder, and another": (
        Style("round", 1.1, closure_place="centre front", darts=(Dart(), Dart("left shoulder"))),
        r"dart 2\.place: got 'left shoulder' twice, allowed one dart on each shoulder",
    ),
    "cut at centre front": (
        Style("round", 1.1, closure_place="centre front", shoulder_cut_intake=0.05),
        r"closure\.shoulder_cut_intake_cm: got 5, allowed none at centre front",
    ),
    "third dart to hem": (
        Style("round", 0.3, darts=(Dart(), Dart(azimuth=math.pi, length=0.5, intake=0.03))),
        r"dart 2\.length_cm: the dart reaches the hem, got 50, allowed less than",
    ),
    "no length": (Style("round"), "draft: got no length, allowed one of length_cm, length_to, off_floor_cm"),
    "two lengths": (Style("round", 1.0, length_to="knee"), "got length_cm and length_to, allowed one of them"),
    "unknown place": (
        Style("round", length_to="thigh"),
        r"draft\.length_to: got 'thigh', allowed waist, hip, mid-thigh",
    ),
    "level and bent": (Style("round", 1.0, level=True, front_length=0.9), r"draft\.level: got front_length as well"),
    "above": (Style("round", off_floor=1.5), "a place 1.94 cm below the neck, allowed at least 10"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refusals_are_one_line_with_the_value_and_what_to_try(case: str) -> None:
    style, wanted = REFUSED[case]
    with pytest.raises(DraftError, match=wanted) as caught:
        draft_cloak(style, standing_body())
    message = str(caught.value)
    assert "\n" not in message
    assert "allowed" in message
    assert message.endswith(".")


def test_a_dart_is_cut_where_a_drawn_neck_runs_along_the_circle_about_its_point() -> None:
    """There the circle meets the edge all along, or nowhere; the mouth then lies evenly about the ray."""
    length, intake = 0.15, 0.08
    half = math.asin(intake / 2 / length)
    point = np.array([0.0, 0.3])
    angles = math.pi / 2 + np.array([-2.0, -1.5, -1.0, -0.6, -0.3, 0.0, 0.3, 0.6, 1.0, 1.5, 2.0])
    round_it = point - length * direction(angles)  # a neck edge on that very circle below the point
    edge = round_it[3:-3] if round_it[3, 0] > round_it[-4, 0] else round_it[3:-3][::-1]
    along = (0.16, *edge[:, 0], -0.16)
    style = Style(
        "drawn", 1.0, neck_along=along, neck_up=(0.0, *edge[:, 1], 0.0),
        darts=(Dart("left shoulder", length=length, intake=intake),),
    )  # fmt: skip
    draft = draft_cloak(style, standing_body())
    (dart,) = draft.darts
    first, second = (run_of(draft, leg) for leg in dart.legs)
    assert np.linalg.norm(first[0] - second[0]) == pytest.approx(intake, abs=1e-6)
    assert length_of(first) == pytest.approx(length) and length_of(second) == pytest.approx(length)
    np.testing.assert_allclose(first[0], point - length * direction(math.pi / 2 + half), atol=2e-3)
