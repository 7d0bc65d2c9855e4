"""Lines of a DXF file: its curves flattened, each with its layer.

In: a path. Out: a `Drawing` in the file's unit. Lines, polylines, arcs, circles, ellipses, splines and the blocks
they stand in are read by ezdxf; whatever else is in the file is passed by. What a file refers to is not opened.
"""

from __future__ import annotations

import logging
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from drape.errors import DraftError
from drape.tracing.lines import FLATTENED, MOST_LINES, MOST_POINTS, Drawing, Line

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

DRAWN: Final = frozenset("LINE LWPOLYLINE POLYLINE ARC CIRCLE ELLIPSE SPLINE".split())
UNITS: Final = {1: (0.0254, "inches"), 2: (0.3048, "feet"), 4: (1e-3, "millimetres"), 5: (1e-2, "centimetres"),
                6: (1.0, "metres"), 14: (0.1, "decimetres")}  # fmt: skip
DEEPEST: Final = 8  # blocks within one another


def read_dxf(path: Path, label: str) -> Drawing:
    """The lines of a DXF file. Raises DraftError."""
    document = _document(path, label)
    scale, words = UNITS.get(document.header.get("$INSUNITS", 0), (None, ""))
    gathered: list[Any] = []
    _gather(document.modelspace(), (), gathered, 0, label)
    tolerance = FLATTENED / scale if scale else 1e-4 * _size(gathered)
    lines: list[Line] = []
    count = 0
    for entity, layers in gathered:
        for points in _flat(entity, tolerance):
            count += len(points)
            if count > 4 * MOST_POINTS:
                break
            words_of = (str(entity.dxf.layer), *layers)
            name = str(entity.dxf.handle) if entity.dxf.handle else f"line {len(lines) + 1}"
            lines.append(Line(points, name, words_of))
    return Drawing(label, tuple(lines), scale, f"by the file, in {words}" if scale else "")


def _document(path: Path, label: str) -> Document:
    """The file as ezdxf reads it. Raises DraftError."""
    import ezdxf

    logging.getLogger("ezdxf").setLevel(logging.CRITICAL)  # what it mends itself is no matter for the maker
    try:
        return ezdxf.readfile(path)
    except OSError as error:
        if error.errno is not None:
            raise
        raise DraftError(f"{label}: not DXF: {error}. Save it as DXF again.") from None
    except MemoryError:
        raise
    except Exception as error:  # whatever is wrong with the file; ezdxf's own errors are of many kinds
        words = " ".join(str(error).split())[:80]
        raise DraftError(f"{label}: not DXF that can be read: {words}. Save it as DXF R2010 again.") from None


def _gather(entities: Any, layers: tuple[str, ...], found: list[Any], depth: int, label: str) -> None:
    """Every drawn entity, those in blocks as well, with the layers it is on."""
    for entity in entities:
        if len(found) > MOST_LINES:
            raise DraftError(
                f"{label}: got more than {MOST_LINES} lines, allowed {MOST_LINES}. Leave out what is no edge."
            )
        kind = entity.dxftype()
        if kind in DRAWN:
            found.append((entity, layers))
        elif kind == "INSERT" and depth < DEEPEST:
            _gather(entity.virtual_entities(), (str(entity.dxf.layer), *layers), found, depth + 1, label)


def _size(gathered: list[Any]) -> float:
    """About how large everything together is, in the file's unit."""
    corners = [points for entity, _ in gathered for points in _flat(entity, math.inf)]
    return float(np.ptp(np.vstack(corners), axis=0).max()) if corners else 1.0


def _flat(entity: Any, tolerance: float) -> list[Any]:
    """The polylines of an entity, shape (k, 2)."""
    from ezdxf import path as paths

    try:
        made = paths.make_path(entity)
    except (TypeError, ValueError, ZeroDivisionError):
        return []
    if tolerance == math.inf:
        points = [(v.x, v.y) for v in made.control_vertices()]
    else:
        points = [(v.x, v.y) for v in made.flattening(tolerance)]
    return [np.array(points)] if len(points) > 1 else []
