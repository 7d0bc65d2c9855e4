"""`drape book`: the job book of a folder, served to the maker's browser until it is ended with Ctrl-C.

Comes in: parsed arguments. Goes out: the address, on stdout; an exit code. What is served is left to `book`.
"""

from __future__ import annotations

import json
import threading
import webbrowser
from typing import TYPE_CHECKING

from drape.progress import answer, say

if TYPE_CHECKING:
    import argparse

DONE = 0
ELSEWHERE = (
    "--host {0}: others in the same network can reach the book now, and whoever has its address can use it. What is "
    "sent is not encrypted. Leave --host out to keep it to this computer."
)


def run_book(chosen: argparse.Namespace) -> int:
    """Serve the book, print its address, and open the browser unless asked not to."""
    from drape.book.launch import LOCAL, serve_book

    if chosen.host != LOCAL:
        say(ELSEWHERE.format(chosen.host))

    def opened(url: str) -> None:
        answer(json.dumps({"url": url}) + "\n" if chosen.json else f"{url}\n")
        if not chosen.no_browser:
            threading.Timer(0.3, webbrowser.open, [url]).start()
        if not chosen.json:
            say("The job book is open. Everything is written into its folder. End it with Ctrl-C.")

    serve_book(chosen.folder, host=chosen.host, port=chosen.port, opened=opened)
    return DONE
