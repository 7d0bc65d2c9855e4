"""Pictures are not blank, have the size asked for, and show what lies where it lies.

Small pictures without text; the shapes are a cone of cloth over a cylinder, whose silhouette is
known from their own formula and the camera's scale. Nothing here compares with a stored picture.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from families import most_are_long

from drape.errors import PictureError
from drape.picture import camera, paint
from drape.picture import stage as picture
from drape.picture.surfaces import Surface
from drape.reading.result import Fitting

pytestmark = pytest.mark.usefixtures("few_directions")

Cone = Callable[..., Fitting]
SIZE = (150, 240)
HEM, TOP = 0.60, 1.45  # heights [m] of the cone's two edges


def is_outside(pixels: np.ndarray) -> np.ndarray:
    """Pixels bluer than red: the wool's outside."""
    red, _, blue = np.moveaxis(pixels.astype(int), -1, 0)
    return blue > red + 15


def is_inside(pixels: np.ndarray) -> np.ndarray:
    """Pixels far redder than blue, as neither linen nor paper is: the wool's inside."""
    red, _, blue = np.moveaxis(pixels.astype(int), -1, 0)
    return red > 1.55 * blue


@pytest.mark.parametrize("view", most_are_long(camera.ALL_VIEWS, "neck"))
def test_every_view_has_the_size_asked_for_and_is_not_blank(view: str, cone: Cone) -> None:
    pixels = picture.draw_view(cone(), view, size=SIZE)
    assert pixels.shape == (SIZE[1], SIZE[0], 3)
    assert pixels.dtype == np.uint8
    assert is_outside(pixels).mean() > 0.05
    assert pixels.std() > 10


@pytest.mark.parametrize("hem", most_are_long([HEM, 0.40], 0.40))
def test_the_hem_and_sides_stand_where_the_camera_scale_puts_them(hem: float, cone: Cone) -> None:
    fitting = cone(hem=hem)
    frame = camera.frame_of([fitting], "back")
    cloth = is_outside(picture.draw_view(fitting, "back", size=SIZE, frame=frame))
    corners = np.array([[0.35, 0, hem], [-0.35, 0, hem], [0, 0, TOP]])
    expected = frame.pixels(corners, SIZE)
    rows, columns = np.nonzero(cloth)
    assert rows.max() + 1 == pytest.approx(expected[0, 1], abs=2)  # lower side of that pixel
    assert rows.min() == pytest.approx(expected[2, 1], abs=2)
    assert columns.max() + 1 == pytest.approx(expected[0, 0], abs=2)
    assert columns.min() == pytest.approx(expected[1, 0], abs=2)


@pytest.mark.long
def test_a_stage_serves_several_views_and_looks(cone: Cone) -> None:
    """Landmark lines are in the picture only when asked for; the camera is the same."""
    stage = picture.Stage(cone(levels={"knee": 0.3}))
    frame = camera.frame_of([stage.fitting], "front")
    plain = stage.picture(frame, SIZE)
    lined = stage.picture(frame, SIZE, look=picture.Look(lines=True))
    differs = np.flatnonzero((plain != lined).any(axis=(1, 2)))
    knee = picture.row_of_height(frame.fitted(SIZE), SIZE, 0.3)
    assert knee in range(differs.min() - 1, differs.max() + 2)
    assert abs(differs - knee).min() <= 1


@pytest.mark.long
def test_painted_cloth_has_the_colours_of_its_bands_and_only_where_it_is_cloth(cone: Cone) -> None:
    """One value below, another above half height; their colours stand below and above it."""
    fitting = cone()
    low = fitting.worn[:, 2] < 1.0
    colours = np.array([[0.0, 0.0, 200.0], [200.0, 200.0, 0.0]])
    two = paint.Paint(
        "t",
        "t",
        "",
        np.where(low, 0.5, 1.5),
        np.zeros(len(low), bool),
        np.array([0.0, 1.0, 2.0]),
        colours,
        ("a", "b"),
        1,
    )
    stage = picture.Stage(fitting)
    frame = camera.frame_of([fitting], "front")
    pixels = stage.picture(frame, SIZE, look=picture.Look(paint=two)).astype(int)
    blue = pixels[..., 2] > pixels[..., 0] + 60
    yellow = pixels[..., 0] > pixels[..., 2] + 60
    middle = picture.row_of_height(frame.fitted(SIZE), SIZE, 1.0)
    assert blue.sum() > 1000 and yellow.sum() > 500
    rows = np.nonzero(blue)[0]
    assert rows.min() >= middle - 8 and np.nonzero(yellow)[0].max() <= middle + 8
    hem = picture.row_of_height(frame.fitted(SIZE), SIZE, HEM)
    assert rows.max() == pytest.approx(hem, abs=2)


