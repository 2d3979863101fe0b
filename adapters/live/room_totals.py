"""The totals that a live room keeps of itself, for monitoring."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field


@dataclass(slots=True)
class DroppedLines:
    """How many lines of the log nobody has read in time; of all rooms, for they share it."""

    lines: int = 0


@dataclass(slots=True)
class Counts:
    """Totals since the start."""

    events: Counter[str] = field(default_factory=Counter)
    """Events by kind, including those that changed nothing."""
    refusals: Counter[str] = field(default_factory=Counter)
    """Refused messages, by the code of the reason."""
    decisions: Counter[str] = field(default_factory=Counter)
    commits: int = 0
    lag: float = 0.0
    """Seconds from arrival to answer, summed over all messages."""
    longest_lag: float = 0.0
    """The longest of these times, in seconds."""
    waited: int = 0
    """How many messages are in the sum."""

    log: DroppedLines = field(default_factory=DroppedLines)

    def note_lag(self, seconds: float, messages: int) -> None:
        """Add a batch of messages that took so many seconds from the socket to the answer."""
        self.lag += seconds * messages
        self.longest_lag = max(self.longest_lag, seconds)
        self.waited += messages
