"""A room's session with the broker: one connection after another, for as long as the room lives.

The broker keeps the session between connections. Two roomcues must not share one, so a session that
is taken over ends for good.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Callable
from typing import Final

from structlog.typing import FilteringBoundLogger

from adapters.live.broker import Broker, BrokerError
from adapters.live.connection import Connection, Now, Timing
from adapters.live.messages import TOPIC_ROOT, OutgoingMessage

TAKEOVER_CLOSES: Final = 5
TAKEOVER_SECONDS: Final = 15.0
"""A broker may not say that another client has taken over. It counts as that if this many
connections were closed without a reason within this many seconds."""


class Session:
    """Keeps one room connected: `run` it as a task, cancel the task to end it."""

    may_explain_later = True
    """What explains an order may leave a moment after it."""

    def __init__(
        self,
        room: str,
        broker: Broker,
        now: Now,
        log: FilteringBoundLogger,
        timing: Timing | None = None,
    ) -> None:
        self._room, self._broker, self._now, self._log = room, broker, now, log
        self._timing = timing or Timing()
        self.connection: Connection | None = None
        """The connection of this moment; None: between two."""
        self._left = False
        """Whether goodbye was said: no further connection is opened."""

    async def run(self, on_readable: Callable[[], None]) -> None:
        """Stay connected until cancelled; raises `BrokerError`.

        `on_readable` is called when the connection has something to read.
        """
        wait = self._timing.first_wait
        closed: deque[float] = deque(maxlen=TAKEOVER_CLOSES)
        loop = asyncio.get_running_loop()
        while True:
            connection = self._new_connection()
            try:
                await connection.open(on_readable)
                await connection.ended.wait()
                if connection.greeted:
                    wait = self._timing.first_wait
                if connection.closed_without_reason:
                    closed.append(loop.time())
                else:
                    closed.clear()
            except OSError as error:
                closed.clear()
                self._log.warning("broker is out of reach", why=str(error), again_in=wait)
            finally:
                connection.close()
                self.connection = None
            self._raise_if_over(connection, closed)
            await asyncio.sleep(wait)
            if self._left:
                await asyncio.get_running_loop().create_future()  # until `run` is cancelled
            wait = min(2 * wait, self._timing.longest_wait)

    def _new_connection(self) -> Connection:
        given = (self._room, self._broker, self._now, self._log, self._timing)
        self.connection = Connection(*given)
        return self.connection

    def _raise_if_over(self, connection: Connection, closed: deque[float]) -> None:
        """Raise `BrokerError` where another attempt is of no use."""
        in_a_row = len(closed) == TAKEOVER_CLOSES and closed[-1] - closed[0] < TAKEOVER_SECONDS
        if connection.refused is not None:
            raise BrokerError(connection.refused)
        if connection.taken_over or in_a_row:
            what = "has connected" if connection.taken_over else "seems to connect"
            name = f"{TOPIC_ROOT}-{self._room}"
            raise BrokerError(
                f"another client {what} as {name}: two roomcues must not keep one room"
            )

    # ------------------------------------------------------------------------------- writing

    def say(self, said: OutgoingMessage, serial: int | None) -> None:
        """Publish a message if the broker is there; what is in the outbox is sent later if not."""
        if self.connection is not None:
            self.connection.say(said, serial)

    def write(self) -> None:
        """Hand what was said to the socket."""
        if self.connection is not None:
            self.connection.write()

    async def leave(self) -> None:
        """Say goodbye over the connection of this moment, and open no other."""
        self._left = True
        if self.connection is not None:
            await self.connection.leave()
