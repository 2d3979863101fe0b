"""When the command began, so that a limit of time counts what loading took as well."""

from __future__ import annotations

import time

_began: list[float] = []
"""The moment (`time.monotonic`); empty where another program calls the commands."""


def note() -> None:
    """Note that the command begins now."""
    _began[:] = [time.monotonic()]


def began() -> float:
    """Say when the command began; now, where nobody has noted it."""
    return _began[0] if _began else time.monotonic()
