"""A socket is read until it is empty, TLS records included, and written as one."""

from __future__ import annotations

import inspect
import socket
import ssl
from collections.abc import Callable, Iterator
from contextlib import closing
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


class ByteReader(Client):
    """Reads packets of three bytes each, byte by byte, as the library reads the head of one."""

    def __init__(self, most: int = 1 << 20) -> None:
        super().__init__([])
        self._near.setblocking(False)
        self.far, self.most, self._plain = self._far, most, self._near
        self.asked: list[int] = []
        self.pieces = 0
        self.came: list[bytes] = []

    def hide_in_tls(self) -> None:
        """Let its socket be one of TLS, whose records are no larger than what comes at a time."""
        self._plain = self._near.dup()
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        context.check_hostname = False
        self._near = context.wrap_socket(self._near, do_handshake_on_connect=False)

    def close(self) -> None:
        super().close()
        self._plain.close()

    def _sock_recv(self, size: int) -> bytes:
        self.asked.append(size)
        came = self._plain.recv(min(size, self.most))
        self.pieces += 1
        return came

    def receive(self, size: int) -> bytes:
        return self._sock_recv(size)

    def loop_read(self) -> None:
        try:
            packet = b"".join(self.receive(1) for _ in range(3))
        except BlockingIOError:
            return
        if packet:
            self.came.append(packet)
        else:
            self.open = False


@pytest.mark.parametrize("most", [1, 2, 4, 7, 1 << 20])
async def test_what_a_socket_has_is_read_at_once_and_none_of_it_is_lost(most: int) -> None:
    """However much a TLS record brings, or without TLS, and however few packets make a batch."""
    with closing(ByteReader(most)) as reader:
        if most < 1 << 20:
            reader.hide_in_tls()
        read: list[bool] = []
        sock = MqttSocket(as_library(reader), most_packets=2)
        sock.watch(lambda: read.append(sock.read()), lambda: None)
        packets = [bytes([number] * 3) for number in range(9)]
        reader.far.sendall(b"".join(packets))
        assert sock.read()
        assert reader.came == packets[:2]
        await turns(20)
        assert reader.came == packets
        assert reader.pieces == -(-27 // most)
        reader.far.close()
        near = reader.socket()
        assert not sock.read(), "that it is closed is heard as well"
        reader.on_socket_close(reader, None, near)


async def test_a_tls_record_that_was_read_whole_says_nothing_of_those_behind_it() -> None:
    """Each packet is a record here, and all that came together is one batch all the same."""
    with closing(ByteReader(most=3)) as reader:
        reader.hide_in_tls()
        sock = MqttSocket(as_library(reader))
        sock.watch(lambda: None, lambda: None)
        packets = [bytes([number] * 3) for number in range(9)]
        reader.far.sendall(b"".join(packets))
        assert sock.read()
        assert reader.came == packets
        sock.close()


def test_a_large_packet_is_asked_for_whole() -> None:
    """The library gives one up for this time after a hundred pieces."""
    with closing(ByteReader()) as reader:
        MqttSocket(as_library(reader))
        with pytest.raises(BlockingIOError):
            reader.receive(300_000)
        assert reader.asked == [300_000]


def test_the_library_reads_by_the_method_that_is_replaced() -> None:
    """A release that reads otherwise does no harm, but what was measured no longer holds."""
    assert "self._sock_recv(1)" in inspect.getsource(library.Client)


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


@pytest.mark.parametrize(("packets", "held"), [(1, []), (2, [1, 0]), (5, [1, 0])])
async def test_several_packets_leave_together_and_a_single_one_is_not_held_back(
    client: Client, monkeypatch: pytest.MonkeyPatch, packets: int, held: list[int]
) -> None:
    corked: list[int] = []
    monkeypatch.setattr(mqtt_socket, "_cork", lambda _, *, held: corked.append(int(held)))
    client.waiting = packets
    sock = MqttSocket(as_library(client))
    sock.watch(lambda: None, lambda: None)
    sock.packets = packets
    assert sock.write()
    assert corked == held
    client.waiting = 1
    sock.packets += 1
    assert sock.write()
    assert corked == held  # what has left is not counted again
    sock.close()
