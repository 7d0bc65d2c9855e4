"""Mend: a draft with faults → the same draft with some dimensions changed, by how much found by trying.

In: a `Scene`. Out: a `Mended`: the settled draft before and after, each change with what it did, and the text of a new
scene file. Every try settles from the shape of the last good one; what is reported is settled afresh, from the usual
start. While one draft is tried, those that come next if it is no better are settled beside it, and left if it is; so
the search is the same however many processes there are. Writing files and saying how it goes are left to the caller.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, cast

import tomlkit

from drape.draft.cloak import draft_cloak
from drape.draft.dimensions import AIM, DIMENSIONS, WEDGE_FAULTS, Dimension, value_of, whole_millimetres, with_value
from drape.draft.outline import Draft
from drape.draft.style import SHOULDERS, Dart, Style, dart_place, with_placed_darts
from drape.errors import DraftError, MeshError, NotSettledError
from drape.fitting import clock
from drape.fitting.scene import Scene
from drape.fitting.settling_process import Job
from drape.fitting.side_by_side import ALONE, Crew, Door
from drape.fitting.sit import draft_of, figure_cut_for, halvings
from drape.plain import typed
from drape.progress import Tell
from drape.reading.result import Fitting, sheet_png
from drape.reading.table import PAGE_WIDTH, reading_words, value_at
from drape.reading.verdict import Held, held, spoken
from drape.units import bare_name, from_si

LEFT_ALONE: Final = ("level_cm", "opening_cm")  # levelled from the floor once the cloak hangs; covered by an overlap
BARE: Final = 10.0  # what a reading that has gone counts, a shoulder left bare
LEAST_GAIN: Final = 0.02  # of a try, in the measure of `faultiness` and as a share of it; less is chance
MOST_AT_ONCE: Final = 8  # drafts; of more, the last would seldom be wanted
LEAST_STEP: Final = 0.004  # [m] a search with smaller steps measures chance


@dataclass(frozen=True)
class Change:
    """One change of the draft and the reading it bettered most. value, after: of the dimension, in its key's unit."""

    dimension: Dimension | None  # None: dart and shoulder cuts put in
    value: float
    after: float
    reading: str
    reading_before: float
    reading_after: float

    @property
    def words(self) -> str:
        """What to change, by how much, and what it does, as a sentence."""
        words, unit = reading_words(self.reading)
        effect = f"{words}, {self.reading_before:.1f} to {self.reading_after:.1f} {unit}."
        if self.dimension is None:
            return f"Put in a dart and shoulder cuts as the shoulders slope, with a shaped neck: {effect}"
        by = self.after - self.value
        way = self.dimension.more if by > 0 else self.dimension.less
        return f"{way[0].upper()}{way[1:]} by {abs(by):.1f} cm, from {self.value:.1f} to {self.after:.1f}: {effect}"


@dataclass(frozen=True, repr=False)
class Mended:
    """The outcome: before and after, both settled from the usual start; after is None when nothing better was found.

    scene: with the changes in it. changes: in the order in which they were found; their effects are those of the tries.
    tried: how many were settled.
    """

    before: Fitting
    after: Fitting | None
    scene: Scene
    changes: tuple[Change, ...]
    tried: int
    limits: Mapping[str, float]
    edge_length: float  # of the triangles all of them settled on [m]

    def __repr__(self) -> str:
        found = "; ".join(change.words for change in self.changes) or "no change"
        return f"<Mended {self.before.name}: {self.tried} tried, {found}>"

    def _repr_png_(self) -> bytes | None:
        return sheet_png([self.before, *([self.after] if self.after else [])])

    @property
    def is_better(self) -> bool:
        """Whether the draft settled afresh is less at fault than the one it came from."""
        if self.after is None:
            return False
        return faultiness(self.after.readings, self.limits) < faultiness(self.before.readings, self.limits)


