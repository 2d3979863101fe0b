"""The address of a broker, roomcue's credentials there, and the names under which it comes."""

from __future__ import annotations

import ssl
from typing import TYPE_CHECKING, Final, NamedTuple

from engine.errors import UnusableError

if TYPE_CHECKING:
    from paho.mqtt.client import Client

REFUSED_FOR_GOOD: Final = frozenset({132, 133, 134, 135, 138, 140, 154, 155})
"""Reasons (MQTT 5.0, 3.2.2.2) for which trying again is of no use."""
REFUSED_FOR_NOW: Final = frozenset({128, 131, 151})
"""Reasons for not taking a message that pass (MQTT 5.0, 3.4.2.1): it stays in the outbox."""


class BrokerError(UnusableError):
    """The broker refuses roomcue, and trying again will not help."""


class ClientName(NamedTuple):
    """A room, the client id under which it connects, and which run of roomcue that is."""

    room: str
    client_id: str
    epoch: int = 0
    """What its ids begin with, which tells its journal from others."""
    run: int = 0


class Timing(NamedTuple):
    """How long a connection waits for the broker, in seconds."""

    answer: float = 5.0
    """A connection over which nothing has come for so long is given up, until we are greeted; the
    next one waits twice as long, up to the longest wait."""
    goodbye: float = 1.0
    """The broker may take this long to acknowledge the last message before we disconnect."""
    farewell: float = 2.0
    """A room that is stopped between two connections may take this long to say that it has gone."""
    first_wait: float = 1.0
    """The wait after a failed attempt; each further one is twice as long..."""
    longest_wait: float = 30.0
    """... up to this."""


class Broker(NamedTuple):
    """The address of a broker, and roomcue's credentials there."""

    host: str
    port: int
    user: str | None = None
    password: str | None = None
    tls: ssl.SSLContext | None = None

    def introduce(self, client: Client) -> None:
        """Give a client the credentials; it must not be connected yet."""
        if self.user is not None:
            client.username_pw_set(self.user, self.password)
        if self.tls is not None:
            client.tls_set_context(self.tls)
