"""The parallel cameras a fitting is seen by: standing, slanting, from above, close on neck and shoulders.

Comes in: fittings (positions [m], z up, floor at 0, facing +y). Goes out: a `Frame` that takes in
all of them and turns positions into pixels, so that one scale holds for every picture of a sheet.
Draws nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from drape.arrays import Floats, Ints
from drape.errors import PictureError
from drape.reading.by_vertex import neck_edge

if TYPE_CHECKING:
    from drape.reading.result import Fitting


STANDING = ("front", "left", "back", "right")  # in the order of their azimuth, 90 degrees apart
VIEWS = (*STANDING, "neck")  # of the sheet
SHOULDERS = ("left shoulder", "right shoulder")
CLOSE = ("neck", *SHOULDERS)
ALL_VIEWS = (*VIEWS, *SHOULDERS, "three-quarter", "above")
HEADLESS = (*CLOSE, "above")  # the head would stand before what the view is for
LONGEST = 0.12  # [m] of a side of a triangle of cloth or mannequin, as drawn
BEFORE = 0.012  # [m] less cloth than this before a place does not hide it: it may lie in the cloth itself
_NECK_VIEW_ELEVATION = np.deg2rad(56.0)
_SHOULDER_VIEW_ELEVATION = np.deg2rad(38.0)
_THREE_QUARTER = np.deg2rad((38.0, 14.0))  # azimuth, elevation: from the wearer's left front
_ABOVE = np.deg2rad((0.0, 89.99))  # the front at the foot of the picture


@dataclass(frozen=True)
class Frame:
    """A parallel camera: where it looks, from which side, and how much it must take in [m]."""

    toward_camera: Floats
    centre: Floats
    half_width: float
    half_height: float

    def fitted(self, size: tuple[int, int]) -> Frame:
        """The same camera, opened until all of it fits an image of `size` (width, height)."""
        width, height = size
        half_height = max(self.half_height, self.half_width * height / width)
        return replace(self, half_height=half_height, half_width=half_height * width / height)

    def pixels_per_metre(self, size: tuple[int, int]) -> float:
        return size[1] / (2.0 * self.fitted(size).half_height)

    def axes(self) -> tuple[Floats, Floats]:
        """Unit vectors to the right and up in the image, each (3,)."""
        right = np.cross(-self.toward_camera, (0.0, 0.0, 1.0))
        right /= np.linalg.norm(right)
        return right, np.cross(right, -self.toward_camera)

    def pixels(self, points: ArrayLike, size: tuple[int, int]) -> Floats:
        """Column and row, (k, 2), of points (k, 3) [m] in an image of `size`."""
        (right, up), per_metre = self.axes(), self.pixels_per_metre(size)
        offset = np.atleast_2d(np.asarray(points, float)) - self.centre
        return np.column_stack([size[0] / 2 + per_metre * offset @ right, size[1] / 2 - per_metre * offset @ up])


def frame_of(fittings: Sequence[Fitting], view: str) -> Frame:
    """The one camera from which `view` takes in every fitting given.

    Raises PictureError for a view that is not in `ALL_VIEWS`.
    """
    if view not in ALL_VIEWS:
        raise PictureError(f"camera: view: got {view!r}, allowed {', '.join(ALL_VIEWS)}. Or give --azimuth-deg.")
    if view == "neck":
        return _neck_frame(fittings)
    if view in SHOULDERS:
        return _shoulder_frame(fittings, view.removesuffix(" shoulder"))
    if view == "three-quarter":
        return frame_at(fittings, *_THREE_QUARTER)
    if view == "above":
        return frame_at(fittings, *_ABOVE)
    return frame_at(fittings, 0.5 * np.pi * STANDING.index(view), 0.0)


def toward(azimuth: float, elevation: float) -> Floats:
    """Unit vector to a camera at an azimuth round the wearer and an elevation above the level [rad]."""
    level = np.array([-np.sin(azimuth), np.cos(azimuth), 0.0]) * np.cos(elevation)
    return np.round(level + (0.0, 0.0, np.sin(elevation)), 12)


def frame_at(fittings: Sequence[Fitting], azimuth: float, elevation: float) -> Frame:
    """The camera from any side that takes in every fitting given, and the floor under it [rad]."""
    everything = np.vstack([p for f in fittings for p in (f.worn, f.figure_vertices)])
    if abs(elevation) < 1e-9:
        return _standing_frame(everything, azimuth)
    frame = Frame(toward(azimuth, elevation), np.zeros(3), 1.0, 1.0)
    right, up = frame.axes()
    across, upward = everything @ right, everything @ up
    middle = 0.5 * (upward.max() + upward.min())
    return replace(
        frame,
        centre=middle * up,
        half_width=float(np.abs(across).max()) + 0.04,
        half_height=0.5 * float(np.ptp(upward)) + 0.05,
    )


def _standing_frame(everything: Floats, azimuth: float) -> Frame:
    """A camera on the level, as wide for every azimuth; the floor shows as a band at its foot."""
    top, bottom = float(everything[:, 2].max()) + 0.03, min(-0.07, float(everything[:, 2].min()))
    return Frame(
        toward_camera=toward(azimuth, 0.0),
        centre=np.array([0.0, 0.0, (top + bottom) / 2]),
        half_width=float(np.linalg.norm(everything[:, :2], axis=1).max()) + 0.03,
        half_height=(top - bottom) / 2,
    )


def _neck_frame(fittings: Sequence[Fitting]) -> Frame:
    """Close camera, from above in front, on neck edge and shoulder points."""
    points = [(f.neck_base, neck_edge(f), f.shoulder_line_left, f.shoulder_line_right) for f in fittings]
    return _close_frame(points, toward(0.0, _NECK_VIEW_ELEVATION), above=0.07, below=0.13, beside=0.01)


def _shoulder_frame(fittings: Sequence[Fitting], side: str) -> Frame:
    """Close camera, from above the arm, on one shoulder line and the neck edge beside it."""
    azimuth = {"left": 0.5 * np.pi, "right": 1.5 * np.pi}[side]
    points = [(f.neck_base, neck_edge(f), getattr(f, f"shoulder_line_{side}")) for f in fittings]
    return _close_frame(points, toward(azimuth, _SHOULDER_VIEW_ELEVATION), above=0.05, below=0.09, beside=0.09)


def _close_frame(
    points: Sequence[Sequence[Floats]], toward_camera: Floats, *, above: float, below: float, beside: float
) -> Frame:
    """A camera that takes in the points and so much round them [m]."""
    together = np.vstack([p for group in points for p in group])
    frame = Frame(toward_camera, np.zeros(3), 1.0, 1.0)
    right, up = frame.axes()
    across, upward, depth = together @ right, together @ up, together @ toward_camera
    top, bottom = float(upward.max()) + above, float(upward.min()) - below
    sideways = 0.5 * (across.max() + across.min())
    centre = sideways * right + 0.5 * (top + bottom) * up + depth.mean() * toward_camera
    half_width = float(np.abs(across - sideways).max()) + beside
    return replace(frame, centre=centre, half_width=half_width, half_height=0.5 * (top - bottom))


def shows(frame: Frame, point: Floats, surfaces: Sequence[tuple[Floats, Ints]]) -> bool:
    """Whether no surface stands before a point (3,) [m] by more than BEFORE.

    surfaces: points (n, 3), triangles (t, 3), whose sides are no longer than LONGEST.
    """
    axes = np.stack([*frame.axes(), frame.toward_camera], axis=1)
    for points, triangles in surfaces:
        off = (points - point) @ axes
        could = (np.hypot(off[:, 0], off[:, 1]) < LONGEST) & (off[:, 2] > 0.0)
        corner = off[triangles[could[triangles].any(axis=1)]]
        a, b, c = corner[:, 0], corner[:, 1], corner[:, 2]
        twice = _cross(b - a, c - a)
        weights = np.stack([_cross(b, c), _cross(c, a), _cross(a, b)], axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            share = weights / twice[:, None]
        depth = np.einsum("tk,tk->t", share, corner[:, :, 2])
        if ((share >= 0.0).all(axis=1) & (depth > BEFORE)).any():
            return False
    return True


def _cross(first: Floats, second: Floats) -> Floats:
    """The level cross product of vectors (t, 3), (t,)."""
    return first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
