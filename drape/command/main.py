"""The command `drape`: arguments in, one exit code out.

Turns a DrapeError into a line on stderr and an exit code: 0 done, 1 something of ours failed, 2 bad
input or usage, 3 not settled. Loads nothing heavy; each command imports the chain inside itself.
"""

from __future__ import annotations

import io
import os
import sys
import warnings
from collections.abc import Sequence
from typing import Final, TextIO

from drape.command.arguments import build_parser
from drape.command.kernel_cache import kept_kernels
from drape.command.run import BAD_INPUT, FAILED, NOT_SETTLED
from drape.errors import DraftError, DrapeError, FigureError, NotSettledError, OldKeyWarning, SceneError
from drape.progress import say, waiting

INTERRUPTED: Final = 130  # what a shell calls a program stopped by Ctrl-C


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; return its exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a terminal without ± shows ?, not a traceback
    try:
        code = _run(arguments)
        sys.stdout.flush()
        return code
    except BrokenPipeError:
        # The reader of our output has gone; Python would complain once more when it closes stdout.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FAILED
    except KeyboardInterrupt:
        say("drape: stopped.")
        return INTERRUPTED


def _say_old_keys() -> None:
    """Say once what was read under an old name; other warnings stay as they are."""
    shown = warnings.showwarning

    def show(
        message: Warning | str, category: type[Warning], filename: str, lineno: int,
        file: TextIO | None = None, line: str | None = None,
    ) -> None:  # fmt: skip
        if issubclass(category, OldKeyWarning):
            say(str(message))
        else:
            shown(message, category, filename, lineno, file, line)

    warnings.simplefilter("default", OldKeyWarning)
    warnings.showwarning = show


def _run(arguments: Sequence[str] | None) -> int:
    parser = build_parser()
    chosen = parser.parse_args(arguments)
    if chosen.command is None:
        parser.error(
            "no command given, allowed sit, compare, mend, draft, cut, show, trial, measure, scenes, bodies, cloths, "
            "cloth, new, guide"
        )
    try:
        with kept_kernels(), waiting(), warnings.catch_warnings():
            _say_old_keys()
            return chosen.run(chosen)
    except NotSettledError as error:
        say(str(error))
        return NOT_SETTLED
    except (SceneError, FigureError, DraftError) as error:
        say(str(error))
        return BAD_INPUT
    except DrapeError as error:
        say(str(error))
        return FAILED
