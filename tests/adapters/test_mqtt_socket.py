"""A socket is read until it is empty, TLS records included, and written as one."""

from __future__ import annotations

import socket
from collections.abc import Callable, Iterator
from typing import cast

import pytest
from paho.mqtt import client as library

from adapters.live import mqtt_socket
from adapters.live.mqtt_socket import MqttSocket
from tests.adapters.staging import turns


class Client:
    """Stands in for the client library: it reads one packet at a time, and writes at once."""

    def __init__(self, packets: list[int]) -> None:
        self.packets = packets
        self._near, self._far = socket.socketpair()
        self.open = True
        self.waiting = 0
        self.on_socket_open: Callable[..., None]
        self.on_socket_close: Callable[..., None]
        self.on_socket_register_write: Callable[..., None]

    def loop_read(self) -> None:
        if self.packets:
            self.packets.pop()
        else:
            self.open = False

    def want_write(self) -> bool:
        return self.waiting > 0

    def loop_write(self) -> None:
        self.waiting -= 1

    def socket(self) -> socket.socket | None:
        return self._near if self.open else None

    def close(self) -> None:
        self._near.close()
        self._far.close()


def as_library(one: Client) -> library.Client:
    return cast("library.Client", one)


@pytest.fixture
def client() -> Iterator[Client]:
    one = Client([*range(10)])
    yield one
    one.close()


async def test_what_a_tls_socket_holds_back_is_read_without_another_word_from_the_system(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A TLS record brings many packets at once, and the system shows none of them as readable."""
    monkeypatch.setattr(mqtt_socket, "holds_decrypted", lambda _sock: bool(client.packets))
    read: list[bool] = []
    sock = MqttSocket(as_library(client), most_packets=3)
    sock.watch(lambda: read.append(sock.read()), lambda: None)
    assert sock.read()
    assert len(client.packets) == 7
    await turns()
    assert client.packets == []
    sock.close()


async def test_a_socket_that_the_library_has_closed_says_so(client: Client) -> None:
    client.packets.clear()
    sock = MqttSocket(as_library(client))
    sock.watch(lambda: None, lambda: None)
    near = client.socket()
    assert not sock.read()
    assert not sock.write()
    client.on_socket_close(client, None, near)
    assert not sock.watched


async def test_a_client_without_a_socket_cannot_be_watched(client: Client) -> None:
    client.open = False
    with pytest.raises(OSError, match="hung up"):
        MqttSocket(as_library(client)).watch(lambda: None, lambda: None)


async def test_what_the_system_does_not_take_at_once_is_written_when_it_can(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mqtt_socket, "TCP_CORK", None)  # the test's sockets are not of TCP
    client.waiting = 3
    sock = MqttSocket(as_library(client))
    written: list[bool] = []
    sock.watch(lambda: None, lambda: written.append(sock.write()))
    assert sock.write()
    assert client.waiting == 2
    await turns()
    assert client.waiting == 0
    assert written == [True, True]
    await turns()
    assert written == [True, True]
    sock.close()
