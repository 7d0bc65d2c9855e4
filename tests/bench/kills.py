"""Whether a run that is killed leaves anything: a process, half a file, or other results when it is run again.

    nice python tests/bench/kills.py --count 60 --seed 0

Each of four commands is started in a folder of its own, killed at a random moment as a system does it (SIGKILL), and
run again to its end. Then that folder is compared with one in which it ran undisturbed: files and what they hold,
seconds aside; of `cache` only that no half file is left. Nine in ten begin with the compiled loops of the undisturbed
run, the others compile them first. Prints a line per kill and a total. POSIX only; not collected
by pytest.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

COARSE = ["--edge-length-cm", "6"]
COMMANDS = {
    "sit": ["sit", "ferry-warden-tailored", *COARSE],
    "compare": ["compare", "ferry-warden-round", "ferry-warden-tailored", *COARSE],
    "cut": ["cut", "ferry-warden-tailored", "--estimate", "--width-cm", "70"],
    "mend": ["mend", "ferry-warden-round", *COARSE, "--tries", "2"],
}
COLD = 10  # one run of so many has to compile first
GONE_WITHIN = 60.0  # [s] in which what a killed run started has to end, on a machine that does much else


def started(words: list[str], where: Path) -> subprocess.Popen[bytes]:
    (where / "passing").mkdir(exist_ok=True)
    compiled = where / "cache" / "compiled"  # not beside the source, where all would share them
    compiled.mkdir(parents=True, exist_ok=True, mode=0o700)
    own = {
        **os.environ, "DRAPE_CACHE_DIR": str(where / "cache"), "NUMBA_CACHE_DIR": str(compiled),
        "TMPDIR": str(where / "passing"),
    }  # fmt: skip
    return subprocess.Popen(
        [sys.executable, "-m", "drape", *words, "--out", "out"], cwd=where, env=own, start_new_session=True,
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip


def is_left(group: int) -> bool:
    """Whether any process of a group is still there."""
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return True


def results(where: Path) -> dict[str, Any]:
    """What is in a run's folder beside what it keeps, by name, without how long it took."""
    found: dict[str, Any] = {}
    for path in sorted(path for path in where.rglob("*") if path.is_file()):
        name = path.relative_to(where).as_posix()
        if name.startswith("cache/") and ".unfinished" not in name:
            continue
        if path.suffix == ".npz":
            with np.load(path) as stored:
                found[name] = {key: stored[key].tobytes() for key in stored.files if key != "words"}
        elif path.suffix == ".json":
            found[name] = without_seconds(json.loads(path.read_text(encoding="utf-8")))
        else:
            found[name] = path.read_bytes()
    return found


def without_seconds(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: without_seconds(one) for key, one in value.items() if "seconds" not in key}
    return [without_seconds(one) for one in value] if isinstance(value, list) else value


def killed(words: list[str], after: float, compiled: Path | None) -> tuple[list[str], float, dict[str, Any]]:
    """What is wrong once a run has been killed, how long what it started stayed [s], the results of running it again.

    compiled: loops to begin with; None: none.
    """
    wrong = []
    with tempfile.TemporaryDirectory() as folder:
        where = Path(folder)
        if compiled is not None:
            shutil.copytree(compiled, where / "cache" / "compiled")
        run = started(words, where)
        time.sleep(after)
        os.kill(run.pid, signal.SIGKILL)
        run.wait()
        began = time.monotonic()
        while is_left(run.pid) and time.monotonic() < began + GONE_WITHIN:
            time.sleep(0.1)
        stayed = time.monotonic() - began
        if is_left(run.pid):
            wrong.append("a process is left")
            os.killpg(run.pid, signal.SIGKILL)
        for path in (where / "out").glob("[!.]*.json") if (where / "out").is_dir() else ():
            json.loads(path.read_text(encoding="utf-8"))
        code = started(words, where).wait()
        if code != 0:
            wrong.append(f"run again it ends with {code}")
        return wrong, stayed, results(where)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--only", nargs="+", choices=COMMANDS, default=list(COMMANDS))
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as kept:
        kill(chosen, Path(kept) / "compiled")


def kill(chosen: argparse.Namespace, compiled: Path) -> None:
    """Every command undisturbed, then all the kills. compiled: where the compiled loops are kept meanwhile."""
    source, faults, longest, whole, took = random.Random(chosen.seed), 0, 0.0, {}, {}
    with tempfile.TemporaryDirectory() as folder:
        started(COMMANDS["sit"], Path(folder)).wait()
        shutil.copytree(Path(folder) / "cache" / "compiled", compiled)
    for name in chosen.only:
        with tempfile.TemporaryDirectory() as folder:
            where = Path(folder)
            shutil.copytree(compiled, where / "cache" / "compiled")
            began = time.monotonic()
            started(COMMANDS[name], where).wait()
            took[name], whole[name] = time.monotonic() - began, results(where)
            print(f"{name} undisturbed: {took[name]:.0f} s, {len(whole[name])} files", flush=True)
    for k in range(chosen.count):
        name = chosen.only[k % len(chosen.only)]
        after = source.uniform(0.1, took[name])
        wrong, stayed, found = killed(COMMANDS[name], after, None if k % COLD == COLD - 1 else compiled)
        extra = sorted(found.keys() - whole[name].keys())
        differ = sorted(one for one in whole[name] if found.get(one) != whole[name][one])
        wrong += [f"left: {', '.join(extra)}"] if extra else []
        wrong += [f"differ: {', '.join(differ)}"] if differ else []
        faults += bool(wrong)
        longest = max(longest, stayed)
        said = "; ".join(wrong) or f"nothing is left after {stayed:.1f} s"
        print(f"{k + 1}: {name} killed after {after:.1f} s: {said}", flush=True)
    print(f"\n{chosen.count} kills, {faults} with something wrong; all was gone after {longest:.1f} s at most")


if __name__ == "__main__":
    main()