@dataclass(frozen=True)
class Place:
    """Where the search stands: a draft, how it sits, how far at fault."""

    style: Style
    fitting: Fitting
    badness: float

    @property
    def draft(self) -> Draft:
        """The draft that was settled; only a fitting loaded from a file has none."""
        return cast(Draft, self.fitting.draft)


def to_mend(readings: Mapping[str, Any], limits: Mapping[str, float]) -> list[Held]:
    """The readings at fault that a change of the draft may better."""
    every = spoken(held(readings, limits))
    return [one for one in every if one.is_fault and one.check.limit not in LEFT_ALONE]


def share_of(one: Held) -> float:
    """A reading as a share of its limit: 1 at the limit, more beyond it."""
    return 1.0 + one.excess / max(abs(one.limit), 1e-9)


def penalty(one: Held) -> float:
    """What a reading adds to the faultiness: the square of how far its share of the limit is above AIM."""
    return max(0.0, share_of(one) - AIM) ** 2


def faultiness(readings: Mapping[str, Any], limits: Mapping[str, float]) -> float:
    """How far a draft is at fault: the sum of `penalty` over its readings, and BARE for a shoulder without cloth."""
    bare = sum(readings[f"shoulder_{side}"]["stand_off_mean_cm"] is None for side in ("left", "right"))
    return BARE * bare + sum(penalty(one) for one in held(readings, limits) if one.check.limit not in LEFT_ALONE)


def mend(
    scene: Scene,
    *,
    edge_length: float,
    tries: int,
    name: Callable[[Mended], str],
    seed: int = 0,
    progress: Tell | None = None,
    tell: Callable[[str], None] = lambda _: None,
    door: Door = ALONE,
) -> Mended:
    """The scene's draft mended as far as `tries` settlings from a warm start bring it, then settled afresh.

    A search along one dimension after another, those first that may cure the worst fault: a step one way or the other,
    on while it betters, halved where it does not (Hooke and Jeeves 1961 without their pattern move; from memory).
    Dimensions are whole millimetres. Tries leave piecing seams out: another neck may be pieced otherwise. name: what
    to call what was found, asked before that is settled. door: where drafts are settled, and how many at a time.
    Raises: NotSettledError if the draft as it is, or the mended one, does not settle.
    """
    with Crew(door.count, _costs(edge_length, tries), tell=progress, far=door.far) as crew:
        as_it_is = Job(AS_IT_IS, scene, edge_length, seed)
        plain = Job(UNPIECED, replace(scene, cutting=replace(scene.cutting, sewn=False)), edge_length, seed)
        is_pieced = bool(draft_of(scene, figure_cut_for(scene)).piecing)
        before = crew.settle(as_it_is, [plain] if is_pieced else [])
        if not to_mend(before.readings, scene.limits):
            return Mended(before, None, scene, (), 0, scene.limits, edge_length)
        first = crew.settle(plain) if is_pieced else before
        first = replace(first, grip=None)  # as one kept from earlier has none: the search finds the same either way
        search = Search(plain, crew, tries, tell)
        here = Place(with_placed_darts(scene.style), first, faultiness(first.readings, scene.limits))
        here = search.along_dimensions(search.with_wedges(here))
        if not search.changes:
            return Mended(before, None, scene, (), search.tried, scene.limits, edge_length)
        mended = replace(scene, style=here.style, title=f"{scene.title}, mended", expect="")
        found = Mended(before, None, mended, gathered(search.changes), search.tried, scene.limits, edge_length)
        mended = replace(mended, name=name(found))
        return replace(found, scene=mended, after=crew.settle(Job(AFRESH, mended, edge_length, seed)))


AS_IT_IS, UNPIECED, AFRESH = "as it is", "without its piecing", "mended, afresh"


def _costs(edge_length: float, tries: int) -> dict[str, float]:
    """What each part of a search is expected to cost, keyed by words;
    a draft that is not pieced passes over the second.
    """
    levels = halvings(edge_length) + 1
    first, again = clock.cost(levels), clock.cost(levels, is_warm=True)
    costs = {AS_IT_IS: first, UNPIECED: 0.1 * first}
    costs |= {_nth(k, tries): again for k in range(1, tries + 1)}
    return costs | {AFRESH: first}


