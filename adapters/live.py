"""One task a room: events from a bounded inbox, each stepped, committed, and its decisions sent.

The clock is handed in, so that a test runs a whole night in no time. Whoever puts events waits
while the inbox is full: nothing is dropped.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Awaitable, Callable
from typing import Protocol

from engine.decisions import Decision
from engine.events import Event
from engine.step import RoomEngine
from engine.turn import Refused

INBOX = 256

Send = Callable[[tuple[Decision, ...]], Awaitable[None]]
Refuse = Callable[[Event, Refused], Awaitable[None]]


class Clock(Protocol):
    """What a room's task asks of time."""

    def now(self) -> int:
        """Say the time in ms UTC; never earlier than before."""

    async def until(self, moment: int) -> None:
        """Wait for a moment (ms UTC)."""


class WallClock:
    """Wall time at the start, and from then on the monotonic clock: it never goes back."""

    def __init__(self) -> None:
        self._offset = time.time_ns() - time.monotonic_ns()

    def now(self) -> int:
        """Say the time in ms UTC."""
        return (time.monotonic_ns() + self._offset) // 1_000_000

    async def until(self, moment: int) -> None:
        """Wait for a moment (ms UTC)."""
        await asyncio.sleep(max(0, moment - self.now()) / 1_000)


class RoomTask:
    """A room that lives: `put` what happens, `run` it as a task, cancel the task to end it."""

    def __init__(self, engine: RoomEngine, clock: Clock, send: Send, refuse: Refuse) -> None:
        self.engine = engine
        self._clock = clock
        self._send = send
        self._refuse = refuse
        self._inbox: asyncio.Queue[Event] = asyncio.Queue(INBOX)

    async def put(self, event: Event) -> None:
        """Hand an event in; waits while the inbox is full."""
        await self._inbox.put(event)

    async def drained(self) -> None:
        """Wait until all that was handed in has been handled."""
        await self._inbox.join()

    async def run(self) -> None:
        """Handle events and deadlines until cancelled; what was begun is finished first."""
        while True:
            event = await self._next()
            handling = asyncio.ensure_future(self._handle(event))
            try:
                await asyncio.shield(handling)
            except asyncio.CancelledError:
                await handling
                raise
            finally:
                if event is not None:
                    self._inbox.task_done()

    async def _next(self) -> Event | None:
        """Wait for an event, or for the deadline (None)."""
        if not self._inbox.empty():
            return self._inbox.get_nowait()
        deadline = self.engine.deadline
        if deadline is None:
            return await self._inbox.get()
        getting = asyncio.ensure_future(self._inbox.get())
        waiting = asyncio.ensure_future(self._clock.until(deadline))
        try:
            await asyncio.wait((getting, waiting), return_when=asyncio.FIRST_COMPLETED)
        except asyncio.CancelledError:
            if getting.done():  # taken out already, so it is handled first
                await self._handle(getting.result())
                self._inbox.task_done()
            raise
        finally:
            getting.cancel()
            waiting.cancel()
        return getting.result() if getting.done() else None

    async def _handle(self, event: Event | None) -> None:
        now, engine = self._clock.now(), self.engine
        decisions: tuple[Decision, ...] = ()
        if engine.due_before(event, now):
            decisions = engine.advance(now)
        if event is not None:
            try:
                decisions += engine.handle(event, now)
            except Refused as refused:
                await self._refuse(event, refused)
        if decisions:
            await self._send(decisions)
