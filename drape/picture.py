"""Pictures of a fitting: five views of cloak and mannequin, and the sheet that sets them out.

Comes in: fittings (positions [m], named edges, readings as `sit` prints them). Goes out: pixel
arrays and one PNG. Parallel projection throughout, so that heights can be read straight across;
every fitting of a sheet is seen by the same camera. Light is worked out once for each fitting, as
the share of the sky each point of cloth and mannequin can see, and needs nothing special of the
graphics driver. The only file that imports pyvista, and only inside functions. Left and right are
the wearer's. It reads positions and judges nothing.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from drape.camera import VIEWS, Array, Frame, frame_of, neck_edge
from drape.errors import MissingExtraError, PictureError
from drape.sheet import PAPER, SheetRow, compose_sheet, view_sizes

if TYPE_CHECKING:
    from drape.fitting import Fitting

COLOURS = {"outside": "#44648c", "inside": "#cf9a45", "figure": "#e9e1d1"}  # inside, outside: wool

_NO_PAIRS = np.zeros((0, 2), np.int64)

_FLOOR = (229, 223, 211)
_RULE_LINE = (234, 230, 220)
_RULE_LINE_STRONG = (214, 208, 194)
_EDGE_INK = "#15161c"
_STUMP = 0.035  # [m] of neck left standing above its base in the close view, at most
_SUPERSAMPLE = 2  # each pixel is the mean of 2 x 2: antialiasing that no driver can alter
_SKY_DIRECTIONS = 48
_SKY_PIXELS = 320
_DARKEST_LUMA = 100.0  # of 255: folds in a darker cloth cannot be made out on paper
_NO_GL = (
    "picture: the drawing process stopped ({why}); the results are saved, only the picture is "
    "missing. Install the system's OpenGL: Debian, Ubuntu: apt install libgl1 libegl1 "
    "libgl1-mesa-dri; Fedora: dnf install mesa-libGL mesa-libEGL mesa-dri-drivers; macOS, "
    "Windows: nothing to add, update the graphics driver."
)


# --------------------------------------------------------------------------------- surfaces


@dataclass(frozen=True)
class _Surface:
    """Triangles with the colour each vertex has once the sky's light is counted."""

    points: Array
    triangles: NDArray[np.int64]
    normals: Array
    base: Array  # (3,) or (n, 3), 0..255


