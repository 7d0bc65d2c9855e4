"""A study on this machine's cores and on a scheduler with two workers of their own, ended and started again: the same
rows; time, memory and what is sent.

Run by hand, on a quiet machine: `python tests/bench/study.py PLAN.toml FOLDER`. It starts a scheduler and workers, ends
one worker, the client and the scheduler with SIGKILL on the way, and starts them again; then it holds both tables
against each other, column by column. It ends with 1 where a member was lost or a column differs. The table stands in
README.md here. `--turns 3` settles the plan three times with one worker and with two, by turns, and nothing else: take
a plan of 12 to 16 members. `--overhead` hands out a thousand tasks that do nothing, for what a task costs.
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pyarrow.parquet as pq
from distributed import Client

ADDRESS = "tcp://127.0.0.1:8799"
BIN = Path(sys.executable).parent
ONE_THREAD = dict.fromkeys(("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("plan", type=Path)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--turns", type=int, default=0, help="rounds of one worker against two, and nothing else")
    parser.add_argument("--overhead", action="store_true", help="what handing out a task costs, and nothing else")
    parser.add_argument("--only", choices=("local", "cluster", "compare"), default=None)
    chosen = parser.parse_args()
    chosen.folder.mkdir(parents=True, exist_ok=True)
    if chosen.turns:
        turns(chosen.plan, chosen.folder, chosen.turns)
        return
    if chosen.overhead:
        overhead(chosen.plan, chosen.folder)
        return
    if chosen.only in (None, "local"):
        local(chosen.plan, chosen.folder)
    if chosen.only in (None, "cluster"):
        cluster(chosen.plan, chosen.folder)
    if chosen.only in (None, "compare") and compare(chosen.folder / "local", chosen.folder / "cluster"):
        sys.exit(1)


def started(name: str, arguments: list[str], folder: Path, **environment: str) -> subprocess.Popen[bytes]:
    """A process of ours, its words in a file, its cache its own."""
    log = open(folder / f"{name}.log", "ab")  # noqa: SIM115 (closed with the process)
    cache = {"DRAPE_CACHE_DIR": str(folder / f"{name}-cache")}
    return subprocess.Popen(arguments, stdout=log, stderr=log, env={**os.environ, **cache, **environment})


def study(plan: Path, out: Path, *flags: str) -> list[str]:
    return [str(BIN / "drape"), "study", str(plan), "--json", "--out", str(out), *flags]


def watched(process: subprocess.Popen[bytes]) -> dict[str, float]:
    """Waits for a process; seconds by the clock and of processors, and the most memory that it and a worker had."""
    before, began, most, workers = os.times(), time.monotonic(), 0.0, 0.0
    while process.poll() is None:
        first, *others = map(memory, family(process.pid))
        most, workers = max(most, first), max([workers, *others])
        time.sleep(0.5)
    used = os.times()
    work = used.children_user + used.children_system - before.children_user - before.children_system
    return {"clock": time.monotonic() - began, "work": work, "client_mb": most, "worker_mb": workers}


def family(pid: int) -> list[int]:
    """A process and all that come of it, whichever of its threads began them."""
    found = [pid]
    for one in found:
        for children in Path(f"/proc/{one}/task").glob("*/children"):
            with contextlib.suppress(OSError):
                found += [int(child) for child in children.read_text().split()]
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


def kept(out: Path) -> set[str]:
    """The settlings that are on a study's shelf, by their keys."""
    return {path.stem for path in (out / "kept").glob("*.json")}


def until(is_so: Callable[[], bool], process: subprocess.Popen[bytes]) -> None:
    while not is_so() and process.poll() is None:
        time.sleep(0.2)


def hands(folder: Path) -> list[subprocess.Popen[bytes]]:
    """A scheduler and two workers, each a process started as a user would start it."""
    command = [str(BIN / "dask"), "scheduler", "--host", "127.0.0.1", "--port", "8799", "--no-dashboard"]
    made = [started("scheduler", command, folder, DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES="2")]
    for k in range(2):
        command = [str(BIN / "dask"), "worker", ADDRESS, "--nthreads", "1", "--no-dashboard"]
        made.append(started(f"worker{k}", command, folder, **ONE_THREAD))
    time.sleep(8)
    return made


def worker_at_work(nanny: subprocess.Popen[bytes]) -> tuple[int, set[str]]:
    """The process that settles for a `dask worker`, and the settlings it has in hand, by their keys."""
    with Client(ADDRESS) as asking:
        address_of = {pid: address for address, pid in asking.run(os.getpid).items()}
        (pid,) = set(address_of) & set(family(nanny.pid))
        return pid, {str(key).removeprefix("drape-") for key in asking.processing()[address_of[pid]]}


