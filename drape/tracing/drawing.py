"""A line drawing: an SVG or DXF file in, its lines out, each with what it is called.

Curves are flattened to within 0.2 mm. Nothing in the file is run and nothing is fetched. Which line is which edge is
left to `named`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np

from drape.errors import DraftError
from drape.schema import shown
from drape.tracing.lines import MOST_LINES, MOST_POINTS, Drawing, called
from drape.tracing.svg_path import LARGEST

LARGEST_FILE: Final = 20_000_000  # bytes
METRES: Final = {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": 0.0254}
SCALE_BAR: Final = re.compile(r"scale.*?(\d+(?:[.,]\d+)?)[\s_-]*(mm|cm|m|in)(?![a-z])", re.IGNORECASE)


def load_drawing(path: Path) -> Drawing:
    """The lines of an SVG or DXF file. Raises DraftError: one line that says what is wrong with the file."""
    label = str(path)
    kind = path.suffix.lower()
    if kind not in (".svg", ".dxf"):
        raise DraftError(
            f"trace: got {shown(label)}, allowed a drawing that ends in .svg or .dxf. Save it in one of these."
        )
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise DraftError(
                f"{label}: got {path.stat().st_size / 1e6:.0f} MB, allowed {LARGEST_FILE / 1e6:.0f}. Leave pictures "
                "and fillings out, and save the lines alone."
            )
        with np.errstate(over="raise", divide="raise", invalid="raise"):
            drawing = _read(path, label, kind)
    except ArithmeticError:
        raise DraftError(f"{label}: got a number too large or too small to draw. Save the drawing again.") from None
    except OSError as error:
        raise DraftError(f"{label}: cannot be read: {error.strerror or error}. Check the path.") from None
    return _with_scale_bar(checked(drawing))


def _read(path: Path, label: str, kind: str) -> Drawing:
    if kind == ".svg":
        from drape.tracing.svg_drawing import read_svg

        return read_svg(path.read_bytes(), label)
    from drape.tracing.dxf_drawing import read_dxf

    return read_dxf(path, label)


def checked(drawing: Drawing) -> Drawing:
    """The drawing without lines that have no length. Raises DraftError where it is empty or too large."""
    count = sum(len(line.points) for line in drawing.lines)
    if len(drawing.lines) > MOST_LINES or count > MOST_POINTS:
        raise DraftError(
            f"{drawing.label}: got {len(drawing.lines)} lines of {count} points, allowed {MOST_LINES} of {MOST_POINTS} "
            "in all. Simplify the lines, or leave out what is no edge of the cloak."
        )
    if not all((np.abs(line.points) <= LARGEST).all() for line in drawing.lines):
        raise DraftError(f"{drawing.label}: got a place beyond {LARGEST:g}, or no number. Save the drawing again.")
    kept = tuple(line for line in drawing.lines if len(line.points) > 1 and np.ptp(line.points, axis=0).max() > 0)
    if not kept:
        raise DraftError(f"{drawing.label}: got no lines, allowed the outline of a cloak. Draw it in lines and curves.")
    names: dict[str, int] = {}
    told = []
    for line in (replace(one, name=called(one.name), words=tuple(map(called, one.words))) for one in kept):
        names[line.name] = names.get(line.name, 0) + 1
        told.append(line if names[line.name] == 1 else replace(line, name=f"{line.name}-{names[line.name]}"))
    return replace(drawing, lines=tuple(told))


def scale_bars(drawing: Drawing) -> Iterator[tuple[int, float]]:
    """Each line that is a scale bar by its name, "scale 20 cm": its place among the lines, and how long it is [m]."""
    for k, line in enumerate(drawing.lines):
        for word in line.words:
            found = SCALE_BAR.search(word)
            if found:
                yield k, float(found[1].replace(",", ".")) * METRES[found[2].lower()]
                break


def _with_scale_bar(drawing: Drawing) -> Drawing:
    """The drawing with the scale of the bar named in it, which goes before the file's unit; the bar itself is taken
    out.
    """
    bars = list(scale_bars(drawing))
    if not bars:
        return drawing
    lengths = {k: float(np.linalg.norm(np.ptp(drawing.lines[k].points, axis=0))) for k, _ in bars}
    at, true = max(bars, key=lambda bar: lengths[bar[0]])
    if true <= 0:
        raise DraftError(f"{drawing.label}, {drawing.lines[at].name}: got a scale bar of length 0. Write its length.")
    left = tuple(line for k, line in enumerate(drawing.lines) if k not in lengths)
    if not left:
        raise DraftError(f"{drawing.label}: got a scale bar alone, allowed an outline beside it. Draw the cloak.")
    said = f"by the scale bar {drawing.lines[at].words[0]}"
    return replace(drawing, lines=left, scale=true / lengths[at], scale_said=said)
