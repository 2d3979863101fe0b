"""What the client library hands over of one reading of the socket, as a room hears it."""

from __future__ import annotations

from typing import NamedTuple

from paho.mqtt.client import Client, MQTTMessage

from adapters.live.messages import ANSWERED_TOPICS, InboundMessage
from adapters.live.receipts import MOST_UNACKNOWLEDGED, receipt_of
from adapters.live.return_address import address_in


class Topics(NamedTuple):
    """The topics of one room."""

    heard: str
    """What all that is said to the room begins with, up to the last slash."""
    standing: str
    """Where the room says how it stands."""
    alive: str
    """Where whoever keeps the room says that they are there."""


class Arrivals:
    """What has come since somebody last took it."""

    def __init__(self, topics: Topics) -> None:
        self._topics = topics
        self._begin()

    def _begin(self) -> None:
        self._messages: list[InboundMessage] = []
        self._alive: list[bytes] = []
        self._stood: list[bytes] = []
        self._to_acknowledge = 0

    @property
    def enough(self) -> bool:
        """Whether messages must be acknowledged before others come.

        A broker that resumes a session may send all that waits at once, whatever it was told.
        """
        return self._to_acknowledge >= MOST_UNACKNOWLEDGED

    def note(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        """Note a message; the client library calls this."""
        topic, topics = _topic_of(message), self._topics
        if topic == topics.standing or (topic == topics.alive and message.retain):
            self._stood.append(bytes(message.payload))
        elif topic == topics.alive:
            self._alive.append(bytes(message.payload))
        else:
            self._messages.append(_inbound(topic.removeprefix(topics.heard), message))
            if message.qos:
                self._to_acknowledge += 1

    def take(
        self,
    ) -> tuple[tuple[InboundMessage, ...], tuple[bytes, ...], tuple[bytes, ...]]:
        """Give the messages, what others say of being alive, and what the broker had retained."""
        taken = tuple(self._messages), tuple(self._alive), tuple(self._stood)
        self._begin()
        return taken


def _topic_of(message: MQTTMessage) -> str:
    try:
        return message.topic
    except UnicodeDecodeError:
        return "\ufffd"  # one that is no UTF-8 is none of ours


def _inbound(subtopic: str, message: MQTTMessage) -> InboundMessage:
    payload = bytes(message.payload)
    receipt = receipt_of(message.mid, subtopic, payload) if message.qos else None
    replied = subtopic.partition("/")[0] in ANSWERED_TOPICS
    to = address_in(message.properties) if replied else None
    return InboundMessage(
        subtopic, payload, message.retain, receipt, message.dup, to, message.mid, message.qos
    )
