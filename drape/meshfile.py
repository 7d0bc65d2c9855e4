"""A mesh as a file that other programs read: OBJ and binary glTF.

In: vertices [m] (n, 3), z up, facing +y, and triangles (m, 3). Out: files in metres, y up, facing +z, the axes glTF
lays down; both hold the vertices in the order given. The same mesh gives the same bytes.
Source: glTF 2.0 specification, Khronos Group, ISO/IEC 12113:2022, section 4 (binary container).
"""

from __future__ import annotations

import json
import struct
from pathlib import Path

import numpy as np

FloatArray = np.ndarray
IntArray = np.ndarray

GLB_MAGIC, GLB_VERSION, JSON_CHUNK, BIN_CHUNK = 0x46546C67, 2, 0x4E4F534A, 0x004E4942
FLOAT, UNSIGNED_INT, ARRAY_BUFFER, ELEMENT_ARRAY_BUFFER = 5126, 5125, 34962, 34963
LINEN = [0.80, 0.74, 0.63, 1.0]  # base colour, linear


def to_y_up(vertices: FloatArray) -> FloatArray:
    """Return vertices (n, 3) turned from z up, facing +y, to y up, facing +z."""
    return np.stack([-vertices[:, 0], vertices[:, 2], vertices[:, 1]], axis=1)


def write_obj(path: Path, vertices: FloatArray, triangles: IntArray, *, name: str) -> None:
    """Write a Wavefront OBJ file: positions to the micrometre, faces counted from 1."""
    lines = [f"# {name}; metres, y up, facing +z", "o figure"]
    lines += [f"v {x:.6f} {y:.6f} {z:.6f}" for x, y, z in to_y_up(vertices).tolist()]
    lines += [f"f {a} {b} {c}" for a, b, c in (triangles + 1).tolist()]
    path.write_text("\n".join(lines) + "\n", encoding="ascii", errors="replace")


def write_glb(path: Path, vertices: FloatArray, triangles: IntArray, *, name: str) -> None:
    """Write a binary glTF 2.0 file with one mesh."""
    points = to_y_up(vertices).astype("<f4")
    faces = triangles.astype("<u4")
    said = json.dumps(_description(points, faces, name), separators=(",", ":")).encode()
    said += b" " * (-len(said) % 4)
    data = points.tobytes() + faces.tobytes()
    length = 12 + 8 + len(said) + 8 + len(data)
    head = struct.pack("<III", GLB_MAGIC, GLB_VERSION, length)
    path.write_bytes(
        head + struct.pack("<II", len(said), JSON_CHUNK) + said + struct.pack("<II", len(data), BIN_CHUNK) + data
    )


def _description(points: FloatArray, faces: IntArray, name: str) -> dict:
    """The JSON part: where in the data the positions and the indices lie."""
    first, second = points.nbytes, faces.nbytes
    return {
        "asset": {"version": "2.0", "generator": "drape"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0, "name": name}],
        "meshes": [{"name": name, "primitives": [{"attributes": {"POSITION": 0}, "indices": 1, "material": 0}]}],
        "materials": [{"pbrMetallicRoughness": {"baseColorFactor": LINEN, "metallicFactor": 0.0, "roughnessFactor": 0.9}}],
        "buffers": [{"byteLength": first + second}],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": first, "target": ARRAY_BUFFER},
            {"buffer": 0, "byteOffset": first, "byteLength": second, "target": ELEMENT_ARRAY_BUFFER},
        ],
        "accessors": [
            {
                "bufferView": 0, "componentType": FLOAT, "count": len(points), "type": "VEC3",
                "min": points.min(axis=0).tolist(), "max": points.max(axis=0).tolist(),
            },
            {"bufferView": 1, "componentType": UNSIGNED_INT, "count": faces.size, "type": "SCALAR"},
        ],
    }  # fmt: skip
