"""Opening the book: a folder in; the page served until the maker ends it.

Comes in: the folder, where to listen, whom to tell the address. The port is whichever is free, the key is new each
time. What is served stands in `server`.
"""

from __future__ import annotations

import secrets
import socket
from collections.abc import Callable
from pathlib import Path
from typing import Final

import uvicorn

from drape.book.entries import Folder
from drape.book.server import make_app
from drape.errors import SceneError

LOCAL: Final = "127.0.0.1"
LARGEST_MESSAGE: Final = 7_000_000  # bytes of one command: a drawing of 3 MB, its signs written out


def serve_book(path: Path, *, host: str = LOCAL, port: int = 0, opened: Callable[[str], None]) -> None:
    """Serves the book of a folder until it is ended. opened: told the first address, once it can be opened.

    Raises SceneError for a folder or a place that cannot be used.
    """
    folder = Folder(path)
    folder.pencil()  # refused while there is someone to tell
    listening = _listening(host, port)
    place = listening.getsockname()[1]
    names = {f"{host}:{place}"} | ({f"localhost:{place}", f"{LOCAL}:{place}"} if host == LOCAL else set())
    hosts = {name: f"http://{name}" for name in sorted(names, key=lambda name: name != f"{host}:{place}")}
    key = secrets.token_urlsafe(24)
    config = uvicorn.Config(
        make_app(folder, key, hosts), log_level="error", access_log=False, ws="websockets-sansio", lifespan="on",
        ws_max_size=LARGEST_MESSAGE, ws_ping_interval=None, ws_per_message_deflate=False, limit_concurrency=100,
        timeout_graceful_shutdown=1, server_header=False,
    )  # fmt: skip
    server = uvicorn.Server(config)
    opened(f"http://{host}:{place}/?key={key}")
    server.run(sockets=[listening])


def _listening(host: str, port: int) -> socket.socket:
    """A socket that listens already, so that the address can be opened at once."""
    try:
        listening = socket.create_server((host, port))
    except OSError as error:
        raise SceneError(f"book: got {host}:{port}, cannot listen there: {error.strerror}. Leave it out.") from None
    listening.setblocking(False)
    return listening
