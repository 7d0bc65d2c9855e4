"""One exit code for each way a command ends, with one line on stderr and none lost."""

from __future__ import annotations

import warnings

import pytest

from drape.command.arguments import build_parser
from drape.command.endings import INTERRUPTED
from drape.command.main import main
from drape.errors import (
    BlewUpError,
    DraftError,
    FigureError,
    MeshError,
    MissingExtraError,
    NotSettledError,
    OldKeyWarning,
    PictureError,
    SceneError,
)


def ends(monkeypatch: pytest.MonkeyPatch, how: BaseException | int) -> int:
    """The exit code of a command that ends so."""

    def run(_: object) -> int:
        if isinstance(how, BaseException):
            raise how
        return how

    monkeypatch.setitem(build_parser.__globals__, "run_cloths", run)
    return main(["cloths"])


@pytest.mark.parametrize(
    ("error", "code"),
    [(kind, 2) for kind in (SceneError, FigureError, DraftError)] + [(NotSettledError, 3)]
    + [(kind, 1) for kind in (BlewUpError, MeshError, PictureError, MissingExtraError)],
)  # fmt: skip
def test_an_error_is_a_line_and_a_code(
    error: type[Exception], code: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ends(monkeypatch, error("mesh: this, got that, allowed another. Try it.")) == code
    shown = capsys.readouterr()
    assert (shown.out, shown.err) == ("", "mesh: this, got that, allowed another. Try it.\n")


def test_an_error_is_one_line_whatever_a_file_is_called(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ends(monkeypatch, SceneError("a\n\x1b[31mb.toml: got that.")) == 2
    assert capsys.readouterr().err == "a\\n\\u001b[31mb.toml: got that.\n"


def test_a_commands_own_code_is_handed_on_and_a_fault_of_ours_is_not_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    assert [ends(monkeypatch, code) for code in (0, 1, 3)] == [0, 1, 3]
    with pytest.raises(ZeroDivisionError):
        ends(monkeypatch, ZeroDivisionError("ours"))


def test_stopped_by_hand_is_one_line(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    assert (
        ends(monkeypatch, KeyboardInterrupt()) == INTERRUPTED == 128 + 2
    )  # a shell adds the signal's number, SIGINT 2
    assert capsys.readouterr().err.rpartition("\r")[2] == "drape: stopped.\n"  # over the ^C that a terminal shows


def test_an_old_key_is_noted_on_stderr_and_warnings_are_as_before(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def run(_: object) -> int:
        warnings.warn("mine.toml: preset is now called cloth.", OldKeyWarning, 2)
        return 0

    before = warnings.showwarning
    monkeypatch.setitem(build_parser.__globals__, "run_cloths", run)
    assert main(["cloths"]) == 0
    assert capsys.readouterr().err == "mine.toml: preset is now called cloth.\n"
    assert warnings.showwarning is before


def test_without_a_command_all_of_them_are_named(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        main([])
    line = capsys.readouterr().err
    assert stop.value.code == 2 and len(line.splitlines()) == 1
    (commands,) = (action for action in build_parser()._actions if action.dest == "command")
    assert set(line.partition("allowed ")[2].partition(". Try")[0].split(", ")) == set(commands.choices)
