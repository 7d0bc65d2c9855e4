"""`drape ...` as a user types it: in this process, or, where the claim is about the process, in one of its own."""

from __future__ import annotations

import contextlib
import io
import os
import subprocess
import sys
from pathlib import Path

from drape.command import main as cli

Done = subprocess.CompletedProcess[str]


def drape(*arguments: str, where: Path) -> Done:
    """The command run in the folder `where`, with no terminal: its exit code and what it printed.

    In this process, since a new one needs a second and more to load what this one has at hand.
    """
    out, err = io.StringIO(), io.StringIO()
    with contextlib.chdir(where), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            code = cli.main(arguments)
        except SystemExit as stop:  # how the parser answers wrong usage
            code = int(stop.code or 0)
    return Done(arguments, code, out.getvalue(), err.getvalue())


def drape_in_a_process(*arguments: str, where: Path, **environment: str) -> Done:
    """The same, in a new process."""
    return ended(begun(*arguments, where=where, **environment))


def begun(*arguments: str, where: Path, **environment: str) -> subprocess.Popen[str]:
    """The same, in a new process that goes on meanwhile."""
    return subprocess.Popen(
        [sys.executable, "-m", "drape", *arguments],
        cwd=where, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8",
        env={**os.environ, **environment},
    )  # fmt: skip


def ended(running: subprocess.Popen[str]) -> Done:
    """What such a process has printed once it ends."""
    with running:
        out, err = running.communicate()
    return Done(running.args, running.returncode, out, err)
