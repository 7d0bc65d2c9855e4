"""Meshes as files that other programs read: binary glTF and Wavefront OBJ.

In: named surfaces, positions [m], z up, facing +y. Out: files in metres, y up, facing +z, the axes glTF lays down;
vertices in the order given, each part with its name and colour. The same surfaces give the same bytes.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from drape.errors import MissingExtraError
from drape.files import write_text
from drape.picture.surfaces import Surface

Y_UP = np.array([[-1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, 1.0, 0.0]])  # wearer's right is -x, up y, front z
ROUGH = 0.95  # of wool and linen: neither shines
OPEN = "cut edge"  # a part whose name ends so is seen from both sides


def in_light(colour: np.ndarray) -> np.ndarray:
    """A colour as glTF wants it, in light, of one as screens show it; both 0 to 255. Source: IEC 61966-2-1."""
    c = colour / 255.0
    return 255.0 * np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def write_glb(parts: Mapping[str, Surface], path: Path) -> None:
    """Write the parts as one glTF 2.0 binary file. Raises MissingExtraError."""
    try:
        import trimesh
    except ImportError as error:
        raise MissingExtraError(f"meshfile: trimesh: got {error}. Type: pip install trimesh.") from None
    scene = trimesh.Scene()
    for name, part in parts.items():
        material = trimesh.visual.material.PBRMaterial(
            name=name, baseColorFactor=[*np.rint(in_light(part.colour)).astype(int), 255], metallicFactor=0.0,
            roughnessFactor=ROUGH, doubleSided=name.endswith(OPEN),
        )  # fmt: skip
        mesh = trimesh.Trimesh(
            part.points @ Y_UP.T, part.triangles, vertex_normals=part.normals @ Y_UP.T, process=False,
            visual=trimesh.visual.TextureVisuals(material=material),
        )  # fmt: skip
        scene.add_geometry(mesh, node_name=name, geom_name=name)
    path.write_bytes(scene.export(file_type="glb"))


def write_obj(parts: Mapping[str, Surface], path: Path, *, material: Path) -> None:
    """Write the parts as Wavefront OBJ, positions to the micrometre, their colours in the MTL file `material`."""
    lines = [f"mtllib {material.name}"]
    colours = []
    first = 1
    for name, part in parts.items():
        label = name.replace(",", "").replace(" ", "_")
        points, normals = part.points @ Y_UP.T, part.normals @ Y_UP.T
        lines += [f"o {label}", f"usemtl {label}"]
        lines += [f"v {x:.6f} {y:.6f} {z:.6f}" for x, y, z in points]
        lines += [f"vn {x:.3f} {y:.3f} {z:.3f}" for x, y, z in normals]
        lines += [f"f {a}//{a} {b}//{b} {c}//{c}" for a, b, c in part.triangles + first]
        first += len(points)
        red, green, blue = part.colour / 255.0
        colours += [f"newmtl {label}", f"Kd {red:.4f} {green:.4f} {blue:.4f}", "Ks 0 0 0", "illum 1", ""]
    write_text(material, "\n".join(colours))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
