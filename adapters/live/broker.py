"""Where a broker is, and how it knows us."""

from __future__ import annotations

import ssl
from typing import TYPE_CHECKING, NamedTuple

from engine.errors import UnusableError

if TYPE_CHECKING:
    from paho.mqtt.client import Client


class BrokerError(UnusableError):
    """The broker will not have us, and trying again is of no use."""


class Broker(NamedTuple):
    """Where the broker is and how it knows us."""

    host: str
    port: int
    user: str | None = None
    password: str | None = None
    tls: ssl.SSLContext | None = None

    def introduce(self, client: Client) -> None:
        """Give a client what the broker knows us by, before it connects."""
        if self.user is not None:
            client.username_pw_set(self.user, self.password)
        if self.tls is not None:
            client.tls_set_context(self.tls)
