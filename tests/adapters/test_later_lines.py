"""An order does not wait for its State: a start takes the lines since the last one once more."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from adapters.live.journal import Journal
from adapters.live.journal_file import MIGRATIONS, TABLES_VERSION, JournalError
from adapters.live.journal_reader import JournalReader
from adapters.live.journal_rows import KeptState
from adapters.live.later_lines import state_of, taken_again, waiting_after
from adapters.live.messages import InboundMessage, OutgoingMessage, QueuedMessage
from adapters.live.outbox import outbox_json, outbox_read
from adapters.live.receipts import receipt_of
from adapters.live.room_record import MOST_BEHIND
from engine.events import (
    Event,
    Helper,
    Mark,
    Override,
    OverrideLook,
    Playback,
    RatioSeen,
    Resumed,
    TimeOfDay,
)
from engine.snapshot import SnapshotError, decode, encode
from engine.state import State
from rules.room.load import load
from simulator.shipped import ROOMS
from tests.adapters.hayloft import AT_BROAD, HAYLOFT, LIT
from tests.adapters.staging import Stage, differences, staged
from tests.engine.meetings import START, evenings
from tests.golden.evenings import BEGINS
from tests.soak import sample

OTHER_PICTURE = (
    "UPDATE lines SET decision ="
    " CAST(replace(CAST(decision AS TEXT), '\"plain\"', '\"other\"') AS BLOB)"
)
SHIPPED = [load(path.read_text("utf-8"), path.name) for path in ROOMS]


def known(stage: Stage) -> State:
    """Give the State that somebody finds who reads the journal now."""
    with closing(JournalReader(stage.path)) as past:
        return state_of(past.state(stage.room.name))


def behind(stage: Stage) -> int:
    """Count the lines that a start would take once more."""
    with closing(JournalReader(stage.path)) as past:
        return len(past.state(stage.room.name).since)


def waiting(stage: Stage) -> list[OutgoingMessage]:
    """Give what somebody finds to wait who reads the journal now."""
    kept = stage.journal.kept(stage.room.name)
    assert kept is not None
    again = taken_again(KeptState(kept.chapter.file, kept.state, kept.since))
    waits = waiting_after(outbox_read(kept.waiting), kept.since, kept.beside, again.words)
    return [queued.message for queued in waits]


def change(stage: Stage, statement: str) -> None:
    """Change the journal as no roomcue does."""
    with closing(sqlite3.connect(stage.path)) as base, base:
        base.execute(statement)


def mark(packet: int) -> InboundMessage:
    return InboundMessage("mark", b"{}", receipt=receipt_of(packet, "mark", b"{}"))


def orders(stage: Stage) -> set[int]:
    return {one.id for one in stage.decisions if hasattr(one, "id")}


@settings(max_examples=sample(20, 500), deadline=None)
@given(st.data())
def test_wherever_it_is_cut_short_all_is_found_again_to_the_byte(data: st.DataObject) -> None:
    """The State of the last line and what waits for the broker, after each batch of any evening."""
    room = data.draw(st.sampled_from(SHIPPED), "room")
    evening: list[tuple[int, Event]] = data.draw(evenings(room), "evening")
    with TemporaryDirectory() as folder, staged(room, Path(folder) / "j", START) as stage:
        for wait, event in evening:
            stage.pass_to(stage.clock.time + wait)
            if isinstance(event, Resumed):
                stage.restart()
                continue
            lines = len(stage.lines())
            stage.hear(event)
            if len(stage.lines()) > lines and not isinstance(event, TimeOfDay):
                assert encode(known(stage)) == encode(stage.durable.engine.state)
                there = stage.durable.record.outbox.waiting
                assert waiting(stage) == [queued.message for queued in there]


def test_a_word_that_comes_as_something_falls_due_is_replied_to_as_it_was(tmp_path: Path) -> None:
    """What was due is done first, in the room that was cut short and at the start after it."""
    wish = Override(taken=True, look=OverrideLook(panels="sides"), id="w1")
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        stage.hear(AT_BROAD, Playback(state="playing"), RatioSeen(ratio=2.39))
        first: list[bool] = []
        while (due := stage.durable.deadline) is not None and due <= BEGINS + 3_600_000:
            stage.clock.time, before = due, len(stage.lines())
            stage.hear(replace(wish, id=f"w{due}"))
            first.append("decision" in json.loads(stage.lines()[before]))
            there = [queued.message for queued in stage.durable.record.outbox.waiting]
            assert "reply" in {one.subtopic for one in there}
            assert waiting(stage) == there
            assert encode(known(stage)) == encode(stage.durable.engine.state)
        assert {*first} == {True, False}, "what had fallen due has decided something, or nothing"
        assert differences(HAYLOFT, stage.lines()) == []


def test_the_commit_of_an_order_leaves_the_state_to_a_later_one(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, AT_BROAD)
        stage.durable.record.flush()
        assert behind(stage) == 0
        before = orders(stage)
        stage.hear(Playback(state="playing"), RatioSeen(ratio=2.39))
        stage.pass_to(BEGINS + 5_000)
        assert orders(stage) > before
        assert behind(stage) > 0
        assert encode(known(stage)) == encode(stage.durable.engine.state)
        stage.durable.record.flush()
        assert behind(stage) == 0


def test_a_start_has_few_lines_to_take_and_takes_them_once(tmp_path: Path) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        most = 0
        for number in range(3 * MOST_BEHIND):
            stage.hear(Mark(words=f"{number}"))
            most = max(most, behind(stage))
        assert MOST_BEHIND / 2 < most <= MOST_BEHIND
        stage.restart()
        assert behind(stage) <= 2, "what a start itself writes"
        assert differences(HAYLOFT, stage.lines()) == []


def test_a_roomcue_that_decides_otherwise_begins_anew_and_gives_no_number_twice(
    tmp_path: Path,
) -> None:
    """As a newer one may, when an older one was killed: what was ordered then is history."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        stage.hear(AT_BROAD, Playback(state="playing"), RatioSeen(ratio=2.39))
        stage.pass_to(BEGINS + 5_000)
        before = orders(stage)
        assert behind(stage) > 0
        change(stage, OTHER_PICTURE)
        with pytest.raises(SnapshotError, match="decides otherwise"):
            known(stage)
        stage.decisions.clear()
        stage.restart()
        assert stage.durable.engine.state.core.source is None, "begun anew"
        asked = [one.message.subtopic for one in stage.durable.record.waiting()]
        assert "ask" in asked, "how things stand"
        stage.hear(*LIT, AT_BROAD)
        assert min(orders(stage)) > max(before)


