"""A season of readings stays small in the journal, and nothing of it is lost by being packed."""

from __future__ import annotations

import random
import re
import sqlite3
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.cli.night_export import export_night
from adapters.live.journal import LINES_A_PACK, Journal
from adapters.live.journal_file import MIGRATIONS, TABLES_VERSION, JournalError
from adapters.live.journal_reader import JournalReader
from adapters.live.journal_rows import JournalLine
from adapters.live.line_packs import PackError, pack_lines, unpack_lines
from engine.events import (
    BarsSeen,
    Event,
    LensReport,
    Playback,
    ProjectorReport,
    SourceChosen,
    event_json,
)
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.staging import Stage, differences, staged
from tests.engine.meetings import events
from tests.golden.evenings import BEGINS

HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
A_SECOND = 24
HOURS = 4
EVENINGS = 400
MOST_A_SEASON = 1_000_000_000
"""Bytes of one room's readings in a season."""
DAY = 86_400_000
TIMES = st.integers(0, 4_102_444_800_000)
LINES = st.lists(
    st.builds(JournalLine, TIMES, events(HAYLOFT).map(event_json), st.none())
    | st.builds(
        JournalLine,
        TIMES,
        st.none(),
        st.sampled_from([b'{"id":12,"kind":"recall"}', b'{"id":0.5,"at":"20:15, at 100%"}', b"{}"]),
    )
)


@given(LINES)
def test_lines_are_unpacked_to_the_byte(lines: list[JournalLine]) -> None:
    assert unpack_lines(pack_lines(lines)) == lines


@given(st.binary(max_size=40))
def test_what_is_no_pack_is_said(data: bytes) -> None:
    with pytest.raises(PackError, match="no packed lines"):
        unpack_lines(data)


def test_what_is_cut_off_in_a_pack_is_said() -> None:
    packed = pack_lines([JournalLine(BEGINS, b'{"top":7}', None)] * 30)
    with pytest.raises(PackError, match="no packed lines"):
        unpack_lines(packed[:-9])


def noisy_readings(seed: int, count: int) -> Iterator[BarsSeen]:
    """A detector whose every reading is another one: both bars tremble by twenty lines."""
    chance = random.Random(seed)
    for _ in range(count):
        top, bottom = (138 + chance.randrange(-20, 21) for _ in range(2))
        yield BarsSeen(top=top, bottom=bottom, left=0, right=0, columns=1_920, rows=1_080)


def watch(stage: Stage, readings: Iterable[BarsSeen]) -> None:
    """Let readings come as they do over a network: 24 a second, some milliseconds early or late.

    A hundred at a time are committed together, which makes no difference to their lines.
    """
    chance, begins = random.Random(1), stage.clock.time
    numbered = [*enumerate(readings, 1)]
    for first in range(0, len(numbered), 100):
        with stage.journal.together():
            for number, reading in numbered[first : first + 100]:
                comes = begins + number * 1_000 // A_SECOND + chance.choice((0, 1, 2, 5))
                stage.pass_to(max(stage.clock.time, comes))
                stage.hear(reading)


def begin(stage: Stage) -> None:
    stage.hear(ProjectorReport(state="lit"), SourceChosen(source="disc"))
    stage.hear(LensReport(moving=False, preset="broad"), Playback(state="playing"))


def pack_all(stage: Stage) -> int:
    """Pack whatever can be, up to the last line; gives the number of packs."""
    stage.durable.record.flush()
    packs = 0
    while stage.journal.pack_a_room():
        packs += 1
    return packs


def size_of(path: Path) -> int:
    """Give the bytes that a journal takes, without pages that are free for the lines to come."""
    base = sqlite3.connect(path)
    used, free, size = (
        base.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("page_count", "freelist_count", "page_size")
    )
    base.close()
    return int((used - free) * size)


