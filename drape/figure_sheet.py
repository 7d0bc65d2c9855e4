"""A mannequin on paper: front, left side and back, with its landmarks and tape lines.

In: a `Figure` and the rows of its measures. Out: one PNG. Drawn triangle by triangle with a depth for every pixel, so
that it needs no graphics driver and the same figure gives the same picture. Left and right are the wearer's.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numba import njit
from PIL import Image, ImageDraw
from scipy.spatial import ConvexHull

from drape.camera import Frame
from drape.figure import Figure
from drape.girth import loops
from drape.shape import head_level, mid_neck_place
from drape.lettering import PAPER, font_of

FloatArray = np.ndarray

VIEWS = (("front", (0.0, 1.0, 0.0)), ("left", (-1.0, 0.0, 0.0)), ("back", (0.0, -1.0, 0.0)))
WIDTH, HEIGHT, HEAD, MARGIN = 960, 1640, 120, 50  # pixels: of a view, of the line above them, round all
TWICE = 2  # each pixel is the mean of 2 x 2
LINEN, INK, TAPE, MARK = (226, 214, 192), (60, 56, 50), (156, 62, 42), (36, 72, 120)
LABELS = {
    "back_neck": "back neck", "front_neck": "front neck", "side_neck_left": "side neck", "side_neck_right": "side neck",
    "shoulder_point_left": "shoulder point", "shoulder_point_right": "shoulder point", "deltoid_left": "upper arm",
    "deltoid_right": "upper arm", "wrist_left": "wrist", "wrist_right": "wrist", "knee_left": "knee", "knee_right": "knee",
    "ankle_left": "ankle", "ankle_right": "ankle", "crown": "crown",
}  # fmt: skip
SEEN = 0.012  # m, how deep below the surface a line still counts as on it


def draw_figure(figure: Figure, path: Path, *, title: str) -> None:
    """Write the PNG: three views side by side, to one scale, heights in cm at the landmarks, girths at the tape lines."""
    size = (WIDTH, HEIGHT)
    sheet = Image.new("RGB", (3 * WIDTH + 2 * MARGIN, HEIGHT + HEAD + MARGIN), PAPER)
    pen = ImageDraw.Draw(sheet)
    pen.text((MARGIN, 36), title, font=font_of(38, "bold"), fill=INK)
    lines = tape_lines(figure)
    for column, (name, toward) in enumerate(VIEWS):
        frame = _frame(figure, np.array(toward))
        shade, depth = shaded(figure, frame, size)
        view = Image.fromarray(shade)
        _draw_lines(view, lines, frame, depth, size)
        _draw_marks(view, figure, name, frame, depth, size)
        place = (MARGIN + column * WIDTH, HEAD)
        sheet.paste(view, place)
        pen.text((place[0] + WIDTH // 2, HEIGHT + HEAD + 8), name, font=font_of(26, "sans"), fill=INK, anchor="ms")
    sheet.save(path)


def tape_lines(figure: Figure) -> dict[str, FloatArray]:
    """Return the lines a tape is laid along, (k, 3) [m] each, by what they measure."""
    tape = figure.tape
    levels = {level: (np.array([0.0, 0.0, figure.levels[level]]), np.array([0.0, 0.0, 1.0])) for level in ("chest", "waist", "hip")}
    levels["head"] = (np.array([0.0, 0.0, head_level(tape)]), np.array([0.0, 0.0, 1.0]))
    levels["neck"] = mid_neck_place(tape, figure.stance)
    lines = {name: _taut_ring(figure, name, *place) for name, place in levels.items()}
    lines["neck base"] = np.vstack([figure.neck_base, figure.neck_base[:1]])
    lines["left shoulder"], lines["right shoulder"] = figure.shoulder_line_left, figure.shoulder_line_right
    return lines


def _taut_ring(figure: Figure, name: str, point: FloatArray, normal: FloatArray) -> FloatArray:
    """Return the hull of the section round the body's middle, closed."""
    found = loops(figure.vertices, figure.triangles, point, normal)
    if name in ("neck", "head"):
        cut = min(found, key=lambda one: float(np.linalg.norm(one.mean(axis=0) - point)))
    else:
        cut = max((one for one in found if one[:, 0].min() < 0.0 < one[:, 0].max()), key=lambda one: float(np.ptp(one[:, 0])))
    across = np.cross(normal, [1.0, 0.0, 0.0])
    ring = cut[ConvexHull(np.stack([cut[:, 0], cut @ across], axis=1)).vertices]
    return _even(np.vstack([ring, ring[:1]]))