def cluster(plan: Path, folder: Path) -> None:
    """The same on a scheduler and two workers; a worker, the client and the scheduler killed on the way."""
    out = folder / "cluster"
    total = sum(1 for _ in csv.DictReader((folder / "local" / "study.csv").open(encoding="utf-8")))

    def client() -> subprocess.Popen[bytes]:
        return started("client", study(plan, out, "--cluster", ADDRESS), folder)

    began, there = time.monotonic(), hands(folder)
    one = client()
    until(lambda: len(kept(out)) >= total // 4, one)
    victim, in_hand = worker_at_work(there[1])
    os.kill(victim, signal.SIGKILL)
    print(f"a worker killed with {len(kept(out))} of {total} kept and {len(in_hand)} in its hands", flush=True)
    until(lambda: len(kept(out)) >= total // 2, one)
    print(f"  of these {len(in_hand & kept(out))} are kept at {len(kept(out))} of {total}", flush=True)
    one.send_signal(signal.SIGKILL)
    one.wait()
    before = mtimes(out)
    print(f"the client killed with {len(before)} of {total} kept", flush=True)
    one = client()
    until(lambda: len(kept(out)) >= 3 * total // 4, one)
    there[0].send_signal(signal.SIGKILL)
    code = one.wait()
    later = mtimes(out)
    print(f"the scheduler killed with {len(later)} of {total} kept; the client ended with {code}", flush=True)
    for hand in there:
        hand.kill()
        hand.wait()
    there = hands(folder)
    code = client().wait()
    end = mtimes(out)
    took = time.monotonic() - began
    print(f"at the end {len(end)} of {total} kept, exit {code}; {took:.0f} s by the clock", flush=True)
    untouched = all(end.get(key) == when for kept_then in (before, later) for key, when in kept_then.items())
    print(f"what was kept before each kill is there, never settled again: {untouched}", flush=True)
    for hand in there:
        hand.terminate()
        hand.wait()


def mtimes(out: Path) -> dict[str, int]:
    """When each settling was kept [ns], by its key."""
    return {path.stem: path.stat().st_mtime_ns for path in (out / "kept").glob("*.json")}


def compare(first: Path, second: Path) -> bool:
    """Holds two studies against each other, column by column; whether anything but the seconds differs."""
    wrong = []
    texts = [list(zip(*csv.reader((one / "study.csv").open(encoding="utf-8")), strict=True)) for one in (first, second)]
    names = [column[0] for column in texts[0]]
    wrong += [f"csv {one[0]}" for one, two in zip(*texts, strict=True) if one != two]
    tables = [pq.read_table(one / "study.parquet") for one in (first, second)]
    if tables[0].schema != tables[1].schema or tables[0].column_names != names:
        wrong.append("parquet, names or types")
    wrong += [f"parquet {name}" for name in names if not tables[0][name].equals(tables[1][name])]
    for name in ("effects.csv", "sizes.csv"):
        if any((one / name).exists() for one in (first, second)):
            wrong += [name] if (first / name).read_bytes() != (second / name).read_bytes() else []
    settled = [sum(table["settled"].to_pylist()) for table in tables]
    wrong = [one for one in wrong if not one.endswith(" seconds")]
    rows = [len(text[0]) - 1 for text in texts]
    print(f"rows {rows}, settled {settled}, {len(names)} columns; besides seconds differs: {wrong or 'nothing'}")
    return bool(wrong)


def turns(plan: Path, folder: Path, rounds: int) -> None:
    """Seconds by the clock to a member with one worker and with two, by turns, each time anew.

    Counted from when every worker has handed in its first, so that neither start nor compiling are in it.
    """
    took: dict[int, list[float]] = {1: [], 2: []}
    for k in range(rounds):
        for count in (1, 2):
            name = f"turn{k}-{count}"
            found = watched(started(name, study(plan, folder / name, "--jobs", str(count)), folder))
            stamps = sorted(mtimes(folder / name).values())
            took[count].append(1e-9 * (stamps[-1] - stamps[count - 1]) / (len(stamps) - count))
            said = f"{count} at a time: {took[count][-1]:.2f} s to a member of {len(stamps)}; in all "
            print(said, {one: round(value, 1) for one, value in found.items()}, flush=True)
    print("throughput of two against one:", [round(a / b, 2) for a, b in zip(took[1], took[2], strict=True)])


def nothing(_: bytes) -> bytes:
    """What a task sends back, without settling: as large as an outcome."""
    return b'{"state": "settled", "said": "' + b"a" * 6000 + b'"}'


def overhead(plan: Path, folder: Path, count: int = 1000, warm: int = 50) -> None:
    """Processor time of the scheduler, and of the client, for each task; the first few tasks are left out."""
    from drape.fitting.settling_process import packed
    from drape.study import engine
    from drape.study.members import check_members
    from drape.study.plan import load_plan

    engine.work = nothing
    job = check_members(load_plan(plan))[0].jobs[0]
    jobs = {f"{k:064d}": job for k in range(count + warm)}
    there = hands(folder)
    with engine.cluster_at(engine.Address(ADDRESS)) as client:
        client.wait_for_workers(2)
        engine.settle_all(client, dict(list(jobs.items())[:warm]), lambda *_: None)
        began = worked(there[0].pid), worked(os.getpid()), time.monotonic()
        engine.settle_all(client, dict(list(jobs.items())[warm:]), lambda *_: None)
        ended = worked(there[0].pid), worked(os.getpid()), time.monotonic()
    scheduler, own, clock = (1e3 * (last - first) / count for first, last in zip(began, ended, strict=True))
    print(f"{len(packed(job))} bytes to a task; {scheduler:.1f} ms of the scheduler's processor, {own:.1f} of the "
          f"client's, {clock:.1f} by the clock")  # fmt: skip
    for hand in reversed(there):
        hand.terminate()
        hand.wait()


def worked(pid: int) -> float:
    """Processor time of a process so far [s]."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


if __name__ == "__main__":
    main()
