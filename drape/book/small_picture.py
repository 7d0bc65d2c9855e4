"""The small picture of an entry: the worn cloak seen from the front, the wearer's left and behind, as a PNG.

In: a fitting. Out: a file. Triangles are laid on the sheet from the furthest to the nearest, in light from above and
from one side; it needs no graphics driver. Pictures to show and print are left to `drape.picture`.
"""

from __future__ import annotations

import functools
import sys
from pathlib import Path
from typing import Final

import numpy as np
from PIL import Image, ImageDraw

from drape.arrays import Floats
from drape.files import write_whole
from drape.picture.surfaces import Surface, cloth_surfaces, drawn_cloth, figure_surface
from drape.reading.result import Fitting, load_fitting

HEIGHT, TWICE = 300, 2  # [pixels]; drawn so many times larger, then made smaller
TURNS: Final = (0.0, 90.0, 180.0)  # front, the wearer's left, behind [deg]
LIGHT: Final = np.array([-0.45, 0.55, 0.70])
HALF: Final = 0.72  # [m] half the width of each view
CLEAR: Final = 0.03  # [m] by which the mannequin is laid down before cloth that is as near


def write_small_picture(fitting: Fitting, path: Path) -> None:
    """Write the three views side by side, on nothing."""
    top = float(fitting.figure_vertices[:, 2].max()) + 0.03
    size = HEIGHT * TWICE
    scale = size / (top + 0.03)
    wide = int(2 * HALF * scale)
    outside, inside, figure = (_rgb(fitting.colours[name]) for name in ("outside", "inside", "figure"))
    drawn = drawn_cloth(fitting, edge=0.02)
    cloth = cloth_surfaces(drawn, float(fitting.thickness), outside, inside)
    whole = Image.new("RGBA", (wide * len(TURNS), size), (0, 0, 0, 0))
    for k, turn in enumerate(TURNS):
        view = _view([figure_surface(fitting, figure)], cloth, np.radians(turn), scale, (wide, size, top))
        whole.paste(view, (k * wide, 0))
    whole.resize((whole.width // TWICE, whole.height // TWICE), Image.Resampling.LANCZOS).save(path, optimize=True)


def _view(
    solid: list[Surface], cloth: list[Surface], turn: float, scale: float, size: tuple[int, int, float]
) -> Image.Image:
    """One view. size: width and height [pixels], and what height [m] stands at the top."""
    wide, high, top = size
    image = Image.new("RGBA", (wide, high), (0, 0, 0, 0))
    pencil = ImageDraw.Draw(image)
    seen = [_seen(surface, turn, 0.0) for surface in cloth] + [_seen(surface, turn, CLEAR) for surface in solid]
    corner, depth, shade = (np.concatenate(parts) for parts in zip(*seen, strict=True))
    flat = np.stack([wide / 2 + scale * corner[:, :, 0], scale * (top - corner[:, :, 1])], axis=2)
    for k in np.argsort(depth):
        pencil.polygon([tuple(place) for place in flat[k]], fill=(*shade[k], 255))
    return image


def _seen(surface: Surface, turn: float, further: float) -> tuple[Floats, Floats, np.ndarray]:
    """Of the triangles that face us: corners to the right and up (m, 3, 2), how near (m,), colours (m, 3).

    The wearer faces +y, and at turn 0 looks at us.
    """
    right, towards = np.array([-np.cos(turn), -np.sin(turn), 0.0]), np.array([-np.sin(turn), np.cos(turn), 0.0])
    up = np.array([0.0, 0.0, 1.0])
    corner = surface.points[surface.triangles]
    facing = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]) @ towards > 0
    corner = corner[facing]
    normal = surface.normals[surface.triangles[facing]].mean(axis=1)
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]
    light = (LIGHT[0] * right + LIGHT[1] * towards + LIGHT[2] * up) / np.linalg.norm(LIGHT)
    bright = 0.60 + 0.44 * np.clip(normal @ light, -0.5, 1.0)
    depth = (corner @ towards).mean(axis=1) - further
    tone = np.clip(surface.colour * bright[:, None], 0, 255).astype(int)
    return np.stack([corner @ right, corner @ up], axis=2), depth, tone


def _rgb(colour: str) -> Floats:
    return np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)], float)


def main(folder: Path) -> None:
    """A small picture beside every saved fitting of a folder."""
    for path in sorted(folder.glob("*.npz")):
        write_whole(path.with_suffix(".png"), functools.partial(write_small_picture, load_fitting(path)))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
