"""A reading that says once more what holds is counted, and costs a room nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import cast
from unittest.mock import patch

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.live.batch import Batch
from adapters.live.journal import Journal
from adapters.live.journal_file import JournalError
from adapters.live.messages import InboundMessage
from adapters.live.pipeline import Pipeline
from adapters.live.receipts import MOST_UNACKNOWLEDGED, receipt_of
from adapters.live.session import Session
from engine.events import BarsSeen, Event, Playback, RatioSeen, ToldFact
from tests.adapters.staging import Stage, inbound, staged, turns
from tests.adapters.test_pipeline import HAYLOFT, LIT, Line, counted_commits, living, two_rooms
from tests.golden.evenings import BEGINS


def bars(rows: int) -> BarsSeen:
    """Bars of so many rows above and below a wide picture."""
    return BarsSeen(top=rows, bottom=rows, left=0, right=0, columns=1_920, rows=1_080)


SCOPE, OTHER = bars(138), bars(20)
PLAYS = Playback(state="playing", source="disc")
SAID: tuple[Event, ...] = (
    *(SCOPE, SCOPE, SCOPE, OTHER, OTHER, RatioSeen(ratio=1.78)),
    *(PLAYS, Playback(state="paused"), ToldFact(fact="guests", value=True)),
)
FILM = (*LIT, inbound(PLAYS), inbound(SCOPE))
"""A film begins, and its bars are read."""
UNREADABLE = InboundMessage("bars", b"{")
CLEARED = InboundMessage("bars", b"", retained=True)


def as_kept(message: InboundMessage) -> InboundMessage:
    """Give a message as the broker retains it."""
    return message._replace(retained=True)


def surely(message: InboundMessage, number: int = 0) -> InboundMessage:
    """Give a message as it comes at quality of service 1, under a number of its own."""
    receipt = receipt_of(number + 1, message.subtopic, message.payload)
    return message._replace(receipt=receipt, packet=number + 1, qos=1)


MESSAGES = st.builds(
    lambda event, kind: kind(inbound(event)),
    st.sampled_from(SAID),
    st.sampled_from([InboundMessage._make, InboundMessage._make, as_kept, surely]),
)
BATCHES = st.lists(MESSAGES | st.sampled_from([UNREADABLE, CLEARED]), min_size=1, max_size=3)


@contextmanager
def two_alike() -> Iterator[tuple[Stage, Stage]]:
    """Give two lit rooms, each with a journal of its own, on a machine that began once."""
    with (
        TemporaryDirectory() as folder,
        staged(HAYLOFT, Path(folder, "one"), BEGINS) as one,
        staged(HAYLOFT, Path(folder, "other"), BEGINS) as other,
    ):
        other.clock.boot = one.clock.boot
        for stage in (one, other):
            stage.note(stage.durable.take(LIT))
        yield one, other


def hear(one: Stage, other: Stage, batch: list[InboundMessage]) -> None:
    """Let one room hear a batch by the short way where it is offered, the other by the long one."""
    if not one.durable.hear_again(batch):
        one.note(one.durable.take(batch))
    other.note(other.durable.take(batch))


def what_came(stage: Stage) -> tuple[object, ...]:
    """Give all that a message may change."""
    durable, counts = stage.durable, stage.durable.counts
    return (
        *(durable.engine.state, durable.deadline, durable.record.waiting()),
        *(counts.events, counts.refusals, stage.decisions, stage.refusals),
    )


@given(st.lists(st.tuples(BATCHES, st.sampled_from([0, 40, 3_000, 90_000]), st.integers(0, 19))))
def test_hearing_again_is_the_same_as_taking(
    evening: list[tuple[list[InboundMessage], int, int]],
) -> None:
    """Whatever came before, the room stands alike, and so does its journal."""
    with two_alike() as (one, other):
        for batch, later, chance in evening:
            for stage in (one, other):
                stage.clock.time += later
                if chance == 0:
                    stage.clock.set(3_600_000)
                if chance == 1:
                    stage.durable.connected()
            hear(one, other, batch)
            assert what_came(one) == what_came(other)
            assert one.durable.counts.commits <= other.durable.counts.commits
        assert one.lines() == other.lines()


TOLD = st.lists(st.tuples(st.sampled_from(SAID), st.sampled_from([40, 3_000])), min_size=1)


@given(
    told=TOLD,
    unacknowledged=st.integers(0, MOST_UNACKNOWLEDGED),
    gap=st.booleans(),
    changes=st.booleans(),
)
def test_what_comes_again_after_a_kill_changes_nothing_whether_it_was_written_or_not(
    told: list[tuple[Event, int]], unacknowledged: int, *, gap: bool, changes: bool
) -> None:
    """Acknowledgements may be lost: then the broker sends again what was heard, in its order."""
    sent = [(surely(inbound(event), number), later) for number, (event, later) in enumerate(told)]
    again = [one._replace(repeated=True) for one, _ in sent[len(sent) - unacknowledged :]]
    with two_alike() as (one, other):
        for message, later in sent:
            one.clock.time = other.clock.time = one.clock.time + later
            hear(one, other, [message])
        for stage in (one, other):
            if gap:
                stage.durable.connected()
            if changes:
                stage.hear(ToldFact(fact="guests", value=True), OTHER)
            stage.restart()
            for message in again:
                stage.note(stage.durable.take([message]))
        assert one.durable.engine.state.core == other.durable.engine.state.core
        if changes:
            assert one.refusals == other.refusals, "what came again was known"


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    """Give a room in which that film plays."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as made:
        made.note(made.durable.take(FILM))
        yield made


