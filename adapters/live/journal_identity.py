"""By what a room's journal, and this run of roomcue with it, are told from all others."""

from __future__ import annotations

from adapters.live.announcements import Run
from adapters.live.broker import ClientName
from adapters.live.chapters import TakenUp
from adapters.live.epochs import began_after, has_gone_on, new_run
from adapters.live.messages import TOPIC_ROOT


class JournalIdentity:
    """What the journal has drawn for a room, and what this run adds to it."""

    def __init__(self, begun: TakenUp) -> None:
        self._client, self.epoch = begun.client, begun.epoch
        self._lines, self.run = begun.lines, new_run(begun.lines)
        self._last_said: int | None = begun.state.tally.serial
        self.begins_anew = begun.anew
        """Whether the journal may know nothing of what roomcue has said before this run."""

    def client_name(self, room: str) -> ClientName:
        """Name the client as which a room comes to its broker."""
        return ClientName(room, f"{TOPIC_ROOT}-{room}-{self._client}", self.epoch, self.run)

    def note_greeting(self) -> None:
        """Note that ids may be said from now on; up to here only those before the start were."""
        self._last_said = None

    @property
    def is_new_to_broker(self) -> bool:
        """Whether the broker may know more of the room than the journal: it begins anew, ungreeted.

        Of what has been said since the greeting the journal has everything.
        """
        return self.begins_anew and self._last_said is not None

    def lacks_id(self, last_id: int, given: int) -> bool:
        """Tell whether an id follows the last one that was `given` here, so that a copy gave it."""
        return has_gone_on(last_id, given if self._last_said is None else self._last_said)

    def lacks_run(self, other: Run) -> bool:
        """Tell whether another run has gone on with a copy of the journal.

        Of what its own runs have said before, the journal has the lines, whatever the clock showed.
        """
        same = other.epoch == self.epoch and other.run != self.run
        return same and began_after(other.run, self._lines)

    def begin_anew(self, client: str, epoch: int, last_id: int) -> None:
        """Be another one from now on, that has given no id after the last one."""
        self._client, self.epoch, self._last_said = client, epoch, last_id
        self.begins_anew = True
