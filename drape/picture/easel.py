"""What is drawn by pyvista, without a screen: triangles and lines in, pixels and depths out.

Comes in: positions [m], colours 0 to 255, a camera. Goes out: pixels (h, w, 4), depths; meshes thinned or cut by a
plane. Parallel projection, no antialiasing of the driver's. Only this file draws with pyvista, which it imports only
inside functions: it loads pyplot, which nothing but the drawing process should wait for. Nothing is had past pyvista.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from drape.arrays import Floats, Ints, Pixels
from drape.drawing_process import no_gl
from drape.errors import MissingExtraError
from drape.picture.shading import AMBIENT, DIFFUSE

if TYPE_CHECKING:
    from drape.picture.camera import Frame

DEEP = 4.0  # [m] either side of what the camera looks at, all that is drawn
LIT = {"lighting": True, "interpolation": "Phong", "ambient": AMBIENT, "diffuse": DIFFUSE, "specular": 0.0}
FLAT = {"lighting": False, "interpolation": "Flat"}


class Easel:
    """A picture being made: surfaces, lines and lights are added, then it is seen by cameras."""

    def __init__(self, size: tuple[int, int]) -> None:
        self.size = size
        self.plotter = _pyvista().Plotter(off_screen=True, window_size=list(size), lighting="none")
        self.plotter.set_background("black")  # and clear, in pixels
        self.plotter.disable_anti_aliasing()
        self.plotter.enable_parallel_projection()
        self.plotter.show(auto_close=False, interactive=False)  # of nothing yet: pixels are handed on after it only

    def add(
        self, points: Floats, triangles: Ints, *, colours: Pixels | None = None, normals: Floats | None = None,
        nap: tuple[Pixels, Floats] | None = None,
    ) -> Any:  # fmt: skip
        """Add a surface, lit where it has normals; `colours` one for each vertex, black without. nap: a tile (p, p, 3)
        laid over the colours, and where each vertex lies on it (n, 2)."""
        mesh = surface(points, triangles)
        if normals is not None:
            mesh.point_data.active_normals = normals.astype(np.float32)
        if nap is not None:
            mesh.active_texture_coordinates = nap[1].astype(np.float32)
        tint = {"color": "black"} if colours is None else {"scalars": colours, "rgb": True}
        actor = self._add(mesh, tint | (FLAT if normals is None else LIT))
        if nap is not None:
            actor.texture = _repeated(nap[0])
        return actor

    def add_banded(self, points: Floats, triangles: Ints, share: Floats, count: int) -> None:
        """Add a surface whose vertices lie at shares 0 to 1 of a scale of `count` bands: red is the band's number,
        from 1.
        """
        number = np.arange(1, count + 1, dtype=np.uint8)
        table = _pyvista().LookupTable(values=np.column_stack([number, number, number, np.full(count, 255, np.uint8)]))
        table.scalar_range = (0.0, 1.0)
        self._add(surface(points, triangles), {"scalars": share, "cmap": table, "interpolate_before_map": True} | FLAT)

    def add_lines(self, lines: Sequence[Floats], width: float, colour: Floats) -> Any:
        """Add lines `width` pixels wide, each through points (k, 3), in one colour 0 to 255."""
        ends = np.cumsum([len(line) for line in lines])
        runs = [np.arange(end - len(line), end) for line, end in zip(lines, ends, strict=True)]
        mesh = _pyvista().PolyData(np.vstack(lines), lines=_pyvista().CellArray.from_irregular_cells(runs))
        return self._add(mesh, {"color": np.asarray(colour, float) / 255.0, "line_width": width} | FLAT)

    def set_lights(self, lights: Sequence[tuple[tuple[float, float, float], float]]) -> None:
        """Light it from afar, each light by where it stands, x to the camera's right, y up, z towards it,
        and how strong.
        """
        self.plotter.remove_all_lights()
        for position, intensity in lights:
            self.plotter.add_light(_pyvista().Light(position=position, light_type="camera light", intensity=intensity))

    def remove(self, actor: Any) -> None:
        """Take away what was added."""
        self.plotter.remove_actor(actor, reset_camera=False, render=False)

    def pixels(self, frame: Frame) -> Pixels:
        """What the camera sees, (h, w, 4), transparent where there is nothing."""
        self._aim(frame, DEEP)
        self.plotter.render()
        return np.array(self.plotter.screenshot(transparent_background=True, return_img=True))

    def depths(self, frame: Frame, reach: float) -> Floats:
        """How deep the first surface lies, (h, w): 0 at `reach` [m] before what the camera looks at, 1 as far behind
        it, or where nothing is."""
        self._aim(frame, reach)
        metres = self.plotter.get_image_depth(reset_camera_clipping_range=False)  # renders; nan where nothing is
        return np.where(np.isnan(metres), 1.0, (-metres.astype(float) - reach) / (2 * reach))

    def close(self) -> None:
        """Give back what the driver holds."""
        self.plotter.close()

    def _add(self, mesh: Any, how: dict[str, Any]) -> Any:
        shared = {"reset_camera": False, "render": False, "show_scalar_bar": False, "copy_mesh": False}
        return self.plotter.add_mesh(mesh, **shared, **how)

    def _aim(self, frame: Frame, reach: float) -> None:
        camera = self.plotter.camera
        camera.focal_point = frame.centre
        camera.position = frame.centre + 2 * reach * frame.toward_camera
        camera.up = frame.axes()[1]
        camera.parallel_scale = frame.half_height
        camera.clipping_range = (reach, 3 * reach)
        camera.is_set = True


def surface(points: Floats, triangles: Ints) -> Any:
    """Triangles (t, 3) of points (n, 3) as pyvista keeps them."""
    return _pyvista().PolyData.from_regular_faces(np.asarray(points, float), triangles)


def thinned(points: Floats, triangles: Ints, share: float) -> tuple[Floats, Ints]:
    """Points and triangles of the same surface with about `share` of its triangles."""
    return _taken(surface(points, triangles).decimate(1.0 - share))


def merged(points: Floats, triangles: Ints, apart: float) -> tuple[Floats, Ints]:
    """Points and triangles of about the same surface, points within `apart` [m] of each other made one: quick."""
    return _taken(surface(points, triangles).clean(tolerance=apart, absolute=True, polys_to_lines=False))


def cut_closed(points: Floats, triangles: Ints, origin: Floats, normal: Floats) -> tuple[Floats, Ints]:
    """What of a closed surface lies on the side of a plane its `normal` points to, closed again."""
    return _taken(surface(points, triangles).clip_closed_surface(normal=normal, origin=origin).triangulate())


def _taken(mesh: Any) -> tuple[Floats, Ints]:
    return np.array(mesh.points, float), np.array(mesh.regular_faces, np.int64)


def _repeated(tile: Pixels) -> Any:
    texture = _pyvista().Texture(tile)
    texture.repeat, texture.mipmap, texture.interpolate = True, True, True
    return texture


def _pyvista() -> Any:
    try:
        import pyvista
    except ModuleNotFoundError as error:
        raise MissingExtraError(
            f"picture: pyvista: got {error}. Type: pip install pyvista, or leave pictures out with --no-pictures."
        ) from None
    except ImportError as error:  # installed, but a library of the system is wanting
        raise no_gl(str(error)) from None
    return pyvista
