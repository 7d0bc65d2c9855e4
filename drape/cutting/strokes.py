"""What stands on a full-size pattern: a `Piece` in, strokes by kind and words out, ready for any paper or plotter.

Strokes and words are in the draft's flat axes [m]; heights of type are in m as well. A `Paper` maps them to a sheet.
The kinds are the layers of the drawing files: cut, seam, dart, fold, notch, grain, centre, button, name. How a sheet is
written is left to `pdf` and `plotter`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from drape.cutting.lay import Laid, on_cloth
from drape.cutting.piece import MarkedDart, Piece, cut_outline, is_leg, marked_darts, net_outline
from drape.draft.neckline import direction
from drape.draft.outline import Edge
from drape.plain import plain_line, shortened
from drape.polyline import at_length, length_along

KINDS = ("cut", "seam", "dart", "fold", "notch", "grain", "centre", "button", "name")
NOTCH = 0.006  # m into the allowance, or out of a raw edge; common practice, no source
NOTCH_GAP = 0.004  # m between the strokes of a double notch
TYPE = 0.012  # m, height of a piece's name
DRILL = 0.006  # m across, the ring at a dart's point
COUNTS = ("none", "one", "two", "three", "four")
SMALL_TYPE = 0.007
FOLD_WORDS = ("fold and sew,", "do not cut")
CUT_OUT_WORDS = (
    "cut out, its",
    "edges meet",
)  # of an interlining, so that no fold lies under the cloth; common practice, no source
DART_WORDS_AT = 0.3  # of the way from a dart's mouth to its point
LETTER = 0.62  # width of a letter, in heights of type
LEAST_TYPE = 0.002  # m; smaller type cannot be read
LEAST_TITLE, MOST_TITLE = 12, 72  # letters of a title that stand on the narrowest piece, and on the widest


@dataclass(frozen=True)
class Stroke:
    """A line of one kind; `points` [m], shape (k, 2); filled if it is an arrow's head."""

    kind: str
    points: np.ndarray
    filled: bool = False


@dataclass(frozen=True)
class Words:
    """A line of type centred on `place` [m], along the grain, `down` [m] below it on the sheet; one of a block of lines
    that is `block` [m] from first to last."""

    text: str
    place: np.ndarray
    size: float = TYPE
    down: float = 0.0
    block: float = 0.0


@dataclass(frozen=True)
class Drawn:
    """A piece as strokes and words."""

    piece: Piece
    strokes: tuple[Stroke, ...]
    words: tuple[Words, ...]


def draw_piece(piece: Piece, *, title: str = "", nap: bool = False, mark: str = "") -> Drawn:
    """Return everything that is printed on one piece, full size; with a nap the grain arrow has one head.

    mark: a warning, as large as the piece's name.
    """
    cut, net = cut_outline(piece), net_outline(piece)
    strokes = [Stroke("cut", shapely.get_coordinates(cut.exterior))]
    for edge in piece.edges:
        if not is_leg(edge.name) and piece.allowance.get(edge.name, 0.0) > 0.0:
            strokes.append(Stroke("seam", edge.points))
    for dart in marked_darts(piece):
        strokes += [*(Stroke("dart", leg) for leg in dart.legs), *_fold(dart, piece.grain)]
        strokes.append(Stroke("dart", dart.point + DRILL / 2 * direction(np.linspace(0.0, 2 * math.pi, 17))))
    strokes += [Stroke("centre", line.points) for line in piece.lines]
    for notch in piece.notches:
        along = np.array([-notch.outward[1], notch.outward[0]])
        for k in range(notch.count):
            foot = notch.place + (k - (notch.count - 1) / 2) * NOTCH_GAP * along
            strokes.append(Stroke("notch", np.array([foot - NOTCH * notch.outward, foot + NOTCH * notch.outward])))
    for place in piece.buttons:
        angle = np.linspace(0.0, 2 * math.pi, 33)
        strokes.append(Stroke("button", place + piece.button_diameter / 2 * direction(angle)))
        for turn in (math.pi / 4, -math.pi / 4):
            strokes.append(
                Stroke("button", np.array([place - 0.004 * direction(turn), place + 0.004 * direction(turn)]))
            )
    middle, room = _heart(net, piece.lines)
    strokes += _grain_arrow(piece, middle, room, nap)
    return Drawn(piece, tuple(strokes), tuple(_words(piece, middle, room, (title, mark), nap)))


def _heart(net: shapely.Polygon, lines: Sequence[Edge]) -> tuple[np.ndarray, float]:
    """Return the point of a piece furthest from its edges and lines, and how far it is [m]."""
    room = net.difference(shapely.union_all([shapely.LineString(line.points).buffer(0.001) for line in lines]))
    net = max(getattr(room, "geoms", [room]), key=lambda part: part.area)
    line = shapely.maximum_inscribed_circle(net, tolerance=0.002)
    ends = shapely.get_coordinates(line)
    return ends[0], float(np.linalg.norm(ends[1] - ends[0]))


