"""Hems and edges that are none of our constructions come back as points, within a millimetre."""

from __future__ import annotations

import math

import numpy as np
import pytest
from drawings import Hand, draft_runs, write_dxf
from stand_in import standing_body

from drape.draft.cloak import draft_cloak
from drape.draft.outline import outline_of
from drape.draft.style import Dart, Style
from drape.polyline import polyline_distance
from drape.tracing.trace import Told, find_edges, trace

BODY = standing_body()
HEM = {"hem_along": (1.25, 0.95, 0.0, -0.92, -1.25), "hem_up": (0.0, 0.92, 1.18, 0.92, 0.0)}
BESIDE = {"hem_along": (1.25, 0.95, 0.0, -0.92, -1.25), "hem_up": (-0.04, 0.92, 1.18, 0.92, 0.03)}
FIRST = {"first_edge_along": (0.6, 1.25), "first_edge_aside": (0.06, 0.04)}
LAST = {"last_edge_along": (0.6, 1.25), "last_edge_aside": (-0.05, -0.03)}


def again(style, path):
    draft = draft_cloak(style, BODY)
    traced = trace(find_edges(write_dxf(draft_runs(draft), path, Hand(turn=1.3)), Told()), BODY)
    assert max(most for _, most in traced.fitted.off.values()) < 1e-3
    return traced.fitted.style, draft, traced.fitted.draft


@pytest.mark.long
def test_a_drawn_hem_comes_back(tmp_path):
    style, draft, found = again(Style(neck="tailored", darts=(Dart(),), **HEM), tmp_path / "x.dxf")
    assert style.neck == "tailored" and 4 <= len(style.hem_along) <= 9 and style.length is None
    loops = [np.vstack([loop, loop[:1]]) for loop in (outline_of(draft), outline_of(found))]
    assert polyline_distance(loops[0], loops[1]).max() < 1e-3


@pytest.mark.long
def test_drawn_edges_and_a_bent_hem_come_back(tmp_path):
    style, _, _ = again(Style(neck="round", **BESIDE, **FIRST, **LAST), tmp_path / "x.dxf")
    assert len(style.first_edge_along) > 1 and len(style.last_edge_along) > 1
    bent = Style(neck="tailored", darts=(Dart(),), length=1.0, front_length=0.85, side_length=0.9)
    style, _, _ = again(bent, tmp_path / "y.dxf")
    assert not style.hem_along
    assert (style.length, style.front_length, style.side_length) == pytest.approx((1.0, 0.85, 0.9), abs=2e-3)


@pytest.mark.long
def test_a_drawn_neck_with_a_dart_and_cuts_comes_back(tmp_path):
    end = math.radians(200)
    neck = Style(
        neck="drawn", length=1.0, sweep=end, neck_along=(0.17, 0.14, 0.0, -0.1, 0.16 * math.cos(end)),
        neck_up=(0.0, 0.16, 0.15, 0.1, 0.16 * math.sin(end)), darts=(Dart(azimuth=1.6, length=0.14, intake=0.04),),
        shoulder_cut_intake=0.05, shoulder_cut_length=0.12,
    )  # fmt: skip
    style, _, _ = again(neck, tmp_path / "x.dxf")
    assert style.neck == "drawn" and style.darts[0].intake == pytest.approx(0.04, abs=2e-3)
