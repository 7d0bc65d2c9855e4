"""The scene of a traced drawing: read back, it draws the same draft; its header tells how far off the drawing lies."""

from __future__ import annotations

import math
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from drawings import Hand, draft_runs, write_dxf
from hostile import STEERING
from stand_in import standing_body

from drape.draft.cloak import draft_cloak
from drape.draft.outline import outline_of
from drape.draft.style import Dart, Style
from drape.fitting.scene import load_scene
from drape.polyline import polyline_distance
from drape.tracing.shown import write_shown
from drape.tracing.trace import Told, find_edges, trace
from drape.tracing.traced_scene import scene_text, traced_object, traced_table

BODY = standing_body()
STYLE = Style(
    neck="round", length=1.0, sweep=math.radians(200), darts=(Dart(azimuth=2.5, length=0.12, intake=0.05),),
    shoulder_cut_intake=0.05,
)  # fmt: skip


@pytest.fixture(scope="module")
def traced(tmp_path_factory):
    path = tmp_path_factory.mktemp("drawing") / "old <cloak>.dxf"
    return trace(find_edges(write_dxf(draft_runs(draft_cloak(STYLE, BODY)), path, Hand(turn=1.0)), Told()), BODY)


def test_the_scene_draws_the_draft_that_was_traced(traced, tmp_path):
    path = tmp_path / "x.toml"
    path.write_text(scene_text(traced, "ferry-warden"), encoding="utf-8")
    scene = load_scene(path)
    again, before = (outline_of(one) for one in (draft_cloak(scene.style, BODY), traced.fitted.draft))
    assert polyline_distance(again, np.vstack([before, before[:1]])).max() < 2e-4
    assert scene.title == "Traced from old <cloak>.dxf"


def test_the_header_tells_each_edge_how_it_was_found_and_how_far_it_lies(traced):
    head = scene_text(traced, "ferry-warden").partition("title")[0]
    assert all(line.startswith("#") for line in head.splitlines() if line)
    for edge in ("hem", "opening", "neck", "dart"):
        assert f"#   {edge}: " in head and "0.0 mm" in head
    assert "scaled by the file, in millimetres" in head


def test_table_and_object_tell_the_same(traced):
    found, text = traced_object(traced, "x.toml"), traced_table(traced)
    assert found["neck"] == "round" and found["sweep_deg"] == pytest.approx(200, abs=0.01)
    assert found["dimensions"]["shoulder_cut_intake_cm"] == pytest.approx(5.0, abs=0.02)
    assert set(found["edges"]) == {"hem", "opening", "neck", "dart"} and "one arc" in text and "200.0 degrees" in text
    assert found["edges"]["hem"]["most_off_mm"] < 0.2


def test_the_sheet_names_every_edge_and_takes_no_name_for_a_tag(traced, tmp_path):
    path = tmp_path / "x.svg"
    write_shown(traced, path)
    text = path.read_text(encoding="utf-8")
    assert "old &lt;cloak&gt;.dxf" in text and "<cloak>" not in text
    assert all(f">{edge}</text>" in text for edge in ("hem", "opening", "neck", "dart"))
    write_shown(traced, tmp_path / "y.svg")
    assert path.read_bytes() == (tmp_path / "y.svg").read_bytes()


def test_the_name_of_a_file_adds_no_line_to_the_scene(traced, tmp_path):
    named = replace(traced, label="a\n[settle]\nmax_steps = 1\n" + "".join(STEERING) + ".svg")
    (tmp_path / "x.toml").write_text(scene_text(named, "ferry-warden"), encoding="utf-8")
    assert (tmp_path / "x.toml").read_text(encoding="utf-8").count("\n[settle]") == 1
    assert load_scene(tmp_path / "x.toml").title.startswith("Traced from ")
    write_shown(named, tmp_path / "x.svg")
    ElementTree.parse(tmp_path / "x.svg")