def _vertex_normals(points: Array, triangles: NDArray[np.int64], pairs: NDArray[np.int64]) -> Array:
    """Unit normals (n, 3), area-weighted; the two sides of a seam share theirs."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    face = np.cross(b - a, c - a)
    normals = np.zeros_like(points)
    for k in range(3):
        np.add.at(normals, triangles[:, k], face)
    if len(pairs):
        together = normals[pairs[:, 0]] + normals[pairs[:, 1]]
        normals[pairs[:, 0]] = normals[pairs[:, 1]] = together
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-30)
    return normals


def _seams(edges: Iterable[str]) -> list[tuple[str, str]]:
    """The names of the edges sewn together: both closures, and both legs of each dart."""
    found: dict[str, list[str]] = {}
    for name in reversed(list(edges)):  # by growing draft angle
        if name.endswith(" closure"):
            found.setdefault("closure", []).append(name)
        elif name.endswith(" leg"):
            found.setdefault(name.rsplit(" ", 2)[0], []).append(name)
    return [(pair[0], pair[1]) for pair in found.values() if len(pair) == 2]


def _seam_pairs(fitting: Fitting) -> NDArray[np.int64]:
    """Vertex pairs (s, 2) sewn together along closure and darts."""
    found = []
    for names in _seams(fitting.edges):
        one, other = (np.asarray(fitting.edges[name], np.int64) for name in names)
        if len(one) == len(other):
            found.append(np.column_stack([one, other]))
    pairs = np.vstack(found) if found else np.zeros((0, 2), np.int64)
    distinct = pairs[:, 0] != pairs[:, 1]
    return np.asarray(pairs[distinct], np.int64)


def _rim_strip(lines: Sequence[NDArray[np.int64]], count: int) -> NDArray[np.int64]:
    """Triangles closing the cut edge between outer layer (0..n) and inner layer (n..2n)."""
    quads = [np.column_stack([k[:-1], k[1:], k[1:] + count, k[:-1] + count]) for k in lines]
    quad = np.vstack(quads)
    return np.vstack([quad[:, (0, 1, 2)], quad[:, (0, 2, 3)]])


def _lines(fitting: Fitting) -> tuple[list[NDArray[np.int64]], list[NDArray[np.int64]]]:
    """Vertex runs of the cut edges (neck, openings, hem) and of the sewn seams."""
    sewn = [first for first, _ in _seams(fitting.edges)]
    cut = [name for name in fitting.edges if not name.endswith((" closure", " leg"))]
    return tuple(  # type: ignore[return-value]
        [np.asarray(fitting.edges[name], np.int64) for name in names] for names in (cut, sewn)
    )


def _rgb(colour: str) -> Array:
    """Three numbers 0..255 from '#rrggbb'."""
    try:
        return np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)], float)
    except (ValueError, IndexError):
        raise PictureError(
            f"picture: colour — got {colour!r}, allowed '#rrggbb', such as '#44648c'."
        ) from None


def _legible(colour: Array) -> Array:
    """The colour, lightened toward white until folds shaded in it can still be made out."""
    luma = float(colour @ (0.299, 0.587, 0.114))
    if luma >= _DARKEST_LUMA:
        return colour
    return colour + (255.0 - colour) * (_DARKEST_LUMA - luma) / (255.0 - luma)


def _cloth_surfaces(fitting: Fitting, colours: Mapping[str, Array]) -> dict[str, _Surface]:
    """Cloth as it is thick: outer layer, inner layer, and the cut edge between them."""
    triangles = np.asarray(fitting.triangles, np.int64)
    normals = _vertex_normals(fitting.worn, triangles, _seam_pairs(fitting))
    half = 0.5 * float(fitting.thickness) * normals
    outer, inner = fitting.worn + half, fitting.worn - half
    both = np.vstack([outer, inner])
    rim = _rim_strip(_lines(fitting)[0], len(outer))
    edge_colour = 0.75 * colours["outside"] + 0.25 * 255.0
    return {
        "outside": _Surface(outer, triangles, normals, colours["outside"]),
        "inside": _Surface(inner, triangles[:, ::-1], -normals, colours["inside"]),
        "rim": _Surface(both, rim, _vertex_normals(both, rim, _NO_PAIRS), edge_colour),
    }


def _figure_surface(fitting: Fitting, colour: Array, *, headless: bool) -> _Surface:
    """The mannequin; `headless` cuts it above the neck edge, or at `_STUMP`, and closes it."""
    points, triangles = fitting.figure_vertices, np.asarray(fitting.figure_triangles, np.int64)
    if headless:
        centre = fitting.neck_base.mean(axis=0)
        normal = np.linalg.svd(fitting.neck_base - centre)[2][2]
        normal = normal * np.sign(normal[2])
        edge_above = float(((neck_edge(fitting) - centre) @ normal).max())
        above = float(np.clip(edge_above + 0.006, 0.015, _STUMP))
        cut = _polydata(points, triangles).clip_closed_surface(
            normal=tuple(-normal), origin=tuple(centre + above * normal)
        )
        cut = cut.triangulate()
        points, triangles = np.asarray(cut.points, float), cut.faces.reshape(-1, 4)[:, 1:]
        return _with_flat_cut(points, triangles, normal, colour)
    return _Surface(points, triangles, _vertex_normals(points, triangles, _NO_PAIRS), colour)


def _with_flat_cut(
    points: Array, triangles: NDArray[np.int64], normal: Array, colour: Array
) -> _Surface:
    """The cut mannequin, its cut face flat and darker, not rounded into the neck by shading."""
    level = points @ normal
    on_cut = (level[triangles] > level.max() - 1e-6).all(axis=1)
    face = points[triangles[on_cut]].reshape(-1, 3)
    body = triangles[~on_cut]
    added = len(points) + np.arange(len(face)).reshape(-1, 3)
    return _Surface(
        np.vstack([points, face]),
        np.vstack([body, added]),
        np.vstack([_vertex_normals(points, body, _NO_PAIRS), np.tile(normal, (len(face), 1))]),
        np.vstack([np.tile(colour, (len(points), 1)), np.tile(0.68 * colour, (len(face), 1))]),
    )


# --------------------------------------------------------------------------------- light


def _sky() -> tuple[Array, Array]:
    """Directions (k, 3) spread evenly over the sphere and the light from each: most from above."""
    k = np.arange(_SKY_DIRECTIONS) + 0.5
    z = 1.0 - 2.0 * k / _SKY_DIRECTIONS
    turn = np.pi * (1.0 + np.sqrt(5.0)) * k
    radius = np.sqrt(1.0 - z * z)
    return np.column_stack([radius * np.cos(turn), radius * np.sin(turn), z]), 0.55 + 0.45 * z


def _open_to_sky(surfaces: Sequence[_Surface], *, casting: Sequence[_Surface]) -> list[Array]:
    """Share of the sky's light each vertex receives, 0 to 1, one array for each surface.

    Seen from each direction of the sky, a depth picture of the `casting` surfaces says which
    vertices anything stands before. Folds and the cloth's inside come out darker, as they do in a
    room with a white ceiling.
    """
    points = np.vstack([s.points + 0.006 * s.normals for s in surfaces])
    normals = np.vstack([s.normals for s in surfaces])
    low, high = points.min(axis=0), points.max(axis=0)
    centre, reach = (low + high) / 2, float(np.linalg.norm(high - low)) / 2 + 0.05
    plotter = _plotter((_SKY_PIXELS, _SKY_PIXELS))
    for surface in casting:
        plotter.add_mesh(_polydata(surface.points, surface.triangles), lighting=False)
    received, offered = np.zeros(len(points)), np.full(len(points), 1e-12)
    for direction, light in zip(*_sky(), strict=True):
        facing = np.maximum(normals @ direction, 0.0) * light
        frame = Frame(direction, centre, reach, reach)
        hidden_by = _depth_before(plotter, frame, points)
        received += facing * np.clip((0.012 - hidden_by) / 0.008, 0.0, 1.0)
        offered += facing
    plotter.close()
    ends = np.cumsum([len(s.points) for s in surfaces])[:-1]
    return np.split(received / offered, ends)


def _depth_before(plotter: Any, frame: Frame, points: Array) -> Array:
    """How far in front of each point (k, 3) the first surface lies, seen by `frame` [m], (k,)."""
    from vtkmodules.util.numpy_support import vtk_to_numpy
    from vtkmodules.vtkCommonCore import vtkFloatArray

    reach = frame.half_height
    _aim(plotter, frame, reach)
    plotter.render_window.Render()
    size, buffer = (_SKY_PIXELS, _SKY_PIXELS), vtkFloatArray()
    plotter.render_window.GetZbufferData(0, 0, size[0] - 1, size[1] - 1, buffer)
    depth = vtk_to_numpy(buffer).reshape(size[1], size[0])[::-1]
    column, row = np.clip(frame.pixels(points, size).astype(int), 0, _SKY_PIXELS - 1).T
    away = reach - (points - frame.centre) @ frame.toward_camera
    return np.asarray(away - 2 * reach * depth[row, column], float)


def _shaded(surface: _Surface, openness: Array) -> NDArray[np.uint8]:
    """Colour of each vertex, (n, 3): its own, less what the sky does not reach."""
    share = 0.48 + 0.52 * openness[:, None]
    return np.clip(np.rint(surface.base * share), 0, 255).astype(np.uint8)


# --------------------------------------------------------------------------------- one view


def _pyvista() -> Any:
    try:
        import pyvista
    except ModuleNotFoundError as error:
        raise MissingExtraError(
            f"picture: pyvista — got {error}. Type: pip install pyvista, "
            "or leave pictures out with --no-pictures."
        ) from None
    except ImportError as error:  # installed, but a library of the system is wanting
        raise PictureError(_NO_GL.format(why=error)) from None
    return pyvista


def _polydata(points: Array, triangles: NDArray[np.int64]) -> Any:
    faces = np.column_stack([np.full(len(triangles), 3), triangles]).ravel()
    return _pyvista().PolyData(np.array(points, float), faces)


def _plotter(size: tuple[int, int]) -> Any:
    plotter = _pyvista().Plotter(off_screen=True, window_size=size, lighting="none")
    plotter.suppress_rendering = True  # else every mesh added is drawn at once
    plotter.enable_parallel_projection()
    plotter.disable_anti_aliasing()
    return plotter


def _aim(plotter: Any, frame: Frame, reach: float) -> None:
    """Point the plotter's camera; everything within `reach` [m] of the centre is drawn."""
    camera = plotter.camera
    camera.focal_point = tuple(frame.centre)
    camera.position = tuple(frame.centre + 2 * reach * frame.toward_camera)
    camera.up = tuple(frame.axes()[1])
    camera.parallel_scale = frame.half_height
    camera.clipping_range = (reach, 3 * reach)


