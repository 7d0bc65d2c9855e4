"""Lines of an SVG file: its elements, where they stand and what they are called.

In: the bytes of a file. Out: a `Drawing`, y up. Shapes, groups, transforms and uses are followed as SVG 2 (W3C) has
them. A script, an entity or a document type with rules of its own is refused; pictures and links are passed by, so
nothing is run and nothing is fetched.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final
from xml.parsers import expat

import numpy as np

from drape.arrays import Floats
from drape.errors import DraftError
from drape.tracing.lines import Drawing, Line, called, chord_tolerance
from drape.tracing.svg_path import PathError, arc_pieces, ellipse_points, path_lines, refuse_path

DEEPEST: Final = 100  # elements within one another
MOST_ELEMENTS: Final = 10_000  # uses followed
PX: Final = 0.0254 / 96  # m; a CSS pixel
SMALLEST_UNIT: Final = 1e-7  # m; of a drawing, and the largest the other way
UNITS: Final = {"mm": 1e-3, "cm": 1e-2, "in": 0.0254, "pt": 0.0254 / 72, "pc": 0.0254 / 6, "q": 2.5e-4}
LENGTH: Final = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*([a-zA-Z%]*)\s*")
TRANSFORM: Final = re.compile(r"\s*,?\s*(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^)]*)\)\s*")
PASSED_BY: Final = frozenset(
    "defs clipPath mask marker pattern symbol metadata style title desc text image foreignObject linearGradient "
    "radialGradient filter animate set".split()
)
EVENTS: Final = re.compile(r"on[a-z]+")


@dataclass
class _Element:
    """An element of the file: its name and attributes without namespace, those within it, its text if it is a title."""

    name: str
    own: dict[str, str]
    within: list[_Element] = field(default_factory=list)
    text: str = ""


def read_svg(data: bytes, label: str) -> Drawing:
    """The lines of an SVG file. Raises DraftError."""
    root = _parsed(data, label)
    if root.name != "svg":
        raise DraftError(f"{label}: got <{root.name}>, allowed an SVG drawing. Save it as plain SVG.")
    scale, said, box = _scale_of(root.own)
    if scale is not None and not SMALLEST_UNIT <= scale <= 1 / SMALLEST_UNIT:
        raise DraftError(f"{label}: got a sheet with {scale:g} m to a unit, allowed a cloak's size. Save it again.")
    known: dict[str, _Element] = {}
    for element in _all(root):
        if "id" in element.own:
            known.setdefault(element.own["id"], element)
    tolerance = chord_tolerance(scale, max(box[2:]) if box else 0.0)
    walk = _Walk(label, known, tolerance)
    if scale is None and not box:
        walk.root(root)
        sizes = [np.ptp(line.points, axis=0).max() for line in walk.lines]
        walk = _Walk(label, known, chord_tolerance(None, float(max(sizes, default=0.0))))
    walk.root(root)
    return Drawing(label, tuple(walk.lines), scale, said)


# --- the file ---------------------------------------------------------------------------------


def _parsed(data: bytes, label: str) -> _Element:
    """The elements of the file, as a tree. Raises DraftError."""
    parser = expat.ParserCreate()
    root: list[_Element] = []
    open_ones: list[_Element] = []

    def start(name: str, attributes: dict[str, str]) -> None:
        bare = name.rpartition(":")[2]
        own = {key if key == "xml:space" else key.rpartition(":")[2]: text for key, text in attributes.items()}
        if bare.lower() in ("script", "handler", "listener") or any(EVENTS.fullmatch(key) for key in own):
            raise DraftError(f"{label}: got a script, allowed lines and curves alone. Save it as plain SVG.")
        element = _Element(bare, own)
        (open_ones[-1].within if open_ones else root).append(element)
        open_ones.append(element)
        if len(open_ones) > DEEPEST:
            raise DraftError(f"{label}: got elements more than {DEEPEST} deep, allowed {DEEPEST}. Ungroup the lines.")

    def end(_: str) -> None:
        open_ones.pop()

    def letters(text: str) -> None:
        if open_ones and open_ones[-1].name == "title" and len(open_ones[-1].text) < 200:
            open_ones[-1].text += text

    def refuse(*_: object) -> int:
        raise DraftError(f"{label}: got an entity of the file's own, allowed none. Save it as plain SVG.")

    parser.StartElementHandler, parser.EndElementHandler = start, end
    parser.CharacterDataHandler = letters
    parser.EntityDeclHandler = refuse
    parser.ExternalEntityRefHandler = refuse
    parser.SkippedEntityHandler = refuse
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        words = expat.ErrorString(error.code)
        raise DraftError(f"{label}, line {error.lineno}: not SVG: {words}. Save the drawing again.") from None
    except (UnicodeError, LookupError, ValueError) as error:
        words = " ".join(str(error).split())[:80]
        raise DraftError(f"{label}: not SVG: {words}. Save the drawing again.") from None
    return root[0]


def _all(element: _Element) -> list[_Element]:
    found, left = [], [element]
    while left:
        one = left.pop()
        found.append(one)
        left += one.within
    return found


def _length(text: str | None, usual: float = 0.0) -> float:
    """A length in the drawing's unit, which a bare number and px are in."""
    match = LENGTH.fullmatch(text or "")
    if not match:
        return usual
    unit = match[2].lower()
    return float(match[1]) * (UNITS[unit] / PX if unit in UNITS else 1.0)


