"""A journal of many nights: whoever asks about one of them does not wait for all the others."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from adapters.cli import remembered_nights
from adapters.cli.memory_folder import FOLDER_VARIABLE, OFF
from adapters.cli.night_export import export_night
from adapters.cli.wear_files import ledger_of_journal
from adapters.live import journal_reader
from adapters.live.journal_reader import JournalReader
from adapters.live.line_packs import unpack_lines
from adapters.live.messages import rfc3339
from engine.errors import UnusableError
from engine.events import BarsSeen, LensReport, Playback, ProjectorReport, SourceChosen
from rules.room.load import load
from simulator.shipped import DEMO_ROOM
from tests.adapters.staging import Stage, differences, staged
from tests.golden.evenings import BEGINS

HAYLOFT = load(DEMO_ROOM.read_text("utf-8"), DEMO_ROOM.name)
DAY = 86_400_000
READINGS = 1_000
"""In each night: enough for a pack."""


def live_a_night(stage: Stage, begins: int) -> None:
    """Let a film play whose bars tremble, and send the lens by hand."""
    stage.pass_to(begins)
    stage.hear(ProjectorReport(state="lit"), SourceChosen(source="disc"))
    stage.hear(LensReport(moving=False, preset="broad"), Playback(state="playing"))
    with stage.journal.together():
        for number in range(READINGS):
            stage.pass_to(begins + 40 * number)
            stage.hear(
                BarsSeen(
                    top=130 + number % 7, bottom=138, left=0, right=0, columns=1_920, rows=1_080
                )
            )
    stage.hear(LensReport(moving=True, preset="tall"), LensReport(moving=False, preset="tall"))
    stage.hear(Playback(state="stopped"))
    stage.durable.record.flush()
    while stage.journal.pack_a_room():
        pass


@contextmanager
def days_lived(path: Path, *days: int) -> Iterator[Stage]:
    """Live a night on each of some days, counted from the first."""
    with staged(HAYLOFT, path, BEGINS) as stage:
        for day in days:
            live_a_night(stage, BEGINS + day * DAY)
        yield stage


@pytest.fixture
def unpacked(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Note of each pack that is read how many lines it has."""
    sizes: list[int] = []

    def noted(data: bytes) -> object:
        lines = unpack_lines(data)
        sizes.append(len(lines))
        return lines

    monkeypatch.setattr(journal_reader, "unpack_lines", noted)
    return sizes


def test_lines_are_read_pack_by_pack(tmp_path: Path, unpacked: list[int]) -> None:
    with (
        days_lived(tmp_path / "journal", 0, 1, 2),
        closing(JournalReader(tmp_path / "journal")) as past,
    ):
        lines = past.lines("hayloft", 0, None)
        first = next(lines)
        assert len(unpacked) == 1, "of three"
        assert first.now == BEGINS
        assert len([*lines]) + 1 > 3 * READINGS


def test_lines_are_the_same_however_few_rows_are_read_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with (
        days_lived(tmp_path / "journal", 0, 1),
        closing(JournalReader(tmp_path / "journal")) as past,
    ):
        spans = [(0, None), (0, 1_500), (999, 1_001), (1_000, None), (2_000, 2_010)]
        at_once = [[*past.lines("hayloft", *span)] for span in spans]
        monkeypatch.setattr(journal_reader, "ROWS_AT_ONCE", 1)
        assert [[*past.lines("hayloft", *span)] for span in spans] == at_once


def test_an_exported_night_costs_no_reading_of_those_after_it(
    tmp_path: Path, unpacked: list[int]
) -> None:
    path = tmp_path / "journal"
    begins, ends = rfc3339(BEGINS), rfc3339(BEGINS + 40_000)
    with days_lived(path, 0) as stage:
        alone = export_night(path, None, begins, ends, without_titles=False)
        for day in (1, 2, 3, 4):
            live_a_night(stage, BEGINS + day * DAY)
        unpacked.clear()
        night = export_night(path, None, begins, ends, without_titles=False)
    assert len(unpacked) <= 2, "a pack may reach into the next night"
    assert night == alone
    assert differences(HAYLOFT, [*night.lines]) == []