def test_a_roomcue_that_decides_otherwise_replies_to_nobody_whose_word_waits(
    tmp_path: Path,
) -> None:
    """What would be replied nobody knows: that is no damage."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        stage.hear(AT_BROAD, Playback(state="playing"), RatioSeen(ratio=2.39))
        stage.pass_to(BEGINS + 5_000)
        stage.hear(Helper(free=False))
        assert behind(stage) > 0
        change(stage, OTHER_PICTURE)
        stage.restart()
        waiting = {one.message.subtopic for one in stage.durable.record.waiting()}
        assert "ask" in waiting
        assert "reply" not in waiting


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("UPDATE lines SET event = x'7b' WHERE event IS NOT NULL", "a line of it is damaged"),
        ("UPDATE lines SET now = now - 100000 * id", "a line of it is damaged"),
        ("UPDATE chapters SET file = 'room: '", "is none any more"),
        (
            "UPDATE chapters SET file = replace(file, 'disc', 'tape')",
            "the State knows source 'disc', which room 'hayloft' does not have",
        ),
    ],
)
def test_lines_that_lead_nowhere_are_said(tmp_path: Path, statement: str, words: str) -> None:
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        stage.durable.record.flush()
        stage.hear(Mark(words="a"), AT_BROAD)
        stage.clock.time += 1_000
        stage.hear(Playback(state="playing"))
        change(stage, statement)
        with pytest.raises(SnapshotError, match=words):
            known(stage)


def test_what_a_chapter_begins_with_knows_the_latest_messages(tmp_path: Path) -> None:
    """The clock is set right after a message, and the power fails: it comes again, and is known."""
    first, message = (mark(packet) for packet in (2, 3))
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        stage.durable.take([first])
        stage.durable.take([message])
        assert behind(stage) > 0
        stage.clock.set(3_600_000)
        stage.durable.pass_time()
        stage.restart()
        stage.note(stage.durable.take([message._replace(repeated=True)]))
        assert stage.refusals == ["redelivered"]


def test_messages_of_the_last_connection_alone_are_known_after_a_power_cut(tmp_path: Path) -> None:
    """Whether their receipts came with a State or stood beside lines."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        for packet in (1, 2, 3):
            stage.durable.take([mark(packet)])
        stage.durable.connected()
        for packet in (4, 5, 6):
            stage.durable.take([mark(packet)])
        assert behind(stage) > 0
        stage.restart()
        known_ones = []
        for packet in range(1, 7):
            stage.refusals.clear()
            stage.note(stage.durable.take([mark(packet)._replace(repeated=True)]))
            known_ones += [packet] if stage.refusals == ["redelivered"] else []
        assert known_ones == [4, 5, 6]