def _even(line: FloatArray) -> FloatArray:
    """Return the line with a point every 4 mm or so."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    steps = np.linspace(0.0, along[-1], max(2, int(along[-1] / 0.004)))
    return np.stack([np.interp(steps, along, line[:, axis]) for axis in range(3)], axis=1)


def _frame(figure: Figure, toward: FloatArray) -> Frame:
    """Return the parallel camera that takes in the whole figure; one scale for all views."""
    top = float(figure.vertices[:, 2].max())
    half = max(0.54 * top, (float(np.abs(figure.vertices[:, :2]).max()) + 0.03) * HEIGHT / WIDTH)  # arms may reach far out
    return Frame(toward, np.array([0.0, 0.0, 0.485 * top]), 0.5 * top * WIDTH / HEIGHT, half)


def shaded(figure: Figure, frame: Frame, size: tuple[int, int]) -> tuple[FloatArray, FloatArray]:
    """Return the figure's picture (h, w, 3) uint8 and, for each pixel, how far it lies towards the camera [m]."""
    large = (TWICE * size[0], TWICE * size[1])
    right, up = frame.axes()
    columns = frame.pixels(figure.vertices, large)
    depth = figure.vertices @ frame.toward_camera
    light = np.stack([right, up, frame.toward_camera]).T @ np.array([-0.45, 0.55, 0.70])
    fill = np.stack([right, up, frame.toward_camera]).T @ np.array([0.8, 0.1, 0.6])
    normals = _normals(figure)
    bright = 0.44 + 0.46 * np.clip(normals @ (light / np.linalg.norm(light)), 0.0, 1.0) + 0.16 * np.clip(normals @ fill, 0.0, 1.0)
    shade, deep = np.zeros((large[1], large[0])), np.full((large[1], large[0]), -1e9)
    _rasterise(np.ascontiguousarray(columns), depth, bright, figure.triangles, shade, deep)
    paper = np.array(PAPER, dtype=np.float64)
    colour = np.where((deep > -1e8)[..., None], np.minimum(shade[..., None], 1.06) * np.array(LINEN), paper)
    mean = colour.reshape(size[1], TWICE, size[0], TWICE, 3).mean(axis=(1, 3))
    return np.clip(mean, 0.0, 255.0).astype(np.uint8), deep.reshape(size[1], TWICE, size[0], TWICE).max(axis=(1, 3))


def _normals(figure: Figure) -> FloatArray:
    """Return unit normals (n, 3), weighted by area."""
    a, b, c = (figure.vertices[figure.triangles[:, i]] for i in range(3))
    face = np.cross(b - a, c - a)
    normals = np.zeros_like(figure.vertices)
    for i in range(3):
        np.add.at(normals, figure.triangles[:, i], face)
    return normals / np.linalg.norm(normals, axis=1)[:, None]


