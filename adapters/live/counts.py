"""What a live room counts of itself, for whoever keeps an eye on it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field


@dataclass(slots=True)
class Counts:
    """Totals since the start."""

    events: Counter[str] = field(default_factory=Counter)
    """Events by kind, those that changed nothing too."""
    refusals: Counter[str] = field(default_factory=Counter)
    """What was not taken, by the code of its reason."""
    decisions: Counter[str] = field(default_factory=Counter)
    commits: int = 0
    lag: float = 0.0
    """Seconds that all messages together waited from their arrival to their commit."""
    longest_lag: float = 0.0
    waited: int = 0
    """How many messages that were."""

    def note_lag(self, seconds: float, messages: int) -> None:
        """Enter how long a batch of messages took from the socket to the answer."""
        self.lag += seconds * messages
        self.longest_lag = max(self.longest_lag, seconds)
        self.waited += messages
