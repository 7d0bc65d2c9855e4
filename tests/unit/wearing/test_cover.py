"""Cover of a cylinder by a sheet wrapped half round it, in closed form, from each side and along slanting rain."""

from __future__ import annotations

import numpy as np
import pytest

from drape.wearing.cover import RAIN_OFF, WAYS, cover, set_down

RADIUS, HIGH, OFF = 0.15, 1.0, 0.004  # m


def tube(radius: float, half: float, low: float = 0.0, high: float = HIGH) -> np.ndarray:
    """Triangles of a tube's part within an angle of the front [rad]."""
    turn, z = np.linspace(-half, half, 81), np.linspace(low, high, 81)
    grid = np.stack(
        [
            -radius * np.sin(turn)[:, None] + 0 * z,
            radius * np.cos(turn)[:, None] + 0 * z,
            np.broadcast_to(z, (len(turn), len(z))),
        ],
        axis=-1,
    )
    a, b, c, d = grid[:-1, :-1], grid[1:, :-1], grid[1:, 1:], grid[:-1, 1:]
    return np.concatenate([np.stack(three, axis=-2).reshape(-1, 3, 3) for three in ((a, b, c), (a, c, d))])


def share(half: float, way: str, **cloth: float) -> float:
    body = tube(RADIUS, np.pi)
    return cover(body, np.ones(len(body), dtype=bool), tube(RADIUS + OFF, half, **cloth), WAYS[way])


@pytest.mark.parametrize("half_deg", [30.0, 60.0, 90.0])
def test_a_sheet_wrapped_so_far_covers_the_sine_of_its_half_angle(half_deg):
    """Seen square to its axis a cylinder is 2 R wide and the sheet 2 (R + off) sin of its half angle."""
    half = np.radians(half_deg)
    exact = min(1.0, (1 + OFF / RADIUS) * np.sin(half))
    assert share(half, "front") == pytest.approx(exact, abs=0.035)
    assert share(half, "back") == 0.0  # seen from behind it lies beyond the body


def test_half_as_high_it_covers_half():
    assert share(np.pi / 2, "front", high=0.5 * HIGH) == pytest.approx(0.5, abs=0.02)


def test_rain_slants_past_the_lower_edge():
    """Rain 30° off upright: a sheet that ends at half height and stands `out` from the wall keeps it dry for
    out / tan 30° more."""
    out = 0.08
    body, cloth = tube(RADIUS, 0.05), tube(RADIUS + out, 0.06, low=0.5 * HIGH, high=1.5 * HIGH)
    found = cover(body, np.ones(len(body), dtype=bool), cloth, WAYS["rain"])
    assert found == pytest.approx(0.5 + out / np.tan(RAIN_OFF) / HIGH, abs=0.02)


def test_only_what_counts_is_counted_and_nothing_gives_nothing():
    body = tube(RADIUS, np.pi)
    upper = body[:, :, 2].min(axis=1) >= 0.5 * HIGH
    sheet = tube(RADIUS + OFF, np.pi / 2, low=0.5 * HIGH)
    assert cover(body, upper, sheet, WAYS["front"]) == pytest.approx(1.0, abs=0.02)
    assert cover(body, ~upper, sheet, WAYS["front"]) == pytest.approx(0.0, abs=0.02)
    assert cover(body, np.zeros(len(body), dtype=bool), sheet, WAYS["front"]) == 0.0


def test_places_are_set_down_as_near_as_asked_and_on_their_triangle():
    corners = np.array([[[0.0, 0, 0], [0.1, 0, 0], [0, 0.07, 0.02]], [[0.0, 0, 0], [0.004, 0, 0], [0, 0.004, 0]]])
    places, owner = set_down(corners, 0.005)
    for k, three in enumerate(corners):
        own = places[owner == k]
        share = np.linalg.lstsq(np.vstack([three.T, np.ones(3)]), np.vstack([own.T, np.ones(len(own))]), rcond=None)[0]
        assert share.min() > -1e-9
        gaps = np.sort(np.linalg.norm(own[:, None] - own, axis=2), axis=1)[:, 1] if len(own) > 1 else np.zeros(1)
        assert gaps.max() <= 0.005 * 1.01