def _nth(number: int, tries: int) -> str:
    return f"try {number} of {tries}"


# --- the search -------------------------------------------------------------------------------


@dataclass(frozen=True)
class Poll:
    """What is to be tried next from a place: steps along one dimension after another, one way, then the other.

    first: values from which no dimension goes further than its reach [m]. step, way: of the next step along each
    dimension. round: dimensions still to come, that at work among them. ways: still to be tried along it. has_moved:
    whether a step along it was kept; is_better: whether any was, in this round.
    """

    here: Place
    first: Mapping[Dimension, float | None]
    step: Mapping[Dimension, float]
    way: Mapping[Dimension, float]
    round: tuple[Dimension, ...] = ()
    ways: tuple[float, ...] = ()
    has_moved: bool = False
    is_better: bool = True

    def after(self, there: Place | None) -> Poll:
        """What is to be tried once a step has led to a better place, or with None has not."""
        d = self.round[0]
        if there is not None:
            way = {**self.way, d: self.ways[0]}
            return replace(self, here=there, way=way, has_moved=True, is_better=True)
        if self.has_moved:
            return self._next_dimension()
        if len(self.ways) > 1:
            return replace(self, ways=self.ways[1:])
        return replace(self, step={**self.step, d: self.step[d] / 2})._next_dimension()

    def _next_dimension(self) -> Poll:
        return replace(self, round=self.round[1:], ways=(), has_moved=False)

    def is_open(self, d: Dimension) -> bool:
        """Whether a dimension has a value to be changed, and steps that measure more than chance."""
        return self.first[d] is not None and self.step[d] >= LEAST_STEP

    def goal(self) -> float | None:
        """The next value [m]; None where the dimension at work cannot go that way."""
        d, sign = self.round[0], self.ways[0]
        value, first = value_of(self.here.style, self.here.draft, d) or 0.0, self.first[d] or 0.0
        goal = whole_millimetres(d.key, min(max(value + sign * self.step[d], first - d.reach), first + d.reach))
        return None if goal <= 0 or abs(goal - value) < 1e-6 else goal

    def ready(self, limits: Mapping[str, float]) -> Poll | None:
        """The same with a step that can be tried; None at the end of the search."""
        poll = self
        while True:
            if not poll.round:
                coming = worth_trying(poll.here, limits)
                if not poll.is_better and not any(map(poll.is_open, coming)):
                    return None
                poll = replace(poll, round=tuple(coming), ways=(), has_moved=False, is_better=False)
                if not coming:
                    return None
            d = poll.round[0]
            if not poll.is_open(d):
                poll = poll._next_dimension()
            elif not poll.ways:
                poll = replace(poll, ways=(poll.way[d], -poll.way[d]))
            elif poll.goal() is None:
                poll = poll.after(None)
            else:
                return poll