def _grain_arrow(piece: Piece, middle: np.ndarray, room: float, nap: bool) -> list[Stroke]:
    """Return the grain arrow above the name; one head, the way the nap runs, if there is a nap."""
    along, up = direction(piece.grain), direction(piece.grain + math.pi / 2)
    centre = middle + 0.45 * room * up if room > 0.05 else middle + 0.012 * up
    half = min(0.15, 0.75 * room) * along
    strokes = [Stroke("grain", np.array([centre - half, centre + half]))]
    for sign in (1.0,) if nap else (1.0, -1.0):
        tip = centre + sign * half
        back = tip - sign * 0.012 * along
        strokes.append(Stroke("grain", np.array([tip, back + 0.004 * up, back - 0.004 * up, tip]), filled=True))
    return strokes


def cut_words(piece: Piece) -> str:
    """Return how many are cut, as patterns say it: cut one, cut two."""
    return f"cut {COUNTS[piece.quantity] if piece.quantity < len(COUNTS) else piece.quantity}"


def _words(piece: Piece, middle: np.ndarray, room: float, said: tuple[str, str], nap: bool) -> list[Words]:
    cut = cut_words(piece)
    if piece.paired:
        cut += ", every second one turned over"
    if piece.fold is not None:
        cut += ", on the fold"
    widths = sorted({round(1000 * w) for w in piece.allowance.values() if w > 0})
    allowed = ("no allowance",) if not widths else ("allowance inside the cut line,", "seam line dashed")
    size = min(TYPE, 0.14 * room)
    small = min(SMALL_TYPE, 0.09 * room)
    if nap:
        cut += ", nap as the arrow"
    title, mark = said
    lines = [
        (f"{piece.number}  {piece.name}", size),
        (mark, min(size, 1.8 * room / (LETTER * max(len(mark), 1)))),
        (f"{piece.layer}, {cut}", small),
        *((line, small) for line in allowed),
    ]
    net = net_outline(piece)
    out = _block([line for line in [*lines, (title, small)] if line[0]], middle, room, title)
    arrow = shapely.LineString(_grain_arrow(piece, middle, room, nap)[0].points).buffer(small)
    free = net.difference(_block_room(out, piece.grain)).difference(arrow)
    out += [named for line in piece.lines for named in _line_name(line, piece, free)]
    out += [line for dart in marked_darts(piece) for line in _dart_words(dart, piece.layer)]
    bare = free.difference(shapely.union_all([shapely.LineString(line.points) for line in piece.lines]))
    seams = {}
    for edge in piece.edges:
        width = piece.allowance.get(edge.name, 0.0)
        if edge.name.startswith("seam ") and width > 0:
            seams[edge.name] = edge
    for name, edge in seams.items():
        first, second = name.removeprefix("seam ").split("-")
        other = second if int(first) == piece.number else first
        out.append(Words(f"join to {other}", _beside(edge, f"join to {other}", small, piece.grain, bare), small))
    return out


def _beside(edge: Edge, text: str, size: float, grain: float, free: BaseGeometry) -> np.ndarray:
    """Return where a text stands inside a piece beside an edge [m]: near its middle, clear of what else is written."""
    along, lengths = direction(grain), length_along(edge.points)
    half = LETTER * size * len(text) / 2
    inside = np.array(free.centroid.coords[0])
    places = []
    for share in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8):
        place = at_length(share * lengths[-1], lengths, edge.points)
        ahead = at_length(share * lengths[-1] + 1e-3, lengths, edge.points) - place
        inward = np.array([-ahead[1], ahead[0]]) / float(np.linalg.norm(ahead))
        inward *= math.copysign(1.0, float(inward @ (inside - place)))
        places.append(place + (0.015 + abs(float(inward @ along)) * half) * inward)
        ends = np.array([places[-1] - half * along, places[-1] + half * along])
        if free.covers(shapely.LineString(ends).buffer(0.7 * size)):
            return places[-1]
    return places[0]


def _block_room(block: Sequence[Words], grain: float) -> BaseGeometry:
    """Return where a block of lines stands on a piece, whichever way up that lies."""
    along, up = direction(grain), direction(grain + math.pi / 2)
    half = max(LETTER * line.size * len(line.text) for line in block) / 2
    reach = block[0].block + block[0].size
    middle = block[0].place
    corners = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    return shapely.Polygon([middle + x * half * along + y * reach * up for x, y in corners])


def _block(lines: Sequence[tuple[str, float]], middle: np.ndarray, room: float, title: str) -> list[Words]:
    """Return lines of text and height [m] below each other, each no longer than the room about the middle is wide
    there, whichever way up the piece lies. A title that is too long in the smallest type is cut.
    """
    downs = [1.7 * sum(height for _, height in lines[:k]) for k in range(len(lines))]
    out = []
    for (text, height), down in zip(lines, downs, strict=True):
        chord = 2 * math.sqrt(max((room - NOTCH) ** 2 - max(down, downs[-1] - down) ** 2, 0.0))
        if text == title:
            most = min(MOST_TITLE, max(LEAST_TITLE, int(chord / (LETTER * LEAST_TYPE))))
            text = shortened(plain_line(title), most)
        out.append(Words(text, middle, max(min(height, chord / (LETTER * len(text))), LEAST_TYPE), down, downs[-1]))
    return out


