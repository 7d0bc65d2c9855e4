"""A study as a user types it: killed on the way and taken up again, on this machine and on a scheduler with a worker
started by hand, one table comes out.
"""

from __future__ import annotations

import contextlib
import csv
import io
import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

pytest.importorskip("distributed", reason="the extra `study` is not installed")
pytest.importorskip("pyarrow", reason="the extra `study` is not installed")

pytestmark = pytest.mark.long

PLAN = """
title = "Two lengths, and an intake that no dart can take in"
scene = "ferry-warden-tailored"
[vary]
"draft.length_cm" = [60, 70]
"dart.intake_cm" = [9, 30]
[settle]
edge_length_cm = 6
"""
BIN = Path(sys.executable).parent


def environment(cache: Path) -> dict[str, str]:
    return {**os.environ, "DRAPE_CACHE_DIR": str(cache), "NUMBA_NUM_THREADS": "1"}


def drape(where: Path, *flags: str) -> subprocess.Popen[str]:
    command = [str(BIN / "drape"), "study", "plan.toml", "--json", *flags]
    return subprocess.Popen(
        command, cwd=where, env=environment(where / "cache"), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def rows(path: Path) -> list[list[str]]:
    """The table without its last column, the seconds."""
    found = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"))))
    assert found[0][-1] == "seconds"
    return [row[:-1] for row in found]


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@contextlib.contextmanager
def scheduler_and_worker(where: Path) -> Iterator[str]:
    """A scheduler and a worker, each a process started by hand; the worker's cache is its own."""
    address = f"tcp://127.0.0.1:{free_port()}"
    started = []
    for command in (
        ["scheduler", "--host", "127.0.0.1", "--port", address.rpartition(":")[2]],
        ["worker", address, "--nthreads", "1"],
    ):
        started.append(
            subprocess.Popen(
                [str(BIN / "dask"), *command, "--no-dashboard"], env=environment(where / "far-cache"),
                stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            )
        )  # fmt: skip
    try:
        yield address
    finally:
        for one in reversed(started):
            one.send_signal(signal.SIGTERM)
            one.wait(60)


def test_a_study_that_is_killed_goes_on_and_comes_to_the_same_anywhere(tmp_path: Path) -> None:
    (tmp_path / "plan.toml").write_text(PLAN, encoding="utf-8")
    first = drape(tmp_path, "--jobs", "2")
    kept = tmp_path / "plan-study" / "kept"
    while first.poll() is None and len(list(kept.glob("*.json"))) < 3:
        time.sleep(0.2)
    first.kill()
    first.communicate()
    before = {path.name: path.read_bytes() for path in kept.glob("*.json")}
    assert 3 <= len(before) <= 4
    again = drape(tmp_path, "--jobs", "2")
    out, err = again.communicate()
    assert again.returncode == 0, err
    found = json.loads(out)
    assert found == {"members": 4, "settled": 2, "failed": 2, "rows": "plan-study/study.parquet"}
    assert f"{len(before)} of 4 settlings are kept from before." in err
    assert {name: (kept / name).read_bytes() for name in before} == before
    with scheduler_and_worker(tmp_path) as address:
        far = drape(tmp_path, "--cluster", address, "--out", "far")
        out, err = far.communicate()
    assert far.returncode == 0, err
    assert {**json.loads(out), "rows": ""} == {**found, "rows": ""}
    assert rows(tmp_path / "far" / "study.csv") == rows(tmp_path / "plan-study" / "study.csv")
    for name in ("study.html", "effects.csv"):
        assert (tmp_path / "far" / name).read_bytes() == (tmp_path / "plan-study" / name).read_bytes()
    assert "Traceback" not in err