def test_a_night_that_would_be_too_long_is_refused_before_it_is_read(
    tmp_path: Path, unpacked: list[int]
) -> None:
    path = tmp_path / "journal"
    with days_lived(path, 0, 1, 11):
        unpacked.clear()
        for ends in (None, rfc3339(BEGINS + 12 * DAY)):
            with pytest.raises(UnusableError, match="ten days long"):
                export_night(path, None, rfc3339(BEGINS), ends, without_titles=False)
    assert unpacked == []


# ------------------------------------------------------------------------------------ the ledger


@pytest.fixture
def memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder in which commands remember what took them long."""
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "memory"))
    return tmp_path / "memory"


def remembered_in(memory: Path) -> int:
    """Count the nights that are remembered."""
    (file,) = memory.iterdir()
    return len([line for line in file.read_bytes().splitlines() if line])


@pytest.mark.usefixtures("memory")
def test_a_finished_night_is_replayed_once_and_the_ledger_is_the_same(
    tmp_path: Path, unpacked: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "journal"
    with days_lived(path, 0, 1, 2, 3, 4, 5) as stage:
        first = ledger_of_journal(path, "hayloft")
        unpacked.clear()
        assert ledger_of_journal(path, "hayloft") == first
        assert len(unpacked) <= 2, "of six: the night that may not have ended"
        live_a_night(stage, BEGINS + 6 * DAY)
        later = ledger_of_journal(path, "hayloft")
        monkeypatch.setenv(FOLDER_VARIABLE, OFF)
        assert ledger_of_journal(path, "hayloft") == later
    assert len(first.ledger.travels) >= 5
    assert len(later.ledger.travels) > len(first.ledger.travels)
    assert later.missing == ()
    assert later.ledger.holes == ()


def test_whoever_is_ended_meanwhile_goes_on_from_there(
    tmp_path: Path, memory: Path, unpacked: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The daily look at a lens may take so long and no longer."""
    path = tmp_path / "journal"
    with days_lived(path, 0, 1, 2, 3, 4, 5):
        with monkeypatch.context() as patch:
            patch.setattr(journal_reader, "unpack_lines", ended_after(4))
            with pytest.raises(KeyboardInterrupt):
                ledger_of_journal(path, "hayloft")
        assert remembered_in(memory) == 2
        begun = next(memory.iterdir())
        begun.write_bytes(begun.read_bytes()[:-20])
        unpacked.clear()
        whole = ledger_of_journal(path, "hayloft")
        went_on = len(unpacked)
        assert remembered_in(memory) == 6 - 1 + 1, "and the line that was cut off"
        monkeypatch.setenv(FOLDER_VARIABLE, OFF)
        unpacked.clear()
        assert ledger_of_journal(path, "hayloft") == whole
        assert went_on < len(unpacked)


def ended_after(packs: int) -> Callable[[bytes], object]:
    """Unpack so many packs, and be ended."""
    left = [packs]

    def unpack(data: bytes) -> object:
        left[0] -= 1
        if left[0] < 0:
            raise KeyboardInterrupt
        return unpack_lines(data)

    return unpack


def test_nights_that_the_journal_has_dropped_are_forgotten(tmp_path: Path, memory: Path) -> None:
    path = tmp_path / "journal"
    with days_lived(path, 0, 1, 2, 3) as stage:
        ledger_of_journal(path, "hayloft")
        assert remembered_in(memory) == 3
        stage.durable.record.drop_nights(2)
        ledger_of_journal(path, "hayloft")
        assert remembered_in(memory) == 1


def test_other_code_replays_every_night(
    tmp_path: Path, memory: Path, unpacked: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "journal"
    with days_lived(path, 0, 1, 2):
        before = ledger_of_journal(path, "hayloft")
        monkeypatch.setattr(remembered_nights, "CODE", ("engine",))
        unpacked.clear()
        assert ledger_of_journal(path, "hayloft") == before
    assert sum(unpacked) >= 3 * READINGS
    assert remembered_in(memory) == 2


def test_a_memory_that_cannot_be_written_makes_no_difference(
    tmp_path: Path, memory: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "journal"
    memory.write_bytes(b"no folder")
    with days_lived(path, 0, 1):
        found = ledger_of_journal(path, "hayloft")
        monkeypatch.setenv(FOLDER_VARIABLE, OFF)
        assert ledger_of_journal(path, "hayloft") == found
