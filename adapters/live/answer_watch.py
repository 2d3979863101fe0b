"""Whether a broker answers a connection: until we are greeted, and afterwards what we publish."""

from __future__ import annotations

from typing import Final, Literal

BrokerAnswer = Literal["nothing", "slowly", "not of the session"]
"""What a broker says: nothing at all, something, or all but whether it knows the session."""

MOST_SILENT: Final = 30.0
"""Seconds for which a broker may acknowledge nothing of what we have published: one that does not
would soon have all that may be in flight, and no order would ever leave any more."""


class SilenceWatch:
    """For how long a broker has acknowledged nothing, though something waits for that."""

    def __init__(self) -> None:
        self.broken = False
        """Whether it has acknowledged something since somebody last looked."""
        self._seconds = 0.0

    def lasts(self, passed: float, *, waits: bool) -> bool:
        """Look at it after so many seconds; tells whether it has lasted for too long.

        Time in which we stood still ourselves does not count, so `passed` is what should have.
        """
        silent = waits and not self.broken
        self._seconds, self.broken = self._seconds + passed if silent else 0.0, False
        return self._seconds >= MOST_SILENT


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
