"""Blocks: a fitting as pyvista sees it, to turn, to measure and to paint in a notebook.

In: a fitting. Out: a `pyvista.MultiBlock` of named surfaces and lines [m]; pyvista's view of it. The pictures that
drape saves are drawn in `picture`.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pyvista

from drape.errors import PictureError
from drape.reading.by_vertex import fullness, layers, stand_off
from drape.units import from_si

if TYPE_CHECKING:
    from drape.arrays import Floats, Ints
    from drape.reading.result import Fitting

SCALE: Final = "cividis"  # even to the eye, and to eyes that do not tell red from green
PAINTED: Final = ("stand_off_cm", "fullness_percent", "layers")
CLOAK, MANNEQUIN = "slategray", "linen"  # where the scene names no colours
FROM_FRONT_LEFT: Final = (-0.5, 1.0, 0.2)  # the figure faces +y, its left is -x


def blocks_of(fitting: Fitting) -> pyvista.MultiBlock:
    """The fitting's cloak, mannequin and body lines, named; PAINTED on the cloak at each vertex.

    Cloak and mannequin say in their field data whether the fitting is `settled`.
    """
    cloak, mannequin = (
        _surface(fitting.worn, fitting.triangles),
        _surface(fitting.figure_vertices, fitting.figure_triangles),
    )
    values = (
        from_si("stand_off_cm", 1.0) * stand_off(fitting),
        from_si("fullness_percent", 1.0) * fullness(fitting),
        layers(fitting),
    )
    for name, at_vertices in zip(PAINTED, values, strict=True):
        cloak.point_data[name] = at_vertices
    for surface in (cloak, mannequin):
        surface.field_data["settled"] = [bool(fitting.readings.get("settled"))]
    return pyvista.MultiBlock(
        {
            "cloak": cloak,
            "mannequin": mannequin,
            "neck_base": pyvista.lines_from_points(fitting.neck_base, close=True),
            "shoulder_line_left": pyvista.lines_from_points(fitting.shoulder_line_left),
            "shoulder_line_right": pyvista.lines_from_points(fitting.shoulder_line_right),
        }
    )


def plotter_of(fitting: Fitting, reading: str | None) -> pyvista.Plotter:
    """Cloak and mannequin in a pyvista plotter, seen from the front left. Raises PictureError as `show` does."""
    if reading is not None and reading not in PAINTED:
        raise PictureError(f"show: reading: got {reading!r}, allowed {', '.join(PAINTED)}. Name one of them.")
    blocks = blocks_of(fitting)
    plotter = pyvista.Plotter()
    plotter.add_mesh(blocks["mannequin"], color=fitting.colours.get("figure", MANNEQUIN))
    if reading is None:
        plotter.add_mesh(blocks["cloak"], color=fitting.colours.get("outside", CLOAK))
    else:
        plotter.add_mesh(blocks["cloak"], scalars=reading, cmap=SCALE, nan_color="lightgray")
    if not fitting.readings.get("settled"):
        plotter.add_text("NOT SETTLED", color="firebrick")
    plotter.view_vector(FROM_FRONT_LEFT, viewup=(0.0, 0.0, 1.0))  # type: ignore[arg-type]  # its decorator hides `self`
    return plotter


def show(fitting: Fitting, reading: str | None) -> Any:
    """Opens pyvista's view of a fitting. Raises PictureError: a reading that is not painted, no screen."""
    plotter = plotter_of(fitting, reading)
    if not (plotter.notebook or plotter.off_screen or _has_screen()):
        plotter.close()
        raise PictureError(
            "show: found no screen, allowed a screen or a notebook. Save the fitting, then draw it: drape show RESULT"
        )
    return plotter.show()


def _has_screen() -> bool:
    """Whether a window can be opened: of Linux alone it is not sure."""
    return not sys.platform.startswith("linux") or bool(pyvista.system_supports_plotting())


def _surface(points: Floats, triangles: Ints) -> pyvista.PolyData:
    return pyvista.PolyData.from_regular_faces(np.array(points), np.asarray(triangles, int))
