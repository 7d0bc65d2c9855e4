"""What the person at the terminal is told meanwhile: lines, and one bar for the whole run, on stderr.

Comes in: words, and how far the run has come. Goes out: stderr; on a terminal a few lines rewritten, within its size:
the bar, below it a line for each run that goes on at the same time, above it a first table; in a file or a pipe a plain
line every few seconds. A thread writes too, so that no part of a run is silent, whatever holds the main thread. Only
`answer` touches stdout, which belongs to whoever reads our output.
"""

from __future__ import annotations

import contextlib
import math
import os
import shutil
import sys
import threading
import time
import unicodedata
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final, TextIO

from drape.plain import plain, plain_line
from drape.units import from_si

if TYPE_CHECKING:
    from drape.arrays import Floats, Ints

TICK: Final = 0.5  # [s] between looks of the thread
LIVE_SECONDS: Final = 0.2  # between two pictures of the line on a terminal
PLAIN_SECONDS: Final = 2.5  # between plain lines: never silent for more than three seconds
STILL_SECONDS: Final = 1.0  # before which a run that has told nothing shows nothing
SPARE: Final = 3  # columns left free, where a terminal shows ^C
LEAST_DONE, LEAST_SECONDS = 0.04, 3.0  # of the run, from which time left is told
PLAIN_COLUMNS: Final = 100  # of a plain line
FURTHEST: Final = 0.1  # [m] of movement to come; an estimate of more says nothing
UP, REST_OF_LINE, REST_OF_PAGE = "\x1b[{}A", "\x1b[K", "\x1b[J"  # ECMA-48: cursor up, erase in line, in page


@dataclass(frozen=True)
class Progress:
    """How far a run has come.

    part: of the chain. fraction: of the whole run's work done, 0 to 1. words: what is being done. remaining: estimated
    movement still to come [m]; None where it does not apply. is_timed: whether the share tells
    of time; not where the work was kept from before, or how much of it is to come is not known.
    has_share: whether the fraction is known at all; words and seconds are shown alone where it is not.
    each: where several runs go on at the same time, a line for each of them. shape: where the cloth is now, vertices
    (n, 3) [m] and triangles (m, 3), to be shown as it settles; not handed on from one process to another.
    """

    part: str
    fraction: float
    words: str
    remaining: float | None = None
    is_timed: bool = True
    has_share: bool = True
    each: tuple[str, ...] = ()
    shape: tuple[Floats, Ints] | None = field(default=None, compare=False)


Tell = Callable[[Progress], None]


def within(tell: Tell | None, start: float, share: float, words: str = "") -> Tell | None:
    """What a part of a run is to tell, when it begins at `start` and is such a `share` of the whole."""
    if tell is None:
        return None

    def told(progress: Progress) -> None:
        said = ": ".join(text for text in (words, progress.words) if text)
        tell(replace(progress, fraction=start + share * min(max(progress.fraction, 0.0), 1.0), words=said))

    return told


def parted(tell: Tell | None, costs: Mapping[str, float]) -> list[Tell | None]:
    """What each part of a run is to tell, when they come one after another and cost so much each; keyed by words."""
    whole, done, parts = sum(costs.values()), 0.0, []
    for words, cost in costs.items():
        parts.append(within(tell, done / whole, cost / whole, words))
        done += cost
    return parts


def counted(tell: Tell, total: int) -> Callable[[str], Callable[[int, int], None]]:
    """For `total` like parts of a run: given a part's words, what to call with tries done and tries in all."""
    begun = -1

    def part(words: str) -> Callable[[int, int], None]:
        nonlocal begun
        begun += 1
        start = begun / total
        tell(Progress("tries", start, words))
        return lambda done, tries: tell(Progress("tries", start + done / max(tries, 1) / total, words))

    return part


