"""The gate: who may read the book, and what its pages may do.

In: requests. Out: the same, let through or refused with 403. Only who opened the first address has the key, which is
then kept as a cookie; a name or an origin other than our own, as a page from elsewhere would have it, is refused
(DNS rebinding, cross-site requests). The policy lets only the book's own files run, and asks nothing of a network.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from http.cookies import CookieError, SimpleCookie
from typing import Any, Final
from urllib.parse import parse_qs

LARGEST: Final = 1_000_000  # bytes of a request
LONGEST_QUERY: Final = 300


class Gate:
    """An ASGI application in front of another."""

    def __init__(self, app: Any, key: str, hosts: Mapping[str, str]) -> None:
        """key: of the first address. hosts: the names the book goes by, `127.0.0.1:4711`, and the origin of each."""
        self.app, self.key, self.hosts = app, key, hosts
        self.cookie = f"drape-book-{next(iter(hosts)).rpartition(':')[2]}"

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
        elif scope["type"] == "websocket":
            if self.lets_in(scope, is_writing=True):
                await self.app(scope, receive, send)
            else:
                await receive()
                await send({"type": "websocket.close", "code": 1008})  # before it is accepted: 403
        elif scope["method"] == "GET" and scope["path"] == "/" and self.is_first(scope):
            cookie = f"{self.cookie}={self.key}; HttpOnly; SameSite=Strict; Path=/"
            await answer(send, 303, b"", [(b"location", b"/"), (b"set-cookie", cookie.encode())])
        elif not self.lets_in(scope, is_writing=scope["method"] not in ("GET", "HEAD")):
            await answer(send, 403, b"Not allowed. Open the address that `drape book` printed.\n", [])
        elif is_too_large(scope):
            await answer(send, 413, b"Too large.\n", [])
        else:
            await self.app(scope, receive, self.guarded(send, headers_of(scope).get("host", "")))

    def is_first(self, scope: Any) -> bool:
        """Whether it is the first address, which holds the key."""
        query = scope.get("query_string", b"")[:LONGEST_QUERY].decode("latin-1")
        given = parse_qs(query).get("key", [""])[0]
        return headers_of(scope).get("host") in self.hosts and secrets.compare_digest(given.encode(), self.key.encode())

    def lets_in(self, scope: Any, *, is_writing: bool) -> bool:
        """Whether name, origin and key are right. An origin is due where something may be changed."""
        headers = headers_of(scope)
        host, origin = headers.get("host", ""), headers.get("origin")
        if (
            host not in self.hosts
            or (origin is None and is_writing)
            or (origin is not None and origin != self.hosts[host])
        ):
            return False
        try:
            morsel = SimpleCookie(headers.get("cookie", "")).get(self.cookie)
        except CookieError:
            return False
        return morsel is not None and secrets.compare_digest(morsel.value.encode(), self.key.encode())

    def guarded(self, send: Any, host: str) -> Any:
        """Sends on with the headers that hold a page to its policy."""
        headers = [(name.encode(), value.encode()) for name, value in guard_headers(host).items()]

        async def with_headers(message: Any) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": [*message.get("headers", []), *headers]}
            await send(message)

        return with_headers


def guard_headers(host: str) -> dict[str, str]:
    """What every answer says of what may be done with it."""
    policy = (
        "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self' blob: data:; "
        f"connect-src 'self' ws://{host}; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )
    return {
        "content-security-policy": policy, "x-content-type-options": "nosniff", "referrer-policy": "no-referrer",
        "cross-origin-opener-policy": "same-origin", "cross-origin-resource-policy": "same-origin",
        "cache-control": "no-store",
    }  # fmt: skip


def headers_of(scope: Any) -> dict[str, str]:
    """The headers by their names in small letters; one given twice counts for nothing."""
    found: dict[str, str] = {}
    for name, value in scope["headers"]:
        key = name.decode("latin-1").lower()
        found[key] = "" if key in found else value.decode("latin-1")
    return found


def is_too_large(scope: Any) -> bool:
    length = headers_of(scope).get("content-length", "0")
    return not length.isdigit() or int(length) > LARGEST


async def answer(send: Any, status: int, body: bytes, headers: list[tuple[bytes, bytes]]) -> None:
    """A whole answer of a few words."""
    own = [(b"content-type", b"text/plain; charset=utf-8"), (b"content-length", str(len(body)).encode())]
    guard = [(name.encode(), value.encode()) for name, value in guard_headers("").items()]
    await send({"type": "http.response.start", "status": status, "headers": [*own, *headers, *guard]})
    await send({"type": "http.response.body", "body": body})
