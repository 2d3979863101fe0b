"""Where a reply goes: the response topic and correlation data of MQTT 5, as far as they are fit."""

from __future__ import annotations

from typing import Final, NamedTuple

ROOT_OF_ROOMS: Final = "roomcue"
"""The first level of every topic of a room."""
MOST_RESPONSE_TOPIC: Final = 256
"""Characters of a response topic, at most."""
MOST_CORRELATION_BYTES: Final = 128


class ReturnAddress(NamedTuple):
    """Where a reply goes, as its asker gave it (MQTT 5.0, 3.3.2.3.5 and 3.3.2.3.6)."""

    topic: str | None = None
    """The whole response topic; None: the room's own topic for replies."""
    correlation: bytes | None = None
    """What the asker knows the reply by."""


def return_address(topic: str | None, correlation: bytes | None) -> ReturnAddress | None:
    """Take what an asker gives for the reply, as far as it is fit; None: nothing of it is.

    A topic has no wildcard and at most 256 characters, and lies neither within roomcue's own tree,
    where it would pass for an order or an event, nor within the broker's (`$`).
    """
    if topic is not None and not _is_fit(topic):
        topic = None
    if correlation is not None and len(correlation) > MOST_CORRELATION_BYTES:
        correlation = None
    return None if topic is None and correlation is None else ReturnAddress(topic, correlation)


def address_in(properties: object) -> ReturnAddress | None:
    """Read the return address in a message's properties, as the client library gives them."""
    topic = getattr(properties, "ResponseTopic", None)
    correlation = getattr(properties, "CorrelationData", None)
    if topic is correlation is None:
        return None
    return return_address(topic, correlation)


def _is_fit(topic: str) -> bool:
    first = topic.partition("/")[0]
    return (
        0 < len(topic) <= MOST_RESPONSE_TOPIC
        and topic.isprintable()
        and not set(topic) & {"+", "#"}
        and first != ROOT_OF_ROOMS
        and not first.startswith("$")
    )
