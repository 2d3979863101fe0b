"""Two roomcues that keep one room: one of them leaves, and in no case do they talk for ever."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from unittest.mock import patch

import pytest

from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError
from adapters.live.live_room import LiveRoom
from adapters.live.log import decision_log
from adapters.live.messages import OutgoingMessage, rfc3339
from tests.adapters.hayloft import HAYLOFT
from tests.adapters.staging import staged, turns, until
from tests.adapters.test_connection import connected
from tests.adapters.test_older_copy import PATIENT, SESSION_ENDS
from tests.golden.evenings import BEGINS

HOUR = 3_600_000
FAR = 48 * HOUR


class Outlet:
    """Keeps what a room says of being alive."""

    may_explain_later = False
    last_sent = 0

    def __init__(self) -> None:
        self.words: list[bytes] = []

    def say(self, said: OutgoingMessage, _serial: int | None) -> None:
        if said.subtopic == "alive":
            self.words.append(said.body)

    def write(self) -> None:
        """Nothing waits."""

    def follow_clock(self, by: int) -> None:
        """Nothing is dated."""


class Keeper:
    """One of the two, with what it says and logs."""

    def __init__(self, room: LiveRoom, outlet: Outlet, log: io.BytesIO) -> None:
        self.room, self.outlet, self.log = room, outlet, log

    def takes(self) -> list[bytes]:
        words, self.outlet.words = self.outlet.words, []
        return words


@pytest.fixture
def begun(tmp_path: Path) -> Iterator[list[Keeper]]:
    """Two roomcues by one broker, with a journal and a clock each; the test sets the second."""
    with ExitStack() as stack:
        two = []
        for name in ("a", "b"):
            stage = stack.enter_context(staged(HAYLOFT, tmp_path / name, BEGINS))
            outlet, log = Outlet(), io.BytesIO()
            room = LiveRoom(stage.durable, decision_log(log, "hayloft"), outlet)
            two.append(Keeper(room, outlet, log))
        yield two


@pytest.mark.parametrize(("later", "leaves"), [(HOUR, True), (FAR, False)])
def test_two_that_hear_of_each_other_fall_silent(
    begun: list[Keeper], later: int, *, leaves: bool
) -> None:
    """Where their clocks are days apart nobody can say who began later: people are told."""
    one, other = begun
    other.room.since += later
    one.room.say_alive()
    said = 0
    left = False
    while (words := one.takes()) and said < 20 and not left:
        said += len(words)
        assert not other.room.is_kept_elsewhere(words)
        left = one.room.is_kept_elsewhere(other.takes())
    assert left is leaves
    assert said <= 2
    assert (b"more than a day ahead" in one.log.getvalue()) is not leaves


def test_the_word_that_nobody_keeps_the_room_is_answered_each_time(begun: list[Keeper]) -> None:
    one = begun[0]
    for _ in range(3):
        assert not one.room.is_kept_elsewhere([b'{"alive": false}'])
        assert len(one.takes()) == 1


async def test_whoever_leaves_a_room_leaves_no_session_though_the_disk_is_full(
    tmp_path: Path,
) -> None:
    """What came with the other one's word cannot be kept; it comes to the other one as well."""
    full = patch.object(Journal, "commit", side_effect=JournalError("the disk is full"))
    async with connected(tmp_path, timing=PATIENT, acknowledges=False) as one:
        broker, later = one.broker, rfc3339(one.room.since + HOUR)
        await broker.until(lambda: "standing" in broker.leaves())
        await turns()
        with full:
            broker.publish("roomcue/hayloft/in/source", b'{"source": "disc"}', 1)
            broker.say_alive(since=later, run=1)
            await until(lambda: "journal cannot be written" in one.logged())
            broker.acknowledge_all()
            await until(lambda: broker.goodbyes == 1)
        assert broker.last_goodbye == SESSION_ENDS
        assert one.stage.durable.engine.state.core.source is None
