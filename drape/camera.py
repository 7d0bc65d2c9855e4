"""The parallel cameras a fitting is seen by: four standing views and one close on the neck.

Comes in: fittings (positions [m], z up, floor at 0, facing +y). Goes out: a `Frame` that takes in
all of them and turns positions into pixels, so that one scale holds for every picture of a sheet.
Draws nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from drape.errors import PictureError

if TYPE_CHECKING:
    from drape.fitting import Fitting

Array = NDArray[np.float64]

STANDING = ("front", "left", "back", "right")  # in the order of their azimuth, 90 degrees apart
VIEWS = (*STANDING, "neck")
_NECK_VIEW_ELEVATION = np.deg2rad(56.0)


@dataclass(frozen=True)
class Frame:
    """A parallel camera: where it looks, from which side, and how much it must take in [m]."""

    toward_camera: Array
    centre: Array
    half_width: float
    half_height: float

    def fitted(self, size: tuple[int, int]) -> Frame:
        """The same camera, opened until all of it fits an image of `size` (width, height)."""
        width, height = size
        half_height = max(self.half_height, self.half_width * height / width)
        return replace(self, half_height=half_height, half_width=half_height * width / height)

    def pixels_per_metre(self, size: tuple[int, int]) -> float:
        return size[1] / (2.0 * self.fitted(size).half_height)

    def axes(self) -> tuple[Array, Array]:
        """Unit vectors to the right and up in the image, each (3,)."""
        right = np.cross(-self.toward_camera, (0.0, 0.0, 1.0))
        right /= np.linalg.norm(right)
        return right, np.cross(right, -self.toward_camera)

    def pixels(self, points: Array, size: tuple[int, int]) -> Array:
        """Column and row, (k, 2), of points (k, 3) [m] in an image of `size`."""
        (right, up), per_metre = self.axes(), self.pixels_per_metre(size)
        offset = np.atleast_2d(points) - self.centre
        return np.column_stack(
            [size[0] / 2 + per_metre * offset @ right, size[1] / 2 - per_metre * offset @ up]
        )


def frame_of(fittings: Sequence[Fitting], view: str) -> Frame:
    """The one camera from which `view` takes in every fitting given.

    Raises PictureError for a view that is not in `VIEWS`.
    """
    if view not in VIEWS:
        raise PictureError(f"camera: view — got {view!r}, allowed {', '.join(VIEWS)}.")
    if view == "neck":
        return _neck_frame(fittings)
    azimuth = 0.5 * np.pi * STANDING.index(view)
    toward = np.round([-np.sin(azimuth), np.cos(azimuth), 0.0])
    everything = np.vstack([p for f in fittings for p in (f.worn, f.figure_vertices)])
    top, bottom = float(everything[:, 2].max()) + 0.03, min(-0.07, float(everything[:, 2].min()))
    return Frame(
        toward_camera=toward,
        centre=np.array([0.0, 0.0, (top + bottom) / 2]),
        half_width=float(np.abs(everything[:, :2]).max()) + 0.03,
        half_height=(top - bottom) / 2,
    )


def _neck_frame(fittings: Sequence[Fitting]) -> Frame:
    """Close camera, from above in front, on neck edge and shoulder points."""
    toward = np.array([0.0, np.cos(_NECK_VIEW_ELEVATION), np.sin(_NECK_VIEW_ELEVATION)])
    points = np.vstack(
        [
            p
            for f in fittings
            for p in (f.neck_base, neck_edge(f), f.shoulder_line_left, f.shoulder_line_right)
        ]
    )
    frame = Frame(toward, np.zeros(3), 1.0, 1.0)
    right, up = frame.axes()
    across, upward, depth = points @ right, points @ up, points @ toward
    top, bottom = float(upward.max()) + 0.07, float(upward.min()) - 0.13
    centre = across.mean() * right + 0.5 * (top + bottom) * up + depth.mean() * toward
    half_width = float(np.abs(across - across.mean()).max()) + 0.01
    return replace(frame, centre=centre, half_width=half_width, half_height=0.5 * (top - bottom))


def neck_edge(fitting: Fitting) -> Array:
    """Positions (k, 3) [m] along the neck edge, from the closure round to the closure."""
    names = [name for name in fitting.edges if name.endswith(" neck") or " neck " in name]
    return np.vstack([fitting.worn[fitting.edges[name]] for name in reversed(names)])
