"""The bar that a maker waits by: never back, never silent, never wider than the terminal, honest about time left."""

from __future__ import annotations

import itertools
import re

import pytest
from hostile import STEERING

from drape.progress import (
    Line,
    Progress,
    Together,
    answer,
    bar,
    counted,
    left_text,
    parted,
    say,
    show_first,
    tell,
    to_go,
    waiting,
    width_of,
)


class Terminal:
    """What is written, and a clock that a test moves."""

    def __init__(self, columns: int = 80, *, live: bool = True, rows: int = 1) -> None:
        self.written: list[tuple[float, str]] = []
        self.now, self.columns = 0.0, columns
        self.line = Line(
            live=live, write=lambda text: self.written.append((self.now, text)), clock=lambda: self.now,
            columns=lambda: self.columns, rows=lambda: rows,
        )  # fmt: skip

    def told(self, seconds: float, fraction: float, words: str = "settling", **more: object) -> None:
        self.now += seconds
        self.line.tell(Progress("settle", fraction, words, **more))

    def shown(self) -> str:
        return self.written[-1][1].strip("\r\n ")

    def screen(self) -> list[str]:
        """The lines that stand on a terminal once it has obeyed all that was written, without those left empty."""
        lines, row, column = [""], 0, 0
        for part in re.findall(r"\x1b\[\d*[A-Z]|.|\n|\r", "".join(text for _, text in self.written)):
            if part.endswith("A") and part[0] == "\x1b":
                row -= int(part[2:-1])
            elif part == "\x1b[K":
                lines[row] = lines[row][:column]
            elif part == "\x1b[J":
                lines[row:] = [lines[row][:column]]
            elif part == "\n":  # which the terminal's driver begins at its left
                row, column = row + 1, 0
                lines += [""] * (row + 1 - len(lines))
            elif part == "\r":
                column = 0
            else:
                lines[row] = lines[row][:column].ljust(column) + part + lines[row][column + 1 :]
                column += 1
        return [line.rstrip() for line in lines if line.strip()]


def percents(terminal: Terminal) -> list[int]:
    return [int(found) for _, text in terminal.written for found in re.findall(r"(\d+) %", text)]


@pytest.mark.parametrize("live", [True, False])
def test_the_bar_never_goes_back(live):
    terminal = Terminal(live=live)
    for fraction in (0.1, 0.4, 0.2, 0.35, 0.6, 0.0, 1.5):
        terminal.told(3.0, fraction)
    assert percents(terminal) == [10, 40, 40, 40, 60, 60, 100]


@pytest.mark.parametrize("columns", [20, 38, 60, 80, 120])
@pytest.mark.parametrize("words", ["settling, 12,500 points", "ferry 渡し守の外套 nº 5 é: settling, 12,500 points"])
def test_it_stays_within_the_width_even_of_a_terminal_made_narrower(columns, words):
    terminal = Terminal(160)
    terminal.told(5.0, 0.5, words, remaining=0.007)
    terminal.columns = columns
    before = len(terminal.written)
    terminal.told(5.0, 0.6, words, remaining=0.006)
    terminal.line.say("a line that stays")
    drawn = [text for _, text in terminal.written[before:] if "%" in text]
    assert drawn and all(width_of(text.strip("\r")) < columns for text in drawn)


def test_the_words_of_a_long_settling():
    terminal = Terminal(100)
    terminal.told(20.0, 0.25, "settling, 12,500 points")
    terminal.told(20.0, 0.5, "settling, 12,500 points", remaining=0.0071)
    assert (
        terminal.shown() == "[##########..........]  50 %  40 s, about 40 s left  settling, 12,500 points, 7 mm to go"
    )


def test_a_narrow_terminal_keeps_the_words_and_shortens_the_times():
    terminal = Terminal(60)
    terminal.told(60.0, 0.3, "cloth 140 cm wide: piecing")
    assert terminal.shown() == "30 %  about 2 min 30 s left  cloth 140 cm wide: piecing"
    terminal.columns = 40
    terminal.told(1.0, 0.3, "cloth 140 cm wide: piecing")
    assert terminal.shown() == "30 %  cloth 140 cm wide: piecing"


def test_time_left_is_told_only_when_it_is_known_and_what_was_kept_tells_nothing_of_it():
    terminal = Terminal(100)
    terminal.told(1.0, 0.01)
    assert "left" not in terminal.shown()
    terminal.told(1.0, 0.5, is_timed=False)
    assert "left" not in terminal.shown()
    terminal.told(8.0, 0.6)  # 11 of 100 in 10 s: 40 to come
    assert "about 35 s left" in terminal.shown()
    terminal.now += 60.0  # longer than reckoned: no time is better than a wrong one
    terminal.line.tick()
    assert "left" not in terminal.shown()