class Together:
    """Parts of a run that may go on at the same time, as one bar: each has its share of it by what it costs."""

    def __init__(self, tell: Tell | None, costs: Mapping[str, float], possible: Collection[str] = ()) -> None:
        """costs: of every part, keyed by its words, in the order in which they are wanted.

        possible: parts that may not be needed, and weigh nothing until they are wanted.
        """
        self.tell = tell or (lambda _: None)
        self.costs = dict(costs)
        self.possible = set(possible)
        self.done = dict.fromkeys(costs, 0.0)
        self.at_work: dict[str, Progress] = {}

    def wanted(self, words: str) -> None:
        """That a part is waited for now: what comes before it is done, or is not needed."""
        self.possible.discard(words)
        for one in self.costs:
            if one == words:
                return
            self.done[one] = 1.0
            self.at_work.pop(one, None)

    def fraction(self) -> float:
        """The share of the whole that is done, as far as is known what is needed."""
        needed = {words: cost for words, cost in self.costs.items() if words not in self.possible}
        return sum(cost * self.done[words] for words, cost in needed.items()) / sum(needed.values())

    def dropped(self, words: str) -> None:
        """That a part is not at work any more, and counts for nothing."""
        self.done[words] = 0.0
        self.at_work.pop(words, None)

    def ended(self, words: str) -> None:
        """That a part is done."""
        self.done[words] = 1.0
        self.at_work.pop(words, None)

    def part(self, words: str) -> Tell:
        """What a part is to call to tell how far it has come."""

        def told(progress: Progress) -> None:
            self.at_work[words] = progress
            self.done[words] = min(max(progress.fraction, 0.0), 1.0)
            fraction = self.fraction()
            if len(self.at_work) == 1:
                said = ": ".join(text for text in (words, progress.words) if text)
                self.tell(replace(progress, fraction=fraction, words=said))
                return
            last = min(self.at_work.values(), key=lambda one: one.fraction)
            said = f"{len(self.at_work)} side by side, slowest: {last.words}"
            self.tell(replace(last, fraction=fraction, words=said, each=self.lines()))

        return told

    def lines(self) -> tuple[str, ...]:
        """A line for each part at work: its words, the share done, what it does."""
        wide = max(width_of(words) for words in self.at_work)
        return tuple(
            f"  {words}{' ' * (wide - width_of(words))}  {percent(one.fraction)}  "
            + ", ".join([one.words, *to_go(one.remaining)])
            for words, one in self.at_work.items()
        )


# --- the line -----------------------------------------------------------------------------------


