"""A trial's settled shape on paper: a `Trial` in, one SVG out.

The cloth's triangles, over them the exact curve where there is one, and what holds the cloth; a scale in cm; the
readings below. One user unit is a millimetre of paper. The same trial gives the same bytes but for its seconds,
which are left out.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from drape.arrays import Floats
from drape.bench.trial import Trial, trial_object
from drape.bench.trial_options import KINDS
from drape.svg import polyline, type_line, write_svg

WIDTH, ROOM, MARGIN = 180.0, 150.0, 15.0  # mm: of the paper, of the drawing's greatest side, round it
TEXT, LINE = 4.2, 6.0  # mm: height of type, from line to line
CLOTH = 'fill="none" stroke="#44648c" stroke-width="0.3" stroke-linejoin="round"'
EXACT = 'fill="none" stroke="#c2571a" stroke-width="0.7" stroke-dasharray="3 2"'
SUPPORT = 'fill="none" stroke="#222" stroke-width="0.8" stroke-linecap="round"'
SCALES_CM = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)  # lengths a scale may have
LEFT_OUT = ("trial", "cloth", "seconds", "steps", "seed", "settled", "energies_j", "drape_coefficients_percent")


def write_trial_svg(made: Trial, path: Path) -> None:
    """Write the drawing of a trial."""
    drawing = made.result.drawing
    everything = np.concatenate([*drawing.cloth, *drawing.exact, *drawing.support])
    low, high = everything.min(axis=0), everything.max(axis=0)
    scale = ROOM / float((high - low).max())  # mm of paper a metre
    left = MARGIN + 0.5 * (ROOM - scale * float(high[0] - low[0]))
    top = MARGIN + 2.5 * LINE

    def at(points: Floats) -> Floats:
        return np.array([left, top]) + scale * (points - [low[0], high[1]]) * [1.0, -1.0]

    layers = ((drawing.support, SUPPORT), (drawing.cloth, CLOTH), (drawing.exact, EXACT))
    parts = [polyline(at(points), style) for lines, style in layers for points in lines]
    foot = top + scale * float(high[1] - low[1]) + 2 * LINE
    words, bottom = _words(made, scale, foot, bool(drawing.exact))
    write_svg([*_heading(made), *parts, *words], path, WIDTH, bottom + MARGIN, f"{made.kind}, {made.cloth}")


def _heading(made: Trial) -> list[str]:
    title = f"{made.kind}: {KINDS[made.kind].words}; {made.cloth}"
    parts = type_line(MARGIN, MARGIN, title, TEXT, bold=True)
    parts += type_line(MARGIN, MARGIN + LINE, made.result.drawing.view, TEXT)
    if not made.result.evidence.settled:
        parts += type_line(WIDTH - MARGIN, MARGIN + LINE, "NOT SETTLED", TEXT, bold=True, anchor="end")
    return parts


def _words(made: Trial, scale: float, top: float, exact: bool) -> tuple[list[str], float]:
    """Scale, key and readings from `top` down, and where they end."""
    length = next((cm for cm in SCALES_CM if 0.15 * ROOM <= 0.01 * cm * scale), SCALES_CM[-1])
    across = 0.01 * length * scale
    parts = [
        polyline(np.array([[MARGIN, top - 1.5], [MARGIN + across, top - 1.5]]), SUPPORT),
        *type_line(MARGIN + across + 2, top, f"{length:g} cm", TEXT),
    ]
    if exact:
        parts += [
            polyline(np.array([[WIDTH - MARGIN - 45, top - 1.5], [WIDTH - MARGIN - 33, top - 1.5]]), EXACT),
            *type_line(WIDTH - MARGIN - 31, top, "the exact curve", TEXT),
        ]
    for key, value in trial_object(made).items():
        if key in LEFT_OUT or value is None:
            continue
        top += LINE
        shown = " ".join(f"{v:.5g}" for v in value) if isinstance(value, list) else f"{value:.5g}"
        parts += type_line(MARGIN, top + LINE, key, TEXT) + type_line(MARGIN + 75, top + LINE, shown, TEXT)
    return parts, top + LINE