@pytest.mark.parametrize("live", [True, False])
def test_a_silent_part_goes_on_ticking(live):
    terminal = Terminal(live=live)
    terminal.told(0.5, 0.1, "drawing the pictures")
    for _ in range(60):
        terminal.now += 0.5
        terminal.line.tick()
    times = [0.0, *(when for when, _ in terminal.written)]
    assert max(b - a for a, b in itertools.pairwise(times)) <= 3.0
    assert "30 s so far" in terminal.shown() and "drawing the pictures" in terminal.shown()


def test_compiling_ticks_and_is_no_part_of_how_fast_the_run_goes():
    terminal = Terminal()
    terminal.line.compiling(True)
    terminal.now += 20.0
    terminal.line.tick()
    assert "compiling the inner loops once, 20 s so far" in terminal.shown()
    terminal.line.compiling(False)
    terminal.told(10.0, 0.5)
    assert "about 10 s left" in terminal.shown()


def test_the_bar_shows_how_many_loops_are_compiled_and_then_begins_afresh():
    terminal = Terminal()
    for done in (1, 15):
        terminal.line.compiled_of((done, 60))
        terminal.line.compiling(True)  # one by one, besides: that changes nothing
        terminal.line.compiling(False)
        terminal.now += 10.0
        terminal.line.tick()
    assert "[##........]  25 %  compiling the inner loops once, 15 of 60, 20 s so far" in terminal.shown()
    terminal.line.compiled_of(None)
    terminal.told(10.0, 0.5)
    assert "50 %" in terminal.shown() and "about 10 s left" in terminal.shown()


def test_a_line_that_stays_and_the_end_leave_the_terminal_clean():
    terminal = Terminal()
    terminal.told(1.0, 0.5)
    width = len(terminal.written[-1][1].strip("\r"))
    terminal.line.say("a word")
    erased, said, again = (text for _, text in terminal.written[-3:])
    assert erased.strip("\r") == " " * len(erased.strip("\r")) and len(erased.strip("\r")) >= width
    assert said == "a word\n" and "50 %" in again
    terminal.line.close(done=False)
    assert terminal.written[-1][1].strip(" \r") == "" and terminal.written[-1][1].endswith("\r")
    terminal.told(1.0, 0.6)
    terminal.line.close(done=True)
    assert terminal.written[-1][1].startswith(bar(1.0, 77)) and terminal.written[-1][1].endswith("\n")


def test_parts_of_a_run_share_the_bar_by_what_they_cost():
    told: list[Progress] = []
    first, second = parted(told.append, {"run 1 of 2": 1.0, "run 2 of 2": 3.0})
    first(Progress("settle", 0.5, "settling"))
    second(Progress("settle", 0.5, "settling"))
    assert [(p.fraction, p.words) for p in told] == [(0.125, "run 1 of 2: settling"), (0.625, "run 2 of 2: settling")]
    told.clear()
    part = counted(told.append, 2)
    part("piecing")(1, 2)
    part("lay")(2, 2)
    assert [p.fraction for p in told] == [0.0, 0.25, 0.5, 1.0]


def test_numbers_are_as_rough_as_they_are_known():
    assert left_text(3.0) == "a few seconds left" and left_text(42.0) == "about 40 s left"
    assert left_text(200.0) == "about 3 min 30 s left" and left_text(4000.0) == "about 1 h 7 min left"
    assert to_go(0.0004) == ["less than 1 mm to go"] and to_go(0.5) == to_go(float("inf")) == to_go(None) == []


def test_work_whose_share_is_not_known_shows_words_and_seconds_and_no_percentage():
    terminal = Terminal(live=False)
    terminal.told(0.0, 0.0, "drawing: report", has_share=False)
    terminal.now += 12.0
    terminal.line.tick()
    assert terminal.shown() == "drawing: report, 12 s so far"


# --- several runs at a time ---------------------------------------------------------------------


def two_runs(terminal: Terminal) -> Together:
    """Two runs that cost the same, then pictures; 40 and 20 per cent done."""
    together = Together(terminal.line.tell, {"round": 4.0, "long, of wool": 4.0, "pictures": 2.0})
    terminal.now += 5.0
    together.wanted("round")
    together.part("round")(Progress("settle", 0.4, "settling, 822 points", remaining=0.0071))
    terminal.now += 5.0
    together.part("long, of wool")(Progress("settle", 0.2, "shaking it down, 890 points"))
    return together


