"""What is drawn of saved fittings: a job in, files out. Run by `drawing_process` in a process of its own.

A job names the saved fittings, what to make of them (`MAKES` in `choices`) and where. A fitting is loaded and
lit once, whatever is made of it. Every file appears whole or not at all; the names of those written go to standard
output. Raises PictureError where a file cannot be written, and what `camera`, `paint` and `stage` raise.
"""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from drape import files
from drape.arrays import Floats
from drape.drawing_process import end_with_parent
from drape.errors import PictureError
from drape.picture import pages, plots
from drape.picture.camera import CLOSE, HEADLESS, STANDING, VIEWS, Frame, frame_at, frame_of, shows, toward
from drape.picture.choices import HEIGHT_PX
from drape.picture.colour import NO_VALUE
from drape.picture.fitting_sheet import CAPTIONS, NECK_BASE_SEEN, SheetRow, compose_sheet, view_sizes
from drape.picture.html_report import Leaf, Worn, booklet_html, solid_data, wearing_html
from drape.picture.lettering import PAPER, Mark, draw_marks
from drape.picture.mesh_file import write_glb, write_obj
from drape.picture.model import solid_parts
from drape.picture.paint import KINDS, Paint, paint_of
from drape.picture.shading import as_brushed
from drape.picture.stage import Look, Stage, draw_views, lean
from drape.reading.brief import wrong
from drape.reading.conclusion import conclusion_of
from drape.reading.places import place_of
from drape.wearing.sentences import said_by_way, shape_name

if TYPE_CHECKING:
    from drape.reading.result import Fitting

MOST_ON_A_SHEET: Final = 6
TURN_FRAMES, TURN_HEIGHT, TURN_MS = 36, 800, 90
TINT_PIXELS: Final = 24  # width of the strip that puts a colour in the palette
TURN_ELEVATION: Final = np.radians(8.0)
A4_INCHES: Final = (11.69, 8.27)
MARK_RADIUS: Final = 36  # pixels of a circled number on a page's pictures, which show at about half their size
LEAN_FIGURE: Final = 0.2  # share of the mannequin's triangles that a page turns
LEAN_INSET: Final = (
    0.002  # [m] by which it is drawn slimmer there, or its coarser triangles would poke through the cloth
)


@dataclass
class Job:
    """Fittings lit and ready, where to write, and how the maker wants them seen."""

    fittings: Sequence[Fitting]
    out: Path
    name: str
    starts: Sequence[Fitting] = ()
    views: Sequence[str] = ()
    azimuth: float | None = None
    elevation: float = 0.0
    height: int = HEIGHT_PX[1]
    paint: str | None = None
    lines: bool = False
    cautions: Sequence[str] = ()
    beside: Path = Path()  # the folder the fittings come from
    written: list[str] = field(default_factory=list)

    @cached_property
    def stages(self) -> list[Stage]:
        return [Stage(fitting) for fitting in self.fittings]

    @cached_property
    def joint(self) -> str:
        """The name of files that several fittings share."""
        return self.name if len(self.fittings) == 1 else "compare"

    def frames(self, views: Sequence[str]) -> dict[str, Frame]:
        """One camera for each view, the same for every fitting."""
        return {view: frame_of(self.fittings, view) for view in views}

    def paint_on(self, fitting: Fitting, reading: str) -> Paint:
        """A reading painted on a fitting; other starts are starts of the first one."""
        return paint_of(fitting, reading, starts=self.starts if fitting is self.fittings[0] else ())

    def png(self, image: Any, name: str) -> None:
        save_image(image, self.out / f"{name}.png")
        self.written.append(f"{name}.png")

    def page(self, images: Sequence[Any], name: str) -> None:
        """Images as PNG, numbered if there are several, and together as a PDF to print on A4."""
        for k, image in enumerate(images):
            self.png(image, name if len(images) == 1 else f"{name}-{k + 1}")
        write_file(self.out / f"{name}.pdf", lambda path: write_pdf(images, path))
        self.written.append(f"{name}.pdf")


# --- sheets and plates ------------------------------------------------------------------------


def draw_sheet(fittings: Sequence[Fitting], path: Path) -> None:
    """Write one PNG with a row for each of one to six fittings: title, five views, readings.

    All rows share their cameras, so that like can be compared with like. A fitting that did not
    settle is stamped. Raises PictureError (count of fittings, a flat view, a folder that cannot be
    written), MissingExtraError.
    """
    save_image(sheet_of([Stage(fitting) for fitting in counted(fittings)]), path)