class Search:
    """The tries so far, and what they are made with."""

    def __init__(self, plain: Job, crew: Crew, tries: int, tell: Callable[[str], None]) -> None:
        """plain: the draft as it is, without piecing. tries: at most."""
        self.plain, self.crew, self.most, self.tell = plain, crew, tries, tell
        self.limits = plain.scene.limits
        self.tried = 0
        self.changes: list[Change] = []
        self.ahead: dict[Style, Job] = {}  # from the present place

    def job(self, style: Style, before: Fitting | None, number: int) -> Job:
        """The job of a try: the one that is ahead already, where there is one."""
        scene, words = replace(self.plain.scene, style=style), _nth(number, self.most)
        made = Job(words, scene, self.plain.edge_length, self.plain.seed, False, before)
        return self.ahead.get(style, made)

    def attempt(self, style: Style, before: Fitting | None, words: str, ahead: Sequence[Job] = ()) -> Place | None:
        """The place a style comes to, from the shape of an earlier fitting; None when it cannot be drawn or settled."""
        self.tried += 1
        job = self.job(style, before, self.tried)
        self.ahead = {one.scene.style: one for one in ahead}
        try:
            fitting = self.crew.settle(job, ahead)
        except (DraftError, MeshError, NotSettledError) as error:
            self.tell(f"{_nth(self.tried, self.most)}, {words}: no. {str(error).partition(': ')[2]}")
            return None
        return Place(style, fitting, faultiness(fitting.readings, self.limits))

    def said(self, words: str, here: Place, there: Place, *, is_kept: bool) -> None:
        """Tells how a try came out."""
        verdict = "kept" if is_kept else "not kept"
        self.tell(
            f"{_nth(self.tried, self.most)}, {words}: {verdict}, "
            f"faults {here.badness:.2f} before, {there.badness:.2f} now"
        )

    def with_wedges(self, here: Place) -> Place:
        """The place with dart and shoulder cuts as the shoulders slope, where cloth stands off for want of them."""
        if not any(one.check.limit in WEDGE_FAULTS for one in to_mend(here.fitting.readings, self.limits)):
            return here
        style = wedged(here.style, self.plain.scene)
        if style == here.style:
            return here
        words = "with dart and shoulder cuts"
        there = self.attempt(style, None, words)
        if there is None:
            return here
        is_kept = there.badness < here.badness
        self.said(words, here, there, is_kept=is_kept)
        if not is_kept:
            return here
        self.changes.append(change_of(None, 0.0, 0.0, here, there, self.limits))
        return there

    def along_dimensions(self, here: Place) -> Place:
        """The best place found by stepping along one dimension after another."""
        first = {d: value_of(here.style, here.draft, d) for d in DIMENSIONS}
        poll = Poll(here, first, {d: d.step for d in DIMENSIONS}, dict.fromkeys(DIMENSIONS, 1.0))
        while (coming := poll.ready(self.limits)) is not None and self.tried < self.most:
            poll = coming.after(self.step_along(coming))
        return poll.here

    def step_along(self, poll: Poll) -> Place | None:
        """The place a step leads to; None when it is no better."""
        d, sign, here, goal = poll.round[0], poll.ways[0], poll.here, cast(float, poll.goal())
        words = f"{(d.more if sign > 0 else d.less)} to {from_si(d.key, goal):.1f} cm"
        style, *ahead = self.styles_ahead(poll)
        jobs = [self.job(one, here.fitting, self.tried + 2 + k) for k, one in enumerate(ahead)]
        there = self.attempt(style, here.fitting, words, jobs)
        if there is None:
            return None
        is_kept = there.badness < here.badness * (1 - LEAST_GAIN) - LEAST_GAIN
        self.said(words, here, there, is_kept=is_kept)
        if not is_kept:
            return None
        self.ahead = {}
        value = value_of(here.style, here.draft, d) or 0.0
        self.changes.append(change_of(d, from_si(d.key, value), from_si(d.key, goal), here, there, self.limits))
        return there

    def styles_ahead(self, poll: Poll) -> list[Style]:
        """The style that is to be tried, and those that follow if none of them is better: one for each process."""
        styles: list[Style] = []
        now: Poll | None = poll
        while now is not None and len(styles) < min(self.crew.count, self.most - self.tried, MOST_AT_ONCE):
            goal = cast(float, now.goal())
            styles.append(with_value(now.here.style, now.here.draft, now.round[0], goal))
            now = now.after(None).ready(self.limits)
        return styles


def worth_trying(here: Place, limits: Mapping[str, float]) -> list[Dimension]:
    """The dimensions that may better a reading above AIM, those of the worst reading first."""
    worst = sorted(held(here.fitting.readings, limits), key=penalty, reverse=True)
    names = [one.check.limit for one in worst if penalty(one) > 0 and one.check.limit not in LEFT_ALONE]
    ranked = {d: min(names.index(c) for c in d.cures if c in names) for d in DIMENSIONS if set(d.cures) & set(names)}
    return sorted(ranked, key=lambda d: ranked[d])