def test_two_runs_share_the_bar_and_have_a_line_each_on_a_terminal():
    terminal = Terminal(100, rows=24)
    together = two_runs(terminal)
    assert terminal.screen() == [
        "[####................]  24 %  10 s, about 30 s left  2 side by side, slowest: shaking it down",
        "  round           40 %  settling, 822 points, 7 mm to go",
        "  long, of wool   20 %  shaking it down, 890 points",
    ]
    terminal.line.say("a word")
    assert terminal.screen()[0] == "a word" and len(terminal.screen()) == 4
    together.ended("round")
    terminal.now += 5.0
    together.part("long, of wool")(Progress("settle", 0.5, "settling, 890 points"))
    assert [line.partition("left  ")[2] for line in terminal.screen()[1:]] == ["long, of wool: settling, 890 points"]
    assert " 60 % " in terminal.screen()[1]


@pytest.mark.parametrize(("live", "rows"), [(False, 24), (True, 1), (True, 3)])
def test_where_lines_cannot_be_rewritten_two_runs_are_told_in_one(live, rows):
    terminal = Terminal(100, live=live, rows=rows)
    two_runs(terminal)
    assert "\x1b" not in "".join(text for _, text in terminal.written)
    assert "2 side by side, slowest: shaking it down" in terminal.shown() and " 24 % " in terminal.shown()


def test_a_run_that_is_not_wanted_any_more_counts_for_nothing_and_one_passed_over_as_done():
    told: list[Progress] = []
    together = Together(told.append, dict.fromkeys(("a", "b", "c", "d"), 1.0))
    together.wanted("a")
    together.part("a")(Progress("settle", 0.5, "settling"))
    together.part("b")(Progress("settle", 0.5, "settling"))
    together.dropped("b")
    together.part("a")(Progress("settle", 0.6, "settling"))
    together.wanted("d")
    together.part("d")(Progress("settle", 0.0, "settling"))
    assert [one.fraction for one in told] == pytest.approx([0.125, 0.25, 0.15, 0.75])
    assert [bool(one.each) for one in told] == [False, True, False, False]


def test_a_first_table_stands_above_the_bar_and_is_gone_when_the_run_is_done():
    terminal = Terminal(100, rows=24)
    two_runs(terminal)
    terminal.line.show_first(["coarse", "neck 1.0"], ["coarse", "neck 1.0"])
    terminal.line.show_first(["coarse", "neck 1.0 2.0"], ["coarse", "neck 2.0"])
    assert terminal.screen()[:2] == ["coarse", "neck 1.0 2.0"] and len(terminal.screen()) == 5
    terminal.line.close(done=True)
    (left,) = terminal.screen()
    assert left.startswith("[####################] 100 %")


@pytest.mark.parametrize("live", [True, False])
def test_where_nothing_can_be_erased_a_first_table_is_written_once(live):
    terminal = Terminal(100, live=live)
    terminal.told(5.0, 0.5)
    terminal.line.show_first(["coarse", "neck 1.0"], ["coarse", "neck 1.0"])
    terminal.line.show_first(["coarse", "neck 1.0 2.0"], ["coarse", "neck 2.0"])
    terminal.told(5.0, 0.7)
    assert [line for line in "".join(text for _, text in terminal.written).splitlines() if "neck" in line] == [
        "neck 1.0", "neck 2.0",
    ]  # fmt: skip
    assert "\x1b" not in "".join(text for _, text in terminal.written)


def test_parts_that_may_not_be_needed_weigh_nothing_until_they_are_wanted() -> None:
    together = Together(None, {"start 1": 1.0, "start 2": 1.0, "start 3": 1.0, "pictures": 2.0}, ["start 2", "start 3"])
    together.wanted("start 1")
    together.ended("start 1")
    assert together.fraction() == pytest.approx(1 / 3)
    together.wanted("start 2")
    assert together.fraction() == pytest.approx(1 / 4)
    together.wanted("pictures")  # start 3 was never needed
    together.ended("pictures")
    assert together.fraction() == pytest.approx(1.0)


def test_no_text_of_a_file_steers_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    """Messages quote files; a bar names them. Lines of a table and JSON stay as they are."""
    for text in STEERING:
        say(f"{text}.toml: got that.")
        answer(f"first {text}\n  second\n")
        with waiting():
            tell(Progress("settle", 0.2, text, each=(text,)))
            tell(Progress("settle", 0.4, f"other {text}"))
            show_first([text], [text])
    shown = capsys.readouterr()
    assert {letter for letter in shown.out + shown.err if not letter.isprintable()} == {"\n"}
    assert shown.out.count("\n  second\n") == len(STEERING) and "other" in shown.err