class _Stage:
    """One fitting lit and ready to be drawn from any side."""

    def __init__(self, fitting: Fitting) -> None:
        self.fitting = fitting
        given = {**COLOURS, **{k: v for k, v in fitting.colours.items() if v}}
        self.colours = {name: _legible(_rgb(given[name])) for name in COLOURS}
        self._lit: dict[bool, list[tuple[_Surface, NDArray[np.uint8]]]] = {}

    def lit(self, *, headless: bool) -> list[tuple[_Surface, NDArray[np.uint8]]]:
        """Cloth and mannequin with the colour of each vertex; the light is worked out once.

        The head casts no shade: what lies below it is what the pictures are for.
        """
        if not self._lit:
            cloth = list(_cloth_surfaces(self.fitting, self.colours).values())
            linen = self.colours["figure"]
            cut, whole = (_figure_surface(self.fitting, linen, headless=h) for h in (True, False))
            openness = _open_to_sky([*cloth, cut, whole], casting=[*cloth, cut])
            shaded = [
                (surface, _shaded(surface, share))
                for surface, share in zip([*cloth, cut, whole], openness, strict=True)
            ]
            self._lit = {True: shaded[:-1], False: [*shaded[:-2], shaded[-1]]}
        return self._lit[headless]

    def draw(self, view: str, frame: Frame, size: tuple[int, int]) -> NDArray[np.uint8]:
        """Pixels (h, w, 4) of cloth and mannequin alone, transparent around them."""
        close = view == "neck"
        large = (size[0] * _SUPERSAMPLE, size[1] * _SUPERSAMPLE)
        frame = frame.fitted(size)
        plotter = _plotter(large)
        _light(plotter, close=close)
        for surface, colour in self.lit(headless=close):
            mesh = _polydata(surface.points, surface.triangles)
            mesh.point_data["Normals"] = surface.normals.astype(np.float32)
            mesh.GetPointData().SetActiveNormals("Normals")
            mesh.point_data["shade"] = colour
            plotter.add_mesh(
                mesh, scalars="shade", rgb=True, smooth_shading=True,
                ambient=0.36, diffuse=0.80, specular=0.0, show_scalar_bar=False,
            )  # fmt: skip
        self._add_lines(plotter, close=close)
        _aim(plotter, frame, 4.0)
        plotter.suppress_rendering = False
        pixels = np.asarray(plotter.screenshot(transparent_background=True, return_img=True))
        plotter.close()
        return pixels

    def _add_lines(self, plotter: Any, *, close: bool) -> None:
        """Cut edges and, thinner, seams; lifted off both sides of the cloth, so none sinks in.

        Close by, also the neck-base line on the mannequin, from which ride is read.
        """
        width, lift = (1.3, 0.0012) if close else (1.0, 0.0025)
        layers = [surface for surface, _ in self.lit(headless=close)[:2]]
        for runs, weight in zip(_lines(self.fitting), (1.5, 0.9), strict=True):
            for layer in layers:
                for run in runs:
                    _add_line(
                        plotter, layer.points[run] + lift * layer.normals[run], width * weight
                    )
        if close:
            base = np.asarray(self.fitting.neck_base, float)
            outward = base - base.mean(axis=0)
            outward /= np.linalg.norm(outward, axis=1, keepdims=True)
            _add_line(plotter, (base + 0.002 * outward)[[*range(len(base)), 0]], 1.0)


