"""Cameras: scale, sides, what they take in, and that they do not move between fittings."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from drape.errors import PictureError
from drape.picture import camera
from drape.reading.result import Fitting

Cone = Callable[..., Fitting]
SIZE = (150, 240)


def test_rows_follow_the_scale(cone: Cone) -> None:
    frame = camera.frame_of([cone()], "front")
    per_metre = frame.pixels_per_metre(SIZE)
    rows = frame.pixels(np.array([[0.0, 0.0, 0.0], [0.0, 0.3, 1.0]]), SIZE)[:, 1]
    assert rows[0] - rows[1] == pytest.approx(per_metre)
    assert 0 < rows[1] < rows[0] < SIZE[1]


def test_each_side_is_the_wearers(cone: Cone) -> None:
    """The figure faces +y and +x is the wearer's right: from the front, x grows to the left."""
    nose, right_hand = np.array([[0.0, 0.4, 1.0]]), np.array([[0.4, 0.0, 1.0]])
    column = {
        view: [camera.frame_of([cone()], view).pixels(p, SIZE)[0, 0] for p in (nose, right_hand)]
        for view in camera.STANDING
    }
    middle = SIZE[0] / 2
    assert column["front"][1] < middle < column["back"][1]
    assert column["left"][0] < middle < column["right"][0]


@pytest.mark.parametrize("view", [v for v in camera.ALL_VIEWS if v not in camera.CLOSE])
def test_nothing_is_cropped(view: str, cone: Cone) -> None:
    wide, narrow = cone(hem=0.2), cone()
    frame = camera.frame_of([wide, narrow], view)
    for fitting in (wide, narrow):
        pixels = frame.pixels(np.vstack([fitting.worn, fitting.figure_vertices]), SIZE)
        assert pixels.min() > 0
        assert (pixels.max(axis=0) < SIZE).all()


@pytest.mark.parametrize("view", camera.CLOSE)
def test_a_close_view_holds_neck_edge_and_shoulder(view: str, cone: Cone) -> None:
    fitting = cone()
    lines = ["left", "right"] if view == "neck" else [view.split()[0]]
    points = [camera.neck_edge(fitting), fitting.neck_base, *(getattr(fitting, f"shoulder_line_{s}") for s in lines)]
    pixels = camera.frame_of([fitting], view).pixels(np.vstack(points), SIZE)
    assert pixels.min() > 0 and (pixels.max(axis=0) < SIZE).all()


def test_from_above_the_front_is_at_the_foot_and_the_left_on_the_right(cone: Cone) -> None:
    pixels = camera.frame_of([cone()], "above").pixels(np.array([[0, 0.3, 1], [-0.3, 0, 1], [0, 0, 1]]), SIZE)
    front, left, middle = pixels
    assert front[1] > middle[1] + 10
    assert left[0] > middle[0] + 10


def test_any_azimuth_and_elevation(cone: Cone) -> None:
    """Turned a quarter, the camera is that of the next side; raised, it stays a unit vector."""
    quarter = camera.frame_at([cone()], np.pi / 2, 0.0)
    np.testing.assert_allclose(quarter.toward_camera, camera.frame_of([cone()], "left").toward_camera)
    assert np.linalg.norm(camera.toward(1.0, 0.7)) == pytest.approx(1.0)
    widths = {round(camera.frame_at([cone()], a, 0.0).half_width, 12) for a in np.linspace(0, 6, 7)}
    assert len(widths) == 1  # a turning figure does not grow and shrink


def test_an_unknown_view_is_refused_with_its_value(cone: Cone) -> None:
    with pytest.raises(PictureError, match="'below'"):
        camera.frame_of([cone()], "below")


def test_a_place_shows_unless_cloth_or_body_stands_before_it(cone: Cone) -> None:
    """A cone over a cylinder: its front shows from the front and not from behind; the neck inside it never."""
    fitting = cone()
    surfaces = [(p, np.asarray(t)) for p, t in (
        (fitting.worn, fitting.triangles), (fitting.figure_vertices, fitting.figure_triangles),
    )]  # fmt: skip
    front = fitting.worn[np.argmax(fitting.worn[:, 1])]
    seen = {view: camera.shows(camera.frame_of([fitting], view), front, surfaces) for view in camera.STANDING}
    assert seen["front"] and not seen["back"]
    inside = np.array([0.0, 0.1, 1.0])  # between the cylinder and the cone
    assert not any(camera.shows(camera.frame_of([fitting], view), inside, surfaces) for view in camera.STANDING[:3])