def counted(fittings: Sequence[Fitting]) -> Sequence[Fitting]:
    """The fittings, if there are as many as a sheet holds. Raises PictureError."""
    if not 1 <= len(fittings) <= MOST_ON_A_SHEET:
        raise PictureError(
            f"picture: fittings on one sheet: got {len(fittings)}, allowed 1 to {MOST_ON_A_SHEET}. "
            "Draw the rest on a second sheet."
        )
    return fittings


def sheet_of(stages: Sequence[Stage]) -> Any:
    """The sheet of some lit fittings as a Pillow image."""
    frames = {view: frame_of([stage.fitting for stage in stages], view) for view in VIEWS}
    aspects = {view: frame.half_width / frame.half_height for view, frame in frames.items()}
    sizes = view_sizes(aspects["front"], aspects["neck"], alone=len(stages) == 1)
    rows = []
    for stage in stages:
        fitting = stage.fitting
        views = draw_views(stage, frames, sizes)  # the neck last
        title, seen = fitting.title or fitting.name, stage.neck_base_seen
        marks = marks_on(stage, frames, sizes)
        rows.append(SheetRow(title, fitting.expect, fitting.readings, views, seen, marks))
    per_metre = {v: frames[v].pixels_per_metre(sizes[v]) for v in ("front", "neck")}
    return compose_sheet(
        rows,
        conclusion=conclusion_of([stage.fitting for stage in stages]),
        floor_row=float(frames["front"].pixels([[0.0, 0.0, 0.0]], sizes["front"])[0, 1]),
        standing_pixels_per_metre=per_metre["front"],
        close_pixels_per_metre=per_metre["neck"],
    )


def marks_on(stage: Stage, frames: Mapping[str, Frame], sizes: Mapping[str, tuple[int, int]]) -> dict[str, list[Mark]]:
    """By view, a numbered mark where each fault is, in the view that shows it best.

    A place of the neck is looked for in the close view first, one of the hem or the opening from the side it is on.
    """
    found: dict[str, list[Mark]] = {}
    for number, verdict in enumerate(wrong(stage.fitting.readings), start=1):
        place = place_of(stage.fitting, verdict["reading"])
        if place is None:
            continue
        low = verdict["reading"].startswith("fall.") or verdict["reading"].endswith("gape_cm")
        away = [view for view in frames if view != "neck"]
        away.sort(key=lambda view: -float(frames[view].toward_camera @ (place * (1.0, 1.0, 0.0))))
        order = away if low or "neck" not in frames else ["neck", *away]
        seen = [view for view in order if _shows(stage, frames[view], place, view)]
        view = [*seen, order[0]][0]
        frame = frames[view].fitted(sizes[view])
        x, y = (float(c) for c in frame.pixels(place, sizes[view])[0])
        found.setdefault(view, []).append(Mark(number, (x, y), not verdict["undecided"], bool(seen)))
    return found


def _shows(stage: Stage, frame: Frame, place: Floats, view: str) -> bool:
    """Whether a place can be seen in a view, before cloth and mannequin."""
    body = stage.bodies[view in HEADLESS]
    return shows(frame, place, [(s.points, s.triangles) for s in (stage.cloth[0], body)])


def make_sheet(job: Job) -> None:
    counted(job.fittings)
    job.page([sheet_of(job.stages)], job.joint)


def make_views(job: Job) -> None:
    """Single views of every fitting by the same cameras, the maker's own side among them."""
    frames = job.frames(job.views or (VIEWS if job.azimuth is None else ()))
    if job.azimuth is not None:
        frames[f"at {np.degrees(job.azimuth):.0f}"] = frame_at(job.fittings, job.azimuth, job.elevation)
    for stage in job.stages:
        look = Look(paint=None if job.paint is None else job.paint_on(stage.fitting, job.paint), lines=job.lines)
        for view, frame in frames.items():
            image = pages.single_view(stage, frame, view, height=job.height, look=look)
            job.png(image, f"{stage.fitting.name}-{view.replace(' ', '-')}")


def make_length(job: Job) -> None:
    frames = job.frames(STANDING)
    job.page([pages.length_plate(stage, frames) for stage in job.stages], f"{job.joint}-length")


def make_readings(job: Job) -> None:
    names = [job.paint] if job.paint else list(KINDS)
    for stage in job.stages:
        for name in names:
            image = pages.painted_plate(stage, job.paint_on(stage.fitting, name))
            job.page([image], f"{stage.fitting.name}-{name}")