def _add_line(plotter: Any, points: Array, width: float) -> None:
    line = _pyvista().PolyData(
        points, lines=np.concatenate([[len(points)], np.arange(len(points))])
    )
    plotter.add_mesh(
        line, color=_EDGE_INK, line_width=width * _SUPERSAMPLE,
        lighting=False, show_scalar_bar=False,
    )  # fmt: skip


def _light(plotter: Any, *, close: bool) -> None:
    """A broad light from the camera's upper left, raking enough to show folds, and a weak fill.

    Seen from above, chest and arms would turn away from a light from above: there it stands lower.
    """
    key = (-1.0, 0.05, 0.9) if close else (-1.0, 0.6, 0.75)
    for position, intensity in ((key, 0.82), ((1.0, -0.2, 0.9), 0.3)):
        light = _pyvista().Light(position=position, light_type="camera light", intensity=intensity)
        light.positional = False
        plotter.add_light(light)


def check_not_flat(pixels: NDArray[np.uint8], what: str) -> None:
    """Raise PictureError if every pixel of an (h, w, channels) array is the same colour."""
    spread = int(np.ptp(pixels.reshape(-1, pixels.shape[-1]), axis=0).max())
    if spread == 0:
        colour = tuple(int(v) for v in pixels.reshape(-1, pixels.shape[-1])[0])
        raise PictureError(
            f"picture: {what} — got one flat colour {colour} all over, wanted cloth and mannequin. "
            "Check that the positions lie in view; if they do, update the graphics driver."
        )


