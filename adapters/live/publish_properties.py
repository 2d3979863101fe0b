"""Properties of what goes to the broker: when messages end, what they reply to, and a goodbye."""

from __future__ import annotations

from functools import lru_cache

from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties


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
