"""Study plots: readings against what varies, bodies by how a draft sits on them, drafts by how many they suit.

In: effects with the members' values, and members by body. Out: matplotlib figures, on the paper and in the colours of
our other plots. Marks differ in form as well as in colour. What is plotted is reckoned elsewhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from drape.picture.plots import GREY, INK, LINES, new_figure
from drape.study.fits import Reach, Suited
from drape.study.matters import Matter, name_words
from drape.study.results import Result

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from drape.study.effects import Curve

WIDTH: Final = 11.0  # inches
MOST_ACROSS: Final = 5  # things that vary, side by side
ABOVE, TALL = 0.75, 2.35  # inches, of the heads and of a row of panels
MOST_BARS: Final = 12
MARKS: Final = {  # colour, mark, whether filled, words; in the order of the legend
    "yes": (LINES[0][0], "o", True, "sits"),
    "undecided": (GREY, "D", False, "may sit or not"),
    "no": (LINES[1][0], "X", True, "does not sit"),
}
LIMIT: Final = LINES[1][0]
NARROW: Final = 0.12  # share of the panel between things without order


def plot_matters(matters: Sequence[Matter]) -> Figure:
    """Each reading against each thing that varies: every member as a dot, the mean with its ±, the limit."""
    names = [curve.name for curve in matters[0].effects.curves][:MOST_ACROSS]
    high = ABOVE + TALL * len(matters)
    figure = new_figure(WIDTH, high)
    panels = figure.subplots(
        len(matters), len(names), squeeze=False, sharey="row",
        gridspec_kw={"left": 0.1, "right": 0.985, "top": 1 - 0.6 / high, "bottom": 0.4 / high, "hspace": 0.5,
                     "wspace": 0.08},
    )  # fmt: skip
    for row, matter in zip(panels, matters, strict=True):
        row[0].set_ylabel(_turned(matter), fontsize=10)
        for axis, name in zip(row, names, strict=True):
            curve = next(one for one in matter.effects.curves if one.name == name)
            _draw_curve(axis, matter, curve)
    for axis, name in zip(panels[0], names, strict=True):
        words, unit = name_words(name)
        axis.set_title(f"{words}, {unit}" if unit else words, fontsize=11.5, color=INK, pad=22, parse_math=False)
    return figure


def _turned(matter: Matter) -> str:
    """The reading's words in short lines, to stand upright beside a panel."""
    import textwrap

    return "\n".join(textwrap.wrap(f"{matter.words}, {matter.unit}", 24))


def _draw_curve(axis: Axes, matter: Matter, curve: Curve) -> None:
    is_number = all(isinstance(value, (int, float)) for value in curve.values)
    places = list(curve.values) if is_number else list(range(len(curve.values)))
    at = {repr(value): place for value, place in zip(curve.values, places, strict=True)}
    own = [
        (member.member.setting[curve.name] if is_number else at[repr(member.member.setting[curve.name])], value)
        for member, value in matter.members
    ]
    share = matter.effects.share_of(curve.name)
    colour = LINES[0][0] if share.is_certain else GREY
    x, y = np.array(own, dtype=float).T
    axis.scatter(x, y, s=14, color=GREY, alpha=0.5, lw=0, zorder=2)
    axis.axhline(matter.limit, color=LIMIT, lw=1.0, ls=(0, (4, 3)), zorder=1)
    if len(places) > 6 and is_number:
        low, high = np.array(curve.mean) - curve.spread, np.array(curve.mean) + curve.spread
        axis.fill_between(places, low, high, color=colour, alpha=0.2, lw=0)
        axis.plot(places, curve.mean, color=colour, lw=1.8, zorder=3)
    else:
        line = "-" if is_number else "none"
        axis.errorbar(
            places, curve.mean, yerr=curve.spread, color=colour, ls=line, lw=1.6, marker="o", ms=5, capsize=4, zorder=3
        )
    axis.text(
        0.0, 1.03, f"{100 * share.share:.0f} %" + ("" if share.is_certain else ", may be chance"),
        transform=axis.transAxes, va="bottom", fontsize=10, color=colour,
    )  # fmt: skip
    _dress(axis)
    axis.margins(x=NARROW, y=0.16)
    if is_number and len(places) <= 6:
        axis.set_xticks(places)
    if not is_number:
        names = [str(value) for value in curve.values]
        axis.set_xticks(places, names if len(names) <= 6 else [""] * len(names), fontsize=8)
        for label in axis.get_xticklabels():
            label.set_parse_math(False)


