"""What one reading of a connection's socket brought."""

from __future__ import annotations

from typing import NamedTuple

from adapters.live.messages import InboundMessage


class Batch(NamedTuple):
    """What one reading of the socket brought: messages, and what the broker says besides."""

    messages: tuple[InboundMessage, ...] = ()
    taken: tuple[int, ...] = ()
    """Outbox numbers of messages that the broker will not need again."""
    refused_for_now: bool = False
    """Whether the broker could not take something, and may take it later, or had room too late."""
    entered: bool = False
    """Whether the broker has just let us in."""
    lost: bool | None = None
    """Once, when it becomes known: whether messages may have been lost since the last one."""
    alive: tuple[bytes, ...] = ()
    """What others have just said on the topic on which we say that we are there."""
    stood: tuple[bytes, ...] = ()
    """What the broker had retained of how the room stands."""
    muted: tuple[tuple[str, str], ...] = ()
    """Topics of ours on which the broker takes nothing, and why."""