def test_an_order_that_ended_unsent_is_given_up_once(tmp_path: Path) -> None:
    """It is given anew, and the power fails: no start takes the old one for another again."""
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT, AT_BROAD)
        stage.hear(Mark(words="its answer comes beside a line"))
        stage.clock.time += 3_600_000
        stage.note(stage.durable.renew())
        there = [queued.message for queued in stage.durable.record.outbox.waiting]
        assert there
        assert waiting(stage) == there


def test_a_journal_of_the_seventh_version_goes_on(tmp_path: Path) -> None:
    """There every line came with its State, and nothing stood beside it."""
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        stage.hear(*LIT, AT_BROAD)
        stage.durable.record.flush()
        state, lines = stage.durable.engine.state, stage.lines()
        waiting = stage.durable.record.waiting()
    with closing(sqlite3.connect(path, isolation_level=None)) as base:
        for column in ("waiting", "receipts"):
            base.execute(f"ALTER TABLE lines DROP COLUMN {column}")
        for column in ("doubt", "begun"):
            base.execute(f"ALTER TABLE rooms DROP COLUMN {column}")
        base.execute("PRAGMA user_version = 7")
    assert len(MIGRATIONS) == TABLES_VERSION == 11, "undo here what a later version has added"
    with closing(JournalReader(path)) as past:
        assert state_of(past.state("hayloft")) == state, "read as it is"
    with staged(HAYLOFT, path, BEGINS) as stage:
        assert stage.durable.engine.state == state
        assert stage.durable.record.waiting() == waiting
        assert stage.lines() == lines


def test_a_journal_of_the_eighth_version_goes_on(tmp_path: Path) -> None:
    """There the replies themselves stood beside a line, and not the addresses where they go."""
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        stage.hear(*LIT, AT_BROAD)
        stage.hear(Mark(id="m1"), Mark(id="m2"))
        stage.hear(Mark(id="m3"))
        there = waiting(stage)
        replies = iter([one for one in there if one.subtopic == "reply"])
        state, lines = stage.durable.engine.state, stage.lines()
        kept = stage.journal.kept("hayloft")
        assert kept is not None
        besides = [one.waiting for one in kept.beside if one.waiting is not None]
    assert besides == [b"[null,null]", b"[null]"]
    with closing(sqlite3.connect(path, isolation_level=None)) as base:
        for owed in besides:
            rows = [QueuedMessage(next(replies), 1) for _ in json.loads(owed)]
            change = "UPDATE lines SET waiting = ? WHERE waiting = ?"
            base.execute(change, (outbox_json((*rows,)), owed))
        for column in ("doubt", "begun"):
            base.execute(f"ALTER TABLE rooms DROP COLUMN {column}")
        base.execute("PRAGMA user_version = 8")
    with staged(HAYLOFT, path, BEGINS) as stage:
        assert stage.durable.engine.state == state
        waits = [one.message for one in stage.durable.record.waiting()]
        assert waits == there
        assert stage.lines() == lines


def test_another_roomcue_is_noticed_by_lines_whose_state_is_not_written(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        stage.hear(*LIT)
        with closing(sqlite3.connect(path)) as base, base:
            base.execute(
                "INSERT INTO lines SELECT max(id) + 1, now, event, null, null, null FROM lines"
            )
        stage.journal.look_after()
        with pytest.raises(JournalError, match="another roomcue writes this journal too"):
            stage.hear(Mark(words="mine"))
        assert stage.journal.taken


def test_the_state_of_a_first_page_is_written_with_it(tmp_path: Path) -> None:
    with Journal(tmp_path / "journal") as journal:
        assert journal.kept("hayloft") is None
    with staged(HAYLOFT, tmp_path / "journal", BEGINS) as stage:
        stage.hear(*LIT)
        kept = stage.journal.kept("hayloft")
        assert kept is not None
        assert kept.since == ()
        assert decode(kept.state) == stage.durable.engine.state
