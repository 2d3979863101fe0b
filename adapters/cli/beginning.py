"""When the command began: what loads it takes time too, and counts where somebody has little."""

from __future__ import annotations

import time

_began: list[float] = []
"""The moment of `time.monotonic`; empty where a command is run by a program that goes on."""


def note() -> None:
    """Note that the command begins now."""
    _began[:] = [time.monotonic()]


def began() -> float:
    """Say when the command began; now, where nobody has noted it."""
    return _began[0] if _began else time.monotonic()
