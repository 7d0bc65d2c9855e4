"""What is drawn by vtk, without a screen: triangles and lines in, pixels and depths out.

Comes in: positions [m], colours 0 to 255, a camera. Goes out: pixels (h, w, 4), depths; meshes thinned or cut by a
plane. Parallel projection, no antialiasing of the driver's. The only file that imports vtk,
and only inside functions, from
the few modules it needs: that takes a second less than all of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from drape.arrays import Floats, Ints, Pixels
from drape.drawing_process import no_gl
from drape.errors import MissingExtraError

if TYPE_CHECKING:
    from drape.picture.camera import Frame


AMBIENT, DIFFUSE = 0.36, 0.80  # of lit surfaces: wool and linen have no shine
DEEP = 4.0  # [m] either side of what the camera looks at, all that is drawn


class Easel:
    """A picture being made: surfaces, lines and lights are added, then it is seen by cameras."""

    def __init__(self, size: tuple[int, int]) -> None:
        vtk = _vtk()
        self.size = size
        self.renderer = vtk.vtkRenderer()
        self.renderer.AutomaticLightCreationOff()
        self.renderer.SetBackgroundAlpha(0.0)
        self.renderer.GetActiveCamera().ParallelProjectionOn()
        self.window = vtk.vtkRenderWindow()
        self.window.SetOffScreenRendering(1)
        self.window.SetMultiSamples(0)
        self.window.SetAlphaBitPlanes(1)
        self.window.SetSize(*size)
        self.window.AddRenderer(self.renderer)

    def add(
        self, points: Floats, triangles: Ints, *, colours: Pixels | None = None, normals: Floats | None = None,
        nap: tuple[Pixels, Floats] | None = None,
    ) -> Any:  # fmt: skip
        """Add a surface, lit where it has normals; `colours` one for each vertex, black without. nap: a tile (p, p, 3)
        laid over the colours, and where each vertex lies on it (n, 2)."""
        mesh = polydata(points, triangles)
        if colours is not None:
            mesh.GetPointData().SetScalars(_vtk_array(colours))
        if normals is not None:
            mesh.GetPointData().SetNormals(_vtk_array(normals.astype(np.float32)))
        actor = self._actor(mesh, lit=normals is not None)
        if colours is None:
            actor.GetProperty().SetColor(0.0, 0.0, 0.0)
        if nap is not None:
            mesh.GetPointData().SetTCoords(_vtk_array(nap[1].astype(np.float32)))
            actor.SetTexture(_texture(nap[0]))
        return actor

    def add_banded(self, points: Floats, triangles: Ints, share: Floats, count: int) -> None:
        """Add a surface whose vertices lie at shares 0 to 1 of a scale of `count` bands: red is the band's number,
        from 1.
        """
        vtk = _vtk()
        mesh = polydata(points, triangles)
        mesh.GetPointData().SetScalars(_vtk_array(share))
        actor = self._actor(mesh, lit=False)
        table = vtk.vtkLookupTable()
        table.SetNumberOfTableValues(count)
        table.SetRange(0.0, 1.0)
        for k in range(count):
            table.SetTableValue(k, *[(k + 1) / 255.0] * 3, 1.0)
        mapper = actor.GetMapper()
        mapper.SetLookupTable(table)
        mapper.SetScalarRange(0.0, 1.0)
        mapper.SetInterpolateScalarsBeforeMapping(True)

    def add_line(self, points: Floats, width: float, colour: Floats) -> Any:
        """Add a line `width` pixels wide through points (k, 3), in one colour 0 to 255."""
        vtk = _vtk()
        mesh = vtk.vtkPolyData()
        mesh.SetPoints(_vtk_points(points))
        mesh.SetLines(_cells(np.arange(len(points))[None]))
        actor = self._actor(mesh, lit=False)
        actor.GetProperty().SetColor(*(np.asarray(colour, float) / 255.0))
        actor.GetProperty().SetLineWidth(width)
        return actor

    def set_lights(self, lights: Sequence[tuple[tuple[float, float, float], float]]) -> None:
        """Light it from afar, each light by where it stands, x to the camera's right, y up, z towards it,
        and how strong.
        """
        self.renderer.RemoveAllLights()
        for position, intensity in lights:
            light = _vtk().vtkLight()
            light.SetLightTypeToCameraLight()
            light.SetPosition(*position)
            light.SetIntensity(intensity)
            self.renderer.AddLight(light)

    def remove(self, actor: Any) -> None:
        """Take away what was added."""
        self.renderer.RemoveActor(actor)

    def pixels(self, frame: Frame) -> Pixels:
        """What the camera sees, (h, w, 4), transparent where there is nothing."""
        vtk = _vtk()
        self._render(frame, DEEP)
        reader = vtk.vtkWindowToImageFilter()
        reader.SetInput(self.window)
        reader.SetInputBufferTypeToRGBA()
        reader.ReadFrontBufferOff()
        reader.ShouldRerenderOff()
        reader.Update()
        found = _numpy(reader.GetOutput().GetPointData().GetScalars())
        return found.reshape(self.size[1], self.size[0], 4)[::-1].copy()

    def depths(self, frame: Frame, reach: float) -> Floats:
        """How deep the first surface lies, (h, w): 0 at `reach` [m] before what the camera looks at, 1 as far behind
        it, or where nothing is."""
        buffer = _vtk().vtkFloatArray()
        self._render(frame, reach)
        self.window.GetZbufferData(0, 0, self.size[0] - 1, self.size[1] - 1, buffer)
        return _numpy(buffer).reshape(self.size[1], self.size[0])[::-1]

    def close(self) -> None:
        """Give back what the driver holds."""
        self.window.Finalize()

    def _actor(self, mesh: Any, *, lit: bool) -> Any:
        vtk = _vtk()
        mapper = vtk.vtkPolyDataMapper()
        mapper.SetInputData(mesh)
        actor = vtk.vtkActor()
        actor.SetMapper(mapper)
        surface = actor.GetProperty()
        surface.SetLighting(lit)
        if lit:
            surface.SetInterpolationToPhong()
            surface.SetAmbient(AMBIENT)
            surface.SetDiffuse(DIFFUSE)
            surface.SetSpecular(0.0)
        self.renderer.AddActor(actor)
        return actor

    def _render(self, frame: Frame, reach: float) -> None:
        camera = self.renderer.GetActiveCamera()
        camera.SetFocalPoint(*frame.centre)
        camera.SetPosition(*(frame.centre + 2 * reach * frame.toward_camera))
        camera.SetViewUp(*frame.axes()[1])
        camera.SetParallelScale(frame.half_height)
        camera.SetClippingRange(reach, 3 * reach)
        self.window.Render()


def polydata(points: Floats, triangles: Ints) -> Any:
    """Triangles (t, 3) of points (n, 3) as vtk keeps them."""
    mesh = _vtk().vtkPolyData()
    mesh.SetPoints(_vtk_points(points))
    mesh.SetPolys(_cells(triangles))
    return mesh


def thinned(points: Floats, triangles: Ints, share: float) -> tuple[Floats, Ints]:
    """Points and triangles of the same surface with about `share` of its triangles."""
    fewer = _vtk().vtkQuadricDecimation()
    fewer.SetInputData(polydata(points, triangles))
    fewer.SetTargetReduction(1.0 - share)
    fewer.Update()
    return _taken(fewer.GetOutput())


def cut_closed(points: Floats, triangles: Ints, origin: Floats, normal: Floats) -> tuple[Floats, Ints]:
    """What of a closed surface lies on the side of a plane its `normal` points to, closed again."""
    vtk = _vtk()
    plane = vtk.vtkPlane()
    plane.SetOrigin(*origin)
    plane.SetNormal(*normal)
    planes = vtk.vtkPlaneCollection()
    planes.AddItem(plane)
    cut = vtk.vtkClipClosedSurface()
    cut.SetInputData(polydata(points, triangles))
    cut.SetClippingPlanes(planes)
    cut.GenerateFacesOn()
    split = vtk.vtkTriangleFilter()
    split.SetInputConnection(cut.GetOutputPort())
    split.PassLinesOff()
    split.PassVertsOff()
    split.Update()
    return _taken(split.GetOutput())


# --- between numpy and vtk --------------------------------------------------------------------


class _Vtk:
    """The classes of vtk that are used, by their own names, each from its module."""

    def __init__(self) -> None:
        import vtkmodules.vtkRenderingOpenGL2  # noqa: F401  the drawing itself, found by the window
        from vtkmodules import vtkCommonCore, vtkCommonDataModel, vtkFiltersCore, vtkFiltersGeneral, vtkRenderingCore

        self.modules = (vtkRenderingCore, vtkCommonDataModel, vtkCommonCore, vtkFiltersCore, vtkFiltersGeneral)

    def __getattr__(self, name: str) -> Any:
        found = next(getattr(module, name) for module in self.modules if hasattr(module, name))
        setattr(self, name, found)
        return found


_loaded: list[_Vtk] = []


def _vtk() -> Any:
    if not _loaded:
        try:
            _loaded.append(_Vtk())
        except ModuleNotFoundError as error:
            raise MissingExtraError(
                f"picture: vtk: got {error}. Type: pip install vtk, or leave pictures out with --no-pictures."
            ) from None
        except ImportError as error:  # installed, but a library of the system is wanting
            raise no_gl(str(error)) from None
    return _loaded[0]


def _vtk_array(values: NDArray[Any]) -> Any:
    from vtkmodules.util.numpy_support import numpy_to_vtk

    return numpy_to_vtk(np.ascontiguousarray(values), deep=True)


def _numpy(array: Any) -> NDArray[Any]:
    from vtkmodules.util.numpy_support import vtk_to_numpy

    return vtk_to_numpy(array)


def _vtk_points(points: Floats) -> Any:
    found = _vtk().vtkPoints()
    found.SetData(_vtk_array(np.asarray(points, float)))
    return found


def _cells(index: Ints) -> Any:
    """Cells of as many points each, (t, k), as vtk keeps them."""
    from vtkmodules.util.numpy_support import numpy_to_vtkIdTypeArray

    count, width = index.shape
    cells = _vtk().vtkCellArray()
    starts = np.arange(0, count * width + 1, width, dtype=np.int64)
    flat = np.ascontiguousarray(index, dtype=np.int64).ravel()
    cells.SetData(numpy_to_vtkIdTypeArray(starts, deep=True), numpy_to_vtkIdTypeArray(flat, deep=True))
    return cells


def _taken(mesh: Any) -> tuple[Floats, Ints]:
    points = np.asarray(_numpy(mesh.GetPoints().GetData()), float).copy()
    return points, _numpy(mesh.GetPolys().GetConnectivityArray()).astype(np.int64).reshape(-1, 3)


def _texture(tile: Pixels) -> Any:
    vtk = _vtk()
    image = vtk.vtkImageData()
    image.SetDimensions(tile.shape[1], tile.shape[0], 1)
    image.GetPointData().SetScalars(_vtk_array(tile[::-1].reshape(-1, 3)))
    texture = vtk.vtkTexture()
    texture.SetInputDataObject(image)
    texture.RepeatOn()
    texture.MipmapOn()
    texture.InterpolateOn()
    return texture
