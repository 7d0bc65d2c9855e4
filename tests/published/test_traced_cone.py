"""The development of a frustum, drawn, is traced as the sector the handbook formula gives.

Problem: a frustum of radii a (top) and b (bottom) and height h is cut open along a straight line and laid flat.
Answer: a sector of a ring between s a / (b - a) and s b / (b - a) with s = sqrt(h^2 + (b - a)^2), of angle
2 pi (b - a) / s. Source: Bronshtein, Semendyayev, Musiol and Mühlig, Handbook of Mathematics, on the development of a
cone (2 pi times base radius over slant); from memory.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from drawings import Hand, write_dxf
from stand_in import standing_body

from drape.draft.neckline import direction
from drape.tracing.trace import Told, find_edges, trace

TOP, BOTTOM, HEIGHT = 0.067, 0.56, 0.75


def development(top, bottom, height):
    slant = math.hypot(height, bottom - top)
    return slant * top / (bottom - top), slant * bottom / (bottom - top), 2 * math.pi * (bottom - top) / slant


def drawn(path, inner, outer, angle):
    phi = np.linspace(0.0, angle, 600)
    runs = {
        "a": outer * direction(phi), "b": inner * direction(phi),
        "c": np.outer([inner, outer], direction(0.0)), "d": np.outer([inner, outer], direction(angle)),
    }  # fmt: skip
    return trace(find_edges(write_dxf(runs, path, Hand(turn=0.9)), Told()), standing_body())


def test_a_frustum_laid_flat_is_traced_as_its_sector(tmp_path):
    inner, outer, angle = development(TOP, BOTTOM, HEIGHT)
    found = drawn(tmp_path / "x.dxf", inner, outer, angle)
    values = found.fitted.draft.dimensions
    assert found.fitted.style.sweep == pytest.approx(angle, abs=1e-4)
    assert values["front_neck_depth"] == pytest.approx(inner, abs=1e-4)
    assert values["neck_edge_length"] == pytest.approx(2 * math.pi * TOP, abs=5e-4)  # it closes round the top again
    assert values["hem_length"] == pytest.approx(2 * math.pi * BOTTOM, abs=1e-3)


def test_with_a_wrong_slant_it_does_not_close(tmp_path):
    inner, outer, angle = development(TOP, BOTTOM, HEIGHT)
    found = drawn(tmp_path / "x.dxf", inner, outer, angle * 1.02)
    assert abs(found.fitted.draft.dimensions["hem_length"] - 2 * math.pi * BOTTOM) > 1e-2
