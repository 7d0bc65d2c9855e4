"""Cloth laid on a board and a strip over a roller: where they lie, and what is not called sliding."""

from __future__ import annotations

import math

import numpy as np
import pytest

from drape.bench.sliding import SLID, _first_to_slide, _over_roller, _turned, _weight, lay_down
from drape.bench.specimen import Strip, board, strip_mesh
from drape.cloth.sheet import sew
from drape.errors import NotSettledError
from drape.units import STANDARD_GRAVITY


class Block:
    """A block in place of cloth: it moves a millimetre at every look once its load is past what holds it."""

    def __init__(self, holds: float) -> None:
        self.x, self.load, self.holds = np.zeros((4, 3)), 0.0, holds

    def advance(self, steps: int) -> None:
        self.x = self.x + (1e-3 if self.load > self.holds else 0.1 * SLID)

    def residual(self) -> tuple[float, int]:
        return 0.0, 0


def first_to_slide(holds: float, told: list[float]) -> float:
    def turn(run: Block, load: float) -> None:
        run.load = load
        told.append(load)

    return _first_to_slide(lambda: Block(holds), turn, lambda held: held + 0.25, 0.0, 2.0, None)[0]  # type: ignore[arg-type, return-value]


def test_sliding_begins_halfway_between_the_last_load_that_held_and_the_next() -> None:
    loads: list[float] = []
    assert first_to_slide(1.1, loads) == pytest.approx(1.125)
    assert loads == pytest.approx([0.25, 0.5, 0.75, 1.0, 1.25])


def test_cloth_that_never_slides_is_not_called_sliding() -> None:
    with pytest.raises(NotSettledError, match="not sliding at 2, the most that is tried. Lower friction_on_figure."):
        first_to_slide(9.0, [])


def test_cloth_that_is_not_carried_does_not_lie(melton) -> None:
    """Laid half a metre above the board it is still falling, or past it."""
    mesh = strip_mesh(Strip(0.1, 0.06, 0.02))
    sheet = sew(mesh, melton)
    weight = sheet.mass[:, None] * STANDARD_GRAVITY * np.array([0.0, 0.0, -1.0])
    field = board([0.0, -0.03], [0.1, 0.03])
    for height, carried in ((0.0015, True), (0.5, False)):
        start = np.c_[mesh.flat, np.full(len(mesh.flat), height)]
        if carried:
            assert lay_down(sheet, start, melton.thickness, 0.4, field, weight).state.stuck.any()
        else:
            with pytest.raises(NotSettledError, match="did not come to lie"):
                lay_down(sheet, start, melton.thickness, 0.4, field, weight)


def test_the_weight_on_a_tilted_board_pulls_down_it_by_its_sine(melton) -> None:
    """In the board's axes: along it m g sin, into it m g cos, and always m g in all."""
    sheet = sew(strip_mesh(Strip(0.1, 0.06, 0.02)), melton)
    pull = _weight(sheet, 0.3).sum(axis=0)
    total = sheet.mass.sum() * STANDARD_GRAVITY
    assert total == pytest.approx(0.1 * 0.06 * melton.areal_density * STANDARD_GRAVITY)
    assert pull == pytest.approx([total * math.sin(0.3), 0.0, -total * math.cos(0.3)])


def test_a_board_seen_from_the_side_falls_by_its_slope() -> None:
    along, up = _turned(np.array([[1.0, 5.0, 0.0], [0.0, 5.0, 1.0]]), 0.3)
    assert along == pytest.approx([math.cos(0.3), -math.sin(0.3)])
    assert up == pytest.approx([math.sin(0.3), math.cos(0.3)])


@pytest.mark.parametrize("wrap", [0.6, math.pi / 2, math.pi])
def test_a_strip_over_a_roller_keeps_its_length_and_leaves_it_straight(wrap: float) -> None:
    """On the arc all is a radius from the middle; both ends run on along the tangent, wrap/2 below the level."""
    radius, span = 0.05, 0.075
    x = np.linspace(0.0, 2 * span + radius * wrap, 2001)
    bent = _over_roller(np.c_[x, 0 * x], radius, wrap, span)
    assert np.linalg.norm(np.diff(bent, axis=0), axis=1).sum() == pytest.approx(x[-1], rel=1e-6)
    on = (x > span) & (x < x[-1] - span)
    assert np.hypot(bent[on, 0], bent[on, 2]) == pytest.approx(radius)
    end = bent[-1] - bent[-2]
    assert math.atan2(-end[2], end[0]) == pytest.approx(wrap / 2)
    assert bent[0] == pytest.approx(bent[-1] * [-1, 1, 1], abs=1e-12)