def make_round(job: Job) -> None:
    job.page([plots.pixels_of(plots.plot_round(job.fittings, job.starts))], f"{job.joint}-round")


def make_pieces(job: Job) -> None:
    for stage in job.stages:
        job.page([pages.pieces_plate(stage)], f"{stage.fitting.name}-pieces")


def make_strip(job: Job) -> None:
    """The fittings given, rests of one way of wearing, side by side."""
    job.png(pages.strip_plate(job.stages, said_of(job.fittings)), f"{job.name}-strip")


def said_of(fittings: Sequence[Fitting]) -> str:
    """What is to be said of the rests of a way: that it stays or not, of each move once."""
    ways = {(way["how"], way["doing"]): way for fitting in fittings for way in [fitting.readings] if "how" in way}
    return " ".join(said_by_way(list(ways.values())))


def make_wearing(job: Job) -> None:
    """A page of every way a cloak was worn in: its strip, what is said of it, and all of them to be turned.

    The rests of one way are lit together, and let go before those of the next.
    """
    groups: dict[str, list[Fitting]] = {}
    for fitting in job.fittings:
        groups.setdefault(str(fitting.about.get("worn", {}).get("how", fitting.name)), []).append(fitting)
    ways, still = [], b""
    for how, fittings in groups.items():
        stages, words = [Stage(fitting) for fitting in fittings], said_of(fittings)
        strip = pages.strip_plate(stages, words)
        job.png(strip, f"{fittings[0].name}-strip")
        below = words.removeprefix(f"{how[0].upper()}{how[1:]}: ")  # the page has the way as a heading
        below = f"{below[:1].upper()}{below[1:]}"
        ways.append(Worn(how, fittings[0], frames_in(strip), solid_of(stages[0], {}), below))
        quarter = frame_of(fittings[:1], "three-quarter")
        still = still or png_of(_image_of(stages[0].picture(quarter, pages.size_for(quarter, 1000))))
    text = wearing_html(ways, still, job.cautions)
    write_file(job.out / f"{job.name}.html", lambda path: path.write_text(text, encoding="utf-8", newline="\n"))
    job.written.append(f"{job.name}.html")


# --- turning, solids, report ------------------------------------------------------------------


def make_turn(job: Job) -> None:
    """A GIF for each fitting: once round, seen from a little above, in one palette so that nothing flickers."""
    first = frame_at(job.fittings, 0.0, TURN_ELEVATION)
    size = pages.size_for(first, TURN_HEIGHT)
    for stage in job.stages:
        frames = []
        for azimuth in np.arange(TURN_FRAMES) * 2 * np.pi / TURN_FRAMES:
            frame = Frame(
                toward(azimuth, TURN_ELEVATION), first.centre * (0, 0, 1), first.half_width, first.half_height
            )
            frames.append(_image_of(stage.picture(frame, size)))
        name = f"{stage.fitting.name}-turn.gif"
        tints = list(stage.colours.values())
        write_file(job.out / name, partial(write_gif, frames, tints=tints))
        job.written.append(name)


