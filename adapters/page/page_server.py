"""The page's server: listens, keeps the broker's connection, and stops cleanly."""

from __future__ import annotations

import asyncio
import ipaddress
import signal
import socket
from contextlib import suppress
from typing import TYPE_CHECKING, Final, NamedTuple

import uvicorn

from adapters.page.guard import Guard, RateLimit
from adapters.page.page_app import PageApp
from adapters.page.room_board import RoomBoard
from adapters.page.room_link import RoomLink
from adapters.page.visitors import Door
from engine.errors import UnusableError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from adapters.live.broker import Broker
    from engine.room import Room

MOST_CONNECTIONS: Final = 400
MOST_REQUESTS: Final = (300, 50)
"""Requests from one address: at once, and a second after that. Fifty phones may come at a time."""
UNREAD_FOR: Final = 30_000
"""A connection whose other end takes nothing for so long (ms) is given up."""


class PageOptions(NamedTuple):
    """How the page shall be served."""

    rooms: Sequence[Room]
    broker: Broker
    address: tuple[str, int]
    door: Door
    hosts: frozenset[str] = frozenset()
    """Names by which the page is opened, besides addresses in figures."""


def page_socket(address: tuple[str, int]) -> socket.socket:
    """Open the socket on which the page listens; raises `UnusableError`."""
    host, port = address
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    made = socket.socket(family, socket.SOCK_STREAM)
    try:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if hasattr(socket, "TCP_USER_TIMEOUT"):
            made.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, UNREAD_FOR)
        made.bind(address)
    except OSError as error:
        made.close()
        raise UnusableError(
            f"the page cannot listen on {host}, port {port}: {error.strerror}; name another one"
        ) from error
    return made


def is_loopback(host: str) -> bool:
    """Tell whether an address is this machine's own."""
    with suppress(ValueError):
        return ipaddress.ip_address(host).is_loopback
    return host == "localhost"


def serve_page(options: PageOptions, log: Callable[[str], None]) -> None:
    """Serve the page until somebody stops it; raises `UnusableError`."""
    with page_socket(options.address) as listening:
        asyncio.run(_serve(options, listening, log))


async def _serve(
    options: PageOptions, listening: socket.socket, log: Callable[[str], None]
) -> None:
    boards = [RoomBoard(room) for room in options.rooms]
    link = RoomLink(options.broker, log)
    app = PageApp(boards, link.say, options.door, secure=options.door.proxy_header is not None)
    loopback = is_loopback(options.address[0])
    guard = Guard(app.routes, options.hosts, loopback=loopback, limit=RateLimit(*MOST_REQUESTS))
    server = _Server(_configured(guard), app.closing)
    host, port = options.address
    log(f"open on http://{f'[{host}]' if ':' in host else host}:{port}")
    link.listen([(board.room.name, board) for board in boards])
    try:
        await server.serve(sockets=[listening])
    finally:
        link.leave()


def _configured(app: Guard) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        loop="asyncio",
        http="h11",
        ws="none",
        lifespan="off",
        log_config=None,
        log_level="error",  # what strangers send that is no HTTP fills no log
        access_log=False,  # an address may hold a link's secret
        server_header=False,
        proxy_headers=False,  # only an option says whom to believe
        limit_concurrency=MOST_CONNECTIONS,
        timeout_keep_alive=10,
        timeout_graceful_shutdown=2,
        h11_max_incomplete_event_size=16_384,
    )


class _Server(uvicorn.Server):
    """A server that lets its streams end as soon as it is told to stop."""

    def __init__(self, config: uvicorn.Config, closing: asyncio.Event) -> None:
        super().__init__(config)
        self._closing, self._loop = closing, asyncio.get_running_loop()

    def handle_exit(self, sig: int, _frame: object) -> None:
        """Stop, as a signal says; on a second Ctrl-C at once."""
        self._loop.call_soon_threadsafe(self._closing.set)
        self.force_exit = self.should_exit and sig == signal.SIGINT
        self.should_exit = True
