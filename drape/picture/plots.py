"""Plots: neck gap and hem height round the body, and readings painted on the flat draft.

In: fittings, other starts of the same drafts, paints. Out: matplotlib figures, which `make` writes and pages take in.
Azimuth runs as one sees the wearer from in front: back, wearer's right, front, wearer's left, back. What is plotted
is made by functions of its own, so that it can be held against the readings.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from drape.arrays import Floats
from drape.errors import MissingExtraError
from drape.picture.colour import NO_VALUE, hexed, piece_colours
from drape.picture.surfaces import pieces_of
from drape.reading.by_vertex import Around, hem_fall, neck_gap

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from drape.picture.paint import Paint
    from drape.reading.result import Fitting


INK, GREY, PAPER = "#26221e", "#706960", "#f9f7f1"
LINES = (("#0072b2", "-"), ("#d55e00", "--"), ("#009e73", "-."), ("#cc79a7", ":"), ("#26221e", "-"), ("#e69f00", "--"))
SIDES = {"back": -180.0, "right": -90.0, "front": 0.0, "left": 90.0}
GRID_DEG = np.arange(-180.0, 181.0, 4.0)
CURVE_DEG = np.arange(-180.0, 181.0, 2.0)
CURVE_REACH = 6.0  # degrees either side of a place over which the edge's height is averaged there
FINE = 60  # parts of each side of the edge that are told apart
NECK_REACH = 0.34  # [m] from the middle of the straight edge: neck, dart and shoulders
NAMED_FROM = 0.12  # share of the drawing's width: shorter edges are not named
SEWN, NAMED = (
    " leg",
    ("hem", " opening", " neck", " top"),
)  # ends of the names of edges drawn dashed, and of those lettered


@dataclass(frozen=True)
class Curve:
    """One line of a plot: degrees from the front (k,), rising, and centimetres (k,); the band of all starts.

    Where the edge lies in folds it passes a place several times: there stands the mean, as in the readings. Where the
    edge is open there is nan.
    """

    name: str
    degrees: Floats
    value: Floats
    low: Floats | None
    high: Floats | None
    spread: Mapping[str, tuple[float, float]]  # by side: the reading there and its spread [cm]


def curve_of(fitting: Fitting, starts: Sequence[Fitting], *, what: str) -> Curve:
    """`neck` (gap) or `hem` (height) of a fitting in centimetres by degrees from the front, wearer's left positive."""
    read, key = (neck_gap, "neck.gap") if what == "neck" else (hem_fall, "fall")
    found = [_along(read(one)) for one in (fitting, *starts)]
    low, high = _band(found) if starts else (None, None)
    value = _mean_round(*found[0])
    return Curve(fitting.title or fitting.name, CURVE_DEG, value, low, high, _spreads(fitting.readings, key))


def _along(around: Around) -> tuple[Floats, Floats]:
    """Degrees from the front, without a jump, their middle within half a turn of it, and centimetres."""
    degrees = np.degrees(np.unwrap(around.azimuth))
    return degrees - 360.0 * np.rint(0.5 * (degrees.min() + degrees.max()) / 360.0), 100.0 * around.value


def _fine(degrees: Floats, value: Floats) -> tuple[Floats, Floats]:
    """Points in between along the edge, FINE to each of its sides."""
    along = np.linspace(0, len(degrees) - 1, FINE * (len(degrees) - 1) + 1)
    return tuple(np.interp(along, np.arange(len(degrees)), a) for a in (degrees, value))  # type: ignore[return-value]


def _mean_round(degrees: Floats, value: Floats) -> Floats:
    """Mean height of the edge within CURVE_REACH of each of CURVE_DEG, by degrees; nan where the edge does not pass."""
    fine, height = _fine(degrees, value)
    middle, weight = 0.5 * (fine[1:] + fine[:-1]), np.abs(np.diff(fine)) + 1e-9
    level = 0.5 * (height[1:] + height[:-1])
    off = np.abs((middle[None] - CURVE_DEG[:, None] + 180.0) % 360.0 - 180.0)
    near = np.where(off <= CURVE_REACH, weight, 0.0)
    passes = off.min(axis=1) <= CURVE_DEG[1] - CURVE_DEG[0]
    return np.where(passes, near @ level / np.maximum(near.sum(axis=1), 1e-12), np.nan)