def draw_view(
    fitting: Fitting, view: str, *, size: tuple[int, int], frame: Frame | None = None
) -> NDArray[np.uint8]:
    """One view of a fitting, with floor and height lines, as pixels (h, w, 3).

    `size` is (width, height); `view` one of `VIEWS`; `frame` the camera, by default the one that
    takes in this fitting alone. Lines behind the figure lie 10 cm apart, darker each 50 cm.
    Raises PictureError for an unknown view or a flat picture, MissingExtraError without pyvista.
    """
    frame = frame_of([fitting], view) if frame is None else frame
    return _draw_staged(_Stage(fitting), view, frame, size)


def _draw_staged(
    stage: _Stage, view: str, frame: Frame, size: tuple[int, int]
) -> NDArray[np.uint8]:
    drawn = stage.draw(view, frame, size)
    check_not_flat(drawn, f"view {view!r} of {stage.fitting.name}")
    k = _SUPERSAMPLE
    block = drawn.astype(float).reshape(size[1], k, size[0], k, 4)
    cover = block[..., 3:] / 255.0
    colour, share = (block[..., :3] * cover).mean(axis=(1, 3)), cover.mean(axis=(1, 3))
    picture = colour + (1.0 - share) * _background(view, frame, size)
    return np.asarray(np.clip(np.rint(picture), 0, 255), np.uint8)


def _background(view: str, frame: Frame, size: tuple[int, int]) -> Array:
    """Paper; in the standing views also height lines, floor, and the shadow on it."""
    page = np.broadcast_to(np.array(PAPER, float), (size[1], size[0], 3)).copy()
    if view == "neck":
        return page
    for height in range(0, 400, 10):
        row = _row_of_height(frame, size, height)
        if 0 <= row < size[1]:
            page[row] = _RULE_LINE_STRONG if height % 50 == 0 else _RULE_LINE
    floor = max(_row_of_height(frame, size, 0), 0)
    below, across = np.arange(size[1] - floor), np.arange(size[0]) - size[0] / 2
    per_metre = frame.pixels_per_metre(size)
    shadow = np.exp(-below[:, None] / (0.025 * per_metre)) * np.exp(
        -((across[None] / (0.24 * per_metre)) ** 2)
    )
    page[floor:] = np.array(_FLOOR) * (1.0 - 0.45 * shadow[..., None])
    return page


def _row_of_height(frame: Frame, size: tuple[int, int], height_cm: float) -> int:
    return round(float(frame.pixels(np.array([[0.0, 0.0, height_cm / 100]]), size)[0, 1]))


# --------------------------------------------------------------------------------- sheet, process


