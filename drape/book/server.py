"""The server: the page, its files, and the line on which page and keeper talk.

In: a keeper's folder, the key, the names it goes by. Out: an ASGI application. What is asked and told stands in
`keeper` and `told`, who may ask in `gate`. On the line, words are JSON and shapes are the bytes of `frames`.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import tempfile
from collections.abc import AsyncIterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, PlainTextResponse, Response
from starlette.routing import Mount, Route, WebSocketRoute
from starlette.staticfiles import StaticFiles
from starlette.websockets import WebSocket, WebSocketDisconnect

from drape.bench.table_top_card import write_card_svg
from drape.book.entries import Folder
from drape.book.frames import is_moving_only
from drape.book.gate import Gate
from drape.book.keeper import Keeper
from drape.book.tested import rows_of_tests
from drape.book.told import PARTS, VIEWS, parts_of
from drape.errors import DrapeError
from drape.page import fragment_text

PAGE: Final = Path(__file__).parent / "page"
MOST_WAITING: Final = 200  # messages that a page may be behind, before moving pictures are left out


class Line:
    """What is still to be sent to one page: parts that have changed, answers, and the newest picture of each kind."""

    def __init__(self, keeper: Keeper) -> None:
        self.keeper = keeper
        self.parts: set[str] = set()
        self.words: list[dict[str, Any]] = []
        self.frames: list[bytes] = []
        self.is_due = asyncio.Event()
        self.sent: dict[str, str] = {}

    def change(self, parts: Sequence[str]) -> None:
        self.parts |= set(parts)
        self.is_due.set()

    def say(self, words: dict[str, Any]) -> None:
        self.words.append(words)
        self.is_due.set()

    def show(self, picture: bytes) -> None:
        """A picture to come: of one that brings positions alone, the newest is enough."""
        if is_moving_only(picture):
            self.frames = [one for one in self.frames if not is_moving_only(one)]
        self.frames.append(picture)
        self.is_due.set()

    async def run(self, socket: WebSocket) -> None:
        """Sends what is due, until the page goes."""
        while True:
            await self.is_due.wait()
            self.is_due.clear()
            parts, words, frames = self.parts, self.words, self.frames
            self.parts, self.words, self.frames = set(), [], []
            for picture in frames:
                await socket.send_bytes(picture)
            made = await asyncio.to_thread(parts_of, self.keeper, [name for name in PARTS if name in parts])
            new = {name: text for name, text in made.items() if self.sent.get(name) != text}
            self.sent |= new
            if new:
                await socket.send_text(json.dumps({"parts": new}))
            for one in words:
                await socket.send_text(json.dumps(one))


class Book:
    """The book as it is served: its keeper, and the pages that are open on it."""

    def __init__(self, folder: Folder) -> None:
        self.folder = folder
        self.lines: set[Line] = set()
        self.keeper: Keeper
        self.loop: asyncio.AbstractEventLoop

    @contextlib.asynccontextmanager
    async def lifespan(self, _: Starlette) -> AsyncIterator[None]:
        self.loop = asyncio.get_running_loop()
        self.keeper = Keeper(self.folder, self.changed, self.show)
        beginning = self.loop.create_task(self.keeper.begin())
        yield
        beginning.cancel()
        self.keeper.end()

    def changed(self, parts: Sequence[str]) -> None:
        self.loop.call_soon_threadsafe(self.change_all, parts)

    def change_all(self, parts: Sequence[str]) -> None:
        for line in self.lines:
            line.change(parts)

    def show(self, picture: bytes) -> None:
        for line in self.lines:
            line.show(picture)

    async def page(self, _: Request) -> Response:
        parts = await asyncio.to_thread(parts_of, self.keeper)
        told = {"parts": parts, "views": VIEWS, "folder": self.folder.path.name, "tests": rows_of_tests()}
        return HTMLResponse(fragment_text("book/page/book.html", told))

    async def picture(self, request: Request) -> Response:
        entry = self.keeper.entry_of(request.path_params["number"])
        path = self.folder.shapes / f"{entry.name}.png" if entry is not None else None
        if path is None or not path.is_file():
            return PlainTextResponse("No such picture.\n", 404)
        return FileResponse(path, media_type="image/png")

    async def file(self, request: Request) -> Response:
        path = self.keeper.errands.file(request.path_params["out"], request.path_params["name"])
        if path is None:
            return PlainTextResponse("No such file.\n", 404)
        return FileResponse(path, filename=path.name, content_disposition_type="attachment")

    async def card(self, _: Request) -> Response:
        """The card of table-top tests, to print and write on."""
        with tempfile.TemporaryDirectory() as place:
            path = Path(place) / "card.svg"
            await asyncio.to_thread(write_card_svg, path)
            return Response(path.read_bytes(), media_type="image/svg+xml")

    async def line(self, socket: WebSocket) -> None:
        """One page's line: what it asks, and what it is told."""
        await socket.accept()
        line = Line(self.keeper)
        self.lines.add(line)
        sending = asyncio.create_task(line.run(socket))
        line.change(PARTS)
        line.frames += self.keeper.last.values()
        try:
            while True:
                await self.hear(line, await socket.receive_text())
        except (WebSocketDisconnect, RuntimeError):  # the page is gone, while it was read or answered
            pass
        finally:
            self.lines.discard(line)
            sending.cancel()

    async def hear(self, line: Line, text: str) -> None:
        """One command of a page, and the answer that it was done or why not."""
        said: Mapping[str, Any] = {}
        try:
            said = json.loads(text)
            if not isinstance(said, dict):
                raise ValueError
            await self.keeper.do(said)
            line.say({"done": said.get("number")})
        except (DrapeError, ValueError, TypeError, AttributeError, LookupError, RecursionError) as error:
            what = str(error) if isinstance(error, DrapeError) else "book: got what is no command. Load the page again."
            number = said.get("number") if isinstance(said, dict) else None
            line.say({"done": number, "refused": what})
        except OSError as error:
            what = f"book: got {error.filename}, cannot be written: {error.strerror}. Make room, and type it again."
            line.say({"done": said.get("number"), "refused": what})


def make_app(folder: Folder, key: str, hosts: Mapping[str, str]) -> Any:
    """The application. key: of the first address. hosts: names it goes by and the origin of each."""
    book = Book(folder)
    routes = [
        Route("/", book.page),
        Route("/picture/{number:int}", book.picture),
        Route("/file/{out}/{name}", book.file),
        Route("/table-top-card.svg", book.card),
        WebSocketRoute("/line", book.line),
        Mount("/page", StaticFiles(directory=PAGE)),
    ]
    return Gate(Starlette(routes=routes, lifespan=book.lifespan), key, hosts)