def _band(found: Sequence[tuple[Floats, Floats]]) -> tuple[Floats, Floats]:
    """Least and greatest value of all lines within half a step of each of GRID_DEG."""
    low, high = np.full(len(GRID_DEG), np.inf), np.full(len(GRID_DEG), -np.inf)
    step = GRID_DEG[1] - GRID_DEG[0]
    for degrees, value in found:
        fine, height = _fine(degrees, value)
        place = np.rint(((fine + 180.0) % 360.0) / step).astype(int)
        np.minimum.at(low, place, height)
        np.maximum.at(high, place, height)
    low[[0, -1]], high[[0, -1]] = min(low[0], low[-1]), max(high[0], high[-1])
    missing = ~np.isfinite(low)
    low[missing] = np.interp(GRID_DEG[missing], GRID_DEG[~missing], low[~missing])
    high[missing] = np.interp(GRID_DEG[missing], GRID_DEG[~missing], high[~missing])
    return low, high


def _spreads(readings: Mapping[str, Any], key: str) -> dict[str, tuple[float, float]]:
    """The readings at the four sides that have a spread."""
    group, _, stem = key.partition(".")
    values = readings.get(group, {})
    prefix = f"{stem}_" if stem else ""
    found = {}
    for side in SIDES:
        value, spread = values.get(f"{prefix}{side}_cm"), values.get(f"{prefix}{side}_cm_spread")
        if isinstance(value, (int, float)) and isinstance(spread, (int, float)):
            found[side] = (float(value), float(spread))
    return found


def plot_round(fittings: Sequence[Fitting], starts: Sequence[Fitting] = ()) -> Figure:
    """Neck gap and hem height by azimuth, a line for each fitting; `starts` of the first one as a band."""
    figure = new_figure(11.0, 7.2)
    axes = figure.subplots(2, 1, sharex=True, gridspec_kw={"hspace": 0.22})
    for place, (axis, what, words) in enumerate(
        zip(
            axes,
            ("neck", "hem"),
            ("neck edge off the neck, cm", "hem above the floor, cm\n(in folds: their mean)"),
            strict=True,
        )
    ):
        curves = [curve_of(f, starts if k == 0 else (), what=what) for k, f in enumerate(fittings)]
        for curve, (colour, dash) in zip(curves, LINES, strict=False):
            _draw_curve(axis, curve, colour, dash)
        axis.set_ylabel(words, fontsize=11)
        if place == 0:
            axis.set_ylim(bottom=0.0)
            legend = axis.legend(
                loc="upper left", frameon=False, fontsize=10, ncols=min(3, len(curves)), bbox_to_anchor=(0, 1.2)
            )
            for text in legend.get_texts():
                text.set_parse_math(False)  # a title's $ is no formula
        _dress_axis(axis)
    return figure


def _draw_curve(axis: Axes, curve: Curve, colour: str, dash: str) -> None:
    if curve.low is not None and curve.high is not None:
        axis.fill_between(GRID_DEG, curve.low, curve.high, color=colour, alpha=0.22, lw=0, label="all starts")
    axis.plot(curve.degrees, curve.value, color=colour, ls=dash, lw=1.8, label=_label(curve.name))
    for side, (value, spread) in curve.spread.items():
        for degrees in {SIDES[side], 180.0 if side == "back" else SIDES[side]}:
            axis.errorbar(degrees, value, yerr=spread, color=colour, capsize=4, lw=1.4, marker="o", ms=4)


