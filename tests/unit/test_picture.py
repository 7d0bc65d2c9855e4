"""Pictures are not blank, have the size asked for, and show what lies where it lies.

Small pictures without text; the shapes are a cone of cloth over a cylinder, whose silhouette is
known from their own formula and the camera's scale. Nothing here compares with a stored picture.
"""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from drape import camera, picture, sheet
from drape.errors import MissingExtraError, PictureError

SIZE = (150, 240)
HEM, TOP = 0.60, 1.45  # heights [m] of the cone's two edges


@pytest.fixture(autouse=True)
def _few_directions(monkeypatch: pytest.MonkeyPatch) -> None:
    """A coarser sky: light differs a little, nothing tested here does, and it is quicker."""
    monkeypatch.setattr(picture, "_SKY_DIRECTIONS", 16)


def _grid_triangles(around: int, along: int, *, closed: bool) -> np.ndarray:
    """Triangles of a grid whose vertex (i, j) has index i * along + j; outward for a CCW ring."""
    found = []
    for i in range(around if closed else around - 1):
        k = (i + 1) % around
        for j in range(along - 1):
            a, b, c, d = i * along + j, k * along + j, k * along + j + 1, i * along + j + 1
            found += [(a, b, c), (a, c, d)]
    return np.array(found)


def _figure() -> tuple[np.ndarray, np.ndarray]:
    """A closed cylinder of radius 7 cm from the floor to 1.75 m."""
    around, heights = 24, np.linspace(0.0, 1.75, 30)
    turn = np.linspace(0, 2 * np.pi, around, endpoint=False)
    ring = np.column_stack([0.07 * np.cos(turn), 0.07 * np.sin(turn)])
    points = np.vstack([np.column_stack([np.tile(p, (30, 1)), heights]) for p in ring])
    count = len(points)
    caps = []
    for i in range(around):
        k = (i + 1) % around
        caps += [(count, k * 30, i * 30), (count + 1, i * 30 + 29, k * 30 + 29)]
    points = np.vstack([points, [(0, 0, 0), (0, 0, 1.75)]])
    return points, np.vstack([_grid_triangles(around, 30, closed=True), caps])


def _fitting(*, inside_out: bool = False, hem: float = HEM, **changed: Any) -> SimpleNamespace:
    """A cone of cloth from radius 9 cm at TOP to 35 cm at `hem`, open along wearer's right."""
    around, along = 61, 18
    azimuth = np.deg2rad(np.linspace(-84.0, 264.0, around))
    down = np.linspace(1.0, 0.0, along)  # hem first, so that a ring by azimuth faces outward
    radius, height = 0.09 + 0.26 * down, TOP + (hem - TOP) * down
    worn = np.stack(
        [
            -np.sin(azimuth)[:, None] * radius,
            np.cos(azimuth)[:, None] * radius,
            np.broadcast_to(height, (around, along)),
        ],
        axis=-1,
    ).reshape(-1, 3)
    index = np.arange(around * along).reshape(around, along)
    triangles = _grid_triangles(around, along, closed=False)
    half = around // 2
    figure_points, figure_triangles = _figure()
    turn = np.deg2rad(np.arange(0, 360, 5))
    line = np.linspace(0.07, 0.20, 31)
    shoulder = np.column_stack([line, 0 * line, 1.5 - 0.4 * (line - 0.07)])
    given: dict[str, Any] = {
        "name": "cone", "title": "Toll-house clerk, a cone", "expect": "The hem is level.",
        "readings": {"settled": True}, "flat": worn[:, :2], "worn": worn,
        "triangles": triangles[:, ::-1] if inside_out else triangles,
        "edges": {
            "front neck": index[: half + 1, -1], "back neck": index[half:, -1],
            "front opening": index[0, ::-1], "back opening": index[-1, ::-1], "hem": index[:, 0],
        },
        "figure_vertices": figure_points, "figure_triangles": figure_triangles,
        "landmarks": {}, "levels": {},
        "neck_base": np.column_stack([-0.07 * np.sin(turn), 0.07 * np.cos(turn), 1.5 + 0 * turn]),
        "shoulder_line_left": shoulder * (-1, 1, 1), "shoulder_line_right": shoulder,
        "thickness": 0.003, "colours": {},
    }  # fmt: skip
    return SimpleNamespace(**{**given, **changed})


