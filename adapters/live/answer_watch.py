"""Whether a broker answers a connection: looked at again and again until we are greeted."""

from __future__ import annotations

from typing import Literal

BrokerAnswer = Literal["nothing", "slowly", "not of the session"]
"""What a broker says: nothing at all, something, or all but whether it knows the session."""


class AnswerWatch:
    """What a broker has said since somebody last looked."""

    def __init__(self) -> None:
        self.heard = False
        """Whether anything has come since."""
        self.subscribed = False
        """Whether the broker lets us listen."""
        self._subscribed_before = False
        """Whether it did when somebody last looked: by now it should have said the rest."""

    def look(self) -> BrokerAnswer:
        """Say how the broker answers; what has come from now on counts for the next look."""
        heard, self.heard = self.heard, False
        if self._subscribed_before:
            return "not of the session"
        self._subscribed_before = self.subscribed
        return "slowly" if heard else "nothing"