def draw_sheet(fittings: Sequence[Fitting], path: Path) -> None:
    """Write one PNG with a row for each of one to six fittings: title, five views, readings.

    All rows share their cameras, so that like can be compared with like. A fitting that did not
    settle is stamped. The file appears whole or not at all. Raises PictureError (count of
    fittings, a flat view, a folder that cannot be written), MissingExtraError.
    """
    if not 1 <= len(fittings) <= 6:
        raise PictureError(
            f"picture: fittings on one sheet — got {len(fittings)}, allowed 1 to 6. "
            "Draw the rest on a second sheet."
        )
    frames = {view: frame_of(fittings, view) for view in VIEWS}
    aspects = {view: frame.half_width / frame.half_height for view, frame in frames.items()}
    sizes = view_sizes(aspects["front"], aspects["neck"], alone=len(fittings) == 1)
    rows = []
    for fitting in fittings:
        stage = _Stage(fitting)
        views = {v: _draw_staged(stage, v, frames[v], sizes[v]) for v in VIEWS}
        title = fitting.title or fitting.name
        rows.append(SheetRow(title, fitting.expect, fitting.readings, views))
    floor_row = float(frames["front"].pixels(np.zeros((1, 3)), sizes["front"])[0, 1])
    per_metre = {v: frames[v].pixels_per_metre(sizes[v]) for v in ("front", "neck")}
    image = compose_sheet(
        rows,
        floor_row=floor_row,
        standing_pixels_per_metre=per_metre["front"],
        close_pixels_per_metre=per_metre["neck"],
    )
    _save(image, path)


def _save(image: Any, path: Path) -> None:
    """The file under a passing name first, so that a half-written sheet is never found."""
    passing = path.with_name(f".{path.stem}.{os.getpid()}.png")
    try:
        image.save(passing, format="PNG", dpi=(205, 205))
        os.replace(passing, path)
    except OSError as error:
        raise PictureError(
            f"picture: {path} — got {error.strerror or error}, wanted a file that can be written. "
            "Give another folder with --out."
        ) from None
    finally:
        passing.unlink(missing_ok=True)


def draw_in_child(saved: Sequence[Path], path: Path, *, allowed_seconds: float = 300.0) -> None:
    """Draw the sheet of saved fittings in a process of its own.

    A fault in the graphics driver ends that process, not this one, and comes back as a
    PictureError of one line; what graphics libraries write to the error stream is dropped.
    """
    package_folder = str(Path(__file__).resolve().parent.parent)
    search = os.pathsep.join(p for p in (package_folder, os.environ.get("PYTHONPATH")) if p)
    command = [sys.executable, "-m", "drape.picture", str(path), *map(str, saved)]
    try:
        done = subprocess.run(
            command, capture_output=True, text=True, errors="replace", check=False,
            timeout=allowed_seconds, env={**os.environ, "PYTHONPATH": search},
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        raise PictureError(_NO_GL.format(why=f"nothing after {allowed_seconds:.0f} s")) from None
    if done.returncode < 0:
        raise PictureError(_NO_GL.format(why=f"signal {-done.returncode}"))
    if done.returncode != 0:
        raise _fault(done.stderr, done.returncode)


def _fault(stderr: str, code: int) -> PictureError | MissingExtraError:
    """The child's own one-line error if it had one; otherwise what is wanting."""
    last = next((line for line in reversed(stderr.splitlines()) if line.strip()), "").strip()
    name, _, message = last.partition(": ")
    if name == f"{MissingExtraError.__module__}.{MissingExtraError.__name__}":
        return MissingExtraError(message)
    if name.startswith(f"{PictureError.__module__}."):
        return PictureError(message)
    if re.fullmatch(r"[\w.]*(Error|Exception)", name):
        return PictureError(
            f"picture: the drawing process ended with {last}; the results are saved, only the "
            "picture is missing. Draw it again with drape show, or go on with --no-pictures."
        )
    return PictureError(_NO_GL.format(why=f"exit code {code}"))


if __name__ == "__main__":
    from drape.fitting import load_fitting

    draw_sheet([load_fitting(Path(p)) for p in sys.argv[2:]], Path(sys.argv[1]))
