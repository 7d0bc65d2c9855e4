"""A mannequin on paper: front, left side and back, with its landmarks and tape lines.

In: a `Figure` and the rows of its measures. Out: one PNG. Drawn triangle by triangle with a depth for every pixel, so
that it needs no graphics driver and the same figure gives the same picture. Left and right are the wearer's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw
from scipy.spatial import ConvexHull

from drape.arrays import Floats, Ints
from drape.body.figure import Figure
from drape.body.girth import loops
from drape.body.trunk import head_level, mid_neck_place
from drape.kernel import kernel
from drape.picture.camera import Frame
from drape.picture.lettering import PAPER, TITLE_SIZES, fitted_title, font_of, length_of
from drape.polyline import at_length, length_along

VIEWS = (("front", (0.0, 1.0, 0.0)), ("left", (-1.0, 0.0, 0.0)), ("back", (0.0, -1.0, 0.0)))
WIDTH, HEIGHT, HEAD, MARGIN = 960, 1640, 130, 50  # pixels: of a view as drawn, of the lines above them, round all
APART, BESIDE = 90, 26  # pixels from one view's words to the next one's, and from the mannequin to its words
TYPE, NOTE_STEP = 23, 29  # pixels, height of the words and from one to the next below
TWICE = 2  # each pixel is the mean of 2 x 2
LINEN, INK, TAPE, MARK = (226, 214, 192), (60, 56, 50), (156, 62, 42), (36, 72, 120)
LABELS = {
    "back_neck": "back neck", "front_neck": "front neck", "side_neck_left": "side neck", "side_neck_right": "side neck",
    "shoulder_point_left": "shoulder point", "shoulder_point_right": "shoulder point", "deltoid_left": "upper arm",
    "deltoid_right": "upper arm", "wrist_left": "wrist", "wrist_right": "wrist", "knee_left": "knee",
    "knee_right": "knee", "ankle_left": "ankle", "ankle_right": "ankle", "crown": "crown",
}  # fmt: skip
SPECK = 30.0  # pixels; a shorter stretch of a line looks like a stray dot
SEEN = 0.012  # m, how deep below the surface a line still counts as on it


def draw_figure(figure: Figure, path: Path, *, title: str) -> None:
    """Write the PNG: three views side by side, to one scale, heights in cm at the landmarks,
    girths at the tape lines.
    """
    size = (WIDTH, HEIGHT)
    lines = tape_lines(figure)
    drawn, blocks = [], []
    for name, toward in VIEWS:
        frame = _frame(figure, np.array(toward))
        shade, depth = shaded(figure, frame, size)
        view = Image.fromarray(shade)
        _draw_lines(view, lines, frame, depth, size)
        _draw_marks(view, figure, frame, depth, size)
        drawn.append(view)
        right = mark_notes(figure, name, frame, depth, size)
        blocks.append(Block(silhouette(depth), tape_notes(figure, frame, size), right))
    starts, width = placed_across(blocks)
    sheet = Image.new("RGB", (width, HEIGHT + HEAD + MARGIN), PAPER)
    pen = ImageDraw.Draw(sheet)
    title, high = fitted_title(title, width - 2 * MARGIN, face="bold", sizes=(38, *TITLE_SIZES[1:]))
    pen.text((MARGIN, 30), title, font=font_of(high, "bold"), fill=INK)
    words = "Red: girths. Blue: heights above the floor. All in cm."
    pen.text((MARGIN, 84), words, font=font_of(TYPE, "sans"), fill=INK)
    for (name, _), view, block, start in zip(VIEWS, drawn, blocks, starts, strict=True):
        first, last = block.seen
        sheet.paste(view.crop((first, 0, last + 1, HEIGHT)), (start, HEAD))
        _stack(pen, block.left, (start - BESIDE, HEAD), "rm", TAPE)
        _stack(pen, block.right, (start + last - first + BESIDE, HEAD), "lm", MARK)
        words = "wearer's left" if name == "left" else name
        pen.text(
            (start + (last - first) // 2, HEIGHT + HEAD + 8), words, font=font_of(26, "sans"), fill=INK, anchor="ms"
        )
    sheet.save(path)


Notes = list[tuple[float, str]]  # row [pixels], words


@dataclass(frozen=True)
class Block:
    """What belongs to one view: the first and last column the mannequin is seen in, and the words beside it."""

    seen: tuple[int, int]
    left: Notes
    right: Notes


def silhouette(depth: Floats) -> tuple[int, int]:
    """Return the first and the last column of a view in which the mannequin is seen."""
    columns = np.flatnonzero((depth > -1e8).any(axis=0))
    return int(columns[0]), int(columns[-1])


def placed_across(blocks: Sequence[Block]) -> tuple[list[int], int]:
    """Return the column each mannequin begins at, its words clear of the next one's, and the sheet's width."""
    starts, x = [], float(MARGIN)
    for block in blocks:
        starts.append(round(x + BESIDE + _widest(block.left)))
        x = starts[-1] + block.seen[1] - block.seen[0] + BESIDE + _widest(block.right) + APART
    return starts, round(x - APART + MARGIN)


def _widest(notes: Notes) -> float:
    return max((length_of(words, TYPE) for _, words in notes), default=0.0)


def tape_lines(figure: Figure) -> dict[str, Floats]:
    """Return the lines a tape is laid along, (k, 3) [m] each, by what they measure."""
    tape = figure.tape
    levels = {
        level: (np.array([0.0, 0.0, figure.levels[level]]), np.array([0.0, 0.0, 1.0]))
        for level in ("chest", "waist", "hip")
    }
    levels["head"] = (np.array([0.0, 0.0, head_level(tape)]), np.array([0.0, 0.0, 1.0]))
    levels["neck"] = mid_neck_place(tape, figure.stance)
    lines = {name: _taut_ring(figure, name, *place) for name, place in levels.items()}
    lines["neck base"] = np.vstack([figure.neck_base, figure.neck_base[:1]])
    lines["left shoulder"], lines["right shoulder"] = figure.shoulder_line_left, figure.shoulder_line_right
    return lines


def _taut_ring(figure: Figure, name: str, point: Floats, normal: Floats) -> Floats:
    """Return the hull of the section round the body's middle, closed."""
    found = loops(figure.vertices, figure.triangles, point, normal)
    if name in ("neck", "head"):
        cut = min(found, key=lambda one: float(np.linalg.norm(one.mean(axis=0) - point)))
    else:
        cut = max(
            (one for one in found if one[:, 0].min() < 0.0 < one[:, 0].max()), key=lambda one: float(np.ptp(one[:, 0]))
        )
    across = np.cross(normal, [1.0, 0.0, 0.0])
    ring = cut[ConvexHull(np.stack([cut[:, 0], cut @ across], axis=1)).vertices]
    return _even(np.vstack([ring, ring[:1]]))