def wedged(style: Style, scene: Scene) -> Style:
    """The style with a wedge over either shoulder where it has none, worked out from the figure, on a shaped neck.

    Where the closure lies on a shoulder that is its cuts, elsewhere a dart. A drawn neck stays as drawn.
    """
    figure = figure_cut_for(scene)
    draft = draft_cloak(style, figure)
    on_shoulder = style.closure_place in SHOULDERS
    wants_cuts = on_shoulder and draft.dimensions["shoulder_cut_intake"] == 0
    sewn = {dart.place for dart in draft.darts}
    missing = [place for place in SHOULDERS if place not in sewn and place != style.closure_place]
    if not missing and not wants_cuts:
        return style
    plain: dict[str, Any] = {"front_neck_depth": None, "back_neck_depth": None, "neck_width": None, "neck": "tailored"}
    cuts: dict[str, Any] = {"shoulder_cut_intake": None, "shoulder_cut_length": None} if wants_cuts else {}
    kept = tuple(dart for dart in style.darts if dart_place(style, dart) not in missing)
    darts = (*kept, *(Dart(place=place) for place in missing))
    opened = replace(style, darts=darts, **cuts, **(plain if style.neck == "round" else {}))
    found = draft_cloak(opened, figure)
    for d in DIMENSIONS:
        value = value_of(opened, found, d)
        if d.key.endswith("intake_cm") and value is not None:
            opened = with_value(opened, found, d, whole_millimetres(d.key, value))
    return opened


def change_of(
    d: Dimension | None, value: float, after: float, here: Place, there: Place, limits: Mapping[str, float]
) -> Change:
    """A change with the reading whose penalty it lowered most."""
    was = {one.check: one for one in held(here.fitting.readings, limits)}
    now = {one.check: one for one in held(there.fitting.readings, limits)}
    both = [check for check in was if check in now and check.limit not in LEFT_ALONE]
    most = max(both, key=lambda check: penalty(was[check]) - penalty(now[check]))
    return Change(d, value, after, most.key, was[most].value, now[most].value)


def gathered(changes: Sequence[Change]) -> tuple[Change, ...]:
    """The changes with several of one dimension made one, from its first value to its last."""
    found: dict[Dimension | None, Change] = {}
    for change in changes:
        first = found.get(change.dimension)
        if first is None:
            found[change.dimension] = change
        elif first.reading == change.reading:
            found[change.dimension] = replace(first, after=change.after, reading_after=change.reading_after)
        else:
            found[change.dimension] = replace(first, after=change.after)
    return tuple(c for c in found.values() if c.dimension is None or abs(c.after - c.value) > 0.05)


# --- the new scene file ------------------------------------------------------------------------


def mended_text(text: str, mended: Mended, source: str) -> str:
    """The text of a scene file with the mended dimensions in it, its notes and everything else as they were.

    source: name of the scene it came from.
    """
    document = tomlkit.parse(text)
    style = mended.scene.style
    document["title"] = f"{document['title']}, mended"
    document["expect"] = f"Mended from {source}. " + " ".join(change.words for change in mended.changes)
    draft = document["draft"]
    if draft["neck"] != style.neck:
        draft["neck"] = style.neck
        for key in ("front_neck_depth_cm", "back_neck_depth_cm", "neck_width_cm"):
            draft.pop(key, None)
    for d in DIMENSIONS:
        if d.table != "dart":
            write_length(document, d.table, d.key, getattr(style, bare_name(d.key)))
    darts = document.setdefault("dart", tomlkit.aot()) if style.darts else []
    for k, dart in enumerate(style.darts):
        if k == len(darts):
            darts.append(tomlkit.item({"place": dart.place}))
        elif dart.place is not None:
            darts[k]["place"] = dart.place
        for key in ("intake_cm", "length_cm"):
            write_length(darts, k, key, getattr(dart, bare_name(key)))
    return tomlkit.dumps(document)


