"""A draft's outline as a drawing of another hand: turned, mirrored, scaled, unsteady; written as DXF and as SVG by
libraries that drape does not read with."""

from __future__ import annotations

import math
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import ezdxf
import numpy as np

from drape.draft.neckline import direction
from drape.draft.outline import Draft
from drape.polyline import at_length, length_along
from drape.tracing.lines import Line

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import svgpathtools

# A half circle of 1 m with a round neck of 20 cm [m], as four lines.
HEM = direction(np.linspace(0.0, math.pi, 400))
NECK = 0.2 * direction(np.linspace(0.0, math.pi, 200))
FIRST, LAST = np.array([NECK[0], HEM[0]]), np.array([HEM[-1], NECK[-1]])


def lines_of(*runs: np.ndarray, names: Sequence[str] = ()) -> list[Line]:
    """Polylines as lines of a drawing, called by names, or l0, l1 and so on."""
    called = [*names, *(f"l{k}" for k in range(len(names), len(runs)))]
    return [Line(np.asarray(run), name, (name,)) for run, name in zip(runs, called, strict=True)]


@dataclass(frozen=True)
class Hand:
    """How a drawing differs from its draft: turned [rad], mirrored, in units to a metre, its places `noise` off [m]."""

    turn: float = 0.0
    mirrored: bool = False
    units: float = 1000.0
    noise: float = 0.0
    seed: int = 0


def drawn(runs: Sequence[np.ndarray], hand: Hand) -> list[np.ndarray]:
    """Polylines [m] as the hand draws them, y up, in its units. Where two of them end in one place they still do."""
    rng = np.random.default_rng(hand.seed)
    c, s = math.cos(hand.turn), math.sin(hand.turn)
    turn = np.array([[c, s], [-s, c]])
    shift = rng.uniform(-1, 1, 2)
    shaken: dict[tuple[float, ...], np.ndarray] = {}
    found = []
    for run in runs:
        places = run
        if hand.noise:
            along = length_along(run)
            places = at_length(np.linspace(0, along[-1], max(2, math.ceil(along[-1] / 0.01))), along, run)
            off = rng.uniform(-hand.noise, hand.noise, places.shape)
            for k in (0, -1):
                off[k] = shaken.setdefault(tuple(np.round(places[k], 6) + 0.0), off[k])
            places = places + off
        if hand.mirrored:
            places = places * np.array([-1.0, 1.0])
        found.append(hand.units * (places @ turn + shift))
    return found


def draft_runs(draft: Draft) -> dict[str, np.ndarray]:
    """A draft's edges by name [m]."""
    return {edge.name: edge.points for edge in draft.edges}


def write_dxf(
    runs: Mapping[str, np.ndarray], path: Path, hand: Hand, *, units: int = 4, layers: Mapping[str, str] | None = None
) -> Path:
    """Write lines as a DXF; units: as the header counts them, 4 for mm; layers: by a run's name, else "0"."""
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = units
    for name, points in zip(runs, drawn(list(runs.values()), hand), strict=True):
        layer = (layers or {}).get(name, "0")
        document.modelspace().add_lwpolyline(points, dxfattribs={"layer": layer})
    document.saveas(path)
    return path


def write_svg(runs: Mapping[str, np.ndarray], path: Path, hand: Hand, *, named: bool = False) -> Path:
    """Write lines as an SVG of the right size in mm; named: each has its name as id."""
    paths = []
    for points in drawn(list(runs.values()), hand):
        flat = points * np.array([1.0, -1.0])
        paths.append(
            svgpathtools.Path(
                *[svgpathtools.Line(complex(*a), complex(*b)) for a, b in zip(flat[:-1], flat[1:], strict=True)]
            )
        )
    size = 8 * hand.units
    sheet = {
        "width": "8000mm", "height": "8000mm", "viewBox": f"{-size / 2} {-size / 2} {size} {size}",
    }  # fmt: skip
    each = [{"id": name.replace(" ", "-")} if named else {} for name in runs]
    svgpathtools.wsvg(paths, filename=str(path), svg_attributes=sheet, attributes=each)
    return path