class Line:
    """The bar of one run. Its fraction never falls; time left comes from how fast the run has gone so far."""

    def __init__(
        self, *, live: bool, write: Callable[[str], object], clock: Callable[[], float] = time.monotonic,
        columns: Callable[[], int] | None = None, rows: Callable[[], int] | None = None,
    ) -> None:  # fmt: skip
        """rows: of the terminal, where its cursor can be moved up; None for a bar of one line."""
        self.live, self.write, self.clock, self.columns = live, write, clock, columns or terminal_columns
        self.rows = rows or (lambda: 1)
        self.above: tuple[str, ...] = ()  # a first table, until the run is done
        self.below: tuple[str, ...] = ()  # runs that go on at the same time
        self.height = 1  # lines that stand on the terminal
        self.lock = threading.RLock()
        self.began = self.shown_at = clock()
        self.fraction = self.earned = 0.0
        self.words = "starting"
        self.remaining: float | None = None
        self.has_share = True
        self.is_told = False
        self.told_at = self.began  # when the fraction last grew
        self.left: float | None = None  # [s], as it was then
        self.compiling_from: float | None = None
        self.loops: tuple[int, int] | None = None  # compiled, of how many, where all are compiled at once
        self.compiled = 0.0  # [s] spent compiling, no part of how fast the run goes
        self.width = 0  # columns of what stands on the terminal's line

    def tell(self, progress: Progress) -> None:
        """Takes in how far the run has come, and shows it when that is due."""
        with self.lock:
            now = self.clock()
            is_new = progress.words.partition(",")[0] != self.words.partition(",")[0]
            self.words, self.remaining, self.is_told = progress.words, progress.remaining, True
            self.has_share, self.below = progress.has_share, progress.each
            gained = min(progress.fraction, 1.0) - self.fraction
            if gained > 0.0:
                self.fraction += gained
                self.earned += gained if progress.is_timed else 0.0
                self.told_at, self.left = now, self._reckoned(now)
            due = LIVE_SECONDS if self.live else PLAIN_SECONDS
            if now - self.shown_at >= due or (is_new and not self.live):
                self._show(now)

    def tick(self) -> None:
        """Shows the line again if it has stood still: called by a thread."""
        with self.lock:
            now = self.clock()
            if now - self.began >= STILL_SECONDS and now - self.shown_at >= (TICK if self.live else PLAIN_SECONDS):
                self._show(now)

    def compiled_of(self, loops: tuple[int, int] | None) -> None:
        """Says how many inner loops are compiled of how many; None once all are."""
        with self.lock:
            self.loops = None
            self.compiling(loops is not None)
            self.loops = loops

    def compiling(self, is_on: bool) -> None:
        """Says that an inner loop is being compiled from now on, or no more."""
        with self.lock:
            if self.loops is not None:
                return
            now = self.clock()
            if is_on and self.compiling_from is None:
                self.compiling_from = now
            elif not is_on and self.compiling_from is not None:
                self.compiled += now - self.compiling_from
                self.told_at += now - self.compiling_from  # that time was none of the run's own
                self.compiling_from = None

    def show_first(self, whole: Sequence[str], added: Sequence[str]) -> None:
        """A first table: on a terminal the whole of it, above the bar until the run is done; else what was added."""
        with self.lock:
            if self.live and self.rows() > 1:
                self.above = tuple(whole)
                self._show(self.clock())
            else:
                self._erase()
                self.write("".join(f"{line}\n" for line in added))

    def say(self, line: str) -> None:
        """A line that stays, the bar going on below it."""
        with self.lock:
            self._erase()
            self.write(f"{line}\n")
            if self.live and self.is_told:
                self._show(self.clock())

    def close(self, *, done: bool) -> None:
        """Ends the line: with how long it all took, or, where the run broke off, leaving nothing of it."""
        with self.lock:
            self._erase()
            if done and self.is_told:
                self.write(f"{bar(1.0, self._columns())} {seconds_text(self.clock() - self.began)}\n")
            self.is_told = False
            self.above, self.below = (), ()

    def text(self, columns: int) -> str:
        """The line in so many columns: bar, seconds, time left, words."""
        now = self.clock()
        if self.compiling_from is not None:
            since = f"{seconds_text(self.compiled + now - self.compiling_from)} so far"
            if self.loops is None:
                return fitted([[bar(self.fraction, columns)]], [f"compiling the inner loops once, {since}"], columns)
            done, total = self.loops
            words = f"compiling the inner loops once, {done} of {total}"
            return fitted([[bar(done / total, columns)]], [words, since], columns)
        took, left = seconds_text(now - self.began), left_text(self._left(now))
        told = [*self.words.split(", "), *to_go(self.remaining)]
        heads = [f"{took}, {left} " if left else f"{took} so far ", f"{left or took} "]
        if not self.has_share:
            return fitted([[]], [self.words, f"{took} so far"], columns)
        begun = bar(self.fraction, columns)
        return fitted([*([begun, head] for head in heads), [begun]], told, columns)

    def _reckoned(self, now: float) -> float | None:
        """Time left [s], if what is to come goes as fast as what was done; None before that can be known."""
        paused = 0.0 if self.compiling_from is None else now - self.compiling_from
        active = now - self.began - self.compiled - paused
        if self.earned < LEAST_DONE or active < LEAST_SECONDS:
            return None
        return active / self.earned * (1.0 - self.fraction)

    def _left(self, now: float) -> float | None:
        """Time left [s] now; None where it is not known, or has run out."""
        left = None if self.left is None else self.left - (now - self.told_at)
        return left if left is not None and left > 0.0 else None

    def _show(self, now: float) -> None:
        self.shown_at = now
        if not self.live:
            self.write(f"{self.text(PLAIN_COLUMNS)}\n")
            return
        columns = self._columns()
        lines = self._fitting_lines(columns)
        text = lines[-1]
        if len(lines) == self.height == 1:
            self.write("\r" + text + " " * max(0, min(self.width, columns) - width_of(text)))
        else:
            drawn = f"{REST_OF_LINE}\n".join(lines)
            self.write(self._to_first_line() + drawn + REST_OF_PAGE)
        self.width, self.height = width_of(text), len(lines)

    def _fitting_lines(self, columns: int) -> list[str]:
        """The bar with what stands above and below it, as far as the terminal has room."""
        room = self.rows() - 2  # besides the bar; one stays free
        below = self.below if len(self.below) <= room else ()
        above = self.above if len(self.above) <= room - len(below) else ()
        return [*(clipped(line, columns) for line in above), self.text(columns),
                *(clipped(line, columns) for line in below)]  # fmt: skip

    def _to_first_line(self) -> str:
        return "\r" + (UP.format(self.height - 1) if self.height > 1 else "")

    def _erase(self) -> None:
        if self.height > 1:
            self.write(self._to_first_line() + REST_OF_PAGE)
        elif self.width:
            self.write("\r" + " " * min(self.width + SPARE, self._columns() + SPARE - 1) + "\r")
        self.width, self.height = 0, 1

    def _columns(self) -> int:
        return max(1, self.columns() - SPARE) if self.live else PLAIN_COLUMNS


