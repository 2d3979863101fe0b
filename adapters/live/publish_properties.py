"""Properties of what goes to the broker: a session, when messages end, replies, a goodbye."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from adapters.live.messages import MOST_ROOM_FILE_BYTES
from adapters.live.receipts import MOST_UNACKNOWLEDGED

SESSION_EXPIRY: Final = 7 * 86_400
"""Seconds for which the broker keeps what is sent to a room that is not there."""
LARGEST_HEARD: Final = 4 * MOST_ROOM_FILE_BYTES
"""Bytes of a packet that the broker may send. It drops what is larger and tells nobody, so what is
only somewhat too long comes, and is refused in words."""


def session_properties() -> Properties:
    """Say for how long the broker keeps the session, and how much may come at once."""
    properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
    properties.SessionExpiryInterval = SESSION_EXPIRY
    properties.ReceiveMaximum = MOST_UNACKNOWLEDGED
    properties.MaximumPacketSize = LARGEST_HEARD
    return properties


def properties_of(seconds: int, correlation: bytes | None) -> Properties:
    """Say that a message ends after some seconds, and which question it replies to, if any."""
    if correlation is None:
        return _expiring(seconds)
    return _Expiring(seconds, correlation)


def without_session() -> Properties:
    """Say goodbye so that the broker keeps no session.

    Over a connection of our own that ends the session of nobody else who is connected.
    """
    properties = Properties(PacketTypes.DISCONNECT)  # type: ignore[no-untyped-call]
    properties.SessionExpiryInterval = 0
    return properties


class _Expiring(Properties):
    """Says that a message ends after some seconds; put into bytes once."""

    def __init__(self, seconds: int, correlation: bytes | None = None) -> None:
        super().__init__(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
        self.MessageExpiryInterval = seconds
        if correlation is not None:
            self.CorrelationData = correlation
        vars(self)["packed"] = super().pack()  # type: ignore[no-untyped-call]

    def pack(self) -> bytes:
        """Give the bytes, for as often as they are sent."""
        return bytes(vars(self)["packed"])


_expiring = lru_cache(64)(_Expiring)
