"""DXF files: every kind of line, blocks, layers and units."""

from __future__ import annotations

import math

import ezdxf
import numpy as np
import pytest

from drape.errors import DraftError
from drape.tracing.dxf_drawing import read_dxf


def test_lines_arcs_splines_and_blocks_are_read_with_their_layers(tmp_path):
    document = ezdxf.new("R2010", units=ezdxf.units.CM)
    space = document.modelspace()
    space.add_line((0, 0), (3, 4), dxfattribs={"layer": "edge"})
    space.add_arc((0, 0), 100, 0, 180, dxfattribs={"layer": "hem"})
    space.add_lwpolyline([(0, 0, 0, 0, 1), (2, 0, 0, 0, 0)])  # a half circle by its bulge
    space.add_spline([(0, 0), (1, 1), (2, 0)])
    space.add_text("hem")
    block = document.blocks.new("part")
    block.add_line((0, 0), (1, 0), dxfattribs={"layer": "inside"})
    space.add_blockref("part", (10, 0), dxfattribs={"layer": "outside", "rotation": 90})
    path = tmp_path / "x.dxf"
    document.saveas(path)
    drawing = read_dxf(path, "x.dxf")
    line, arc, bulge, spline, part = drawing.lines
    assert drawing.scale == 0.01 and line.words == ("edge",) and arc.words == ("hem",)
    middles = (arc.points[1:] + arc.points[:-1]) / 2
    assert 100 - np.linalg.norm(middles, axis=1).min() < 0.02  # 0.2 mm, in cm
    assert np.linalg.norm(np.diff(bulge.points, axis=0), axis=1).sum() == pytest.approx(math.pi, rel=0.02)
    assert len(spline.points) > 4
    np.testing.assert_allclose(part.points, [[10, 0], [10, 1]], atol=1e-9)
    assert part.words == ("inside", "outside")


def test_without_units_nothing_says_the_scale(tmp_path):
    document = ezdxf.new("R2010", units=0)
    document.modelspace().add_circle((0, 0), 5)
    document.saveas(tmp_path / "x.dxf")
    drawing = read_dxf(tmp_path / "x.dxf", "x.dxf")
    assert drawing.scale is None and len(drawing.lines[0].points) > 60


@pytest.mark.parametrize("text", ["", "hello", "0\nSECTION\n2\nENTITIES\n0\nLINE\n", "\x00\x01"])
def test_what_is_no_dxf_is_refused_in_a_line(tmp_path, text):
    path = tmp_path / "x.dxf"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DraftError, match="not DXF") as caught:
        read_dxf(path, "x.dxf")
    assert "\n" not in str(caught.value)


def test_what_the_reader_mends_itself_is_not_told(tmp_path, caplog):
    document = ezdxf.new("R2010")
    first, second = (document.modelspace().add_line((0, k), (1, k)).dxf.handle for k in (0, 1))
    path = tmp_path / "x.dxf"
    document.saveas(path)
    path.write_text(path.read_text().replace(f"\n  5\n{second}\n", f"\n  5\n{first}\n"))
    assert len(read_dxf(path, "x.dxf").lines) == 2
    assert caplog.records == []
