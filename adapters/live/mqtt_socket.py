"""The client library's socket on the event loop: read until it is empty, packets written together.

The library reads and writes packets; when it may do so is decided here.
"""

from __future__ import annotations

import asyncio
import select
import socket
import ssl
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Final

from paho.mqtt.client import Client

if TYPE_CHECKING:
    from paho.mqtt.client import SocketLike

MOST_PACKETS_A_READ: Final = 500
"""No more packets than this are read before what they bring is committed."""
MOST_BYTES_AHEAD: Final = 1 << 12
"""So many bytes are read at once: some dozens of packets, as hubs send them."""
_RECEIVE: Final = "_sock_recv"
"""The method by which the client library reads its socket; a release without it reads as ever."""
TCP_CORK: Final[int | None] = getattr(socket, "TCP_CORK", None)
"""The option by which the system holds back what is written until all of it is; None: it cannot."""


class _ReadAhead:
    """Reads what a socket has at once, for the client library asks for each packet in pieces."""

    def __init__(self, client: Client) -> None:
        self._unread = b""
        self.emptied = False
        """Whether the socket gave less than it was asked for, and so had nothing more then."""
        self.gives_records = False
        """Whether it gives a TLS record at a time, which says nothing of what comes behind it."""
        receive = getattr(client, _RECEIVE, None)
        if receive is not None:
            setattr(client, _RECEIVE, partial(self._give, receive))

    @property
    def holds(self) -> bool:
        """Whether something was read that the library has not asked for yet."""
        return bool(self._unread)

    def _give(self, receive: Callable[[int], bytes], size: int) -> bytes:
        """Give up to so many bytes, as the library's own method does: `receive`."""
        unread = self._unread
        if not unread:
            asked = max(size, MOST_BYTES_AHEAD)
            unread = receive(asked)
            self.emptied = len(unread) < asked and not self.gives_records
        self._unread = unread[size:]
        return unread[:size]


class MqttSocket:
    """The socket of one client; the event loop looks at it from `watch` to `unwatch`."""

    def __init__(
        self,
        client: Client,
        enough: Callable[[], bool] = lambda: False,
        most_packets: int = MOST_PACKETS_A_READ,
    ) -> None:
        """Ask `enough` whether what has come must be dealt with before more is read."""
        self._client, self._enough, self._most_packets = client, enough, most_packets
        self._watched: SocketLike | None = None
        self._on_readable: Callable[[], None] | None = None
        self._on_writable: Callable[[], None] | None = None
        self._ahead = _ReadAhead(client)
        self._poll = select.poll()
        self._waits_to_write = False
        self.packets = 0
        """How many packets were queued since the last `write`, counted by whoever queues them. More
        than one leave together; for a single one that would be two calls of the system for nothing.
        """
        client.on_socket_open = _send_at_once
        client.on_socket_close = self._on_close
        client.on_socket_register_write = _leave_in_queue

    @property
    def watched(self) -> bool:
        """Whether the event loop looks at it; before that, another thread connects the client."""
        return self._watched is not None

    def watch(self, on_readable: Callable[[], None], on_writable: Callable[[], None]) -> None:
        """Let the event loop call when there is something to read, or room for what waits.

        `on_writable` calls `write` again. Raises OSError where the socket is closed.
        """
        sock = self._client.socket()
        if sock is None:
            raise OSError("the broker hung up at once")
        self._watched, self._ahead.gives_records = sock, isinstance(sock, ssl.SSLSocket)
        self._on_readable, self._on_writable = on_readable, on_writable
        self._poll.register(sock, select.POLLIN)
        asyncio.get_running_loop().add_reader(sock, on_readable)

    def read(self) -> bool:
        """Read packets until the socket is empty or it is `enough`; False: it is closed."""
        sock = self._client.socket()
        if sock is None:
            return False
        for _ in range(self._most_packets):
            self._client.loop_read()
            sock = self._client.socket()
            if sock is None:
                return False
            if not self._holds_more(sock) and (self._ahead.emptied or not self._poll.poll(0)):
                return True
            if self._enough():
                break
        if self._holds_more(sock) and self._on_readable is not None:
            # The event loop does not know of these bytes.
            asyncio.get_running_loop().call_soon(self._on_readable)
        return True

    def _holds_more(self, sock: SocketLike) -> bool:
        """Tell whether there are bytes that the system does not show as readable."""
        return self._ahead.holds or holds_decrypted(sock)

    def write(self) -> bool:
        """Write all packets that the client has queued; False: the socket is closed.

        What the system does not take now is written when it can.
        """
        client = self._client
        sock = client.socket()
        together, self.packets = self.packets > 1, 0
        if client.want_write():
            if together:
                _cork(sock, held=True)
            client.loop_write()
            sock = client.socket()
            if together:
                _cork(sock, held=False)
        if sock is None:
            return False
        if self._on_writable is not None and client.want_write() != self._waits_to_write:
            loop = asyncio.get_running_loop()
            if self._waits_to_write:
                loop.remove_writer(sock)
            else:
                loop.add_writer(sock, self._on_writable)
            self._waits_to_write = not self._waits_to_write
        return True

    def close(self) -> None:
        """Close the socket, whatever the library thinks of it."""
        sock = self._client.socket()
        if sock is not None:
            self._unwatch(sock)
            sock.close()

    def _on_close(self, _client: Client, _data: object, sock: SocketLike) -> None:
        self._unwatch(sock)

    def _unwatch(self, sock: SocketLike) -> None:
        """Let the event loop look away, before the socket's number is given to another."""
        if sock is self._watched:
            loop = asyncio.get_running_loop()
            loop.remove_reader(sock)
            loop.remove_writer(sock)
            self._watched, self._waits_to_write = None, False


def _send_at_once(_client: Client, _data: object, sock: SocketLike) -> None:
    """Turn off waiting: of two small packets in a row the second waits for an acknowledgement."""
    if isinstance(sock, socket.socket):
        sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


def _cork(sock: SocketLike | None, *, held: bool) -> None:
    """Hold packets back, or let them leave together: each by itself wakes the broker by itself."""
    if TCP_CORK is not None and isinstance(sock, socket.socket):
        sock.setsockopt(socket.IPPROTO_TCP, TCP_CORK, held)


def _leave_in_queue(*_: object) -> None:
    """Leave packets in the client's queue: they are written together once a batch is done."""


def holds_decrypted(sock: object) -> bool:
    """Tell whether a TLS socket holds bytes that the system does not show as readable."""
    return isinstance(sock, ssl.SSLSocket) and sock.pending() > 0
