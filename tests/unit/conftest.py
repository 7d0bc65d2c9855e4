"""What several unit tests share: a cone of cloth over a cylinder, a fitting known from its own formula."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from drape.reading.result import Fitting

HEM, TOP = 0.60, 1.45  # heights [m] of the cone's two edges


def grid_triangles(around: int, along: int, *, closed: bool) -> np.ndarray:
    """Triangles of a grid whose vertex (i, j) has index i * along + j; outward for a CCW ring."""
    found = []
    for i in range(around if closed else around - 1):
        k = (i + 1) % around
        for j in range(along - 1):
            a, b, c, d = i * along + j, k * along + j, k * along + j + 1, i * along + j + 1
            found += [(a, b, c), (a, c, d)]
    return np.array(found)


def cylinder() -> tuple[np.ndarray, np.ndarray]:
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
    return points, np.vstack([grid_triangles(around, 30, closed=True), caps])


def cone_fitting(*, inside_out: bool = False, hem: float = HEM, **changed: Any) -> Fitting:
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
    triangles = grid_triangles(around, along, closed=False)
    half = around // 2
    figure_points, figure_triangles = cylinder()
    turn = np.deg2rad(np.arange(0, 360, 5))
    line = np.linspace(0.07, 0.20, 31)
    shoulder = np.column_stack([line, 0 * line, 1.5 - 0.4 * (line - 0.07)])
    given: dict[str, Any] = {
        "name": "cone", "title": "Toll-house clerk, a cone", "expect": "The hem is level.",
        "readings": {"scene": "cone", "settled": True}, "flat": worn[:, :2], "worn": worn,
        "triangles": triangles[:, ::-1] if inside_out else triangles,
        "edges": {
            "hem": index[:, 0], "back opening": index[-1, ::-1], "back neck": index[half:, -1],
            "front neck": index[: half + 1, -1], "front opening": index[0, ::-1],
        },
        "figure_vertices": figure_points, "figure_triangles": figure_triangles,
        "landmarks": {}, "levels": {},
        "neck_base": np.column_stack([-0.07 * np.sin(turn), 0.07 * np.cos(turn), 1.5 + 0 * turn]),
        "shoulder_line_left": shoulder * (-1, 1, 1), "shoulder_line_right": shoulder,
        "thickness": 0.003, "colours": {},
    }  # fmt: skip
    return Fitting(**{**given, **changed})


@pytest.fixture
def cone() -> Callable[..., Fitting]:
    """`cone(hem=0.6, inside_out=False, field=value, ...)`: a new fitting each time."""
    return cone_fitting


@pytest.fixture
def few_directions(monkeypatch: pytest.MonkeyPatch) -> None:
    """A coarser sky: light differs a little, nothing tested with it does, and it is quicker."""
    monkeypatch.setattr("drape.picture.stage.SKY_DIRECTIONS", 12)


@pytest.fixture
def hard_pixels(monkeypatch: pytest.MonkeyPatch) -> None:
    """Views whose edges are not smoothed, for tests of what stands on a page: a quarter of the pixels to draw."""
    monkeypatch.setattr("drape.picture.stage._SUPERSAMPLE", 1)