def _even(line: Floats) -> Floats:
    """Return the line with a point every 4 mm or so."""
    along = length_along(line)
    steps = np.linspace(0.0, along[-1], max(2, int(along[-1] / 0.004)))
    return at_length(steps, along, line)


def _frame(figure: Figure, toward: Floats) -> Frame:
    """Return the parallel camera that takes in the whole figure; one scale for all views."""
    top = float(figure.vertices[:, 2].max())
    half = max(
        0.54 * top, (float(np.abs(figure.vertices[:, :2]).max()) + 0.03) * HEIGHT / WIDTH
    )  # arms may reach far out
    return Frame(toward, np.array([0.0, 0.0, 0.485 * top]), 0.5 * top * WIDTH / HEIGHT, half)


def shaded(figure: Figure, frame: Frame, size: tuple[int, int]) -> tuple[Floats, Floats]:
    """Return the figure's picture (h, w, 3) uint8 and, for each pixel, how far it lies towards the camera [m]."""
    large = (TWICE * size[0], TWICE * size[1])
    right, up = frame.axes()
    columns = frame.pixels(figure.vertices, large)
    depth = figure.vertices @ frame.toward_camera
    light = np.stack([right, up, frame.toward_camera]).T @ np.array([-0.45, 0.55, 0.70])
    fill = np.stack([right, up, frame.toward_camera]).T @ np.array([0.8, 0.1, 0.6])
    normals = _normals(figure)
    bright = (
        0.44
        + 0.46 * np.clip(normals @ (light / np.linalg.norm(light)), 0.0, 1.0)
        + 0.16 * np.clip(normals @ fill, 0.0, 1.0)
    )
    shade, deep = np.zeros((large[1], large[0])), np.full((large[1], large[0]), -1e9)
    _rasterise(np.ascontiguousarray(columns), depth, bright, figure.triangles, shade, deep)
    paper = np.array(PAPER, dtype=np.float64)
    colour = np.where((deep > -1e8)[..., None], np.minimum(shade[..., None], 1.06) * np.array(LINEN), paper)
    mean = colour.reshape(size[1], TWICE, size[0], TWICE, 3).mean(axis=(1, 3))
    return np.clip(mean, 0.0, 255.0).astype(np.uint8), deep.reshape(size[1], TWICE, size[0], TWICE).max(axis=(1, 3))