def _is_outside(pixels: np.ndarray) -> np.ndarray:
    """Pixels bluer than red: the wool's outside."""
    red, _, blue = np.moveaxis(pixels.astype(int), -1, 0)
    return blue > red + 15


def _is_inside(pixels: np.ndarray) -> np.ndarray:
    """Pixels far redder than blue, as neither linen nor paper is: the wool's inside."""
    red, _, blue = np.moveaxis(pixels.astype(int), -1, 0)
    return red > 1.55 * blue


@pytest.mark.parametrize("view", camera.VIEWS)
def test_every_view_has_the_size_asked_for_and_is_not_blank(view: str) -> None:
    pixels = picture.draw_view(_fitting(), view, size=SIZE)
    assert pixels.shape == (SIZE[1], SIZE[0], 3)
    assert pixels.dtype == np.uint8
    assert _is_outside(pixels).mean() > 0.05
    assert pixels.std() > 10


def test_rows_of_the_camera_follow_its_scale() -> None:
    frame = camera.frame_of([_fitting()], "front")
    per_metre = frame.pixels_per_metre(SIZE)
    rows = frame.pixels(np.array([[0.0, 0.0, 0.0], [0.0, 0.3, 1.0]]), SIZE)[:, 1]
    assert rows[0] - rows[1] == pytest.approx(per_metre)
    assert 0 < rows[1] < rows[0] < SIZE[1]


def test_each_side_is_the_wearers() -> None:
    """The figure faces +y and +x is the wearer's right: from the front, x grows to the left."""
    nose, right_hand = np.array([[0.0, 0.4, 1.0]]), np.array([[0.4, 0.0, 1.0]])
    column = {
        view: [
            camera.frame_of([_fitting()], view).pixels(p, SIZE)[0, 0] for p in (nose, right_hand)
        ]
        for view in camera.STANDING
    }
    middle = SIZE[0] / 2
    assert column["front"][1] < middle < column["back"][1]
    assert column["left"][0] < middle < column["right"][0]


@pytest.mark.parametrize("hem", [HEM, 0.40])
def test_the_hem_and_sides_stand_where_the_camera_scale_puts_them(hem: float) -> None:
    fitting = _fitting(hem=hem)
    frame = camera.frame_of([fitting], "back")
    cloth = _is_outside(picture.draw_view(fitting, "back", size=SIZE, frame=frame))
    corners = np.array([[0.35, 0, hem], [-0.35, 0, hem], [0, 0, TOP]])
    expected = frame.pixels(corners, SIZE)
    rows, columns = np.nonzero(cloth)
    assert rows.max() + 1 == pytest.approx(expected[0, 1], abs=2)  # lower side of that pixel
    assert rows.min() == pytest.approx(expected[2, 1], abs=2)
    assert columns.max() + 1 == pytest.approx(expected[0, 0], abs=2)
    assert columns.min() == pytest.approx(expected[1, 0], abs=2)


def test_inside_and_outside_are_told_apart() -> None:
    worn = picture.draw_view(_fitting(), "front", size=SIZE)
    turned = picture.draw_view(_fitting(inside_out=True), "front", size=SIZE)
    assert _is_outside(worn).sum() > 20 * _is_inside(worn).sum()
    assert _is_inside(turned).sum() > 20 * _is_outside(turned).sum()