@pytest.mark.long
def test_undecided_cloth_is_hatched_and_decided_is_not(cone: Cone) -> None:
    fitting = cone()
    values = np.full(len(fitting.worn), 0.5)
    colours = np.array([[230.0, 220.0, 90.0]] * 2)
    drawn = {}
    stage = picture.Stage(fitting)
    frame = camera.frame_of([fitting], "front")
    for doubt in (False, True):
        one = paint.Paint(
            "t", "t", "", values, np.full(len(values), doubt), np.array([0.0, 1.0, 2.0]), colours, ("a", "b"), 1
        )
        drawn[doubt] = stage.picture(frame, SIZE, look=picture.Look(paint=one)).astype(int)
    darker = (drawn[False] - drawn[True]).sum(axis=2) > 100
    cloth = is_inside(drawn[False])
    assert 0.08 < darker[cloth].mean() < 0.6
    assert darker[~cloth].mean() < 0.02


@pytest.mark.long
def test_pieces_are_told_apart_when_asked(cone: Cone) -> None:
    """A cone cut in two down the back: its halves share no vertex, so they are two pieces."""
    fitting = cone()
    half = np.asarray(fitting.triangles).max(axis=1) < len(fitting.worn) // 2 + 1
    shifted = np.where(half[:, None], fitting.triangles, fitting.triangles + len(fitting.worn))
    doubled = replace(
        fitting, worn=np.vstack([fitting.worn] * 2), flat=np.vstack([fitting.flat] * 2), triangles=shifted
    )
    kept, index = np.unique(shifted, return_inverse=True)
    doubled = replace(
        doubled,
        worn=doubled.worn[kept],
        flat=doubled.flat[kept],
        triangles=index.reshape(-1, 3),
        edges={"hem": np.arange(3), "front neck": np.arange(3), "back neck": np.arange(3)},
    )
    stage = picture.Stage(doubled)
    assert len(stage.piece_colours) == 2
    frame = camera.frame_of([doubled], "left")
    plain, pieces = (stage.picture(frame, SIZE, look=picture.Look(pieces=p)).astype(int) for p in (False, True))
    orange = pieces[..., 0] > pieces[..., 2] + 60
    assert orange.sum() > 500 and (plain[..., 0] > plain[..., 2] + 60).sum() == 0


def test_inside_and_outside_are_told_apart(cone: Cone) -> None:
    worn = picture.draw_view(cone(), "front", size=SIZE)
    turned = picture.draw_view(cone(inside_out=True), "front", size=SIZE)
    assert is_outside(worn).sum() > 20 * is_inside(worn).sum()
    assert is_inside(turned).sum() > 20 * is_outside(turned).sum()


def test_the_inside_shows_through_a_wide_opening(cone: Cone) -> None:
    fitting = cone()
    azimuth = np.arctan2(-fitting.worn[:, 0], fitting.worn[:, 1])
    wide = np.abs(azimuth + np.pi / 2)[fitting.triangles].max(axis=1) > 0.7
    left = fitting.triangles[wide]
    edges = {name: run[np.isin(run, left)] for name, run in fitting.edges.items() if "opening" not in name}
    pixels = picture.draw_view(replace(fitting, triangles=left, edges=edges), "right", size=SIZE)
    assert is_inside(pixels).sum() > 200
    assert is_outside(pixels).sum() > 200


def test_a_figure_a_flat_triangle_would_cut_through_does_not_show(cone: Cone) -> None:
    """Cloth laid 2 mm off a cylinder by strips 4 cm wide: its flat middles lie 3 mm inside, R (1 - cos)."""
    turn = np.linspace(0, 2 * np.pi, 12)  # eleven flat strips round 7 cm
    rows = np.linspace(TOP, 0.9, 16)
    radius = 0.072
    worn = np.array([(-radius * np.sin(a), radius * np.cos(a), z) for a in turn for z in rows])
    index = np.arange(len(worn)).reshape(len(turn), len(rows))
    a, b, c, d = (k.ravel() for k in (index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]))
    triangles = np.vstack([np.column_stack([a, c, b]), np.column_stack([a, d, c])])
    edges = {
        "front neck": index[:7, 0],
        "back neck": index[6:, 0],
        "hem": index[:, -1],
        "front opening": index[0],
        "back opening": index[-1],
    }
    fitting = cone(worn=worn, flat=worn[:, :2], triangles=triangles, edges=edges, thickness=0.003)
    assert radius * np.cos(np.pi / 11) < 0.07 - 0.0005
    frame = replace(
        camera.frame_of([fitting], "front"), centre=np.array([0.0, 0.0, 1.2]), half_width=0.06, half_height=0.2
    )
    pixels = picture.Stage(fitting).picture(frame, (120, 400))
    assert is_outside(pixels)[30:-30, 15:-15].mean() > 0.999


