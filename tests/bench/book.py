"""How fast the job book answers: seconds from a change to its readings, pictures a second, and changes in a hurry.

    python tests/bench/book.py [--changes 15] [--hurry 60]

Serves a folder of its own, and talks to it as a page does. Every change moves the dart's length by a few millimetres
from the entry before. Seconds are the clock's; the machine should do nothing else.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path
from typing import Any

from websockets.sync.client import connect

LENGTHS = (15.6, 16.0, 15.4, 15.9, 16.3, 15.7, 15.2, 15.8, 16.2, 15.5)  # [cm]


class Page:
    """A page without a screen: what it asks, and what it is told."""

    def __init__(self, url: str) -> None:
        class Kept(urllib.request.HTTPRedirectHandler):
            def redirect_request(self, *_: Any) -> None:
                return None

        try:
            urllib.request.build_opener(Kept).open(url)
        except urllib.error.HTTPError as answer:
            cookie = answer.headers["set-cookie"].partition(";")[0]
        host = url.split("/")[2]
        self.kept = contextlib.ExitStack()
        self.line = self.kept.enter_context(
            connect(
                f"ws://{host}/line",
                origin=f"http://{host}",
                additional_headers={"Cookie": cookie},
                max_size=None,
                ping_interval=None,
            )
        )
        self.number, self.status, self.pictures = 0, "", []
        self.done: set[int] = set()
        self.entries = 0

    def ask(self, **said: Any) -> int:
        self.number += 1
        self.line.send(json.dumps({**said, "number": self.number}))
        return self.number

    def listen(self, seconds: float) -> None:
        """Takes in what comes within so many seconds, one message at least where there is one."""
        try:
            told = self.line.recv(timeout=seconds)
        except TimeoutError:
            return
        if isinstance(told, bytes):
            if told[0] == 1:
                self.pictures.append(time.perf_counter())
            return
        said = json.loads(told)
        self.done |= {said["done"]} if "done" in said else set()
        parts = said.get("parts", {})
        if "status" in parts:
            self.status = parts["status"].partition('data-state="')[2].partition('"')[0]
        self.entries = parts["entries"].count("data-entry=") if "entries" in parts else self.entries

    def until_rest(self, entries: int) -> None:
        while not (self.status == "rest" and self.entries >= entries):
            self.listen(1.0)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--changes", type=int, default=15)
    parser.add_argument("--hurry", type=float, default=60.0)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "drape", "book", folder, "--no-browser", "--json"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
            try:
                began = time.perf_counter()
                page = Page(json.loads(server.stdout.readline())["url"])
                page.until_rest(1)
                print(f"first entry, from the address to its readings: {time.perf_counter() - began:.1f} s")
                each(page, chosen.changes, server.pid)
                hurry(page, Path(folder), chosen.hurry, server.pid)
            finally:
                page.kept.close()
                server.terminate()


def processor_seconds(server: int) -> float:
    """Processor time so far of the server and of the processes it started (Linux)."""
    listed = subprocess.run(["ps", "--ppid", str(server), "-o", "pid="], capture_output=True, text=True).stdout
    spent = 0
    for pid in (server, *map(int, listed.split())):
        with contextlib.suppress(OSError):
            told = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
            spent += int(told[11]) + int(told[12])
    return spent / os.sysconf("SC_CLK_TCK")


def each(page: Page, changes: int, server: int) -> None:
    seconds, rates, waits, spent = [], [], [], []
    for k in range(changes):
        page.pictures.clear()
        began, entries, before = time.perf_counter(), page.entries, processor_seconds(server)
        page.ask(do="type", name="dart.0.length_cm", text=str(LENGTHS[k % len(LENGTHS)]))
        page.until_rest(entries + 1)
        seconds.append(time.perf_counter() - began)
        spent.append(processor_seconds(server) - before)
        if len(page.pictures) > 1:
            rates.append((len(page.pictures) - 1) / (page.pictures[-1] - page.pictures[0]))
            waits.append(page.pictures[0] - began)
    print(f"a change to its readings: median {statistics.median(seconds):.2f} s, worst {max(seconds):.2f} s")
    print(f"processor time of it, server and worker: median {statistics.median(spent):.2f} s, worst {max(spent):.2f} s")
    print(f"pictures a second while it settles: median {statistics.median(rates):.1f}, fewest {min(rates):.1f}")
    print(f"a change to the first picture: median {statistics.median(waits):.2f} s")


def hurry(page: Page, folder: Path, seconds: float, server: int) -> None:
    """Three changes a second: none may be lost, and one worker is left."""
    began, asked, entries = time.perf_counter(), [], page.entries
    while (now := time.perf_counter() - began) < seconds:
        if now >= len(asked) / 3:
            asked.append(page.ask(do="type", name="draft.length_cm", text=f"{100 + 0.1 * (len(asked) % 90):.1f}"))
        page.listen(0.02)
    while set(asked) - page.done:
        page.listen(1.0)
    page.until_rest(entries + 1)
    noted = (folder / "day-book.txt").read_text(encoding="utf-8").count("draft.length_cm =")
    last = f"length_cm = {100 + 0.1 * ((len(asked) - 1) % 90):.1f}"
    kept = last in (folder / "pencil.toml").read_text(encoding="utf-8")
    listed = subprocess.run(["ps", "--ppid", str(server), "-o", "args="], capture_output=True, text=True).stdout
    print(
        f"in a hurry: {len(asked)} changes asked, {noted} in the day book, the last {'is' if kept else 'IS NOT'} kept"
    )
    print(f"entries written in meanwhile: {page.entries - entries}; workers left: {listed.count('drape.book.worker')}")


if __name__ == "__main__":
    main()
