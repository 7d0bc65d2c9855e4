"""Buttons, clasp, ties and the lap lie on the cloth, on the closing line, as large as the draft has them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from drape.picture.closure import findings_surfaces, lap_surface
from drape.picture.surfaces import drawn_cloth
from drape.reading.result import Fitting

Cone = Callable[..., Fitting]
THICK = 0.003
DOWN = np.hypot(0.26, 0.85)  # the cone's slant


def fastened(cone: Cone, kind: str, **changed: float) -> Fitting:
    """The cone closed by its two opening edges, which stand 12 degrees apart, so that each is met from its own side."""
    fitting = cone(thickness=THICK)
    held = {
        "kind": kind,
        "closure": ["front opening", "back opening"],
        "places": [0.1, 0.3],
        "diameter": 0.022,
        "overlap": 0.03,
    }
    return replace(fitting, about={"fastening": {**held, **changed}, "sex": "man"})


def off_cone(points: np.ndarray) -> np.ndarray:
    """How far points lie outside the cone [m]."""
    radius = 0.09 + 0.26 * (1.45 - points[:, 2]) / 0.85
    return (np.linalg.norm(points[:, :2], axis=1) - radius) * 0.85 / DOWN


def test_buttons_stand_on_the_line_where_the_draft_has_them(cone: Cone) -> None:
    fitting = fastened(cone, "buttons")
    drawn = drawn_cloth(fitting)
    (buttons,) = findings_surfaces(fitting, drawn)
    line = drawn.points[drawn.edges["front opening"]]
    for part, place in zip(np.split(buttons.points, 2), (0.1, 0.3), strict=True):
        middle = part.mean(axis=0)
        assert np.linalg.norm(middle - line[0]) == pytest.approx(place, abs=0.005)
        wide = np.linalg.norm(part[:, None] - part[None], axis=2).max()
        assert wide == pytest.approx(0.022, rel=0.05)
        assert off_cone(part).min() > 0.5 * THICK  # on the lap, outside
    corner = buttons.points[buttons.triangles]
    face = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    assert (np.einsum("tc,tc->t", face, corner.mean(axis=1) * (1, 1, 0)) > 0).mean() > 0.5  # faces outward


@pytest.mark.parametrize("kind", ["clasp", "ties"])
def test_a_clasp_and_ties_lie_outside_the_cloth(cone: Cone, kind: str) -> None:
    fitting = fastened(cone, kind, places=[0.02])
    (surface,) = findings_surfaces(fitting, drawn_cloth(fitting))
    assert surface.name == kind
    assert off_cone(surface.points).min() > -0.001
    assert np.ptp(surface.points[:, 2]) < 0.25


def test_the_lap_is_half_the_overlap_wide_and_lies_on_the_other_half(cone: Cone) -> None:
    fitting = fastened(cone, "buttons")
    drawn = drawn_cloth(fitting)
    lap, _ = lap_surface(fitting, drawn, np.full(3, 100.0))
    top = lap.points[: len(lap.points) // 2]
    line = drawn.points[drawn.edges["front opening"]]
    away = np.linalg.norm(top[:, None] - line[None], axis=2).min(axis=1)
    assert away.max() == pytest.approx(0.015, abs=0.003)
    inside = drawn.points[
        np.setdiff1d(
            drawn.triangles[np.isin(drawn.triangles, drawn.edges["front opening"]).any(axis=1)],
            drawn.edges["front opening"],
        )
    ]
    assert (top.mean(axis=0) - line.mean(axis=0)) @ (
        inside.mean(axis=0) - line.mean(axis=0)
    ) < 0.0  # beyond its own edge
    assert lap_surface(fastened(cone, "buttons", overlap=0.0), drawn, np.full(3, 100.0)) is None


def test_a_fitting_without_a_word_of_it_has_none(cone: Cone) -> None:
    fitting = cone()
    assert findings_surfaces(fitting, drawn_cloth(fitting)) == []
    assert lap_surface(fitting, drawn_cloth(fitting), np.zeros(3)) is None
