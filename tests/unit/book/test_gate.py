"""Who is let in at the gate of the book, asked as a browser, a page from elsewhere and a stranger would."""

from __future__ import annotations

import asyncio

import pytest

from drape.book.gate import Gate

HOST, ORIGIN, KEY = "127.0.0.1:4711", "http://127.0.0.1:4711", "a-key-of-the-test"
COOKIE = f"drape-book-4711={KEY}"


async def inner(scope, receive, send):
    if scope["type"] == "websocket":
        await send({"type": "websocket.accept"})
    else:
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"inside"})


def ask(kind="http", *, path="/", query="", method="GET", **headers):
    """What the gate answers: status and headers, or the type of the answer to a websocket."""
    scope = {
        "type": kind, "path": path, "query_string": query.encode(), "method": method,
        "headers": [(name.replace("_", "-").encode(), value.encode()) for name, value in headers.items()],
    }  # fmt: skip
    sent = []

    async def receive():
        return {"type": "websocket.connect"}

    async def send(message):
        sent.append(message)

    asyncio.run(Gate(inner, KEY, {HOST: ORIGIN})(scope, receive, send))
    first = sent[0]
    return first.get("status", first["type"]), dict(first.get("headers", []))


def test_the_first_address_gives_a_cookie_that_scripts_and_other_sites_cannot_have():
    status, headers = ask(query=f"key={KEY}", host=HOST)
    assert status == 303 and headers[b"location"] == b"/"
    cookie = headers[b"set-cookie"].decode()
    assert cookie.startswith(f"{COOKIE};") and "HttpOnly" in cookie and "SameSite=Strict" in cookie


def test_with_the_cookie_one_is_let_in_under_a_strict_policy():
    status, headers = ask(host=HOST, cookie=COOKIE)
    assert status == 200
    policy = headers[b"content-security-policy"].decode()
    assert "default-src 'none'" in policy and "script-src 'self';" in policy and "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy and "http:" not in policy and "https:" not in policy


@pytest.mark.parametrize(
    "asked",
    [
        {"host": HOST},
        {"host": HOST, "cookie": "drape-book-4711=another"},
        {"host": "evil.example", "cookie": COOKIE},
        {"host": HOST, "cookie": COOKIE, "origin": "http://evil.example"},
        {"host": HOST, "cookie": COOKIE, "origin": "null"},
        {"cookie": COOKIE},
        {"host": HOST, "query": "key=another"},
        {"host": "evil.example", "query": f"key={KEY}"},
        {"host": HOST, "cookie": COOKIE, "method": "POST"},
    ],
)
def test_without_the_key_or_under_another_name_or_origin_nothing_is_told(asked):
    assert ask(**asked)[0] == 403


@pytest.mark.parametrize(
    ("asked", "answer"),
    [
        ({"cookie": COOKIE, "origin": ORIGIN}, "websocket.accept"),
        ({"cookie": COOKIE}, "websocket.close"),
        ({"origin": ORIGIN}, "websocket.close"),
        ({"cookie": COOKIE, "origin": "http://evil.example"}, "websocket.close"),
    ],
)
def test_a_websocket_needs_key_and_origin(asked, answer):
    assert ask("websocket", path="/line", host=HOST, **asked)[0] == answer


def test_what_is_too_large_is_refused_before_it_is_read():
    assert ask(host=HOST, cookie=COOKIE, content_length="2000000")[0] == 413
    assert ask(host=HOST, cookie=COOKIE, content_length="-1")[0] == 413