def test_the_inside_shows_through_a_wide_opening() -> None:
    fitting = _fitting()
    azimuth = np.arctan2(-fitting.worn[:, 0], fitting.worn[:, 1])
    wide = np.abs(azimuth + np.pi / 2)[fitting.triangles].max(axis=1) > 0.7
    fitting.triangles = fitting.triangles[wide]
    pixels = picture.draw_view(fitting, "right", size=SIZE)
    assert _is_inside(pixels).sum() > 200
    assert _is_outside(pixels).sum() > 200


def test_an_altered_fitting_alters_the_picture_and_the_same_one_does_not() -> None:
    first, again = (picture.draw_view(_fitting(), "left", size=SIZE) for _ in range(2))
    np.testing.assert_array_equal(first, again)
    moved = _fitting()
    moved.worn = moved.worn + np.array([0.0, 0.02, 0.0])
    frame = camera.frame_of([_fitting()], "left")
    assert (picture.draw_view(moved, "left", size=SIZE, frame=frame) != first).mean() > 0.01


def test_a_flat_picture_is_refused() -> None:
    frame = camera.frame_of([_fitting()], "front")
    elsewhere = replace(frame, centre=frame.centre + (50.0, 0.0, 0.0))
    with pytest.raises(PictureError, match="flat colour"):
        picture.draw_view(_fitting(), "front", size=SIZE, frame=elsewhere)
    with pytest.raises(PictureError, match="flat colour"):
        picture.check_not_flat(np.full((4, 5, 3), 200, np.uint8), "a grey card")
    spotted = np.full((4, 5, 3), 200, np.uint8)
    spotted[2, 3, 1] = 201
    picture.check_not_flat(spotted, "a card with a spot")


def test_unknown_views_and_colours_are_refused_with_their_value() -> None:
    with pytest.raises(PictureError, match="'above'"):
        picture.draw_view(_fitting(), "above", size=SIZE)
    with pytest.raises(PictureError, match="'woad'"):
        picture.draw_view(_fitting(colours={"outside": "woad"}), "front", size=SIZE)


def test_black_cloth_is_drawn_light_enough_for_its_folds_to_show() -> None:
    """Luma by ITU-R BT.601: 0.299 R + 0.587 G + 0.114 B."""
    black, pale = np.zeros(3), np.array([200.0, 190.0, 180.0])
    assert picture._legible(black) @ (0.299, 0.587, 0.114) == pytest.approx(100.0)
    np.testing.assert_array_equal(picture._legible(pale), pale)


def test_both_sides_of_a_seam_are_lit_alike() -> None:
    """Two squares folded like a roof, sewn along the ridge: there the normal points straight up."""
    points = np.array(
        [
            [-1, 0, -1],
            [0, 0, 0],
            [0, 1, 0],
            [-1, 1, -1],
            [0, 0, 0],
            [1, 0, -1],
            [1, 1, -1],
            [0, 1, 0],
        ],
        float,
    )
    triangles = np.array([[0, 1, 2], [0, 2, 3], [4, 5, 6], [4, 6, 7]])
    apart = picture._vertex_normals(points, triangles, np.zeros((0, 2), int))
    sewn = picture._vertex_normals(points, triangles, np.array([[1, 4], [2, 7]]))
    assert apart[1] == pytest.approx(np.array([-1, 0, 1]) / np.sqrt(2))
    assert sewn[1] == pytest.approx(sewn[4])
    assert (sewn[1] + sewn[2])[:2] == pytest.approx([0, 0])


def test_a_lid_keeps_the_sky_out() -> None:
    def plate(half: float, height: float) -> picture._Surface:
        step = np.linspace(-half, half, 9)
        x, y = np.meshgrid(step, step, indexing="ij")
        points = np.stack([x, y, np.full_like(x, height)], axis=-1).reshape(-1, 3)
        up = np.tile((0.0, 0.0, 1.0), (81, 1))
        return picture._Surface(points, _grid_triangles(9, 9, closed=False), up, np.full(3, 200.0))

    middle = 40
    small, large = plate(0.2, 0.5), plate(0.5, 0.55)
    (open_plate,) = picture._open_to_sky([small], casting=[small])
    covered, lid = picture._open_to_sky([small, large], casting=[small, large])
    assert open_plate[middle] > 0.98
    assert covered[middle] < 0.15
    assert lid[middle] > 0.98


