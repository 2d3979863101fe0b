"""What the client library hands over, as a room hears it: a topic, and an `InboundMessage`."""

from __future__ import annotations

from paho.mqtt.client import MQTTMessage

from adapters.live.messages import ANSWERED_TOPICS, InboundMessage
from adapters.live.receipts import receipt_of
from adapters.live.return_address import address_in


def topic_of(message: MQTTMessage) -> str:
    """Give the topic of a message; one that is no UTF-8 is none of ours."""
    try:
        return message.topic
    except UnicodeDecodeError:
        return "\ufffd"


def inbound_message(subtopic: str, message: MQTTMessage) -> InboundMessage:
    """Give a message as it came; `subtopic` is its topic after `in/`."""
    payload = bytes(message.payload)
    receipt = receipt_of(message.mid, subtopic, payload) if message.qos else None
    replied = subtopic.partition("/")[0] in ANSWERED_TOPICS
    to = address_in(message.properties) if replied else None
    return InboundMessage(
        subtopic, payload, message.retain, receipt, message.dup, to, message.mid, message.qos
    )