def terminal_columns() -> int:
    """Columns of the terminal that stderr is, as they are now; stdout may be a file."""
    try:
        return os.get_terminal_size(sys.stderr.fileno()).columns or 80
    except (OSError, ValueError):
        return shutil.get_terminal_size().columns


def terminal_rows() -> int:
    """Rows of the terminal that stderr is; 1 where its cursor cannot be moved up."""
    if os.environ.get("TERM") == "dumb" or (sys.platform == "win32" and "WT_SESSION" not in os.environ):
        return 1
    try:
        return os.get_terminal_size(sys.stderr.fileno()).lines
    except (OSError, ValueError):
        return 1


def bar(fraction: float, columns: int) -> str:
    """The bar and the per cent done, rounded down: 100 is the end. A narrow terminal shows the per cent alone."""
    width = 20 if columns >= 95 else 10 if columns >= 60 else 0
    done = math.floor(width * fraction + 1e-9)
    return f"[{'#' * done}{'.' * (width - done)}] {percent(fraction)} " if width else f"{percent(fraction)} "


def percent(fraction: float) -> str:
    return f"{math.floor(100 * fraction + 1e-9):3d} %"


def to_go(remaining: float | None) -> list[str]:
    """Movement still to come [m] in words, when it is near enough to be known."""
    if remaining is None or not remaining < FURTHEST:
        return []
    mm = from_si("remaining_mm", remaining)
    return [f"{mm:.0f} mm to go" if mm >= 1.0 else "less than 1 mm to go"]


def left_text(left: float | None) -> str:
    """Time left [s] as roughly as it is known."""
    if left is None:
        return ""
    return "a few seconds left" if left < 7.5 else f"about {seconds_text(rough(left))} left"


def rough(seconds: float) -> float:
    """Seconds to the nearest 5 below a minute, 10 below two, 30 below ten, else whole minutes."""
    step = next(step for most, step in ((57.5, 5), (115.0, 10), (585.0, 30), (math.inf, 60)) if seconds < most)
    return step * round(seconds / step)


