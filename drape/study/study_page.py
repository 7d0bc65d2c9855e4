"""Study page: one HTML file that tells a study, the answer first, that asks nothing of a network.

In: what a study found. Out: the text of study.html. Words are those of `told`, plots those of `study_plots`, the looks
those of our other pages.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from drape.page import page_text
from drape.picture.html_report import STYLE
from drape.picture.plots import pixels_of
from drape.reading.cautions import cautions
from drape.reading.table import change, value_at
from drape.study import study_plots, told
from drape.study.matters import name_words
from drape.study.members import setting_words
from drape.study.plan import BODY, HYPERCUBE, Plan
from drape.study.results import Result
from drape.study.sizes import BY, grading, steps_between, varying
from drape.study.summary import counted_words
from drape.study.task import SETTLED
from drape.study.told import Findings
from drape.units import UNITS, bare_name, ending_of, from_si

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PIXELS: Final = 1800  # across a plot
MOST_ROWS: Final = 200  # members listed on the page; all stand in the table
SHORT: Final = 20  # letters of a name that stands on one line
MOST_COLUMNS: Final = 8  # sizes side by side; of more, the page tells the steps alone
OWN_STYLE: Final = """
.conclusion { font-size: clamp(1.2rem, 4vw, 1.6rem); margin-bottom: .8rem; } .then { font-size: 1.1rem; }
.then:has(+ h1) { margin-bottom: 1.4rem; }
.wide, .plot { overflow-x: auto; } .wide th { vertical-align: bottom; max-width: 7rem; }
.words td:nth-last-child(-n+2), .words th:nth-last-child(-n+2) { text-align: left; max-width: none; }
.words td:nth-last-child(2) { white-space: nowrap; padding-left: 1.5rem; }
section ul { padding-left: 1.3rem; } section li { margin: .3rem 0; } figure { margin: 1rem 0; }
.wide td { font-variant-numeric: tabular-nums; }
@media (max-width: 40rem) {
  .plot img { width: 44rem; max-width: none; }
  .wide td:first-child { min-width: 7.5rem; } .words td:first-child { min-width: 0; }
  .words thead { display: none; } .words tr { display: flex; flex-wrap: wrap; border-bottom: 1px solid var(--rule);
    padding: .5rem 0; }
  .words td { order: 3; border: 0; text-align: left; padding: 0 .8rem .1rem 0; color: var(--grey); font-size: .85rem; }
  .words td:first-child, .words td:nth-last-child(2) { order: 1; padding-left: 0; font-weight: bold;
    color: var(--ink); font-size: .95rem; }
  .words td:last-child { order: 2; width: 100%; color: var(--ink); font-size: .95rem; }
  .words td[data-head]:not(:first-child):not(:nth-last-child(-n+2))::before { content: attr(data-head) ": "; }
}
"""


def study_html(found: Findings) -> str:
    """The whole page."""
    shown = {
        "title": found.plan.title, "conclusions": list(map(_tied, told.conclusions_of_study(found))),
        "counted": counted_words(found.results), "asked": _asked(found.plan), "matters": _matters(found),
        "fits": _fits(found), "drafts": _drafts(found), "sizes": _sizes(found), "best": _best(found),
        "failed": [f"{_name(one)}: {one.state}. {one.why}" for one in found.results if one.state != SETTLED],
        "members": _members(found.results), "cautions": _cautions(found.results), "made": _made(found.results),
    }  # fmt: skip
    return page_text("study/study.html", shown, style=STYLE + OWN_STYLE)


def png_of(figure: Figure) -> bytes:
    """A plot as PNG."""
    held = io.BytesIO()
    pixels_of(figure, PIXELS).save(held, "PNG", optimize=True)
    return held.getvalue()


def _table(
    heads: Sequence[str], rows: Sequence[Sequence[str]], note: str = "", *, ends_in_words: bool = False
) -> dict[str, Any]:
    """A table as the page draws it. ends_in_words: its last two columns are texts."""
    return {"heads": heads, "rows": rows, "note": note, "kind": "words" if ends_in_words else ""}


def _asked(plan: Plan) -> list[str]:
    """What the plan says."""
    lines = [f"The scene {plan.scene.name}: {plan.scene.title}.", *map(told.factor_words, plan.factors)]
    if plan.wearers:
        whose = f"cut once, for {plan.scene.body}, and worn by all" if plan.is_one_draft else "cut for each body"
        lines.append(f"The draft is {whose}.")
    kind = f"a Latin hypercube of {plan.members}" if plan.kind == HYPERCUBE else plan.kind
    length = plan.edge_length or plan.scene.edge_length
    often = "once" if plan.starts == 1 else f"{plan.starts} times, on other meshes"
    lines.append(f"Members: {kind}; each settled {often}, on triangles of {from_si('x_cm', length):g} cm.")
    return lines


def _matters(found: Findings) -> dict[str, Any] | None:
    if not found.matters:
        return None
    return {
        "lines": [(one.words, f"{told.shares_words(one)}.") for one in found.matters],
        "plot": png_of(study_plots.plot_matters(found.matters)),
        "caption": "Each reading against what varies. Dots: the members. Line: their mean with its ±, the rest taken "
        "alike. Dashed: the limit. Above: the share of the variance.",
        "note": "A share says how much of the differences between the members one thing makes by itself, or two "
        "together beyond each alone. It holds for the range that was tried. Grey: chance alone may make as much.",
    }


def _fits(found: Findings) -> dict[str, Any] | None:
    if not found.drafts:
        return None
    best = found.drafts[0]
    stops = told.stops_words(best.results)
    lines = [f"{told.reach_words(reach)}." for reach in found.reaches]
    lines += [f"What keeps it from sitting: {'; '.join(stops)}."] if stops else []
    head = "The draft" if len(found.drafts) == 1 else f"The best draft ({told.words_of(best.setting)})"
    return {
        "words": f"{head} {told.share_words(best.share)}. {told.interval_words(best.share)}",
        "lines": lines,
        "plot": png_of(study_plots.plot_reach(best.results, found.reaches)),
        "caption": "Every body by stature and chest girth."
        + (" Dashed: where the draft stops to sit, as far as these tell." if found.reaches else ""),
    }


def _drafts(found: Findings) -> dict[str, Any] | None:
    if len(found.drafts) < 2:
        return None
    names = [told.words_of(one.setting) for one in found.drafts]
    return {
        "words": told.best_for_all_words(found.drafts),
        "plot": png_of(study_plots.plot_drafts(found.drafts, names)),
    }


def _sizes(found: Findings) -> dict[str, Any] | None:
    """Dimensions by body, and the steps between."""
    if len(found.sizes) < 2:
        return None
    names = varying(found.sizes)
    few = found.sizes if len(found.sizes) <= MOST_COLUMNS else ()
    rows = []
    for key in names if few else ():
        places = 2 if ending_of(key) == "_m2" else 1
        cells = [f"{few[0].dimensions[key]:.{places}f}"]
        for one, step in zip(few[1:], steps_between(few, key), strict=True):
            cells.append(f"{one.dimensions[key]:.{places}f} ({change(step, places)})")
        rows.append([_dimension_words(key), *cells])
    measures = [
        [f"{name.removeprefix('tape.').removesuffix('_cm').replace('_', ' ')}, cm",
         *(f"{one.measures[name]:.1f}" for one in few)]
        for name, _ in BY
    ]  # fmt: skip
    table = _table(["", *(one.body for one in few)], [*measures, *rows], "In brackets: from the size before.")
    fallback = _table([], [], f"{len(found.sizes)} sizes: their dimensions stand in sizes.csv.")
    return {
        "words": "One draft cut for each body, the smallest chest first. What is the same for all is left out.",
        "table": table if few else fallback,
        "steps": _steps(found),
    }


def _dimension_words(key: str) -> str:
    unit = UNITS[ending_of(key)].symbol if ending_of(key) else ""
    return f"{bare_name(key).replace('_', ' ')}, {unit}" if unit else bare_name(key).replace("_", " ")


def _steps(found: Findings) -> dict[str, Any] | None:
    steps = grading(found.sizes)
    if not steps:
        return None
    heads = [
        "",
        *(
            f"for {step:g} cm more {name.removeprefix('tape.').removesuffix('_cm').replace('_', ' ')}"
            for name, step in BY
        ),
        "off, at most",
    ]
    rows = [
        [_dimension_words(one.dimension), *(change(value, 2) for value in one.by), f"{one.off:.1f}"] for one in steps
    ]
    note = "By least squares over these bodies: what this draft does, no rule of the trade."
    return _table(heads, rows, note)


def _best(found: Findings) -> dict[str, Any] | None:
    if not found.drafts or len(found.drafts) < 2:
        return None
    rows = [
        [body, str(one.member.number), told.words_of({n: v for n, v in one.member.setting.items() if n != BODY}),
         told.SITS[one.sits], _tied(one.verdict)]
        for body, one in found.best
    ]  # fmt: skip
    return _table(["body", "member", "draft", "", "why"], rows, ends_in_words=True)


def _members(results: Sequence[Result]) -> dict[str, Any]:
    rows = [
        [
            str(one.member.number),
            *(_shown(value) for value in one.member.setting.values()),
            told.SITS[one.sits],
            _tied(one.verdict),
        ]
        for one in results[:MOST_ROWS]
    ]
    note = f"The first {MOST_ROWS} of {len(results)}; all stand in study.csv." if len(results) > MOST_ROWS else ""
    names = [", ".join(filter(None, name_words(name))) for name in results[0].member.setting]
    return _table(["", *names, "", "what decides"], rows, note, ends_in_words=True)


def _tied(text: str) -> str:
    """The text, no line of which ends between a number and its unit."""
    return re.sub(r"(?<=\d) (?=(?:cm|N/m|N|%)(?:\W|$))", "\u00a0", text)


def _shown(value: Any) -> str:
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return f"{value:g}"
    said = str(value)
    return said.replace(" ", "\u00a0") if len(said) < SHORT else said


def _name(result: Result) -> str:
    return f"{result.member.number} ({setting_words(result.member.setting)})"


def _cautions(results: Sequence[Result]) -> list[str]:
    """The cautions that apply to any wearer, each once; of readings the lowest hem and the hardest press."""
    lines: dict[str, None] = {}
    hem = _extreme(results, "fall.clearance_cm", min)
    throat = _extreme(results, "neck.throat_line_load_n_m", max)
    for result in results:
        scene = result.member.scene
        found = cautions(
            sex=scene.sex, stature=scene.tape.get("stature"), cloths=scene.layers, clearance_cm=hem,
            throat_line_load_n_m=throat, fastening=scene.style.fastening,
        )  # fmt: skip
        lines |= dict.fromkeys(found)
    return [*lines, "Whatever the age, let the neck fastening give way under a hard pull."]


def _extreme(results: Sequence[Result], key: str, choose: Any) -> float | None:
    values = [value_at(one.readings, key) for one in results if one.readings is not None]
    numbers = [float(value) for value in values if isinstance(value, (int, float))]
    return choose(numbers) if numbers else None


def _made(results: Sequence[Result]) -> str:
    """Versions of what reckoned, each kind once."""
    kinds: dict[str, Mapping[str, str]] = {repr(one.versions): one.versions for one in results if one.versions}
    said = ["; ".join(f"{name} {text}" for name, text in versions.items()) for versions in kinds.values()]
    return f"{' | '.join(said)}. A drawing is no substitute for a fitting on the wearer."