def test_most_readings_are_heard_again_and_write_nothing(stage: Stage) -> None:
    heard = stage.durable.counts.events["bars"]
    with counted_commits() as commits:
        assert stage.durable.hear_again([inbound(SCOPE)] * 3)
    assert (len(commits), stage.durable.counts.events["bars"]) == (0, heard + 3)


@pytest.mark.parametrize("troubled", ["by nothing", "by a full disk", "by a gap", "twice"])
def test_what_was_acknowledged_unwritten_is_known_once_something_else_is_written(
    stage: Stage, troubled: str
) -> None:
    """It said what held before; sent again after that, it would be news."""
    said = surely(inbound(SCOPE), 1)
    assert stage.durable.hear_again([said])
    if troubled == "by a full disk":
        failing = patch.object(Journal, "commit", side_effect=JournalError("full"))
        with failing, pytest.raises(JournalError):
            stage.hear(OTHER)
    for _ in range({"by a gap": 1, "twice": 2}.get(troubled, 0)):
        stage.durable.connected()
    stage.hear(OTHER)
    stage.restart()
    stage.note(stage.durable.take([said._replace(repeated=True)]))
    assert stage.refusals == ["redelivered"]


def test_another_client_knows_no_receipt_of_the_one_before(stage: Stage) -> None:
    """Its session numbers packets from 1 again, and what is retained comes as it came before."""
    film = inbound(PLAYS), inbound(SCOPE), inbound(SCOPE)
    told = [surely(message, number) for number, message in enumerate(film)]
    stage.note(stage.durable.take(told[:2]))
    assert stage.durable.hear_again(told[2:])
    with (
        patch.object(Journal, "commit", side_effect=JournalError("full")),
        pytest.raises(JournalError),
    ):
        stage.durable.begin_anew(0)
    stage.durable.connected()
    assert all(one.receipt and stage.durable.record.has(one.receipt) for one in told)
    stage.durable.begin_anew(0)
    stage.note(stage.durable.take([one._replace(repeated=True) for one in told]))
    assert "redelivered" not in stage.refusals


@pytest.mark.parametrize("gap", [False, True])
def test_each_receipt_is_written_once_with_the_next_page(stage: Stage, *, gap: bool) -> None:
    assert stage.durable.hear_again([surely(inbound(SCOPE), 1)])
    with patch.object(Journal, "write") as write:
        if gap:
            stage.durable.connected()
        for reading in (OTHER, SCOPE):
            stage.hear(reading)
    pages = [bool(call.args[0].receipts) for call in write.call_args_list]
    assert pages == [True, False]


