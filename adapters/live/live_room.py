"""A live room at the edge: its deadlines on the event loop, its words to whoever carries them.

The keeper does the work, at once; this says when, and hands on what came of it.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Final, Protocol

from structlog.typing import FilteringBoundLogger

from adapters.live.journal import JournalError
from adapters.live.keeper import Answer, Keeper
from adapters.live.log import log_decisions
from adapters.live.messages import Said, alive, decision_data, reason_of, refusal
from adapters.live.metrics import text_of_one

AGAIN: Final = 5.0
"""When the journal could not be written, what is due is tried again after so long (s)."""
LONGEST_SLEEP: Final = 3_600.0
ALIVE_EVERY: Final = 60.0


class Outlet(Protocol):
    """Who carries words out of a room."""

    def say(self, said: Said, serial: int | None) -> None:
        """Send a message; with a serial, tell the keeper once it has been taken."""

    def write(self) -> None:
        """Send what was said so far."""

    def soon(self, work: Callable[[], None]) -> None:
        """Do what nobody waits for, once what was sent is on its way; it may be done twice."""


class LiveRoom:
    """A room on the running event loop."""

    def __init__(self, keeper: Keeper, log: FilteringBoundLogger) -> None:
        self.keeper = keeper
        self.log = log
        self.outlet: Outlet | None = None
        self.proposed: Callable[[], None] | None = None
        """Called when a room file has come as a message and is to be checked."""
        self.greeted = asyncio.Event()
        """Whether somebody has ever heard us."""
        self.since = keeper.now()
        self._timer: asyncio.TimerHandle | None = None
        self._alive: asyncio.TimerHandle | None = None
        self._due: int | None = None
        self._unexplained: list[Answer] = []

    def begin(self) -> None:
        """Take the room up again and arm its deadlines."""
        self.tell(self.keeper.resume())
        self._say_alive()

    def tell(self, answer: Answer) -> None:
        """Send what came of something, arm the next deadline, and explain it soon."""
        outlet = self.outlet
        if outlet is not None:
            for word in answer.words:
                outlet.say(*word)
            outlet.write()
        self.arm()
        if answer.proposal is not None and self.proposed is not None:
            self.proposed()
        if not (answer.moved or answer.decisions or answer.refusals):
            return
        self._unexplained.append(answer)
        if outlet is None:
            self._explain()
        else:
            outlet.soon(self._explain)

    def _explain(self) -> None:
        """Say and log why, what was not taken, and how things stand now."""
        answers, self._unexplained = self._unexplained, []
        said: list[Said] = []
        for answer in answers:
            decisions = [*map(decision_data, answer.decisions)]
            said += map(reason_of, decisions)
            log_decisions(self.log, decisions)
            for refused, leaf in answer.refusals:
                said.append(refusal(refused, leaf, self.keeper.now()))
                self.log.warning(
                    "refused", topic=f"in/{leaf}", code=refused.code, words=refused.words
                )
        standing = self.keeper.standing() if any(one.moved for one in answers) else None
        if standing is not None:
            said.append(standing)
        if self.outlet is not None:
            for one in said:
                self.outlet.say(one, None)

    def greet(self, *, lost: bool) -> None:
        """Say what has waited and how things stand; ask for everything if messages are `lost`."""
        self.tell(Answer(self.keeper.waiting()))
        if lost:
            self.tell(self.keeper.lost())
        self._say_standing()
        self.say(self.alive())
        self.greeted.set()

    def say_again(self) -> None:
        """Say what still waits and how things stand, where some of it was not taken."""
        self.tell(Answer(self.keeper.waiting()))
        self._say_standing()

    def _say_standing(self) -> None:
        standing = self.keeper.standing(again=True)
        if standing is not None:
            self.say(standing)

    def say(self, said: Said) -> None:
        """Send one message that nothing waits for."""
        if self.outlet is not None:
            self.outlet.say(said, None)
            self.outlet.write()

    def alive(self) -> Said:
        """Say that roomcue is there, and what it has counted for this room."""
        return alive(self.keeper.now(), self.since, text_of_one(self.keeper))

    def arm(self) -> None:
        """Wake up when something is due."""
        due = self.keeper.deadline
        if due == self._due and self._timer is not None:
            return
        if self._timer is not None:
            self._timer.cancel()
        self._due, self._timer = due, None
        if due is not None:
            wait = min(max(0, due - self.keeper.now()) / 1_000, LONGEST_SLEEP)
            self._timer = asyncio.get_running_loop().call_later(wait, self._wake)

    def end(self) -> None:
        """Stop the deadlines, and leave nothing unexplained."""
        self._explain()
        for timer in (self._timer, self._alive):
            if timer is not None:
                timer.cancel()
        self._timer = self._alive = None

    def _wake(self) -> None:
        self._timer = self._due = None
        try:
            self.tell(self.keeper.pass_time())
        except JournalError as error:
            self.log.warning("journal cannot be written", why=str(error), again_in=AGAIN)
            self._timer = asyncio.get_running_loop().call_later(AGAIN, self._wake)

    def _say_alive(self) -> None:
        self.say(self.alive())
        self._alive = asyncio.get_running_loop().call_later(ALIVE_EVERY, self._say_alive)
