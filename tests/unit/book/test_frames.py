"""The bytes of a shape, read back as the page reads them."""

from __future__ import annotations

import numpy as np

from drape.book.frames import HEAD, MOVING, frame, is_moving_only, rims

POINTS = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [1.0, 1.0, 0.0], [0.0, 1.0, 0.5]])
TRIANGLES = np.array([[0, 1, 2], [0, 2, 3]])


def test_a_shape_is_read_back_as_it_was():
    lines = rims(TRIANGLES)
    packed = frame(MOVING, 7, POINTS, TRIANGLES, lines)
    kind, run, points, triangles, sides = HEAD.unpack_from(packed)
    assert (kind, run, points, triangles, sides) == (MOVING, 7, 4, 2, 4)
    rest = packed[HEAD.size :]
    np.testing.assert_array_equal(np.frombuffer(rest[:48], "<f4").reshape(-1, 3), POINTS)
    np.testing.assert_array_equal(np.frombuffer(rest[48:72], "<u4").reshape(-1, 3), TRIANGLES)
    np.testing.assert_array_equal(np.frombuffer(rest[72:], "<u4").reshape(-1, 2), lines)


def test_the_rim_is_every_side_of_one_triangle_alone():
    assert sorted(map(sorted, rims(TRIANGLES).tolist())) == [[0, 1], [0, 3], [1, 2], [2, 3]]


def test_positions_alone_are_told_from_a_whole_mesh():
    assert is_moving_only(frame(MOVING, 1, POINTS))
    assert not is_moving_only(frame(MOVING, 1, POINTS, TRIANGLES, rims(TRIANGLES)))