@pytest.mark.parametrize(
    "message",
    [
        inbound(OTHER),
        as_kept(inbound(SCOPE)),
        surely(inbound(SCOPE))._replace(repeated=True),
        inbound(PLAYS),
        UNREADABLE,
        CLEARED,
    ],
    ids=["another reading", "retained", "sent again", "no reading", "unreadable", "empty"],
)
def test_what_says_more_is_left_with_all_that_came_with_it(
    stage: Stage, message: InboundMessage
) -> None:
    before = dict(stage.durable.counts.events)
    assert not stage.durable.hear_again([inbound(SCOPE), message])
    assert dict(stage.durable.counts.events) == before


def test_nothing_is_heard_again_while_something_is_due(stage: Stage) -> None:
    """What fell due comes first: the reading may be the one that settles the shape."""
    due = stage.durable.engine.deadline
    assert due is not None
    stage.clock.time = due - 1
    assert stage.durable.hear_again([inbound(SCOPE)])
    stage.clock.time = due
    assert not stage.durable.hear_again([inbound(SCOPE)])


def test_where_no_reading_holds_none_is_heard_again(tmp_path: Path) -> None:
    """A cleared topic says nothing, which is no reading either."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.note(stage.durable.take(LIT))
        for message in (InboundMessage("title", b""), inbound(SCOPE)):
            assert not stage.durable.hear_again([message])


@pytest.mark.parametrize("by", [3_600_000, -3_600_000])
def test_nothing_is_heard_again_before_a_clock_that_was_set_is_followed(
    stage: Stage, by: int
) -> None:
    stage.clock.set(by)
    assert not stage.durable.hear_again([inbound(SCOPE)])
    assert stage.hear(SCOPE).set_by == by


def test_a_room_has_moved_until_it_is_said_how_it_stands(stage: Stage) -> None:
    """What goes wrong on the way must not keep that back; a reading that settles nothing may."""
    assert stage.hear(OTHER).moved
    assert stage.durable.standing() is not None
    assert not stage.hear(SCOPE).moved
    moved = []
    while (due := stage.durable.deadline) and not stage.durable.engine.state.settling.aspect:
        stage.clock.time = due
        moved.append(stage.durable.pass_time().moved)
    assert moved[-1]
    assert stage.durable.standing() is not None
    assert not stage.hear(OTHER).moved


async def test_of_many_rooms_a_reading_heard_again_waits_for_no_turn(stage: Stage) -> None:
    rooms = two_rooms(stage)
    turn, batch = Pipeline(stage.journal, alone=False), Batch((surely(inbound(SCOPE), 1),))
    with counted_commits() as commits:
        turn.readable(rooms[0], cast("Session", line := Line(batch)))
        counts = rooms[0].durable.counts
        assert (counts.events["bars"], counts.waited, line.acknowledged) == (2, 1, [batch])
        await turns()
    assert (rooms[0].heard, len(commits)) == ([], 0)


async def test_no_reading_overtakes_what_waits_for_the_end_of_the_turn(stage: Stage) -> None:
    """It says what held before that, not what holds then."""
    room = living(stage.durable)
    turn = Pipeline(stage.journal, alone=False)
    for reading in (OTHER, SCOPE):
        turn.readable(room, cast("Session", Line(Batch((inbound(reading),)))))
    await turns()
    assert room.durable.counts.events["bars"] == 3
    assert room.durable.engine.still_holds(SCOPE)


async def test_a_room_that_is_greeted_hears_its_readings_after_that(stage: Stage) -> None:
    """The greeting asks the hub for what it may have missed; readings are part of the answer."""
    room = living(stage.durable)
    line = Line(Batch((inbound(SCOPE),), lost=False))
    Pipeline(stage.journal, alone=True).readable(room, cast("Session", line))
    assert len(line.acknowledged) == 1
