"""Curves of an SVG drawing as polylines: the path grammar, arcs, circles.

In: the text of a path's `d`, or the numbers of another shape, in the drawing's own unit. Out: polylines, shape (k, 2),
that stay within a tolerance of the curve. As Scalable Vector Graphics 2 (W3C), chapter 9 "Paths" and its notes on
elliptical arcs (B.2), have it. What a path stands in is left to `svg_drawing`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from drape.arrays import Floats
from drape.errors import DraftError

NUMBER: Final = re.compile(r"[\s,]*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)")
FLAG: Final = re.compile(r"[\s,]*([01])")
COMMAND: Final = re.compile(r"[\s,]*([MmLlHhVvCcSsQqTtAaZz])")
COUNTS: Final = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
MOST_PIECES: Final = 4000  # straight pieces of one curve
LARGEST: Final = 1e9  # of a number in a path; with larger ones arithmetic fails


class PathError(ValueError):
    """A path that is not written as the standard has it."""


def commands(text: str) -> Iterator[tuple[str, tuple[float, ...]]]:
    """Each command of a path with its numbers; one that is repeated without its letter comes again.

    Raises PathError.
    """
    at, end = 0, len(text.rstrip(" \t\r\n,"))
    first = True
    while at < end:
        found = COMMAND.match(text, at)
        if not found or (first and found[1] not in "Mm"):
            raise PathError(f"got {text[at : at + 20].strip()!r}, allowed a command of a path")
        letter, at, first = found[1], found.end(), False
        if letter in "Zz":
            yield letter, ()
            continue
        numbers, at = _numbers(text, at, letter)
        yield letter, numbers
        again = {"M": "L", "m": "l"}.get(letter, letter)
        while at < end and not COMMAND.match(text, at):
            numbers, at = _numbers(text, at, again)
            yield again, numbers


def _numbers(text: str, at: int, letter: str) -> tuple[tuple[float, ...], int]:
    """The numbers of one command, and where the text goes on. The flags of an arc need no space between them."""
    found = []
    for place in range(COUNTS[letter.upper()]):
        is_flag = letter in "Aa" and place in (3, 4)
        match = (FLAG if is_flag else NUMBER).match(text, at)
        if not match:
            raise PathError(f"got {text[at : at + 20].strip()!r} after {letter}, allowed a number")
        found.append(float(match[1]))
        if abs(found[-1]) > LARGEST:
            raise PathError(f"got {match[1][:20]} after {letter}, allowed up to {LARGEST:g}")
        at = match.end()
    return tuple(found), at


def path_lines(text: str, tolerance: float) -> list[Floats]:
    """The polylines of a path, one for each of its subpaths; a closed one ends on its first point. Raises PathError."""
    lines: list[Floats] = []
    run: list[Floats] = []
    here = start = np.zeros(2)
    handle, before = here, ""
    for letter, numbers in commands(text):
        kind = letter.upper()
        if kind == "M":
            _finish(run, lines)
            here = start = _to(here, letter, numbers)
            run = [here[None]]
        elif kind == "Z":
            run.append(start[None])
            _finish(run, lines)
            here, run = start, [start[None]]
        else:
            points, handle = _stretch(here, letter, numbers, handle if before else here, before, tolerance)
            run.append(points)
            here = points[-1]
        before = kind if kind in "CSQT" else ""
        if not before:
            handle = here
        else:
            before = {"S": "C", "T": "Q"}.get(before, before)
    _finish(run, lines)
    return lines


def _finish(run: Sequence[Floats], lines: list[Floats]) -> None:
    if len(run) > 1:
        lines.append(np.vstack(run))


def _to(here: Floats, letter: str, pair: Sequence[float]) -> Floats:
    """Where a pair of numbers points."""
    place = np.array([float(pair[0]), float(pair[1])])
    return here + place if letter.islower() else place


def _stretch(
    here: Floats, letter: str, numbers: tuple[float, ...], handle: Floats, before: str, tolerance: float
) -> tuple[Floats, Floats]:
    """The points of one command after `here`, and the handle that a smooth curve after it mirrors."""
    kind = letter.upper()
    if kind in "HV":
        place = here.copy()
        axis = 0 if kind == "H" else 1
        place[axis] = numbers[0] + (here[axis] if letter.islower() else 0.0)
        return place[None], place
    if kind == "L":
        place = _to(here, letter, numbers)
        return place[None], place
    if kind == "A":
        place = _to(here, letter, numbers[5:])
        flags = (bool(numbers[3]), bool(numbers[4]))
        return arc(here, place, numbers[:2], math.radians(numbers[2]), flags, tolerance), place
    pairs = [_to(here, letter, numbers[k : k + 2]) for k in range(0, len(numbers), 2)]
    if kind in "ST":
        mirrored = 2 * here - handle if before == {"S": "C", "T": "Q"}[kind] else here
        pairs.insert(0, mirrored)
    return bezier(np.array([here, *pairs]), tolerance)[1:], pairs[-2]


def bezier(corners: Floats, tolerance: float) -> Floats:
    """A Bézier curve of degree 2 or 3 as a polyline, its corners (3 or 4, 2).

    A chord of a curve whose second derivative stays below M lies within M h² / 8 of it.
    """
    degree = len(corners) - 1
    bend = degree * (degree - 1) * np.linalg.norm(np.diff(corners, 2, axis=0), axis=1).max()
    t = np.linspace(0.0, 1.0, _pieces(math.sqrt(bend / (8 * tolerance))) + 1)[:, None]
    points = sum(math.comb(degree, k) * t**k * (1 - t) ** (degree - k) * corner for k, corner in enumerate(corners))
    return np.asarray(points)


def _pieces(count: float) -> int:
    return min(max(1, math.ceil(count)), MOST_PIECES)


def arc(
    start: Floats, end: Floats, radii: Sequence[float], turn: float, flags: tuple[bool, bool], tolerance: float
) -> Floats:
    """An elliptical arc as a polyline after its start; flags: the larger of the two, the one of growing angle."""
    rx, ry = abs(radii[0]), abs(radii[1])
    if rx == 0 or ry == 0 or np.array_equal(start, end):
        return end[None]
    c, s = math.cos(turn), math.sin(turn)
    x, y = np.array([[c, s], [-s, c]]) @ (start - end) / 2
    over = math.hypot(x / rx, y / ry)
    if over > 1:  # too small to reach: made just large enough
        rx, ry = rx * over, ry * over
    square = max(0.0, (rx * ry) ** 2 / ((rx * y) ** 2 + (ry * x) ** 2) - 1.0)
    factor = math.sqrt(square) * (-1.0 if flags[0] == flags[1] else 1.0)
    cx, cy = factor * rx * y / ry, -factor * ry * x / rx
    first = math.atan2((y - cy) / ry, (x - cx) / rx)
    swept = math.atan2((-y - cy) / ry, (-x - cx) / rx) - first
    swept = swept % (2 * math.pi) if flags[1] else -(-swept % (2 * math.pi))
    middle = np.array([[c, -s], [s, c]]) @ np.array([cx, cy]) + (start + end) / 2
    angle = first + np.linspace(0.0, 1.0, arc_pieces(max(rx, ry), swept, tolerance) + 1)[1:] * swept
    points = ellipse_points(middle, (rx, ry), turn, angle)
    points[-1] = end
    return points


def ellipse_points(middle: Floats, radii: Sequence[float], turn: float, angle: Floats) -> Floats:
    """Points of an ellipse at angles from its first axis, which leans by `turn` [rad]."""
    c, s = math.cos(turn), math.sin(turn)
    local = np.column_stack([radii[0] * np.cos(angle), radii[1] * np.sin(angle)])
    return middle + local @ np.array([[c, s], [-s, c]])


def arc_pieces(radius: float, swept: float, tolerance: float) -> int:
    """How many chords of a circle stay within a tolerance of it: each within radius (1 - cos half its angle)."""
    step = 2 * math.acos(max(0.0, 1 - tolerance / radius)) if tolerance < radius else math.pi
    return _pieces(abs(swept) / max(step, 1e-4))


def refuse_path(label: str, name: str, error: PathError) -> DraftError:
    """The complaint of a path that cannot be read."""
    return DraftError(f"{label}, {name}: {error}. Save the drawing as plain SVG again.")
