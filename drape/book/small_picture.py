"""The small picture of an entry: the worn cloak seen from the front, the wearer's left and behind, as a PNG.

In: a fitting. Out: a file. Triangles are laid on the sheet from the furthest to the nearest, light from above and from
the left; it takes a tenth of a second and no graphics driver. Pictures to show and print are left to `drape.picture`.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np
from PIL import Image, ImageDraw

from drape.arrays import Floats, Ints
from drape.reading.result import Fitting

HEIGHT, TWICE = 300, 2  # [pixels]; drawn so many times larger, then made smaller
TURNS: Final = (0.0, 90.0, 180.0)  # front, the wearer's left, behind [deg]
LIGHT: Final = np.array([-0.45, -0.55, 0.70])
HALF: Final = 0.80  # [m] half the width of each view
PAPER: Final = (244, 238, 225)


def write_small_picture(fitting: Fitting, path: Path) -> None:
    """Write the three views side by side."""
    top = float(fitting.figure_vertices[:, 2].max()) + 0.04
    size = HEIGHT * TWICE
    scale = size / (top + 0.04)
    wide = int(2 * HALF * scale)
    views = [_view(fitting, np.radians(turn), top, scale, (wide, size)) for turn in TURNS]
    whole = Image.new("RGB", (wide * len(views), size), PAPER)
    for k, view in enumerate(views):
        whole.paste(view, (k * wide, 0))
    whole.resize((whole.width // TWICE, whole.height // TWICE), Image.Resampling.LANCZOS).save(path, optimize=True)


def _view(fitting: Fitting, turn: float, top: float, scale: float, size: tuple[int, int]) -> Image.Image:
    """One view; the wearer faces +y, and at turn 0 looks at us."""
    image = Image.new("RGB", size, PAPER)
    pencil = ImageDraw.Draw(image)
    figure = np.asarray(fitting.figure_triangles, np.int64)
    faces = [
        _seen(fitting.figure_vertices, figure, turn, fitting.colours["figure"], fitting.colours["figure"]),
        _seen(fitting.worn, fitting.triangles, turn, fitting.colours["outside"], fitting.colours["inside"]),
    ]
    corners = np.concatenate([corner for corner, _ in faces])
    shades = np.concatenate([shade for _, shade in faces])
    order = np.argsort(corners[:, :, 1].mean(axis=1))
    flat = np.stack([size[0] / 2 + scale * corners[:, :, 0], scale * (top - corners[:, :, 2])], axis=2)
    for k in order:
        pencil.polygon([tuple(place) for place in flat[k]], fill=tuple(shades[k]))
    return image


def _seen(points: Floats, triangles: Ints, turn: float, outside: str, inside: str) -> tuple[Floats, np.ndarray]:
    """Corners of the triangles as seen, (m, 3, 3): to the right, towards us, up; and the shade of each (m, 3)."""
    x, y, z = np.asarray(points, float).T
    seen = np.stack([-x * np.cos(turn) - y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn), z], axis=1)
    corner = seen[triangles]
    normal = np.cross(corner[:, 2] - corner[:, 0], corner[:, 1] - corner[:, 0])  # seen in a glass: the other way round
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]
    if outside == inside:  # a solid: what faces away is never seen
        corner, normal = corner[normal[:, 1] > 0], normal[normal[:, 1] > 0]
    is_outside = normal[:, 1] > 0
    facing = np.where(is_outside[:, None], normal, -normal)
    light = np.array([LIGHT[0], -LIGHT[1], LIGHT[2]]) / np.linalg.norm(LIGHT)
    bright = 0.62 + 0.38 * np.clip(facing @ light, -0.6, 1.0)
    tone = np.where(is_outside[:, None], _rgb(outside), _rgb(inside))
    return corner, np.clip(tone * bright[:, None], 0, 255).astype(int)


def _rgb(colour: str) -> Floats:
    return np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)], float)