def _normals(figure: Figure) -> Floats:
    """Return unit normals (n, 3), weighted by area."""
    a, b, c = (figure.vertices[figure.triangles[:, i]] for i in range(3))
    face = np.cross(b - a, c - a)
    normals = np.zeros_like(figure.vertices)
    for i in range(3):
        np.add.at(normals, figure.triangles[:, i], face)
    return normals / np.linalg.norm(normals, axis=1)[:, None]


@kernel
def _rasterise(places: Floats, depth: Floats, bright: Floats, triangles: Ints, shade: Floats, deep: Floats) -> None:
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


def _visible(points: Floats, frame: Frame, depth: Floats, size: tuple[int, int]) -> tuple[Floats, Floats]:
    """Return pixel places (k, 2) and which points nothing hides."""
    places = frame.pixels(points, size)
    column = np.clip(places[:, 0].round().astype(int), 0, size[0] - 1)
    row = np.clip(places[:, 1].round().astype(int), 0, size[1] - 1)
    return places, points @ frame.toward_camera > depth[row, column] - SEEN


def _draw_lines(
    view: Image.Image, lines: dict[str, Floats], frame: Frame, depth: Floats, size: tuple[int, int]
) -> None:
    pen = ImageDraw.Draw(view)
    for line in lines.values():
        places, seen = _visible(line, frame, depth, size)
        seen = _without_specks(places, seen)
        for k in range(len(line) - 1):
            if seen[k] and seen[k + 1]:
                pen.line([tuple(places[k]), tuple(places[k + 1])], fill=TAPE, width=3)


def _without_specks(places: Floats, seen: Floats) -> Floats:
    """Return which points of a line are drawn: those seen, but for stretches too short to be told from a dot.

    places: in the view [pixels], shape (k, 2). seen: shape (k,). A line that runs along the edge of what is seen comes
    to light in specks.
    """
    drawn, start = seen.copy(), 0
    for stop in [*(np.flatnonzero(np.diff(seen)) + 1), len(seen)]:
        steps = np.diff(places[start:stop], axis=0)
        if seen[start] and np.linalg.norm(steps, axis=1).sum() < SPECK:
            drawn[start:stop] = False
        start = stop
    return drawn


def _draw_marks(view: Image.Image, figure: Figure, frame: Frame, depth: Floats, size: tuple[int, int]) -> None:
    """Dots at the landmarks in sight."""
    pen = ImageDraw.Draw(view)
    for _, (x, y) in _marks_seen(figure, frame, depth, size):
        pen.ellipse([x - 5, y - 5, x + 5, y + 5], fill=MARK)


def _marks_seen(figure: Figure, frame: Frame, depth: Floats, size: tuple[int, int]) -> list[tuple[str, Floats]]:
    """Return the names of landmarks that nothing hides, and their places in the view [pixels]."""
    found = []
    for key, point in figure.landmarks.items():
        places, seen = _visible(point[None], frame, depth, size)
        if seen[0] and key in LABELS:
            found.append((key, places[0]))
    return found


def mark_notes(figure: Figure, name: str, frame: Frame, depth: Floats, size: tuple[int, int]) -> Notes:
    """Return names and heights of the landmarks in sight, each once unless seen from the side."""
    notes: Notes = []
    for key, (_, y) in _marks_seen(figure, frame, depth, size):
        if not any(words.startswith(LABELS[key]) for _, words in notes) or name == "left":
            notes.append((float(y), f"{LABELS[key]} {100 * figure.landmarks[key][2]:.1f}"))
    return notes


def tape_notes(figure: Figure, frame: Frame, size: tuple[int, int]) -> Notes:
    """Return the girths at the rows of their lines."""
    tape = figure.tape
    girths = [
        ("head", head_level(tape), "head_girth"),
        ("neck", mid_neck_place(tape, figure.stance)[0][2], "neck_girth"),
    ]
    girths += [(level, figure.levels[level], f"{level}_girth") for level in ("chest", "waist", "hip")]
    rows = frame.pixels(np.array([[0.0, 0.0, z] for _, z, _ in girths]), size)[:, 1]
    notes = [(float(row), f"{word} {100 * tape[key]:.1f}") for row, (word, _, key) in zip(rows, girths, strict=True)]
    base = float(frame.pixels(figure.neck_centre[None], size)[0, 1])
    return [*notes, (base, f"neck base {100 * tape['neck_base_girth']:.1f}")]


def _stack(
    pen: ImageDraw.ImageDraw, notes: Notes, corner: tuple[float, float], anchor: str, colour: tuple[int, int, int]
) -> None:
    """Write notes in a column, none nearer than NOTE_STEP to the next."""
    below = -1e9
    for y, words in sorted(notes):
        below = max(y, below + NOTE_STEP)
        pen.text((corner[0], corner[1] + below), words, font=font_of(TYPE, "sans"), fill=colour, anchor=anchor)
