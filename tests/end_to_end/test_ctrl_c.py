"""Ctrl-C while two drafts settle side by side: one line, its own exit code, and no process left behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest


def hears_ctrl_c() -> None:
    """A shell that starts the tests in the background has told its programs not to heed Ctrl-C."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.mark.long
@pytest.mark.skipif(not hasattr(os, "killpg"), reason="a terminal of this system sends Ctrl-C in another way")
def test_ctrl_c_ends_all_settlings_at_once(tmp_path: Path) -> None:
    """As a terminal does it: every process of the group is told."""
    typed = ["compare", "ferry-warden-round", "ferry-warden-tailored", "--quality", "fine", "--fresh", "--jobs", "2"]
    with subprocess.Popen(
        [sys.executable, "-m", "drape", *typed], cwd=tmp_path, start_new_session=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8", preexec_fn=hears_ctrl_c,
    ) as running:  # fmt: skip
        lines = []
        for line in running.stderr:
            lines.append(line)
            if "2 side by side" in line:
                os.killpg(running.pid, signal.SIGINT)
                break
        out, rest = running.communicate(timeout=30)
    assert running.returncode == 130, "".join(lines) + rest
    assert out == "" and rest.splitlines()[-1] == "drape: stopped."
    assert all(line.startswith("[") for line in rest.splitlines()[:-1]), rest  # a last line of the bar, perhaps
    for _ in range(50):
        try:
            os.killpg(running.pid, 0)
        except ProcessLookupError:
            break
        time.sleep(0.1)
    with pytest.raises(ProcessLookupError):
        os.killpg(running.pid, 0)
    assert list(tmp_path.iterdir()) == []
