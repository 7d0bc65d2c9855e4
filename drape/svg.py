"""Lines and type of an SVG sheet: the few marks that drawings on paper are made of.

In: positions on the sheet, shape (..., 2), x to the right and y down, in the sheet's user unit, which is
1 mm. Out: SVG elements as text, and the sheet they stand on as a file. The same marks give the same bytes.
What is drawn is left to those who draw.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np

from drape.plain import plain_line, shortened

LETTER = 0.64  # width of a bold letter, in heights of type
LEAST_TITLE = 0.4  # of its height, to which the type of a long title shrinks


def write_svg(parts: Sequence[str], path: Path, width: float, height: float, title: str, *, unit: float = 1.0) -> None:
    """Write a sheet of width × height units with its parts; unit: mm of paper that one stands for."""
    head = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{unit * width:.1f}mm" height="{unit * height:.1f}mm" '
        f'viewBox="0 0 {width:.1f} {height:.1f}" font-family="DejaVu Sans, Arial, sans-serif">\n'
        f"<title>{_words(title)}</title>\n"
        f'<rect width="{width:.1f}" height="{height:.1f}" fill="#fff"/>\n'
    )
    path.write_text(head + "\n".join(parts) + "\n</svg>\n", encoding="utf-8", newline="\n")


def _words(text: str) -> str:
    """Return a text as XML has it, which knows no control characters."""
    return escape(plain_line(text))


def polyline(points: np.ndarray, style: str) -> str:
    """Return an open polyline."""
    pairs = " ".join(f"{x:.2f},{y:.2f}" for x, y in points + 0.0)
    return f'<polyline points="{pairs}" {style}/>'


def type_line(
    x: float, y: float, words: str, size: float, *, anchor: str = "start", bold: bool = False, turn: float = 0.0
) -> list[str]:
    """Return one line of type with its foot at (x, y), turned by `turn` degrees about there."""
    weight = ' font-weight="bold"' if bold else ""
    turned = f' transform="rotate({turn:.2f} {x:.2f} {y:.2f})"' if abs(turn) > 1e-9 else ""
    return [
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.1f}" '
        f'text-anchor="{anchor}"{weight}{turned}>{_words(words)}</text>'
    ]


def title_line(x: float, y: float, title: str, size: float, room: float, *, after: str = "") -> list[str]:
    """Return a title in bold, in smaller type if it is longer than `room`, and cut if it is longer still.

    after: what stands behind it, and stays.
    """
    words = shortened(plain_line(title), int(room / (LETTER * LEAST_TITLE * size)) - len(after)) + after
    return type_line(x, y, words, min(size, room / (LETTER * max(len(words), 1))), bold=True)


def span(a: np.ndarray, b: np.ndarray, style: str, size: float, colour: str) -> list[str]:
    """Return a dimension line from a to b with a head of that size at each end."""
    return [polyline(np.array([a, b]), style), arrowhead(a, b, size, colour), arrowhead(b, a, size, colour)]


def arrowhead(tip: np.ndarray, tail: np.ndarray, size: float, colour: str = "#000") -> str:
    """Return a small solid arrowhead at `tip`, pointing away from `tail`."""
    run = (tip - tail) / np.linalg.norm(tip - tail)
    aside = np.array([-run[1], run[0]])
    corners = [tip, tip - size * run + 0.28 * size * aside, tip - size * run - 0.28 * size * aside]
    return f'<polygon points="{" ".join(f"{x:.2f},{y:.2f}" for x, y in corners)}" fill="{colour}"/>'
