"""A study on this machine's cores and on a scheduler with two workers of their own, ended and started again: the same
rows; time, memory and what is sent.

Run by hand, on a quiet machine: `python tests/bench/study.py PLAN.toml FOLDER`. It starts a scheduler and workers, ends
one worker, the client and the scheduler with SIGKILL on the way, and starts them again. The table stands in README.md
here. `--turns` settles eight members by turns with one worker and with two.
"""

from __future__ import annotations

import argparse
import csv
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

ADDRESS = "tcp://127.0.0.1:8799"
BIN = Path(sys.executable).parent
ONE_THREAD = dict.fromkeys(("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("plan", type=Path)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--turns", type=int, default=0, help="rounds of one worker against two, and nothing else")
    parser.add_argument("--only", choices=("local", "cluster", "compare"), default=None)
    chosen = parser.parse_args()
    chosen.folder.mkdir(parents=True, exist_ok=True)
    if chosen.turns:
        turns(chosen.plan, chosen.folder, chosen.turns)
        return
    if chosen.only in (None, "local"):
        local(chosen.plan, chosen.folder)
    if chosen.only in (None, "cluster"):
        cluster(chosen.plan, chosen.folder)
    if chosen.only in (None, "compare"):
        compare(chosen.folder / "local", chosen.folder / "cluster")


def started(name: str, arguments: list[str], folder: Path, **environment: str) -> subprocess.Popen[bytes]:
    """A process of ours, its words in a file, its cache its own."""
    log = open(folder / f"{name}.log", "ab")  # noqa: SIM115 (closed with the process)
    cache = {"DRAPE_CACHE_DIR": str(folder / f"{name}-cache")}
    return subprocess.Popen(arguments, stdout=log, stderr=log, env={**os.environ, **cache, **environment})


def study(plan: Path, out: Path, *flags: str) -> list[str]:
    return [str(BIN / "drape"), "study", str(plan), "--json", "--out", str(out), *flags]


def watched(process: subprocess.Popen[bytes]) -> dict[str, float]:
    """Waits for a process; seconds by the clock and of processors, and the most memory of any process of its own."""
    began, most = time.monotonic(), 0.0
    while process.poll() is None:
        most = max([most, *(memory(pid) for pid in family(process.pid))])
        time.sleep(0.5)
    used = os.times()
    return {"clock": time.monotonic() - began, "work": used.children_user + used.children_system, "memory_mb": most}


def family(pid: int) -> list[int]:
    """A process and all that come of it."""
    found = [pid]
    for one in found:
        try:
            found += [int(child) for child in Path(f"/proc/{one}/task/{one}/children").read_text().split()]
        except OSError:
            continue
    return found


def memory(pid: int) -> float:
    """Memory of a process that no other shares [MB]."""
    try:
        lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    except OSError:
        return 0.0
    return sum(int(line.split()[1]) for line in lines if line.startswith("Private")) / 1024.0


def local(plan: Path, folder: Path) -> None:
    found = watched(started("local", study(plan, folder / "local", "--jobs", "2"), folder))
    print("on two local cores:", {name: round(value, 1) for name, value in found.items()}, flush=True)


def kept(out: Path) -> int:
    return len(list((out / "kept").glob("*.json")))


def until(is_so: Callable[[], bool], process: subprocess.Popen[bytes]) -> None:
    while not is_so() and process.poll() is None:
        time.sleep(0.5)


def cluster(plan: Path, folder: Path) -> None:
    """The same on a scheduler and two workers; a worker, the client and the scheduler killed on the way."""
    out, hands = folder / "cluster", list[subprocess.Popen[bytes]]()
    total = sum(1 for _ in csv.DictReader((folder / "local" / "study.csv").open(encoding="utf-8")))

    def start() -> None:
        command = [str(BIN / "dask"), "scheduler", "--host", "127.0.0.1", "--port", "8799", "--no-dashboard"]
        hands.append(started("scheduler", command, folder, DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES="2"))
        for k in range(2):
            command = [str(BIN / "dask"), "worker", ADDRESS, "--nthreads", "1", "--no-dashboard"]
            hands.append(started(f"worker{k}", command, folder, **ONE_THREAD))
        time.sleep(8)

    def client() -> subprocess.Popen[bytes]:
        return started("client", study(plan, out, "--cluster", ADDRESS), folder)

    began = time.monotonic()
    start()
    one = client()
    until(lambda: kept(out) >= total // 4, one)
    victim = [pid for pid in family(hands[1].pid) if pid != hands[1].pid][-1]
    os.kill(victim, signal.SIGKILL)
    print(f"a worker killed with {kept(out)} of {total} kept", flush=True)
    until(lambda: kept(out) >= total // 2, one)
    one.send_signal(signal.SIGKILL)
    one.wait()
    before = kept(out)
    print(f"the client killed with {before} of {total} kept", flush=True)
    one = client()
    until(lambda: kept(out) >= 3 * total // 4, one)
    hands[0].send_signal(signal.SIGKILL)
    code = one.wait()
    print(f"the scheduler killed with {kept(out)} of {total} kept; the client ended with {code}", flush=True)
    for hand in hands:
        hand.kill()
        hand.wait()
    hands.clear()
    start()
    one = client()
    code = one.wait()
    print(
        f"at the end {kept(out)} of {total} kept, exit {code}; {time.monotonic() - began:.0f} s by the clock",
        flush=True,
    )
    for hand in hands:
        hand.terminate()
        hand.wait()


def compare(first: Path, second: Path) -> None:
    """Whether two tables are the same to the byte, but for the seconds."""
    texts = [without_seconds(folder / "study.csv") for folder in (first, second)]
    tables = [pq.read_table(folder / "study.parquet").drop_columns(["seconds"]) for folder in (first, second)]
    packed = []
    for table in tables:
        sink = pa.BufferOutputStream()
        pq.write_table(table, sink)
        packed.append(sink.getvalue().to_pybytes())
    print(f"rows {tables[0].num_rows}, columns {tables[0].num_columns}; csv the same: {texts[0] == texts[1]}; "
          f"parquet the same: {packed[0] == packed[1]}; bytes {len(packed[0])}")  # fmt: skip


def without_seconds(path: Path) -> list[list[str]]:
    rows = list(csv.reader(path.open(encoding="utf-8")))
    assert rows[0][-1] == "seconds"
    return [row[:-1] for row in rows]


def turns(plan: Path, folder: Path, rounds: int) -> None:
    """Seconds by the clock that a study takes with one worker and with two, by turns, each time anew."""
    took: dict[int, list[float]] = {1: [], 2: []}
    for k in range(rounds):
        for count in (1, 2):
            name = f"turn{k}-{count}"
            process = started(name, study(plan, folder / name, "--jobs", str(count)), folder)
            stamps = arrivals(process, folder / name)
            took[count].append((stamps[-1] - stamps[0]) / (len(stamps) - 1))
            print(count, "workers:", round(took[count][-1], 2), "s to a member after the first", flush=True)
    print("throughput of two against one:", [round(a / b, 2) for a, b in zip(took[1], took[2], strict=True)])


def arrivals(process: subprocess.Popen[bytes], out: Path) -> list[float]:
    """When each outcome was kept."""
    process.wait()
    times: list[Any] = [path.stat().st_mtime for path in (out / "kept").glob("*.json")]
    return sorted(times)


if __name__ == "__main__":
    main()