def write_gif(frames: Sequence[Any], path: Path, *, tints: Sequence[np.ndarray] = ()) -> None:
    """Images of one size as a GIF that runs for ever. tints: colours (3,) to be kept however little of them shows."""
    from PIL import Image, ImageDraw

    width, height = frames[0].size
    spread = Image.new("RGB", (3 * width + TINT_PIXELS * len(tints), height), PAPER)
    for k in range(3):
        spread.paste(frames[k * len(frames) // 3], (k * width, 0))
    pen = ImageDraw.Draw(spread)
    for k, tint in enumerate(tints):
        for row in range(height):
            shade = tuple(int(c) for c in tint * (0.3 + 0.7 * row / height))
            left = 3 * width + TINT_PIXELS * k
            pen.line([(left, row), (left + TINT_PIXELS - 1, row)], fill=shade)
    palette = spread.quantize(256)
    drawn = [frame.quantize(palette=palette, dither=Image.Dither.NONE) for frame in frames]
    drawn[0].save(path, format="GIF", save_all=True, append_images=drawn[1:], duration=TURN_MS, loop=0, optimize=False)


def make_model(job: Job) -> None:
    for fitting in job.fittings:
        glb, obj, mtl = (f"{fitting.name}.{ending}" for ending in ("glb", "obj", "mtl"))
        parts = solid_parts(fitting)
        write_file(job.out / glb, partial(write_glb, parts))
        write_file(job.out / obj, partial(write_obj, parts, material=job.out / mtl))
        job.written += [glb, obj, mtl]


def make_report(job: Job) -> None:
    counted(job.fittings)
    leaves = [leaf_of(job, stage) for stage in job.stages]
    plot = png_of(plots.pixels_of(plots.plot_round(job.fittings, job.starts), 1500))
    text = booklet_html(leaves, plot)
    name = f"{job.joint}.html"
    write_file(job.out / name, lambda path: path.write_text(text, encoding="utf-8", newline="\n"))
    job.written.append(name)


def leaf_of(job: Job, stage: Stage) -> Leaf:
    """The pictures of one fitting for the booklet, and its cloak for the page to turn."""
    fitting = stage.fitting
    standing, close = job.frames(STANDING), job.frames(CLOSE)
    size = pages.size_for(standing["front"], 780)
    sizes = dict.fromkeys(STANDING, size) | {view: pages.size_for(frame, 620) for view, frame in close.items()}
    marks = marks_on(stage, {**standing, "neck": close["neck"]}, sizes)
    views = draw_views(stage, standing, dict.fromkeys(STANDING, size), look=Look(lines=job.lines))
    near = {}
    for view, frame in close.items():
        image = _image_of(stage.picture(frame, sizes[view], headless=True))
        caption = CAPTIONS[view] + (NECK_BASE_SEEN if stage.neck_base_seen else "")
        near[caption] = png_of(_marked(image, marks.get(view, ())))
    paints = {name: job.paint_on(fitting, name) for name in KINDS}
    quarter = frame_of(job.fittings, "three-quarter")
    still = stage.picture(quarter, pages.size_for(quarter, 1000))
    flat = plots.pixels_of(plots.plot_flat(fitting, pieces=True), 1400)
    return Leaf(
        fitting=fitting,
        views={CAPTIONS[v]: png_of(_marked(_image_of(pixels), marks.get(v, ()))) for v, pixels in views.items()},
        close=near,
        painted={f"{p.words}: {p.meaning}": png_of(pages.painted_strip(stage, p)) for p in paints.values()},
        draft={"The flat draft, face side up; dashed: sewn; grey: folded in, not cut out": png_of(flat)},
        still=png_of(_image_of(still)),
        solid=solid_of(stage, paints),
        strips=strips_beside(job, fitting),
    )


def frames_in(strip: Any) -> list[tuple[str, bytes]]:
    """The pictures of a strip as PNG, each with what stands below it."""
    return [(words, png_of(frame)) for words, frame in pages.frames_of(strip)]


def strips_beside(job: Job, fitting: Fitting) -> dict[str, list[tuple[str, bytes]]]:
    """The strips that were drawn of a fitting worn otherwise, as they lie beside it, as `frames_in` has them."""
    from PIL import Image

    scene, found = str(fitting.readings.get("scene", "")), {}
    for how in dict.fromkeys(str(way["how"]) for way in fitting.readings.get("ways") or []):
        path = job.beside / f"{shape_name(scene, how)}-strip.png"
        if path.is_file():
            with Image.open(path) as strip:
                found[f"{how[0].upper()}{how[1:]}"] = frames_in(strip)
    return found


def _marked(image: Any, marks: Sequence[Mark]) -> Any:
    """A picture of a page with its marks."""
    from PIL import ImageDraw

    draw_marks(ImageDraw.Draw(image), marks, (0, 0, *image.size), radius=MARK_RADIUS)
    return image


def solid_of(stage: Stage, paints: Mapping[str, Paint]) -> dict[str, Any]:
    """Cloak and mannequin for a page to turn: the cloth as drawn, the mannequin with fewer triangles."""
    cloth, inside = (as_brushed(face) for face in stage.cloth[:2])
    tones = {name: _tones(stage, paint) for name, paint in paints.items()}
    whole = stage.bodies[False]
    body, light = lean(whole, stage.openness[id(whole)], LEAN_FIGURE)
    body = replace(body, points=body.points - LEAN_INSET * body.normals)
    own = stage.colours["figure"]
    thickness = float(stage.fitting.thickness)
    both_faces = np.column_stack([stage.openness[id(face)] for face in stage.cloth[:2]])
    parts = [(cloth, both_faces, inside.colour, thickness, tones), (body, light, own, 0.0, {})]
    ink = 0.38 * stage.colours["outside"]
    for one in (*stage.cloth[3:], *stage.findings):  # the lap in its colours, what is sewn on in its own
        own_tones = {name: tone[one.vertex] for name, tone in tones.items()} if len(one.vertex) else {}
        parts.append((as_brushed(one), stage.openness[id(one)], one.colour, 0.0, own_tones))
    return solid_data(
        stage.fitting, parts, [(cloth.points[run], ink) for run in (*stage.drawn.seams, *stage.drawn.cut)]
    )


def _tones(stage: Stage, paint: Paint) -> np.ndarray:
    """Colour of each drawn vertex in a reading's bands, grey where there is none, and 255 where undecided, (n, 4)."""
    values = stage.drawn.carried(paint.values)
    doubt = stage.drawn.carried(paint.undecided.astype(float)) > 0.5
    band = np.clip(np.searchsorted(paint.edges, np.nan_to_num(values), side="right") - 1, 0, len(paint.colours) - 1)
    unknown = np.isnan(values)
    colour = np.where(unknown[:, None], NO_VALUE, paint.colours[band])
    return np.column_stack([colour, 255.0 * (unknown | doubt)])


# --- files ------------------------------------------------------------------------------------


def _image_of(pixels: np.ndarray) -> Any:
    from PIL import Image

    return Image.fromarray(pixels)


def png_of(image: Any) -> bytes:
    """A Pillow image as the bytes of a PNG."""
    held = io.BytesIO()
    image.save(held, format="PNG")
    return held.getvalue()


def save_image(image: Any, path: Path) -> None:
    """A Pillow image as PNG, 205 dots to the inch; a strip's file also holds where its pictures are."""
    from PIL.PngImagePlugin import PngInfo

    held = PngInfo()
    if pages.FRAMES in image.info:
        held.add_text(pages.FRAMES, image.info[pages.FRAMES])
    write_file(path, lambda passing: image.save(passing, format="PNG", dpi=(205, 205), pnginfo=held))


def write_pdf(images: Sequence[Any], path: Path) -> None:
    """Each image whole on an A4 page of its own, every pixel kept."""
    from matplotlib.backends.backend_pdf import PdfPages
    from matplotlib.figure import Figure

    with PdfPages(path, metadata={"CreationDate": None, "Creator": "drape"}) as document:
        for page in pages.as_pages(images):
            size = A4_INCHES if page.width > page.height else A4_INCHES[::-1]
            figure = Figure(figsize=size, facecolor=(PAPER[0] / 255, PAPER[1] / 255, PAPER[2] / 255))
            axis = figure.add_axes((0.0, 0.0, 1.0, 1.0))
            axis.set_axis_off()
            axis.imshow(np.asarray(page), interpolation="none", aspect="auto")
            document.savefig(figure)


def write_file(path: Path, write: Callable[[Path], object]) -> None:
    """A file of the pictures, whole or not at all. Raises PictureError where it cannot be written."""
    try:
        files.write_whole(path, write)
    except OSError as error:
        raise PictureError(
            f"picture: {path}: got {error.strerror or error}, wanted a file that can be written. "
            "Give another folder with --out."
        ) from None


MAKERS: Final[Mapping[str, Callable[[Job], None]]] = MappingProxyType(
    {
        "sheet": make_sheet, "views": make_views, "length": make_length, "readings": make_readings,
        "round": make_round, "pieces": make_pieces, "turn": make_turn, "model": make_model, "report": make_report,
        "strip": make_strip,
    }
)  # fmt: skip


def distinct(fittings: Sequence[Fitting]) -> list[Fitting]:
    """The fittings with names that differ, so that none writes over another's files."""
    names = files.distinct_names([fitting.name for fitting in fittings])
    return [replace(fitting, name=name) for fitting, name in zip(fittings, names, strict=True)]


def do_job(told: Mapping[str, Any]) -> list[str]:
    """Make everything a job names; the names of the files written."""
    from drape.reading.result import load_fitting

    fittings, starts = ([load_fitting(Path(path)) for path in told.get(key, ())] for key in ("saved", "starts"))
    fittings = distinct(fittings)
    if "sheet" in told:
        draw_sheet(fittings, Path(told["sheet"]))
        return [told["sheet"]]
    if "wearing" in told:
        job = Job(fittings, Path(told["out"]), told["wearing"], cautions=told["cautions"])
        make_wearing(job)
        return job.written
    beside = Path(told["saved"][0]).parent
    job = Job(fittings, Path(told["out"]), fittings[0].name, starts, beside=beside, **told.get("how", {}))
    for make in told["make"]:
        MAKERS[make](job)
    return job.written


if __name__ == "__main__":
    line = sys.stdin.readline()
    end_with_parent(sys.stdin)
    json.dump(do_job(json.loads(line)), sys.stdout)
