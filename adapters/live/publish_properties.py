"""Properties of the messages that go to the broker: when they end, and what they reply to."""

from __future__ import annotations

from functools import lru_cache

from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties


def properties_of(seconds: int, correlation: bytes | None) -> Properties:
    """Say that a message ends after some seconds, and which question it replies to, if any."""
    if correlation is None:
        return _expiring(seconds)
    return _Expiring(seconds, correlation)


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
