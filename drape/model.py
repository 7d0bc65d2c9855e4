"""The worn cloak and the mannequin as solid models: GLB and OBJ, named, in their colours, metres, y up.

In: a fitting. Out: a glTF 2.0 binary file, or a Wavefront OBJ with its MTL. Parts are called `cloak outside`,
`cloak inside`, `cloak cut edge` and `mannequin`; a cloak of several pieces has an outside for each. Both formats
have y upward; the front faces +z.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from drape.colour import given_colours, piece_colours
from drape.errors import MissingExtraError
from drape.solid import Surface, cloth_surfaces, drawn_cloth, figure_surface, pieces_of

if TYPE_CHECKING:
    from drape.fitting import Fitting

Y_UP = np.array([[-1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, 1.0, 0.0]])  # wearer's right is -x, up y, front z
MODEL_EDGE = 0.02  # [m] of the cloth's triangles: half the size of a file drawn as finely as a picture
ROUGH = 0.95  # of wool and linen: neither shines


def solid_parts(fitting: Fitting) -> dict[str, Surface]:
    """The named parts of cloak and mannequin, in drape's axes [m]."""
    colours = given_colours(fitting.colours)
    drawn = drawn_cloth(fitting, edge=MODEL_EDGE)
    outside, *rest = cloth_surfaces(drawn, float(fitting.thickness), colours["outside"], colours["inside"])
    parts = {}
    pieces = pieces_of(drawn.triangles, drawn.edges)
    own = piece_colours(int(pieces.max()) + 1, colours["outside"])
    for k, colour in enumerate(own):
        name = "cloak outside" if len(own) == 1 else f"cloak outside, piece {k + 1}"
        parts[name] = _part_of(outside, pieces == k, colour)
    for surface in rest:
        parts[f"cloak {surface.name}"] = surface
    parts["mannequin"] = figure_surface(fitting, colours["figure"])
    return parts


def _part_of(surface: Surface, mine: np.ndarray, colour: np.ndarray) -> Surface:
    """The triangles of a surface that are `mine`, with only their vertices."""
    kept, index = np.unique(surface.triangles[mine], return_inverse=True)
    return Surface(
        surface.name, surface.points[kept], index.reshape(-1, 3), surface.normals[kept], colour, surface.vertex[kept]
    )


def _linear(colour: np.ndarray) -> np.ndarray:
    """A colour as glTF wants it, in light, of one as screens show it; both 0 to 255. Source: IEC 61966-2-1."""
    c = colour / 255.0
    return 255.0 * np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def scene_of(fitting: Fitting) -> Any:
    """The parts as a trimesh scene. Raises MissingExtraError."""
    try:
        import trimesh
    except ImportError as error:
        raise MissingExtraError(f"model: trimesh: got {error}. Type: pip install trimesh.") from None
    scene = trimesh.Scene()
    for name, part in solid_parts(fitting).items():
        material = trimesh.visual.material.PBRMaterial(
            name=name, baseColorFactor=[*np.rint(_linear(part.colour)).astype(int), 255], metallicFactor=0.0,
            roughnessFactor=ROUGH, doubleSided=name == "cloak cut edge",
        )  # fmt: skip
        mesh = trimesh.Trimesh(
            part.points @ Y_UP.T, part.triangles, vertex_normals=part.normals @ Y_UP.T, process=False,
            visual=trimesh.visual.TextureVisuals(material=material),
        )  # fmt: skip
        scene.add_geometry(mesh, node_name=name, geom_name=name)
    return scene


def write_glb(fitting: Fitting, path: Path) -> None:
    """The model as one glTF 2.0 binary file."""
    path.write_bytes(scene_of(fitting).export(file_type="glb"))


def write_obj(fitting: Fitting, path: Path, *, material: Path) -> None:
    """The model as Wavefront OBJ, its colours in the MTL file `material`; both plain text."""
    lines = [f"mtllib {material.name}"]
    colours = []
    first = 1
    for name, part in solid_parts(fitting).items():
        label = name.replace(",", "").replace(" ", "_")
        points, normals = part.points @ Y_UP.T, part.normals @ Y_UP.T
        lines += [f"o {label}", f"usemtl {label}"]
        lines += [f"v {x:.5f} {y:.5f} {z:.5f}" for x, y, z in points]
        lines += [f"vn {x:.3f} {y:.3f} {z:.3f}" for x, y, z in normals]
        lines += [f"f {a}//{a} {b}//{b} {c}//{c}" for a, b, c in part.triangles + first]
        first += len(points)
        red, green, blue = part.colour / 255.0
        colours += [f"newmtl {label}", f"Kd {red:.4f} {green:.4f} {blue:.4f}", "Ks 0 0 0", "illum 1", ""]
    material.write_text("\n".join(colours), encoding="utf-8", newline="\n")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