def _label(name: str) -> str:
    """A name for the legend, which leaves out those that begin with an underscore."""
    return f" {name}" if name.startswith("_") else name


def _dress_axis(axis: Axes) -> None:
    axis.set_xlim(-180, 180)
    axis.set_xticks([-180, -90, 0, 90, 180], ["back", "wearer's right", "front", "wearer's left", "back"], fontsize=11)
    axis.set_xticks(np.arange(-180, 181, 30), minor=True)
    axis.tick_params(axis="y", labelsize=10)
    axis.grid(which="both", color="#ddd8cc", lw=0.7)
    axis.set_axisbelow(True)
    for side in ("top", "right"):
        axis.spines[side].set_visible(False)


def plot_flat(
    fitting: Fitting, paint: Paint | None = None, *, width: float = 11.0, pieces: bool = False, neck: bool = False
) -> Figure:
    """The flat draft, the face side toward the reader, a reading painted on it, or its pieces in their colours.

    Hatched where the reading is undecided. Solid lines are cut, dashed ones sewn, grey is folded in; edges are named.
    neck: only what lies within NECK_REACH, larger.
    """
    flat, triangles = np.asarray(fitting.flat, float), np.asarray(fitting.triangles)
    low, high = flat.min(axis=0), flat.max(axis=0)
    margin, below = 0.065 * float(high[0] - low[0]), 0.0
    if neck:
        low, high = np.maximum(low, -NECK_REACH), np.minimum(high, NECK_REACH)
        margin, below = 0.05, 0.04  # names of slanting neck edges reach down there
    span = high - low + 2 * margin + np.array([0.0, below])
    figure = new_figure(width, width * float(span[1] / span[0]))
    axis = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axis.set_aspect("equal")
    axis.set_axis_off()
    axis.set_xlim(low[0] - margin, high[0] + margin)
    axis.set_ylim(low[1] - margin - below, high[1] + margin)
    if paint is not None:
        _lay_paint(axis, flat, triangles, paint)
    else:
        _lay_colour(axis, fitting, flat, triangles, pieces=pieces)
    _lay_folds(axis, fitting, flat)
    for name, run in fitting.edges.items():
        dash = (0, (4, 3)) if name.endswith(SEWN) or name.startswith("seam ") else "-"
        axis.plot(*flat[run].T, color=INK, lw=1.1, ls=dash, solid_capstyle="round")
    _name_edges(axis, fitting, flat, low, high)
    _draw_length(axis, low - 0.75 * margin - np.array([0.0, below]), 0.1 if neck else 0.2)
    return figure


def _lay_paint(axis: Axes, flat: Floats, triangles: NDArray[np.int64], paint: Paint) -> None:
    from matplotlib.tri import Triangulation

    unknown = np.isnan(paint.values)
    axis.tripcolor(
        flat[:, 0], flat[:, 1], triangles, facecolors=np.ones(len(triangles)), cmap=_one_colour(hexed(NO_VALUE)), lw=0.4
    )
    colours = [hexed(c) for c in paint.colours]
    hidden = unknown[triangles].any(axis=1)
    grid = Triangulation(flat[:, 0], flat[:, 1], triangles, mask=hidden)
    shown = np.clip(np.where(unknown, paint.edges[0], paint.values), paint.edges[0], paint.edges[-1] - 1e-9)
    if not hidden.all():
        axis.tricontourf(grid, shown, levels=paint.edges, colors=colours)
    whole = Triangulation(flat[:, 0], flat[:, 1], triangles)
    doubt = (paint.undecided | unknown).astype(float)
    if doubt.any():
        if doubt.min() == 1.0:
            doubt = doubt + 1e-6 * np.arange(len(doubt)) / len(doubt)
        axis.tricontourf(whole, doubt, levels=[0.5, 2.0], colors="none", hatches=["//////"])


