"""A network that can be cut: a small TCP proxy between a client and its broker."""

from __future__ import annotations

import selectors
import socket
import struct
import threading
from typing import Self

RESET = struct.pack("ii", 1, 0)


class Proxy:
    """Hands bytes to and fro until told otherwise."""

    def __init__(self, port: int) -> None:
        self._to = port
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listening.getsockname()[1])
        self._pairs: dict[socket.socket, socket.socket] = {}
        self._lock = threading.Lock()
        self._up, self._held, self._over = True, False, False
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over = True
        self._thread.join()
        self._drop()
        self._listening.close()

    def cut(self) -> None:
        """Break every connection and take no new one."""
        self._up = False
        self._drop()

    def mend(self) -> None:
        """Take connections again."""
        self._up = True

    def hold(self) -> None:
        """Let nothing through, but keep the connections: a network that is dead and silent."""
        self._held = True

    def release(self) -> None:
        """Let everything through again."""
        self._held = False

    def _drop(self) -> None:
        with self._lock:
            for one in self._pairs:
                one.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, RESET)
                one.close()
            self._pairs.clear()

    def _run(self) -> None:
        self._listening.settimeout(0.005)
        while not self._over:
            with self._lock:
                self._accept()
                if not self._held:
                    self._carry()

    def _accept(self) -> None:
        try:
            client, _ = self._listening.accept()
        except TimeoutError:
            return
        server = self._reached() if self._up else None
        if server is None:
            client.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, RESET)
            client.close()
            return
        for one in (client, server):
            one.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._pairs |= {client: server, server: client}

    def _reached(self) -> socket.socket | None:
        """Connect to the broker; None while it is not there."""
        try:
            return socket.create_connection(("127.0.0.1", self._to))
        except OSError:
            return None

    def _carry(self) -> None:
        with selectors.DefaultSelector() as selector:
            for one in self._pairs:
                selector.register(one, selectors.EVENT_READ)
            ready = {key.fileobj for key, _ in selector.select(0.005)} if self._pairs else set()
        for one in [*self._pairs]:
            if one in ready and one in self._pairs:
                self._hand_on(one)

    def _hand_on(self, one: socket.socket) -> None:
        other = self._pairs[one]
        try:
            data = one.recv(65_536)
            if data:
                other.sendall(data)
                return
        except OSError:
            pass
        for ended in (one, other):
            self._pairs.pop(ended, None)
            ended.close()
