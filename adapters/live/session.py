"""A room's session with the broker: one connection after another, for as long as the room lives.

The broker keeps the session between connections. A connection that ends soon is followed by the
next one later and later, so that nothing that happens to one room, and no broker that comes and
goes, takes the other rooms along.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from functools import partial
from typing import Final

from structlog.typing import FilteringBoundLogger

from adapters.live.broker import Broker, BrokerError, ClientName, Timing
from adapters.live.connection import Connection, Now
from adapters.live.daemon_thread import in_daemon_thread
from adapters.live.farewell import say_gone
from adapters.live.messages import OutgoingMessage

STEADY_SECONDS: Final = 15.0
"""A connection that the broker has closed before it lasted this long is followed more slowly."""


class Session:
    """Keeps one room connected: `run` it as a task, cancel the task to end it."""

    may_explain_later = True
    """What explains an order may leave a moment after it."""

    def __init__(
        self,
        name: ClientName,
        broker: Broker,
        now: Now,
        log: FilteringBoundLogger,
        timing: Timing | None = None,
    ) -> None:
        self._name, self._broker, self._now, self._log = name, broker, now, log
        self._timing = timing or Timing()
        self._answer_within = self._timing.answer
        """For how many seconds the next connection waits for an answer."""
        self.connection: Connection | None = None
        """The connection of this moment; None: between two."""
        self.hopeless: str | None = None
        """Why the room will not be heard of until somebody has mended something; None: it will."""
        self._admitted = False
        """Whether the broker has ever let the room in."""
        self._sent_before = 0
        """The highest outbox number of what was handed on over connections that are over."""
        self._muted: dict[str, str] = {}
        """What is known of topics on which nothing is taken, from one connection to the next."""
        self._left = False
        """Whether goodbye was said: no further connection is opened."""
        self._may_pass_for_alive = False
        """Whether the broker may have our word that the room is kept, with no connection there."""

    async def run(
        self, on_readable: Callable[[], None], among: Sequence[Session] | None = None
    ) -> None:
        """Stay connected until cancelled.

        `on_readable` is called when the connection has something to read. Raises `BrokerError` once
        no session `among` those of all rooms has any hope.
        """
        sessions = [self] if among is None else among
        wait = self._timing.first_wait
        while True:
            connection = self._new_connection()
            began = asyncio.get_running_loop().time()
            try:
                await connection.open(on_readable)
                await connection.ended.wait()
            except OSError as error:
                connection.unanswered = isinstance(error, TimeoutError)
                self._log.warning(
                    "broker is out of reach", why=error.strerror or str(error), again_in=wait
                )
            finally:
                connection.close()
                self._note_word_left_by(connection)
                self._sent_before = self.last_sent
                self.connection = None
            if connection.greeted and not self._sent_away(connection, began):
                wait = self._timing.first_wait
            self._answer_within = self._patience_after(connection)
            self._judge(connection)
            if self.hopeless is not None and all(one.hopeless for one in sessions):
                raise BrokerError(self.hopeless)
            if connection.refused is not None:
                wait = self._timing.longest_wait
                self._log.error("broker refuses", why=connection.refused, again_in=wait)
            await asyncio.sleep(wait)
            if self._left or connection.kept_elsewhere:
                await asyncio.get_running_loop().create_future()  # until `run` is cancelled
            wait = min(2 * wait, self._timing.longest_wait)

    def _new_connection(self) -> Connection:
        timing = self._timing._replace(answer=self._answer_within)
        self.connection = Connection(self._name, self._broker, self._now, self._log, timing)
        self.connection.muted = self._muted
        return self.connection

    def _patience_after(self, connection: Connection) -> float:
        """Say for how many seconds the next connection waits for an answer.

        A broker that is slow, or has much to hand on, would never get through otherwise.
        """
        if connection.greeted:
            return self._timing.answer
        if not connection.unanswered:
            return self._answer_within
        return min(2 * self._answer_within, max(self._timing.answer, self._timing.longest_wait))

    def _sent_away(self, connection: Connection, began: float) -> bool:
        """Tell whether a connection ended as it would again and again.

        So it does if two clients take it from each other, or if the broker takes no message as
        large as one of ours.
        """
        if connection.taken_over:
            self._log.warning("another client connects under this room's client id")
            return True
        lasted = asyncio.get_running_loop().time() - began
        return connection.closed_by_broker and lasted < STEADY_SECONDS

    def _judge(self, connection: Connection) -> None:
        """Note whether there is any hope for the room until somebody mends something.

        A broker that has let it in once is believed to do so again: it may be in the middle of a
        change of its passwords.
        """
        let_in = connection.greeted and connection.refused is None
        self._admitted = self._admitted or let_in
        if connection.kept_elsewhere:
            self.hopeless = (
                f"another roomcue keeps the room '{self._name.room}' and began later: "
                "two roomcues must not keep one room"
            )
            self._log.error("room is left to another roomcue", why=self.hopeless)
        else:
            self.hopeless = None if self._admitted else connection.refused

    # ------------------------------------------------------------------------------- writing

    def say(self, said: OutgoingMessage, serial: int | None) -> None:
        """Publish a message if the broker is there; what is in the outbox is sent later if not."""
        if self.connection is not None:
            self.connection.say(said, serial)

    @property
    def last_sent(self) -> int:
        """The highest outbox number of what was handed on, taken by the broker or not."""
        now = 0 if self.connection is None else self.connection.last_sent
        return max(self._sent_before, now)

    def write(self) -> None:
        """Hand what was said to the socket."""
        if self.connection is not None:
            self.connection.write()

    def follow_clock(self, by: int) -> None:
        """Let what is queued be worth sending for as long as before: the clock was set `by` ms."""
        if self.connection is not None:
            self.connection.follow_clock(by)

    def come_as(self, name: ClientName) -> None:
        """Connect anew under another client id."""
        self._name = name
        if self.connection is not None:
            self.connection.step_back(kept_elsewhere=False)

    def begin_anew(self) -> None:
        """Connect anew: the broker must have given up the connection of this moment."""
        if self.connection is not None:
            self._log.warning("broker has given up: the machine has slept")
            self.connection.ended.set()

    async def leave(self) -> None:
        """Say goodbye over the connection of this moment, else over one more, and open no other."""
        self._left = True
        connection = self.connection
        if connection is not None:
            if await connection.leave():
                return
            self._note_word_left_by(connection)
        if self._may_pass_for_alive:
            await self._say_gone()

    def _note_word_left_by(self, connection: Connection) -> None:
        """Note whether a connection may have left the word that the room is kept here.

        Whoever has taken over the room or the client id says for themselves what holds.
        """
        if connection.kept_elsewhere or connection.taken_over:
            self._may_pass_for_alive = False
        elif connection.entered:
            self._may_pass_for_alive = True

    async def _say_gone(self) -> None:
        within = self._timing.farewell
        try:
            async with asyncio.timeout(within):
                await in_daemon_thread(partial(say_gone, self._name, self._broker, within))
        except OSError as error:
            why = error.strerror or str(error) or "it does not answer"
            self._log.warning("broker could not be told that nobody keeps the room", why=why)