def _dart_words(dart: MarkedDart, layer: str) -> list[Words]:
    """Return what is done with a dart, in its mouth, in type small enough to stand between its legs."""
    size, place = _dart_type(dart), dart.fold[1] + DART_WORDS_AT * (dart.fold[0] - dart.fold[1])
    lines = (dart.name, *(CUT_OUT_WORDS if layer == "interlining" else FOLD_WORDS))
    return [Words(text, place, size, 1.5 * (k - 1) * size) for k, text in enumerate(lines)]


def _dart_type(dart: MarkedDart) -> float:
    """Return the height of a dart's words [m]."""
    mouth = float(np.linalg.norm(dart.legs[0][0] - dart.legs[1][0]))
    return min(SMALL_TYPE, 0.6 * mouth / (LETTER * max(map(len, FOLD_WORDS))))


def _fold(dart: MarkedDart, grain: float) -> list[Stroke]:
    """Return a dart's fold line, broken where its words stand, which lie along the grain."""
    end, start = dart.fold
    length = float(np.linalg.norm(end - start))
    along = abs(float((end - start) @ direction(grain))) / length
    half = _dart_type(dart) * (2.4 + along * (LETTER * max(map(len, FOLD_WORDS)) / 2 - 2.0)) / length
    first, last = max(DART_WORDS_AT - half, 0.0), min(DART_WORDS_AT + half, 0.9)
    return [
        Stroke("fold", start + np.array([[a], [b]]) * (end - start)) for a, b in ((0.0, first), (last, 1.0)) if b > a
    ]


def _line_name(line: Edge, piece: Piece, free: BaseGeometry) -> list[Words]:
    """Return the name of a line chalked inside a piece, beside it; none where there is no room."""
    along, up = direction(piece.grain), direction(piece.grain + math.pi / 2)
    reach = LETTER * SMALL_TYPE * len(line.name) / 2 + SMALL_TYPE
    run = line.points[-1] - line.points[0]
    above = 0.9 * SMALL_TYPE * up if abs(run @ up) < 0.2 * float(np.linalg.norm(run)) else np.zeros(2)
    for share in (0.6, 0.45, 0.75, 0.3):
        place = line.points[0] + share * run + above
        for side in (1.0, -1.0):
            ends = np.array([place, place + 2 * side * reach * along])
            if free.buffer(-SMALL_TYPE).covers(shapely.LineString(ends)):
                return [Words(line.name, ends.mean(axis=0), SMALL_TYPE)]
    return []


@dataclass(frozen=True)
class Paper:
    """Where flat points fall on a sheet [m]: `move` maps points (k, 2); type leans by `turn` [rad] there."""

    move: Callable[[np.ndarray], np.ndarray]
    turn: float = 0.0


def piece_paper(piece: Piece) -> Paper:
    """Return the piece on a sheet of its own, its warp along x and its cut outline's corner at (0, 0)."""
    c, s = math.cos(piece.grain), math.sin(piece.grain)
    matrix = np.array([[c, s], [-s, c]])
    low = (shapely.get_coordinates(cut_outline(piece)) @ matrix.T).min(axis=0)
    return Paper(lambda points: points @ matrix.T - low)


def lay_paper(laid: Laid) -> Paper:
    """Return the piece where it lies on the cloth; its words stay upright."""
    return Paper(lambda points: on_cloth(laid, points))


def placed_words(drawn: Drawn, paper: Paper) -> list[tuple[str, np.ndarray, float]]:
    """Return text, centre and height of every line of type on a sheet [m]; a block's lines stand below each other.

    The grain arrow lies above a block, or below it where the piece is turned end for end.
    """
    foot, up = paper.move(np.array([[0.0, 0.0], direction(drawn.piece.grain + math.pi / 2)]))
    is_turned = up[1] < foot[1]
    out = []
    for words in drawn.words:
        down = words.down - (words.block if is_turned else 0.0)
        place = paper.move(words.place[None])[0] - np.array([0.0, down])
        out.append((words.text, place, words.size))
    return out


def placed_strokes(drawn: Drawn, paper: Paper) -> list[Stroke]:
    """Return every stroke on a sheet [m]."""
    return [Stroke(stroke.kind, paper.move(stroke.points), stroke.filled) for stroke in drawn.strokes]


def clipped(strokes: Sequence[Stroke], window: shapely.Polygon) -> list[Stroke]:
    """Return the parts of the strokes inside a window."""
    out = []
    for stroke in strokes:
        whole: BaseGeometry = shapely.Polygon(stroke.points) if stroke.filled else shapely.LineString(stroke.points)
        if not whole.intersects(window):
            continue
        part = whole if window.covers(whole) else whole.intersection(window)
        for one in getattr(part, "geoms", [part]):
            points = shapely.get_coordinates(one.exterior if isinstance(one, shapely.Polygon) else one)
            if len(points) > 1:
                out.append(Stroke(stroke.kind, points, stroke.filled))
    return out