def write_length(tables: Any, name: str | int, key: str, value: float | None) -> None:
    """A length [m] under a key of a table that is made if it is not there; None takes the key out."""
    if value is None:
        if isinstance(name, int) or name in tables:
            tables[name].pop(key, None)
        return
    if isinstance(name, str) and name not in tables:
        tables[name] = tomlkit.table()
    tables[name][key] = round(from_si(key, value), 6)


# --- what is said ------------------------------------------------------------------------------


def mended_words(mended: Mended, new_scene: str, given: str) -> str:
    """What was found, a paragraph, then a line for each change; to stand above the table of both drafts.

    new_scene: the file written, or "". given: the scene it came from, as the maker named it.
    """
    limits = mended.limits
    if not to_mend(mended.before.readings, limits):
        head = "Nothing to mend by trying: no reading that a try can better is certainly beyond its limit."
        if any(one.get("changes") for one in mended.before.readings.get("verdicts") or ()):
            head += " The verdicts below still advise a change: you may write it into the scene yourself."
    elif mended.after is None:
        head = f"{mended.tried} drafts were tried. None has fewer faults than this one."
    else:
        was, now = (faultiness(f.readings, limits) for f in (mended.before, mended.after))
        how = (
            f"{mended.tried} drafts were tried. The best was settled afresh, and its faults have "
            f"{'fallen' if now < was else 'not fallen'}: {was:.1f} before, {now:.1f} now; 0 is none. (Each reading is "
            f"divided by its limit; what is above {AIM:g} is squared, and all are added up.)"
        )
        head = f"{how} Written to {new_scene}." if new_scene else how
    head += (
        f" To cut the mended draft: drape cut {typed(new_scene)}"
        if new_scene
        else _nothing_written(mended.before.readings, given)
    )
    lines = textwrap.wrap(head, PAGE_WIDTH, break_long_words=False, break_on_hyphens=False)
    if mended.edge_length > mended.scene.edge_length + 1e-9:
        lines += textwrap.wrap(_coarser(mended), PAGE_WIDTH)
    if mended.changes:
        lines += ["", "Changes, each with the reading it helped most:"]
        for change in mended.changes:
            lines += textwrap.wrap(f"- {change.words}", PAGE_WIDTH, subsequent_indent="  ")
    return "\n".join(lines) + "\n"


def _nothing_written(readings: Mapping[str, Any], given: str) -> str:
    """What to do with the draft as it was given: cut it, unless it certainly does not sit."""
    if "no" in (value_at(readings, "conclusion.sits") or {}).values():
        return " No scene was written. As it is, the draft does not sit; what to change by hand stands below."
    return f" No scene was written; the draft to cut is the one you gave: drape cut {typed(given)}"


def _coarser(mended: Mended) -> str:
    coarse, own = (from_si("edge_length_cm", length) for length in (mended.edge_length, mended.scene.edge_length))
    return f"Read on triangles of {coarse:g} cm, to be quick; sit takes {own:g} cm, so its figures differ a little."


def mended_object(mended: Mended, new_scene: str) -> dict[str, Any]:
    """The outcome as JSON shows it; without a mended draft, `after` is null."""
    return {
        "scene": mended.before.name,
        "mended": mended.is_better,
        "new_scene": new_scene or None,
        "tried": mended.tried,
        "edge_length_cm": round(from_si("edge_length_cm", mended.edge_length), 4),
        "changes": [
            {
                "words": change.words,
                "table": change.dimension.table if change.dimension else None,
                "key": change.dimension.key if change.dimension else None,
                "from_cm": round(change.value, 2),
                "to_cm": round(change.after, 2),
                "reading": change.reading,
                "before": change.reading_before,
                "after": change.reading_after,
            }
            for change in mended.changes
        ],
        "before": mended.before.readings,
        "after": mended.after.readings if mended.after else None,
    }