def _dress(axis: Axes) -> None:
    axis.tick_params(labelsize=9.5, length=3)
    axis.grid(color="#ddd8cc", lw=0.7)
    axis.set_axisbelow(True)
    for side in ("top", "right"):
        axis.spines[side].set_visible(False)


def plot_reach(results: Sequence[Result], reaches: Sequence[Reach]) -> Figure:
    """Every body by stature and chest girth, marked by how the draft sits; lines where it stops to sit."""
    figure = new_figure(WIDTH, 6.4)
    axis = figure.add_axes((0.08, 0.11, 0.9, 0.8))
    for sits, (colour, mark, is_filled, words) in MARKS.items():
        own = [one.measures for one in results if one.sits == sits]
        if own:
            x, y = ([one[key] for one in own] for key in ("tape.stature_cm", "tape.chest_girth_cm"))
            axis.scatter(
                x, y, s=90, marker=mark, label=f"{words} ({len(own)})", lw=1.6, zorder=3,
                facecolors=colour if is_filled else "none", edgecolors=colour if not is_filled else "none",
            )  # fmt: skip
    for reach in reaches:
        draw = axis.axvline if reach.measure == "tape.stature_cm" else axis.axhline
        for end, last in ((reach.low, reach.least), (reach.high, reach.most)):
            if end != last:  # else the bodies stop there, not the draft
                draw(end, color=INK, lw=1.0, ls=(0, (4, 3)), zorder=1)
    axis.set_xlabel("stature, cm", fontsize=11)
    axis.set_ylabel("chest girth, cm", fontsize=11)
    axis.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=3, frameon=False, fontsize=10.5)
    _dress(axis)
    axis.tick_params(labelsize=10)
    axis.margins(0.06)
    return figure


def plot_drafts(drafts: Sequence[Suited], names: Sequence[str]) -> Figure:
    """Drafts as bars, the best on top: on how many bodies each sits, may sit, does not."""
    from matplotlib.ticker import MaxNLocator

    shown = list(drafts)[:MOST_BARS]
    figure = new_figure(WIDTH, 1.1 + 0.42 * len(shown))
    axis = figure.add_axes((0.36, 0.55 / (1.1 + 0.42 * len(shown)), 0.61, 1 - 1.0 / (1.1 + 0.42 * len(shown))))
    start = np.zeros(len(shown))
    places = np.arange(len(shown))[::-1]
    hatches: dict[str, Any] = {"yes": "", "undecided": "////", "no": ""}
    for sits, (colour, _, is_filled, words) in MARKS.items():
        wide = np.array([getattr(one.share, sits) for one in shown], dtype=float)
        axis.barh(
            places, wide, left=start, height=0.62, label=words, hatch=hatches[sits], lw=0.8,
            facecolor=colour if is_filled else "none", edgecolor=colour,
        )  # fmt: skip
        for place, left, width in zip(places, start, wide, strict=True):
            if width:
                tone = "white" if is_filled else INK
                box = None if is_filled else {"facecolor": "#f9f7f1", "lw": 0, "pad": 1.5}
                axis.text(left + width / 2, place, f"{width:.0f}", ha="center", va="center", color=tone, fontsize=9,
                          bbox=box)  # fmt: skip
        start += wide
    axis.set_yticks(places, list(names)[: len(shown)], fontsize=9)
    for label in axis.get_yticklabels():
        label.set_parse_math(False)
    axis.set_xlabel("bodies", fontsize=10)
    axis.xaxis.set_major_locator(MaxNLocator(integer=True))
    axis.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=3, frameon=False, fontsize=10)
    _dress(axis)
    return figure
