"""A mark in the broker's session, by which the room knows the session for its own.

That the broker has kept a session says little: it may have begun a new one in an attempt whose
answer was lost. So a session carries a subscription to a topic on which nothing comes. It is set
once the hub's questions are in the journal; if it cannot be taken away, it was not there.
"""

from __future__ import annotations

from typing import Final

from paho.mqtt.client import Client
from paho.mqtt.reasoncodes import ReasonCode

REASON_NO_SUBSCRIPTION: Final = 17
"""There was no such subscription to take away (MQTT 5.0, 3.11.3)."""


class SessionMark:
    """What one connection finds out of the session."""

    def __init__(self, client: Client, topic_root: str) -> None:
        self._client, self._topic = client, f"{topic_root}/in/session"
        self.lost: bool | None = None
        """Whether messages may have been lost since the last connection; None: nobody knows yet."""
        self._kept = True
        client.on_unsubscribe = self._on_unsubscribe

    def look_for(self, heard_once: str, *, kept: bool) -> None:
        """Take the mark away, where the broker says that it has `kept` a session.

        With it goes the subscription to a topic that is `heard_once`: what is retained there comes
        before the answer.
        """
        self._kept = kept
        self._client.unsubscribe([heard_once, self._topic] if kept else heard_once)

    def is_overdue(self) -> bool:
        """Take the session for a new one, if the broker has not answered by now; some never do."""
        overdue = self.lost is None
        self.lost = self.lost or overdue
        return overdue

    def set(self) -> None:
        """Mark the session as the one that we know."""
        self._client.subscribe(self._topic, qos=0)

    def _on_unsubscribe(
        self,
        _client: Client,
        _data: object,
        _packet: int,
        reasons: list[ReasonCode],
        _props: object,
    ) -> None:
        self.lost = not self._kept or reasons[-1].value == REASON_NO_SUBSCRIPTION
