"""Arms are held where they are said to be, as long as they hang, clear of the body, left as right."""

from __future__ import annotations

import numpy as np
import pytest
from families import most_are_long
from mannequin import DRESSED, MAN, mannequin

from drape.body.arm_pose import HOLDS
from drape.body.figure import REGIONS, Figure, build_figure, region_of
from drape.body.measure import measure_figure
from drape.body.signed_distance import distance
from drape.errors import FigureError

OTHERS = [hold for hold in HOLDS if hold != "down"]
TRIED = most_are_long(OTHERS, "raised", "forearm across")  # together on one figure, and on its mirror
BESIDE = {  # two holds to a figure
    "forearm across": "raised",
    "raised": "forearm across",
    "out of the opening": "forward",
    "forward": "out of the opening",
}


def holding(left: str, right: str) -> Figure:
    return mannequin(arms=(left, right))


def right_arm(hold: str) -> Figure:
    return holding(BESIDE[hold], hold)


def wrist_from_shoulder(figure: Figure, side: str) -> np.ndarray:
    return figure.landmarks[f"wrist_{side}"] - figure.landmarks[f"shoulder_point_{side}"]


def test_every_hold_is_tried() -> None:
    assert set(BESIDE) == set(OTHERS)


@pytest.mark.parametrize(
    ("hold", "low", "high"),
    most_are_long(
        [  # m, where the right wrist is from the shoulder point: right, front, up
            ("forearm across", (-0.25, 0.15, -0.45), (0.02, 0.40, -0.20)),
            ("out of the opening", (0.30, 0.00, -0.40), (0.60, 0.25, -0.10)),
            ("forward", (-0.15, 0.30, -0.40), (0.12, 0.50, -0.15)),
            ("raised", (0.33, -0.10, -0.45), (0.50, 0.15, -0.30)),
        ],
        "raised",
    ),
)
def test_the_wrist_is_where_the_words_say(hold: str, low: tuple[float, ...], high: tuple[float, ...]) -> None:
    way = wrist_from_shoulder(right_arm(hold), "right")
    assert (way > low).all() and (way < high).all()


def test_a_raised_arm_is_45_degrees_from_hanging() -> None:
    """From under the shoulder point to the wrist, seen from in front."""
    figure = right_arm("raised")
    way = figure.landmarks["wrist_right"] - (figure.landmarks["shoulder_point_right"] - [0.0, 0.0, 0.05])
    assert np.degrees(np.arctan2(way[0], -way[2])) == pytest.approx(45.0, abs=4.0)


@pytest.mark.long
@pytest.mark.parametrize("hold", OTHERS)
def test_left_and_right_mirror(hold: str) -> None:
    right, left = right_arm(hold), holding(hold, BESIDE[hold])
    one = wrist_from_shoulder(left, "left") * [-1.0, 1.0, 1.0]
    assert np.abs(one - wrist_from_shoulder(right, "right")).max() < 0.003
    rng = np.random.default_rng(3)
    points = right.vertices[rng.integers(0, len(right.vertices), 300)]
    assert np.abs(distance(left.field, points * [-1.0, 1.0, 1.0])).max() < 0.004


@pytest.mark.parametrize("hold", TRIED)
def test_the_mesh_stays_one_piece_and_the_distance_follows(hold: str) -> None:
    """A sphere's topology: no forearm has grown to the body. The field is nothing at the wrist and the wrist is the
    arm's.
    """
    figure = right_arm(hold)
    edges = 3 * len(figure.triangles) // 2
    assert len(figure.vertices) - edges + len(figure.triangles) == 2
    wrist = figure.landmarks["wrist_right"]
    assert abs(distance(figure.field, wrist[None])[0]) < 0.002
    assert REGIONS[region_of(figure, wrist[None])[0]] == "arm_right"


@pytest.mark.parametrize("hold", most_are_long(["raised", "forward"], "raised"))
def test_girths_and_shoulders_stay_as_taped(hold: str) -> None:
    figure = right_arm(hold)
    got = measure_figure(figure)
    for key in ("chest_girth", "waist_girth", "neck_base_girth", "shoulder_length"):
        assert got[key] == pytest.approx(figure.tape[key], rel=0.01), key
    for key in ("shoulder_slope_left", "shoulder_slope_right"):
        assert np.degrees(got[key]) == pytest.approx(np.degrees(figure.tape[key]), abs=1.0)
    assert got["arm_length"] is got["wrist_height"] is got["upper_arm_breadth"] is None


@pytest.mark.long
def test_an_arm_is_measured_only_as_it_hangs() -> None:
    figure = mannequin(**DRESSED).bare
    assert figure is not None and figure.arms == ("down", "raised")
    got = measure_figure(figure)
    assert got["arm_length"] == pytest.approx(figure.tape["arm_length"], abs=0.003)
    assert got["upper_arm_breadth"] is None


@pytest.mark.parametrize(
    ("arms", "words"),
    [(("up", "down"), ("arms.left", "'up'", "raised")), (("forearm across", "forward"), ("other arm", "forward"))],
)
def test_what_cannot_be_held_is_refused(arms: tuple[str, str], words: tuple[str, ...]) -> None:
    with pytest.raises(FigureError) as caught:
        build_figure(MAN, arms=arms)
    assert "\n" not in str(caught.value)
    assert [word for word in words if word not in str(caught.value)] == []
