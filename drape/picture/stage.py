"""Pictures of a fitting: cloak and mannequin drawn by a given camera, plain or with a reading painted on the cloth.

Comes in: fittings (positions [m], named edges), a camera, a size. Goes out: pixels (h, w, 3). Parallel projection
throughout, so that heights can be read straight across. Light is worked out once for each fitting, as the share of
the sky each point of cloth, mannequin and floor can see, and needs nothing special of the graphics driver. What is
added is drawn by `easel`. Left and right are the wearer's. It judges nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from drape.arrays import Floats, Pixels
from drape.cloth.mesh import vertex_normals
from drape.errors import PictureError
from drape.picture.camera import HEADLESS, Frame, frame_of
from drape.picture.closure import findings_surfaces, lap_surface
from drape.picture.colour import LUMA, NO_VALUE, given_colours, piece_colours
from drape.picture.easel import Easel, cut_closed, merged, thinned
from drape.picture.lettering import PAPER
from drape.picture.paint import Paint
from drape.picture.shading import (
    BRUSHED,
    FLOOR,
    FLOOR_REACH,
    FLOOR_STEP,
    NAP_TILE,
    SKY_DIRECTIONS,
    floor_surface,
    lights,
    nap_tile,
    shaded,
    sky,
    softened,
    with_flat_cut,
)
from drape.picture.surfaces import (
    Drawn,
    Surface,
    cloth_surfaces,
    drawn_cloth,
    figure_surface,
    level_curves,
    parted,
    pieces_of,
)
from drape.reading.by_vertex import neck_edge

if TYPE_CHECKING:
    from drape.reading.result import Fitting


_RULE_LINE = (234, 230, 220)
_RULE_LINE_STRONG = (214, 208, 194)
LANDMARK_INK = np.array([156.0, 58.0, 30.0])
BASE_SEEN = 0.04  # [m] of the neck-base line that must show, in all, before a caption names it
_STUMP = 0.035  # [m] of neck left standing above its base in the close view, at most
_SUPERSAMPLE = 2  # each pixel is the mean of 2 x 2: antialiasing that no driver can alter
_LINED_HEIGHT = 740  # pixels of a view's height for each pixel of its lines, beyond the first
_SKY_PIXELS = 320
_BEFORE = 0.0007  # [m] that lines are drawn before the cloth, less than half a layer above would hide
FLOOR_FROM = 0.45  # [m] half height of a view from which the floor is drawn: closer views show none
_LIT_EDGE = 0.018  # [m] light is worked out for cloth points about this far apart, between them it runs evenly
_CASTING = 0.012  # [m] points of the mannequin that far apart are enough to cast its shade


# --- light ------------------------------------------------------------------------------------


def _open_to_sky(surfaces: Sequence[Surface], *, casting: Sequence[Surface]) -> list[Floats]:
    """Share of the sky's light each vertex receives, 0 to 1, one array for each surface.

    Seen from each direction of the sky, a depth picture of the `casting` surfaces says which
    vertices anything stands before. Folds and the cloth's inside come out darker, as they do in a
    room with a white ceiling.
    """
    points = np.vstack([s.points + 0.006 * s.normals for s in surfaces])
    normals = np.vstack([s.normals for s in surfaces])
    cast = np.vstack([s.points for s in casting])
    low, high = cast.min(axis=0), cast.max(axis=0)
    centre, reach = (low + high) / 2, float(np.linalg.norm(high - low)) / 2 + 0.05
    easel = Easel((_SKY_PIXELS, _SKY_PIXELS))
    for surface in casting:
        easel.add(surface.points, surface.triangles)
    received, offered = np.zeros(len(points)), np.full(len(points), 1e-12)
    for direction, light in zip(*sky(SKY_DIRECTIONS), strict=True):
        turned = normals @ direction
        facing = np.flatnonzero(turned > 0.0)
        frame = Frame(direction, centre, reach, reach)
        hidden_by = _depth_before(easel, frame, points[facing])
        lit = turned[facing] * light
        received[facing] += lit * np.clip((0.012 - hidden_by) / 0.008, 0.0, 1.0)
        offered[facing] += lit
    easel.close()
    ends = np.cumsum([len(s.points) for s in surfaces])[:-1]
    return np.split(received / offered, ends)


def _depth_before(easel: Easel, frame: Frame, points: Floats) -> Floats:
    """How far in front of each point (k, 3) the first surface lies, seen by `frame` [m], (k,)."""
    reach, size = frame.half_height, easel.size
    depth = easel.depths(frame, reach)
    column, row = np.floor(frame.pixels(points, size)).astype(int).T
    inside = (column >= 0) & (column < _SKY_PIXELS) & (row >= 0) & (row < _SKY_PIXELS)
    seen = np.where(inside, depth[np.clip(row, 0, _SKY_PIXELS - 1), np.clip(column, 0, _SKY_PIXELS - 1)], 1.0)
    away = reach - (points - frame.centre) @ frame.toward_camera
    return np.where(seen < 1.0, away - 2 * reach * seen, -1.0)


# --- the stage --------------------------------------------------------------------------------


@dataclass(frozen=True)
class Look:
    """How a picture is to be made. lines: landmark lines on the mannequin. pieces: each in a colour of its own."""

    paint: Paint | None = None
    lines: bool = False
    pieces: bool = False
    nap: bool = True


PLAIN = Look()


class Stage:
    """One fitting lit and ready to be drawn from any side."""

    def __init__(self, fitting: Fitting) -> None:
        self.fitting = fitting
        self.colours = given_colours(fitting.colours)
        self.drawn: Drawn = drawn_cloth(fitting)
        self.cloth = cloth_surfaces(
            self.drawn, float(fitting.thickness), self.colours["outside"], self.colours["inside"]
        )
        lap = lap_surface(fitting, self.drawn, self.colours["outside"])
        self.cloth += [lap[0]] if lap else []
        self.lap_edge = lap[1] if lap else None
        self.findings = findings_surfaces(fitting, self.drawn)
        whole = figure_surface(fitting, self.colours["figure"])
        cut = _headless(fitting, self.colours["figure"])
        self.bodies = {True: cut, False: whole}
        self.floor = floor_surface()
        self.neck_base_seen = False
        self._easel: tuple[Any, Easel] | None = None
        self.openness = self._openness(whole, cut)

    @cached_property
    def piece(self) -> NDArray[np.int64]:
        """Number of the piece each drawn triangle belongs to, (t,)."""
        return pieces_of(self.drawn.triangles, self.drawn.edges)

    @cached_property
    def piece_colours(self) -> Floats:
        return piece_colours(int(self.piece.max()) + 1, self.colours["outside"])

    def _openness(self, whole: Surface, cut: Surface) -> dict[int, Floats]:
        """Light on each surface, by its id: worked out for fewer points of the cloth, and softened a little.

        The head casts no shade: what lies below it is what the pictures are for.
        """
        fitting, drawn = self.fitting, self.drawn
        count, kept_sides = len(fitting.worn), list(drawn.sides)
        while kept_sides and len(drawn.triangles) / 4 ** len(kept_sides) < _lit_triangles(fitting):
            count += len(kept_sides.pop(0))
        faces = [
            Surface(s.name, s.points[:count], s.triangles, s.normals[:count], s.colour, s.vertex[:count])
            for s in self.cloth[:2]
        ]
        settled = Surface(
            "cloth",
            fitting.worn,
            np.asarray(fitting.triangles),
            drawn.normals[: len(fitting.worn)],
            FLOOR,
            whole.vertex,
        )
        body = Surface("figure", *merged(cut.points, cut.triangles, _CASTING), cut.normals, FLOOR, whole.vertex)
        outer, inner, figure, floor = _open_to_sky([*faces, whole, self.floor], casting=[settled, body])
        for sides in kept_sides:
            outer, inner = (np.concatenate([share, share[sides].mean(axis=1)]) for share in (outer, inner))
        outer = softened(outer, drawn.triangles, drawn.weld, 2)
        inner = softened(inner, drawn.triangles, drawn.weld, 2)
        figure = softened(figure, whole.triangles, np.arange(len(whole.points)), 8)
        floor = softened(floor, self.floor.triangles, np.arange(len(self.floor.points)), 6)
        found = {id(self.cloth[0]): outer, id(self.cloth[1]): inner, id(whole): figure, id(self.floor): floor}
        found[id(cut)] = figure[cKDTree(whole.points).query(cut.points)[1]]
        for rim in self.cloth[2:]:
            found[id(rim)] = outer[rim.vertex]
        for one in self.findings:
            found[id(one)] = outer[cKDTree(drawn.points).query(one.points)[1]]
        return found

    def colour_of(self, surface: Surface, look: Look) -> Pixels:
        """Colour of each vertex of a surface, lit, (n, 3)."""
        colour = surface.colour
        if look.paint is not None and len(surface.vertex):
            colour = NO_VALUE
        return shaded(colour, self.openness[id(surface)])

    def picture(self, frame: Frame, size: tuple[int, int], *, headless: bool = False, look: Look = PLAIN) -> Pixels:
        """Pixels (h, w, 3): cloak and mannequin with floor and, seen on the level, height lines.

        Whether the neck-base line can be made out in it is then `neck_base_seen`.
        """
        from PIL import Image

        frame = frame.fitted(size)
        pixels = self.draw(frame, size, headless=headless, look=look)
        base = np.asarray(self.fitting.neck_base, float)
        self.neck_base_seen = headless and ink_seen(pixels, frame, base) >= BASE_SEEN
        drawn = Image.fromarray(pixels)
        block = np.asarray(drawn.convert("RGBa").reduce(_SUPERSAMPLE), np.float32)  # its colour already times its cover
        check_not_flat(block, f"a view of {self.fitting.name}")
        level = abs(frame.toward_camera[2]) < 1e-9
        picture = block[..., :3] + (1.0 - block[..., 3:] / 255.0) * self._background(frame, size, level=level)
        return np.asarray(np.clip(np.rint(picture), 0, 255), np.uint8)

    def draw(self, frame: Frame, size: tuple[int, int], *, headless: bool, look: Look) -> Pixels:
        """Pixels (2h, 2w, 4) of cloth and mannequin alone, transparent around them."""
        easel = self._set_up((size[0] * _SUPERSAMPLE, size[1] * _SUPERSAMPLE), headless=headless, look=look)
        passing = []
        if frame.half_height > FLOOR_FROM and frame.toward_camera[2] > 0.05:
            passing.append(self._lay_floor(easel))
        passing += self._rule_lines(easel, frame, self.bodies[headless], look, close=headless)
        easel.set_lights(lights(frame.toward_camera))
        pixels = easel.pixels(frame)
        for actor in passing:
            easel.remove(actor)
        return pixels if look.paint is None else self._painted(pixels, frame, self.bodies[headless], look.paint)

    def _set_up(self, size: tuple[int, int], *, headless: bool, look: Look) -> Easel:
        """Cloth and mannequin on an easel; the last one is kept, for the next view of the same."""
        key = (size, headless, look.pieces, look.nap, look.paint is None)
        if self._easel is not None and self._easel[0] == key:
            return self._easel[1]
        if self._easel is not None:
            self._easel[1].close()
        easel = Easel(size)
        for surface in (*self.cloth, *self.findings, self.bodies[headless]):
            if surface.name == "lap" and look.pieces:
                continue
            shade = self.colour_of(surface, look)
            if look.pieces and surface.name == "outside" and len(self.piece_colours) > 1:
                surface, was, piece = parted(surface, self.piece)
                shade = shaded(self.piece_colours[piece], self.openness[id(self.cloth[0])][was])
            brushed = look.nap and look.paint is None and surface.name in BRUSHED
            nap = (nap_tile(), self._on_nap(surface)) if brushed else None
            easel.add(surface.points, surface.triangles, colours=shade, normals=surface.normals, nap=nap)
        self._easel = key, easel
        return easel

    def _on_nap(self, surface: Surface) -> Floats:
        """Where vertices lie on the tile of nap, which runs along the warp, fine enough to vanish from afar."""
        grain = float(self.fitting.about.get("grain", 0.0))
        along = np.array([[np.cos(grain), -np.sin(grain)], [np.sin(grain), np.cos(grain)]])
        return self.drawn.carried(np.asarray(self.fitting.flat, float))[surface.vertex] @ along / NAP_TILE

    def _lay_floor(self, easel: Easel) -> Any:
        shade = 1.0 - 0.6 * (1.0 - self.openness[id(self.floor)])
        edge = np.clip((FLOOR_REACH - np.linalg.norm(self.floor.points[:, :2], axis=1)) / 0.4, 0.0, 1.0)[:, None]
        colour = edge * FLOOR * shade[:, None] + (1.0 - edge) * np.array(PAPER, float)
        return easel.add(
            self.floor.points, self.floor.triangles, colours=np.clip(np.rint(colour), 0, 255).astype(np.uint8)
        )

    def _rule_lines(self, easel: Easel, frame: Frame, body: Surface, look: Look, *, close: bool) -> list[Any]:
        """Seams and cut edges on the cloth; on the mannequin the lines measures are taken from, if asked for.

        Close by always the neck-base line, from which ride is read.
        """
        shift = _BEFORE * frame.toward_camera
        ink, drawn = 0.38 * self.colours["outside"], []
        pen = max(_SUPERSAMPLE, easel.size[1] / _LINED_HEIGHT)  # as thick on paper however large the picture
        for surface in self.cloth[:2]:
            for runs, width in ((self.drawn.cut, 1.0), (self._seams_seen(look), 1.6 if close else 1.1)):
                if runs:
                    drawn.append(easel.add_lines([surface.points[run] + shift for run in runs], width * pen, ink))
        if self.lap_edge is not None and not look.pieces:
            drawn.append(easel.add_lines([self.lap_edge + shift], pen, ink))
        on_body = []
        if close or look.lines:
            base = np.asarray(self.fitting.neck_base, float)
            on_body.append(base[[*range(len(base)), 0]])
        if look.lines:
            on_body += [self.fitting.shoulder_line_left, self.fitting.shoulder_line_right]
            for height in self.fitting.levels.values():
                on_body += level_curves(self.fitting, height)
        if on_body:
            width = (2.0 if close else 1.2) * pen
            lines = [np.asarray(line, float) + 1.5 * shift for line in on_body]
            drawn.append(easel.add_lines(lines, width, LANDMARK_INK))
        return drawn

    def _seams_seen(self, look: Look) -> list[NDArray[np.int64]]:
        """The seams, but the closure's where the lap runs on over it."""
        if self.lap_edge is None or look.pieces:
            return self.drawn.seams
        closed = {int(i) for name in self.fitting.about["fastening"]["closure"] for i in self.drawn.edges[name]}
        return [run for run in self.drawn.seams if not closed.issuperset(run.tolist())]

    def _painted(self, lit: Pixels, frame: Frame, body: Surface, paint: Paint) -> Pixels:
        """The lit picture with the cloth in the reading's colours, its light and shade kept,
        hatched where undecided.
        """
        size = (lit.shape[1], lit.shape[0])
        values, undecided = self.drawn.carried(paint.values), self.drawn.carried(paint.undecided.astype(float))
        known = np.where(np.isnan(values), 0.0, values)
        place = np.clip((known - paint.edges[0]) / (paint.edges[-1] - paint.edges[0]), 0.0, 1.0 - 1e-6)
        colours = np.vstack([paint.colours, NO_VALUE])
        bands = self._flat_pass(frame, size, body, place, len(paint.colours))
        doubt = self._flat_pass(frame, size, body, np.where(np.isnan(values), 1.0, undecided), 2)
        is_cloth = bands >= 0
        shade = (lit[..., :3].astype(float) @ LUMA) / float(NO_VALUE @ LUMA)
        unknown = (doubt == 1) & is_cloth
        painted = colours[np.where(is_cloth, bands, -1)] * np.clip(0.25 + 0.8 * shade, 0.0, 1.12)[..., None]
        out = lit.copy()
        out[is_cloth, :3] = np.clip(np.rint(painted[is_cloth]), 0, 255)
        row, column = np.indices(is_cloth.shape)
        period = max(8, round(size[1] / 110))
        stroke = ((row + column) % period < max(2, period // 5)) & unknown
        out[stroke, :3] = (40, 36, 32)
        return out

    def _flat_pass(
        self, frame: Frame, size: tuple[int, int], body: Surface, share: Floats, count: int
    ) -> NDArray[np.int64]:
        """For each pixel the band 0..count-1 of the cloth's value (share of the scale), -1 where no cloth shows."""
        easel = Easel(size)
        for surface in self.cloth:
            easel.add_banded(surface.points, surface.triangles, share[surface.vertex], count)
        for surface in (*self.findings, body):
            easel.add(surface.points, surface.triangles)
        pixels = easel.pixels(frame)
        easel.close()
        return np.where(pixels[..., 3] > 0, pixels[..., 0].astype(np.int64) - 1, -1)

    def _background(self, frame: Frame, size: tuple[int, int], *, level: bool) -> Floats:
        """Paper; seen on the level also height lines, the floor's edge, and the shadow on it."""
        page = np.broadcast_to(np.array(PAPER, float), (size[1], size[0], 3)).copy()
        if not level:
            return page
        for height in range(0, 400, 10):
            row = row_of_height(frame, size, height / 100)
            if 0 <= row < size[1]:
                page[row] = _RULE_LINE_STRONG if height % 50 == 0 else _RULE_LINE
        floor = max(row_of_height(frame, size, 0.0), 0)
        below = np.arange(size[1] - floor) / (0.03 * frame.pixels_per_metre(size))
        shadow = self._floor_shadow(frame, size)
        page[floor:] = FLOOR * (1.0 - 0.8 * np.exp(-below[:, None]) * shadow[None])[..., None]
        return page

    def _floor_shadow(self, frame: Frame, size: tuple[int, int]) -> Floats:
        """How dark the floor lies under each column of a level view, 0 to 1: the darkest of its depth."""
        across = frame.pixels(self.floor.points, size)[:, 0]
        column = np.clip(np.rint(across), 0, size[0] - 1).astype(int)
        dark = 1.0 - self.openness[id(self.floor)]
        step = max(1.0, FLOOR_STEP * frame.pixels_per_metre(size))
        bins = np.arange(0.0, size[0] + step, step)
        place = np.digitize(column, bins) - 1
        worst = np.zeros(len(bins))
        np.maximum.at(worst, place, dark)
        return np.interp(np.arange(size[0]), bins + 0.5 * step, worst)


def _lit_triangles(fitting: Fitting) -> float:
    """How many triangles the cloth has when their sides are about `_LIT_EDGE`."""
    corners = fitting.worn[np.asarray(fitting.triangles)]
    area = 0.5 * np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1).sum()
    return float(area / (0.433 * _LIT_EDGE**2))


def _headless(fitting: Fitting, colour: Floats) -> Surface:
    """The mannequin cut above the neck edge, or at `_STUMP`, and closed."""
    points, triangles = fitting.figure_vertices, np.asarray(fitting.figure_triangles, np.int64)
    centre = fitting.neck_base.mean(axis=0)
    normal = np.linalg.svd(fitting.neck_base - centre)[2][2]
    normal = normal * np.sign(normal[2])
    edge_above = float(((neck_edge(fitting) - centre) @ normal).max())
    above = float(np.clip(edge_above + 0.006, 0.015, _STUMP))
    points, triangles = cut_closed(points, triangles, centre + above * normal, -normal)
    return with_flat_cut(points, triangles, normal, colour)


# --- one view ---------------------------------------------------------------------------------


def row_of_height(frame: Frame, size: tuple[int, int], height: float) -> int:
    """The pixel row of a height above the floor [m], seen on the level."""
    return round(float(frame.pixels(np.array([[0.0, 0.0, height]]), size)[0, 1]))


def ink_seen(pixels: Pixels, frame: Frame, line: Floats) -> float:
    """Length [m] of a closed line of landmarks (k, 3) [m] that shows in a picture as drawn, (h, w, 4), seen across it.

    A stretch shows where a pixel of the line's own ink, which no light changes, lies within a pixel of its middle.
    """
    size = (pixels.shape[1], pixels.shape[0])
    ends = frame.pixels(line[[*range(len(line)), 0]], size)
    step = np.linalg.norm(np.diff(ends, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(step)])
    at = np.arange(0.5, along[-1], 1.0)
    column, row = (np.rint(np.interp(at, along, ends[:, k])).astype(int) for k in (0, 1))
    ink = (pixels[..., :3] == np.rint(LANDMARK_INK).astype(np.uint8)).all(axis=2)
    shows = np.zeros(len(at), dtype=bool)
    for down in (-1, 0, 1):
        for right in (-1, 0, 1):
            y, x = row + down, column + right
            inside = (y >= 0) & (y < size[1]) & (x >= 0) & (x < size[0])
            shows[inside] |= ink[y[inside], x[inside]]
    return float(shows.sum() / frame.pixels_per_metre(size))


def check_not_flat(pixels: NDArray[Any], what: str) -> None:
    """Raise PictureError if every pixel of an (h, w, channels) array is the same colour."""
    spread = int(np.ptp(pixels.reshape(-1, pixels.shape[-1]), axis=0).max())
    if spread == 0:
        colour = tuple(int(v) for v in pixels.reshape(-1, pixels.shape[-1])[0])
        raise PictureError(
            f"picture: {what}: got one flat colour {colour} all over, wanted cloth and mannequin. "
            "Check that the positions lie in view; if they do, update the graphics driver."
        )


def draw_view(
    fitting: Fitting, view: str, *, size: tuple[int, int], frame: Frame | None = None, look: Look = PLAIN
) -> Pixels:
    """One view of a fitting as pixels (h, w, 3); with floor and height lines where it is on the level.

    `size` is (width, height); `view` one of `ALL_VIEWS`; `frame` the camera, by default the one that
    takes in this fitting alone. Lines behind the figure lie 10 cm apart, darker each 50 cm.
    Raises PictureError for an unknown view or a flat picture, MissingExtraError without pyvista.
    """
    frame = frame_of([fitting], view) if frame is None else frame
    return Stage(fitting).picture(frame, size, headless=view in HEADLESS, look=look)


def draw_views(
    stage: Stage, frames: Mapping[str, Frame], sizes: Mapping[str, tuple[int, int]], *, look: Look = PLAIN
) -> dict[str, Pixels]:
    """Each of the views by its camera at its size; `stage.neck_base_seen` then tells of the last one."""
    return {v: stage.picture(frames[v], sizes[v], headless=v in HEADLESS, look=look) for v in sizes}


def lean(surface: Surface, openness: Floats, share: float) -> tuple[Surface, Floats]:
    """A surface with about `share` of its triangles, its light carried along: for a page to turn."""
    points, triangles = thinned(surface.points, surface.triangles, share)
    nearest = cKDTree(surface.points).query(points)[1]
    colour = surface.colour if surface.colour.ndim == 1 else surface.colour[nearest]
    leaner = replace(
        surface, points=points, triangles=triangles, normals=vertex_normals(points, triangles), colour=colour
    )
    return leaner, openness[nearest]
