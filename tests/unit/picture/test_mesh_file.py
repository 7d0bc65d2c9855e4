"""Mesh files: read back by another library, vertices in order, axes as glTF lays them down, the same bytes twice."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from drape.picture.mesh_file import Y_UP, write_glb, write_obj
from drape.picture.model import mannequin_parts

VERTICES = np.array([[0.0, 0.0, 0.0], [0.1, 0.0, 0.0], [0.0, 0.2, 0.0], [0.0, 0.0, 1.7]])
TRIANGLES = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])

PARTS = mannequin_parts(VERTICES, TRIANGLES)


def read(path: Path) -> trimesh.Trimesh:
    loaded = trimesh.load(path, process=False)
    return next(iter(loaded.geometry.values())) if isinstance(loaded, trimesh.Scene) else loaded


def test_both_files_are_read_back_as_written(tmp_path: Path) -> None:
    """glTF: y up, the front towards +z, so the wearer's right (+x of ours) lies towards -x. OBJ has the same axes."""
    wanted = np.array([[0.0, 0.0, 0.0], [-0.1, 0.0, 0.0], [0.0, 0.0, 0.2], [0.0, 1.7, 0.0]])
    write_glb(PARTS, tmp_path / "one.glb")
    write_obj(PARTS, tmp_path / "one.obj", material=tmp_path / "one.mtl")
    for name in ("one.glb", "one.obj"):
        mesh = read(tmp_path / name)
        assert np.abs(mesh.vertices - wanted).max() < 1e-6
        assert np.array_equal(mesh.faces, TRIANGLES)
        assert mesh.is_watertight
        assert mesh.volume > 0.0


def test_same_mesh_same_bytes(tmp_path: Path) -> None:
    for name in ("one.glb", "two.glb"):
        write_glb(PARTS, tmp_path / name)
    assert (tmp_path / "one.glb").read_bytes() == (tmp_path / "two.glb").read_bytes()


def test_the_front_faces_z_and_the_wearers_right_is_minus_x() -> None:
    assert np.linalg.det(Y_UP) == pytest.approx(1.0)
    assert Y_UP @ (0, 1, 0) == pytest.approx([0, 0, 1])
    assert Y_UP @ (1, 0, 0) == pytest.approx([-1, 0, 0])
    assert Y_UP @ (0, 0, 1) == pytest.approx([0, 1, 0])