def test_a_sheet_is_written_whole_and_alike_each_time(tmp_path: Path) -> None:
    from PIL import Image

    fittings = [_fitting(), _fitting(readings={"settled": False, "verdicts": [{"where": "hem"}]})]
    picture.draw_sheet(fittings, tmp_path / "one.png")
    picture.draw_sheet(fittings, tmp_path / "two.png")
    assert (tmp_path / "one.png").read_bytes() == (tmp_path / "two.png").read_bytes()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["one.png", "two.png"]
    pixels = np.asarray(Image.open(tmp_path / "one.png"))
    assert pixels.shape[1] == 2400
    stamped = (pixels == sheet._STAMP).all(axis=-1)
    half = len(pixels) // 2
    assert stamped[half:].sum() > 5000  # the second row did not settle
    assert stamped[:half].sum() == 0


def test_a_sheet_holds_one_to_six_fittings(tmp_path: Path) -> None:
    for count in (0, 7):
        with pytest.raises(PictureError, match=f"got {count}, allowed 1 to 6"):
            picture.draw_sheet([_fitting()] * count, tmp_path / "sheet.png")


def test_readings_are_found_by_key_and_missing_ones_are_none() -> None:
    readings = {
        "crowding": {"folds": [2, 3], "folds_spread": [1, 0]},
        "neck": {"gap_left_cm": 1.25},
    }
    assert sheet._value(readings, "crowding.folds.1") == 3
    assert sheet._value(readings, sheet._spread_key("crowding.folds.0")) == 1
    assert sheet._value(readings, "neck.gap_left_cm") == 1.25
    for missing in ("crowding.folds.2", "neck.gap_back_cm", "fall.left_cm", "neck"):
        assert sheet._value(readings, missing) is None
    assert sheet._number(None, 1) == "–"
    assert sheet._number(-0.25, 2) == "−0.25"


@pytest.mark.skipif(os.name == "nt", reason="needs a shell that can end itself by a signal")
def test_a_crash_of_the_child_becomes_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    crash = tmp_path / "crash"
    crash.write_text("#!/bin/sh\nkill -SEGV $$\n")
    crash.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(crash))
    with pytest.raises(PictureError) as caught:
        picture.draw_in_child([tmp_path / "cone.npz"], tmp_path / "sheet.png")
    message = str(caught.value)
    assert "\n" not in message
    assert "signal 11" in message and "results are saved" in message and "libegl1" in message
    assert not (tmp_path / "sheet.png").exists()


def test_the_childs_own_error_comes_back_as_it_was() -> None:
    noise = "bad X server connection. DISPLAY=\nTraceback (most recent call last):\n"
    error = picture._fault(noise + "drape.errors.PictureError: picture: view — got x\n", 1)
    assert isinstance(error, PictureError) and str(error) == "picture: view — got x"
    error = picture._fault(noise + "drape.errors.MissingExtraError: picture: pyvista\n", 1)
    assert isinstance(error, MissingExtraError)
    error = picture._fault(noise + "FileNotFoundError: no such file: 'a.npz'\n", 1)
    assert "no such file: 'a.npz'" in str(error) and "libegl1" not in str(error)
    assert "libegl1" in str(picture._fault(noise, 3221225477))


def test_a_child_without_its_file_fails_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(PictureError) as caught:
        picture.draw_in_child([tmp_path / "absent.npz"], tmp_path / "sheet.png")
    assert "\n" not in str(caught.value)
    assert not (tmp_path / "sheet.png").exists()