def _lay_colour(axis: Axes, fitting: Fitting, flat: Floats, triangles: NDArray[np.int64], *, pieces: bool) -> None:
    from drape.picture.colour import given_colours

    piece = pieces_of(triangles, fitting.edges)
    outside = given_colours(fitting.colours)["outside"]
    colours = piece_colours(int(piece.max()) + 1 if pieces else 1, outside)
    for k, colour in enumerate(colours):
        own = triangles[piece == k] if pieces else triangles
        axis.tripcolor(
            flat[:, 0], flat[:, 1], own, facecolors=np.ones(len(own)), cmap=_one_colour(hexed(colour)), lw=0.4
        )


def _lay_folds(axis: Axes, fitting: Fitting, flat: Floats) -> None:
    """Darts in grey, their mouths closed by a line: they are folded in, not cut out, though no triangle lies there."""
    legs: dict[str, list[Floats]] = {}
    for name, run in fitting.edges.items():
        if name.endswith(SEWN):
            legs.setdefault(name.rsplit(" ", 2)[0], []).append(flat[run])
    for first, second in legs.values():
        fold = np.vstack([first, second[::-1]])
        axis.fill(*fold.T, color=GREY, alpha=0.25, lw=0)
        axis.plot(*fold[[0, -1]].T, color=INK, lw=1.1)


def _one_colour(colour: str) -> Any:
    from matplotlib.colors import ListedColormap

    return ListedColormap([colour])


def _name_edges(axis: Axes, fitting: Fitting, flat: Floats, low: Floats, high: Floats) -> None:
    """The names of the edges, beside the middles of what is seen of them, outside the piece."""
    size = float(high[0] - low[0])
    centre = flat.mean(axis=0)
    for name in (name for name in fitting.edges if name.endswith(NAMED)):
        run = flat[fitting.edges[name]]
        run = run[((run > low - 1e-9) & (run < high + 1e-9)).all(axis=1)]
        if len(run) < 2 or np.linalg.norm(np.diff(run, axis=0), axis=1).sum() < NAMED_FROM * size:
            continue
        middle = run[len(run) // 2]
        step = run[min(len(run) // 2 + 1, len(run) - 1)] - run[len(run) // 2 - 1]
        if name.endswith(" neck"):  # it bends away from a straight line of type: the name stands on its chord
            middle, step = (run[0] + run[-1]) / 2, run[-1] - run[0]
        normal = np.array([-step[1], step[0]]) / max(float(np.linalg.norm(step)), 1e-9)
        away = normal if normal @ (middle - centre) > 0 else -normal
        turn = (np.degrees(np.arctan2(step[1], step[0])) + 90.0) % 180.0 - 90.0
        axis.annotate(
            name, middle, xytext=tuple((8.0 if name.endswith(" neck") else 11.0) * away), textcoords="offset points",
            fontsize=9.5, color=GREY, ha="center", va="center", rotation=turn, style="italic",
        )  # fmt: skip


def _draw_length(axis: Axes, corner: Floats, length: float) -> None:
    """A bar of so many metres in the corner."""
    axis.plot([corner[0], corner[0] + length], [corner[1]] * 2, color=INK, lw=2.2, solid_capstyle="butt")
    axis.text(corner[0] + 1.06 * length, corner[1], f"{100 * length:.0f} cm", fontsize=10, color=INK, va="center")


def new_figure(width: float, height: float) -> Figure:
    """A figure of so many inches on our paper, drawn without a screen. Raises MissingExtraError."""
    try:
        from matplotlib.figure import Figure
    except ImportError as error:
        raise MissingExtraError(f"plots: matplotlib: got {error}. Type: pip install matplotlib.") from None
    return Figure(figsize=(width, height), dpi=205, facecolor=PAPER)


def pixels_of(figure: Figure, width: int | None = None) -> Any:
    """The figure as a Pillow image, `width` pixels across."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from PIL import Image

    if width is not None:
        figure.set_dpi(width / figure.get_figwidth())
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    return Image.fromarray(np.asarray(canvas.buffer_rgba())[..., :3].copy())
