"""Drawn without a screen: a square covers its share, the nearer hides the further, a cut ball is closed."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from drape.picture.camera import Frame
from drape.picture.easel import Easel, cut_closed, merged, thinned

FRAME = Frame(
    np.array([0.0, 1.0, 0.0]), np.zeros(3), 1.0, 1.0
)  # from the front: the wearer's left, -x, is to the right
SQUARE = np.array([[-0.5, 0, -0.5], [0.5, 0, -0.5], [0.5, 0, 0.5], [-0.5, 0, 0.5]])
TWO = np.array([[0, 1, 2], [0, 2, 3]])


def painted(colour: tuple[int, int, int]) -> np.ndarray:
    return np.tile(np.array(colour, np.uint8), (4, 1))


def ball(rows: int = 24) -> tuple[np.ndarray, np.ndarray]:
    """A closed ball of radius 1."""
    rise, turn = np.linspace(-np.pi / 2, np.pi / 2, rows + 1)[1:-1], np.linspace(0, 2 * np.pi, 2 * rows, endpoint=False)
    r, t = np.meshgrid(rise, turn, indexing="ij")
    points = np.vstack(
        [
            np.stack([np.cos(r) * np.cos(t), np.cos(r) * np.sin(t), np.sin(r)], -1).reshape(-1, 3),
            [[0, 0, -1], [0, 0, 1]],
        ]
    )
    count, found = len(turn), []
    for i in range(count):
        k = (i + 1) % count
        found += [(len(points) - 2, k, i), (len(points) - 1, (rows - 2) * count + i, (rows - 2) * count + k)]
        for row in range(rows - 2):
            a, b = row * count, (row + 1) * count
            found += [(a + i, a + k, b + k), (a + i, b + k, b + i)]
    return points, np.array(found)


def volume(points: np.ndarray, triangles: np.ndarray) -> float:
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6)


@pytest.fixture
def easel() -> Iterator[Easel]:
    made = Easel((100, 80))
    yield made
    made.close()


def test_a_square_fills_its_quarter_in_its_colour_and_the_rest_is_clear(easel: Easel) -> None:
    """Half the height of a picture 2 m high: 40 by 40 pixels of 100 by 80."""
    easel.add(SQUARE, TWO, colours=painted((200, 100, 50)))
    seen = easel.pixels(FRAME)
    assert seen.shape == (80, 100, 4)
    inside = seen[..., 3] > 0
    assert inside.sum() == 40 * 40 and inside[20:60, 30:70].all()
    assert (seen[inside] == [200, 100, 50, 255]).all() and (seen[~inside] == 0).all()


def test_up_is_up_and_the_wearers_left_is_on_the_right(easel: Easel) -> None:
    easel.add(SQUARE + [-0.4, 0.0, 0.4], TWO, colours=painted((9, 9, 9)))
    rows, columns = np.nonzero(easel.pixels(FRAME)[..., 3])
    assert rows.mean() < 39 and columns.mean() > 51


def test_the_nearer_surface_hides_the_further_until_it_is_taken_away(easel: Easel) -> None:
    easel.add(SQUARE, TWO, colours=painted((10, 20, 30)))
    before = easel.add(SQUARE * 0.5 + [0.0, 0.3, 0.0], TWO, colours=painted((90, 80, 70)))
    assert easel.pixels(FRAME)[40, 50].tolist() == [90, 80, 70, 255]
    easel.remove(before)
    assert easel.pixels(FRAME)[40, 50].tolist() == [10, 20, 30, 255]


def test_depth_grows_from_nought_at_the_reach_before_to_one_as_far_behind(easel: Easel) -> None:
    for forward in (0.0, 0.5, -0.25):
        actor = easel.add(SQUARE + [0.0, forward, 0.0], TWO)
        depth = easel.depths(FRAME, 1.0)
        assert depth[40, 50] == pytest.approx((1.0 - forward) / 2, abs=1e-4)
        assert depth[2, 2] == 1.0
        easel.remove(actor)


def test_where_nothing_is_the_depth_is_one_to_the_last_digit(easel: Easel) -> None:
    """Or what lies further off than the reach would be taken for hidden, and the floor drawn dark."""
    easel.add(SQUARE, TWO)
    assert {float(easel.depths(FRAME, reach)[2, 2]) for reach in np.linspace(0.9, 1.4, 41)} == {1.0}


def test_lines_are_not_joined_to_each_other(easel: Easel) -> None:
    left = np.array([[0.5, 0.0, -0.5], [0.5, 0.0, 0.0], [0.5, 0.0, 0.5]])
    easel.add_lines([left, left * [-1.0, 1.0, 1.0]], 2.0, np.array([0, 0, 255]))
    seen = easel.pixels(FRAME)[..., 3] > 0
    assert seen[:, 30].sum() + seen[:, 29].sum() >= 38 and seen[:, 70].sum() + seen[:, 69].sum() >= 38
    assert not seen[:, 33:67].any()


def test_bands_are_numbered_from_one_along_the_scale(easel: Easel) -> None:
    easel.add_banded(SQUARE, TWO, np.array([0.0, 0.0, 1.0, 1.0]), 4)
    column = easel.pixels(FRAME)[20:60, 50, 0]
    assert column.tolist() == sorted(column.tolist(), reverse=True)  # the share rises upward
    assert [int((column == band).sum()) for band in (1, 2, 3, 4)] == pytest.approx([10, 10, 10, 10], abs=1)


def test_a_line_is_as_wide_as_asked(easel: Easel) -> None:
    easel.add_lines([np.array([[-0.5, 0.0, 0.0], [0.5, 0.0, 0.0]])], 4.0, np.array([255, 0, 0]))
    seen = easel.pixels(FRAME)
    assert (
        (seen[:, 50, 3] > 0).sum() == pytest.approx(4, abs=1) and seen[..., 0].max() == 255 and seen[..., 1].max() == 0
    )


def test_light_falls_most_on_what_faces_it(easel: Easel) -> None:
    """Diffuse light goes as the cosine: facing it and turned 60 degrees away, beyond what is lit from all round."""
    easel.set_lights([((0.0, 0.0, 1.0), 1.0)])
    found = []
    for angle in (0.0, np.pi / 3, np.pi / 2):
        normals = np.tile([np.sin(angle), np.cos(angle), 0.0], (4, 1))
        actor = easel.add(SQUARE, TWO[:, ::-1], colours=painted((200, 200, 200)), normals=normals)  # its front to us
        found.append(float(easel.pixels(FRAME)[40, 50, 0]))
        easel.remove(actor)
    facing, turned, edge = found
    assert (turned - edge) / (facing - edge) == pytest.approx(0.5, abs=0.03)
    assert facing > edge + 50


def test_a_ball_cut_by_a_plane_is_closed_and_has_the_volume_of_a_cap() -> None:
    """A cap of height h of a ball of radius r: pi h^2 (3 r - h) / 3; the cut makes no hole."""
    points, triangles = ball()
    whole = volume(points, triangles)
    found = cut_closed(points, triangles, np.array([0.0, 0.0, 0.3]), np.array([0.0, 0.0, 1.0]))
    assert found[0][:, 2].min() == pytest.approx(0.3, abs=1e-6)
    assert volume(*found) / whole == pytest.approx(0.7**2 * 2.3 / 4, rel=0.01)


def test_a_thinned_ball_has_about_its_share_of_triangles_and_its_volume() -> None:
    points, triangles = ball()
    found = thinned(points, triangles, 0.4)
    assert len(found[1]) / len(triangles) == pytest.approx(0.4, abs=0.05)
    assert volume(*found) == pytest.approx(volume(points, triangles), rel=0.02)


def test_a_merged_ball_has_fewer_triangles_and_nearly_its_volume() -> None:
    points, triangles = ball()
    found = merged(points, triangles, 0.15)
    assert len(found[1]) < 0.8 * len(triangles)
    assert volume(*found) == pytest.approx(volume(points, triangles), rel=0.03)