@njit(cache=True)
def _rasterise(
    places: FloatArray, depth: FloatArray, bright: FloatArray, triangles: FloatArray, shade: FloatArray, deep: FloatArray
) -> None:
    """Fill pixels with the brightness of the nearest triangle, blended from its corners, in place."""
    height, width = shade.shape
    for t in range(triangles.shape[0]):
        a, b, c = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        ax, ay = places[a, 0], places[a, 1]
        bx, by = places[b, 0], places[b, 1]
        cx, cy = places[c, 0], places[c, 1]
        whole = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if whole >= 0.0:  # rows run down, so what faces the camera turns the other way
            continue
        for j in range(max(0, int(min(ay, by, cy))), min(height, int(max(ay, by, cy)) + 2)):
            for i in range(max(0, int(min(ax, bx, cx))), min(width, int(max(ax, bx, cx)) + 2)):
                u = ((bx - i) * (cy - j) - (by - j) * (cx - i)) / whole
                v = ((cx - i) * (ay - j) - (cy - j) * (ax - i)) / whole
                w = 1.0 - u - v
                if u < -1e-9 or v < -1e-9 or w < -1e-9:
                    continue
                d = u * depth[a] + v * depth[b] + w * depth[c]
                if d > deep[j, i]:
                    deep[j, i] = d
                    shade[j, i] = u * bright[a] + v * bright[b] + w * bright[c]


def _visible(points: FloatArray, frame: Frame, depth: FloatArray, size: tuple[int, int]) -> tuple[FloatArray, FloatArray]:
    """Return pixel places (k, 2) and which points nothing hides."""
    places = frame.pixels(points, size)
    column = np.clip(places[:, 0].round().astype(int), 0, size[0] - 1)
    row = np.clip(places[:, 1].round().astype(int), 0, size[1] - 1)
    return places, points @ frame.toward_camera > depth[row, column] - SEEN


def _draw_lines(
    view: Image.Image, lines: dict[str, FloatArray], frame: Frame, depth: FloatArray, size: tuple[int, int]
) -> None:
    pen = ImageDraw.Draw(view)
    for line in lines.values():
        places, seen = _visible(line, frame, depth, size)
        for k in range(len(line) - 1):
            if seen[k] and seen[k + 1]:
                pen.line([tuple(places[k]), tuple(places[k + 1])], fill=TAPE, width=3)


def _draw_marks(
    view: Image.Image, figure: Figure, name: str, frame: Frame, depth: FloatArray, size: tuple[int, int]
) -> None:
    """Dots at the landmarks in sight; on the right their names and heights, on the left the girths."""
    pen = ImageDraw.Draw(view)
    tape = figure.tape
    notes: list[tuple[float, float, str]] = []
    for key, point in figure.landmarks.items():
        places, seen = _visible(point[None], frame, depth, size)
        if not seen[0] or key not in LABELS:
            continue
        x, y = places[0]
        pen.ellipse([x - 5, y - 5, x + 5, y + 5], fill=MARK)
        if not any(note[2].startswith(LABELS[key]) for note in notes) or name == "left":
            notes.append((x, y, f"{LABELS[key]} {100 * point[2]:.1f}"))
    _stack(pen, notes, size[0] - 8, "rm", MARK)
    girths = [("head", head_level(tape), "head_girth"), ("neck", mid_neck_place(tape, figure.stance)[0][2], "neck_girth")]
    girths += [(level, figure.levels[level], f"{level}_girth") for level in ("chest", "waist", "hip")]
    left = [(0.0, float(frame.pixels(np.array([[0.0, 0.0, z]]), size)[0, 1]), f"{word} {100 * tape[key]:.1f}") for word, z, key in girths]
    base = float(frame.pixels(figure.neck_centre[None], size)[0, 1])
    _stack(pen, [*left, (0.0, base, f"neck base {100 * tape['neck_base_girth']:.1f}")], 8, "lm", TAPE)


def _stack(pen: ImageDraw.ImageDraw, notes: list[tuple[float, float, str]], x: int, anchor: str, colour: tuple) -> None:
    """Write notes in a column, none nearer than 24 pixels to the next."""
    below = -1e9
    for _, y, words in sorted(notes, key=lambda note: note[1]):
        below = max(y, below + 26.0)
        pen.text((x, below), words, font=font_of(19, "sans"), fill=colour, anchor=anchor)