def test_a_season_of_evenings_in_which_every_reading_differs_takes_less_than_a_gigabyte(
    tmp_path: Path,
) -> None:
    """Measured on packed minutes: what they add to the file, times four hours, times 400."""
    path, count = tmp_path / "journal", 8 * LINES_A_PACK
    with staged(HAYLOFT, path, BEGINS) as stage:
        begin(stage)
        watch(stage, noisy_readings(1, 2 * LINES_A_PACK))
        assert pack_all(stage) >= 2
        before = size_of(path)
        watch(stage, noisy_readings(2, count))
        assert pack_all(stage) >= 7
    each = (size_of(path) - before) / count
    assert each * A_SECOND * 3_600 * HOURS * EVENINGS < MOST_A_SEASON, f"{each:.1f} bytes each"


def test_a_packed_night_is_exported_and_replayed_to_the_byte(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        begin(stage)
        watch(stage, noisy_readings(3, 2 * LINES_A_PACK + 300))
        before = stage.lines()
        assert pack_all(stage) == 2
        assert stage.lines() == before
        assert differences(HAYLOFT, before) == []
        stage.restart()
        assert stage.lines()[: len(before)] == before, "after a restart too"
        part = export_night(path, None, None, None, without_titles=False)
        assert [*part.lines[1:]] == stage.lines()[1:]


def test_any_part_of_a_packed_journal_is_read_as_before(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        begin(stage)
        watch(stage, noisy_readings(4, 2 * LINES_A_PACK))
        spans = [(0, None), (0, 1), (999, 1_001), (1_000, 1_000), (1_500, None), (2_001, 2_003)]
        past = JournalReader(path)
        before = [[*past.lines("hayloft", *span)] for span in spans]
        assert pack_all(stage) == 2
        assert [[*past.lines("hayloft", *span)] for span in spans] == before
        past.close()


def test_a_pack_that_cannot_be_written_leaves_the_lines(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        begin(stage)
        watch(stage, noisy_readings(5, LINES_A_PACK))
        before = stage.lines()
        stage.journal._base.execute(  # noqa: SLF001 - a failure between the two halves of a pack
            "CREATE TRIGGER fails BEFORE DELETE ON lines BEGIN SELECT RAISE(FAIL, 'no'); END"
        )
        with pytest.raises(JournalError, match="cannot be written"):
            pack_all(stage)
        assert stage.lines() == before
        stage.hear(Playback(state="paused"))
        assert len(stage.lines()) > len(before), "the room lives on"


def test_a_damaged_pack_is_said(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        begin(stage)
        watch(stage, noisy_readings(6, LINES_A_PACK))
        assert pack_all(stage) == 1
        stage.journal._base.execute("UPDATE packs SET body = x'aaaa'")  # noqa: SLF001 - damage
        with pytest.raises(JournalError, match=r"cannot be used: .*move it away"):
            stage.lines()


def test_nights_that_are_dropped_go_with_their_packs(tmp_path: Path) -> None:
    """A pack that reaches into a kept night stays, and nothing older is shown of it."""
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        begin(stage)
        for day in range(3):
            stage.pass_to(BEGINS + day * DAY)
            watch(stage, noisy_readings(day, LINES_A_PACK + 200))
        assert pack_all(stage) == 3
        whole = stage.lines()
        stage.durable.record.drop_nights(1)
        kept = stage.lines()
        assert 1 < len(kept) < len(whole) / 2
        assert [line.partition(b",")[2] for line in kept[1:]] == [
            line.partition(b",")[2] for line in whole[-len(kept) + 1 :]
        ]
        assert differences(HAYLOFT, kept) == []
        packs = stage.journal._base.execute("SELECT count(*) FROM packs")  # noqa: SLF001
        assert packs.fetchone()[0] < 3
        watch(stage, noisy_readings(9, LINES_A_PACK))
        before = stage.lines()
        assert pack_all(stage) >= 1, "packing goes on after that"
        assert stage.lines() == before


def test_packed_orders_still_count_when_a_room_begins_anew(tmp_path: Path) -> None:
    """No order gets the number of one that is packed, even if the State cannot be read."""
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        begin(stage)
        given = max(getattr(one, "id", 0) for one in stage.decisions)
        assert given > 0
        watch(stage, noisy_readings(7, LINES_A_PACK))
        number = stage.durable.record._id  # noqa: SLF001 - the room's number in the journal
        before = stage.journal.last_number(number)
        assert pack_all(stage) == 1
        assert stage.journal.last_number(number) == before >= given


def test_a_journal_of_the_fourth_version_is_read_and_then_packed(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        begin(stage)
        watch(stage, noisy_readings(8, LINES_A_PACK))
        stage.durable.record.flush()
        lines = stage.lines()
    base = sqlite3.connect(path, isolation_level=None)
    base.execute("DROP TABLE packs")
    for column in ("client", "epoch", "boot", "ahead", "doubt", "begun"):
        base.execute(f"ALTER TABLE rooms DROP COLUMN {column}")
    for column in ("waiting", "receipts"):
        base.execute(f"ALTER TABLE lines DROP COLUMN {column}")
    base.execute("PRAGMA user_version = 4")
    base.close()
    assert len(MIGRATIONS) == TABLES_VERSION == 11, "undo here what a later version has added"
    old = export_night(path, None, "2000-01-01", None, without_titles=False)
    assert [*old.lines] == lines, "export reads it as it is"
    with Journal(path) as journal:
        assert journal.pack_a_room()
        assert not journal.pack_a_room()
    new = export_night(path, None, "2000-01-01", None, without_titles=False)
    assert [*new.lines] == lines


def barn_beside(stage: Stage) -> Stage:
    """Let another room share a journal."""
    other = load(re.sub(r"(?m)^(room: |  )hayloft\b", r"\1barn", HAYLOFT.text), "barn.yaml")
    barn = Stage.__new__(Stage)
    barn.__dict__.update(stage.__dict__, room=other, decisions=[], refusals=[], said=[])
    barn.durable = barn.taken_up()
    return barn


def test_one_room_s_packs_leave_the_others_alone(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        begin(stage)
        barn = barn_beside(stage)
        few: list[Event] = [SourceChosen(source="disc"), Playback(state="playing")]
        barn.hear(*few)
        watch(stage, noisy_readings(9, LINES_A_PACK))
        past = JournalReader(path)
        before = [*past.lines("barn", 0, None)]
        assert pack_all(stage) == 1
        assert [*past.lines("barn", 0, None)] == before
        past.close()


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE lines SET now = 'noon' WHERE id = (SELECT min(id) + 9 FROM lines)",
        "UPDATE lines SET decision = x'7b' WHERE id = (SELECT min(id) + 9 FROM lines)",
        "DELETE FROM lines WHERE id = (SELECT min(id) + 9 FROM lines)",
    ],
)
def test_one_room_s_damaged_lines_keep_no_other_room_from_being_packed(
    tmp_path: Path, damage: str
) -> None:
    """That they cannot be packed is said, and not that the journal cannot be written."""
    path = tmp_path / "journal"
    with staged(HAYLOFT, path, BEGINS) as stage:
        begin(stage)
        barn = barn_beside(stage)
        begin(barn)
        for one in (stage, barn):
            watch(one, noisy_readings(9, LINES_A_PACK))
            one.durable.record.flush()
        stage.journal._base.execute(damage)  # noqa: SLF001 - in the room that was there first
        past = JournalReader(path)
        before = [*past.lines("barn", 0, None)]
        assert stage.journal.pack_a_room()
        with pytest.raises(JournalError, match="damaged, move it away"):
            stage.journal.pack_a_room()
        assert stage.journal.fault is None
        packs = past._base.execute("SELECT count(*) FROM packs")  # noqa: SLF001
        assert packs.fetchone()[0] == 1
        assert [*past.lines("barn", 0, None)] == before
        past.close()
        assert not stage.hear(Playback(state="paused")).refusals