def seconds_text(seconds: float) -> str:
    """A time in words: 40 s, 2 min 30 s, 1 h 10 min."""
    whole = int(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min" + (f" {whole % 60} s" if whole % 60 else "")
    return f"{whole // 3600} h" + (f" {whole % 3600 // 60} min" if whole % 3600 >= 60 else "")


def fitted(heads: list[list[str]], words: list[str], columns: int) -> str:
    """What fits into so many columns: the first head that leaves room for the first clause, else the last, cut off."""
    begun = [" ".join([*head, words[0]]) for head in heads]
    text = next((one for one in begun if width_of(one) <= columns), clipped(begun[-1], columns))
    for clause in words[1:]:
        if width_of(f"{text}, {clause}") > columns:
            break
        text = f"{text}, {clause}"
    return text


def clipped(text: str, columns: int) -> str:
    """The beginning of a text that takes at most so many columns."""
    while width_of(text) > columns:
        text = text[:-1]
    return text


def width_of(text: str) -> int:
    """Columns a text takes on a terminal: two for a wide letter, none for an accent set over the one before."""
    wide = sum(unicodedata.east_asian_width(letter) in "WF" for letter in text)
    return len(text) + wide - sum(unicodedata.category(letter) in ("Mn", "Me", "Cf") for letter in text)


# --- the one line of this process ---------------------------------------------------------------

_lines: list[Line] = []  # the line that is open, if one is


@contextlib.contextmanager
def waiting() -> Iterator[None]:
    """While it is open, `tell` moves a bar, and nothing is silent for more than three seconds."""
    line = Line(live=sys.stderr.isatty(), write=_write, rows=terminal_rows)
    ended = threading.Event()

    def watch() -> None:
        while not ended.wait(TICK):
            line.tick()

    thread = threading.Thread(target=watch, daemon=True)
    _lines.append(line)
    thread.start()
    try:
        yield
    except KeyboardInterrupt:
        line.width = max(line.width, int(line.live))  # a terminal has put ^C there
        raise
    finally:
        ended.set()
        thread.join()
        line.close(done=False)
        _lines.remove(line)


def tell(progress: Progress) -> None:
    """How far the run has come, for the bar."""
    if _lines:
        shown = replace(progress, words=plain_line(progress.words), each=tuple(map(plain_line, progress.each)))
        _lines[-1].tell(shown)


def rest_of_run() -> Tell:
    """What the last part of a run tells: it has what is left of the bar."""
    done = _lines[-1].fraction if _lines else 0.0

    def told(progress: Progress) -> None:
        tell(replace(progress, fraction=done + (1.0 - done) * progress.fraction))

    return told


def tell_compiling(is_on: bool) -> None:
    """That inner loops are being compiled from now on, or no more."""
    if _lines:
        _lines[-1].compiling(is_on)


def show_first(whole: Sequence[str], added: Sequence[str]) -> None:
    """A first table, to be replaced when the run is done. added: what is new in it, for where nothing can be erased."""
    if _lines:
        _lines[-1].show_first(*(tuple(map(plain, lines)) for lines in (whole, added)))


def tell_compiled(loops: tuple[int, int] | None) -> None:
    """How many inner loops are compiled of how many, where all are compiled at once; None once they are."""
    if _lines:
        _lines[-1].compiled_of(loops)


def say(line: str) -> None:
    """A line for the person at the terminal, not for the program reading our output."""
    line = plain(line)
    if _lines:
        _lines[-1].say(line)
    else:
        _write(f"{line}\n")


def say_saved(out: Path) -> None:
    say(f"Saved in {out}{os.sep}")


unanswered: Final[list[OSError]] = []  # why standard output could not be written, if it could not


def answer(text: str) -> None:
    """What the run found, on stdout; the bar ends here. Where it cannot be written the run goes on."""
    if _lines:
        _lines[-1].close(done=True)
    try:
        print(plain(text), end="", flush=True)
    except OSError as error:
        unanswered.append(error)
        no_more(sys.stdout)


def _write(text: str) -> None:
    """For the person at the terminal. Where it cannot be shown, that is no reason to stop."""
    try:
        sys.stderr.write(text)
        sys.stderr.flush()
    except OSError:
        no_more(sys.stderr)


def no_more(stream: TextIO) -> None:
    """Lets what is written to a stream from now on, and at the end by Python itself, go nowhere."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, stream.fileno())
    os.close(nowhere)