def _scale_of(own: Mapping[str, str]) -> tuple[float | None, str, tuple[float, float, float, float] | None]:
    """Metres to a unit of the drawing, what says so, and its view box.

    A width in px, in percent or without a unit says nothing of how large the cloak is.
    """
    numbers = re.findall(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?", own.get("viewBox", ""))
    box = None
    if len(numbers) == 4 and float(numbers[2]) > 0 and float(numbers[3]) > 0:
        box = (float(numbers[0]), float(numbers[1]), float(numbers[2]), float(numbers[3]))
    sizes, said = [], ""
    for side, key in ((2, "width"), (3, "height")):
        match = LENGTH.fullmatch(own.get(key, ""))
        if match and match[2].lower() in UNITS and float(match[1]) > 0:
            size = float(match[1]) * UNITS[match[2].lower()]
            sizes.append(size / box[side] if box else PX)
            said = said or f"by the sheet, {float(match[1]):g} {match[2]} {'wide' if key == 'width' else 'high'}"
    return (min(sizes) if sizes else None), said, box


# --- lines ------------------------------------------------------------------------------------


class _Walk:
    """Goes through the elements and gathers their lines, y up."""

    def __init__(self, label: str, known: Mapping[str, _Element], tolerance: float) -> None:
        self.label, self.known, self.tolerance = label, known, tolerance
        self.lines: list[Line] = []
        self.met = 0

    def root(self, element: _Element) -> None:
        for one in element.within:
            self.walk(one, np.diag([1.0, -1.0, 1.0]), (), 0)

    def walk(self, element: _Element, matrix: Floats, layers: tuple[str, ...], uses: int) -> None:
        self.met += 1
        if self.met > MOST_ELEMENTS:
            raise DraftError(f"{self.label}: got more than {MOST_ELEMENTS} elements. Leave out what is no edge.")
        own = element.own
        style = own.get("style", "").replace(" ", "")
        if element.name in PASSED_BY or own.get("display") == "none" or "display:none" in style:
            return
        matrix = matrix @ _transform(own.get("transform", ""), self.label)
        title = next((one.text.strip() for one in element.within if one.name == "title"), "")
        words = (*filter(None, (own.get("label"), title, own.get("id"), own.get("class"))), *layers)
        if element.name == "use":
            target = self.known.get(own.get("href", "").removeprefix("#"))
            if target is not None and uses < 8:
                shift = np.eye(3)
                shift[:2, 2] = _length(own.get("x")), _length(own.get("y"))
                inside = target.within if target.name == "symbol" else [target]
                for one in inside:
                    self.walk(one, matrix @ shift, words, uses + 1)
            return
        for points in self.shapes(element, matrix):
            with np.errstate(all="ignore"):  # what is no number is refused when the whole drawing is looked at
                flat = points @ matrix[:2, :2].T + matrix[:2, 2]
            name = own.get("id") or own.get("label") or f"line {len(self.lines) + 1}"
            self.lines.append(Line(flat, name, words))
        for one in element.within:
            self.walk(one, matrix, words, uses)

    def shapes(self, element: _Element, matrix: Floats) -> list[Floats]:
        """The polylines of one element in its own axes."""
        size = float(np.linalg.norm(matrix[:2, :2]))
        tolerance = self.tolerance / size if 0 < size < math.inf else self.tolerance
        own, name = element.own, element.name
        if name == "path":
            try:
                return path_lines(own.get("d", ""), tolerance)
            except PathError as error:
                raise refuse_path(self.label, called(own.get("id", "path")), error) from None
        if name in ("polyline", "polygon"):
            numbers = re.findall(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?", own.get("points", ""))
            points = np.array(numbers[: len(numbers) // 2 * 2], dtype=float).reshape(-1, 2)
            return [np.vstack([points, points[:1]]) if name == "polygon" and len(points) else points]
        if name == "line":
            x1, y1, x2, y2 = (_length(own.get(key)) for key in ("x1", "y1", "x2", "y2"))
            return [np.array([[x1, y1], [x2, y2]])]
        if name == "rect":
            x, y, w, h = (_length(own.get(key)) for key in ("x", "y", "width", "height"))
            return [np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h], [x, y]])]
        if name in ("circle", "ellipse"):
            radii = [_length(own.get(key), _length(own.get("r"))) for key in ("rx", "ry")]
            if min(radii) <= 0:
                return []
            middle = np.array([_length(own.get("cx")), _length(own.get("cy"))])
            angle = np.linspace(0.0, 2 * math.pi, max(8, arc_pieces(max(radii), 2 * math.pi, tolerance)) + 1)
            return [ellipse_points(middle, radii, 0.0, angle)]
        return []


def _transform(text: str, label: str) -> Floats:
    """The matrix of a transform attribute, shape (3, 3). Raises DraftError."""
    matrix, at = np.eye(3), 0
    while at < len(text.rstrip()):
        match = TRANSFORM.match(text, at)
        if not match:
            raise DraftError(f"{label}: got transform {text[:40]!r}, allowed one of SVG's own. Save it as plain SVG.")
        numbers = [float(one) for one in re.findall(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?", match[2])]
        matrix = matrix @ _one_transform(match[1], numbers, label)
        at = match.end()
    return matrix


def _one_transform(kind: str, n: list[float], label: str) -> Floats:
    allowed = {"matrix": (6,), "translate": (1, 2), "scale": (1, 2), "rotate": (1, 3), "skewX": (1,), "skewY": (1,)}
    if len(n) not in allowed[kind]:
        raise DraftError(f"{label}: got transform {kind} of {len(n)} numbers. Save it as plain SVG.")
    if kind == "matrix":
        return np.array([[n[0], n[2], n[4]], [n[1], n[3], n[5]], [0, 0, 1]])
    made = np.eye(3)
    if kind == "translate":
        made[:2, 2] = n[0], n[1] if len(n) > 1 else 0.0
    elif kind == "scale":
        made[0, 0], made[1, 1] = n[0], n[-1]
    elif kind == "rotate":
        c, s = math.cos(math.radians(n[0])), math.sin(math.radians(n[0]))
        made[:2, :2] = [[c, -s], [s, c]]
        if len(n) == 3:
            middle = np.array(n[1:])
            made[:2, 2] = middle - made[:2, :2] @ middle
    elif kind == "skewX":
        made[0, 1] = math.tan(math.radians(n[0]))
    else:
        made[1, 0] = math.tan(math.radians(n[0]))
    return made
