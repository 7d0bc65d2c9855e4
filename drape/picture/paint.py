"""Paint: a reading laid on the cloth in even steps of one scale, with the numbers to print beside it.

In: a fitting, which reading, and other starts of the same draft if there are any. Out: a `Paint`: values at each
vertex in the unit printed, the bands and their colours, and where the reading is undecided. The steps are the same
for every fitting, so that pictures can be held side by side. Drawing is left to `stage` and `plots`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from drape.arrays import Floats
from drape.errors import PictureError
from drape.picture.colour import scale_colours
from drape.reading import by_vertex
from drape.units import UNITS, from_si

if TYPE_CHECKING:
    from drape.reading.result import Fitting


SAME_DRAFT = 0.01  # [m] by which the flat outlines of two starts of one draft may differ


@dataclass(frozen=True)
class Kind:
    """A reading that can be painted. edges: of its bands, in the unit its ending names; the last band is open."""

    words: str
    meaning: str
    ending: str
    edges: tuple[float, ...]
    read: Callable[[Fitting], Floats]


KINDS: Final[Mapping[str, Kind]] = MappingProxyType(
    {
        "stand-off": Kind(
            "Stand-off", "air between body and cloth, cm", "_cm", tuple(0.5 * k for k in range(9)), by_vertex.stand_off
        ),
        "fullness": Kind(
            "Fullness", "cloth in excess of what it covers, %, within 12 cm along a level", "_percent",
            tuple(10.0 * k for k in range(9)), by_vertex.fullness,
        ),
        "layers": Kind("Layers", "of cloth, one on another", "", (0.5, 1.5, 2.5, 3.5, 4.5), by_vertex.layers),
    }
)  # fmt: skip


@dataclass(frozen=True)
class Paint:
    """A reading at each vertex of the cloth and the bands it is painted in.

    unit: as people write it. values: (n,) in it, nan where there is none. undecided:
    (n,) where it is not to be trusted.
    edges: (b + 1,). colours: (b, 3), 0 to 255. labels: b of them.
    """

    words: str
    meaning: str
    unit: str
    values: Floats
    undecided: NDArray[np.bool_]
    edges: Floats
    colours: Floats
    labels: tuple[str, ...]
    starts: int


def paint_of(fitting: Fitting, reading: str, *, starts: Sequence[Fitting] = ()) -> Paint:
    """A reading of KINDS painted on a fitting.

    Undecided is where there is no value; the whole of a fitting that did not settle; and, given other `starts` of the
    same draft, where they lie further apart than one band, half their range either side. The value is then their mean.
    Raises PictureError for another reading, or starts of another draft.
    """
    if reading not in KINDS:
        raise PictureError(f"paint: reading: got {reading!r}, allowed {', '.join(KINDS)}. Name one of them.")
    kind = KINDS[reading]
    found = [_in_unit(kind, kind.read(fitting))]
    found += [_on_flat(fitting, other, _in_unit(kind, kind.read(other))) for other in starts]
    every = np.array(found)
    values, edges = every.mean(axis=0), np.array(kind.edges)
    undecided = np.isnan(values) | np.full(len(values), not fitting.readings.get("settled", False))
    if starts:
        shown = np.clip(every, edges[0], edges[-1])
        undecided |= 0.5 * np.ptp(shown, axis=0) > edges[1] - edges[0]
    return Paint(
        words=kind.words,
        meaning=kind.meaning,
        unit=UNITS[kind.ending].symbol if kind.ending else "",
        values=values,
        undecided=undecided,
        edges=edges,
        colours=scale_colours(len(edges) - 1),
        labels=_labels(kind),
        starts=len(starts) + 1,
    )


def _in_unit(kind: Kind, values: Floats) -> Floats:
    return from_si(f"value{kind.ending}", 1.0) * values if kind.ending else values


def _labels(kind: Kind) -> tuple[str, ...]:
    """What each band holds: `0.5–1` and, of the last, `over 3.5`; of counts the number itself."""
    low, high = kind.edges[:-1], kind.edges[1:]
    if not kind.ending:
        words = [f"{(a + b) / 2:g}" for a, b in zip(low, high, strict=True)]
        return (*words[:-1], f"{words[-1]} or more")
    words = [f"{a:g}\N{EN DASH}{b:g}" for a, b in zip(low, high, strict=True)]
    return (*words[:-1], f"over {low[-1]:g}")


def _on_flat(fitting: Fitting, other: Fitting, values: Floats) -> Floats:
    """Another start's values at the same places of the flat draft."""
    from scipy.interpolate import LinearNDInterpolator, NearestNDInterpolator

    ranges = [np.concatenate([f.flat.min(axis=0), f.flat.max(axis=0)]) for f in (fitting, other)]
    apart = float(np.abs(ranges[0] - ranges[1]).max())
    if apart > SAME_DRAFT:
        raise PictureError(
            f"paint: {other.name}: its draft differs from that of {fitting.name} by {100 * apart:.1f} cm, allowed "
            f"{100 * SAME_DRAFT:g}. Give starts (--seed) of one scene."
        )
    known = np.isfinite(values)
    if not known.any():
        return np.full(len(fitting.flat), np.nan)
    found = LinearNDInterpolator(other.flat, values)(fitting.flat)
    nearest = NearestNDInterpolator(other.flat[known], values[known])(fitting.flat)
    return np.where(np.isfinite(found), found, nearest)
