"""The command `drape`: arguments in, one exit code out.

Exit codes: 0 done, 1 something failed, 2 bad input or usage, 3 not settled, 130 stopped. How each comes about is left
to `endings`. Loads nothing heavy; each command imports the chain inside itself.
"""

from __future__ import annotations

import argparse
import contextlib
import warnings
from collections.abc import Sequence
from typing import TextIO

from drape.command.arguments import build_parser
from drape.command.endings import answered, begin, check_memory, ending_of, noting_interrupts
from drape.command.kernel_cache import kept_kernels
from drape.errors import OldKeyWarning
from drape.progress import say, waiting


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; return its exit code."""
    command = ""
    with noting_interrupts() as was_interrupted:
        try:
            begin()
            chosen = _chosen(arguments)
            command = chosen.command
            if command != "guide":  # it loads nothing heavy
                check_memory(command)
            bar = waiting() if command != "book" else contextlib.nullcontext()  # the page says how far it has come
            with kept_kernels(), bar, warnings.catch_warnings():
                _say_old_keys()
                code = chosen.run(chosen)
            return answered(code)
        except (Exception, KeyboardInterrupt) as error:
            line, code = ending_of(error, command, was_interrupted=was_interrupted())
            say(line.replace("\n", "\\n"))  # the name of a file may hold one
            return code


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


def _chosen(arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = build_parser()
    chosen = parser.parse_args(arguments)
    if chosen.command is None:
        parser.error(
            "no command given, allowed sit, compare, mend, wear, study, draft, cut, book, show, trace, trial, measure, "
            "scenes, bodies, cloths, cloth, new, guide"
        )
    return chosen
