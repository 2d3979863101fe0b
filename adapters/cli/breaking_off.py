"""Break off what takes long: when its time is over, or at Ctrl-C."""

from __future__ import annotations

import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Final

from adapters.cli.command_start import began
from engine.errors import UnusableError
from rules.text.quantity import QuantityError, read_duration

SHORTEST: Final = 100
LONGEST: Final = 86_400_000
"""The limits of `--within`, in milliseconds: a tenth of a second to a day."""


class BreakOff:
    """Tells whether to break off: ask it by calling it."""

    def __init__(self, seconds: float | None = None) -> None:
        """Break off so many seconds after the command began; None: only at Ctrl-C."""
        self._ends = None if seconds is None else began() + seconds
        self.interrupted = False
        self.said = False
        """Whether somebody has been told to break off."""

    def __call__(self) -> bool:
        """Tell whether to break off."""
        over = self._ends is not None and time.monotonic() >= self._ends
        self.said = self.said or self.interrupted or over
        return self.said

    def share(self, parts: int) -> Callable[[], bool]:
        """Give what breaks off after one of so many equal parts of the time that is left."""
        if self._ends is None:
            return self
        now = time.monotonic()
        ends = now + (self._ends - now) / parts
        return lambda: self() or time.monotonic() >= ends

    @contextmanager
    def at_ctrl_c(self) -> Iterator[None]:
        """Let the first Ctrl-C break off; a second one interrupts at once, as ever."""

        def interrupt(_number: int, _frame: FrameType | None) -> None:
            self.interrupted = True
            signal.signal(signal.SIGINT, signal.default_int_handler)

        before = signal.signal(signal.SIGINT, interrupt)
        try:
            yield
        finally:
            signal.signal(signal.SIGINT, before)


def read_time_limit(text: str | None) -> float | None:
    """Read "60 s" or "2 min" as seconds; raises `UnusableError`."""
    if text is None:
        return None
    try:
        return read_duration(text, SHORTEST, LONGEST) / 1_000
    except QuantityError as error:
        raise UnusableError(f"--within: {error}") from error
