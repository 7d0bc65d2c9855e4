"""How far a settling has come, from what the solver told in real runs."""

from __future__ import annotations

import itertools
import math

import pytest

from drape.fitting.clock import Clock, parts_of

# Movement to come [mm] at every call of the solver, recorded at 6 cm with `drape sit`: each relaxation of its own.
INF = math.inf
ROUND = [
    ("shake", [INF, INF, INF, 495.2, 839.1, 482.1, 154.7, 200.8, INF, 1797.6, 79.9, 93.4, INF, 70.9, 47.0, 17.1]),
    ("settle", [*[INF] * 17, 31.5, 28.0, 21.6, 15.0, 12.0, 8.0, 5.9, 3.0, 1.6, 0.9, 0.6]),
]
FULL_LENGTH = [
    (
        "settle",
        [*[INF] * 17, 12.8, 12.0, 9.8, 10.5, 11.4, 11.0, 10.3, 9.0, 7.2, 5.0, 3.5, 2.0, 1.3, 1.0, 0.8, 0.6, 0.5],
    ),
    ("trim0", [*[INF] * 5, 3.9, 2.4, 2.4, 2.0, 2.4, 0.8, 1.6, 2.0, 1.9, 0.2]),
    ("trim1", [*[INF] * 5, 4.0, 2.0, 1.1, 1.0, 22.3, INF, 718.2, 0.5]),
    ("trim2", [*[INF] * 5, 1.0]),
    ("trim3", [*[INF] * 4, 9.9, 8.6, 6.7, 2.6, 1.8, 0.5]),
]


@pytest.mark.parametrize(("relaxations", "is_trimmed"), [(ROUND, False), (FULL_LENGTH, True)])
def test_the_share_rises_through_a_recorded_run_and_ends_near_the_whole(relaxations, is_trimmed):
    told = []
    clock = Clock(told.append)
    clock.expect(1, is_trimmed=is_trimmed)
    for kind, movements in relaxations:
        tell = clock.relaxing(kind, "settling, 890 points", 5e-4)
        for k, mm in enumerate(movements):
            tell(0.1, mm / 1000, 100 * k)
    fractions = [progress.fraction for progress in told]
    assert all(0.0 < fraction < 1.0 for fraction in fractions)
    held = list(itertools.accumulate(fractions, max))  # as the bar shows them
    assert max(b - a for a, b in itertools.pairwise(held)) < 0.2  # in no great leaps
    assert held[-1] > 0.85


def test_movement_that_dies_away_brings_the_end_nearer():
    told = []
    clock = Clock(told.append)
    clock.expect(1)
    far, near = clock.relaxing("settle", "", 5e-4), clock.relaxing("settle", "", 5e-4)
    far(0.1, INF, 100)
    near(0.1, 0.001, 100)
    assert told[1].fraction > told[0].fraction


def test_the_shape_is_told_as_it_is_now_and_two_tellings_are_alike_without_it():
    told, shape = [], ([[0.0, 0.0, 1.0]], [[0, 0, 0]])
    shown = Clock(told.append).relaxing("settle", "", 5e-4, lambda: shape)
    shown(0.1, 0.001, 100)
    Clock(told.append).relaxing("settle", "", 5e-4)(0.1, 0.001, 100)
    assert told[0].shape is shape and told[1].shape is None
    assert told[0] == told[1]


def test_finer_levels_cost_most_and_a_start_from_a_shape_little():
    parts = parts_of(3)
    assert parts["settle 2"] == 4 * parts["settle 1"] > 0.5 * sum(parts.values())
    assert list(parts)[:3] == ["figure", "draft", "mesh 0"] and list(parts)[-1] == "readings"
    assert sum(parts_of(3, is_warm=True).values()) < 0.5 * sum(parts.values())
