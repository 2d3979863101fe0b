"""By what a room's journal, and this run of roomcue with it, are told from all others."""

from __future__ import annotations

from collections.abc import Sequence

from adapters.live.announcements import Run, last_id_read, run_read
from adapters.live.broker import ClientName
from adapters.live.chapters import TakenUp
from adapters.live.epochs import began_after, has_gone_on, new_run
from adapters.live.messages import TOPIC_ROOT
from engine.people_at_work import NOBODY, PeopleAtWork


class JournalIdentity:
    """What the journal has drawn for a room, and what this run adds to it."""

    def __init__(self, begun: TakenUp) -> None:
        self._client, self.epoch = begun.client, begun.epoch
        self._lines, self.run = begun.lines, new_run(begun.lines)
        self._last_said: int | None = begun.state.tally.serial
        self.begins_anew = begun.anew
        """Whether the journal may know nothing of what roomcue has said before this run."""
        self.people_taken = NOBODY
        """With whom at work it began anew: they may have left since."""

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

    def _lacks_id(self, last_id: int, given: int) -> bool:
        """Tell whether an id follows the last one that was `given` here, so that a copy gave it."""
        return has_gone_on(last_id, given if self._last_said is None else self._last_said)

    def _lacks_run(self, other: Run) -> bool:
        """Tell whether another run has gone on with a copy of the journal.

        Of what its own runs have said before, the journal has the lines, whatever the clock showed.
        """
        same = other.epoch == self.epoch and other.run != self.run
        return same and began_after(other.run, self._lines)

    def last_id_elsewhere(self, stood: Sequence[bytes], given: int) -> int | None:
        """Say which id was given last by another that goes on with this journal, or a copy of it.

        None: there is no other, by what the broker has retained (`stood`); 0: it has given none.
        The last id `given` here counts. The ids of a journal from before there were epochs (0) tell
        it apart from no other.
        """
        if not self.epoch:
            return None
        twin = any(self._lacks_run(one) for one in map(run_read, stood) if one is not None)
        later = [one for one in map(last_id_read, stood) if self._lacks_id(one, given)]
        return max(later, default=0 if twin else None)

    def begin_anew(self, client: str, epoch: int, last_id: int, people: PeopleAtWork) -> None:
        """Be another one from now on, that has given no id after the last one."""
        self._client, self.epoch, self._last_said = client, epoch, last_id
        self.begins_anew, self.people_taken = True, people
