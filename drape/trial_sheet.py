"""A trial's settled shape on paper: a `Trial` in, one SVG out.

The cloth's triangles, over them the exact curve where there is one, and what holds the cloth; a scale in cm; the
readings below. One user unit is a millimetre of paper. The same trial gives the same bytes but for its seconds,
which are left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

from drape.bench import Trial, trial_object
from drape.trial_options import KINDS

Floats = NDArray[np.float64]

WIDTH, ROOM, MARGIN = 180.0, 150.0, 15.0  # mm: of the paper, of the drawing's greatest side, round it
TEXT, LINE = 4.2, 6.0  # mm: height of type, from line to line
CLOTH = 'fill="none" stroke="#44648c" stroke-width="0.3" stroke-linejoin="round"'
EXACT = 'fill="none" stroke="#c2571a" stroke-width="0.7" stroke-dasharray="3 2"'
SUPPORT = 'fill="none" stroke="#222" stroke-width="0.8" stroke-linecap="round"'
SCALES_CM = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)  # lengths a scale may have
LEFT_OUT = ("trial", "cloth", "seconds", "steps", "seed", "settled", "energies_j")


def write_trial_svg(made: Trial, path: Path) -> None:
    """Write the drawing of a trial."""
    drawing = made.result.drawing
    everything = np.concatenate([*drawing.cloth, *drawing.exact, *drawing.support])
    low, high = everything.min(axis=0), everything.max(axis=0)
    scale = ROOM / float((high - low).max())  # mm of paper a metre
    left = MARGIN + 0.5 * (ROOM - scale * float(high[0] - low[0]))
    top = MARGIN + 2.5 * LINE
    at = lambda points: np.stack([left + scale * (points[:, 0] - low[0]), top + scale * (high[1] - points[:, 1])], axis=1)  # noqa: E731
    parts = [_line(at(points), style) for points, style in _styled(drawing.support, SUPPORT)]
    parts += [_line(at(points), style) for points, style in _styled(drawing.cloth, CLOTH)]
    parts += [_line(at(points), style) for points, style in _styled(drawing.exact, EXACT)]
    foot = top + scale * float(high[1] - low[1]) + 2 * LINE
    words, bottom = _words(made, scale, foot, bool(drawing.exact))
    _write([*_heading(made), *parts, *words], path, bottom + MARGIN, f"{made.kind}, {made.cloth}")


def _styled(lines: Sequence[Floats], style: str) -> list[tuple[Floats, str]]:
    return [(points, style) for points in lines]


def _heading(made: Trial) -> list[str]:
    title = f"{made.kind}: {KINDS[made.kind].words}; {made.cloth}"
    parts = [_type(MARGIN, MARGIN, title, bold=True), _type(MARGIN, MARGIN + LINE, made.result.drawing.view)]
    if not made.result.evidence.settled:
        parts.append(_type(WIDTH - MARGIN, MARGIN + LINE, "NOT SETTLED", bold=True, anchor="end"))
    return parts


def _words(made: Trial, scale: float, top: float, exact: bool) -> tuple[list[str], float]:
    """Scale, key and readings from `top` down, and where they end."""
    length = next((cm for cm in SCALES_CM if 0.15 * ROOM <= 0.01 * cm * scale), SCALES_CM[-1])
    across = 0.01 * length * scale
    parts = [
        _line(np.array([[MARGIN, top - 1.5], [MARGIN + across, top - 1.5]]), SUPPORT),
        _type(MARGIN + across + 2, top, f"{length:g} cm"),
    ]
    if exact:
        parts += [
            _line(np.array([[WIDTH - MARGIN - 45, top - 1.5], [WIDTH - MARGIN - 33, top - 1.5]]), EXACT),
            _type(WIDTH - MARGIN - 31, top, "the exact curve"),
        ]
    for key, value in trial_object(made).items():
        if key in LEFT_OUT or value is None:
            continue
        top += LINE
        shown = " ".join(f"{v:.5g}" for v in value) if isinstance(value, list) else f"{value:.5g}"
        parts += [_type(MARGIN, top + LINE, key), _type(MARGIN + 75, top + LINE, shown)]
    return parts, top + LINE


def _line(points: Floats, style: str) -> str:
    pairs = " ".join(f"{x:.2f},{y:.2f}" for x, y in points + 0.0)
    return f'<polyline points="{pairs}" {style}/>'


def _type(x: float, y: float, words: str, *, bold: bool = False, anchor: str = "start") -> str:
    weight = ' font-weight="bold"' if bold else ""
    return f'<text x="{x:.2f}" y="{y:.2f}" font-size="{TEXT}" text-anchor="{anchor}"{weight}>{escape(words)}</text>'


def _write(parts: Sequence[str], path: Path, height: float, title: str) -> None:
    head = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH:.1f}mm" height="{height:.1f}mm" '
        f'viewBox="0 0 {WIDTH:.1f} {height:.1f}" font-family="DejaVu Sans, Arial, sans-serif">\n'
        f"<title>{escape(title)}</title>\n"
        f'<rect width="{WIDTH:.1f}" height="{height:.1f}" fill="#fff"/>\n'
    )
    path.write_text(head + "\n".join(parts) + "\n</svg>\n", encoding="utf-8", newline="\n")
