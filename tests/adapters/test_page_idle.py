"""Whoever connects to the page and asks nothing takes nobody's place."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress

import pytest
import uvicorn

from adapters.page import page_app, page_server
from adapters.page.guard import Guard, RateLimit
from tests.adapters.page_callers import Served

PATIENCE = 20.0
A_FORM = b"POST /enter HTTP/1.1\r\nHost: localhost\r\nOrigin: http://localhost\r\n"


@asynccontextmanager
async def _page() -> AsyncIterator[int]:
    """Serve the page as it is served; gives its port."""
    app = Served().app.routes
    guard = Guard(app, frozenset(), loopback=True, limit=RateLimit(100, 100))
    with page_server.page_socket(("127.0.0.1", 0)) as listening:
        listening.listen()  # so that whoever connects now only waits
        server = uvicorn.Server(page_server.server_config(guard))
        serving = asyncio.create_task(server.serve(sockets=[listening]))
        try:
            yield listening.getsockname()[1]
        finally:
            server.should_exit = True
            await serving


@pytest.mark.parametrize(
    "said",
    [
        b"",
        b"GET /hay",
        b"GET / HTTP/1.1\r\nHost: localhost\r\n",
        A_FORM + b"Content-Length: 9\r\n\r\nlink",
        b"GET /static/page.css HTTP/1.1\r\nHost: localhost\r\n\r\nGET /hay",
    ],
)
async def test_a_connection_over_which_nothing_is_asked_ends(
    said: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whether nothing comes, half a request, a form without its end, or half of a second one."""
    monkeypatch.setattr(page_server, "ASKS_WITHIN", 0.3)
    monkeypatch.setattr(page_app, "FORM_WITHIN", 0.3)
    async with _page() as port:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(said)
        async with asyncio.timeout(PATIENCE):
            await reader.read()
        writer.close()
        with suppress(ConnectionError):
            await writer.wait_closed()


async def test_nobody_takes_all_places_with_connections_from_one_address(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Whoever comes from elsewhere is served; from there, once one of them has gone."""
    monkeypatch.setattr(page_server, "MOST_FROM_ONE", 3)
    async with _page() as port:
        held = [await asyncio.open_connection("127.0.0.1", port) for _ in range(4)]
        async with asyncio.timeout(PATIENCE):
            with suppress(ConnectionError):
                assert await held[3][0].read() == b""
        elsewhere = await asyncio.open_connection("127.0.0.1", port, local_addr=("127.0.0.2", 0))
        for reader, writer in (held[0], elsewhere):
            writer.write(b"GET /static/page.css HTTP/1.1\r\nHost: localhost\r\n\r\n")
            async with asyncio.timeout(PATIENCE):
                assert (await reader.readline()).startswith(b"HTTP/1.1 200")
        for _, writer in (*held, elsewhere):
            writer.close()
            with suppress(ConnectionError):
                await writer.wait_closed()


async def test_whoever_follows_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    """A stream is an answer that goes on: it is no idle connection."""
    monkeypatch.setattr(page_server, "ASKS_WITHIN", 0.1)
    async with _page() as port:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(b"GET /hayloft/stream HTTP/1.1\r\nHost: localhost\r\n\r\n")
        async with asyncio.timeout(PATIENCE):
            await reader.readuntil(b"event: hello")
        await asyncio.sleep(1)
        await reader.read(100_000)
        assert not reader.at_eof()
        writer.close()
        with suppress(ConnectionError):
            await writer.wait_closed()
