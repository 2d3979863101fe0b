"""What many rooms hear in one turn of the event loop, committed together.

A sync costs as much for one room as for all of them. A room that is alone does not wait.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from contextlib import nullcontext
from typing import NamedTuple

from adapters.live.journal import Journal, JournalError
from adapters.live.keeper import Answer, Inbound, Keeper


class Part(NamedTuple):
    """What one room has heard, and who waits for what comes of it."""

    keeper: Keeper
    messages: Sequence[Inbound]
    done: Callable[[Answer], None]
    failed: Callable[[Exception], None]
    """Called with every room as it stood before: nothing of it has happened."""


class Gathering:
    """Takes what rooms have heard, in one transaction for each turn of the loop."""

    def __init__(self, journal: Journal, *, alone: bool) -> None:
        """`alone`: there is one room, and nobody to wait for."""
        self._journal, self._alone = journal, alone
        self._parts: list[Part] = []

    def add(self, part: Part) -> None:
        """Take what a room has heard, before the loop turns once more."""
        if not self._parts and not self._alone:
            asyncio.get_running_loop().call_soon(self._finish)
        self._parts.append(part)
        if self._alone:
            self._finish()

    def _finish(self) -> None:
        parts, self._parts = self._parts, []
        stood = [part.keeper.standpoint() for part in parts]
        try:
            # One alone commits for itself.
            with self._journal.together() if len(parts) > 1 else nullcontext():
                answers = [part.keeper.take(part.messages) for part in parts]
        except Exception as error:
            for part, standpoint in zip(parts, stood, strict=True):
                part.keeper.go_back(standpoint)
            for part in parts:
                part.failed(error)
            if not isinstance(error, JournalError):
                raise
            return
        for part, answer in zip(parts, answers, strict=True):
            _tell(part, answer)


def _tell(part: Part, answer: Answer) -> None:
    """Tell one room; what goes wrong there must not keep the others from hearing theirs."""
    try:
        part.done(answer)
    except Exception as error:  # noqa: BLE001 - it is handed to the loop, which shows it
        part.failed(error)
        context = {"message": "a room could not be told", "exception": error}
        asyncio.get_running_loop().call_exception_handler(context)
