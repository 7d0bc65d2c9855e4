"""Models: what another library reads back is the cloak, in metres, y up, named and coloured."""

from __future__ import annotations

import json
import struct
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from drape.picture import model
from drape.picture.colour import given_colours
from drape.picture.mesh_file import write_glb, write_obj
from drape.reading.result import Fitting

Cone = Callable[..., Fitting]
PARTS = {"cloak outside", "cloak inside", "cloak cut edge", "mannequin"}


def expected_extents(fitting: Fitting) -> np.ndarray:
    """Width, height, depth of cloth and mannequin [m]; the cloth's thickness allows 3 mm."""
    both = np.vstack([fitting.worn, fitting.figure_vertices])
    return np.ptp(both, axis=0)[[0, 2, 1]]


def test_glb_loads_with_the_right_extents_names_and_colours(tmp_path: Path, cone: Cone) -> None:
    """Colours in light, as glTF wants them: sRGB's curve is within 3 of 255 of a power of 2.2."""
    fitting = cone()
    write_glb(model.solid_parts(fitting), tmp_path / "cone.glb")
    scene = trimesh.load_scene(tmp_path / "cone.glb")
    assert set(scene.geometry) == PARTS
    assert scene.extents == pytest.approx(expected_extents(fitting), abs=0.004)
    for name, key in (("cloak outside", "outside"), ("cloak inside", "inside"), ("mannequin", "figure")):
        assert scene.geometry[name].visual.material.baseColorFactor[:3] == pytest.approx(
            255 * (given_colours({})[key] / 255) ** 2.2, abs=3
        )
    assert scene.bounds[0][1] == pytest.approx(0.0, abs=1e-6)  # it stands on the floor, y up


def test_glb_is_what_the_standard_says(tmp_path: Path, cone: Cone) -> None:
    """glTF 2.0 (ISO/IEC 12113): magic, version 2, whole length, a JSON chunk first; the same bytes each time."""
    write_glb(model.solid_parts(cone()), tmp_path / "one.glb")
    write_glb(model.solid_parts(cone()), tmp_path / "two.glb")
    raw = (tmp_path / "one.glb").read_bytes()
    magic, version, length, chunk, kind = struct.unpack("<4sIII4s", raw[:20])
    assert (magic, version, length, kind) == (b"glTF", 2, len(raw), b"JSON")
    told = json.loads(raw[20 : 20 + chunk])
    assert {m["name"] for m in told["materials"]} == PARTS
    assert raw == (tmp_path / "two.glb").read_bytes()


def test_cloth_pieced_together_has_an_outside_for_each_piece(cone: Cone) -> None:
    """Two rings of the cone sewn along a level seam share its vertices, yet each has triangles of its own colour."""
    fitting = cone()
    height = np.unique(fitting.worn[:, 2].round(9))[9]
    level = np.flatnonzero(np.isclose(fitting.worn[:, 2], height))  # numbered round the cone
    pieced = replace(fitting, edges={**fitting.edges, "seam 1-2": level})
    parts = model.solid_parts(pieced)
    outsides = [part for name, part in parts.items() if name.startswith("cloak outside")]
    whole = model.solid_parts(fitting)["cloak outside"]
    assert len(outsides) == 2
    assert sum(len(part.triangles) for part in outsides) == len(whole.triangles)
    assert not np.array_equal(outsides[0].colour, outsides[1].colour)


@pytest.mark.long
def test_obj_and_its_colours_load(tmp_path: Path, cone: Cone) -> None:
    fitting = cone()
    write_obj(model.solid_parts(fitting), tmp_path / "cone.obj", material=tmp_path / "cone.mtl")
    scene = trimesh.load_scene(tmp_path / "cone.obj")
    assert len(scene.geometry) == 4
    assert scene.extents == pytest.approx(expected_extents(fitting), abs=0.004)
    text = (tmp_path / "cone.obj").read_text()
    assert {line.split()[1] for line in text.splitlines() if line.startswith("o ")} == {
        p.replace(" ", "_") for p in PARTS
    }
    colours = (tmp_path / "cone.mtl").read_text()
    red, green, blue = given_colours({})["outside"] / 255
    assert f"Kd {red:.4f} {green:.4f} {blue:.4f}" in colours
