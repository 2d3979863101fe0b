"""The page's server: listens, keeps the broker's connection, and stops cleanly."""

from __future__ import annotations

import asyncio
import ipaddress
import signal
import socket
from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING, Final, NamedTuple, cast

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from adapters.page.guard import Guard, RateLimit, address_of
from adapters.page.page_app import PageApp
from adapters.page.room_board import RoomBoard
from adapters.page.room_link import RoomLink
from adapters.page.visitors import Door
from engine.errors import UnusableError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from uvicorn.protocols.http.h11_impl import RequestResponseCycle

    from adapters.live.broker import Broker
    from engine.room import Room

MOST_CONNECTIONS: Final = 400
MOST_FROM_ONE: Final = 120
"""Connections from one address: nobody keeps all others out. A proxy's are everybody's."""
MOST_REQUESTS: Final = (300, 50)
"""Requests from one address: at once, and a second after that. Fifty phones may come at a time."""
UNREAD_FOR: Final = 30_000
"""A connection whose other end takes nothing for so long (ms) is given up."""

ASKS_WITHIN: Final = 10.0
"""Seconds within which whoever connects must have asked for something in full."""


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
    link = RoomLink(options.broker, log)
    boards = [RoomBoard(room, partial(link.ask, room.name)) for room in options.rooms]
    app = PageApp(boards, link.say, options.door, secure=options.door.proxy_header is not None)
    loopback = is_loopback(options.address[0])
    limit = RateLimit(*MOST_REQUESTS)
    proxies = options.door.proxies
    guard = Guard(app.routes, options.hosts, loopback=loopback, limit=limit, proxies=proxies)
    server = _Server(server_config(guard), app.closing)
    host, port = options.address
    log(f"open on http://{f'[{host}]' if ':' in host else host}:{port}")
    link.listen([(board.room.name, board) for board in boards])
    try:
        await server.serve(sockets=[listening])
    finally:
        link.leave()


def server_config(app: Guard) -> uvicorn.Config:
    """Say how the library serves the page."""
    return uvicorn.Config(
        app,
        loop="asyncio",
        http=_BriefConnection,
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


class _BriefConnection(H11Protocol):
    """A connection that ends unless something is asked over it soon.

    The library waits for ever for a first request, and for the rest of any: some hundred
    connections over which nobody says anything would keep everybody else out.
    """

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to look whether anything is asked; whoever has too many connections gets none."""
        super().connection_made(transport)
        self._answered: object = self.cycle
        self._looks = self.loop.call_later(ASKS_WITHIN, self._look)
        if self._from_one() > MOST_FROM_ONE:
            transport.abort()

    def connection_lost(self, exc: Exception | None) -> None:
        """Look no more."""
        self._looks.cancel()
        super().connection_lost(exc)

    def _from_one(self) -> int:
        """Count the connections of whoever this one comes from; those of a proxy do not count."""
        here = _peer_of(self.transport)
        if here in cast("Guard", self.config.app).proxies:
            return 0
        others = cast("set[H11Protocol]", self.connections)
        return sum(_peer_of(other.transport) == here for other in others)

    def _look(self) -> None:
        """End a connection over which nothing new was asked since somebody last looked."""
        latest = cast("RequestResponseCycle | None", self.cycle)
        answers = latest is not None and not latest.response_complete
        if not answers and latest is self._answered:
            self.transport.close()
            return
        self._answered = latest
        self._looks = self.loop.call_later(ASKS_WITHIN, self._look)


def _peer_of(transport: asyncio.BaseTransport) -> str:
    name = transport.get_extra_info("peername")
    return address_of(name[0]) if name else ""


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