@pytest.mark.long
def test_an_altered_fitting_alters_the_picture_and_the_same_one_does_not(cone: Cone) -> None:
    first, again = (picture.draw_view(cone(), "left", size=SIZE) for _ in range(2))
    np.testing.assert_array_equal(first, again)
    fitting = cone()
    moved = replace(fitting, worn=fitting.worn + np.array([0.0, 0.02, 0.0]))
    frame = camera.frame_of([fitting], "left")
    assert (picture.draw_view(moved, "left", size=SIZE, frame=frame) != first).mean() > 0.01


def test_a_flat_picture_is_refused(cone: Cone) -> None:
    frame = camera.frame_of([cone()], "front")
    elsewhere = replace(frame, centre=frame.centre + (50.0, 0.0, 0.0))
    with pytest.raises(PictureError, match="flat colour"):
        picture.draw_view(cone(), "front", size=SIZE, frame=elsewhere)
    with pytest.raises(PictureError, match="flat colour"):
        picture.check_not_flat(np.full((4, 5, 3), 200, np.uint8), "a grey card")
    spotted = np.full((4, 5, 3), 200, np.uint8)
    spotted[2, 3, 1] = 201
    picture.check_not_flat(spotted, "a card with a spot")


def test_a_lid_keeps_the_sky_out() -> None:
    def plate(half: float, height: float) -> Surface:
        step = np.linspace(-half, half, 9)
        x, y = np.meshgrid(step, step, indexing="ij")
        points = np.stack([x, y, np.full_like(x, height)], axis=-1).reshape(-1, 3)
        k = np.arange(81).reshape(9, 9)
        a, b, c, d = (p.ravel() for p in (k[:-1, :-1], k[1:, :-1], k[1:, 1:], k[:-1, 1:]))
        triangles = np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
        up = np.tile((0.0, 0.0, 1.0), (81, 1))
        return Surface("plate", points, triangles, up, np.full(3, 200.0), np.empty(0, int))

    middle = 40
    small, large = plate(0.2, 0.5), plate(0.5, 0.55)
    (open_plate,) = picture._open_to_sky([small], casting=[small])
    covered, lid = picture._open_to_sky([small, large], casting=[small, large])
    assert open_plate[middle] > 0.98
    assert covered[middle] < 0.15
    assert lid[middle] > 0.98


def test_the_length_of_the_neck_base_line_that_shows_is_measured() -> None:
    """A square of line, 20 cm a side, of which the left half is covered: 40 cm of it shows."""
    frame = camera.Frame(camera.toward(0.0, 0.5 * np.pi - 1e-4), np.zeros(3), 0.2, 0.2)
    line = np.array([[-0.1, -0.1, 0.0], [0.1, -0.1, 0.0], [0.1, 0.1, 0.0], [-0.1, 0.1, 0.0]])
    pixels = np.zeros((400, 400, 4), np.uint8)
    assert picture.ink_seen(pixels, frame, line) == 0.0
    ink = picture.LANDMARK_INK.astype(np.uint8)
    for rows, columns in (
        (slice(99, 102), slice(99, 302)),
        (slice(299, 302), slice(99, 302)),
        (slice(99, 302), slice(99, 102)),
        (slice(99, 302), slice(299, 302)),
    ):
        pixels[rows, columns, :3] = ink
    assert picture.ink_seen(pixels, frame, line) == pytest.approx(0.8, abs=0.01)
    pixels[:, 200:, :3] = 90
    assert picture.ink_seen(pixels, frame, line) == pytest.approx(0.4, abs=0.01)


@pytest.mark.long
def test_a_neck_base_under_the_cloth_is_not_said_to_be_seen(cone: Cone) -> None:
    """The cone of cloth ends 5 cm below the neck base; drawn up over it, it covers the line."""
    open_neck, fitting = cone(), cone()
    worn = fitting.worn.copy()
    worn[:, 2] += 0.12
    closed = replace(fitting, worn=worn)
    for one, seen in ((open_neck, True), (closed, False)):
        stage = picture.Stage(one)
        stage.picture(camera.frame_of([open_neck], "neck"), (300, 240), headless=True)
        assert stage.neck_base_seen == seen
